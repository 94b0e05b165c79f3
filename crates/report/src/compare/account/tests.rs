#![allow(clippy::unwrap_used)]
use serde_json::{Value, json};
use tangmark_core::record::MassState;

use super::*;
use crate::{compare::Comparison, sample};

/// A mass read with a scale of 0.1 g whose limit of error is 0.2 g.
fn mass(value: &str) -> Value {
    json!({ "value": format!("{value}0"), "unit": "g", "standard_uncertainty": "0.12", "uncertainty_from": "instrument", "instrument": "scale", "as_read": [{ "text": format!("{value} g"), "unit": "g" }] })
}

fn pass(id: &str, operation: &str, [before, after]: [&str; 2]) -> Value {
    let mut made =
        json!({ "id": id, "on": "2026-03-09", "operation": operation, "zones": ["ground"] });
    for (side, value) in [("before", before), ("after", after)] {
        if !value.is_empty() {
            made[side] = json!({ "mass": mass(value) });
        }
    }
    made
}

fn record(sequence: u32, weighed: &str, passes: Vec<Value>) -> Record {
    let mut made = sample::bare();
    made["sequence"] = sequence.into();
    made["examination"] = json!({
        "by": { "role": "polisher", "name": "A. Tessen" }, "on": format!("2026-03-0{sequence}"), "light": "window", "reason": "intake",
        "methods": ["naked_eye"], "examined": ["mass"], "surface": "rusted", "completeness": "complete",
        "instruments": [{ "id": "scale", "name": "bench scale", "resolution": { "text": "0.1 g", "unit": "g" }, "limit_of_error": { "text": "0.2 g", "unit": "g" } }],
    });
    if !weighed.is_empty() {
        made["dimensions"] =
            json!({ "datum": "back_notch", "mass": mass(weighed), "mass_state": "bare" });
    }
    made["passes"] = passes.into();
    serde_json::from_value(made).unwrap()
}

fn close(found: Option<Estimate>, value: f64, expanded: f64) {
    let found = found.unwrap();
    assert!((found.value - value).abs() < 1e-9, "{found:?}");
    assert!((found.expanded() - expanded).abs() < 1e-3, "{found:?}");
}

fn kinds(account: &Account<'_>) -> Vec<Went> {
    account.steps.iter().map(|step| step.went).collect()
}

/// By hand: one weighing has u² = 0.1²/12 + 0.1² (a step for its repetition) + 0.2²/3, of which the last part repeats by 80 %.
/// A difference of two: 2·0.010 833 + 2·0.2·0.013 333 = 0.027, U = 0.3286 g, whatever lies between them.
const DIFFERENCE: f64 = 0.3286;

#[test]
fn steps_are_booked_to_their_passes_and_add_up() {
    let before = record(1, "748.3", vec![]);
    let after = record(
        2,
        "741.8",
        vec![
            pass("p-1", "derust", ["748.3", "746.1"]),
            pass("p-2", "grind", ["746.1", "742.6"]),
            pass("p-3", "etch", ["742.6", "742.5"]),
            // 0.3 g went between the weighings of two passes.
            pass("p-4", "polish", ["742.2", "741.8"]),
        ],
    );
    let account = Account::of(&before, &after, &[]).unwrap();
    assert_eq!(
        kinds(&account),
        [
            Went::Rust,
            Went::Steel,
            Went::Etch,
            Went::Unexplained,
            Went::Steel
        ]
    );
    close(account.of_kind(Went::Rust), 2.2, DIFFERENCE);
    close(account.of_kind(Went::Etch), 0.1, DIFFERENCE);
    close(account.of_kind(Went::Unexplained), 0.3, DIFFERENCE);
    // Steel by stone and etch: 746.1 − 742.5 + 742.2 − 741.8 = 4.0 g. Four readings: u² = 4·0.010 833 + 0.2·4·0.013 333,
    // since the shared part cancels: 0.054, U = 0.4648 g.
    close(account.steel(), 4.0, 0.4648);
    // 748.3 − 741.8 = 6.5 g, two readings.
    close(Some(account.all()), 6.5, DIFFERENCE);
    let sum: f64 = account.steps.iter().map(|step| step.gone.value).sum();
    assert!((sum - 6.5).abs() < 1e-9);
    let running = account.running(true);
    assert_eq!(running.len(), account.weighings.len());
    close(running.last().copied(), 4.0, 0.4648);
    assert!(running[0].value == 0.0 && running[0].standard_uncertainty == 0.0);
}

#[test]
fn passes_that_were_not_weighed_apart_share_a_step() {
    let before = record(1, "748.3", vec![]);
    let after = record(
        2,
        "742.0",
        vec![
            pass("p-1", "derust", ["", ""]),
            pass("p-2", "grind", ["", "743.0"]),
            pass("p-3", "oil", ["", ""]),
        ],
    );
    let account = Account::of(&before, &after, &[]).unwrap();
    assert_eq!(kinds(&account), [Went::Mixed, Went::Other]);
    assert_eq!(account.steps[0].passes.len(), 2);
    assert!(account.steel().is_none() && account.of_kind(Went::Rust).is_none());
    close(account.of_kind(Went::Mixed), 5.3, DIFFERENCE);
}

#[test]
fn a_mass_taken_over_from_an_earlier_state_is_no_weighing() {
    let passes = vec![pass("p-1", "grind", ["748.3", "745.0"])];
    let before = record(1, "748.3", vec![]);
    let account = |weighed| {
        let after = record(2, weighed, passes.clone());
        let account = Account::of(&before, &after, &[]).unwrap();
        (account.all().value, account.weighings.len())
    };
    // Else the steel would come back: 748.3 − 748.3 = 0.
    let (all, weighings) = account("748.3");
    assert!((all - 3.3).abs() < 1e-9 && weighings == 2, "{all}");
    let (all, weighings) = account("744.9");
    assert!((all - 3.4).abs() < 1e-9 && weighings == 3, "{all}");
}

#[test]
fn records_in_between_are_weighings_too() {
    let before = record(1, "748.3", vec![pass("p-0", "clean", ["", ""])]);
    let middle = [record(
        2,
        "746.0",
        vec![
            pass("p-0", "clean", ["", ""]),
            pass("p-1", "derust", ["", ""]),
        ],
    )];
    let after = record(
        3,
        "742.0",
        vec![
            pass("p-1", "derust", ["", ""]),
            pass("p-2", "grind", ["", ""]),
        ],
    );
    let account = Account::of(&before, &after, &middle).unwrap();
    assert_eq!(kinds(&account), [Went::Rust, Went::Steel]);
    close(account.of_kind(Went::Rust), 2.3, DIFFERENCE);
    close(account.steel(), 4.0, DIFFERENCE);
}

#[test]
fn what_lies_outside_of_the_weighings_is_named() {
    let before = record(1, "", vec![]);
    let after = record(
        2,
        "",
        vec![
            pass("p-1", "derust", ["", ""]),
            pass("p-2", "grind", ["746.1", "742.6"]),
            pass("p-3", "polish", ["", ""]),
        ],
    );
    let account = Account::of(&before, &after, &[]).unwrap();
    let outside: Vec<&str> = account
        .outside
        .iter()
        .map(|pass| pass.id.as_str())
        .collect();
    assert_eq!(outside, ["p-1", "p-3"]);
    assert!(Account::of(&before, &record(2, "742.0", vec![]), &[]).is_none());
}

#[test]
fn a_mounted_blade_is_not_weighed_against_a_bare_one() {
    let mut before = record(1, "1048.3", vec![]);
    before.dimensions.as_mut().unwrap().mass_state = Some(MassState::Mounted);
    let after = record(2, "742.6", vec![pass("p-1", "grind", ["746.1", "742.6"])]);
    let account = Account::of(&before, &after, &[]).unwrap();
    close(account.steel(), 3.5, DIFFERENCE);
    assert_eq!(account.left_out.len(), 1);
}

#[test]
fn etches_are_told_with_what_ends_them() {
    let before = record(1, "748.3", vec![]);
    let mut etched = pass("p-1", "etch", ["748.3", "748.1"]);
    etched["etch"] =
        json!({ "agent": "citric acid", "neutralised": true, "rinsed": true, "dried": false });
    let mut after = record(2, "748.1", vec![etched]);
    after.examination.as_mut().unwrap().etch = serde_json::from_value(
        json!({ "agent": "vinegar", "neutralised": true, "rinsed": true, "dried": true }),
    )
    .unwrap();
    let account = Account::of(&before, &after, &[]).unwrap();
    let said: Vec<String> = account
        .etches
        .iter()
        .map(|etch| etch.said().en.into_owned())
        .collect();
    assert_eq!(
        said,
        [
            "pass p-1: citric acid; not dried",
            "to look, in record 2: vinegar; neutralised, rinsed and dried",
        ]
    );
    close(account.etches[0].gone, 0.2, DIFFERENCE);
}

/// The check `removal` says of the same records: 4.20 ± 0.33 g of steel, 2.20 ± 0.33 g of rust.
#[test]
fn the_demo_sword_agrees_with_its_check() {
    let read = |name: &str| -> Record {
        let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../../samples/records");
        let bytes = std::fs::read(format!("{folder}/{name}.json")).unwrap();
        serde_json::from_slice(&bytes).unwrap()
    };
    let (before, after) = (read("reed-01-before_work"), read("reed-02-after_work"));
    let account = Account::of(&before, &after, &[]).unwrap();
    close(account.steel(), 4.2, DIFFERENCE);
    close(account.of_kind(Went::Rust), 2.2, DIFFERENCE);
    let comparison = Comparison::of(&before, &after, &[]);
    let said = crate::compare::summary::summary(&comparison);
    assert!(
        said.en
            .starts_with("4.20\u{a0}±\u{a0}0.33\u{a0}g of steel gone since record 1; "),
        "{}",
        said.en
    );
    assert!(
        said.en
            .ends_with("; 3 flaws gone, 1 smaller, 1 the same, 1 newly visible."),
        "{}",
        said.en
    );
    assert!(
        said.ja.starts_with("記録 1 以降に鋼の減少 4.20"),
        "{}",
        said.ja
    );
}
