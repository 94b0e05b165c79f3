//! The memory file in a folder: read as it is, changed under a lock, replaced whole.

use std::{
    fs::{self, File, OpenOptions},
    io::{self, Read as _, Write as _},
    path::{Path, PathBuf},
};

use super::{Memory, MemoryError, SeenKey};

/// Name of the file in its folder.
pub const FILE_NAME: &str = "seen-keys.json";
const LOCK_NAME: &str = "seen-keys.lock";
const NEW_NAME: &str = "seen-keys.json.new";
/// Longest file read, in bytes.
const SIZE_LIMIT: u64 = 16 * 1024 * 1024;

/// Why the memory could not be read or changed.
#[derive(Debug, thiserror::Error)]
pub enum MemoryFileError {
    /// The computer refused.
    #[error("{path}: cannot {action}: {source}", path = .path.display())]
    Io {
        /// Which file or folder.
        path: PathBuf,
        /// What was tried.
        action: &'static str,
        /// What the system said.
        source: io::Error,
    },
    /// The file is not as it was written.
    #[error("{path}: {error}", path = .path.display())]
    Content {
        /// Which file.
        path: PathBuf,
        /// What is wrong with it.
        error: MemoryError,
    },
    /// The key to remember is not sound.
    #[error("{0}")]
    Entry(MemoryError),
}

impl MemoryFileError {
    /// The next step.
    pub fn hint(&self) -> Option<&'static str> {
        match self {
            Self::Io { .. } => Some("choose another folder for the memory with `--memory DIR`"),
            Self::Content { error, .. } => error.hint(),
            Self::Entry(_) => None,
        }
    }
}

/// Reads the memory in `folder`; none there is an empty memory. Writes nothing, so a read-only folder will do.
///
/// # Errors
/// When the file cannot be read, or is not as it was written.
pub fn load(folder: &Path) -> Result<Memory, MemoryFileError> {
    let path = folder.join(FILE_NAME);
    let file = match File::open(&path) {
        Ok(file) => file,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Memory::default()),
        Err(error) => return Err(io_error(&path, "read it", error)),
    };
    let mut bytes = Vec::new();
    file.take(SIZE_LIMIT + 1)
        .read_to_end(&mut bytes)
        .map_err(|error| io_error(&path, "read it", error))?;
    Memory::parse(&bytes).map_err(|error| MemoryFileError::Content { path, error })
}

/// Adds a key to the memory in `folder` and makes the folder if need be; false when it was there already.
///
/// Several programs may do so at once: each waits for the lock, then reads what the others wrote. The
/// file is replaced whole, so a reader and a power cut see the old one or the new one.
///
/// # Errors
/// When the folder cannot be written, the file is not as it was written (it is then left alone), or
/// the key is not sound.
pub fn remember(folder: &Path, seen: SeenKey) -> Result<bool, MemoryFileError> {
    fs::create_dir_all(folder).map_err(|error| io_error(folder, "make the folder", error))?;
    let lock_path = folder.join(LOCK_NAME);
    let lock = OpenOptions::new()
        .create(true)
        .truncate(false)
        .write(true)
        .open(&lock_path)
        .map_err(|error| io_error(&lock_path, "open it", error))?;
    // Let go when `lock` is closed, also by a crash.
    lock.lock()
        .map_err(|error| io_error(&lock_path, "lock it", error))?;

    let mut memory = load(folder)?;
    if !memory.remember(seen).map_err(MemoryFileError::Entry)? {
        return Ok(false);
    }
    let text = memory.print().map_err(MemoryFileError::Entry)?;
    let (new, path) = (folder.join(NEW_NAME), folder.join(FILE_NAME));
    let write = || -> io::Result<()> {
        let mut file = File::create(&new)?;
        file.write_all(text.as_bytes())?;
        file.sync_all()?;
        fs::rename(&new, &path)?;
        File::open(folder)?.sync_all()
    };
    write().map_err(|error| io_error(&path, "write it", error))?;
    Ok(true)
}

fn io_error(path: &Path, action: &'static str, source: io::Error) -> MemoryFileError {
    MemoryFileError::Io {
        path: path.to_owned(),
        action,
        source,
    }
}
