//! Key histories seen before, one file for each first key: the longest that was seen, and one that disagrees with it.

use std::fs::{self, File};
use std::io::{self, Read as _};
use std::path::{Path, PathBuf};

use super::SeenKey;
use super::file::{MemoryFileError, io_error, lock, replace};
use crate::history::{Agreement, KeyHistory, LARGEST};
use crate::key::PublicKey;

/// Folder in that of the memory.
pub const FOLDER_NAME: &str = "key-histories";
/// Most files in it. Each is verified whenever the memory is read.
pub const MOST: usize = 500;

/// What came of a history that was handed in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kept {
    /// None of its first key was there.
    New,
    /// It was longer than the one there and took its place.
    Longer,
    /// Nothing new in it.
    Nothing,
    /// It disagrees with the one there, and is kept beside it.
    Fork,
}

/// Reads every remembered key history, in the order of their names; none there is none remembered.
///
/// # Errors
/// When one cannot be read, or is not as it was written.
pub fn load(folder: &Path) -> Result<Vec<KeyHistory>, MemoryFileError> {
    let found = paths(folder)?;
    if found.len() > MOST {
        return Err(MemoryFileError::TooManyHistories {
            path: folder.join(FOLDER_NAME),
            found: found.len(),
        });
    }
    found.iter().map(|path| read(path)).collect()
}

/// Keeps a history where it says more than the one of its first key that is there.
///
/// # Errors
/// When the folder cannot be read or written, or is full.
pub fn keep(folder: &Path, history: &KeyHistory) -> Result<Kept, MemoryFileError> {
    let _lock = lock(folder)?;
    let own = folder.join(FOLDER_NAME);
    fs::create_dir_all(&own).map_err(|error| io_error(&own, "make the folder", error))?;
    let fingerprint = history.first().key.fingerprint();
    let (name, fork) = (
        format!("{fingerprint}.json"),
        format!("{fingerprint}.fork.json"),
    );
    let (kept, name) = match there(&own.join(&name))? {
        None => (Kept::New, name),
        Some(known) => match history.compare(&known) {
            Agreement::Longer => (Kept::Longer, name),
            // The files of a folder are named by first key, so another one is nobody's doing but a person's.
            Agreement::Fork { .. } | Agreement::Other => (Kept::Fork, fork),
            Agreement::Same | Agreement::Shorter => return Ok(Kept::Nothing),
        },
    };
    let path = own.join(&name);
    // One that disagrees is enough to be told; the first of them stays.
    if kept == Kept::Fork && path.exists() {
        return Ok(Kept::Fork);
    }
    let found = paths(folder)?.len() + usize::from(!path.exists());
    if found > MOST {
        return Err(MemoryFileError::TooManyHistories { path: own, found });
    }
    let text = history
        .text()
        .map_err(|error| MemoryFileError::History { path, error })?;
    replace(&own, &name, &text)?;
    Ok(kept)
}

/// Removes the histories that name one of the keys or a key of the fingerprint; says how many. The caller holds the lock.
pub(super) fn forget(
    folder: &Path,
    keys: &[SeenKey],
    fingerprint: &str,
) -> Result<usize, MemoryFileError> {
    let fingerprint = fingerprint.trim().to_ascii_uppercase();
    let mut gone = 0;
    for path in paths(folder)? {
        let history = read(&path)?;
        let named = keys
            .iter()
            .filter_map(|seen| PublicKey::from_did(&seen.did).ok())
            .any(|key| history.term(&key).is_some())
            || history
                .terms()
                .any(|term| term.key.fingerprint().to_string() == fingerprint);
        if named {
            fs::remove_file(&path).map_err(|error| io_error(&path, "remove it", error))?;
            gone += 1;
        }
    }
    Ok(gone)
}

fn paths(folder: &Path) -> Result<Vec<PathBuf>, MemoryFileError> {
    let own = folder.join(FOLDER_NAME);
    let fail = |error| io_error(&own, "read the folder", error);
    let entries = match fs::read_dir(&own) {
        Ok(entries) => entries,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
        Err(error) => return Err(fail(error)),
    };
    let mut paths = Vec::new();
    for entry in entries {
        let path = entry.map_err(fail)?.path();
        // Half-written ones end in `.new`.
        if path.extension().is_some_and(|ending| ending == "json") {
            paths.push(path);
        }
    }
    paths.sort();
    Ok(paths)
}

fn there(path: &Path) -> Result<Option<KeyHistory>, MemoryFileError> {
    match path.try_exists() {
        Ok(false) => Ok(None),
        Ok(true) => read(path).map(Some),
        Err(error) => Err(io_error(path, "read it", error)),
    }
}

fn read(path: &Path) -> Result<KeyHistory, MemoryFileError> {
    let mut bytes = Vec::new();
    File::open(path)
        .and_then(|file| file.take(LARGEST as u64 + 1).read_to_end(&mut bytes))
        .map_err(|error| io_error(path, "read it", error))?;
    KeyHistory::read(&bytes).map_err(|error| MemoryFileError::History {
        path: path.to_owned(),
        error,
    })
}

#[cfg(test)]
mod tests;
