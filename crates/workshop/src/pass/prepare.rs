//! A pass as it is entered, made into a pass as a sheet writes it: what follows from the rest is filled in.

use std::collections::BTreeSet;
use std::path::PathBuf;

use serde_json::{Map, Value, json};
use tangmark_core::Digest;
use tangmark_core::check::nearest;
use tangmark_core::record::{Face, Operation, Quantity, Sheet, StoneStage, Term, Zone};
use tangmark_core::units::Dimension;

use super::error::PassError;
use super::stones::StoneTable;

/// Member of a photo that was kept with a refused pass: the digest of its object.
pub(super) const KEPT: &str = "object";

/// Where the photo of a pass comes from.
#[derive(Debug)]
pub(super) enum Source {
    /// A file.
    File(PathBuf),
    /// An object of the workshop that was kept with a refused pass, and the name its file had.
    Kept(Digest, String),
}

/// A pass as the sheet takes it, with the photos that go with it.
#[derive(Debug)]
pub(super) struct Prepared {
    pub(super) pass: Map<String, Value>,
    /// Where each comes from, and the photo's entry without that.
    pub(super) photos: Vec<(Source, Value)>,
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
    /// Keys that the journal names: no other pass gets one of them by itself.
    pub(super) named: &'a BTreeSet<String>,
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
        Some(id) if filling.taken.contains(id) => {
            return Err(PassError::KeyTaken {
                id: id.to_owned(),
                free: next_id(filling),
            });
        }
        Some(id) => id.to_owned(),
        None => next_id(filling),
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
fn next_id(filling: &Filling<'_>) -> String {
    let greatest = filling
        .taken
        .union(filling.named)
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
                if let Some(instrument) = instrument.filter(|_| !table.contains_key("uncertainty"))
                {
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
) -> Result<Vec<(Source, Value)>, PassError> {
    let mut files = Vec::new();
    let day = pass.get("on").cloned().unwrap_or(Value::Null);
    let operation = pass.get("operation").cloned().unwrap_or(Value::Null);
    let Some(list) = pass.get_mut("photos").and_then(Value::as_array_mut) else {
        return Ok(files);
    };
    let mut taken: BTreeSet<String> = sheet.photos.iter().map(|one| one.id.to_string()).collect();
    for one in list {
        let words = |name: &str| one.get(name).and_then(Value::as_str);
        let kept = words(KEPT).and_then(|digest| digest.parse::<Digest>().ok());
        let source = match (words("file"), kept) {
            (Some(name), Some(digest)) => Source::Kept(digest, name.to_owned()),
            (Some(file), None) => Source::File(PathBuf::from(file)),
            (None, _) => continue,
        };
        let mut photo = one.as_object().cloned().unwrap_or_default();
        photo.remove("file");
        photo.remove(KEPT);
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
        files.push((source, Value::Object(photo)));
    }
    Ok(files)
}
