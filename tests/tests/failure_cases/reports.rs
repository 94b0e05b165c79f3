//! Cases 52 to 63: reports. What is done to a whole rendered report stands in `pdf_cases`.

use tangmark_testkit::failures::Kind;

use super::{case, expect, expect_all, judged};

const ALTERED: &str = "1 altered cannot_judge";
const CANNOT: &str = "3 cannot_judge cannot_judge";

#[test]
fn case_52_a_report_cut_off() {
    expect_all(52, Kind::Pdf, 7, CANNOT);
}

#[test]
fn case_53_bytes_behind_the_end() {
    expect_all(53, Kind::Pdf, 4, ALTERED);
}

#[test]
fn case_54_a_further_revision() {
    expect_all(54, Kind::Pdf, 4, ALTERED);
}

#[test]
fn case_55_a_second_signature() {
    expect(
        55,
        Kind::Pdf,
        &[
            ("a second signature in a further revision", ALTERED),
            ("a second signature before the first", CANNOT),
        ],
    );
}

#[test]
fn case_56_other_forms_of_the_signature() {
    expect_all(56, Kind::Pdf, 8, ALTERED);
}

#[test]
fn case_57_other_ranges() {
    expect_all(57, Kind::Pdf, 8, ALTERED);
}

#[test]
fn case_58_a_signature_wrapped_around_something_new() {
    expect_all(58, Kind::Pdf, 2, ALTERED);
}

#[test]
fn case_59_what_a_page_can_hide() {
    expect_all(59, Kind::Pdf, 8, CANNOT);
}

#[test]
fn case_60_what_acts_when_the_file_is_opened() {
    expect_all(60, Kind::Pdf, 7, CANNOT);
}

#[test]
fn case_61_the_embedded_record_is_the_sealed_one() {
    expect(
        61,
        Kind::Pdf,
        &[
            ("the record of another time in it", ALTERED),
            // The proof of the record in it holds, so who sealed that is told.
            (
                "its record written anew",
                "1 altered new, known: 1 altered known",
            ),
            ("its record altered", ALTERED),
        ],
    );
}

#[test]
fn case_62_certificates_and_later_keys() {
    expect(
        62,
        Kind::Pdf,
        &[
            ("a certificate of the same name and another key", ALTERED),
            (
                "an old certificate of the same key",
                "2 intact new, known: 0 intact known",
            ),
            (
                "signed by a later key, with the history",
                "2 intact new, known: 0 intact known",
            ),
            ("signed by a stranger, with the history", ALTERED),
        ],
    );
}

#[test]
fn case_63_a_report_of_an_older_record() {
    let older = case(
        63,
        Kind::Pdf,
        "of the first record while later ones are here",
    );
    // Later ones are here, and the reader is to look at those: with a known signer too.
    expect_all(63, Kind::Pdf, 1, "2 intact new, known: 2 intact known");
    let verdict = judged(older).verdict;
    assert!(verdict.completeness.superseded_by.is_some());
}
