//! Refused passes: kept once, logged once, with all that came with them.

use serde_json::{Map, Value, json};

use super::{Bench, demo, order, pass, sheet};
use crate::WorkshopError;
use crate::journal::Who;
use crate::pass::{PassDone, PassError, TimerLine};

/// A bench on which a timer ran for an hour, and triage does not run since.
fn held() -> Bench {
    let mut bench = Bench::new();
    bench.put(&sheet("heron"));
    start(&bench).unwrap();
    bench.workshop().withdraw_plugin("triage").unwrap();
    bench.now = "2026-06-01T10:00:00Z";
    bench
}

fn start(bench: &Bench) -> Result<TimerLine, WorkshopError> {
    let mut block = pass();
    block.remove("time");
    bench.with(|around| {
        bench
            .workshop()
            .start_timer("heron", &block, &Who::default(), around)
    })
}

fn stop(bench: &Bench, words: &[(&str, &str)]) -> Result<PassDone, WorkshopError> {
    let block: Map<String, Value> = words
        .iter()
        .map(|(name, value)| ((*name).to_owned(), json!(value)))
        .collect();
    bench.with(|around| bench.workshop().stop_timer(&order("heron", block), around))
}

fn kept(result: Result<PassDone, WorkshopError>) -> u64 {
    match result {
        Err(WorkshopError::Pass(PassError::Held {
            kept: Some(kept), ..
        })) => kept,
        other => panic!("{other:?}"),
    }
}

fn answered(bench: &Bench) {
    bench
        .with(|around| bench.workshop().approve_shipped(around))
        .unwrap();
}

fn again(bench: &Bench, number: u64) -> Result<PassDone, WorkshopError> {
    bench.with(|around| {
        bench
            .workshop()
            .add_again(number, None, false, None, around)
    })
}

fn timers(bench: &Bench) -> usize {
    bench
        .with(|around| bench.workshop().timers(around))
        .unwrap()
        .len()
}

#[test]
fn a_stretch_that_was_refused_twice_is_kept_once_and_logged_once() {
    let bench = held();
    let first = kept(stop(&bench, &[("note", "said at first")]));
    let second = kept(stop(&bench, &[("time", "55 min")]));
    let refused = bench.workshop().refused("heron").unwrap();
    assert_eq!(refused.len(), 1);
    assert_eq!(refused[0].passes[0]["note"], "said at first");
    assert_eq!(refused[0].passes[0]["time"], "55 min");
    answered(&bench);
    // By either number it is the same pass.
    let done = again(&bench, first).unwrap();
    assert_eq!(done.times, [Some("55 min".to_owned())]);
    for number in [first, second] {
        assert!(matches!(
            again(&bench, number),
            Err(WorkshopError::Pass(PassError::Taken { .. }))
        ));
    }
    assert_eq!((timers(&bench), bench.passes("heron").len()), (0, 1));
}

#[test]
fn a_timer_that_went_on_is_logged_whole_and_nothing_of_it_twice() {
    let mut bench = held();
    let number = kept(stop(&bench, &[]));
    answered(&bench);
    bench
        .with(|around| {
            bench
                .workshop()
                .pause_timer("heron", false, &Who::default(), around)
        })
        .unwrap();
    let error = again(&bench, number).unwrap_err();
    assert!(error.hint().contains("pass stop heron"), "{}", error.hint());
    bench.now = "2026-06-01T10:30:00Z";
    let done = stop(&bench, &[]).unwrap();
    assert_eq!(done.times, [Some("1 h 30 min".to_owned())]);
    assert!(matches!(
        again(&bench, number),
        Err(WorkshopError::Pass(PassError::Taken { .. }))
    ));
    assert!(bench.workshop().refused("heron").unwrap().is_empty());
    assert_eq!((timers(&bench), bench.passes("heron").len()), (0, 1));
}

#[test]
fn a_refused_pass_is_struck_with_a_reason() {
    let bench = held();
    let number = kept(stop(&bench, &[]));
    bench
        .with(|around| {
            bench
                .workshop()
                .strike(number, "entered by another name", None, around)
        })
        .unwrap();
    assert!(bench.workshop().refused("heron").unwrap().is_empty());
    assert!(matches!(
        again(&bench, number),
        Err(WorkshopError::Pass(PassError::NotRefused { .. }))
    ));
}

#[test]
fn of_two_timers_begun_at_once_one_runs() {
    let bench = Bench::new();
    bench.put(&sheet("heron"));
    let results: Vec<_> = std::thread::scope(|scope| {
        let threads: Vec<_> = (0..2).map(|_| scope.spawn(|| start(&bench))).collect();
        threads.into_iter().map(|one| one.join().unwrap()).collect()
    });
    let refused = |result: &&Result<TimerLine, WorkshopError>| {
        matches!(
            result,
            Err(WorkshopError::Pass(PassError::TimerRuns { .. }))
        )
    };
    assert_eq!(results.iter().filter(refused).count(), 1, "{results:?}");
    assert_eq!(timers(&bench), 1);
}

#[test]
fn a_refused_pass_keeps_its_photo_and_is_logged_anew_after_an_undo() {
    let bench = Bench::new();
    bench.put(&sheet("heron"));
    let file = bench.path("cam.jpg");
    let (_, bytes) = demo::PHOTOS[0];
    std::fs::write(&file, bytes).unwrap();
    let mut block = pass();
    block.insert("photos".to_owned(), json!([{ "file": file }]));
    bench.workshop().withdraw_plugin("triage").unwrap();
    let number = kept(bench.add("heron", block));
    std::fs::remove_file(&file).unwrap();
    answered(&bench);
    let logged = again(&bench, number).unwrap();
    let (sheet, _) = bench.workshop().sheet("heron").unwrap();
    assert_eq!(sheet.passes[0].photos.len(), 1);
    let photo = sheet.photos.last().unwrap();
    assert_eq!(
        photo.original.as_ref().unwrap().digest,
        tangmark_core::Digest::of(bytes)
    );
    // Taken back, it is kept still, and gets a key that nothing spoke of.
    bench
        .with(|around| bench.workshop().undo_sheet("heron", around))
        .unwrap();
    assert_eq!(bench.workshop().refused("heron").unwrap().len(), 1);
    let anew = again(&bench, number).unwrap();
    assert_ne!(anew.passes, logged.passes);
    assert!(matches!(
        again(&bench, number),
        Err(WorkshopError::Pass(PassError::Taken { .. }))
    ));
}
