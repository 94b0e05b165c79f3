//! Cases 33 to 40: records beside each other. (The same as packages: `packages`.)

use tangmark_testkit::failures::Kind;

use super::{case, expect, expect_all, judged};

#[test]
fn case_33_a_chain_without_its_middle() {
    expect_all(33, Kind::Record, 1, "1 intact new, known: 1 intact known");
    let verdict = judged(case(33, Kind::Record, "the third with the first alone")).verdict;
    assert!(verdict.completeness.broken.is_some());
}

#[test]
fn case_34_a_record_of_another_blade_is_left_aside() {
    expect_all(34, Kind::Record, 1, "2 intact new, known: 0 intact known");
    let verdict = judged(case(
        34,
        Kind::Record,
        "a record of another blade beside it",
    ))
    .verdict;
    assert_eq!(verdict.completeness.supplied, 1);
    assert_eq!(verdict.completeness.ignored.len(), 1);
}

#[test]
fn case_35_two_successors_are_both_named() {
    expect_all(35, Kind::Record, 1, "1 intact new, known: 1 intact known");
    let files = &case(35, Kind::Record, "two second records").files;
    let broken = judged(case(35, Kind::Record, "two second records"))
        .verdict
        .completeness
        .broken
        .unwrap();
    // Both are named, by their digests.
    for index in [0, 2] {
        let name = super::beside::name(&files[index].1);
        assert!(broken.contains(&name), "{broken}");
    }
}

#[test]
fn case_36_an_older_record_is_told_when_the_later_one_is_here() {
    expect(
        36,
        Kind::Record,
        &[
            ("the first alone", "2 intact new, known: 0 intact known"),
            (
                "the first while the second is here",
                "2 intact new, known: 2 intact known",
            ),
        ],
    );
    let alone = judged(case(36, Kind::Record, "the first alone")).verdict;
    assert_eq!(alone.completeness.superseded_by, None);
    assert!(
        alone
            .completeness
            .to_string()
            .contains("whether a later one exists cannot be known from here")
    );
    let beside = judged(case(36, Kind::Record, "the first while the second is here")).verdict;
    assert!(beside.completeness.superseded_by.is_some());
}

#[test]
fn case_37_numbers_and_predecessors_that_cannot_be() {
    expect(
        37,
        Kind::Record,
        &[
            (
                "a first record with a predecessor",
                "1 altered new, known: 1 altered known",
            ),
            (
                "a second record without a predecessor",
                "1 altered new, known: 1 altered known",
            ),
            (
                "issued before the one before it",
                "1 intact new, known: 1 intact known",
            ),
        ],
    );
}

#[test]
fn case_38_a_newer_version_cannot_be_interpreted() {
    expect_all(
        38,
        Kind::Record,
        1,
        "3 cannot_judge new, known: 3 cannot_judge known",
    );
}

#[test]
fn case_39_another_schema_is_no_record_of_this_version() {
    expect_all(39, Kind::Record, 1, "1 altered new, known: 1 altered known");
}

#[test]
fn case_40_a_withdrawal_is_told_first() {
    expect_all(40, Kind::Record, 1, "2 intact new, known: 2 intact known");
    let verdict = judged(case(40, Kind::Record, "a withdrawal alone")).verdict;
    let place = verdict
        .notices
        .iter()
        .position(|notice| notice == "this record withdraws an earlier one");
    assert_eq!(place, Some(0), "{:?}", verdict.notices);
}
