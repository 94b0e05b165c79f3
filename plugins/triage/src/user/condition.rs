//! Conditions of the user's own rules, and how they are read.

use serde_json::{Map, Value};
use tangmark_core::record::PartialDate;
use tangmark_core::units::reading::read_signed;
use tangmark_core::units::{Dimension, Unit};
use tangmark_measure::Estimate;

use super::fields::{Kind, Scope};

/// Deepest nesting of a condition.
const DEEPEST: usize = 8;
/// Most parts of one condition.
const MOST: usize = 60;

/// A condition over the fields of a sheet.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Condition {
    /// Every part holds.
    All(Vec<Condition>),
    /// One part holds at least.
    Any(Vec<Condition>),
    /// The part does not hold.
    Not(Box<Condition>),
    /// Entries of a list for which the inner condition holds: at least so many.
    Each {
        /// The list.
        list: String,
        /// How many entries it takes.
        at_least: usize,
        /// What must hold of one and the same entry.
        when: Box<Condition>,
    },
    /// A question about one field.
    Field {
        /// The field.
        field: String,
        /// The question.
        test: Test,
    },
}

/// A limit as written, and in the unit of the record.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Limit {
    /// As written.
    pub(crate) text: String,
    /// Value in `unit`.
    pub(crate) value: f64,
    /// Unit.
    pub(crate) unit: Unit,
}

impl Limit {
    /// As an estimate without uncertainty.
    pub(crate) fn estimate(&self) -> Estimate {
        Estimate::exact(self.value)
    }
}

/// A question about a field.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Test {
    /// Above the limit.
    Above(Limit),
    /// Below the limit.
    Below(Limit),
    /// Wholly before the date.
    Before(PartialDate),
    /// Wholly after the date.
    After(PartialDate),
    /// One of these; `all` is how many there are to choose from, 0 for free text.
    Is {
        /// Values that fit.
        values: Vec<String>,
        /// Values there are; empty for free text.
        all: Vec<String>,
    },
    /// A list of terms has this one.
    Has(String),
    /// The field is not there (`true`), or is (`false`).
    Missing(bool),
}

/// Reads conditions and collects faults, each with its place.
pub(crate) struct Reader<'f> {
    pub(crate) faults: &'f mut Vec<String>,
    parts: usize,
}

impl<'f> Reader<'f> {
    pub(crate) fn new(faults: &'f mut Vec<String>) -> Self {
        Self { faults, parts: 0 }
    }

    fn fault(&mut self, place: &str, what: impl std::fmt::Display) -> Option<Condition> {
        self.faults.push(format!("{place}: {what}"));
        None
    }

    /// Reads a condition whose fields are named from `scope`.
    pub(crate) fn condition(
        &mut self,
        value: &Value,
        scope: &Scope,
        place: &str,
        depth: usize,
    ) -> Option<Condition> {
        self.parts += 1;
        if depth > DEEPEST || self.parts > MOST {
            return self.fault(
                place,
                format!("a condition has at most {MOST} parts, {DEEPEST} deep; split the rule"),
            );
        }
        let Some(members) = value.as_object() else {
            return self.fault(
                place,
                "a condition is a table such as { field = \"/dimensions/mass\", below = \"600 g\" }",
            );
        };
        let shapes = ["all", "any", "not", "each", "field"];
        let found: Vec<&str> = shapes
            .into_iter()
            .filter(|shape| members.contains_key(*shape))
            .collect();
        let [shape] = found.as_slice() else {
            return self.fault(
                place,
                "exactly one of all, any, not, each and field is needed",
            );
        };
        let allowed: &[&str] = match *shape {
            "all" | "any" | "not" => &[],
            "each" => &["when", "at_least"],
            _ => &[
                "above",
                "below",
                "before",
                "after",
                "is",
                "is_one_of",
                "has",
                "missing",
            ],
        };
        if let Some(other) = members
            .keys()
            .find(|name| name.as_str() != *shape && !allowed.contains(&name.as_str()))
        {
            let beside = if allowed.is_empty() {
                "nothing else".to_owned()
            } else {
                allowed.join(", ")
            };
            return self.fault(
                place,
                format!("`{other}` stands beside `{shape}`; {beside} may stand there"),
            );
        }
        match *shape {
            "all" => Some(Condition::All(
                self.several(members, "all", scope, place, depth)?,
            )),
            "any" => Some(Condition::Any(
                self.several(members, "any", scope, place, depth)?,
            )),
            "not" => {
                let inner =
                    self.condition(&members["not"], scope, &format!("{place}.not"), depth + 1)?;
                Some(Condition::Not(Box::new(inner)))
            }
            "each" => self.each(members, scope, place, depth),
            _ => self.field(members, scope, place),
        }
    }

    fn several(
        &mut self,
        members: &Map<String, Value>,
        name: &str,
        scope: &Scope,
        place: &str,
        depth: usize,
    ) -> Option<Vec<Condition>> {
        let Some(parts) = members[name].as_array().filter(|parts| !parts.is_empty()) else {
            self.fault(
                place,
                format!("`{name}` is a list of at least one condition"),
            );
            return None;
        };
        let read: Vec<Option<Condition>> = parts
            .iter()
            .enumerate()
            .map(|(index, part)| {
                self.condition(
                    part,
                    scope,
                    &format!("{place}.{name}[{}]", index + 1),
                    depth + 1,
                )
            })
            .collect();
        read.into_iter().collect()
    }

    fn each(
        &mut self,
        members: &Map<String, Value>,
        scope: &Scope,
        place: &str,
        depth: usize,
    ) -> Option<Condition> {
        let Some(list) = members["each"].as_str() else {
            return self.fault(place, "`each` names a list, such as \"/flaws\"");
        };
        let field = match scope.find(list) {
            Ok(field) => field,
            Err(what) => return self.fault(place, what),
        };
        let Some(entries) = field.entries else {
            return self.fault(place, format!("`{list}` is not a list of entries"));
        };
        let at_least = match members.get("at_least") {
            None => 1,
            Some(value) => match value.as_u64().and_then(|count| usize::try_from(count).ok()) {
                Some(count) if (1..=500).contains(&count) => count,
                _ => {
                    return self
                        .fault(place, format!("`at_least` is {value}; 1 to 500 is allowed"));
                }
            },
        };
        let Some(when) = members.get("when") else {
            return self.fault(
                place,
                "`each` needs `when`: what must hold of one and the same entry",
            );
        };
        let when = self.condition(when, &entries, &format!("{place}.when"), depth + 1)?;
        Some(Condition::Each {
            list: list.to_owned(),
            at_least,
            when: Box::new(when),
        })
    }

    fn field(
        &mut self,
        members: &Map<String, Value>,
        scope: &Scope,
        place: &str,
    ) -> Option<Condition> {
        let Some(name) = members["field"].as_str() else {
            return self.fault(place, "`field` names a field, such as \"/dimensions/mass\"");
        };
        let kind = match scope.find(name) {
            Ok(field) => field.kind,
            Err(what) => return self.fault(place, what),
        };
        let mut tests = Vec::new();
        for (question, value) in members.iter().filter(|(question, _)| *question != "field") {
            match test(question, value, &kind) {
                Ok(test) => tests.push(Condition::Field {
                    field: name.to_owned(),
                    test,
                }),
                Err(what) => {
                    self.fault(place, format!("`{name}`: {what}"));
                    return None;
                }
            }
        }
        match tests.len() {
            0 => self.fault(
                place,
                format!(
                    "nothing is asked of `{name}`; it takes {}",
                    kind.questions()
                ),
            ),
            1 => tests.pop(),
            // `above` and `below` on one field read as a range.
            _ => Some(Condition::All(tests)),
        }
    }
}

fn test(question: &str, value: &Value, kind: &Kind) -> Result<Test, String> {
    match (question, kind) {
        ("missing", _) => value
            .as_bool()
            .map(Test::Missing)
            .ok_or_else(|| format!("`missing` is {value}; true or false is allowed")),
        ("above", Kind::Quantity(dimension)) => limit(value, *dimension).map(Test::Above),
        ("below", Kind::Quantity(dimension)) => limit(value, *dimension).map(Test::Below),
        ("above", Kind::Integer) => count(value).map(Test::Above),
        ("below", Kind::Integer) => count(value).map(Test::Below),
        ("before", Kind::Date) => date(value).map(Test::Before),
        ("after", Kind::Date) => date(value).map(Test::After),
        ("is", Kind::Flag) => {
            let flag = value
                .as_bool()
                .ok_or_else(|| format!("`is` is {value}; true or false is allowed"))?;
            Ok(Test::Is {
                values: vec![flag.to_string()],
                all: vec!["false".to_owned(), "true".to_owned()],
            })
        }
        ("is" | "is_one_of", Kind::Term(_) | Kind::Text) => is(question, value, kind),
        ("has", Kind::Terms(all)) => term(value, all).map(Test::Has),
        _ => Err(format!(
            "`{question}` cannot be asked of it; it takes {}",
            kind.questions()
        )),
    }
}

fn is(question: &str, value: &Value, kind: &Kind) -> Result<Test, String> {
    let all = match kind {
        Kind::Term(all) => all.clone(),
        _ => Vec::new(),
    };
    let one = |value: &Value| match value.as_str() {
        Some(text) if all.is_empty() => Ok(text.to_owned()),
        _ => term(value, &all),
    };
    let values = if question == "is" {
        vec![one(value)?]
    } else {
        let list = value
            .as_array()
            .filter(|list| !list.is_empty())
            .ok_or_else(|| "`is_one_of` is a list of at least one text".to_owned())?;
        list.iter().map(one).collect::<Result<_, _>>()?
    };
    Ok(Test::Is { values, all })
}

fn term(value: &Value, all: &[String]) -> Result<String, String> {
    match value.as_str() {
        Some(text) if all.iter().any(|one| one == text) => Ok(text.to_owned()),
        _ => Err(format!(
            "{value} is none of its terms; they are {}",
            all.join(", ")
        )),
    }
}

fn limit(value: &Value, dimension: Dimension) -> Result<Limit, String> {
    let text = value.as_str().ok_or_else(|| {
        format!(
            "the limit is {value}; a text with a unit is needed, such as \"5.0 {}\"",
            dimension.canonical_unit()
        )
    })?;
    let reading =
        read_signed(text, dimension).map_err(|error| format!("{error}; {}", error.hint()))?;
    Ok(Limit {
        text: text.to_owned(),
        value: reading.rounded().to_f64(),
        unit: dimension.canonical_unit(),
    })
}

fn count(value: &Value) -> Result<Limit, String> {
    let number = value
        .as_i64()
        .and_then(|number| i32::try_from(number).ok())
        .ok_or_else(|| format!("the limit is {value}; a whole number is needed"))?;
    Ok(Limit {
        text: number.to_string(),
        value: f64::from(number),
        unit: Unit::One,
    })
}

fn date(value: &Value) -> Result<PartialDate, String> {
    value
        .as_str()
        .and_then(|text| text.parse().ok())
        .ok_or_else(|| format!("the date is {value}; a text such as \"1600\", \"1600-03\" or \"1600-03-01\" is needed"))
}
