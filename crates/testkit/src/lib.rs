//! Development-only helpers: the generator of the demo photos, sealed records for trials, changes to try on them,
//! and the benchmark.
//!
//! Nothing here is part of the program that a workshop runs.
#![forbid(unsafe_code)]

pub mod bench;
pub mod cases;
pub mod coverage;
pub mod failures;
pub mod fuzz;
pub mod golden;
pub mod mutate;
pub mod pdfa;
pub mod photos;
pub mod sealed;
pub mod tamper;
pub mod typeset;
pub mod year;
