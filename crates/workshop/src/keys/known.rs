//! The keys of others that the reader remembers.

use std::path::Path;

use serde::Serialize;
use tangmark_trust::PublicKey;
use tangmark_trust::history::KeyHistory;
use tangmark_trust::memory::{self, Gone, Loss, histories};

use super::KeysError;
use crate::WorkshopError;

/// A key that is remembered.
#[derive(Clone, Debug, Serialize)]
pub struct KnownKey {
    /// Name its owner gave with it.
    pub name: String,
    /// Fingerprint.
    pub fingerprint: String,
    /// did:key.
    pub key: String,
    /// When it was first seen, UTC.
    pub first_seen: String,
    /// Where.
    pub source: String,
    /// Its fingerprint was compared with the workshop's card.
    pub compared: bool,
    /// Keys of the history that names it, 0 when none is remembered.
    pub keys_in_history: usize,
    /// Two histories of it disagree.
    pub fork: bool,
}

/// What is remembered.
#[derive(Clone, Debug, Serialize)]
pub struct KnownKeys {
    /// The keys, in the order they were met.
    pub keys: Vec<KnownKey>,
    /// Key histories remembered.
    pub histories: usize,
    /// Keys that no sighting is remembered of, but that a remembered history names.
    pub in_histories: Vec<KeyInHistory>,
}

/// A key that a remembered history names.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct KeyInHistory {
    /// Fingerprint.
    pub fingerprint: String,
    /// did:key.
    pub key: String,
    /// From when on it signs, UTC.
    pub from: String,
}

/// What was forgotten.
#[derive(Clone, Debug, Serialize)]
pub struct Forgotten {
    /// Names and fingerprints.
    pub keys: Vec<(String, String)>,
    /// The key histories, and what they alone say.
    pub histories: Loss,
}

/// Lists what the memory in a folder holds.
///
/// # Errors
/// When it cannot be read.
pub fn known(folder: &Path) -> Result<KnownKeys, WorkshopError> {
    let seen = memory::load(folder)?;
    let found = histories::load(folder)?;
    let keys = seen
        .keys()
        .iter()
        .map(|seen| {
            let key = PublicKey::from_did(&seen.did)?;
            let naming = found.iter().filter(|history| history.term(&key).is_some());
            Ok(KnownKey {
                name: seen.name.clone(),
                fingerprint: seen.fingerprint.clone(),
                key: seen.did.clone(),
                first_seen: seen.first_seen.clone(),
                source: seen.source.clone(),
                compared: seen.compared,
                keys_in_history: naming
                    .map(|history| history.terms().count())
                    .max()
                    .unwrap_or(0),
                fork: matches!(
                    tangmark_trust::history::about(&found, &key),
                    tangmark_trust::history::About::Two { .. }
                ),
            })
        })
        .collect::<Result<Vec<_>, WorkshopError>>()?;
    let mut in_histories = Vec::new();
    for term in found.iter().flat_map(KeyHistory::terms) {
        let key = KeyInHistory {
            fingerprint: term.key.fingerprint().to_string(),
            key: term.key.did_key(),
            from: term.from.clone(),
        };
        if !keys.iter().any(|known| known.key == key.key) && !in_histories.contains(&key) {
            in_histories.push(key);
        }
    }
    Ok(KnownKeys {
        keys,
        histories: found.len(),
        in_histories,
    })
}

/// Forgets every key of a name, or the key of a fingerprint, and the histories that name it where no other key that is
/// remembered stands in them.
///
/// # Errors
/// When nothing of that name is remembered, or the memory cannot be read or written.
pub fn forget_known(folder: &Path, name_or_fingerprint: &str) -> Result<Forgotten, WorkshopError> {
    forgotten(
        memory::forget(folder, name_or_fingerprint)?,
        name_or_fingerprint,
    )
}

/// What [`forget_known`] would forget; nothing is written.
///
/// # Errors
/// When nothing of that name is remembered, or the memory cannot be read.
pub fn known_to_forget(
    folder: &Path,
    name_or_fingerprint: &str,
) -> Result<Forgotten, WorkshopError> {
    forgotten(
        memory::to_forget(folder, name_or_fingerprint)?,
        name_or_fingerprint,
    )
}

fn forgotten(gone: Gone, name_or_fingerprint: &str) -> Result<Forgotten, WorkshopError> {
    if gone.keys.is_empty() && gone.histories.count == 0 {
        if gone.histories.kept > 0 {
            return Err(KeysError::StillNamed(name_or_fingerprint.to_owned()).into());
        }
        return Err(KeysError::NotKnown(name_or_fingerprint.to_owned()).into());
    }
    Ok(Forgotten {
        keys: gone
            .keys
            .into_iter()
            .map(|seen| (seen.name, seen.fingerprint))
            .collect(),
        histories: gone.histories,
    })
}
