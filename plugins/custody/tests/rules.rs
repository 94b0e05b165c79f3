//! One chain for each rule, and what becomes of it.
#![allow(clippy::unwrap_used)]

mod common;

use common::{CAUTION, INFO, chain, event, expect, judged, level, sheet, with};
use serde_json::json;
use tangmark_author::trial;
use tangmark_core::record::Purpose;
use tangmark_custody::{check, describe};
use tangmark_plugin::{Artefact, Level};

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
    // By role alone, as a sheet has it that was made of a record which withholds the names.
    for (to, from) in [("owner", "owner"), ("owner Anna Berg", "owner")] {
        chain(
            "names withheld",
            vec![bought("1950", to), sold("1990", from)],
            "custody.gap",
            INFO,
        );
    }
    chain(
        "names withheld, and two roles",
        vec![bought("1950", "seller"), sold("1990", "owner")],
        "custody.gap",
        CAUTION,
    );
    chain(
        "names withheld, and nobody gives",
        vec![bought("1950", "owner"), sold("1990", "")],
        "custody.gap",
        CAUTION,
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

/// Every rule that is described has a case here or in `papers.rs`.
#[test]
fn every_rule_is_tried() {
    let here = concat!(include_str!("rules.rs"), include_str!("papers.rs"));
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
