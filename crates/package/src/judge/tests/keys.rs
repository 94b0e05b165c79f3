//! Key histories and time evidence in packages.

use tangmark_trust::history::{Statement, first_entry};

use super::*;

fn statement(key: &PrivateKey, from: &'static str) -> (String, KeyHistory) {
    let text = first_entry(key, from, "first key", Digest::of(b"recovery")).unwrap();
    let history = KeyHistory::read(text.as_bytes()).unwrap();
    (text, history)
}

fn path(first: u8) -> String {
    format!("data/keys/{}.json", key(first).public_key().fingerprint())
}

/// Key 1, followed by key `next` from the given time on.
fn rotated(next: u8, from: &str) -> String {
    let new = key(next);
    let statement_of = Statement {
        key: &new,
        from,
        reason: "new card",
        recovery_digest: Digest::of(b"recovery"),
    };
    statement(&key(1), "2026-01-01T00:00:00Z")
        .1
        .rotate(&key(1), &statement_of)
        .unwrap()
}

fn with(histories: &[(String, String)]) -> PackageVerdict {
    let histories = histories.to_vec();
    changed(|files| {
        files.extend(
            histories
                .into_iter()
                .map(|(path, text)| (path, text.into())),
        );
    })
}

#[test]
fn a_history_of_the_issuer_fits() {
    let (text, _) = statement(&key(1), "2026-01-01T00:00:00Z");
    let verdict = with(&[(path(1), text)]);
    assert_eq!(
        (verdict.keys[&path(1)].state, verdict.exit),
        (KeysState::Fits, 0)
    );
    assert_eq!(
        verdict.records[&record_path(1)].standing,
        Some(KeyStanding::InForce)
    );
}

#[test]
fn histories_that_do_not_hold_or_are_misnamed_are_refused() {
    let (text, _) = statement(&key(1), "2026-01-01T00:00:00Z");
    for (path, text) in [
        (path(1), text.replace("first key", "other key")),
        (path(2), text),
        (path(1), " ".repeat(300 << 10)),
    ] {
        let verdict = with(&[(path.clone(), text)]);
        assert_eq!(
            (verdict.keys[&path].state, verdict.exit),
            (KeysState::Refused, 1)
        );
        assert_eq!(
            verdict.records[&record_path(1)].standing,
            Some(KeyStanding::NotInHistory)
        );
    }
}

#[test]
fn a_history_of_nobody_here_is_to_be_confirmed() {
    let (text, _) = statement(&key(7), "2026-01-01T00:00:00Z");
    let verdict = with(&[(path(7), text)]);
    assert_eq!(
        (verdict.keys[&path(7)].state, verdict.exit),
        (KeysState::NoIssuer, 2)
    );
}

#[test]
fn case_29_a_record_of_an_older_key_out_of_its_time_is_rejected() {
    // Key 1 until the second record: the first is in force, the second too late.
    let verdict = with(&[(path(1), rotated(2, "2026-03-02T00:00:00Z"))]);
    let standing = |number| verdict.records[&record_path(number)].standing;
    assert_eq!(
        (standing(1), standing(2)),
        (Some(KeyStanding::InForce), Some(KeyStanding::TooLate))
    );
    assert_eq!(verdict.exit, 1);
    // From after the first record on: that one is too early, though the verdict is about the second.
    let (text, _) = statement(&key(1), "2026-03-02T00:00:00Z");
    let verdict = with(&[(path(1), text)]);
    assert_eq!(
        verdict.records[&record_path(1)].standing,
        Some(KeyStanding::TooEarly)
    );
    assert_eq!(verdict.exit, 1);
}

#[test]
fn case_31_a_history_that_disagrees_with_the_readers_is_a_fork() {
    let mine = KeyHistory::read(rotated(3, "2026-10-01T00:00:00Z").as_bytes()).unwrap();
    let mut files = package(&chain(1));
    files.insert(path(1), rotated(2, "2026-10-01T00:00:00Z").into());
    manifests(&mut files);
    let (memory, histories) = (memory(), [mine]);
    let reader = PackageReader {
        histories: &histories,
        ..reader(&memory)
    };
    let verdict = judge_bytes(zipped(&files), &reader);
    assert_eq!(
        (verdict.keys[&path(1)].state, verdict.exit),
        (KeysState::Fork, 1)
    );
    assert_eq!(
        verdict.records[&record_path(1)].standing,
        Some(KeyStanding::TwoHistories)
    );
}

#[test]
fn records_chain_across_keys() {
    let records = chain(1);
    let mut second = unsigned(Some(&records[0]));
    second["issuer"]["id"] = json!(key(2).public_key().did_key());
    let mut files = package(&[records[0].clone(), seal_with(&second, &key(2))]);
    files.insert(path(1), rotated(2, "2026-03-02T00:00:00Z").into());
    manifests(&mut files);
    let verdict = judged(&files);
    assert_eq!(
        (verdict.exit, verdict.chain.state),
        (0, ChainState::Whole),
        "{verdict:#?}"
    );
    let subject = verdict.subject.unwrap().verdict;
    assert!(
        matches!(subject.signer, trust::SignerLine::Succeeded { .. }),
        "{:?}",
        subject.signer
    );
    assert_eq!(subject.completeness.other_keys, 0);
}

#[test]
fn case_64_time_evidence_that_speaks_of_something_else_is_refused() {
    let token = include_bytes!("../../../../trust/tests/timestamps/by-key.tsr");
    let at = "data/timestamps/02-harbour.tsr";
    for bytes in [&token[..], b"words", b"", &vec![0x30; 70_000]] {
        let verdict = changed(|files| {
            files.insert(at.to_owned(), bytes.to_vec());
        });
        assert_eq!(
            (verdict.timestamps[at].state, verdict.exit),
            (TimestampState::Refused, 1)
        );
        assert!(verdict.timestamps[at].reason.is_some());
    }
    let none = "data/timestamps/09-harbour.tsr";
    let verdict = changed(|files| {
        files.insert(none.to_owned(), token.to_vec());
    });
    assert_eq!(
        (verdict.timestamps[none].state, verdict.exit),
        (TimestampState::NoRecord, 1)
    );
}

#[test]
fn case_31_histories_that_share_a_key_and_begin_otherwise_are_forks() {
    let own = rotated(2, "2026-10-01T00:00:00Z");
    // Whoever has key 2 writes a history that begins with it.
    let (other, _) = statement(&key(2), "2026-01-01T00:00:00Z");
    let verdict = with(&[(path(1), own.clone()), (path(2), other.clone())]);
    assert_eq!(
        (verdict.keys[&path(1)].state, verdict.keys[&path(2)].state),
        (KeysState::Fork, KeysState::Fork)
    );
    assert_eq!(verdict.exit, 1);
    let reason = verdict.keys[&path(2)].reason.clone().unwrap();
    assert!(
        reason.starts_with("another one in the package has the key"),
        "{reason}"
    );

    // The same where the reader has the one and the package the other.
    let mut files = package(&chain(1));
    files.insert(path(1), own.into());
    manifests(&mut files);
    let (memory, histories) = (memory(), [KeyHistory::read(other.as_bytes()).unwrap()]);
    let reader = PackageReader {
        histories: &histories,
        ..reader(&memory)
    };
    let verdict = judge_bytes(zipped(&files), &reader);
    assert_eq!(verdict.keys[&path(1)].state, KeysState::Fork);
}
