//! What the library says of a mutant, as a line for another program.

use std::collections::BTreeMap;

use serde::{Serialize, Serializer};
use serde_json::Value;
use tangmark_core::json::{Limits as JsonLimits, read_value};
use tangmark_core::record::withhold::RULES;
use tangmark_package::judge::{
    DisclosuresState, PackageReader, PackageVerdict, RecordState, judge,
};
use tangmark_package::open::{self, Limits, Package, Refusal};
use tangmark_trust::PublicKey;
use tangmark_trust::history::KeyHistory;
use tangmark_trust::memory::{Memory, SeenKey};
use tangmark_trust::timestamp::AuthorityCertificate;
use tangmark_trust::{pdf, withhold};

use super::{Form, Mutant, Slip, loose};
use crate::failures::MakeError;
use crate::sealed::fault;

/// What a reader brings, as text.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ReaderFacts {
    /// Fingerprints typed from cards.
    pub fingerprints: Vec<String>,
    /// Certificates of time authorities that are trusted (PEM).
    pub authorities: Vec<String>,
    /// Key histories, written in base64.
    #[serde(serialize_with = "in_base64")]
    pub histories: Vec<Vec<u8>>,
    /// The clock.
    pub now: String,
}

impl Default for ReaderFacts {
    fn default() -> Self {
        Self {
            fingerprints: Vec::new(),
            authorities: Vec::new(),
            histories: Vec::new(),
            now: "2026-11-25T08:00:00Z".to_owned(),
        }
    }
}

fn in_base64<S: Serializer>(files: &[Vec<u8>], serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_seq(files.iter().map(|file| data_encoding::BASE64.encode(file)))
}

#[derive(Serialize)]
struct FileLine<'a> {
    path: &'a str,
    length: usize,
}

#[derive(Serialize)]
struct Line<'a> {
    number: u64,
    class: &'a str,
    form: Form,
    files: Vec<FileLine<'a>>,
    length: usize,
    reader: &'a ReaderFacts,
    verdict: Value,
}

/// What stands beside the verdict on a package: what the library opens and reads on the way and does not tell there.
#[derive(Serialize)]
struct Whole<'a> {
    #[serde(flatten)]
    verdict: &'a PackageVerdict,
    /// Values by file of disclosures and place.
    revealed: BTreeMap<String, BTreeMap<String, Value>>,
    /// The keys that signed the pages, by report.
    pages_keys: BTreeMap<String, String>,
}

/// Judges a mutant, and writes number, kind, files, reader and verdict as one line of JSON. A slip turns the verdict round.
///
/// # Errors
/// When the reader's own facts cannot be read, which is a fault of this project.
pub fn judged(number: u64, mutant: &Mutant, slip: Option<Slip>) -> Result<String, MakeError> {
    let mut authorities = Vec::new();
    for pem in &mutant.reader.authorities {
        authorities
            .extend(AuthorityCertificate::from_pem(pem.as_bytes()).map_err(fault("authority"))?);
    }
    // Whoever keeps histories keeps those that read.
    let kept = mutant.reader.histories.iter();
    let histories: Vec<KeyHistory> = kept
        .filter_map(|file| KeyHistory::read(file).ok())
        .collect();
    let mut verdict = if mutant.form == Form::Loose {
        let names = mutant.files.iter().filter_map(|(_, bytes)| name_in(bytes));
        let memory = memory(names, &mutant.keys)?;
        let said = loose::judged(mutant, &memory, &histories, &authorities);
        serde_json::to_value(said).map_err(fault("verdict"))?
    } else {
        let opened = opened(mutant);
        let memory = memory(names(opened.as_ref().ok()), &mutant.keys)?;
        let reader = PackageReader {
            own_keys: &[],
            memory: &memory,
            now: &mutant.reader.now,
            histories: &histories,
            authorities: &authorities,
            own_authorities: &[],
        };
        whole(opened, &reader)?
    };
    if let Some(slip) = slip {
        slip.turn(&mut verdict);
    }
    let line = Line {
        number,
        class: &mutant.class,
        form: mutant.form,
        files: mutant
            .files
            .iter()
            .map(|(path, bytes)| FileLine {
                path,
                length: bytes.len(),
            })
            .collect(),
        length: mutant.files.iter().map(|(_, bytes)| bytes.len()).sum(),
        reader: &mutant.reader,
        verdict,
    };
    serde_json::to_string(&line).map_err(fault("line"))
}

fn opened(mutant: &Mutant) -> Result<Package, Refusal> {
    match mutant.files.as_slice() {
        [(_, zip)] if mutant.form == Form::Zip => open::open_bytes(zip.clone(), &Limits::default()),
        files => open::open_files(files.iter().cloned().collect(), &Limits::default()),
    }
}

fn whole(opened: Result<Package, Refusal>, reader: &PackageReader<'_>) -> Result<Value, MakeError> {
    let (verdict, package) = match opened {
        Ok(package) => (judge(&package, reader, &|_| ()), Some(package)),
        Err(refusal) => (PackageVerdict::refused(refusal), None),
    };
    let package = package.filter(|_| verdict.refused.is_none());
    serde_json::to_value(Whole {
        revealed: package
            .as_ref()
            .map(|package| revealed(package, &verdict))
            .unwrap_or_default(),
        pages_keys: package
            .as_ref()
            .map(|package| pages_keys(package, &verdict))
            .unwrap_or_default(),
        verdict: &verdict,
    })
    .map_err(fault("verdict"))
}

/// The values of the disclosures that fit, as they stand in the record with them.
fn revealed(
    package: &Package,
    verdict: &PackageVerdict,
) -> BTreeMap<String, BTreeMap<String, Value>> {
    let mut found = BTreeMap::new();
    for (path, one) in &verdict.disclosures {
        if one.state != DisclosuresState::Fit {
            continue;
        }
        let number = path
            .strip_prefix("data/disclosures/")
            .and_then(|file| file.strip_suffix(".json")?.parse::<u64>().ok());
        let record = verdict.records.iter().find(|(_, record)| {
            let stands = [RecordState::Intact, RecordState::SameContent].contains(&record.state);
            stands && Some(record.number) == number
        });
        let shown = record.and_then(|(record, _)| shown(package, record, path));
        let Some(shown) = shown else { continue };
        let values = one.places.iter().map(|place| {
            let value = shown.pointer(place).cloned().unwrap_or_default();
            (place.clone(), value)
        });
        found.insert(path.clone(), values.collect());
    }
    found
}

/// A record with the values of a file of disclosures.
fn shown(package: &Package, record: &str, disclosures: &str) -> Option<Value> {
    let read = |path| package.read(path, u64::MAX).ok();
    let public = read_value(&read(record)?, &JsonLimits::default()).ok()?;
    let disclosures = withhold::parse_file(&read(disclosures)?).ok()?;
    withhold::reveal_in_place(&public, &disclosures, RULES).ok()
}

fn pages_keys(package: &Package, verdict: &PackageVerdict) -> BTreeMap<String, String> {
    let mut found = BTreeMap::new();
    for path in verdict.reports.keys() {
        let read = package.read(path, u64::MAX).ok();
        let key = read.and_then(|bytes| pdf::examine(&bytes).certificate_key);
        found.extend(key.map(|key| (path.clone(), key.did_key())));
    }
    found
}

/// Names that the records of a package give their issuers.
fn names(package: Option<&Package>) -> Vec<String> {
    let Some(package) = package else {
        return Vec::new();
    };
    let records = package.files().iter();
    let records = records.filter(|file| file.path.starts_with("data/records/"));
    records
        .filter_map(|file| package.read(&file.path, 1 << 20).ok())
        .filter_map(|bytes| name_in(&bytes))
        .collect()
}

/// The name that a record, or the one in a report, gives its issuer.
fn name_in(bytes: &[u8]) -> Option<String> {
    let inner = bytes
        .starts_with(b"%PDF")
        .then(|| pdf::examine(bytes).record_bytes)
        .flatten();
    let record: Value = serde_json::from_slice(inner.as_deref().unwrap_or(bytes)).ok()?;
    Some(record.pointer("/issuer/name")?.as_str()?.to_owned())
}

/// What a reader remembers who compared fingerprints with cards: he knows each key under the name that it gives itself,
/// which is whatever name stands in the records.
fn memory(
    names: impl IntoIterator<Item = String>,
    keys: &[PublicKey],
) -> Result<Memory, MakeError> {
    let mut memory = Memory::default();
    for name in names {
        for key in keys {
            let seen = SeenKey::new(&name, key, "2026-01-05T08:00:00Z", "card");
            // A name that stands in several records is remembered once.
            memory.remember(seen).map_err(fault("memory"))?;
        }
    }
    Ok(memory)
}
