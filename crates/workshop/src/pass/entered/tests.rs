#![allow(clippy::unwrap_used)]
use super::super::prepare::{Filling, Prepared, Source, prepare};
use super::super::stones::StoneTable;
use super::*;
use crate::pass::stones::tests::LIST;
use std::collections::BTreeSet;
use tangmark_core::record::Sheet;
use tangmark_core::sheet;

fn sheet_of(passes: &Value) -> Sheet {
    sheet::from_value(json!({
        "blade": { "id": "reed", "title": "Reed", "object_type": "sword blade", "kind_by_make": "katana", "construction": "shinogi_zukuri", "materials_and_techniques": ["steel"] },
        "examination": { "by": { "role": "polisher", "name": "A. Polisher" }, "on": "2026-03-01", "light": "north window",
            "reason": "before_work", "methods": ["naked_eye"], "examined": ["edge"], "surface": "rusted",
            "completeness": "complete",
            "instruments": [{ "id": "scale", "name": "scale", "resolution": "0.1 g" },
                { "id": "caliper", "name": "caliper", "resolution": "0.01 mm" }] },
        "dimensions": { "datum": "back_notch", "mass_state": "bare",
            "mass": { "text": "748.3 g", "instrument": "scale" },
            "stations": [{ "at": "100 mm", "width": { "text": "30.10 mm", "instrument": "caliper" } }] },
        "passes": passes,
    }))
    .unwrap()
}

fn stones() -> StoneTable {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("stones.csv");
    std::fs::write(&file, LIST).unwrap();
    StoneTable {
        stones: crate::pass::stones::read(&file).unwrap(),
        file,
    }
}

fn prepared(words: &PassWords) -> Result<Prepared, PassError> {
    prepare(
        words.block()?,
        &Filling {
            sheet: &sheet_of(&json!([])),
            stones: &stones(),
            day: "2026-03-09",
            taken: &BTreeSet::from(["p1".to_owned(), "p7".to_owned(), "first".to_owned()]),
            named: &BTreeSet::from(["p9".to_owned()]),
        },
    )
}

#[test]
fn a_key_that_another_pass_has_is_refused_with_a_free_one() {
    let made = |id: &str| {
        let mut block = words().block().unwrap();
        block.insert("id".to_owned(), json!(id));
        prepare(
            block,
            &Filling {
                sheet: &sheet_of(&json!([])),
                stones: &stones(),
                day: "2026-03-09",
                taken: &BTreeSet::from(["p1".to_owned()]),
                named: &BTreeSet::from(["p2".to_owned()]),
            },
        )
    };
    let error = made("p1").unwrap_err();
    assert_eq!(
        error.to_string(),
        "pass `p1` is on the sheet, in a sealed record or in what is entered already; each pass needs a key of its own"
    );
    assert!(error.hint().contains("`p3`"), "{}", error.hint());
    // Whoever names one that was taken back may mean it.
    assert_eq!(made("p2").unwrap().pass["id"], "p2");
}

fn words() -> PassWords {
    PassWords {
        zones: vec!["Ground".to_owned(), "edge".to_owned()],
        stone: Some("second foundation stone".to_owned()),
        ..PassWords::default()
    }
}

#[test]
fn words_become_a_pass_of_a_sheet() {
    let full = PassWords {
        faces: vec!["omote".to_owned()],
        time: Some("3 h".to_owned()),
        strokes: Some(900),
        before_mass: Some("748.3 g".to_owned()),
        after_mass: Some("746.1 g; 746.2 g".to_owned()),
        after: vec!["100 mm width=30.05 mm ridge=7.01 mm".to_owned()],
        photos: vec![("a.jpg".into(), None)],
        note: Some("wet".to_owned()),
        ..words()
    };
    let made = prepared(&full).unwrap();
    assert_eq!(
        Value::Object(made.pass.clone()),
        json!({ "id": "p10", "on": "2026-03-09", "operation": "grind", "zones": ["ground", "edge"], "faces": ["omote"],
            "abrasive": { "name": "Second Foundation Stone", "origin": "synthetic", "stage": "kaisei",
                "grit": { "number": 1000, "system": "jis" }, "d50": "11.5 um" },
            "time": "3 h", "strokes": 900,
            "before": { "mass": { "text": "748.3 g", "instrument": "scale" } },
            "after": { "mass": { "readings": ["746.1 g", "746.2 g"], "instrument": "scale" },
                "stations": [{ "at": "100 mm", "width": { "text": "30.05 mm", "instrument": "caliper" },
                    "ridge_thickness": { "text": "7.01 mm", "instrument": "caliper" } }] },
            "note": "wet", "photos": ["p10-1"] })
    );
    assert_eq!(made.photos.len(), 1);
    assert!(matches!(&made.photos[0].0, Source::File(file) if file.is_absolute()));
    assert_eq!(
        made.photos[0].1,
        json!({ "id": "p10-1", "caption": "After pass p10: grind", "shows": "whole", "taken_on": "2026-03-09" })
    );
    // The sheet takes it as it is.
    let mut pass = made.pass;
    pass.remove("photos");
    sheet_of(&json!([pass]));
}

#[test]
fn an_etch_says_what_was_done_by_itself() {
    let etch = PassWords {
        stone: None,
        etch: Some(EtchWords {
            agent: "ferric chloride".to_owned(),
            concentration: Some("3 %".to_owned()),
            rinsed: true,
            ..EtchWords::default()
        }),
        ..words()
    };
    let made = prepared(&etch).unwrap().pass;
    assert_eq!(made["operation"], "etch");
    assert_eq!(
        made["etch"],
        json!({ "agent": "ferric chloride", "concentration": "3 %", "neutralised": false, "rinsed": true, "dried": false })
    );
    sheet_of(&json!([made]));
}

#[test]
fn what_cannot_be_meant_is_named() {
    let said = |words: &PassWords| {
        let error = prepared(words).unwrap_err();
        (error.to_string(), error.hint())
    };
    let (what, hint) = said(&PassWords {
        operation: Some("grnd".to_owned()),
        ..words()
    });
    assert!(
        what.starts_with("operation: `grnd` found, straighten, derust,")
            && hint == "did you mean `grind`?",
        "{what} {hint}"
    );
    let (what, _) = said(&PassWords {
        stone: None,
        ..words()
    });
    assert_eq!(what, "the pass has no operation; one is needed");
    let (what, _) = said(&PassWords {
        zones: Vec::new(),
        ..words()
    });
    assert_eq!(what, "the pass has no zone; one is needed");
    let (what, hint) = said(&PassWords {
        before_mass: Some("1 g".to_owned()),
        scale: Some("kitchen".to_owned()),
        ..words()
    });
    assert!(
        what.starts_with("no instrument `kitchen` on the sheet, which lists scale, caliper")
            && hint.contains("examination.instruments"),
        "{what}"
    );
    for (reading, expected) in [
        (
            "width=3 mm",
            "no place along the blade found, one is needed first",
        ),
        (
            "100 mm",
            "a place without a reading found, one at least is needed",
        ),
        (
            "100 mm depth=1 mm",
            "`depth` found, width, ridge, back, ridge-width are allowed",
        ),
        (
            "100 mm width=1 mm width=2 mm",
            "`width` found twice, once is allowed",
        ),
        (
            "100 mm width=",
            "nothing found after `width=`, a number with its unit is needed",
        ),
    ] {
        let (what, _) = said(&PassWords {
            after: vec![reading.to_owned()],
            ..words()
        });
        assert_eq!(what, format!("reading `{reading}`: {expected}"));
    }
}

#[test]
fn blocks_of_a_file_are_read_with_photos_beside_it() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("passes.toml");
    std::fs::write(
        &file,
        "[[passes]]\noperation = \"derust\"\nzones = [\"ground\"]\nphotos = [\"old\", { file = \"a.jpg\" }]\n",
    )
    .unwrap();
    let blocks = read_blocks(&file).unwrap();
    assert_eq!(blocks.len(), 1);
    assert_eq!(blocks[0]["photos"][0], "old");
    assert_eq!(
        blocks[0]["photos"][1]["file"],
        json!(folder.path().join("a.jpg").display().to_string())
    );
    for (text, expected) in [
        ("", "no `[[passes]]` found, one at least is needed"),
        (
            "blade = 1\n",
            "`blade` found, `[[passes]]` alone is allowed",
        ),
        ("passes = [1]\n", "a pass that is no table found"),
    ] {
        std::fs::write(&file, text).unwrap();
        let said = read_blocks(&file).unwrap_err().to_string();
        assert!(said.ends_with(expected), "{said}");
    }
}
