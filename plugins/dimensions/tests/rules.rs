//! One change to a sound sheet for each rule, and what becomes of it.
#![allow(clippy::unwrap_used)]

use std::sync::OnceLock;

use serde_json::{Value, json};
use tangmark_author::trial::{self, demo};
use tangmark_core::record::Quantity;
use tangmark_core::sheet;
use tangmark_core::units::Dimension;
use tangmark_dimensions::{check, describe};
use tangmark_plugin::{CheckReply, FindingDraft, Level};

type Change = fn(&mut Value);
type Case = (
    &'static str,
    Change,
    &'static str,
    Option<(Level, &'static str)>,
);

/// The long sword before work.
fn reed() -> Value {
    static REED: OnceLock<Value> = OnceLock::new();
    REED.get_or_init(|| demo("reed-before")).clone()
}

fn mm(text: &str) -> Value {
    let read =
        Quantity::from_readings(&[format!("{text} mm")], Dimension::Length, None, None).unwrap();
    serde_json::to_value(read).unwrap()
}

fn g(text: &str) -> Value {
    let read =
        Quantity::from_readings(&[format!("{text} g")], Dimension::Mass, None, None).unwrap();
    serde_json::to_value(read).unwrap()
}

fn set(sheet: &mut Value, field: &str, text: &str) {
    sheet["dimensions"][field] = mm(text);
}

fn without(sheet: &mut Value, fields: &[&str]) {
    for field in fields {
        sheet["dimensions"].as_object_mut().unwrap().remove(*field);
    }
}

/// Another blade length, with everything that lies along it left out.
fn long(sheet: &mut Value, text: &str) {
    set(sheet, "blade_length", text);
    without(sheet, &["stations", "overall_length", "curvature_at"]);
    sheet["flaws"] = json!([]);
    sheet["temper_line"]["widths"] = json!([]);
    sheet["blade"]["registrations"] = json!([]);
}

fn back_line(sheet: &mut Value, heights: &[&str]) {
    let step = 698 / (heights.len() - 1);
    let points: Vec<Value> = heights
        .iter()
        .enumerate()
        .map(|(index, height)| json!({ "at": mm(&(index * step).to_string()), "height": mm(height) }))
        .collect();
    sheet["dimensions"]["back_line"] = json!(points);
}

fn judged(sheet: &Value, settings: &Value) -> CheckReply {
    // The change must make a sheet that the program would take.
    sheet::from_value(sheet.clone()).unwrap_or_else(|error| panic!("{error}"));
    let mut request = trial::request(sheet.clone());
    request.settings = settings.clone();
    trial::judged(describe, check, &request)
}

fn found<'a>(reply: &'a CheckReply, rule: &str) -> Option<&'a FindingDraft> {
    reply.findings.iter().find(|finding| finding.rule == rule)
}

/// Name of the case, change, rule, level and part of the message (none: the rule stays quiet).
#[rustfmt::skip]
const CASES: &[Case] = &[
    ("long", |_| {}, "dimensions.length-class", Some((Level::Info, "long sword, katana 刀 or tachi 太刀"))),
    ("short", |s| { long(s, "455.0"); s["blade"]["kind_by_length"] = json!("wakizashi"); }, "dimensions.length-class", Some((Level::Info, "wakizashi 脇差"))),
    ("short is no dagger", |s| { long(s, "455.0"); s["blade"]["kind_by_length"] = json!("wakizashi"); }, "dimensions.length-class-differs", None),
    ("short called long", |s| long(s, "455.0"), "dimensions.length-class-differs", Some((Level::Caution, "The sheet says katana by length"))),
    ("on the limit", |s| long(s, "606"), "dimensions.length-class", Some((Level::Info, "undecided"))),
    ("called long on the limit", |s| long(s, "606"), "dimensions.length-class-differs", Some((Level::Caution, "leave the kind by length out"))),
    ("great sword under 3 shaku", |s| s["blade"]["kind_by_length"] = json!("odachi"), "dimensions.length-class-differs", Some((Level::Caution, "odachi"))),
    ("a spear has no class", |s| s["blade"]["kind_by_make"] = json!("yari"), "dimensions.length-class", None),
    ("measured from the guard, no class", |s| s["dimensions"]["datum"] = json!("guard_face"), "dimensions.length-class", None),
    ("deepest near the tang", |s| set(s, "curvature_at", "120"), "dimensions.curvature-kind", Some((Level::Info, "koshi zori"))),
    ("deepest in the middle", |_| {}, "dimensions.curvature-kind", Some((Level::Info, "torii"))),
    ("deepest near the point", |s| set(s, "curvature_at", "580"), "dimensions.curvature-kind", Some((Level::Info, "saki"))),
    ("near a third", |s| set(s, "curvature_at", "230"), "dimensions.curvature-kind", Some((Level::Info, "undecided"))),
    ("straight", |s| { set(s, "curvature", "1.0"); s["blade"]["registrations"] = json!([]); }, "dimensions.curvature-kind", Some((Level::Info, "muzori"))),
    ("not noted where", |s| without(s, &["curvature_at"]), "dimensions.curvature-kind", Some((Level::Info, "cannot be told"))),
    ("the view fits", |s| s["dimensions"]["curvature_kind"] = json!("torii_zori"), "dimensions.curvature-kind-differs", None),
    ("the view does not fit", |s| s["dimensions"]["curvature_kind"] = json!("saki_zori"), "dimensions.curvature-kind-differs", Some((Level::Caution, "The examiner sees saki"))),
    ("line of the back", |s| back_line(s, &["0", "9.0", "15.0", "16.5", "14.0", "8.0", "0"]), "dimensions.curvature-kind", Some((Level::Info, "torii"))),
    ("line of the back agrees", |s| back_line(s, &["0", "9.0", "15.0", "16.5", "14.0", "8.0", "0"]), "dimensions.curvature-differs", None),
    ("line of the back disagrees", |s| back_line(s, &["0", "5.0", "9.0", "10.5", "9.0", "5.0", "0"]), "dimensions.curvature-differs", Some((Level::Caution, "measure one of them again"))),
    ("usual taper", |_| {}, "dimensions.width-taper", Some((Level::Info, "as usual"))),
    ("strong taper", |s| { set(s, "width_at_point", "16.0"); without(s, &["stations", "point_length"]); }, "dimensions.width-taper", Some((Level::Info, "stronger"))),
    ("slight taper", |s| { set(s, "width_at_point", "27.0"); without(s, &["stations", "point_length"]); }, "dimensions.width-taper", Some((Level::Info, "slighter"))),
    ("grows towards the point", |s| { set(s, "width_at_base", "20.0"); without(s, &["stations"]); }, "dimensions.width-taper", Some((Level::Caution, "swapped"))),
    ("usual taper of the thickness", |_| {}, "dimensions.thickness-taper", Some((Level::Info, "as usual"))),
    ("middle point", |_| {}, "dimensions.point-ratio", Some((Level::Info, "chu kissaki"))),
    ("short point", |s| set(s, "point_length", "19.0"), "dimensions.point-ratio", Some((Level::Info, "ikubi kissaki"))),
    ("large point", |s| set(s, "point_length", "60.0"), "dimensions.point-ratio", Some((Level::Info, "o kissaki"))),
    ("the view of the point differs", |s| s["dimensions"]["point_class"] = json!("o_kissaki"), "dimensions.point-class-differs", Some((Level::Info, "The examiner sees o kissaki"))),
    ("tang", |_| {}, "dimensions.tang-ratio", Some((Level::Info, "0.29792"))),
    ("parts add up", |_| {}, "dimensions.overall-differs", None),
    ("parts do not add up", |s| set(s, "overall_length", "880"), "dimensions.overall-differs", Some((Level::Caution, "do not add up"))),
    ("usual", |_| {}, "dimensions.unusual", None),
    ("somewhat wide", |s| { set(s, "width_at_base", "32.0"); without(s, &["stations"]); }, "dimensions.unusual", Some((Level::Info, "width at the base"))),
    ("much too wide", |s| { set(s, "width_at_base", "41.0"); without(s, &["stations"]); }, "dimensions.unusual", Some((Level::Caution, "28 to 31 mm"))),
    ("card agrees", |_| {}, "dimensions.card-agrees", Some((Level::Info, "length, curvature, number of peg holes"))),
    ("card of another length", |s| s["blade"]["registrations"][0]["states"]["blade_length"] = mm("690.9"), "dimensions.card-length", Some((Level::Caution, "states a length"))),
    ("card of another length does not agree", |s| s["blade"]["registrations"][0]["states"]["blade_length"] = mm("690.9"), "dimensions.card-agrees", None),
    ("card of another curvature", |s| s["blade"]["registrations"][0]["states"]["curvature"] = mm("12.1"), "dimensions.card-curvature", Some((Level::Caution, "states a curvature"))),
    ("card with another hole", |s| s["blade"]["registrations"][0]["states"]["peg_holes"] = json!(2), "dimensions.card-holes", Some((Level::Caution, "states 2 peg holes, and the tang has 1"))),
    ("mass fits the sections", |_| {}, "dimensions.mass-model", Some((Level::Info, "as a tang may have"))),
    ("too light for the sections", |s| s["dimensions"]["mass"] = g("480.0"), "dimensions.mass-model", Some((Level::Caution, "Weigh again"))),
    ("too heavy for the sections", |s| s["dimensions"]["mass"] = g("990.0"), "dimensions.mass-model", Some((Level::Caution, "Weigh again"))),
    ("weighed with its collar", |s| s["dimensions"]["mass_state"] = json!("with_collar"), "dimensions.mass-model", None),
    ("two stations are too few", |s| { s["dimensions"]["stations"].as_array_mut().unwrap().truncate(2); }, "dimensions.mass-model", None),
    ("a section that cannot be modelled", |s| s["blade"]["construction"] = json!("hollow_ground"), "dimensions.mass-model", None),
];

#[test]
fn each_rule_says_what_it_should() {
    for (name, change, rule, expected) in CASES {
        let mut sheet = reed();
        change(&mut sheet);
        let reply = judged(&sheet, &json!({}));
        let finding = found(&reply, rule);
        assert_eq!(
            finding.map(|one| one.level),
            expected.map(|one| one.0),
            "{name}: {rule}"
        );
        if let (Some(finding), Some((_, part))) = (finding, expected) {
            assert!(
                finding.message.contains(part),
                "{name}: {}",
                finding.message
            );
        }
    }
}

#[test]
fn every_rule_is_tried() {
    for rule in describe().rules {
        assert!(
            CASES
                .iter()
                .any(|(_, _, id, expected)| *id == rule.id && expected.is_some()),
            "{}",
            rule.id
        );
    }
}

#[test]
fn a_straddled_limit_gives_limit_and_probability() {
    let mut sheet = reed();
    long(&mut sheet, "606");
    let reply = judged(&sheet, &json!({}));
    let numbers: Vec<(&str, &str)> = found(&reply, "dimensions.length-class")
        .unwrap()
        .numbers
        .iter()
        .map(|number| (number.name.as_str(), number.value.as_str()))
        .collect();
    // Read to 1 mm: u = 1/√12 mm; 2 shaku = 606.0606 mm; Φ(0.0606/0.2887) = Φ(0.21) = 0.583. The record's own u is
    // rounded to two digits, 0.29 mm, which moves the third digit of Φ by less than one.
    assert_eq!(
        numbers,
        [
            ("blade length", "606.00"),
            ("limit", "606.061"),
            ("probability of the lower class", "0.583"),
        ]
    );
}

#[test]
fn settings_move_the_limits() {
    let mut sheet = reed();
    sheet["blade"]["registrations"][0]["states"]["blade_length"] = mm("690.9");
    assert!(
        found(
            &judged(&sheet, &json!({ "card_length_tolerance_mm": 10.0 })),
            "dimensions.card-length"
        )
        .is_none()
    );
    let reply = judged(&sheet, &json!({ "point_ratio_limits": [1.0, 1.2, 1.4] }));
    assert!(
        found(&reply, "dimensions.point-ratio")
            .unwrap()
            .message
            .contains("o kissaki")
    );
}

#[test]
fn what_cannot_be_read_is_refused() {
    let request = trial::request(json!([]));
    let refusal = check(&request).unwrap_err().to_string();
    assert!(
        refusal.starts_with("the sheet cannot be read: "),
        "{refusal}"
    );
}

#[test]
fn a_sheet_without_dimensions_draws_nothing() {
    let mut sheet = reed();
    sheet.as_object_mut().unwrap().remove("dimensions");
    assert_eq!(judged(&sheet, &json!({})), CheckReply::default());
}
