//! One row of a table, turned into a sheet and entries of the journal.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::{Value, json};
use tangmark_core::units::import::TableRow;

use super::super::guard::as_it_was;
use super::super::ledger::{for_what, money, party};
use super::super::{Amount, BooksError, Cost, Hours, Income};
use super::map::TableMap;
use super::places::{close_gaps, put};
use super::targets::{Aim, Target};
use super::{ImportProblem, SetValue};
use crate::intake::{CameAs, IntakeNote};
use crate::stage::{Stage, StageNote};

/// An entry of the journal that a row becomes, with its day.
#[derive(Clone, Debug)]
pub(super) enum Booked {
    Cost(Cost, String),
    Income(Income, String),
    Hours(Hours, String),
    Stage(StageNote, Option<String>),
    Intake(IntakeNote, Option<String>),
}

/// What a row becomes.
#[derive(Clone, Debug)]
pub(super) struct Ready {
    /// Cell of the key.
    pub(super) named: String,
    pub(super) body: Value,
    pub(super) booked: Vec<Booked>,
    pub(super) set: Vec<SetValue>,
}

/// The columns of a map by their place in the header.
pub(super) struct Columns<'m> {
    pub(super) key: usize,
    pub(super) mapped: Vec<(usize, &'m str, &'m Target)>,
    pub(super) count: usize,
}

type Fields = BTreeMap<&'static str, (Value, Option<String>)>;

struct Builder<'m> {
    line: u64,
    map: &'m TableMap,
    body: Value,
    journal: BTreeMap<(&'static str, usize), Fields>,
    set: Vec<SetValue>,
    parts: BTreeSet<String>,
    problems: Vec<ImportProblem>,
}

impl Builder<'_> {
    fn problem(&mut self, column: Option<&str>, to: Option<&str>, (what, hint): (String, String)) {
        self.problems.push(ImportProblem {
            line: self.line,
            column: column.map(str::to_owned),
            place: to.map(str::to_owned),
            what,
            hint,
        });
    }

    fn take(&mut self, cell: &str, column: Option<&str>, target: &Target) {
        // Words of the map may say that a cell says nothing, such as a dash.
        let worded = target.words.get(cell.trim()).map_or(cell, String::as_str);
        if worded.is_empty() {
            return;
        }
        let value = match self.map.writing.value(cell, target) {
            Ok(value) => value,
            Err(fault) => return self.problem(column, Some(&target.to), fault),
        };
        if column.is_some()
            && let Some(part) = target.into.part()
        {
            // A part that is filled is there with all above it.
            let mut above = part.as_str();
            loop {
                self.parts.insert(above.to_owned());
                match above.rfind(['.', '[']) {
                    Some(at) => above = &above[..at],
                    None => break,
                }
            }
        }
        self.set.push(SetValue {
            place: target.to.clone(),
            value: shown(&value),
        });
        match &target.into {
            Aim::Sheet(steps) => {
                if !put(&mut self.body, steps, value) {
                    self.problem(
                        column,
                        Some(&target.to),
                        (
                            format!(
                                "another column put something else where `{}` begins",
                                target.to
                            ),
                            "correct the places in the map".to_owned(),
                        ),
                    );
                }
            }
            Aim::Journal(kind, number, field) => {
                let fields = self.journal.entry((kind, *number)).or_default();
                fields.insert(field, (value, column.map(str::to_owned)));
            }
        }
    }

    fn booked(&mut self) -> Vec<Booked> {
        let journal = std::mem::take(&mut self.journal);
        let mut all = Vec::new();
        for ((kind, number), fields) in journal {
            match booked(kind, &fields) {
                Ok(one) => all.push(one),
                Err((field, error)) => {
                    let column = fields.get(field).and_then(|(_, column)| column.clone());
                    self.problem(
                        column.as_deref(),
                        Some(&format!("{kind}[{number}].{field}")),
                        error,
                    );
                }
            }
        }
        all
    }
}

/// A value as a person reads it.
fn shown(value: &Value) -> String {
    match value {
        Value::String(text) => text.clone(),
        Value::Array(all) => all.iter().map(shown).collect::<Vec<_>>().join("; "),
        other => match (other.get("text"), other.get("method")) {
            (Some(text), Some(method)) => format!("{} ({})", shown(text), shown(method)),
            _ => other.to_string(),
        },
    }
}

/// Makes an entry of its fields; else which field is wrong, and how.
fn booked(kind: &'static str, fields: &Fields) -> Result<Booked, (&'static str, (String, String))> {
    let text = |name: &'static str| fields.get(name).and_then(|(value, _)| value.as_str());
    let needed = |name: &'static str| {
        text(name).ok_or_else(|| {
            let hint = format!("map a column to it, or give it under [[value]]; {kind} needs it");
            (name, ("nothing found, a value is needed".to_owned(), hint))
        })
    };
    let as_fault =
        |name: &'static str| move |error: BooksError| (name, (error.to_string(), error.hint()));
    let day = |text: &str| {
        if text.len() == 10 {
            Ok(text.to_owned())
        } else {
            Err((
                "on",
                (
                    format!("`{text}` found, a whole day is allowed"),
                    "write year, month and day".to_owned(),
                ),
            ))
        }
    };
    Ok(match kind {
        "cost" => Booked::Cost(
            Cost {
                amount: money("cost", needed("amount")?).map_err(as_fault("amount"))?,
                what: for_what(needed("for")?).map_err(as_fault("for"))?,
                paid_to: text("paid_to")
                    .map(party)
                    .transpose()
                    .map_err(as_fault("paid_to"))?,
            },
            day(needed("on")?)?,
        ),
        "income" => Booked::Income(
            Income {
                amount: money("income", needed("amount")?).map_err(as_fault("amount"))?,
                what: for_what(needed("for")?).map_err(as_fault("for"))?,
                from: text("from")
                    .map(party)
                    .transpose()
                    .map_err(as_fault("from"))?,
            },
            day(needed("on")?)?,
        ),
        "hours" => Booked::Hours(
            Hours {
                time: Amount::read_time(needed("time")?).map_err(as_fault("time"))?,
                what: for_what(needed("for")?).map_err(as_fault("for"))?,
            },
            day(needed("on")?)?,
        ),
        "intake" => {
            let word = needed("as")?;
            let found = CameAs::ALL.into_iter().find(|way| way.word() == word);
            let unknown = || {
                (
                    "as",
                    (format!("`{word}` is no way a blade comes"), String::new()),
                )
            };
            let note = IntakeNote {
                came_as: found.ok_or_else(unknown)?,
                carrier: text("carrier").map(str::to_owned),
                came: text("came").map(str::to_owned).into_iter().collect(),
                hid: Vec::new(),
                countries: Vec::new(),
                prompts_shown: Vec::new(),
            };
            Booked::Intake(note, text("on").map(day).transpose()?)
        }
        _ => {
            let key = needed("stage")?;
            let unknown = || ("stage", (format!("`{key}` is no stage"), String::new()));
            let stage = Stage::of_key(key).ok_or_else(unknown)?;
            let note = StageNote::new(stage, text("note"))
                .map_err(|error| ("note", (error.to_string(), error.hint())))?;
            Booked::Stage(note, text("on").map(day).transpose()?)
        }
    })
}

/// Turns a row into a sheet and entries; else everything that is wrong with it.
pub(super) fn convert(
    row: &TableRow,
    columns: &Columns<'_>,
    map: &TableMap,
) -> Result<Ready, Vec<ImportProblem>> {
    let mut builder = Builder {
        line: row.line,
        map,
        body: json!({ "blade": {} }),
        journal: BTreeMap::new(),
        set: Vec::new(),
        parts: BTreeSet::new(),
        problems: Vec::new(),
    };
    if let Err(ragged) = row.fits(columns.count) {
        // With a cell too few or too many, no cell is sure to stand in its column.
        builder.problem(None, None, (ragged.to_string(), ragged.hint()));
        return Err(builder.problems);
    }
    let mut named = String::new();
    match row.cell(columns.key) {
        Ok(Some(cell)) => as_it_was(&cell).clone_into(&mut named),
        Ok(None) => builder.problem(
            Some(&map.key),
            None,
            (
                "nothing found, the name or number of the blade is needed".to_owned(),
                "fill the cell in, or take the row out".to_owned(),
            ),
        ),
        Err(reason) => builder.problem(Some(&map.key), None, (reason.to_string(), reason.hint())),
    }
    for (at, name, target) in &columns.mapped {
        match row.cell(*at) {
            Ok(None) => {}
            Ok(Some(cell)) => builder.take(as_it_was(&cell), Some(name), target),
            Err(reason) => {
                builder.problem(
                    Some(name),
                    Some(&target.to),
                    (reason.to_string(), reason.hint()),
                );
            }
        }
    }
    for (value, target) in &map.values {
        // What is the same in every row belongs to a part of the sheet that a column of this row fills.
        let wanted = target
            .into
            .part()
            .is_none_or(|part| builder.parts.contains(&part));
        if wanted {
            builder.take(value, None, target);
        }
    }
    let booked = builder.booked();
    close_gaps(&mut builder.body);
    if builder.problems.is_empty() {
        Ok(Ready {
            named,
            body: builder.body,
            booked,
            set: builder.set,
        })
    } else {
        Err(builder.problems)
    }
}
