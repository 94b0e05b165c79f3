#![allow(clippy::unwrap_used)]
use num_traits::Signed;
use proptest::prelude::*;

use super::*;

fn ratio(numerator: i64, denominator: i64) -> BigRational {
    BigRational::new(numerator.into(), denominator.into())
}

fn decimal(text: &str) -> Decimal {
    text.parse().unwrap()
}

#[test]
fn sums_are_exact_and_keep_the_finer_digits() {
    let sum = |a: &str, b: &str| decimal(a).checked_add(decimal(b)).map(|d| d.to_string());
    assert_eq!(sum("0.1", "0.20").as_deref(), Some("0.30"));
    assert_eq!(sum("12", "-12.5").as_deref(), Some("-0.5"));
    assert_eq!(sum("-1.5", "1.5").as_deref(), Some("0.0"));
    assert_eq!(
        sum("999999999999", "0.999999999").as_deref(),
        Some("999999999999.999999999")
    );
    assert_eq!(sum("999999999999", "1"), None);
    let rest = decimal("0").checked_sub(decimal("0.000000001"));
    assert_eq!(rest.map(|d| d.to_string()).as_deref(), Some("-0.000000001"));
}

#[test]
fn digits_stay_as_written_and_comparison_is_by_value() {
    for text in [
        "0",
        "0.00",
        "701.50",
        "-3.25",
        "999999999999.999999999",
        "-999999999999.999999999",
        "0.000000001",
    ] {
        assert_eq!(decimal(text).to_string(), text);
        let json = serde_json::to_string(&decimal(text)).unwrap();
        assert_eq!(json, format!("\"{text}\""));
        assert_eq!(
            serde_json::from_str::<Decimal>(&json).unwrap().to_string(),
            text
        );
    }
    assert_eq!(decimal("701.50"), decimal("701.5"));
    assert!(decimal("-1") < decimal("0.1") && decimal("9.99") < decimal("10"));
    assert_eq!(decimal("701.50").digits(), 2);
    assert_eq!(format!("{:>8}|", decimal("1.5")), "     1.5|");
}

#[test]
fn other_forms_are_refused_and_the_schema_agrees() {
    let schema =
        serde_json::to_value(Decimal::json_schema(&mut SchemaGenerator::default())).unwrap();
    let validator = jsonschema::validator_for(&schema).unwrap();
    let bad = [
        "",
        "-",
        ".",
        "1.",
        ".5",
        "+1",
        "01",
        "-01.5",
        "1e3",
        "1,5",
        " 1",
        "1 ",
        "1.1234567890",
        "1234567890123",
        "NaN",
        "１",
        "1.2.3",
        "--1",
        "1\n",
        "-0",
        "-0.0",
        "-0.000",
    ];
    for text in bad {
        assert!(text.parse::<Decimal>().is_err(), "{text:?}");
        assert!(!validator.is_valid(&text.into()), "{text:?}");
    }
    for text in ["0", "0.0", "-0.1", "701.50", "999999999999.999999999"] {
        assert!(validator.is_valid(&text.into()), "{text:?}");
    }
}

#[test]
fn errors_say_what_is_allowed() {
    let error = "1,5".parse::<Decimal>().unwrap_err();
    assert_eq!(
        error.to_string(),
        "`1,5` is not a decimal: up to 12 digits and up to 9 more after a full stop are allowed"
    );
    assert_eq!(
        error.hint(),
        "write it like \"701.50\": no plus sign, exponent, comma, space or leading zero"
    );
    let error = "-0.0".parse::<Decimal>().unwrap_err();
    assert_eq!(
        error.to_string(),
        "`-0.0` is zero with a minus sign: zero is allowed without one"
    );
    assert_eq!(error.hint(), "leave out the minus sign");
    let error = Decimal::from_ratio_half_even(&ratio(1, 3), 10).unwrap_err();
    assert_eq!(
        error.to_string(),
        "10 digits after the full stop are asked for: up to 9 are allowed"
    );
    // Rounding up must not slip past the limit.
    let error = Decimal::from_ratio_half_even(&ratio(9_999_999_999_999, 10), 0).unwrap_err();
    assert_eq!(
        error.to_string(),
        "9999999999999/10 is too large for a decimal: magnitudes below 1000000000000 are allowed"
    );
}

#[test]
fn numbers_in_json_are_refused() {
    let error = serde_json::from_str::<Decimal>("701.5")
        .unwrap_err()
        .to_string();
    assert!(error.starts_with("invalid type: floating point `701.5`, expected a decimal in a string, such as \"701.50\""), "{error}");
}

#[test]
fn ties_go_to_the_even_neighbour() {
    for (numerator, digits, expected) in [
        (25, 1, "2.5"),
        (25, 0, "2"),
        (35, 0, "4"),
        (-25, 0, "-2"),
        (-35, 0, "-4"),
        (-4, 0, "0"),
        (26, 0, "3"),
        (24, 2, "2.40"),
    ] {
        assert_eq!(
            Decimal::from_ratio_half_even(&ratio(numerator, 10), digits)
                .unwrap()
                .to_string(),
            expected,
            "{numerator}/10"
        );
    }
    // 2.35 shaku = 712.1212… mm: 1 shaku = 10/33 m (Japan's legal definition of 1891, from memory).
    assert_eq!(
        Decimal::from_ratio_half_even(&ratio(23500, 33), 4)
            .unwrap()
            .to_string(),
        "712.1212"
    );
}

#[test]
fn uncertainties_keep_significant_digits() {
    for (value, digits, expected) in [
        (0.0, 2, "0"),
        (0.012_345, 2, "0.012"),
        (0.0996, 2, "0.10"),
        (9.96, 2, "10"),
        (9.94, 2, "9.9"),
        (123_456.0, 2, "120000"),
        (999.6, 3, "1000"),
        (-0.355, 2, "-0.35"), // the binary fraction lies below 0.355
        (0.375, 2, "0.38"),
        (0.125, 2, "0.12"),
        (1.234_567_89e-8, 2, "0.000000012"),
        (1.26e-9, 3, "0.000000001"),
    ] {
        assert_eq!(
            Decimal::from_f64_significant(value, digits)
                .unwrap()
                .to_string(),
            expected,
            "{value} to {digits}"
        );
    }
    let error = Decimal::from_f64_significant(1e-10, 2).unwrap_err();
    assert_eq!(
        error.to_string(),
        "1e-10 is too small for a decimal: it would be written as zero, and magnitudes of at least 0.000000001 are allowed"
    );
    assert_eq!(
        error.hint(),
        "check the unit: a blade record holds mm, g, deg and min"
    );
    assert_eq!(
        Decimal::from_f64_significant(f64::NAN, 2)
            .unwrap_err()
            .to_string(),
        "NaN is not a finite number: only finite numbers can be decimals"
    );
    assert!(Decimal::from_f64_significant(f64::INFINITY, 2).is_err());
    assert!(Decimal::from_f64_significant(1.0, 0).is_err());
    assert!(matches!(
        Decimal::from_f64_significant(1e12, 2),
        Err(DecimalError::TooLarge { .. })
    ));
    assert!(Decimal::from_f64_significant(f64::MIN_POSITIVE, 2).is_err());
}

#[test]
fn the_nearest_binary_fraction_comes_out() {
    assert_eq!(decimal("0.1").to_f64().to_bits(), 0.1_f64.to_bits());
    assert_eq!(
        decimal("999999999999.999999999").to_f64().to_bits(),
        999_999_999_999.999_999_999_f64.to_bits()
    );
}

proptest! {
    #[test]
    fn text_round_trips(text in r"-?(0|[1-9][0-9]{0,11})(\.[0-9]{1,9})?") {
        match text.parse::<Decimal>() {
            Ok(value) => {
                prop_assert_eq!(value.to_string(), text);
                let again = Decimal::from_ratio_half_even(&value.to_ratio(), value.digits());
                prop_assert_eq!(again.map(|d| d.to_string()), Ok(value.to_string()));
            }
            Err(error) => prop_assert!(matches!(error, DecimalError::NegativeZero { .. }), "{}", error),
        }
    }

    #[test]
    fn rounding_errs_by_half_a_unit_in_the_last_place_at_most(numerator in any::<i64>(), denominator in 1_i64..1_000_000, digits in 0_u8..=9) {
        let exact = ratio(numerator % 1_000_000_000_000, denominator);
        let rounded = Decimal::from_ratio_half_even(&exact, digits).unwrap();
        prop_assert!((rounded.to_ratio() - exact).abs() * BigInt::from(2) <= power_of_ten(-i64::from(digits)));
        prop_assert_eq!(rounded.digits(), digits);
    }

    #[test]
    fn significant_digits_err_by_half_a_unit_at_most(value in -1e9_f64..1e9, digits in 1_u8..=4) {
        let Ok(rounded) = Decimal::from_f64_significant(value, digits) else { return Ok(()) };
        let exact = BigRational::from_float(value).unwrap();
        let Some(magnitude) = floor_log10(&exact) else { return Ok(()) };
        let unit = power_of_ten((magnitude - i64::from(digits) + 1).max(-9));
        prop_assert!((rounded.to_ratio() - exact).abs() * BigInt::from(2) <= unit);
    }

    #[test]
    fn order_is_that_of_the_exact_values(a in any::<i32>(), b in any::<i32>(), p in 0_u8..=9, q in 0_u8..=9) {
        let a = Decimal { mantissa: a.into(), scale: p };
        let b = Decimal { mantissa: b.into(), scale: q };
        prop_assert_eq!(a.cmp(&b), a.to_ratio().cmp(&b.to_ratio()));
    }
}
