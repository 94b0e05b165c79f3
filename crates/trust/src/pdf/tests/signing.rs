//! What signing writes, and what it refuses.

use crate::pdf::{
    BYTE_RANGE_PLACEHOLDER, CmsError, PdfJudgement, PdfProblem, SignPdfError, examine,
    fill_signature,
    fixture::{
        Draft, RECORD, certificate_of, find, gap, key, number, other_key, sign_again,
        signature_dictionary, signed,
    },
};

#[test]
fn signed_report_is_unaltered_and_says_whose_it_is() {
    let pdf = signed();
    let found = examine(&pdf);
    assert_eq!(found.problems, []);
    assert_eq!(found.judgement, PdfJudgement::Unaltered);
    assert!(found.signed_whole_file);
    assert_eq!(found.record_bytes.as_deref(), Some(RECORD));
    assert_eq!(found.certificate_key, Some(key().public_key()));
    assert_eq!(found.certificate_name.as_deref(), Some("Example workshop"));
    assert_eq!(found.certificate_der, Some(certificate_of(&key())));
    assert_eq!(found.stated_time.as_deref(), Some("D:20260102030405Z"));
}

#[test]
fn same_input_gives_the_same_bytes_and_only_the_placeholders_change() {
    let draft = Draft::new().write();
    let pdf = signed();
    assert_eq!(pdf, sign_again());
    assert_eq!(pdf.len(), draft.len());
    let (open, close) = gap(&pdf);
    let range = find(&draft, BYTE_RANGE_PLACEHOLDER.as_bytes());
    let changed =
        |place: usize| (open..close).contains(&place) || (range..range + 36).contains(&place);
    assert!((0..pdf.len()).all(|place| pdf[place] == draft[place] || changed(place)));
}

#[test]
fn one_end_of_line_after_the_end_belongs_to_the_file_when_it_was_signed_with_it() {
    let mut draft = Draft::new().write();
    draft.push(b'\n');
    let pdf = fill_signature(draft, &key(), &certificate_of(&key())).unwrap();
    assert_eq!(examine(&pdf).judgement, PdfJudgement::Unaltered);
}

#[test]
fn unsigned_draft_is_called_unsigned() {
    let found = examine(&Draft::new().write());
    assert_eq!(found.problems, [PdfProblem::NotSigned]);
    assert_eq!(found.judgement, PdfJudgement::CannotJudge);
    assert_eq!(found.record_bytes.as_deref(), Some(RECORD));
    assert_eq!(
        found.problems[0].to_string(),
        "PDF was never signed: the place for the signature is empty"
    );
    assert_eq!(
        found.problems[0].hint(),
        "issue the report again; this one is a draft"
    );
}

#[test]
fn report_of_another_key_is_unaltered_and_names_that_key() {
    let pdf = fill_signature(
        Draft::new().write(),
        &other_key(),
        &certificate_of(&other_key()),
    )
    .unwrap();
    let found = examine(&pdf);
    assert_eq!(found.judgement, PdfJudgement::Unaltered);
    assert_eq!(found.certificate_name.as_deref(), Some("Example workshop"));
    assert_eq!(found.certificate_key, Some(other_key().public_key()));
}

#[test]
fn embedded_record_is_handed_out_as_it_is_whether_packed_or_not() {
    let mut draft = Draft::new();
    draft.objects.insert(
        number::RECORD,
        crate::pdf::fixture::stream("/Type/EmbeddedFile", b"{\"other\":1}"),
    );
    let pdf = fill_signature(draft.write(), &key(), &certificate_of(&key())).unwrap();
    let found = examine(&pdf);
    assert_eq!(found.judgement, PdfJudgement::Unaltered);
    assert_eq!(
        found.record_bytes.as_deref(),
        Some(b"{\"other\":1}".as_slice())
    );
}

#[test]
fn signing_refuses_what_examining_would_refuse() {
    let refuse =
        |draft: &Draft| fill_signature(draft.write(), &key(), &certificate_of(&key())).unwrap_err();
    let mut draft = Draft::new();
    draft.add(number::CATALOG, "/OpenAction[3 0 R/Fit]");
    assert_eq!(
        refuse(&draft).to_string(),
        "PDF to be signed: active content: `OpenAction`"
    );

    let mut draft = Draft::new();
    draft.set(
        number::SIGNATURE,
        &signature_dictionary("[0 0 0 0]", &"0".repeat(16_384)),
    );
    assert_eq!(refuse(&draft), SignPdfError::RangeNotEmpty);
    assert_eq!(
        refuse(&draft).to_string(),
        "PDF to be signed: signed range is not `[0 0000000000 0000000000 0000000000]`"
    );

    for digits in [
        "0".repeat(16_382),
        "0".repeat(16_386),
        format!("{}1", "0".repeat(16_383)),
    ] {
        let mut draft = Draft::new();
        draft.set(
            number::SIGNATURE,
            &signature_dictionary(BYTE_RANGE_PLACEHOLDER, &digits),
        );
        assert_eq!(
            refuse(&draft).to_string(),
            "PDF to be signed: place of the signature is not 16384 digits `0`"
        );
    }

    let again = fill_signature(signed(), &key(), &certificate_of(&key())).unwrap_err();
    assert_eq!(again, SignPdfError::RangeNotEmpty);
    let nothing = fill_signature(Vec::new(), &key(), &certificate_of(&key())).unwrap_err();
    assert_eq!(
        nothing.to_string(),
        "PDF to be signed: PDF cannot be read strictly: byte 0: the file does not begin with the line `%PDF-1.7`"
    );
}

/// Case 62: the certificate is for the key that signs.
#[test]
fn certificate_of_another_key_or_no_certificate_is_refused() {
    let error =
        fill_signature(Draft::new().write(), &key(), &certificate_of(&other_key())).unwrap_err();
    let (certificate, own) = (
        other_key().public_key().fingerprint(),
        key().public_key().fingerprint(),
    );
    assert_eq!(
        error.to_string(),
        format!("the certificate carries the key {certificate}, but the signing key is {own}")
    );
    let error = fill_signature(Draft::new().write(), &key(), b"no certificate").unwrap_err();
    assert!(matches!(
        error,
        SignPdfError::Signature(CmsError::Certificate(_))
    ));
}

/// lopdf is another reader of the same bytes: it must see the same objects in them.
#[test]
fn another_reader_sees_the_same_objects() {
    let pdf = signed();
    let document = lopdf::Document::load_mem(&pdf).unwrap();
    let ours = crate::pdf::file::read(&pdf).unwrap();
    let theirs: Vec<u32> = document.objects.keys().map(|(number, _)| *number).collect();
    assert_eq!(theirs, ours.objects.keys().copied().collect::<Vec<_>>());
    let record = document
        .get_object((number::RECORD, 0))
        .unwrap()
        .as_stream()
        .unwrap();
    assert_eq!(record.decompressed_content().unwrap(), RECORD);
}

/// What lopdf writes is what the report hands over; it must be read strictly without any change.
#[test]
fn file_written_by_lopdf_is_read_strictly() {
    let mut document = lopdf::Document::load_mem(&Draft::new().write()).unwrap();
    document.version = "1.7".to_owned();
    let mut written = Vec::new();
    document.save_to(&mut written).unwrap();
    let ours = crate::pdf::file::read(&written).unwrap();
    assert_eq!(ours.objects.len(), Draft::new().objects.len());
}
