//! Records to make reports of: the committed ones, and ones as long and as full as the format allows.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use serde_json::{Value, json};
use tangmark_core::json::canonical_bytes;
use tangmark_core::record::Record;
use tangmark_core::{Digest, check};
use tangmark_report::{Kind, PageSize, RenderInput, Speech, jpeg};
use tangmark_workshop::demo;

use crate::sealed::{MakeError, fault};

/// Every kind of report.
pub const KINDS: [Kind; 9] = [
    Kind::Condition,
    Kind::Comparison,
    Kind::Buyer,
    Kind::Referral,
    Kind::Identification,
    Kind::Labels,
    Kind::Care,
    Kind::Customs,
    Kind::Receipt,
];

/// Every language a report speaks.
pub const SPEECHES: [Speech; 3] = [Speech::English, Speech::Japanese, Speech::Both];

/// Every paper.
pub const PAGES: [PageSize; 2] = [PageSize::A4, PageSize::Letter];

/// Fingerprint that stands on the pages of all cases: none of a key.
pub const FINGERPRINT: &str = "AAAAA-BBBBB-CCCCC-DDDDD";

/// A record to make reports of.
#[derive(Debug, Clone)]
pub struct Case {
    /// Name, for messages.
    pub name: String,
    /// Bytes of the record.
    pub bytes: Vec<u8>,
    /// The record.
    pub record: Record,
    /// Records of the same blade before it.
    pub earlier: Vec<Record>,
}

impl Case {
    fn new(name: &str, bytes: Vec<u8>, earlier: Vec<Record>) -> Result<Self, MakeError> {
        Ok(Self {
            name: name.to_owned(),
            record: serde_json::from_slice(&bytes).map_err(fault("record"))?,
            bytes,
            earlier,
        })
    }

    /// Every kind of report that can be made of it: there is nothing to compare the first record of a blade with.
    pub fn kinds(&self) -> impl Iterator<Item = Kind> {
        let first = self.earlier.is_empty();
        KINDS
            .into_iter()
            .filter(move |kind| !(first && *kind == Kind::Comparison))
    }

    /// What a report of it is made from.
    pub fn input<'a>(
        &'a self,
        photos: &'a BTreeMap<Digest, Vec<u8>>,
        page: PageSize,
        kind: Kind,
        speech: Speech,
    ) -> RenderInput<'a> {
        RenderInput {
            record_bytes: &self.bytes,
            photos,
            page,
            demo: true,
            fingerprint: FINGERPRINT,
            kind,
            speech,
            earlier: &self.earlier,
        }
    }
}

/// Files of the demo photos by digest, and the copies of them that a workshop makes for reports.
pub fn photos() -> BTreeMap<Digest, Vec<u8>> {
    let mut files = BTreeMap::new();
    for (_, bytes) in demo::PHOTOS {
        files.insert(Digest::of(bytes), bytes.to_vec());
        if let Ok(copied) = jpeg::copy(bytes) {
            files.insert(Digest::of(&copied.bytes), copied.bytes.into_owned());
        }
    }
    files
}

/// Folder of the committed samples.
pub fn samples() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../samples")
}

/// The committed records by name, each with those of its blade before it.
///
/// # Errors
/// When a file cannot be read.
pub fn golden() -> Result<Vec<Case>, MakeError> {
    let mut files: Vec<PathBuf> = fs::read_dir(samples().join("records"))
        .map_err(fault("records"))?
        .filter_map(|entry| Some(entry.ok()?.path()))
        .filter(|path| {
            path.extension()
                .is_some_and(|extension| extension == "json")
        })
        .collect();
    files.sort();
    let mut cases: Vec<Case> = Vec::new();
    for file in files {
        let bytes = fs::read(&file).map_err(fault("record"))?;
        let name = file
            .file_stem()
            .map(|name| name.to_string_lossy().into_owned())
            .unwrap_or_default();
        let record: Record = serde_json::from_slice(&bytes).map_err(fault("record"))?;
        let earlier = cases
            .iter()
            .filter(|case| case.record.blade.id == record.blade.id)
            .map(|case| case.record.clone())
            .collect();
        cases.push(Case::new(&name, bytes, earlier)?);
    }
    Ok(cases)
}

/// A text of exactly so many characters, from words that are repeated.
fn filled(words: &str, characters: usize) -> Value {
    let text: String = words.chars().cycle().take(characters).collect();
    // No space at the end, which is cut off elsewhere.
    json!(text.trim_end())
}

/// One word without a place to break it.
const UNBROKEN: &str = "Grathollowsmithingworksandpolishingroomsattheupperweir";
/// Words of a workshop in another script.
const KANJI: &str = "鎬造庵棟、刃文は小沸出来の湾れに互の目交じり、匂口深く、砂流しかかる。";
/// Plain words.
const PLAIN: &str = "seen in raking light from the notch to the point, both faces, twice ";

/// The record that hostile ones are made from.
fn base() -> Result<Value, MakeError> {
    let cases = golden()?;
    let case = cases
        .iter()
        .find(|case| case.name.starts_with("reed-01"))
        .ok_or_else(|| fault("hostile record")("samples/records has no reed-01"))?;
    serde_json::from_slice(&case.bytes).map_err(fault("hostile record"))
}

fn allowed(name: &str, value: &Value) -> Result<Case, MakeError> {
    // No plugin was asked about what is made here.
    check::opened(value).map_err(|problems| {
        let told: Vec<String> = problems
            .iter()
            .map(|problem| format!("{}: {}", problem.pointer, problem.what))
            .collect();
        fault("hostile record")(format!("{name}: {}", told.join("; ")))
    })?;
    let bytes = canonical_bytes(value).map_err(fault("hostile record"))?;
    Case::new(name, bytes, Vec::new())
}

/// Records that are as long or as full as the format allows: what people write in them is in nobody's hand. Their proofs
/// do not fit; a report is made all the same.
///
/// # Errors
/// When the format refuses one, which is a fault of this file.
pub fn hostile() -> Result<Vec<Case>, MakeError> {
    let mut cases = Vec::new();
    for (name, words) in [
        ("long unbroken words", UNBROKEN),
        ("long Japanese words", KANJI),
    ] {
        let mut value = base()?;
        longest(&mut value, words);
        cases.push(allowed(name, &value)?);
    }
    let mut value = base()?;
    fullest(&mut value);
    longest(&mut value, PLAIN);
    cases.push(allowed(
        "60 flaws, many fittings and passes, long words",
        &value,
    )?);
    Ok(cases)
}

/// Puts the longest words into a record that the schema allows.
fn longest(value: &mut Value, words: &str) {
    value["blade"]["title"] = filled(words, 200);
    value["blade"]["object_type"] = filled(words, 200);
    value["blade"]["distinguishing_features"] = filled(words, 2_000);
    value["issuer"]["name"] = filled(words, 200);
    value["decision"]["reason"] = filled(words, 2_000);
    value["decision"]["by"] = filled(words, 200);
    value["examination"]["note"] = filled(words, 2_000);
    value["examination"]["where"] = filled(words, 200);
    value["examination"]["by"]["name"] = filled(words, 200);
    for (list, field, most) in [
        ("flaws", "note", 1_000),
        ("passes", "note", 1_000),
        ("findings", "message", 2_000),
        ("photos", "caption", 300),
        ("fittings", "description", 400),
        ("fittings", "condition", 400),
    ] {
        if let Some(items) = value.get_mut(list).and_then(Value::as_array_mut) {
            for item in items.iter_mut().take(3) {
                item[field] = filled(words, most);
            }
        }
    }
}

/// Fills the lists of a record.
fn fullest(value: &mut Value) {
    let kinds = [
        "ware",
        "hakobore",
        "fukure",
        "ji_are",
        "sabi_stable",
        "pits",
        "shinae",
        "umegane",
        "other",
    ];
    let zones = ["edge", "ground", "ridge", "back", "point"];
    let widths = value["dimensions"]["width_at_base"].clone();
    let place = |millimetres: u32| {
        let mut at = widths.clone();
        at["value"] = json!(format!("{millimetres}.0"));
        at["as_read"] = json!([{ "text": format!("{millimetres} mm"), "unit": "mm" }]);
        at["standard_uncertainty"] = json!("0.29");
        at["uncertainty_from"] = json!("resolution");
        if let Some(fields) = at.as_object_mut() {
            fields.remove("instrument");
        }
        at
    };
    let flaws: Vec<Value> = (0..60_u32)
        .map(|index| {
            let pick = |list: &[&'static str]| list[index as usize % list.len()];
            json!({
                "id": format!("flaw-{index}"), "kind": pick(&kinds), "zone": pick(&zones),
                "faces": ["omote", "ura"], "at": place(15 + index * 197 % 600), "length": place(2 + index % 9),
                "progress": "stable", "standing": "suspected",
            })
        })
        .collect();
    value["flaws"] = Value::Array(flaws);
    let fittings: Vec<Value> = (0..20)
        .map(|index| {
            json!({
                "id": format!("fitting-{index}"), "part": "habaki", "description": "one-piece collar with slanting file marks",
                "materials": ["copper"], "matched": "fits", "condition": "worn at the edge side", "protected": "not_screened",
            })
        })
        .collect();
    value["fittings"] = Value::Array(fittings);
    let passes: Vec<Value> = (0..40)
        .map(|index| {
            json!({
                "id": format!("pass-{index}"), "on": "2026-03-09", "operation": "clean", "zones": ["ground", "ridge", "back"],
                "note": "oil and a soft cloth",
            })
        })
        .collect();
    value["passes"] = Value::Array(passes);
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn committed_records_stand_beside_those_before_them() {
        let cases = golden().unwrap();
        assert!(cases.len() >= 6);
        let last = cases
            .iter()
            .find(|case| case.name == "reed-02-after_work")
            .unwrap();
        assert_eq!(last.earlier.len(), 1);
    }

    #[test]
    fn hostile_records_are_allowed_by_the_format() {
        let cases = hostile().unwrap();
        assert_eq!(cases.len(), 3);
        assert_eq!(cases[2].record.flaws.len(), 60);
        assert_eq!(cases[0].record.blade.title.chars().count(), 200);
    }
}
