//! Decimals, units and readings as people write them.
//!
//! - [`Decimal`]: the exact decimal of the record, a JSON string.
//! - [`Unit`], [`Dimension`]: the UCUM codes of the record.
//! - [`reading`]: one value as written (`26 7/8 in.`, `二尺三寸五分`) to an exact one.
//! - [`published`]: a line that gives each value in two systems; the two are compared.
//! - [`import`]: a CSV of published blades, through a column [`map`].

mod decimal;
pub mod import;
mod label;
pub mod map;
pub mod published;
mod ratio;
pub mod reading;
mod scan;
mod unit;
mod words;

pub use decimal::{Decimal, DecimalError};
pub use published::QuantityKind;
pub use reading::{Reading, ReadingError};
pub use unit::{Dimension, Unit, UnknownUnitCode};

/// Shortens text from outside for an error line, so that a megabyte of it cannot fill a terminal.
pub(crate) fn shorten(text: &str) -> String {
    const LONGEST: usize = 80;
    let mut short: String = text
        .chars()
        .take(LONGEST)
        .map(|c| if c.is_control() { '\u{fffd}' } else { c })
        .collect();
    if text.chars().nth(LONGEST).is_some() {
        short.push('…');
    }
    short
}
