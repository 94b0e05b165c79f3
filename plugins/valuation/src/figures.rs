//! Amounts and numbers, as people and findings have them.

use tangmark_core::units::Unit;
use tangmark_measure::print;
use tangmark_plugin::NumberDraft;

/// Writes an amount to three digits: `2310`.
pub(crate) fn amount(value: f64) -> String {
    print::fixed(three_digits(value), 2).map_or_else(
        |_| "a sum that cannot be written".to_owned(),
        |decimal| {
            let text = decimal.to_string();
            text.strip_suffix(".00").map_or(text.clone(), str::to_owned)
        },
    )
}

/// Makes a number of a finding that has no uncertainty; `None` for what cannot be written.
pub(crate) fn fixed(name: &str, value: f64, digits: usize, unit: Unit) -> Option<NumberDraft> {
    Some(NumberDraft {
        name: name.to_owned(),
        value: print::fixed(value, digits).ok()?.to_string(),
        unit: unit.code().to_owned(),
        standard_uncertainty: None,
    })
}

/// Makes the number of a count.
pub(crate) fn count(name: &str, found: usize) -> Option<NumberDraft> {
    fixed(name, found as f64, 0, Unit::One)
}

/// Makes the number of an amount, to three digits; `None` for what cannot be written.
pub(crate) fn money(name: &str, value: f64) -> Option<NumberDraft> {
    let mut number = fixed(name, three_digits(value), 2, Unit::One)?;
    number.value = amount(value);
    Some(number)
}

/// Collects the numbers that could be written.
pub(crate) fn written<const N: usize>(all: [Option<NumberDraft>; N]) -> Vec<NumberDraft> {
    all.into_iter().flatten().collect()
}

/// Rounds to three digits, and to the hundredth.
pub(crate) fn three_digits(value: f64) -> f64 {
    if value == 0.0 || !value.is_finite() {
        return value;
    }
    let short = format!("{value:.2e}").parse().unwrap_or(value);
    (100.0 * short).round() / 100.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn amounts_have_three_digits() {
        for (value, text) in [
            (2314.7, "2310"),
            (98_765.0, "98800"),
            (1.2345, "1.23"),
            (999.6, "1000"),
            (-215.4, "-215"),
            (0.0, "0"),
            (12.34, "12.30"),
        ] {
            assert_eq!(amount(value), text);
        }
        assert_eq!(amount(f64::NAN), "a sum that cannot be written");
        assert_eq!(amount(1e15), "a sum that cannot be written");
        assert!(money("dear", 1e15).is_none() && money("none", f64::INFINITY).is_none());
        assert!(money("fair", 1234.5).is_some_and(|one| one.value == "1230"));
    }
}
