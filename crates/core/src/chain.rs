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
    /// `previous` names another record than the one before.
    #[error("record {digest} names {named} as its predecessor, the record before is {before}")]
    WrongPrevious {
        /// The record.
        digest: Digest,
        /// What it names.
        named: Digest,
        /// What stands before.
        before: Digest,
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
    Ok(ChainState {
        supplied: records.len(),
        not_supplied: first.map_or(0, |named| named.record.sequence - 1),
        missing: first.and_then(|named| named.record.previous),
    })
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
    match later.previous {
        Some(named) if named == before.digest => {}
        named => {
            let named = named.unwrap_or(Digest::from_bytes([0; 32]));
            return Err(ChainError::WrongPrevious {
                digest: after.digest,
                named,
                before: before.digest,
            });
        }
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
