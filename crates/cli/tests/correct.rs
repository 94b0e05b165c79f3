//! Corrections and withdrawals through the built command: nothing sealed is changed, and a reader is told.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

mod common;

use std::fs;

use common::{Bench, Ran, text};
use serde_json::Value;

fn correct(bench: &Bench, record: &str, statement: &str, more: &[&str]) -> Ran {
    let words = [
        "correct",
        "heron",
        "--record",
        record,
        "--statement",
        statement,
    ];
    let pass = ["--passphrase-file", "pass.txt", "--json"];
    bench.work(&[&words[..], more, &pass].concat())
}

fn sealed() -> (Bench, String) {
    let bench = Bench::with_workshop("Reedbank Polishing");
    bench.put("heron");
    let sealed = bench.seal("heron", "before_work", "work").code(0).json();
    let file = text(&sealed, "file").to_owned();
    (bench, file)
}

fn revision(bench: &Bench) -> usize {
    let line = ["examine", "history", "heron", "--json"];
    bench.work(&line).code(0).json().as_array().unwrap().len()
}

#[test]
fn a_correction_is_a_record_of_its_own_and_the_next_one_speaks_of_nothing() {
    let (bench, first) = sealed();
    let before = fs::read(bench.path(&first)).unwrap();
    let sheets = revision(&bench);
    let said = "The mass was 748.3 g, not 784.3 g.";
    let by = ["--by", "I. Reed", "--on", "2026-11-20"];
    let corrected = correct(&bench, "1", said, &by).code(0).json();
    assert_eq!(corrected["sequence"], 2);
    let file = text(&corrected["sealed"], "file");
    let record: Value = serde_json::from_slice(&fs::read(bench.path(file)).unwrap()).unwrap();
    assert_eq!(text(&record, "purpose"), "correction");
    assert_eq!(text(&record["refers_to"], "statement"), said);
    assert_eq!(text(&record["refers_to"], "record"), text(&corrected, "of"));
    assert_eq!(fs::read(bench.path(&first)).unwrap(), before);
    assert_eq!(revision(&bench), sheets, "the sheet is as it was");

    let later = bench.seal("heron", "before_work", "work").code(0).json();
    let later: Value =
        serde_json::from_slice(&fs::read(bench.path(text(&later, "file"))).unwrap()).unwrap();
    assert_eq!(later.get("refers_to"), None);

    let listed = bench.work(&["correct", "list", "heron", "--json"]).code(0);
    let line = &listed.json()[0];
    assert_eq!(
        (&line["of_sequence"], &line["withdraws"]),
        (&1.into(), &false.into())
    );
    assert_eq!(text(line, "by"), "I. Reed");
    let shown = bench.work(&["correct", "list", "heron"]).code(0).out;
    assert!(shown.starts_with("record 2 corrects record 1, "), "{shown}");
    assert!(shown.contains(said), "{shown}");

    let again = correct(&bench, "1", said, &[]).code(1);
    assert_eq!(
        again.err.lines().next(),
        Some("error: record 2 of blade `heron` says the same of record 1 already")
    );
}

#[test]
fn what_cannot_be_put_right_so_is_refused() {
    let (bench, _) = sealed();
    let records = |bench: &Bench| {
        let shown = bench.work(&["blade", "show", "heron", "--json"]).code(0);
        shown.json()["records_sealed"].as_array().unwrap().len()
    };
    correct(&bench, "1", "  ", &[]).code(4);
    correct(&bench, "7", "no such record", &[]).code(1);
    let wrong = correct(&bench, "1", &"x".repeat(4001), &[]).code(1);
    assert!(wrong.err.contains("refers_to.statement"), "{}", wrong.err);
    let words = [
        "correct",
        "heron",
        "--record",
        "1",
        "--statement",
        "x",
        "--passphrase-file",
    ];
    fs::write(bench.path("wrong.txt"), "three dry stones\n").unwrap();
    bench.work(&[&words[..], &["wrong.txt"]].concat()).code(1);
    assert_eq!(records(&bench), 1, "nothing was sealed");

    correct(&bench, "1", "another blade", &["--withdraw"]).code(0);
    for (number, more, said) in [
        (
            "1",
            &["--withdraw"][..],
            "was withdrawn by record 2 already",
        ),
        ("1", &[], "was withdrawn by record 2 already"),
        (
            "2",
            &["--withdraw"],
            "is a withdrawal, which stands for good",
        ),
    ] {
        let refused = correct(&bench, number, "once more", more).code(1);
        assert!(refused.err.contains(said), "{}", refused.err);
        assert!(refused.err.contains("\nhint: "), "{}", refused.err);
    }
    assert_eq!(records(&bench), 2);
}

#[test]
fn a_withdrawal_after_the_sale_is_named_when_the_package_is_verified() {
    let (bench, _) = sealed();
    let sale = [
        "sale",
        "close",
        "heron",
        "--to",
        "A. Lindqvist",
        "--price",
        "3200 EUR",
        "--out",
        "papers",
        "--passphrase-file",
        "pass.txt",
        "--json",
    ];
    let closed = bench.work(&sale).code(0).json();
    assert_eq!(closed["sequence"], 2);
    let withdrawn = bench
        .work(&[
            "correct",
            "heron",
            "--record",
            "2",
            "--withdraw",
            "--statement",
            "The transfer names the wrong blade.",
            "--passphrase-file",
            "pass.txt",
        ])
        .code(0);
    assert!(
        withdrawn.err.contains("`A. Lindqvist` has the blade"),
        "{}",
        withdrawn.err
    );
    assert!(
        withdrawn.err.contains("next: send it on: "),
        "{}",
        withdrawn.err
    );
    let sale = bench
        .work(&["sale", "show", "heron", "--json"])
        .code(0)
        .json();
    assert_eq!(text(&sale, "state"), "withdrawn");
    assert_eq!(sale["corrections"][0]["sequence"], 3);
    for words in [&["sale", "show", "heron"][..], &["sale", "list"]] {
        let shown = bench.work(words).code(0).out;
        assert!(
            shown.contains("withdrawn by record 3") && !shown.contains("complete"),
            "{shown}"
        );
    }
    // The package of the sale does not know of it; the one that is sent on says it before all else.
    let pack = [
        "handover",
        "heron",
        "--report",
        "none",
        "--out",
        "after.zip",
    ];
    bench.work(&pack);
    let read = bench.run(&["verify", "after.zip", "--memory", "their"]);
    assert_ne!(read.code, 0, "{}", read.out);
    let said = format!("{}{}", read.out, read.err);
    assert!(said.contains("03-withdrawal.json withdraws"), "{said}");
    // Whoever has the record that was withdrawn reads why, with the withdrawal beside it.
    let old = bench.work(&["verify", "w/out/heron-02-transfer.json", "--json"]);
    assert_eq!(old.code, 2, "{}", old.out);
    assert!(
        old.out.contains("withdraws this record: ")
            && old.out.contains("The transfer names the wrong blade."),
        "{}",
        old.out
    );
    let journal = bench.work(&["journal", "list", "heron", "--kind", "correction", "--json"]);
    let entries = journal.code(0).json();
    assert_eq!(entries[0]["content"]["withdraws"], true);
    assert_eq!(entries[0]["content"]["of_sequence"], 2);
}
