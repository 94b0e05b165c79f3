//! A whole blade from its station table: volume, mass, centre of mass, surfaces, each with its uncertainty.
//!
//! The blade is laid out straight along its length: sections stand square to it, and curvature is neglected.

mod check;
mod figures;
mod model;
mod outline;
mod solid;
mod sums;

pub use check::BladeError;
pub use figures::{Figures, mean_removal};
pub use model::{Between, Blade, Groove, Offsets, Point, Station};
pub use outline::{Back, Details, Slice, Zone, Zones, slice};
pub use solid::{Solid, tang_bar};
pub use sums::{Model, Totals};

#[cfg(test)]
mod tests;
