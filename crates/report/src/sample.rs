//! Invented records for tests.
#![allow(clippy::unwrap_used, clippy::expect_used)]

use std::collections::BTreeMap;

use serde_json::{Value, json};
use tangmark_core::{
    Digest, json,
    record::{Quantity, Record},
    units::Dimension,
};

use crate::{PageSize, RenderInput};

/// Fingerprint that the samples print.
pub(crate) const FINGERPRINT: &str = "K7QPD-2MXAV-TR5WN-E3HCL";

/// A record with its bytes and pictures.
pub(crate) struct Sample {
    pub(crate) record: Record,
    pub(crate) bytes: Vec<u8>,
    pub(crate) photos: BTreeMap<Digest, Vec<u8>>,
}

impl Sample {
    /// Makes a sample from a JSON value.
    pub(crate) fn of(value: &Value) -> Self {
        let record: Record = serde_json::from_value(value.clone()).expect("sample is a record");
        Self {
            record,
            bytes: json::canonical_bytes(value).unwrap(),
            photos: BTreeMap::new(),
        }
    }

    pub(crate) fn input(&self) -> RenderInput<'_> {
        RenderInput {
            record_bytes: &self.bytes,
            photos: &self.photos,
            page: PageSize::A4,
            demo: false,
            fingerprint: FINGERPRINT,
            kind: crate::Kind::default(),
            speech: crate::Speech::default(),
            earlier: &[],
        }
    }
}

/// A quantity read once.
pub(crate) fn read(text: &str, dimension: Dimension) -> Value {
    serde_json::to_value(
        Quantity::from_readings(&[text.to_owned()], dimension, None, None).unwrap(),
    )
    .unwrap()
}

fn mm(text: &str) -> Value {
    read(&format!("{text} mm"), Dimension::Length)
}

fn gram(text: &str) -> Value {
    read(&format!("{text} g"), Dimension::Mass)
}

fn decimal_comma(value: f64) -> String {
    format!("{value:.1}")
}

/// The least a record can say.
pub(crate) fn bare() -> Value {
    json!({
        "schema": { "id": "tangmark-record", "version": 1, "digest": Digest::of(b"schema").to_string() },
        "record_id": "00112233445566778899aabbccddeeff",
        "sequence": 1,
        "previous": null,
        "issuer": { "id": "did:key:zDnaerx9CtbPJ1q36T5Ln5wYt3MQYeGRG5ehnPAmxcf5mDZpv", "name": "Workshop at the Weir" },
        "purpose": "intake",
        "issued_at": "2026-03-04T05:06:07Z",
        "blade": { "id": "b-1", "title": "Blade from a parcel", "object_type": "sword blade", "kind_by_make": "other", "construction": "other" }
    })
}

/// A small JPEG picture of a gradient.
pub(crate) fn jpeg(width: u16, height: u16, tint: u8) -> Vec<u8> {
    let mut pixels = Vec::new();
    for y in 0..height {
        for x in 0..width {
            let shade = |value: u16, most: u16| {
                u8::try_from(u32::from(value) * 200 / u32::from(most)).unwrap()
            };
            pixels.extend([shade(x, width), shade(y, height), tint]);
        }
    }
    let mut out = Vec::new();
    let encoder = jpeg_encoder::Encoder::new(&mut out, 70);
    encoder
        .encode(&pixels, width, height, jpeg_encoder::ColorType::Rgb)
        .unwrap();
    out
}

fn photo(
    id: &str,
    shows: &str,
    caption: &str,
    bytes: &[u8],
    size: [u16; 2],
    orientation: Option<u8>,
) -> Value {
    let mut file = json!({ "digest": Digest::of(bytes).to_string(), "length": bytes.len(), "media_type": "image/jpeg", "width_px": size[0], "height_px": size[1] });
    if let Some(orientation) = orientation {
        file["orientation"] = json!(orientation);
    }
    json!({ "id": id, "shows": shows, "caption": caption, "taken_on": "2026-03-02", "field_width": mm("120"), "original_kept_private": false, "original": file })
}

/// A flaw: key, kind and zone; faces; place, length and depth; standing. An empty size is left out.
fn flaw(
    [id, kind, zone]: [&str; 3],
    faces: &[&str],
    [at, length, depth]: [&str; 3],
    standing: &str,
) -> Value {
    let mut flaw = json!({ "id": id, "kind": kind, "zone": zone, "faces": faces, "at": mm(at), "progress": "stable", "standing": standing });
    for (name, size) in [("length", length), ("depth", depth)] {
        if !size.is_empty() {
            flaw[name] = mm(size);
        }
    }
    flaw
}

fn sword_dimensions() -> Value {
    let mut stations = Vec::new();
    for step in 0..8_u32 {
        let (at, part) = (f64::from(step) * 90.0, f64::from(step) / 8.0);
        stations.push(json!({
            "at": mm(&decimal_comma(at)),
            "width": mm(&decimal_comma(30.4 - 9.0 * part)),
            "ridge_thickness": mm(&decimal_comma(7.2 - 2.0 * part)),
            "back_thickness": mm(&decimal_comma(6.4 - 1.6 * part)),
            "ridge_width": mm(&decimal_comma(10.4 - 3.0 * part)),
        }));
    }
    json!({
        "datum": "back_notch", "blade_length": mm("703.5"), "curvature": mm("16.5"), "curvature_at": mm("330"), "curvature_kind": "koshi_zori", "point_class": "chu_kissaki", "fukura": "fukura_tsuku",
        "width_at_base": mm("30.4"), "width_at_point": mm("21.3"), "thickness_at_base": mm("7.2"), "back_thickness_at_base": mm("6.4"),
        "thickness_at_point": mm("5.1"), "point_length": mm("34.5"), "point_convention": "along_back",
        "edge_notch_depth": mm("2.8"), "back_notch_depth": mm("1.9"), "tang_length": mm("198"), "mass": gram("724.46"), "mass_state": "bare",
        "stations": stations,
        "grooves": [{ "face": "omote", "from": mm("20"), "to": mm("560"), "width": mm("5.5") }]
    })
}

/// A sword with every section filled.
pub(crate) fn sword() -> Sample {
    let pictures = [jpeg(320, 120, 90), jpeg(160, 240, 140), jpeg(240, 160, 30)];
    let person = |role: &str, name: &str| json!({ "role": role, "name": name });
    let salted = |letter: &str| letter.repeat(43);
    let mut value = bare();
    let fields = value.as_object_mut().unwrap();
    let sections = json!({
        "sequence": 2,
        "previous": Digest::of(b"record before").to_string(),
        "purpose": "before_work",
        "blade": {
            "id": "b-0117", "title": "Long sword with a wide temper line, from the Marrow house", "object_type": "blade of a long sword",
            "kind_by_length": "katana", "kind_by_make": "katana", "construction": "shinogi_zukuri", "back_form": "iori",
            "materials_and_techniques": ["folded steel, water-quenched edge"],
            "distinguishing_features": "Groove on one face; let-in steel near the middle; old rust in the grain of the back.",
            "subject": "no picture",
            "period": [{ "statement": "early 17th century", "author": person("appraiser", "R. Ulmenhof"), "basis": "shape and tang", "confidence": "moderate", "on": "2019" }],
            "maker": [{ "statement": "a smith of a province in the west", "author": { "role": "appraiser", "_sd": [salted("A"), salted("B"), salted("C")] }, "basis": "temper line and grain", "confidence": "low" }],
            "made_not_before": "1590", "made_not_after": "1660",
            "registrations": [{ "kind": "registration_card", "authority": "prefectural board (invented)", "on": "1974-05", "states": { "blade_length": mm("703"), "peg_holes": 2 }, "_sd": [salted("D")] }],
            "signs": [{ "kind": "old_papers", "note": "a paper of an earlier century lies with the scabbard, not yet read" }]
        },
        "examination": {
            "by": person("polisher", "A. Tessen"), "on": "2026-03-02", "where": "workshop, north window", "light": "one point of light along the blade, then raking light",
            "reason": "before_work", "methods": ["naked_eye", "raking_light", "loupe", "depth_gauge"],
            "temperature": read("19.5 °C", Dimension::Temperature),
            "instruments": [
                { "id": "caliper-1", "name": "vernier caliper", "resolution": { "text": "0.02 mm", "unit": "mm" }, "calibrated_on": "2025-11-01" },
                { "id": "scale-1", "name": "balance", "resolution": { "text": "0.01 g", "unit": "g" }, "limit_of_error": { "text": "0.02 g", "unit": "g" } }
            ],
            "examined": ["edge", "ground", "ridge", "back", "point", "tang", "temper_line", "grain", "straightness", "mass", "sections"],
            "not_examined": [{ "part": "point_temper", "why": "stains cover the point; no etch was allowed" }],
            "surface": "stained_or_scratched", "completeness": "complete",
            "note": "The blade came oiled and wrapped in paper."
        },
        "dimensions": sword_dimensions(),
        "tang": {
            "shape": "futsu", "end": "kurijiri", "file_marks": "sujikai", "decorated_file_marks": true,
            "holes": [{ "at": mm("62"), "diameter": mm("7.5") }, { "at": mm("118"), "diameter": mm("6.8"), "plugged": true }],
            "inscriptions": [{ "kind": "katana_mei", "side": "omote", "reading": "越路住人作", "transliteration": "Koshiji junin saku (invented)", "opinions": [{ "view": "gimei", "author": person("appraiser", "R. Ulmenhof"), "on": "2019", "statement": "cut by a later hand" }] }],
            "state": "suriage", "temper_runs_in": false, "patina": "even dark brown, finer towards the end"
        },
        "temper_line": {
            "visibility": "partly_visible", "families": ["notare", "gunome"], "start": "yaki_dashi",
            "widths": (0..8_u32).map(|step| json!({ "at": mm(&decimal_comma(10.0 + 90.0 * f64::from(step))), "width": mm(&decimal_comma(7.0 + 2.5 * f64::from(step % 2))) })).collect::<Vec<_>>(),
            "point": { "forms": ["not_visible"] },
            "activities": ["nie", "ashi", "kinsuji"],
            "breaks": [{ "from": mm("410"), "to": mm("432"), "face": "ura" }]
        },
        "grain": { "families": ["itame", "nagare"], "note": "loose towards the back" },
        "flaws": [
            flaw(["f-1", "hakobore", "edge"], &["omote", "ura"], ["41", "3.2", "0.8"], "confirmed"),
            flaw(["f-2", "hagire", "edge"], &["omote"], ["255", "2.4", ""], "suspected"),
            flaw(["f-3", "ware", "ground"], &["omote"], ["300", "46", "0.2"], "confirmed"),
            flaw(["f-4", "umegane", "ridge"], &["ura"], ["352", "9", ""], "confirmed"),
            flaw(["f-5", "sabi_active", "back"], &["omote", "ura"], ["520", "80", ""], "confirmed"),
            flaw(["f-6", "pits", "ground"], &["ura"], ["610", "24", "0.12"], "confirmed"),
            flaw(["f-7", "fukure", "ridge"], &["omote"], ["130", "", ""], "ruled_out"),
            flaw(["f-8", "sabi_stable", "tang"], &["omote", "ura"], ["90", "", ""], "confirmed"),
        ],
        "fittings": [
            { "id": "fit-1", "part": "habaki", "description": "one-piece collar with slanting file marks", "materials": ["copper"], "matched": "fits", "origin": "came_with_blade", "kept": "mounted", "fit": { "opening_width": mm("30.5"), "opening_thickness": mm("7.2"), "tried_on": "2026-03-02", "note": "slides on to the last two millimetres" }, "condition": "worn at the edge side", "protected": "not_screened" },
            { "id": "fit-2", "part": "same", "description": "hilt covering, black lacquered", "materials": ["ray_skin", "lacquer"], "material_evidence": "loupe, nodes under the lacquer", "matched": "fits_now", "origin": "added", "kept": "storage", "fit": { "peg_hole_at": mm("42.0"), "opening_width": mm("30.1") }, "protected": "ask_authority", "protected_as_of": "2025-02" }
        ],
        "plan": { "steel_budget": gram("4.0"), "thinnest": mm("4.6"), "basis": "thickness at the point line and the depth of the pits",
            "stages": [{ "operation": "grind", "abrasive": { "name": "second foundation block", "stage": "kaisei", "origin": "synthetic", "grit": { "number": 800, "system": "jis" } }, "zones": ["ground", "edge"], "steel": gram("1.5"), "time": read("240 min", Dimension::Duration) }] },
        "passes": [{ "id": "p-1", "on": "2026-03-03", "operation": "derust", "zones": ["back"], "time": read("35 min", Dimension::Duration),
            "before": { "mass": gram("724.46") }, "after": { "mass": gram("724.31") }, "note": "oil and a soft wooden edge only" }],
        "custody": [
            { "kind": "bought", "maps_to": ["crm:E8_Acquisition"], "when": { "earliest": "1958", "latest": "1961" }, "to": { "role": "owner", "_sd": [salted("E"), salted("F"), salted("G")] }, "_sd": [salted("H")] },
            { "kind": "left_for_work", "maps_to": ["crm:E10_Transfer_of_Custody"], "when": { "earliest": "2026-03-01", "latest": "2026-03-01" }, "from": person("customer", "L. Marrow"), "to": person("polisher", "A. Tessen"),
              "documents": [{ "kind": "receipt", "issuer": "Workshop at the Weir", "on": "2026-03-01", "number": "26-031" }] }
        ],
        "agreement": { "owner": person("customer", "L. Marrow"), "work": "Stop the rust, then stop and report.", "etch_allowed": false, "stop_and_ask": ["a crack in the edge"], "asked": [{ "point": "a crack in the edge", "on": "2026-03-02", "answer": "looked for in raking light, none seen" }], "consent": "Letter of 1 March 2026: no stone before the owner has seen the rust.", "on": "2026-03-01", "_sd": [salted("I"), salted("J")] },
        "photos": [
            photo("whole-1", "whole", "Whole blade, omote, as it came", &pictures[0], [320, 120], None),
            photo("point-1", "point", "Point, stored on its side", &pictures[1], [160, 240], Some(6)),
            photo("rust-1", "flaw", "Active rust on the back", &pictures[2], [240, 160], None),
            { "id": "tang-1", "shows": "tang", "caption": "Tang, ura", "original_kept_private": true, "_sd": [salted("K")] }
        ],
        "runs": [{ "plugin": "triage", "version": "0.1.0", "digest": Digest::of(b"file").to_string(), "input": Digest::of(b"input").to_string() }],
        "findings": [
            { "plugin": "triage", "rule": "fatal-suspected", "level": "stop", "message": "A crack through the hardened edge is suspected 255 mm from the back notch; two independent looks are needed.", "evidence": ["/flaws/1"], "numbers": [{ "name": "place", "value": "255", "unit": "mm", "standard_uncertainty": "0.29" }], "source": "common practice, no source" },
            { "plugin": "dimensions", "rule": "class-by-length", "level": "info", "message": "By its length the blade is a long sword.", "numbers": [{ "name": "blade length", "value": "703.5", "unit": "mm", "standard_uncertainty": "0.029" }], "source": "length classes of the trade" },
            { "plugin": "triage", "rule": "rust-active", "level": "caution", "message": "Active rust on the back goes on until it is stopped.", "evidence": ["/flaws/4"], "source": "common practice, no source" }
        ],
        "decision": { "verdict": "set_aside", "by": "A. Tessen", "reason": "A crack through the edge is suspected. The blade stays as it is until two more looks in other light say what it is.", "answers": [{ "rule": "triage/fatal-suspected", "kind": "follows_the_stop", "how": "set aside" }] },
        "overrides": [{ "rule": "triage/rust-active", "name": "A. Tessen", "reason": "loose rust was lifted to keep it from spreading", "at": "2026-03-03T09:00:00Z" }],
        "worked_under_hold": [{ "pass": "p-1", "rule": "triage/fatal-suspected", "message": "a crack through the hardened edge is suspected" }],
        "_sd": [salted("L"), salted("M")], "_sd_alg": "sha-256"
    });
    fields.extend(sections.as_object().unwrap().clone());
    let mut sample = Sample::of(&value);
    sample.photos = pictures
        .into_iter()
        .map(|bytes| (Digest::of(&bytes), bytes))
        .collect();
    sample
}

/// A sword with many flaws, some close together.
pub(crate) fn many_flaws(count: u32) -> Sample {
    let base = sword();
    let mut value: Value = serde_json::from_slice(&base.bytes).unwrap();
    let kinds = [
        "hagire",
        "ware",
        "hakobore",
        "fukure",
        "ji_are",
        "sabi_active",
        "pits",
        "nioi_gire",
        "shinae",
        "umegane",
        "other",
    ];
    let zones = ["edge", "ground", "ridge", "back", "point"];
    let flaws: Vec<Value> = (0..count)
        .map(|index| {
            let pick = |list: &[&'static str]| list[index as usize % list.len()];
            let at = decimal_comma(20.0 + f64::from(index * 197 % 640));
            let id = format!("f-{index}");
            flaw(
                [&id, pick(&kinds), pick(&zones)],
                &["omote", "ura"],
                [&at, "12", ""],
                pick(&["confirmed", "suspected", "ruled_out"]),
            )
        })
        .collect();
    value["flaws"] = Value::Array(flaws);
    Sample {
        photos: base.photos,
        ..Sample::of(&value)
    }
}

/// A straight spear head with few numbers.
pub(crate) fn spear() -> Sample {
    let mut value = bare();
    value["blade"] = json!({ "id": "y-3", "title": "Spear head", "object_type": "spear head", "kind_by_make": "yari", "construction": "su_yari" });
    value["dimensions"] =
        json!({ "datum": "shoulder", "blade_length": mm("152"), "width_at_base": mm("21.5") });
    Sample::of(&value)
}

/// A sample by name, for tests that run in a process of their own.
pub(crate) fn named(name: &str) -> Option<Sample> {
    match name {
        "sword" => Some(sword()),
        "many" => Some(many_flaws(60)),
        "spear" => Some(spear()),
        "bare" => Some(Sample::of(&bare())),
        _ => None,
    }
}
