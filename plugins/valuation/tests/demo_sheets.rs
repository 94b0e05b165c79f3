//! What the plugin says of the demo sheets, as people read it.
#![allow(clippy::unwrap_used)]

mod common;

use serde_json::json;
use tangmark_author::trial;
use tangmark_plugin::CheckReply;
use tangmark_valuation::{check, describe};

fn judged(sheet: serde_json::Value) -> CheckReply {
    let mut request = trial::request(sheet);
    request.tables = json!({"comparables": common::comparables()});
    request.settings = common::settings();
    trial::judged(describe, check, &request)
}

#[test]
fn findings_on_the_demo_sheets() {
    for (name, sheet) in trial::demo_sheets() {
        insta::assert_snapshot!(name, trial::shown(&judged(sheet)));
    }
}

/// What is about money is private, and the program tells it by its name.
#[test]
fn everything_begins_with_price() {
    for (name, sheet) in trial::demo_sheets() {
        let reply = judged(sheet);
        assert!(!reply.findings.is_empty(), "{name}");
        let ids = reply.findings.iter().map(|one| one.rule.as_str());
        let quantities = reply.quantities.iter().map(|one| one.name.as_str());
        let artefacts = reply.artefacts.iter().map(tangmark_plugin::Artefact::id);
        for id in ids.chain(quantities).chain(artefacts) {
            assert!(id.starts_with("price."), "{name}: {id}");
        }
    }
    assert!(
        describe()
            .rules
            .iter()
            .all(|rule| rule.id.starts_with("price."))
    );
}
