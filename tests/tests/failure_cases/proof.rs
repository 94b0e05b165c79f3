//! Cases 14 to 25: the proof of a record.

use tangmark_testkit::failures::Kind;
use tangmark_trust::proof;

use super::{case, cases, expect, expect_all, judged, time_word, words};

const ALTERED: &str = "1 altered cannot_judge";

#[test]
fn case_14_every_field_is_signed() {
    // The trial record has more than 60 fields; each was changed alone.
    let cases = cases(14, Kind::Record);
    assert!(cases.len() >= 60, "{}", cases.len());
    for case in cases {
        // Without the mark of a record nobody can say whose document it is.
        let unmarked = case.name == "changed /schema/id";
        let wanted = if unmarked {
            "3 cannot_judge cannot_judge"
        } else {
            ALTERED
        };
        assert_eq!(words(&judged(case).verdict), wanted, "{}", case.name);
    }
}

#[test]
fn case_15_a_proof_has_six_members() {
    expect_all(15, Kind::Record, 2, ALTERED);
}

#[test]
fn case_16_a_record_has_one_proof() {
    expect_all(16, Kind::Record, 6, ALTERED);
}

#[test]
fn case_17_the_twin_of_a_signature_is_the_same_content() {
    expect_all(
        17,
        Kind::Record,
        1,
        "2 same_content new, known: 0 same_content known",
    );
    let twin = judged(case(17, Kind::Record, "the twin of the signature"));
    let whole = judged(case(36, Kind::Record, "the first alone"));
    assert_eq!(twin.verdict.record, whole.verdict.record);
}

#[test]
fn case_18_signatures_that_are_none() {
    expect_all(18, Kind::Record, 10, ALTERED);
}

#[test]
fn case_19_other_suites_and_kinds_of_key() {
    expect_all(19, Kind::Record, 6, ALTERED);
}

#[test]
fn case_20_points_that_are_none() {
    expect_all(20, Kind::Record, 4, ALTERED);
}

#[test]
fn case_21_a_proof_made_for_something_else() {
    expect_all(21, Kind::Record, 1, ALTERED);
}

#[test]
fn case_22_a_context_changes_what_names_mean() {
    expect_all(22, Kind::Record, 3, ALTERED);
}

#[test]
fn case_23_times_that_are_none_or_too_early_or_to_come() {
    expect(
        23,
        Kind::Record,
        &[
            ("a day that does not exist", ALTERED),
            ("a time with an offset", ALTERED),
            ("words for a time", ALTERED),
            ("created is not issued_at", ALTERED),
            (
                "a time that has not come",
                "2 intact new, known: 0 intact known",
            ),
            ("before the key was in force", "1 intact not_in_force"),
        ],
    );
    let future = judged(case(23, Kind::Record, "a time that has not come"));
    assert_eq!(time_word(&future.verdict), "future");
}

#[test]
fn case_24_the_digest_of_the_options_comes_first() {
    expect_all(24, Kind::Record, 1, ALTERED);
}

#[test]
fn case_25_published_examples_hold_and_are_no_records() {
    // None of them says that it is a record of ours.
    let stranger = "3 cannot_judge cannot_judge";
    expect(
        25,
        Kind::Record,
        &[
            ("published example of P-256", stranger),
            ("published example of P-384", stranger),
            ("published example of Ed25519", stranger),
            ("a foreign key in a record of ours", ALTERED),
        ],
    );
    let example = case(25, Kind::Record, "published example of P-256");
    let value = serde_json::from_slice(example.judged()).unwrap();
    // The first stage takes it: the signature is one of the key that it names.
    assert!(proof::verify(&value).is_ok());
    // Records are signed with P-256 alone. The first stage refuses the two others by the kind of key or suite that they
    // name, before any curve is asked: there is no arithmetic for them here that could be asked.
    for (name, word) in [
        ("published example of P-384", "verificationMethod"),
        ("published example of Ed25519", "cryptosuite"),
    ] {
        let value = serde_json::from_slice(case(25, Kind::Record, name).judged()).unwrap();
        let told = proof::verify(&value).unwrap_err().to_string();
        assert!(told.contains(word), "{name}: {told}");
    }
    assert_eq!(cases(25, Kind::Record).len(), 4);
}
