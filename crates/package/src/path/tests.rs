//! Every rule on paths, by a path that breaks only it.
#![allow(clippy::unwrap_used)]
use super::*;
use tangmark_core::Digest;
use tangmark_core::record::Purpose;

fn rule(path: &str) -> Rule {
    check(path).unwrap_err().rule
}

#[test]
fn plain_paths_are_taken() {
    for path in [
        "bagit.txt",
        "data/records/01-before_work.json",
        "data/photos/ä 刀.jpg",
        "data/.hidden",
        "console/com10/nul-1",
    ] {
        assert_eq!(check(path), Ok(()), "{path}");
    }
}

#[test]
fn case_50_paths_that_leave_the_folder_are_refused() {
    for path in [
        "",
        "/etc/x",
        "data//x",
        "data/",
        "..",
        "data/../x",
        "./x",
        "data/./x",
        "x.",
        "data/x /y",
        "data./x",
    ] {
        assert_eq!(rule(path), Rule::PathForm, "{path:?}");
    }
}

#[test]
fn signs_with_a_meaning_elsewhere_are_refused() {
    for sign in "\\:*?\"<>|\u{0}\n\r\t\u{7f}\u{85}".chars() {
        assert_eq!(rule(&format!("data/a{sign}b")), Rule::PathSigns, "{sign:?}");
    }
    assert_eq!(rule("C:/x"), Rule::PathSigns);
}

#[test]
fn long_paths_are_refused() {
    let part = |length: usize| "a".repeat(length);
    assert_eq!(check(&format!("{}/{}", part(120), part(119))), Ok(()));
    assert_eq!(
        rule(&format!("{}/{}", part(120), part(120))),
        Rule::PathLength
    );
    assert_eq!(rule(&format!("data/{}", part(121))), Rule::PathLength);
    // Bytes, not characters.
    assert_eq!(rule(&"刀".repeat(41)), Rule::PathLength);
}

#[test]
fn case_50_names_of_devices_are_refused() {
    for path in [
        "con",
        "data/NUL",
        "data/aux.json",
        "Com1.tar.gz",
        "lpt9/x",
        "prn .txt",
        "COM0",
    ] {
        assert_eq!(rule(path), Rule::PathDevice, "{path}");
    }
}

#[test]
fn text_outside_form_c_is_refused() {
    assert_eq!(rule("data/a\u{308}"), Rule::PathNormal);
}

#[test]
fn case_50_paths_that_are_one_on_some_system_are_refused() {
    for (one, other) in [
        ("data/A.txt", "data/a.txt"),
        ("data/Ä/x", "data/ä/y"),
        ("data/x", "data/x/y"),
        ("data/x/y", "data/x"),
        ("data/k", "DATA/l"),
    ] {
        let mut paths = Paths::new(20);
        paths.file(one).unwrap();
        let refusal = paths.file(other).unwrap_err();
        assert_eq!(refusal.rule, Rule::SamePath, "{one} {other}");
    }
    let mut paths = Paths::new(20);
    paths.file("data/x/a").unwrap();
    paths.file("data/x/b").unwrap();
    // A file that a manifest lists is the file that is there.
    paths.file("data/x/a").unwrap();
    paths.folder("data/x").unwrap();
    paths.folder("data/empty").unwrap();
}

#[test]
fn folders_above_count_among_the_paths() {
    let mut paths = Paths::new(4);
    paths.file("a/b/c").unwrap();
    paths.file("a/b/d").unwrap();
    assert_eq!(paths.file("e").unwrap_err().rule, Rule::TooManyPaths);
}

#[test]
fn places_are_those_of_the_table() {
    let digest = Digest::of(b"x");
    let photo = format!("data/photos/{digest}.jpg");
    for (path, place) in [
        (
            "data/records/02-after_work.json",
            Place::Record {
                number: 2,
                purpose: Purpose::AfterWork,
            },
        ),
        ("data/records/102-x.json", Place::Extra),
        ("data/records/002-intake.json", Place::Extra),
        ("data/records/2-intake.json", Place::Extra),
        ("data/records/02-intake.json/x", Place::Extra),
        ("data/disclosures/107.json", Place::Disclosures(107)),
        ("data/disclosures/00.json", Place::Disclosures(0)),
        ("data/disclosures/12345678901.json", Place::Extra),
        (&photo, Place::Photo(digest)),
        ("data/photos/reed.jpg", Place::Extra),
        ("data/reports/reed-02.pdf", Place::Report),
        ("data/reports/Reed.pdf", Place::Extra),
        (
            "data/keys/ABCDE-FGHIJ-KLMNO-PQ234.json",
            Place::KeyHistory("ABCDE-FGHIJ-KLMNO-PQ234"),
        ),
        ("data/keys/ABCDE-FGHIJ-KLMNO-PQ23.json", Place::Extra),
        ("data/timestamps/01-harbour.tsr", Place::Timestamp(1)),
        ("data/timestamps/authorities/harbour.pem", Place::Authority),
        ("data/schema/tangmark-record-1.schema.json", Place::Schema),
        ("data/schema/other.json", Place::Extra),
        ("data/format/record-format.md", Place::Aid),
        ("data/tools/check_record.mjs", Place::Aid),
        ("data/tools/other.py", Place::Extra),
        ("data/verify.html", Place::Page),
        ("data/HOW-TO-CHECK.txt", Place::Help),
        ("data/proofs/a/b", Place::NotLookedAt),
        ("data/exports/x", Place::NotLookedAt),
        ("data/notes.txt", Place::Extra),
        ("bag-info.txt", Place::Tag),
        ("tagmanifest-sha256.txt", Place::TagManifest),
        ("manifest-md5.txt", Place::OtherManifest),
        ("tagmanifest-sha512.txt", Place::OtherManifest),
        ("manifest-.txt", Place::Extra),
        ("notes.txt", Place::Extra),
    ] {
        assert_eq!(Place::of(path), place, "{path}");
    }
}

#[test]
fn paths_are_shown_without_what_turns_the_writing() {
    assert_eq!(shown("a\u{202e}b\nc"), "a\\u{202e}b\\u{a}c");
    assert_eq!(shown(&"a".repeat(300)).chars().count(), 241);
}
