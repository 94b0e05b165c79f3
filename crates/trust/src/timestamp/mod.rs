//! Time evidence: RFC 3161 tokens of outside authorities, as `schemas/package-format.md` says.
//!
//! A token says that something existed *not later than* its time. [`request`] asks for one over a digest, [`Token`]
//! reads the answer, [`Token::check`] judges it; who the authority is depends on what the reader brings ([`Authorities`]).
//!
//! Source: RFC 3161 (protocol and token), RFC 5652 (CMS), RFC 5035 (signing certificate), RFC 5280 (certificates), RFC 5816
//! (signing certificate v2 in tokens).

mod authority;
mod chain;
mod error;
mod moment;
mod request;
mod signature;
mod syntax;
mod token;

use serde::Serialize;
use tangmark_core::Digest;

pub use authority::{AuthorityCertificate, CertificateProblem};
pub use chain::Authorities;
pub use error::TimestampError;
pub use request::{Request, request};
pub use token::Token;

/// Longest answer or token that is read, in bytes.
pub const TOKEN_LIMIT: usize = 64 << 10;

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
    /// Name of the stamped record. A token inside a report stamps the report's signature; there it is the digest of that.
    pub record: Digest,
    /// The latest time that the token allows, `genTime` and its accuracy, UTC in the spelling of records (a fraction of
    /// a second is rounded up).
    pub time: String,
    /// Name in the authority's certificate.
    pub authority: String,
    /// Whether the reader trusts it.
    pub standing: Authority,
}

#[cfg(test)]
pub(crate) mod fixture;
#[cfg(test)]
mod tests;
