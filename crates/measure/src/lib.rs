//! Quantities with uncertainty, and the geometry of a blade.
//!
//! - [`estimate`]: a value with its standard uncertainty, propagated to first order;
//! - [`decision`]: an estimate against a limit: below, above, or undecided;
//! - [`statistics`]: means, spreads, quantiles;
//! - [`gum`]: uncertainty budgets; [`monte_carlo`]: distributions drawn from a seed;
//! - [`linear`], [`fit`]: least squares; [`interpolate`]: a curve that never overshoots;
//! - [`regression`]: ordinary, weighted and robust regression with prediction intervals;
//! - [`seat`]: whether a fitting goes on a blade;
//! - [`section`], [`volume`]: areas of sections, steel between stations, mass;
//! - [`blade`]: volume, mass, centre of mass and surfaces of a whole blade, with uncertainty;
//! - [`reading`]: readings that share the error of their instrument, and their differences;
//! - [`stations`]: what is measured at a station, and what its place adds;
//! - [`weighing`]: the weighings of a blade in their order, and what went between them;
//! - [`curvature`]: arcs, and the kind of curvature;
//! - [`mod@print`]: an estimate as the decimals of a record.
//!
//! Lengths are in mm, areas in mm², volumes in mm³, masses in g unless a name says otherwise. Binary numbers
//! stay inside; what leaves goes through [`mod@print`].
#![forbid(unsafe_code)]

pub mod blade;
pub mod curvature;
pub mod decision;
pub mod estimate;
pub mod fit;
pub mod gum;
pub mod interpolate;
pub mod linear;
pub mod monte_carlo;
pub mod print;
pub mod reading;
pub mod regression;
pub mod seat;
pub mod section;
pub mod stations;
pub mod statistics;
pub mod volume;
pub mod weighing;

pub use decision::{Against, against};
pub use estimate::Estimate;
