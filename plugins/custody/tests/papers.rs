//! Registrations and appraisals: alone, against each other, against the tang and the chain.
#![allow(clippy::unwrap_used, clippy::needless_pass_by_value, dead_code)]

mod common;

use common::{CAUTION, INFO, event, expect, sheet};
use serde_json::{Value, json};

fn card(number: &str, on: &str, states: Value) -> Value {
    json!({"kind": "registration_card", "authority": "Board of Example", "on": on, "number": number, "states": states})
}

fn cards(events: Vec<Value>, registrations: Value) -> Value {
    let mut sheet = sheet(events);
    sheet["blade"]["registrations"] = registrations;
    sheet["tang"] = json!({"shape": "futsu", "state": "ubu", "inscriptions": [{"kind": "mumei"}]});
    sheet
}

fn mm(value: &str) -> Value {
    json!({"as_read": [{"text": format!("{value} mm"), "unit": "mm"}], "value": value, "unit": "mm", "standard_uncertainty": "0.29",
        "uncertainty_from": "resolution"})
}

#[test]
fn registrations() {
    let one = |on| cards(Vec::new(), json!([card("1", on, json!({}))]));
    expect(
        "a card of tomorrow",
        one("2026-06-02"),
        "custody.future",
        CAUTION,
    );
    expect(
        "a card before the blade",
        one("1699"),
        "custody.card-before-blade",
        CAUTION,
    );
    expect(
        "a card of its first year",
        one("1700"),
        "custody.card-before-blade",
        None,
    );
    let mut bare = one("1960");
    bare["blade"]["registrations"][0]
        .as_object_mut()
        .unwrap()
        .remove("number");
    expect("no number", bare.clone(), "custody.card-no-number", INFO);
    bare["blade"]["registrations"][0]["kind"] = json!("private_appraisal");
    expect(
        "an appraisal needs none",
        bare,
        "custody.card-no-number",
        None,
    );
    expect(
        "number and date",
        one("1960"),
        "custody.card-no-number",
        None,
    );
    let two = |number| {
        cards(
            Vec::new(),
            json!([
                card("1", "1960", json!({})),
                card(number, "1960", json!({}))
            ]),
        )
    };
    expect("two cards", two("2"), "custody.cards-several", CAUTION);
    expect("one card twice", two("1"), "custody.cards-several", INFO);
    expect("one card", one("1960"), "custody.cards-several", None);
    let exported = |when| {
        cards(
            vec![event("exported", when, "", "")],
            json!([card("1", "1960", json!({}))]),
        )
    };
    expect(
        "exported with a card",
        exported("1985"),
        "custody.card-and-border",
        INFO,
    );
    expect(
        "exported before the card",
        exported("1950"),
        "custody.card-and-border",
        None,
    );
    let sold = event("sold", "1990", "owner Anna Berg", "buyer Carl Dunn");
    let told = |events: Vec<Value>, on| cards(events, json!([card("1", on, json!({}))]));
    expect(
        "sold since",
        told(vec![sold.clone()], "1960"),
        "custody.card-transfer",
        INFO,
    );
    expect(
        "card renewed since",
        told(vec![sold.clone()], "1991"),
        "custody.card-transfer",
        None,
    );
    let entered = event("registered", "1990-02", "", "");
    expect(
        "entered since",
        told(vec![sold, entered], "1960"),
        "custody.card-transfer",
        None,
    );
}

#[test]
fn papers_against_each_other_and_the_tang() {
    let two = |first: Value, second: Value| {
        let mut sheet = cards(
            Vec::new(),
            json!([card("1", "1960", first), card("1", "1960", second)]),
        );
        sheet["blade"]["registrations"][1]["kind"] = json!("private_appraisal");
        sheet
    };
    let length = |value| json!({"blade_length": mm(value)});
    let rule = "custody.cards-disagree";
    expect(
        "lengths apart",
        two(length("500.0"), length("504.0")),
        rule,
        CAUTION,
    );
    expect(
        "lengths within tolerance and U",
        two(length("500.0"), length("503.8")),
        rule,
        None,
    );
    expect(
        "holes",
        two(json!({"peg_holes": 1}), json!({"peg_holes": 2})),
        rule,
        CAUTION,
    );
    expect(
        "the same holes",
        two(json!({"peg_holes": 2}), json!({"peg_holes": 2})),
        rule,
        None,
    );
    expect(
        "inscriptions",
        two(
            json!({"inscription": "Alpha"}),
            json!({"inscription": "Beta"}),
        ),
        rule,
        CAUTION,
    );
    expect(
        "unsigned in two words",
        two(
            json!({"inscription": "無銘"}),
            json!({"inscription": "Mumei"}),
        ),
        rule,
        None,
    );
    let tang = |stated: &str, inscriptions: Value| {
        let mut sheet = cards(
            Vec::new(),
            json!([card("1", "1960", json!({"inscription": stated}))]),
        );
        sheet["tang"]["inscriptions"] = inscriptions;
        sheet
    };
    let rule = "custody.card-inscription";
    let signed = json!([{"kind": "zaimei", "reading": "備前"}]);
    expect(
        "unsigned on paper, signed on the tang",
        tang("mumei", signed.clone()),
        rule,
        CAUTION,
    );
    expect(
        "signed on paper, unsigned on the tang",
        tang("備前", json!([{"kind": "mumei"}])),
        rule,
        CAUTION,
    );
    expect("another reading", tang("相州", signed.clone()), rule, INFO);
    expect("the same reading", tang("備 前", signed), rule, None);
    expect(
        "nothing noted on the tang",
        tang("備前", json!([])),
        rule,
        None,
    );
}
