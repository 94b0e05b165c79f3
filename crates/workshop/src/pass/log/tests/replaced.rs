//! Sheets put in place of others before anything is sealed: what stood on them is told, kept, and told again.

use tangmark_core::record::{Purpose, Verdict};

use super::super::super::guard::switch;
use super::{Bench, PASS, before_the_crack, sheet};

/// The kinds of the entries of the blade, in order.
fn kinds(bench: &Bench) -> Vec<String> {
    let lines = bench
        .workshop()
        .journal(Some("gorge"), None, false)
        .unwrap();
    lines.into_iter().map(|line| line.kind).collect()
}

fn gone(remarks: &[String]) -> usize {
    remarks
        .iter()
        .filter(|remark| {
            remark.starts_with(
                "the stop triage/fatal.hagire that stood on revision 1 is gone from the sheet: ",
            )
        })
        .count()
}

#[test]
fn a_stop_that_goes_with_another_sheet_is_told_kept_and_told_on_sealing() {
    let bench = Bench::new();
    bench.put(&sheet("gorge"));
    let put = bench.put(&before_the_crack());
    assert_eq!(gone(&put.remarks), 1, "{:?}", put.remarks);
    assert_eq!(kinds(&bench), ["stop_gone"]);
    // A strike does not take it back.
    bench
        .with(|around| bench.workshop().strike(1, "never mind", None, around))
        .unwrap();
    let sealed = bench.seal("gorge", Purpose::Intake, Verdict::Work);
    let told = &sealed.stops_gone[..];
    assert_eq!(told.len(), 1);
    assert_eq!((told[0].matter.stood, told[0].matter.gone), (1, 2));
    assert_eq!(told[0].matter.rule, "triage/fatal.hagire");
    // It is told once.
    let later = bench.seal("gorge", Purpose::Intake, Verdict::Work);
    assert!(later.stops_gone.is_empty());

    // Without the guard nobody is told: so the remarks come from it.
    let bench = Bench::new();
    bench.put(&sheet("gorge"));
    let untold = switch::without(|| bench.put(&before_the_crack()));
    assert_eq!((gone(&untold.remarks), kinds(&bench).len()), (0, 0));
}

#[test]
fn a_stop_that_two_looks_answer_is_not_gone() {
    let bench = Bench::new();
    bench.put(&sheet("gorge"));
    let put = bench.put(&super::answers::ruled_out());
    assert_eq!(gone(&put.remarks), 0, "{:?}", put.remarks);
    assert!(kinds(&bench).is_empty());
}

#[test]
fn an_undo_that_takes_the_stop_away_is_told() {
    let bench = Bench::new();
    bench.put(&before_the_crack());
    bench.put(&sheet("gorge"));
    let undone = bench
        .with(|around| bench.workshop().undo_sheet("gorge", around))
        .unwrap();
    let told = |remark: &String| {
        remark.starts_with("the stop triage/fatal.hagire that stood on revision 2 is gone")
    };
    assert!(undone.remarks.iter().any(told), "{:?}", undone.remarks);
    assert_eq!(kinds(&bench), ["stop_gone"]);
}

#[test]
fn a_pass_put_under_a_stop_is_listed_though_the_sheet_no_longer_shows_the_stop() {
    let bench = Bench::new();
    bench.put(&sheet("gorge"));
    bench.put(&format!("{}{PASS}", sheet("gorge")));
    assert_eq!(kinds(&bench), ["under_hold"]);
    bench.put(&format!("{}{PASS}", before_the_crack()));
    assert_eq!(kinds(&bench), ["under_hold", "stop_gone"]);
    let sealed = bench.seal("gorge", Purpose::Intake, Verdict::Work);
    assert_eq!(sealed.under_hold, 1);
    let records = bench.workshop().records("gorge").unwrap();
    let line = &records[0].2.worked_under_hold[0];
    assert_eq!(
        (line.pass.as_str(), line.rule.as_str()),
        ("p1", "triage/fatal.hagire")
    );
    // The record after it has the line once.
    let later = bench.seal("gorge", Purpose::Intake, Verdict::Work);
    assert_eq!(later.under_hold, 1);
}

#[test]
fn a_pass_put_under_a_stop_is_listed_under_another_key_and_with_another_remark() {
    let bench = Bench::new();
    bench.put(&format!("{}{PASS}", sheet("gorge")));
    let other_key = PASS.replace("\"p1\"", "\"a1\"");
    bench.put(&format!("{}{other_key}", super::answers::ruled_out()));
    let sealed = bench.seal("gorge", Purpose::BeforeWork, Verdict::Work);
    assert_eq!((sealed.under_hold, sealed.passes_gone.len()), (1, 0));
    let records = bench.workshop().records("gorge").unwrap();
    assert_eq!(records[0].2.worked_under_hold[0].pass.as_str(), "a1");

    // Changed step by step: its hour becomes two, and only then it gets another key.
    let bench = Bench::new();
    bench.put(&sheet("gorge"));
    bench.put(&format!("{}{PASS}", sheet("gorge")));
    let longer = PASS.replace("1 h", "2 h");
    bench.put(&format!("{}{longer}", sheet("gorge")));
    let other_key = longer.replace("\"p1\"", "\"a1\"");
    bench.put(&format!("{}{other_key}", super::answers::ruled_out()));
    let sealed = bench.seal("gorge", Purpose::BeforeWork, Verdict::Work);
    assert_eq!((sealed.under_hold, sealed.passes_gone.len()), (1, 0));
}

#[test]
fn another_pass_is_not_taken_for_the_one_that_was_put_under_a_stop() {
    let bench = Bench::new();
    bench.put(&sheet("gorge"));
    bench.put(&format!("{}{PASS}", sheet("gorge")));
    bench
        .with(|around| bench.workshop().undo_pass("gorge", None, around))
        .unwrap();
    bench.put(&super::answers::ruled_out());
    let done = bench.add("gorge", super::pass()).unwrap();
    assert_eq!(done.passes, ["p2"], "the journal speaks of `p1`");
    let sealed = bench.seal("gorge", Purpose::BeforeWork, Verdict::Work);
    assert_eq!(sealed.under_hold, 0);
    // What was put there and went is told, once.
    assert_eq!(sealed.passes_gone.len(), 1);
    assert_eq!(sealed.passes_gone[0].matter.pass, "p1");
    let later = bench.seal("gorge", Purpose::BeforeWork, Verdict::Work);
    assert!(later.passes_gone.is_empty());
}

#[test]
fn a_sheet_with_a_look_that_has_not_come_does_not_stand_in_between() {
    let bench = Bench::new();
    bench.put(&sheet("gorge"));
    let file = bench.path("sheets/sheet.toml");
    let ahead = super::answers::ruled_out().replace("2026-03-25", "2026-12-25");
    std::fs::write(&file, ahead).unwrap();
    let error = bench
        .with(|around| bench.workshop().put_sheet(&file, None, None, around))
        .unwrap_err();
    assert!(
        error.to_string().starts_with("the day of a look"),
        "{error}"
    );
    let put = bench.put(&before_the_crack());
    assert_eq!(gone(&put.remarks), 1, "{:?}", put.remarks);
}
