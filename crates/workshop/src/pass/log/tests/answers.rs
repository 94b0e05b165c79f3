//! Who may answer which stop: each is refused until the right answer comes, and goes on after it.

use tangmark_core::hold::StopKind;
use tangmark_core::record::{Answer, AnswerKind, Decision, Override, Purpose, RefersTo, Verdict};

use super::{Bench, PASSPHRASE, edit, sheet};
use crate::{Order, Sealed};

/// The stops that stand on the newest sheet.
fn held(bench: &Bench, blade: &str) -> Vec<String> {
    let report = bench
        .with(|around| bench.workshop().check(blade, around))
        .unwrap();
    report
        .stops
        .into_iter()
        .map(|(stop, _)| stop.rule)
        .collect()
}

/// Seals with overrides of these rules.
fn overridden(
    bench: &Bench,
    blade: &str,
    rules: &[String],
) -> Result<Sealed, crate::WorkshopError> {
    bench.with(|around| {
        let overrides = rules
            .iter()
            .map(|rule| Override {
                rule: rule.clone(),
                name: "S. Moor".to_owned(),
                reason: "Seen in hand.".to_owned(),
                at: around.now.clone(),
            })
            .collect();
        let order = Order {
            blade,
            purpose: Purpose::BeforeWork,
            decision: Some(Decision {
                verdict: Verdict::Work,
                by: "S. Moor".to_owned(),
                reason: "Seen in hand.".to_owned(),
                answers: Vec::new(),
            }),
            overrides,
            refers_to: None,
            passphrase: PASSPHRASE,
            out: None,
        };
        bench.workshop().seal(&order, around)
    })
}

/// The cracked blade with the crack looked for again on two days and ruled out.
pub(super) fn ruled_out() -> String {
    let text = sheet("gorge");
    let looks = ["2026-03-24", "2026-03-25"].map(|day| {
        format!("  {{ on = \"{day}\", by = \"polisher\", method = \"stain_line\", light = \"bare lamp\", face = \"omote\", outcome = \"not_seen\" }},\n")
    });
    let rust = text.find("[[flaws]]\nid = \"rust-1\"").unwrap();
    let (crack, rest) = text.split_at(rust);
    let end = crack.rfind(']').unwrap();
    let crack = format!("{}{}{}{}", &crack[..end], looks[0], looks[1], &crack[end..]);
    let crack = edit(
        &crack,
        "standing = \"confirmed\"",
        "standing = \"ruled_out\"",
    );
    format!("{crack}{rest}")
}

#[test]
fn a_fatal_flaw_is_answered_by_two_looks_alone() {
    let bench = Bench::new();
    bench.put(&sheet("gorge"));
    bench.refused("gorge", StopKind::FatalFlaw);
    bench.seal("gorge", Purpose::Intake, Verdict::SetAside);
    bench.refused("gorge", StopKind::FatalFlaw);
    let rules = held(&bench, "gorge");
    overridden(&bench, "gorge", &rules).unwrap_err();
    bench.refused("gorge", StopKind::FatalFlaw);
    bench.put(&ruled_out());
    bench.logged("gorge");
}

#[test]
fn importance_is_answered_by_a_signed_override() {
    let bench = Bench::new();
    bench.put(&sheet("lantern"));
    bench.refused("lantern", StopKind::Importance);
    let rules = held(&bench, "lantern");
    overridden(&bench, "lantern", &rules).unwrap();
    bench.logged("lantern");
}

#[test]
fn importance_is_answered_by_the_reply_of_a_specialist() {
    let bench = Bench::new();
    bench.put(&sheet("lantern"));
    let asked = bench.seal("lantern", Purpose::Referral, Verdict::Refer);
    bench.refused("lantern", StopKind::Importance);
    let answers: Vec<Answer> = held(&bench, "lantern")
        .into_iter()
        .map(|rule| Answer {
            rule,
            kind: AnswerKind::SpecialistReply,
            how: "A light polish does no harm.".to_owned(),
            record: None,
        })
        .collect();
    let reply = |verdict: Verdict, answers: Vec<Answer>| {
        bench.with(|around| {
            let order = Order {
                blade: "lantern",
                purpose: Purpose::Reply,
                decision: Some(Decision {
                    verdict,
                    by: "S. Moor".to_owned(),
                    reason: "Letter of 4 May.".to_owned(),
                    answers,
                }),
                overrides: Vec::new(),
                refers_to: Some(RefersTo {
                    record: asked.record,
                    statement: "Letter of 4 May.".to_owned(),
                }),
                passphrase: PASSPHRASE,
                out: None,
            };
            bench.workshop().seal(&order, around).unwrap()
        })
    };
    // A reply that does not say `work` answers nothing.
    reply(Verdict::Refer, answers.clone());
    bench.refused("lantern", StopKind::Importance);
    reply(Verdict::Work, answers);
    bench.logged("lantern");
}

/// The finished blade with a budget that its passes have used up, examined on `day`.
fn with_budget(budget: &str, day: &str) -> String {
    let text = edit(
        &sheet("reed-after"),
        "steel_budget = { text = \"9 g\", uncertainty = \"0.5 g\" }",
        &format!("steel_budget = \"{budget}\""),
    );
    let at = text.find("[examination]").unwrap();
    let (head, tail) = text.split_at(at);
    let line = tail.lines().find(|line| line.starts_with("on = ")).unwrap();
    format!(
        "{head}{}",
        tail.replacen(line, &format!("on = \"{day}\""), 1)
    )
}

#[test]
fn a_spent_budget_is_answered_by_a_new_examination_with_a_new_budget() {
    let bench = Bench::new();
    bench.put(&with_budget("3.0 g", "2026-05-16"));
    bench.refused("reed", StopKind::Budget);
    bench.seal("reed", Purpose::BeforeWork, Verdict::SetAside);
    bench.refused("reed", StopKind::Budget);
    // A greater number alone, without looking again, is no answer.
    bench.put(&with_budget("20.0 g", "2026-05-16"));
    bench.refused("reed", StopKind::Budget);
    bench.put(&with_budget("20.0 g", "2026-05-20"));
    bench.logged("reed");
}

#[test]
fn a_spent_budget_is_answered_by_a_signed_override() {
    let bench = Bench::new();
    bench.put(&with_budget("3.0 g", "2026-05-16"));
    let rules = held(&bench, "reed");
    assert_eq!(rules, ["triage/budget.spent"]);
    overridden(&bench, "reed", &rules).unwrap();
    bench.logged("reed");
}

#[test]
fn triage_that_did_not_run_is_answered_by_running_it() {
    let bench = Bench::new();
    bench.put(&sheet("heron"));
    bench.workshop().withdraw_plugin("triage").unwrap();
    bench.refused("heron", StopKind::TriageNotRun);
    let rules = held(&bench, "heron");
    overridden(&bench, "heron", &rules).unwrap_err();
    bench
        .with(|around| bench.workshop().approve_shipped(around))
        .unwrap();
    bench.logged("heron");
}
