//! Chips against the temper line behind them, face by face.

use serde_json::{Value, json};
use tangmark_plugin::Level;

use super::common::{found, judged, mm, one_flaw, plain, row};

fn widths(sheet: &mut Value, all: &[(&str, Option<&str>, &str)]) {
    let all: Vec<Value> = all
        .iter()
        .map(|(at, face, width)| match face {
            Some(face) => json!({ "at": mm(at), "face": face, "width": mm(width) }),
            None => json!({ "at": mm(at), "width": mm(width) }),
        })
        .collect();
    sheet["temper_line"]["widths"] = json!(all);
}

fn chip(sheet: &mut Value, depth: &str, faces: &[&str]) {
    one_flaw(
        sheet,
        "hakobore",
        "edge",
        &json!({ "depth": mm(depth), "faces": faces }),
    );
}

const SAME: &[(&str, Option<&str>, &str)] = &[("200", None, "6.00"), ("400", None, "6.00")];

/// Depth and widths read to 0.01 mm: u = 0.0029 mm each; between two equal widths, half-way, the width has u/√2, so that U of the
/// difference is 2 · 0.0029 · √1.5 = 0.0071 mm.
#[test]
fn through_within_the_doubt_and_within_the_line() {
    for (depth, rule, level, said) in [
        (
            "6.02",
            "fatal.hakobore",
            Level::Stop,
            "Taking f-1 out would leave no temper line",
        ),
        (
            "6.00",
            "fatal.hakobore",
            Level::Stop,
            "Within the measurement it cannot be told of f-1",
        ),
        (
            "5.99",
            "flaw.hakobore",
            Level::Info,
            "Taking f-1 out would leave 0.0100 ± 0.0071 mm of temper line",
        ),
    ] {
        let mut sheet = plain();
        widths(&mut sheet, SAME);
        chip(&mut sheet, depth, &["omote"]);
        let reply = judged(&sheet, &json!({}));
        let finding = found(&reply, rule).unwrap_or_else(|| panic!("{depth}: {rule}"));
        assert_eq!(finding.level, level, "{depth}");
        assert!(
            finding.message.contains(said),
            "{depth}: {}",
            finding.message
        );
    }
}

/// Between two places the width is linear; half their difference, rectangular, is the doubt of the waves between.
#[test]
fn widths_between_places_carry_their_doubt() {
    let mut sheet = plain();
    widths(&mut sheet, &[("200", None, "6.00"), ("400", None, "8.00")]);
    chip(&mut sheet, "4.00", &["omote"]);
    let reply = judged(&sheet, &json!({}));
    let numbers = &found(&reply, "care.chip-depth").unwrap().numbers;
    // 7.00 mm; u² = (1/√3)² + 2·(0.0029/2)² + (0.01·0.29)², which is 0.58² to two digits.
    assert_eq!(numbers[1].value, "7.00");
    assert_eq!(numbers[1].standard_uncertainty.as_deref(), Some("0.58"));
    assert_eq!(numbers[2].name, "left after taking it out");
    assert_eq!(numbers[2].value, "3.00");
}

#[test]
fn each_face_has_its_own_line() {
    let faces = [
        ("200", Some("omote"), "9.00"),
        ("400", Some("omote"), "9.00"),
        ("200", Some("ura"), "3.00"),
        ("400", Some("ura"), "3.00"),
    ];
    let reply = |on: &[&str]| {
        let mut sheet = plain();
        widths(&mut sheet, &faces);
        chip(&mut sheet, "4.00", on);
        judged(&sheet, &json!({}))
    };
    assert!(found(&reply(&["omote"]), "fatal.hakobore").is_none());
    assert!(found(&reply(&["ura"]), "fatal.hakobore").is_some());
    // A chip of the edge itself bears on both faces; the narrower one decides.
    let both = reply(&["edge_side"]);
    let message = &found(&both, "fatal.hakobore").unwrap().message;
    assert!(
        message.contains("would leave 5.0000 ± 0.0071 mm of temper line on the outer face and no temper line on the inner face"),
        "{message}"
    );
}

#[test]
fn a_line_measured_elsewhere_says_so() {
    let mut sheet = plain();
    widths(
        &mut sheet,
        &[
            ("200", Some("omote"), "6.00"),
            ("280", Some("omote"), "6.00"),
        ],
    );
    chip(&mut sheet, "4.00", &["ura"]);
    let reply = judged(&sheet, &json!({}));
    let message = &found(&reply, "care.chip-depth").unwrap().message;
    assert!(
        message.contains("on the outer face (measured there, not where the chip shows; beyond the measured places)"),
        "{message}"
    );
}

#[test]
fn what_is_missing_is_named() {
    let mut sheet = plain();
    widths(&mut sheet, &[]);
    chip(&mut sheet, "0.50", &["omote"]);
    let reply = judged(&sheet, &json!({}));
    assert_eq!(
        row(&reply, "care.chip-depth", "not judged").unwrap(),
        "widths of the temper line"
    );
    assert!(
        row(&reply, "fatal.hakobore", "not judged")
            .unwrap()
            .contains("note `through_temper`, or its depth and the widths")
    );
}

/// Widths on either side of a break say nothing of the break.
#[test]
fn a_chip_in_a_break_is_not_measured_against_the_line_beside_it() {
    let mut sheet = plain();
    widths(&mut sheet, SAME);
    chip(&mut sheet, "0.50", &["omote"]);
    sheet["temper_line"]["breaks"] = json!([{ "from": mm("290"), "to": mm("310") }]);
    let reply = judged(&sheet, &json!({}));
    let finding = found(&reply, "temper.chip-in-gap").unwrap();
    assert_eq!(finding.evidence, ["/flaws/0/at", "/temper_line/breaks/0"]);
    assert_eq!(
        found(&reply, "flaw.hakobore").unwrap().level,
        Level::Caution
    );
    assert_eq!(
        row(&reply, "care.chip-depth", "not judged").unwrap(),
        "what temper stands behind f-1"
    );
    assert!(row(&reply, "fatal.hakobore", "not judged").is_some());
}
