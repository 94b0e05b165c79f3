//! Verdicts on real reports: rendered, signed, and put together from parts that do not belong together.
#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

use serde_json::{Value, json};
use tangmark_core::json::canonical_bytes;
use tangmark_testkit::sealed::{ISSUED_AT, Trial, key, sign_report, sign_report_with};
use tangmark_trust::memory::Memory;
use tangmark_trust::verdict::{self, BytesLine, FileKind, Reader, SignerLine, TimeLine, Verdict};
use tangmark_trust::{PrivateKey, proof};

fn judge(pdf: &[u8]) -> Verdict {
    let own_keys = [key().unwrap().public_key()];
    let memory = Memory::default();
    let reader = Reader {
        own_keys: &own_keys,
        memory: &memory,
        now: "2026-11-25T08:00:00Z",
        others: &[],
        histories: &[],
        evidence: &[],
    };
    verdict::judge(pdf, &reader).verdict
}

fn reasons(verdict: &Verdict) -> Vec<String> {
    match &verdict.bytes {
        BytesLine::Altered { reasons } | BytesLine::CannotJudge { reasons } => reasons.clone(),
        other => panic!("{other}"),
    }
}

/// A report without its signature.
fn unsigned() -> Vec<u8> {
    let trial = Trial::new(2).unwrap();
    let sealed = trial.seal().unwrap();
    trial.render(&sealed).unwrap().0
}

fn stranger() -> PrivateKey {
    PrivateKey::from_entropy([0x21; 32]).unwrap()
}

/// Replaces a text that stands in the file once by one as long.
fn replaced(pdf: &[u8], from: &str, to: &str) -> Vec<u8> {
    assert_eq!(from.len(), to.len());
    let places: Vec<usize> = pdf
        .windows(from.len())
        .enumerate()
        .filter(|(_, window)| *window == from.as_bytes())
        .map(|(at, _)| at)
        .collect();
    assert_eq!(
        places.len(),
        1,
        "`{from}` stands in the file {} times",
        places.len()
    );
    let mut changed = pdf.to_vec();
    changed[places[0]..places[0] + to.len()].copy_from_slice(to.as_bytes());
    changed
}

#[test]
fn a_signed_report_is_intact() {
    let verdict = judge(&sign_report(unsigned()).unwrap());
    assert_eq!(verdict.kind, FileKind::Pdf);
    assert_eq!(verdict.bytes, BytesLine::Intact);
    assert_eq!(verdict.signer, SignerLine::Own);
    assert_eq!(
        verdict.time,
        TimeLine::OwnWord {
            stated: ISSUED_AT.to_owned()
        }
    );
    assert_eq!(verdict.exit_code(), 0);
    assert_eq!(
        verdict.notices[0],
        "demonstration: this key is a throw-away and stands for nobody"
    );
}

#[test]
fn a_report_without_signature_cannot_be_judged() {
    assert_eq!(judge(&unsigned()).exit_code(), 3);
}

/// Case 62 of the list of failures: the pages by one key, the record by another.
#[test]
fn pages_signed_by_another_key_than_the_record_are_altered() {
    let verdict = judge(&sign_report_with(unsigned(), &stranger()).unwrap());
    assert_eq!(verdict.kind, FileKind::Pdf);
    assert_eq!(
        reasons(&verdict),
        ["the pages were signed with another key than the embedded record"]
    );
    assert_eq!(verdict.exit_code(), 1);
    assert_eq!((verdict.record, verdict.key), (None, None));
}

/// The report says when it was signed; that is the record's time and no other.
#[test]
fn a_report_that_states_another_time_than_its_record_is_altered() {
    let later = replaced(
        &unsigned(),
        "/M(D:20260301093000Z)",
        "/M(D:20260301093001Z)",
    );
    let verdict = judge(&sign_report(later).unwrap());
    let reason =
        "the report states the time `D:20260301093001Z`, the embedded record 2026-03-01T09:30:00Z";
    assert_eq!(reasons(&verdict), [reason]);
    assert_eq!(verdict.exit_code(), 1);
}

/// Puts other bytes in place of the embedded record, by writing the report of those bytes' own record.
fn with_record(record: &Value) -> Vec<u8> {
    let bytes = canonical_bytes(record).unwrap();
    Trial::new(2).unwrap().render(&bytes).unwrap().0
}

/// Case 38, in a report: what cannot be interpreted does not hide a key that does not fit.
#[test]
fn a_newer_record_cannot_be_judged_unless_the_keys_differ() {
    let mut record = Trial::new(2).unwrap().unsigned;
    record["schema"]["version"] = json!(2);
    let sealed = proof::sign(&record, &key().unwrap(), ISSUED_AT).unwrap();
    let pdf = with_record(&sealed);
    let verdict = judge(&sign_report(pdf.clone()).unwrap());
    assert_eq!(
        reasons(&verdict),
        [
            "embedded record: signature holds, but schema version 2 is not known here (version 1 is): \
          contents cannot be interpreted"
        ]
    );
    assert_eq!(verdict.exit_code(), 3);
    let verdict = judge(&sign_report_with(pdf, &stranger()).unwrap());
    assert_eq!(
        reasons(&verdict),
        ["the pages were signed with another key than the embedded record"]
    );
    assert_eq!(verdict.exit_code(), 1);
}

/// Case 61: the record inside was changed before the pages were signed.
#[test]
fn a_report_around_a_changed_record_is_altered() {
    let mut record: Value =
        serde_json::from_slice(&Trial::new(2).unwrap().seal().unwrap()).unwrap();
    record["decision"]["reason"] = json!("Nothing to see.");
    let verdict = judge(&sign_report(with_record(&record)).unwrap());
    assert_eq!(
        reasons(&verdict),
        [
            "embedded record: proof: the signature does not match the document and the key named in it"
        ]
    );
    assert_eq!(verdict.exit_code(), 1);
}

/// The record inside is the sealed file, byte for byte, not a copy of its content.
#[test]
fn a_report_around_a_record_written_anew_is_altered() {
    let trial = Trial::new(2).unwrap();
    let sealed: Value = serde_json::from_slice(&trial.seal().unwrap()).unwrap();
    let pretty = serde_json::to_vec_pretty(&sealed).unwrap();
    let verdict = judge(&sign_report(trial.render(&pretty).unwrap().0).unwrap());
    assert_eq!(
        reasons(&verdict),
        ["the embedded record is not in its sealed bytes"]
    );
    assert_eq!(verdict.exit_code(), 1);
}
