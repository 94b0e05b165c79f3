//! Rules of a chain of records of one blade.

use std::collections::BTreeSet;

use crate::Digest;
use crate::record::{Record, UtcTime};

/// A record with its name.
#[derive(Clone, Debug)]
pub struct Named<'r> {
    /// Digest over the record without proof.
    pub digest: Digest,
    /// The record.
    pub record: &'r Record,
}

/// What the rules of a chain ask of a record: little enough to keep of a thousand records at once.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Link {
    /// Digest over the record without proof.
    pub digest: Digest,
    /// Its number.
    pub sequence: u32,
    /// The record before.
    pub previous: Option<Digest>,
    /// Id of the blade.
    pub blade: String,
    /// Time of sealing.
    pub issued_at: UtcTime,
    /// did:key of the issuer.
    pub issuer: String,
}

impl Link {
    /// Takes it out of a record.
    pub fn of(digest: Digest, record: &Record) -> Self {
        Self {
            digest,
            sequence: record.sequence,
            previous: record.previous,
            blade: record.blade.id.to_string(),
            issued_at: record.issued_at.clone(),
            issuer: record.issuer.id.clone(),
        }
    }
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
    let links: Vec<Link> = records
        .iter()
        .map(|named| Link::of(named.digest, named.record))
        .collect();
    check_links(&links, &BTreeSet::new())
}

/// Checks the links of one blade, in any order. A gap is no break where every number that is missing is in `told`: there a
/// file lies that could not be read as a record, which has a verdict of its own. Those count as not supplied.
///
/// # Errors
/// The first break, in the order of `sequence`.
pub fn check_links(links: &[Link], told: &BTreeSet<u32>) -> Result<ChainState, ChainError> {
    let mut links: Vec<&Link> = links.iter().collect();
    links.sort_by_key(|link| (link.sequence, link.digest));
    links.dedup_by_key(|link| link.digest);
    let first = links.first().copied();
    let mut state = ChainState {
        supplied: links.len(),
        not_supplied: first.map_or(0, |link| link.sequence.saturating_sub(1)),
        missing: first.and_then(|link| link.previous),
    };
    for pair in links.windows(2) {
        let [before, after] = pair else { continue };
        let gap = follow(before, after, told)?;
        if gap > 0 {
            state.not_supplied += gap;
            state.missing = after.previous;
        }
    }
    if let Some(first) = first {
        start(first, &links)?;
    }
    Ok(state)
}

/// The first record supplied: its predecessor is not among the others.
fn start(first: &Link, links: &[&Link]) -> Result<(), ChainError> {
    let (digest, sequence) = (first.digest, first.sequence);
    if let Some(named) = first.previous
        && links.iter().any(|other| other.digest == named)
    {
        return Err(ChainError::Circle { digest, named });
    }
    let has_previous = first.previous.is_some();
    if has_previous == (sequence <= 1) {
        return Err(ChainError::Start {
            digest,
            sequence,
            has_previous,
        });
    }
    Ok(())
}

/// Checks one record after another; returns how many lie between them.
fn follow(earlier: &Link, later: &Link, told: &BTreeSet<u32>) -> Result<u32, ChainError> {
    if earlier.blade != later.blade {
        return Err(ChainError::OtherBlade {
            digest: later.digest,
            found: later.blade.clone(),
            chain: earlier.blade.clone(),
        });
    }
    if earlier.sequence == later.sequence {
        return Err(ChainError::Fork {
            sequence: later.sequence,
            first: earlier.digest,
            second: later.digest,
        });
    }
    // They are sorted, and not the same.
    let gap = later.sequence - earlier.sequence - 1;
    let between = told.range(earlier.sequence + 1..later.sequence).count();
    if u32::try_from(between) != Ok(gap) {
        return Err(ChainError::Gap {
            digest: later.digest,
            found: later.sequence,
            before: earlier.sequence,
        });
    }
    if later.previous == Some(later.digest) {
        return Err(ChainError::Circle {
            digest: later.digest,
            named: later.digest,
        });
    }
    if gap == 0 && later.previous != Some(earlier.digest) {
        return Err(ChainError::WrongPrevious {
            digest: later.digest,
            named: later.previous,
            before: earlier.digest,
        });
    }
    if later.issued_at < earlier.issued_at {
        return Err(ChainError::TimeRunsBack {
            digest: later.digest,
            found: later.issued_at.to_string(),
            before: earlier.issued_at.to_string(),
        });
    }
    Ok(gap)
}

#[cfg(test)]
mod tests;
