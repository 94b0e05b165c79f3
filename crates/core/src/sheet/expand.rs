//! Fills in the record's long forms where a sheet uses a short one, guided by the schema.

use std::collections::BTreeMap;
use std::str::FromStr as _;

use serde_json::{Value, json};

use super::PhotoFinder;
use crate::check::Problem;
use crate::record::{CustodyKind, QUANTITY_DEFINITIONS, Quantity, Term as _};
use crate::schema;
use crate::units::reading::read_signed;
use crate::units::{Decimal, Dimension};

/// Expands `sheet` in place and returns what could not be understood.
pub(super) fn expand(sheet: &mut Value, photos: &mut PhotoFinder<'_>) -> Vec<Problem> {
    let root = schema::sheet();
    let mut expander = Expander {
        root,
        limits: instrument_limits(sheet),
        photos,
        problems: Vec::new(),
    };
    expander.walk(root, sheet, &mut String::new());
    expander.problems
}

/// Limits of error of the sheet's instruments, as half-widths in the record's unit.
fn instrument_limits(sheet: &Value) -> BTreeMap<String, (Dimension, f64)> {
    let mut limits = BTreeMap::new();
    let instruments = sheet
        .pointer("/examination/instruments")
        .and_then(Value::as_array);
    for instrument in instruments.into_iter().flatten() {
        let (Some(id), Some(limit)) = (instrument["id"].as_str(), instrument.get("limit_of_error"))
        else {
            continue;
        };
        let text = limit.as_str().or_else(|| limit["text"].as_str());
        let Some(text) = text else { continue };
        if let Some((dimension, value)) = any_dimension(text) {
            limits.insert(id.to_owned(), (dimension, value));
        }
    }
    limits
}

fn any_dimension(text: &str) -> Option<(Dimension, f64)> {
    QUANTITY_DEFINITIONS.iter().find_map(|(_, dimension)| {
        let reading = read_signed(text, *dimension).ok()?;
        Some((*dimension, num_traits::ToPrimitive::to_f64(&reading.exact)?))
    })
}

struct Expander<'a, 'p> {
    root: &'a Value,
    limits: BTreeMap<String, (Dimension, f64)>,
    photos: &'a mut PhotoFinder<'p>,
    problems: Vec<Problem>,
}

impl Expander<'_, '_> {
    fn walk(&mut self, schema: &Value, value: &mut Value, pointer: &mut String) {
        if let Some(name) = schema["$ref"]
            .as_str()
            .and_then(|name| name.strip_prefix("#/$defs/"))
        {
            if let Some((_, dimension)) = QUANTITY_DEFINITIONS
                .iter()
                .find(|(definition, _)| *definition == name)
            {
                return self.quantity(*dimension, value, pointer);
            }
            match name {
                "AsRead" => return self.as_read(value, pointer),
                "Decimal" => return decimal(value),
                "When" => when(value),
                "Money" => money(value),
                "CustodyEvent" => maps_to(value),
                "Photo" => self.photo(value, pointer),
                _ => {}
            }
            let definition = &self.root["$defs"][name];
            return self.walk(definition, value, pointer);
        }
        match value {
            Value::Object(members) => {
                for (name, member) in members.iter_mut() {
                    let property = &schema["properties"][name.as_str()];
                    if property.is_object() {
                        self.nested(
                            property,
                            member,
                            pointer,
                            &name.replace('~', "~0").replace('/', "~1"),
                        );
                    }
                }
            }
            Value::Array(items) => {
                let item_schema = &schema["items"];
                if item_schema.is_object() {
                    for (index, item) in items.iter_mut().enumerate() {
                        self.nested(item_schema, item, pointer, &index.to_string());
                    }
                }
            }
            _ => {}
        }
    }

    fn nested(&mut self, schema: &Value, value: &mut Value, pointer: &mut String, token: &str) {
        let length = pointer.len();
        pointer.push('/');
        pointer.push_str(token);
        self.walk(schema, value, pointer);
        pointer.truncate(length);
    }

    fn problem(&mut self, pointer: &str, what: impl Into<String>, hint: impl Into<String>) {
        self.problems.push(Problem::new(pointer, what, hint));
    }

    fn quantity(&mut self, dimension: Dimension, value: &mut Value, pointer: &str) {
        let mut instrument = None;
        let mut method = None;
        let mut stated = None;
        let texts: Vec<String> = match value {
            Value::String(text) => vec![text.clone()],
            Value::Object(members) if members.contains_key("as_read") => return,
            Value::Object(members) => {
                let allowed = ["text", "readings", "uncertainty", "instrument", "method"];
                if let Some(unknown) = members.keys().find(|key| !allowed.contains(&key.as_str())) {
                    let what = format!("unknown field `{unknown}` of a quantity");
                    return self.problem(
                        pointer,
                        what,
                        format!("fields of a quantity are {}", allowed.join(", ")),
                    );
                }
                instrument = members.get("instrument").cloned();
                method = members.get("method").cloned();
                stated = members
                    .get("uncertainty")
                    .and_then(Value::as_str)
                    .map(str::to_owned);
                if members.contains_key("uncertainty") && stated.is_none() {
                    return self.problem(
                        pointer,
                        "the uncertainty is not a text with a unit",
                        "write the standard uncertainty (k = 1) like \"0.2 mm\"",
                    );
                }
                match (
                    members.get("text").and_then(Value::as_str),
                    members.get("readings"),
                ) {
                    (Some(text), None) => vec![text.to_owned()],
                    (None, Some(Value::Array(readings)))
                        if readings.iter().all(Value::is_string) =>
                    {
                        readings
                            .iter()
                            .filter_map(Value::as_str)
                            .map(str::to_owned)
                            .collect()
                    }
                    _ => {
                        return self.problem(
                            pointer,
                            "a quantity needs either `text` or a list of texts in `readings`",
                            "write { text = \"70.15 cm\" } or { readings = [\"70.15 cm\", \"70.10 cm\"] }",
                        );
                    }
                }
            }
            other => {
                let what = format!("`{}` found, a text with its unit is allowed", short(other));
                return self.problem(
                    pointer,
                    what,
                    "write the number with its unit in quotation marks, for example \"70.15 cm\"",
                );
            }
        };
        let limit = instrument
            .as_ref()
            .and_then(Value::as_str)
            .and_then(|id| self.limits.get(id))
            .filter(|(of, _)| *of == dimension)
            .map(|(_, limit)| *limit);
        match Quantity::from_readings(&texts, dimension, stated.as_deref(), limit) {
            Ok(quantity) => {
                let mut long = serde_json::to_value(quantity).unwrap_or_default();
                for (name, part) in [("instrument", instrument), ("method", method)] {
                    if let Some(part) = part {
                        long[name] = part;
                    }
                }
                *value = long;
            }
            Err(error) => self.problem(pointer, error.to_string(), error.hint()),
        }
    }

    /// `file = "photos/whole.jpg"` stands for the facts of that file.
    fn photo(&mut self, value: &mut Value, pointer: &str) {
        let Value::Object(members) = value else {
            return;
        };
        let Some(file) = members.get("file") else {
            return;
        };
        let found = match (file.as_str(), members.contains_key("original")) {
            (_, true) => {
                Err("`file` and `original` stand together, one of them is allowed".to_owned())
            }
            (None, _) => Err(format!(
                "`{}` found, a path in quotation marks is allowed",
                short(file)
            )),
            (Some(path), false) => (self.photos)(path),
        };
        match found {
            Ok(facts) => {
                members.remove("file");
                members.insert("original".to_owned(), json!(facts));
            }
            Err(what) => {
                self.problem(
                    &format!("{pointer}/file"),
                    what,
                    "give the path of a JPEG file, relative to the sheet",
                );
            }
        }
    }

    fn as_read(&mut self, value: &mut Value, pointer: &str) {
        let Value::String(text) = value else { return };
        let reading = QUANTITY_DEFINITIONS
            .iter()
            .find_map(|(_, dimension)| read_signed(text, *dimension).ok());
        if let Some(reading) = reading { *value = json!({ "text": reading.text, "unit": reading.unit_written }) } else {
            let what = format!("`{text}` is not a number with a unit");
            self.problem(pointer, what, "write it like \"0.01 mm\" or \"0.1 g\"");
        }
    }
}

fn short(value: &Value) -> String {
    value.to_string().chars().take(60).collect()
}

/// A whole number may stand for a decimal.
fn decimal(value: &mut Value) {
    if let Some(number) = value.as_i64() {
        *value = Value::String(number.to_string());
    }
}

/// `"1868..1912"` and `"1868"` stand for limits.
fn when(value: &mut Value) {
    if let Value::String(text) = value {
        let (earliest, latest) = text.split_once("..").unwrap_or((text, text));
        *value = json!({ "earliest": earliest.trim(), "latest": latest.trim() });
    }
}

/// `"1200 EUR"` stands for an amount of money.
fn money(value: &mut Value) {
    if let Value::String(text) = value
        && let Some((amount, currency)) = text.trim().split_once(' ')
            && Decimal::from_str(amount).is_ok() {
                *value = json!({ "amount": amount, "currency": currency.trim() });
            }
}

/// The terms an event maps to follow from its kind.
fn maps_to(value: &mut Value) {
    let Value::Object(event) = value else { return };
    if event.contains_key("maps_to") {
        return;
    }
    let kind = event.get("kind").and_then(Value::as_str);
    if let Some(kind) = CustodyKind::ALL
        .iter()
        .find(|term| Some(term.key()) == kind)
    {
        event.insert("maps_to".to_owned(), json!(kind.maps_to()));
    }
}
