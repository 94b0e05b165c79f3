//! The list of readings that every reader of records must agree on (`tests/readings.json`), with hand-typed values.
#![allow(clippy::unwrap_used)]

use std::fs;
use std::path::Path;

use serde_json::Value;
use tangmark_core::record::{AsRead, Quantity, UncertaintyBasis};
use tangmark_core::units::Unit;

/// Texts that must have run at least; raise it when some are added.
const READ: usize = 128;
const REFUSED: usize = 91;

fn listed(part: &str) -> Vec<Value> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/readings.json");
    let list: Value = serde_json::from_slice(&fs::read(path).unwrap()).unwrap();
    list[part].as_array().unwrap().clone()
}

fn text(entry: &Value, name: &str) -> String {
    entry[name].as_str().unwrap().to_owned()
}

/// The quantity of one reading, as a sealed record holds it.
fn quantity(entry: &Value, written: &str) -> Quantity {
    Quantity {
        as_read: vec![AsRead {
            text: text(entry, "text"),
            unit: written.to_owned(),
        }],
        value: "1".parse().unwrap(),
        unit: text(entry, "unit").parse::<Unit>().unwrap(),
        standard_uncertainty: "1".parse().unwrap(),
        uncertainty_from: UncertaintyBasis::Stated,
        instrument: None,
        method: None,
    }
}

#[test]
fn every_listed_reading_comes_to_its_value() {
    let list = listed("read");
    let wrong: Vec<String> = list
        .iter()
        .filter_map(|entry| {
            let found = quantity(entry, &text(entry, "written")).recomputed();
            let found = found.map(|value| value.to_string());
            (found.as_deref() != entry["value"].as_str()).then(|| format!("{entry}: {found:?}"))
        })
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(list.len() >= READ, "{} texts ran", list.len());
}

#[test]
fn a_reading_with_another_unit_beside_it_is_refused() {
    for entry in listed("read") {
        let other = if entry["written"] == "mm" { "cm" } else { "mm" };
        assert_eq!(quantity(&entry, other).recomputed(), None, "{entry}");
    }
}

#[test]
fn every_text_that_does_not_fit_is_refused() {
    let list = listed("refused");
    let wrong: Vec<String> = list
        .iter()
        .flat_map(|entry| {
            let unit = text(entry, "unit").parse::<Unit>().unwrap();
            let found =
                tangmark_core::units::reading::read_signed(&text(entry, "text"), unit.dimension());
            found.map(|reading| format!("{entry}: {}", reading.rounded()))
        })
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(list.len() >= REFUSED, "{} texts ran", list.len());
}
