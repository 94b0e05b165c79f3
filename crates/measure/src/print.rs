//! Estimates as the decimals of a record.

use tangmark_core::units::{Decimal, DecimalError};

use crate::Estimate;

/// Most digits after the full stop that a record holds.
const FINEST: usize = 9;

/// An estimate as decimals that fit together.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Printed {
    /// Value, with as many digits after the full stop as the uncertainty.
    pub value: Decimal,
    /// Standard uncertainty to two significant digits; `None` where there is none.
    pub standard_uncertainty: Option<Decimal>,
}

/// Prints a value with its standard uncertainty: two significant digits of the uncertainty, the value to the same
/// place. Without uncertainty the value gets `digits` after the full stop.
///
/// Source: JCGM 100:2008, 7.2.6 (at most two digits of an uncertainty), from memory.
///
/// # Errors
/// [`DecimalError`] for what is not finite or too large for a record.
pub fn printed(estimate: Estimate, digits: usize) -> Result<Printed, DecimalError> {
    if estimate.standard_uncertainty < 1e-9 {
        return Ok(Printed {
            value: fixed(estimate.value, digits)?,
            standard_uncertainty: None,
        });
    }
    let uncertainty = Decimal::from_f64_significant(estimate.standard_uncertainty, 2)?;
    let value = fixed(estimate.value, uncertainty.digits().into())?;
    Ok(Printed {
        value,
        standard_uncertainty: Some(uncertainty),
    })
}

/// Prints a binary number with `digits` after the full stop (at most 9), a tie of its exact value to the even digit.
///
/// # Errors
/// [`DecimalError`] for what is not finite or too large for a record.
pub fn fixed(value: f64, digits: usize) -> Result<Decimal, DecimalError> {
    if !value.is_finite() {
        return Err(DecimalError::NotFinite {
            found: value.to_string(),
        });
    }
    let text = format!("{value:.digits$}", digits = digits.min(FINEST));
    let is_zero = text.bytes().all(|byte| matches!(byte, b'-' | b'0' | b'.'));
    // A small negative number rounds to minus zero, which a record does not have.
    if is_zero {
        text.trim_start_matches('-')
    } else {
        &text
    }
    .parse()
}

/// Writes an estimate for people: `12.3 ± 0.4 mm`, where ± is the expanded uncertainty (k = 2).
///
/// What cannot be written as a decimal of a record is said to be so.
pub fn with_expanded(estimate: Estimate, unit: &str) -> String {
    let space = if unit.is_empty() { "" } else { " " };
    match printed(Estimate::new(estimate.value, estimate.expanded()), 3) {
        Ok(Printed {
            value,
            standard_uncertainty: Some(expanded),
        }) => format!("{value} ± {expanded}{space}{unit}"),
        Ok(Printed {
            value,
            standard_uncertainty: None,
        }) => format!("{value}{space}{unit}"),
        Err(_) => "a number that cannot be written".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn value_and_uncertainty_end_at_the_same_place() {
        let both = printed(Estimate::new(724.456_789, 4.237), 3).unwrap();
        assert_eq!(
            (
                both.value.to_string(),
                both.standard_uncertainty.unwrap().to_string()
            ),
            ("724.5".into(), "4.2".into())
        );
        let wide = printed(Estimate::new(66_272.79, 1_234.0), 3).unwrap();
        assert_eq!(wide.standard_uncertainty.unwrap().to_string(), "1200");
        assert_eq!(wide.value.to_string(), "66273");
        assert_eq!(
            printed(Estimate::exact(0.5), 3).unwrap().value.to_string(),
            "0.500"
        );
        assert_eq!(
            printed(Estimate::new(-0.001, 0.5), 3)
                .unwrap()
                .value
                .to_string(),
            "0.00"
        );
        assert_eq!(
            with_expanded(Estimate::new(12.34, 0.2), "mm"),
            "12.34 ± 0.40 mm"
        );
    }

    #[test]
    fn what_is_no_number_is_refused() {
        assert_eq!(
            fixed(f64::NAN, 3).unwrap_err().to_string(),
            "NaN is not a finite number: only finite numbers can be decimals"
        );
        assert!(printed(Estimate::new(1.0, f64::INFINITY), 3).is_err());
        assert!(fixed(1e12, 3).is_err());
        assert_eq!(
            with_expanded(Estimate::new(1.0, f64::NAN), "g"),
            "a number that cannot be written"
        );
    }

    proptest! {
        #[test]
        fn printing_moves_a_value_by_less_than_its_uncertainty(value in -1e5..1e5_f64, u in 1e-6..100.0_f64) {
            let both = printed(Estimate::new(value, u), 3).unwrap();
            prop_assert!((both.value.to_f64() - value).abs() <= 0.06 * u + 1e-9);
            let shown = both.standard_uncertainty.unwrap().to_f64();
            prop_assert!((shown - u).abs() <= 0.051 * u + 1e-9);
        }
    }
}
