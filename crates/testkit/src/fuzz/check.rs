//! What must hold for any bytes.

use std::collections::BTreeSet;

use serde_json::Value;
use tangmark_core::Digest;
use tangmark_core::json::{Limits, canonical_bytes, read_value};
use tangmark_package::judge::{PackageReader, judge_bytes};
use tangmark_trust::history::KeyHistory;
use tangmark_trust::memory::Memory;
use tangmark_trust::proof;
use tangmark_trust::verdict::{self, BytesLine, Reader};

use super::Target;

/// What somebody did seal: all that may be called intact.
#[derive(Clone, Debug, Default)]
pub struct Known {
    /// Digests of whole files.
    pub files: BTreeSet<Digest>,
    /// Names of records.
    pub records: BTreeSet<Digest>,
    /// Digests of the canonical form of documents with a proof, without the signature's value.
    pub documents: BTreeSet<Digest>,
}

impl Known {
    /// Takes up a sealed file: a record or a report.
    pub fn add_sealed(&mut self, bytes: &[u8]) {
        let verdict = judged(bytes);
        if verdict.bytes == BytesLine::Intact {
            self.files.insert(Digest::of(bytes));
        }
        self.records.extend(verdict.record);
        self.add_document(bytes);
    }

    /// Takes up a document with a proof, or a history of such.
    pub fn add_document(&mut self, bytes: &[u8]) {
        if let Ok(value) = read_value(bytes, &Limits::default()) {
            self.documents.extend(signed(&value));
            self.documents.extend(entries(&value));
        }
    }
}

fn judged(bytes: &[u8]) -> verdict::Verdict {
    let memory = Memory::default();
    let reader = Reader {
        own_keys: &[],
        memory: &memory,
        now: "2030-01-01T00:00:00Z",
        others: &[],
        histories: &[],
        evidence: &[],
    };
    verdict::judge(bytes, &reader).verdict
}

/// What a proof signs: the document and the options, without the value. The twin of a value signs the same.
fn signed(document: &Value) -> Option<Digest> {
    let mut document = document.clone();
    document
        .get_mut("proof")?
        .as_object_mut()?
        .remove("proofValue");
    canonical_bytes(&document)
        .ok()
        .map(|bytes| Digest::of(&bytes))
}

/// The same of a history: over all entries as they stand.
fn entries(history: &Value) -> Option<Digest> {
    history.get("entries")?;
    canonical_bytes(history)
        .ok()
        .map(|bytes| Digest::of(&bytes))
}

/// Reads bytes as the target does.
///
/// # Errors
/// The rule that was broken, in words.
pub fn check(target: Target, bytes: &[u8], known: &Known) -> Result<(), String> {
    match target {
        Target::Record | Target::Pdf => sealed(bytes, known),
        Target::Package => package(bytes, known),
        Target::History => history(bytes, known),
        Target::Proof => document(bytes, known),
    }
}

fn sealed(bytes: &[u8], known: &Known) -> Result<(), String> {
    let verdict = judged(bytes);
    match verdict.bytes {
        BytesLine::Intact if !known.files.contains(&Digest::of(bytes)) => {
            Err("intact, and nobody sealed these bytes".to_owned())
        }
        BytesLine::SameContent
            if verdict
                .record
                .is_none_or(|record| !known.records.contains(&record)) =>
        {
            Err("same content, and nobody sealed it".to_owned())
        }
        _ => Ok(()),
    }
}

fn package(bytes: &[u8], known: &Known) -> Result<(), String> {
    let memory = Memory::default();
    let reader = PackageReader {
        own_keys: &[],
        memory: &memory,
        now: "2030-01-01T00:00:00Z",
        histories: &[],
        authorities: &[],
        own_authorities: &[],
    };
    let verdict = judge_bytes(bytes.to_vec(), &reader);
    let value = serde_json::to_value(&verdict).map_err(|error| error.to_string())?;
    let records = value.get("records").and_then(Value::as_object);
    for (path, record) in records.into_iter().flatten() {
        let stands =
            ["intact", "same_content"].contains(&record["state"].as_str().unwrap_or_default());
        let name = record["name"]
            .as_str()
            .and_then(|name| name.parse::<Digest>().ok());
        if stands && name.is_none_or(|name| !known.records.contains(&name)) {
            return Err(format!("{path} stands, and nobody sealed it"));
        }
    }
    Ok(())
}

fn history(bytes: &[u8], known: &Known) -> Result<(), String> {
    if KeyHistory::read(bytes).is_err() {
        return Ok(());
    }
    let value = read_value(bytes, &Limits::default()).map_err(|error| error.to_string())?;
    match entries(&value) {
        Some(digest) if known.documents.contains(&digest) => Ok(()),
        _ => Err("a history is taken that nobody signed".to_owned()),
    }
}

fn document(bytes: &[u8], known: &Known) -> Result<(), String> {
    let Ok(value) = read_value(bytes, &Limits::default()) else {
        return Ok(());
    };
    if proof::verify(&value).is_err() {
        return Ok(());
    }
    match signed(&value) {
        Some(digest) if known.documents.contains(&digest) => Ok(()),
        _ => Err("a proof holds that nobody made".to_owned()),
    }
}
