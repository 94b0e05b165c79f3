//! Files for people: their paper, the ends of their names, and how they are written.

use std::fs;
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

use tangmark_report::{PageSize, Speech};
use tempfile::NamedTempFile;

use crate::WorkshopError;

/// Paper of a report.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Paper {
    /// ISO A4.
    #[default]
    A4,
    /// US Letter.
    Letter,
}

impl Paper {
    /// What a file name says of it; nothing of the usual.
    pub(crate) const fn suffix(self) -> &'static str {
        match self {
            Self::A4 => "",
            Self::Letter => "-letter",
        }
    }
}

impl From<Paper> for PageSize {
    fn from(paper: Paper) -> Self {
        match paper {
            Paper::A4 => Self::A4,
            Paper::Letter => Self::Letter,
        }
    }
}

/// What a file name says of the language; nothing of the usual.
pub(crate) const fn language_suffix(speech: Speech) -> &'static str {
    match speech {
        Speech::English => "",
        Speech::Japanese => "-ja",
        Speech::Both => "-both",
    }
}

/// A new file that is going to be written such that nobody ever sees a part of it: an interrupted run leaves no half
/// report under the name of a whole one. An existing file is never overwritten.
#[derive(Debug)]
pub(crate) struct NewFile {
    path: PathBuf,
    part: NamedTempFile,
}

impl NewFile {
    /// Makes its folder where it is missing, and finds out whether it can be written.
    pub(crate) fn open(path: &Path) -> Result<Self, WorkshopError> {
        let fail = |error| WorkshopError::file("write", path, error);
        if path.as_os_str().as_encoded_bytes().ends_with(b"/") {
            return Err(fail(io::ErrorKind::IsADirectory.into()));
        }
        match fs::symlink_metadata(path) {
            Ok(_) => return Err(WorkshopError::Exists(path.to_owned())),
            Err(error) if is_absence(error.kind()) => {}
            Err(error) => return Err(fail(error)),
        }
        let folder = path
            .parent()
            .filter(|folder| !folder.as_os_str().is_empty())
            .unwrap_or(Path::new("."));
        fs::create_dir_all(folder)
            .map_err(|error| WorkshopError::file("make the folder", folder, error))?;
        let part = tempfile::Builder::new()
            .prefix(".report-")
            .suffix(".part")
            .permissions(readable())
            .tempfile_in(folder)
            .map_err(fail)?;
        Ok(Self {
            path: path.to_owned(),
            part,
        })
    }

    /// Writes it, whole or not at all.
    pub(crate) fn write(self, bytes: &[u8]) -> Result<(), WorkshopError> {
        let Self { path, mut part } = self;
        part.write_all(bytes)
            .and_then(|()| part.as_file().sync_all())
            .map_err(|error| WorkshopError::file("write", &path, error))?;
        match part.persist_noclobber(&path) {
            Ok(_) => Ok(()),
            Err(error) if error.error.kind() == io::ErrorKind::AlreadyExists => {
                Err(WorkshopError::Exists(path))
            }
            Err(error) => Err(WorkshopError::file("write", &path, error.error)),
        }
    }
}

/// Whether an error says that there is no such file; a folder that is none is told when it is made.
fn is_absence(kind: io::ErrorKind) -> bool {
    matches!(kind, io::ErrorKind::NotFound | io::ErrorKind::NotADirectory)
}

/// The rights of a file made in the plain way; what the user's own mask takes away is taken away here too.
fn readable() -> fs::Permissions {
    use std::os::unix::fs::PermissionsExt as _;
    fs::Permissions::from_mode(0o666)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), WorkshopError> {
        NewFile::open(path)?.write(bytes)
    }

    #[test]
    fn a_file_is_written_whole_and_never_over_another() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("new/report.pdf");
        write_whole(&file, b"whole").unwrap();
        assert_eq!(fs::read(&file).unwrap(), b"whole");
        let error = write_whole(&file, b"other").unwrap_err();
        assert!(matches!(error, WorkshopError::Exists(_)), "{error}");
        // One that came in between is not overwritten either.
        let late = folder.path().join("new/late.pdf");
        let new = NewFile::open(&late).unwrap();
        fs::write(&late, b"mine").unwrap();
        let error = new.write(b"other").unwrap_err();
        assert!(matches!(error, WorkshopError::Exists(_)), "{error}");
        assert_eq!(fs::read(&late).unwrap(), b"mine");
        assert_eq!(fs::read(&file).unwrap(), b"whole");
        drop(NewFile::open(&folder.path().join("new/never.pdf")).unwrap());
        let left: Vec<_> = fs::read_dir(folder.path().join("new")).unwrap().collect();
        assert_eq!(left.len(), 2, "no part is left: {left:?}");
    }

    #[test]
    fn what_cannot_be_written_is_refused_before_the_work() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("file");
        fs::write(&file, "x").unwrap();
        std::os::unix::fs::symlink("nowhere", folder.path().join("link")).unwrap();
        for (name, said) in [
            ("file/report.pdf".to_owned(), "cannot make the folder"),
            ("report/".to_owned(), "cannot write"),
            ("x".repeat(300), "cannot write"),
            ("link".to_owned(), "exists already"),
        ] {
            let error = NewFile::open(&folder.path().join(&name)).unwrap_err();
            assert!(error.to_string().contains(said), "{name}: {error}");
        }
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 2);
    }
}
