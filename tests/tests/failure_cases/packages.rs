//! Packages, cases 33 to 51, 61, 63, 64 and 69. What is told is the exit code and every state that is not the usual one.

use std::collections::BTreeSet;

use serde_json::Value;
use tangmark_package::judge::{PackageReader, judge_bytes};
use tangmark_testkit::failures::material::{ISSUER, Keys, Material};
use tangmark_testkit::failures::{Case, Kind, package};
use tangmark_trust::memory::{Memory, SeenKey};

use super::{NOW, cases};

/// States that need no telling.
const USUAL: [&str; 9] = [
    "intact",
    "whole",
    "fit",
    "original",
    "copy",
    "unaltered",
    "fits",
    "missing",
    "released",
];

/// What a reader who knows the workshop's first key is told.
fn told(zip: &[u8]) -> String {
    let mut memory = Memory::default();
    let key = Keys::new().unwrap().workshop.public_key();
    let seen = SeenKey::new(ISSUER, &key, "2026-01-05T08:00:00Z", "card");
    assert!(memory.remember(seen).unwrap());
    let reader = PackageReader {
        own_keys: &[],
        memory: &memory,
        now: NOW,
        histories: &[],
        authorities: &[],
        own_authorities: &[],
    };
    let verdict = judge_bytes(zip.to_vec(), &reader);
    let value = serde_json::to_value(&verdict).unwrap();
    if !value["refused"].is_null() {
        return format!("{} refused", value["exit"]);
    }
    let mut told = BTreeSet::new();
    for part in [
        "records",
        "disclosures",
        "photos",
        "reports",
        "keys",
        "timestamps",
    ] {
        for one in value[part].as_object().unwrap().values() {
            add(&mut told, part.trim_end_matches('s'), one);
        }
    }
    add(&mut told, "chain", &value["chain"]);
    for part in ["schema", "page"] {
        if let Some(state) = value[part].as_str().filter(|state| !USUAL.contains(state)) {
            told.insert(format!("{part}:{state}"));
        }
    }
    for (list, paths) in value["bag"].as_object().unwrap() {
        if !paths.as_array().unwrap().is_empty() {
            told.insert(format!("bag:{list}"));
        }
    }
    if !value["withdrawals"].as_array().unwrap().is_empty() {
        told.insert("withdrawal".to_owned());
    }
    std::iter::once(value["exit"].to_string())
        .chain(told)
        .collect::<Vec<_>>()
        .join(" ")
}

fn add(told: &mut BTreeSet<String>, part: &str, one: &Value) {
    let state = one["state"].as_str().unwrap();
    if let Some(difference) = one["difference"].as_str() {
        told.insert(format!("{part}:{state}:{difference}"));
    } else if !USUAL.contains(&state) {
        told.insert(format!("{part}:{state}"));
    } else if part == "timestamp" && one["standing"] == "workshop" {
        told.insert("timestamp:workshop".to_owned());
    }
}

fn expect(number: u32, wanted: &[(&str, &str)]) {
    let found: Vec<(String, String)> = cases(number, Kind::Package)
        .into_iter()
        .map(|case: &Case| (case.name.clone(), told(case.judged())))
        .collect();
    let wanted: Vec<(String, String)> = wanted
        .iter()
        .map(|(name, words)| ((*name).to_owned(), (*words).to_owned()))
        .collect();
    assert_eq!(found, wanted, "case {number}");
}

fn expect_all(number: u32, least: usize, wanted: &str, but: &[(&str, &str)]) {
    let cases = cases(number, Kind::Package);
    assert!(cases.len() >= least, "case {number}: {}", cases.len());
    let mut met = 0;
    for case in cases {
        let other = but.iter().find(|(name, _)| *name == case.name);
        met += usize::from(other.is_some());
        let wanted = other.map_or(wanted, |(_, words)| words);
        assert_eq!(told(case.judged()), wanted, "case {number}: {}", case.name);
    }
    assert_eq!(met, but.len(), "case {number}: a name that no case has");
}

/// Before anything is done to it.
#[test]
fn the_package_is_sound() {
    let zip = package::sound(&Material::new().unwrap()).unwrap().zipped();
    assert_eq!(told(&zip), "0");
}

#[test]
fn case_33_packages_without_the_middle_or_out_of_order() {
    expect(
        33,
        &[
            ("the middle record taken out", "1 chain:broken"),
            (
                "two records in each other's place",
                "1 photo:unsigned record:misnamed",
            ),
            (
                "renamed after the middle was taken out",
                "1 chain:broken photo:unsigned record:misnamed",
            ),
            ("numbered anew by the workshop itself", "1 chain:broken"),
        ],
    );
}

#[test]
fn case_34_a_package_after_a_record_of_another_blade() {
    expect_all(34, 1, "1 chain:broken photo:unsigned", &[]);
}

#[test]
fn case_35_a_package_with_two_second_records() {
    expect_all(35, 1, "1 chain:broken photo:unsigned record:misnamed", &[]);
}

#[test]
fn case_37_packages_with_loops_and_gaps() {
    expect_all(37, 2, "1 chain:broken", &[]);
}

#[test]
fn case_38_a_package_of_a_newer_version() {
    expect_all(
        38,
        1,
        "3 chain:incomplete photo:unsigned record:cannot_judge",
        &[],
    );
}

#[test]
fn case_39_a_package_with_another_schema_file() {
    expect_all(39, 1, "1 schema:other", &[]);
}

#[test]
fn case_40_a_package_that_ends_in_a_withdrawal() {
    expect_all(40, 1, "2 withdrawal", &[]);
}

#[test]
fn case_41_to_44_disclosures_of_a_package() {
    for (number, least) in [(41, 5), (42, 3), (43, 1), (44, 3)] {
        expect_all(number, least, "1 disclosure:refused", &[]);
    }
}

#[test]
fn case_47_packages_that_show_all_or_nothing() {
    expect_all(47, 2, "0", &[]);
}

#[test]
fn case_48_photos_that_are_others() {
    expect(
        48,
        &[
            (
                "another photo of the record in its place",
                "1 photo:not_the_same:other_size",
            ),
            (
                "the same picture written anew",
                "1 photo:not_the_same:same_size",
            ),
            ("a remark put in", "1 photo:not_the_same:same_size"),
            ("turned", "1 photo:not_the_same:other_orientation"),
            ("made smaller", "1 photo:not_the_same:other_size"),
            ("no picture at all", "1 photo:not_the_same"),
        ],
    );
}

#[test]
fn case_49_photos_and_files_missing_or_more() {
    expect(
        49,
        &[
            ("a photo left out", "0"),
            ("a photo missing that the manifest lists", "3 bag:missing"),
            ("a photo that no record names", "2 photo:unsigned"),
            (
                "a photo that no manifest lists",
                "2 bag:unlisted photo:unsigned",
            ),
            ("a photo of another name", "2 bag:unlisted"),
            ("a file of a later version", "0 bag:not_looked_at"),
        ],
    );
}

#[test]
fn case_50_packages_that_are_refused_whole() {
    expect_all(
        50,
        50,
        "1 refused",
        &[
            ("all deflated", "0"),
            ("descriptors behind the data", "0"),
            ("a manifest of another algorithm", "0 bag:ignored_manifests"),
            ("zip: an entry for its folder", "0"),
        ],
    );
}

#[test]
fn case_51_manifests_prove_nothing() {
    let newest = "disclosure:no_record photo:unsigned record:altered report:other_record timestamp:no_record";
    let [anew, before] = [format!("1 {newest}"), format!("1 bag:changed {newest}")];
    expect(
        51,
        &[
            (
                "a record changed, manifests written anew",
                "1 chain:incomplete record:altered",
            ),
            (
                "a record changed, manifests as they were",
                "1 bag:changed chain:incomplete record:altered",
            ),
            ("the newest record changed, manifests written anew", &anew),
            ("the newest record changed, manifests as they were", &before),
            (
                "the report changed, manifests written anew",
                "1 report:altered",
            ),
            (
                "the report changed, manifests as they were",
                "1 bag:changed report:altered",
            ),
            (
                "the schema changed, manifests written anew",
                "1 schema:other",
            ),
            (
                "the schema changed, manifests as they were",
                "1 bag:changed schema:other",
            ),
        ],
    );
}

#[test]
fn case_61_a_report_of_a_record_that_is_not_here() {
    expect_all(61, 1, "1 report:other_record", &[]);
}

#[test]
fn case_63_a_package_with_a_report_of_an_older_record() {
    expect_all(63, 1, "2 report:older", &[]);
}

#[test]
fn case_64_time_evidence_of_a_package() {
    expect_all(
        64,
        17,
        "1 timestamp:refused",
        &[
            ("it fits", "0"),
            ("granted with changes", "0"),
            ("who certified it is no authority", "0"),
            ("a fraction of a second", "0"),
            ("run by the workshop itself", "0 timestamp:workshop"),
            ("of a record that is not here", "1 timestamp:no_record"),
        ],
    );
}

#[test]
fn case_69_line_ends_and_names_of_other_systems() {
    expect(
        69,
        &[
            ("line ends of another system in the tag files", "0"),
            ("a name that is no UTF-8", "1 refused"),
        ],
    );
}
