//! One chain for each rule, and what becomes of it.
#![allow(clippy::unwrap_used, clippy::needless_pass_by_value)]

use std::sync::OnceLock;

use serde_json::{Value, json};
use tangmark_author::trial;
use tangmark_core::record::{CustodyKind, Purpose};
use tangmark_custody::{check, describe};
use tangmark_plugin::{Artefact, CheckReply, Level};

const CAUTION: Option<Level> = Some(Level::Caution);
const INFO: Option<Level> = Some(Level::Info);

/// `event("sold", "1974..1975", "owner Anna Berg", "buyer")`: role first, then the name; empty for nobody.
fn event(kind: &str, when: &str, from: &str, to: &str) -> Value {
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

fn with(mut event: Value, document: &str, on: &str) -> Value {
    event["documents"] = json!([{"kind": document, "on": on}]);
    event
}

fn sheet(events: Vec<Value>) -> Value {
    static GORGE: OnceLock<Value> = OnceLock::new();
    let mut sheet = GORGE.get_or_init(|| trial::demo("gorge")).clone();
    sheet["custody"] = Value::Array(events);
    sheet["blade"]["registrations"] = json!([]);
    sheet
}

fn judged(sheet: Value) -> CheckReply {
    trial::judged(describe, check, &trial::request(sheet))
}

fn level(reply: &CheckReply, rule: &str) -> Option<Level> {
    reply
        .findings
        .iter()
        .filter(|one| one.rule == rule)
        .map(|one| one.level)
        .max()
}

fn expect(name: &str, sheet: Value, rule: &str, expected: Option<Level>) {
    let reply = judged(sheet);
    assert_eq!(
        level(&reply, rule),
        expected,
        "{name}: {}",
        trial::shown(&reply)
    );
}

fn chain(name: &str, events: Vec<Value>, rule: &str, expected: Option<Level>) {
    expect(name, sheet(events), rule, expected);
}

#[test]
fn an_empty_chain_and_a_plain_one() {
    let mut bare = sheet(Vec::new());
    bare.as_object_mut().unwrap().remove("custody");
    expect("nothing said", bare, "custody.empty", INFO);
    let plain = vec![
        event("made", "1700..1800", "", ""),
        with(
            event("bought", "2001-03", "seller Anna Berg", "owner Carl Dunn"),
            "invoice",
            "2001-03",
        ),
        with(
            event("left_for_work", "2026-02-20", "owner Carl Dunn", "polisher"),
            "receipt",
            "2026-02-20",
        ),
    ];
    let reply = judged(sheet(plain));
    let cautions: Vec<_> = reply
        .findings
        .iter()
        .filter(|one| one.level != Level::Info)
        .collect();
    assert!(
        cautions.iter().all(|one| one.rule == "custody.gap"),
        "{cautions:?}"
    );
    let standing = reply
        .findings
        .iter()
        .find(|one| one.rule == "custody.standing")
        .unwrap();
    assert!(
        standing
            .message
            .contains("it is with the polisher, for work"),
        "{}",
        standing.message
    );
    assert_eq!(level(&reply, "custody.start"), None);
    assert_eq!(level(&reply, "custody.no-paper"), None);
}

#[test]
fn the_order_of_time() {
    let sold = |when| event("sold", when, "owner Anna Berg", "buyer Carl Dunn");
    chain(
        "tomorrow",
        vec![sold("2026-06-02")],
        "custody.future",
        CAUTION,
    );
    chain("today", vec![sold("2026-06-01")], "custody.future", None);
    chain(
        "some day this year",
        vec![sold("2026")],
        "custody.future",
        None,
    );
    chain(
        "before it was made",
        vec![sold("1699")],
        "custody.before-made",
        CAUTION,
    );
    chain(
        "perhaps before",
        vec![sold("1690..1710")],
        "custody.before-made",
        INFO,
    );
    chain(
        "after the first year",
        vec![sold("1700")],
        "custody.before-made",
        None,
    );
    let made = |when| event("made", when, "smith", "");
    chain(
        "the making as an event",
        vec![made("1750"), sold("1740")],
        "custody.before-made",
        CAUTION,
    );
    chain(
        "the making goes before the sheet's years",
        vec![made("1650"), sold("1660")],
        "custody.before-made",
        None,
    );
    chain(
        "listed backwards",
        vec![sold("1990"), event("polished", "1980", "", "")],
        "custody.listed-out-of-order",
        INFO,
    );
    chain(
        "listed backwards perhaps",
        vec![sold("1990..1995"), event("polished", "1990", "", "")],
        "custody.listed-out-of-order",
        None,
    );
    let lost = event("lost", "1945", "", "");
    chain(
        "sold after the loss",
        vec![lost.clone(), sold("1950")],
        "custody.after-lost",
        CAUTION,
    );
    chain(
        "sold perhaps after the loss",
        vec![lost.clone(), sold("1945")],
        "custody.after-lost",
        INFO,
    );
    chain(
        "found again",
        vec![
            lost,
            event("found", "1949", "", "owner Anna Berg"),
            sold("1950"),
        ],
        "custody.after-lost",
        None,
    );
}

#[test]
fn gaps_and_breaks() {
    let bought = |when, to: &str| event("bought", when, "", to);
    let sold = |when, from: &str| event("sold", when, from, "buyer Ella Frost");
    chain(
        "one owner for long",
        vec![
            bought("1950", "owner Anna Berg"),
            sold("1990", "owner Anna Berg"),
        ],
        "custody.gap",
        None,
    );
    chain(
        "a household",
        vec![
            bought("1950", "owner Berg family"),
            sold("1990", "owner Anna Berg"),
        ],
        "custody.break",
        None,
    );
    chain(
        "two people",
        vec![
            bought("1950", "owner Anna Berg"),
            sold("1990", "owner Carl Dunn"),
        ],
        "custody.break",
        CAUTION,
    );
    chain(
        "two people, one time",
        vec![
            bought("1950..1990", "owner Anna Berg"),
            sold("1990", "owner Carl Dunn"),
        ],
        "custody.break",
        INFO,
    );
    chain(
        "nobody named for long",
        vec![bought("1950", ""), sold("1956-01-02", "")],
        "custody.gap",
        CAUTION,
    );
    chain(
        "nobody named, perhaps for long",
        vec![bought("1950", ""), sold("1955-06", "")],
        "custody.gap",
        INFO,
    );
    chain(
        "nobody named, not for long",
        vec![bought("1950-06", ""), sold("1954", "")],
        "custody.gap",
        None,
    );
    let mut patient = trial::request(sheet(vec![bought("1950", ""), sold("1956-01-02", "")]));
    patient.settings = json!({"gap_years": 10});
    assert_eq!(
        level(&trial::judged(describe, check, &patient), "custody.gap"),
        None
    );
}

#[test]
fn out_and_back() {
    let left = |when, from: &str| event("left_for_work", when, from, "polisher Ivo Lund");
    let back = |when| event("returned", when, "polisher Ivo Lund", "owner Anna Berg");
    let owner = "owner Anna Berg";
    chain(
        "left twice",
        vec![left("2020-01", owner), left("2021-01", owner)],
        "custody.overlap",
        CAUTION,
    );
    chain(
        "left twice in one year",
        vec![left("2020", owner), left("2020", owner)],
        "custody.overlap",
        INFO,
    );
    chain(
        "left, back, left",
        vec![
            left("2020-01", owner),
            back("2020-06"),
            left("2021-01", owner),
        ],
        "custody.overlap",
        None,
    );
    chain(
        "handed on by the polisher",
        vec![
            left("2020-01", owner),
            event(
                "left_for_work",
                "2020-02",
                "polisher Ivo Lund",
                "fitting_maker Ada Moe",
            ),
        ],
        "custody.overlap",
        None,
    );
    chain(
        "back without leaving",
        vec![back("2020-06")],
        "custody.return-without-leaving",
        INFO,
    );
    chain(
        "back after leaving",
        vec![left("2020-01", owner), back("2020-06")],
        "custody.return-without-leaving",
        None,
    );
    chain(
        "sold while away",
        vec![
            left("2020-01", owner),
            event("sold", "2020-02", owner, "buyer Ella Frost"),
        ],
        "custody.not-returned",
        INFO,
    );
    chain(
        "sold to the polisher",
        vec![
            left("2020-01", owner),
            event("sold", "2020-02", owner, "polisher Ivo Lund"),
        ],
        "custody.not-returned",
        None,
    );
    let two = |first, second| {
        vec![
            event("bought", first, "", "owner Anna Berg"),
            event("bought", second, "", "owner Carl Dunn"),
        ]
    };
    chain(
        "two buyers on one day",
        two("1990-05-02", "1990-05-02"),
        "custody.overlap",
        CAUTION,
    );
    chain(
        "two buyers, perhaps at once",
        two("1990..1995", "1993"),
        "custody.overlap",
        INFO,
    );
    chain(
        "two buyers, one after the other",
        two("1990", "1993"),
        "custody.overlap",
        None,
    );
    let sale = vec![
        event("sold", "1990-05-02", "owner Anna Berg", "buyer Carl Dunn"),
        event(
            "bought",
            "1990-05-02",
            "seller Anna Berg",
            "owner Carl Dunn",
        ),
    ];
    chain("one sale from both sides", sale, "custody.overlap", None);
}

#[test]
fn custody_is_not_ownership() {
    let left = event(
        "left_for_work",
        "2020-01",
        "owner Anna Berg",
        "polisher Ivo Lund",
    );
    let sold = |when, from: &str| event("sold", when, from, "buyer Ella Frost");
    let rule = "custody.not-the-owner";
    chain(
        "sold by the polisher",
        vec![left.clone(), sold("2021", "polisher Ivo Lund")],
        rule,
        CAUTION,
    );
    chain(
        "sold by the polisher without a name",
        vec![left.clone(), sold("2021", "polisher")],
        rule,
        CAUTION,
    );
    chain(
        "perhaps before",
        vec![left.clone(), sold("2020-01", "polisher Ivo Lund")],
        rule,
        INFO,
    );
    chain(
        "lent on",
        vec![
            left.clone(),
            event("lent", "2021", "polisher Ivo Lund", "museum"),
        ],
        rule,
        CAUTION,
    );
    chain(
        "sold by the owner",
        vec![left.clone(), sold("2021", "owner Anna Berg")],
        rule,
        None,
    );
    let bought = event("bought", "2020-06", "owner Anna Berg", "polisher Ivo Lund");
    chain(
        "bought before it was sold",
        vec![left, bought.clone(), sold("2021", "polisher Ivo Lund")],
        rule,
        None,
    );
    chain(
        "the polisher's own",
        vec![bought, sold("2021", "polisher Ivo Lund")],
        rule,
        None,
    );
}

#[test]
fn borders() {
    let out = event("exported", "1985-03", "", "");
    let into = event("imported", "1985-04", "", "");
    let out_paper = with(out.clone(), "export_permit", "1985-02");
    let in_paper = with(into.clone(), "import_permit", "1985-04");
    chain(
        "out without a permit",
        vec![out.clone(), in_paper.clone()],
        "custody.border-papers",
        CAUTION,
    );
    chain(
        "in without a permit",
        vec![out_paper.clone(), into.clone()],
        "custody.border-papers",
        CAUTION,
    );
    chain(
        "the wrong paper",
        vec![with(out.clone(), "invoice", "1985-03"), in_paper.clone()],
        "custody.border-papers",
        CAUTION,
    );
    chain(
        "both papers",
        vec![out_paper.clone(), in_paper.clone()],
        "custody.border-papers",
        None,
    );
    chain(
        "both halves",
        vec![out_paper.clone(), in_paper.clone()],
        "custody.border-pair",
        None,
    );
    chain(
        "only out",
        vec![out_paper.clone()],
        "custody.border-pair",
        INFO,
    );
    chain(
        "only in",
        vec![in_paper.clone()],
        "custody.border-pair",
        INFO,
    );
    chain(
        "in and years later out",
        vec![
            in_paper,
            with(event("exported", "1999", "", ""), "export_permit", "1999"),
        ],
        "custody.border-pair",
        INFO,
    );
    chain(
        "a permit after the crossing",
        vec![with(out.clone(), "export_permit", "1985-04-01")],
        "custody.paper-date",
        CAUTION,
    );
    chain(
        "a permit of the same month",
        vec![with(out, "export_permit", "1985-03")],
        "custody.paper-date",
        None,
    );
    let sold = |on| {
        with(
            event("sold", "1990-06", "owner Anna Berg", "buyer"),
            "invoice",
            on,
        )
    };
    chain(
        "an old invoice",
        vec![sold("1988")],
        "custody.paper-date",
        CAUTION,
    );
    chain(
        "a late invoice",
        vec![sold("1992")],
        "custody.paper-date",
        CAUTION,
    );
    chain(
        "an invoice within the year",
        vec![sold("1991")],
        "custody.paper-date",
        None,
    );
    chain(
        "a paper of tomorrow",
        vec![sold("2026-06-02")],
        "custody.future",
        CAUTION,
    );
    chain(
        "no paper",
        vec![event("sold", "1990", "", "")],
        "custody.no-paper",
        INFO,
    );
    chain(
        "work needs none",
        vec![event("polished", "1990", "", "")],
        "custody.no-paper",
        None,
    );
}

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

#[test]
fn sealed_records_are_held_against_the_sheet() {
    let events = |year: &str| {
        vec![
            event("bought", year, "", "owner Anna Berg"),
            event("polished", "2000", "", ""),
        ]
    };
    let sealed = sheet(events("1974"));
    let mut request = trial::request(sheet(events("1974")));
    request.history = vec![trial::record(
        &sealed,
        1,
        Purpose::Intake,
        "2026-03-02T12:00:00Z",
    )];
    let same = trial::judged(describe, check, &request);
    assert_eq!(level(&same, "custody.dropped"), None);
    request.sheet = sheet(events("1984"));
    let changed = trial::judged(describe, check, &request);
    assert_eq!(level(&changed, "custody.dropped"), CAUTION);
    let Some(Artefact::Table(table)) = changed.artefacts.first() else {
        panic!("no table");
    };
    let stands: Vec<&str> = table.rows.iter().map(|row| row[6].as_str()).collect();
    assert_eq!(stands, ["record 1 only", "sheet", "sheet and record 1"]);
}

/// Every rule that is described has a case in this file or speaks on the demo sheets.
#[test]
fn every_rule_is_tried() {
    let here = include_str!("rules.rs");
    for rule in describe().rules {
        assert!(
            here.contains(&format!("\"{}\"", rule.id)),
            "no case for {}",
            rule.id
        );
    }
}

#[test]
fn what_cannot_be_read_is_refused() {
    let mut request = trial::request(sheet(Vec::new()));
    request.now = "soon".to_owned();
    assert!(
        check(&request)
            .unwrap_err()
            .to_string()
            .contains("does not begin with a day")
    );
    request.now = trial::NOW.to_owned();
    request.history = vec![json!({"sequence": 1})];
    assert!(
        check(&request)
            .unwrap_err()
            .to_string()
            .starts_with("record 1 of the blade's history cannot be read")
    );
    request.history.clear();
    request.sheet = json!([]);
    assert!(
        check(&request)
            .unwrap_err()
            .to_string()
            .starts_with("the sheet cannot be read")
    );
}
