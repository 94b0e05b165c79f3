//! The decision on fits, on sheets as a person writes them.
#![allow(clippy::unwrap_used)]

use serde_json::json;
use tangmark_core::sheet::{self, SheetFormat};

use super::*;
use crate::fitting::{Readings, card};

/// The sheet `reed` of the samples, without its photos.
fn reed(change: impl FnOnce(String) -> String) -> Sheet {
    let text = include_str!("../../../../samples/sheets/reed-before.toml");
    let mut value: toml::Value = toml::from_str(&change(text.to_owned())).unwrap();
    value.as_table_mut().unwrap().remove("photos");
    value["tang"].as_table_mut().unwrap().remove("photos");
    for flaw in value["flaws"].as_array_mut().unwrap() {
        flaw.as_table_mut().unwrap().remove("photos");
    }
    let text = toml::to_string(&value).unwrap();
    sheet::read(text.as_bytes(), SheetFormat::Toml, &mut |name| {
        Err(name.to_owned())
    })
    .unwrap()
}

fn plain(text: String) -> String {
    text
}

fn card(part: &str, readings: &Readings) -> Card {
    let bare = json!({ "id": "one", "part": part, "description": "one", "matched": "not_tried" });
    let (fitting, stack) = card::read(bare, &[], readings).unwrap();
    Card {
        title: "one".to_owned(),
        fitting,
        stack,
        photos: Vec::new(),
    }
}

fn readings(peg: &str, opening: &str, stack: &str) -> Readings {
    let list = |text: &str| {
        if text.is_empty() {
            Vec::new()
        } else {
            vec![text.to_owned()]
        }
    };
    Readings {
        peg_hole: list(peg),
        opening: list(opening),
        stack: list(stack),
        uncertainty: Some("0.02 mm".to_owned()),
        ..Readings::default()
    }
}

fn judged(part: &str, readings: &Readings, sheet: &Sheet) -> FitLine {
    let card = card(part, readings);
    Judge::new(&card, Limits::default())
        .unwrap()
        .against(sheet, "")
}

#[test]
fn a_collar_goes_over_the_blade() {
    let sheet = reed(plain);
    // The blade is 30.82 mm by 7.12 mm at the notch.
    let fits = judged("habaki", &readings("", "30.97 mm x 7.25 mm", ""), &sheet);
    assert_eq!(fits.answer, Answer::Fits, "{fits:?}");
    assert_eq!(fits.checks.len(), 2);
    assert_eq!(fits.checks[0].difference.to_string(), "0.150");
    assert!(
        fits.checks[0].says.starts_with("fits: play 0.150 ± 0.0"),
        "{}",
        fits.checks[0].says
    );
    let tight = judged("habaki", &readings("", "30.50 mm x 7.25 mm", ""), &sheet);
    assert_eq!(tight.answer, Answer::DoesNotFit);
    assert!(
        tight.checks[0]
            .says
            .starts_with("too tight by 0.32 mm: play −0.32")
            || tight.checks[0]
                .says
                .starts_with("too tight by 0.32 mm: play -0.32"),
        "{}",
        tight.checks[0].says
    );
    let loose = judged("habaki", &readings("", "30.97 mm x 8.00 mm", ""), &sheet);
    assert_eq!(loose.answer, Answer::DoesNotFit);
    assert!(
        loose.checks[1].says.starts_with("too loose by 0.58 mm"),
        "{}",
        loose.checks[1].says
    );
}

#[test]
fn a_guard_goes_over_the_tang() {
    let sheet = reed(plain);
    // 30.82 mm less notches of 2.9 mm and 1.6 mm: 26.32 mm.
    let fits = judged("tsuba", &readings("", "26.9 mm x 7.6 mm", ""), &sheet);
    assert_eq!(fits.answer, Answer::Fits, "{fits:?}");
    assert_eq!(fits.checks[0].blade.to_string(), "26.32");
    // What fits the blade is far too loose on the tang, and what is too tight warns of the file.
    let loose = judged("tsuba", &readings("", "30.97 mm x 7.6 mm", ""), &sheet);
    assert!(
        loose.checks[0].says.starts_with("too loose by 3.65 mm"),
        "{}",
        loose.checks[0].says
    );
    let tight = judged("tsuba", &readings("", "26.0 mm x 7.6 mm", ""), &sheet);
    assert!(
        tight
            .notes
            .iter()
            .any(|note| note.contains("a tang is never filed")),
        "{:?}",
        tight.notes
    );
    // Without the notches the width of the tang is not known.
    let bare = reed(|text| text.replace("edge_notch_depth", "# edge_notch_depth"));
    let line = judged("tsuba", &readings("", "26.9 mm x 7.6 mm", ""), &bare);
    assert_eq!(line.answer, Answer::CannotTell);
    assert_eq!(
        line.missing,
        ["`dimensions.edge_notch_depth` in the sheet of `reed`"]
    );
    assert_eq!(
        line.checks.len(),
        1,
        "the thickness is compared all the same"
    );
}

#[test]
fn a_hilt_meets_a_hole_of_the_tang() {
    let sheet =
        reed(|text| text.replace("{ text = \"58 mm\", instrument = \"rule\" }", "\"58.0 mm\""));
    // The hole of the tang is at 58 mm: with a guard and washers of 8.2 mm the hilt's must be at 49.8 mm.
    let opening = "26.7 mm x 7.5 mm";
    let fits = judged("tsuka", &readings("49.9 mm", opening, "8.2 mm"), &sheet);
    assert_eq!(fits.answer, Answer::Fits, "{fits:?}");
    assert!(
        fits.checks[0]
            .says
            .starts_with("fits: off from hole 1 of the tang by 0.1"),
        "{}",
        fits.checks[0].says
    );
    let far = judged("tsuka", &readings("54.0 mm", opening, "8.2 mm"), &sheet);
    assert_eq!(far.answer, Answer::DoesNotFit);
    assert!(
        far.checks[0]
            .says
            .starts_with("too far from the mouth by 3.20 mm"),
        "{}",
        far.checks[0].says
    );
    let near = judged("tsuka", &readings("46.0 mm", opening, "8.2 mm"), &sheet);
    assert!(
        near.checks[0]
            .says
            .starts_with("too near the mouth by 2.80 mm"),
        "{}",
        near.checks[0].says
    );
    // Without the stack of a mounted hilt nothing can be said of its hole.
    let bare = judged("tsuka", &readings("49.9 mm", opening, ""), &sheet);
    assert_eq!(bare.answer, Answer::CannotTell);
    assert!(bare.missing[0].contains("--stack"), "{:?}", bare.missing);
    // A plain storage hilt stands at the notch itself.
    let plain_hilt = judged("shirasaya", &readings("58.1 mm", opening, ""), &sheet);
    assert_eq!(plain_hilt.answer, Answer::Fits, "{plain_hilt:?}");
}

#[test]
fn the_hole_that_meets_best_counts_and_plugged_ones_do_not() {
    let two = reed(|text| {
        text.replace(
            "[[tang.inscriptions]]",
            "[[tang.holes]]\nat = \"96 mm\"\nplugged = true\n\n[[tang.holes]]\nat = \"131 mm\"\n\n[[tang.inscriptions]]",
        )
    });
    let opening = "26.7 mm x 7.5 mm";
    let third = judged("shirasaya", &readings("131.9 mm", opening, ""), &two);
    assert!(
        third.checks[0].says.contains("hole 3 of the tang"),
        "{}",
        third.checks[0].says
    );
    assert_eq!(
        third.answer,
        Answer::CannotTell,
        "131 mm was read to 1 mm: {third:?}"
    );
    assert!(
        third.missing.iter().any(|one| one.contains("read")),
        "{:?}",
        third.missing
    );
    let plugged = judged("shirasaya", &readings("96.0 mm", opening, ""), &two);
    assert_eq!(plugged.answer, Answer::DoesNotFit);
    assert!(plugged.notes.iter().any(|note| note.contains("plugged")));
    let none = reed(|text| {
        text.replace(
            "diameter = { text = \"5.4 mm\", instrument = \"caliper\" }",
            "plugged = true",
        )
    });
    let line = judged("shirasaya", &readings("58.0 mm", opening, ""), &none);
    assert!(
        line.missing
            .iter()
            .any(|one| one.contains("an open peg hole")),
        "{:?}",
        line.missing
    );
}

#[test]
fn coarse_readings_cannot_tell_and_say_how_fine_they_must_be() {
    let sheet = reed(plain);
    let coarse = Readings {
        uncertainty: Some("0.3 mm".to_owned()),
        ..readings("", "31.0 mm x 7.3 mm", "")
    };
    let line = judged("habaki", &coarse, &sheet);
    assert_eq!(line.answer, Answer::CannotTell);
    assert!(
        line.checks[0].says.contains("% likely to fit"),
        "{}",
        line.checks[0].says
    );
    assert!(
        line.missing[0].contains("is 0.60 mm, at most 0.15 mm can tell"),
        "{:?}",
        line.missing
    );
    let nothing = judged("habaki", &Readings::default(), &sheet);
    assert_eq!(nothing.answer, Answer::CannotTell);
    assert_eq!(nothing.missing.len(), 1, "{:?}", nothing.missing);
    assert!(nothing.missing[0].contains("--opening"));
}

#[test]
fn parts_without_hole_or_opening_are_not_judged() {
    let judged: Vec<FittingPart> = FittingPart::ALL
        .iter()
        .copied()
        .filter(|part| Goes::of(*part).is_some())
        .collect();
    assert_eq!(judged.len(), 9, "{judged:?}");
    let menuki = card("menuki", &Readings::default());
    let error = Judge::new(&menuki, Limits::default()).err().unwrap();
    assert!(
        error.to_string().starts_with("whether a menuki fits"),
        "{error}"
    );
}

#[test]
fn what_was_measured_on_both_sides_is_drawn() {
    let sheet = reed(plain);
    let card = card("tsuka", &readings("49.9 mm", "26.7 mm x 7.5 mm", "8.2 mm"));
    let judge = Judge::new(&card, Limits::default()).unwrap();
    let seat = judge.seat(&sheet);
    let peg = seat.peg.as_ref().unwrap();
    assert!(
        (peg.mouth - 8.2).abs() < 1e-9 && (peg.hole - 58.1).abs() < 1e-9,
        "{peg:?}"
    );
    assert_eq!(peg.holes, [(58.0, Some(5.4), false)]);
    assert_eq!(peg.tang, Some(208.0));
    let opening = seat.opening.unwrap();
    assert!(!opening.of_blade && (opening.section[0] - 26.32).abs() < 1e-9);
    assert!(seat_drawing(&seat, 166.0, Speech::English).is_some());
}
