//! Stops on page 1, and what answered them.

use super::*;

#[test]
fn a_stop_that_was_answered_says_by_whom_and_in_which_record() {
    let base = sample::sword();
    let made = |sequence: u32, purpose: &str, rule: &str| -> Value {
        let mut value: Value = serde_json::from_slice(&base.bytes).unwrap();
        value["sequence"] = sequence.into();
        value["purpose"] = purpose.into();
        value["overrides"] = json!([]);
        value["worked_under_hold"] = json!([]);
        value["decision"] =
            json!({ "verdict": "work", "by": "A. Tessen", "reason": "as agreed", "answers": [] });
        value["findings"] = json!([{ "plugin": "triage", "rule": rule, "level": "stop", "message": "It asks to stop.", "source": "common practice, no source" }]);
        value
    };
    let said = |value: &Value, earlier: &[Value], kind, speech| {
        let sample = Sample::of(value);
        let earlier: Vec<Record> = earlier
            .iter()
            .map(|value| serde_json::from_value(value.clone()).unwrap())
            .collect();
        let input = with_kind(&sample, &earlier, kind, speech, PageSize::A4);
        words(&scene_of(&sample.record, &input).unwrap().0).replace('\u{a0}', " ")
    };
    let kinds = [Kind::Receipt, Kind::Buyer, Kind::Condition, Kind::Referral];
    let importance = "importance.old-papers";
    let first = made(1, "referral", importance);
    let mut reply = made(2, "reply", importance);
    reply["decision"] = json!({ "verdict": "work", "by": "Mara Quillon", "reason": "seen by hand", "answers": [{ "rule": format!("triage/{importance}"), "kind": "specialist_reply", "how": "seen by hand" }] });
    let last = made(3, "transfer", importance);
    for kind in kinds {
        let lone = said(&last, &[], kind, Speech::English);
        assert!(lone.contains("Stop: It asks"), "{kind:?}: {lone}");
        let told = said(
            &last,
            &[first.clone(), reply.clone()],
            kind,
            Speech::English,
        );
        assert!(
            told.contains("Stop, answered by the reply of Mara Quillon in record 2: It asks"),
            "{kind:?}: {told}"
        );
        assert!(!told.contains("Stop: "), "{kind:?}: {told}");
        let told = said(
            &last,
            &[first.clone(), reply.clone()],
            kind,
            Speech::Japanese,
        );
        assert!(
            told.replace(' ', "")
                .contains("停止（記録2のMaraQuillonの回答により解除）：Itasks"),
            "{kind:?}: {told}"
        );
    }
    // The record of the reply holds the stop and its answer.
    let told = said(
        &reply,
        std::slice::from_ref(&first),
        Kind::Condition,
        Speech::English,
    );
    assert!(
        told.contains("the reply of Mara Quillon in record 2"),
        "{told}"
    );

    let lifted = |rule: &str| json!([{ "rule": format!("triage/{rule}"), "name": "Imre Halloway", "reason": "the owner agreed", "at": "2026-03-05T09:00:00Z" }]);
    let budget = "budget.spent";
    let [mut second, mut third] = [made(2, "override", budget), made(3, "after_work", budget)];
    second["overrides"] = lifted(budget);
    third["overrides"] = lifted(budget);
    let told = said(
        &third,
        &[made(1, "intake", budget), second],
        Kind::Receipt,
        Speech::English,
    );
    assert!(
        told.contains("Stop, overridden by Imre Halloway in record 2, see below: It asks"),
        "{told}"
    );
    // No override answers a fatal flaw, whatever stands in the record.
    let fatal = "fatal.crack";
    let mut last = made(3, "transfer", fatal);
    last["overrides"] = lifted(fatal);
    let told = said(&last, &[first, reply], Kind::Receipt, Speech::English);
    assert!(told.contains("Stop: It asks"), "{told}");
}
