#![allow(clippy::unwrap_used)]
use super::*;
use serde_json::{Value, json};
use tangmark_core::sheet;

/// A sheet with the given passes, written as a person would.
fn sheet_with(passes: &Value) -> tangmark_core::record::Sheet {
    sheet::from_value(json!({
        "blade": { "id": "reed", "title": "Reed", "object_type": "sword blade", "kind_by_make": "katana", "construction": "shinogi_zukuri", "materials_and_techniques": ["steel"] },
        "dimensions": { "datum": "back_notch", "mass": "748.3 g", "mass_state": "bare",
            "stations": [{ "at": "100 mm", "width": "30.10 mm", "ridge_thickness": "7.05 mm" }] },
        "passes": passes,
    }))
    .unwrap()
}

fn asked(passes: &Value) -> Vec<(String, String, String)> {
    let sheet = sheet_with(passes);
    let all: Vec<&Pass> = sheet.passes.iter().collect();
    let (pass, earlier) = all.split_last().unwrap();
    questions(
        pass,
        &Before {
            passes: earlier,
            later: &[],
            dimensions: sheet.dimensions.as_ref(),
            today: "2026-05-01",
        },
    )
    .into_iter()
    .map(|one| (one.field, one.found, one.allowed))
    .collect()
}

fn one(field: &str, found: &str, allowed: &str) -> Vec<(String, String, String)> {
    vec![(field.to_owned(), found.to_owned(), allowed.to_owned())]
}

fn pass(more: &Value) -> Value {
    let mut pass =
        json!({ "id": "p2", "on": "2026-04-02", "operation": "grind", "zones": ["ground"] });
    for (name, value) in more.as_object().unwrap() {
        pass[name] = value.clone();
    }
    let first = json!({ "id": "p1", "on": "2026-04-01", "operation": "grind", "zones": ["ground"],
        "after": { "mass": "746.1 g", "stations": [{ "at": "100 mm", "width": "30.00 mm" }] } });
    json!([first, pass])
}

#[test]
fn what_can_be_is_not_asked_about() {
    let good = pass(&json!({ "time": "7 h 30 min", "strokes": 2600,
        "before": { "mass": "746.1 g" },
        "after": { "mass": "742.6 g", "stations": [{ "at": "100.5 mm", "width": "29.90 mm", "ridge_thickness": "7.00 mm" }] } }));
    assert_eq!(asked(&good), []);
    // Heavier by what a step of the scale leaves open is no question.
    assert_eq!(asked(&pass(&json!({ "after": { "mass": "746.1 g" } }))), []);
}

#[test]
fn heavier_thicker_and_wider_are_asked_about() {
    assert_eq!(
        asked(&pass(
            &json!({ "before": { "mass": "746.1 g" }, "after": { "mass": "747.0 g" } })
        )),
        one("after.mass", "747.0 g", "at most 746.18 g")
    );
    // Without a reading before, the one after the last pass counts.
    assert_eq!(
        asked(&pass(&json!({ "after": { "mass": "747.0 g" } }))),
        one("after.mass", "747.0 g", "at most 746.18 g")
    );
    let stations = |width: &str, ridge: &str| {
        pass(
            &json!({ "after": { "stations": [{ "at": "100 mm", "width": width, "ridge_thickness": ridge }] } }),
        )
    };
    assert_eq!(
        asked(&stations("30.08 mm", "7.00 mm")),
        one(
            "after.stations at 100.0 mm, width",
            "30.08 mm",
            "at most 30.01 mm"
        )
    );
    assert_eq!(
        asked(&stations("29.98 mm", "7.20 mm")),
        one(
            "after.stations at 100.0 mm, ridge_thickness",
            "7.20 mm",
            "at most 7.06 mm"
        )
    );
}

#[test]
fn a_mass_that_went_between_passes_is_asked_about() {
    for found in ["744.0 g", "748.3 g"] {
        assert_eq!(
            asked(&pass(&json!({ "before": { "mass": found } }))),
            one("before.mass", found, "746.02 to 746.18 g")
        );
    }
    assert_eq!(
        asked(&pass(&json!({ "before": { "mass": "746.1 g" } }))),
        []
    );
}

#[test]
fn slips_of_figures_days_and_counts_are_asked_about() {
    assert_eq!(
        asked(&pass(&json!({ "after": { "mass": "74.61 g" } }))),
        one("after.mass", "74.61 g", "at least 671.49 g")
    );
    assert_eq!(
        asked(&pass(&json!({ "time": "300 h" }))),
        one("time", "300 h", "more than 0 min and at most 100 h")
    );
    assert_eq!(
        asked(&pass(&json!({ "strokes": 900_000 }))),
        one("strokes", "900000 strokes", "1 to 100000 strokes")
    );
    assert_eq!(
        asked(&pass(&json!({ "strokes": 9000, "time": "10 min" }))),
        one("strokes", "900 strokes a minute", "at most 240 a minute")
    );
    assert_eq!(
        asked(&pass(&json!({ "on": "2026-06-01" }))),
        one("on", "2026-06-01", "2026-05-01 or an earlier day")
    );
    assert_eq!(
        asked(&pass(&json!({ "zones": ["tang"] }))),
        one(
            "zones",
            "`grind` on the tang",
            "nothing but `clean` or `oil` there"
        )
    );
}

#[test]
fn a_day_before_the_last_pass_is_asked_about() {
    let sheet = sheet_with(&pass(&json!({})));
    let [first, second] = &sheet.passes[..] else {
        panic!("two passes")
    };
    let asked = questions(
        first,
        &Before {
            passes: &[],
            later: &[second],
            dimensions: None,
            today: "2026-05-01",
        },
    );
    assert_eq!(
        asked[0].to_string(),
        "pass `p1`, on: 2026-04-01 found, 2026-04-02 or a later day is allowed: pass `p2` is of a later day and \
         logged already; this one would be written before it"
    );
}
