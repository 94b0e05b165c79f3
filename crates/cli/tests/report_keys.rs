//! Reports of a record that an earlier key of the workshop sealed, and pages that are drawn again.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

mod common;

use std::fs;

use common::{Bench, text};
use serde_json::Value;

/// A workshop with one sealed record and a passphrase file for a later key.
fn sealed() -> Bench {
    let bench = Bench::with_workshop("Reedbank Polishing");
    fs::write(bench.path("new.txt"), "seven dry stones\n").unwrap();
    bench.put("heron");
    bench.seal("heron", "before_work", "work").code(0);
    bench
}

fn report(bench: &Bench, file: &str, passphrase: &str, more: &[&str]) -> common::Ran {
    let line = [
        "report",
        "heron",
        "--out",
        file,
        "--passphrase-file",
        passphrase,
        "--json",
    ];
    bench.work(&[&line[..], more].concat())
}

fn verified(bench: &Bench, file: &str, memory: &str) -> Value {
    let line = ["verify", file, "--memory", memory, "--json"];
    let ran = bench.run(&line);
    let json = ran.json();
    assert_eq!(json["exit_code"], ran.code);
    json
}

fn carries(bench: &Bench, file: &str, name: &str) -> bool {
    let bytes = fs::read(bench.path(file)).unwrap();
    bytes
        .windows(name.len())
        .any(|window| window == name.as_bytes())
}

#[test]
fn a_later_key_reports_an_earlier_record_with_the_history_that_joins_them() {
    let bench = sealed();
    report(&bench, "early.pdf", "pass.txt", &[]).code(0);
    assert!(!carries(&bench, "early.pdf", "key-history.json"));
    let first = verified(&bench, "early.pdf", "their");
    assert_eq!(text(&first["signer"], "state"), "new");
    assert_eq!(text(&first["pages"], "state"), "same_pages");

    let rotated = bench
        .work(&[
            "key",
            "rotate",
            "--reason",
            "every three years",
            "--passphrase-file",
            "pass.txt",
            "--new-passphrase-file",
            "new.txt",
            "--yes",
            "--json",
        ])
        .code(0)
        .json();
    report(&bench, "late.pdf", "new.txt", &[]).code(0);
    assert!(carries(&bench, "late.pdf", "key-history.json"));

    // Somebody who knows the first key follows the history in the file; somebody who knows none has two to learn.
    let known = verified(&bench, "late.pdf", "their");
    assert_eq!(known["exit_code"], 0, "{known}");
    assert_eq!(text(&known["bytes"], "state"), "intact");
    assert_eq!(text(&known["pages"], "state"), "same_pages");
    let told = known["notices"][0].as_str().unwrap();
    assert!(
        told.starts_with("the pages were signed by a later key of the workshop, ")
            && told.contains(text(&rotated, "fingerprint")),
        "{told}"
    );
    let stranger = verified(&bench, "late.pdf", "nobody");
    assert_eq!(stranger["exit_code"], 2);
    let own = bench.work(&["verify", "late.pdf", "--json"]).code(0).json();
    assert_eq!(text(&own["signer"], "state"), "own");
}

#[test]
fn the_pages_are_the_fifth_line_and_no_line_of_a_record() {
    let bench = sealed();
    report(
        &bench,
        "care.pdf",
        "pass.txt",
        &["--kind", "care", "--language", "both"],
    )
    .code(0);
    let shown = bench.work(&["verify", "care.pdf"]).code(0).out;
    assert!(
        shown.contains(
            "the same: drawn again from the embedded record, every byte is equal (kind care, language both)"
        ),
        "{shown}"
    );
    let record = fs::read_dir(bench.path("w/out"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .find(|path| path.extension().is_some_and(|ending| ending == "json"))
        .unwrap();
    let record = record.to_str().unwrap();
    let shown = bench.work(&["verify", record]).code(0).out;
    assert!(!shown.contains("pages:"), "{shown}");
    let json = bench.work(&["verify", record, "--json"]).code(0).json();
    assert_eq!(json["pages"], Value::Null);
}
