//! Sheets, flaws and passes to try rules on.

use std::sync::OnceLock;

use serde_json::{Value, json};
use tangmark_author::trial::{self, demo};
use tangmark_core::record::Quantity;
use tangmark_core::sheet;
use tangmark_core::units::Dimension;
use tangmark_plugin::{CheckReply, FindingDraft};
use tangmark_triage::{check, describe};

/// The long sword before work, without its flaws, signs and agreement: nothing but information is said of it.
pub(crate) fn plain() -> Value {
    static PLAIN: OnceLock<Value> = OnceLock::new();
    PLAIN.get_or_init(made_plain).clone()
}

pub(crate) fn made_plain() -> Value {
    let mut sheet = demo("reed-before");
    sheet["flaws"] = json!([]);
    sheet["tang"]["state"] = json!("suriage");
    sheet["blade"]["registrations"] = json!([]);
    sheet
}

pub(crate) fn quantity(text: &str, dimension: Dimension) -> Value {
    let read = Quantity::from_readings(&[text.to_owned()], dimension, None, None).unwrap();
    serde_json::to_value(read).unwrap()
}

pub(crate) fn mm(text: &str) -> Value {
    quantity(&format!("{text} mm"), Dimension::Length)
}

pub(crate) fn g(text: &str) -> Value {
    quantity(&format!("{text} g"), Dimension::Mass)
}

pub(crate) fn look(method: &str, outcome: &str) -> Value {
    json!({ "on": "2026-03-02", "by": "polisher", "method": method, "light": "bare lamp", "outcome": outcome })
}

pub(crate) fn flaw(kind: &str, zone: &str, more: &Value) -> Value {
    let mut flaw = json!({
        "id": "f-1", "kind": kind, "zone": zone, "faces": ["omote"], "at": mm("300"), "progress": "stable",
        "standing": "confirmed", "sightings": [look("loupe", "seen")],
    });
    for (name, value) in more.as_object().unwrap() {
        flaw[name] = value.clone();
    }
    flaw
}

pub(crate) fn one_flaw(sheet: &mut Value, kind: &str, zone: &str, more: &Value) {
    sheet["flaws"] = json!([flaw(kind, zone, more)]);
}

pub(crate) fn pass(id: &str, operation: &str, before: Option<&str>, after: Option<&str>) -> Value {
    let mut pass =
        json!({ "id": id, "on": "2026-03-09", "operation": operation, "zones": ["ground"] });
    if operation == "etch" {
        pass["etch"] =
            json!({ "agent": "mild acid", "neutralised": true, "rinsed": true, "dried": true });
    }
    for (side, mass) in [("before", before), ("after", after)] {
        if let Some(mass) = mass {
            pass[side] = json!({ "mass": g(mass) });
        }
    }
    pass
}

pub(crate) fn judged(sheet: &Value, settings: &Value) -> CheckReply {
    asked(sheet, settings, Vec::new())
}

pub(crate) fn asked(sheet: &Value, settings: &Value, history: Vec<Value>) -> CheckReply {
    // The change must make a sheet that the program would take.
    sheet::from_value(sheet.clone()).unwrap_or_else(|error| panic!("{error}"));
    let mut request = trial::request(sheet.clone());
    request.settings = settings.clone();
    request.history = history;
    trial::judged(describe, check, &request)
}

pub(crate) fn found<'a>(reply: &'a CheckReply, rule: &str) -> Option<&'a FindingDraft> {
    reply.findings.iter().find(|finding| finding.rule == rule)
}

pub(crate) fn row(reply: &CheckReply, rule: &str, outcome: &str) -> Option<String> {
    reply.artefacts.iter().find_map(|artefact| match artefact {
        tangmark_plugin::Artefact::Table(table) => table
            .rows
            .iter()
            .find(|row| row[0] == rule && row[1] == outcome)
            .map(|row| row[3].clone()),
        tangmark_plugin::Artefact::Series(_) => None,
    })
}

pub(crate) fn answered(sheet: &mut Value, points: &[&str]) {
    sheet["agreement"]["asked"] = points
        .iter()
        .map(|point| json!({ "point": point, "on": "2026-03-09", "answer": "none found" }))
        .collect();
}

pub(crate) fn ruled_out(sheet: &mut Value) {
    let looks = json!([look("loupe", "not_seen"), look("raking_light", "not_seen")]);
    one_flaw(
        sheet,
        "hagire",
        "edge",
        &json!({ "standing": "ruled_out", "sightings": looks }),
    );
}

pub(crate) fn sabre(sheet: &mut Value) {
    sheet["blade"]["kind_by_make"] = json!("sabre");
    sheet["blade"]
        .as_object_mut()
        .unwrap()
        .remove("kind_by_length");
}

pub(crate) fn registered(sheet: &mut Value, kind: &str) {
    sheet["blade"]["registrations"] = json!([{ "kind": kind, "authority": "Example Prefecture" }]);
}

pub(crate) fn signs(sheet: &mut Value, kinds: &[&str]) {
    let all: Vec<Value> = kinds
        .iter()
        .map(|kind| json!({ "kind": kind, "note": "as seen" }))
        .collect();
    sheet["blade"]["signs"] = json!(all);
}

pub(crate) fn inscribed(sheet: &mut Value, kinds: &[&str]) {
    let all: Vec<Value> = kinds.iter().map(|kind| json!({ "kind": kind })).collect();
    sheet["tang"]["inscriptions"] = json!(all);
}

pub(crate) fn made(sheet: &mut Value, earliest: &str, latest: &str) {
    sheet["blade"]["made_not_before"] = json!(earliest);
    sheet["blade"]["made_not_after"] = json!(latest);
}

pub(crate) fn unexamined(sheet: &mut Value, part: &str) {
    let examined = sheet["examination"]["examined"].as_array_mut().unwrap();
    examined.retain(|one| one != part);
}

/// Quantities name instruments, which stand in the examination.
pub(crate) fn unmeasure(sheet: &mut Value) {
    for section in ["dimensions", "tang", "temper_line", "plan"] {
        sheet.as_object_mut().unwrap().remove(section);
    }
}

pub(crate) fn thinnest(sheet: &mut Value, text: &str) {
    sheet["plan"]["thinnest"] = mm(text);
}
