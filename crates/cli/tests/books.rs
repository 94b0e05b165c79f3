//! The books through the built command: entries, the account of a blade, the year, tables out and in.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

mod common;

use std::fs;
use std::path::Path;

use common::{Bench, Ran, text};
use serde_json::{Value, json};

const RATE: &str = "45 EUR";

fn book(bench: &Bench, words: &[&str]) -> Value {
    let all = [&["book"], words, &["--json"]].concat();
    bench.work(&all).code(0).json()
}

/// Refused, with the beginning of what is wrong and a part of the next step.
fn refused(ran: Ran, code: i32, what: &str, hint: &str) {
    let ran = ran.code(code);
    let error = ran.err.lines().find(|line| line.starts_with("error: "));
    let next = ran.err.lines().find(|line| line.starts_with("hint: "));
    assert!(
        error.is_some_and(|line| line.contains(what)),
        "{what}: {}",
        ran.err
    );
    assert!(
        next.is_some_and(|line| line.contains(hint)),
        "{hint}: {}",
        ran.err
    );
}

/// The account in one currency.
fn currency<'a>(account: &'a Value, code: &str) -> &'a Value {
    let all = account["currencies"].as_array().unwrap();
    all.iter()
        .find(|one| one["currency"] == code)
        .unwrap_or_else(|| panic!("no {code} in {account}"))
}

/// A workshop with a bought blade and entries of every kind.
fn with_books() -> Bench {
    let bench = Bench::with_sheet("gorge");
    book(
        &bench,
        &[
            "cost",
            "gorge",
            "18.40 EUR",
            "--for",
            "parcel, insured",
            "--paid-to",
            "carrier",
            "--on",
            "2026-03-09",
        ],
    );
    book(
        &bench,
        &[
            "stock",
            "add",
            "choji oil",
            "--amount",
            "500 ml",
            "--cost",
            "22 EUR",
            "--on",
            "2026-02-01",
        ],
    );
    book(
        &bench,
        &[
            "use",
            "gorge",
            "Choji Oil",
            "--amount",
            "5 ml",
            "--on",
            "2026-03-16",
        ],
    );
    book(
        &bench,
        &[
            "hours",
            "gorge",
            "--time",
            "1 h 30 min",
            "--for",
            "photographs",
            "--on",
            "2026-03-17",
        ],
    );
    book(
        &bench,
        &[
            "income",
            "gorge",
            "5000 JPY",
            "--for",
            "a picture lent",
            "--on",
            "2026-04-02",
        ],
    );
    book(
        &bench,
        &[
            "cost",
            "--general",
            "64.00 EUR",
            "--for",
            "electricity",
            "--on",
            "2026-04-30",
        ],
    );
    bench
}

#[test]
fn the_account_of_a_blade_adds_up() {
    let bench = with_books();
    let account = book(&bench, &["show", "gorge", "--rate", RATE]);
    let eur = currency(&account, "EUR");
    // 22 EUR for 500 ml: 5 ml are 0.22 EUR. 90 min at 45 EUR an hour: 67.50 EUR.
    assert_eq!(eur["bought"], "240");
    assert_eq!(eur["consumables"], "0.22");
    assert_eq!(eur["costs"], "18.40");
    assert_eq!(eur["margin"], "-258.62");
    assert_eq!(eur["labour"], "67.50");
    assert_eq!(eur["after_labour"], "-326.12");
    let jpy = currency(&account, "JPY");
    assert_eq!(
        (&jpy["margin"], &jpy["labour"]),
        (&json!("5000"), &json!("0"))
    );
    assert_eq!(account["minutes"], "90.0");
    let shown = bench.work(&["book", "show", "gorge"]).code(0).out;
    for words in [
        "-258.62",
        "240 EUR",
        "Harbour Street",
        "1 h 30 min",
        "no rate is named",
    ] {
        assert!(shown.contains(words), "{words} in\n{shown}");
    }
}

#[test]
fn the_rate_comes_from_the_settings_of_valuation_and_pass_times_from_the_sheet() {
    let bench = Bench::with_sheet("reed-after");
    let settings = |text: &str| bench.give("valuation", "settings.toml", text);
    settings("hour_rate = 40\ncurrency = \"EUR\"\n");
    let account = book(&bench, &["show", "reed"]);
    // Passes of 3 h, 7 h 30 min, 11 h and 9 h.
    assert_eq!(account["pass_minutes"], "1830.0");
    assert_eq!(
        account["labour"],
        json!({ "amount": "1220.00", "currency": "EUR" })
    );
    // Bought by the owner before, left here for work: no purchase of this workshop.
    assert_eq!(account["trades"], json!([]));
    settings("hour_rate = 40\n");
    refused(
        bench.work(&["book", "show", "reed"]),
        1,
        "no currency stands beside it",
        "--rate",
    );
}

#[test]
fn entries_are_corrected_and_struck_out_and_nothing_is_erased() {
    let bench = with_books();
    let list = book(&bench, &["list", "gorge"]);
    let cost = list["lines"].as_array().unwrap();
    let cost = cost.iter().find(|line| line["kind"] == "cost").unwrap();
    let number = cost["number"].to_string();
    let amended = book(&bench, &["amend", &number, "--amount", "19.40 EUR"]);
    assert_eq!(amended["replaces"].to_string(), number);
    assert_eq!(
        (text(&amended, "on"), text(&amended, "party")),
        ("2026-03-09", "carrier")
    );
    assert_eq!(
        book(&bench, &["list", "gorge"])["costs"],
        json!({ "EUR": "19.40" })
    );
    refused(
        bench.work(&["book", "amend", &number, "--amount", "1 EUR"]),
        1,
        "is no longer in force",
        "tangmark book list",
    );
    let new = amended["number"].to_string();
    refused(
        bench.work(&["book", "amend", &new, "--time", "2 h"]),
        1,
        "an entry of the kind `cost` has no time",
        "book list",
    );
    refused(
        bench.work(&["book", "amend", &new]),
        1,
        "nothing to amend",
        "journal strike",
    );
    refused(
        bench.work(&["journal", "strike", &new, "--reason", " "]),
        1,
        "the reason is empty",
        "entered twice",
    );
    bench
        .work(&["journal", "strike", &new, "--reason", "entered twice"])
        .code(0);
    assert_eq!(book(&bench, &["list", "gorge"])["costs"], json!({}));
    let whole = bench.journal(&["gorge", "--kind", "cost", "--whole"]);
    assert_eq!(whole.len(), 3, "{whole:?}");
    // Another amount of a consumable costs what that costs.
    let used = book(&bench, &["list", "gorge"]);
    let used = used["lines"].as_array().unwrap();
    let used = used.iter().find(|line| line["kind"] == "use").unwrap();
    let used = book(
        &bench,
        &["amend", &used["number"].to_string(), "--amount", "50 ml"],
    );
    assert_eq!(
        used["money"],
        json!({ "amount": "2.20", "currency": "EUR" })
    );
}

#[test]
fn what_cannot_be_meant_is_refused_and_nothing_is_written() {
    let bench = with_books();
    let before = book(&bench, &["list"]);
    let work = |words: &[&str]| bench.work(&[&["book"], words].concat());
    refused(
        work(&["cost", "gorge", "12,50 EUR", "--for", "x"]),
        1,
        "cost: `12,50 EUR` found",
        "a full stop before decimals",
    );
    refused(
        work(&["cost", "gorge", "0 EUR", "--for", "x"]),
        1,
        "an amount above zero is allowed",
        "book income",
    );
    // Below zero, with words in any order.
    refused(
        work(&["cost", "gorge", "-3 EUR", "--for", "x"]),
        1,
        "cost: `-3 EUR` found, an amount above zero is allowed",
        "book income",
    );
    refused(
        work(&["cost", "--general", "-3 EUR", "--for", "x"]),
        1,
        "cost: `-3 EUR` found, an amount above zero is allowed",
        "book income",
    );
    refused(
        work(&["cost", "gorge", "--for", "x", "0 EUR"]),
        1,
        "an amount above zero is allowed",
        "book income",
    );
    refused(
        work(&["cost", "gorge", "3", "EUR", "--for", "x"]),
        4,
        "3 words found, a blade and the amount are allowed",
        "put the amount in quotes",
    );
    refused(
        work(&["stock", "add", "oil", "--amount", "-5ml"]),
        1,
        "`-5ml` found",
        "0.2 kg",
    );
    refused(
        work(&["cost", "12 EUR", "--for", "x"]),
        4,
        "no blade is named",
        "--general",
    );
    refused(
        work(&["cost", "gorge", "12 EUR", "--for", "x", "--general"]),
        4,
        "both the blade `gorge` and `--general`",
        "book cost --help",
    );
    refused(
        work(&["cost", "nothing", "12 EUR", "--for", "x"]),
        1,
        "nothing",
        "tangmark blade list",
    );
    refused(
        work(&["cost", "gorge", "12 EUR", "--for", " "]),
        1,
        "0 characters found, 1 to 400 are allowed",
        "a few words",
    );
    refused(
        work(&[
            "cost",
            "gorge",
            "12 EUR",
            "--for",
            "x",
            "--on",
            "2026-02-30",
        ]),
        1,
        "`2026-02-30` is not a day",
        "--on",
    );
    refused(
        work(&["use", "gorge", "choji oill", "--amount", "5 ml"]),
        1,
        "the nearest name is `choji oil`",
        "book stock add",
    );
    refused(
        work(&["use", "gorge", "choji oil", "--amount", "3"]),
        1,
        "the stock of it is kept in ml or cm3",
        "write the amount in",
    );
    refused(
        work(&["hours", "gorge", "--time", "2", "--for", "x"]),
        1,
        "time: ",
        "",
    );
    refused(
        work(&["list", "--from", "2026-04", "--to", "2026-03"]),
        1,
        "the first day lies after the last",
        "exchange",
    );
    assert_eq!(book(&bench, &["list"]), before);
}

#[test]
fn more_used_than_there_is_and_unknown_costs_are_told() {
    let bench = with_books();
    let ran = bench
        .work(&["book", "use", "gorge", "choji oil", "--amount", "1000 ml"])
        .code(0);
    assert!(
        ran.err
            .contains("by the books 495 ml of `choji oil` was left"),
        "{}",
        ran.err
    );
    assert!(
        ran.err.contains("only the 495 ml that was left is charged"),
        "{}",
        ran.err
    );
    assert!(ran.err.contains("tangmark book show gorge"), "{}", ran.err);
    let stock = book(&bench, &["stock", "list"]);
    assert_eq!(stock[0]["left"], "-505000");
    assert_eq!(stock[0]["state"], "below_nothing");
    // A stone costs its grams where the list of stones has a price.
    bench.give(
        "abrasives",
        "stones.csv",
        "name,origin,price_per_g,currency\nfine slate stone,natural,0.35,EUR\nold stone,natural,,\n",
    );
    let used = book(
        &bench,
        &["use", "gorge", "fine slate stone", "--amount", "12 g"],
    );
    assert_eq!(
        used["money"],
        json!({ "amount": "4.20", "currency": "EUR" })
    );
    let ran = bench
        .work(&["book", "use", "gorge", "old stone", "--amount", "12 g"])
        .code(0);
    assert!(
        ran.err.contains("what that cost is not known"),
        "{}",
        ran.err
    );
    let account = bench.work(&["book", "show", "gorge"]).code(0).out;
    assert!(
        account.contains("what `old stone` cost is not known"),
        "{account}"
    );
}

#[test]
fn the_year_is_told_by_month_and_blade_and_drawn() {
    let bench = with_books();
    let list = book(&bench, &["list", "--from", "2026-03", "--to", "2026-03-16"]);
    assert_eq!(list["lines"].as_array().unwrap().len(), 2, "{list}");
    let year = book(&bench, &["year", "2026", "--svg", "year.svg"]);
    let months = year["months"].as_array().unwrap();
    assert_eq!(
        months[1]["went"],
        json!({ "EUR": "22" }),
        "stock is paid when it comes"
    );
    assert_eq!(months[2]["went"], json!({ "EUR": "258.40" }));
    assert_eq!(months[3]["came"], json!({ "JPY": "5000" }));
    assert_eq!(year["went"], json!({ "EUR": "344.40" }));
    assert_eq!(year["left"], json!({ "EUR": "-344.40", "JPY": "5000" }));
    assert_eq!(year["minutes"], "90.0");
    let blades = year["blades"].as_array().unwrap();
    assert_eq!(blades.len(), 2, "{year}");
    assert_eq!(blades[0]["blade"], Value::Null);
    assert_eq!(currency(&blades[1], "EUR")["margin"], "-258.62");
    let svg = fs::read_to_string(bench.path("year.svg")).unwrap();
    assert!(
        svg.contains("EUR: month 2 in 0, out 22; month 3 in 0, out 258.4;"),
        "{svg}"
    );
    refused(
        bench.work(&["book", "year", "2026", "--svg", "year.svg"]),
        1,
        "exists already",
        "another file",
    );
    refused(
        bench.work(&["book", "year", "1999", "--svg", "none.svg"]),
        1,
        "nothing is in the books of 1999",
        "another year",
    );
    refused(
        bench.work(&["book", "year", "26"]),
        1,
        "year: `26` found",
        "write the year",
    );
    assert!(!bench.path("none.svg").exists());
}

/// Rows of a table as a reader that knows RFC 4180 finds them.
fn table(folder: &Path, name: &str) -> Vec<Vec<String>> {
    let text = fs::read_to_string(folder.join(name)).unwrap();
    let mut rows = vec![vec![String::new()]];
    let mut quoted = false;
    let mut letters = text.chars().peekable();
    while let Some(letter) = letters.next() {
        let row = rows.last_mut().unwrap();
        match letter {
            '"' if quoted && letters.peek() == Some(&'"') => {
                letters.next();
                row.last_mut().unwrap().push('"');
            }
            '"' => quoted = !quoted,
            ',' if !quoted => row.push(String::new()),
            '\n' if !quoted => rows.push(vec![String::new()]),
            '\r' => panic!("{name} has a carriage return"),
            letter => row.last_mut().unwrap().push(letter),
        }
    }
    assert_eq!(rows.pop().unwrap(), [""], "{name} ends with a line feed");
    let columns = rows[0].len();
    assert!(rows.iter().all(|row| row.len() == columns), "{name}");
    rows
}

#[test]
fn everything_is_exported_and_the_tables_add_up() {
    let bench = with_books();
    bench.put("reed-after");
    bench.seal("gorge", "before_work", "set_aside").code(0);
    bench
        .work(&["stage", "set", "gorge", "set_aside", "--note", "=cracked"])
        .code(0);
    let loose = [
        "fitting",
        "add",
        "guard-1",
        "--part",
        "tsuba",
        "--title",
        "Iron guard, \"plain\"",
    ];
    bench.work(&loose).code(0);
    let exported = book(&bench, &["export", "tables"]);
    assert_eq!(exported["tables"].as_array().unwrap().len(), 17);
    let folder = bench.path("tables");
    let rows = |name: &str| table(&folder, name);
    let column = |rows: &[Vec<String>], name: &str| {
        rows[0]
            .iter()
            .position(|head| head == name)
            .unwrap_or_else(|| panic!("{name}"))
    };
    // The sums of costs by hand are those of the account.
    let costs = rows("costs.csv");
    let (blade, kind, amount) = (
        column(&costs, "blade"),
        column(&costs, "kind"),
        column(&costs, "amount"),
    );
    let cents = |text: &str| {
        let (whole, rest) = text.split_once('.').unwrap_or((text, "0"));
        whole.parse::<i64>().unwrap() * 100 + format!("{rest:0<2}").parse::<i64>().unwrap()
    };
    let of_gorge = costs[1..].iter().filter(|row| row[blade] == "gorge");
    assert_eq!(of_gorge.map(|row| cents(&row[amount])).sum::<i64>(), 25_862);
    let kinds: Vec<&str> = costs[1..].iter().map(|row| row[kind].as_str()).collect();
    assert_eq!(kinds, ["bought", "stock", "cost", "use", "cost"]);
    let passes = rows("passes.csv");
    let minutes = column(&passes, "time_min");
    let sum: f64 = passes[1..]
        .iter()
        .map(|row| row[minutes].parse::<f64>().unwrap())
        .sum();
    assert_eq!((passes.len(), sum.to_string()), (5, "1830".to_owned()));
    let hours = rows("hours.csv");
    let minutes = column(&hours, "time_min");
    let sum: f64 = hours[1..]
        .iter()
        .map(|row| row[minutes].parse::<f64>().unwrap())
        .sum();
    assert_eq!(sum.to_string(), "1920");
    let readings = rows("readings.csv");
    let mass = readings
        .iter()
        .find(|row| row[0] == "gorge" && row[1] == "dimensions.mass");
    assert_eq!(mass.unwrap()[2..4], ["412.60", "g"]);
    // What a spreadsheet would run is a text.
    let stages = rows("stages.csv");
    assert_eq!(stages[1][column(&stages, "note")], "'=cracked");
    let records = rows("records.csv");
    assert_eq!(records.len(), 2);
    assert_eq!(records[1][column(&records, "verdict")], "set_aside");
    assert!(rows("findings.csv").len() > 1);
    assert_eq!(rows("photos.csv").len() - 1, photos(&bench));
    assert_eq!(rows("agreements.csv").len(), 2);
    let journal = rows("journal.csv");
    assert_eq!(journal.len(), 10, "{journal:?}");
    let fittings = rows("fittings.csv");
    let guard = fittings.iter().find(|row| row[1] == "guard-1").unwrap();
    assert_eq!((guard[0].as_str(), guard[2].as_str()), ("", "in storage"));
    let readme = fs::read_to_string(folder.join("README.txt")).unwrap();
    for name in ["costs.csv", "time_min (number)", "apostrophe"] {
        assert!(readme.contains(name), "{name}");
    }
    // The same again is the same to the byte, and nothing is written over without being asked.
    refused(
        bench.work(&["book", "export", "tables"]),
        1,
        "exists already",
        "--replace",
    );
    book(&bench, &["export", "again"]);
    for entry in fs::read_dir(&folder).unwrap() {
        let name = entry.unwrap().file_name();
        let same = fs::read(folder.join(&name)).unwrap()
            == fs::read(bench.path("again").join(&name)).unwrap();
        assert!(same, "{}", name.display());
    }
    fs::write(folder.join("mine.txt"), "mine").unwrap();
    refused(
        bench.work(&["book", "export", "tables", "--replace"]),
        1,
        "exists already",
        "another folder",
    );
    book(&bench, &["cost", "gorge", "1 EUR", "--for", "string"]);
    book(&bench, &["export", "again", "--replace"]);
    assert_eq!(
        table(&bench.path("again"), "costs.csv").len(),
        costs.len() + 1
    );
    let left: Vec<_> = fs::read_dir(bench.folder.path())
        .unwrap()
        .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
        .filter(|name| name.starts_with(".books"))
        .collect();
    assert_eq!(left, Vec::<String>::new(), "no part is left");
}

fn photos(bench: &Bench) -> usize {
    ["gorge", "reed"]
        .iter()
        .map(|blade| bench.shown(blade)["photos"].as_array().unwrap().len())
        .sum()
}
