//! Two programs at once, readings that are asked about, timers.

use serde_json::{Map, Value, json};

use super::{Bench, order, pass, sheet};
use crate::WorkshopError;
use crate::journal::Who;
use crate::pass::{PassDone, PassError, PassOrder};

#[test]
fn of_two_programs_one_wins_and_the_other_loses_nothing() {
    let bench = Bench::new();
    bench.put(&sheet("heron"));
    let workshops = [bench.workshop(), bench.workshop()];
    let mut met = false;
    for round in 1..=5 {
        let before = bench.passes("heron").len();
        let results: Vec<_> = std::thread::scope(|scope| {
            let threads: Vec<_> = workshops
                .iter()
                .map(|workshop| {
                    scope.spawn(|| {
                        bench.with(|around| workshop.add_passes(&order("heron", pass()), around))
                    })
                })
                .collect();
            threads.into_iter().map(|one| one.join().unwrap()).collect()
        });
        for result in results {
            match result {
                Ok(done) => assert_eq!(done.passes.len(), 1),
                Err(WorkshopError::Pass(PassError::Meanwhile { kept, .. })) => {
                    met = true;
                    let again = |number| {
                        bench.with(|around| {
                            bench
                                .workshop()
                                .add_again(number, None, false, None, around)
                        })
                    };
                    again(kept).unwrap();
                    assert!(
                        matches!(
                            again(kept),
                            Err(WorkshopError::Pass(PassError::Taken { .. }))
                        ),
                        "once only"
                    );
                }
                Err(other) => panic!("{other}"),
            }
        }
        assert_eq!(bench.passes("heron").len(), before + 2, "round {round}");
        if met {
            break;
        }
    }
    assert!(met, "the two never met");
    assert!(bench.workshop().refused("heron").unwrap().is_empty());
}

#[test]
fn a_questioned_reading_is_taken_with_a_reason_and_one_before_the_last_in_its_place() {
    let bench = Bench::new();
    bench.put(&sheet("heron"));
    let words = |before: &str, after: &str| {
        let mut block = pass();
        block.insert("before".to_owned(), json!({ "mass": before }));
        block.insert("after".to_owned(), json!({ "mass": after }));
        block
    };
    let dated = |day: &'static str, sure: Option<&str>, block: Map<String, Value>| PassOrder {
        sure: sure.map(str::to_owned),
        who: Who {
            on: Some(day),
            by: None,
        },
        ..order("heron", block)
    };
    let run =
        |order: &PassOrder<'_>| bench.with(|around| bench.workshop().add_passes(order, around));
    let (sheet, _) = bench.workshop().sheet("heron").unwrap();
    let mass = sheet.dimensions.unwrap().mass.unwrap().as_read[0]
        .text
        .clone();
    let heavier = words(&mass, "900 g");
    let error = run(&dated("2026-05-10", None, heavier.clone())).unwrap_err();
    let WorkshopError::Pass(PassError::Questioned { questions }) = &error else {
        panic!("{error}");
    };
    assert_eq!(
        (questions[0].field.as_str(), questions[0].found.as_str()),
        ("after.mass", "900 g")
    );
    assert!(error.hint().contains("--sure"));
    assert_eq!(bench.passes("heron"), [""; 0]);
    run(&dated("2026-05-10", Some("  "), heavier.clone())).unwrap_err();
    let done = run(&dated("2026-05-10", Some("weighed with a guard"), heavier)).unwrap();
    assert_eq!(done.taken_as_read.len(), 1);
    let (sheet, _) = bench.workshop().sheet("heron").unwrap();
    assert_eq!(
        sheet.passes[0].note.as_deref(),
        Some("entered once Taken as read (after.mass): weighed with a guard")
    );
    // A day before the last pass.
    let early = run(&dated("2026-05-02", None, pass())).unwrap_err();
    assert!(
        early
            .to_string()
            .contains("on: 2026-05-02 found, 2026-05-10 or a later day is allowed"),
        "{early}"
    );
    run(&dated("2026-05-02", Some("forgotten"), pass())).unwrap();
    assert_eq!(bench.passes("heron"), ["p2", "p1"]);
}

#[test]
fn a_timer_goes_on_after_a_restart_and_asks_where_its_time_cannot_be() {
    let mut bench = Bench::new();
    bench.put(&sheet("heron"));
    let start = |bench: &Bench| {
        bench
            .with(|around| {
                bench
                    .workshop()
                    .start_timer("heron", &pass(), &Who::default(), around)
            })
            .unwrap()
    };
    let stop = |bench: &Bench, time: Option<&str>| {
        let mut block = Map::new();
        if let Some(time) = time {
            block.insert("time".to_owned(), json!(time));
        }
        bench.with(|around| bench.workshop().stop_timer(&order("heron", block), around))
    };
    let said = |result: Result<PassDone, WorkshopError>| {
        let error = result.unwrap_err();
        (error.to_string(), error.hint())
    };
    // The block of the start has a time of its own, which a measured one must not be.
    let timed = |bench: &Bench| {
        let mut block = pass();
        block.remove("time");
        bench
            .with(|around| {
                bench
                    .workshop()
                    .start_timer("heron", &block, &Who::default(), around)
            })
            .unwrap()
    };
    let line = timed(&bench);
    assert_eq!(line.since.as_str(), bench.now);
    // Each call opens the workshop anew, as after a restart.
    bench.now = "2026-06-01T10:30:00Z";
    let lines = bench
        .with(|around| bench.workshop().timers(around))
        .unwrap();
    assert_eq!(lines[0].so_far.as_deref(), Some("1 h 30 min"));
    let done = stop(&bench, None).unwrap();
    assert_eq!(done.times, [Some("1 h 30 min".to_owned())]);

    // Left running over night.
    timed(&bench);
    bench.now = "2026-06-02T08:00:00Z";
    let (error, hint) = said(stop(&bench, None));
    assert_eq!(
        error,
        "the timer of `heron` measured 21 h 30 min; at most 12 h is taken without asking"
    );
    assert!(hint.contains("--time"), "{hint}");
    assert_eq!(
        bench
            .with(|around| bench.workshop().timers(around))
            .unwrap()
            .len(),
        1,
        "it is left as it was"
    );
    let done = stop(&bench, Some("3 h")).unwrap();
    assert_eq!(done.times, [Some("3 h".to_owned())]);

    // The clock was set back.
    timed(&bench);
    bench.now = "2026-06-02T07:00:00Z";
    let (error, _) = said(stop(&bench, None));
    assert_eq!(
        error,
        "the timer of `heron` measured a clock that went back, from 2026-06-02T08:00:00Z to 2026-06-02T07:00:00Z; a time that goes forward is taken without asking"
    );
    stop(&bench, Some("1 h")).unwrap();
    assert!(
        bench
            .with(|around| bench.workshop().timers(around))
            .unwrap()
            .is_empty()
    );

    // A stop that comes while it runs: the pass is kept with its time, the timer paused.
    start(&bench);
    bench.workshop().withdraw_plugin("triage").unwrap();
    bench.now = "2026-06-02T07:40:00Z";
    let refused = stop(&bench, None).unwrap_err();
    let WorkshopError::Pass(PassError::Held {
        kept: Some(kept), ..
    }) = refused
    else {
        panic!("{refused}");
    };
    let lines = bench
        .with(|around| bench.workshop().timers(around))
        .unwrap();
    assert!(!lines[0].running);
    bench
        .with(|around| bench.workshop().approve_shipped(around))
        .unwrap();
    bench
        .with(|around| bench.workshop().add_again(kept, None, false, None, around))
        .unwrap();
    assert!(
        bench
            .with(|around| bench.workshop().timers(around))
            .unwrap()
            .is_empty(),
        "it ends with its pass"
    );
}
