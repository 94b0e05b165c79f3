#![allow(clippy::unwrap_used)]
use num_bigint::BigInt;
use proptest::prelude::*;

use super::{super::ratio::ratio, *};

#[track_caller]
fn check(
    text: &str,
    dimension: Dimension,
    exact: (u64, u64),
    resolution: (u64, u64),
    rounded: &str,
    unit: &str,
) {
    let reading = read(text, dimension).unwrap_or_else(|error| panic!("{text}: {error}"));
    assert_eq!(reading.exact, ratio(exact.0, exact.1), "{text}");
    assert_eq!(
        reading.resolution,
        ratio(resolution.0, resolution.1),
        "{text}"
    );
    assert_eq!(reading.rounded().to_string(), rounded, "{text}");
    assert_eq!(reading.unit_written, unit, "{text}");
    assert_eq!(reading.text, text.trim(), "{text}");
    assert_eq!(
        read(&reading.text, dimension).as_ref(),
        Ok(&reading),
        "a reading is read again from its own text"
    );
}

#[track_caller]
fn refuse(text: &str, dimension: Dimension, error: &str, hint: &str) {
    let found = read(text, dimension)
        .map(|reading| reading.exact.to_string())
        .unwrap_err();
    assert_eq!(found.to_string(), error);
    assert_eq!(found.hint(), hint);
}

#[test]
fn metric_lengths() {
    use Dimension::Length;
    check("681 mm", Length, (681, 1), (1, 1), "681.0", "mm");
    check("68.1 cm", Length, (681, 1), (1, 1), "681.0", "cm");
    check("68.10cm", Length, (681, 1), (1, 10), "681.00", "cm");
    check("0.681 m", Length, (681, 1), (1, 1), "681.0", "m");
    check("3.4 um", Length, (34, 10_000), (1, 10_000), "0.00340", "um");
    check("3.4 µm", Length, (34, 10_000), (1, 10_000), "0.00340", "um");
    check("3.4 μm", Length, (34, 10_000), (1, 10_000), "0.00340", "um");
    check(
        "71.70 centimetres",
        Length,
        (717, 1),
        (1, 10),
        "717.00",
        "cm",
    );
    check("６８．１ ｃｍ", Length, (681, 1), (1, 1), "681.0", "cm");
    check("68.1\u{3000}㎝", Length, (681, 1), (1, 1), "681.0", "cm");
    check("681㎜", Length, (681, 1), (1, 1), "681.0", "mm");
    check("  1 M ", Length, (1000, 1), (1000, 1), "1000", "m");
}

#[test]
fn inches_and_feet() {
    use Dimension::Length;
    // 26 7/8 in = 682.625 mm.
    for text in [
        "26 7/8 in.",
        "26 7/8 in",
        "26-7/8\"",
        "26-7/8 inches",
        "26⅞ in",
        "26 ⅞″",
        "26 7⁄8 IN.",
        "26 7/8''",
        "２６ ７／８ in",
    ] {
        check(
            text,
            Length,
            (682_625, 1000),
            (3175, 1000),
            "682.6",
            "[in_i]",
        );
    }
    check(
        "5/8 in",
        Length,
        (15_875, 1000),
        (3175, 1000),
        "15.9",
        "[in_i]",
    );
    check(
        "⅝\"",
        Length,
        (15_875, 1000),
        (3175, 1000),
        "15.9",
        "[in_i]",
    );
    check(
        "3/32 in.",
        Length,
        (238_125, 100_000),
        (79_375, 100_000),
        "2.38",
        "[in_i]",
    );
    check(
        "26.875 in",
        Length,
        (682_625, 1000),
        (254, 10_000),
        "682.625",
        "[in_i]",
    );
    check("28 in.", Length, (7112, 10), (254, 10), "711", "[in_i]");
    for text in [
        "1 ft 3 in",
        "1' 3\"",
        "1′3″",
        "1 ft. 3 in.",
        "1 foot, 3 inches",
    ] {
        check(text, Length, (381, 1), (254, 10), "381", "[in_i]");
    }
    check("2 ft", Length, (6096, 10), (3048, 10), "610", "[ft_i]");
    // A most likely misprint is still read as it stands; the denominator is there to be judged.
    let reading = read("35 1/6 in", Length).unwrap();
    assert_eq!(
        (reading.exact, reading.fraction),
        (ratio(26_797, 30), Some(6))
    );
}

#[test]
fn shaku_sun_bu_rin() {
    use Dimension::Length;
    // 1 shaku = 10/33 m = 303.0303… mm (Japan's legal definition of 1891, from memory).
    check(
        "1 shaku",
        Length,
        (10_000, 33),
        (10_000, 33),
        "303",
        "shaku",
    );
    check("1 sun", Length, (1000, 33), (1000, 33), "30", "sun");
    check("1 bu", Length, (100, 33), (100, 33), "3.0", "bu");
    check("1 rin", Length, (10, 33), (10, 33), "0.30", "rin");
    // 2.35 shaku, the standard length of a katana, is 712.1212… mm; published as 71.21 cm.
    check(
        "2.35 shaku",
        Length,
        (23_500, 33),
        (100, 33),
        "712.1",
        "shaku",
    );
    for text in [
        "2 shaku 3 sun 5 bu",
        "2 Shaku, 3 Sun, 5 Bu",
        "二尺三寸五分",
        "2尺3寸5分",
        "２尺３寸５分",
        "2 尺 3 寸 5 分",
    ] {
        check(text, Length, (23_500, 33), (100, 33), "712.1", "bu");
    }
    check(
        "二尺三寸五分五厘",
        Length,
        (23_550, 33),
        (10, 33),
        "713.64",
        "rin",
    );
    check(
        "2 shaku 5 bu",
        Length,
        (20_500, 33),
        (100, 33),
        "621.2",
        "bu",
    );
    check("8 sun 5.5 bu", Length, (8550, 33), (10, 33), "259.09", "bu");
    check("一尺", Length, (10_000, 33), (10_000, 33), "303", "shaku");
    check("十五 cm", Length, (150, 1), (10, 1), "150", "cm");
    check("二十三 cm", Length, (230, 1), (10, 1), "230", "cm");
}

#[test]
fn masses() {
    use Dimension::Mass;
    check("724.5 g", Mass, (7245, 10), (1, 10), "724.50", "g");
    check("0.7245 kg", Mass, (7245, 10), (1, 10), "724.50", "kg");
    // The published 14.5 oz of the head of a cross-shaped spear is 411.1 g (The Met Open Access, CC0,
    // metmuseum.org/en/art/collection/search/27609).
    check(
        "14.5 oz.",
        Mass,
        (4_110_680_853_125, 10_000_000_000),
        (28_349_523_125, 10_000_000_000),
        "411.1",
        "[oz_av]",
    );
    check(
        "1 lb, 12 oz",
        Mass,
        (28 * 28_349_523_125, 1_000_000_000),
        (28_349_523_125, 1_000_000_000),
        "794",
        "[oz_av]",
    );
    check(
        "2 lb. 2.7 oz.",
        Mass,
        (347 * 28_349_523_125, 10_000_000_000),
        (28_349_523_125, 10_000_000_000),
        "983.7",
        "[oz_av]",
    );
    check(
        "1 lb",
        Mass,
        (45_359_237, 100_000),
        (45_359_237, 100_000),
        "454",
        "[lb_av]",
    );
    check("190 momme", Mass, (7125, 10), (375, 100), "712.5", "momme");
    check("190匁", Mass, (7125, 10), (375, 100), "712.5", "momme");
    check("百九十匁", Mass, (7125, 10), (375, 100), "712.5", "momme");
}

#[test]
fn everything_else() {
    check(
        "12.5 deg",
        Dimension::Angle,
        (125, 10),
        (1, 10),
        "12.50",
        "deg",
    );
    check(
        "12.5°",
        Dimension::Angle,
        (125, 10),
        (1, 10),
        "12.50",
        "deg",
    );
    check(
        "45 min",
        Dimension::Duration,
        (45, 1),
        (1, 1),
        "45.0",
        "min",
    );
    check("1.5 h", Dimension::Duration, (90, 1), (6, 1), "90.0", "h");
    check(
        "1 h 30 min",
        Dimension::Duration,
        (90, 1),
        (1, 1),
        "90.0",
        "min",
    );
    check("90 s", Dimension::Duration, (3, 2), (1, 60), "1.500", "s");
    check(
        "21 °C",
        Dimension::Temperature,
        (21, 1),
        (1, 1),
        "21.0",
        "Cel",
    );
    check(
        "21.5℃",
        Dimension::Temperature,
        (215, 10),
        (1, 10),
        "21.50",
        "Cel",
    );
    check(
        "21 ° c",
        Dimension::Temperature,
        (21, 1),
        (1, 1),
        "21.0",
        "Cel",
    );
    check("3 %", Dimension::Fraction, (3, 1), (1, 1), "3.0", "%");
    check("3.5％", Dimension::Fraction, (35, 10), (1, 10), "3.50", "%");
    check("2", Dimension::Count, (2, 1), (1, 1), "2", "1");
    check("二", Dimension::Count, (2, 1), (1, 1), "2", "1");
    check("〇", Dimension::Count, (0, 1), (1, 1), "0", "1");
    check(
        "137.5 mm2",
        Dimension::Area,
        (1375, 10),
        (1, 10),
        "137.50",
        "mm2",
    );
    check(
        "1.375 cm²",
        Dimension::Area,
        (1375, 10),
        (1, 10),
        "137.50",
        "cm2",
    );
    check(
        "92.3 cm^3",
        Dimension::Volume,
        (92_300, 1),
        (100, 1),
        "92300",
        "cm3",
    );
    check(
        "66272 mm³",
        Dimension::Volume,
        (66_272, 1),
        (1, 1),
        "66272.0",
        "mm3",
    );
    check(
        "92 ml",
        Dimension::Volume,
        (92_000, 1),
        (1000, 1),
        "92000",
        "cm3",
    );
    check(
        "7.82 g/cm3",
        Dimension::Density,
        (782, 100),
        (1, 100),
        "7.820",
        "g/cm3",
    );
    check(
        "7.82 g/cm³",
        Dimension::Density,
        (782, 100),
        (1, 100),
        "7.820",
        "g/cm3",
    );
    check(
        "7820 kg/m3",
        Dimension::Density,
        (782, 100),
        (1, 1000),
        "7.8200",
        "kg/m3",
    );
}

#[test]
fn below_zero_only_where_asked() {
    let reading = read_signed("-2.5 mm", Dimension::Length).unwrap();
    assert_eq!(
        (reading.exact, reading.rounded.to_string()),
        (-ratio(5, 2), "-2.50".into())
    );
    assert_eq!(
        read_signed("−5 °C", Dimension::Temperature)
            .unwrap()
            .rounded()
            .to_string(),
        "-5.0"
    );
    assert_eq!(
        read_signed("-0 mm", Dimension::Length)
            .unwrap()
            .rounded()
            .to_string(),
        "0.0"
    );
    assert_eq!(
        read_signed("5 mm", Dimension::Length),
        read("5 mm", Dimension::Length)
    );
    refuse(
        "-2.5 mm",
        Dimension::Length,
        "`-2.5 mm` is below zero: a length of zero or more is allowed",
        "leave out the minus sign, or check the reading",
    );
}

#[test]
fn texts_are_composed() {
    let reading = read("21 \u{c5}", Dimension::Length).unwrap_err();
    assert_eq!(
        reading,
        read("21 A\u{30a}", Dimension::Length).unwrap_err(),
        "both spellings give one text"
    );
}

#[test]
fn missing_and_wrong_units() {
    let lengths = "mm, cm, m, um, in, ft, shaku, sun, bu, rin";
    refuse(
        "68.1",
        Dimension::Length,
        &format!("`68.1` has no unit: a length is allowed in {lengths}"),
        "write the unit that was read off: `68.1 mm`, if that is the one",
    );
    refuse(
        "21",
        Dimension::Temperature,
        "`21` has no unit: a temperature is allowed in °C",
        "write the unit that was read off: `21 °C`, if that is the one",
    );
    refuse(
        "",
        Dimension::Length,
        &format!("nothing is written: a length is allowed in {lengths}"),
        "write the value with its unit, such as `681 mm`",
    );
    refuse(
        "12 parsec",
        Dimension::Length,
        &format!("`parsec` in `12 parsec` is not a known unit: a length is allowed in {lengths}"),
        "write it with one of these units, such as `681 mm`",
    );
    refuse(
        "70 °F",
        Dimension::Temperature,
        "`°F` in `70 °F` is not a known unit: a temperature is allowed in °C",
        "write it with one of these units, such as `21 °C`",
    );
    refuse(
        "724 g",
        Dimension::Length,
        &format!("`g` in `724 g` is a unit of mass: a length is allowed in {lengths}"),
        "check that the value stands in the right field, or write it like `681 mm`",
    );
    refuse(
        "12 mm",
        Dimension::Angle,
        "`mm` in `12 mm` is a unit of length: an angle is allowed in deg",
        "check that the value stands in the right field, or write it like `12.5 deg`",
    );
    refuse(
        "mm 681",
        Dimension::Length,
        &format!(
            "`mm` in `mm 681` is not understood: a number with a unit is allowed, a length in {lengths}"
        ),
        "write the value with its unit, such as `681 mm`",
    );
    refuse(
        "68.1 cm long",
        Dimension::Length,
        &format!(
            "`long` in `68.1 cm long` is not understood: a number with a unit is allowed, a length in {lengths}"
        ),
        "write the value with its unit, such as `681 mm`",
    );
    refuse(
        "681 mm!",
        Dimension::Length,
        &format!(
            "`!` in `681 mm!` is not understood: a number with a unit is allowed, a length in {lengths}"
        ),
        "write the value with its unit, such as `681 mm`",
    );
    refuse(
        "3 mm",
        Dimension::Count,
        "`3 mm` is not a count: a whole number without a unit is allowed",
        "write a whole number, such as `2`",
    );
    refuse(
        "2.0",
        Dimension::Count,
        "`2.0` is not a count: a whole number without a unit is allowed",
        "write a whole number, such as `2`",
    );
    for text in [
        "５²mm",
        "5² mm",
        "c. 68 cm",
        "+68 cm",
        "2-shaku",
        "68 cm,",
        "68 cm.5",
        "$5",
        "尺",
        "二尺三寸五分強",
        "68.1 cm²",
    ] {
        assert!(read(text, Dimension::Length).is_err(), "{text}");
    }
}

#[test]
fn ambiguous_numbers() {
    let comma = |text: &str| {
        format!(
            "`{text}` has a comma between digits, which may mean decimals or thousands: a full stop is allowed for decimals, nothing for thousands"
        )
    };
    refuse(
        "68,1 cm",
        Dimension::Length,
        &comma("68,1 cm"),
        "write `68.1 cm` if the comma divides off decimals, `681 cm` if it groups thousands",
    );
    refuse(
        "1,234.5 mm",
        Dimension::Length,
        &comma("1,234.5 mm"),
        "write `1234.5 mm` if the comma groups thousands",
    );
    refuse(
        "６８，１ cm",
        Dimension::Length,
        &comma("６８，１ cm"),
        "write `６８.１ cm` if the comma divides off decimals, `６８１ cm` if it groups thousands",
    );
    let digits = "write the digits like `68.1` or `26 7/8`";
    refuse(
        "1.2.3 mm",
        Dimension::Length,
        "`1.2.3` in `1.2.3 mm` is not a number: a full stop stands where no digit precedes it, or stands twice",
        digits,
    );
    refuse(
        ".5 in",
        Dimension::Length,
        "`.5` in `.5 in` is not a number: a full stop stands where no digit precedes it, or stands twice",
        digits,
    );
    let fraction = "a fraction has a numerator from 1, smaller than its denominator of up to 1024";
    for number in ["8/7", "1/0", "0/8", "1/2048", "1/2/3"] {
        refuse(
            &format!("{number} in"),
            Dimension::Length,
            &format!("`{number}` in `{number} in` is not a number: {fraction}"),
            digits,
        );
    }
    refuse(
        "1234567890123 mm",
        Dimension::Length,
        "`1234567890123` in `1234567890123 mm` is not a number: up to 12 digits and up to 9 more after a full stop are allowed",
        digits,
    );
    refuse(
        "二三 mm",
        Dimension::Length,
        "`二三` in `二三 mm` is not a number: kanji numerals need their places, as in 二十三",
        digits,
    );
    assert!(
        read("〇五 mm", Dimension::Length).is_err()
            && read("十二十 mm", Dimension::Length).is_err()
    );
    refuse(
        "1.123456789 um",
        Dimension::Length,
        "`1.123456789 um` does not fit the record's decimals: 13 digits after the full stop are asked for: up to 9 are allowed",
        "check the unit: a blade record holds mm, g, deg and min",
    );
    assert!(matches!(
        read("999999999999 m", Dimension::Length),
        Err(ReadingError::OutOfRange { .. })
    ));
    let long = "9".repeat(300);
    let error = read(&long, Dimension::Length).unwrap_err();
    assert_eq!(
        error.to_string(),
        format!(
            "`{}…` is too long for one value: up to 200 characters are allowed",
            "9".repeat(80)
        )
    );
    assert_eq!(
        error.hint(),
        "write one value; put anything else into a remark"
    );
}

#[test]
fn several_values_are_refused() {
    let hint = "write one value in each field; an uncertainty, a second reading or another unit has its own";
    for text in [
        "68.1 cm 26 7/8 in",
        "26 7/8 in. (68.1 cm)",
        "68.1 / 70 cm",
        "68-70 cm",
        "68–70 cm",
        "68.1 cm, 70 cm",
        "107 x 8.5 cm",
        "107 × 8.5 cm",
        "68.1 ± 0.1 cm",
        "68 cm 1 mm",
        "5 bu 2 shaku",
        "1 ft 3 shaku",
        "68 70 cm",
        "68 cm 70",
        "1 in 2 in",
        "68; 70 cm",
        "1 ft 3",
    ] {
        refuse(
            text,
            Dimension::Length,
            &format!("`{text}` holds more than one value: one value with its unit is allowed"),
            hint,
        );
    }
}

#[test]
fn parts_of_one_value_must_fit() {
    let whole = "write whole numbers up to the last unit, such as `2 shaku 3 sun 5.5 bu`";
    refuse(
        "2.5 shaku 3 sun",
        Dimension::Length,
        "`2.5 shaku` in `2.5 shaku 3 sun` is followed by a smaller unit: a whole number is allowed there",
        whole,
    );
    refuse(
        "1 1/2 ft 3 in",
        Dimension::Length,
        "`1 1/2 ft` in `1 1/2 ft 3 in` is followed by a smaller unit: a whole number is allowed there",
        whole,
    );
    let carry = "carry it over into the larger unit, or check the digits";
    refuse(
        "2 shaku 13 sun",
        Dimension::Length,
        "`13 sun` in `2 shaku 13 sun` is one shaku or more: less than one shaku is allowed there",
        carry,
    );
    refuse(
        "1 ft 12 in",
        Dimension::Length,
        "`12 in` in `1 ft 12 in` is one ft or more: less than one ft is allowed there",
        carry,
    );
}

#[test]
fn the_cloth_measure_is_refused_by_name() {
    for text in [
        "2 kujira-shaku",
        "2 kujira shaku 3 sun",
        "鯨尺二尺",
        "2 Kujirajaku",
    ] {
        refuse(
            text,
            Dimension::Length,
            &format!(
                "`{text}` is in kujira-shaku, a cloth measure a quarter longer than the shaku of blades: shaku, sun, bu, rin are allowed"
            ),
            "measure the blade again with a rule in mm, or find out which shaku was used",
        );
    }
}

proptest! {
    #[test]
    fn every_unit_round_trips(index in 0..words::UNITS.len(), word in any::<prop::sample::Index>(), whole in 0_u32..100_000, digits in prop::option::of("[0-9]{1,4}")) {
        let unit = &words::UNITS[index];
        let word = unit.words[word.index(unit.words.len())];
        let number = digits.map_or(whole.to_string(), |digits| format!("{whole}.{digits}"));
        let reading = read(&format!("{number} {word}"), unit.dimension).unwrap();
        let decimal: Decimal = number.parse().unwrap();
        prop_assert_eq!(&reading.exact, &(decimal.to_ratio() * unit.factor()));
        prop_assert_eq!(&reading.resolution / unit.factor(), super::super::ratio::power_of_ten(-i64::from(decimal.digits())));
        prop_assert_eq!(reading.unit_written.as_str(), unit.code);
        // One digit finer than the resolution: rounding errs by a twentieth of it at most, or by half a unit.
        let error = num_traits::Signed::abs(&(reading.rounded().to_ratio() - &reading.exact));
        let last_place = super::super::ratio::power_of_ten(-i64::from(reading.rounded().digits()));
        prop_assert!(&error * BigInt::from(2) <= last_place);
        prop_assert!(reading.rounded().digits() == 0 || last_place * BigInt::from(10) <= reading.resolution);
    }

    #[test]
    fn mixed_inches_are_exact(whole in 0_u64..100, power in 1_u32..=6, numerator in 1_u64..64, form in 0..3) {
        let denominator = 2_u64.pow(power);
        let numerator = numerator % (denominator - 1) + 1;
        prop_assume!(numerator < denominator);
        let text = match form {
            0 => format!("{whole} {numerator}/{denominator} in."),
            1 => format!("{whole}-{numerator}/{denominator}\""),
            _ => format!("{} ft {} {numerator}/{denominator} in", whole / 12, whole % 12),
        };
        let reading = read(&text, Dimension::Length).unwrap();
        prop_assert_eq!(reading.exact, (ratio(whole, 1) + ratio(numerator, denominator)) * ratio(254, 10));
        prop_assert_eq!(reading.resolution, ratio(254, 10 * denominator));
    }

    #[test]
    fn kanji_and_romaji_agree(shaku in 1_u32..10, sun in 1_u32..10, bu in 1_u32..10) {
        let kanji = |n: u32| "一二三四五六七八九".chars().nth(n as usize - 1).unwrap();
        let a = read(&format!("{}尺{}寸{}分", kanji(shaku), kanji(sun), kanji(bu)), Dimension::Length).unwrap();
        let b = read(&format!("{shaku} shaku {sun} sun {bu} bu"), Dimension::Length).unwrap();
        prop_assert_eq!(&a.exact, &b.exact);
        prop_assert_eq!(a.exact, ratio(u64::from(100 * shaku + 10 * sun + bu) * 100, 33));
    }

    #[test]
    fn nothing_panics(text in "[0-9０-９ .,/'\"a-z°二十〇尺寸分⅞²()–×;-]{0,24}|\\PC{0,40}") {
        for dimension in Dimension::ALL {
            match read_signed(&text, dimension) {
                Ok(reading) => prop_assert_eq!(read_signed(&reading.text, dimension), Ok(reading)),
                Err(error) => prop_assert!(!error.to_string().is_empty() && !error.hint().is_empty()),
            }
        }
    }
}
