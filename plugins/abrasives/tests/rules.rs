//! One change to a demo sheet for each rule, and what becomes of it.
#![allow(clippy::unwrap_used, clippy::expect_used)]

mod bench;

use serde_json::{Value, json};
use tangmark_abrasives::{check, describe};
use tangmark_author::trial;
use tangmark_core::record::{Purpose, Quantity};
use tangmark_core::units::Dimension;
use tangmark_plugin::{Artefact, CheckReply, CheckRequest, FindingDraft, Level};

fn quantity(text: &str, dimension: Dimension, u: Option<&str>) -> Value {
    let read = Quantity::from_readings(&[text.to_owned()], dimension, u, None).unwrap();
    serde_json::to_value(read).unwrap()
}

fn g(text: &str, u: &str) -> Value {
    quantity(
        &format!("{text} g"),
        Dimension::Mass,
        Some(&format!("{u} g")),
    )
}

fn mm(text: &str, u: &str) -> Value {
    quantity(
        &format!("{text} mm"),
        Dimension::Length,
        Some(&format!("{u} mm")),
    )
}

fn minutes(text: &str) -> Value {
    quantity(&format!("{text} min"), Dimension::Duration, None)
}

/// The long sword before work, changed.
fn changed(change: impl FnOnce(&mut Value)) -> CheckRequest {
    let mut sheet = trial::demo("reed-before");
    // One field of seven pits is enough here.
    if let Some(flaws) = sheet["flaws"].as_array_mut() {
        flaws.retain(|flaw| flaw["id"] != "pits-2" && flaw["id"] != "pits-3");
    }
    change(&mut sheet);
    bench::request(sheet)
}

fn asked(request: &CheckRequest) -> CheckReply {
    trial::judged(describe, check, request)
}

fn found<'a>(reply: &'a CheckReply, rule: &str) -> Option<&'a FindingDraft> {
    reply.findings.iter().find(|one| one.rule == rule)
}

fn said<'a>(reply: &'a CheckReply, rule: &str) -> &'a str {
    found(reply, rule).map_or("", |one| one.message.as_str())
}

fn table<'a>(reply: &'a CheckReply, id: &str) -> &'a [Vec<String>] {
    reply
        .artefacts
        .iter()
        .find_map(|one| match one {
            Artefact::Table(table) if table.id == id => Some(table.rows.as_slice()),
            _ => None,
        })
        .unwrap_or(&[])
}

fn pits(sheet: &mut Value) -> &mut Value {
    sheet["flaws"]
        .as_array_mut()
        .unwrap()
        .iter_mut()
        .find(|flaw| flaw["kind"] == "pits")
        .unwrap()
}

#[test]
fn pits_outside_the_zones_of_the_plan_stay() {
    let outside = asked(&changed(|_| {}));
    assert!(
        said(&outside, "abrasives.trade-off").contains("The sequence is drawn for 7 pits left")
    );
    assert!(said(&outside, "abrasives.trade-off").contains("left as they are: `pits-1` (ridge)"));
    let inside = asked(&changed(|sheet| pits(sheet)["zone"] = json!("ground")));
    assert!(said(&inside, "abrasives.trade-off").contains("The sequence is drawn for 5 pits left"));
    let mut all = changed(|_| {});
    all.settings["pits"] = json!("all");
    assert!(
        said(&asked(&all), "abrasives.trade-off").contains("The sequence is drawn for 0 pits left")
    );
    let mut none = changed(|sheet| pits(sheet)["zone"] = json!("ground"));
    none.settings["pits"] = json!("leave");
    // The shallowest pit goes with the 15 µm of the surface.
    assert!(said(&asked(&none), "abrasives.trade-off").contains("and clears 1 with it"));
    assert!(said(&asked(&none), "abrasives.trade-off").contains("drawn for 6 pits left"));
}

#[test]
fn deep_pits_start_coarser_and_a_limit_of_the_zone_keeps_them() {
    let deep = |limit: Option<f64>| {
        let mut request = changed(|sheet| {
            pits(sheet)["zone"] = json!("ground");
            pits(sheet)["depth"] = mm("0.10", "0.01");
        });
        if let Some(limit) = limit {
            request.settings["zone_limit_um"] = json!({ "ground": limit });
        }
        asked(&request)
    };
    let free = deep(None);
    let first = &table(&free, "abrasives.sequence")[0][1];
    let shallow = asked(&changed(|_| {}));
    assert_ne!(first, &table(&shallow, "abrasives.sequence")[0][1]);
    assert!(found(&free, "abrasives.zone-limit").is_none());
    let limited = deep(Some(60.0));
    assert!(said(&limited, "abrasives.zone-limit").contains("of `pits-1` in the zone ground"));
    // The surface alone goes deeper than that.
    let tight = deep(Some(10.0));
    assert!(
        tight
            .findings
            .iter()
            .any(|one| one.rule == "abrasives.zone-limit"
                && one.message.contains("no more may go than 10 µm in ground"))
    );
}

#[test]
fn what_was_not_measured_is_asked_for() {
    let no_depth = asked(&changed(|sheet| {
        pits(sheet).as_object_mut().unwrap().remove("depth");
    }));
    assert!(said(&no_depth, "abrasives.missing").contains("depth of `pits-1`"));
    let no_limits = asked(&changed(|sheet| {
        sheet.as_object_mut().unwrap().remove("plan");
        sheet.as_object_mut().unwrap().remove("agreement");
    }));
    assert!(
        said(&no_limits, "abrasives.missing")
            .contains("the steel that may go (plan.steel_budget or agreement.steel_limit)")
    );
    assert!(said(&no_limits, "abrasives.missing").contains("plan.thinnest"));
    assert!(said(&no_limits, "abrasives.plan").contains("the setting target_d50_um, 3 µm"));
    let no_stations = asked(&changed(|sheet| {
        sheet["dimensions"]
            .as_object_mut()
            .unwrap()
            .remove("stations");
    }));
    assert_eq!(
        said(&no_stations, "abrasives.missing"),
        "No plan: measure two stations or more with width and thickness first."
    );
    assert!(found(&no_stations, "abrasives.plan").is_none());
    let no_width = asked(&changed(|sheet| {
        for station in sheet["dimensions"]["stations"].as_array_mut().unwrap() {
            station.as_object_mut().unwrap().remove("ridge_width");
        }
    }));
    assert!(
        said(&no_width, "abrasives.missing")
            .contains("missing at the stations on the sheet: ridge width")
    );
    let mut unsized_stones = changed(|_| {});
    unsized_stones.tables =
        json!({"stones": [{"name": "grey stone", "origin": "natural", "stage": "koma_nagura"}]});
    assert!(
        said(&asked(&unsized_stones), "abrasives.missing")
            .contains("a grain size (D50) for at least one stone")
    );
    let mut without = changed(|_| {});
    without.tables = json!({});
    assert!(said(&asked(&without), "abrasives.missing").contains("the table `stones`"));
}

#[test]
fn the_tang_is_in_no_plan() {
    let planned = asked(&changed(|sheet| {
        sheet["plan"]["stages"][1]["zones"] = json!(["ground", "tang"]);
    }));
    let finding = found(&planned, "abrasives.tang").unwrap();
    assert_eq!(
        (finding.level, finding.evidence.as_slice()),
        (Level::Caution, ["/plan/stages/1".to_owned()].as_slice())
    );
    assert!(!said(&planned, "abrasives.plan").contains("tang"));
    let pitted = asked(&changed(|sheet| pits(sheet)["zone"] = json!("tang")));
    assert_eq!(found(&pitted, "abrasives.tang").unwrap().level, Level::Info);
    assert!(
        found(&pitted, "abrasives.trade-off").is_none(),
        "no curve for pits on a tang"
    );
}

#[test]
fn a_plan_waits_for_a_hold_to_be_answered() {
    let with = |standing: &str| {
        let standing = standing.to_owned();
        asked(&changed(move |sheet| {
            let mut crack = sheet["flaws"][2].clone();
            crack["id"] = json!("crack-1");
            crack["kind"] = json!("hagire");
            crack["standing"] = json!(standing);
            sheet["flaws"].as_array_mut().unwrap().push(crack);
        }))
    };
    let suspected = with("suspected");
    let finding = found(&suspected, "abrasives.held").unwrap();
    assert!(
        finding.message.contains("(suspected)")
            && finding
                .message
                .contains("only for when the hold is answered")
    );
    assert_eq!(finding.level, Level::Caution);
    assert!(found(&with("ruled_out"), "abrasives.held").is_none());
    let inlaid = asked(&changed(|sheet| {
        sheet["tang"]["inscriptions"][0]["kind"] = json!("kinzogan_mei");
    }));
    assert!(said(&inlaid, "abrasives.held").contains("inlaid in gold"));
}

/// One pass that took `gone` g, each weighing with u 0.1 g, against the 9 g of the plan without doubt.
fn after_pass(gone: &str) -> CheckReply {
    asked(&changed(|sheet| {
        sheet["plan"]["steel_budget"] = g("9.00", "0.000001");
        let after = 748.3 - gone.parse::<f64>().unwrap();
        sheet["passes"] = json!([{
            "id": "p1", "on": "2026-03-10", "operation": "grind", "zones": ["ground", "edge"], "time": minutes("300"),
            "abrasive": {"name": "second foundation stone", "origin": "synthetic"},
            "before": {"mass": g("748.30", "0.1")}, "after": {"mass": g(&format!("{after:.2}"), "0.1")},
        }]);
    }))
}

#[test]
fn the_budget_is_reached_with_the_guard() {
    // The guard is 1.645 · √2 · 0.1 g = 0.2326 g.
    assert!(found(&after_pass("8.76"), "abrasives.budget-guard").is_none());
    let reached = after_pass("8.77");
    let finding = found(&reached, "abrasives.budget-guard").unwrap();
    assert_eq!(finding.level, Level::Caution);
    assert!(
        finding
            .message
            .starts_with("Stop: 8.77 ± 0.28 g of steel is gone by the scale"),
        "{}",
        finding.message
    );
}

#[test]
fn a_plan_that_does_not_fit_is_said_to_be_so() {
    let small = asked(&changed(|sheet| {
        sheet["plan"]["steel_budget"] = g("1.5", "0.05");
    }));
    assert!(said(&small, "abrasives.over-budget").contains("it does not fit"));
    assert!(found(&asked(&changed(|_| {})), "abrasives.over-budget").is_none());
}

#[test]
fn a_log_corrects_the_rates_and_redraws_the_plan() {
    let reply = after_pass("1.50");
    // 1.5 g in 300 min: 0.64 mm³/min, below the 1.0 that was measured before.
    assert!(
        said(&reply, "abrasives.rates").contains("after 1 pass, 1.00 before"),
        "{}",
        said(&reply, "abrasives.rates")
    );
    let row = table(&reply, "abrasives.rates")
        .iter()
        .find(|row| row[0] == "second foundation stone")
        .unwrap();
    let now: f64 = row[3].parse().unwrap();
    assert!(0.6 < now && now < 0.95, "{now}");
    // What the last stone left has to go now, and pits measured before it are stale.
    assert!(said(&reply, "abrasives.plan").contains("what `second foundation stone` left behind"));
    assert!(said(&reply, "abrasives.missing").contains("the depth of the pits again"));
    // The same pass in a sealed record counts once.
    let mut sealed = changed(|_| {});
    let mut earlier = trial::demo("reed-before");
    earlier["passes"] = json!([{
        "id": "p1", "on": "2026-03-10", "operation": "grind", "zones": ["ground", "edge"], "time": minutes("300"),
        "abrasive": {"name": "second foundation stone", "origin": "synthetic"},
        "before": {"mass": g("748.30", "0.1")}, "after": {"mass": g("746.80", "0.1")},
    }]);
    sealed.history = vec![trial::record(
        &earlier,
        1,
        Purpose::InWork,
        "2026-03-11T12:00:00Z",
    )];
    let again = asked(&sealed);
    assert_eq!(
        table(&again, "abrasives.rates")
            .iter()
            .find(|row| row[0] == "second foundation stone")
            .unwrap(),
        row
    );
}

/// Half of the loss of thickness on each face, over both: 0.020 mm at two stations is 10 µm on the ground.
#[test]
fn a_pass_that_was_not_weighed_is_read_by_the_gauge() {
    let station = |at: &str, thickness: &str| json!({"at": mm(at, "0.5"), "ridge_thickness": mm(thickness, "0.0005")});
    let reply = asked(&changed(|sheet| {
        sheet["passes"] = json!([{
            "id": "p1", "on": "2026-03-10", "operation": "grind", "zones": ["ground", "edge"], "time": minutes("240"),
            "abrasive": {"name": "second foundation stone", "origin": "synthetic"},
            "before": {"stations": [station("200", "6.5100"), station("400", "5.9000")]},
            "after": {"stations": [station("200", "6.4900"), station("400", "5.8800")]},
        }]);
    }));
    let row = table(&reply, "abrasives.rates")
        .iter()
        .find(|row| row[0] == "second foundation stone")
        .unwrap();
    let now: f64 = row[3].parse().unwrap();
    // 23,658 mm² by 10 µm in 240 min are 0.986 mm³/min: as measured before.
    assert_eq!(row[1], "1");
    assert!((0.95..1.02).contains(&now), "{now}");
    assert!(
        found(&reply, "abrasives.budget-guard").is_none(),
        "no weighing, no word on the budget"
    );
}

#[test]
fn wide_steps_and_open_orders_are_said() {
    let mut narrow = changed(|_| {});
    narrow.settings["greatest_ratio"] = json!(1.6);
    narrow.settings["ratio_breach_minutes"] = json!(0);
    let finding = asked(&narrow);
    assert!(
        said(&finding, "abrasives.ratio")
            .starts_with("Outside the preferred 1.5 to 1.6 to 1: from ")
    );
    assert!(found(&asked(&changed(|_| {})), "abrasives.ratio").is_none());
    let spear = asked(&bench::request(trial::demo("heron")));
    assert!(said(&spear, "abrasives.order").contains("fine slate stone and soft finishing stone"));
}

#[test]
fn a_gauge_that_cannot_see_the_budget_is_named() {
    let by = |u: &'static str| {
        asked(&changed(|sheet| {
            for station in sheet["dimensions"]["stations"].as_array_mut().unwrap() {
                for field in ["ridge_thickness", "width"] {
                    let value = station[field]["value"].as_str().unwrap().to_owned();
                    station[field] = mm(&value, u);
                    station[field]["instrument"] = json!("caliper");
                }
            }
        }))
    };
    let coarse = by("0.2");
    assert!(said(&coarse, "abrasives.gauge").contains("your caliper cannot police this"));
    assert!(
        table(&coarse, "abrasives.gauge")
            .iter()
            .all(|row| row[6] == "caliper cannot police this" && row[5].is_empty())
    );
    let fine = by("0.0005");
    assert!(
        !said(&fine, "abrasives.gauge").contains("cannot police"),
        "{}",
        said(&fine, "abrasives.gauge")
    );
    for row in table(&fine, "abrasives.gauge") {
        let number = |index: usize| row[index].parse::<f64>().unwrap();
        assert!(
            number(5) < number(2) && number(5) > number(2) - number(3),
            "{row:?}"
        );
    }
}

#[test]
fn nothing_to_do_is_no_plan() {
    let clean = asked(&changed(|sheet| {
        sheet["examination"]["surface"] = json!("full_polish");
        sheet["flaws"] = json!([]);
    }));
    assert_eq!(
        said(&clean, "abrasives.plan"),
        "Nothing has to go by the sheet: no plan, and no stone."
    );
    assert!(table(&clean, "abrasives.sequence").is_empty());
}

/// Money stands under `price.` alone, and no acid is ever proposed.
#[test]
fn prices_are_private_and_acids_are_not_named() {
    for (_, sheet) in trial::demo_sheets() {
        let reply = asked(&bench::request(sheet));
        for finding in &reply.findings {
            let text = finding.message.to_lowercase();
            assert!(
                finding.rule.starts_with("price.") || !text.contains("eur"),
                "{text}"
            );
            for word in ["acid", "etch", "chloride", "vinegar"] {
                assert!(!text.contains(word), "{text}");
            }
        }
        let public = reply
            .quantities
            .iter()
            .map(|one| one.name.as_str())
            .chain(reply.artefacts.iter().map(Artefact::id));
        for name in public {
            assert!(
                name.starts_with("price.") || !name.contains("consumables"),
                "{name}"
            );
        }
    }
    let reply = asked(&changed(|_| {}));
    assert!(said(&reply, "price.consumables").contains("EUR"));
}

#[test]
fn wrong_tables_and_settings_are_refused() {
    let refused = |change: &dyn Fn(&mut CheckRequest)| {
        let mut request = changed(|_| {});
        change(&mut request);
        check(&request).unwrap_err().to_string()
    };
    assert_eq!(
        refused(&|request| request.tables["stones"][0]["grit"] = json!("241")),
        "table `stones`, row 1, column `grit` is not listed: JIS R 6001 has no number 241; numbers are not interpolated, its neighbours are 240 and 280; or write d50_um"
    );
    assert!(
        refused(&|request| request.settings["speed"] = json!(1)).contains("unknown field `speed`")
    );
    assert!(
        refused(&|request| request.sheet = json!({"blade": 1}))
            .starts_with("the sheet cannot be read")
    );
}

mod any_numbers {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(12))]

        /// Whatever is measured, the reply fits a record, the sequence runs from coarse to fine, and a deeper pit never costs
        /// less steel.
        #[test]
        fn the_reply_fits(depth in 1_u32..500, at in 0_u32..900, count in 0_u32..3_000, area in 1_u32..5_000, budget in 1_u32..400, zone in 0_usize..6) {
            let zone = ["edge", "ground", "ridge", "back", "point", "tang"][zone];
            let cleared = |depth: u32| {
                let mut request = changed(|sheet| {
                    let pits = pits(sheet);
                    pits["zone"] = json!(zone);
                    pits["depth"] = mm(&format!("{}.{:03}", depth / 1_000, depth % 1_000), "0.005");
                    pits["at"] = mm(&format!("{at}"), "0.5");
                    pits["count"] = json!(count);
                    pits["area"] = quantity(&format!("{area} mm2"), Dimension::Area, None);
                    sheet["plan"]["steel_budget"] = g(&format!("{}.{}", budget / 10, budget % 10), "0.1");
                });
                request.settings = json!({"pits": "all"});
                request
            };
            let reply = asked(&cleared(depth));
            let sizes: Vec<f64> = table(&reply, "abrasives.sequence").iter().map(|row| row[2].parse().unwrap()).collect();
            prop_assert!(sizes.windows(2).all(|pair| pair[0] > pair[1]), "{sizes:?}");
            let most = |reply: &CheckReply| found(reply, "abrasives.trade-off")
                .and_then(|one| one.numbers.iter().find(|one| one.name == "steel, all cleared that can be"))
                .map(|one| one.value.parse::<f64>().unwrap());
            let deeper = asked(&cleared(depth + 50));
            if let (Some(one), Some(other)) = (most(&reply), most(&deeper)) {
                prop_assert!(other >= one - 1e-9, "{one} {other}");
            }
        }
    }
}
