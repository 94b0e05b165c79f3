//! The sealed records in `samples/records` verify and keep their names. (Their reports: `renderer.rs`.)
//!
//! `BLESS=1` writes the list of names anew; read the difference before it is kept.
#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

use std::collections::BTreeMap;
use std::env;
use std::fs;
use std::path::{Path, PathBuf};

use tangmark_core::Digest;
use tangmark_report::{Kind, PageSize, Speech, pictures_wanted, render};
use tangmark_testkit::cases::{golden, photos};
use tangmark_testkit::sealed::sign_report_with;
use tangmark_trust::memory::Memory;
use tangmark_trust::verdict::{self, BytesLine, Judged, Reader, SignerLine};

/// File names of the golden records.
const RECORDS: [&str; 6] = [
    "dune-01-before_work.json",
    "gorge-01-intake.json",
    "heron-01-before_work.json",
    "lantern-01-referral.json",
    "reed-01-before_work.json",
    "reed-02-after_work.json",
];

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../samples/records")
}

fn bytes_of(name: &str) -> Vec<u8> {
    fs::read(folder().join(name)).unwrap()
}

fn judge(bytes: &[u8], others: &[Vec<u8>]) -> Judged {
    let memory = Memory::default();
    let reader = Reader {
        own_keys: &[],
        memory: &memory,
        now: "2026-11-25T08:00:00Z",
        others,
        histories: &[],
        evidence: &[],
    };
    verdict::judge(bytes, &reader)
}

/// Compares a list of digests with the committed one, or writes it with `BLESS=1`.
fn compare(list: &str, found: &BTreeMap<&str, Digest>) {
    let path = folder().join(list);
    let lines: Vec<String> = found
        .iter()
        .map(|(name, digest)| format!("{digest}  {name}\n"))
        .collect();
    let text = lines.concat();
    if env::var_os("BLESS").is_some() {
        fs::write(&path, &text).unwrap();
    }
    assert_eq!(
        fs::read_to_string(&path).unwrap(),
        text,
        "{list}: BLESS=1 writes it anew"
    );
}

#[test]
fn the_folder_holds_the_records_and_nothing_else() {
    let mut found: Vec<String> = fs::read_dir(folder())
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| {
            Path::new(name)
                .extension()
                .is_some_and(|extension| extension == "json")
        })
        .collect();
    found.sort();
    assert_eq!(found, RECORDS);
}

#[test]
fn golden_records_are_intact_and_keep_their_names() {
    let mut names = BTreeMap::new();
    for file in RECORDS {
        let judged = judge(&bytes_of(file), &[]);
        let verdict = judged.verdict;
        assert_eq!(verdict.bytes, BytesLine::Intact, "{file}");
        assert!(
            matches!(verdict.signer, SignerLine::New { .. }),
            "{file}: {}",
            verdict.signer
        );
        assert_eq!(verdict.exit_code(), 2, "{file}");
        assert_eq!(
            verdict.notices[0],
            "demonstration: this key is a throw-away and stands for nobody"
        );
        names.insert(file, verdict.record.unwrap());
        let record = judged.record.unwrap();
        let plugins: Vec<&str> = record.runs.iter().map(|run| run.plugin.as_str()).collect();
        assert_eq!(plugins, tangmark_workshop::SHIPPED_PLUGINS, "{file}");
        assert!(
            record.runs.iter().all(|run| run.fault.is_none()),
            "{file}: a plugin failed"
        );
    }
    compare("digests.txt", &names);
}

#[test]
fn the_two_records_of_one_blade_are_a_chain() {
    let [before, after] = ["reed-01-before_work.json", "reed-02-after_work.json"].map(bytes_of);
    let found = judge(&after, std::slice::from_ref(&before))
        .verdict
        .completeness;
    assert_eq!(
        (found.sequence, found.supplied, found.not_supplied),
        (Some(2), 2, 0)
    );
    assert_eq!(found.broken, None);
    let earlier = judge(&before, std::slice::from_ref(&after))
        .verdict
        .completeness;
    assert_eq!(earlier.superseded_by, judge(&after, &[]).verdict.record);
}

#[test]
fn a_stranger_cannot_sign_a_report_for_the_workshop() {
    let photos = photos();
    let stranger = tangmark_trust::PrivateKey::from_entropy([9; 32]).unwrap();
    for case in golden().unwrap() {
        // Photos by digest: those of the samples are the ones the records name.
        for wanted in pictures_wanted(&case.record) {
            assert!(
                photos.contains_key(&wanted),
                "{}: photo {wanted} is not in samples/photos",
                case.name
            );
        }
        let input = case.input(&photos, PageSize::A4, Kind::Buyer, Speech::English);
        let pdf = render(&case.record, &input).unwrap().pdf;
        let signed = sign_report_with(pdf, &stranger).unwrap();
        assert_eq!(judge(&signed, &[]).verdict.exit_code(), 1, "{}", case.name);
    }
}
