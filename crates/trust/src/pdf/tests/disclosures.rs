//! Disclosures beside the record: carried, signed with it, and nothing else in their place.

use crate::pdf::{
    PdfJudgement, RECORD_LIMIT, examine,
    fixture::{Draft, RECORD, deflate, number, stream},
};

const DISCLOSURES: &[u8] = br#"{"format":"invented","disclosures":[]}"#;
const TWO: &str = "/Names[(disclosures.json)11 0 R(record.json)7 0 R]";

/// A draft that carries both files.
fn both() -> Draft {
    let mut draft = Draft::new();
    draft.carry_disclosures(DISCLOSURES);
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

#[test]
fn a_fault_of_the_disclosures_is_told_of_them() {
    let found = |change: &dyn Fn(&mut Draft)| {
        let mut draft = both();
        change(&mut draft);
        let found = examine(&draft.force_signed());
        assert_eq!(found.judgement, PdfJudgement::CannotJudge);
        assert_eq!(found.problems.len(), 1, "{:?}", found.problems);
        found.problems[0].to_string()
    };
    let file = number::NEXT + 1;
    let packed = |draft: &mut Draft, bytes: &[u8]| {
        draft.set_bytes(file, stream("/Type/EmbeddedFile/Filter/FlateDecode", bytes));
    };
    assert_eq!(
        found(&|draft| packed(draft, b"no zlib")),
        "embedded `disclosures.json` cannot be unpacked"
    );
    assert_eq!(
        found(&|draft| packed(draft, &deflate(&vec![b' '; RECORD_LIMIT + 1]))),
        "embedded `disclosures.json`: more than 16777216 bytes, which is the most allowed"
    );
    assert_eq!(
        found(&|draft| draft.replace(number::CATALOG, "/AF[7 0 R 11 0 R]", "/AF[7 0 R 8 0 R]")),
        "no embedded `disclosures.json`: the associated file is another one than the embedded file"
    );
    assert_eq!(
        found(&|draft| draft.replace(number::NEXT, "/F 12 0 R/UF 12 0 R", "/UF 12 0 R")),
        "no embedded `disclosures.json`: no embedded file"
    );
}
