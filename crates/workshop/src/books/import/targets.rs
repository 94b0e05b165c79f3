//! Where a column or a fixed value goes: a place of the sheet, or a field of an entry of the journal.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use tangmark_core::check::nearest;
use tangmark_core::record::Term as _;
use tangmark_core::units::Dimension;

use super::places::{Holds, Step, holds, steps};
use crate::intake::CameAs;
use crate::stage::Stage;
use crate::terms::TermLine;

/// Entries of the journal that columns may fill, with their fields.
const JOURNAL: [(&str, &[(&str, JournalField)]); 5] = [
    (
        "cost",
        &[
            ("amount", JournalField::Money),
            ("for", JournalField::Words),
            ("paid_to", JournalField::Words),
            ("on", JournalField::Day),
        ],
    ),
    (
        "income",
        &[
            ("amount", JournalField::Money),
            ("for", JournalField::Words),
            ("from", JournalField::Words),
            ("on", JournalField::Day),
        ],
    ),
    (
        "hours",
        &[
            ("time", JournalField::Time),
            ("for", JournalField::Words),
            ("on", JournalField::Day),
        ],
    ),
    (
        "intake",
        &[
            ("as", JournalField::CameAs),
            ("carrier", JournalField::Words),
            ("came", JournalField::Words),
            ("on", JournalField::Day),
        ],
    ),
    (
        "stage",
        &[
            ("stage", JournalField::Stage),
            ("note", JournalField::Words),
            ("on", JournalField::Day),
        ],
    ),
];

#[derive(Clone, Copy, Debug)]
enum JournalField {
    Money,
    Words,
    Day,
    Time,
    Stage,
    CameAs,
}

/// Where a value goes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Aim {
    /// A place of the sheet.
    Sheet(Vec<Step>),
    /// A field of an entry of the journal: kind, number among its kind, field.
    Journal(&'static str, usize, &'static str),
}

impl Aim {
    /// The part that a column of the row has to fill before a fixed value is taken: the innermost element of a list, else
    /// the section. What is in `blade` itself needs none.
    pub(super) fn part(&self) -> Option<String> {
        match self {
            Self::Journal(kind, number, _) => Some(format!("{kind}[{number}]")),
            Self::Sheet(steps) => {
                let element = steps
                    .iter()
                    .rposition(|step| matches!(step, Step::Number(_)));
                let part = shown(&steps[..element.map_or(1, |at| at + 1)]);
                (part != "blade").then_some(part)
            }
        }
    }
}

/// Steps as a person writes them.
pub(super) fn shown(steps: &[Step]) -> String {
    let mut text = String::new();
    for step in steps {
        match step {
            Step::Name(name) if text.is_empty() => text.push_str(name),
            Step::Name(name) => {
                text.push('.');
                text.push_str(name);
            }
            Step::Number(number) => {
                let _ = write!(text, "[{number}]");
            }
        }
    }
    text
}

/// What a column or a fixed value becomes.
#[derive(Clone, Debug)]
pub(super) struct Target {
    /// The place as the map writes it.
    pub(super) to: String,
    pub(super) into: Aim,
    pub(super) holds: Holds,
    pub(super) unit: Option<String>,
    pub(super) method: Option<String>,
    pub(super) currency: Option<String>,
    pub(super) split: Option<String>,
    pub(super) prefix: String,
    pub(super) words: BTreeMap<String, String>,
}

/// What a place in a map is, without what a column adds.
pub(super) fn plain_target(to: &str) -> Result<Target, (String, String)> {
    let (into, holds) = place(to)?;
    Ok(Target {
        to: to.to_owned(),
        into,
        holds,
        unit: None,
        method: None,
        currency: None,
        split: None,
        prefix: String::new(),
        words: BTreeMap::new(),
    })
}

fn place(to: &str) -> Result<(Aim, Holds), (String, String)> {
    let unknown = |hint: String| {
        (
            format!("there is no place `{to}` that a column could fill"),
            hint,
        )
    };
    let usual = "write it like dimensions.blade_length, custody[0].price or cost.amount; `tangmark schema show` lists the fields of a sheet";
    let parts = steps(to).ok_or_else(|| unknown(usual.to_owned()))?;
    if let Some(Step::Name(first)) = parts.first()
        && let Some((kind, fields)) = JOURNAL.iter().find(|(kind, _)| kind == first)
    {
        let (number, field) = match &parts[1..] {
            [Step::Name(field)] => (0, field),
            [Step::Number(number), Step::Name(field)] => (*number, field),
            _ => return Err(unknown(usual.to_owned())),
        };
        let Some((field, holds)) = fields.iter().find(|(name, _)| name == field) else {
            let names: Vec<&str> = fields.iter().map(|(name, _)| *name).collect();
            return Err(unknown(format!(
                "fields of {kind} are {}",
                names.join(", ")
            )));
        };
        let holds = match holds {
            JournalField::Money => Holds::Money,
            JournalField::Words => Holds::Words,
            JournalField::Day => Holds::Date,
            JournalField::Time => Holds::Quantity(Dimension::Duration),
            JournalField::Stage => Holds::Term(stages()),
            JournalField::CameAs => Holds::Term(ways()),
        };
        return Ok((Aim::Journal(kind, number, field), holds));
    }
    if to == "blade.id" {
        return Err(unknown(
            "the key of the blade comes from the column under [key]".to_owned(),
        ));
    }
    let found = holds(&parts).ok_or_else(|| {
        // The nearest place of the same section says more than the whole list.
        let near = near(&parts);
        unknown(near.map_or_else(
            || usual.to_owned(),
            |near| format!("did you mean `{near}`?"),
        ))
    })?;
    Ok((Aim::Sheet(parts), found))
}

/// The stages of the work, as the terms of a list.
fn stages() -> Vec<TermLine> {
    let line = |stage: &Stage| TermLine {
        key: stage.key(),
        kanji: stage.kanji(),
        gloss: stage.gloss(),
    };
    Stage::ALL.iter().map(line).collect()
}

/// The ways in which a blade comes, as the terms of a list.
fn ways() -> Vec<TermLine> {
    let line = |way: CameAs| TermLine {
        key: way.word(),
        kanji: "",
        gloss: way.word(),
    };
    CameAs::ALL.into_iter().map(line).collect()
}

/// The nearest name of the last step among those there are beside it.
fn near(parts: &[Step]) -> Option<String> {
    let (last, above) = parts.split_last()?;
    let Step::Name(last) = last else { return None };
    let root = tangmark_core::schema::sheet();
    let mut schema = root;
    for step in above.iter().map(Some).chain([None]) {
        if let Some(name) = schema["$ref"]
            .as_str()
            .and_then(|name| name.strip_prefix("#/$defs/"))
        {
            schema = &root["$defs"][name];
        }
        match step {
            Some(Step::Name(name)) => schema = &schema["properties"][name.as_str()],
            Some(Step::Number(_)) => schema = &schema["items"],
            None => {}
        }
    }
    let names: Vec<String> = schema["properties"].as_object()?.keys().cloned().collect();
    let found = nearest(last, &names)?;
    let mut parts = above.to_vec();
    parts.push(Step::Name(found.to_owned()));
    Some(shown(&parts))
}
