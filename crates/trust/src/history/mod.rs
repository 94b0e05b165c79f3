//! The key history of a workshop: which keys it signed with, from when to when, and which are revoked.
//!
//! Each statement is a document of its own with an ecdsa-jcs-2019 proof by the key it names, and each later entry
//! carries a second proof by the key before it (or the recovery key) over the whole, so anything that verifies a
//! record's proof verifies an entry too. Source: `schemas/key-history-format.md`.

mod error;
mod read;
mod standing;
#[cfg(test)]
mod tests;
mod write;

use serde_json::Value;
use tangmark_core::Digest;

use crate::key::PublicKey;

pub use error::{EntryFault, HistoryError};
pub use standing::{About, Agreement, Path, Standing, about};
pub use write::{Statement, first_entry};

/// The one value of a file's `format`.
pub const FORMAT: &str = "tangmark key history 1";
/// Largest file that is read, in bytes.
pub const LARGEST: usize = 256 * 1024;
/// Most entries of a history.
pub const MOST_ENTRIES: usize = 200;

/// Who named a key.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum NamedBy {
    /// Itself: the first key.
    First,
    /// The key before it.
    Rotation,
    /// The recovery key.
    Recovery,
}

/// That a key is no longer to be relied on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Revocation {
    /// From when on somebody else may have held it, UTC.
    pub since: String,
    /// When it was revoked, UTC.
    pub at: String,
    /// Why, in the workshop's words.
    pub reason: String,
}

/// One key of the history and when it signed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Term {
    /// The key.
    pub key: PublicKey,
    /// From when on it signs, UTC.
    pub from: String,
    /// Until when, that moment excluded; none for the key in force.
    pub until: Option<String>,
    /// Why it was made, in the workshop's words.
    pub reason: String,
    /// Who named it.
    pub named_by: NamedBy,
    /// SHA-256 over the compressed point of the recovery key that may name a successor.
    pub recovery_digest: Digest,
    /// Whether it is revoked.
    pub revoked: Option<Revocation>,
}

/// A key history whose every proof holds.
#[derive(Clone, Debug, PartialEq)]
pub struct KeyHistory {
    /// The first key, apart, so that there always is one.
    first: Term,
    /// Those after it.
    later: Vec<Term>,
    /// The entries as read.
    entries: Vec<Value>,
    /// Digest of each.
    digests: Vec<Digest>,
    /// Time of the last entry.
    last_time: String,
}

impl KeyHistory {
    /// Reads a key history and verifies every proof in it.
    ///
    /// # Errors
    /// The first thing that is not as the page says.
    pub fn read(bytes: &[u8]) -> Result<Self, HistoryError> {
        read::read(bytes)
    }

    /// The keys, the first one first.
    pub fn terms(&self) -> impl DoubleEndedIterator<Item = &Term> {
        std::iter::once(&self.first).chain(&self.later)
    }

    /// The key the history is known by.
    pub fn first(&self) -> &Term {
        &self.first
    }

    /// The key in force: that of the last statement, revoked or not.
    pub fn in_force(&self) -> &Term {
        self.later.last().unwrap_or(&self.first)
    }

    /// The term of a key.
    pub fn term(&self, key: &PublicKey) -> Option<&Term> {
        self.terms().find(|term| term.key == *key)
    }

    /// Digest of the recovery key that may continue the history.
    pub fn recovery_digest(&self) -> Digest {
        self.in_force().recovery_digest
    }

    /// Digest of each entry, in order.
    pub fn digests(&self) -> &[Digest] {
        &self.digests
    }

    /// Time of the last entry, UTC; a later one must not be before it.
    pub fn last_time(&self) -> &str {
        &self.last_time
    }
}
