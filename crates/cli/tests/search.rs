//! Looking for words, through the built command.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

mod common;

use common::{Bench, edit, sheet};
use serde_json::Value;

fn search(bench: &Bench, words: &[&str]) -> Value {
    let all = [&["search"], words, &["--json"]].concat();
    bench.work(&all).code(0).json()
}

/// Blade or entry, and the places, of every find.
fn places(found: &Value) -> Vec<String> {
    let all = found["found"].as_array().unwrap();
    all.iter()
        .map(|one| {
            let places = one["places"].as_array().unwrap();
            let places: Vec<&str> = places
                .iter()
                .map(|at| at["place"].as_str().unwrap())
                .collect();
            let of = one["kind"].as_str().or(one["blade"].as_str()).unwrap();
            format!("{of}: {}", places.join(", "))
        })
        .collect()
}

fn bench() -> Bench {
    let bench = Bench::with_workshop("Reedbank Polishing");
    bench.put("gorge");
    let signed = edit(
        &sheet("dune"),
        "reading = \"a running hare, stamped\"",
        "reading = \"備前長船住\", transliteration = \"Bizen Osafune jū\"",
    );
    bench.put_text(&signed).code(0);
    bench
        .work(&[
            "book",
            "cost",
            "gorge",
            "3 EUR",
            "--for",
            "oil from Osafune",
        ])
        .code(0);
    bench
}

#[test]
fn words_are_found_with_their_places() {
    let bench = bench();
    let kanji = search(&bench, &["備前"]);
    assert_eq!(places(&kanji), ["dune: tang.inscriptions[0].reading"]);
    let at = &kanji["found"][0]["places"][0];
    assert_eq!(
        (at["text"].as_str(), &at["marks"]),
        (Some("備前長船住"), &serde_json::json!([[0, 2]]))
    );
    // With a macron or without, from the beginning of a word, whatever the case.
    let romaji = "dune: tang.inscriptions[0].transliteration";
    assert_eq!(places(&search(&bench, &["JU", "bizen"])), [romaji]);
    assert_eq!(places(&search(&bench, &["jū", "Bīzen"])), [romaji]);
    // Entries of the journal too, what was entered last first.
    let both = search(&bench, &["osafune"]);
    assert_eq!(places(&both), ["cost: for", romaji]);
    assert_eq!(both["found"][0]["blade"], "gorge");
    let told = bench.work(&["search", "osafune"]).code(0);
    assert!(
        told.out.contains("  for: oil from »Osafune«"),
        "{}",
        told.out
    );
    assert!(told.out.contains("Bizen »Osafune« jū"), "{}", told.out);
}

#[test]
fn struck_out_entries_and_old_sheets_are_not_found() {
    let bench = bench();
    let entry = search(&bench, &["osafune"])["found"][0]["entry"].to_string();
    bench
        .work(&["journal", "strike", &entry, "--reason", "twice"])
        .code(0);
    assert_eq!(
        places(&search(&bench, &["oil", "osafune"])),
        Vec::<String>::new()
    );
    bench.work(&["examine", "undo", "dune"]).code(1);
    bench.put("dune");
    assert_eq!(places(&search(&bench, &["備前"])), Vec::<String>::new());
    assert_eq!(
        places(&search(&bench, &["hare"])),
        ["dune: tang.inscriptions[0].reading"]
    );
}

#[test]
fn limits_and_words_that_find_nothing() {
    let bench = bench();
    let one = search(&bench, &["osafune", "--limit", "1"]);
    assert_eq!(
        (one["found"].as_array().unwrap().len(), &one["more"]),
        (1, &Value::Bool(true))
    );
    let told = bench.work(&["search", "osafune", "--limit", "1"]).code(0);
    assert!(told.err.contains("--limit 5"), "{}", told.err);
    let none = bench.work(&["search", "nothing-of-the-kind"]).code(0);
    assert!(
        none.out.is_empty() && none.err.contains("nothing found"),
        "{}",
        none.err
    );
    let signs = bench.work(&["search", "—"]).code(1);
    assert!(signs.err.contains("no letter or digit"), "{}", signs.err);
    bench.work(&["search"]).code(4);
    bench.work(&["search", "x", "--limit", "0"]).code(4);
}
