//! TOML to a JSON value, with the place of every value.

use std::collections::BTreeMap;

use serde_json::{Map, Value};
use toml::Spanned;
use toml::de::{DeTable, DeValue};
use unicode_normalization::UnicodeNormalization as _;

use super::problem::{Place, SheetError};
use crate::json::line_column;

/// Deepest nesting of a sheet.
const DEEPEST: usize = 32;

pub(super) fn parse(bytes: &[u8]) -> Result<(Value, BTreeMap<String, Place>), SheetError> {
    let text = std::str::from_utf8(bytes).map_err(|error| {
        let place = place_of(bytes, error.valid_up_to());
        SheetError::single(
            Some(place),
            "",
            "bytes that are not UTF-8 found, UTF-8 text is allowed".to_owned(),
            "save the sheet as UTF-8".to_owned(),
        )
    })?;
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let table = DeTable::parse(text).map_err(|error| {
        let place = error.span().map(|span| place_of(text.as_bytes(), span.start));
        let what = error.message().lines().next().unwrap_or("not TOML").to_owned();
        SheetError::single(
            place,
            "",
            what,
            "texts stand in quotation marks, one `key = value` a line; `examine new` writes a template".to_owned(),
        )
    })?;
    let mut walk = Walk {
        text,
        places: BTreeMap::new(),
    };
    walk.places
        .insert(String::new(), Place { line: 1, column: 1 });
    let value = walk.table(table.get_ref(), "", 0)?;
    Ok((value, walk.places))
}

fn place_of(bytes: &[u8], offset: usize) -> Place {
    let position = line_column(bytes, offset);
    Place {
        line: position.line,
        column: position.column,
    }
}

struct Walk<'a> {
    text: &'a str,
    places: BTreeMap<String, Place>,
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
            let name: String = key.get_ref().nfc().collect();
            let inner = format!("{pointer}/{}", name.replace('~', "~0").replace('/', "~1"));
            let place = place_of(self.text.as_bytes(), key.span().start);
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
        let place = place_of(self.text.as_bytes(), value.span().start);
        let refuse = |what: String, hint: &str| {
            Err(SheetError::single(
                Some(place),
                &pointer[1..].replace('/', "."),
                what,
                hint.to_owned(),
            ))
        };
        if depth > DEEPEST {
            return refuse(
                format!("nesting of {depth} found, {DEEPEST} is allowed"),
                "flatten the sheet",
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
                            format!("the number {digits} is out of range"),
                            "write it as a text",
                        );
                    }
                }
            }
            DeValue::Float(number) => {
                return refuse(
                    format!(
                        "the bare number {} found, a text with its unit is allowed",
                        number.as_str()
                    ),
                    "write the number with its unit in quotation marks, for example \"70.15 cm\"",
                );
            }
            DeValue::Datetime(time) => Value::String(time.to_string()),
            DeValue::Array(items) => {
                let mut list = Vec::new();
                for (index, item) in items.iter().enumerate() {
                    let inner = format!("{pointer}/{index}");
                    self.places.insert(
                        inner.clone(),
                        place_of(self.text.as_bytes(), item.span().start),
                    );
                    list.push(self.value(item, &inner, depth + 1)?);
                }
                Value::Array(list)
            }
            DeValue::Table(table) => self.table(table, pointer, depth)?,
        })
    }
}
