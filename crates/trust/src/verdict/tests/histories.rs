//! Key histories and time evidence: every state of the signer's line, and who says when.

use super::*;
use crate::history::{KeyHistory, Standing, Statement, first_entry};
use crate::recovery::Recovery;
use crate::timestamp::{Authority, Evidence};

/// Key 1 signs from the day before the records of these tests were sealed.
const FROM: &str = "2026-02-28T09:30:00Z";
/// The next key signs from here.
const LATER: &str = "2026-04-01T00:00:00Z";

fn read(text: &str) -> KeyHistory {
    KeyHistory::read(text.as_bytes()).unwrap()
}

fn paper() -> Recovery {
    Recovery::from_entropy(&[77; 20]).unwrap()
}

fn first(byte: u8, from: &str) -> KeyHistory {
    read(&first_entry(&key(byte), from, "first", paper().digest()).unwrap())
}

fn statement<'a>(key: &'a PrivateKey, from: &'a str) -> Statement<'a> {
    Statement {
        key,
        from,
        reason: "next",
        recovery_digest: paper().digest(),
    }
}

/// Key 1, then key 2.
fn rotated() -> KeyHistory {
    read(
        &first(1, FROM)
            .rotate(&key(1), &statement(&key(2), LATER))
            .unwrap(),
    )
}

/// Key 1, then key 2 by the paper.
fn recovered() -> KeyHistory {
    read(
        &first(1, FROM)
            .recover(paper().key(), &statement(&key(2), LATER))
            .unwrap(),
    )
}

/// Key 1, revoked since the given time.
fn revoked(since: &str) -> KeyHistory {
    let public = key(1).public_key();
    read(
        &first(1, FROM)
            .revoke(&key(1), &public, since, NOW, "stolen")
            .unwrap(),
    )
}

fn fingerprint(byte: u8) -> String {
    key(byte).public_key().fingerprint().to_string()
}

fn sealed_at(byte: u8, issued_at: &str) -> Vec<u8> {
    let mut record = unsigned(&key(byte));
    record["issued_at"] = json!(issued_at);
    seal(&record, &key(byte))
}

fn seen(bytes: &[u8], time: &str, standing: Authority) -> Evidence {
    Evidence {
        record: named(bytes),
        time: time.to_owned(),
        authority: "Clock House".to_owned(),
        standing,
    }
}

fn judged(
    bytes: &[u8],
    memory: &Memory,
    histories: &[KeyHistory],
    evidence: &[Evidence],
) -> Verdict {
    judge(
        bytes,
        &Reader {
            own_keys: &[],
            memory,
            now: NOW,
            others: &[],
            histories,
            evidence,
        },
    )
    .verdict
}

/// Case 29.
#[test]
fn case_29_a_rotated_key_counts_within_its_time() {
    let histories = [rotated()];
    let memory = remembering(NAME, 1);
    let inside = judged(&sealed(), &memory, &histories, &[]);
    assert!(matches!(inside.signer, SignerLine::Known { .. }));
    assert_eq!(inside.exit_code(), 0);
    for (byte, time, when) in [
        (1, "2026-02-28T09:29:59Z", Standing::TooEarly),
        (1, LATER, Standing::TooLate),
        (2, "2026-03-31T23:59:59Z", Standing::TooEarly),
    ] {
        for memory in [&memory, &remembering(NAME, 2), &Memory::default()] {
            let verdict = judged(&sealed_at(byte, time), memory, &histories, &[]);
            assert_eq!(verdict.bytes, BytesLine::Intact);
            let SignerLine::NotInForce { when: found, .. } = &verdict.signer else {
                panic!("{:?}", verdict.signer)
            };
            assert_eq!((*found, verdict.exit_code()), (when, 1), "{byte} {time}");
        }
    }
    // The same record without a history is judged as before.
    let verdict = judged(&sealed_at(1, LATER), &memory, &[], &[]);
    assert_eq!(verdict.exit_code(), 0);
}

#[test]
fn a_rotation_is_followed_from_a_key_that_is_known() {
    let bytes = sealed_at(2, LATER);
    let memory = remembering(NAME, 1);
    // Without the history it is a stranger's key under a known name.
    assert!(matches!(
        judged(&bytes, &memory, &[], &[]).signer,
        SignerLine::OtherKeyForName { .. }
    ));
    let verdict = judged(&bytes, &memory, &[rotated()], &[]);
    assert_eq!(
        verdict.signer,
        SignerLine::Succeeded {
            fingerprint: fingerprint(2),
            known: fingerprint(1),
            since: LATER.to_owned(),
            from: LATER.to_owned(),
            backwards: false
        }
    );
    assert_eq!(verdict.exit_code(), 0);
    // Backwards: the reader knows the later key, the record is an older one.
    let verdict = judged(&sealed(), &remembering(NAME, 2), &[rotated()], &[]);
    assert!(matches!(
        verdict.signer,
        SignerLine::Succeeded {
            backwards: true,
            ..
        }
    ));
    assert_eq!(verdict.exit_code(), 0);
    // Nobody known on the way, or somebody under another name.
    let verdict = judged(&bytes, &Memory::default(), &[rotated()], &[]);
    assert!(matches!(verdict.signer, SignerLine::New { .. }));
    let verdict = judged(&bytes, &remembering("Mill Workshop", 1), &[rotated()], &[]);
    let remembered = vec!["Mill Workshop".to_owned()];
    assert_eq!(
        verdict.signer,
        SignerLine::OtherNameForKey {
            name: NAME.to_owned(),
            remembered
        }
    );
    assert_eq!(verdict.exit_code(), 2);
}

#[test]
fn a_recovery_is_to_be_confirmed() {
    let verdict = judged(
        &sealed_at(2, LATER),
        &remembering(NAME, 1),
        &[recovered()],
        &[],
    );
    assert_eq!(
        verdict.signer,
        SignerLine::Recovered {
            fingerprint: fingerprint(2),
            known: fingerprint(1),
            from: LATER.to_owned()
        }
    );
    assert_eq!(verdict.exit_code(), 2);
    // Confirmed: the reader knows the new key itself.
    let verdict = judged(
        &sealed_at(2, LATER),
        &remembering(NAME, 2),
        &[recovered()],
        &[],
    );
    assert_eq!(verdict.exit_code(), 0);
}

/// Case 30.
#[test]
fn case_30_a_revoked_key_with_and_without_outside_evidence() {
    let memory = remembering(NAME, 1);
    let since = [revoked("2026-03-15T00:00:00Z")];
    let earlier = [revoked(SEALED)];
    let bytes = sealed();
    let early = "2026-03-02T00:00:00Z";
    let late = "2026-03-15T00:00:00Z";

    let verdict = judged(&bytes, &memory, &earlier, &[]);
    assert!(matches!(verdict.signer, SignerLine::Revoked { .. }));
    assert_eq!(verdict.exit_code(), 1);
    let trusted = seen(&bytes, early, Authority::Trusted);
    let verdict = judged(&bytes, &memory, &earlier, std::slice::from_ref(&trusted));
    assert_eq!(verdict.exit_code(), 1);

    let unproved = [
        vec![],
        vec![seen(&bytes, early, Authority::Unknown)],
        vec![seen(&bytes, early, Authority::Workshop)],
        vec![seen(&bytes, late, Authority::Trusted)],
        // Of another record.
        vec![seen(&sealed_at(1, NOW), early, Authority::Trusted)],
    ];
    for evidence in &unproved {
        let verdict = judged(&bytes, &memory, &since, evidence);
        assert_eq!(
            verdict.signer,
            SignerLine::RevokedUnproved {
                fingerprint: fingerprint(1),
                since: late.to_owned()
            },
            "{evidence:?}"
        );
        assert_eq!((verdict.exit_code(), verdict.notices.len()), (2, 0));
    }
    let evidence = [seen(&bytes, late, Authority::Trusted), trusted];
    let verdict = judged(&bytes, &memory, &since, &evidence);
    assert!(matches!(verdict.signer, SignerLine::Known { .. }));
    assert_eq!(verdict.exit_code(), 0);
    assert_eq!(
        verdict.notices,
        [format!(
            "the key {} is revoked since {late}; `Clock House`, which you trust, saw this record before that, at {early}",
            fingerprint(1)
        )]
    );
    // Proved, but a stranger's all the same.
    let verdict = judged(&bytes, &Memory::default(), &since, &evidence);
    assert!(matches!(verdict.signer, SignerLine::New { .. }));
    assert_eq!((verdict.exit_code(), verdict.notices.len()), (2, 1));
}

/// Case 31.
#[test]
fn case_31_two_histories_are_shown_and_neither_is_relied_on() {
    let fork = read(
        &first(1, FROM)
            .rotate(&key(1), &statement(&key(3), NOW))
            .unwrap(),
    );
    let bytes = sealed();
    for histories in [[rotated(), fork.clone()], [fork, rotated()]] {
        let own = [key(1).public_key()];
        let memory = remembering(NAME, 1);
        let reader = Reader {
            own_keys: &own,
            memory: &memory,
            now: NOW,
            others: &[],
            histories: &histories,
            evidence: &[],
        };
        let verdict = judge(&bytes, &reader).verdict;
        let SignerLine::TwoHistories {
            entry, in_force, ..
        } = &verdict.signer
        else {
            panic!("{:?}", verdict.signer)
        };
        let mut both = in_force.to_vec();
        both.sort();
        let mut expected = [fingerprint(2), fingerprint(3)];
        expected.sort();
        assert_eq!((*entry, both), (2, expected.to_vec()));
        assert_eq!(verdict.exit_code(), 1);
    }
}

/// Whoever stole key 2 begins a history with it that leaves its revocation out, and seals with a key named there.
#[test]
fn case_31_a_history_that_begins_with_a_stolen_key_is_not_relied_on() {
    let stolen = read(
        &rotated()
            .revoke(&key(2), &key(2).public_key(), NOW, NOW, "stolen")
            .unwrap(),
    );
    let theirs = read(
        &first(2, LATER)
            .rotate(&key(2), &statement(&key(3), "2026-10-01T00:00:00Z"))
            .unwrap(),
    );
    let bytes = sealed_at(3, "2026-11-01T00:00:00Z");
    let memory = remembering(NAME, 2);
    // Alone it is believed: there is nothing against it.
    let alone = judged(&bytes, &memory, std::slice::from_ref(&theirs), &[]);
    assert!(matches!(alone.signer, SignerLine::Succeeded { .. }));
    for histories in [[stolen.clone(), theirs.clone()], [theirs, stolen]] {
        let verdict = judged(&bytes, &memory, &histories, &[]);
        assert!(
            matches!(verdict.signer, SignerLine::TwoHistories { entry: 1, .. }),
            "{:?}",
            verdict.signer
        );
        assert_eq!(verdict.exit_code(), 1);
    }
}

#[test]
fn changed_outranks_what_histories_say() {
    let changed = String::from_utf8(sealed_at(1, LATER))
        .unwrap()
        .replacen("Brook", "Crook", 1)
        .into_bytes();
    let verdict = judged(&changed, &remembering(NAME, 1), &[rotated()], &[]);
    assert!(matches!(verdict.bytes, BytesLine::Altered { .. }));
    assert!(matches!(verdict.signer, SignerLine::CannotJudge { .. }));
    assert_eq!(verdict.exit_code(), 1);
}

/// A history of somebody else says nothing.
#[test]
fn a_history_that_does_not_name_the_key_changes_nothing() {
    let histories = [first(8, FROM)];
    for memory in [
        remembering(NAME, 1),
        remembering(NAME, 2),
        Memory::default(),
    ] {
        let without = judged(&sealed(), &memory, &[], &[]);
        assert_eq!(judged(&sealed(), &memory, &histories, &[]), without);
    }
}

#[test]
fn who_says_when_is_told_with_the_best_witness() {
    use Authority::{Trusted, Unknown, Workshop};
    let bytes = sealed();
    let time = |evidence: &[Evidence]| judged(&bytes, &Memory::default(), &[], evidence).time;
    let (t1, t2, before) = (
        "2026-03-02T00:00:00Z",
        "2026-03-03T00:00:00Z",
        "2026-02-01T00:00:00Z",
    );
    let at = |time, standing| seen(&bytes, time, standing);
    let line = |time: &str, standing| TimeLine::NotLaterThan {
        stated: SEALED.to_owned(),
        time: time.to_owned(),
        authority: "Clock House".to_owned(),
        standing,
    };
    assert_eq!(time(&[at(t1, Unknown)]), line(t1, Unknown));
    assert_eq!(time(&[at(t2, Trusted), at(t1, Unknown)]), line(t2, Trusted));
    assert_eq!(time(&[at(t2, Trusted), at(t1, Trusted)]), line(t1, Trusted));
    assert_eq!(
        time(&[at(t1, Workshop), at(t2, Unknown)]),
        line(t2, Unknown)
    );
    assert_eq!(time(&[at(SEALED, Trusted)]), line(SEALED, Trusted));
    let other = seen(&sealed_at(1, NOW), t1, Trusted);
    assert!(matches!(time(&[other]), TimeLine::OwnWord { .. }));
    assert!(matches!(
        time(&[at(before, Unknown)]),
        TimeLine::StatedLater {
            standing: Unknown,
            ..
        }
    ));
}

/// Case 23: a time in the future, and a time that a witness contradicts.
#[test]
fn case_23_a_stated_time_after_the_evidence_is_told() {
    let bytes = sealed_at(1, "2031-01-01T00:00:00Z");
    let evidence = [seen(&bytes, SEALED, Authority::Trusted)];
    let verdict = judged(&bytes, &remembering(NAME, 1), &[], &evidence);
    assert_eq!(
        verdict.time,
        TimeLine::StatedLater {
            stated: "2031-01-01T00:00:00Z".to_owned(),
            time: SEALED.to_owned(),
            authority: "Clock House".to_owned(),
            standing: Authority::Trusted
        }
    );
    assert_eq!(verdict.exit_code(), 0);
    assert_eq!(
        verdict.next_steps()[0],
        "ask the workshop which time is right"
    );
}

/// A chain that goes on with the next key is one hand; one that a stranger goes on with is not.
#[test]
fn records_chain_across_keys() {
    let before = sealed();
    let record = next(&before, &key(2), LATER);
    let bytes = seal(&record, &key(2));
    let others = [before];
    let count = |histories: &[KeyHistory]| {
        let reader = Reader {
            own_keys: &[],
            memory: &Memory::default(),
            now: NOW,
            others: &others,
            histories,
            evidence: &[],
        };
        let completeness = judge(&bytes, &reader).verdict.completeness;
        assert_eq!(completeness.broken, None);
        completeness.other_keys
    };
    assert_eq!(count(&[]), 1);
    assert_eq!(count(&[rotated()]), 0);
    assert_eq!(count(&[recovered()]), 1);
}
