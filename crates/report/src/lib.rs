//! Drawings and pages of the report, written once as a scene and from there as PDF or SVG.
#![forbid(unsafe_code)]

pub mod font;
pub mod jpeg;
pub mod pdf;
pub mod scene;
pub mod svg;
