//! What a check of a whole store found.

use tangmark_core::Digest;

use crate::ObjectKind;

/// How far a check or a rebuild has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Progress {
    /// Objects looked at.
    pub done: u64,
    /// Objects there are.
    pub total: u64,
    /// Bytes hashed.
    pub bytes: u64,
}

/// The outcome of a check.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct IntegrityReport {
    /// Objects hashed again.
    pub objects: u64,
    /// Bytes hashed again.
    pub bytes: u64,
    /// Sealed records held against their bytes.
    pub records: u64,
    /// What is wrong.
    pub problems: Vec<Problem>,
    /// What is odd and harmless.
    pub notices: Vec<Notice>,
}

impl IntegrityReport {
    /// Says whether nothing is wrong.
    pub fn is_sound(&self) -> bool {
        self.problems.is_empty()
    }
}

/// Something is wrong.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum Problem {
    /// The bytes of an object changed.
    #[error("object {digest} ({kind}) is rotten: its {length} bytes have the digest {found}")]
    Rotten {
        /// Name it should have.
        digest: Digest,
        /// What it was.
        kind: ObjectKind,
        /// Length now, in bytes.
        length: u64,
        /// Digest of the bytes now.
        found: Digest,
    },
    /// An object is gone.
    #[error("object {digest} ({kind}, {length} bytes) is missing")]
    Missing {
        /// Its name.
        digest: Digest,
        /// What it was.
        kind: ObjectKind,
        /// Length it had, in bytes.
        length: u64,
    },
    /// An object cannot be read.
    #[error("object {digest} cannot be read: {reason}")]
    Unreadable {
        /// Its name.
        digest: Digest,
        /// What the system says.
        reason: String,
    },
    /// A row says something else than the sealed bytes.
    #[error("sealed record {name}: the index says {field} `{row}`, the sealed bytes say `{bytes}`")]
    RowDisagrees {
        /// The record's name in the index.
        name: Digest,
        /// Which field.
        field: &'static str,
        /// What the index says.
        row: String,
        /// What the bytes say.
        bytes: String,
    },
    /// An object listed as a record is none.
    #[error("sealed record {name}: object {object} is not a sealed record: {reason}")]
    NotARecord {
        /// The record's name in the index.
        name: Digest,
        /// The object.
        object: Digest,
        /// Why.
        reason: String,
    },
    /// A sealed record is on the disk, whole, and the index does not list it.
    #[error(
        "object {digest} is a sealed record of blade `{blade}` (sequence {sequence}) that the index does not list"
    )]
    UnlistedRecord {
        /// The object.
        digest: Digest,
        /// Blade it names.
        blade: String,
        /// Its sequence.
        sequence: u64,
    },
    /// A chain has a gap.
    #[error("blade `{blade}`: after sequence {before} comes sequence {found}, where {} belongs", before + 1)]
    Gap {
        /// Blade.
        blade: String,
        /// Sequence before the gap; 0 at the beginning.
        before: u64,
        /// Sequence found.
        found: u64,
    },
    /// A record names another predecessor than the one before it.
    #[error("blade `{blade}`: sequence {sequence} names {} as the record before it, which is {}", crate::text::name_or_none(named.as_ref()), crate::text::name_or_none(before.as_ref()))]
    WrongPrevious {
        /// Blade.
        blade: String,
        /// Sequence.
        sequence: u64,
        /// Predecessor it names.
        named: Option<Digest>,
        /// Record before it in the index.
        before: Option<Digest>,
    },
    /// A key file is gone or changed its mode.
    #[error("key file `{file_name}` {reason}")]
    Key {
        /// File name in `keys/`.
        file_name: String,
        /// What is wrong.
        reason: String,
    },
    /// The database says it is damaged.
    #[error("the index is damaged: {0}")]
    Index(String),
}

impl Problem {
    /// What to do next.
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Rotten { .. } | Self::Missing { .. } | Self::Unreadable { .. } => {
                "copy the file back from a backup or from the package that was handed over, then check again"
            }
            Self::RowDisagrees { .. }
            | Self::NotARecord { .. }
            | Self::UnlistedRecord { .. }
            | Self::Index(_) => {
                "copy the whole folder to a safe place, then rebuild the index from the objects"
            }
            Self::Gap { .. } | Self::WrongPrevious { .. } => {
                "copy the missing record back from a backup or from the package that was handed over, then rebuild the index"
            }
            Self::Key { .. } => {
                "copy the key file back from a backup; make it readable and writable by its owner only (mode 600)"
            }
        }
    }
}

/// Something is odd and harmless.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum Notice {
    /// An object no row speaks of; a write that did not end leaves such.
    #[error("object {0} is kept but not listed")]
    Unlisted(Digest),
    /// A part of a write that did not end.
    #[error("`{0}` is left over from a write that did not end")]
    Leftover(String),
    /// A file that does not belong to the store.
    #[error("`{0}` is not ours and was left alone")]
    Foreign(String),
}
