//! What lies beside the record, disclosures and key history: carried, signed with it, and nothing else in its place.

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
    let other = "embedded file other than `record.json`, `disclosures.json` and `key-history.json`";
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

const HISTORY: &[u8] = br#"{"format":"invented","entries":[]}"#;

/// A draft that carries a key history, with disclosures or without.
fn with_history(disclosures: bool) -> Draft {
    let mut draft = Draft::new();
    if disclosures {
        draft.carry_disclosures(DISCLOSURES);
    }
    draft.carry_history(HISTORY);
    draft
}

#[test]
fn a_key_history_is_taken_out_with_disclosures_and_without() {
    for disclosures in [false, true] {
        let found = examine(&with_history(disclosures).force_signed());
        assert_eq!(
            (found.judgement, found.problems),
            (PdfJudgement::Unaltered, vec![])
        );
        assert_eq!(found.record_bytes.as_deref(), Some(RECORD));
        assert_eq!(found.history_bytes.as_deref(), Some(HISTORY));
        assert_eq!(found.disclosures_bytes.is_some(), disclosures);
    }
}

#[test]
fn three_files_stand_in_one_order_and_there_is_no_fourth() {
    let names = "/Names[(disclosures.json)11 0 R(key-history.json)13 0 R(record.json)7 0 R]";
    let associated = "/AF[7 0 R 11 0 R 13 0 R]";
    let other = "embedded file other than `record.json`, `disclosures.json` and `key-history.json`";
    let changed = |changes: &[(&str, &str)]| {
        let mut draft = with_history(true);
        for (old, new) in changes {
            draft.replace(number::CATALOG, old, new);
        }
        let found = examine(&draft.force_signed());
        assert_eq!(found.judgement, PdfJudgement::CannotJudge, "{changes:?}");
        // A file that is not listed belongs to nothing besides.
        found.problems.last().unwrap().to_string()
    };
    // Both lists in another order, so that only the order is wrong.
    let swapped = [
        (
            names,
            "/Names[(key-history.json)13 0 R(disclosures.json)11 0 R(record.json)7 0 R]",
        ),
        (associated, "/AF[7 0 R 13 0 R 11 0 R]"),
    ];
    assert_eq!(changed(&swapped), other);
    let twice = [
        (
            names,
            "/Names[(disclosures.json)11 0 R(disclosures.json)11 0 R(record.json)7 0 R]",
        ),
        (associated, "/AF[7 0 R 11 0 R 11 0 R]"),
    ];
    assert_eq!(changed(&twice), other);
    let fourth = [
        (
            names,
            "/Names[(a)13 0 R(disclosures.json)11 0 R(key-history.json)13 0 R(record.json)7 0 R]",
        ),
        (associated, "/AF[7 0 R 13 0 R 11 0 R 13 0 R]"),
    ];
    assert_eq!(changed(&fourth), other);
    assert_eq!(changed(&[(associated, "/AF[7 0 R 13 0 R]")]), other);
    assert_eq!(
        changed(&[(associated, "/AF[7 0 R 13 0 R 11 0 R]")]),
        "no embedded `disclosures.json`: the associated file is another one than the embedded file"
    );
}
