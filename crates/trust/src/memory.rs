//! The memory of keys seen before, by the name their owner gives.
//!
//! A first meeting proves nothing about who holds a key; what the memory adds is that the same name
//! with another key later does not pass unnoticed. The file belongs to the reader of records, not to a
//! workshop, so a buyer needs none. Key histories lie beside it, one file for each first key.

mod file;
pub mod histories;
#[cfg(test)]
mod tests;

use std::collections::HashSet;

use serde::{Deserialize, Serialize};
use tangmark_core::json::{JsonError, Limits, read_value};
use unicode_normalization::UnicodeNormalization as _;

pub use file::{FILE_NAME, Gone, MemoryFileError, forget, load, remember, to_forget};
pub use histories::Loss;

use crate::key::{Fingerprint, KeyError, PublicKey, shorten};
use crate::proof::is_utc_time;

/// The one value of a file's `format`.
pub const FORMAT: &str = "tangmark seen keys 1";
/// Most keys one memory holds.
pub const MOST_KEYS: usize = 20_000;

/// A key, met for the first time under a name.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SeenKey {
    /// The name its owner gave with it.
    pub name: String,
    /// The key, `did:key:zDn…`.
    pub did: String,
    /// Its fingerprint, so that a person can compare the file with a card.
    pub fingerprint: String,
    /// When it was first seen, UTC.
    pub first_seen: String,
    /// Where it was first seen, such as the name of a file.
    pub source: String,
    /// The reader compared its fingerprint with the workshop's card. Without it the key was met and no more.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub compared: bool,
}

impl SeenKey {
    /// Describes a key seen now.
    pub fn new(name: &str, key: &PublicKey, first_seen: &str, source: &str) -> Self {
        Self {
            name: readable(name),
            did: key.did_key(),
            fingerprint: key.fingerprint().to_string(),
            first_seen: first_seen.to_owned(),
            source: readable(source),
            compared: false,
        }
    }

    /// The same key, its fingerprint compared with the workshop's card.
    #[must_use]
    pub fn with_card(self) -> Self {
        Self {
            compared: true,
            ..self
        }
    }

    /// Whether it was seen under this name, but for capitals and spacing.
    pub fn has_name(&self, name: &str) -> bool {
        folded(&self.name) == folded(name)
    }
}

/// What the memory says about a name and a key.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Assessment {
    /// Neither was seen before.
    New,
    /// This key was seen under this name before.
    Known {
        /// When first, UTC.
        since: String,
    },
    /// The name was seen with another key only: a change of key, a namesake, or an impostor.
    DifferentKeyForName {
        /// The keys seen under this name, oldest first.
        known: Vec<SeenKey>,
    },
    /// The key was seen, but under other names only.
    OtherNameForKey {
        /// Those names and when they were first seen, oldest first.
        known: Vec<SeenKey>,
    },
}

/// Why a memory file was refused.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum MemoryError {
    /// The file is no strict JSON.
    #[error("seen keys: {0}")]
    Json(#[from] JsonError),
    /// A field is missing, unknown or of the wrong kind.
    #[error("seen keys: {0}")]
    Shape(String),
    /// Another format or a later version of this one.
    #[error("seen keys: format `{0}`, `{FORMAT}` allowed")]
    Format(String),
    /// Too many entries.
    #[error("seen keys: {found} entries, at most {MOST_KEYS} allowed")]
    TooMany {
        /// Entries found or wanted.
        found: usize,
    },
    /// An entry names no key.
    #[error("seen keys: entry {entry}: {error}")]
    Key {
        /// Counted from 1.
        entry: usize,
        /// What is wrong with it.
        error: KeyError,
    },
    /// An entry's fingerprint belongs to another key.
    #[error("seen keys: entry {entry}: fingerprint `{found}`, that of the key is `{right}`")]
    Fingerprint {
        /// Counted from 1.
        entry: usize,
        /// As the entry has it, shortened.
        found: String,
        /// What it should be.
        right: String,
    },
    /// An entry's time is none.
    #[error(
        "seen keys: entry {entry}: first seen `{found}`, a UTC time such as 2026-03-01T09:30:00Z allowed"
    )]
    Time {
        /// Counted from 1.
        entry: usize,
        /// As the entry has it, shortened.
        found: String,
    },
    /// A name and key occur twice.
    #[error("seen keys: entry {entry}: the same name and key as an entry before it")]
    Twice {
        /// Counted from 1.
        entry: usize,
    },
}

impl MemoryError {
    /// The next step.
    pub fn hint(&self) -> Option<&'static str> {
        Some(
            "restore the file from a copy, or move it away to start anew (every key is then new to you)",
        )
    }
}

/// The keys seen before.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Memory(Vec<SeenKey>);

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct File<T> {
    format: String,
    keys: T,
}

impl Memory {
    /// Reads a memory file.
    ///
    /// # Errors
    /// The first thing in it that is not as [`Memory::print`] writes it.
    pub fn parse(bytes: &[u8]) -> Result<Self, MemoryError> {
        let value = read_value(bytes, &Limits::default())?;
        let file: File<Vec<SeenKey>> =
            serde_json::from_value(value).map_err(|error| MemoryError::Shape(error.to_string()))?;
        if file.format != FORMAT {
            return Err(MemoryError::Format(shorten(&file.format)));
        }
        if file.keys.len() > MOST_KEYS {
            return Err(MemoryError::TooMany {
                found: file.keys.len(),
            });
        }
        // Looked up in a set: thousands of entries would else be compared with each other.
        let mut met = HashSet::new();
        for (index, seen) in file.keys.iter().enumerate() {
            let entry = index + 1;
            checked(seen, entry)?;
            if !met.insert((folded(&seen.name), seen.did.as_str())) {
                return Err(MemoryError::Twice { entry });
            }
        }
        Ok(Self(file.keys))
    }

    /// Writes the memory file, one entry after another in the order they were met.
    ///
    /// # Errors
    /// None in practice: every field is text.
    pub fn print(&self) -> Result<String, MemoryError> {
        let file = File {
            format: FORMAT.to_owned(),
            keys: &self.0,
        };
        let mut text = serde_json::to_string_pretty(&file)
            .map_err(|error| MemoryError::Shape(error.to_string()))?;
        text.push('\n');
        Ok(text)
    }

    /// The keys, in the order they were met.
    pub fn keys(&self) -> &[SeenKey] {
        &self.0
    }

    /// Says what is remembered of this name and key. Names are compared without regard to capitals and spacing.
    pub fn assess(&self, name: &str, key: &PublicKey) -> Assessment {
        let (name, did) = (folded(name), key.did_key());
        let with_name: Vec<&SeenKey> = self
            .0
            .iter()
            .filter(|seen| folded(&seen.name) == name)
            .collect();
        if let Some(seen) = with_name.iter().find(|seen| seen.did == did) {
            return Assessment::Known {
                since: seen.first_seen.clone(),
            };
        }
        // The warning outranks the news: a name with another key than before comes first.
        if !with_name.is_empty() {
            return Assessment::DifferentKeyForName {
                known: with_name.into_iter().cloned().collect(),
            };
        }
        let with_key: Vec<SeenKey> = self
            .0
            .iter()
            .filter(|seen| seen.did == did)
            .cloned()
            .collect();
        if with_key.is_empty() {
            Assessment::New
        } else {
            Assessment::OtherNameForKey { known: with_key }
        }
    }

    /// Adds a key; false when this name and key are remembered already. The first sighting stays, and becomes one that was
    /// compared with a card when this one was.
    ///
    /// # Errors
    /// When the entry is not sound or the memory is full.
    pub fn remember(&mut self, seen: SeenKey) -> Result<bool, MemoryError> {
        self.add(seen, MOST_KEYS)
    }

    /// As [`Memory::remember`], for one verdict only: a memory that is full has room for it all the same.
    ///
    /// # Errors
    /// When the entry is not sound.
    pub fn take_along(&mut self, seen: SeenKey) -> Result<bool, MemoryError> {
        self.add(seen, usize::MAX)
    }

    fn add(&mut self, seen: SeenKey, most: usize) -> Result<bool, MemoryError> {
        let entry = self.0.len() + 1;
        checked(&seen, entry)?;
        let name = folded(&seen.name);
        let there = self
            .0
            .iter_mut()
            .find(|there| there.did == seen.did && folded(&there.name) == name);
        if let Some(there) = there {
            let news = seen.compared && !there.compared;
            there.compared |= seen.compared;
            return Ok(news);
        }
        if entry > most {
            return Err(MemoryError::TooMany { found: entry });
        }
        self.0.push(seen);
        Ok(true)
    }

    /// The keys that were compared with a card, and no others.
    #[must_use]
    pub fn compared(&self) -> Self {
        Self(
            self.0
                .iter()
                .filter(|seen| seen.compared)
                .cloned()
                .collect(),
        )
    }

    /// Takes every key of a name, or the key of a fingerprint, out; returns them.
    pub fn forget(&mut self, name_or_fingerprint: &str) -> Vec<SeenKey> {
        let typed = typed_fingerprint(name_or_fingerprint);
        let (gone, kept) = std::mem::take(&mut self.0).into_iter().partition(|seen| {
            seen.has_name(name_or_fingerprint) || typed.as_ref() == Some(&seen.fingerprint)
        });
        self.0 = kept;
        gone
    }
}

/// A fingerprint as a person types it, in the spelling of the file; nothing when it is none.
fn typed_fingerprint(text: &str) -> Option<String> {
    text.trim()
        .parse::<Fingerprint>()
        .ok()
        .map(|typed| typed.to_string())
}

/// The key of an entry that is sound by itself.
fn checked(seen: &SeenKey, entry: usize) -> Result<PublicKey, MemoryError> {
    let key = PublicKey::from_did(&seen.did).map_err(|error| MemoryError::Key { entry, error })?;
    let right = key.fingerprint().to_string();
    if seen.fingerprint != right {
        return Err(MemoryError::Fingerprint {
            entry,
            found: shorten(&seen.fingerprint),
            right,
        });
    }
    if !is_utc_time(&seen.first_seen) {
        return Err(MemoryError::Time {
            entry,
            found: shorten(&seen.first_seen),
        });
    }
    Ok(key)
}

/// The text as strict JSON takes it: in form C, and without code points that are no characters. The name of a file is
/// chosen by whoever sent it, and must not make the memory one that nobody can read again.
fn readable(text: &str) -> String {
    let is_noncharacter = |code: u32| (0xfdd0..=0xfdef).contains(&code) || code & 0xfffe == 0xfffe;
    text.chars()
        .map(|letter| {
            if is_noncharacter(u32::from(letter)) {
                char::REPLACEMENT_CHARACTER
            } else {
                letter
            }
        })
        .nfc()
        .collect()
}

/// A name as it is compared: small letters, single spaces.
fn folded(name: &str) -> String {
    name.to_lowercase()
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ")
}
