//! The list of failures, case by case: what the corpus of the testkit holds, and what is to be said of it.
//!
//! Every expectation is typed by hand, from the list and the format pages. It is one line for each file: the exit code
//! first, then the words of the page. Records and reports are judged twice: by a reader who knows nobody, and by one who
//! compared the workshop's card; where the second one is told something else, it stands behind `known:`. `ledger` says where
//! each number of the list is tested.
#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

mod beside;
mod chain;
mod json;
mod keys;
mod ledger;
mod packages;
mod proof;
mod reports;
mod time;
mod withheld;

use std::sync::OnceLock;

use serde_json::Value;
use tangmark_core::json::{Limits, read_value};
use tangmark_testkit::failures::material::{ISSUER, Keys};
use tangmark_testkit::failures::{self, Case, Kind};
use tangmark_trust::history::KeyHistory;
use tangmark_trust::memory::{Memory, SeenKey};
use tangmark_trust::timestamp::{Authorities, AuthorityCertificate, Evidence, Token};
use tangmark_trust::verdict::{self, Judged, Reader, Verdict};

/// The clock of all cases.
pub(crate) const NOW: &str = "2026-11-25T08:00:00Z";

fn corpus() -> &'static [Case] {
    static CORPUS: OnceLock<Vec<Case>> = OnceLock::new();
    CORPUS.get_or_init(|| failures::all().unwrap())
}

/// Cases of a number and kind.
pub(crate) fn cases(number: u32, kind: Kind) -> Vec<&'static Case> {
    corpus()
        .iter()
        .filter(|case| case.number == number && case.kind == kind)
        .collect()
}

/// One case by its name.
pub(crate) fn case(number: u32, kind: Kind, name: &str) -> &'static Case {
    cases(number, kind)
        .into_iter()
        .find(|case| case.name == name)
        .unwrap_or_else(|| panic!("no case {number}, {name}"))
}

/// The histories handed in beside a case.
fn histories(case: &Case) -> Vec<KeyHistory> {
    case.files
        .iter()
        .skip(1)
        .filter(|(name, _)| name.starts_with("keys"))
        .map(|(_, bytes)| KeyHistory::read(bytes).unwrap())
        .collect()
}

/// The time evidence handed in beside a case that fits its record; its certificates are trusted.
fn evidence(case: &Case) -> Vec<Evidence> {
    let trusted: Vec<AuthorityCertificate> = case
        .beside(".pem")
        .flat_map(|(_, pem)| AuthorityCertificate::from_pem(pem).unwrap())
        .collect();
    let judged = verdict::judge(case.judged(), &reader(&Memory::default(), &[], &[], &[]));
    let (Some(name), Some(key)) = (judged.verdict.record, judged.key) else {
        return Vec::new();
    };
    let authorities = Authorities {
        trusted: &trusted,
        own: &[],
        workshop_keys: &[key],
    };
    case.beside(".tsr")
        .filter_map(|(_, bytes)| {
            Token::read_response(bytes)
                .and_then(|token| token.check(&name, &authorities))
                .ok()
        })
        .collect()
}

fn reader<'a>(
    memory: &'a Memory,
    others: &'a [Vec<u8>],
    histories: &'a [KeyHistory],
    evidence: &'a [Evidence],
) -> Reader<'a> {
    Reader {
        own_keys: &[],
        memory,
        now: NOW,
        others,
        histories,
        evidence,
    }
}

/// The verdict of a reader who remembers nobody.
pub(crate) fn judged(case: &Case) -> Judged {
    judged_with(case, &Memory::default())
}

/// What a reader remembers who compared the workshop's first key with its card.
pub(crate) fn card() -> Memory {
    let mut memory = Memory::default();
    let key = Keys::new().unwrap().workshop.public_key();
    let seen = SeenKey::new(ISSUER, &key, "2026-01-05T08:00:00Z", "card");
    assert!(memory.remember(seen).unwrap());
    memory
}

/// The verdict of a reader who remembers something.
pub(crate) fn judged_with(case: &Case, memory: &Memory) -> Judged {
    let others: Vec<Vec<u8>> = case
        .beside(".json")
        .filter(|(name, _)| name.starts_with('0'))
        .map(|(_, bytes)| bytes.clone())
        .collect();
    let (histories, evidence) = (histories(case), evidence(case));
    verdict::judge(
        case.judged(),
        &reader(memory, &others, &histories, &evidence),
    )
}

fn state(verdict: &Verdict, line: &str) -> String {
    let value: Value = serde_json::to_value(verdict).unwrap();
    value[line]["state"].as_str().unwrap().to_owned()
}

/// Exit code, and the words of the lines of bytes and signer.
pub(crate) fn words(verdict: &Verdict) -> String {
    format!(
        "{} {} {}",
        verdict.exit_code(),
        state(verdict, "bytes"),
        state(verdict, "signer")
    )
}

/// Word of the line of time.
pub(crate) fn time_word(verdict: &Verdict) -> String {
    state(verdict, "time")
}

/// Word of the line of time, and what the authority is to the reader where one is heard.
pub(crate) fn time_said(verdict: &Verdict) -> String {
    let value: Value = serde_json::to_value(&verdict.time).unwrap();
    let standing = value.get("standing").and_then(Value::as_str);
    let words = [Some(time_word(verdict)), standing.map(str::to_owned)];
    words.into_iter().flatten().collect::<Vec<_>>().join(" ")
}

/// Holds the cases of a number and kind against a list typed by hand: the same names, each with its words.
pub(crate) fn expect(number: u32, kind: Kind, wanted: &[(&str, &str)]) {
    let found: Vec<(String, String)> = cases(number, kind)
        .into_iter()
        .map(|case| (case.name.clone(), say(case)))
        .collect();
    let wanted: Vec<(String, String)> = wanted
        .iter()
        .map(|(name, words)| ((*name).to_owned(), (*words).to_owned()))
        .collect();
    assert_eq!(found, wanted, "case {number}");
}

/// All cases of a number and kind say the same, and there are so many.
pub(crate) fn expect_all(number: u32, kind: Kind, least: usize, wanted: &str) {
    let cases = cases(number, kind);
    assert!(cases.len() >= least, "case {number}: {}", cases.len());
    for case in cases {
        assert_eq!(say(case), wanted, "case {number}: {}", case.name);
    }
}

/// The words for a reader who knows nobody, and for one who knows the workshop where they are others.
fn both(case: &Case) -> String {
    let stranger = words(&judged(case).verdict);
    let known = words(&judged_with(case, &card()).verdict);
    if known == stranger {
        stranger
    } else {
        format!("{stranger}, known: {known}")
    }
}

fn say(case: &Case) -> String {
    match case.kind {
        Kind::Json => match read_value(case.judged(), &Limits::default()) {
            Ok(_) => "accepted".to_owned(),
            Err(_) => "refused".to_owned(),
        },
        Kind::Record | Kind::Pdf => both(case),
        Kind::Keys => match KeyHistory::read(case.judged()) {
            Ok(_) => "accepted".to_owned(),
            Err(_) => "refused".to_owned(),
        },
        Kind::Package => unreachable!("packages are judged in a module of their own"),
    }
}
