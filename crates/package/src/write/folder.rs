//! A package as a folder.

use std::fs::{self, File, OpenOptions};
use std::io::Write as _;
use std::path::{Path, PathBuf};

use rustix::fs::{CWD, RenameFlags, renameat_with};

use super::content::{Content, Sink, put};
use super::{Watch, WriteError, Written, tags};

impl Content {
    /// Writes the package as the folder `target`: under a passing name beside it, flushed, then given its name. What is
    /// there already is never overwritten.
    ///
    /// # Errors
    /// When something is there, a file cannot be read or written or lacks its digest, or `watch` ends it. Nothing is
    /// left then.
    pub fn write_folder(
        &self,
        target: &Path,
        watch: &mut Watch<'_>,
    ) -> Result<Written, WriteError> {
        self.check_whole()?;
        let parent = vacant(target)?;
        let part = tempfile::Builder::new()
            .prefix(PREFIX)
            .suffix(".part")
            .permissions(mode(0o777))
            .tempdir_in(&parent)
            .map_err(|error| WriteError::file("write", target, error))?;
        let mut sink = Folder {
            root: part.path().to_owned(),
            open: None,
        };
        let size = self.size();
        let first = tags::first(size);
        for (path, text) in &first {
            put(&mut sink, path, text.as_bytes())?;
        }
        let payload = self.pour(&mut sink, watch)?;
        tags::manifests(&mut sink, &first, &payload)?;
        flush_folders(part.path())?;
        renameat_with(CWD, part.path(), CWD, target, RenameFlags::NOREPLACE).map_err(|error| {
            if error == rustix::io::Errno::EXIST {
                WriteError::Exists(target.to_owned())
            } else {
                WriteError::file("write", target, error.into())
            }
        })?;
        // It has its name: there is nothing left to remove.
        let _ = part.keep();
        flush(&parent)?;
        Ok(size)
    }
}

/// Beginning of a passing name.
pub(super) const PREFIX: &str = ".package-";

/// Rights of a file or folder made in the plain way; the user's own mask takes its part away.
pub(super) fn mode(bits: u32) -> fs::Permissions {
    use std::os::unix::fs::PermissionsExt as _;
    fs::Permissions::from_mode(bits)
}

/// Makes the folder in which something new is to be written; refuses a name that is taken.
pub(super) fn vacant(target: &Path) -> Result<PathBuf, WriteError> {
    match fs::symlink_metadata(target) {
        Ok(_) => return Err(WriteError::Exists(target.to_owned())),
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => {}
        Err(error) => return Err(WriteError::file("write", target, error)),
    }
    if target.file_name().is_none() {
        let error = std::io::Error::from(std::io::ErrorKind::InvalidInput);
        return Err(WriteError::file("write", target, error));
    }
    let parent = target
        .parent()
        .filter(|parent| !parent.as_os_str().is_empty())
        .unwrap_or(Path::new("."));
    fs::create_dir_all(parent)
        .map_err(|error| WriteError::file("make the folder", parent, error))?;
    Ok(parent.to_owned())
}

/// Flushes the entries of a folder.
pub(super) fn flush(folder: &Path) -> Result<(), WriteError> {
    File::open(folder)
        .and_then(|file| file.sync_all())
        .map_err(|error| WriteError::file("write", folder, error))
}

fn flush_folders(folder: &Path) -> Result<(), WriteError> {
    let fail = |error| WriteError::file("write", folder, error);
    for entry in fs::read_dir(folder).map_err(fail)? {
        let entry = entry.map_err(fail)?;
        if entry.file_type().map_err(fail)?.is_dir() {
            flush_folders(&entry.path())?;
        }
    }
    flush(folder)
}

struct Folder {
    root: PathBuf,
    open: Option<(PathBuf, File)>,
}

impl Sink for Folder {
    fn begin(&mut self, path: &str, _length: u64) -> Result<(), WriteError> {
        let path = self.root.join(path);
        let fail = |error| WriteError::file("write", &path, error);
        if let Some(folder) = path.parent() {
            fs::create_dir_all(folder).map_err(fail)?;
        }
        let file = OpenOptions::new()
            .write(true)
            .create_new(true)
            .open(&path)
            .map_err(fail)?;
        self.open = Some((path, file));
        Ok(())
    }

    fn bytes(&mut self, piece: &[u8]) -> Result<(), WriteError> {
        let Some((path, file)) = &mut self.open else {
            return Ok(());
        };
        file.write_all(piece)
            .map_err(|error| WriteError::file("write", path, error))
    }

    fn end(&mut self) -> Result<(), WriteError> {
        let Some((path, file)) = self.open.take() else {
            return Ok(());
        };
        file.sync_all()
            .map_err(|error| WriteError::file("write", &path, error))
    }
}
