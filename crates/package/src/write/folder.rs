//! A package as a folder.

use std::fs::{self, File, OpenOptions};
use std::io::Write as _;
use std::path::{Path, PathBuf};

use rustix::fs::{CWD, RenameFlags, renameat_with};
use rustix::io::Errno;

use super::content::{Content, Sink};
use super::place::{PREFIX, SUFFIX, flush, mode, vacant, written};
use super::{Watch, WriteError, Written, tags};
use crate::open::Limits;

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
        self.check_whole(&Limits::default())?;
        let parent = vacant(target)?;
        let part = tempfile::Builder::new()
            .prefix(PREFIX)
            .suffix(SUFFIX)
            .permissions(mode(0o777))
            .tempdir_in(&parent)
            .map_err(|error| WriteError::file("write", target, error))?;
        let mut sink = Folder {
            root: part.path().to_owned(),
            open: None,
        };
        tags::write(self, &mut sink, watch)?;
        flush_folders(part.path())?;
        give_name(part.path(), target, &|from, to| {
            renameat_with(CWD, from, CWD, to, RenameFlags::NOREPLACE)
        })?;
        // It has its name: there is nothing left to remove.
        let _ = part.keep();
        Ok(written(self.size(), &parent))
    }
}

/// How a folder is renamed where nothing is.
type Rename<'a> = dyn Fn(&Path, &Path) -> rustix::io::Result<()> + 'a;

/// Gives the finished folder its name; what is there already stays.
fn give_name(part: &Path, target: &Path, rename: &Rename<'_>) -> Result<(), WriteError> {
    let fail = |error| WriteError::file("write", target, error);
    match rename(part, target) {
        Ok(()) => Ok(()),
        Err(Errno::EXIST) => Err(WriteError::Exists(target.to_owned())),
        // Some file systems cannot rename without replacing. A plain rename replaces no file by a folder and no folder
        // that holds anything, and the name is looked at once more.
        Err(Errno::INVAL | Errno::NOSYS | Errno::OPNOTSUPP) => {
            vacant(target)?;
            fs::rename(part, target).map_err(fail)
        }
        Err(error) => Err(fail(error.into())),
    }
}

fn flush_folders(folder: &Path) -> Result<(), WriteError> {
    let fail = |error| WriteError::file("write", folder, error);
    for entry in fs::read_dir(folder).map_err(fail)? {
        let entry = entry.map_err(fail)?;
        if entry.file_type().map_err(fail)?.is_dir() {
            flush_folders(&entry.path())?;
        }
    }
    flush(folder).map_err(fail)
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

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn a_file_system_that_cannot_keep_from_replacing_is_written_to_all_the_same() {
        for errno in [Errno::INVAL, Errno::NOSYS] {
            let folder = tempfile::tempdir().unwrap();
            let (part, target) = (folder.path().join("part"), folder.path().join("target"));
            fs::create_dir(&part).unwrap();
            fs::write(part.join("file"), "x").unwrap();
            let poor = |_: &Path, _: &Path| Err(errno);
            fs::write(&target, "mine").unwrap();
            let error = give_name(&part, &target, &poor).unwrap_err();
            assert!(matches!(error, WriteError::Exists(_)), "{error}");
            assert_eq!(fs::read(&target).unwrap(), b"mine");
            fs::remove_file(&target).unwrap();
            give_name(&part, &target, &poor).unwrap();
            assert_eq!(fs::read(target.join("file")).unwrap(), b"x");
        }
        let folder = tempfile::tempdir().unwrap();
        let part = folder.path().join("part");
        fs::create_dir(&part).unwrap();
        let full = |_: &Path, _: &Path| Err(Errno::NOSPC);
        let error = give_name(&part, &folder.path().join("target"), &full).unwrap_err();
        assert!(matches!(error, WriteError::File { .. }), "{error}");
        assert!(part.exists());
    }
}
