//! The rules one by one, on the demo sword with readings changed.
#![allow(clippy::unwrap_used)]

use serde_json::{Value, json};
use tangmark_author::trial::{demo, judged, record, request, sheet};
use tangmark_core::record::Purpose;
use tangmark_plugin::{Artefact, CheckReply, CheckRequest, FindingDraft, Level};
use tangmark_removal::{check, describe};

const BEFORE: &str = include_str!("../../../samples/sheets/reed-before.toml");
const AFTER: &str = include_str!("../../../samples/sheets/reed-after.toml");

fn ask(request: &CheckRequest) -> CheckReply {
    judged(describe, check, request)
}

/// The sheet after work with words changed, the state before work sealed.
fn changed(changes: &[(&str, &str)]) -> CheckRequest {
    let mut text = AFTER.to_owned();
    for (from, to) in changes {
        assert!(text.contains(from), "{from}");
        text = text.replace(from, to);
    }
    let mut asked = request(sheet(&text));
    asked.history = vec![sealed(&sheet(BEFORE), 1, Purpose::BeforeWork)];
    asked
}

fn sealed(sheet: &Value, sequence: u32, purpose: Purpose) -> Value {
    record(sheet, sequence, purpose, "2026-03-02T16:00:00Z")
}

fn finding<'a>(reply: &'a CheckReply, rule: &str) -> Option<&'a FindingDraft> {
    reply.findings.iter().find(|one| one.rule == rule)
}

fn said(reply: &CheckReply, rule: &str, words: &str) -> Level {
    let found = finding(reply, rule).unwrap_or_else(|| panic!("no finding of {rule}"));
    assert!(found.message.contains(words), "{}", found.message);
    found.level
}

fn quantity(reply: &CheckReply, name: &str) -> (f64, f64) {
    let found = reply
        .quantities
        .iter()
        .find(|one| one.name == name)
        .unwrap();
    let doubt = found.standard_uncertainty.as_ref();
    (
        found.value.parse().unwrap(),
        doubt.map_or(0.0, |one| one.parse().unwrap()),
    )
}

/// By hand: 746.1 − 741.9 = 4.2 g of steel, 748.3 − 746.1 = 2.2 g of rust; each weighing has 0.1/√12 from the step, 0.1
/// for repeatability, and 0.2/√3 of which 0.2 of the variance does not repeat:
/// u² = 2·(0.000 833 + 0.01 + 0.2·0.013 333) = 0.027, u = 0.164 g.
#[test]
fn steel_and_rust_are_kept_apart() {
    let reply = ask(&changed(&[]));
    for (name, grams) in [("steel-gone", 4.2), ("rust-gone", 2.2)] {
        let (value, doubt) = quantity(&reply, name);
        assert!((value - grams).abs() < 1e-9);
        assert!((doubt - 0.164).abs() < 0.005, "{doubt}");
    }
    let unweighed = ask(&changed(&[(
        "after = { mass = { text = \"746.1 g\", instrument = \"scale\" } }",
        "",
    )]));
    assert!(finding(&unweighed, "removal.rust-gone").is_none());
    said(
        &unweighed,
        "removal.steel-gone",
        "6.40 ± 0.33 g of steel gone from before pass p1",
    );
    said(
        &unweighed,
        "removal.steel-gone",
        "weigh before and after removing rust",
    );
}

/// A weighing on both sides of rust removal between two grindings: four weighings, u = 0.164·√2.
#[test]
fn rust_in_the_middle_takes_four_weighings() {
    let moved = [
        ("\"derust\"", "\"polish\""),
        (
            "operation = \"grind\"\nzones = [\"ground\", \"edge\"]\nstrokes",
            "operation = \"derust\"\nzones = [\"ground\", \"edge\"]\nstrokes",
        ),
    ];
    let reply = ask(&changed(&moved));
    let (steel, doubt) = quantity(&reply, "steel-gone");
    assert!((steel - (2.2 + 0.7)).abs() < 1e-9, "{steel}");
    assert!((doubt - 0.164 * 2.0_f64.sqrt()).abs() < 0.005, "{doubt}");
}

#[test]
fn heavier_than_before_is_a_caution() {
    let reply = ask(&changed(&[("741.9 g", "747.0 g"), ("742.6 g", "746.4 g")]));
    assert_eq!(
        said(&reply, "removal.mass-grew", "0.90 ± 0.33 g heavier"),
        Level::Caution
    );
    assert!(finding(&reply, "removal.steel-gone").is_none());
    // Pass p3 alone went from 746.4 to 747.0 g.
    assert_eq!(
        said(&reply, "removal.pass-grew", "After pass p3"),
        Level::Caution
    );
    // Within U of nothing it is no caution but no answer either.
    let close = ask(&changed(&[("741.9 g", "746.3 g"), ("742.6 g", "746.2 g")]));
    assert!(finding(&close, "removal.mass-grew").is_none());
    assert_eq!(
        said(
            &close,
            "removal.steel-gone",
            "cannot tell whether steel is gone"
        ),
        Level::Info
    );
}

#[test]
fn weighings_that_disagree_are_named() {
    let reply = ask(&changed(&[(
        "mass = { text = \"741.9 g\", instrument = \"scale\" }\nmass_state",
        "mass = { text = \"739.0 g\", instrument = \"scale\" }\nmass_state",
    )]));
    assert_eq!(
        said(&reply, "removal.weighings-disagree", "9.30 ± 0.33 g"),
        Level::Caution
    );
    assert!(finding(&ask(&changed(&[])), "removal.weighings-disagree").is_none());
}

#[test]
fn thicker_than_before_is_a_caution() {
    let reply = ask(&changed(&[("\"6.47 mm\"", "\"6.60 mm\"")]));
    let level = said(
        &reply,
        "removal.thicker-after",
        "At 200.0 mm the thickness at the ridge reads 0.090 ± 0.037 mm more",
    );
    assert_eq!(level, Level::Caution);
    let found = finding(&reply, "removal.thicker-after").unwrap();
    assert_eq!(found.evidence, ["/dimensions/stations/1/ridge_thickness"]);
    // 0.05 mm more is 2.7 u: one reading alone would be told, one among twelve may be chance.
    let chance = ask(&changed(&[("\"6.47 mm\"", "\"6.56 mm\"")]));
    assert!(finding(&chance, "removal.thicker-after").is_none());
}

#[test]
fn a_repeating_gauge_tells_more() {
    let told = |repeats: f64| {
        let mut asked = changed(&[]);
        asked.settings = json!({ "gauge_repeats": repeats });
        let reply = ask(&asked);
        let table = reply.artefacts.iter().find_map(|one| match one {
            Artefact::Table(table) if table.id == "removal.stations" => Some(table),
            _ => None,
        });
        let rows = &table.unwrap().rows;
        rows.iter()
            .filter(|row| row[8] == "less than before")
            .count()
    };
    assert!(told(0.0) < told(0.5) && told(0.5) < told(1.0));
}

#[test]
fn stations_elsewhere_make_no_pairs() {
    let far = [
        ("at = \"0 mm\"", "at = \"30 mm\""),
        ("at = \"200 mm\"", "at = \"230 mm\""),
        ("at = \"400 mm\"", "at = \"430 mm\""),
        ("at = \"664 mm\"", "at = \"640 mm\""),
    ];
    let reply = ask(&changed(&far));
    assert_eq!(said(&reply, "removal.no-pairs", "within 2 mm"), Level::Info);
    assert!(finding(&reply, "removal.local-loss").is_none());
    let near = ask(&changed(&[("at = \"200 mm\"", "at = \"202 mm\"")]));
    // 2 mm nearer the tip: the earlier 6.51 mm is brought there along the taper of 0.003 05 mm per mm.
    let (loss, _) = quantity(&near, "loss.ridge_thickness.202.0");
    assert!((loss - 0.034).abs() < 0.0011, "{loss}");
}

#[test]
fn the_thinnest_needs_a_number_of_the_owner() {
    let unstated = ask(&changed(&[(
        "thinnest = { text = \"4.9 mm\", uncertainty = \"0.05 mm\" }\n",
        "",
    )]));
    said(&unstated, "removal.thinnest-not-stated", "is not stated");
    assert!(finding(&unstated, "removal.thinnest").is_none());
    let near = ask(&changed(&[(
        "thinnest = { text = \"4.9 mm\"",
        "thinnest = { text = \"4.97 mm\"",
    )]));
    assert_eq!(
        said(&near, "removal.thinnest", "nothing is left that is sure"),
        Level::Caution
    );
    let far = ask(&changed(&[(
        "thinnest = { text = \"4.9 mm\"",
        "thinnest = { text = \"4.5 mm\"",
    )]));
    assert_eq!(said(&far, "removal.thinnest", "0.51 ± "), Level::Info);
}

#[test]
fn a_low_temper_line_warns() {
    let low = ask(&changed(&[(
        "width = \"7.5 mm\"",
        "width = { text = \"0.1 mm\", uncertainty = \"0.02 mm\" }",
    )]));
    assert_eq!(
        said(&low, "removal.temper-line", "As much again may reach it"),
        Level::Caution
    );
    assert_eq!(
        said(
            &ask(&changed(&[])),
            "removal.temper-line",
            "As much again fits"
        ),
        Level::Info
    );
}

/// Two full polishes of 0.04 mm each at the thinnest station, 0.4 mm left: about ten.
#[test]
fn polishes_left_need_two() {
    let one = ask(&changed(&[]));
    said(&one, "removal.polishes-left", "two are needed");
    let second = |asked: &mut CheckRequest| {
        let first = sheet(&AFTER.replace("at = \"664 mm\"", "at = \"640 mm\""));
        asked.history = vec![
            sealed(
                &sheet(&BEFORE.replace("at = \"664 mm\"", "at = \"640 mm\"")),
                1,
                Purpose::BeforeWork,
            ),
            sealed(&first, 2, Purpose::AfterWork),
        ];
    };
    let again = [
        ("at = \"664 mm\"", "at = \"640 mm\""),
        ("id = \"p1\"", "id = \"q1\""),
        ("id = \"p2\"", "id = \"q2\""),
        ("id = \"p3\"", "id = \"q3\""),
        ("id = \"p4\"", "id = \"q4\""),
        ("\"5.01 mm\"", "\"4.96 mm\""),
        (
            "thinnest = { text = \"4.9 mm\"",
            "thinnest = { text = \"4.56 mm\"",
        ),
    ];
    let mut asked = changed(&again);
    second(&mut asked);
    asked.settings = json!({ "gauge_repeats": 1.0 });
    let reply = ask(&asked);
    said(&reply, "removal.polishes-left", "Over 2 full polishes");
    let (least, _) = quantity(&reply, "polishes-left-least");
    let (most, _) = quantity(&reply, "polishes-left-most");
    assert!(least < 10.0 && 10.0 < most, "{least} {most}");
    // With errors that never repeat and stations found to 10 mm the two readings cannot be told apart well enough for an upper end.
    asked.settings = json!({ "gauge_repeats": 0.0, "station_placement_mm": 10 });
    let reply = ask(&asked);
    said(&reply, "removal.polishes-left", "no upper end can be given");
    assert!(
        reply
            .quantities
            .iter()
            .all(|one| one.name != "polishes-left-most")
    );
}

#[test]
fn the_scale_and_the_sections_are_compared() {
    let agree = ask(&changed(&[]));
    assert_eq!(
        said(&agree, "removal.mass-and-sections", "By the sections 4.6"),
        Level::Info
    );
    // Half a millimetre off the thickness everywhere is some forty grams.
    let thin = [
        ("\"7.08 mm\"", "\"6.58 mm\""),
        ("\"6.47 mm\"", "\"5.97 mm\""),
        ("\"5.86 mm\"", "\"5.36 mm\""),
        ("\"5.01 mm\"", "\"4.51 mm\""),
    ];
    let apart = ask(&changed(&thin));
    assert_eq!(
        said(&apart, "removal.mass-and-sections", "do not agree"),
        Level::Caution
    );
}

#[test]
fn a_sheet_without_measurements_says_nothing() {
    let mut bare = demo("reed-before");
    bare.as_object_mut()
        .unwrap()
        .retain(|name, _| name == "blade");
    let reply = ask(&request(bare));
    assert!(reply.findings.is_empty() && reply.quantities.is_empty() && reply.artefacts.is_empty());
}

#[test]
fn faces_halve_the_worked_surface() {
    let whole = quantity(&ask(&changed(&[])), "worked-surface").0;
    let zones = "zones = [\"ground\", \"edge\"]\nstrokes";
    let both = ask(&changed(&[
        ("\"ground\", \"edge\", \"ridge\"]", "\"ground\", \"edge\"]"),
        (
            "[\"ground\", \"edge\", \"point\"]",
            "[\"ground\", \"edge\"]",
        ),
    ]));
    let one = ask(&changed(&[
        (
            "\"ground\", \"edge\", \"ridge\"]",
            "\"ground\", \"edge\"]\nfaces = [\"omote\"]",
        ),
        (
            "[\"ground\", \"edge\", \"point\"]",
            "[\"ground\", \"edge\"]\nfaces = [\"omote\"]",
        ),
        (
            zones,
            "zones = [\"ground\", \"edge\"]\nfaces = [\"omote\"]\nstrokes",
        ),
    ]));
    let (both, one) = (
        quantity(&both, "worked-surface").0,
        quantity(&one, "worked-surface").0,
    );
    assert!(both < whole);
    assert!(
        (one - both / 2.0).abs() < 100.0,
        "{one} is not half of {both}"
    );
}

/// Weighed after only: 748.3 − 746.1 = 2.2 g of rust from the examination on, 746.1 − 741.9 = 4.2 g of steel, as with
/// every weighing before.
#[test]
fn a_pass_weighed_after_only_began_with_the_last_weighing() {
    let before = |mass: &str| {
        format!("before = {{ mass = {{ text = \"{mass} g\", instrument = \"scale\" }} }}")
    };
    let all = ["748.3", "746.1", "742.6"].map(before);
    let none: Vec<(&str, &str)> = all.iter().map(|one| (one.as_str(), "")).collect();
    let reply = ask(&changed(&none));
    for (name, grams) in [("steel-gone", 4.2), ("rust-gone", 2.2)] {
        let (value, _) = quantity(&reply, name);
        assert!((value - grams).abs() < 1e-9, "{name} {value}");
    }
    said(
        &reply,
        "removal.steel-gone",
        "of steel gone from the examination of record 1 to after pass p3",
    );
}
