//! Disclosures beside the record: carried, signed with it, and nothing else in their place.

use crate::pdf::{
    PdfJudgement, examine,
    fixture::{Draft, RECORD, number, stream},
};

const DISCLOSURES: &[u8] = br#"{"format":"invented","disclosures":[]}"#;
const TWO: &str = "/Names[(disclosures.json)11 0 R(record.json)7 0 R]";

/// A draft that carries both files.
fn both() -> Draft {
    let mut draft = Draft::new();
    draft.replace(number::CATALOG, "/Names[(record.json)7 0 R]", TWO);
    draft.replace(number::CATALOG, "/AF[7 0 R]", "/AF[7 0 R 11 0 R]");
    draft.set(
        number::NEXT,
        "<</Type/Filespec/F(disclosures.json)/UF(disclosures.json)/AFRelationship/Supplement/EF<</F 12 0 R/UF 12 0 R>>>>",
    );
    draft.objects.insert(
        number::NEXT + 1,
        stream("/Type/EmbeddedFile/Subtype/application#2Fjson", DISCLOSURES),
    );
    draft
}

#[test]
fn both_files_are_taken_out() {
    let found = examine(&both().force_signed());
    assert_eq!(
        (found.judgement, found.problems),
        (PdfJudgement::Unaltered, vec![])
    );
    assert_eq!(found.record_bytes.as_deref(), Some(RECORD));
    assert_eq!(found.disclosures_bytes.as_deref(), Some(DISCLOSURES));
    let alone = examine(&Draft::new().force_signed());
    assert_eq!(alone.disclosures_bytes, None);
}

#[test]
fn a_changed_disclosure_is_an_altered_report() {
    let mut bytes = both().force_signed();
    let place = bytes
        .windows(8)
        .position(|window| window == b"invented")
        .unwrap();
    bytes[place] = b'I';
    assert_eq!(examine(&bytes).judgement, PdfJudgement::Altered);
}

#[test]
fn a_second_file_is_disclosures_or_refused() {
    let other = "embedded file other than `record.json` and `disclosures.json`";
    let changed = |object: u32, old: &str, new: &str| {
        let mut draft = both();
        draft.replace(object, old, new);
        let found = examine(&draft.force_signed());
        assert_eq!(found.judgement, PdfJudgement::CannotJudge, "{old} -> {new}");
        assert_eq!(found.problems.len(), 1, "{:?}", found.problems);
        found.problems[0].to_string()
    };
    let none = |what: &str| format!("no embedded `record.json`: {what}");
    for (object, old, new) in [
        (number::CATALOG, "(disclosures.json)", "(notes.json)"),
        (number::NEXT, "/F(disclosures.json)", "/F(notes.json)"),
        (number::NEXT, "/UF(disclosures.json)", "/UF(record.json)"),
        (number::CATALOG, "/AF[7 0 R 11 0 R]", "/AF[7 0 R]"),
        (number::CATALOG, TWO, "/Names[(record.json)7 0 R]"),
        (
            number::CATALOG,
            "/AF[7 0 R 11 0 R]",
            "/AF[7 0 R 11 0 R 11 0 R]",
        ),
    ] {
        assert_eq!(changed(object, old, new), other, "{old} -> {new}");
    }
    assert_eq!(
        changed(number::CATALOG, "/AF[7 0 R 11 0 R]", "/AF[11 0 R 7 0 R]"),
        none("the associated file is another one than the embedded file")
    );
    assert_eq!(
        changed(
            number::CATALOG,
            TWO,
            "/Names[(record.json)7 0 R(disclosures.json)11 0 R]"
        ),
        none("the associated file is another one than the embedded file")
    );
}
