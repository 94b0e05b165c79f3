//! Measured values: what was read, what it is in the record's unit, and how uncertain it is.

use std::borrow::Cow;

use num_rational::BigRational;
use num_traits::Zero as _;
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Deserialize, Serialize};

use super::scalar::Key;
use super::term::terms;
use crate::units::reading::read_signed;
use crate::units::{Decimal, DecimalError, Dimension, Reading, ReadingError, Unit};

/// One reading as it was written down.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct AsRead {
    /// The words as written, for example `2 shaku 3 sun 5 bu`.
    #[schemars(length(min = 1, max = 80))]
    pub text: String,
    /// The unit as written: its UCUM code where there is one, else the trade's word.
    #[schemars(length(min = 1, max = 40))]
    pub unit: String,
}

terms! {
    /// Where a standard uncertainty comes from.
    UncertaintyBasis {
        Resolution "resolution" "" "rectangular over one step of the reading" "読み取り一目盛の矩形分布";
        Instrument "instrument" "" "step of the reading and the instrument's limit of error, both rectangular" "読み取り一目盛と計器の最大許容誤差（いずれも矩形分布）";
        Readings "readings" "" "spread of repeated readings, with the step of the reading" "繰返し測定のばらつきと読み取り一目盛";
        Stated "stated" "" "stated by the examiner" "調査者の申告";
    }
}

/// A measured value.
///
/// `value` is the mean of the exact values of `as_read`, rounded half-even one digit finer than the
/// finest step that was read; anyone can recompute it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Quantity {
    /// The readings, as written; several mean repeated readings of the same thing.
    #[schemars(length(min = 1, max = 30))]
    pub as_read: Vec<AsRead>,
    /// Value in `unit`.
    pub value: Decimal,
    /// UCUM code of the record's unit for this kind of quantity.
    pub unit: Unit,
    /// Standard uncertainty (k = 1) in `unit`.
    pub standard_uncertainty: Decimal,
    /// Where the uncertainty comes from.
    pub uncertainty_from: UncertaintyBasis,
    /// Key of the instrument in `examination.instruments`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub instrument: Option<Key>,
    /// How it was measured, where that is not plain.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1, max = 400))]
    pub method: Option<String>,
}

/// Why readings do not make a quantity.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum QuantityError {
    /// A reading could not be understood.
    #[error(transparent)]
    Reading(#[from] ReadingError),
    /// No reading at all.
    #[error("a quantity without a reading")]
    Empty,
    /// The stated uncertainty is negative or nothing.
    #[error("standard uncertainty `{0}` is not above zero")]
    Uncertainty(String),
    /// The value cannot be held in the record's form.
    #[error(transparent)]
    Range(#[from] DecimalError),
}

impl QuantityError {
    /// Returns the next step.
    pub fn hint(&self) -> String {
        match self {
            Self::Reading(error) => error.hint().clone(),
            Self::Empty => "write the reading with its unit, for example \"70.15 cm\"".to_owned(),
            Self::Uncertainty(_) => {
                "give the standard uncertainty (k = 1) with a unit, for example \"0.2 mm\", or leave it out".to_owned()
            }
            Self::Range(error) => error.hint().to_owned(),
        }
    }
}

impl Quantity {
    /// Builds a quantity from readings of one thing.
    ///
    /// `stated` is a standard uncertainty (k = 1) as written; `limit_of_error` the instrument's, as the half-width
    /// of a rectangular distribution, in the record's unit.
    ///
    /// Source: JCGM 100:2008, 4.2 (spread of readings) and 4.3.7 (rectangular limits), from memory.
    pub fn from_readings(
        texts: &[String],
        dimension: Dimension,
        stated: Option<&str>,
        limit_of_error: Option<f64>,
    ) -> Result<Self, QuantityError> {
        let readings: Vec<Reading> = texts
            .iter()
            .map(|text| read_signed(text, dimension))
            .collect::<Result<_, _>>()?;
        let value = mean_value(&readings).ok_or(QuantityError::Empty)??;
        let (standard, basis) = match stated {
            Some(text) => {
                let reading = read_signed(text, dimension)?;
                (ratio_to_f64(&reading.exact), UncertaintyBasis::Stated)
            }
            None => estimate(&readings, limit_of_error),
        };
        if standard <= 0.0 {
            return Err(QuantityError::Uncertainty(stated.unwrap_or("0").to_owned()));
        }
        let standard = Decimal::from_f64_significant(standard, 2)?;
        Ok(Self {
            as_read: readings
                .into_iter()
                .map(|reading| AsRead {
                    text: reading.text,
                    unit: reading.unit_written,
                })
                .collect(),
            value,
            unit: dimension.canonical_unit(),
            standard_uncertainty: standard,
            uncertainty_from: basis,
            instrument: None,
            method: None,
        })
    }

    /// Recomputes `value` from `as_read`; `None` where a reading cannot be understood.
    pub fn recomputed(&self) -> Option<Decimal> {
        let dimension = self.unit.dimension();
        let readings: Vec<Reading> = self
            .as_read
            .iter()
            .map(|reading| read_signed(&reading.text, dimension).ok())
            .collect::<Option<_>>()?;
        let same_units = readings
            .iter()
            .zip(&self.as_read)
            .all(|(read, written)| read.unit_written == written.unit);
        same_units.then(|| mean_value(&readings)).flatten()?.ok()
    }

    /// Returns the value as a binary number in `unit`.
    pub fn to_f64(&self) -> f64 {
        self.value.to_f64()
    }

    /// Returns the standard uncertainty (k = 1) as a binary number in `unit`.
    pub fn standard(&self) -> f64 {
        self.standard_uncertainty.to_f64()
    }
}

fn mean_value(readings: &[Reading]) -> Option<Result<Decimal, DecimalError>> {
    let finest = readings
        .iter()
        .min_by(|a, b| a.resolution.cmp(&b.resolution))?;
    let mut sum = BigRational::zero();
    for reading in readings {
        sum += &reading.exact;
    }
    let mean = sum / BigRational::from_integer(readings.len().into());
    Some(Decimal::from_ratio_half_even(
        &mean,
        finest.rounded().digits(),
    ))
}

fn estimate(readings: &[Reading], limit_of_error: Option<f64>) -> (f64, UncertaintyBasis) {
    let step = readings
        .iter()
        .map(|reading| ratio_to_f64(&reading.resolution))
        .fold(f64::INFINITY, f64::min);
    let mut variance = step * step / 12.0;
    let mut basis = UncertaintyBasis::Resolution;
    if let Some(limit) = limit_of_error {
        variance += limit * limit / 3.0;
        basis = UncertaintyBasis::Instrument;
    }
    if readings.len() > 1 {
        let count = readings.len() as f64;
        let values: Vec<f64> = readings
            .iter()
            .map(|reading| ratio_to_f64(&reading.exact))
            .collect();
        let mean = values.iter().sum::<f64>() / count;
        let spread = values
            .iter()
            .map(|value| (value - mean) * (value - mean))
            .sum::<f64>()
            / (count - 1.0);
        variance += spread / count;
        basis = UncertaintyBasis::Readings;
    }
    (variance.sqrt(), basis)
}

fn ratio_to_f64(ratio: &BigRational) -> f64 {
    num_traits::ToPrimitive::to_f64(ratio).unwrap_or(f64::NAN)
}

/// A quantity whose kind is fixed by its field.
pub trait Measured {
    /// What is measured.
    const DIMENSION: Dimension;

    /// Returns the quantity.
    fn quantity(&self) -> &Quantity;
}

macro_rules! measured {
    ($(#[$meta:meta])* $name:ident $dimension:ident) => {
        $(#[$meta])*
        #[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub Quantity);

        impl Measured for $name {
            const DIMENSION: Dimension = Dimension::$dimension;

            fn quantity(&self) -> &Quantity {
                &self.0
            }
        }

        impl std::ops::Deref for $name {
            type Target = Quantity;

            fn deref(&self) -> &Quantity {
                &self.0
            }
        }

        impl JsonSchema for $name {
            fn schema_name() -> Cow<'static, str> {
                stringify!($name).into()
            }

            fn json_schema(generator: &mut SchemaGenerator) -> Schema {
                let quantity = generator.subschema_for::<Quantity>();
                let unit = Dimension::$dimension.canonical_unit().code();
                json_schema!({
                    "description": concat!("A quantity of the kind ", stringify!($dimension), "; `unit` is fixed."),
                    "allOf": [quantity, { "properties": { "unit": { "const": unit } } }]
                })
            }
        }
    };
}

measured!(/** A length in mm. */ Length Length);
measured!(/** A mass in g. */ Mass Mass);
measured!(/** A plane angle in degrees. */ Angle Angle);
measured!(/** A duration in minutes. */ Duration Duration);
measured!(/** A temperature in degrees Celsius. */ Temperature Temperature);
measured!(/** A fraction in per cent. */ Fraction Fraction);
measured!(/** An area in mm². */ Area Area);

/// Names of the schema definitions that are quantities, with what they measure.
pub const QUANTITY_DEFINITIONS: &[(&str, Dimension)] = &[
    ("Length", Dimension::Length),
    ("Mass", Dimension::Mass),
    ("Angle", Dimension::Angle),
    ("Duration", Dimension::Duration),
    ("Temperature", Dimension::Temperature),
    ("Fraction", Dimension::Fraction),
    ("Area", Dimension::Area),
];
