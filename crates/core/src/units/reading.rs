//! One value as a person writes it, read exactly.
//!
//! [`read`] takes `681 mm`, `68.1 cm`, `26 7/8 in.`, `26-7/8"`, `1 ft 3 in`, `2 shaku 3 sun 5 bu`,
//! `二尺三寸五分`, `724.5 g`, `1 lb 9.6 oz`, `190 momme`, `12.5°`, `1 h 30 min`, `21 °C`, `3 %` and more.
//! Nothing is guessed: a decimal comma, a missing unit or a second value is refused.

use num_rational::BigRational;
use num_traits::Zero;
use serde::{Serialize, Serializer, ser::SerializeStruct};
use unicode_normalization::UnicodeNormalization;

use super::{
    Decimal, Dimension,
    ratio::floor_log10,
    scan::{Fault, Form, Number, Spanned, Token, scan},
    shorten,
    words::{self, System, WrittenUnit},
};

mod error;
#[cfg(test)]
mod tests;

pub use error::ReadingError;

/// Longest text of a reading, in characters.
const LONGEST: usize = 200;

/// One value as written and as computed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reading {
    /// The text as written, in NFC, without surrounding white space.
    pub text: String,
    /// The unit as written, the last one where there are several: a UCUM code (`cm`, `[in_i]`) or,
    /// where UCUM has none, the unit's own name (`shaku`, `momme`). `1` for a count.
    pub unit_written: String,
    /// What was measured; its canonical unit is the unit of `exact` and `resolution`.
    pub dimension: Dimension,
    /// The value in the canonical unit, exactly.
    pub exact: BigRational,
    /// One step of the last digit, or of the fraction, as written; in the canonical unit, exactly.
    pub resolution: BigRational,
    /// Denominator of the fraction, if the value was written with one.
    pub fraction: Option<u32>,
    rounded: Decimal,
}

impl Reading {
    /// Returns the value in the canonical unit, rounded half-even one digit finer than the
    /// resolution: max(0, 1 − ⌊log10 resolution⌋) digits after the full stop; a count has none.
    pub fn rounded(&self) -> Decimal {
        self.rounded
    }

    /// Tells whether the value is written in the metric system (time counts as metric).
    pub fn is_metric(&self) -> bool {
        let metric = |unit: &WrittenUnit| unit.code == self.unit_written && unit.system.is_metric();
        words::UNITS.iter().any(metric)
    }
}

impl Serialize for Reading {
    /// As text, unit as written, rounded value and its unit.
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut fields = serializer.serialize_struct("Reading", 4)?;
        fields.serialize_field("text", &self.text)?;
        fields.serialize_field("unit_written", &self.unit_written)?;
        fields.serialize_field("value", &self.rounded)?;
        fields.serialize_field("unit", &self.dimension.canonical_unit())?;
        fields.end()
    }
}

/// Reads one value of zero or more.
///
/// # Errors
/// See [`ReadingError`]; its text names what was found and the units allowed for `dimension`.
pub fn read(text: &str, dimension: Dimension) -> Result<Reading, ReadingError> {
    read_value(text, dimension, false)
}

/// Reads one value that may be below zero, such as an inward curvature or a winter temperature.
///
/// # Errors
/// As [`read`].
pub fn read_signed(text: &str, dimension: Dimension) -> Result<Reading, ReadingError> {
    read_value(text, dimension, true)
}

fn read_value(text: &str, dimension: Dimension, signed: bool) -> Result<Reading, ReadingError> {
    if text.chars().take(LONGEST + 1).count() > LONGEST {
        return Err(ReadingError::TooLong {
            found: shorten(text),
            longest: LONGEST,
        });
    }
    let text: String = text.trim().nfc().collect();
    let reader = Reader {
        text: &text,
        dimension,
    };
    let tokens = scan(&text);
    let (negative, tokens) = match tokens.split_first() {
        None => return Err(ReadingError::Empty { dimension }),
        Some((first, rest)) if first.token == Token::Hyphen => (true, rest),
        Some(_) => (false, &tokens[..]),
    };
    if negative && !signed {
        return Err(ReadingError::Negative {
            found: shorten(&text),
            dimension,
        });
    }
    reader.refuse_at_sight(tokens)?;
    let (magnitude, last) = if dimension == Dimension::Count {
        reader.count(tokens)?
    } else {
        reader.parts(tokens)?
    };
    let exact = if negative { -magnitude } else { magnitude };
    reader.finish(exact, last)
}

/// The last part of a value: what its resolution and written unit come from.
struct Last {
    unit: &'static str,
    resolution: BigRational,
    fraction: Option<u32>,
}

struct Reader<'a> {
    text: &'a str,
    dimension: Dimension,
}

impl Reader<'_> {
    fn found(&self) -> String {
        shorten(self.text)
    }

    fn slice(&self, tokens: &[Spanned]) -> String {
        match (tokens.first(), tokens.last()) {
            (Some(first), Some(last)) => {
                shorten(self.text.get(first.start..last.end).unwrap_or(self.text))
            }
            _ => self.found(),
        }
    }

    /// Refuses what is wrong wherever it stands, so that the reason is the telling one.
    fn refuse_at_sight(&self, tokens: &[Spanned]) -> Result<(), ReadingError> {
        for (at, spanned) in tokens.iter().enumerate() {
            let part = || self.slice(std::slice::from_ref(spanned));
            match &spanned.token {
                Token::BadNumber(Fault::Comma) => {
                    return Err(ReadingError::DecimalComma {
                        found: self.found(),
                    });
                }
                Token::BadNumber(fault) => {
                    return Err(ReadingError::BadNumber {
                        found: self.found(),
                        number: part(),
                        why: why(*fault),
                    });
                }
                Token::Word(word) if word.contains("kujira") || word.contains('鯨') => {
                    return Err(ReadingError::ClothMeasure {
                        found: self.found(),
                    });
                }
                // Ways to write two values, or a value with its spread.
                Token::Sign('/' | ';' | '(' | '–' | '—' | '~' | '〜' | '×' | '±' | '&') => {
                    return Err(ReadingError::SeveralValues {
                        found: self.found(),
                    });
                }
                Token::Word(word)
                    if at > 0 && matches!(word.as_str(), "x" | "to" | "by" | "and" | "or") =>
                {
                    return Err(ReadingError::SeveralValues {
                        found: self.found(),
                    });
                }
                Token::Sign(_) if !spanned.is_sign(',') => {
                    return Err(ReadingError::Unexpected {
                        found: self.found(),
                        part: part(),
                        dimension: self.dimension,
                    });
                }
                _ => {}
            }
        }
        Ok(())
    }

    fn count(&self, tokens: &[Spanned]) -> Result<(BigRational, Last), ReadingError> {
        match tokens {
            [
                Spanned {
                    token: Token::Number(number),
                    ..
                },
            ] if number.form == Form::Whole => Ok((
                number.value.clone(),
                Last {
                    unit: "1",
                    resolution: number.step.clone(),
                    fraction: None,
                },
            )),
            _ => Err(ReadingError::NotACount {
                found: self.found(),
            }),
        }
    }

    fn parts(&self, tokens: &[Spanned]) -> Result<(BigRational, Last), ReadingError> {
        let mut rest = tokens;
        let mut total = BigRational::zero();
        let mut before: Option<(&'static WrittenUnit, Number, String)> = None;
        loop {
            let (number, unit, tail) = self.part(rest).map_err(|error| match error {
                ReadingError::MissingUnit { found, .. } if before.is_some() => {
                    ReadingError::SeveralValues { found }
                }
                error => error,
            })?;
            if let Some((larger, count, written)) = before {
                let follows = unit.system == larger.system
                    && unit.system.compounds()
                    && unit.factor() < larger.factor();
                if !follows {
                    return Err(ReadingError::SeveralValues {
                        found: self.found(),
                    });
                }
                if count.form != Form::Whole {
                    return Err(ReadingError::PartNotWhole {
                        found: self.found(),
                        part: written,
                    });
                }
                if &number.value * unit.factor() >= larger.factor() {
                    let part = self.slice(&rest[..rest.len() - tail.len()]);
                    return Err(ReadingError::PartTooLarge {
                        found: self.found(),
                        part,
                        larger: larger.words[0],
                    });
                }
            }
            total += &number.value * unit.factor();
            if tail.is_empty() {
                let fraction = match number.form {
                    Form::Fraction(denominator) => Some(denominator),
                    _ => None,
                };
                return Ok((
                    total,
                    Last {
                        unit: unit.code,
                        resolution: &number.step * unit.factor(),
                        fraction,
                    },
                ));
            }
            let written = self.slice(&rest[..rest.len() - tail.len()]);
            // `1 lb, 12 oz`: a comma after a unit divides the parts of one value.
            rest = match tail {
                [comma, more @ ..] if comma.is_sign(',') && !more.is_empty() => more,
                _ => tail,
            };
            before = Some((unit, number, written));
        }
    }

    /// Reads one number with its unit; returns what follows.
    fn part<'t>(
        &self,
        tokens: &'t [Spanned],
    ) -> Result<(Number, &'static WrittenUnit, &'t [Spanned]), ReadingError> {
        let dimension = self.dimension;
        let (number, length) = leading_number(tokens).ok_or_else(|| {
            match tokens.first().map(|first| &first.token) {
                Some(_) => ReadingError::Unexpected {
                    found: self.found(),
                    part: self.slice(&tokens[..1]),
                    dimension,
                },
                None => ReadingError::Empty { dimension },
            }
        })?;
        let rest = &tokens[length..];
        let Some((word, tail)) = rest.split_first() else {
            return Err(ReadingError::MissingUnit {
                found: self.found(),
                dimension,
            });
        };
        match (&word.token, word.unit()) {
            (_, Some(unit)) if unit.dimension == dimension => Ok((number, unit, tail)),
            (_, Some(unit)) => Err(ReadingError::OtherDimension {
                found: self.found(),
                unit: self.slice(&rest[..1]),
                is: unit.dimension,
                dimension,
            }),
            (Token::Word(_), None) => Err(ReadingError::UnknownUnit {
                found: self.found(),
                unit: self.slice(&rest[..1]),
                dimension,
            }),
            (Token::Hyphen, _) if tail.first().is_some_and(|next| next.number().is_none()) => {
                Err(ReadingError::Unexpected {
                    found: self.found(),
                    part: self.slice(&rest[..1]),
                    dimension,
                })
            }
            // A number without a unit, then another number.
            _ => Err(ReadingError::SeveralValues {
                found: self.found(),
            }),
        }
    }

    fn finish(&self, exact: BigRational, last: Last) -> Result<Reading, ReadingError> {
        let digits = match self.dimension {
            Dimension::Count => 0,
            _ => floor_log10(&last.resolution).map_or(0, |order| (1 - order).max(0)),
        };
        let digits = u8::try_from(digits).unwrap_or(u8::MAX);
        let rounded = Decimal::from_ratio_half_even(&exact, digits).map_err(|reason| {
            ReadingError::OutOfRange {
                found: self.found(),
                reason,
            }
        })?;
        Ok(Reading {
            text: self.text.to_owned(),
            unit_written: last.unit.to_owned(),
            dimension: self.dimension,
            exact,
            resolution: last.resolution,
            fraction: last.fraction,
            rounded,
        })
    }
}

const fn why(fault: Fault) -> &'static str {
    match fault {
        Fault::Comma => "a comma stands inside it",
        Fault::Points => "a full stop stands where no digit precedes it, or stands twice",
        Fault::TooLong => "up to 12 digits and up to 9 more after a full stop are allowed",
        Fault::Fraction => {
            "a fraction has a numerator from 1, smaller than its denominator of up to 1024"
        }
        Fault::Numerals => "kanji numerals need their places, as in 二十三",
    }
}

/// Reads a number with its fraction, as in `26 7/8` and `26-7/8`; returns its length in tokens.
pub(super) fn leading_number(tokens: &[Spanned]) -> Option<(Number, usize)> {
    let number = tokens.first()?.number()?;
    if number.form != Form::Whole {
        return Some((number.clone(), 1));
    }
    let after = if tokens
        .get(1)
        .is_some_and(|next| next.token == Token::Hyphen)
    {
        2
    } else {
        1
    };
    match tokens.get(after).and_then(Spanned::number) {
        Some(fraction) if matches!(fraction.form, Form::Fraction(_)) => {
            let mut mixed = fraction.clone();
            mixed.value += &number.value;
            Some((mixed, after + 1))
        }
        _ => Some((number.clone(), 1)),
    }
}

/// Length in tokens of one measure: a number with its unit, and the smaller units that go on from
/// it (`2 lb. 2.7 oz.`). A number without a unit counts, with `None`.
pub(super) fn leading_measure(tokens: &[Spanned]) -> Option<(usize, Option<&'static WrittenUnit>)> {
    let (_, mut length) = leading_number(tokens)?;
    let Some(mut unit) = tokens.get(length).and_then(Spanned::unit) else {
        return Some((length, None));
    };
    length += 1;
    while unit.system.compounds() {
        let comma = usize::from(tokens.get(length).is_some_and(|next| next.is_sign(',')));
        let Some((_, digits)) = tokens.get(length + comma..).and_then(leading_number) else {
            break;
        };
        let next = tokens.get(length + comma + digits).and_then(Spanned::unit);
        let Some(smaller) =
            next.filter(|next| next.system == unit.system && next.factor() < unit.factor())
        else {
            break;
        };
        length += comma + digits + 1;
        unit = smaller;
    }
    Some((length, Some(unit)))
}

/// Tells whether a unit divides by halves, so that another denominator is most likely a misprint.
pub(super) fn divides_by_halves(unit_written: &str) -> bool {
    words::UNITS.iter().any(|unit| {
        unit.code == unit_written && matches!(unit.system, System::Foot | System::Pound)
    })
}
