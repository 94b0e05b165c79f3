//! Development-only helpers: the generator of the demo photos.
//!
//! Nothing here is part of the program that a workshop runs.
#![forbid(unsafe_code)]

pub mod photos;
