//! Files by themselves: one out of a package is judged, some of the others are handed in beside it.

use std::collections::BTreeMap;

use serde::Serialize;
use serde_json::Value;
use tangmark_core::json::{Limits, read_value};
use tangmark_trust::history::KeyHistory;
use tangmark_trust::memory::Memory;
use tangmark_trust::pdf;
use tangmark_trust::timestamp::{Authorities, AuthorityCertificate, Evidence, Token};
use tangmark_trust::verdict::{self, Judged, Reader, Verdict};

use super::{Chance, Mutant};
use crate::failures::bag::Bag;

/// A record or report out of a package as `file`, with some of its records, histories, time evidence and disclosures;
/// nothing where it holds none.
pub(super) fn taken(
    chance: &mut Chance,
    bag: &Bag,
    report: bool,
) -> Option<Vec<(String, Vec<u8>)>> {
    let folder = if report && chance.percent(80) {
        "data/reports/"
    } else {
        "data/records/"
    };
    let paths: Vec<&String> = bag
        .files
        .keys()
        .filter(|path| path.starts_with(folder))
        .collect();
    let main = (*chance.pick(&paths)?).clone();
    let mut files = vec![("file".to_owned(), bag.files.get(&main)?.clone())];
    let likely = [
        ("data/records/", 45),
        ("data/keys/", 60),
        ("data/timestamps/", 60),
        ("data/disclosures/", 30),
    ];
    for (path, bytes) in &bag.files {
        let part = likely.iter().find(|(folder, _)| path.starts_with(folder));
        let fits = is_named(path, "json") || is_named(path, "tsr");
        if *path != main && fits && part.is_some_and(|(_, percent)| chance.percent(*percent)) {
            files.push((
                path.rsplit('/').next().unwrap_or_default().to_owned(),
                bytes.clone(),
            ));
        }
    }
    Some(files)
}

/// Whether a name ends in `.` and this.
pub(super) fn is_named(name: &str, ending: &str) -> bool {
    name.rsplit_once('.')
        .is_some_and(|(_, last)| last == ending)
}

/// What the library says of a file, and of the key under the pages of a report.
#[derive(Serialize)]
pub(super) struct Said {
    exit: u8,
    #[serde(flatten)]
    verdict: Verdict,
    pages_key: Option<String>,
    /// Whether each key history beside it reads.
    histories: BTreeMap<String, bool>,
}

/// Whether a file beside names this format; one that is no strict JSON by what stands in it.
fn is_of(bytes: &[u8], wanted: &str) -> bool {
    if let Ok(value) = read_value(bytes, &Limits::default()) {
        return value.get("format").and_then(Value::as_str) == Some(wanted);
    }
    let text = String::from_utf8_lossy(bytes).replace([' ', '\n'], "");
    text.contains(&format!("\"format\":\"{}\"", wanted.replace(' ', "")))
}

/// Judges the first file of a mutant with the others beside it.
pub(super) fn judged(
    mutant: &Mutant,
    memory: &Memory,
    at_hand: &[KeyHistory],
    trusted: &[AuthorityCertificate],
) -> Said {
    let bytes = mutant.files.first().map_or(&[][..], |(_, bytes)| bytes);
    let beside: BTreeMap<&str, &[u8]> = mutant
        .files
        .iter()
        .skip(1)
        .map(|(name, bytes)| (name.as_str(), bytes.as_slice()))
        .collect();
    let (mut histories, mut others, mut tokens) = (at_hand.to_vec(), Vec::new(), Vec::new());
    let mut reads = BTreeMap::new();
    for (name, bytes) in beside {
        if is_named(name, "tsr") {
            tokens.extend(Token::read_response(bytes));
        } else if is_of(bytes, "tangmark key history 1") {
            let read = KeyHistory::read(bytes);
            reads.insert(name.to_owned(), read.is_ok());
            histories.extend(read);
        } else if !is_of(bytes, "tangmark disclosures 1") {
            others.push(bytes.to_vec());
        }
    }
    let reader = Reader {
        own_keys: &[],
        memory,
        now: &mutant.reader.now,
        others: &others,
        histories: &histories,
        evidence: &[],
    };
    let first = verdict::judge(bytes, &reader);
    let evidence = evidence(bytes, &first, &histories, &tokens, trusted);
    let verdict = verdict::judge(
        bytes,
        &Reader {
            evidence: &evidence,
            ..reader
        },
    )
    .verdict;
    Said {
        exit: verdict.exit_code(),
        pages_key: pdf::examine(bytes).certificate_key.map(|key| key.did_key()),
        verdict,
        histories: reads,
    }
}

/// The tokens that fit the file, and the one over the signature of a report.
fn evidence(
    bytes: &[u8],
    judged: &Judged,
    histories: &[KeyHistory],
    tokens: &[Token],
    trusted: &[AuthorityCertificate],
) -> Vec<Evidence> {
    let (Some(name), Some(key)) = (judged.verdict.record, judged.key) else {
        return Vec::new();
    };
    let mut keys = vec![key];
    keys.extend(judged.joined.as_ref().map(|(pages, _)| *pages));
    let within = judged.joined.as_ref().map(|(_, history)| history);
    let own = keys.clone();
    for history in histories.iter().chain(within) {
        if own.iter().any(|key| history.term(key).is_some()) {
            keys.extend(history.terms().map(|term| term.key));
        }
    }
    let authorities = Authorities {
        trusted,
        own: &[],
        workshop_keys: &keys,
    };
    let inside = bytes
        .starts_with(b"%PDF")
        .then(|| pdf::time_token(bytes))
        .flatten();
    let inside = inside.and_then(|(signature, token)| token?.check(&signature, &authorities).ok());
    let beside = tokens
        .iter()
        .filter_map(|token| token.check(&name, &authorities).ok());
    beside.chain(inside).collect()
}
