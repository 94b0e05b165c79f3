//! What a person enters as a pass, made into a pass as a sheet writes it.
//!
//! A pass that is entered has the form of a `[[passes]]` block of a sheet, with two short forms more: `stone = "name"`
//! stands for the abrasive of that name in the workshop's list, and `photos` may hold `{ file, caption, shows }`.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use serde_json::{Map, Value, json};
use tangmark_core::check::nearest;
use tangmark_core::json::{Limits, read_value};
use tangmark_core::record::{Face, Operation, Quantity, Sheet, StoneStage, Term, Zone};
use tangmark_core::units::Dimension;

use super::error::PassError;
use super::stones::StoneTable;
use crate::{WorkshopError, given};

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
                    fault(format!(
                        "`{name}` found, {} are allowed",
                        words.join(", ")
                    ))
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
        let bytes =
            std::fs::read(file).map_err(|error| WorkshopError::file("read", file, error))?;
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

/// A pass as the sheet takes it, with the photos that go with it.
#[derive(Debug)]
pub(super) struct Prepared {
    pub(super) pass: Map<String, Value>,
    /// File and the photo's entry without it.
    pub(super) photos: Vec<(PathBuf, Value)>,
}

/// What a pass that is entered is filled from.
pub(super) struct Filling<'a> {
    /// The sheet it goes onto.
    pub(super) sheet: &'a Sheet,
    pub(super) stones: &'a StoneTable,
    /// The day where none is entered.
    pub(super) day: &'a str,
    /// Keys of passes that are taken.
    pub(super) taken: &'a BTreeSet<String>,
}

/// Fills in what follows: key, day, operation, abrasive, instruments, keys of photos.
///
/// # Errors
/// A word of no list, an unknown stone or instrument, a pass without operation or zone.
pub(super) fn prepare(
    mut pass: Map<String, Value>,
    filling: &Filling<'_>,
) -> Result<Prepared, PassError> {
    let id = match pass.get("id").and_then(Value::as_str) {
        Some(id) => id.to_owned(),
        None => next_id(filling.taken),
    };
    pass.insert("id".to_owned(), json!(id));
    pass.entry("on").or_insert_with(|| json!(filling.day));
    words::<Zone>(&mut pass, "zones", "zone")?;
    words::<Face>(&mut pass, "faces", "face")?;
    if let Some(Value::String(name)) = pass.remove("stone") {
        let stone = filling.stones.find(&name)?;
        pass.entry("operation").or_insert_with(|| {
            stone
                .stage
                .and_then(usual_operation)
                .map_or(Value::Null, |operation| json!(operation))
        });
        pass.insert("abrasive".to_owned(), stone.abrasive());
    }
    if pass.get("operation").is_none_or(Value::is_null) && pass.contains_key("etch") {
        pass.insert("operation".to_owned(), json!(Operation::Etch));
    }
    match pass.get("operation").and_then(Value::as_str) {
        Some(found) => {
            let operation = word::<Operation>(found, "operation")?;
            pass.insert("operation".to_owned(), json!(operation));
        }
        None => {
            return Err(PassError::Missing {
                what: "operation",
                how: "say what was done with `--do OPERATION`: `tangmark schema terms operation` lists them",
            });
        }
    }
    if pass
        .get("zones")
        .and_then(Value::as_array)
        .is_none_or(Vec::is_empty)
    {
        return Err(PassError::Missing {
            what: "zone",
            how: "say where with `--zone`: edge, ground, ridge, back, point (can be repeated)",
        });
    }
    instruments(&mut pass, filling.sheet)?;
    let photos = photos(&mut pass, &id, filling.sheet)?;
    Ok(Prepared { pass, photos })
}

/// `p1`, `p2`, …: one more than the greatest that was given.
fn next_id(taken: &BTreeSet<String>) -> String {
    let greatest = taken
        .iter()
        .filter_map(|id| id.strip_prefix('p')?.parse::<u32>().ok())
        .max()
        .unwrap_or(0);
    format!("p{}", greatest.saturating_add(1))
}

/// The operation that a stone of a stage is for. Common practice, no source.
const fn usual_operation(stage: StoneStage) -> Option<Operation> {
    match stage {
        StoneStage::Arato | StoneStage::Binsui | StoneStage::Kaisei => Some(Operation::Grind),
        StoneStage::ChuNagura
        | StoneStage::KomaNagura
        | StoneStage::UchigumoriHato
        | StoneStage::UchigumoriJito => Some(Operation::Polish),
        StoneStage::Hazuya | StoneStage::Jizuya => Some(Operation::FingerFinish),
        StoneStage::Nugui => Some(Operation::WipePolish),
        StoneStage::Migaki => Some(Operation::Burnish),
        StoneStage::Narume => Some(Operation::PointFinish),
        StoneStage::Other => None,
    }
}

/// A word of a closed list; capitals and hyphens are read too.
fn word<T: Term>(found: &str, what: &'static str) -> Result<&'static str, PassError> {
    let plain = found.trim().to_lowercase().replace(['-', ' '], "_");
    let keys: Vec<String> = T::ALL.iter().map(|term| term.key().to_owned()).collect();
    T::ALL
        .iter()
        .map(|term| term.key())
        .find(|key| *key == plain)
        .ok_or_else(|| PassError::Word {
            what,
            found: found.chars().take(40).collect(),
            near: nearest(found, &keys).map(str::to_owned),
            allowed: keys,
        })
}

/// Words of a closed list in a member of the pass.
fn words<T: Term>(
    pass: &mut Map<String, Value>,
    name: &str,
    what: &'static str,
) -> Result<(), PassError> {
    let Some(list) = pass.get_mut(name).and_then(Value::as_array_mut) else {
        return Ok(());
    };
    for one in list {
        if let Some(found) = one.as_str() {
            *one = json!(word::<T>(found, what)?);
        }
    }
    Ok(())
}

/// Names the instrument of each reading: the one that was said, else the one of the last reading of that kind.
fn instruments(pass: &mut Map<String, Value>, sheet: &Sheet) -> Result<(), PassError> {
    let known: Vec<String> = sheet
        .examination
        .iter()
        .flat_map(|examination| &examination.instruments)
        .map(|one| one.id.to_string())
        .collect();
    let usual = |dimension| last_instrument(sheet, dimension).filter(|id| known.contains(id));
    let (scale, gauge) = (usual(Dimension::Mass), usual(Dimension::Length));
    let fill = |reading: &mut Value, instrument: Option<&String>| -> Result<(), PassError> {
        if let Value::String(text) = reading {
            *reading = json!({ "text": text });
        }
        // In the long form it is said already, or is not known.
        if reading.get("as_read").is_some() {
            return Ok(());
        }
        let Some(table) = reading.as_object_mut() else {
            return Ok(());
        };
        match table.get("instrument").and_then(Value::as_str) {
            Some(found) if !known.iter().any(|id| id == found) => Err(PassError::Instrument {
                found: found.to_owned(),
                known: known.clone(),
            }),
            None => {
                // A stated uncertainty stands for itself.
                if let Some(instrument) = instrument.filter(|_| !table.contains_key("uncertainty")) {
                    table.insert("instrument".to_owned(), json!(instrument));
                }
                Ok(())
            }
            Some(_) => Ok(()),
        }
    };
    for side in ["before", "after"] {
        let Some(readings) = pass.get_mut(side).and_then(Value::as_object_mut) else {
            continue;
        };
        if let Some(mass) = readings.get_mut("mass") {
            fill(mass, scale.as_ref())?;
        }
        let stations = readings.get_mut("stations").and_then(Value::as_array_mut);
        for station in stations.into_iter().flatten() {
            let parts = station.as_object_mut().into_iter().flatten();
            for (_, part) in parts.filter(|(name, _)| *name != "at") {
                fill(part, gauge.as_ref())?;
            }
        }
    }
    Ok(())
}

/// The instrument of the last reading of a kind: in the passes, else in the dimensions.
fn last_instrument(sheet: &Sheet, dimension: Dimension) -> Option<String> {
    let stations = |all: &[tangmark_core::record::Station]| -> Option<String> {
        let mut parts = all.iter().rev().flat_map(|one| {
            [&one.width, &one.ridge_thickness, &one.back_thickness]
                .into_iter()
                .flatten()
        });
        parts.find_map(|length| instrument_of(&length.0))
    };
    let of = |mass: Option<&tangmark_core::record::Mass>, all| match dimension {
        Dimension::Mass => mass.and_then(|mass| instrument_of(&mass.0)),
        _ => stations(all),
    };
    let passes = sheet.passes.iter().rev().flat_map(|pass| {
        [&pass.after, &pass.before]
            .into_iter()
            .flatten()
            .map(|readings| of(readings.mass.as_ref(), &readings.stations))
    });
    passes.flatten().next().or_else(|| {
        let dimensions = sheet.dimensions.as_ref()?;
        of(dimensions.mass.as_ref(), &dimensions.stations)
    })
}

fn instrument_of(quantity: &Quantity) -> Option<String> {
    quantity.instrument.as_ref().map(ToString::to_string)
}

/// Takes the files out of the pass's photos and gives each a key.
fn photos(
    pass: &mut Map<String, Value>,
    id: &str,
    sheet: &Sheet,
) -> Result<Vec<(PathBuf, Value)>, PassError> {
    let mut files = Vec::new();
    let day = pass.get("on").cloned().unwrap_or(Value::Null);
    let operation = pass.get("operation").cloned().unwrap_or(Value::Null);
    let Some(list) = pass.get_mut("photos").and_then(Value::as_array_mut) else {
        return Ok(files);
    };
    let mut taken: BTreeSet<String> = sheet.photos.iter().map(|one| one.id.to_string()).collect();
    for one in list {
        let Some(file) = one.get("file").and_then(Value::as_str).map(PathBuf::from) else {
            continue;
        };
        let mut photo = one.as_object().cloned().unwrap_or_default();
        photo.remove("file");
        let key = (1..1000)
            .map(|number| format!("{id}-{number}"))
            .find(|key| !taken.contains(key))
            .ok_or(PassError::Missing {
                what: "free key for a photo",
                how: "give the photo an `id` of its own in a file with `[[passes]]`",
            })?;
        let key = photo
            .get("id")
            .and_then(Value::as_str)
            .map_or(key, str::to_owned);
        photo.insert("id".to_owned(), json!(key));
        photo.entry("shows").or_insert_with(|| json!("whole"));
        photo.entry("caption").or_insert_with(|| {
            let word = operation.as_str().unwrap_or_default().replace('_', " ");
            json!(format!("After pass {id}: {word}"))
        });
        photo.entry("taken_on").or_insert_with(|| day.clone());
        taken.insert(key.clone());
        *one = json!(key);
        files.push((file, Value::Object(photo)));
    }
    Ok(files)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::pass::stones::tests::LIST;
    use tangmark_core::sheet;

    fn sheet_of(passes: Value) -> Sheet {
        sheet::from_value(json!({
            "blade": { "id": "reed", "title": "Reed", "kind_by_make": "katana" },
            "examination": { "by": { "role": "examiner", "name": "A. Polisher" }, "on": "2026-03-01", "light": "north window",
                "reason": "before_work", "methods": ["naked_eye"], "examined": ["edge"], "surface": "rusted",
                "completeness": "complete",
                "instruments": [{ "id": "scale", "name": "scale", "resolution": "0.1 g" },
                    { "id": "caliper", "name": "caliper", "resolution": "0.01 mm" }] },
            "dimensions": { "datum": "back_notch", "mass_state": "bare",
                "mass": { "text": "748.3 g", "instrument": "scale" },
                "stations": [{ "at": "100 mm", "width": { "text": "30.10 mm", "instrument": "caliper" } }] },
            "passes": passes,
        }))
        .unwrap()
    }

    fn stones() -> StoneTable {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("stones.csv");
        std::fs::write(&file, LIST).unwrap();
        StoneTable {
            stones: crate::pass::stones::read(&file).unwrap(),
            file,
        }
    }

    fn prepared(words: &PassWords) -> Result<Prepared, PassError> {
        prepare(
            words.block()?,
            &Filling {
                sheet: &sheet_of(json!([])),
                stones: &stones(),
                day: "2026-03-09",
                taken: &BTreeSet::from(["p1".to_owned(), "p9".to_owned(), "first".to_owned()]),
            },
        )
    }

    fn words() -> PassWords {
        PassWords {
            zones: vec!["Ground".to_owned(), "edge".to_owned()],
            stone: Some("second foundation stone".to_owned()),
            ..PassWords::default()
        }
    }

    #[test]
    fn words_become_a_pass_of_a_sheet() {
        let full = PassWords {
            faces: vec!["omote".to_owned()],
            time: Some("3 h".to_owned()),
            strokes: Some(900),
            before_mass: Some("748.3 g".to_owned()),
            after_mass: Some("746.1 g; 746.2 g".to_owned()),
            after: vec!["100 mm width=30.05 mm ridge=7.01 mm".to_owned()],
            photos: vec![("a.jpg".into(), None)],
            note: Some("wet".to_owned()),
            ..words()
        };
        let made = prepared(&full).unwrap();
        assert_eq!(
            Value::Object(made.pass.clone()),
            json!({ "id": "p10", "on": "2026-03-09", "operation": "grind", "zones": ["ground", "edge"], "faces": ["omote"],
                "abrasive": { "name": "Second Foundation Stone", "origin": "synthetic", "stage": "kaisei",
                    "grit": { "number": 1000, "system": "jis" }, "d50": "11.5 um" },
                "time": "3 h", "strokes": 900,
                "before": { "mass": { "text": "748.3 g", "instrument": "scale" } },
                "after": { "mass": { "readings": ["746.1 g", "746.2 g"], "instrument": "scale" },
                    "stations": [{ "at": "100 mm", "width": { "text": "30.05 mm", "instrument": "caliper" },
                        "ridge_thickness": { "text": "7.01 mm", "instrument": "caliper" } }] },
                "note": "wet", "photos": ["p10-1"] })
        );
        assert_eq!(made.photos.len(), 1);
        assert!(made.photos[0].0.is_absolute());
        assert_eq!(
            made.photos[0].1,
            json!({ "id": "p10-1", "caption": "After pass p10: grind", "shows": "whole", "taken_on": "2026-03-09" })
        );
        // The sheet takes it as it is.
        let mut pass = made.pass;
        pass.remove("photos");
        sheet_of(json!([pass]));
    }

    #[test]
    fn an_etch_says_what_was_done_by_itself() {
        let etch = PassWords {
            stone: None,
            etch: Some(EtchWords {
                agent: "ferric chloride".to_owned(),
                concentration: Some("3 %".to_owned()),
                rinsed: true,
                ..EtchWords::default()
            }),
            ..words()
        };
        let made = prepared(&etch).unwrap().pass;
        assert_eq!(made["operation"], "etch");
        assert_eq!(
            made["etch"],
            json!({ "agent": "ferric chloride", "concentration": "3 %", "neutralised": false, "rinsed": true, "dried": false })
        );
        sheet_of(json!([made]));
    }

    #[test]
    fn what_cannot_be_meant_is_named() {
        let said = |words: &PassWords| {
            let error = prepared(words).unwrap_err();
            (error.to_string(), error.hint())
        };
        let (what, hint) = said(&PassWords {
            operation: Some("grnd".to_owned()),
            ..words()
        });
        assert!(
            what.starts_with("operation: `grnd` found, straighten, derust,")
                && hint == "did you mean `grind`?",
            "{what} {hint}"
        );
        let (what, _) = said(&PassWords {
            stone: None,
            ..words()
        });
        assert_eq!(what, "the pass has no operation; one is needed");
        let (what, _) = said(&PassWords {
            zones: Vec::new(),
            ..words()
        });
        assert_eq!(what, "the pass has no zone; one is needed");
        let (what, hint) = said(&PassWords {
            before_mass: Some("1 g".to_owned()),
            scale: Some("kitchen".to_owned()),
            ..words()
        });
        assert!(
            what.starts_with("no instrument `kitchen` on the sheet, which lists scale, caliper")
                && hint.contains("examination.instruments"),
            "{what}"
        );
        for (reading, expected) in [
            (
                "width=3 mm",
                "no place along the blade found, one is needed first",
            ),
            (
                "100 mm",
                "a place without a reading found, one at least is needed",
            ),
            (
                "100 mm depth=1 mm",
                "`depth` found, width, ridge, back, ridge-width are allowed",
            ),
            (
                "100 mm width=1 mm width=2 mm",
                "`width` found twice, once is allowed",
            ),
            (
                "100 mm width=",
                "nothing found after `width=`, a number with its unit is needed",
            ),
        ] {
            let (what, _) = said(&PassWords {
                after: vec![reading.to_owned()],
                ..words()
            });
            assert_eq!(what, format!("reading `{reading}`: {expected}"));
        }
    }

    #[test]
    fn blocks_of_a_file_are_read_with_photos_beside_it() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("passes.toml");
        std::fs::write(
            &file,
            "[[passes]]\noperation = \"derust\"\nzones = [\"ground\"]\nphotos = [\"old\", { file = \"a.jpg\" }]\n",
        )
        .unwrap();
        let blocks = read_blocks(&file).unwrap();
        assert_eq!(blocks.len(), 1);
        assert_eq!(blocks[0]["photos"][0], "old");
        assert_eq!(
            blocks[0]["photos"][1]["file"],
            json!(folder.path().join("a.jpg").display().to_string())
        );
        for (text, expected) in [
            ("", "no `[[passes]]` found, one at least is needed"),
            ("blade = 1\n", "`blade` found, `[[passes]]` alone is allowed"),
            ("passes = [1]\n", "a pass that is no table found"),
        ] {
            std::fs::write(&file, text).unwrap();
            let said = read_blocks(&file).unwrap_err().to_string();
            assert!(said.ends_with(expected), "{said}");
        }
    }
}
