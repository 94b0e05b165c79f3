//! Libraries of plugins as files: finding, naming, reading once.

use std::{
    collections::BTreeMap,
    fs::File,
    io::{Read as _, Write as _},
    os::fd::OwnedFd,
    path::{Path, PathBuf},
};

use rustix::fs::{FileType, MemfdFlags, Mode, OFlags, SealFlags};
use tangmark_core::Digest;
use tangmark_plugin::message::is_plugin_name;

/// Name of the plugin that misbehaves on purpose; it runs only when its path is given.
const NEVER_FOUND: &str = "stress";

/// A plugin's library as a file. Nothing in it has been opened or believed.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Library {
    /// The plugin's name, from the file name.
    pub name: String,
    /// The file.
    pub path: PathBuf,
}

impl Library {
    /// Names the library at `path`, or returns `None` when the file is not called
    /// `libtangmark_<name>.so`.
    pub fn at(path: &Path) -> Option<Self> {
        let name = path
            .file_name()?
            .to_str()?
            .strip_prefix("libtangmark_")?
            .strip_suffix(".so")?;
        is_plugin_name(name).then(|| Self {
            name: name.to_owned(),
            path: path.to_owned(),
        })
    }

    /// Reads the file and digests it, for listing and approving.
    pub fn digest(&self, limit_bytes: u64) -> Result<Digest, LibraryError> {
        self.read(limit_bytes).map(|(_, digest)| digest)
    }

    /// Reads the file once; the digest is over the very bytes returned.
    pub(crate) fn read(&self, limit_bytes: u64) -> Result<(Vec<u8>, Digest), LibraryError> {
        // Without NONBLOCK, opening a named pipe would wait for a writer for ever.
        let flags = OFlags::RDONLY | OFlags::CLOEXEC | OFlags::NONBLOCK;
        let descriptor = rustix::fs::open(&self.path, flags, Mode::empty())
            .map_err(|error| LibraryError::Unreadable(error.into()))?;
        let status = rustix::fs::fstat(&descriptor)
            .map_err(|error| LibraryError::Unreadable(error.into()))?;
        if FileType::from_raw_mode(status.st_mode) != FileType::RegularFile {
            return Err(LibraryError::NotAFile);
        }
        let announced = usize::try_from(status.st_size).unwrap_or(0);
        let most = usize::try_from(limit_bytes).unwrap_or(usize::MAX);
        let mut bytes = Vec::with_capacity(announced.min(most).saturating_add(1));
        File::from(descriptor)
            .take(limit_bytes.saturating_add(1))
            .read_to_end(&mut bytes)
            .map_err(LibraryError::Unreadable)?;
        if u64::try_from(bytes.len()).unwrap_or(u64::MAX) > limit_bytes {
            return Err(LibraryError::TooLarge {
                allowed: limit_bytes,
            });
        }
        let digest = Digest::of(&bytes);
        Ok((bytes, digest))
    }
}

/// What may no longer be done to a sealed file: nothing but reading.
pub(crate) const SEALS: SealFlags = SealFlags::WRITE
    .union(SealFlags::GROW)
    .union(SealFlags::SHRINK)
    .union(SealFlags::SEAL);

/// Puts the bytes into a memory file that nobody can change any more.
pub(crate) fn sealed(bytes: &[u8]) -> std::io::Result<OwnedFd> {
    let flags = MemfdFlags::CLOEXEC | MemfdFlags::ALLOW_SEALING;
    let descriptor = rustix::fs::memfd_create("tangmark-plugin", flags)?;
    let mut file = File::from(descriptor);
    file.write_all(bytes)?;
    rustix::fs::fcntl_add_seals(&file, SEALS)?;
    Ok(file.into())
}

/// A library's file cannot be used.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum LibraryError {
    /// The system refuses to read it.
    #[error("the file cannot be read: {0}")]
    Unreadable(#[source] std::io::Error),
    /// A folder, pipe or device.
    #[error("the path is not a regular file")]
    NotAFile,
    /// Larger than allowed.
    #[error("the file is larger than {allowed} bytes")]
    TooLarge {
        /// Bytes allowed.
        allowed: u64,
    },
}

/// Finds plugins in `folders`: files called `libtangmark_<name>.so`, ordered by name. Of two with
/// one name the earlier folder wins; folders that cannot be read hold none. The plugin `stress` is
/// never found.
pub fn discover(folders: &[PathBuf]) -> Vec<Library> {
    let mut found = BTreeMap::new();
    for folder in folders {
        let Ok(entries) = std::fs::read_dir(folder) else {
            continue;
        };
        for entry in entries.flatten() {
            if let Some(library) = Library::at(&entry.path())
                && library.name != NEVER_FOUND
                && !found.contains_key(&library.name)
            {
                found.insert(library.name.clone(), library);
            }
        }
    }
    found.into_values().collect()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use std::fs;

    use super::*;

    #[test]
    fn libraries_are_found_by_name_in_order_of_folders() {
        let (first, second) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
        for name in [
            "libtangmark_triage.so",
            "libtangmark_stress.so",
            "libother.so",
            "notes.txt",
        ] {
            fs::write(first.path().join(name), "1").unwrap();
        }
        for name in [
            "libtangmark_triage.so",
            "libtangmark_dimensions.so",
            "libtangmark_A-b.so",
        ] {
            fs::write(second.path().join(name), "2").unwrap();
        }
        let folders = [
            first.path().to_owned(),
            PathBuf::from("/no/such/folder"),
            second.path().to_owned(),
        ];
        let found = discover(&folders);
        let names: Vec<&str> = found.iter().map(|library| library.name.as_str()).collect();
        assert_eq!(names, ["dimensions", "triage"]);
        assert!(found[1].path.starts_with(first.path()));
    }

    #[test]
    fn sealed_bytes_stay_as_they_are() {
        let mut file = File::from(sealed(b"library").unwrap());
        assert!(file.write_all(b"x").is_err() && file.set_len(1).is_err());
        rustix::fs::seek(&file, rustix::fs::SeekFrom::Start(0)).unwrap();
        let mut read = String::new();
        file.read_to_string(&mut read).unwrap();
        assert_eq!(read, "library");
    }

    #[test]
    fn only_files_of_a_bounded_size_are_read() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("libtangmark_triage.so");
        let library = Library::at(&path).unwrap();
        assert!(
            library
                .digest(3)
                .unwrap_err()
                .to_string()
                .starts_with("the file cannot be read")
        );
        fs::write(&path, "abc").unwrap();
        assert_eq!(library.digest(3).unwrap(), Digest::of(b"abc"));
        let error = library.digest(2).unwrap_err();
        assert_eq!(error.to_string(), "the file is larger than 2 bytes");
        fs::remove_file(&path).unwrap();
        fs::create_dir(&path).unwrap();
        assert_eq!(
            library.digest(3).unwrap_err().to_string(),
            "the path is not a regular file"
        );
    }
}
