//! What is doubtful about a published line.

use std::fmt;

use serde::Serialize;

use super::super::{Decimal, Unit};

/// Something doubtful in a published line. Never mended unseen: the text says what was found.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case", tag = "problem")]
#[non_exhaustive]
pub enum Problem {
    /// The two systems differ by more than is allowed.
    Disagreement {
        /// Label as written.
        label: String,
        /// The customary value as written.
        customary: String,
        /// The customary value to two digits, in `unit`.
        customary_value: Decimal,
        /// The metric value as written.
        metric: String,
        /// The metric value to two digits, in `unit`.
        metric_value: Decimal,
        /// The difference, in `unit`.
        difference: Decimal,
        /// What is allowed, in `unit`.
        allowed: Decimal,
        /// mm or g.
        unit: Unit,
        /// The two would agree if a shaku were a foot.
        foot_for_shaku: bool,
    },
    /// A fraction of an inch or ounce whose denominator is no power of two.
    OddFraction {
        /// Label as written.
        label: String,
        /// The value as written.
        found: String,
        /// The denominator.
        denominator: u32,
    },
    /// A word of the label that is most likely misspelt.
    Misprint {
        /// Label as written.
        label: String,
        /// The word as found.
        found: String,
        /// The word it was taken for.
        likely: &'static str,
    },
    /// A number without a unit.
    MissingUnit {
        /// Label as written.
        label: String,
        /// The number as written.
        found: String,
        /// No other system gives the value either.
        alone: bool,
    },
    /// Several values under one label.
    SeveralValues {
        /// Label as written.
        label: String,
        /// The values as written.
        found: String,
    },
    /// A value that cannot be read.
    Unreadable {
        /// Label as written.
        label: String,
        /// The value as written.
        found: String,
        /// Why.
        reason: String,
    },
    /// A stretch of the line without any value.
    Unread {
        /// The stretch.
        text: String,
    },
}

impl Problem {
    /// Tells whether the value must not be used; the others are remarks on a value that can be.
    pub fn is_fault(&self) -> bool {
        match self {
            Self::Disagreement { .. }
            | Self::OddFraction { .. }
            | Self::SeveralValues { .. }
            | Self::Unreadable { .. } => true,
            Self::MissingUnit { alone, .. } => *alone,
            Self::Misprint { .. } | Self::Unread { .. } => false,
        }
    }

    /// Says what to do next.
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Disagreement {
                foot_for_shaku: true,
                ..
            } => {
                "the metric value takes a shaku for a foot of 304.8 mm; a shaku is 303.03 mm: enter the shaku value"
            }
            Self::Disagreement { .. } => {
                "look the value up where it was published, or measure, and enter the right one by hand"
            }
            Self::OddFraction { .. } => {
                "a digit is most likely missing: look the value up where it was published"
            }
            Self::Misprint { .. } => "check that the label means this quantity",
            Self::MissingUnit { .. } => "check the unit where the value was published",
            Self::SeveralValues { .. } => "enter each value by hand under its own name",
            Self::Unreadable { .. } => "enter the value by hand, like `681 mm` or `26 7/8 in`",
            Self::Unread { .. } => "look at the stretch; a value in it must be entered by hand",
        }
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let name = |label: &str| {
            if label.is_empty() {
                String::new()
            } else {
                format!("`{label}`: ")
            }
        };
        match self {
            Self::Disagreement {
                label,
                customary,
                customary_value,
                metric,
                metric_value,
                difference,
                allowed,
                unit,
                ..
            } => {
                let rule = if *unit == Unit::Millimetre {
                    "1/16 in + 0.05 cm"
                } else {
                    "half a step of each"
                };
                write!(
                    f,
                    "{}`{customary}` is {customary_value} {unit} but `{metric}` is {metric_value} {unit}, {difference} {unit} apart: up to {allowed} {unit} ({rule}) is allowed",
                    name(label)
                )
            }
            Self::OddFraction {
                label,
                found,
                denominator,
            } => write!(
                f,
                "{}`{found}` has a fraction with the denominator {denominator}: 2, 4, 8, 16, 32 and 64 divide an inch or an ounce",
                name(label)
            ),
            Self::Misprint { found, likely, .. } => {
                write!(f, "`{found}` in the label is taken for `{likely}`")
            }
            Self::MissingUnit {
                label,
                found,
                alone,
            } => {
                let rest = if *alone {
                    "and nothing else gives the value"
                } else {
                    "so that only the other value is read"
                };
                write!(f, "{}`{found}` has no unit, {rest}", name(label))
            }
            Self::SeveralValues { label, found } => {
                write!(
                    f,
                    "{}`{found}` holds more than one value: one value in up to two systems is allowed",
                    name(label)
                )
            }
            Self::Unreadable {
                label,
                found,
                reason,
            } => write!(f, "{}`{found}` cannot be read: {reason}", name(label)),
            Self::Unread { text } => write!(f, "`{text}` holds no value"),
        }
    }
}
