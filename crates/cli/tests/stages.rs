//! Stages, labels and lists of blades through the built command.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

mod common;

use std::fs;

use common::{Bench, Ran, edit, sheet, text};
use serde_json::{Value, json};

fn list(bench: &Bench, more: &[&str]) -> Vec<Value> {
    let ran = bench.work(&[&["stage", "list", "--json"], more].concat());
    ran.code(0).json()["blades"].as_array().unwrap().clone()
}

fn line(bench: &Bench, blade: &str) -> Value {
    let way = bench.work(&["stage", "show", blade, "--json"]);
    way.code(0).json()
}

fn keys(lines: &[Value]) -> Vec<&str> {
    lines.iter().map(|line| text(line, "blade")).collect()
}

fn set(bench: &Bench, blade: &str, stage: &str, more: &[&str]) -> Ran {
    bench.work(&[&["stage", "set", blade, stage], more].concat())
}

fn next(bench: &Bench, blade: &str) -> String {
    text(&line(bench, blade)["next"], "what").to_owned()
}

#[test]
fn the_list_says_what_comes_next_at_every_turn() {
    let bench = Bench::with_workshop("Reedbank Polishing");
    bench
        .work(&[
            "intake",
            "moor",
            "--as",
            "given",
            "--title",
            "Old dagger",
            "--kind",
            "dagger",
        ])
        .code(0);
    let line_of = line(&bench, "moor");
    assert_eq!(line_of["stage"], "as_received");
    assert_eq!(line_of["next"]["kind"], "examine");
    bench.put("reed-before");
    assert_eq!(
        next(&bench, "reed"),
        "seal: tangmark seal reed --for before_work"
    );
    bench.seal("reed", "before_work", "work").code(0);
    let planned = next(&bench, "reed");
    assert!(planned.starts_with("work: "), "{planned}");
    bench.put("reed-after");
    assert!(
        next(&bench, "reed").starts_with("the plan is through"),
        "{}",
        next(&bench, "reed")
    );
    set(&bench, "reed", "finished", &[]).code(0);
    assert_eq!(
        next(&bench, "reed"),
        "seal: tangmark seal reed --for after_work"
    );
    bench.seal("reed", "after_work", "work").code(0);
    assert!(next(&bench, "reed").starts_with("sell or give back"));
    let reed = list(&bench, &["--stage", "finished"]);
    assert_eq!(keys(&reed), ["reed"]);
    assert_eq!(reed[0]["passes"], 4);
    assert_eq!(reed[0]["return_by"], "2026-06-30");
    assert_eq!(reed[0]["held"], false);
    assert!(reed[0]["minutes"].is_string() && reed[0]["gone_g"].is_string());

    // A crack stops everything else.
    bench.put("gorge");
    bench.seal("gorge", "intake", "set_aside").code(0);
    let gorge = line(&bench, "gorge");
    assert_eq!((&gorge["held"], &gorge["stops"]), (&json!(true), &json!(1)));
    assert_eq!(
        gorge["next"]["what"],
        "answer the stop: tangmark check gorge"
    );
    assert_eq!(keys(&list(&bench, &[])), ["gorge", "moor", "reed"]);
    let told = bench.work(&["stage", "list"]).code(0).out;
    assert!(told.lines().next().unwrap().starts_with("blade"), "{told}");
    assert!(told.contains("held") && told.contains("late"), "{told}");
    let worked = set(&bench, "gorge", "foundation", &[]).code(0);
    assert!(
        worked
            .err
            .contains("a stop stands on it: no pass is logged"),
        "{}",
        worked.err
    );
}

#[test]
fn the_lists_tell_a_held_sheet_before_it_is_sealed() {
    let bench = Bench::with_workshop("Reedbank Polishing");
    bench.put("gorge");
    bench.put("heron");
    let stops = |blade: &str| {
        let staged = line(&bench, blade)["stops"].clone();
        let listed = bench.work(&["blade", "list", "--json"]).code(0).json();
        let mut blades = listed.as_array().unwrap().iter();
        let one = blades.find(|one| one["id"] == blade).unwrap();
        assert_eq!(one["stops"], staged, "one number in both lists");
        let held = staged.as_u64().map(|stops| stops > 0);
        assert_eq!(one["held"], json!(held));
        staged
    };
    let told = |list: &str| {
        let ran = bench.work(&[list, "list"]).code(0);
        let lines = ran.out.lines().map(|line| {
            let words: Vec<&str> = line.split_whitespace().collect();
            words.join(" ")
        });
        (lines.collect::<Vec<_>>(), ran.err)
    };
    // Nobody judged them yet: that is said, and not that nothing holds them.
    assert_eq!((stops("gorge"), stops("heron")), (Value::Null, Value::Null));
    for list in ["stage", "blade"] {
        let (lines, err) = told(list);
        assert!(lines[1].starts_with("gorge ") && lines[1].contains(" ? "));
        assert!(
            err.contains("2 blades not judged since the last change")
                && err.contains("`tangmark check gorge`"),
            "{err}"
        );
    }
    bench.work(&["check", "heron"]).code(0);
    assert_eq!((stops("gorge"), stops("heron")), (Value::Null, json!(0)));
    // The hold is derived and not looked up: a pass is refused on the sheet that the list knows nothing of.
    let pass = ["pass", "start", "gorge", "--zone", "ground"];
    let refused = bench.work(&pass).code(1);
    assert!(
        refused.err.contains("blade `gorge` is held"),
        "{}",
        refused.err
    );
    assert_eq!(stops("gorge"), 1);
    assert_eq!(
        next(&bench, "gorge"),
        "answer the stop: tangmark check gorge"
    );
    for list in ["stage", "blade"] {
        let (lines, err) = told(list);
        assert!(lines[1].contains(" held 1 "), "{lines:?}");
        assert_eq!(err, "");
    }
    // Any change of the sheet makes it one that was not judged; so does a lost index, and the hold is there all the same.
    bench
        .put_text(&edit(&sheet("heron"), "title = \"", "title = \"The "))
        .code(0);
    assert_eq!((stops("gorge"), stops("heron")), (json!(1), Value::Null));
    bench.work(&["store", "rebuild"]).code(0);
    assert_eq!(stops("gorge"), Value::Null);
    bench.work(&pass).code(1);
    assert_eq!(stops("gorge"), 1);
    bench.seal("gorge", "intake", "set_aside").code(0);
    assert_eq!(stops("gorge"), 1);
}

#[test]
fn moves_are_free_but_what_has_left_comes_back_in_so_many_words() {
    let bench = Bench::with_workshop("Reedbank Polishing");
    bench.put("heron");
    assert_eq!(line(&bench, "heron")["stage"], Value::Null);
    set(&bench, "heron", "as_received", &["--on", "2026-02-20"]).code(0);
    set(&bench, "heron", "fine", &["--on", "2026-03-02"]).code(0);
    let back = set(
        &bench,
        "heron",
        "first-pass",
        &["--on", "2026-03-05", "--note", "rust under the collar"],
    )
    .code(0);
    assert!(
        back.err
            .contains("note: it goes back from `fine` to `first_pass`"),
        "{}",
        back.err
    );
    assert!(back.err.contains("next: "), "{}", back.err);
    let same = set(&bench, "heron", "first_pass", &[]).code(0);
    assert!(same.out.contains("nothing changed"), "{}", same.out);
    set(&bench, "heron", "sold", &["--on", "2026-03-10"]).code(0);
    assert_eq!(keys(&list(&bench, &[])), Vec::<&str>::new());
    assert_eq!(keys(&list(&bench, &["--all"])), ["heron"]);
    assert_eq!(keys(&list(&bench, &["--stage", "sold"])), ["heron"]);
    // A day before that of the newest stage belongs to the way, and moves nothing.
    let late = set(&bench, "heron", "held", &["--on", "2026-03-08"]).code(0);
    assert!(
        late.out
            .contains("`held` noted for 2026-03-08; it stands at `sold`"),
        "{}",
        late.out
    );
    let refused = set(&bench, "heron", "foundation", &[]).code(1);
    assert!(
        refused
            .err
            .starts_with("error: blade `heron` stands at `sold` and has left; `foundation` found"),
        "{}",
        refused.err
    );
    assert!(refused.err.contains(
        "hint: if it came back, say so with `tangmark stage set heron foundation --again`"
    ));
    set(
        &bench,
        "heron",
        "foundation",
        &["--again", "--on", "2026-04-01"],
    )
    .code(0);
    let way = line(&bench, "heron");
    let told: Vec<(&str, i64)> = way["way"]
        .as_array()
        .unwrap()
        .iter()
        .map(|step| (text(step, "stage"), step["days"].as_i64().unwrap()))
        .take(5)
        .collect();
    assert_eq!(
        told,
        [
            ("as_received", 10),
            ("fine", 3),
            ("first_pass", 3),
            ("held", 2),
            ("sold", 22),
        ]
    );
    assert_eq!(way["way"][2]["note"], "rust under the collar");
    // A wrong move is struck out, and the one before stands again.
    let entry = way["way"][5]["entry"].to_string();
    bench
        .work(&["journal", "strike", &entry, "--reason", "a slip"])
        .code(0);
    assert_eq!(line(&bench, "heron")["stage"], "sold");
    let unknown = set(&bench, "heron", "polished", &[]).code(4);
    assert!(unknown.err.contains("finger_finish"), "{}", unknown.err);
    let stranger = set(&bench, "nobody", "fine", &[]).code(1);
    assert!(stranger.err.contains("hint: "), "{}", stranger.err);
}

#[test]
fn the_way_is_drawn_the_same_each_time() {
    let bench = Bench::with_workshop("Reedbank Polishing");
    bench.put("heron");
    let none = bench
        .work(&["stage", "show", "heron", "--svg", "none.svg"])
        .code(1);
    assert!(
        none.err.contains("blade `heron` has no stage yet"),
        "{}",
        none.err
    );
    assert!(!bench.path("none.svg").exists());
    for (stage, on) in [
        ("as_received", "2026-02-20"),
        ("foundation", "2026-03-02"),
        ("returned", "2026-04-02"),
    ] {
        set(&bench, "heron", stage, &["--on", on]).code(0);
    }
    for language in ["en", "ja", "both"] {
        let mut drawn = Vec::new();
        for number in ["1", "2"] {
            let file = format!("{language}-{number}.svg");
            bench
                .work(&[
                    "stage",
                    "show",
                    "heron",
                    "--svg",
                    &file,
                    "--language",
                    language,
                ])
                .code(0);
            drawn.push(fs::read_to_string(bench.path(&file)).unwrap());
        }
        assert_eq!(drawn[0], drawn[1]);
        let words = if language == "ja" {
            "下地研ぎ：31 日"
        } else {
            "foundation stones: 31 days"
        };
        assert!(drawn[0].contains(words), "{language}");
    }
    let over = bench
        .work(&["stage", "show", "heron", "--svg", "en-1.svg"])
        .code(1);
    assert!(
        over.err.contains("exists already; it is not overwritten"),
        "{}",
        over.err
    );
}

#[test]
fn lists_come_in_parts() {
    let bench = Bench::with_workshop("Reedbank Polishing");
    for sheet in ["heron", "dune", "lantern"] {
        bench.put(sheet);
    }
    set(&bench, "dune", "fine", &[]).code(0);
    let blades = |more: &[&str]| -> Vec<String> {
        let ran = bench
            .work(&[&["blade", "list", "--json"], more].concat())
            .code(0);
        ran.json()
            .as_array()
            .unwrap()
            .iter()
            .map(|line| text(line, "id").to_owned())
            .collect()
    };
    assert_eq!(blades(&[]), ["dune", "heron", "lantern"]);
    assert_eq!(blades(&["--limit", "2"]), ["dune", "heron"]);
    assert_eq!(blades(&["--limit", "2", "--after", "heron"]), ["lantern"]);
    let part = bench.work(&["blade", "list", "--limit", "2"]).code(0);
    assert!(
        part.err
            .contains("more follow: `tangmark blade list --limit 2 --after heron`"),
        "{}",
        part.err
    );
    let dune = bench
        .work(&["blade", "show", "dune", "--json"])
        .code(0)
        .json();
    assert_eq!(dune["stage"], "fine");
    assert_eq!(dune["state"], "draft");
    let stages = bench.work(&["stage", "list", "--limit", "1"]).code(0);
    assert!(
        stages
            .err
            .contains("more follow: `tangmark stage list --limit 1 --after dune`"),
        "{}",
        stages.err
    );
    assert_eq!(
        keys(&list(&bench, &["--limit", "1", "--after", "dune"])),
        ["heron"]
    );
}

#[test]
fn labels_are_printed_for_blades_sealed_or_not() {
    let bench = Bench::with_workshop("Reedbank Polishing");
    bench.put("reed-before");
    bench.put("heron");
    bench.put("dune");
    set(&bench, "heron", "middle", &[]).code(0);
    set(&bench, "dune", "sold", &[]).code(0);
    let sealed = bench.seal("reed", "before_work", "work").code(0).json();
    let made = bench
        .work(&["label", "reed", "heron", "--out", "labels.pdf", "--json"])
        .code(0)
        .json();
    assert_eq!(made["blades"], json!(["reed", "heron"]));
    let codes: Vec<&str> = made["codes"]
        .as_array()
        .unwrap()
        .iter()
        .map(|code| code.as_str().unwrap())
        .collect();
    assert!(codes[0].starts_with("blade: reed\nworkshop: Reedbank Polishing\n"));
    assert!(codes[0].contains(text(&sealed, "record")), "{}", codes[0]);
    assert!(!codes[1].contains("newest record"), "{}", codes[1]);
    let keys = bench.work(&["key", "show", "--json"]).code(0).json();
    assert!(
        codes[1].contains(text(&keys, "fingerprint")),
        "{}",
        codes[1]
    );
    let words = bench.pdf_text(&[], "labels.pdf");
    assert!(words.contains("reed") && words.contains("heron"), "{words}");
    assert!(words.contains("middle stones"), "{words}");

    let before = fs::read(bench.path("labels.pdf")).unwrap();
    let over = bench
        .work(&["label", "reed", "--out", "labels.pdf"])
        .code(1);
    assert!(
        over.err.contains("exists already; it is not overwritten"),
        "{}",
        over.err
    );
    assert_eq!(fs::read(bench.path("labels.pdf")).unwrap(), before);
    let all = bench
        .work(&[
            "label",
            "--all-in-work",
            "--out",
            "all.pdf",
            "--language",
            "both",
            "--json",
        ])
        .code(0)
        .json();
    assert_eq!(all["blades"], json!(["heron", "reed"]), "dune is sold");
    let twice = bench
        .work(&["label", "reed", "reed", "--out", "x.pdf"])
        .code(1);
    assert!(
        twice.err.contains("blade `reed` is named twice"),
        "{}",
        twice.err
    );
    let nobody = bench.work(&["label", "nobody", "--out", "x.pdf"]).code(1);
    assert!(
        nobody
            .err
            .contains("blade `nobody` is not in this workshop"),
        "{}",
        nobody.err
    );
    assert!(!bench.path("x.pdf").exists());
    bench.work(&["label", "--out", "x.pdf"]).code(4);
}
