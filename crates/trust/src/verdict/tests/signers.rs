//! Whose key: known, new, other than remembered; and the time it states.

use super::*;

#[test]
fn a_new_key_gives_two_and_its_whole_fingerprint() {
    let verdict = stranger(&sealed());
    let fingerprint = key(1).public_key().fingerprint().to_string();
    assert_eq!(verdict.bytes, BytesLine::Intact);
    assert_eq!(verdict.signer, SignerLine::New { fingerprint });
    assert_eq!(verdict.exit_code(), 2);
}

#[test]
fn a_key_seen_before_under_its_name_gives_zero() {
    let verdict = with(&sealed(), &remembering(NAME, 1), &[]);
    assert_eq!(
        verdict.signer,
        SignerLine::Known {
            since: "2026-04-01T00:00:00Z".to_owned()
        }
    );
    assert_eq!(verdict.exit_code(), 0);
}

/// Case 26.
#[test]
fn case_26_the_name_with_another_key_gives_two_and_both_fingerprints() {
    let forged = seal(&unsigned(&key(2)), &key(2));
    let verdict = with(&forged, &remembering(NAME, 1), &[]);
    assert_eq!(verdict.bytes, BytesLine::Intact);
    let expected = SignerLine::OtherKeyForName {
        fingerprint: key(2).public_key().fingerprint().to_string(),
        remembered: vec![key(1).public_key().fingerprint().to_string()],
    };
    assert_eq!(verdict.signer, expected);
    assert_eq!(verdict.exit_code(), 2);
    // Capitals and spaces make no other name.
    assert_eq!(
        with(&forged, &remembering("RILL  workshop ", 1), &[]).signer,
        expected
    );
}

#[test]
fn a_known_key_under_another_name_gives_two() {
    let verdict = with(&sealed(), &remembering("Mill Workshop", 1), &[]);
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
fn changed_outranks_everything_about_the_signer() {
    let changed = String::from_utf8(sealed())
        .unwrap()
        .replacen("Brook", "Crook", 1)
        .into_bytes();
    let memories = [
        Memory::default(),
        remembering(NAME, 1),
        remembering(NAME, 2),
        remembering("Mill Workshop", 1),
    ];
    for memory in &memories {
        let verdict = with(&changed, memory, &[]);
        assert!(matches!(verdict.bytes, BytesLine::Altered { .. }));
        let reason = "the bytes are not what was signed".to_owned();
        assert_eq!(verdict.signer, SignerLine::CannotJudge { reason });
        assert_eq!(
            (
                verdict.key.as_ref(),
                verdict.fingerprint.as_ref(),
                verdict.issuer.as_ref()
            ),
            (None, None, None)
        );
        assert_eq!(verdict.exit_code(), 1);
    }
    assert_eq!(owner(&changed, &[]).exit_code(), 1);
}

/// Case 23: told, not refused, since the clock may be the wrong one.
#[test]
fn case_23_a_time_that_has_not_come_is_told() {
    let mut record = unsigned(&key(1));
    record["issued_at"] = json!("2031-01-01T00:00:00Z");
    let verdict = owner(&seal(&record, &key(1)), &[]);
    assert_eq!(
        verdict.time,
        TimeLine::Future {
            stated: "2031-01-01T00:00:00Z".to_owned()
        }
    );
    assert_eq!(verdict.exit_code(), 0);
    // The very second is no future.
    record["issued_at"] = json!(NOW);
    let verdict = owner(&seal(&record, &key(1)), &[]);
    assert_eq!(
        verdict.time,
        TimeLine::OwnWord {
            stated: NOW.to_owned()
        }
    );
}
