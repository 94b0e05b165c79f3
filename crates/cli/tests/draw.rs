//! Drawings through the built command.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

mod common;

use std::fs;

use common::{Bench, text};

fn bench() -> Bench {
    let bench = Bench::with_workshop("Reedbank Polishing");
    for sheet in ["reed-before", "gorge"] {
        bench.put(sheet);
    }
    bench.seal("reed", "before_work", "work").code(0);
    bench
}

#[test]
fn drawings_are_written_and_never_over_others() {
    let bench = bench();
    let ran = bench.work(&["draw", "reed", "--out", "d"]).code(0);
    let names: Vec<&str> = ran.out.lines().collect();
    for name in [
        "faces",
        "back-and-edge",
        "sections",
        "curvature",
        "tang",
        "line-of-time",
    ] {
        let file = format!("d/reed-01-{name}.svg");
        assert!(names.contains(&file.as_str()), "{file} in {names:?}");
        let svg = fs::read_to_string(bench.path(&file)).unwrap();
        assert!(
            svg.starts_with("<svg ") && svg.contains("role=\"img\"") && svg.ends_with("</svg>\n"),
            "{file}"
        );
    }
    // Nothing went yet, so no loss is drawn.
    assert!(!names.iter().any(|name| name.contains("loss")));
    let before = fs::read(bench.path("d/reed-01-faces.svg")).unwrap();
    fs::remove_file(bench.path("d/reed-01-tang.svg")).unwrap();
    let ran = bench.work(&["draw", "reed", "--out", "d"]).code(1);
    assert!(
        ran.err.contains("exists already; nothing was written"),
        "{}",
        ran.err
    );
    assert_eq!(fs::read(bench.path("d/reed-01-faces.svg")).unwrap(), before);
    assert!(!bench.path("d/reed-01-tang.svg").exists());
    // The other languages have files of their own; the same numbers give the same bytes.
    bench
        .work(&["draw", "reed", "--out", "d", "--language", "ja"])
        .code(0);
    bench.work(&["draw", "reed", "--out", "again"]).code(0);
    assert!(bench.path("d/reed-01-faces-ja.svg").exists());
    assert_eq!(
        fs::read(bench.path("again/reed-01-faces.svg")).unwrap(),
        before
    );
}

#[test]
fn true_size_comes_in_sheets_of_the_paper() {
    let bench = bench();
    let ran = bench
        .work(&[
            "draw",
            "reed",
            "--true-size",
            "--paper",
            "letter",
            "--json",
            "--out",
            "t",
        ])
        .code(0);
    let sheets = ran.json();
    let sheets = sheets.as_array().unwrap();
    // 698.2 mm of blade and 208 mm of tang, 255.4 mm a sheet, of which 15 mm stand on two.
    assert_eq!(sheets.len(), 4);
    for (index, sheet) in sheets.iter().enumerate() {
        let file = format!("t/reed-01-true-size-{:02}-letter.svg", index + 1);
        assert_eq!(text(sheet, "file"), file);
        assert_eq!(
            (sheet["width"].as_f64(), sheet["height"].as_f64()),
            (Some(279.4), Some(215.9))
        );
        let svg = fs::read_to_string(bench.path(&file)).unwrap();
        assert!(
            svg.contains("width=\"279.4mm\" height=\"215.9mm\""),
            "{file}"
        );
        let shows = text(sheet, "shows");
        assert!(
            shows.starts_with(&format!(
                "Sheet {} of 4: both faces in true size",
                index + 1
            )),
            "{shows}"
        );
    }
}

#[test]
fn what_cannot_be_drawn_is_told() {
    let bench = bench();
    for (arguments, code, said) in [
        (
            vec!["draw", "gorge"],
            1,
            "blade `gorge` has no sealed record yet",
        ),
        (
            vec!["draw", "reed", "--record", "7"],
            1,
            "blade `reed` has no record 7, 1 to 1 are there",
        ),
        (
            vec!["draw", "reed", "--width", "20"],
            1,
            "a drawing 20 mm wide, 120 mm to 400 mm are allowed",
        ),
        (
            vec!["draw", "reed", "--width", "NaN"],
            1,
            "a drawing NaN mm wide",
        ),
        (vec!["draw", "reed", "--paper", "a4"], 4, "--true-size"),
        (
            vec!["draw", "reed", "--out", "pass.txt"],
            1,
            "a file, a folder is needed",
        ),
    ] {
        let ran = bench.work(&arguments).code(code);
        assert!(ran.err.contains(said), "{arguments:?}: {}", ran.err);
    }
    let kept = fs::read_dir(bench.path("w/out")).unwrap();
    let drawn = kept.filter(|entry| {
        let path = entry.as_ref().unwrap().path();
        path.extension().is_some_and(|ending| ending == "svg")
    });
    assert_eq!(drawn.count(), 0);
}

#[test]
fn a_font_that_is_none_is_told() {
    let bench = bench();
    fs::create_dir(bench.path("w/fonts")).unwrap();
    fs::write(bench.path("w/fonts/Broken.TTF"), "no font").unwrap();
    for arguments in [
        vec!["draw", "reed", "--out", "d"],
        vec!["draw", "reed", "--out", "e", "--json"],
    ] {
        let ran = bench.work(&arguments).code(0);
        assert_eq!(
            ran.err
                .matches("note: left out: font file `Broken.TTF` is no ")
                .count(),
            1,
            "{}",
            ran.err
        );
    }
}
