//! The few features that a price may be regressed on, and how each becomes a number.

use serde::Deserialize;
use tangmark_core::record::{SurfaceGrade, Term as _};
use tangmark_measure::Estimate;

/// A feature.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(crate) enum Feature {
    /// Logarithm of the blade length over 600 mm.
    Length,
    /// Age, in centuries before 2000.
    Age,
    /// Condition of the surface, in steps from the worst.
    Condition,
    /// Signed or not.
    Signed,
    /// Private appraisal papers or not.
    Papers,
    /// Years from the day the price is for; negative before it.
    Date,
}

impl Feature {
    /// Name in the settings.
    pub(crate) fn name(self) -> &'static str {
        match self {
            Self::Length => "length",
            Self::Age => "age",
            Self::Condition => "condition",
            Self::Signed => "signed",
            Self::Papers => "papers",
            Self::Date => "date",
        }
    }

    /// Column of the table that it is read from.
    pub(crate) fn column(self) -> &'static str {
        match self {
            Self::Length => "length_mm",
            Self::Age => "made_year",
            Self::Condition => "condition",
            Self::Signed => "signed",
            Self::Papers => "papers",
            Self::Date => "sold_on",
        }
    }

    /// What one unit of it is, for people.
    pub(crate) fn step(self) -> &'static str {
        match self {
            Self::Length => "twice the length",
            Self::Age => "a century older",
            Self::Condition => "one step of condition better",
            Self::Signed => "signed",
            Self::Papers => "with appraisal papers",
            Self::Date => "a year later",
        }
    }

    /// How many of its units that step is.
    pub(crate) fn units_of_step(self) -> f64 {
        if self == Self::Length {
            std::f64::consts::LN_2
        } else {
            1.0
        }
    }
}

/// Length at which the feature `length` is zero, mm.
const MIDDLE_LENGTH: f64 = 600.0;

/// The number of a length in mm.
pub(crate) fn of_length(length: Estimate) -> Estimate {
    Estimate::new(libm::log(length.value / MIDDLE_LENGTH), length.relative())
}

/// The number of a year of making.
pub(crate) fn of_year(year: Estimate) -> Estimate {
    Estimate::new(
        (2000.0 - year.value) / 100.0,
        year.standard_uncertainty / 100.0,
    )
}

/// The number of a condition: 0 for the worst, 4 for the best.
pub(crate) fn of_condition(grade: SurfaceGrade) -> f64 {
    let place = SurfaceGrade::ALL
        .iter()
        .position(|one| *one == grade)
        .unwrap_or(0);
    (SurfaceGrade::ALL.len() - 1 - place) as f64
}

/// The number of a yes or no.
pub(crate) fn of_truth(truth: bool) -> f64 {
    f64::from(u8::from(truth))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_of_features() {
        assert!((of_condition(SurfaceGrade::FullPolish) - 4.0).abs() < 1e-12);
        assert!(of_condition(SurfaceGrade::DeeplyRusted).abs() < 1e-12);
        let length = of_length(Estimate::new(1200.0, 12.0));
        assert!((length.value - 2.0_f64.ln()).abs() < 1e-12);
        assert!((length.standard_uncertainty - 0.01).abs() < 1e-12);
        assert!((of_year(Estimate::new(1700.0, 20.0)).value - 3.0).abs() < 1e-12);
    }
}
