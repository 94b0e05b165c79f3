//! What makes a sealed record invalid is the list on record-format.md and nothing else; what bars sealing is more.
#![allow(clippy::unwrap_used, clippy::expect_used)]

use std::fs;
use std::path::Path;

use serde_json::{Value, json};
use tangmark_core::check::{self, Problem};
use tangmark_core::record::Record;
use tangmark_core::{Digest, input, schema};

/// The sound record of `samples/invalid`, with the digest of the published schema.
fn good() -> Value {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../samples/invalid/good-record.json");
    let mut record: Value = serde_json::from_slice(&fs::read(path).unwrap()).unwrap();
    record["schema"]["digest"] = json!(schema::record_digest().to_string());
    record
}

/// States what the plugins would have been asked, had they looked at the record as it is now.
fn asked_again(mut record: Value) -> Value {
    let previous: Option<Digest> = serde_json::from_value(record["previous"].clone()).unwrap();
    let earlier: Vec<Digest> = previous.into_iter().collect();
    let sections = input::sections(record.as_object().unwrap());
    let asked = input::digest(sections, &earlier, record["issued_at"].as_str().unwrap()).unwrap();
    for run in record["runs"].as_array_mut().unwrap() {
        run["input"] = json!(asked.to_string());
    }
    record
}

fn quantity(text: &str, value: &str) -> Value {
    json!({
        "as_read": [{ "text": text, "unit": "mm" }], "value": value, "unit": "mm",
        "standard_uncertainty": "0.29", "uncertainty_from": "resolution",
    })
}

fn places(problems: &[Problem]) -> Vec<&str> {
    problems
        .iter()
        .map(|problem| problem.pointer.as_str())
        .collect()
}

type Change = fn(&mut Value);
type Judge = fn(&Value) -> Result<Record, Vec<Problem>>;

const JUDGES: [(&str, Judge); 3] = [
    ("record", check::record),
    ("opened", check::opened),
    ("to_seal", check::to_seal),
];

/// Rules of sheets: each bars sealing, and no sealed record is judged by it.
const OF_SHEETS: &[(&str, Change)] = &[
    ("/flaws/0/at", |record| {
        record["flaws"][0]["at"] = quantity("2620 mm", "2620.0");
    }),
    ("/dimensions/width_at_base", |record| {
        record["dimensions"]["width_at_base"] = quantity("-31 mm", "-31.0");
    }),
    ("/dimensions/blade_length", |record| {
        record["dimensions"]["blade_length"] = quantity("0 mm", "0.0");
    }),
    ("/dimensions/mass", |record| {
        record["dimensions"]
            .as_object_mut()
            .unwrap()
            .remove("mass_state");
    }),
    ("/dimensions/stations/1/at", |record| {
        record["dimensions"]["stations"][1]["at"] = quantity("0 mm", "0.0");
    }),
    ("/flaws/0/photos/0", |record| {
        record["flaws"][0]["photos"] = json!(["no-such-photo"]);
    }),
    ("/flaws/0/standing", |record| {
        record["flaws"][0]["standing"] = json!("ruled_out");
    }),
    ("/custody/0/when", |record| {
        record["custody"][0]["when"] = json!({ "earliest": "2026-05", "latest": "2026-04" });
    }),
    ("/agreement/return_by", |record| {
        record["agreement"]["return_by"] = json!("2020");
    }),
    ("/passes/1/on", |record| {
        record["passes"][1]["on"] = json!("2026-01-01");
    }),
    ("/examination/instruments/0/resolution", |record| {
        record["examination"]["instruments"][0]["resolution"]["text"] = json!("fine");
    }),
];

#[test]
fn rules_of_sheets_bar_sealing_and_judge_no_sealed_record() {
    check::to_seal(&good()).unwrap();
    for (place, change) in OF_SHEETS {
        let mut record = good();
        change(&mut record);
        let record = asked_again(record);
        if let Err(problems) = check::record(&record) {
            panic!("{place}: {problems:#?}");
        }
        let problems = check::to_seal(&record).expect_err(place);
        assert!(places(&problems).contains(place), "{place}: {problems:#?}");
    }
}

/// The rules of record-format.md, "What makes a record invalid", by their number there.
const OF_RECORDS: &[(u32, &str, Change)] = &[
    (2, "/previous", |record| record["sequence"] = json!(1)),
    (3, "/proof/created", |record| {
        record["proof"]["created"] = json!("2026-03-24T09:00:01Z");
    }),
    (3, "/issued_at", |record| {
        record["issued_at"] = json!("9999-12-30T22:00:01Z");
    }),
    (3, "/issued_at", |record| {
        record["issued_at"] = json!("2016-12-31T23:59:60Z");
    }),
    (3, "/issued_at", |record| {
        record["issued_at"] = json!("2026-03-24T24:00:00Z");
    }),
    (3, "/blade/made_not_before", |record| {
        record["blade"]["made_not_before"] = json!("1700-02-29");
    }),
    (4, "/sequence", |record| {
        record["sequence"] = json!(4_294_967_296_u64);
    }),
    (4, "/flaws/0/count", |record| {
        record["flaws"][0]["count"] = json!(4_294_967_296_u64);
    }),
    (5, "/_sd_alg", |record| {
        record.as_object_mut().unwrap().remove("_sd_alg");
    }),
    (6, "/passes/1/id", |record| {
        record["passes"][1]["id"] = json!("p1");
    }),
    (6, "/examination/instruments/1/id", |record| {
        let list = record["examination"]["instruments"].as_array_mut().unwrap();
        list.push(list[0].clone());
    }),
    (7, "/dimensions/blade_length/instrument", |record| {
        record["dimensions"]["blade_length"]["instrument"] = json!("tape");
    }),
    (8, "/dimensions/curvature/value", |record| {
        record["dimensions"]["curvature"]["value"] = json!("14.00");
    }),
    (8, "/dimensions/curvature/as_read", |record| {
        record["dimensions"]["curvature"]["as_read"][0]["unit"] = json!("cm");
    }),
    (8, "/dimensions/curvature/as_read", |record| {
        record["dimensions"]["curvature"]["as_read"][0]["text"] = json!("about 14 mm");
    }),
    (8, "/dimensions/curvature/standard_uncertainty", |record| {
        record["dimensions"]["curvature"]["standard_uncertainty"] = json!("0.00");
    }),
    (9, "/custody/0/maps_to", |record| {
        record["custody"][0]["maps_to"] = json!(["crm:E8_Acquisition"]);
    }),
    (10, "/worked_under_hold/0/pass", |record| {
        record["worked_under_hold"][0]["pass"] = json!("p9");
    }),
    (11, "/findings/0/plugin", |record| {
        record["findings"][0]["plugin"] = json!("valuation");
    }),
    (12, "/findings/0/rule", |record| {
        record["findings"][0]["rule"] = json!("price.low");
    }),
    (12, "/runs/0/quantities/0/name", |record| {
        record["runs"][0]["quantities"] =
            json!([{ "name": "price.estimate", "value": "1", "unit": "1" }]);
    }),
    (12, "/runs/0/artefacts/0/title", |record| {
        record["runs"][0]["artefacts"] = json!([{ "kind": "table", "title": "price.sales", "columns": [{ "name": "year", "cells": [] }] }]);
    }),
    (12, "/runs/0/artefacts/0/columns/0/name", |record| {
        record["runs"][0]["artefacts"] = json!([{ "kind": "series", "title": "sales", "columns": [{ "name": "price.paid", "cells": [] }] }]);
    }),
    (13, "/findings/0/evidence/0", |record| {
        record["findings"][0]["evidence"] = json!(["/flaws/7"]);
    }),
];

#[test]
fn every_rule_of_the_list_judges_sealed_records() {
    for (rule, place, change) in OF_RECORDS {
        let mut record = good();
        change(&mut record);
        for (how, judge) in JUDGES {
            let problems = judge(&record).expect_err(place);
            assert_eq!(
                places(&problems),
                [*place],
                "rule {rule}, {how}: {problems:#?}"
            );
        }
    }
}

/// Rule 14: a first or second record states what its plugins were asked; with values put back it is not computed.
#[test]
fn the_input_of_a_run_is_what_the_record_says() {
    let mut record = good();
    record["blade"]["title"] = json!("Long sword `Moor`");
    assert_eq!(
        places(&check::record(&record).unwrap_err()),
        ["/runs/0/input"]
    );
    assert_eq!(
        places(&check::to_seal(&record).unwrap_err()),
        ["/runs/0/input"]
    );
    check::opened(&record).unwrap();
    check::record(&asked_again(record.clone())).unwrap();
    // A third record is about two earlier ones, of which it names one.
    record["sequence"] = json!(3);
    check::record(&record).unwrap();
}

#[test]
fn the_last_time_and_the_largest_number_are_allowed() {
    let mut record = good();
    record["issued_at"] = json!("9999-12-30T22:00:00Z");
    record["proof"]["created"] = record["issued_at"].clone();
    record["flaws"][0]["count"] = json!(u32::MAX);
    check::record(&asked_again(record)).unwrap();
}

/// What a private finding rests on may be withheld, and prices are at home there.
#[test]
fn private_findings_may_point_at_what_is_withheld() {
    let mut record = good();
    record["private_findings"] = json!([{
        "plugin": "triage", "rule": "price.low", "level": "info", "message": "low", "source": "invented",
        "evidence": ["/valuation/value"],
    }]);
    check::opened(&record).unwrap();
}
