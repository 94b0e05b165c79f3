//! The units that a reading may be written in, and the words for them.

use num_rational::BigRational;

use super::{Dimension, ratio::ratio};

/// Which units belong together. Only some systems write one value in several units.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum System {
    Metric,
    /// Foot and inch.
    Foot,
    /// Pound and ounce (avoirdupois).
    Pound,
    /// Shaku, sun, bu, rin.
    Shaku,
    Momme,
    /// Hour, minute, second.
    Clock,
}

impl System {
    /// Tells whether one value may be written in several units, as in `1 ft 3 in`.
    pub(super) const fn compounds(self) -> bool {
        matches!(self, Self::Foot | Self::Pound | Self::Shaku | Self::Clock)
    }

    pub(super) const fn is_metric(self) -> bool {
        matches!(self, Self::Metric | Self::Clock)
    }
}

/// A unit as people write it.
#[derive(Debug)]
pub(super) struct WrittenUnit {
    /// UCUM code where there is one, else the unit's own name.
    pub(super) code: &'static str,
    /// Lower-case words for it; the first is shown in error texts.
    pub(super) words: &'static [&'static str],
    pub(super) dimension: Dimension,
    pub(super) system: System,
    /// Value in the canonical unit of the dimension, as numerator and denominator.
    factor: (u64, u64),
}

impl WrittenUnit {
    pub(super) fn factor(&self) -> BigRational {
        ratio(self.factor.0, self.factor.1)
    }
}

const fn unit(
    code: &'static str,
    words: &'static [&'static str],
    dimension: Dimension,
    system: System,
    factor: (u64, u64),
) -> WrittenUnit {
    WrittenUnit {
        code,
        words,
        dimension,
        system,
        factor,
    }
}

/// Every unit a reading may have.
///
/// Sources, all from memory: the inch of 25.4 mm and the pound of 453.59237 g (international yard
/// and pound, 1959; so an ounce is 28.349523125 g); the shaku of 10/33 m and the momme of 3.75 g
/// (Japan's weights and measures law of 1891); UCUM for the codes.
pub(super) static UNITS: &[WrittenUnit] = {
    use Dimension::{Angle, Area, Density, Duration, Fraction, Length, Mass, Temperature, Volume};
    use System::{Clock, Foot, Metric, Momme, Pound, Shaku};
    &[
        unit(
            "mm",
            &[
                "mm",
                "millimetre",
                "millimetres",
                "millimeter",
                "millimeters",
            ],
            Length,
            Metric,
            (1, 1),
        ),
        unit(
            "cm",
            &[
                "cm",
                "centimetre",
                "centimetres",
                "centimeter",
                "centimeters",
            ],
            Length,
            Metric,
            (10, 1),
        ),
        unit(
            "m",
            &["m", "metre", "metres", "meter", "meters"],
            Length,
            Metric,
            (1000, 1),
        ),
        unit(
            "um",
            &[
                "um",
                "micrometre",
                "micrometres",
                "micrometer",
                "micrometers",
            ],
            Length,
            Metric,
            (1, 1000),
        ),
        unit(
            "[in_i]",
            &["in", "inch", "inches", "\""],
            Length,
            Foot,
            (254, 10),
        ),
        unit(
            "[ft_i]",
            &["ft", "foot", "feet", "'"],
            Length,
            Foot,
            (3048, 10),
        ),
        unit("shaku", &["shaku", "尺"], Length, Shaku, (10_000, 33)),
        unit("sun", &["sun", "寸"], Length, Shaku, (1000, 33)),
        unit("bu", &["bu", "分"], Length, Shaku, (100, 33)),
        unit("rin", &["rin", "厘"], Length, Shaku, (10, 33)),
        unit(
            "g",
            &["g", "gram", "grams", "gramme", "grammes"],
            Mass,
            Metric,
            (1, 1),
        ),
        unit(
            "kg",
            &["kg", "kilogram", "kilograms"],
            Mass,
            Metric,
            (1000, 1),
        ),
        unit(
            "[oz_av]",
            &["oz", "ounce", "ounces"],
            Mass,
            Pound,
            (28_349_523_125, 1_000_000_000),
        ),
        unit(
            "[lb_av]",
            &["lb", "lbs", "pound", "pounds"],
            Mass,
            Pound,
            (45_359_237, 100_000),
        ),
        unit("momme", &["momme", "monme", "匁"], Mass, Momme, (375, 100)),
        unit(
            "deg",
            &["deg", "degree", "degrees", "°", "度"],
            Angle,
            Metric,
            (1, 1),
        ),
        unit(
            "h",
            &["h", "hr", "hrs", "hour", "hours"],
            Duration,
            Clock,
            (60, 1),
        ),
        unit(
            "min",
            &["min", "mins", "minute", "minutes"],
            Duration,
            Clock,
            (1, 1),
        ),
        unit(
            "s",
            &["s", "sec", "second", "seconds"],
            Duration,
            Clock,
            (1, 60),
        ),
        unit("mm2", &["mm2"], Area, Metric, (1, 1)),
        unit("cm2", &["cm2"], Area, Metric, (100, 1)),
        unit("mm3", &["mm3"], Volume, Metric, (1, 1)),
        unit("cm3", &["cm3", "ml"], Volume, Metric, (1000, 1)),
        unit("Cel", &["°c", "cel", "c"], Temperature, Metric, (1, 1)),
        unit("%", &["%", "percent"], Fraction, Metric, (1, 1)),
        unit("g/cm3", &["g/cm3"], Density, Metric, (1, 1)),
        unit("kg/m3", &["kg/m3"], Density, Metric, (1, 1000)),
    ]
};

/// Finds the unit of a lower-case word; no word stands for two units.
pub(super) fn find(word: &str) -> Option<&'static WrittenUnit> {
    UNITS.iter().find(|unit| unit.words.contains(&word))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use std::{collections::BTreeSet, fmt::Write as _};

    use super::*;

    /// The table of record-format.md: a reader of records knows these words and no others.
    #[test]
    fn the_page_lists_every_word() {
        let page = include_str!("../../../../schemas/record-format.md");
        let part = page
            .split_once("<!-- words: made from the types -->\n")
            .and_then(|(_, rest)| rest.split_once("<!-- words: end -->"))
            .map(|(table, _)| table)
            .unwrap_or_default();
        let mut table =
            String::from("\n| `as_read.unit` | is | words and signs |\n|---|---|---|\n");
        let in_records = |unit: &&WrittenUnit| {
            let mut kinds = crate::record::QUANTITY_DEFINITIONS.iter();
            kinds.any(|(_, dimension)| *dimension == unit.dimension)
        };
        for unit in UNITS.iter().filter(in_records) {
            let words: Vec<String> = unit.words.iter().map(|word| format!("`{word}`")).collect();
            let (code, words) = (unit.code, words.join(", "));
            let (is, of) = (exactly(unit), unit.dimension.canonical_unit());
            writeln!(table, "| `{code}` | {is} {of} | {words} |").unwrap();
        }
        table.push('\n');
        assert!(
            part == table,
            "schemas/record-format.md: between the marks for words must stand\n{table}"
        );
    }

    /// The factor as a decimal, or as a fraction where it is none.
    fn exactly(unit: &WrittenUnit) -> String {
        let factor = unit.factor();
        let decimal = (0..=9).find_map(|digits| {
            let decimal = crate::units::Decimal::from_ratio_half_even(&factor, digits).ok()?;
            (decimal.to_ratio() == factor).then(|| decimal.to_string())
        });
        decimal.unwrap_or_else(|| factor.to_string())
    }

    #[test]
    fn no_word_stands_for_two_units() {
        let words: Vec<_> = UNITS.iter().flat_map(|unit| unit.words).collect();
        assert_eq!(words.iter().collect::<BTreeSet<_>>().len(), words.len());
        assert!(words.iter().all(|word| word.to_lowercase() == ***word));
    }
}
