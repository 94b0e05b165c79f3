//! The file of the key history: read strictly, replaced whole.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Read as _, Write as _};
use std::os::unix::fs::OpenOptionsExt as _;
use std::path::{Path, PathBuf};

use tangmark_store::KeyRow;
use tangmark_trust::history::{KeyHistory, LARGEST};

use super::KeysError;
use crate::{Workshop, WorkshopError};

/// Name of the file in `keys/`, and of its copy beside the card.
pub(super) const NAME: &str = "key-history.json";
/// Name of the file in `keys/` that is held while keys change or something is sealed.
const LOCK: &str = "lock";
/// How passing names begin; the store clears such files away.
const PASSING: &str = "temp-";
/// The copy to hand out, below `out/`.
pub(super) const CARD_HISTORY: &str = "card/key-history.json";

impl Workshop {
    /// Path of the key history.
    pub(super) fn history_path(&self) -> PathBuf {
        self.folder().join("keys").join(NAME)
    }

    /// Path of a key file.
    pub(super) fn key_path(&self, row: &KeyRow) -> PathBuf {
        self.folder().join("keys").join(&row.file_name)
    }

    /// Reads the workshop's key history, to go on with it: a copy elsewhere may be a shorter one, and what is added to that
    /// would be a second history.
    ///
    /// # Errors
    /// When it is not there, or not as it was written.
    pub fn key_history(&self) -> Result<KeyHistory, WorkshopError> {
        let path = self.history_path();
        read_history(&path)?.ok_or_else(|| KeysError::NoHistory(path).into())
    }

    /// The same, to look something up in it: the copy beside the card will do when the file itself is gone, and a
    /// workshop without any is none that is damaged.
    pub(crate) fn key_history_if_there(&self) -> Result<Option<KeyHistory>, WorkshopError> {
        match read_history(&self.history_path())? {
            Some(history) => Ok(Some(history)),
            None => read_history(&self.out_folder().join(CARD_HISTORY)),
        }
    }

    /// Waits until nobody else changes the keys or seals, and keeps others from it as long as the file is held: a record
    /// sealed while its key is replaced would fall out of the interval of that key. What was read before has to be read
    /// again. The lock is let go when the file is closed, also by a crash.
    pub(crate) fn lock_keys(&self) -> Result<File, WorkshopError> {
        let path = self.folder().join("keys").join(LOCK);
        let lock = || -> io::Result<File> {
            let file = OpenOptions::new()
                .create(true)
                .truncate(false)
                .write(true)
                .mode(0o600)
                .open(&path)?;
            file.lock()?;
            Ok(file)
        };
        lock().map_err(|error| WorkshopError::file("lock", &path, error))
    }

    /// Writes the longer history in place of the one that is there.
    pub(super) fn replace_history(&self, text: &str) -> Result<(), WorkshopError> {
        replace(&self.history_path(), text.as_bytes(), 0o644)
    }
}

/// Whether a file in `keys/` is the history, the lock or half of a write, and so no key file that somebody forgot to list.
pub(crate) fn is_no_key_file(name: &str) -> bool {
    matches!(name, NAME | LOCK) || name.starts_with(PASSING)
}

/// Whether a path below the workshop is that of the key history or of the lock.
pub(crate) fn is_known_file(path: &str) -> bool {
    matches!(path.strip_prefix("keys/"), Some(NAME | LOCK))
}

/// Writes the history of a new workshop.
pub(crate) fn create_history(workshop: &Workshop, text: &str) -> Result<(), WorkshopError> {
    replace(&workshop.history_path(), text.as_bytes(), 0o644)
}

fn read_history(path: &Path) -> Result<Option<KeyHistory>, WorkshopError> {
    let Some(bytes) = read_if_there(path, LARGEST)? else {
        return Ok(None);
    };
    let read = KeyHistory::read(&bytes).map_err(|error| KeysError::Damaged {
        path: path.to_owned(),
        error,
    });
    Ok(Some(read?))
}

/// Reads a file of at most `most` bytes; none when there is none.
pub(super) fn read_if_there(path: &Path, most: usize) -> Result<Option<Vec<u8>>, WorkshopError> {
    let fail = |error| WorkshopError::file("read", path, error);
    let file = match File::open(path) {
        Ok(file) => file,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
        Err(error) => return Err(fail(error)),
    };
    let mut bytes = Vec::new();
    file.take(most as u64 + 1)
        .read_to_end(&mut bytes)
        .map_err(fail)?;
    if bytes.len() > most {
        let error = io::Error::other(format!(
            "more than {most} bytes, at most {most} bytes are looked at"
        ));
        return Err(fail(error));
    }
    Ok(Some(bytes))
}

/// Writes a file under a passing name, flushes it, and gives it its own: a crash leaves the old file or the new one.
/// The passing name is one that the store clears away.
pub(super) fn replace(path: &Path, bytes: &[u8], mode: u32) -> Result<(), WorkshopError> {
    let temp = stage(path, bytes, mode)?;
    rename(&temp, path)
}

/// The first half of [`replace`]: the new file under its passing name.
pub(super) fn stage(path: &Path, bytes: &[u8], mode: u32) -> Result<PathBuf, WorkshopError> {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    let temp = path.with_file_name(format!("{PASSING}{name}"));
    let write = || -> io::Result<()> {
        // What a crash left has perhaps another mode.
        match fs::remove_file(&temp) {
            Err(error) if error.kind() != io::ErrorKind::NotFound => return Err(error),
            _ => {}
        }
        let mut file = OpenOptions::new()
            .write(true)
            .create_new(true)
            .mode(mode)
            .open(&temp)?;
        file.write_all(bytes)?;
        file.sync_all()
    };
    write().map_err(|error| WorkshopError::file("write", &temp, error))?;
    Ok(temp)
}

/// The second half of [`replace`].
pub(super) fn rename(temp: &Path, path: &Path) -> Result<(), WorkshopError> {
    let folder = path.parent().unwrap_or(Path::new("."));
    fs::rename(temp, path)
        .and_then(|()| File::open(folder)?.sync_all())
        .map_err(|error| WorkshopError::file("write", path, error))
}
