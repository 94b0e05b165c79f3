#![allow(clippy::unwrap_used)]
use serde_json::json;

use super::*;
use crate::message::{Axis, Column, Level, NumberDraft, Point, QuantityDraft};

fn description() -> Description {
    Description::new("example", "1.0.0", "Looks at lengths").with_rule(
        "example.length",
        "Length is plausible",
        "workshop practice",
    )
}

fn sheet() -> Value {
    json!({"dimensions": {"nagasa": {"value": "724.0"}}})
}

fn reply() -> CheckReply {
    CheckReply {
        findings: vec![FindingDraft {
            rule: "example.length".to_owned(),
            level: Level::Info,
            message: "nagasa is 724.0 mm".to_owned(),
            evidence: vec!["/dimensions/nagasa".to_owned()],
            numbers: vec![NumberDraft {
                name: "nagasa".to_owned(),
                value: "724.0".to_owned(),
                unit: "mm".to_owned(),
                standard_uncertainty: Some("0.3".to_owned()),
            }],
            source: "workshop practice".to_owned(),
        }],
        quantities: vec![QuantityDraft {
            name: "example.ratio".to_owned(),
            value: "0.73".to_owned(),
            unit: "1".to_owned(),
            standard_uncertainty: None,
            source: "width at the point over width at the tang".to_owned(),
        }],
        artefacts: vec![
            Artefact::Series(Series {
                id: "width".to_owned(),
                title: "Width along the blade".to_owned(),
                x: Axis {
                    name: "station".to_owned(),
                    unit: "mm".to_owned(),
                },
                y: Axis {
                    name: "width".to_owned(),
                    unit: "mm".to_owned(),
                },
                points: vec![Point {
                    x: "0".to_owned(),
                    y: "31.2".to_owned(),
                    standard_uncertainty: None,
                }],
                source: "readings".to_owned(),
            }),
            Artefact::Table(Table {
                id: "limits".to_owned(),
                title: "Limits".to_owned(),
                columns: vec![
                    Column {
                        name: "class".to_owned(),
                        unit: None,
                    },
                    Column {
                        name: "from".to_owned(),
                        unit: Some("mm".to_owned()),
                    },
                ],
                rows: vec![vec!["katana".to_owned(), "606".to_owned()]],
                source: "workshop practice".to_owned(),
            }),
        ],
    }
}

/// Changes a good reply and returns what the audit says.
fn fault(change: impl FnOnce(&mut CheckReply)) -> String {
    let mut changed = reply();
    change(&mut changed);
    changed
        .audit(&description(), &sheet())
        .unwrap_err()
        .to_string()
}

fn description_fault(change: impl FnOnce(&mut Description)) -> String {
    let mut changed = description();
    change(&mut changed);
    changed.audit("example").unwrap_err().to_string()
}

fn series(reply: &mut CheckReply) -> &mut Series {
    reply
        .artefacts
        .iter_mut()
        .find_map(|artefact| match artefact {
            Artefact::Series(series) => Some(series),
            Artefact::Table(_) => None,
        })
        .unwrap()
}

fn table(reply: &mut CheckReply) -> &mut Table {
    reply
        .artefacts
        .iter_mut()
        .find_map(|artefact| match artefact {
            Artefact::Table(table) => Some(table),
            Artefact::Series(_) => None,
        })
        .unwrap()
}

#[test]
fn a_sound_plugin_passes() {
    description().audit("example").unwrap();
    reply().audit(&description(), &sheet()).unwrap();
    CheckReply::default()
        .audit(&description(), &sheet())
        .unwrap();
}

#[test]
fn a_description_must_fit_its_file() {
    assert_eq!(
        description_fault(|d| d.abi = 2),
        "its description says ABI 2, its functions say ABI 1"
    );
    assert_eq!(
        description_fault(|d| d.name = "other".to_owned()),
        "it calls itself `other`, its file is named for `example`"
    );
    assert_eq!(
        description_fault(|d| d.name = "Bad\u{1b}".to_owned()),
        "`/name` is not a plugin's name: a-z, 0-9 and `_`, at most 40 characters"
    );
    assert_eq!(
        description_fault(|d| d.rules.push(d.rules[0].clone())),
        "`/rules/1/id` repeats the identifier `example.length`"
    );
    assert_eq!(
        description_fault(|d| d.title = "two\nlines".to_owned()),
        "`/title` is not one line of 1 to 120 characters"
    );
    assert_eq!(
        description_fault(|d| d.features = vec!["x".to_owned(); 51]),
        "`/features` has 51 entries; at most 50 are allowed"
    );
}

#[test]
fn findings_name_described_rules_and_present_evidence() {
    assert_eq!(
        fault(|r| r.findings[0].rule = "example.other".to_owned()),
        "`/findings/0/rule` names the rule `example.other`, which its description does not have"
    );
    assert_eq!(
        fault(|r| r.findings[0].evidence = vec!["/flaws/0".to_owned()]),
        "`/findings/0/evidence/0` points at `/flaws/0`, which the sheet does not have"
    );
    assert_eq!(
        fault(|r| r.findings[0].evidence.clear()),
        "`/findings/0/evidence` is empty; at least one path into the sheet is needed"
    );
    assert_eq!(
        fault(|r| r.findings = vec![r.findings[0].clone(); 201]),
        "`/findings` has 201 entries; at most 200 are allowed"
    );
    assert_eq!(
        fault(|r| r.findings[0].message = "\u{1b}[2Jgood blade".to_owned()),
        "`/findings/0/message` is not one line of 1 to 2000 characters"
    );
}

#[test]
fn numbers_are_decimals_with_units() {
    assert_eq!(
        fault(|r| r.findings[0].numbers[0].value = "7.24e2".to_owned()),
        "`/findings/0/numbers/0/value` is not a decimal number such as `-12.50`, \
         at most 12 digits before and 9 after the full stop"
    );
    assert_eq!(
        fault(|r| r.quantities[0].unit = String::new()),
        "`/quantities/0/unit` is not a unit that a record holds: \
         mm, um, mm2, mm3, g, deg, min, h, Cel, %, 1, g/cm3"
    );
    assert_eq!(
        fault(|r| r.findings[0].numbers[0].standard_uncertainty = Some("-0.3".to_owned())),
        "`/findings/0/numbers/0/standard_uncertainty` is not zero or more"
    );
}

/// What passes the audit must fit a record: otherwise nothing could be sealed.
#[test]
fn no_limit_is_above_the_record_s() {
    let schema: Value = serde_json::from_str(tangmark_core::schema::RECORD_V1).unwrap();
    let most = |place: &str, bound: &str| {
        let place = schema.pointer(&format!("/$defs/{place}/{bound}"));
        usize::try_from(place.unwrap().as_u64().unwrap()).unwrap()
    };
    for (limit, place, bound) in [
        (limits::MESSAGE, "Finding/properties/message", "maxLength"),
        (limits::SOURCE, "Finding/properties/source", "maxLength"),
        (limits::EVIDENCE, "Finding/properties/evidence", "maxItems"),
        (limits::NUMBERS, "Finding/properties/numbers", "maxItems"),
        (limits::LABEL, "Number/properties/name", "maxLength"),
        (limits::NAME, "Number/properties/name", "maxLength"),
        (limits::LABEL, "Column/properties/name", "maxLength"),
        (limits::POINTS, "Column/properties/cells", "maxItems"),
        (limits::ROWS, "Column/properties/cells", "maxItems"),
        (limits::TITLE, "Artefact/properties/title", "maxLength"),
        (limits::COLUMNS, "Artefact/properties/columns", "maxItems"),
        (limits::PLUGIN, "Run/properties/version", "maxLength"),
        (limits::QUANTITIES, "Run/properties/quantities", "maxItems"),
        (limits::ARTEFACTS, "Run/properties/artefacts", "maxItems"),
    ] {
        let found = most(place, bound);
        assert!(limit <= found, "{place}: {limit} is above {found}");
    }
    let column = format!("standard uncertainty of {}", "y".repeat(limits::AXIS));
    assert!(column.len() <= most("Column/properties/name", "maxLength"));
}

#[test]
fn artefacts_are_typed_and_bounded() {
    assert_eq!(
        fault(|r| series(r).id = "limits".to_owned()),
        "`/artefacts/1/id` repeats the identifier `limits`"
    );
    assert_eq!(
        fault(|r| {
            let series = series(r);
            series.points = vec![series.points[0].clone(); 2_001];
        }),
        "`/artefacts/0/points` has 2001 entries; at most 2000 are allowed"
    );
    assert_eq!(
        fault(|r| table(r).rows[0].truncate(1)),
        "`/artefacts/1/rows/0` has 1 cells; the table has 2 columns"
    );
    assert_eq!(
        fault(|r| table(r).rows[0][1] = "about 606".to_owned()),
        "`/artefacts/1/rows/0/1` is not a decimal number such as `-12.50`, \
         at most 12 digits before and 9 after the full stop"
    );
    assert_eq!(
        fault(|r| table(r).columns.clear()),
        "`/artefacts/1/columns` is not a list of at least one column"
    );
}
