//! Fills in the record's long forms where a sheet uses a short one, guided by the schema.

use std::collections::BTreeMap;
use std::str::FromStr as _;

use serde_json::{Value, json};

use super::PhotoFinder;
use crate::check::{Problem, nearest};
use crate::record::{
    CustodyKind, Money, PartialDate, QUANTITY_DEFINITIONS, Quantity, QuantityError, Term as _,
};
use crate::schema;
use crate::units::Dimension;
use crate::units::reading::read_signed;

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
                "Money" => self.money(value, pointer),
                "PartialDate" => self.date(value, pointer),
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
                    if name == "_sd" || name == "_sd_alg" {
                        self.problem(
                            &format!("{pointer}/{name}"),
                            "digests of withheld values found, a sheet states the values themselves",
                            "remove the field: sealing withholds names, numbers and prices by itself",
                        );
                        continue;
                    }
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
        if value.get("as_read").is_some() {
            return;
        }
        let written = match Written::of(value, dimension) {
            Ok(written) => written,
            Err((inner, what, hint)) => {
                return self.problem(&format!("{pointer}{inner}"), what, hint);
            }
        };
        // Read each text by itself first, so that the problem names the one it is in.
        let mut sound = true;
        for (inner, text) in &written.texts {
            if let Err(error) = read_signed(text, dimension) {
                self.problem(
                    &format!("{pointer}{inner}"),
                    error.to_string(),
                    error.hint(),
                );
                sound = false;
            }
        }
        let stated = written.uncertainty.as_deref();
        if let Some(error) = stated.and_then(|text| read_signed(text, dimension).err()) {
            let what = format!("the standard uncertainty {error}");
            self.problem(&format!("{pointer}/uncertainty"), what, error.hint());
            sound = false;
        }
        if !sound {
            return;
        }
        let limit = written
            .instrument
            .as_ref()
            .and_then(Value::as_str)
            .and_then(|id| self.limits.get(id))
            .filter(|(of, _)| *of == dimension)
            .map(|(_, limit)| *limit);
        let texts: Vec<String> = written.texts.into_iter().map(|(_, text)| text).collect();
        match Quantity::from_readings(&texts, dimension, stated, limit) {
            Ok(quantity) => {
                let mut long = serde_json::to_value(quantity).unwrap_or_default();
                for (name, part) in [
                    ("instrument", written.instrument),
                    ("method", written.method),
                ] {
                    if let Some(part) = part {
                        long[name] = part;
                    }
                }
                *value = long;
            }
            Err(QuantityError::Uncertainty(text)) => {
                let what = format!(
                    "`{}` found, a standard uncertainty above zero is allowed",
                    cut(&text)
                );
                let example = examples(dimension).2;
                let hint = format!(
                    "write it (k = 1) like \"{example}\", or leave it out: the step of the reading then counts"
                );
                self.problem(&format!("{pointer}/uncertainty"), what, hint);
            }
            Err(error) => self.problem(pointer, error.to_string(), error.hint()),
        }
    }

    /// A date that is a bare number, or no date of the calendar.
    fn date(&mut self, value: &Value, pointer: &str) {
        let allowed = "a date written like 2026, 2026-11 or 2026-11-25 is allowed";
        match value {
            Value::String(text) if PartialDate::from_str(text).is_err() => self.problem(
                pointer,
                format!("`{}` found, {allowed}", cut(text)),
                "write the year, year-month or year-month-day as far as it is known, with hyphens",
            ),
            Value::Number(number) => {
                self.problem(
                    pointer,
                    format!("the bare number {number} found, {allowed}"),
                    format!("put it in quotation marks: \"{number}\""),
                );
            }
            // Other types are the schema's business.
            _ => {}
        }
    }

    /// `"1200 EUR"` stands for an amount of money.
    fn money(&mut self, value: &mut Value, pointer: &str) {
        let written = match value {
            Value::String(text) => text.trim().to_owned(),
            Value::Number(number) => number.to_string(),
            _ => return,
        };
        match Money::from_str(&written) {
            Ok(money) => *value = json!({ "amount": money.amount, "currency": money.currency }),
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
                cut(&file.to_string())
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
                    "give the path of a JPEG, PNG or TIFF file, relative to the sheet",
                );
            }
        }
    }

    fn as_read(&mut self, value: &mut Value, pointer: &str) {
        let Value::String(text) = value else { return };
        let reading = QUANTITY_DEFINITIONS
            .iter()
            .find_map(|(_, dimension)| read_signed(text, *dimension).ok());
        if let Some(reading) = reading {
            *value = json!({ "text": reading.text, "unit": reading.unit_written });
        } else {
            let what = format!("`{}` found, a number with its unit is allowed", cut(text));
            self.problem(pointer, what, "write it like \"0.01 mm\" or \"0.1 g\"");
        }
    }
}

/// A quantity as a sheet writes it.
struct Written {
    /// Where each text stands in the quantity, and the text.
    texts: Vec<(String, String)>,
    uncertainty: Option<String>,
    instrument: Option<Value>,
    method: Option<Value>,
}

impl Written {
    /// Takes a text or a table apart; else where, what was found and the next step.
    fn of(value: &Value, dimension: Dimension) -> Result<Self, (String, String, String)> {
        let with_unit = format!(
            "write the number with its unit in quotation marks, for example \"{}\"",
            examples(dimension).0
        );
        let table = match value {
            Value::String(text) => {
                let texts = vec![(String::new(), text.clone())];
                return Ok(Self {
                    texts,
                    uncertainty: None,
                    instrument: None,
                    method: None,
                });
            }
            Value::Object(table) => table,
            other => return Err((String::new(), bare(other), with_unit.clone())),
        };
        let allowed =
            ["text", "readings", "uncertainty", "instrument", "method"].map(str::to_owned);
        if let Some(unknown) = table.keys().find(|key| !allowed.contains(key)) {
            let hint = nearest(unknown, &allowed).map_or_else(
                || format!("fields of a quantity are {}", allowed.join(", ")),
                |near| format!("did you mean `{near}`?"),
            );
            return Err((
                format!("/{unknown}"),
                format!("unknown field `{}` of a quantity", cut(unknown)),
                hint,
            ));
        }
        let uncertainty = match table.get("uncertainty") {
            None => None,
            Some(Value::String(text)) => Some(text.clone()),
            Some(other) => {
                let hint = format!(
                    "write the standard uncertainty (k = 1) with its unit in quotation marks, for example \"{}\"",
                    examples(dimension).2
                );
                return Err(("/uncertainty".to_owned(), bare(other), hint));
            }
        };
        let texts = match (table.get("text"), table.get("readings")) {
            (Some(Value::String(text)), None) => vec![("/text".to_owned(), text.clone())],
            (None, Some(Value::Array(readings))) if !readings.is_empty() => readings
                .iter()
                .enumerate()
                .map(|(index, reading)| match reading {
                    Value::String(text) => Ok((format!("/readings/{index}"), text.clone())),
                    other => Err((format!("/readings/{index}"), bare(other), with_unit.clone())),
                })
                .collect::<Result<_, _>>()?,
            (Some(other), None) => {
                return Err(("/text".to_owned(), bare(other), with_unit.clone()));
            }
            (text, readings) => {
                let found = match (text, readings) {
                    (Some(_), Some(_)) => {
                        "both `text` and `readings` found, one of the two is allowed"
                    }
                    (None, Some(Value::Array(_))) => {
                        "an empty list of readings found, at least one reading is needed"
                    }
                    (None, Some(_)) => "`readings` is no list, a list of texts is allowed",
                    (None | Some(_), None) => {
                        "neither `text` nor `readings` found, one of the two is needed"
                    }
                };
                let (one, other, _) = examples(dimension);
                let hint = format!(
                    "write {{ text = \"{one}\" }} for one reading, {{ readings = [\"{one}\", \"{other}\"] }} for several"
                );
                return Err((String::new(), found.to_owned(), hint));
            }
        };
        let member = |name: &str| table.get(name).cloned();
        Ok(Self {
            texts,
            uncertainty,
            instrument: member("instrument"),
            method: member("method"),
        })
    }
}

/// A reading, another reading and an uncertainty, as a person would write them.
const fn examples(dimension: Dimension) -> (&'static str, &'static str, &'static str) {
    match dimension {
        Dimension::Mass => ("741.9 g", "742.0 g", "0.2 g"),
        Dimension::Angle => ("12.5 deg", "12.4 deg", "0.5 deg"),
        Dimension::Duration => ("45 min", "46 min", "1 min"),
        Dimension::Area => ("8 mm2", "9 mm2", "1 mm2"),
        Dimension::Temperature => ("18 °C", "19 °C", "1 °C"),
        Dimension::Fraction => ("3 %", "4 %", "0.5 %"),
        _ => ("70.15 cm", "70.10 cm", "0.2 mm"),
    }
}

fn bare(value: &Value) -> String {
    let found = match value {
        Value::Number(number) => format!("the bare number {number}"),
        other => format!("`{}`", cut(&other.to_string())),
    };
    format!("{found} found, a text with its unit is allowed")
}

fn cut(text: &str) -> String {
    let mut short: String = text.chars().take(60).collect();
    if short.len() < text.len() {
        short.push('…');
    }
    short
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
