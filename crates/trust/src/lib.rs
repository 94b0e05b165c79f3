//! Keys, proofs, withheld values, the PDF signature and the memory of keys seen before.
//!
//! Pure apart from [`memory`], which reads and writes one file in a folder it is given. No clock and no
//! randomness: times and entropy come in as parameters.
#![forbid(unsafe_code)]

pub mod certificate;
pub mod detached;
pub mod history;
pub mod key;
pub mod keyfile;
pub mod memory;
pub mod pdf;
pub mod proof;
pub mod recovery;
pub mod timestamp;
pub mod verdict;
pub mod withhold;

pub use key::{Fingerprint, KeyError, PrivateKey, PublicKey};
