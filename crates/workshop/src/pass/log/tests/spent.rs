//! A budget that passes spend: by which of them, and what becomes of the stop when one is taken back.

use serde_json::{Map, Value, json};
use tangmark_core::record::{Purpose, Verdict};

use super::super::super::guard::switch;
use super::{Bench, order, pass, sheet};
use crate::WorkshopError;
use crate::journal::Who;
use crate::pass::{PassError, PassOrder};
use crate::stage::Stage;

/// A pass that was weighed on both sides, on a day of April 2026.
fn weighed(day: u8, before: &str, after: &str) -> Map<String, Value> {
    let mut block = pass();
    block.insert("on".to_owned(), json!(format!("2026-04-{day:02}")));
    block.insert("before".to_owned(), json!({ "mass": before }));
    block.insert("after".to_owned(), json!({ "mass": after }));
    block
}

fn kinds(bench: &Bench) -> Vec<String> {
    let lines = bench.workshop().journal(Some("reed"), None, true).unwrap();
    lines.into_iter().map(|line| line.kind).collect()
}

#[test]
fn a_spent_budget_that_goes_with_its_pass_is_told_and_told_on_sealing() {
    let bench = Bench::new();
    bench.put(&sheet("reed-before"));
    bench.add("reed", weighed(1, "748.3 g", "738.0 g")).unwrap();
    let undone = bench
        .with(|around| bench.workshop().undo_pass("reed", None, around))
        .unwrap();
    assert_eq!(undone.remarks.len(), 1, "{:?}", undone.remarks);
    assert!(
        undone.remarks[0]
            .starts_with("the stop triage/budget.spent that stood on revision 2 is gone"),
        "{:?}",
        undone.remarks
    );
    assert_eq!(kinds(&bench), ["stop_gone"]);
    let sealed = bench.seal("reed", Purpose::InWork, Verdict::Work);
    assert_eq!(sealed.stops_gone.len(), 1);
    // A pass that spends nothing goes without a word.
    bench.logged("reed");
    assert_eq!(kinds(&bench), ["stop_gone"]);
}

/// The passes of a file, logged in one go.
fn file(bench: &Bench, passes: Vec<Map<String, Value>>) -> Result<Vec<String>, WorkshopError> {
    let order = PassOrder {
        passes,
        ..order("reed", Map::new())
    };
    let done = bench.with(|around| bench.workshop().add_passes(&order, around));
    Ok(done?.passes)
}

#[test]
fn no_pass_of_a_file_goes_over_a_budget_that_those_before_it_spent() {
    let bench = Bench::new();
    bench.put(&sheet("reed-before"));
    // The order of their days counts, not that of the file.
    let all = || {
        vec![
            weighed(3, "737.0 g", "730.0 g"),
            weighed(1, "748.3 g", "747.3 g"),
            weighed(2, "747.3 g", "737.0 g"),
        ]
    };
    let error = file(&bench, all()).unwrap_err();
    let WorkshopError::Pass(PassError::HeldWithin {
        pass, stops, kept, ..
    }) = &error
    else {
        panic!("{error}");
    };
    assert_eq!(
        (pass.as_str(), stops[0].0.rule.as_str()),
        ("p1", "triage/budget.spent")
    );
    assert_eq!(bench.passes("reed"), [""; 0], "none of them is logged");
    let refused = bench.workshop().refused("reed").unwrap();
    assert_eq!((refused[0].entry, refused[0].passes.len()), (*kept, 3));
    // What spends it is logged, and what comes after is held.
    file(&bench, all()[1..].to_vec()).unwrap();
    assert!(matches!(
        file(&bench, all()[..1].to_vec()),
        Err(WorkshopError::Pass(PassError::Held { .. }))
    ));

    let bench = Bench::new();
    bench.put(&sheet("reed-before"));
    switch::without(|| file(&bench, all())).unwrap();
    assert_eq!(bench.passes("reed").len(), 3, "the guard alone refuses it");
}

#[test]
fn the_stage_is_of_the_day_of_the_pass() {
    let bench = Bench::new();
    bench.put(&sheet("heron"));
    let add = |blade: &'static str, day: &str| {
        let mut block = pass();
        block.insert("on".to_owned(), json!(day));
        let order = PassOrder {
            stay: false,
            ..order(blade, block)
        };
        bench
            .with(|around| bench.workshop().add_passes(&order, around))
            .unwrap()
    };
    let since = |blade: &str| {
        let row = tangmark_store::Store::standing(bench.workshop().store(), blade).unwrap();
        (row.stage.unwrap(), row.stage_since.unwrap())
    };
    let done = add("heron", "2026-03-20");
    let moved = done.stage.unwrap();
    assert_eq!(
        (moved.to, moved.on.as_str()),
        (Stage::Foundation, "2026-03-20")
    );
    assert_eq!(
        since("heron"),
        ("foundation".to_owned(), "2026-03-20".to_owned())
    );
    // A day that has not come is taken with a reason, and the stage is of today.
    let bench_2 = Bench::new();
    bench_2.put(&sheet("heron"));
    let mut block = pass();
    block.insert("on".to_owned(), json!("2026-12-24"));
    let order = PassOrder {
        stay: false,
        ..order("heron", block)
    };
    let done = bench_2
        .with(|around| bench_2.workshop().add_passes(&order, around))
        .unwrap();
    assert_eq!(done.stage.unwrap().on, "2026-06-01");
}

#[test]
fn a_note_that_would_be_too_long_is_refused_whole() {
    let bench = Bench::new();
    bench.put(&sheet("reed-before"));
    let mut block = weighed(1, "748.3 g", "900 g");
    block.insert("note".to_owned(), json!("n".repeat(1990)));
    let error = bench.add("reed", block).unwrap_err();
    let WorkshopError::Pass(PassError::LongNote { found, allowed, .. }) = &error else {
        panic!("{error}");
    };
    assert!(*found > 2000 && *allowed == 2000, "{error}");
    assert!(bench.passes("reed").is_empty());
}

#[test]
fn wear_counts_each_day_once() {
    let bench = Bench::new();
    bench.put(&sheet("reed-before"));
    let workshop = bench.workshop();
    let weigh = |mass: &str, on: &'static str, sure: Option<&str>| {
        let who = Who {
            on: Some(on),
            by: None,
        };
        bench
            .with(|around| {
                workshop.weigh_stone("second foundation stone", mass, (None, sure), &who, around)
            })
            .unwrap()
    };
    let passed = |on: &str, before: &str, after: &str| {
        let mut block = weighed(1, before, after);
        block.insert("on".to_owned(), json!(on));
        bench.add("reed", block).unwrap();
    };
    let ratio = |wear: &crate::pass::Wear| {
        let value = wear.wear.as_ref().unwrap().value.to_string();
        value.parse::<f64>().unwrap()
    };
    weigh("812.5 g", "2026-03-01", None);
    passed("2026-03-09", "748.3 g", "746.3 g");
    let first = weigh("810.5 g", "2026-03-09", None);
    assert_eq!((first.passes, ratio(&first)), ((1, 1), 1.0));
    passed("2026-03-12", "746.3 g", "744.3 g");
    let second = weigh("808.5 g", "2026-03-12", None);
    assert_eq!((second.passes, ratio(&second)), ((1, 1), 1.0));
    // One that is entered late is not the last one.
    let late = weigh("811.5 g", "2026-03-05", Some("found in the book"));
    assert_eq!(late.since.as_deref(), Some("2026-03-01"));
    let lines = workshop.stone_lines().unwrap();
    let line = lines.iter().find(|line| line.passes > 0).unwrap();
    assert_eq!(line.mass.as_ref().unwrap().1, "2026-03-12");
    let third = weigh("808.5 g", "2026-03-13", None);
    assert_eq!(third.since.as_deref(), Some("2026-03-12"));
}

#[test]
fn a_timer_does_not_go_on_under_a_stop() {
    let bench = Bench::new();
    bench.put(&sheet("reed-before"));
    let workshop = bench.workshop();
    let who = Who::default();
    bench.with(|around| {
        workshop
            .start_timer("reed", &Map::new(), &who, around)
            .unwrap();
        workshop.pause_timer("reed", true, &who, around).unwrap();
    });
    bench.add("reed", weighed(1, "748.3 g", "738.0 g")).unwrap();
    let resume = || bench.with(|around| workshop.pause_timer("reed", false, &who, around));
    let error = resume().unwrap_err();
    let WorkshopError::Pass(PassError::Held { stops, .. }) = &error else {
        panic!("{error}");
    };
    assert_eq!(stops[0].0.rule, "triage/budget.spent");
    assert!(switch::without(resume).unwrap().running);
}
