//! Disclosures beside the record of a report whose signature holds: the key may sign anything, but what it discloses
//! must be what the record withholds.

use super::*;
use crate::certificate;
use crate::pdf::fixture::{CREATED, Draft, force_sign};
use crate::withhold::{Disclosure, print_file};

/// A record of key 1 with one registration of the given number and the given valuation, both withheld; its salts
/// begin at `salt`.
fn withheld(number: &Value, valuation: &Value, mut salt: u8) -> (Value, Vec<Disclosure>) {
    let mut record = unsigned(&key(1));
    record["issued_at"] = json!(CREATED);
    record["valuation"] = valuation.clone();
    record["blade"]["registrations"] = json!([
        { "kind": "registration_card", "authority": "Example Prefecture", "number": number }
    ]);
    withhold::withhold(&record, RULES, |bytes: &mut [u8]| {
        salt += 1;
        bytes.fill(salt);
    })
    .unwrap()
}

fn valuation(amount: &str) -> Value {
    json!({
        "value": { "amount": amount, "currency": "EUR" },
        "basis": "insurance",
        "on": "2025-12-01",
        "valuer": "A. Weir",
        "interest": "none"
    })
}

/// A report of the record with such disclosures in it, signed by the record's own key.
fn report(record: &Value, disclosures: &[Disclosure]) -> Verdict {
    let mut draft = Draft::new();
    draft.carry_record(&seal(record, &key(1)));
    draft.carry_disclosures(print_file(disclosures).unwrap().as_bytes());
    let certificate = certificate::self_issued(&key(1), NAME, CREATED).unwrap();
    owner(&force_sign(draft.write(), &key(1), &certificate), &[])
}

fn refused(record: &Value, disclosures: &[Disclosure]) -> String {
    let verdict = report(record, disclosures);
    assert_eq!(verdict.exit_code(), 1, "{verdict:?}");
    assert_eq!(verdict.kind, FileKind::Pdf);
    let BytesLine::Altered { reasons } = verdict.bytes else {
        panic!("{:?}", verdict.bytes);
    };
    let [reason] = reasons.as_slice() else {
        panic!("{reasons:?}");
    };
    let told = "the embedded disclosures do not belong to the embedded record: ";
    reason
        .strip_prefix(told)
        .unwrap_or_else(|| panic!("{reason}"))
        .to_owned()
}

#[test]
fn sound_disclosures_are_counted() {
    let (record, all) = withheld(&json!("Demo 1"), &valuation("900.00"), 0);
    assert_eq!(all.len(), 2);
    for given in [&all[..], &all[..1], &all[1..]] {
        let verdict = report(&record, given);
        assert_eq!(verdict.bytes, BytesLine::Intact, "{verdict:?}");
        assert_eq!(verdict.exit_code(), 0);
        assert_eq!(verdict.completeness.disclosed, given.len());
        // Three digests: one of them is a decoy.
        assert_eq!(verdict.completeness.withheld, 3 - given.len());
    }
}

#[test]
fn disclosures_of_another_record_are_refused() {
    let (record, own) = withheld(&json!("Demo 1"), &valuation("900.00"), 0);
    // The same values with other salts.
    let (_, others) = withheld(&json!("Demo 1"), &valuation("900.00"), 100);
    for given in [others.clone(), vec![own[0].clone(), others[1].clone()]] {
        let number = if given[0] == own[0] { 2 } else { 1 };
        assert_eq!(
            refused(&record, &given),
            format!(
                "disclosure {number}: the record has no digest of it, so it was altered or belongs to another record"
            )
        );
    }
}

#[test]
fn a_value_of_the_wrong_form_is_refused_although_its_digest_is_right() {
    let told = "with the disclosed values it is no record of its schema: ";
    for (number, valuation, place) in [
        // Not of the type.
        (
            json!(7),
            valuation("900.00"),
            "/blade/registrations/0/number",
        ),
        // Of the type, but nothing the schema allows.
        (
            json!(""),
            valuation("900.00"),
            "/blade/registrations/0/number",
        ),
    ] {
        let (record, all) = withheld(&number, &valuation, 0);
        // Nobody can know before it is disclosed.
        assert_eq!(owner(&seal(&record, &key(1)), &[]).exit_code(), 0);
        assert_eq!(refused(&record, &all), format!("{told}`{place}`"));
    }
}

/// What only bars sealing makes no sealed record altered: a later rule must not reach back.
#[test]
fn a_value_that_nobody_would_seal_today_is_no_reason_to_refuse_it() {
    let mut backwards = valuation("900.00");
    backwards["valid_until"] = json!("2024-01-01");
    for odd in [valuation("-900.00"), backwards] {
        let (record, all) = withheld(&json!("Demo 1"), &odd, 0);
        let verdict = report(&record, &all);
        assert_eq!(verdict.bytes, BytesLine::Intact, "{verdict:?}");
        assert_eq!(verdict.completeness.disclosed, 2);
    }
}

#[test]
fn an_empty_list_of_disclosures_is_refused() {
    let (record, _) = withheld(&json!("Demo 1"), &valuation("900.00"), 0);
    assert_eq!(
        refused(&record, &[]),
        "the list is empty, at least one disclosure is needed"
    );
}
