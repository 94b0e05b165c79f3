//! Files that were changed after signing: none of them may pass as unaltered.

use proptest::prelude::*;

use super::{altered, judge};
use crate::pdf::{
    BYTE_RANGE_PLACEHOLDER, PDF_LIMIT, PdfJudgement, PdfProblem, examine,
    fixture::{
        Draft, RECORD, append_revision, certificate_of, deflate, find, gap, key, number, other_key,
        signature_dictionary, signed, stream,
    },
};

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
        assert_eq!(
            judgement,
            PdfJudgement::Altered,
            "byte {place}: {problems:?}"
        );
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
        assert_ne!(
            judge(&shorter).0,
            PdfJudgement::Unaltered,
            "deleted {place}"
        );
        let mut longer = pdf.clone();
        longer.insert(place, pdf[place]);
        assert_ne!(
            judge(&longer).0,
            PdfJudgement::Unaltered,
            "inserted {place}"
        );
        let mut swapped = pdf.clone();
        swapped.swap(place, place + 1);
        assert!(
            swapped == pdf || judge(&swapped).0 == PdfJudgement::Altered,
            "swapped {place}"
        );
    }
}

/// Case 52.
#[test]
fn truncated_file_is_called_cut_off_at_every_length() {
    let pdf = signed();
    for length in (0..pdf.len()).filter(|length| length % 53 == 0 || *length > pdf.len() - 60) {
        let expected = if length < 8 {
            "not a PDF: the file does not begin with `%PDF-1.7`"
        } else {
            "PDF is cut off: the end that a PDF has is missing"
        };
        assert_eq!(
            judge(&pdf[..length]),
            (PdfJudgement::CannotJudge, vec![expected.to_owned()]),
            "{length} bytes"
        );
    }
}

/// Case 53.
#[test]
fn bytes_after_the_end_are_called_added() {
    for junk in [
        b"x".as_slice(),
        b"% a comment\n",
        b"\n\n",
        b"\n%%EOF",
        &[0; 100],
    ] {
        let found = altered(&[signed().as_slice(), junk].concat());
        assert_eq!(found, [PdfProblem::TrailingBytes { bytes: junk.len() }]);
    }
    let length = signed().len();
    let found = altered(&[signed().as_slice(), b"\n"].concat());
    assert_eq!(
        found,
        [PdfProblem::ByteRangeEnd {
            end: length as u64,
            length: length + 1
        }]
    );
    assert_eq!(
        found[0].to_string(),
        format!(
            "signed range ends at byte {length}, the file at byte {}",
            length + 1
        )
    );
}

#[test]
fn bytes_before_the_beginning_are_called_altered() {
    for junk in [b"x".as_slice(), b"\n", b"%PDF-1.7\n"] {
        altered(&[junk, signed().as_slice()].concat());
    }
}

/// Case 54.
#[test]
fn later_revision_of_any_kind_is_called_a_further_revision() {
    let pdf = signed();
    let draft = Draft::new();
    let edit = Draft::changed;
    let other_record = deflate(&RECORD.replace_once(b"invented", b"improved"));
    let cases = [
        (
            "page content",
            vec![(number::CONTENT, stream("", b"1 0 0 rg 0 0 200 200 re f"))],
        ),
        (
            "information",
            vec![(
                number::INFO,
                edit(number::INFO, "Report", "Report on a flawless blade"),
            )],
        ),
        (
            "embedded record",
            vec![(
                number::RECORD,
                stream("/Type/EmbeddedFile/Filter/FlateDecode", &other_record),
            )],
        ),
        (
            "annotation",
            vec![
                (
                    number::PAGE,
                    edit(number::PAGE, "[5 0 R]", "[5 0 R 11 0 R]"),
                ),
                (
                    11,
                    b"<</Type/Annot/Subtype/FreeText/Rect[0 0 99 99]/Contents(no cracks)>>"
                        .to_vec(),
                ),
            ],
        ),
        (
            "font",
            vec![(
                number::PAGE,
                edit(number::PAGE, "/Resources<<>>", "/Resources<</Font<<>>>>"),
            )],
        ),
        (
            "metadata",
            vec![(
                number::CATALOG,
                [
                    &draft.objects[&1][..draft.objects[&1].len() - 2],
                    b"/Lang(en)>>",
                ]
                .concat(),
            )],
        ),
        ("nothing", vec![]),
        ("signature removed", vec![(number::FORM, b"<<>>".to_vec())]),
    ];
    for (name, objects) in cases {
        let updated = append_revision(&pdf, &objects, 12);
        let found = examine(&updated);
        let bytes = updated.len() - pdf.len();
        assert_eq!(
            found.problems,
            [PdfProblem::ExtraRevision { bytes }],
            "{name}"
        );
        assert_eq!(found.judgement, PdfJudgement::Altered, "{name}");
        assert!(!found.signed_whole_file, "{name}");
        // What was signed is still told.
        assert_eq!(found.record_bytes.as_deref(), Some(RECORD), "{name}");
        assert_eq!(found.certificate_key, Some(key().public_key()), "{name}");
    }
    // The same without a table of its own, which lenient readers repair.
    let found = altered(
        &[
            pdf.as_slice(),
            b"\n4 0 obj\n<<>>\nendobj\nstartxref\n0\n%%EOF",
        ]
        .concat(),
    );
    assert!(
        matches!(found[0], PdfProblem::ExtraRevision { .. }),
        "{found:?}"
    );
}

/// Case 55.
#[test]
fn second_signature_by_either_key_is_called_a_further_revision() {
    let pdf = signed();
    for signer in [key(), other_key()] {
        let form = Draft::changed(number::FORM, "[5 0 R]", "[5 0 R 12 0 R]");
        let field = Draft::changed(number::FIELD, "/V 6 0 R", "/V 13 0 R");
        let dictionary = signature_dictionary(BYTE_RANGE_PLACEHOLDER, &"0".repeat(16_384));
        let objects = [
            (number::FORM, form),
            (12, field),
            (13, dictionary.into_bytes()),
        ];
        let mut updated = append_revision(&pdf, &objects, 14);
        // Sign the second dictionary over everything, as a reader that counter-signs would.
        let tail = updated.split_off(pdf.len());
        let open = pdf.len() + gap(&tail).0;
        let close = pdf.len() + gap(&tail).1;
        let range = crate::pdf::place::write_numbers([open, close, pdf.len() + tail.len() - close])
            .unwrap();
        let whole = [pdf.as_slice(), &tail].concat();
        let text = force_sign_tail(whole, pdf.len(), &range, open, close, &signer);
        let found = altered(&text);
        assert_eq!(found, [PdfProblem::ExtraRevision { bytes: tail.len() }]);
    }
}

fn force_sign_tail(
    mut bytes: Vec<u8>,
    from: usize,
    range: &str,
    open: usize,
    close: usize,
    key: &crate::PrivateKey,
) -> Vec<u8> {
    let place = from + find(&bytes[from..], BYTE_RANGE_PLACEHOLDER.as_bytes());
    bytes[place..place + range.len()].copy_from_slice(range.as_bytes());
    let digest = crate::pdf::fill::digest_without(&bytes, open, close);
    let signature = crate::pdf::cms::sign(&digest, key, &certificate_of(key)).unwrap();
    let digits = data_encoding::HEXLOWER.encode(&signature);
    bytes[open + 1..=open + digits.len()].copy_from_slice(digits.as_bytes());
    bytes
}

#[test]
fn changed_byte_is_told_with_both_digests() {
    let mut pdf = signed();
    let place = find(&pdf, b"0.2 0.2 0.2 rg");
    pdf[place] = b'1';
    let found = altered(&pdf);
    let [PdfProblem::DigestMismatch { found, stated }] = found.as_slice() else {
        panic!("{found:?}")
    };
    assert_ne!(found, stated);
    assert_eq!((found.len(), stated.len()), (64, 64));
    assert_eq!(
        examine(&pdf).problems[0].hint(),
        "do not rely on this file; ask the workshop for the report and compare the key's fingerprint"
    );
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
    for unused in [
        number::FIELD,
        number::SIGNATURE,
        number::FILE,
        number::RECORD,
        number::FORM,
    ] {
        plain.objects.remove(&unused);
    }
    plain.replace(number::PAGE, "/Annots[5 0 R]", "");
    assert_eq!(
        judge(&plain.write()),
        (
            PdfJudgement::CannotJudge,
            vec!["PDF carries no signature".to_owned()]
        )
    );

    let mut foreign = Draft::new();
    foreign.set(
        number::SIGNATURE,
        "<</Type/Sig/Filter/Adobe.PPKLite/SubFilter/adbe.pkcs7.detached/ByteRange[0 9 99 9]/Contents<3003020100>>>",
    );
    foreign.replace(number::CATALOG, "(record.json)", "(invoice.xml)");
    foreign.set(
        number::FILE,
        "<</Type/Filespec/F(invoice.xml)/UF(invoice.xml)/EF<</F 8 0 R>>>>",
    );
    assert_eq!(judge(&foreign.write()).0, PdfJudgement::CannotJudge);

    for bytes in [b"".as_slice(), b"{}", b"%PDF-1.4\n", b"\xff\xd8\xff"] {
        let text = "not a PDF: the file does not begin with `%PDF-1.7`".to_owned();
        assert_eq!(judge(bytes), (PdfJudgement::CannotJudge, vec![text]));
    }
}

#[test]
fn too_large_file_is_not_examined() {
    let found = examine(&vec![b'%'; PDF_LIMIT + 1]);
    assert_eq!(
        found.problems,
        [PdfProblem::TooLarge {
            bytes: PDF_LIMIT + 1
        }]
    );
    assert_eq!(
        found.problems[0].to_string(),
        "PDF: 67108865 bytes, at most 67108864 bytes allowed"
    );
}

trait ChangedAtFirst {
    fn replace_once(&self, old: &[u8], new: &[u8]) -> Vec<u8>;
}

impl ChangedAtFirst for [u8] {
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
