//! TOML to a JSON value, with the place of every value.

use std::collections::BTreeMap;

use serde_json::{Map, Value};
use toml::Spanned;
use toml::de::{DeTable, DeValue};
use unicode_normalization::UnicodeNormalization as _;

use super::lines::Lines;
use super::problem::{Place, SheetError, dotted};
use crate::json::line_column;

/// Deepest nesting of a sheet.
const DEEPEST: usize = 32;
/// Most values of a sheet, as for JSON.
const MOST_VALUES: usize = 200_000;
/// Longest key, in characters; every field of a sheet is shorter.
const LONGEST_KEY: usize = 100;

pub(super) fn parse(bytes: &[u8]) -> Result<(Value, BTreeMap<String, Place>), SheetError> {
    let text = std::str::from_utf8(bytes).map_err(|error| {
        let at = error.valid_up_to();
        let position = line_column(bytes, at);
        SheetError::single(
            Some(Place {
                line: position.line,
                column: position.column,
            }),
            "",
            format!(
                "the byte {:02X} found, which is not UTF-8 here; UTF-8 text is allowed",
                bytes.get(at).copied().unwrap_or(0)
            ),
            "save the sheet as UTF-8 in your editor, then read it again".to_owned(),
        )
    })?;
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let lines = Lines::of(text);
    let table = DeTable::parse(text).map_err(|error| {
        let place = error.span().map(|span| lines.place(span.start));
        let message = error.message().lines().next().unwrap_or("not TOML");
        let line = place
            .and_then(|place| text.lines().nth(place.line - 1))
            .unwrap_or_default();
        let hint = grammar_hint(message, line);
        SheetError::single(place, "", format!("not TOML: {message}"), hint.to_owned())
    })?;
    let mut walk = Walk {
        lines: &lines,
        places: BTreeMap::new(),
        values: 0,
    };
    walk.places
        .insert(String::new(), Place { line: 1, column: 1 });
    let value = walk.table(table.get_ref(), "", 0)?;
    Ok((value, walk.places))
}

/// The next step after an error of the grammar in `line`.
fn grammar_hint(message: &str, line: &str) -> &'static str {
    let value = line.split_once('=').map_or("", |(_, value)| value.trim());
    if message.contains("duplicate key") {
        "remove one of the two; entries of a list start with `[[name]]`, each with keys of its own"
    } else if message.contains("recursion") {
        "take lists and tables out of one another: no field of a sheet is that deep"
    } else if value
        .starts_with(|letter: char| letter.is_ascii_digit() || matches!(letter, '-' | '+' | '.'))
    {
        "write the number with its unit in quotation marks and with a full stop for decimals, for example \"70.15 cm\""
    } else if line.matches('"').count() % 2 == 1 {
        "close the quotation marks on this line; write a quotation mark inside a text as \\\""
    } else {
        "write one `key = value` a line, texts in quotation marks; `tangmark examine new` writes a template"
    }
}

struct Walk<'a> {
    lines: &'a Lines<'a>,
    places: BTreeMap<String, Place>,
    values: usize,
}

impl Walk<'_> {
    fn table(
        &mut self,
        table: &DeTable<'_>,
        pointer: &str,
        depth: usize,
    ) -> Result<Value, SheetError> {
        let mut map = Map::new();
        for (key, value) in table {
            let place = self.lines.place(key.span().start);
            let length = key.get_ref().chars().count();
            if length > LONGEST_KEY {
                return Err(SheetError::single(
                    Some(place),
                    &dotted(pointer),
                    format!(
                        "a key of {length} characters found, at most {LONGEST_KEY} characters are allowed"
                    ),
                    "put texts behind the equals sign, not before it".to_owned(),
                ));
            }
            let name: String = key.get_ref().nfc().collect();
            let inner = format!("{pointer}/{}", name.replace('~', "~0").replace('/', "~1"));
            self.places.insert(inner.clone(), place);
            let value = self.value(value, &inner, depth + 1)?;
            map.insert(name, value);
        }
        Ok(Value::Object(map))
    }

    fn value(
        &mut self,
        value: &Spanned<DeValue<'_>>,
        pointer: &str,
        depth: usize,
    ) -> Result<Value, SheetError> {
        let place = self.lines.place(value.span().start);
        let refuse = |what: String, hint: &str| {
            Err(SheetError::single(
                Some(place),
                &dotted(pointer),
                what,
                hint.to_owned(),
            ))
        };
        self.values += 1;
        if depth > DEEPEST {
            // Named by its start only: the whole path is as long as the nesting is deep.
            let start: Vec<&str> = pointer.splitn(4, '/').take(3).collect();
            return Err(SheetError::single(
                Some(place),
                &dotted(&start.join("/")),
                format!("a value inside {depth} others found, {DEEPEST} levels are allowed"),
                "take lists and tables out of one another: no field of a sheet is that deep"
                    .to_owned(),
            ));
        }
        if self.values > MOST_VALUES {
            return refuse(
                format!("more than {MOST_VALUES} values found"),
                "split the sheet: one sheet describes one blade",
            );
        }
        Ok(match value.get_ref() {
            DeValue::String(text) => Value::String(text.nfc().collect()),
            DeValue::Boolean(value) => Value::Bool(*value),
            DeValue::Integer(number) => {
                let digits = number.as_str().replace('_', "");
                match i64::from_str_radix(&digits, number.radix()) {
                    Ok(number) if number.unsigned_abs() < 1 << 53 => Value::from(number),
                    _ => {
                        return refuse(
                            format!(
                                "the number {} found, whole numbers below 2^53 are allowed",
                                shorten(&digits)
                            ),
                            "check the digits, or write a register number as a text in quotation marks",
                        );
                    }
                }
            }
            DeValue::Float(number) => {
                return refuse(
                    format!(
                        "the bare number {} found, a text with its unit is allowed",
                        shorten(number.as_str())
                    ),
                    "write the number with its unit in quotation marks, for example \"70.15 cm\"",
                );
            }
            DeValue::Datetime(time) => Value::String(time.to_string()),
            DeValue::Array(items) => {
                let mut list = Vec::new();
                for (index, item) in items.iter().enumerate() {
                    let inner = format!("{pointer}/{index}");
                    self.places
                        .insert(inner.clone(), self.lines.place(item.span().start));
                    list.push(self.value(item, &inner, depth + 1)?);
                }
                Value::Array(list)
            }
            DeValue::Table(table) => self.table(table, pointer, depth)?,
        })
    }
}

fn shorten(text: &str) -> String {
    if text.chars().count() > 40 {
        format!("{}…", text.chars().take(40).collect::<String>())
    } else {
        text.to_owned()
    }
}
