//! The map that says what each column of a table is.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use serde::Deserialize;
use tangmark_core::units::reading::read;

use super::super::BooksError;
use super::cells::{Order, Writing};
use super::places::Holds;
use super::targets::{Target, plain_target};
use super::text::{Encoding, SEPARATORS};

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
            Self::Iso | Self::YearMonthDaySlashes | Self::YearMonthDayDots => Order::Year,
            Self::DayMonthYearDots | Self::DayMonthYearSlashes | Self::DayMonthYear => Order::Day,
            Self::MonthDayYear => Order::Month,
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
    use super::super::targets::Aim;
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
        assert_eq!(map.columns[1].1.into, Aim::Journal("cost", 1, "amount"));
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
