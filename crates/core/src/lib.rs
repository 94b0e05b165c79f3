//! Record model, units, strict JSON reader, canonical bytes, digests and chain rules.
//!
//! Pure: no input or output, no clock, no randomness. Everything a verifier must agree on is here.
#![forbid(unsafe_code)]

pub mod chain;
pub mod check;
mod counted;
pub mod digest;
pub mod hold;
pub mod input;
pub mod json;
pub mod record;
pub mod schema;
pub mod sheet;
pub mod units;

pub use counted::counted;
pub use digest::Digest;
