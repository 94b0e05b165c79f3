//! Two states against each other through the built command.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

mod common;

use std::fs;

use common::{Bench, Ran, edit, sheet, text};
use serde_json::Value;

/// A blade with a record before work, and the sheet after it.
fn worked() -> Bench {
    let bench = Bench::with_workshop("Reedbank Polishing");
    bench.put("reed-before");
    bench.seal("reed", "before_work", "work").code(0);
    bench.put("reed-after");
    bench
}

/// The same with the work sealed too.
fn sealed() -> Bench {
    let bench = worked();
    bench.seal("reed", "after_work", "work").code(0);
    bench
}

fn fate<'a>(told: &'a Value, id: &str) -> &'a Value {
    let flaws = told["flaws"].as_array().unwrap();
    flaws.iter().find(|flaw| flaw["id"] == id).unwrap()
}

fn total<'a>(told: &'a Value, went: &str) -> &'a Value {
    let totals = told["account"]["totals"].as_array().unwrap();
    &totals.iter().find(|one| one["went"] == went).unwrap()["gone"]
}

fn pdf(bench: &Bench, arguments: &[&str], file: &str) -> Ran {
    let key = ["--pdf", file, "--passphrase-file", "pass.txt"];
    bench.work(&[arguments, &key].concat())
}

#[test]
fn two_records_are_told_drawn_and_reported() {
    let bench = sealed();
    let ran = bench.work(&["compare", "reed"]).code(0);
    // 748.3 g as received, 746.1 g without rust, 741.9 g now: 2.2 g and 4.2 g; one scale, of whose error 80 % repeats:
    // U = 2·√(2·(0.1²/12 + 0.1²) + 2·0.2·0.2²/3) = 0.33 g.
    let first = ran.out.lines().next().unwrap();
    assert!(
        first.starts_with("4.20 ± 0.33 g of steel gone since record 1; "),
        "{first}"
    );
    assert!(
        first.ends_with("; 3 flaws gone, 1 smaller, 1 the same, 1 newly visible."),
        "{first}"
    );
    for said in [
        "p1 remove rust",
        "sum: rust",
        "by this program's reading, no finding of an examiner:",
        "whole-before and whole-after",
    ] {
        assert!(ran.out.contains(said), "{said}\n{}", ran.out);
    }
    let told = bench
        .work(&["compare", "reed", "1", "2", "--json"])
        .code(0)
        .json();
    assert_eq!(told["before"]["record"], 1);
    assert_eq!(told["after"]["record"], 2);
    assert_eq!(text(total(&told, "rust"), "value"), "2.20");
    assert_eq!(text(total(&told, "steel"), "value"), "4.20");
    assert_eq!(text(total(&told, "all"), "value"), "6.40");
    assert_eq!(text(total(&told, "all"), "expanded_uncertainty"), "0.33");
    assert_eq!(fate(&told, "pits-1")["fate"], "smaller");
    assert_eq!(fate(&told, "pits-2")["fate"], "same");
    let ware = fate(&told, "ware-1");
    assert_eq!(
        (text(ware, "fate"), text(ware, "rule")),
        ("newly_visible", "place-was-covered")
    );
    let mass = told["quantities"].as_array().unwrap();
    let mass = mass.iter().find(|one| one["field"] == "mass").unwrap();
    assert_eq!(text(&mass["difference"], "value"), "-6.40");
    assert_eq!(mass["judged"], "less");
}

#[test]
fn drawings_are_the_same_each_time_and_never_over_others() {
    let bench = sealed();
    let draw = |folder: &str, language: &str| {
        bench.work(&[
            "compare",
            "reed",
            "1",
            "2",
            "--svg",
            folder,
            "--language",
            language,
        ])
    };
    let made = draw("d", "en").code(0);
    for name in [
        "loss",
        "sections",
        "steel-account",
        "steel-gone",
        "passes",
        "photos",
    ] {
        let file = format!("d/reed-01-02-{name}.svg");
        assert!(
            made.out.lines().any(|line| line == file),
            "{file}\n{}",
            made.out
        );
        let svg = fs::read_to_string(bench.path(&file)).unwrap();
        assert!(
            svg.starts_with("<svg ") && svg.ends_with("</svg>\n"),
            "{file}"
        );
    }
    let photos = fs::read_to_string(bench.path("d/reed-01-02-photos.svg")).unwrap();
    assert_eq!(
        photos.matches("href=\"data:image/jpeg;base64,/9j/").count(),
        2
    );
    draw("again", "en").code(0);
    draw("ja", "ja").code(0);
    for name in ["steel-account", "photos", "loss"] {
        let read = |folder: &str, end: &str| {
            fs::read(bench.path(&format!("{folder}/reed-01-02-{name}{end}.svg"))).unwrap()
        };
        assert_eq!(read("d", ""), read("again", ""), "{name}");
        assert_ne!(read("d", ""), read("ja", "-ja"), "{name}");
    }
    let account = fs::read_to_string(bench.path("ja/reed-01-02-steel-account-ja.svg")).unwrap();
    assert!(account.contains("計測ごとの質量"), "{account}");
    let again = draw("d", "en").code(1);
    assert!(
        again.err.contains("exists already; no drawing was written"),
        "{}",
        again.err
    );
    let wrong = bench
        .work(&["compare", "reed", "--svg", "pass.txt"])
        .code(1);
    assert!(
        wrong.err.contains("a file, a folder is needed"),
        "{}",
        wrong.err
    );
}

#[test]
fn the_sheet_is_compared_before_it_is_sealed_and_reported_after() {
    let bench = worked();
    // One record: the sheet is the other state.
    let told = bench.work(&["compare", "reed", "--json"]).code(0).json();
    assert_eq!(told["after"]["record"], Value::Null);
    assert_eq!(text(&told["after"], "name"), "the sheet");
    assert_eq!(text(total(&told, "steel"), "value"), "4.20");
    bench
        .work(&["compare", "reed", "1", "sheet", "--svg", "d"])
        .code(0);
    let svg = fs::read_to_string(bench.path("d/reed-01-sheet-loss.svg")).unwrap();
    assert!(svg.contains("from record 1 to the sheet"), "{svg}");
    let refused = pdf(&bench, &["compare", "reed", "1", "sheet"], "reed.pdf").code(1);
    assert!(
        refused.err.contains("a signed report shows sealed records")
            && refused
                .err
                .contains("hint: seal it with `tangmark seal reed --for after_work`"),
        "{}",
        refused.err
    );
    assert!(!bench.path("reed.pdf").exists());
    bench.seal("reed", "after_work", "work").code(0);
    pdf(&bench, &["compare", "reed"], "reed.pdf").code(0);
    let said = bench.pdf_words(&[], "reed.pdf");
    for part in [
        "Flaw by flaw",
        "Steel account",
        "Photographs before and after",
        "4.20 ± 0.33 g of steel gone since record 1",
    ] {
        assert!(said.contains(part), "{part}\n{said}");
    }
    pdf(
        &bench,
        &["compare", "reed", "1", "2", "--language", "ja"],
        "ja.pdf",
    )
    .code(0);
    let said: String = bench.pdf_words(&[], "ja.pdf").split(' ').collect();
    for part in ["疵ごとの比較", "鋼の収支", "写真の比較"] {
        assert!(said.contains(part), "{part}\n{said}");
    }
}

#[test]
fn any_two_records_make_a_report_that_is_verified() {
    let bench = sealed();
    // A third state: another weighing after some oil.
    let later = edit(
        &sheet("reed-after"),
        "mass = { text = \"741.9 g\", instrument = \"scale\" }\nmass_state",
        "mass = { text = \"741.8 g\", instrument = \"scale\" }\nmass_state",
    );
    bench.put_text(&later).code(0);
    bench.seal("reed", "transfer", "work").code(0);
    pdf(&bench, &["compare", "reed", "2", "3"], "late.pdf").code(0);
    for number in ["1", "2"] {
        let file = format!("r{number}.json");
        bench
            .work(&[
                "blade", "record", "reed", "--number", number, "--out", &file,
            ])
            .code(0);
    }
    let verified = bench.work(&[
        "verify", "late.pdf", "--with", "r1.json", "--with", "r2.json",
    ]);
    assert!(
        verified
            .out
            .contains("drawn again from the embedded record, every byte is equal (kind comparison"),
        "{}\n{}",
        verified.out,
        verified.err
    );
    // Without the record it goes back to nothing can be drawn, and nothing is called altered.
    let alone = bench.work(&["verify", "late.pdf"]);
    assert!(
        !alone.out.contains("altered: the embedded record"),
        "{}",
        alone.out
    );
    assert!(
        bench
            .pdf_words(&[], "late.pdf")
            .contains("RECORD 3 AGAINST 2")
    );
    // The verb `report` makes the same pages.
    bench
        .work(&[
            "report",
            "reed",
            "--kind",
            "comparison",
            "--against",
            "2",
            "--out",
            "same.pdf",
            "--passphrase-file",
            "pass.txt",
        ])
        .code(0);
    assert_eq!(
        fs::read(bench.path("late.pdf")).unwrap(),
        fs::read(bench.path("same.pdf")).unwrap()
    );
    let later = bench
        .work(&[
            "report",
            "reed",
            "--kind",
            "comparison",
            "--against",
            "7",
            "--passphrase-file",
            "pass.txt",
        ])
        .code(1);
    assert!(
        later
            .err
            .contains("blade `reed` has no record 7 before record 3"),
        "{}",
        later.err
    );
    let wrong = bench.work(&["report", "reed", "--against", "2"]).code(4);
    assert!(
        wrong
            .err
            .contains("--against goes with `--kind comparison`"),
        "{}",
        wrong.err
    );
}

#[test]
fn states_that_are_not_there_or_in_the_wrong_order_are_told() {
    let bench = worked();
    for (arguments, code, said, hint) in [
        (
            vec!["compare", "reed", "2"],
            1,
            "blade `reed` has no record 2, 1 to 1 are there",
            "",
        ),
        (
            vec!["compare", "reed", "sheet", "1"],
            1,
            "the sheet is not before record 1",
            "turn them round: `tangmark compare reed 1 sheet`",
        ),
        (
            vec!["compare", "reed", "1", "1"],
            1,
            "record 1 is not before record 1",
            "`tangmark blade show reed` lists them",
        ),
        (
            vec!["compare", "reed", "first"],
            4,
            "a number of a record from 1 up, or `sheet`",
            "",
        ),
        (
            vec!["compare", "reed", "0"],
            4,
            "a number of a record from 1 up, or `sheet`",
            "",
        ),
        (vec!["compare", "reed", "--width", "150"], 4, "--svg", ""),
        (
            vec!["compare", "reed", "--svg", "d", "--width", "20"],
            1,
            "a drawing 20 mm wide, 120 mm to 400 mm are allowed",
            "",
        ),
    ] {
        let ran = bench.work(&arguments).code(code);
        assert!(ran.err.contains(said), "{arguments:?}: {}", ran.err);
        assert!(ran.err.contains(hint), "{arguments:?}: {}", ran.err);
    }
    bench.put("gorge");
    let none = bench.work(&["compare", "gorge"]).code(1);
    assert!(
        none.err.contains("blade `gorge` has no sealed record yet"),
        "{}",
        none.err
    );
}
