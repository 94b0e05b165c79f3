//! The units of the record and what they measure.

use std::{fmt, str::FromStr};

use num_rational::BigRational;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{Decimal, ratio::ratio, shorten, words};

/// A unit of the record, written as its UCUM code.
///
/// Source: The Unified Code for Units of Measure, case-sensitive codes (from memory).
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema,
)]
pub enum Unit {
    /// Millimetre, the unit of every length along or across a blade.
    #[serde(rename = "mm")]
    Millimetre,
    /// Micrometre, for steel removed and roughness.
    #[serde(rename = "um")]
    Micrometre,
    /// Square millimetre.
    #[serde(rename = "mm2")]
    SquareMillimetre,
    /// Cubic millimetre.
    #[serde(rename = "mm3")]
    CubicMillimetre,
    /// Gram.
    #[serde(rename = "g")]
    Gram,
    /// Degree of angle.
    #[serde(rename = "deg")]
    Degree,
    /// Minute of time.
    #[serde(rename = "min")]
    Minute,
    /// Hour.
    #[serde(rename = "h")]
    Hour,
    /// Degree Celsius.
    #[serde(rename = "Cel")]
    Celsius,
    /// Percent.
    #[serde(rename = "%")]
    Percent,
    /// The unit one, for counts and ratios.
    #[serde(rename = "1")]
    One,
    /// Gram per cubic centimetre.
    #[serde(rename = "g/cm3")]
    GramPerCubicCentimetre,
}

/// What a unit measures.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Dimension {
    /// Canonical unit mm.
    Length,
    /// Canonical unit g.
    Mass,
    /// Canonical unit deg.
    Angle,
    /// Canonical unit min (minute of time).
    Duration,
    /// Canonical unit mm2.
    Area,
    /// Canonical unit mm3.
    Volume,
    /// Canonical unit Cel.
    Temperature,
    /// Canonical unit %.
    Fraction,
    /// Canonical unit 1; whole numbers.
    Count,
    /// Canonical unit g/cm3.
    Density,
}

/// The text is no unit code of the record.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "`{found}` is not a unit of the record: mm, um, mm2, mm3, g, deg, min, h, Cel, %, 1, g/cm3 are allowed"
)]
pub struct UnknownUnitCode {
    found: String,
}

impl Unit {
    /// Every unit, in the order of the schema.
    pub const ALL: [Self; 12] = [
        Self::Millimetre,
        Self::Micrometre,
        Self::SquareMillimetre,
        Self::CubicMillimetre,
        Self::Gram,
        Self::Degree,
        Self::Minute,
        Self::Hour,
        Self::Celsius,
        Self::Percent,
        Self::One,
        Self::GramPerCubicCentimetre,
    ];

    /// Returns the UCUM code.
    pub const fn code(self) -> &'static str {
        match self {
            Self::Millimetre => "mm",
            Self::Micrometre => "um",
            Self::SquareMillimetre => "mm2",
            Self::CubicMillimetre => "mm3",
            Self::Gram => "g",
            Self::Degree => "deg",
            Self::Minute => "min",
            Self::Hour => "h",
            Self::Celsius => "Cel",
            Self::Percent => "%",
            Self::One => "1",
            Self::GramPerCubicCentimetre => "g/cm3",
        }
    }

    /// Returns what the unit measures.
    pub const fn dimension(self) -> Dimension {
        match self {
            Self::Millimetre | Self::Micrometre => Dimension::Length,
            Self::SquareMillimetre => Dimension::Area,
            Self::CubicMillimetre => Dimension::Volume,
            Self::Gram => Dimension::Mass,
            Self::Degree => Dimension::Angle,
            Self::Minute | Self::Hour => Dimension::Duration,
            Self::Celsius => Dimension::Temperature,
            Self::Percent => Dimension::Fraction,
            Self::One => Dimension::Count,
            Self::GramPerCubicCentimetre => Dimension::Density,
        }
    }

    /// Returns `value` in the canonical unit of this unit's dimension, exactly.
    pub fn to_canonical(self, value: Decimal) -> BigRational {
        value.to_ratio() * self.factor()
    }

    /// Returns a value of the canonical unit in this unit, exactly.
    pub fn from_canonical(self, value: &BigRational) -> BigRational {
        value / self.factor()
    }

    fn factor(self) -> BigRational {
        match self {
            Self::Micrometre => ratio(1, 1000),
            Self::Hour => ratio(60, 1),
            _ => ratio(1, 1),
        }
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.code())
    }
}

impl FromStr for Unit {
    type Err = UnknownUnitCode;

    fn from_str(code: &str) -> Result<Self, Self::Err> {
        let found = Self::ALL.into_iter().find(|unit| unit.code() == code);
        found.ok_or_else(|| UnknownUnitCode {
            found: shorten(code),
        })
    }
}

impl Dimension {
    /// Every dimension.
    pub const ALL: [Self; 10] = [
        Self::Length,
        Self::Mass,
        Self::Angle,
        Self::Duration,
        Self::Area,
        Self::Volume,
        Self::Temperature,
        Self::Fraction,
        Self::Count,
        Self::Density,
    ];

    /// Returns the unit that values of this dimension are held in.
    pub const fn canonical_unit(self) -> Unit {
        match self {
            Self::Length => Unit::Millimetre,
            Self::Mass => Unit::Gram,
            Self::Angle => Unit::Degree,
            Self::Duration => Unit::Minute,
            Self::Area => Unit::SquareMillimetre,
            Self::Volume => Unit::CubicMillimetre,
            Self::Temperature => Unit::Celsius,
            Self::Fraction => Unit::Percent,
            Self::Count => Unit::One,
            Self::Density => Unit::GramPerCubicCentimetre,
        }
    }

    /// Lists the units that a reading of this dimension may be written in, for error texts.
    pub fn allowed_units(self) -> String {
        let words = words::UNITS
            .iter()
            .filter(|unit| unit.dimension == self)
            .map(|unit| match unit.code {
                "Cel" => "°C",
                _ => unit.words[0],
            });
        words.collect::<Vec<_>>().join(", ")
    }
}

impl fmt::Display for Dimension {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Length => "length",
            Self::Mass => "mass",
            Self::Angle => "angle",
            Self::Duration => "duration",
            Self::Area => "area",
            Self::Volume => "volume",
            Self::Temperature => "temperature",
            Self::Fraction => "fraction",
            Self::Count => "count",
            Self::Density => "density",
        })
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn codes_are_the_json_texts() {
        for unit in Unit::ALL {
            assert_eq!(serde_json::to_value(unit).unwrap(), unit.code());
            assert_eq!(unit.code().parse::<Unit>().unwrap(), unit);
        }
        let error = "cm".parse::<Unit>().unwrap_err();
        assert_eq!(
            error.to_string(),
            "`cm` is not a unit of the record: mm, um, mm2, mm3, g, deg, min, h, Cel, %, 1, g/cm3 are allowed"
        );
    }

    #[test]
    fn canonical_units_measure_their_dimension_and_count_as_one() {
        for dimension in Dimension::ALL {
            assert_eq!(dimension.canonical_unit().dimension(), dimension);
            assert_eq!(
                dimension.canonical_unit().to_canonical(Decimal::from(7)),
                ratio(7, 1)
            );
        }
        assert_eq!(
            Unit::Micrometre.to_canonical("2.5".parse().unwrap()),
            ratio(25, 10_000)
        );
        assert_eq!(
            Unit::Hour.to_canonical("1.5".parse().unwrap()),
            ratio(90, 1)
        );
        assert_eq!(Unit::Hour.from_canonical(&ratio(90, 1)), ratio(3, 2));
    }
}
