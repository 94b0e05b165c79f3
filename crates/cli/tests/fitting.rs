//! Fittings through the built command: entered, moved, measured, judged, and what the sheets and records of blades hold.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

mod common;

use std::fs;

use common::{Bench, edit, samples, sheet, text};
use serde_json::Value;

fn photo(name: &str) -> String {
    samples()
        .join("photos")
        .join(name)
        .to_str()
        .unwrap()
        .to_owned()
}

/// The newest sheet of a blade.
fn newest(bench: &Bench, blade: &str) -> Value {
    bench
        .work(&["examine", "show", blade, "--json"])
        .code(0)
        .json()
}

/// The fittings of a sheet, wherever the answer has it.
fn fittings(bench: &Bench, blade: &str) -> Vec<Value> {
    let shown = newest(bench, blade);
    let sheet = shown.get("sheet").unwrap_or(&shown);
    sheet["fittings"].as_array().cloned().unwrap_or_default()
}

fn sheet_of(bench: &Bench, blade: &str) -> Value {
    let shown = newest(bench, blade);
    shown.get("sheet").unwrap_or(&shown).clone()
}

fn show(bench: &Bench, id: &str) -> Value {
    bench
        .work(&["fitting", "show", id, "--json"])
        .code(0)
        .json()
}

fn ids(list: &Value) -> Vec<&str> {
    let lines = list.as_array().unwrap();
    lines.iter().map(|line| text(line, "id")).collect()
}

/// A workshop with the blade `reed` and its guard, which came with it.
fn with_guard() -> Bench {
    let bench = Bench::with_workshop("Reedbank Polishing");
    bench.put("reed-before");
    bench
        .work(&[
            "fitting",
            "add",
            "guard-1",
            "--part",
            "tsuba",
            "--title",
            "Iron guard with two openings",
            "--material",
            "iron",
            "--with",
            "reed",
            "--kept",
            "mounted",
            "--matched",
            "fits",
            "--photo",
            &photo("gorge-tang.jpg"),
            "--on",
            "2026-03-04",
            "--by",
            "I. Halloway",
        ])
        .code(0);
    bench
}

#[test]
fn a_fitting_that_came_with_a_blade_stands_in_its_sheet_and_in_its_record() {
    let bench = with_guard();
    let listed = fittings(&bench, "reed");
    assert_eq!(listed.len(), 1);
    let guard = &listed[0];
    assert_eq!(text(guard, "id"), "guard-1");
    assert_eq!(text(guard, "origin"), "came_with_blade");
    assert_eq!(text(guard, "kept"), "mounted");
    assert_eq!(text(guard, "matched"), "fits");
    let key = guard["photos"][0].as_str().unwrap();
    let sheet = sheet_of(&bench, "reed");
    let photos = sheet["photos"].as_array().unwrap();
    let photo = photos.iter().find(|photo| photo["id"] == key).unwrap();
    assert_eq!(text(photo, "shows"), "fittings");
    // It came with the blade: nothing happened to the blade.
    let events = sheet["custody"].as_array().unwrap();
    assert!(events.iter().all(|event| event["kind"] != "fitting_added"));

    let sealed = bench.seal("reed", "before_work", "work").code(0).json();
    let file = text(&sealed, "file").to_owned();
    let before = fs::read(bench.path(&file)).unwrap();
    let record: Value = serde_json::from_slice(&before).unwrap();
    assert_eq!(record["fittings"][0]["kept"], "mounted");
    // It leaves; the record stays what it was, byte for byte.
    bench
        .work(&["fitting", "move", "guard-1", "--to", "storage"])
        .code(0);
    assert_eq!(fs::read(bench.path(&file)).unwrap(), before);
    let again = bench.path("again.json");
    bench
        .work(&["blade", "record", "reed", "--out", again.to_str().unwrap()])
        .code(0);
    assert_eq!(fs::read(&again).unwrap(), before);
    assert!(fittings(&bench, "reed").is_empty());
}

#[test]
fn every_move_is_kept_and_the_sheets_of_both_blades_follow() {
    let bench = with_guard();
    bench.put("heron");
    let heron = fittings(&bench, "heron").len();
    let moved = bench
        .work(&[
            "fitting",
            "move",
            "guard-1",
            "--to",
            "heron",
            "--matched",
            "fits_now",
            "--note",
            "plainer one on reed",
            "--on",
            "2026-04-02",
            "--json",
        ])
        .code(0)
        .json();
    let changed: Vec<&str> = moved["sheets"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| text(one, "blade"))
        .collect();
    assert_eq!(changed, ["reed", "heron"]);
    assert!(fittings(&bench, "reed").is_empty());
    let now = fittings(&bench, "heron");
    assert_eq!(now.len(), heron + 1);
    let guard = now.iter().find(|one| one["id"] == "guard-1").unwrap();
    assert_eq!(
        (text(guard, "origin"), text(guard, "kept")),
        ("added", "mounted")
    );
    assert_eq!(text(guard, "matched"), "fits_now");
    // Both blades have it in their lives, and the photo went along.
    for (blade, kind) in [("reed", "fitting_removed"), ("heron", "fitting_added")] {
        let sheet = sheet_of(&bench, blade);
        let last = sheet["custody"].as_array().unwrap().last().unwrap().clone();
        assert_eq!(text(&last, "kind"), kind);
        assert_eq!(last["when"]["earliest"], "2026-04-02");
        let note = text(&last, "note");
        assert!(
            note.contains("tsuba `guard-1` (Iron guard with two openings)"),
            "{note}"
        );
        let photos = sheet["photos"].to_string();
        assert_eq!(
            photos.contains("guard-1-photo-1"),
            blade == "heron",
            "{photos}"
        );
    }
    // The sheet can be checked, so its photos are found.
    bench.work(&["check", "heron"]).code(0);

    bench
        .work(&[
            "fitting",
            "move",
            "guard-1",
            "--to",
            "H. Marlow, maker of fittings",
            "--on",
            "2026-04-09",
        ])
        .code(0);
    let shown = show(&bench, "guard-1");
    let moves = shown["moves"].as_array().unwrap();
    let places: Vec<&str> = moves.iter().map(|one| text(&one["to"], "place")).collect();
    assert_eq!(places, ["blade", "storage", "blade", "out"]);
    assert_eq!(moves[3]["to"]["with"], "H. Marlow, maker of fittings");
    assert_eq!(moves[0]["by"], "I. Halloway");
    assert_eq!(fittings(&bench, "heron").len(), heron);
    // What is out is not here.
    let here = bench.work(&["fitting", "list", "--json"]).code(0).json();
    assert!(ids(&here).is_empty());
    let all = bench
        .work(&["fitting", "list", "--all", "--json"])
        .code(0)
        .json();
    assert_eq!(ids(&all), ["guard-1"]);
    // What it said of its blade was forgotten, what it is was not.
    assert_eq!(shown["fitting"]["matched"], "not_tried");
    assert_eq!(shown["fitting"]["materials"][0], "iron");
}

#[test]
fn places_and_days_that_cannot_be_are_refused_and_nothing_is_written() {
    let bench = with_guard();
    let before = show(&bench, "guard-1");
    let sheet_before = sheet_of(&bench, "reed");
    for (arguments, said, hint) in [
        (
            &["move", "guard-1", "--to", "heronn"][..],
            "`heronn` is no blade of this workshop",
            "tangmark blade list",
        ),
        (
            &["move", "guard-1", "--to", "reed"],
            "guard-1` is mounted on `reed` already, since 2026-03-04",
            "tangmark fitting show guard-1",
        ),
        (
            &["move", "guard-1", "--to", "storage", "--on", "2026-03-01"],
            "dated 2026-03-01",
            "--on",
        ),
        (
            &["move", "guard-1", "--to", "storage", "--kept", "apart"],
            "`--kept` says how",
            "name the blade",
        ),
        (
            &["move", "guard-2", "--to", "storage"],
            "`guard-2` is not in the inventory",
            "fitting list",
        ),
        (
            &["measure", "guard-1", "--opening", "26.9 mm"],
            "`26.9 mm` is no opening",
            "--opening \"30.5 mm x 7.2 mm\"",
        ),
        (
            &["measure", "guard-1", "--opening", "26.9 cm x 7.6 mm"],
            "at most 200 mm is allowed",
            "unit",
        ),
        (
            &["measure", "guard-1"],
            "nothing to note",
            "tangmark fitting measure --help",
        ),
        (
            &["add", "guard-1", "--part", "tsuba", "--title", "x"],
            "in the inventory already",
            "another key",
        ),
        (
            &[
                "add",
                "guard-9",
                "--part",
                "tsuba",
                "--title",
                "x",
                "--matched",
                "fits",
            ],
            "`--matched` says how",
            "name the blade",
        ),
        (
            &[
                "add", "guard-9", "--part", "tsuba", "--title", "x", "--photo", "no.jpg",
            ],
            "no.jpg",
            "",
        ),
        (
            &["adopt", "reed", "collar"],
            "the sheet of `reed` has no fitting `collar`; it has guard-1",
            "--blade reed",
        ),
        (
            &["limits", "--guard", "9"],
            "the limit `guard` is 9 mm; 0.05 to 5 mm is allowed",
            "fitting limits",
        ),
        (
            &["label", "guard-9", "--out", "l.pdf"],
            "`guard-9` is not in the inventory",
            "fitting list",
        ),
    ] {
        let ran = bench.work(&[&["fitting"], arguments].concat());
        assert_eq!(ran.code, 1, "{arguments:?}: {}", ran.err);
        assert!(ran.err.contains(said), "{arguments:?}: {}", ran.err);
        assert!(
            ran.err.contains("hint: ") && ran.err.contains(hint),
            "{arguments:?}: {}",
            ran.err
        );
    }
    assert_eq!(show(&bench, "guard-1"), before);
    assert_eq!(sheet_of(&bench, "reed"), sheet_before);
    assert!(!bench.path("l.pdf").exists());
}

#[test]
fn what_stands_in_a_sheet_only_is_listed_and_taken_over() {
    let bench = Bench::with_workshop("Reedbank Polishing");
    let with_collar = format!(
        "{}\n[[fittings]]\nid = \"collar\"\npart = \"habaki\"\ndescription = \"one-piece collar\"\nmaterials = [\"copper\"]\nmatched = \"fits\"\nkept = \"mounted\"\nphotos = [\"tang\"]\nfit = {{ opening_width = {{ text = \"30.97 mm\", instrument = \"caliper\" }} }}\n",
        sheet("reed-before")
    );
    bench.put_text(&with_collar).code(0);
    let lines = bench
        .work(&["fitting", "list", "--blade", "reed", "--json"])
        .code(0)
        .json();
    assert_eq!(lines[0]["in_inventory"], false);
    let told = bench.work(&["fitting", "list", "--blade", "reed"]).code(0);
    assert!(
        told.err.contains("tangmark fitting adopt reed collar"),
        "{}",
        told.err
    );
    // A new one may not take its key.
    let taken = bench.work(&[
        "fitting", "add", "collar", "--part", "habaki", "--title", "other", "--with", "reed",
    ]);
    assert!(
        taken.code == 1
            && taken
                .err
                .contains("the sheet of `reed` has a fitting `collar`"),
        "{}",
        taken.err
    );

    bench
        .work(&["fitting", "adopt", "reed", "collar", "--as", "reed-collar"])
        .code(0);
    let listed = fittings(&bench, "reed");
    assert_eq!((listed.len(), text(&listed[0], "id")), (1, "reed-collar"));
    assert_eq!(listed[0]["photos"][0], "tang");
    // The instrument belongs to that sheet; away from it, it is named in words.
    assert_eq!(
        listed[0]["fit"]["opening_width"]["method"],
        "read with: caliper"
    );
    bench.put("heron");
    bench
        .work(&[
            "fitting",
            "measure",
            "reed-collar",
            "--opening",
            "30.97 mm x 7.25 mm",
            "--method",
            "caliper",
        ])
        .code(0);
    let shown = show(&bench, "reed-collar");
    assert_eq!(shown["place"]["kept"], "mounted");
    // The tang keeps its photo when the collar goes.
    bench
        .work(&["fitting", "move", "reed-collar", "--to", "storage"])
        .code(0);
    let sheet = sheet_of(&bench, "reed");
    assert_eq!(sheet["tang"]["photos"][0], "tang");
    assert!(sheet["photos"].to_string().contains("\"tang\""));
    bench.work(&["check", "reed"]).code(0);
}

#[test]
fn which_blades_it_fits_is_told_with_its_uncertainty_and_drawn() {
    let bench = with_guard();
    bench.put("heron");
    bench.put("dune");
    let unknown = bench
        .work(&["fitting", "fit", "guard-1", "reed", "--json"])
        .code(0)
        .json();
    assert_eq!(unknown["blades"][0]["answer"], "cannot_tell");
    assert!(
        unknown["blades"][0]["missing"][0]
            .as_str()
            .unwrap()
            .contains("fitting measure guard-1 --opening")
    );
    bench
        .work(&[
            "fitting",
            "measure",
            "guard-1",
            "--opening",
            "26.90 mm x 7.60 mm",
            "--uncertainty",
            "0.02 mm",
        ])
        .code(0);
    // What was measured stands in the sheet of the blade it is with.
    assert_eq!(
        fittings(&bench, "reed")[0]["fit"]["opening_width"]["value"],
        "26.900"
    );
    let all = bench
        .work(&["fitting", "fit", "guard-1", "--json"])
        .code(0)
        .json();
    let blades = all["blades"].as_array().unwrap();
    assert_eq!(blades.len(), 3);
    assert_eq!(
        (text(&blades[0], "blade"), text(&blades[0], "answer")),
        ("reed", "fits")
    );
    let width = &blades[0]["checks"][0];
    // The blade is 30.82 mm wide at the notch, less notches of 2.9 mm and 1.6 mm.
    assert_eq!(
        (text(width, "fitting"), text(width, "blade")),
        ("26.90", "26.32")
    );
    assert!(
        text(width, "says").starts_with("fits: play 0.58"),
        "{width}"
    );
    assert!(
        text(width, "says").contains(", 0 to 1 mm is allowed"),
        "{width}"
    );
    // A narrower limit makes it loose.
    bench.work(&["fitting", "limits", "--guard", "0.3"]).code(0);
    let loose = bench.work(&["fitting", "fit", "guard-1", "reed"]).code(0);
    assert!(loose.out.contains("reed: does not fit"), "{}", loose.out);
    assert!(loose.out.contains("too loose by 0.28 mm"), "{}", loose.out);
    assert!(
        loose.err.contains("common practice, no source"),
        "{}",
        loose.err
    );

    // A hilt: its hole, what lies between, and its mouth.
    bench
        .work(&[
            "fitting",
            "add",
            "hilt-7",
            "--part",
            "tsuka",
            "--title",
            "Hilt for a long sword",
            "--material",
            "ho",
            "--peg-hole",
            "49.9 mm",
            "--opening",
            "26.70 mm x 7.50 mm",
            "--stack",
            "8.20 mm",
            "--uncertainty",
            "0.05 mm",
        ])
        .code(0);
    let fits = bench.work(&["fitting", "fit", "hilt-7", "reed"]).code(0);
    assert!(
        fits.out.contains("off from hole 1 of the tang by 0.1"),
        "{}",
        fits.out
    );
    let svg = bench.path("hilt.svg");
    let svg = svg.to_str().unwrap();
    let nobody = bench.work(&["fitting", "fit", "hilt-7", "--svg", svg]);
    assert_eq!(nobody.code, 4, "{}", nobody.err);
    let drawn = bench
        .work(&["fitting", "fit", "hilt-7", "reed", "--svg", svg])
        .code(0);
    assert!(
        drawn.err.contains("its peg hole 58.1 mm from the notch"),
        "{}",
        drawn.err
    );
    let picture = fs::read_to_string(svg).unwrap();
    assert!(
        picture.starts_with("<?xml") || picture.starts_with("<svg"),
        "{}",
        &picture[..60]
    );
    let twice = bench.work(&["fitting", "fit", "hilt-7", "reed", "--svg", svg]);
    assert!(
        twice.code == 1 && twice.err.contains("exists already"),
        "{}",
        twice.err
    );

    let ornament = [
        "fitting",
        "add",
        "menuki-1",
        "--part",
        "menuki",
        "--title",
        "Two herons",
    ];
    bench.work(&ornament).code(0);
    let none = bench.work(&["fitting", "fit", "menuki-1"]);
    assert!(
        none.code == 1 && none.err.contains("whether a menuki fits"),
        "{}",
        none.err
    );
}

#[test]
fn protected_materials_are_looked_up_by_the_plugin_and_never_cleared() {
    let bench = Bench::with_workshop("Reedbank Polishing");
    bench
        .work(&[
            "fitting",
            "add",
            "toggle-1",
            "--part",
            "other",
            "--title",
            "Toggle of the cord",
            "--material",
            "ivory",
        ])
        .code(0);
    let asked = bench
        .work(&["fitting", "screen", "toggle-1", "--json"])
        .code(0)
        .json();
    let rules: Vec<&str> = asked["findings"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| text(one, "rule"))
        .collect();
    assert!(
        rules.contains(&"materials.protected") && rules.contains(&"materials.not-screened"),
        "{rules:?}"
    );
    assert!(
        rules
            .iter()
            .all(|rule| !rule.starts_with("materials.hazard")),
        "only on the fitting: {rules:?}"
    );
    let table = &asked["tables"][0];
    assert!(
        text(table, "title").contains("protected species"),
        "{table}"
    );
    let told = bench.work(&["fitting", "screen", "toggle-1"]).code(0);
    assert!(told.err.contains("this is no clearance"), "{}", told.err);
    assert!(
        !told.out.contains(" clear ") && !told.out.contains("legal"),
        "{}",
        told.out
    );
    // A newer table of the workshop's own is asked too.
    fs::create_dir_all(bench.path("w/plugins/materials")).unwrap();
    fs::write(
        bench.path("w/plugins/materials/protected.csv"),
        "material,group,appendix,as_of,source\nivory,walrus,III,2026-01,the official list\n",
    )
    .unwrap();
    let newer = bench.work(&["fitting", "screen", "toggle-1"]).code(0);
    assert!(
        newer
            .out
            .contains("walrus (appendix III, as of 2026-01, the official list)"),
        "{}",
        newer.out
    );

    bench
        .work(&[
            "fitting",
            "screen",
            "toggle-1",
            "--note",
            "ask_authority",
            "--list",
            "2026-01",
        ])
        .code(0);
    let shown = show(&bench, "toggle-1");
    assert_eq!(shown["fitting"]["protected"], "ask_authority");
    assert_eq!(shown["fitting"]["protected_as_of"], "2026-01");
    let after = bench
        .work(&["fitting", "screen", "toggle-1", "--json"])
        .code(0)
        .json();
    assert!(!after["findings"].to_string().contains("not-screened"));
    // A plugin that is not approved is not asked.
    bench.work(&["plugin", "withdraw", "materials"]).code(0);
    let none = bench.work(&["fitting", "screen", "toggle-1"]);
    assert!(
        none.code == 1
            && none
                .err
                .contains("`materials` gave no answer on fitting `toggle-1`"),
        "{}",
        none.err
    );
    assert!(
        none.err.contains("hint: see with `tangmark plugin list`"),
        "{}",
        none.err
    );
}

#[test]
fn the_inventory_comes_as_csv_and_as_labels() {
    let bench = with_guard();
    bench
        .work(&[
            "fitting",
            "add",
            "cord-2",
            "--part",
            "sageo",
            "--title",
            "Cord, \"old\", silk",
            "--material",
            "silk",
            "--on",
            "2026-03-05",
        ])
        .code(0);
    let formula = "=HYPERLINK(\"x\")";
    bench
        .work(&[
            "fitting",
            "add",
            "cord-3",
            "--part",
            "sageo",
            "--title",
            formula,
            "--material",
            "silk",
            "--on",
            "2026-03-06",
        ])
        .code(0);
    let csv = bench.work(&["fitting", "list", "--csv"]).code(0).out;
    let lines: Vec<&str> = csv.lines().collect();
    assert_eq!(
        lines,
        [
            "id,part,title,place,blade,kept,with,since,gone_with_blade,materials,protected,measured,photos,in_inventory",
            "cord-2,sageo,\"Cord, \"\"old\"\", silk\",storage,,,,2026-03-05,no,silk,,no,0,yes",
            // No spreadsheet runs a title.
            "cord-3,sageo,\"'=HYPERLINK(\"\"x\"\")\",storage,,,,2026-03-06,no,silk,,no,0,yes",
            "guard-1,tsuba,Iron guard with two openings,blade,reed,mounted,,2026-03-04,no,iron,,no,1,yes",
        ]
    );
    let loose = bench
        .work(&["fitting", "list", "--loose", "--json"])
        .code(0)
        .json();
    assert_eq!(ids(&loose), ["cord-2", "cord-3"]);
    let made = bench
        .work(&[
            "fitting",
            "label",
            "guard-1",
            "cord-2",
            "--out",
            "labels.pdf",
            "--json",
        ])
        .code(0)
        .json();
    assert_eq!(
        (made["pages"].as_u64(), made["fittings"][1].as_str()),
        (Some(1), Some("cord-2"))
    );
    let pdf = fs::read(bench.path("labels.pdf")).unwrap();
    assert!(pdf.starts_with(b"%PDF-1."));
    // An existing file is never overwritten.
    let twice = bench.work(&["fitting", "label", "guard-1", "--out", "labels.pdf"]);
    assert!(
        twice.code == 1 && twice.err.contains("exists already"),
        "{}",
        twice.err
    );
    assert_eq!(fs::read(bench.path("labels.pdf")).unwrap(), pdf);
}

#[test]
fn what_an_undo_takes_out_of_a_sheet_is_told_and_put_back() {
    let bench = with_guard();
    bench.work(&["examine", "undo", "reed"]).code(0);
    assert!(fittings(&bench, "reed").is_empty());
    let told = bench.work(&["fitting", "show", "guard-1"]).code(0);
    assert!(
        told.err.contains("tangmark fitting move guard-1 --to reed"),
        "{}",
        told.err
    );
    bench
        .work(&["fitting", "move", "guard-1", "--to", "reed"])
        .code(0);
    assert_eq!(fittings(&bench, "reed").len(), 1);
    // Changed where it is kept, and described anew: in its place, not beside it.
    bench
        .work(&["fitting", "measure", "guard-1", "--kept", "apart"])
        .code(0);
    bench
        .work(&[
            "fitting",
            "describe",
            "guard-1",
            "--condition",
            "light rust",
            "--photo",
            &photo("reed-tang.jpg"),
        ])
        .code(0);
    let listed = fittings(&bench, "reed");
    assert_eq!(
        (
            listed.len(),
            text(&listed[0], "kept"),
            text(&listed[0], "condition")
        ),
        (1, "apart", "light rust")
    );
    let shown = show(&bench, "guard-1");
    assert_eq!(shown["place"]["kept"], "apart");
    assert_eq!(shown["photo_files"].as_array().unwrap().len(), 2);
    // The photo of the tang is in the sheet already: it is named, not listed twice.
    let sheet = sheet_of(&bench, "reed");
    let photos = sheet["photos"].as_array().unwrap();
    let digests: std::collections::BTreeSet<&str> = photos
        .iter()
        .map(|one| text(&one["original"], "digest"))
        .collect();
    assert_eq!(digests.len(), photos.len());
    bench.work(&["store", "check"]).code(0);
}

#[test]
fn the_consent_in_writing_is_sealed() {
    let bench = Bench::with_workshop("Reedbank Polishing");
    let consent = edit(
        &sheet("reed-before"),
        "etch_allowed = false\n",
        "etch_allowed = false\nconsent = \"Letter of 20 February 2026: the pits may stay.\"\n",
    );
    bench.put_text(&consent).code(0);
    let sealed = bench.seal("reed", "before_work", "work").code(0).json();
    let record: Value =
        serde_json::from_slice(&fs::read(bench.path(text(&sealed, "file"))).unwrap()).unwrap();
    assert_eq!(
        record["agreement"]["consent"],
        "Letter of 20 February 2026: the pits may stay."
    );
}
