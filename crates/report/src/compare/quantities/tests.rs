#![allow(clippy::unwrap_used)]
use serde_json::{Value, json};
use tangmark_core::units::Dimension;

use super::*;
use crate::{compare::Comparison, sample};

fn quantity(value: &str, standard: &str, unit: &str) -> Value {
    json!({ "value": value, "unit": unit, "standard_uncertainty": standard, "uncertainty_from": "instrument", "as_read": [{ "text": format!("{value} {unit}"), "unit": unit }] })
}

/// The sentence on what can be told.
fn summary(before: &Record, after: &Record) -> Pair {
    Count::of(Comparison::of(before, after, &[]).all_rows()).said()
}

fn records() -> (Record, Record) {
    let station = |at: &str, thickness: &str| json!({ "at": quantity(at, "0.29", "mm"), "ridge_thickness": quantity(thickness, "0.018", "mm") });
    let mut before = sample::bare();
    before["dimensions"] = json!({
        "datum": "back_notch",
        "mass": quantity("748.30", "0.12", "g"), "mass_state": "bare",
        "blade_length": quantity("698.17", "0.20", "mm"),
        "tang_length": quantity("205.00", "0.31", "mm"),
        "stations": [station("0.0", "6.980"), station("100.0", "6.700")],
    });
    let mut after = sample::bare();
    after["dimensions"] = json!({
        "datum": "back_notch",
        "mass": quantity("742.60", "0.12", "g"), "mass_state": "bare",
        "blade_length": quantity("698.00", "0.20", "mm"),
        "curvature": quantity("16.50", "0.12", "mm"),
        "stations": [station("0.4", "6.950"), station("150.0", "6.600")],
    });
    (
        serde_json::from_value(before).unwrap(),
        serde_json::from_value(after).unwrap(),
    )
}

#[test]
fn differences_are_those_of_a_calculation_by_hand() {
    let (before, after) = records();
    let rows = named(&before, &after);
    let row = |name: &str| {
        rows.iter()
            .find(|row| row.name.en.starts_with(name))
            .unwrap()
    };
    let cell = Row::stated;
    // 742.60 − 748.30 = −5.70 g. No instrument is named, so nothing is shared; a weighing repeats to a step, 0.01 g:
    // U = 2·√(2·(0.12² + 0.01²)) = 0.341 g.
    let mass = row("mass");
    assert_eq!(cell(mass), "−5.70\u{a0}±\u{a0}0.34");
    assert_eq!(mass.against(), Some(Against::Below));
    // 698.00 − 698.17 = −0.17 mm; U = 2·0.20·√2 = 0.566 mm: cannot be told.
    let length = row("blade length");
    assert_eq!(cell(length), "−0.17\u{a0}±\u{a0}0.57");
    assert_eq!(length.against(), Some(Against::Undecided));
    assert_eq!(row("length of the tang").against(), None);
    assert!(row("curvature").before.is_none());
}

#[test]
fn stations_are_matched_by_their_place() {
    let (before, after) = records();
    let pairs = stations(&before, &after);
    // 0.4 mm apart with U = 2·0.29·√2 = 0.82 mm: the same place. 6.950 − 6.980 = −0.030 mm; the blade tapers by 0.28 mm in
    // 100 mm, so 1 mm of doubt of the place is 0.0028 mm each time: U = 2·√(2·(0.018² + 0.0028²)) = 0.0515 mm.
    let row = &pairs[0].rows[0];
    assert_eq!(row.stated(), "−0.030\u{a0}±\u{a0}0.052");
    assert_eq!(row.against(), Some(Against::Undecided));
    // 100 mm was not measured again: 150 mm is another place, which was not measured before.
    assert!(pairs[1].rows[0].after.is_none());
    assert_eq!(pairs.len(), 3);
    assert!((pairs[2].at.to_f64() - 150.0).abs() < 1e-9);
    assert!(pairs[2].rows[0].before.is_none() && pairs[2].rows[0].after.is_some());
    let missing: Vec<String> = not_measured_again(&Comparison::of(&before, &after, &[]))
        .into_iter()
        .map(|name| name.en.into_owned())
        .collect();
    assert_eq!(missing.len(), 2, "{missing:?}");
    assert!(missing[0].starts_with("length of the tang"));
    assert!(missing[1].starts_with("thickness at the ridge at 100.0"));
}

#[test]
fn what_was_measured_the_second_time_only_is_shown() {
    let (_, after) = records();
    let bare: Record = serde_json::from_value(sample::bare()).unwrap();
    let mut stations_only = after;
    let dimensions = stations_only.dimensions.as_mut().unwrap();
    (
        dimensions.mass,
        dimensions.blade_length,
        dimensions.curvature,
    ) = (None, None, None);
    assert!(named(&bare, &stations_only).is_empty());
    let pairs = stations(&bare, &stations_only);
    let said: Vec<String> = pairs
        .iter()
        .flat_map(|one| &one.rows)
        .map(|row| row.judged().en.into_owned())
        .collect();
    assert_eq!(said, ["not measured before"; 2]);
}

#[test]
fn places_from_different_datums_are_not_compared() {
    let (before, mut after) = records();
    after.dimensions.as_mut().unwrap().datum = tangmark_core::record::Datum::Shoulder;
    assert!(stations(&before, &after).is_empty());
    let rows = named(&before, &after);
    let row = |name: &str| {
        let found = rows.iter().find(|row| row.name.en.starts_with(name));
        let row = found.unwrap();
        let judged = row.judged().en.into_owned();
        (judged, row.stated())
    };
    assert_eq!(
        row("blade length"),
        ("no comparison".to_owned(), words::NOTHING.to_owned())
    );
    assert_eq!(row("length of the tang").0, "not measured again");
    // What hangs on no datum is compared as ever.
    assert_eq!(row("mass").0, "less");
    assert_eq!(
        not_compared(&before, &after).unwrap().en,
        "Stations, and lengths that start at the datum, are not compared: record 1 measures from: notch of the back, at the tang; record 1 from: shoulder of a blade without notches."
    );
    assert_eq!(
        summary(&before, &after).en,
        "1 of 1 measure that can be compared changed by more than the measurement can tell"
    );
    let missing = not_measured_again(&Comparison::of(&before, &after, &[]));
    assert_eq!(
        missing.last().unwrap().en,
        "what starts at the datum of record 1"
    );
    let (before, after) = records();
    assert!(not_compared(&before, &after).is_none());
}

#[test]
fn the_summary_counts_what_can_be_told() {
    let (before, after) = records();
    // Mass, blade length and one station measured both times; only the mass can be told.
    assert_eq!(
        summary(&before, &after).en,
        "1 of 3 measures changed by more than the measurement can tell"
    );
    let bare: Record = serde_json::from_value(sample::bare()).unwrap();
    assert_eq!(summary(&bare, &bare).en, "nothing was measured both times");
}

#[test]
fn numbers_that_nobody_measured_again_are_no_second_measurement() {
    let (before, _) = records();
    // Mass, two lengths and two stations.
    let said = summary(&before, &before).en;
    assert_eq!(
        said,
        "all 5 measures are equal to the last digit: taken over, not measured again, so they do not tell whether anything changed"
    );
    // As a sheet made of a received record has it.
    let mut received = before.clone();
    let mass = received.dimensions.as_mut().unwrap().mass.as_mut().unwrap();
    mass.0.method = Some("as record 1 has it".to_owned());
    assert_eq!(summary(&before, &received).en, said);
    // One reading more is a measurement, though the value is the same.
    let mut again = before.clone();
    let mass = again.dimensions.as_mut().unwrap().mass.as_mut().unwrap();
    let reading = mass.0.as_read[0].clone();
    mass.0.as_read.push(reading);
    assert!(summary(&before, &again).en.starts_with("0 of 5 measures"));
}

#[test]
fn another_state_of_the_mass_is_another_quantity() {
    let (before, _) = records();
    let mut mounted = before.clone();
    let dimensions = mounted.dimensions.as_mut().unwrap();
    dimensions.mass_state = Some(tangmark_core::record::MassState::Mounted);
    let rows = named(&before, &mounted);
    let masses = rows.iter().filter(|row| row.name.en.starts_with("mass"));
    assert_eq!(
        masses
            .map(|row| (row.before.is_some(), row.after.is_some()))
            .collect::<Vec<_>>(),
        [(true, false), (false, true)]
    );
}

#[test]
fn the_mass_is_the_last_one_weighed_and_says_of_when() {
    let (before, _) = records();
    let mut after = before.clone();
    let mass = before.dimensions.as_ref().unwrap().mass.clone().unwrap();
    let mut less = mass.clone();
    less.0.value = "700.00".parse().unwrap();
    let pass = json!({ "id": "q1", "on": "2027-04-01", "operation": "grind", "zones": ["ground"], "after": { "mass": less } });
    after.passes.push(serde_json::from_value(pass).unwrap());
    let rows = named(&before, &after);
    let row = rows.iter().find(|row| row.field == "mass").unwrap();
    assert_eq!(row.name.en, "mass; second after pass q1, 2027-04-01");
    assert_eq!(row.before, Some(&mass.0));
    assert_eq!(row.after, Some(&less.0));
    let gone = mass.0.to_f64() - 700.0;
    assert!((row.difference.unwrap().value + gone).abs() < 1e-9);
}

#[test]
fn a_gain_has_its_sign() {
    let gain = Estimate::new(0.25, 0.02);
    assert_eq!(stated(gain, 2, Unit::Gram), "+0.25\u{a0}±\u{a0}0.04\u{a0}g");
    assert_eq!(
        stated(Estimate::new(f64::NAN, 0.1), 2, Unit::Gram),
        words::NOTHING
    );
    let read = sample::read("5 mm", Dimension::Length);
    let read: Quantity = serde_json::from_value(read).unwrap();
    assert!((Estimate::from(&read).value - 5.0).abs() < 1e-12);
}

/// By hand, with one scale of 0.1 g and a limit of error of 0.2 g both times, of whose error 80 % repeats:
/// u² = 2·(0.1²/12 + 0.1²) + 2·(1 − 0.8)·0.2²/3 = 0.021 667 + 0.005 333 = 0.027, U = 0.3286 g. Apart from each other the
/// two readings would give U = 2·√(0.021 667 + 2·0.2²/3) = 0.4397 g.
#[test]
fn the_error_of_one_instrument_counts_once() {
    let record = |value: &str, check: &str| -> Record {
        let mut made = sample::bare();
        made["examination"] = json!({
            "by": { "role": "polisher", "name": "A. Tessen" }, "on": "2026-03-02", "light": "window", "reason": "intake",
            "methods": ["naked_eye"], "examined": ["mass"], "surface": "rusted", "completeness": "complete",
            "instruments": [{ "id": "scale", "name": "bench scale", "resolution": { "text": "0.1 g", "unit": "g" }, "limit_of_error": { "text": "0.2 g", "unit": "g" }, "calibrated_on": check }],
        });
        let mut mass = quantity(value, "0.12", "g");
        mass["as_read"][0]["text"] = format!("{} g", value.trim_end_matches('0')).into();
        mass["instrument"] = "scale".into();
        made["dimensions"] = json!({ "datum": "back_notch", "mass": mass, "mass_state": "bare" });
        serde_json::from_value(made).unwrap()
    };
    let before = record("748.30", "2026-01-12");
    for (check, doubt) in [("2026-01-12", 0.3286), ("2026-04-30", 0.4397)] {
        let after = record("741.90", check);
        let rows = named(&before, &after);
        let difference = rows[0].difference.unwrap();
        assert_eq!(rows[0].field, "mass");
        assert!((difference.value + 6.4).abs() < 1e-9);
        // A scale that was adjusted in between is another one.
        assert!(
            (difference.expanded() - doubt).abs() < 1e-4,
            "{check}: {difference:?}"
        );
    }
}

#[test]
fn every_named_quantity_has_its_field() {
    let (before, after) = records();
    for row in named(&before, &after) {
        assert!(!row.field.is_empty(), "{}", row.name.en);
    }
    let sword = sample::sword().record;
    assert!(
        named(&sword, &sword)
            .iter()
            .all(|row| !row.field.is_empty())
    );
}
