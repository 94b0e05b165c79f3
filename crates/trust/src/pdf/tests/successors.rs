//! Reports that a later key of the workshop signed: rules K2 and K3 of the page.

use tangmark_core::Digest;

use crate::history::{KeyHistory, Statement, first_entry};
use crate::pdf::{
    PdfExamination, PdfJudgement, SuccessorProblem, examine,
    fixture::{Draft, certificate_of, force_sign, key, other_key},
};
use crate::{PrivateKey, PublicKey};

const MADE: &str = "2026-01-01T00:00:00Z";
const ISSUED: &str = "2026-03-01T09:30:00Z";
const CHANGED: &str = "2027-01-01T00:00:00Z";

fn numbered(byte: u8) -> PrivateKey {
    PrivateKey::from_entropy([byte; 32]).unwrap()
}

fn recovery_digest(key: &PrivateKey) -> Digest {
    Digest::of(key.public_key().compressed())
}

fn first() -> KeyHistory {
    let text = first_entry(&key(), MADE, "first", recovery_digest(&numbered(9))).unwrap();
    KeyHistory::read(text.as_bytes()).unwrap()
}

fn statement<'a>(key: &'a PrivateKey, from: &'a str) -> Statement<'a> {
    Statement {
        key,
        from,
        reason: "another year",
        recovery_digest: recovery_digest(&numbered(9)),
    }
}

/// The first key, then the other one from [`CHANGED`] on.
fn rotated() -> String {
    let new = other_key();
    first().rotate(&key(), &statement(&new, CHANGED)).unwrap()
}

fn signed_by(signer: &PrivateKey, history: Option<&str>) -> PdfExamination {
    let mut draft = Draft::new();
    if let Some(history) = history {
        draft.carry_history(history.as_bytes());
    }
    let found = examine(&force_sign(draft.write(), signer, &certificate_of(signer)));
    assert_eq!(
        (found.judgement, &found.problems),
        (PdfJudgement::Unaltered, &vec![])
    );
    found
}

fn refused(found: &PdfExamination, record_key: &PublicKey, issued_at: &str) -> String {
    found
        .joining_history(record_key, issued_at)
        .unwrap_err()
        .to_string()
}

#[test]
fn one_key_needs_no_history_and_has_none() {
    let own = key().public_key();
    assert_eq!(
        signed_by(&key(), None)
            .joining_history(&own, ISSUED)
            .unwrap(),
        None
    );
    assert_eq!(
        refused(&signed_by(&key(), Some(&rotated())), &own, ISSUED),
        "the report carries `key-history.json`, although one key signed pages and embedded record"
    );
}

#[test]
fn a_later_key_is_joined_by_rotation_and_by_recovery() {
    let own = key().public_key();
    let by_recovery = {
        let new = other_key();
        first()
            .recover(&numbered(9), &statement(&new, CHANGED))
            .unwrap()
    };
    for history in [rotated(), by_recovery] {
        let found = signed_by(&other_key(), Some(&history));
        let joined = found.joining_history(&own, ISSUED).unwrap().unwrap();
        assert_eq!(joined.in_force().key, other_key().public_key());
    }
    // Two changes, and the report signed by the second key or the third.
    let third = numbered(7);
    let longer = KeyHistory::read(rotated().as_bytes())
        .unwrap()
        .rotate(&other_key(), &statement(&third, "2028-01-01T00:00:00Z"))
        .unwrap();
    for signer in [other_key(), third] {
        let found = signed_by(&signer, Some(&longer));
        assert!(found.joining_history(&own, ISSUED).unwrap().is_some());
    }
}

#[test]
fn two_keys_that_no_history_joins_are_refused() {
    let own = key().public_key();
    let other = "the pages were signed with another key than the embedded record";
    assert_eq!(refused(&signed_by(&other_key(), None), &own, ISSUED), other);
    let not_later =
        "by the embedded key history no later key of the record's workshop signed the pages";
    // An earlier key under a later record.
    let backwards = signed_by(&key(), Some(&rotated()));
    assert_eq!(
        refused(
            &backwards,
            &other_key().public_key(),
            "2027-03-01T00:00:00Z"
        ),
        not_later
    );
    // A stranger signs the pages, or sealed the record.
    let stranger = numbered(8);
    assert_eq!(
        refused(&signed_by(&stranger, Some(&rotated())), &own, ISSUED),
        not_later
    );
    let found = signed_by(&other_key(), Some(&rotated()));
    assert_eq!(refused(&found, &stranger.public_key(), ISSUED), not_later);
    let broken = signed_by(
        &other_key(),
        Some(&rotated().replace("another year", "another Year")),
    );
    let error = broken.joining_history(&own, ISSUED).unwrap_err();
    assert!(matches!(error, SuccessorProblem::History(_)), "{error}");
    assert!(
        error
            .to_string()
            .starts_with("embedded `key-history.json`: "),
        "{error}"
    );
}

#[test]
fn a_record_outside_its_keys_time_is_refused() {
    let own = key().public_key();
    let found = signed_by(&other_key(), Some(&rotated()));
    for (issued_at, fits) in [
        ("2025-12-31T23:59:59Z", false),
        (MADE, true),
        ("2026-12-31T23:59:59Z", true),
        (CHANGED, false),
    ] {
        assert_eq!(
            found.joining_history(&own, issued_at).is_ok(),
            fits,
            "{issued_at}"
        );
    }
    assert_eq!(
        refused(&found, &own, CHANGED),
        "by the embedded key history the key of the embedded record did not sign at 2027-01-01T00:00:00Z"
    );
}

#[test]
fn a_revoked_key_is_no_reason_to_refuse_older_records_but_signs_no_pages() {
    let own = key().public_key();
    let history = KeyHistory::read(rotated().as_bytes()).unwrap();
    let revoke = |key: &PublicKey, since: &str| {
        history
            .revoke(&other_key(), key, since, "2027-06-01T00:00:00Z", "lost")
            .unwrap()
    };
    let early = revoke(&own, "2026-06-01T00:00:00Z");
    let found = signed_by(&other_key(), Some(&early));
    assert!(found.joining_history(&own, ISSUED).is_ok());
    assert_eq!(
        refused(&found, &own, "2026-06-01T00:00:00Z"),
        "by the embedded key history the key of the embedded record did not sign at 2026-06-01T00:00:00Z"
    );
    let signer = other_key().public_key();
    let given_up = signed_by(&other_key(), Some(&revoke(&signer, "2027-05-01T00:00:00Z")));
    assert_eq!(
        refused(&given_up, &own, ISSUED),
        format!(
            "by the embedded key history the key that signed the pages, {}, is revoked since 2027-05-01T00:00:00Z",
            signer.fingerprint()
        )
    );
}
