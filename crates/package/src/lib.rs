//! The hand-over package: a BagIt 1.0 folder, or a zip file of it, as `schemas/package-format.md` says.
//!
//! Reading is strict and whole: a hostile package is refused before anything of it is used. Judging streams, so that its
//! memory does not grow with the photos.
#![forbid(unsafe_code)]

pub mod aids;
pub mod bag;
#[cfg(test)]
mod fixture;
pub mod judge;
pub mod open;
pub mod page;
pub mod path;
pub mod write;
pub mod zip;
