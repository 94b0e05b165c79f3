//! Where a package is put: under a passing name first, beside its own.

use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};

use super::{Size, WriteError, Written};

/// Beginning and end of a passing name.
pub(super) const PREFIX: &str = ".package-";
pub(super) const SUFFIX: &str = ".part";

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
    let parent = parent_of(target);
    fs::create_dir_all(parent)
        .map_err(|error| WriteError::file("make the folder", parent, error))?;
    Ok(parent.to_owned())
}

fn parent_of(target: &Path) -> &Path {
    target
        .parent()
        .filter(|parent| !parent.as_os_str().is_empty())
        .unwrap_or(Path::new("."))
}

/// Flushes the entries of a folder.
pub(super) fn flush(folder: &Path) -> io::Result<()> {
    File::open(folder).and_then(|file| file.sync_all())
}

/// What is told of a package that has its name.
pub(super) fn written(size: Size, parent: &Path) -> Written {
    let not_flushed = flush(parent).err();
    Written {
        size,
        not_flushed: not_flushed.map(|error| format!("{}: {error}", parent.display())),
    }
}

/// What a writing that was killed left in the folder where `target` is to be, or one that is still under way writes there;
/// sorted. A folder that cannot be read holds nothing that could be told.
pub fn left_behind(target: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(parent_of(target)).into_iter().flatten();
    let mut found: Vec<PathBuf> = entries
        .flatten()
        .filter(|entry| {
            let name = entry.file_name();
            // Only what a writing makes: others may put any name into a shared folder.
            let middle = name
                .as_encoded_bytes()
                .strip_prefix(PREFIX.as_bytes())
                .and_then(|rest| rest.strip_suffix(SUFFIX.as_bytes()));
            middle.is_some_and(|middle| {
                !middle.is_empty() && middle.iter().all(u8::is_ascii_alphanumeric)
            })
        })
        .map(|entry| entry.path())
        .collect();
    found.sort();
    found
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn what_was_left_behind_is_named_and_stays() {
        let folder = tempfile::tempdir().unwrap();
        let target = folder.path().join("reed-handover");
        assert!(left_behind(&target).is_empty());
        assert!(left_behind(&folder.path().join("nowhere/reed")).is_empty());
        fs::create_dir(folder.path().join(".package-abc.part")).unwrap();
        for name in [
            ".package-b.part",
            ".package-",
            "package-c.part",
            ".report-d.part",
        ] {
            fs::write(folder.path().join(name), "x").unwrap();
        }
        let names = left_behind(&target);
        let names: Vec<_> = names.iter().filter_map(|path| path.file_name()).collect();
        assert_eq!(names, [".package-abc.part", ".package-b.part"]);
        assert_eq!(left_behind(&target).len(), 2);
    }

    #[test]
    fn a_folder_that_cannot_be_flushed_is_a_remark() {
        let size = Size { files: 1, bytes: 2 };
        let folder = tempfile::tempdir().unwrap();
        assert_eq!(written(size, folder.path()).not_flushed, None);
        let gone = written(size, &folder.path().join("gone"));
        assert_eq!(gone.size, size);
        assert!(gone.not_flushed.unwrap().contains("gone: "));
    }
}
