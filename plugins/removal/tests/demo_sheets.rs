//! What the plugin says of the demo sheets, as people read it.
#![allow(clippy::unwrap_used)]

use serde_json::{Value, json};
use tangmark_author::trial::{demo, demo_sheets, judged, record, request, shown};
use tangmark_core::record::Purpose;
use tangmark_plugin::{CheckReply, CheckRequest, Level};
use tangmark_removal::{check, describe};

fn ask(request: &CheckRequest) -> CheckReply {
    judged(describe, check, request)
}

/// The long sword after work, its state before work sealed.
fn reed() -> CheckRequest {
    let mut asked = request(demo("reed-after"));
    let before = demo("reed-before");
    asked.history = vec![record(
        &before,
        1,
        Purpose::BeforeWork,
        "2026-03-02T16:00:00Z",
    )];
    asked
}

#[test]
fn findings_on_the_demo_sheets() {
    for (name, sheet) in demo_sheets() {
        insta::assert_snapshot!(name, shown(&ask(&request(sheet))));
    }
}

#[test]
fn before_against_after() {
    insta::assert_snapshot!("reed-with-history", shown(&ask(&reed())));
}

#[test]
fn with_what_the_workshop_knows_of_its_instruments() {
    let mut asked = reed();
    asked.settings = json!({"residue_g": 0.05, "weighing_repeatability_g": 0.05, "gauge_repeats": 0.9, "scale_repeats": 0.95});
    insta::assert_snapshot!("reed-with-settings", shown(&ask(&asked)));
}

#[test]
fn nothing_here_holds_a_blade() {
    for (_, sheet) in demo_sheets() {
        let reply = ask(&request(sheet));
        assert!(reply.findings.iter().all(|one| one.level != Level::Stop));
    }
}

#[test]
fn an_unreadable_request_is_refused_in_words() {
    let mut asked = request(json!({"blade": 3}));
    let refusal = check(&asked).unwrap_err().to_string();
    assert!(refusal.starts_with("the sheet cannot be read"), "{refusal}");
    asked = request(demo("reed-after"));
    asked.history = vec![Value::Null];
    let refusal = check(&asked).unwrap_err().to_string();
    assert!(
        refusal.starts_with("record 1 of the blade's history cannot be read"),
        "{refusal}"
    );
    asked.history.clear();
    asked.settings = json!({"gauge_repeats": 2});
    let refusal = check(&asked).unwrap_err().to_string();
    assert_eq!(refusal, "setting `gauge_repeats` is 2; 0 to 1 is allowed");
}
