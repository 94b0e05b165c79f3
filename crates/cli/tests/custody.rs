//! Custody through the built command: entered in the order of time, put right while no record holds it, drawn; and the
//! papers on a change of hands.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

mod common;

use std::fs;

use common::{Bench, text};
use serde_json::Value;

/// A workshop with the blade `reed`, which was bought and then left for work.
fn bench() -> Bench {
    Bench::with_sheet("reed-before")
}

fn custody(bench: &Bench, arguments: &[&str]) -> common::Ran {
    bench.work(&[&["custody"], arguments].concat())
}

fn list(bench: &Bench) -> Vec<Value> {
    let listed = custody(bench, &["list", "reed", "--json"]).code(0).json();
    listed.as_array().unwrap().clone()
}

fn kinds(events: &[Value]) -> Vec<&str> {
    events.iter().map(|event| text(event, "kind")).collect()
}

#[test]
fn events_go_to_their_place_in_time_with_their_papers() {
    let bench = bench();
    let made = custody(
        &bench,
        &[
            "add",
            "reed",
            "inherited",
            "--from",
            "Varga family",
            "--to",
            "Odile Varga",
            "--not-before",
            "1998",
            "--not-after",
            "1999-05",
            "--place",
            "Port Example",
            "--document",
            "letter; issuer=A notary (invented); on=1999-06; number=77",
            "--price",
            "900 EUR",
            "--note",
            "with the house",
            "--json",
        ],
    )
    .code(0)
    .json();
    assert_eq!(made["number"], 2);
    custody(
        &bench,
        &[
            "add",
            "reed",
            "made",
            "--not-before",
            "1590",
            "--not-after",
            "1660",
        ],
    )
    .code(0);

    let events = list(&bench);
    assert_eq!(
        kinds(&events),
        ["made", "bought", "inherited", "left_for_work"]
    );
    let inherited = &events[2];
    assert_eq!(inherited["maps_to"][0], "crm:E8_Acquisition");
    assert_eq!(inherited["from"]["role"], "owner");
    assert_eq!(inherited["to"]["role"], "heir");
    assert_eq!(inherited["when"]["latest"], "1999-05");
    assert_eq!(inherited["documents"][0]["number"], "77");
    assert_eq!(inherited["price"]["currency"], "EUR");
    assert_eq!(inherited["sealed_in"], Value::Null);
    let shown = custody(&bench, &["list", "reed"]).code(0).out;
    for part in [
        "  3  1998 to 1999-05  inherited (in no record yet)",
        "from owner: Varga family",
        "to heir: Odile Varga",
        "at Port Example",
        "paper: letter, A notary (invented), 1999-06, no. 77",
        "price 900 EUR",
        "with the house",
    ] {
        assert!(shown.contains(part), "{part}: {shown}");
    }

    // Who entered it stands in the history of the sheet, and the last change can be taken back.
    let history = bench.work(&["examine", "history", "reed"]).code(0).out;
    let added = "Reedbank Polishing  ";
    assert!(
        history.contains(added) && history.contains("custody: made of 1660 added"),
        "{history}"
    );
    bench.work(&["examine", "undo", "reed"]).code(0);
    assert_eq!(list(&bench).len(), 3);
}

#[test]
fn only_what_no_record_holds_is_changed_or_removed() {
    let bench = bench();
    bench.seal("reed", "before_work", "work").code(0);
    custody(
        &bench,
        &[
            "add",
            "reed",
            "returned",
            "--to",
            "Odile Varga",
            "--on",
            "2026-05-04",
        ],
    )
    .code(0);
    let held: Vec<_> = list(&bench)
        .iter()
        .map(|event| event["sealed_in"].clone())
        .collect();
    assert_eq!(held, [Value::from(1), Value::from(1), Value::Null]);

    // The names in the record are withheld; the events are known all the same.
    for change in [
        &["amend", "reed", "1", "--not-after", "1976"][..],
        &["amend", "reed", "2", "--from", "Somebody Else"],
        &["remove", "reed", "2", "--reason", "a slip"],
    ] {
        let refused = custody(&bench, change).code(1);
        assert!(
            refused.err.contains("stands in sealed record 1")
                && refused.err.contains("tangmark correct reed --record 1"),
            "{}",
            refused.err
        );
    }
    assert_eq!(list(&bench).len(), 3);

    custody(
        &bench,
        &[
            "amend",
            "reed",
            "3",
            "--on",
            "2026-05-06",
            "--note",
            "collected in person",
            "--by",
            "A. Polisher",
        ],
    )
    .code(0);
    let events = list(&bench);
    assert_eq!(events[2]["when"]["earliest"], "2026-05-06");
    assert_eq!(events[2]["to"]["name"], "Odile Varga");
    custody(&bench, &["amend", "reed", "3", "--clear", "note"]).code(0);
    assert_eq!(list(&bench)[2]["note"], Value::Null);
    // Another date is another place in the list.
    let moved = custody(&bench, &["amend", "reed", "3", "--on", "1980", "--json"])
        .code(0)
        .json();
    assert_eq!(moved["number"], 2);
    assert_eq!(
        kinds(&list(&bench)),
        ["bought", "returned", "left_for_work"]
    );
    custody(&bench, &["remove", "reed", "2", "--reason", "a slip"]).code(0);
    assert_eq!(kinds(&list(&bench)), ["bought", "left_for_work"]);
    let history = bench.work(&["examine", "history", "reed"]).code(0).out;
    for part in ["A. Polisher  ", "returned of 1980 removed, a slip"] {
        assert!(history.contains(part), "{part}: {history}");
    }
}

#[test]
fn slips_are_told_and_nothing_is_written() {
    let bench = bench();
    let before = custody(&bench, &["list", "reed", "--json"]).code(0).out;
    for (slip, told, hint) in [
        (
            &["add", "reed", "borrowed"][..],
            "kind of event `borrowed` is none of the list; allowed: made,",
            "tangmark schema terms",
        ),
        (
            &["add", "reed", "sold", "--document", "bill of 1980"],
            "kind of paper `bill of 1980` is none of the list",
            "tangmark schema terms",
        ),
        (
            &["add", "reed", "sold", "--document", "receipt; by=A"],
            "`by` found; issuer, on, number and note are allowed",
            "write it like",
        ),
        (
            &["add", "reed", "sold", "--price", "a lot"],
            "price `a lot` found",
            "1200 EUR",
        ),
        (
            &["add", "reed", "sold", "--on", "in spring"],
            "`in spring`",
            "hint:",
        ),
        (
            &[
                "add",
                "reed",
                "sold",
                "--not-before",
                "2001",
                "--not-after",
                "1999",
            ],
            "2001",
            "hint:",
        ),
        (
            &["add", "reed", "sold", "--to-role", "dealer"],
            "part played `dealer` is none of the list",
            "tangmark schema terms",
        ),
        (
            &["amend", "reed", "7", "--on", "1999"],
            "has 2 events of custody on its sheet, number 7 was asked for",
            "tangmark custody list reed",
        ),
        (
            &["amend", "reed", "0", "--on", "1999"],
            "number 0 was asked for",
            "tangmark custody list reed",
        ),
        (
            &["amend", "reed", "1"],
            "nothing of the event was named",
            "--to NAME",
        ),
        (
            &["amend", "reed", "1", "--clear", "kind"],
            "`kind` is no part of an event that can be taken away",
            "--clear",
        ),
        (
            &[
                "add",
                "reed",
                "bought",
                "--to-role",
                "owner",
                "--to",
                "Varga family",
                "--not-before",
                "1974",
                "--not-after",
                "1975",
                "--note",
                "By the owner's account.",
            ],
            "has this event already, as number 1",
            "tangmark custody amend reed 1",
        ),
        (&["list", "nowhere"], "nowhere", "hint:"),
    ] {
        let ran = custody(&bench, slip).code(1);
        assert!(ran.err.contains(told), "{slip:?}: {}", ran.err);
        assert!(ran.err.contains(hint), "{slip:?}: {}", ran.err);
        assert!(ran.err.contains("hint: "), "{slip:?}: {}", ran.err);
    }
    custody(
        &bench,
        &["add", "reed", "sold", "--on", "1999", "--not-after", "2000"],
    )
    .code(4);
    assert_eq!(custody(&bench, &["list", "reed", "--json"]).out, before);
}

#[test]
fn a_line_of_time_is_drawn_from_the_sheet_without_names() {
    let bench = bench();
    let draw = |file: &str, more: &[&str]| {
        custody(&bench, &[&["draw", "reed", "--svg", file], more].concat())
    };
    draw("one.svg", &[]).code(0);
    draw("two.svg", &[]).code(0);
    let read = |file: &str| fs::read_to_string(bench.path(file)).unwrap();
    assert_eq!(read("one.svg"), read("two.svg"));
    assert!(read("one.svg").starts_with("<svg") && read("one.svg").contains("1974"));
    assert!(!read("one.svg").contains("Varga"));
    assert!(
        draw("one.svg", &[])
            .code(1)
            .err
            .contains("one.svg exists already")
    );
    let told = draw("ja.svg", &["--language", "ja", "--json"])
        .code(0)
        .json();
    assert!(text(&told, "shows").contains("年表"));

    custody(
        &bench,
        &["add", "reed", "lent", "--to", "A museum", "--on", "2001"],
    )
    .code(0);
    draw("three.svg", &[]).code(0);
    assert!(read("three.svg") != read("one.svg"));
}

#[test]
fn customs_list_and_receipt_show_what_is_revealed_and_no_more() {
    let bench = bench();
    bench.seal("reed", "before_work", "work").code(0);
    custody(
        &bench,
        &[
            "add",
            "reed",
            "sold",
            "--from",
            "Odile Varga",
            "--to",
            "Ines Calder",
            "--price",
            "1200 EUR",
            "--on",
            "2026-05-04",
        ],
    )
    .code(0);
    bench.seal("reed", "transfer", "work").code(0);
    let report = |more: &[&str]| {
        let made = bench
            .work(
                &[
                    &["report", "reed", "--passphrase-file", "pass.txt", "--json"],
                    more,
                ]
                .concat(),
            )
            .code(0)
            .json();
        let file = text(&made, "file").to_owned();
        (bench.pdf_words(&[], &file), file)
    };
    for kind in ["customs", "receipt"] {
        let (words, file) = report(&["--kind", kind]);
        assert!(
            file.ends_with(&format!("reed-02-transfer-{kind}.pdf")),
            "{file}"
        );
        for hidden in ["Calder", "1200", "Odile", "Quay Lane"] {
            assert!(!words.contains(hidden), "{kind}: {hidden}");
        }
        let verdict = bench
            .run(&["--workshop", "w", "verify", &file, "--json"])
            .code(0)
            .json();
        assert!(
            verdict
                .to_string()
                .contains(&format!("\"kind\":\"{kind}\"")),
            "{verdict}"
        );
    }
    let (shown, file) = report(&["--kind", "receipt", "--reveal", "all", "--language", "both"]);
    for part in [
        "Ines Calder",
        "Odile Varga",
        "1200",
        "Handed over",
        "引き渡した物",
    ] {
        assert!(shown.contains(part), "{part}: {shown}");
    }
    bench.run(&["--workshop", "w", "verify", &file]).code(0);
    let (shown, _) = report(&["--kind", "customs", "--reveal", "custody", "--out", "c.pdf"]);
    for part in [
        "sale",
        "price of this change of hands",
        "1200",
        "Ines Calder",
    ] {
        assert!(shown.contains(part), "{part}: {shown}");
    }
}

/// A day is refused wherever something is entered, before anything is written.
#[test]
fn no_day_is_taken_that_cannot_have_been() {
    let bench = bench();
    let before = bench.journal(&["--whole"]);
    let ways: [&[&str]; 6] = [
        &[
            "custody",
            "add",
            "reed",
            "returned",
            "--to",
            "Odile Varga",
            "--on",
            "2999-01-01",
        ],
        &["stage", "set", "reed", "foundation", "--on", "2999-01-01"],
        &["stage", "set", "reed", "foundation", "--on", "1066-10-14"],
        &[
            "book",
            "hours",
            "reed",
            "--time",
            "1 h",
            "--for",
            "sweeping",
            "--on",
            "2999-01-01",
        ],
        &[
            "book",
            "cost",
            "reed",
            "9 EUR",
            "--for",
            "paper",
            "--on",
            "1066-10-14",
        ],
        &["intake", "amend", "reed", "--return-by", "1999-01-01"],
    ];
    for words in ways {
        let refused = bench.work(words);
        let told = &refused.err;
        assert_ne!(refused.code, 0, "{words:?}");
        let mut lines = told.lines();
        let first = lines.next().unwrap_or_default();
        assert!(first.contains(" found, "), "{words:?}: {told}");
        assert!(first.ends_with("is allowed"), "{words:?}: {told}");
        assert!(
            told.contains("hint: write the day as it was"),
            "{words:?}: {told}"
        );
    }
    assert_eq!(before, bench.journal(&["--whole"]));
    // What was long before the workshop is free in the custody of a blade.
    custody(
        &bench,
        &[
            "add",
            "reed",
            "inherited",
            "--to",
            "Varga family",
            "--on",
            "1820",
        ],
    )
    .code(0);
}
