//! Chains for tests: events in a few words, and what becomes of them.

use std::sync::OnceLock;

use serde_json::{Value, json};
use tangmark_author::trial;
use tangmark_core::record::CustodyKind;
use tangmark_custody::{check, describe};
use tangmark_plugin::{CheckReply, Level};

pub(crate) const CAUTION: Option<Level> = Some(Level::Caution);
pub(crate) const INFO: Option<Level> = Some(Level::Info);

/// `event("sold", "1974..1975", "owner Anna Berg", "buyer")`: role first, then the name; empty for nobody.
pub(crate) fn event(kind: &str, when: &str, from: &str, to: &str) -> Value {
    let (earliest, latest) = when.split_once("..").unwrap_or((when, when));
    let known: CustodyKind = serde_json::from_value(json!(kind)).unwrap();
    let mut event = json!({"kind": kind, "maps_to": known.maps_to(), "when": {"earliest": earliest, "latest": latest}});
    for (side, text) in [("from", from), ("to", to)] {
        if text.is_empty() {
            continue;
        }
        let (role, name) = text.split_once(' ').unwrap_or((text, ""));
        event[side] = json!({"role": role});
        if !name.is_empty() {
            event[side]["name"] = json!(name);
        }
    }
    event
}

pub(crate) fn with(mut event: Value, document: &str, on: &str) -> Value {
    event["documents"] = json!([{"kind": document, "on": on}]);
    event
}

pub(crate) fn sheet(events: Vec<Value>) -> Value {
    static GORGE: OnceLock<Value> = OnceLock::new();
    let mut sheet = GORGE.get_or_init(|| trial::demo("gorge")).clone();
    sheet["custody"] = Value::Array(events);
    sheet["blade"]["registrations"] = json!([]);
    sheet
}

pub(crate) fn judged(sheet: Value) -> CheckReply {
    trial::judged(describe, check, &trial::request(sheet))
}

pub(crate) fn level(reply: &CheckReply, rule: &str) -> Option<Level> {
    reply
        .findings
        .iter()
        .filter(|one| one.rule == rule)
        .map(|one| one.level)
        .max()
}

pub(crate) fn expect(name: &str, sheet: Value, rule: &str, expected: Option<Level>) {
    let reply = judged(sheet);
    assert_eq!(
        level(&reply, rule),
        expected,
        "{name}: {}",
        trial::shown(&reply)
    );
}

pub(crate) fn chain(name: &str, events: Vec<Value>, rule: &str, expected: Option<Level>) {
    expect(name, sheet(events), rule, expected);
}
