//! Every rule has a fixture: a report that breaks this rule and no other, made from one that keeps them all.
#![allow(clippy::unwrap_used, clippy::expect_used)]

mod bytes;
mod edits;
mod fixtures;
mod structures;

use std::collections::{BTreeMap, BTreeSet};
use std::sync::OnceLock;

use jpeg_encoder::{ColorType, Encoder};
use lopdf::{Document, Object};
use tangmark_workshop::demo;

use super::signature::gap;
use super::{check, rules};
use crate::sealed::{Trial, sign_report};

/// How a good report is made into one that breaks a rule.
#[derive(Clone, Copy)]
pub(super) enum Break {
    /// The objects are changed; what is no longer reached goes, and the place of the signature is right.
    Objects(fn(&mut Document)),
    /// As above, and what is not reached stays.
    Loose(fn(&mut Document)),
    /// The bytes are changed; the table and the signature's four numbers are put right.
    Bytes(fn(&mut Vec<u8>)),
    /// The bytes are changed and nothing is put right.
    Raw(fn(&mut Vec<u8>)),
    /// The objects are changed, then the bytes, and nothing is put right after that.
    Both(fn(&mut Document), fn(&mut Vec<u8>)),
}

/// A report that breaks one rule.
pub(super) struct Fixture {
    pub(super) rule: &'static str,
    pub(super) what: &'static str,
    pub(super) how: Break,
}

/// A fixture that is made by changing objects.
const fn objects(rule: &'static str, what: &'static str, edit: fn(&mut Document)) -> Fixture {
    Fixture {
        rule,
        what,
        how: Break::Objects(edit),
    }
}

/// A signed report with everything that the rules look at: tables, lists, photos, a drawing, kanji.
fn good() -> &'static [u8] {
    static GOOD: OnceLock<Vec<u8>> = OnceLock::new();
    GOOD.get_or_init(|| {
        let mut photo = Vec::new();
        let pixels: Vec<u8> = (0..60_u8 * 3).flat_map(|step| [step; 40]).collect();
        Encoder::new(&mut photo, 70)
            .encode(&pixels, 40, 60, ColorType::Rgb)
            .unwrap();
        let mut trial = Trial::new(2).unwrap();
        trial.add_photos(&[&photo]).unwrap();
        let at = trial.unsigned["dimensions"]["stations"][1]["at"].clone();
        trial.unsigned["flaws"] = serde_json::json!([
            { "id": "f-1", "kind": "hakobore", "zone": "edge", "faces": ["omote"], "at": at, "progress": "stable", "standing": "suspected" },
        ]);
        let sealed = trial.seal().unwrap();
        sign_report(trial.render(&sealed).unwrap().0).unwrap()
    })
}

fn places(bytes: &[u8], word: &[u8]) -> Vec<usize> {
    super::file::places(bytes, word)
}

/// Writes the four numbers of the signature anew, for a file whose gap has moved.
fn cover(bytes: &mut [u8]) {
    let at = places(bytes, b"/ByteRange [0 ")[0] + b"/ByteRange [0 ".len();
    let (open, close) = gap(bytes).unwrap();
    let numbers = format!("{open:010} {close:010} {:010}", bytes.len() - close);
    bytes[at..at + numbers.len()].copy_from_slice(numbers.as_bytes());
}

/// Writes the places of the objects anew.
fn retable(bytes: &mut Vec<u8>) {
    let Some(table) = places(bytes, b"\nxref\n").pop().map(|at| at + 1) else {
        return;
    };
    let rows = table + places(&bytes[table..], b"65535 f")[0] - 11;
    let count = places(&bytes[table..], b" 00000 n ").len();
    for number in 1..=count {
        let head = format!("\n{number} 0 obj");
        let at = places(bytes, head.as_bytes())[0] + 1;
        let row = rows + 20 * number;
        bytes[row..row + 10].copy_from_slice(format!("{at:010}").as_bytes());
    }
    let start = places(bytes, b"startxref").pop().unwrap() + 10;
    let end = start
        + bytes[start..]
            .iter()
            .position(|byte| *byte == b'\n')
            .unwrap();
    bytes.splice(start..end, table.to_string().into_bytes());
}

/// Writes a document with the signature's four numbers right.
fn written(mut document: Document) -> Vec<u8> {
    for _ in 0..6 {
        let mut bytes = Vec::new();
        document.save_to(&mut bytes).unwrap();
        let Some((open, close)) = gap(&bytes) else {
            return bytes;
        };
        let wanted: Vec<Object> = [0, open, close, bytes.len() - close]
            .iter()
            .map(|number| Object::Integer(i64::try_from(*number).unwrap()))
            .collect();
        let signature = document
            .objects
            .values_mut()
            .filter_map(|object| object.as_dict_mut().ok())
            .find(|dictionary| dictionary.has(b"ByteRange"))
            .unwrap();
        if signature.get(b"ByteRange").unwrap().as_array().unwrap() == &wanted {
            return bytes;
        }
        signature.set("ByteRange", wanted);
    }
    panic!("the four numbers do not settle");
}

fn broken(how: Break) -> Vec<u8> {
    let edited = |edit: fn(&mut Document), prune: bool| {
        let mut document = Document::load_mem(good()).unwrap();
        edit(&mut document);
        if prune {
            document.prune_objects();
            document.renumber_objects();
        }
        written(document)
    };
    match how {
        Break::Objects(edit) => edited(edit, true),
        Break::Loose(edit) => edited(edit, false),
        Break::Bytes(edit) => {
            let mut bytes = good().to_vec();
            edit(&mut bytes);
            retable(&mut bytes);
            cover(&mut bytes);
            bytes
        }
        Break::Both(edit, then) => {
            let mut bytes = edited(edit, true);
            then(&mut bytes);
            bytes
        }
        Break::Raw(edit) => {
            let mut bytes = good().to_vec();
            edit(&mut bytes);
            bytes
        }
    }
}

fn fixtures() -> impl Iterator<Item = &'static Fixture> {
    [bytes::FIXTURES, fixtures::FIXTURES, structures::FIXTURES]
        .into_iter()
        .flatten()
}

fn told(bytes: &[u8]) -> Vec<String> {
    check(bytes).iter().map(ToString::to_string).collect()
}

#[test]
fn a_report_keeps_all_rules_also_when_it_is_written_by_the_tests() {
    assert_eq!(told(good()), Vec::<String>::new());
    assert_eq!(told(&broken(Break::Objects(|_| {}))), Vec::<String>::new());
    assert_eq!(told(&broken(Break::Bytes(|_| {}))), Vec::<String>::new());
}

/// Fixtures of one kind, each beside the rules it breaks where those are others than its own.
fn breaks_no_other(fixtures: &[Fixture]) {
    let mut wrong = Vec::new();
    for fixture in fixtures {
        let Ok(findings) = std::panic::catch_unwind(|| check(&broken(fixture.how))) else {
            wrong.push(format!("{}, {}: not made", fixture.rule, fixture.what));
            continue;
        };
        let found: BTreeSet<&str> = findings.iter().map(|finding| finding.rule).collect();
        if found != BTreeSet::from([fixture.rule]) {
            let told: Vec<String> = findings.iter().map(ToString::to_string).collect();
            wrong.push(format!("{}, {}: {told:#?}", fixture.rule, fixture.what));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn each_fixture_of_bytes_breaks_its_rule_and_no_other() {
    breaks_no_other(bytes::FIXTURES);
}

#[test]
fn each_fixture_of_objects_breaks_its_rule_and_no_other() {
    breaks_no_other(fixtures::FIXTURES);
}

#[test]
fn each_fixture_of_fonts_and_structure_breaks_its_rule_and_no_other() {
    breaks_no_other(structures::FIXTURES);
}

#[test]
fn each_rule_has_a_number_of_its_own_and_a_fixture() {
    let mut numbers: BTreeMap<&str, usize> = BTreeMap::new();
    for rule in rules() {
        *numbers.entry(rule.id).or_default() += 1;
        assert!(!rule.says.is_empty() && !rule.clause.is_empty());
    }
    assert!(numbers.values().all(|times| *times == 1), "{numbers:?}");
    let broken: BTreeSet<&str> = fixtures().map(|fixture| fixture.rule).collect();
    let known: BTreeSet<&str> = numbers.into_keys().collect();
    assert_eq!(broken, known);
    assert!(known.len() >= 80, "{} rules", known.len());
}

#[test]
fn the_demo_photos_are_embedded_by_the_rules_too() {
    let photos: Vec<&[u8]> = demo::PHOTOS
        .iter()
        .take(2)
        .map(|(_, bytes)| *bytes)
        .collect();
    let mut trial = Trial::new(1).unwrap();
    trial.add_photos(&photos).unwrap();
    let sealed = trial.seal().unwrap();
    assert_eq!(
        told(&trial.render(&sealed).unwrap().0),
        Vec::<String>::new()
    );
}
