//! One change for each rule, and what becomes of it.
#![allow(clippy::unwrap_used)]

mod common;

use std::sync::OnceLock;

use serde_json::{Value, json};
use tangmark_author::trial;
use tangmark_plugin::{Artefact, CheckReply, CheckRequest, FindingDraft, Level};
use tangmark_valuation::{check, describe};

type Change = fn(&mut CheckRequest);
type Case = (
    &'static str,
    Change,
    &'static str,
    Option<(Level, &'static str)>,
);

fn asked() -> CheckRequest {
    static REED: OnceLock<Value> = OnceLock::new();
    let mut request = trial::request(REED.get_or_init(|| trial::demo("reed-before")).clone());
    request.tables = json!({"comparables": common::comparables()});
    request.settings = common::settings();
    request
}

fn changed(change: Change) -> CheckReply {
    let mut request = asked();
    change(&mut request);
    trial::judged(describe, check, &request)
}

fn rows(request: &mut CheckRequest) -> &mut Vec<Value> {
    request.tables["comparables"].as_array_mut().unwrap()
}

fn find<'a>(reply: &'a CheckReply, rule: &str) -> Option<&'a FindingDraft> {
    reply.findings.iter().find(|one| one.rule == rule)
}

fn quantity(reply: &CheckReply, name: &str) -> f64 {
    let found = reply
        .quantities
        .iter()
        .find(|one| one.name == name)
        .unwrap();
    found.value.parse().unwrap()
}

/// One pass of so many minutes under an agreed price; the agreement of the demo sheet is of 2026-02-20.
fn agreed(request: &mut CheckRequest, ceiling: &str, minutes: &str) {
    request.sheet["agreement"]["price_ceiling"] = json!({"amount": ceiling, "currency": "EUR"});
    let time = json!({"as_read": [{"text": format!("{minutes} min"), "unit": "min"}], "value": minutes, "unit": "min",
        "standard_uncertainty": "0.29", "uncertainty_from": "resolution"});
    request.sheet["passes"] = json!([
        {"id": "p1", "on": "2026-02-20", "operation": "grind", "zones": ["ground"], "time": time}
    ]);
}

#[test]
fn every_rule_speaks_when_it_should() {
    let cases: &[Case] = &[
        (
            "no table",
            |r| r.tables = json!({}),
            "price.no-comparables",
            Some((Level::Info, "put 24 sales or more")),
        ),
        (
            "an empty table",
            |r| rows(r).clear(),
            "price.no-comparables",
            Some((Level::Info, "no prices are built in")),
        ),
        (
            "23 rows",
            |r| rows(r).truncate(23),
            "price.too-few",
            Some((
                Level::Info,
                "23 comparables can be used, and 24 are needed: 12 at least",
            )),
        ),
        ("24 rows", |r| rows(r).truncate(24), "price.too-few", None),
        (
            "fewer features need fewer rows",
            |r| {
                rows(r).truncate(12);
                r.settings["features"] = json!(["length", "condition"]);
            },
            "price.too-few",
            None,
        ),
        (
            "but never fewer than the least",
            |r| {
                rows(r).truncate(11);
                r.settings["features"] = json!(["length"]);
            },
            "price.too-few",
            Some((Level::Info, "11 comparables can be used, and 12 are needed")),
        ),
        (
            "two currencies",
            |r| rows(r)[3]["currency"] = json!("JPY"),
            "price.currency",
            Some((Level::Caution, "name EUR and JPY")),
        ),
        (
            "another currency in the settings",
            |r| r.settings["currency"] = json!("USD"),
            "price.currency",
            Some((Level::Caution, "name EUR and USD")),
        ),
        ("one currency", |_| (), "price.currency", None),
        (
            "no length on the sheet",
            |r| {
                r.sheet["dimensions"]
                    .as_object_mut()
                    .unwrap()
                    .remove("blade_length");
            },
            "price.missing",
            Some((Level::Info, "does not say the blade length")),
        ),
        (
            "nothing said of a signature",
            |r| {
                r.sheet["tang"]
                    .as_object_mut()
                    .unwrap()
                    .remove("inscriptions");
            },
            "price.missing",
            Some((Level::Info, "whether the tang is signed")),
        ),
        (
            "no years of making",
            |r| {
                r.settings["features"] = json!(["age"]);
                r.sheet["blade"]
                    .as_object_mut()
                    .unwrap()
                    .remove("made_not_before");
            },
            "price.missing",
            Some((Level::Info, "earliest and latest year")),
        ),
        (
            "the age is there",
            |r| r.settings["features"] = json!(["age", "condition"]),
            "price.missing",
            None,
        ),
        (
            "a feature that never varies",
            |r| {
                for row in rows(r) {
                    row["papers"] = json!("no");
                }
            },
            "price.cannot-tell",
            Some((Level::Caution, "cannot tell `papers`")),
        ),
        (
            "an estimate",
            |_| (),
            "price.estimate",
            Some((Level::Info, "From 34 sales in EUR, 2014-01 to 2025-11")),
        ),
        (
            "how well it works",
            |_| (),
            "price.leave-one-out",
            Some((Level::Info, "of 34 lay within their 95 % interval")),
        ),
        (
            "a market that follows nothing",
            |r| {
                for (index, row) in rows(r).iter_mut().enumerate() {
                    row["price"] = json!(if index % 2 == 0 { "300" } else { "9000" });
                }
            },
            "price.leave-one-out",
            Some((Level::Caution, "That is poor")),
        ),
        (
            "two odd sales",
            |_| (),
            "price.odd",
            Some((Level::Info, "sale-12 (460 EUR")),
        ),
        (
            "a blade longer than any",
            |r| {
                for row in rows(r) {
                    row["length_mm"] = json!("300");
                }
                rows(r)[0]["length_mm"] = json!("690");
            },
            "price.extrapolates",
            Some((Level::Caution, "its length lies above every one")),
        ),
        (
            "a kind that is not there",
            |r| r.sheet["blade"]["kind_by_make"] = json!("yari"),
            "price.extrapolates",
            Some((Level::Caution, "none of them is of its kind (yari)")),
        ),
        (
            "a blade among the others",
            |_| (),
            "price.extrapolates",
            None,
        ),
        (
            "a price far ahead",
            |r| r.settings["as_of"] = json!("2027-06"),
            "price.extrapolates",
            Some((Level::Caution, "more than a year after the last sale")),
        ),
        (
            "some old sales",
            |_| (),
            "price.old",
            Some((Level::Info, "6 of 34 comparables are older than 10 years")),
        ),
        (
            "no old sales",
            |r| r.settings["old_after_years"] = json!(13),
            "price.old",
            None,
        ),
        (
            "most are old",
            |r| r.settings["old_after_years"] = json!(3),
            "price.old",
            Some((Level::Caution, "older than 3 years")),
        ),
        (
            "old and the date not a feature",
            |r| r.settings["features"] = json!(["length", "condition"]),
            "price.old",
            Some((Level::Info, "name `date` in the settings")),
        ),
        (
            "an asking price",
            |r| {
                r.settings["bases"] = json!([]);
                rows(r)[0]["basis"] = json!("asking");
            },
            "price.bases",
            Some((Level::Caution, "1 asking price and 33 price paid")),
        ),
        (
            "asking prices left out",
            |r| rows(r)[0]["basis"] = json!("asking"),
            "price.bases",
            None,
        ),
        (
            "a row without condition",
            |r| {
                rows(r)[5].as_object_mut().unwrap().remove("condition");
            },
            "price.left-out",
            Some((Level::Info, "1 for lack of `condition` (sale-06)")),
        ),
        (
            "a sale of tomorrow",
            |r| rows(r)[5]["sold_on"] = json!("2026-06-02"),
            "price.left-out",
            Some((Level::Info, "1 dated after 2026-06-01 (sale-06)")),
        ),
        (
            "a sale of today",
            |r| rows(r)[5]["sold_on"] = json!("2026-06-01"),
            "price.left-out",
            None,
        ),
        (
            "only kinds that are named",
            |r| r.settings["kinds"] = json!(["tanto"]),
            "price.too-few",
            Some((Level::Info, "6 comparables can be used")),
        ),
        (
            "work that pays",
            |_| (),
            "price.work",
            Some((Level::Info, "Brought to `full_polish`")),
        ),
        (
            "work that does not",
            |r| r.settings["hours"] = json!(200),
            "price.work",
            Some((Level::Caution, "probability of less than 1 %")),
        ),
        (
            "no price of an hour",
            |r| r.settings["hour_rate"] = Value::Null,
            "price.work",
            None,
        ),
        (
            "already there",
            |r| r.sheet["examination"]["surface"] = json!("full_polish"),
            "price.work",
            Some((Level::Info, "no price to be gained")),
        ),
        (
            "no hours",
            |r| r.settings["hours"] = Value::Null,
            "price.work-unknown",
            Some((Level::Info, "a time for every stage of the plan")),
        ),
        (
            "condition not a feature",
            |r| r.settings["features"] = json!(["length"]),
            "price.work-unknown",
            Some((Level::Info, "the feature `condition`")),
        ),
        (
            "labour above the agreed price",
            |r| agreed(r, "100", "3600"),
            "price.over-ceiling",
            // 60 h at 34 EUR.
            Some((
                Level::Caution,
                "60.0 h at 34 EUR are 2040 EUR of the 100 EUR agreed as the most",
            )),
        ),
        (
            "labour just below the agreed price is near it",
            |r| agreed(r, "2041", "3600"),
            "price.over-ceiling",
            None,
        ),
        (
            "labour near the agreed price",
            |r| agreed(r, "2041", "3600"),
            "price.ceiling-near",
            Some((Level::Caution, "Little is left of the agreed price")),
        ),
        (
            "labour well within the agreed price",
            |r| agreed(r, "4000", "3600"),
            "price.ceiling-near",
            None,
        ),
        (
            "hours of an earlier piece of work",
            |r| {
                agreed(r, "100", "3600");
                r.sheet["passes"][0]["on"] = json!("2026-02-19");
            },
            "price.over-ceiling",
            None,
        ),
        (
            "an agreed price without the price of an hour",
            |r| {
                agreed(r, "100", "3600");
                r.settings["hour_rate"] = Value::Null;
            },
            "price.ceiling-unknown",
            Some((Level::Info, "missing is the setting `hour_rate`")),
        ),
        (
            "an agreed price in another currency",
            |r| {
                agreed(r, "100", "3600");
                r.sheet["agreement"]["price_ceiling"]["currency"] = json!("JPY");
            },
            "price.ceiling-unknown",
            Some((Level::Info, "no rates of exchange are built in")),
        ),
        (
            "a value far off",
            |r| r.sheet["valuation"] = valuation("20000", "2027"),
            "price.noted-differs",
            Some((Level::Caution, "notes a value of 20000 EUR")),
        ),
        (
            "a value that fits",
            |r| r.sheet["valuation"] = valuation("2000", "2027"),
            "price.noted-differs",
            None,
        ),
        (
            "a value that ran out",
            |r| r.sheet["valuation"] = valuation("2000", "2026-05"),
            "price.noted-old",
            Some((Level::Caution, "good until 2026-05")),
        ),
        (
            "a value that runs out today",
            |r| r.sheet["valuation"] = valuation("2000", "2026-06-01"),
            "price.noted-old",
            None,
        ),
    ];
    let mut spoken: Vec<&str> = Vec::new();
    for (name, change, rule, expected) in cases {
        let reply = changed(*change);
        let found = find(&reply, rule);
        match expected {
            None => assert!(found.is_none(), "{name}: {}", found.unwrap().message),
            Some((level, words)) => {
                let found = found.unwrap_or_else(|| {
                    panic!("{name}: {rule} is silent: {}", trial::shown(&reply))
                });
                assert_eq!(found.level, *level, "{name}");
                assert!(found.message.contains(words), "{name}: {}", found.message);
                spoken.push(rule);
            }
        }
    }
    for rule in describe().rules {
        assert!(
            spoken.contains(&rule.id.as_str()),
            "no case for {}",
            rule.id
        );
    }
}

fn valuation(amount: &str, until: &str) -> Value {
    json!({"value": {"amount": amount, "currency": "EUR"}, "basis": "market", "on": "2026-01", "valid_until": until, "valuer": "The workshop",
        "interest": "none"})
}

#[test]
fn refusals_say_where() {
    let refused = |change: Change| {
        let mut request = asked();
        change(&mut request);
        check(&request).unwrap_err().to_string()
    };
    let bad_price = refused(|r| rows(r)[2]["price"] = json!("dear"));
    assert_eq!(
        bad_price,
        "table `comparables`, row 3, column `price` is `dear`; a plain number such as 12.5 is needed"
    );
    let bad_setting = refused(|r| r.settings["risk_loss"] = json!(-1));
    assert_eq!(bad_setting, "setting `risk_loss` is -1; 0 to 1 is allowed");
    assert!(refused(|r| r.sheet["blade"] = json!(3)).starts_with("the sheet cannot be read"));
}

/// The estimate follows the table: other prices by a factor, the same factor in the estimate; a rate of pay moves what
/// is left over by hours times the difference.
#[test]
fn amounts_follow_the_table_and_the_settings() {
    let plain = changed(|_| ());
    let double = changed(|r| {
        for row in rows(r) {
            let price: f64 = row["price"].as_str().unwrap().parse().unwrap();
            row["price"] = json!((2.0 * price).to_string());
        }
    });
    let (one, two) = (
        quantity(&plain, "price.median.eur"),
        quantity(&double, "price.median.eur"),
    );
    assert!((two / one - 2.0).abs() < 0.002, "{one} {two}");
    let dearer = changed(|r| r.settings["hour_rate"] = json!(44));
    let gap = quantity(&plain, "price.left-over.eur") - quantity(&dearer, "price.left-over.eur");
    assert!((gap - 260.0).abs() < 2.0, "{gap}");
    // At the break-even price of an hour nothing is left over.
    let hours = quantity(&plain, "price.break-even-hours");
    let mut request = asked();
    request.settings["hours"] = json!(hours);
    let even = trial::judged(describe, check, &request);
    assert!(quantity(&even, "price.left-over.eur").abs() < 40.0);
}

#[test]
fn the_nearest_come_first() {
    let reply = changed(|_| ());
    let table = reply.artefacts.iter().find_map(|artefact| match artefact {
        Artefact::Table(table) if table.id == "price.nearest" => Some(table),
        _ => None,
    });
    let distances: Vec<f64> = table
        .unwrap()
        .rows
        .iter()
        .map(|row| row[6].parse().unwrap())
        .collect();
    assert_eq!(distances.len(), 5);
    assert!(distances.is_sorted());
    let none = changed(|r| r.settings["nearest"] = json!(0));
    assert!(
        none.artefacts
            .iter()
            .all(|artefact| artefact.id() != "price.nearest")
    );
}

/// Hours of the plan stand in for the setting when every stage has a time.
#[test]
fn the_plan_gives_the_hours() {
    let reply = changed(|r| {
        r.settings["hours"] = Value::Null;
        let time = json!({"as_read": [{"text": "600 min", "unit": "min"}], "value": "600", "unit": "min", "standard_uncertainty": "0.29",
            "uncertainty_from": "resolution"});
        for stage in r.sheet["plan"]["stages"].as_array_mut().unwrap() {
            stage["time"] = time.clone();
        }
    });
    let work = find(&reply, "price.work").unwrap();
    assert!(work.message.contains("30.0 ± 8.7 h"), "{}", work.message);
}
