//! Conventions that differ by what a blade is for.

use serde_json::{Value, json};
use tangmark_plugin::Level;

use super::common::{found, judged, mm, one_flaw, plain};

fn held(kind: &str, more: &Value, use_case: &str) -> (String, Level, String) {
    let mut sheet = plain();
    one_flaw(&mut sheet, kind, "edge", more);
    let reply = judged(&sheet, &json!({ "use_case": use_case }));
    let finding = reply
        .findings
        .iter()
        .find(|finding| finding.rule.ends_with(&format!(".{kind}")))
        .unwrap();
    (finding.rule.clone(), finding.level, finding.message.clone())
}

/// Flaw, use, rule, level.
#[test]
fn the_strictest_holds_unless_the_use_is_said() {
    let none = json!({});
    let within = json!({ "through_temper": false });
    let shallow = json!({ "depth": mm("0.5") });
    for (kind, more, use_case, rule, level) in [
        ("hagire", &none, "strictest", "fatal.hagire", Level::Stop),
        ("hagire", &none, "cutting", "fatal.hagire", Level::Stop),
        ("hagire", &none, "display", "flaw.hagire", Level::Caution),
        ("hagire", &none, "study", "flaw.hagire", Level::Caution),
        (
            "karasunokuchi",
            &none,
            "display",
            "fatal.karasunokuchi",
            Level::Stop,
        ),
        (
            "karasunokuchi",
            &none,
            "study",
            "flaw.karasunokuchi",
            Level::Caution,
        ),
        (
            "mikazuki",
            &none,
            "strictest",
            "fatal.mikazuki",
            Level::Stop,
        ),
        (
            "mikazuki",
            &none,
            "display",
            "flaw.mikazuki",
            Level::Caution,
        ),
        (
            "mikazuki",
            &within,
            "strictest",
            "flaw.mikazuki",
            Level::Caution,
        ),
        ("shinae", &none, "strictest", "flaw.shinae", Level::Caution),
        ("shinae", &none, "display", "flaw.shinae", Level::Info),
        // A lighter convention never makes a flaw heavier than the strictest does.
        (
            "hakobore",
            &shallow,
            "strictest",
            "flaw.hakobore",
            Level::Info,
        ),
        ("hakobore", &shallow, "study", "flaw.hakobore", Level::Info),
    ] {
        let (found, at, message) = held(kind, more, use_case);
        assert_eq!(
            (found.as_str(), at),
            (rule, level),
            "{kind} for {use_case}: {message}"
        );
    }
}

#[test]
fn both_conventions_are_named_either_way() {
    let (_, _, strict) = held("hagire", &json!({}), "strictest");
    assert!(
        strict.contains("hold this fatal")
            && strict.contains("for display, one list holds it not so bad"),
        "{strict}"
    );
    let (_, _, display) = held("hagire", &json!({}), "display");
    assert!(
        display.contains("Held serious for display: one list holds it not so bad")
            && display.contains("by the strictest convention it is fatal"),
        "{display}"
    );
}

#[test]
fn what_would_stop_without_the_use_stands_in_the_table() {
    let mut sheet = plain();
    one_flaw(&mut sheet, "hagire", "edge", &json!({}));
    let reply = judged(&sheet, &json!({ "use_case": "display" }));
    assert!(found(&reply, "fatal.hagire").is_none());
    let row = super::common::row(&reply, "fatal.hagire", "nearly").unwrap();
    assert!(row.ends_with("without use_case it would stop"), "{row}");
}
