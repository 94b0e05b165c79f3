//! The map that says what each column of a table is.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use serde::Deserialize;
use tangmark_core::check::nearest;
use tangmark_core::record::Term as _;
use tangmark_core::units::Dimension;
use tangmark_core::units::reading::read;

use super::super::BooksError;
use super::cells::{Order, Writing};
use super::places::{Holds, Step, holds, steps};
use super::text::{Encoding, SEPARATORS};
use crate::stage::Stage;
use crate::terms::TermLine;

/// How dates are written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
pub(super) enum Dates {
    #[default]
    #[serde(rename = "YYYY-MM-DD")]
    Iso,
    #[serde(rename = "YYYY/MM/DD")]
    YearMonthDaySlashes,
    #[serde(rename = "YYYY.MM.DD")]
    YearMonthDayDots,
    #[serde(rename = "DD.MM.YYYY")]
    DayMonthYearDots,
    #[serde(rename = "DD/MM/YYYY")]
    DayMonthYearSlashes,
    #[serde(rename = "DD-MM-YYYY")]
    DayMonthYear,
    #[serde(rename = "MM/DD/YYYY")]
    MonthDayYear,
}

impl Dates {
    pub(super) const ALL: [Self; 7] = [
        Self::Iso,
        Self::YearMonthDaySlashes,
        Self::YearMonthDayDots,
        Self::DayMonthYearDots,
        Self::DayMonthYearSlashes,
        Self::DayMonthYear,
        Self::MonthDayYear,
    ];

    pub(super) const fn form(self) -> &'static str {
        match self {
            Self::Iso => "YYYY-MM-DD",
            Self::YearMonthDaySlashes => "YYYY/MM/DD",
            Self::YearMonthDayDots => "YYYY.MM.DD",
            Self::DayMonthYearDots => "DD.MM.YYYY",
            Self::DayMonthYearSlashes => "DD/MM/YYYY",
            Self::DayMonthYear => "DD-MM-YYYY",
            Self::MonthDayYear => "MM/DD/YYYY",
        }
    }

    pub(super) const fn mark(self) -> char {
        match self {
            Self::Iso | Self::DayMonthYear => '-',
            Self::YearMonthDaySlashes | Self::DayMonthYearSlashes | Self::MonthDayYear => '/',
            Self::YearMonthDayDots | Self::DayMonthYearDots => '.',
        }
    }

    pub(super) const fn order(self) -> Order {
        match self {
            Self::Iso | Self::YearMonthDaySlashes | Self::YearMonthDayDots => Order::YearFirst,
            Self::DayMonthYearDots | Self::DayMonthYearSlashes | Self::DayMonthYear => {
                Order::DayFirst
            }
            Self::MonthDayYear => Order::MonthFirst,
        }
    }
}

/// How numbers are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Numbers {
    pub(super) decimal: char,
    pub(super) thousands: Option<char>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
struct RawTable {
    encoding: Option<String>,
    separator: Option<String>,
    decimal: Option<String>,
    thousands: Option<String>,
    dates: Dates,
    currency: Option<String>,
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
enum Repeated {
    #[default]
    Refuse,
    Number,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawKey {
    column: String,
    #[serde(default)]
    repeated: Repeated,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawColumn {
    name: String,
    to: String,
    unit: Option<String>,
    method: Option<String>,
    currency: Option<String>,
    split: Option<String>,
    #[serde(default)]
    prefix: String,
    #[serde(default)]
    words: BTreeMap<String, String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawValue {
    to: String,
    value: toml::Value,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawMap {
    #[serde(default)]
    table: RawTable,
    key: RawKey,
    #[serde(default)]
    column: Vec<RawColumn>,
    #[serde(default)]
    value: Vec<RawValue>,
}

/// Entries of the journal that columns may fill, with their fields.
const JOURNAL: [(&str, &[(&str, JournalField)]); 4] = [
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
}

/// Where a value goes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Into {
    /// A place of the sheet.
    Sheet(Vec<Step>),
    /// A field of an entry of the journal: kind, number among its kind, field.
    Journal(&'static str, usize, &'static str),
}

impl Into {
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
            Step::Number(number) => text.push_str(&format!("[{number}]")),
        }
    }
    text
}

/// What a column or a fixed value becomes.
#[derive(Clone, Debug)]
pub(super) struct Target {
    /// The place as the map writes it.
    pub(super) to: String,
    pub(super) into: Into,
    pub(super) holds: Holds,
    pub(super) unit: Option<String>,
    pub(super) method: Option<String>,
    pub(super) currency: Option<String>,
    pub(super) split: Option<String>,
    pub(super) prefix: String,
    pub(super) words: BTreeMap<String, String>,
}

/// A map of columns.
#[derive(Clone, Debug)]
pub struct TableMap {
    pub(super) encoding: Option<Encoding>,
    pub(super) separator: Option<char>,
    pub(super) writing: Writing,
    /// Column of the key.
    pub(super) key: String,
    /// A key that is taken gets a number.
    pub(super) number_repeated: bool,
    /// Columns by name, with what becomes of them.
    pub(super) columns: Vec<(String, Target)>,
    /// Values that are the same in every row.
    pub(super) values: Vec<(String, Target)>,
}

impl TableMap {
    /// Reads a map.
    ///
    /// # Errors
    /// When it is no TOML of that form, or names a place, unit or form that there is not.
    pub fn read(file: &Path, text: &str) -> Result<Self, BooksError> {
        let fault = |what: String, hint: &str| BooksError::Map {
            file: file.to_owned(),
            what,
            hint: hint.to_owned(),
        };
        let raw: RawMap = toml::from_str(text).map_err(|error| {
            let line = error.span().map_or(1, |span| {
                text[..span.start.min(text.len())].matches('\n').count() + 1
            });
            fault(
                format!("line {line}: {}", error.message()),
                "mend the line; `tangmark book import FILE --suggest` writes a map with every column",
            )
        })?;
        let encoding = raw
            .table
            .encoding
            .map(|name| {
                Encoding::ALL
                    .into_iter()
                    .find(|one| one.name() == name)
                    .ok_or_else(|| {
                        fault(
                            format!("table.encoding: `{name}` found, utf-8, utf-16 or shift_jis is allowed"),
                            "leave it out: the encoding is found out by itself",
                        )
                    })
            })
            .transpose()?;
        let one = |what: &str, text: Option<String>, allowed: &[char]| {
            text.map(|text| {
                let mut letters = text.chars();
                match (letters.next(), letters.next()) {
                    (Some(letter), None) if allowed.contains(&letter) => Ok(letter),
                    _ => Err(fault(
                        format!(
                            "table.{what}: `{}` found, one of {allowed:?} is allowed",
                            text.escape_debug()
                        ),
                        "write one character",
                    )),
                }
            })
            .transpose()
        };
        let separator = one("separator", raw.table.separator, &SEPARATORS)?;
        let decimal = one("decimal", raw.table.decimal, &['.', ','])?.unwrap_or('.');
        let thousands = one("thousands", raw.table.thousands, &['.', ',', ' ', '\''])?;
        if thousands == Some(decimal) {
            return Err(fault(
                format!("table.thousands: `{decimal}` found, which stands before decimals already"),
                "take another character, or leave it out",
            ));
        }
        if let Some(code) = &raw.table.currency {
            currency(code)
                .map_err(|(what, hint)| fault(format!("table.currency: {what}"), hint))?;
        }
        let mut columns = Vec::new();
        let mut filled = BTreeSet::new();
        for column in raw.column {
            let target = column.target().map_err(|(what, hint)| {
                fault(format!("column `{}`: {what}", column.name), &hint)
            })?;
            // Only lists grow with each column that goes into them.
            let again =
                !filled.insert(target.to.clone()) && !matches!(target.holds, Holds::List(_));
            if again {
                return Err(fault(
                    format!(
                        "column `{}`: `{}` is filled by an earlier column already",
                        column.name, target.to
                    ),
                    "leave one of the two out, or give it a place of its own",
                ));
            }
            columns.push((column.name, target));
        }
        let mut values = Vec::new();
        for value in raw.value {
            let text = match value.value {
                toml::Value::String(text) => text,
                toml::Value::Integer(number) => number.to_string(),
                toml::Value::Boolean(yes) => if yes { "yes" } else { "no" }.to_owned(),
                toml::Value::Datetime(date) => date.to_string(),
                other => {
                    return Err(fault(
                        format!(
                            "value `{}`: {} found, a text in quotation marks is allowed",
                            value.to,
                            other.type_str()
                        ),
                        "put the value in quotation marks, as it would stand in a cell",
                    ));
                }
            };
            let target = plain_target(&value.to)
                .map_err(|(what, hint)| fault(format!("value `{}`: {what}", value.to), &hint))?;
            values.push((text, target));
        }
        Ok(Self {
            encoding,
            separator,
            writing: Writing {
                numbers: Numbers { decimal, thousands },
                dates: raw.table.dates,
                currency: raw.table.currency,
            },
            key: raw.key.column,
            number_repeated: raw.key.repeated == Repeated::Number,
            columns,
            values,
        })
    }
}

fn currency(code: &str) -> Result<(), (String, &'static str)> {
    if code.len() == 3 && code.bytes().all(|letter| letter.is_ascii_uppercase()) {
        Ok(())
    } else {
        Err((
            format!("`{code}` found, three capital letters (ISO 4217) are allowed"),
            "write it like EUR",
        ))
    }
}

/// What a place in a map is, without what a column adds.
fn plain_target(to: &str) -> Result<Target, (String, String)> {
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

fn place(to: &str) -> Result<(Into, Holds), (String, String)> {
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
        };
        return Ok((Into::Journal(kind, number, field), holds));
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
    Ok((Into::Sheet(parts), found))
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

impl RawColumn {
    fn target(&self) -> Result<Target, (String, String)> {
        let mut target = plain_target(&self.to)?;
        let dimension = match &target.holds {
            Holds::Quantity(dimension) => Some(*dimension),
            Holds::List(inner) => match **inner {
                Holds::Quantity(dimension) => Some(dimension),
                _ => None,
            },
            _ => None,
        };
        if let Some(unit) = &self.unit {
            let Some(dimension) = dimension else {
                return Err((
                    format!("unit `{unit}` found, `{}` is no measured value", self.to),
                    "leave the unit out".to_owned(),
                ));
            };
            // The reader itself knows which units it takes.
            if read(&format!("1 {unit}"), dimension).is_err() {
                return Err((
                    format!(
                        "unit `{unit}` found, {} are allowed",
                        dimension.allowed_units()
                    ),
                    "name one of these".to_owned(),
                ));
            }
        }
        if self.split.is_some() && !matches!(target.holds, Holds::List(_)) {
            return Err((
                format!("`split` found, `{}` holds one value", self.to),
                "leave `split` out".to_owned(),
            ));
        }
        if self.split.as_deref() == Some("") {
            return Err((
                "`split` is empty, the text between two values is allowed".to_owned(),
                "write it like split = \";\"".to_owned(),
            ));
        }
        if let Some(code) = &self.currency {
            currency(code).map_err(|(what, hint)| (format!("currency {what}"), hint.to_owned()))?;
        }
        target.unit.clone_from(&self.unit);
        target.method.clone_from(&self.method);
        target.currency.clone_from(&self.currency);
        target.split.clone_from(&self.split);
        target.prefix.clone_from(&self.prefix);
        target.words.clone_from(&self.words);
        Ok(target)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn read(text: &str) -> Result<TableMap, BooksError> {
        TableMap::read(Path::new("m.toml"), text)
    }

    const KEY: &str = "[key]\ncolumn = \"Nr\"\n";

    #[test]
    fn a_map_names_places_units_and_words() {
        let map = read(&format!(
            "[table]\nseparator = \";\"\ndecimal = \",\"\nthousands = \".\"\ndates = \"DD.MM.YYYY\"\ncurrency = \"EUR\"\n{KEY}\
             [[column]]\nname = \"Länge\"\nto = \"dimensions.blade_length\"\nunit = \"cm\"\n\
             [[column]]\nname = \"Preis\"\nto = \"cost[1].amount\"\n\
             [[value]]\nto = \"custody[0].kind\"\nvalue = \"bought\"\n"
        ))
        .unwrap();
        assert_eq!(map.separator, Some(';'));
        assert_eq!(map.columns.len(), 2);
        assert_eq!(map.columns[1].1.into, Into::Journal("cost", 1, "amount"));
        assert_eq!(map.values[0].1.into.part().as_deref(), Some("custody[0]"));
        assert_eq!(map.columns[0].1.into.part().as_deref(), Some("dimensions"));
    }

    #[test]
    fn what_a_map_cannot_mean_is_told() {
        let column = |more: &str| format!("{KEY}[[column]]\nname = \"A\"\n{more}\n");
        for (text, what) in [
            (String::new(), "m.toml: line 1: missing field `key`"),
            (
                column("to = \"dimensions.blade_lenth\""),
                "m.toml: column `A`: there is no place `dimensions.blade_lenth` that a column could fill",
            ),
            (
                column("to = \"dimensions.mass\"\nunit = \"cm\""),
                "m.toml: column `A`: unit `cm` found, g, kg, oz, lb, momme are allowed",
            ),
            (
                column("to = \"blade.title\"\nunit = \"cm\""),
                "m.toml: column `A`: unit `cm` found, `blade.title` is no measured value",
            ),
            (
                column("to = \"blade.title\"\n[[column]]\nname = \"B\"\nto = \"blade.title\""),
                "m.toml: column `B`: `blade.title` is filled by an earlier column already",
            ),
            (
                column("to = \"cost.sum\""),
                "m.toml: column `A`: there is no place `cost.sum` that a column could fill",
            ),
            (
                column("to = \"blade.title\"\nsplit = \";\""),
                "m.toml: column `A`: `split` found, `blade.title` holds one value",
            ),
            (
                format!("[table]\nseparator = \"|\"\n{KEY}"),
                "m.toml: table.separator: `|` found, one of [',', ';', '\\t'] is allowed",
            ),
        ] {
            assert_eq!(read(&text).unwrap_err().to_string(), what);
        }
        let error = read(&column("to = \"dimensions.blade_lenth\"")).unwrap_err();
        assert_eq!(error.hint(), "did you mean `dimensions.blade_length`?");
    }
}
