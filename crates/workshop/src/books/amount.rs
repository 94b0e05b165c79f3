//! Amounts of a consumable and times, as people write them.

use std::fmt;

use serde::{Deserialize, Serialize};
use tangmark_core::units::reading::read;
use tangmark_core::units::{Decimal, Dimension, Unit};

use super::BooksError;

/// An amount as it was written and what it is in the unit of its kind.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Amount {
    /// As written: `0.2 kg`, `3`.
    pub text: String,
    /// Value in `unit`.
    pub value: Decimal,
    /// g, mm3, mm, mm2, `1` for pieces, min for a time.
    pub unit: Unit,
}

impl fmt::Display for Amount {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.text)
    }
}

/// What an amount of a consumable may be measured in.
const KINDS: [Dimension; 5] = [
    Dimension::Count,
    Dimension::Mass,
    Dimension::Volume,
    Dimension::Length,
    Dimension::Area,
];

impl Amount {
    /// Reads an amount of a consumable: a number of pieces, or a mass, volume, length or area with its unit.
    ///
    /// # Errors
    /// When it is none of these, or zero.
    pub fn read(text: &str) -> Result<Self, BooksError> {
        let found = KINDS
            .into_iter()
            .find_map(|kind| read(text, kind).ok())
            .filter(|reading| !reading.rounded().is_zero())
            .ok_or_else(|| BooksError::Amount(cut(text)))?;
        Ok(Self {
            value: found.rounded(),
            unit: found.dimension.canonical_unit(),
            text: found.text,
        })
    }

    /// Reads a time.
    ///
    /// # Errors
    /// When it is none, or zero.
    pub fn read_time(text: &str) -> Result<Self, BooksError> {
        let reading = read(text, Dimension::Duration).map_err(|error| BooksError::Time {
            what: error.to_string(),
            hint: error.hint(),
        })?;
        if reading.rounded().is_zero() {
            return Err(BooksError::Time {
                what: format!(
                    "`{}` is no time at all, a time above zero is allowed",
                    cut(text)
                ),
                hint: "write it like \"2 h 30 min\"".to_owned(),
            });
        }
        Ok(Self {
            value: reading.rounded(),
            unit: Unit::Minute,
            text: reading.text,
        })
    }
}

/// Shows a value in the unit a person would say: `1.2 kg` stays g, ml for volumes, pieces without a unit.
pub(super) fn shown(value: Decimal, unit: Unit) -> String {
    match unit {
        Unit::One => plain(value),
        Unit::CubicMillimetre => {
            let millilitres = value.to_ratio() / Decimal::from(1000).to_ratio();
            let shown = Decimal::from_ratio_half_even(&millilitres, 3).unwrap_or(value);
            format!("{} ml", plain(shown))
        }
        Unit::SquareMillimetre => {
            let square = value.to_ratio() / Decimal::from(100).to_ratio();
            let shown = Decimal::from_ratio_half_even(&square, 2).unwrap_or(value);
            format!("{} cm2", plain(shown))
        }
        _ => format!("{} {}", plain(value), unit.code()),
    }
}

/// Without zeros at the end: a sum of readings of several steps has the digits of the finest.
pub(super) fn plain(value: Decimal) -> String {
    let text = value.to_string();
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

/// Minutes as hours and minutes: `2 h 30 min`; what is finer than a minute stays.
pub fn hours_and_minutes(minutes: Decimal) -> String {
    let whole = (minutes.to_ratio() / Decimal::from(60).to_ratio()).floor();
    let rest = minutes.to_ratio() - &whole * Decimal::from(60).to_ratio();
    let rest = Decimal::from_ratio_half_even(&rest, minutes.digits()).map_or_else(
        |_| String::new(),
        |rest| {
            if rest.is_zero() {
                String::new()
            } else {
                format!("{} min", plain(rest))
            }
        },
    );
    let hours = whole.to_integer().to_string();
    match (hours.as_str(), rest.as_str()) {
        ("0", "") => "0 min".to_owned(),
        ("0", rest) => rest.to_owned(),
        (hours, "") => format!("{hours} h"),
        (hours, rest) => format!("{hours} h {rest}"),
    }
}

fn cut(text: &str) -> String {
    text.chars().take(60).collect()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn amounts_are_pieces_or_have_a_unit() {
        for (text, value, unit, said) in [
            ("3", "3", Unit::One, "3"),
            ("0.2 kg", "200", Unit::Gram, "200 g"),
            ("50 ml", "50000", Unit::CubicMillimetre, "50 ml"),
            ("1.5 m", "1500", Unit::Millimetre, "1500 mm"),
        ] {
            let amount = Amount::read(text).unwrap();
            assert_eq!(
                (amount.text.as_str(), amount.unit, amount.value),
                (text, unit, value.parse().unwrap())
            );
            assert_eq!(shown(amount.value, amount.unit), said);
        }
        for bad in ["", "0", "0 g", "2 h", "some", "-3", "2.5"] {
            assert!(
                matches!(Amount::read(bad), Err(BooksError::Amount(_))),
                "{bad}"
            );
        }
    }

    #[test]
    fn times_are_hours_and_minutes() {
        for (text, minutes, said) in [
            ("2 h", "120", "2 h"),
            ("1 h 30 min", "90", "1 h 30 min"),
            ("45 min", "45", "45 min"),
            ("0.5 h", "30", "30 min"),
        ] {
            let time = Amount::read_time(text).unwrap();
            assert_eq!(time.value, minutes.parse().unwrap(), "{text}");
            assert_eq!(hours_and_minutes(time.value), said);
        }
        assert_eq!(hours_and_minutes(Decimal::ZERO), "0 min");
        assert_eq!(hours_and_minutes("90.5".parse().unwrap()), "1 h 30.5 min");
        for bad in ["2", "0 min", "2 g", ""] {
            assert!(
                matches!(Amount::read_time(bad), Err(BooksError::Time { .. })),
                "{bad}"
            );
        }
    }
}
