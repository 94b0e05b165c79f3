//! Bytes and completeness, and their fixed wording.

use std::fmt;

use serde::Serialize;
use tangmark_core::{Digest, counted};

use super::Weight;

/// Are these the bytes that were signed?
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(tag = "state", rename_all = "snake_case")]
pub enum BytesLine {
    /// Byte for byte what was sealed.
    Intact,
    /// The content is what was signed, written in other bytes.
    SameContent,
    /// Not what was signed.
    Altered {
        /// What is wrong, the first thing first.
        reasons: Vec<String>,
    },
    /// Nothing can be said.
    CannotJudge {
        /// Why not.
        reasons: Vec<String>,
    },
}

impl fmt::Display for BytesLine {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Intact => f.write_str("intact: every byte is the one that was signed"),
            Self::SameContent => f.write_str(
                "same content, not the sealed bytes: the signature holds, but the file was written anew",
            ),
            Self::Altered { reasons } => write!(f, "altered: {}", reasons.join("; ")),
            Self::CannotJudge { reasons } => write!(f, "cannot be judged: {}", reasons.join("; ")),
        }
    }
}

/// What belongs to the file and is not here?
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Completeness {
    /// Number of the record in its blade's chain.
    pub sequence: Option<u32>,
    /// Records of the chain that were handed in, this one included.
    pub supplied: usize,
    /// Predecessors that were not handed in.
    pub not_supplied: u32,
    /// The nearest of them, by name.
    pub missing: Option<Digest>,
    /// Digests of values that may be withheld; decoys are among them.
    pub withheld: usize,
    /// Values that the record withholds and the report discloses, each fitting its digest.
    pub disclosed: usize,
    /// Photos the record names, which this file does not contain.
    pub photos_named: usize,
    /// The record judged withdraws an earlier one.
    pub is_withdrawal: bool,
    /// A later record of the chain that was handed in: this one is not the newest.
    pub superseded_by: Option<Digest>,
    /// A later record that was handed in and withdraws this one.
    pub withdrawn_by: Option<Digest>,
    /// Records handed in that another key sealed, such as a specialist's reply: those keys are not judged here.
    pub other_keys: usize,
    /// What breaks the chain.
    pub broken: Option<String>,
    /// Files handed in beside it that say nothing here.
    pub ignored: Vec<String>,
}

impl Completeness {
    /// How much it weighs. What somebody took back, or said more of later, is not to be relied on unread.
    pub fn weight(&self) -> Weight {
        if self.broken.is_some() {
            Weight::Rejected
        } else if self.is_withdrawal || self.superseded_by.is_some() {
            Weight::ToBeConfirmed
        } else {
            Weight::Accepted
        }
    }
}

impl fmt::Display for Completeness {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(broken) = &self.broken {
            return write!(f, "the chain is broken: {broken}");
        }
        let Some(sequence) = self.sequence else {
            return f.write_str("cannot be judged");
        };
        write!(f, "record {sequence} of its blade")?;
        match (self.not_supplied, &self.missing) {
            (0, _) if sequence == 1 => f.write_str(", the first")?,
            (0, _) => write!(f, ", all {} before it are here and fit", sequence - 1)?,
            (count, Some(missing)) => write!(
                f,
                ", {count} before it not supplied, the nearest is {missing}"
            )?,
            (count, None) => write!(f, ", {count} before it not supplied")?,
        }
        match &self.superseded_by {
            Some(later) => write!(f, "; a later record is here: {later}")?,
            None => f.write_str("; whether a later one exists cannot be known from here")?,
        }
        if self.other_keys > 0 {
            write!(
                f,
                "; {} of the records here sealed by another key, to be verified apart",
                self.other_keys
            )?;
        }
        match self.disclosed {
            0 => {}
            1 => f.write_str("; 1 withheld value disclosed, it fits its digest in the record")?,
            count => write!(
                f,
                "; {count} withheld values disclosed, each fits its digest in the record"
            )?,
        }
        if self.withheld > 0 {
            write!(f, "; up to {} withheld", counted(self.withheld, "value"))?;
        }
        if self.photos_named > 0 {
            write!(
                f,
                "; {} named by digest",
                counted(self.photos_named, "photo")
            )?;
        }
        Ok(())
    }
}
