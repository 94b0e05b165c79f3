//! Verifying a file, for people who need no workshop.

use std::fs;
use std::path::{Path, PathBuf};

use tangmark_core::record::UtcTime;
use tangmark_trust::memory::{self, Memory, MemoryFileError, SeenKey};
use tangmark_trust::verdict::{self, Judged, Reader, SignerLine};

use crate::{Workshop, WorkshopError};

/// Largest file that is looked at, in bytes.
const LARGEST: u64 = 64 << 20;

/// Order to verify a file.
#[derive(Clone, Debug)]
pub struct Verify<'a> {
    /// The file.
    pub file: &'a Path,
    /// Other records of the same blade.
    pub others: &'a [PathBuf],
    /// Folder with the memory of keys seen before.
    pub memory: Option<&'a Path>,
    /// The reader's own workshop, if there is one.
    pub workshop: Option<&'a Workshop>,
    /// Keep a key that is new in the memory.
    pub remember: bool,
    /// The time now.
    pub now: &'a UtcTime,
}

/// What came of it.
#[derive(Debug)]
pub struct Verified {
    /// The verdict with the record.
    pub judged: Judged,
    /// The key was new and is remembered now.
    pub remembered: bool,
    /// Why a key that was new could not be remembered; the verdict stands all the same.
    pub not_remembered: Option<MemoryFileError>,
}

/// Verifies a file. Nothing is asked from a network.
///
/// A new key of intact bytes is remembered where the order says so. Nothing that is remembered is ever replaced: a name
/// that comes with another key, or a key under another name, is told as that, this time and every time.
///
/// # Errors
/// When the file cannot be read, or the memory is damaged.
pub fn verify(order: &Verify<'_>) -> Result<Verified, WorkshopError> {
    let bytes = read(order.file)?;
    let others = order
        .others
        .iter()
        .map(|path| read(path))
        .collect::<Result<Vec<_>, _>>()?;
    let seen = match order.memory {
        Some(folder) => memory::load(folder)?,
        None => Memory::default(),
    };
    let own_keys = order
        .workshop
        .map(Workshop::keys)
        .transpose()?
        .unwrap_or_default();
    let reader = Reader {
        own_keys: &own_keys,
        memory: &seen,
        now: order.now.as_str(),
        others: &others,
        histories: &[],
        evidence: &[],
    };
    let judged = verdict::judge(&bytes, &reader);
    let (remembered, not_remembered) = match remember(order, &judged) {
        Ok(remembered) => (remembered, None),
        Err(error) => (false, Some(error)),
    };
    Ok(Verified {
        judged,
        remembered,
        not_remembered,
    })
}

fn remember(order: &Verify<'_>, judged: &Judged) -> Result<bool, MemoryFileError> {
    let verdict = &judged.verdict;
    let (Some(folder), Some(key), Some(name)) = (order.memory, &judged.key, &verdict.issuer) else {
        return Ok(false);
    };
    // 2: nothing in the file or its chain was altered, and the signer is new or not the one remembered.
    let sound = verdict.exit_code() == 2;
    if !order.remember || !sound || !matches!(verdict.signer, SignerLine::New { .. }) {
        return Ok(false);
    }
    let source = order
        .file
        .file_name()
        .map(|name| name.to_string_lossy().into_owned())
        .unwrap_or_default();
    memory::remember(folder, SeenKey::new(name, key, order.now.as_str(), &source))
}

fn read(path: &Path) -> Result<Vec<u8>, WorkshopError> {
    let length = fs::metadata(path)
        .map_err(|error| WorkshopError::file("read", path, error))?
        .len();
    if length > LARGEST {
        let error = std::io::Error::other(format!(
            "{length} bytes, at most {LARGEST} bytes are looked at"
        ));
        return Err(WorkshopError::file("read", path, error));
    }
    fs::read(path).map_err(|error| WorkshopError::file("read", path, error))
}
