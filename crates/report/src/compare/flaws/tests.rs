#![allow(clippy::unwrap_used)]
use serde_json::{Value, json};

use super::*;
use crate::sample;

fn mm(value: &str, standard: &str) -> Value {
    json!({ "value": value, "unit": "mm", "standard_uncertainty": standard, "uncertainty_from": "stated", "as_read": [{ "text": format!("{value} mm"), "unit": "mm" }] })
}

/// A flaw: key, kind, zone, place in mm from the datum, standing.
fn flaw([id, kind, zone, at, standing]: [&str; 5]) -> Value {
    json!({ "id": id, "kind": kind, "zone": zone, "faces": ["omote"], "at": mm(at, "0.5"), "progress": "stable", "standing": standing })
}

fn with(mut flaw: Value, field: &str, value: Value) -> Value {
    flaw[field] = value;
    flaw
}

/// A record whose examination looked at everything with bare eye and lens.
fn record(sequence: u32, flaws: Vec<Value>) -> Value {
    let mut value = sample::bare();
    value["sequence"] = sequence.into();
    value["examination"] = json!({
        "by": { "role": "polisher", "name": "A. Tessen" }, "on": "2026-03-02", "light": "window", "reason": "intake",
        "methods": ["naked_eye", "loupe"], "surface": "worn_polish", "completeness": "complete",
        "examined": ["edge", "ground", "ridge", "back", "point", "tang", "temper_line", "point_temper", "grain", "straightness"],
    });
    value["flaws"] = flaws.into();
    value
}

fn pass(id: &str, operation: &str, zone: &str) -> Value {
    json!({ "id": id, "on": "2026-03-09", "operation": operation, "zones": [zone] })
}

/// Fate and rule of each flaw, by its key.
fn judged(before: &Value, after: &Value) -> Vec<(String, Fate, &'static str)> {
    let before: Record = serde_json::from_value(before.clone()).unwrap();
    let after: Record = serde_json::from_value(after.clone()).unwrap();
    let passes: Vec<&Pass> = after.passes.iter().collect();
    changes(&before, &after, &passes)
        .into_iter()
        .map(|change| {
            let id = change.flaw().unwrap().id.to_string();
            (id, change.fate, change.rule)
        })
        .collect()
}

/// Fate and rule of the one flaw of both records.
fn one(before: &Value, after: &Value) -> (Fate, &'static str) {
    let all = judged(before, after);
    assert_eq!(all.len(), 1, "{all:?}");
    (all[0].1, all[0].2)
}

const PITS: [&str; 5] = ["f-1", "pits", "ground", "300", "confirmed"];

#[test]
fn a_flaw_is_gone_only_where_it_was_looked_for() {
    let before = record(1, vec![flaw(PITS)]);
    let after = record(2, vec![]);
    assert_eq!(
        one(&before, &after),
        (Fate::Gone, "not-there-when-looked-at")
    );
    let mut unlooked = after.clone();
    unlooked["examination"]["examined"] = json!(["edge"]);
    assert_eq!(
        one(&before, &unlooked),
        (Fate::NotLookedAt, "part-not-examined")
    );
    let mut left_out = after.clone();
    left_out["examination"]["not_examined"] = json!([{ "part": "ground", "why": "oiled" }]);
    assert_eq!(
        one(&before, &left_out),
        (Fate::NotLookedAt, "part-not-examined")
    );
    let mut blind = after.clone();
    blind["examination"]["methods"] = json!(["sight_along"]);
    assert_eq!(
        one(&before, &blind),
        (Fate::NotLookedAt, "no-way-of-looking")
    );
    let mut none = after;
    none.as_object_mut().unwrap().remove("examination");
    assert_eq!(one(&before, &none), (Fate::NotLookedAt, "no-examination"));
}

#[test]
fn a_crack_found_with_a_dye_is_not_gone_before_a_lens() {
    let crack = flaw(["f-1", "hagire", "edge", "300", "confirmed"]);
    let sighting = |method: &str| json!([{ "on": "2026-03-02", "by": "polisher", "method": method, "light": "lamp", "outcome": "seen" }]);
    let after = record(2, vec![]);
    let by_dye = record(
        1,
        vec![with(crack.clone(), "sightings", sighting("dye_penetrant"))],
    );
    assert_eq!(
        one(&by_dye, &after),
        (Fate::NotLookedAt, "no-way-of-looking")
    );
    let by_lens = record(1, vec![with(crack, "sightings", sighting("loupe"))]);
    assert_eq!(
        one(&by_lens, &after),
        (Fate::Gone, "not-there-when-looked-at")
    );
}

#[test]
fn what_was_looked_for_and_not_found_is_gone_or_was_never_sure() {
    let ruled_out = |standing: &str| {
        let before = record(1, vec![flaw(["f-1", "hagire", "edge", "300", standing])]);
        let after = record(2, vec![flaw(["f-1", "hagire", "edge", "300", "ruled_out"])]);
        one(&before, &after)
    };
    assert_eq!(ruled_out("confirmed"), (Fate::Gone, "looked-for-again"));
    assert_eq!(ruled_out("suspected"), (Fate::RuledOut, "suspicion-lifted"));
    assert_eq!(ruled_out("ruled_out"), (Fate::RuledOut, "ruled-out"));
}

/// 0.12 − 0.14 = −0.02 mm with U = 2·0.010·√2 = 0.028 mm: cannot be told; 0.09 − 0.14 = −0.05 mm: less.
#[test]
fn sizes_are_smaller_or_larger_by_more_than_the_measurement_can_tell() {
    let deep = |depth: &str| with(flaw(PITS), "depth", mm(depth, "0.010"));
    let case =
        |then: &str, now: &str| one(&record(1, vec![deep(then)]), &record(2, vec![deep(now)]));
    assert_eq!(case("0.140", "0.120"), (Fate::Same, "size-cannot-be-told"));
    assert_eq!(case("0.140", "0.090"), (Fate::Smaller, "measured-smaller"));
    assert_eq!(case("0.090", "0.140"), (Fate::Larger, "measured-larger"));
    // Fewer pits, and the field is longer.
    let field = |count: u32, long: &str| {
        with(
            with(flaw(PITS), "count", count.into()),
            "length",
            mm(long, "0.3"),
        )
    };
    let both = [
        record(1, vec![field(7, "10.0")]),
        record(2, vec![field(2, "15.0")]),
    ];
    assert_eq!(one(&both[0], &both[1]), (Fate::Changed, "measured-both"));
    let same = record(1, vec![field(7, "10.0")]);
    assert_eq!(
        one(&same, &record(2, vec![field(7, "10.0")])),
        (Fate::Same, "entry-taken-over")
    );
    let bare = record(1, vec![flaw(PITS)]);
    let noted = record(2, vec![with(flaw(PITS), "note", "seen again".into())]);
    assert_eq!(one(&bare, &noted), (Fate::Same, "size-not-measured"));
}

#[test]
fn the_change_of_a_size_is_that_of_a_calculation_by_hand() {
    let deep = |depth: &str| with(flaw(PITS), "depth", mm(depth, "0.010"));
    let [before, after]: [Record; 2] = [
        serde_json::from_value(record(1, vec![deep("0.140")])).unwrap(),
        serde_json::from_value(record(2, vec![deep("0.090")])).unwrap(),
    ];
    let all = changes(&before, &after, &[]);
    // 0.090 − 0.140 = −0.050 mm; a stated uncertainty shares nothing: U = 2·0.010·√2 = 0.0283 mm.
    assert_eq!(all[0].sizes[0].stated, "−0.050\u{a0}±\u{a0}0.028\u{a0}mm");
}

/// A new flaw of a kind, against a first record that is changed.
fn new(
    kind: &str,
    zone: &str,
    change: impl Fn(&mut Value),
    passes: Vec<Value>,
) -> (Fate, &'static str) {
    let mut before = record(1, vec![]);
    change(&mut before);
    let mut after = record(2, vec![flaw(["n-1", kind, zone, "300", "confirmed"])]);
    after["passes"] = passes.into();
    let all = judged(&before, &after);
    let (_, fate, rule) = all.into_iter().find(|(id, ..)| id == "n-1").unwrap();
    (fate, rule)
}

#[test]
fn a_new_flaw_is_visible_or_made_by_what_was_looked_at() {
    let nothing = |_: &mut Value| {};
    assert_eq!(
        new("umegane", "ground", nothing, vec![]),
        (Fate::NewlyMade, "looked-at-before")
    );
    assert_eq!(
        new("hakobore", "edge", nothing, vec![]),
        (Fate::NewlyMade, "kind-that-is-made")
    );
    let unlooked = |before: &mut Value| before["examination"]["examined"] = json!(["edge"]);
    assert_eq!(
        new("umegane", "ground", unlooked, vec![]),
        (Fate::NewlyVisible, "part-not-examined")
    );
    let unread = |before: &mut Value| {
        before["examination"]["not_examined"] = json!([{ "part": "grain", "why": "hidden" }]);
    };
    assert_eq!(
        new("kitae_ware", "ground", unread, vec![]),
        (Fate::NewlyVisible, "part-not-examined")
    );
    let by_eye = |before: &mut Value| before["examination"]["methods"] = json!(["naked_eye"]);
    assert_eq!(
        new("hagire", "edge", by_eye, vec![]),
        (Fate::NewlyVisible, "no-way-of-looking")
    );
    let silent = |before: &mut Value| {
        before.as_object_mut().unwrap().remove("examination");
    };
    assert_eq!(
        new("umegane", "ground", silent, vec![]),
        (Fate::New, "no-examination")
    );
}

#[test]
fn rust_and_stains_hide_what_is_not_form() {
    let rust = |at: &str, zone: &str| {
        with(
            flaw(["r-1", "sabi_active", zone, at, "confirmed"]),
            "length",
            mm(at, "0.5"),
        )
    };
    // 300 mm long around 300 mm: from 150 to 450 mm.
    let covered = |before: &mut Value| before["flaws"] = json!([rust("300", "ground")]);
    assert_eq!(
        new("umegane", "ground", covered, vec![]),
        (Fate::NewlyVisible, "place-was-covered")
    );
    // A chip is seen through rust.
    let on_edge = |before: &mut Value| before["flaws"] = json!([rust("300", "edge")]);
    assert_eq!(
        new("hakobore", "edge", on_edge, vec![]),
        (Fate::NewlyMade, "kind-that-is-made")
    );
    // 100 mm long around 100 mm ends at 150 mm.
    let elsewhere = |before: &mut Value| before["flaws"] = json!([rust("100", "ground")]);
    assert_eq!(
        new("umegane", "ground", elsewhere, vec![]),
        (Fate::NewlyMade, "looked-at-before")
    );
    let rusted = |before: &mut Value| before["examination"]["surface"] = "rusted".into();
    assert_eq!(
        new("umegane", "ground", rusted, vec![]),
        (Fate::NewlyVisible, "surface-hid-it")
    );
}

#[test]
fn what_lies_in_the_steel_is_opened_and_scratches_are_made_by_work() {
    let nothing = |_: &mut Value| {};
    let ground = || vec![pass("p-1", "grind", "ground")];
    assert_eq!(
        new("kitae_ware", "ground", nothing, ground()),
        (Fate::NewlyVisible, "opened-by-work")
    );
    // Oil opens nothing, and work elsewhere neither.
    assert_eq!(
        new(
            "kitae_ware",
            "ground",
            nothing,
            vec![pass("p-1", "oil", "ground")]
        ),
        (Fate::NewlyMade, "looked-at-before")
    );
    assert_eq!(
        new(
            "kitae_ware",
            "ground",
            nothing,
            vec![pass("p-1", "grind", "back")]
        ),
        (Fate::NewlyMade, "looked-at-before")
    );
    let rusted = |before: &mut Value| before["examination"]["surface"] = "rusted".into();
    assert_eq!(
        new("scratches", "ground", rusted, ground()),
        (Fate::NewlyMade, "older-ones-went-with-the-surface")
    );
    assert_eq!(
        new("scratches", "ground", rusted, vec![]),
        (Fate::NewlyVisible, "surface-hid-it")
    );
}

#[test]
fn what_was_ruled_out_and_is_seen_now_is_new() {
    let before = record(
        1,
        vec![flaw(["f-1", "umegane", "ground", "300", "ruled_out"])],
    );
    let after = record(
        2,
        vec![flaw(["f-1", "umegane", "ground", "300", "confirmed"])],
    );
    assert_eq!(one(&before, &after), (Fate::NewlyMade, "looked-at-before"));
}

#[test]
fn the_demo_sword_reads_as_its_polisher_wrote_it() {
    let read = |name: &str| -> Record {
        let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../../samples/records");
        let bytes = std::fs::read(format!("{folder}/{name}.json")).unwrap();
        serde_json::from_slice(&bytes).unwrap()
    };
    let (before, after) = (read("reed-01-before_work"), read("reed-02-after_work"));
    let passes: Vec<&Pass> = after.passes.iter().collect();
    let all = changes(&before, &after, &passes);
    let fate = |id: &str| {
        let found = all.iter().find(|one| one.flaw().unwrap().id.as_str() == id);
        found.unwrap().fate
    };
    assert_eq!(fate("rust-1"), Fate::Gone);
    // Seven pits on 60 mm² before, two on 8 mm² after.
    assert_eq!(fate("pits-1"), Fate::Smaller);
    // 0.14 mm before, 0.12 mm after, ± 0.028 mm: left by agreement.
    assert_eq!(fate("pits-2"), Fate::Same);
    assert_eq!(fate("pits-3"), Fate::Gone);
    // The note says: came to light under the rust.
    assert_eq!(fate("ware-1"), Fate::NewlyVisible);
}
