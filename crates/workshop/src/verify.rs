//! Verifying a file, for people who need no workshop.

use std::fs;
use std::path::{Path, PathBuf};

use tangmark_core::record::UtcTime;
use tangmark_trust::memory::{self, Memory, SeenKey};
use tangmark_trust::verdict::{self, BytesLine, Judged, Reader, SignerLine};

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
    /// Keep a new key in the memory, after the reader compared the fingerprint.
    pub remember: bool,
    /// The time now.
    pub now: &'a UtcTime,
}

/// What came of it.
#[derive(Clone, Debug)]
pub struct Verified {
    /// The verdict with the record.
    pub judged: Judged,
    /// The key was new and is remembered now.
    pub remembered: bool,
}

/// Verifies a file. Nothing is asked from a network.
///
/// A new key is remembered only where the reader asks for it.
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
    };
    let judged = verdict::judge(&bytes, &reader);
    let remembered = remember(order, &judged)?;
    Ok(Verified { judged, remembered })
}

fn remember(order: &Verify<'_>, judged: &Judged) -> Result<bool, WorkshopError> {
    let verdict = &judged.verdict;
    let (Some(folder), Some(key), Some(name)) = (order.memory, &judged.key, &verdict.issuer) else {
        return Ok(false);
    };
    let intact = matches!(verdict.bytes, BytesLine::Intact | BytesLine::SameContent);
    if !order.remember || !intact || !matches!(verdict.signer, SignerLine::New { .. }) {
        return Ok(false);
    }
    let source = order
        .file
        .file_name()
        .map(|name| name.to_string_lossy().into_owned())
        .unwrap_or_default();
    Ok(memory::remember(
        folder,
        SeenKey::new(name, key, order.now.as_str(), &source),
    )?)
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
