//! Whole verdicts on reports that a later key of the workshop signed: rules K1 to K4 of the page.

use serde_json::{Value, json};
use tangmark_core::json::canonical_bytes;
use tangmark_core::{Digest, schema};

use crate::history::{KeyHistory, Statement, first_entry};
use crate::memory::{Memory, SeenKey};
use crate::pdf::fixture::{CREATED, Draft, certificate_of, force_sign, key, number, other_key};
use crate::pdf::signature_to_stamp;
use crate::timestamp::{Authority, Evidence};
use crate::verdict::{BytesLine, Reader, SignerLine, Verdict, judge};
use crate::{PrivateKey, proof};

const MADE: &str = "2026-01-01T00:00:00Z";
const CHANGED: &str = "2026-06-01T00:00:00Z";
const NAME: &str = "Rill Workshop";

fn paper() -> PrivateKey {
    PrivateKey::from_entropy([9; 32]).unwrap()
}

fn record(version: u32) -> Vec<u8> {
    let unsigned = json!({
        "schema": {
            "id": "tangmark-record", "version": version, "digest": schema::record_digest().to_string()
        },
        "record_id": "000102030405060708090a0b0c0d0e0f",
        "sequence": 1,
        "previous": null,
        "issuer": { "id": key().public_key().did_key(), "name": NAME },
        "purpose": "intake",
        "issued_at": CREATED,
        "blade": {
            "id": "brook", "title": "Long sword `Brook`", "object_type": "sword blade",
            "kind_by_make": "katana", "construction": "shinogi_zukuri"
        }
    });
    let sealed: Value = proof::sign(&unsigned, &key(), CREATED).unwrap();
    canonical_bytes(&sealed).unwrap()
}

/// The history of a workshop that changed from [`key`] to [`other_key`], by rotation or with the key on paper.
fn history(by_paper: bool) -> String {
    let recovery_digest = Digest::of(paper().public_key().compressed());
    let text = first_entry(&key(), MADE, "first", recovery_digest).unwrap();
    let first = KeyHistory::read(text.as_bytes()).unwrap();
    let new = Statement {
        key: &other_key(),
        from: CHANGED,
        reason: "another year",
        recovery_digest,
    };
    if by_paper {
        first.recover(&paper(), &new)
    } else {
        first.rotate(&key(), &new)
    }
    .unwrap()
}

fn report(record: &[u8], history: Option<&str>) -> Vec<u8> {
    let mut draft = Draft::new();
    draft.carry_record(record);
    if let Some(history) = history {
        draft.carry_history(history.as_bytes());
    }
    force_sign(draft.write(), &other_key(), &certificate_of(&other_key()))
}

/// What somebody says who knows one key of the workshop, or none.
fn judged(pdf: &[u8], known: Option<&PrivateKey>) -> Verdict {
    judged_with(pdf, known, &[], &[])
}

fn judged_with(
    file: &[u8],
    known: Option<&PrivateKey>,
    histories: &[KeyHistory],
    evidence: &[Evidence],
) -> Verdict {
    let mut memory = Memory::default();
    if let Some(known) = known {
        let seen = SeenKey::new(NAME, &known.public_key(), "2026-04-01T00:00:00Z", "card");
        assert!(memory.remember(seen).unwrap());
    }
    let reader = Reader {
        own_keys: &[],
        memory: &memory,
        now: "2026-11-25T08:00:00Z",
        others: &[],
        histories,
        evidence,
    };
    judge(file, &reader).verdict
}

fn seen(stamped: Digest) -> Evidence {
    Evidence {
        record: stamped,
        time: "2026-02-01T00:00:00Z".to_owned(),
        authority: "Clock House".to_owned(),
        standing: Authority::Trusted,
    }
}

/// Whoever stole a key can put new pages around a record that was stamped before the theft.
#[test]
fn a_token_over_the_record_says_nothing_of_pages_signed_with_a_revoked_key() {
    let since = "2026-03-01T00:00:00Z";
    let text = first_entry(&key(), MADE, "first", Digest::of(b"paper")).unwrap();
    let first = KeyHistory::read(text.as_bytes()).unwrap();
    let text = first.revoke(&key(), &key().public_key(), since, since, "stolen");
    let revoked = [KeyHistory::read(text.unwrap().as_bytes()).unwrap()];
    let record = record(1);
    let pdf = {
        let mut draft = Draft::new();
        draft.carry_record(&record);
        draft.force_signed()
    };
    let name = proof::record_digest(&serde_json::from_slice(&record).unwrap()).unwrap();
    let (of_record, of_pages) = (seen(name), seen(signature_to_stamp(&pdf).unwrap()));
    let line = |file: &[u8], evidence: &[Evidence]| {
        let verdict = judged_with(file, Some(&key()), &revoked, evidence);
        assert_eq!(verdict.bytes, BytesLine::Intact);
        (verdict.exit_code(), verdict.signer)
    };
    let unproved = |(code, line): (u8, SignerLine)| {
        code == 2 && matches!(line, SignerLine::RevokedUnproved { .. })
    };
    let known =
        |(code, line): (u8, SignerLine)| code == 0 && matches!(line, SignerLine::Known { .. });
    assert!(unproved(line(&record, &[])));
    assert!(known(line(&record, std::slice::from_ref(&of_record))));
    assert!(unproved(line(&pdf, &[])));
    assert!(unproved(line(&pdf, std::slice::from_ref(&of_record))));
    // The signature covers the record.
    assert!(known(line(&pdf, std::slice::from_ref(&of_pages))));
    assert!(known(line(&pdf, &[of_record, of_pages])));
}

/// The same of a later key, which a longer history at hand revokes.
#[test]
fn a_later_key_that_was_revoked_needs_a_token_over_the_report() {
    let since = "2026-09-01T00:00:00Z";
    let (carried, later) = (history(false), other_key().public_key());
    let text = KeyHistory::read(carried.as_bytes()).unwrap().revoke(
        &other_key(),
        &later,
        since,
        since,
        "stolen",
    );
    let longer = [KeyHistory::read(text.unwrap().as_bytes()).unwrap()];
    let record = record(1);
    let pdf = report(&record, Some(&carried));
    let name = proof::record_digest(&serde_json::from_slice(&record).unwrap()).unwrap();
    let verdict = |evidence: &[Evidence]| judged_with(&pdf, Some(&key()), &longer, evidence);
    for evidence in [vec![], vec![seen(name)]] {
        let found = verdict(&evidence);
        assert!(
            matches!(found.signer, SignerLine::RevokedUnproved { .. }),
            "{:?}",
            found.signer
        );
        assert_eq!(found.exit_code(), 2);
    }
    let found = verdict(&[seen(signature_to_stamp(&pdf).unwrap())]);
    assert_eq!(found.exit_code(), 0, "{found:?}");
    assert!(
        found
            .notices
            .iter()
            .any(|one| one.contains("revoked since")),
        "{:?}",
        found.notices
    );
}

#[test]
fn a_reader_who_knows_either_key_knows_the_other_by_rotation() {
    let pdf = report(&record(1), Some(&history(false)));
    for known in [key(), other_key()] {
        let verdict = judged(&pdf, Some(&known));
        assert_eq!(verdict.bytes, BytesLine::Intact);
        assert_eq!(verdict.exit_code(), 0, "{verdict:?}");
        assert_eq!(
            verdict.notices[0],
            format!(
                "the pages were signed by a later key of the workshop, {}, which signs from {CHANGED} on",
                other_key().public_key().fingerprint()
            )
        );
    }
    let verdict = judged(&pdf, None);
    assert!(
        matches!(verdict.signer, SignerLine::New { .. }),
        "{:?}",
        verdict.signer
    );
    assert_eq!(verdict.exit_code(), 2);
}

#[test]
fn by_the_key_on_paper_either_is_to_be_confirmed_once() {
    let pdf = report(&record(1), Some(&history(true)));
    for known in [key(), other_key()] {
        let verdict = judged(&pdf, Some(&known));
        assert_eq!(verdict.bytes, BytesLine::Intact);
        assert!(
            matches!(verdict.signer, SignerLine::Recovered { .. }),
            "{:?}",
            verdict.signer
        );
        assert_eq!(verdict.exit_code(), 2);
    }
}

#[test]
fn two_keys_without_a_history_are_an_altered_report() {
    let altered = |pdf: &[u8]| match judged(pdf, None).bytes {
        BytesLine::Altered { reasons } => reasons.join("; "),
        other => panic!("{other:?}"),
    };
    let other_key = "the pages were signed with another key than the embedded record";
    assert_eq!(altered(&report(&record(1), None)), other_key);
    // Also where the record cannot be interpreted.
    assert_eq!(altered(&report(&record(2), None)), other_key);
    let broken = history(false).replacen("another", "Another", 1);
    assert!(
        altered(&report(&record(1), Some(&broken))).starts_with("embedded `key-history.json`: ")
    );
    let newer = judged(&report(&record(2), Some(&history(false))), None);
    assert!(
        matches!(newer.bytes, BytesLine::CannotJudge { .. }),
        "{:?}",
        newer.bytes
    );
    assert_eq!(newer.exit_code(), 3);
}

/// K5 is not asked of a record that nobody here can interpret.
#[test]
fn disclosures_of_a_newer_record_are_left_alone() {
    let mut draft = Draft::new();
    draft.carry_record(&record(2));
    draft.carry_disclosures(br#"{"format":"tangmark disclosures 1","disclosures":[]}"#);
    let verdict = judged(&draft.force_signed(), None);
    assert!(
        matches!(verdict.bytes, BytesLine::CannotJudge { .. }),
        "{:?}",
        verdict.bytes
    );
    draft.carry_record(&record(1));
    let verdict = judged(&draft.force_signed(), None);
    assert!(
        matches!(verdict.bytes, BytesLine::Altered { .. }),
        "{:?}",
        verdict.bytes
    );
}

#[test]
fn another_time_than_the_records_is_an_altered_report() {
    let word = |time: &str| {
        let mut draft = Draft::new();
        draft.carry_record(&record(1));
        draft.replace(number::SIGNATURE, "/M(D:20260102030405Z)", time);
        judged(&draft.force_signed(), None).bytes
    };
    assert_eq!(word("/M(D:20260102030405Z)"), BytesLine::Intact);
    for (time, told) in [
        ("/M(D:20260102030406Z)", "D:20260102030406Z"),
        ("/M(D:20260102030405+00'00')", "D:20260102030405+00\\'00\\'"),
        ("", "no time"),
    ] {
        let reasons = vec![format!(
            "the report states the time `{told}`, the embedded record {CREATED}"
        )];
        assert_eq!(word(time), BytesLine::Altered { reasons }, "{time}");
    }
}
