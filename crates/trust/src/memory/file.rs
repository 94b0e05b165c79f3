//! The memory file in a folder: read as it is, changed under a lock, replaced whole.

use std::{
    fs::{self, File, OpenOptions},
    io::{self, Read as _, Write as _},
    path::{Path, PathBuf},
};

use super::{Memory, MemoryError, SeenKey, histories};
use crate::history::HistoryError;

/// Name of the file in its folder.
pub const FILE_NAME: &str = "seen-keys.json";
const LOCK_NAME: &str = "seen-keys.lock";
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
    /// A remembered key history is not as it was written.
    #[error("{path}: {error}", path = .path.display())]
    History {
        /// Which file.
        path: PathBuf,
        /// What is wrong with it.
        error: HistoryError,
    },
    /// Too many key histories.
    #[error("{path}: {found} key histories, at most {most} allowed", path = .path.display(), most = histories::MOST)]
    TooManyHistories {
        /// The folder.
        path: PathBuf,
        /// Histories found or wanted.
        found: usize,
    },
}

impl MemoryFileError {
    /// The next step.
    pub fn hint(&self) -> Option<&'static str> {
        match self {
            Self::Io { .. } => Some("choose another folder for the memory with `--memory DIR`"),
            Self::Content { error, .. } => error.hint(),
            Self::Entry(MemoryError::TooMany { .. }) | Self::TooManyHistories { .. } => {
                Some("forget what you no longer need with `tangmark key known forget NAME`")
            }
            Self::Entry(_) => {
                Some("go on without remembering it with `--no-remember`; nothing was written")
            }
            Self::History { .. } => Some(
                "restore the file from a copy, or move it away and hand the key history in again",
            ),
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
    let _lock = lock(folder)?;
    let mut memory = load(folder)?;
    if !memory.remember(seen).map_err(MemoryFileError::Entry)? {
        return Ok(false);
    }
    store(folder, &memory)?;
    Ok(true)
}

/// What is taken out of the memory.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Gone {
    /// The keys.
    pub keys: Vec<SeenKey>,
    /// The key histories, and what they alone say.
    pub histories: histories::Loss,
}

/// Takes every key of a name or a fingerprint out of the memory, with the key histories that name one of them, or any
/// key of that fingerprint. A history stays as long as a key that is still remembered stands in it, or in one that shares
/// a key with it: what it says of that key, a revocation or a fork, must not be lost with another key. Names are compared
/// as everywhere here.
///
/// # Errors
/// When the memory cannot be read or written.
pub fn forget(folder: &Path, name_or_fingerprint: &str) -> Result<Gone, MemoryFileError> {
    let _lock = lock(folder)?;
    let (memory, keys, plan) = planned(folder, name_or_fingerprint)?;
    // The histories first: a crash in between leaves keys that can be forgotten again.
    plan.remove()?;
    if !keys.is_empty() {
        store(folder, &memory)?;
    }
    Ok(Gone {
        keys,
        histories: plan.loss,
    })
}

/// What [`forget`] would take out; nothing is written.
///
/// # Errors
/// When the memory cannot be read.
pub fn to_forget(folder: &Path, name_or_fingerprint: &str) -> Result<Gone, MemoryFileError> {
    let (_, keys, plan) = planned(folder, name_or_fingerprint)?;
    Ok(Gone {
        keys,
        histories: plan.loss,
    })
}

/// The memory that stays, the keys that go, and the histories that go with them.
fn planned(
    folder: &Path,
    name_or_fingerprint: &str,
) -> Result<(Memory, Vec<SeenKey>, histories::Plan), MemoryFileError> {
    let mut memory = load(folder)?;
    let keys = memory.forget(name_or_fingerprint);
    let plan = histories::plan(folder, &keys, memory.keys(), name_or_fingerprint)?;
    Ok((memory, keys, plan))
}

/// Makes the folder if need be and waits until no other program changes what is in it. The lock is let go when the
/// file is closed, also by a crash.
pub(super) fn lock(folder: &Path) -> Result<File, MemoryFileError> {
    fs::create_dir_all(folder).map_err(|error| io_error(folder, "make the folder", error))?;
    let lock_path = folder.join(LOCK_NAME);
    let lock = OpenOptions::new()
        .create(true)
        .truncate(false)
        .write(true)
        .open(&lock_path)
        .map_err(|error| io_error(&lock_path, "open it", error))?;
    lock.lock()
        .map_err(|error| io_error(&lock_path, "lock it", error))?;
    Ok(lock)
}

fn store(folder: &Path, memory: &Memory) -> Result<(), MemoryFileError> {
    let text = memory.print().map_err(MemoryFileError::Entry)?;
    // What could not be read again would make the whole memory useless.
    Memory::parse(text.as_bytes()).map_err(MemoryFileError::Entry)?;
    replace(folder, FILE_NAME, &text)
}

/// Writes a file of the folder under a passing name, then gives it its own.
pub(super) fn replace(folder: &Path, name: &str, text: &str) -> Result<(), MemoryFileError> {
    let (new, path) = (folder.join(format!("{name}.new")), folder.join(name));
    let write = || -> io::Result<()> {
        let mut file = File::create(&new)?;
        file.write_all(text.as_bytes())?;
        file.sync_all()?;
        fs::rename(&new, &path)?;
        File::open(folder)?.sync_all()
    };
    write().map_err(|error| io_error(&path, "write it", error))
}

pub(super) fn io_error(path: &Path, action: &'static str, source: io::Error) -> MemoryFileError {
    MemoryFileError::Io {
        path: path.to_owned(),
        action,
        source,
    }
}
