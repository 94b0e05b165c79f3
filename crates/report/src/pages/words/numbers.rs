//! Numbers with units and uncertainties.

use tangmark_core::{
    record::Quantity,
    units::{Decimal, Unit},
};

/// A unit as people write it, in every language.
pub(crate) fn unit(unit: Unit) -> &'static str {
    match unit {
        Unit::Millimetre => "mm",
        Unit::Micrometre => "µm",
        Unit::SquareMillimetre => "mm²",
        Unit::CubicMillimetre => "mm³",
        Unit::Gram => "g",
        Unit::Degree => "°",
        Unit::Minute => "min",
        Unit::Hour => "h",
        Unit::Celsius => "°C",
        Unit::Percent => "%",
        Unit::One => "",
        Unit::GramPerCubicCentimetre => "g/cm³",
    }
}

/// A number with a true minus sign.
pub(crate) fn number(value: Decimal) -> String {
    value.to_string().replace('-', "−")
}

/// A number with its unit, kept together.
pub(crate) fn with_unit(value: Decimal, of: Unit) -> String {
    join(number(value), of)
}

/// A number that is written already with its unit, kept together.
pub(crate) fn join(number: String, of: Unit) -> String {
    let name = unit(of);
    if name.is_empty() {
        number
    } else {
        format!("{number}\u{a0}{name}")
    }
}

/// A value and its expanded uncertainty for k = 2, both to the same decimal place.
///
/// The place is that of the second significant digit of the uncertainty, or the value's own last digit where that is
/// coarser; but never so coarse that no digit of the uncertainty is left: then the value gets zeros.
///
/// Source: JCGM 100:2008, 6.2 and 7.2.6 (from memory).
pub(crate) fn value_and_uncertainty(value: Decimal, standard: Decimal) -> (String, String) {
    let expanded = 2.0 * standard.to_f64();
    let fine = place_of_second_digit(expanded);
    let place = fine.min(i32::from(value.digits())).max(fine - 1);
    let exact = u8::try_from(place)
        .ok()
        .and_then(|digits| Decimal::from_ratio_half_even(&value.to_ratio(), digits).ok());
    let shown = match exact {
        // Decimals keep the digits they were made with.
        Some(rounded) if i32::from(rounded.digits()) == place => number(rounded),
        _ => to_place(value.to_f64(), place).replace('-', "−"),
    };
    (shown, to_place(expanded, place))
}

/// The number of decimals of the second significant digit after rounding to two; below zero for tens and more.
fn place_of_second_digit(value: f64) -> i32 {
    // One digit before the point and one after: the exponent after rounding.
    let scientific = format!("{value:.1e}");
    let exponent = scientific
        .split_once('e')
        .and_then(|(_, exponent)| exponent.parse::<i32>().ok())
        .unwrap_or(0);
    1 - exponent
}

/// A number rounded to a number of decimals, to tens and more below zero, written without exponent.
fn to_place(value: f64, place: i32) -> String {
    if let Ok(decimals) = usize::try_from(place) {
        return format!("{value:.decimals$}");
    }
    let step = 10_f64.powi(-place);
    format!("{:.0}", (value / step).round() * step)
}

/// A value with unit and expanded uncertainty: `701.5 ± 0.6 mm`.
pub(crate) fn stated(value: Decimal, standard: Decimal, of: Unit) -> String {
    let (value, uncertainty) = value_and_uncertainty(value, standard);
    join(format!("{value}\u{a0}±\u{a0}{uncertainty}"), of)
}

/// A quantity with unit and expanded uncertainty: `701.5 ± 0.6 mm`.
pub(crate) fn quantity(quantity: &Quantity) -> String {
    stated(quantity.value, quantity.standard_uncertainty, quantity.unit)
}

/// A quantity for a column whose heading names the unit: `701.5 ± 0.6`.
pub(crate) fn bare(quantity: &Quantity) -> String {
    stated(quantity.value, quantity.standard_uncertainty, Unit::One)
}

/// The readings as they were written.
pub(crate) fn readings(quantity: &Quantity) -> String {
    quantity
        .as_read
        .iter()
        .map(|reading| reading.text.as_str())
        .collect::<Vec<_>>()
        .join("; ")
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn uncertainty_is_doubled_and_keeps_two_digits() {
        for (standard, shown) in [
            ("0.29", "0.58"),
            ("0.3", "0.60"),
            ("12", "24"),
            ("0.0065", "0.013"),
            ("0.0498", "0.10"),
            ("4.98", "10"),
            ("61", "120"),
            ("4990", "10000"),
        ] {
            let fine = "1.000000000".parse().unwrap();
            assert_eq!(
                value_and_uncertainty(fine, standard.parse().unwrap()).1,
                shown
            );
        }
        assert_eq!(number("-2.50".parse().unwrap()), "−2.50");
    }

    #[test]
    fn value_and_uncertainty_end_at_the_same_place() {
        for (value, standard, shown) in [
            // The second digit of the uncertainty decides: the example of JCGM 100:2008, 7.2.6 with its 27 mΩ as U.
            ("10.05762", "0.0135", ("10.058", "0.027")),
            ("-0.12345", "0.0065", ("−0.123", "0.013")),
            // The value ends earlier.
            ("694.0", "0.31", ("694.0", "0.6")),
            ("703.50", "0.029", ("703.50", "0.06")),
            // No digit of the uncertainty would be left.
            ("120", "0.029", ("120.00", "0.06")),
            ("120.0", "0.0048", ("120.000", "0.010")),
            // Tens.
            ("1234", "61", ("1230", "120")),
            ("12345", "4990", ("12000", "10000")),
            ("0.0", "0.06", ("0.0", "0.1")),
        ] {
            let found = value_and_uncertainty(value.parse().unwrap(), standard.parse().unwrap());
            assert_eq!(
                (found.0.as_str(), found.1.as_str()),
                shown,
                "{value} {standard}"
            );
        }
        assert_eq!(
            stated(
                "694.0".parse().unwrap(),
                "0.31".parse().unwrap(),
                Unit::Millimetre
            ),
            "694.0\u{a0}±\u{a0}0.6\u{a0}mm"
        );
        assert_eq!(
            stated("2".parse().unwrap(), "0.5".parse().unwrap(), Unit::One),
            "2\u{a0}±\u{a0}1"
        );
    }
}
