//! Files that somebody named: never more of them is read than is allowed, whatever their length says.

use std::fs::{self, File};
use std::io::{self, Read as _};
use std::os::unix::fs::FileTypeExt as _;
use std::path::Path;

use crate::WorkshopError;

/// Longest sheet, table or file of passes, in bytes.
pub(crate) const LONGEST: u64 = 64 << 20;

/// Reads a file up to a limit and one byte more, so that its own reader can tell a longer one. A device or a pipe states
/// no length, and a file may grow while it is read.
pub(crate) fn up_to(path: &Path, limit: u64) -> Result<Vec<u8>, WorkshopError> {
    let fail = |error| WorkshopError::file("read", path, error);
    if is_named_pipe(path) {
        return Err(fail(io::Error::other("a pipe, a plain file is needed")));
    }
    let mut bytes = Vec::new();
    File::open(path)
        .map_err(fail)?
        .take(limit.saturating_add(1))
        .read_to_end(&mut bytes)
        .map_err(fail)?;
    Ok(bytes)
}

/// Whether a path leads to a pipe in a folder, which nobody need ever write into. What a shell hands in as a file has no
/// such path, and is read.
fn is_named_pipe(path: &Path) -> bool {
    let facts = path.canonicalize().and_then(fs::symlink_metadata);
    facts.is_ok_and(|facts| facts.file_type().is_fifo())
}

/// Reads a file of at most `most` bytes.
///
/// # Errors
/// When it cannot be read, or is longer.
pub(crate) fn whole(path: &Path, most: u64) -> Result<Vec<u8>, WorkshopError> {
    let bytes = up_to(path, most)?;
    if bytes.len() as u64 > most {
        return Err(WorkshopError::TooLong {
            path: path.to_owned(),
            most,
        });
    }
    Ok(bytes)
}

/// Reads a text of at most `most` bytes.
///
/// # Errors
/// When it cannot be read, is longer, or is not UTF-8.
pub(crate) fn text(path: &Path, most: u64) -> Result<String, WorkshopError> {
    String::from_utf8(whole(path, most)?).map_err(|error| {
        let error = io::Error::new(io::ErrorKind::InvalidData, error);
        WorkshopError::file("read", path, error)
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn no_more_is_read_than_is_allowed() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("file");
        std::fs::write(&file, b"four").unwrap();
        assert_eq!(whole(&file, 4).unwrap(), b"four");
        let error = whole(&file, 3).unwrap_err();
        assert!(
            error
                .to_string()
                .ends_with("file: more than 3 bytes, at most 3 bytes are looked at")
        );
        assert_eq!(up_to(&file, 2).unwrap(), b"fou");
    }

    /// It never ends, and says that it is empty.
    #[cfg(unix)]
    #[test]
    fn a_device_is_no_longer_than_any_other_file() {
        let endless = Path::new("/dev/zero");
        assert!(matches!(
            whole(endless, 9),
            Err(WorkshopError::TooLong { .. })
        ));
        assert!(matches!(
            text(endless, 9),
            Err(WorkshopError::TooLong { .. })
        ));
        let form = crate::intake::IntakeForm::read(endless);
        assert!(matches!(form, Err(WorkshopError::TooLong { .. })));
        let settings = crate::given::read_settings(endless).unwrap_err();
        assert!(settings.to_string().contains("are allowed"), "{settings}");
    }
}
