//! One test for each row of the rules of holds: who may answer which stop, what may be sealed meanwhile,
//! and which passes are named as worked under a stop.
#![allow(clippy::unwrap_used)]
#![allow(
    clippy::cloned_ref_to_slice_refs,
    reason = "a list of one reads plainer than a slice of a reference"
)]

use super::*;
use crate::record::{Answer, Key, Quantity, Role, SightingMethod, Term as _};
use crate::units::Dimension;

const GOOD: &str = include_str!("../../../../samples/invalid/good-record.json");

/// A record of 24 March with two passes, no stop and nothing worked under one.
fn record() -> Record {
    let mut record: Record = serde_json::from_str(GOOD).unwrap();
    record.findings.clear();
    record.worked_under_hold.clear();
    record
}

fn stop(rule: &str) -> Finding {
    Finding {
        plugin: "triage".parse().unwrap(),
        rule: rule.to_owned(),
        level: Level::Stop,
        message: format!("{rule} found"),
        evidence: Vec::new(),
        numbers: Vec::new(),
        source: "this tool's own rule".to_owned(),
    }
}

fn override_of(rule: &str, at: &str) -> Override {
    Override {
        rule: rule.to_owned(),
        name: "Imre Halloway".to_owned(),
        reason: "owner agreed".to_owned(),
        at: at.parse().unwrap(),
    }
}

fn decision(verdict: Verdict) -> Decision {
    Decision {
        verdict,
        by: "Imre Halloway".to_owned(),
        reason: "as found".to_owned(),
        answers: Vec::new(),
    }
}

fn reply(rule: &str, verdict: Verdict, kind: AnswerKind) -> Decision {
    let answer = Answer {
        rule: rule.to_owned(),
        kind,
        how: "seen by hand".to_owned(),
        record: None,
    };
    Decision {
        answers: vec![answer],
        ..decision(verdict)
    }
}

fn stops(findings: &[Finding], overrides: &[Override], history: &[Record]) -> Vec<String> {
    standing(HoldInput {
        findings,
        overrides,
        history,
        limits: Limits::default(),
    })
    .into_iter()
    .map(|stop| stop.rule)
    .collect()
}

/// A sheet like the record's, with one more pass on `day`.
fn sheet_with_pass(record: &Record, day: &str) -> Sheet {
    let mut sheet = record.sheet();
    let mut pass = sheet.passes[0].clone();
    pass.id = "p3".parse().unwrap();
    pass.on = day.parse().unwrap();
    sheet.passes.push(pass);
    sheet
}

fn lines(
    sheet: &Sheet,
    now: &[Stop],
    overrides: &[Override],
    history: &[Record],
) -> Vec<(String, String)> {
    worked_under_hold(sheet, |_| now.to_vec(), overrides, history)
        .into_iter()
        .map(|line| (line.pass.to_string(), line.rule))
        .collect()
}

fn line(pass: &str, rule: &str) -> (String, String) {
    (pass.to_owned(), rule.to_owned())
}

#[test]
fn the_kind_of_a_stop_is_the_first_word_of_its_rule() {
    for (rule, kind) in [
        ("fatal.crack-in-edge", StopKind::FatalFlaw),
        ("importance.designation", StopKind::Importance),
        ("budget.reached", StopKind::Budget),
        ("triage-not-run", StopKind::TriageNotRun),
        ("fatality", StopKind::Other),
        ("materials.ivory", StopKind::Other),
    ] {
        assert_eq!(StopKind::of(&stop(rule)), kind, "{rule}");
    }
}

#[test]
fn only_stops_hold_a_blade() {
    let mut found = stop("budget.reached");
    for level in [Level::Info, Level::Caution] {
        found.level = level;
        assert_eq!(stops(&[found.clone()], &[], &[]), Vec::<String>::new());
    }
    found.level = Level::Stop;
    assert_eq!(stops(&[found], &[], &[]), ["triage/budget.reached"]);
}

// Who may answer which stop.

#[test]
fn a_fatal_flaw_is_lifted_by_no_override_and_no_reply() {
    let found = [stop("fatal.crack-in-edge")];
    let rule = "triage/fatal.crack-in-edge";
    let mut replied = record();
    replied.purpose = Purpose::Reply;
    replied.decision = Some(reply(rule, Verdict::Work, AnswerKind::SpecialistReply));
    let overrides = [override_of(rule, "2026-03-24T10:00:00Z")];
    assert_eq!(stops(&found, &overrides, &[replied]), [rule]);
    let error = check_overrides(&overrides, &found).unwrap_err();
    assert_eq!(
        error.to_string(),
        "an override may not lift triage/fatal.crack-in-edge"
    );
    assert_eq!(
        error.hint(),
        "two independent looks that do not find the flaw lift it (list them under `sightings`, then \
         standing = \"ruled_out\"); a look that finds it sets the blade aside"
    );
}

#[test]
fn importance_is_lifted_by_an_override() {
    let found = [stop("importance.designation")];
    let overrides = [override_of(
        "triage/importance.designation",
        "2026-03-24T10:00:00Z",
    )];
    assert_eq!(check_overrides(&overrides, &found), Ok(()));
    assert_eq!(stops(&found, &overrides, &[]), Vec::<String>::new());
    // An override of another rule, or of another plugin's rule of that name, lifts nothing.
    for other in ["triage/importance.maker", "other/importance.designation"] {
        assert_eq!(
            stops(&found, &[override_of(other, "2026-03-24T10:00:00Z")], &[]),
            ["triage/importance.designation"]
        );
    }
}

#[test]
fn importance_is_lifted_by_a_specialists_reply_that_names_it_and_says_work() {
    let found = [stop("importance.designation")];
    let rule = "triage/importance.designation";
    let with = |purpose, decision| {
        let mut record = record();
        record.purpose = purpose;
        record.decision = Some(decision);
        stops(&found, &[], &[record])
    };
    let yes = reply(rule, Verdict::Work, AnswerKind::SpecialistReply);
    assert_eq!(with(Purpose::Reply, yes.clone()), Vec::<String>::new());
    assert_eq!(
        with(Purpose::Correction, yes),
        [rule],
        "only a reply is one"
    );
    assert_eq!(
        with(
            Purpose::Reply,
            reply(rule, Verdict::SetAside, AnswerKind::SpecialistReply)
        ),
        [rule]
    );
    assert_eq!(
        with(
            Purpose::Reply,
            reply(rule, Verdict::Work, AnswerKind::FollowsTheStop)
        ),
        [rule]
    );
    assert_eq!(
        with(
            Purpose::Reply,
            reply(
                "triage/importance.maker",
                Verdict::Work,
                AnswerKind::SpecialistReply
            )
        ),
        [rule]
    );
}

#[test]
fn a_spent_budget_is_lifted_by_an_override_and_by_no_reply() {
    let found = [stop("budget.reached")];
    let rule = "triage/budget.reached";
    let overrides = [override_of(rule, "2026-03-24T10:00:00Z")];
    assert_eq!(check_overrides(&overrides, &found), Ok(()));
    assert_eq!(stops(&found, &overrides, &[]), Vec::<String>::new());
    let mut replied = record();
    replied.purpose = Purpose::Reply;
    replied.decision = Some(reply(rule, Verdict::Work, AnswerKind::SpecialistReply));
    assert_eq!(stops(&found, &[], &[replied]), [rule]);
}

#[test]
fn a_triage_that_did_not_run_is_lifted_by_running_it_alone() {
    let found = [Finding {
        plugin: "tangmark".parse().unwrap(),
        ..stop("triage-not-run")
    }];
    let overrides = [override_of(
        "tangmark/triage-not-run",
        "2026-03-24T10:00:00Z",
    )];
    assert_eq!(stops(&found, &overrides, &[]), ["tangmark/triage-not-run"]);
    let error = check_overrides(&overrides, &found).unwrap_err();
    assert_eq!(
        error.to_string(),
        "an override may not lift tangmark/triage-not-run"
    );
    assert_eq!(
        error.hint(),
        "run it: `tangmark plugin approve --shipped` where it is not approved; where it refuses, mend what it names in `plugins/triage/` of the workshop; then `tangmark check`"
    );
}

#[test]
fn another_plugins_stop_is_lifted_by_an_override() {
    let found = [stop("materials.protected")];
    let overrides = [override_of(
        "triage/materials.protected",
        "2026-03-24T10:00:00Z",
    )];
    assert_eq!(check_overrides(&overrides, &found), Ok(()));
    assert_eq!(stops(&found, &overrides, &[]), Vec::<String>::new());
}

#[test]
fn an_override_of_nothing_is_refused() {
    let mut caution = stop("budget.near");
    caution.level = Level::Caution;
    for rule in ["triage/budget.near", "triage/budget.reached"] {
        let error = check_overrides(
            &[override_of(rule, "2026-03-24T10:00:00Z")],
            &[caution.clone()],
        )
        .unwrap_err();
        assert_eq!(
            error.to_string(),
            format!("an override names {rule}, but no stop of that name stands")
        );
        assert_eq!(
            error.hint(),
            "run `tangmark check` and copy the name of the rule from there"
        );
    }
}

#[test]
fn one_answer_lifts_one_stop() {
    let found = [stop("importance.designation"), stop("budget.reached")];
    let overrides = [override_of(
        "triage/importance.designation",
        "2026-03-24T10:00:00Z",
    )];
    assert_eq!(stops(&found, &overrides, &[]), ["triage/budget.reached"]);
}

// What may be sealed while a stop stands.

#[test]
fn while_a_stop_stands_no_work_record_is_sealed_and_every_other_may_be() {
    let standing = [stop_of(&stop("importance.designation"))];
    for purpose in Purpose::ALL.iter().copied() {
        for verdict in [None, Some(Verdict::SetAside), Some(Verdict::Refer)] {
            let found = may_seal(purpose, verdict.map(decision).as_ref(), &standing);
            let barred = matches!(purpose, Purpose::InWork | Purpose::AfterWork);
            assert_eq!(found.is_err(), barred, "{} {verdict:?}", purpose.key());
        }
        assert_eq!(
            may_seal(purpose, Some(&decision(Verdict::Work)), &[]),
            Ok(()),
            "nothing stands"
        );
    }
    let error = may_seal(Purpose::AfterWork, None, &standing).unwrap_err();
    assert_eq!(
        error.to_string(),
        "a record for `after_work` may not be sealed while a stop stands: triage/importance.designation: \
         importance.designation found"
    );
    assert!(
        error
            .hint()
            .starts_with("a specialist's reply or a signed override with name and reason lifts it"),
        "{}",
        error.hint()
    );
}

#[test]
fn the_decision_does_not_pass_over_a_stop() {
    for purpose in Purpose::ALL.iter().copied() {
        let error = may_seal(
            purpose,
            Some(&decision(Verdict::Work)),
            &[stop_of(&stop("budget.reached"))],
        );
        assert!(error.is_err(), "{}", purpose.key());
    }
    let error = may_seal(
        Purpose::Intake,
        Some(&decision(Verdict::Work)),
        &[stop_of(&stop("budget.reached"))],
    )
    .unwrap_err();
    assert_eq!(
        error.to_string(),
        "the decision is `work` while a stop stands: triage/budget.reached: budget.reached found"
    );
    assert_eq!(
        error.hint(),
        "a new examination with a new budget, or a signed override, lifts it"
    );
}

#[test]
fn a_specialists_reply_may_say_work_about_the_importance_it_answers_and_nothing_else() {
    let importance = stop_of(&stop("importance.designation"));
    let yes = reply(&importance.rule, Verdict::Work, AnswerKind::SpecialistReply);
    assert_eq!(
        may_seal(Purpose::Reply, Some(&yes), &[importance.clone()]),
        Ok(())
    );
    let fatal = stop_of(&stop("fatal.crack-in-edge"));
    assert_eq!(
        may_seal(
            Purpose::Reply,
            Some(&yes),
            &[importance.clone(), fatal.clone()]
        ),
        Err(HoldError::Verdict {
            stop: fatal.clone()
        })
    );
    let about_fatal = reply(&fatal.rule, Verdict::Work, AnswerKind::SpecialistReply);
    assert_eq!(
        may_seal(Purpose::Reply, Some(&about_fatal), &[fatal.clone()]),
        Err(HoldError::Verdict { stop: fatal })
    );
    assert_eq!(
        may_seal(Purpose::Intake, Some(&yes), &[importance.clone()]),
        Err(HoldError::Verdict { stop: importance }),
        "no other record speaks for a specialist"
    );
}

// Passes worked under a stop.

/// A last record that left `rule` standing.
fn held(rule: &str) -> Record {
    let mut record = record();
    record.findings.push(stop(rule));
    record
}

#[test]
fn without_a_stop_no_pass_is_named() {
    let last = record();
    assert_eq!(
        lines(&sheet_with_pass(&last, "2026-04-02"), &[], &[], &[last]),
        []
    );
}

#[test]
fn a_pass_after_an_unanswered_stop_is_named() {
    for rule in [
        "fatal.crack-in-edge",
        "importance.designation",
        "budget.reached",
        "materials.protected",
    ] {
        let last = held(rule);
        let found = worked_under_hold(
            &sheet_with_pass(&last, "2026-04-02"),
            |_| Vec::new(),
            &[],
            &[last],
        );
        let wanted = WorkedUnderHold {
            pass: "p3".parse::<Key>().unwrap(),
            rule: format!("triage/{rule}"),
            message: format!("{rule} found"),
        };
        assert_eq!(
            found,
            [wanted],
            "{rule}: the passes of the sealed record are not new"
        );
    }
}

#[test]
fn a_pass_under_a_stop_that_stands_now_is_named_once() {
    let now = [stop_of(&stop("budget.reached"))];
    let first = record().sheet();
    let wanted = [
        line("p1", "triage/budget.reached"),
        line("p2", "triage/budget.reached"),
    ];
    assert_eq!(
        lines(&first, &now, &[], &[]),
        wanted,
        "in a first record every pass is new"
    );
    let last = held("budget.reached");
    assert_eq!(
        lines(&sheet_with_pass(&last, "2026-04-02"), &now, &[], &[last]),
        [line("p3", "triage/budget.reached")]
    );
}

#[test]
fn earlier_lines_are_carried_forward_whatever_came_later() {
    let mut last = record();
    let old = WorkedUnderHold {
        pass: "p1".parse().unwrap(),
        rule: "triage/budget.reached".to_owned(),
        message: "m".to_owned(),
    };
    last.worked_under_hold.push(old.clone());
    let overrides = [override_of("triage/budget.reached", "2026-03-01T00:00:00Z")];
    assert_eq!(
        worked_under_hold(&last.sheet(), |_| Vec::new(), &overrides, &[last.clone()]),
        [old.clone()]
    );
    // Also when the sheet no longer has the pass; the record is then refused for naming a pass it lacks.
    let mut sheet = last.sheet();
    sheet.passes.clear();
    assert_eq!(
        worked_under_hold(&sheet, |_| Vec::new(), &[], &[last]),
        [old]
    );
}

#[test]
fn an_override_counts_from_its_day_on() {
    let rule = "triage/importance.designation";
    let last = held("importance.designation");
    let on = |day: &str, at: &str| {
        lines(
            &sheet_with_pass(&last, day),
            &[],
            &[override_of(rule, at)],
            &[last.clone()],
        )
    };
    assert_eq!(on("2026-04-02", "2026-04-01T09:00:00Z"), []);
    assert_eq!(
        on("2026-04-02", "2026-04-02T18:00:00Z"),
        [],
        "of one day nobody can tell the order"
    );
    assert_eq!(
        on("2026-04-02", "2026-04-03T00:00:00Z"),
        [line("p3", rule)],
        "later than the pass"
    );
    assert_eq!(
        on("2026-04", "2026-04-03T00:00:00Z"),
        [line("p3", rule)],
        "a vague day may lie before the override"
    );
}

#[test]
fn a_reply_counts_from_its_day_on() {
    let rule = "triage/importance.designation";
    let mut answer = held("importance.designation");
    answer.purpose = Purpose::Reply;
    answer.issued_at = "2026-04-10T09:00:00Z".parse().unwrap();
    answer.decision = Some(reply(rule, Verdict::Work, AnswerKind::SpecialistReply));
    let history = [held("importance.designation"), answer.clone()];
    assert_eq!(
        lines(&sheet_with_pass(&answer, "2026-04-11"), &[], &[], &history),
        []
    );
    assert_eq!(
        lines(&sheet_with_pass(&answer, "2026-04-09"), &[], &[], &history),
        [line("p3", rule)]
    );
}

/// A last record with a suspected crack, and a sheet in which two looks on `days` ruled it out, with a pass on `pass`.
fn ruled_out(days: [&str; 2], pass: &str) -> (Sheet, Record) {
    let mut last = held("fatal.crack-in-edge");
    last.findings[0].evidence = vec!["/flaws/0".to_owned()];
    last.flaws[0].standing = Standing::Suspected;
    last.flaws[0].sightings.clear();
    let mut sheet = sheet_with_pass(&last, pass);
    let flaw = &mut sheet.flaws[0];
    flaw.standing = Standing::RuledOut;
    for (day, method) in days
        .into_iter()
        .zip([SightingMethod::RakingLight, SightingMethod::MildEtch])
    {
        flaw.sightings.push(Sighting {
            on: day.parse().unwrap(),
            by: Role::Polisher,
            method,
            light: "north window".to_owned(),
            face: None,
            outcome: Outcome::NotSeen,
            photos: Vec::new(),
        });
    }
    (sheet, last)
}

#[test]
fn a_flaw_ruled_out_before_the_pass_holds_it_no_longer() {
    let rule = "triage/fatal.crack-in-edge";
    let (sheet, last) = ruled_out(["2026-04-01", "2026-04-02"], "2026-04-02");
    assert_eq!(lines(&sheet, &[], &[], &[last]), []);
    let (sheet, last) = ruled_out(["2026-04-01", "2026-04-03"], "2026-04-02");
    assert_eq!(
        lines(&sheet, &[], &[], &[last]),
        [line("p3", rule)],
        "the second look came after the pass"
    );
    let (mut sheet, last) = ruled_out(["2026-04-01", "2026-04-01"], "2026-04-02");
    sheet.flaws[0].sightings[1].method = SightingMethod::RakingLight;
    assert_eq!(
        lines(&sheet, &[], &[], &[last]),
        [line("p3", rule)],
        "the same look twice is one"
    );
    let (mut sheet, last) = ruled_out(["2026-04-01", "2026-04-02"], "2026-04-02");
    sheet.flaws[0].id = "other".parse().unwrap();
    assert_eq!(
        lines(&sheet, &[], &[], &[last]),
        [line("p3", rule)],
        "another flaw was ruled out"
    );
    let (sheet, mut last) = ruled_out(["2026-04-01", "2026-04-02"], "2026-04-02");
    last.findings[0].evidence.clear();
    assert_eq!(
        lines(&sheet, &[], &[], &[last]),
        [line("p3", rule)],
        "nobody can tell which flaw it was"
    );
}

#[test]
fn an_override_never_excuses_a_pass_under_a_fatal_flaw() {
    let rule = "triage/fatal.crack-in-edge";
    let last = held("fatal.crack-in-edge");
    let overrides = [override_of(rule, "2026-03-25T00:00:00Z")];
    assert_eq!(
        lines(
            &sheet_with_pass(&last, "2026-04-02"),
            &[],
            &overrides,
            &[last]
        ),
        [line("p3", rule)]
    );
}

#[test]
fn a_new_examination_with_a_new_budget_counts_from_its_day_on() {
    let rule = "triage/budget.reached";
    let last = held("budget.reached");
    let with = |examined: &str, budget: Option<&str>| {
        let mut sheet = sheet_with_pass(&last, "2026-04-02");
        sheet.examination.as_mut().unwrap().on = examined.parse().unwrap();
        sheet.plan = budget.map(|text| Plan {
            steel_budget: Some(Mass(
                Quantity::from_readings(&[text.to_owned()], Dimension::Mass, None, None).unwrap(),
            )),
            thinnest: None,
            basis: "owner agreed".to_owned(),
            stages: Vec::new(),
        });
        lines(&sheet, &[], &[], &[last.clone()])
    };
    assert_eq!(with("2026-04-01", Some("3 g")), []);
    assert_eq!(
        with("2026-04-03", Some("3 g")),
        [line("p3", rule)],
        "examined after the pass"
    );
    assert_eq!(with("2026-04-01", None), [line("p3", rule)], "no budget");
    assert_eq!(
        with("2026-03-16", Some("3 g")),
        [line("p3", rule)],
        "not examined anew"
    );
}

#[test]
fn a_triage_that_had_not_run_names_no_pass_of_the_past() {
    let mut last = record();
    last.findings.push(Finding {
        plugin: "tangmark".parse().unwrap(),
        ..stop("triage-not-run")
    });
    let sheet = sheet_with_pass(&last, "2026-04-02");
    assert_eq!(lines(&sheet, &[], &[], &[last.clone()]), []);
    let now = standing(HoldInput {
        findings: &last.findings,
        overrides: &[],
        history: &[],
        limits: Limits::default(),
    });
    assert_eq!(
        lines(&sheet, &now, &[], &[last]),
        [line("p3", "tangmark/triage-not-run")],
        "one that does not run now does"
    );
}

#[test]
fn a_stop_answered_in_the_last_record_holds_no_later_pass() {
    let mut last = held("importance.designation");
    last.overrides.push(override_of(
        "triage/importance.designation",
        "2026-03-24T09:00:00Z",
    ));
    assert_eq!(
        lines(&sheet_with_pass(&last, "2026-04-02"), &[], &[], &[last]),
        []
    );
}

#[test]
fn kinds_say_who_may_answer() {
    for kind in [
        StopKind::FatalFlaw,
        StopKind::Importance,
        StopKind::Budget,
        StopKind::TriageNotRun,
        StopKind::Other,
    ] {
        assert!(kind.answered_by().len() > 20);
        let named = kind.answered_by().contains("override");
        assert_eq!(named, kind.may_be_overridden(), "{kind:?}");
    }
}

#[test]
fn a_refused_work_record_says_what_may_be_sealed_and_who_answers() {
    let stop = Stop {
        kind: StopKind::Budget,
        rule: "triage/budget.reached".to_owned(),
        message: "the steel that may go is gone".to_owned(),
    };
    let error = may_seal(Purpose::AfterWork, None, &[stop]).unwrap_err();
    assert_eq!(
        error.hint(),
        "a new examination with a new budget, or a signed override, lifts it; until then these may be sealed: the state \
         with `--for before_work --verdict set_aside`, a referral with `--for referral --verdict refer`, a return or another \
         change of hands with `--for transfer`"
    );
}

/// The records in the order given, each numbered and tied to the one before it by a name of its own.
fn chained(records: Vec<Record>) -> Vec<Record> {
    let mut chain = records;
    for (at, record) in chain.iter_mut().enumerate() {
        record.sequence = u32::try_from(at).unwrap() + 1;
        record.previous = at.checked_sub(1).map(name_of);
    }
    chain
}

/// The made-up name of the record at this place of a chain.
fn name_of(at: usize) -> Digest {
    Digest::from_bytes([u8::try_from(at).unwrap() + 1; 32])
}

fn withdrawal_of(at: usize) -> Record {
    let mut withdrawal = record();
    withdrawal.purpose = Purpose::Withdrawal;
    withdrawal.decision = None;
    withdrawal.refers_to = Some(crate::record::RefersTo {
        record: name_of(at),
        statement: "The letter is of another blade.".to_owned(),
    });
    withdrawal
}

#[test]
fn a_withdrawn_reply_lifts_nothing() {
    let found = [stop("importance.gold-inlay")];
    let rule = "triage/importance.gold-inlay";
    let mut replied = record();
    replied.purpose = Purpose::Reply;
    replied.decision = Some(reply(rule, Verdict::Work, AnswerKind::SpecialistReply));
    let chain = chained(vec![record(), replied.clone(), record()]);
    assert_eq!(stops(&found, &[], &chain), Vec::<String>::new());
    let chain = chained(vec![record(), replied.clone(), record(), withdrawal_of(1)]);
    assert_eq!(stops(&found, &[], &chain), [rule]);
    // Another record that was withdrawn changes nothing, and a new reply lifts the stop again.
    let chain = chained(vec![record(), replied.clone(), record(), withdrawal_of(2)]);
    assert_eq!(stops(&found, &[], &chain), Vec::<String>::new());
    let chain = chained(vec![record(), replied.clone(), withdrawal_of(1), replied]);
    assert_eq!(stops(&found, &[], &chain), Vec::<String>::new());
}

#[test]
fn what_a_withdrawn_record_overrode_does_not_go_along() {
    let old = override_of("triage/budget.reached", "2026-03-24T10:00:00Z");
    let new = override_of("triage/importance.gold-inlay", "2026-03-25T10:00:00Z");
    let with = |overrides: &[&Override]| {
        let mut record = record();
        record.overrides = overrides.iter().copied().cloned().collect();
        record
    };
    let chain = chained(vec![
        with(&[&old]),
        with(&[&old, &new]),
        with(&[&old, &new]),
    ]);
    assert_eq!(overrides_in_force(&chain, None), [old.clone(), new.clone()]);
    // While record 2 is being withdrawn, and after.
    assert_eq!(overrides_in_force(&chain, Some(2)), [old.clone()]);
    let mut last = withdrawal_of(1);
    last.overrides = vec![old.clone(), new.clone()];
    let chain = chained(vec![with(&[&old]), with(&[&old, &new]), last]);
    assert_eq!(overrides_in_force(&chain, None), [old.clone()]);
    // The newest record is withdrawn right now.
    assert_eq!(overrides_in_force(&chain[..2], Some(2)), [old]);
    assert_eq!(overrides_in_force(&[], None), []);
}

#[test]
fn an_override_of_a_budget_lifts_no_other_budget() {
    let rule = "triage/budget.spent";
    let found = [stop("budget.spent")];
    let over = [override_of(rule, "2026-03-24T10:00:00Z")];
    let grams = |text: &str| {
        Mass(Quantity::from_readings(&[text.to_owned()], Dimension::Mass, None, None).unwrap())
    };
    let plan = |text: &str| Plan {
        steel_budget: Some(grams(text)),
        thinnest: None,
        basis: "what the last owner allowed".to_owned(),
        stages: Vec::new(),
    };
    let mut first = record();
    first.plan = Some(plan("9.0 g"));
    first.overrides = over.to_vec();
    let stands = |plan: &Plan, history: &[Record]| {
        let input = HoldInput {
            findings: &found,
            overrides: &over,
            history,
            limits: Limits::of(Some(plan), first.agreement.as_ref()),
        };
        !standing(input).is_empty()
    };
    let history = [first.clone()];
    assert!(!stands(&plan("9.0 g"), &history));
    assert!(stands(&plan("2.0 g"), &history));
    // On the way into its first record it speaks of the budget that is there.
    assert!(!stands(&plan("2.0 g"), &[]));
}

#[test]
fn a_flaw_holds_the_passes_from_the_day_it_was_first_seen() {
    let (mut sheet, _) = ruled_out(["2026-04-01", "2026-04-02"], "2026-04-03");
    let flaw = &mut sheet.flaws[0];
    flaw.sightings.truncate(1);
    flaw.sightings[0].outcome = Outcome::Seen;
    flaw.sightings[0].on = "2026-03-20".parse().unwrap();
    let mut found = stop("fatal.crack-in-edge");
    found.evidence = vec!["/flaws/0".to_owned()];
    let stops = [stop_of(&found)];
    let on = |sheet: &Sheet, day: &str| !stood_on(&stops, &[found.clone()], sheet, day).is_empty();
    assert!(!on(&sheet, "2026-03-19"));
    assert!(on(&sheet, "2026-03-20") && on(&sheet, "2026-03-21"));
    // Suspected without a look that saw it: from the beginning.
    sheet.flaws[0].sightings.clear();
    assert!(on(&sheet, "2026-03-19"));
}

#[test]
fn looks_count_that_came_after_the_flaw_was_seen_and_differ() {
    let (sheet, _) = ruled_out(["2026-04-01", "2026-04-02"], "2026-04-03");
    let look = |on: &str, light: &str, outcome: Outcome| Sighting {
        on: on.parse().unwrap(),
        light: light.to_owned(),
        outcome,
        ..sheet.flaws[0].sightings[0].clone()
    };
    let count = |looks: &[Sighting]| {
        let mut flaw = sheet.flaws[0].clone();
        flaw.sightings = looks.to_vec();
        independent_negatives(&flaw, None)
    };
    let seen = look("2026-03-16", "lamp", Outcome::Seen);
    let not = |on: &str, light: &str| look(on, light, Outcome::NotSeen);
    // Listed after, made before.
    assert_eq!(
        count(&[
            seen.clone(),
            not("2020-01-01", "lamp"),
            not("2020-01-02", "lamp")
        ]),
        0
    );
    assert_eq!(
        count(&[
            seen.clone(),
            not("2026-03-17", "lamp"),
            not("2026-03-18", "lamp")
        ]),
        2
    );
    // The same day: in the order of the list.
    assert_eq!(
        count(&[
            not("2026-03-16", "sun"),
            seen.clone(),
            not("2026-03-16", "window")
        ]),
        1
    );
    // Known to the month, it may have been before.
    assert_eq!(
        count(&[
            seen.clone(),
            not("2026-03", "lamp"),
            not("2026-03-18", "lamp")
        ]),
        1
    );
    // One look written twice.
    assert_eq!(
        count(&[
            seen.clone(),
            not("2026-04", "lamp"),
            not("2026-04-17", "lamp")
        ]),
        1
    );
    assert_eq!(
        count(&[
            seen,
            not("2026-03-17", "bare  lamp"),
            not("2026-03-17", "Bare lamp ")
        ]),
        1
    );
}
