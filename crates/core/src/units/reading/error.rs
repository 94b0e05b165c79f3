//! Why a text is not one value.

use super::super::{DecimalError, Dimension};

/// A text is not one value of the dimension asked for.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
#[allow(
    missing_docs,
    reason = "each field is named in the text above it; `found` is the text, shortened"
)]
pub enum ReadingError {
    /// There is no text.
    #[error("nothing is written: {} is allowed in {}", with_article(*dimension), dimension.allowed_units())]
    Empty { dimension: Dimension },
    /// The text is longer than any single value.
    #[error("`{found}` is too long for one value: up to {longest} characters are allowed")]
    TooLong { found: String, longest: usize },
    /// A number without a unit.
    #[error("`{found}` has no unit: {} is allowed in {}", with_article(*dimension), dimension.allowed_units())]
    MissingUnit { found: String, dimension: Dimension },
    /// A word that is no unit.
    #[error("`{unit}` in `{found}` is not a known unit: {} is allowed in {}", with_article(*dimension), dimension.allowed_units())]
    UnknownUnit {
        found: String,
        unit: String,
        dimension: Dimension,
    },
    /// A unit of something else.
    #[error("`{unit}` in `{found}` is a unit of {is}: {} is allowed in {}", with_article(*dimension), dimension.allowed_units())]
    OtherDimension {
        found: String,
        unit: String,
        is: Dimension,
        dimension: Dimension,
    },
    /// A comma between digits: decimals in one country, thousands in another.
    #[error(
        "`{found}` has a comma between digits, which may mean decimals or thousands: a full stop is allowed for decimals, nothing for thousands"
    )]
    DecimalComma { found: String },
    /// The kujira-shaku, a cloth measure.
    #[error(
        "`{found}` is in kujira-shaku, a cloth measure a quarter longer than the shaku of blades: shaku, sun, bu, rin are allowed"
    )]
    ClothMeasure { found: String },
    /// More than one value, or a value with its spread.
    #[error("`{found}` holds more than one value: one value with its unit is allowed")]
    SeveralValues { found: String },
    /// A value below zero where none can be.
    #[error("`{found}` is below zero: {} of zero or more is allowed", with_article(*dimension))]
    Negative { found: String, dimension: Dimension },
    /// Digits that are no number.
    #[error("`{number}` in `{found}` is not a number: {why}")]
    BadNumber {
        found: String,
        number: String,
        why: &'static str,
    },
    /// A decimal or fraction with a smaller unit after it.
    #[error("`{part}` in `{found}` is followed by a smaller unit: a whole number is allowed there")]
    PartNotWhole { found: String, part: String },
    /// A part that fills the larger unit before it.
    #[error(
        "`{part}` in `{found}` is one {larger} or more: less than one {larger} is allowed there"
    )]
    PartTooLarge {
        found: String,
        part: String,
        larger: &'static str,
    },
    /// A sign or word that belongs to no value.
    #[error("`{part}` in `{found}` is not understood: a number with a unit is allowed, {} in {}", with_article(*dimension), dimension.allowed_units())]
    Unexpected {
        found: String,
        part: String,
        dimension: Dimension,
    },
    /// A count with decimals, a fraction or a unit.
    #[error("`{found}` is not a count: a whole number without a unit is allowed")]
    NotACount { found: String },
    /// The value or its digits go beyond the record's decimals.
    #[error("`{found}` does not fit the record's decimals: {reason}")]
    OutOfRange { found: String, reason: DecimalError },
}

/// The dimension's name with its article.
fn with_article(dimension: Dimension) -> String {
    let article = if matches!(dimension, Dimension::Angle | Dimension::Area) {
        "an"
    } else {
        "a"
    };
    format!("{article} {dimension}")
}

impl ReadingError {
    /// Says what to do next.
    pub fn hint(&self) -> String {
        match self {
            Self::Empty { dimension } | Self::MissingUnit { dimension, .. } if *dimension == Dimension::Count => {
                "write a whole number, such as `2`".into()
            }
            Self::Empty { dimension } | Self::Unexpected { dimension, .. } => {
                format!("write the value with its unit, such as `{}`", example(*dimension))
            }
            Self::MissingUnit { found, dimension } => {
                format!("write the unit that was read off: `{found} {}`, if that is the one", first_unit(*dimension))
            }
            Self::UnknownUnit { dimension, .. } => format!("write it with one of these units, such as `{}`", example(*dimension)),
            Self::OtherDimension { dimension, .. } => {
                format!("check that the value stands in the right field, or write it like `{}`", example(*dimension))
            }
            Self::TooLong { .. } => "write one value; put anything else into a remark".into(),
            Self::DecimalComma { found } if found.contains(['.', '．']) => {
                format!("write `{}` if the comma groups thousands", found.replace([',', '，'], ""))
            }
            Self::DecimalComma { found } => format!(
                "write `{}` if the comma divides off decimals, `{}` if it groups thousands",
                found.replace([',', '，'], "."),
                found.replace([',', '，'], "")
            ),
            Self::ClothMeasure { .. } => "measure the blade again with a rule in mm, or find out which shaku was used".into(),
            Self::SeveralValues { .. } => {
                "write one value in each field; an uncertainty, a second reading or another unit has its own".into()
            }
            Self::Negative { .. } => "leave out the minus sign, or check the reading".into(),
            Self::BadNumber { .. } => "write the digits like `68.1` or `26 7/8`".into(),
            Self::PartNotWhole { .. } => "write whole numbers up to the last unit, such as `2 shaku 3 sun 5.5 bu`".into(),
            Self::PartTooLarge { .. } => "carry it over into the larger unit, or check the digits".into(),
            Self::NotACount { .. } => "write a whole number, such as `2`".into(),
            Self::OutOfRange { reason, .. } => reason.hint().into(),
        }
    }
}

const fn example(dimension: Dimension) -> &'static str {
    match dimension {
        Dimension::Length => "681 mm",
        Dimension::Mass => "724.5 g",
        Dimension::Angle => "12.5 deg",
        Dimension::Duration => "45 min",
        Dimension::Area => "137.5 mm2",
        Dimension::Volume => "92.3 cm3",
        Dimension::Temperature => "21 °C",
        Dimension::Fraction => "3 %",
        Dimension::Count => "2",
        Dimension::Density => "7.82 g/cm3",
    }
}

const fn first_unit(dimension: Dimension) -> &'static str {
    match dimension {
        Dimension::Temperature => "°C",
        Dimension::Angle => "deg",
        Dimension::Duration => "min",
        _ => dimension.canonical_unit().code(),
    }
}
