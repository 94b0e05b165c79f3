//! Cases 1 to 13: the text of a record.

use std::time::{Duration, Instant};

use serde_json::Value;
use tangmark_core::json::{Limits, canonical_bytes, read_value};
use tangmark_testkit::failures::Kind;

use super::{case, cases, expect, expect_all, judged};

const ALTERED: &str = "1 altered cannot_judge";
const SAME: &str = "2 same_content new, known: 0 same_content known";

#[test]
fn case_01_a_key_twice_is_refused() {
    expect_all(1, Kind::Json, 2, "refused");
    expect_all(1, Kind::Record, 1, ALTERED);
}

#[test]
fn case_02_a_key_twice_with_an_escape_is_refused() {
    expect_all(2, Kind::Json, 1, "refused");
    expect_all(2, Kind::Record, 1, ALTERED);
}

#[test]
fn case_03_text_outside_form_c_is_refused() {
    expect_all(3, Kind::Json, 3, "refused");
}

#[test]
fn case_04_minus_zero_is_refused() {
    expect_all(4, Kind::Json, 2, "refused");
}

#[test]
fn case_05_integers_that_readers_round_are_refused() {
    expect(
        5,
        Kind::Json,
        &[
            ("2 to the 53 and one", "refused"),
            ("2 to the 53", "refused"),
            ("30 digits", "refused"),
            ("30 digits below zero", "refused"),
            ("2 to the 53 less one", "accepted"),
        ],
    );
}

#[test]
fn case_06_decimals_are_texts() {
    expect_all(6, Kind::Json, 4, "refused");
    // The signature holds, so the signer is known; the record is none of its schema.
    expect_all(6, Kind::Record, 1, "1 altered new, known: 1 altered known");
}

#[test]
fn case_07_what_is_no_json_is_refused() {
    expect_all(7, Kind::Json, 9, "refused");
    expect_all(7, Kind::Record, 1, ALTERED);
}

#[test]
fn case_08_keys_sort_by_code_unit() {
    expect_all(8, Kind::Json, 1, "accepted");
    let text = case(8, Kind::Json, "keys that sort by code unit").judged();
    let value = read_value(text, &Limits::default()).unwrap();
    // Source of the order: RFC 8785, 3.2.3, its example (there U+FB33, which is not in form C).
    assert_eq!(
        String::from_utf8(canonical_bytes(&value).unwrap()).unwrap(),
        "{\"\\r\":3,\"1\":4,\"\u{80}\":5,\"\u{f6}\":6,\"\u{20ac}\":7,\"\u{1f602}\":2,\"\u{ff21}\":1}"
    );
}

#[test]
fn case_09_depth_and_size_are_bounded() {
    expect(
        9,
        Kind::Json,
        &[
            ("10 000 levels", "refused"),
            ("33 levels", "refused"),
            ("32 levels", "accepted"),
            ("17 MiB of blanks", "refused"),
            ("250 000 values", "refused"),
        ],
    );
    // 200 MB are not looked at: refused by their length. The bound is wide, so that a slow machine passes.
    let long = vec![b'['; 200_000_000];
    let start = Instant::now();
    assert!(read_value(&long, &Limits::default()).is_err());
    assert!(start.elapsed() < Duration::from_secs(5));
}

#[test]
fn case_10_the_same_content_in_other_bytes_is_told() {
    expect_all(10, Kind::Record, 3, SAME);
    let names: Vec<_> = cases(10, Kind::Record)
        .into_iter()
        .map(|case| judged(case).verdict.record.unwrap())
        .collect();
    assert!(names.windows(2).all(|pair| pair[0] == pair[1]));
}

/// The feature can be switched on for all by any crate of the build; every crate of the workspace is in this one.
#[test]
fn case_11_numbers_keep_no_text_of_their_own() {
    assert!(serde_json::from_str::<Value>("1e400").is_err());
    for (spelled, kept) in [
        ("1e2", "100.0"),
        ("1.50", "1.5"),
        ("0.30000000000000001", "0.3"),
    ] {
        let value: Value = serde_json::from_str(spelled).unwrap();
        assert_eq!(value.to_string(), kept);
    }
}

/// They verify, as a record of the name it was sealed under; the name is shown so that the odd sign is seen.
#[test]
fn case_12_odd_signs_in_names_are_told_by_their_number() {
    expect_all(
        12,
        Kind::Record,
        3,
        "2 intact new, known: 2 intact other_name_for_key",
    );
    for (name, shown) in [
        ("writing direction turned", r"Workshop\u{202e} at the Weir"),
        ("a space of no width", r"Workshop\u{200b} at the Weir"),
    ] {
        let mut memory = tangmark_trust::memory::Memory::default();
        let judged = judged(case(12, Kind::Record, name));
        let seen = tangmark_trust::memory::SeenKey::new(
            "Another name",
            &judged.key.unwrap(),
            "2026-01-05T08:00:00Z",
            "card",
        );
        assert!(memory.remember(seen).unwrap());
        let reader = super::reader(&memory, &[], &[], &[]);
        let line = tangmark_trust::verdict::judge(case(12, Kind::Record, name).judged(), &reader)
            .verdict
            .signer
            .to_string();
        assert!(line.contains(shown), "{line}");
        assert!(!line.contains(['\u{202e}', '\u{200b}']), "{line}");
    }
}

/// Texts that readers of JSON are known to disagree on. Texts and names are from memory, and no suite is run here: `y_` is
/// what a reader must take, `n_` what it must refuse.
#[test]
fn case_13_texts_that_readers_of_json_disagree_on() {
    let wanted = |name: &str| {
        if name.starts_with("y_") {
            "accepted"
        } else {
            "refused"
        }
    };
    let cases = cases(13, Kind::Json);
    assert_eq!(cases.len(), 13);
    for case in cases {
        assert_eq!(super::say(case), wanted(&case.name), "{}", case.name);
    }
}
