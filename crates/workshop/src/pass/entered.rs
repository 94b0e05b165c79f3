//! What a person enters as a pass.
//!
//! A pass that is entered has the form of a `[[passes]]` block of a sheet, with two short forms more: `stone = "name"`
//! stands for the abrasive of that name in the workshop's list, and `photos` may hold `{ file, caption, shows }`.

use std::path::{Path, PathBuf};

use serde_json::{Map, Value, json};
use tangmark_core::json::{Limits, read_value};

use super::error::PassError;
use crate::{WorkshopError, given, input};

/// An etch as it is entered.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct EtchWords {
    /// Agent.
    pub agent: String,
    /// Concentration with its unit.
    pub concentration: Option<String>,
    /// Time on the steel with its unit.
    pub time: Option<String>,
    /// Neutralised afterwards.
    pub neutralised: bool,
    /// Rinsed afterwards.
    pub rinsed: bool,
    /// Dried and oiled afterwards.
    pub dried: bool,
}

/// A pass as words of a person; what is left out is not known, or follows from the rest.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct PassWords {
    /// What was done, a term of the record; follows from the stone's stage or an etch.
    pub operation: Option<String>,
    /// Zones worked.
    pub zones: Vec<String>,
    /// Faces worked; none: both.
    pub faces: Vec<String>,
    /// Stone, by its name in the workshop's list.
    pub stone: Option<String>,
    /// Time with its unit.
    pub time: Option<String>,
    /// Strokes.
    pub strokes: Option<u32>,
    /// Mass before with its unit; several readings apart by `;`.
    pub before_mass: Option<String>,
    /// Mass after.
    pub after_mass: Option<String>,
    /// Key of the scale.
    pub scale: Option<String>,
    /// Readings along the blade before: `100 mm width=30.10 mm ridge=7.05 mm`.
    pub before: Vec<String>,
    /// Readings along the blade after.
    pub after: Vec<String>,
    /// Key of the gauge.
    pub gauge: Option<String>,
    /// Etch.
    pub etch: Option<EtchWords>,
    /// Photos, each a file and a caption.
    pub photos: Vec<(PathBuf, Option<String>)>,
    /// Remarks.
    pub note: Option<String>,
}

impl PassWords {
    /// Returns the pass in the form in which it is entered; only what was said is in it.
    ///
    /// # Errors
    /// When a reading along the blade cannot be understood.
    pub fn block(&self) -> Result<Map<String, Value>, PassError> {
        let mut block = Map::new();
        let mut set = |name: &str, value: Value| block.insert(name.to_owned(), value);
        if let Some(operation) = &self.operation {
            set("operation", json!(operation));
        }
        for (name, words) in [("zones", &self.zones), ("faces", &self.faces)] {
            if !words.is_empty() {
                set(name, json!(words));
            }
        }
        let texts = [
            ("stone", &self.stone),
            ("time", &self.time),
            ("note", &self.note),
        ];
        for (name, text) in texts {
            if let Some(text) = text {
                set(name, json!(text));
            }
        }
        if let Some(strokes) = self.strokes {
            set("strokes", json!(strokes));
        }
        for (name, mass, along) in [
            ("before", &self.before_mass, &self.before),
            ("after", &self.after_mass, &self.after),
        ] {
            let mut readings = Map::new();
            if let Some(mass) = mass {
                readings.insert("mass".to_owned(), quantity(mass, self.scale.as_deref()));
            }
            if !along.is_empty() {
                let stations: Vec<Value> = along
                    .iter()
                    .map(|text| station(text, self.gauge.as_deref()))
                    .collect::<Result<_, _>>()?;
                readings.insert("stations".to_owned(), Value::Array(stations));
            }
            if !readings.is_empty() {
                set(name, Value::Object(readings));
            }
        }
        if let Some(etch) = &self.etch {
            let mut table = json!({ "agent": etch.agent, "neutralised": etch.neutralised,
                "rinsed": etch.rinsed, "dried": etch.dried });
            for (name, text) in [("concentration", &etch.concentration), ("time", &etch.time)] {
                if let Some(text) = text {
                    table[name] = json!(text);
                }
            }
            set("etch", table);
        }
        if !self.photos.is_empty() {
            let photos: Vec<Value> = self
                .photos
                .iter()
                .map(|(file, caption)| {
                    let mut photo = json!({ "file": whole(file) });
                    if let Some(caption) = caption {
                        photo["caption"] = json!(caption);
                    }
                    photo
                })
                .collect();
            set("photos", Value::Array(photos));
        }
        Ok(block)
    }
}

/// The path from the root, so that it is found again from any other folder.
fn whole(file: &Path) -> String {
    std::path::absolute(file)
        .unwrap_or_else(|_| file.to_owned())
        .display()
        .to_string()
}

/// A quantity as a sheet writes it.
fn quantity(text: &str, instrument: Option<&str>) -> Value {
    let readings: Vec<&str> = text.split(';').map(str::trim).collect();
    let mut table = match &readings[..] {
        [one] => json!({ "text": one }),
        several => json!({ "readings": several }),
    };
    if let Some(instrument) = instrument {
        table["instrument"] = json!(instrument);
    }
    table
}

/// Reads `100 mm width=30.10 mm ridge=7.05 mm` into a line of the station table.
fn station(text: &str, gauge: Option<&str>) -> Result<Value, PassError> {
    const PARTS: [(&str, &str); 4] = [
        ("width", "width"),
        ("ridge", "ridge_thickness"),
        ("back", "back_thickness"),
        ("ridge-width", "ridge_width"),
    ];
    let fault = |what: String| PassError::Reading {
        found: text.chars().take(80).collect(),
        what,
    };
    let mut parts: Vec<(&str, String)> = vec![("at", String::new())];
    for token in text.split_whitespace() {
        if let Some((name, rest)) = token.split_once('=') {
            let field = PARTS
                .iter()
                .find(|(word, field)| *word == name || *field == name)
                .ok_or_else(|| {
                    let words: Vec<&str> = PARTS.iter().map(|(word, _)| *word).collect();
                    fault(format!("`{name}` found, {} are allowed", words.join(", ")))
                })?
                .1;
            if parts.iter().any(|(known, _)| *known == field) {
                return Err(fault(format!("`{name}` found twice, once is allowed")));
            }
            parts.push((field, rest.to_owned()));
        } else if let Some((_, words)) = parts.last_mut() {
            if !words.is_empty() {
                words.push(' ');
            }
            words.push_str(token);
        }
    }
    let mut line = Map::new();
    for (field, words) in &parts {
        if words.is_empty() {
            let what = if *field == "at" {
                "no place along the blade found, one is needed first".to_owned()
            } else {
                format!("nothing found after `{field}=`, a number with its unit is needed")
            };
            return Err(fault(what));
        }
        let value = if *field == "at" {
            json!(words)
        } else {
            quantity(words, gauge)
        };
        line.insert((*field).to_owned(), value);
    }
    if parts.len() < 2 {
        return Err(fault(
            "a place without a reading found, one at least is needed".to_owned(),
        ));
    }
    Ok(Value::Object(line))
}

/// Reads the `[[passes]]` blocks of a file, TOML or JSON; photos are found beside the file.
///
/// # Errors
/// When the file is none, or has no pass.
pub fn read_blocks(file: &Path) -> Result<Vec<Map<String, Value>>, WorkshopError> {
    let fault = |what: String| PassError::Block {
        file: file.to_owned(),
        what,
    };
    let is_json = file
        .extension()
        .is_some_and(|extension| extension.eq_ignore_ascii_case("json"));
    let value = if is_json {
        let bytes = input::whole(file, input::LONGEST)?;
        read_value(&bytes, &Limits::default()).map_err(|error| fault(error.to_string()))?
    } else {
        given::read_settings(file)?
    };
    let Value::Object(mut members) = value else {
        return Err(fault("no table of passes found".to_owned()).into());
    };
    let passes = members.remove("passes");
    if let Some(other) = members.keys().next() {
        return Err(fault(format!("`{other}` found, `[[passes]]` alone is allowed")).into());
    }
    let Some(Value::Array(passes)) = passes.filter(|passes| passes != &json!([])) else {
        return Err(fault("no `[[passes]]` found, one at least is needed".to_owned()).into());
    };
    let folder = file.parent().unwrap_or(Path::new("."));
    passes
        .into_iter()
        .map(|pass| match pass {
            Value::Object(mut block) => {
                for photo in block
                    .get_mut("photos")
                    .and_then(Value::as_array_mut)
                    .into_iter()
                    .flatten()
                {
                    if let Some(path) = photo.get("file").and_then(Value::as_str) {
                        photo["file"] = json!(whole(&folder.join(path)));
                    }
                }
                Ok(block)
            }
            _ => Err(fault("a pass that is no table found".to_owned()).into()),
        })
        .collect()
}

#[cfg(test)]
mod tests;
