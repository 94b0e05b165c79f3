//! Pricing, selling and giving back through the built command.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

mod common;

use std::fs;
use std::path::Path;

use common::{Bench, Ran, samples, text};
use serde_json::Value;

fn bench(sheet: &str) -> Bench {
    let bench = Bench::with_workshop("Reedbank Polishing");
    bench.put(sheet);
    bench
}

/// Gives the plugin that speaks of prices its sample comparables.
fn with_comparables(bench: &Bench) {
    let folder = bench.path("w/plugins/valuation");
    fs::create_dir_all(&folder).unwrap();
    for (from, to) in [
        ("settings/valuation.toml", "settings.toml"),
        ("tables/valuation/comparables.csv", "comparables.csv"),
    ] {
        fs::copy(samples().join(from), folder.join(to)).unwrap();
    }
}

fn close(bench: &Bench, blade: &str, more: &[&str]) -> Ran {
    let words = [
        "sale",
        "close",
        blade,
        "--passphrase-file",
        "pass.txt",
        "--json",
    ];
    bench.work(&[&words[..], more].concat())
}

const TO: [&str; 6] = [
    "--to",
    "A. Lindqvist",
    "--price",
    "3200 EUR",
    "--out",
    "papers",
];

fn record(bench: &Bench, closed: &Value) -> (String, Value) {
    let steps = closed["steps"].as_array().unwrap();
    let step = steps.iter().find(|step| step["step"] == "record").unwrap();
    let bytes = fs::read_to_string(bench.path(text(step, "file"))).unwrap();
    let value = serde_json::from_str(&bytes).unwrap();
    (bytes, value)
}

fn stage(bench: &Bench, blade: &str) -> String {
    let entries = bench
        .work(&["journal", "list", blade, "--kind", "stage", "--json"])
        .code(0)
        .json();
    let newest = entries.as_array().unwrap().last().unwrap();
    text(&newest["content"], "stage").to_owned()
}

#[test]
fn no_price_without_basis_and_interval() {
    let bench = bench("heron");
    let price = |more: &[&str]| bench.work(&[&["sale", "price", "heron"][..], more].concat());
    let bare = price(&["--json"]).code(0).json();
    assert_eq!(
        (&bare["estimate"], &bare["asking"]),
        (&Value::Null, &Value::Null)
    );
    let refused = price(&["--asking", "3200 EUR"]).code(1);
    assert!(
        refused
            .err
            .starts_with("error: an asking price without an interval: "),
        "{}",
        refused.err
    );
    let basis = [
        "--asking",
        "3200 EUR",
        "--basis",
        "three like sales this year",
    ];
    price(&basis).code(1);
    let outside = [&basis[..], &["--between", "3300 3900"]].concat();
    assert!(
        price(&outside)
            .code(1)
            .err
            .contains("the price lies outside it")
    );
    price(&[&basis[..], &["--between", "3300"]].concat()).code(4);
    price(&["--asking", "a lot"]).code(4);

    let whole = [
        &basis[..],
        &["--between", "2600 3900", "--by", "I. Reed", "--json"],
    ]
    .concat();
    let written = price(&whole).code(0).json();
    let asking = &written["asking"];
    assert_eq!(
        (text(asking, "basis"), text(asking, "valuer")),
        ("asking", "I. Reed")
    );
    let note = text(asking, "note");
    assert!(
        note.contains("three like sales this year") && note.contains("between 2600 and 3900 EUR"),
        "{note}"
    );
    // It is sealed, and nobody reads it there.
    let sealed = bench.seal("heron", "before_work", "work").code(0).json();
    let bytes = fs::read_to_string(bench.path(text(&sealed, "file"))).unwrap();
    assert!(
        !bytes.contains("3200") && !bytes.contains("like sales"),
        "withheld"
    );
    assert!(sealed["withheld"].as_u64().unwrap() > 0);
}

#[test]
fn the_comparables_give_basis_and_interval() {
    let bench = bench("reed-before");
    with_comparables(&bench);
    let price = |more: &[&str]| {
        let line = ["sale", "price", "reed", "--json"];
        bench.work(&[&line[..], more].concat()).code(0).json()
    };
    let first = price(&[]);
    let range = &first["estimate"];
    let number = |name: &str| text(range, name).parse::<f64>().unwrap();
    assert!(
        number("lower") < number("median") && number("median") < number("upper"),
        "{range}"
    );
    // What was spent for the blade is told beside it.
    let currency = text(range, "currency").to_owned();
    let cost = format!("120.50 {currency}");
    bench
        .work(&["book", "cost", "reed", &cost, "--for", "scabbard"])
        .code(0);
    let low = format!("100 {currency}");
    let written = price(&["--asking", &low]);
    assert_eq!(text(&written["cost"][0], "amount"), "120.50");
    let remarks = written["remarks"].to_string();
    assert!(remarks.contains("below the interval"), "{remarks}");
    assert!(
        remarks.contains("below what the blade has cost so far"),
        "{remarks}"
    );
    let note = text(&written["asking"], "note");
    assert!(
        note.contains("own comparables: median") && note.contains("95 of 100"),
        "{note}"
    );
}

#[test]
fn a_sale_does_what_ends_it_and_shows_no_name_and_no_price() {
    let bench = bench("heron");
    bench.seal("heron", "before_work", "work").code(0);
    let closed = close(
        &bench,
        "heron",
        &[&TO[..], &["--on", "2026-11-20"]].concat(),
    )
    .code(0)
    .json();
    assert_eq!(
        (text(&closed, "way"), text(&closed, "on")),
        ("sale", "2026-11-20")
    );
    let (bytes, sealed) = record(&bench, &closed);
    assert_eq!(text(&sealed, "purpose"), "transfer");
    assert!(
        !bytes.contains("Lindqvist") && !bytes.contains("3200"),
        "withheld"
    );
    let event = sealed["custody"].as_array().unwrap().last().unwrap();
    assert_eq!(
        (text(event, "kind"), text(&event["to"], "role")),
        ("sold", "buyer")
    );
    assert_eq!(text(&event["from"], "role"), "polisher");
    let mut files: Vec<String> = fs::read_dir(bench.path("papers"))
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    files.sort();
    assert_eq!(
        files,
        [
            "heron-02-transfer-buyer.pdf",
            "heron-02-transfer-care.pdf",
            "heron-02-transfer-identification.pdf",
            "heron-02-transfer-receipt.pdf",
            "heron-handover.zip",
        ]
    );
    for file in &files {
        let path = format!("papers/{file}");
        let read = bench.run(&["verify", &path, "--memory", "their", "--no-remember"]);
        assert_eq!(read.code, 2, "a new signer and nothing else: {}", read.out);
        if Path::new(file).extension().is_some_and(|end| end == "pdf") {
            let words = bench.pdf_text(&[], &path);
            assert!(
                !words.contains("Lindqvist") && !words.contains("3200"),
                "{file}"
            );
        }
    }
    assert_eq!(stage(&bench, "heron"), "sold");

    let listed = bench.work(&["sale", "list", "--json"]).code(0).json();
    assert_eq!(listed[0]["complete"], true);
    assert_eq!(text(&listed[0]["price"], "amount"), "3200");
    let shown = bench.work(&["sale", "show", "heron"]).code(0).out;
    assert!(
        shown.contains("A. Lindqvist") && shown.contains("heron-handover.zip"),
        "{shown}"
    );
    // The books know of it without a second entry.
    let account = bench
        .work(&["book", "show", "heron", "--json"])
        .code(0)
        .json();
    assert_eq!(text(&account["currencies"][0], "sold"), "3200");

    let again = close(&bench, "heron", &TO).code(1);
    assert!(
        again
            .err
            .contains("left by sale to `A. Lindqvist` on 2026-11-20"),
        "{}",
        again.err
    );
}

#[test]
fn what_is_named_is_shown_in_the_papers_of_this_sale_alone() {
    let bench = bench("dune");
    let shown = [
        &TO[..],
        &["--reveal", "custody[1].price", "--language", "both"],
    ]
    .concat();
    let closed = close(&bench, "dune", &shown).code(0).json();
    let (bytes, _) = record(&bench, &closed);
    assert!(!bytes.contains("3200"));
    let report = "papers/dune-01-transfer-buyer-both-revealed.pdf";
    let words = bench.pdf_text(&[], report);
    assert!(words.contains("3200"), "{words}");
    assert!(
        !words.contains("Lindqvist") && !words.contains("95 EUR"),
        "{words}"
    );
}

#[test]
fn a_run_that_failed_half_way_goes_on_and_seals_nothing_twice() {
    let bench = bench("heron");
    fs::create_dir(bench.path("papers")).unwrap();
    let in_the_way = "papers/heron-01-transfer-care.pdf";
    fs::write(bench.path(in_the_way), "a shopping list").unwrap();
    let failed = close(&bench, "heron", &TO).code(1);
    let (error, hint) = (
        failed.err.contains("not overwritten"),
        failed.err.contains("hint: move it away"),
    );
    assert!(error && hint, "{}", failed.err);
    assert!(
        failed.err.contains("done: record: sealed heron record 1"),
        "{}",
        failed.err
    );
    assert_eq!(
        fs::read(bench.path(in_the_way)).unwrap(),
        b"a shopping list"
    );
    let listed = bench.work(&["sale", "list"]).code(0).out;
    assert!(listed.contains("under way"), "{listed}");
    // Under way it is finished as it was begun, and not sold to another.
    let other = close(&bench, "heron", &["--to", "B. Other"]).code(1);
    assert!(
        other
            .err
            .contains("with the receiver A. Lindqvist; B. Other was asked for"),
        "{}",
        other.err
    );

    fs::remove_file(bench.path(in_the_way)).unwrap();
    let report = bench.path("papers/heron-01-transfer-buyer.pdf");
    let before = fs::metadata(&report).unwrap().modified().unwrap();
    let went_on = close(&bench, "heron", &[]).code(0);
    let closed = went_on.json();
    let was_done: Vec<bool> = closed["steps"]
        .as_array()
        .unwrap()
        .iter()
        .map(|step| step["was_done"].as_bool().unwrap())
        .collect();
    assert_eq!(
        was_done,
        [true, true, true, true, false, false, false, false]
    );
    assert_eq!(fs::metadata(&report).unwrap().modified().unwrap(), before);
    let records = bench
        .work(&["blade", "show", "heron", "--json"])
        .code(0)
        .json();
    assert_eq!(records["records_sealed"].as_array().unwrap().len(), 1);
}

#[test]
fn a_held_blade_changes_hands_with_its_stop_on_page_1_and_not_as_sound() {
    let bench = bench("gorge");
    let sound = [&TO[..], &["--verdict", "work", "--reason", "it will hold"]].concat();
    let refused = close(&bench, "gorge", &sound).code(1);
    assert!(
        refused
            .err
            .starts_with("error: the decision is `work` while a stop stands: triage/fatal.hagire"),
        "{}",
        refused.err
    );
    assert!(!bench.path("papers").exists());
    let sheets = bench
        .work(&["examine", "history", "gorge", "--json"])
        .code(0)
        .json();
    assert_eq!(sheets.as_array().unwrap().len(), 1, "nothing was written");

    let closed = close(&bench, "gorge", &TO).code(0).json();
    assert_eq!(closed["stops"][0], "triage/fatal.hagire");
    let page = bench
        .pdf_text(&["-l", "1"], "papers/gorge-01-transfer-buyer.pdf")
        .to_lowercase();
    assert!(page.contains("crack"), "{page}");
}

#[test]
fn a_customer_s_blade_goes_back_with_its_account_and_is_not_sold() {
    let bench = bench("reed-after");
    let sold = close(&bench, "reed", &TO).code(1);
    assert!(
        sold.err.contains("is a customer's by the agreement"),
        "{}",
        sold.err
    );
    bench
        .work(&[
            "book",
            "cost",
            "reed",
            "18 EUR",
            "--for",
            "uchigumori stone",
        ])
        .code(0);
    let back = close(&bench, "reed", &["--return", "--out", "back"])
        .code(0)
        .json();
    assert_eq!(
        (text(&back, "way"), text(&back, "to")),
        ("return", "Odile Varga")
    );
    let (bytes, sealed) = record(&bench, &back);
    assert!(!bytes.contains("Odile Varga"));
    let event = sealed["custody"].as_array().unwrap().last().unwrap();
    assert_eq!(
        (text(event, "kind"), text(&event["to"], "role")),
        ("returned", "customer")
    );
    assert_eq!(stage(&bench, "reed"), "returned");
    let account = fs::read_to_string(bench.path("back/reed-account.txt")).unwrap();
    assert!(
        account.contains("uchigumori stone, 18 EUR") && account.contains("Hours: "),
        "{account}"
    );
    assert!(
        account.contains("no price of an hour is set") && !account.contains("--rate"),
        "{account}"
    );
}

#[test]
fn the_account_says_in_japanese_too_what_is_not_in_it() {
    let bench = bench("reed-after");
    close(
        &bench,
        "reed",
        &["--return", "--out", "back", "--language", "ja"],
    )
    .code(0);
    let account = fs::read_to_string(bench.path("back/reed-account.txt")).unwrap();
    assert!(
        account.contains("含まないもの：") && account.contains("一時間の料金が定められていない"),
        "{account}"
    );
}
