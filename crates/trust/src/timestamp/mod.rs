//! Time evidence: RFC 3161 tokens of outside authorities, as `schemas/package-format.md` says.

use serde::Serialize;
use tangmark_core::Digest;

/// Who says when.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Authority {
    /// A chain of certificates leads to one that the reader gave.
    Trusted,
    /// A certificate of the chain has a key of the workshop: its own word.
    Workshop,
    /// Neither.
    Unknown,
}

/// A token that fits: the stamped record existed not later than `time`.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Evidence {
    /// Name of the stamped record.
    pub record: Digest,
    /// `genTime`, UTC in the spelling of records (a fraction of a second is rounded up).
    pub time: String,
    /// Name in the authority's certificate.
    pub authority: String,
    /// Whether the reader trusts it.
    pub standing: Authority,
}
