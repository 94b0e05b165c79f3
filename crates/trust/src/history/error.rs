//! Why a key history is refused.

use tangmark_core::json::JsonError;

use super::{FORMAT, MOST_ENTRIES};
use crate::proof::{PolicyError, ProofError};

/// Why a key history was refused.
#[derive(Debug, thiserror::Error)]
pub enum HistoryError {
    /// The file is no strict JSON.
    #[error("key history: {0}")]
    Json(#[from] JsonError),
    /// A member of the file is missing, unknown or of the wrong kind.
    #[error("key history: {0}")]
    Shape(String),
    /// Another format or a later version of this one.
    #[error("key history: format `{0}`, `{FORMAT}` allowed")]
    Format(String),
    /// No entry, or too many.
    #[error("key history: {found} entries, 1 to {MOST_ENTRIES} allowed")]
    Entries {
        /// Entries found.
        found: usize,
    },
    /// One of the entries is not as it must be.
    #[error("key history: entry {entry}: {fault}")]
    Entry {
        /// Counted from 1.
        entry: usize,
        /// What is wrong with it.
        fault: EntryFault,
    },
    /// The entry to be written cannot be signed.
    #[error("key history: {0}")]
    Sign(ProofError),
}

/// What is wrong with an entry.
#[derive(Debug, thiserror::Error)]
pub enum EntryFault {
    /// A member is missing, unknown or of the wrong kind.
    #[error("{0}")]
    Shape(String),
    /// A kind that no entry has.
    #[error("kind `{0}`; rotation, recovery and revocation allowed")]
    Kind(String),
    /// A proof does not hold.
    #[error("{0}")]
    Proof(#[from] ProofError),
    /// A proof has members that ours do not have.
    #[error("{0}")]
    Members(#[from] PolicyError),
    /// The twin of a signature.
    #[error("proof: s lies in the upper half, only the lower one is allowed")]
    HighS,
    /// The private half of a key is public knowledge.
    #[error("`{0}` is an example key printed in a specification, anyone can sign with it")]
    Published(String),
    /// Another key signed than must.
    #[error("`{signer}` signed it, {allowed} must")]
    OtherSigner {
        /// The did:key of the signer.
        signer: String,
        /// Who must, in words.
        allowed: String,
    },
    /// The proof gives another time than the statement.
    #[error("proof made at `{created}`, `from` is `{from}`; both must be the same")]
    OtherTime {
        /// As the proof has it.
        created: String,
        /// As the statement has it, shortened.
        from: String,
    },
    /// A key is named a second time.
    #[error("names `{0}` again; each key stands in one statement only")]
    KeyTwice(String),
    /// The entry does not follow the one before it.
    #[error("`previous` is {found}, {right} (the entry before it) allowed")]
    Previous {
        /// As the entry has it.
        found: String,
        /// Digest of the entry before.
        right: String,
    },
    /// A key signs from a time on that is not later than the key before it.
    #[error("`from` is {from}, a time after {before} (the `from` before it) allowed")]
    NotLater {
        /// As the statement has it.
        from: String,
        /// That of the statement before.
        before: String,
    },
    /// The time of an entry runs back.
    #[error("its time is {time}, not before {before} (the entry before it) allowed")]
    RunsBack {
        /// Its time.
        time: String,
        /// Time of the entry before.
        before: String,
    },
    /// A revocation names a key of no statement.
    #[error("revokes `{0}`, which no statement before it names")]
    UnknownKey(String),
    /// A key is revoked a second time.
    #[error("revokes `{0}` again; a key is revoked once")]
    RevokedTwice(String),
    /// `since` is no time or after the revocation itself.
    #[error("`since` is `{since}`, a UTC time not after {created} (when it was revoked) allowed")]
    Since {
        /// As the entry has it, shortened.
        since: String,
        /// As the proof has it.
        created: String,
    },
}

impl HistoryError {
    /// The next step for the workshop whose history it is, or that wants to write the next entry.
    pub fn owner_hint(&self) -> &'static str {
        let fault = match self {
            Self::Format(_) => return self.hint(),
            Self::Entry { fault, .. } => Some(fault),
            _ => None,
        };
        match fault {
            Some(EntryFault::Since { .. }) => {
                "give the time from which on somebody else may have had the key, in UTC and not after now, such as `--since 2026-03-01T09:30:00Z`"
            }
            Some(EntryFault::RevokedTwice(_)) => {
                "nothing is left to do; see since when with `tangmark key show`"
            }
            Some(EntryFault::NotLater { .. } | EntryFault::RunsBack { .. }) => {
                "set the clock of this computer right, then try again; `tangmark key show` has the times"
            }
            _ => {
                "look with `tangmark key show`; a history that was damaged comes back from a copy with `tangmark key restore`"
            }
        }
    }

    /// The next step for a reader.
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Format(_) => "read it with a newer release of tangmark",
            _ => {
                "ask the workshop for its key history again, and compare the fingerprint with its card"
            }
        }
    }
}
