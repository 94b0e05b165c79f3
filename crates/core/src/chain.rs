//! Rules of a chain of records of one blade.

use crate::Digest;
use crate::record::Record;

/// A record with its name.
#[derive(Clone, Debug)]
pub struct Named<'r> {
    /// Digest over the record without proof.
    pub digest: Digest,
    /// The record.
    pub record: &'r Record,
}

/// A break in a chain.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum ChainError {
    /// Two records claim the same place after the same predecessor.
    #[error(
        "two different records with sequence {sequence} follow the same record: {first} and {second}"
    )]
    Fork {
        /// Their sequence.
        sequence: u32,
        /// One.
        first: Digest,
        /// The other.
        second: Digest,
    },
    /// A record does not follow the one before.
    #[error("record {digest} has sequence {found}, after sequence {before} only {} is allowed", before + 1)]
    Gap {
        /// The record.
        digest: Digest,
        /// Its sequence.
        found: u32,
        /// Sequence before.
        before: u32,
    },
    /// `previous` names another record than the one before, or none.
    #[error("record {digest} names {} as its predecessor, the record before is {before}", named.map_or("none".to_owned(), |named| named.to_string()))]
    WrongPrevious {
        /// The record.
        digest: Digest,
        /// What it names.
        named: Option<Digest>,
        /// What stands before.
        before: Digest,
    },
    /// A record names itself, or one that comes after it.
    #[error("record {digest} names {named} as its predecessor, which is itself or comes after it")]
    Circle {
        /// The record.
        digest: Digest,
        /// What it names.
        named: Digest,
    },
    /// A record cannot be first and have a predecessor, or be later and have none.
    #[error("record {digest} has sequence {sequence} and {}, sequence 1 is allowed without a predecessor and all later ones with one", if *has_previous { "a predecessor" } else { "no predecessor" })]
    Start {
        /// The record.
        digest: Digest,
        /// Its sequence.
        sequence: u32,
        /// Whether it names a predecessor.
        has_previous: bool,
    },
    /// A record of another blade.
    #[error("record {digest} is about blade `{found}`, the chain is about `{chain}`")]
    OtherBlade {
        /// The record.
        digest: Digest,
        /// Blade it is about.
        found: String,
        /// Blade of the chain.
        chain: String,
    },
    /// Earlier times than the record before.
    #[error("record {digest} was issued at {found}, before its predecessor at {before}")]
    TimeRunsBack {
        /// The record.
        digest: Digest,
        /// Its time.
        found: String,
        /// Time of the record before.
        before: String,
    },
}

impl ChainError {
    /// Returns the next step.
    pub fn hint(&self) -> String {
        match self {
            Self::Fork { .. } => "the issuer wrote two histories of this blade: ask which one holds, and have the other withdrawn".to_owned(),
            Self::Gap { before, .. } => {
                format!("ask for the sealed file of sequence {}; without it nobody can tell what it said", u64::from(*before) + 1)
            }
            Self::WrongPrevious { .. } | Self::Circle { .. } | Self::Start { .. } => {
                "a record was left out, exchanged or renumbered: ask the issuer for all sealed files of this blade".to_owned()
            }
            Self::OtherBlade { .. } => "verify the records of one blade at a time".to_owned(),
            Self::TimeRunsBack { .. } => {
                "one of the two times is wrong: ask the issuer, and rely on outside evidence for the time".to_owned()
            }
        }
    }
}

/// What is known about the chain of the last record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ChainState {
    /// Records that were looked at, the first first.
    pub supplied: usize,
    /// Predecessors that exist but were not supplied.
    pub not_supplied: u32,
    /// Digest of the first predecessor that was not supplied.
    pub missing: Option<Digest>,
}

/// Checks records of one blade, in any order, and says what is missing before them.
///
/// # Errors
/// The first break, in the order of `sequence`.
pub fn check(records: &[Named<'_>]) -> Result<ChainState, ChainError> {
    let mut records: Vec<&Named<'_>> = records.iter().collect();
    records.sort_by_key(|named| (named.record.sequence, named.digest));
    records.dedup_by_key(|named| named.digest);
    for pair in records.windows(2) {
        let [before, after] = pair else { continue };
        follow(before, after)?;
    }
    let first = records.first();
    if let Some(first) = first {
        start(first, &records)?;
    }
    Ok(ChainState {
        supplied: records.len(),
        not_supplied: first.map_or(0, |named| named.record.sequence.saturating_sub(1)),
        missing: first.and_then(|named| named.record.previous),
    })
}

/// The first record supplied: its predecessor is not among the others.
fn start(first: &Named<'_>, records: &[&Named<'_>]) -> Result<(), ChainError> {
    let (digest, sequence) = (first.digest, first.record.sequence);
    if let Some(named) = first.record.previous
        && records.iter().any(|other| other.digest == named)
    {
        return Err(ChainError::Circle { digest, named });
    }
    let has_previous = first.record.previous.is_some();
    if has_previous == (sequence <= 1) {
        return Err(ChainError::Start {
            digest,
            sequence,
            has_previous,
        });
    }
    Ok(())
}

fn follow(before: &Named<'_>, after: &Named<'_>) -> Result<(), ChainError> {
    let (earlier, later) = (before.record, after.record);
    if earlier.blade.id != later.blade.id {
        return Err(ChainError::OtherBlade {
            digest: after.digest,
            found: later.blade.id.to_string(),
            chain: earlier.blade.id.to_string(),
        });
    }
    if earlier.sequence == later.sequence {
        return Err(ChainError::Fork {
            sequence: later.sequence,
            first: before.digest,
            second: after.digest,
        });
    }
    if later.sequence != earlier.sequence + 1 {
        return Err(ChainError::Gap {
            digest: after.digest,
            found: later.sequence,
            before: earlier.sequence,
        });
    }
    if later.previous == Some(after.digest) {
        return Err(ChainError::Circle {
            digest: after.digest,
            named: after.digest,
        });
    }
    if later.previous != Some(before.digest) {
        return Err(ChainError::WrongPrevious {
            digest: after.digest,
            named: later.previous,
            before: before.digest,
        });
    }
    if later.issued_at < earlier.issued_at {
        return Err(ChainError::TimeRunsBack {
            digest: after.digest,
            found: later.issued_at.to_string(),
            before: earlier.issued_at.to_string(),
        });
    }
    Ok(())
}

#[cfg(test)]
mod tests;
