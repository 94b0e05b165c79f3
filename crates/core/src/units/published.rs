//! Reads a published line of dimensions and compares the two systems it is given in.
//!
//! A line such as `L. of cutting edge 26 7/8 in. (68.1 cm); D. of curvature 5/8 in. (1.7 cm)` gives
//! each value twice. Both are read; where they disagree both are reported and none is chosen.

use std::fmt;

use num_bigint::BigInt;
use num_rational::BigRational;
use num_traits::Signed;
use serde::Serialize;

use super::{
    Decimal, Dimension, Reading,
    label::understand,
    ratio::ratio,
    reading::{self, divides_by_halves, leading_measure, leading_number},
    scan::{Spanned, Token, scan},
    shorten, words,
};

mod problem;
#[cfg(test)]
mod tests;

pub use problem::Problem;

/// What a published value is the size of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum QuantityKind {
    /// The whole object, mount included.
    OverallLength,
    /// The blade with its tang (`L. of blade`).
    BladeWithTang,
    /// Point to back notch (`L. of cutting edge`).
    BladeLength,
    /// Greatest distance of the back from its chord.
    Curvature,
    /// Width.
    Width,
    /// Height.
    Height,
    /// Mass.
    Mass,
    /// Something else, or a label with more than one reading; see the entry's label.
    Other,
}

/// A published line, value by value.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Published {
    /// The values, in the order of the line.
    pub entries: Vec<Entry>,
    /// What of the line is not a value.
    pub problems: Vec<Problem>,
}

/// One value of a published line.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Entry {
    /// The label as written, without a closing colon; may be empty.
    pub label: String,
    /// What the label names.
    pub kind: QuantityKind,
    /// The value as written, in all its systems.
    pub text: String,
    /// The value in inches, pounds, ounces, shaku or momme.
    pub customary: Option<Reading>,
    /// The value in metric units.
    pub metric: Option<Reading>,
    /// How the two agree.
    pub agreement: Agreement,
    /// What is doubtful about this value.
    pub problems: Vec<Problem>,
}

/// How the two systems of one value agree.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case", tag = "verdict")]
pub enum Agreement {
    /// They differ by no more than is allowed.
    Agree,
    /// They differ by more.
    Disagree {
        /// The difference, in mm or g.
        difference: Decimal,
        /// What is allowed, in mm or g.
        allowed: Decimal,
    },
    /// There is one value only, or none.
    Single,
}

impl Entry {
    /// Returns the metric reading, else the customary one.
    pub fn reading(&self) -> Option<&Reading> {
        self.metric.as_ref().or(self.customary.as_ref())
    }

    /// Tells whether the value may be used: the systems agree and no problem is a fault.
    pub fn is_sound(&self) -> bool {
        self.reading().is_some() && !self.problems.iter().any(Problem::is_fault)
    }
}

impl fmt::Display for QuantityKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::OverallLength => "overall length",
            Self::BladeWithTang => "blade with tang",
            Self::BladeLength => "blade length",
            Self::Curvature => "curvature",
            Self::Width => "width",
            Self::Height => "height",
            Self::Mass => "mass",
            Self::Other => "other",
        })
    }
}

/// The difference allowed between a customary and a metric reading, in the canonical unit.
///
/// For lengths 1/16 in + 0.05 cm, whatever the digits: museums round inches to 1/16 and centimetres
/// to 0.1, and convert one from the other (common practice, no source). For masses half a step of
/// each reading as written (this tool's own rule).
pub(super) fn allowed_difference(a: &Reading, b: &Reading) -> BigRational {
    match a.dimension {
        Dimension::Length => ratio(254, 160) + ratio(1, 2),
        _ => (&a.resolution + &b.resolution) / BigInt::from(2),
    }
}

/// Compares two readings of one value.
pub(super) fn compare(a: &Reading, b: &Reading) -> Agreement {
    let difference = (&a.exact - &b.exact).abs();
    let allowed = allowed_difference(a, b);
    if difference <= allowed {
        return Agreement::Agree;
    }
    // Four digits show 2.0875 mm whole; readings are bounded, so that they fit.
    let show = |value| Decimal::from_ratio_half_even(value, 4).unwrap_or(Decimal::ZERO);
    Agreement::Disagree {
        difference: show(&difference),
        allowed: show(&allowed),
    }
}

/// Reads a published line. Never fails: what cannot be read is named among the problems.
pub fn read_published(line: &str) -> Published {
    let tokens = scan(line);
    let mut published = Published {
        entries: Vec::new(),
        problems: Vec::new(),
    };
    for tokens in tokens.split(|token| token.is_sign(';')) {
        Segment { line, tokens }.read(&mut published);
    }
    published
}

struct Segment<'a> {
    line: &'a str,
    tokens: &'a [Spanned],
}

impl Segment<'_> {
    fn text(&self, from: usize, to: usize) -> &str {
        let range = self.tokens.get(from..to).unwrap_or_default();
        let (Some(first), Some(last)) = (range.first(), range.last()) else {
            return "";
        };
        self.line
            .get(first.start..last.end)
            .unwrap_or_default()
            .trim()
    }

    fn read(&self, published: &mut Published) {
        let mut at = 0;
        while at < self.tokens.len() {
            let is_number =
                |token: &Spanned| matches!(token.token, Token::Number(_) | Token::BadNumber(_));
            let Some(ahead) = self.tokens[at..].iter().position(is_number) else {
                return self.leave(at, self.tokens.len(), published);
            };
            let number = at + ahead;
            at = self.value(at, number, published);
        }
    }

    /// Names a stretch without a value, unless it is punctuation alone.
    fn leave(&self, from: usize, to: usize, published: &mut Published) {
        if self.tokens[from..to]
            .iter()
            .any(|token| matches!(token.token, Token::Word(_)))
        {
            published.problems.push(Problem::Unread {
                text: shorten(self.text(from, to)),
            });
        }
    }

    /// Reads one value whose label starts at `from` and whose number is at `number`; returns where
    /// the next label starts.
    fn value(&self, from: usize, number: usize, published: &mut Published) -> usize {
        let label_from = (from..number)
            .find(|at| !matches!(self.tokens[*at].token, Token::Sign(',' | '.' | ')')))
            .unwrap_or(number);
        let label = shorten(
            self.text(label_from, number)
                .trim_end_matches([':', ' ', ',']),
        );
        let Some((length, _)) = leading_measure(&self.tokens[number..]) else {
            // Digits that are no number: name them with all that hangs on them.
            let end = self.bracket(number + 1).map_or(number + 1, |(_, end)| end);
            published.problems.push(Problem::Unreadable {
                label,
                found: shorten(self.text(number, end)),
                reason: "its digits are not a number".into(),
            });
            return end;
        };
        let mut end = number + length;
        if let Some(last) = self.joined_values(end) {
            published.problems.push(Problem::SeveralValues {
                label,
                found: shorten(self.text(number, last)),
            });
            return last;
        }
        let mut measures = vec![(number, end)];
        let mut remark = None;
        while let Some((inside, after)) = self.bracket(end) {
            let within = &self.tokens[inside..after.saturating_sub(1)];
            match leading_measure(within) {
                Some((length, _)) if length == within.len() => {
                    measures.push((inside, inside + length));
                }
                // A number first, but more than one measure: not silently a remark.
                Some(_) => {
                    published.problems.push(Problem::SeveralValues {
                        label,
                        found: shorten(self.text(number, after)),
                    });
                    return after;
                }
                None => remark = Some(self.text(inside, after.saturating_sub(1)).to_owned()),
            }
            end = after;
        }
        let understood = understand(&label, remark.as_deref());
        let mut entry = Entry {
            kind: understood.kind,
            text: shorten(self.text(number, end)),
            customary: None,
            metric: None,
            agreement: Agreement::Single,
            problems: understood
                .misprints
                .into_iter()
                .map(|(found, likely)| Problem::Misprint {
                    label: label.clone(),
                    found,
                    likely,
                })
                .collect(),
            label,
        };
        for (from, to) in measures {
            self.take(from, to, &mut entry);
        }
        judge(&mut entry);
        published.entries.push(entry);
        end
    }

    /// Reads one measure into the entry.
    fn take(&self, from: usize, to: usize, entry: &mut Entry) {
        let found = shorten(self.text(from, to));
        let label = entry.label.clone();
        let unit = leading_measure(&self.tokens[from..to]).and_then(|(_, unit)| unit);
        let Some(unit) = unit else {
            let number = leading_number(&self.tokens[from..to]).map(|(number, _)| number);
            entry.problems.push(Problem::MissingUnit {
                label,
                found,
                alone: number.is_none(),
            });
            return;
        };
        if entry.kind == QuantityKind::Other
            && entry.label.is_empty()
            && unit.dimension == Dimension::Mass
        {
            entry.kind = QuantityKind::Mass;
        }
        let dimension = match entry.kind {
            QuantityKind::Mass => Dimension::Mass,
            QuantityKind::Other => unit.dimension,
            _ => Dimension::Length,
        };
        match reading::read(self.text(from, to), dimension) {
            Ok(reading) => {
                if let Some(denominator) = reading.fraction
                    && divides_by_halves(&reading.unit_written)
                    && !denominator.is_power_of_two()
                {
                    entry.problems.push(Problem::OddFraction {
                        label: label.clone(),
                        found: found.clone(),
                        denominator,
                    });
                }
                let place = if reading.is_metric() {
                    &mut entry.metric
                } else {
                    &mut entry.customary
                };
                if place.is_some() {
                    entry.problems.push(Problem::Unreadable {
                        label,
                        found,
                        reason: "the value stands twice in one system".into(),
                    });
                } else {
                    *place = Some(reading);
                }
            }
            Err(error) => entry.problems.push(Problem::Unreadable {
                label,
                found,
                reason: error.to_string(),
            }),
        }
    }

    /// The tokens inside a bracket that opens at `at`, as their start and the place after the bracket.
    fn bracket(&self, at: usize) -> Option<(usize, usize)> {
        self.tokens.get(at).filter(|token| token.is_sign('('))?;
        let close = self.tokens[at..]
            .iter()
            .position(|token| token.is_sign(')'))?;
        Some((at + 1, at + close + 1))
    }

    /// Where values joined by a sign end (`107 × 8.5 cm (42 1/8 × 3 3/8 in.)`), if they start at `at`.
    fn joined_values(&self, at: usize) -> Option<usize> {
        let joins = |at: usize| {
            self.tokens.get(at).is_some_and(|token| match &token.token {
                Token::Sign('×' | '–' | '—' | '/' | '~' | '±') | Token::Hyphen => true,
                Token::Word(word) => matches!(word.as_str(), "x" | "to" | "by"),
                _ => false,
            })
        };
        let mut end = at;
        while joins(end) {
            let (length, _) = leading_measure(self.tokens.get(end + 1..)?)?;
            end += 1 + length;
        }
        if end == at {
            return None;
        }
        Some(self.bracket(end).map_or(end, |(_, after)| after))
    }
}

/// Compares the two systems and adds what follows from it.
fn judge(entry: &mut Entry) {
    let usable = entry.reading().is_some();
    for problem in &mut entry.problems {
        if let Problem::MissingUnit { alone, .. } = problem {
            *alone = !usable;
        }
    }
    let (Some(customary), Some(metric)) = (&entry.customary, &entry.metric) else {
        return;
    };
    if customary.dimension != metric.dimension {
        entry.problems.push(Problem::Unreadable {
            label: entry.label.clone(),
            found: entry.text.clone(),
            reason: format!(
                "one value is a {}, the other a {}",
                customary.dimension, metric.dimension
            ),
        });
        return;
    }
    entry.agreement = compare(customary, metric);
    if let Agreement::Disagree {
        difference,
        allowed,
    } = entry.agreement
    {
        // Finer than the coarser reading, so that the difference can be followed.
        let show = |reading: &Reading| {
            Decimal::from_ratio_half_even(&reading.exact, 2).unwrap_or(reading.rounded())
        };
        entry.problems.push(Problem::Disagreement {
            label: entry.label.clone(),
            customary: customary.text.clone(),
            customary_value: show(customary),
            metric: metric.text.clone(),
            metric_value: show(metric),
            difference,
            allowed,
            unit: metric.dimension.canonical_unit(),
            foot_for_shaku: is_foot_for_shaku(customary, metric),
        });
    }
}

/// Some popular texts take the shaku for a foot of 304.8 mm.
fn is_foot_for_shaku(customary: &Reading, metric: &Reading) -> bool {
    let of_shaku = |unit: &words::WrittenUnit| {
        unit.code == customary.unit_written && unit.system == words::System::Shaku
    };
    let as_feet = &customary.exact / ratio(10_000, 33) * ratio(3048, 10);
    words::UNITS.iter().any(of_shaku) && (as_feet - &metric.exact).abs() <= ratio(1, 2)
}
