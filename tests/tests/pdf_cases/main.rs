//! What is done to a signed report, case by case (52 to 63 of the list of failures), and what our verdict says of it.
//!
//! Each is done to a whole rendered report with a photo. The same cases on a small file made by hand, with more spellings
//! of each, and those that need a file signed with the fault in it (59, 60), lie beside the code in `crates/trust`.
#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

mod revisions;

use std::sync::OnceLock;

use serde_json::json;
use tangmark_core::record::Record;
use tangmark_report::{Kind, PageSize, RenderInput, Speech, render};
use tangmark_testkit::sealed::{ISSUED_AT, Trial, key, sign_report, sign_report_with};
use tangmark_trust::PrivateKey;
use tangmark_trust::memory::Memory;
use tangmark_trust::verdict::{self, BytesLine, Judged, Reader, SignerLine};
use tangmark_workshop::demo;

fn trial() -> Trial {
    let mut trial = Trial::new(2).unwrap();
    let (_, photo) = demo::PHOTOS[0];
    trial.add_photos(&[photo]).unwrap();
    trial
}

/// A signed report with a photo.
fn report() -> &'static [u8] {
    static REPORT: OnceLock<Vec<u8>> = OnceLock::new();
    REPORT.get_or_init(|| {
        let trial = trial();
        sign_report(trial.render(&trial.seal().unwrap()).unwrap().0).unwrap()
    })
}

fn judged(pdf: &[u8], now: &str, others: &[Vec<u8>]) -> Judged {
    let own_keys = [key().unwrap().public_key()];
    let memory = Memory::default();
    let reader = Reader {
        own_keys: &own_keys,
        memory: &memory,
        now,
        others,
        histories: &[],
        evidence: &[],
    };
    verdict::judge(pdf, &reader)
}

fn judge(pdf: &[u8]) -> Judged {
    judged(pdf, "2026-11-25T08:00:00Z", &[])
}

/// The reasons for which a file is called altered.
fn altered(pdf: &[u8]) -> Vec<String> {
    let verdict = judge(pdf).verdict;
    assert_eq!(verdict.exit_code(), 1, "{}", verdict.bytes);
    match verdict.bytes {
        BytesLine::Altered { reasons } => reasons,
        other => panic!("{other}"),
    }
}

fn find(bytes: &[u8], word: &[u8]) -> usize {
    bytes
        .windows(word.len())
        .position(|window| window == word)
        .unwrap_or_else(|| panic!("no {}", word.escape_ascii()))
}

fn find_last(bytes: &[u8], word: &[u8]) -> usize {
    bytes
        .windows(word.len())
        .rposition(|window| window == word)
        .unwrap_or_else(|| panic!("no {}", word.escape_ascii()))
}

/// The bytes with a part of them exchanged.
fn replaced(pdf: &[u8], at: usize, length: usize, by: &[u8]) -> Vec<u8> {
    [&pdf[..at], by, &pdf[at + length..]].concat()
}

/// Brackets of the signature's value: the places of `<` and of `>`.
fn gap(pdf: &[u8]) -> (usize, usize) {
    let mut from = 0;
    loop {
        let open = from + find(&pdf[from..], b"/Contents <") + 10;
        let length = find(&pdf[open..], b">");
        if length > 2_000 {
            return (open, open + length);
        }
        from = open;
    }
}

/// Number and text of the object in which a word stands first.
fn object_with(pdf: &[u8], word: &[u8]) -> (u32, Vec<u8>) {
    let at = find(pdf, word);
    let head = find_last(&pdf[..at], b" 0 obj\n");
    let line = find_last(&pdf[..head], b"\n") + 1;
    let number = std::str::from_utf8(&pdf[line..head])
        .unwrap()
        .parse()
        .unwrap();
    let end = at + find(&pdf[at..], b"\nendobj");
    (number, pdf[head + 7..end].to_vec())
}

/// Before anything is done to it.
#[test]
fn the_report_is_intact() {
    let verdict = judge(report()).verdict;
    assert_eq!(verdict.bytes, BytesLine::Intact);
    assert_eq!(verdict.signer, SignerLine::Own);
    assert_eq!(verdict.exit_code(), 0);
}

/// Case 52: cut off at many places.
#[test]
fn case_52_a_report_cut_off_is_never_intact() {
    let pdf = report();
    let mut lengths: Vec<usize> = (0..40).map(|part| pdf.len() / 40 * part).collect();
    lengths.extend(pdf.len() - 30..pdf.len());
    for length in lengths {
        let verdict = judge(&pdf[..length]).verdict;
        assert!(
            matches!(
                verdict.bytes,
                BytesLine::Altered { .. } | BytesLine::CannotJudge { .. }
            ),
            "{length}: {}",
            verdict.bytes
        );
        assert_ne!(verdict.exit_code(), 0);
    }
}

/// Case 53: something behind the end. pyHanko and pdfsig call the file with a comment valid.
#[test]
fn case_53_bytes_behind_the_end_are_told() {
    for junk in [b"\n% a remark\n".as_slice(), b"x", b"\0\0\0"] {
        let told = altered(&[report(), junk].concat());
        let wanted = format!("{} bytes were added after the signed file", junk.len());
        assert_eq!(told, [wanted]);
    }
}

/// Case 56: the value empty, null, of an odd number of digits, with other digits than zeros behind it. pyHanko calls the
/// last one untouched.
#[test]
fn case_56_another_form_of_the_value_is_told() {
    let pdf = report();
    let (open, close) = gap(pdf);
    let digits = close - open - 1;
    let form = "signature is not written as 16384 digits 0-9 and a-f";
    let empty = [b"<>".as_slice(), &vec![b' '; digits]].concat();
    let null = [b"null".as_slice(), &vec![b' '; digits - 2]].concat();
    let odd = [&pdf[open..close - 1], b"> "].concat();
    for value in [empty, null, odd] {
        let told = altered(&replaced(pdf, open, digits + 2, &value));
        assert!(told.contains(&form.to_owned()), "{told:?}");
    }
    let told = altered(&replaced(pdf, close - 1, 1, b"1"));
    assert_eq!(told, ["bytes behind the signature are not all zero"]);
}

/// Case 57: the range negative, overlapping, with its last number short, with more numbers.
#[test]
fn case_57_another_range_is_told() {
    let pdf = report();
    let at = find(pdf, b"/ByteRange [0 ") + b"/ByteRange [0 ".len();
    let form = "signed range is not written as `[0 ten digits ten digits ten digits]`";
    let negative = replaced(pdf, at, 1, b"-");
    assert!(altered(&negative).contains(&form.to_owned()));
    let number = |at: usize| -> usize {
        std::str::from_utf8(&pdf[at..at + 10])
            .unwrap()
            .parse()
            .unwrap()
    };
    let written =
        |at: usize, number: usize| replaced(pdf, at, 10, format!("{number:010}").as_bytes());
    let [first, second, rest] = [at, at + 11, at + 22];
    let overlapping = altered(&written(second, number(second) - 40));
    assert!(
        overlapping
            .iter()
            .any(|told| told.starts_with("signed range")),
        "{overlapping:?}"
    );
    let wider = altered(&written(first, number(first) - 40));
    assert!(
        wider
            .iter()
            .any(|told| told.starts_with("signed range leaves out bytes")),
        "{wider:?}"
    );
    let short = altered(&written(rest, number(rest) - 1));
    assert!(
        short
            .iter()
            .any(|told| told.starts_with("signed range ends at byte")),
        "{short:?}"
    );
}

/// Case 58: the signed second part moved behind something new.
#[test]
fn case_58_a_signature_wrapped_around_something_new_is_told() {
    let pdf = report();
    let (_, close) = gap(pdf);
    let inserted = b"\n9999 0 obj\n<</Type/Page>>\nendobj\n";
    let mut wrapped = replaced(pdf, close + 1, 0, inserted);
    let at = find(&wrapped, b"/ByteRange [0 ") + b"/ByteRange [0 ".len() + 11;
    let moved = format!("{:010}", close + 1 + inserted.len());
    wrapped[at..at + 10].copy_from_slice(moved.as_bytes());
    let told = altered(&wrapped);
    assert!(
        told.iter()
            .any(|told| told.starts_with("signed range leaves out bytes")),
        "{told:?}"
    );
}

/// Of the table of tools and changes: one bit in a photo.
#[test]
fn a_bit_of_a_photo_is_told_with_both_digests() {
    let pdf = report();
    let photo = find(pdf, &[0xff, 0xd8, 0xff]);
    let scan = photo + find(&pdf[photo..], &[0xff, 0xda]) + 2_000;
    let told = altered(&replaced(pdf, scan, 1, &[pdf[scan] ^ 0x10]));
    assert!(
        told[0].starts_with("signed bytes were changed: their SHA-256 is "),
        "{told:?}"
    );
}

/// Case 61: words on the page that the record does not say. Whoever holds the workshop's key can sign them; but the pages
/// follow from the record alone, so that rendering it again shows other bytes.
#[test]
fn case_61_pages_are_what_the_embedded_record_gives() {
    let trial = trial();
    let sealed = trial.seal().unwrap();
    let (honest, _) = trial.render(&sealed).unwrap();
    let signed = sign_report(honest).unwrap();
    assert!(is_what_its_record_gives(&signed, &trial));

    // The pages of another record, as long as the one that is put inside of them.
    let (mut pages, theirs) = (0..40)
        .map(|number| {
            let mut other = trial.clone();
            let honest = trial.unsigned["decision"]["reason"].as_str().unwrap();
            let words = format!("Sound edge, nothing to see here. ({number:02})");
            let width = honest.len();
            let reason = format!("{words:-<width$}");
            other.unsigned["decision"]["reason"] = json!(reason);
            let theirs = other.seal().unwrap();
            (other, theirs)
        })
        .find(|(_, theirs)| theirs.len() == sealed.len())
        .map(|(other, theirs)| (other.render(&theirs).unwrap().0, theirs))
        .expect("a record of the same length");
    let at = find(&pages, &theirs);
    pages[at..at + theirs.len()].copy_from_slice(&sealed);
    assert!(!is_what_its_record_gives(
        &sign_report(pages).unwrap(),
        &trial
    ));
}

/// Whether the record inside gives these pages, but for the signature's value and range.
fn is_what_its_record_gives(signed: &[u8], trial: &Trial) -> bool {
    let (_, file) = object_with(signed, b"/Type/EmbeddedFile");
    let start = find(&file, b"stream\n") + 7;
    let end = find_last(&file, b"\nendstream");
    let record_bytes = &file[start..end];
    let record: Record = serde_json::from_slice(record_bytes).unwrap();
    let fingerprint = key().unwrap().public_key().fingerprint().to_string();
    let input = RenderInput {
        record_bytes,
        photos: &trial.photos,
        page: PageSize::A4,
        demo: true,
        fingerprint: &fingerprint,
        kind: Kind::Condition,
        speech: Speech::English,
        earlier: &[],
    };
    let again = render(&record, &input).unwrap().pdf;
    if again.len() != signed.len() {
        return false;
    }
    let (open, close) = gap(signed);
    let range = find(signed, b"/ByteRange [0 ") + 14;
    (0..signed.len())
        .filter(|place| !(open..=close).contains(place) && !(range..range + 32).contains(place))
        .all(|place| signed[place] == again[place])
}

/// Case 62: a certificate of the same name over another key.
#[test]
fn case_62_a_certificate_of_the_same_name_and_another_key_is_told() {
    let trial = trial();
    let (pages, _) = trial.render(&trial.seal().unwrap()).unwrap();
    let stranger = PrivateKey::from_entropy([0x23; 32]).unwrap();
    assert_eq!(
        altered(&sign_report_with(pages, &stranger).unwrap()),
        ["the pages were signed with another key than the embedded record"]
    );
}

/// Case 62: the certificate only carries the key. That its time is over changes nothing.
#[test]
fn case_62_a_report_is_intact_after_its_certificate_has_expired() {
    let verdict = judged(report(), "2099-01-01T00:00:00Z", &[]).verdict;
    assert_eq!(
        (verdict.bytes, verdict.signer),
        (BytesLine::Intact, SignerLine::Own)
    );
}

/// Case 63: a report of a record that a later one has followed.
#[test]
fn case_63_a_report_of_an_older_record_is_told() {
    let first = trial();
    let sealed = first.seal().unwrap();
    let name = judge(&sealed).verdict.record.unwrap();
    let mut second = first.clone();
    second.unsigned["sequence"] = json!(2);
    second.unsigned["previous"] = json!(name.to_string());
    second.unsigned["record_id"] = json!("3f1c09d2a7b84e65901d2c3b4a596878");
    let later = second.seal().unwrap();
    let others = [later.clone()];
    let found = judged(report(), "2026-11-25T08:00:00Z", &others).verdict;
    assert_eq!(found.bytes, BytesLine::Intact, "at {ISSUED_AT}");
    assert_eq!(
        found.completeness.superseded_by,
        judge(&later).verdict.record
    );
    // Alone, it cannot know.
    assert_eq!(judge(report()).verdict.completeness.superseded_by, None);
}
