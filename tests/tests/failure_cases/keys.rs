//! Cases 26 to 32: whose key.

use tangmark_testkit::failures::Kind;
use tangmark_trust::history::{Agreement, KeyHistory};
use tangmark_trust::memory::Memory;

use super::{case, expect, expect_all, judged, words};

const ALTERED: &str = "1 altered cannot_judge";

#[test]
fn case_26_the_workshops_name_with_another_key() {
    expect_all(
        26,
        Kind::Record,
        1,
        "2 intact new, known: 2 intact other_key_for_name",
    );
    let stranger = case(
        26,
        Kind::Record,
        "sealed by a stranger under the workshop's name",
    );
    let verdict = super::judged_with(stranger, &super::card()).verdict;
    assert!(
        verdict
            .signer
            .to_string()
            .starts_with("not the key you know")
    );
}

#[test]
fn case_27_the_issuer_is_who_signed() {
    expect_all(27, Kind::Record, 1, ALTERED);
}

#[test]
fn case_28_a_method_names_one_key_twice() {
    expect_all(28, Kind::Record, 4, ALTERED);
}

#[test]
fn case_29_a_key_signs_within_its_interval() {
    expect(
        29,
        Kind::Record,
        &[
            (
                "first key, while it was in force",
                "2 intact new, known: 0 intact known",
            ),
            (
                "first key, at the moment of the second",
                "1 intact not_in_force",
            ),
            ("second key, before it came", "1 intact not_in_force"),
            (
                "second key, while it is in force",
                "2 intact new, known: 0 intact succeeded",
            ),
        ],
    );
    expect_all(29, Kind::Keys, 1, "accepted");
}

#[test]
fn case_30_a_revoked_key_needs_outside_evidence() {
    expect(
        30,
        Kind::Record,
        &[
            (
                "before the theft, without outside evidence",
                "2 intact revoked_unproved",
            ),
            ("after the theft", "1 intact revoked"),
            (
                "before the theft, with outside evidence",
                "2 intact new, known: 0 intact known",
            ),
            (
                "before the theft, with evidence of a day after it",
                "2 intact revoked_unproved",
            ),
        ],
    );
}

/// Only a trusted authority clears a record of a revoked key: the same token counts for nothing where nobody trusts it.
#[test]
fn case_30_the_authority_must_be_trusted() {
    let cleared = case(30, Kind::Record, "before the theft, with outside evidence");
    let said = judged(cleared).verdict;
    assert_eq!(super::time_said(&said), "not_later_than trusted");
    let mut untrusted = cleared.clone();
    untrusted.files.retain(|(name, _)| name != "root.pem");
    for memory in [Memory::default(), super::card()] {
        let said = super::judged_with(&untrusted, &memory).verdict;
        assert_eq!(words(&said), "2 intact revoked_unproved");
        assert_eq!(super::time_said(&said), "not_later_than unknown");
    }
}

#[test]
fn case_31_two_successors_are_a_fork() {
    let fork = case(31, Kind::Keys, "two successors of one key");
    let [one, other] = [0, 1].map(|index| KeyHistory::read(&fork.files[index].1).unwrap());
    assert_eq!(one.compare(&other), Agreement::Fork { entry: 2 });
    expect_all(31, Kind::Record, 1, "1 intact two_histories");
    expect(
        31,
        Kind::Keys,
        &[
            ("two successors of one key", "accepted"),
            ("a rotation that a stranger signed", "refused"),
            ("a recovery by another key than the one on paper", "refused"),
            ("a recovery by the key on paper", "accepted"),
            ("a time that runs back", "refused"),
            ("a key that comes twice", "refused"),
            ("entries in another order", "refused"),
            ("a revocation of a key that is not in it", "refused"),
            ("revoked before the theft", "refused"),
            ("a revocation that a stranger signed", "refused"),
            ("a statement changed", "refused"),
            ("a further member", "refused"),
            ("the twin of a signature", "refused"),
            ("no entries", "refused"),
        ],
    );
}

#[test]
fn case_32_keys_of_specifications_are_refused() {
    expect_all(32, Kind::Record, 1, ALTERED);
    expect_all(32, Kind::Keys, 1, "refused");
}
