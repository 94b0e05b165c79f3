//! What a condition says of a sheet: yes, no, nearly, or that the measurement cannot tell.

use serde_json::Value;
use tangmark_author::number;
use tangmark_core::record::{Flaw, PartialDate};
use tangmark_measure::decision::{Against, GUARD_95, against};
use tangmark_measure::{Estimate, print};
use tangmark_plugin::NumberDraft;

use super::condition::{Condition, Limit, Test};
use crate::ladder::{Rung, rung};
use crate::ledger::left_text;

/// How far a condition holds, from least to most.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Truth {
    /// It does not hold.
    No,
    /// It does not hold, and a number is near its limit.
    Near,
    /// A field is missing, or the limit lies within the measurement.
    CannotTell,
    /// It holds.
    Yes,
}

/// What was found at one field.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Found {
    /// How far that part of the condition holds.
    pub(crate) truth: Truth,
    /// In words: `/dimensions/mass is 748.3 ± 0.3 g, asked for below 600 g`.
    pub(crate) text: String,
    /// How far a number is from its limit; empty where there is none.
    pub(crate) margin: String,
    /// The field is not there.
    pub(crate) missing: bool,
    /// Pointer into the sheet.
    pub(crate) place: String,
    /// The number, for a finding.
    pub(crate) number: Option<NumberDraft>,
}

/// The answer to a condition.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Answer {
    /// How far it holds.
    pub(crate) truth: Truth,
    /// What was found on the way, in the order of the condition.
    pub(crate) found: Vec<Found>,
}

/// Asks a condition of a sheet. `near_share` is the share of a limit from which a number is near.
pub(crate) fn ask(condition: &Condition, sheet: &Value, near_share: f64) -> Answer {
    let asker = Asker { sheet, near_share };
    asker.condition(condition, sheet, "")
}

struct Asker<'s> {
    sheet: &'s Value,
    near_share: f64,
}

impl Asker<'_> {
    fn condition(&self, condition: &Condition, at: &Value, base: &str) -> Answer {
        match condition {
            Condition::All(parts) => {
                let answers: Vec<Answer> = parts
                    .iter()
                    .map(|part| self.condition(part, at, base))
                    .collect();
                let truth = answers.iter().map(|one| one.truth).min();
                joined(truth.unwrap_or(Truth::Yes), answers)
            }
            Condition::Any(parts) => {
                let answers: Vec<Answer> = parts
                    .iter()
                    .map(|part| self.condition(part, at, base))
                    .collect();
                let truth = answers.iter().map(|one| one.truth).max();
                joined(truth.unwrap_or(Truth::No), answers)
            }
            Condition::Not(part) => {
                let inner = self.condition(part, at, base);
                let truth = opposite(inner.truth);
                let found = inner.found.into_iter().map(|one| Found {
                    truth: opposite(one.truth),
                    text: format!("not: {}", one.text),
                    ..one
                });
                Answer {
                    truth,
                    found: found.collect(),
                }
            }
            Condition::Each {
                list,
                at_least,
                when,
            } => self.each(list, *at_least, when, at, base),
            Condition::Field { field, test } => {
                let found = self.field(field, test, at, base);
                Answer {
                    truth: found.truth,
                    found: vec![found],
                }
            }
        }
    }

    fn each(
        &self,
        list: &str,
        at_least: usize,
        when: &Condition,
        at: &Value,
        base: &str,
    ) -> Answer {
        let name = list.trim_start_matches('/');
        let place = format!("{base}/{name}");
        let entries = at.pointer(&format!("/{name}")).and_then(Value::as_array);
        let Some(entries) = entries else {
            // An empty list is not written. Where what it belongs to is not there either, nobody looked.
            let owner = place.rsplit_once('/').map_or("", |(owner, _)| owner);
            let looked = self.sheet.pointer(owner).is_some();
            let missing = Found {
                truth: Truth::CannotTell,
                text: format!("`{owner}`"),
                margin: String::new(),
                missing: true,
                place,
                number: None,
            };
            return Answer {
                truth: if looked { Truth::No } else { Truth::CannotTell },
                found: if looked { Vec::new() } else { vec![missing] },
            };
        };
        let answers: Vec<Answer> = entries
            .iter()
            .enumerate()
            .filter(|(_, entry)| place != "/flaws" || !ruled_out(entry))
            .map(|(index, entry)| self.condition(when, entry, &format!("{place}/{index}")))
            .collect();
        let reach =
            |truth: Truth| answers.iter().filter(|one| one.truth >= truth).count() >= at_least;
        let truth = [Truth::Yes, Truth::CannotTell, Truth::Near]
            .into_iter()
            .find(|truth| reach(*truth))
            .unwrap_or(Truth::No);
        let bearing = answers
            .into_iter()
            .filter(|one| one.truth >= truth && truth > Truth::No);
        joined(truth, bearing.collect())
    }

    fn field(&self, field: &str, test: &Test, at: &Value, base: &str) -> Found {
        let name = field.trim_start_matches('/');
        let place = format!("{base}/{name}");
        let value = at
            .pointer(&format!("/{name}"))
            .filter(|value| value.as_array().is_none_or(|list| !list.is_empty()));
        let found = |truth: Truth, text: String| Found {
            truth,
            text,
            margin: String::new(),
            missing: false,
            place: place.clone(),
            number: None,
        };
        if let Test::Missing(wanted) = test {
            let truth = if value.is_none() == *wanted {
                Truth::Yes
            } else {
                Truth::No
            };
            let is = if value.is_none() {
                "not on the sheet"
            } else {
                "on the sheet"
            };
            return found(truth, format!("`{place}` is {is}"));
        }
        let Some(value) = value else {
            return Found {
                missing: true,
                ..found(Truth::CannotTell, format!("`{place}`"))
            };
        };
        match test {
            Test::Above(limit) => self.number(value, limit, true, found(Truth::No, String::new())),
            Test::Below(limit) => self.number(value, limit, false, found(Truth::No, String::new())),
            Test::Before(date) => {
                let truth = dated(value, |given| {
                    (
                        given.last_day() < date.first_day(),
                        given.first_day() >= date.first_day(),
                    )
                });
                found(
                    truth,
                    format!(
                        "`{place}` is {}, asked for before {}",
                        plain(value),
                        date.as_str()
                    ),
                )
            }
            Test::After(date) => {
                let truth = dated(value, |given| {
                    (
                        given.first_day() > date.last_day(),
                        given.last_day() <= date.last_day(),
                    )
                });
                found(
                    truth,
                    format!(
                        "`{place}` is {}, asked for after {}",
                        plain(value),
                        date.as_str()
                    ),
                )
            }
            Test::Is { values, all } => {
                let holds = values.iter().any(|one| *one == plain(value));
                // Free text may hold names: it is compared, not repeated.
                let text = if all.is_empty() {
                    let is = if holds { "is" } else { "is not" };
                    format!("`{place}` {is} the text asked for")
                } else {
                    format!("`{place}` is {}", plain(value))
                };
                found(if holds { Truth::Yes } else { Truth::No }, text)
            }
            Test::Has(term) => {
                let holds = value
                    .as_array()
                    .is_some_and(|list| list.iter().any(|one| one.as_str() == Some(term)));
                let has = if holds { "has" } else { "lacks" };
                found(
                    if holds { Truth::Yes } else { Truth::No },
                    format!("`{place}` {has} {term}"),
                )
            }
            Test::Missing(_) => found(Truth::No, String::new()),
        }
    }

    fn number(&self, value: &Value, limit: &Limit, above: bool, mut found: Found) -> Found {
        let Some(measured) = estimate(value) else {
            found.truth = Truth::CannotTell;
            found.missing = true;
            found.text = format!("a number in `{}`", found.place);
            return found;
        };
        let unit = limit.unit.code().trim_start_matches('1');
        let room = if above {
            limit.estimate() - measured
        } else {
            measured - limit.estimate()
        };
        found.truth = if measured.standard_uncertainty == 0.0 {
            if room.value < 0.0 {
                Truth::Yes
            } else {
                self.near(measured, limit, above)
            }
        } else {
            match against(room, 0.0) {
                Against::Below => Truth::Yes,
                Against::Undecided => Truth::CannotTell,
                Against::Above => self.near(measured, limit, above),
            }
        };
        let asked = if above { "above" } else { "below" };
        found.text = format!(
            "`{}` is {}, asked for {asked} {}",
            found.place,
            print::with_expanded(measured, unit).trim_end(),
            limit.text
        );
        found.margin = left_text(room, unit).replace("  ", " ");
        found.number = number(found.place.trim_start_matches('/'), measured, limit.unit);
        found
    }

    fn near(&self, measured: Estimate, limit: &Limit, above: bool) -> Truth {
        let guard = GUARD_95 * measured.standard_uncertainty;
        let near = if above {
            measured.value + guard >= self.near_share * limit.value
        } else {
            (measured.value - guard) * self.near_share <= limit.value
        };
        if near && limit.value > 0.0 {
            Truth::Near
        } else {
            Truth::No
        }
    }
}

const fn opposite(truth: Truth) -> Truth {
    match truth {
        Truth::No | Truth::Near => Truth::Yes,
        Truth::CannotTell => Truth::CannotTell,
        Truth::Yes => Truth::No,
    }
}

fn joined(truth: Truth, answers: Vec<Answer>) -> Answer {
    Answer {
        truth,
        found: answers.into_iter().flat_map(|one| one.found).collect(),
    }
}

fn ruled_out(entry: &Value) -> bool {
    serde_json::from_value::<Flaw>(entry.clone()).is_ok_and(|flaw| rung(&flaw) == Rung::RuledOut)
}

fn estimate(value: &Value) -> Option<Estimate> {
    if let Some(number) = value.as_f64() {
        return Some(Estimate::exact(number));
    }
    let text = |name: &str| value.get(name)?.as_str()?.parse::<f64>().ok();
    Some(Estimate::new(text("value")?, text("standard_uncertainty")?))
}

/// Holds, does not hold, or the date is written too coarsely to tell.
fn dated(value: &Value, test: impl Fn(&PartialDate) -> (bool, bool)) -> Truth {
    let Some(date) = value.as_str().and_then(|text| text.parse().ok()) else {
        return Truth::CannotTell;
    };
    match test(&date) {
        (true, _) => Truth::Yes,
        (_, true) => Truth::No,
        _ => Truth::CannotTell,
    }
}

fn plain(value: &Value) -> String {
    value
        .as_str()
        .map_or_else(|| value.to_string(), str::to_owned)
}
