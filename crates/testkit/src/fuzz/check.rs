//! What must hold for any bytes.

use std::collections::BTreeSet;

use serde_json::Value;
use tangmark_core::Digest;
use tangmark_core::json::{Limits, canonical_bytes, read_value};
use tangmark_package::judge::{
    DisclosuresState, KeysState, PackageReader, RecordState, ReportState, TimestampState, judge,
};
use tangmark_package::open::{Limits as Open, open_bytes};
use tangmark_trust::history::KeyHistory;
use tangmark_trust::memory::Memory;
use tangmark_trust::verdict::{self, BytesLine, Reader};
use tangmark_trust::{proof, withhold};

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
    /// Withheld values with their salts, as they stand in files of disclosures.
    pub disclosures: BTreeSet<String>,
    /// Times that an authority stamped.
    pub times: BTreeSet<String>,
}

impl Known {
    /// Takes up a file that was sealed on purpose: a record or a report.
    pub fn add_sealed(&mut self, bytes: &[u8]) {
        self.files.insert(Digest::of(bytes));
        self.records.extend(judged(bytes).record);
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
    let Ok(package) = open_bytes(bytes.to_vec(), &Open::default()) else {
        return Ok(());
    };
    let verdict = judge(&package, &reader, &|_| ());
    if verdict.refused.is_some() {
        return Ok(());
    }
    for (path, record) in &verdict.records {
        let stands = [RecordState::Intact, RecordState::SameContent].contains(&record.state);
        if stands
            && record
                .name
                .is_none_or(|name| !known.records.contains(&name))
        {
            return Err(format!("{path} stands, and nobody sealed it"));
        }
    }
    for (path, report) in &verdict.reports {
        let judged = ![ReportState::Altered, ReportState::CannotJudge].contains(&report.state);
        let digest = verdict.digests.get(path);
        if judged && digest.is_none_or(|digest| !known.files.contains(digest)) {
            return Err(format!("{path} is unaltered, and nobody signed it"));
        }
    }
    let read = |path: &str| {
        package
            .read(path, u64::MAX)
            .map_err(|error| error.to_string())
    };
    for (path, one) in &verdict.disclosures {
        if one.state == DisclosuresState::Fit {
            disclosures(&read(path)?, known).map_err(|error| format!("{path}: {error}"))?;
        }
    }
    for (path, keys) in &verdict.keys {
        if keys.state != KeysState::Refused {
            history(&read(path)?, known).map_err(|error| format!("{path}: {error}"))?;
        }
    }
    for (path, token) in &verdict.timestamps {
        let fits = token.state == TimestampState::Fits;
        if fits
            && token
                .time
                .as_ref()
                .is_none_or(|time| !known.times.contains(time))
        {
            return Err(format!("{path} fits, and nobody stamped that time"));
        }
    }
    Ok(())
}

/// Each value of a file that fits its record was withheld by somebody, with its salt.
fn disclosures(bytes: &[u8], known: &Known) -> Result<(), String> {
    let listed = withhold::parse_file(bytes).map_err(|error| error.to_string())?;
    match listed
        .iter()
        .find(|one| !known.disclosures.contains(&one.disclosure))
    {
        Some(one) => Err(format!("{} fits, and nobody withheld it", one.path)),
        None => Ok(()),
    }
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
