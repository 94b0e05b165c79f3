//! Signed range and signature string in every form but the right one.

use super::{altered, judge};
use crate::pdf::{
    BYTE_RANGE_PLACEHOLDER, PdfJudgement, PdfProblem,
    fixture::{
        Draft, certificate_of, fill_contents, find, gap, key, number, signed, signed_with_range,
    },
};

/// Case 56.
#[test]
fn contents_in_any_other_form_are_called_altered() {
    let pdf = signed();
    let (open, close) = gap(&pdf);
    let with = |contents: &str| {
        let mut changed = pdf.clone();
        changed.splice(open..close, contents.bytes());
        altered(&changed)
    };
    let form = "signature is not written as 16384 digits 0-9 and a-f";
    let digits = String::from_utf8(pdf[open + 1..close - 1].to_vec()).unwrap();
    // Filled up with blanks, so that only the string itself is wrong.
    for contents in [
        "<>",
        "null",
        "()",
        "9 0 R",
        "<00>",
        &digits[..digits.len() - 2],
    ] {
        let contents = if contents.len() > 9 {
            format!("<{contents}>")
        } else {
            contents.to_owned()
        };
        let found = with(&format!("{contents:width$}", width = close - open));
        assert!(
            found.iter().any(|problem| problem.to_string() == form),
            "{contents}: {found:?}"
        );
    }
    let odd = format!("<{}> ", &digits[..digits.len() - 1]);
    assert!(with(&odd).iter().any(|problem| problem.to_string() == form));
    let shorter = [&pdf[..open], b"<>", &pdf[close..]].concat();
    assert_ne!(judge(&shorter).0, PdfJudgement::Unaltered);
    let capital = digits.to_uppercase();
    assert_eq!(with(&format!("<{capital}>")), [PdfProblem::ContentsForm]);
    for place in [2_400, 9_999, 16_383] {
        let mut padded = digits.clone();
        padded.replace_range(place..=place, "1");
        assert_eq!(with(&format!("<{padded}>")), [PdfProblem::Padding]);
    }
    let zeros = "0".repeat(digits.len());
    let found = with(&format!("<{zeros}>"));
    assert!(
        matches!(found.as_slice(), [PdfProblem::Signature(_)]),
        "{found:?}"
    );
}

/// Case 57.
#[test]
fn byte_range_in_any_other_form_is_called_altered() {
    let (open, close) = gap(&signed());
    let rest = signed().len() - close;
    for range in [
        format!("[0 {open} {close} {rest}]"),
        format!("[0 {open:010} {close:010}]"),
        format!("[0 {open:010} {close:010} {rest:010} 0000000000 0000000000]"),
        format!("[-1 {open:010} {close:010} {rest:010}]"),
        format!("[0 {open:010} -{close:09} {rest:010}]"),
        format!("[1 {open:010} {close:010} {rest:010}]"),
        "[]".to_owned(),
        "null".to_owned(),
        "(x)".to_owned(),
        "9 0 R".to_owned(),
    ] {
        let found = altered(&signed_with_range(&range));
        assert_eq!(found, [PdfProblem::ByteRangeForm], "{range}");
    }
    let mut indirect = Draft::new();
    indirect.set(
        number::NEXT,
        &format!("[0 {open:010} {close:010} {rest:010}]"),
    );
    indirect.replace(number::SIGNATURE, BYTE_RANGE_PLACEHOLDER, "11 0 R");
    let found = altered(&fill_contents(
        indirect.write(),
        &key(),
        &certificate_of(&key()),
    ));
    assert_eq!(found, [PdfProblem::ByteRangeForm]);
}

/// Case 57: what is left out is the signature and nothing else.
#[test]
fn byte_range_that_leaves_more_out_or_overlaps_is_called_altered() {
    let (open, close) = gap(&signed());
    let length = signed().len();
    let rest = length - close;
    for [first, second, third] in [
        [open - 1, close, rest],
        [open + 1, close, rest],
        [open, close + 1, rest - 1],
        [open, close - 1, rest + 1],
        [open, close, rest - 1],
        [open, close, rest + 1],
        [open, close, 0],
        [open, open, length - open],
        [0, 0, 0],
        [close, open, rest],
        [open, close, 9_999_999_999],
        [9_999_999_999, 9_999_999_999, 9_999_999_999],
    ] {
        let range = format!("[0 {first:010} {second:010} {third:010}]");
        let found = altered(&signed_with_range(&range));
        let gap = matches!(found[0], PdfProblem::ByteRangeGap { .. });
        assert_eq!(gap, [first, second] != [open, close], "{range}: {found:?}");
        let end = found.contains(&PdfProblem::ByteRangeEnd {
            end: (second + third) as u64,
            length,
        });
        assert_eq!(end, second + third != length, "{range}: {found:?}");
    }
    let text = format!(
        "signed range leaves out bytes {} to {close}, but the signature lies at bytes {open} to {close}",
        open - 1
    );
    let found = altered(&signed_with_range(&format!(
        "[0 {:010} {close:010} {rest:010}]",
        open - 1
    )));
    assert_eq!(found[0].to_string(), text);
}

/// Signature wrapping: the signed end is moved away behind inserted bytes, and the range follows it.
/// Case 58.
#[test]
fn moved_signed_bytes_are_called_altered() {
    let pdf = signed();
    let (_, close) = gap(&pdf);
    let tail = pdf[close..].to_vec();
    let old = String::from_utf8(pdf[find(&pdf, b"[0 0000")..][..36].to_vec()).unwrap();
    let inserted = b">>\nendobj\n4 0 obj\n<<>>\nendobj\n";
    let mut moved = [&pdf[..close], inserted.as_slice(), &tail].concat();
    let new = old.replace(
        &format!("{close:010}"),
        &format!("{:010}", close + inserted.len()),
    );
    let place = find(&moved, old.as_bytes());
    moved[place..place + 36].copy_from_slice(new.as_bytes());
    let found = altered(&moved);
    assert!(
        found
            .iter()
            .any(|problem| matches!(problem, PdfProblem::ByteRangeGap { .. })),
        "{found:?}"
    );
    assert!(
        found
            .iter()
            .any(|problem| matches!(problem, PdfProblem::DigestMismatch { .. })),
        "{found:?}"
    );
}
