//! Files that were changed after signing: none of them may pass as unaltered.

use proptest::prelude::*;

use crate::pdf::{
    BYTE_RANGE_PLACEHOLDER, PDF_LIMIT, PdfJudgement, PdfProblem, examine,
    fixture::{
        Draft, RECORD, append_revision, certificate_of, deflate, fill_contents, find, gap, key, number, other_key,
        signature_dictionary, signed, signed_with_range, stream,
    },
};

fn judge(pdf: &[u8]) -> (PdfJudgement, Vec<String>) {
    let found = examine(pdf);
    (found.judgement, found.problems.iter().map(ToString::to_string).collect())
}

fn altered(pdf: &[u8]) -> Vec<PdfProblem> {
    let found = examine(pdf);
    assert_eq!(found.judgement, PdfJudgement::Altered, "{:?}", found.problems);
    found.problems
}

/// One flip in every byte outside the signature, in every fifth of its digits and some of its padding.
#[test]
fn every_flip_is_called_altered() {
    let pdf = signed();
    let (open, close) = gap(&pdf);
    let mut flips = 0;
    for place in 0..pdf.len() {
        // Each bit of the structure behind the digits has its own test beside the code that reads it.
        let digits = place > open && place < open + 2_400;
        let padding = place >= open + 2_400 && place < close - 1;
        if (digits && place % 5 != 0) || (padding && place % 61 != 0) {
            continue;
        }
        let mut changed = pdf.clone();
        changed[place] ^= 1 << (place % 8);
        let (judgement, problems) = judge(&changed);
        assert_eq!(judgement, PdfJudgement::Altered, "byte {place}: {problems:?}");
        flips += 1;
    }
    assert!(flips > 2_000, "{flips} flips");
}

#[test]
fn every_bit_of_one_byte_in_each_64_bytes_is_called_altered() {
    let pdf = signed();
    for (block, place) in (0..pdf.len()).step_by(64).enumerate() {
        let place = (place + block % 64).min(pdf.len() - 1);
        let mut changed = pdf.clone();
        changed[place] ^= 1 << (block / 64 % 8);
        assert_eq!(judge(&changed).0, PdfJudgement::Altered, "block {block}");
    }
}

#[test]
fn deleted_inserted_and_swapped_bytes_never_pass() {
    let pdf = signed();
    for place in (0..pdf.len() - 1).step_by(37) {
        let mut shorter = pdf.clone();
        shorter.remove(place);
        assert_ne!(judge(&shorter).0, PdfJudgement::Unaltered, "deleted {place}");
        let mut longer = pdf.clone();
        longer.insert(place, pdf[place]);
        assert_ne!(judge(&longer).0, PdfJudgement::Unaltered, "inserted {place}");
        let mut swapped = pdf.clone();
        swapped.swap(place, place + 1);
        assert!(swapped == pdf || judge(&swapped).0 == PdfJudgement::Altered, "swapped {place}");
    }
}

#[test]
fn truncated_file_is_called_cut_off_at_every_length() {
    let pdf = signed();
    for length in (0..pdf.len()).filter(|length| length % 53 == 0 || *length > pdf.len() - 60) {
        let expected = if length < 8 {
            "not a PDF: the file does not begin with `%PDF-1.7`"
        } else {
            "PDF is cut off: the end that a PDF has is missing"
        };
        assert_eq!(judge(&pdf[..length]), (PdfJudgement::CannotJudge, vec![expected.to_owned()]), "{length} bytes");
    }
}

#[test]
fn bytes_after_the_end_are_called_added() {
    for junk in [b"x".as_slice(), b"% a comment\n", b"\n\n", b"\n%%EOF", &[0; 100]] {
        let found = altered(&[signed().as_slice(), junk].concat());
        assert_eq!(found, [PdfProblem::TrailingBytes { bytes: junk.len() }]);
    }
    let length = signed().len();
    let found = altered(&[signed().as_slice(), b"\n"].concat());
    assert_eq!(found, [PdfProblem::ByteRangeEnd { end: length as u64, length: length + 1 }]);
    assert_eq!(
        found[0].to_string(),
        format!("signed range ends at byte {length}, the file at byte {}", length + 1)
    );
}

#[test]
fn bytes_before_the_beginning_are_called_altered() {
    for junk in [b"x".as_slice(), b"\n", b"%PDF-1.7\n"] {
        altered(&[junk, signed().as_slice()].concat());
    }
}

#[test]
fn later_revision_of_any_kind_is_called_a_further_revision() {
    let pdf = signed();
    let draft = Draft::new();
    let edit = Draft::changed;
    let other_record = deflate(&RECORD.replace_once(b"invented", b"improved"));
    let cases: [(&str, Vec<(u32, Vec<u8>)>); 8] = [
        ("page content", vec![(number::CONTENT, stream("", b"1 0 0 rg 0 0 200 200 re f"))]),
        ("information", vec![(number::INFO, edit(number::INFO, "Report", "Report on a flawless blade"))]),
        ("embedded record", vec![(number::RECORD, stream("/Type/EmbeddedFile/Filter/FlateDecode", &other_record))]),
        (
            "annotation",
            vec![
                (number::PAGE, edit(number::PAGE, "[5 0 R]", "[5 0 R 11 0 R]")),
                (11, b"<</Type/Annot/Subtype/FreeText/Rect[0 0 99 99]/Contents(no cracks)>>".to_vec()),
            ],
        ),
        ("font", vec![(number::PAGE, edit(number::PAGE, "/Resources<<>>", "/Resources<</Font<<>>>>"))]),
        ("metadata", vec![(number::CATALOG, [&draft.objects[&1][..draft.objects[&1].len() - 2], b"/Lang(en)>>"].concat())]),
        ("nothing", vec![]),
        ("signature removed", vec![(number::FORM, b"<<>>".to_vec())]),
    ];
    for (name, objects) in cases {
        let updated = append_revision(&pdf, &objects, 12);
        let found = examine(&updated);
        let bytes = updated.len() - pdf.len();
        assert_eq!(found.problems, [PdfProblem::ExtraRevision { bytes }], "{name}");
        assert_eq!(found.judgement, PdfJudgement::Altered, "{name}");
        assert!(!found.signed_whole_file, "{name}");
        // What was signed is still told.
        assert_eq!(found.record_bytes.as_deref(), Some(RECORD), "{name}");
        assert_eq!(found.certificate_key, Some(key().public_key()), "{name}");
    }
    // The same without a table of its own, which lenient readers repair.
    let found = altered(&[pdf.as_slice(), b"\n4 0 obj\n<<>>\nendobj\nstartxref\n0\n%%EOF"].concat());
    assert!(matches!(found[0], PdfProblem::ExtraRevision { .. }), "{found:?}");
}

#[test]
fn second_signature_by_either_key_is_called_a_further_revision() {
    let pdf = signed();
    for signer in [key(), other_key()] {
        let form = Draft::changed(number::FORM, "[5 0 R]", "[5 0 R 12 0 R]");
        let field = Draft::changed(number::FIELD, "/V 6 0 R", "/V 13 0 R");
        let dictionary = signature_dictionary(BYTE_RANGE_PLACEHOLDER, &"0".repeat(16_384));
        let objects =
            [(number::FORM, form), (12, field), (13, dictionary.into_bytes())];
        let mut updated = append_revision(&pdf, &objects, 14);
        // Sign the second dictionary over everything, as a reader that counter-signs would.
        let tail = updated.split_off(pdf.len());
        let open = pdf.len() + gap(&tail).0;
        let close = pdf.len() + gap(&tail).1;
        let range = crate::pdf::place::write_numbers([open, close, pdf.len() + tail.len() - close]).unwrap();
        let whole = [pdf.as_slice(), &tail].concat();
        let text = force_sign_tail(whole, pdf.len(), &range, open, close, &signer);
        let found = altered(&text);
        assert_eq!(found, [PdfProblem::ExtraRevision { bytes: tail.len() }]);
    }
}

fn force_sign_tail(mut bytes: Vec<u8>, from: usize, range: &str, open: usize, close: usize, key: &crate::PrivateKey) -> Vec<u8> {
    let place = from + find(&bytes[from..], BYTE_RANGE_PLACEHOLDER.as_bytes());
    bytes[place..place + range.len()].copy_from_slice(range.as_bytes());
    let digest = crate::pdf::fill::digest_without(&bytes, open, close);
    let signature = crate::pdf::cms::sign(&digest, key, &certificate_of(key)).unwrap();
    let digits = data_encoding::HEXLOWER.encode(&signature);
    bytes[open + 1..=open + digits.len()].copy_from_slice(digits.as_bytes());
    bytes
}

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
    for contents in ["<>", "null", "()", "9 0 R", "<00>", &digits[..digits.len() - 2]] {
        let contents = if contents.len() > 9 { format!("<{contents}>") } else { contents.to_owned() };
        let found = with(&format!("{contents:width$}", width = close - open));
        assert!(found.iter().any(|problem| problem.to_string() == form), "{contents}: {found:?}");
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
    assert!(matches!(found.as_slice(), [PdfProblem::Signature(_)]), "{found:?}");
}

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
    indirect.set(number::NEXT, &format!("[0 {open:010} {close:010} {rest:010}]"));
    indirect.replace(number::SIGNATURE, BYTE_RANGE_PLACEHOLDER, "11 0 R");
    let found = altered(&fill_contents(indirect.write(), &key(), &certificate_of(&key())));
    assert_eq!(found, [PdfProblem::ByteRangeForm]);
}

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
        let end = found.contains(&PdfProblem::ByteRangeEnd { end: (second + third) as u64, length });
        assert_eq!(end, second + third != length, "{range}: {found:?}");
    }
    let text = format!("signed range leaves out bytes {} to {close}, but the signature lies at bytes {open} to {close}", open - 1);
    let found = altered(&signed_with_range(&format!("[0 {:010} {close:010} {rest:010}]", open - 1)));
    assert_eq!(found[0].to_string(), text);
}

/// Signature wrapping: the signed end is moved away behind inserted bytes, and the range follows it.
#[test]
fn moved_signed_bytes_are_called_altered() {
    let pdf = signed();
    let (_, close) = gap(&pdf);
    let tail = pdf[close..].to_vec();
    let old = String::from_utf8(pdf[find(&pdf, b"[0 0000")..][..36].to_vec()).unwrap();
    let inserted = b">>\nendobj\n4 0 obj\n<<>>\nendobj\n";
    let mut moved = [&pdf[..close], inserted.as_slice(), &tail].concat();
    let new = old.replace(&format!("{close:010}"), &format!("{:010}", close + inserted.len()));
    let place = find(&moved, old.as_bytes());
    moved[place..place + 36].copy_from_slice(new.as_bytes());
    let found = altered(&moved);
    assert!(found.iter().any(|problem| matches!(problem, PdfProblem::ByteRangeGap { .. })), "{found:?}");
    assert!(found.iter().any(|problem| matches!(problem, PdfProblem::DigestMismatch { .. })), "{found:?}");
}

#[test]
fn changed_byte_is_told_with_both_digests() {
    let mut pdf = signed();
    let place = find(&pdf, b"0.2 0.2 0.2 rg");
    pdf[place] = b'1';
    let found = altered(&pdf);
    let [PdfProblem::DigestMismatch { found, stated }] = found.as_slice() else { panic!("{found:?}") };
    assert_ne!(found, stated);
    assert_eq!((found.len(), stated.len()), (64, 64));
    assert_eq!(examine(&pdf).problems[0].hint(), "do not rely on this file; ask the workshop for the report and compare the key's fingerprint");
}

#[test]
fn file_rewritten_by_an_editor_is_never_unaltered() {
    let mut document = lopdf::Document::load_mem(&signed()).unwrap();
    let mut rewritten = Vec::new();
    document.save_to(&mut rewritten).unwrap();
    assert_ne!(judge(&rewritten).0, PdfJudgement::Unaltered);
}

#[test]
fn foreign_files_cannot_be_judged_and_are_not_called_altered() {
    let mut plain = Draft::new();
    plain.set(number::CATALOG, "<</Type/Catalog/Pages 2 0 R>>");
    for unused in [number::FIELD, number::SIGNATURE, number::FILE, number::RECORD, number::FORM] {
        plain.objects.remove(&unused);
    }
    plain.replace(number::PAGE, "/Annots[5 0 R]", "");
    assert_eq!(judge(&plain.write()), (PdfJudgement::CannotJudge, vec!["PDF carries no signature".to_owned()]));

    let mut foreign = Draft::new();
    foreign.set(
        number::SIGNATURE,
        "<</Type/Sig/Filter/Adobe.PPKLite/SubFilter/adbe.pkcs7.detached/ByteRange[0 9 99 9]/Contents<3003020100>>>",
    );
    foreign.replace(number::CATALOG, "(record.json)", "(invoice.xml)");
    foreign.set(number::FILE, "<</Type/Filespec/F(invoice.xml)/UF(invoice.xml)/EF<</F 8 0 R>>>>");
    assert_eq!(judge(&foreign.write()).0, PdfJudgement::CannotJudge);

    for bytes in [b"".as_slice(), b"{}", b"%PDF-1.4\n", b"\xff\xd8\xff"] {
        let text = "not a PDF: the file does not begin with `%PDF-1.7`".to_owned();
        assert_eq!(judge(bytes), (PdfJudgement::CannotJudge, vec![text]));
    }
}

#[test]
fn too_large_file_is_not_examined() {
    let found = examine(&vec![b'%'; PDF_LIMIT + 1]);
    assert_eq!(found.problems, [PdfProblem::TooLarge { bytes: PDF_LIMIT + 1 }]);
    assert_eq!(
        found.problems[0].to_string(),
        "PDF: 67108865 bytes, at most 67108864 bytes allowed"
    );
}

trait ReplaceOnce {
    fn replace_once(&self, old: &[u8], new: &[u8]) -> Vec<u8>;
}

impl ReplaceOnce for [u8] {
    fn replace_once(&self, old: &[u8], new: &[u8]) -> Vec<u8> {
        let place = find(self, old);
        [&self[..place], new, &self[place + old.len()..]].concat()
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn several_changes_at_once_never_pass(
        changes in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..6),
        cut in prop::option::of(any::<prop::sample::Index>()),
    ) {
        let pdf = signed();
        let mut changed = pdf.clone();
        for (place, byte) in changes {
            let place = place.index(changed.len());
            changed[place] = byte;
        }
        if let Some(cut) = cut {
            changed.truncate(cut.index(changed.len()));
        }
        prop_assert!(changed == pdf || examine(&changed).judgement != PdfJudgement::Unaltered);
    }

    #[test]
    fn noise_behind_a_pdf_header_never_passes(noise in prop::collection::vec(any::<u8>(), 0..2_000)) {
        let bytes = [b"%PDF-1.7\n".as_slice(), &noise, b"\nstartxref\n9\n%%EOF"].concat();
        prop_assert_ne!(examine(&bytes).judgement, PdfJudgement::Unaltered);
    }

    #[test]
    fn pieces_of_syntax_in_any_order_never_pass(
        pieces in prop::collection::vec(prop::sample::select(vec![
            "<<", ">>", "[", "]", "/ByteRange", "/Contents", "<00>", "(", ")", "1 0 obj\n", "endobj\n", "stream\n",
            "endstream\n", "/Length 5", "xref\n0 1\n0000000000 65535 f \n", "trailer\n", "startxref\n0\n%%EOF",
            "[0 0000000001 0000000002 0000000003]", "9 0 R ", "/Type/Sig", "#", "\\", "-", "true ", "%",
        ]), 0..60),
    ) {
        let text = format!("%PDF-1.7\n{}", pieces.concat());
        prop_assert_ne!(examine(text.as_bytes()).judgement, PdfJudgement::Unaltered);
    }
}
