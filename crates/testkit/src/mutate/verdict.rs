//! What the library says of a mutant, as a line for another program.

use serde::Serialize;
use serde_json::Value;
use tangmark_package::judge::{PackageReader, PackageVerdict, judge_bytes};
use tangmark_package::open::{Limits, open_bytes};
use tangmark_trust::PublicKey;
use tangmark_trust::memory::{Memory, SeenKey};
use tangmark_trust::timestamp::AuthorityCertificate;

use super::Mutant;
use crate::failures::MakeError;
use crate::sealed::fault;

/// What a reader brings, as text.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ReaderFacts {
    /// Fingerprints typed from cards.
    pub fingerprints: Vec<String>,
    /// Certificates of time authorities that are trusted (PEM).
    pub authorities: Vec<String>,
    /// The clock.
    pub now: String,
}

#[derive(Serialize)]
struct Line<'a> {
    number: u64,
    class: &'a str,
    length: usize,
    reader: &'a ReaderFacts,
    verdict: &'a PackageVerdict,
}

/// Judges a mutant, and writes number, kind, length, reader and verdict as one line of JSON.
///
/// # Errors
/// When the reader's own facts cannot be read, which is a fault of this project.
pub fn judged(number: u64, mutant: &Mutant) -> Result<String, MakeError> {
    let mut authorities = Vec::new();
    for pem in &mutant.reader.authorities {
        authorities
            .extend(AuthorityCertificate::from_pem(pem.as_bytes()).map_err(fault("authority"))?);
    }
    let memory = memory(mutant)?;
    let reader = PackageReader {
        own_keys: &[],
        memory: &memory,
        now: &mutant.reader.now,
        histories: &[],
        authorities: &authorities,
        own_authorities: &[],
    };
    let verdict = judge_bytes(mutant.zip.clone(), &reader);
    let line = Line {
        number,
        class: &mutant.class,
        length: mutant.zip.len(),
        reader: &mutant.reader,
        verdict: &verdict,
    };
    serde_json::to_string(&line).map_err(fault("line"))
}

/// What a reader remembers who compared fingerprints with cards: he knows each key under the name that it gives itself,
/// which is whatever name stands in the records.
fn memory(mutant: &Mutant) -> Result<Memory, MakeError> {
    let mut memory = Memory::default();
    if mutant.keys.is_empty() {
        return Ok(memory);
    }
    let names = open_bytes(mutant.zip.clone(), &Limits::default()).map_or_else(
        |_| Vec::new(),
        |package| {
            let records = package
                .files()
                .iter()
                .filter(|file| file.path.starts_with("data/records/"));
            records
                .filter_map(|file| package.read(&file.path, 1 << 20).ok())
                .filter_map(|bytes| serde_json::from_slice::<Value>(&bytes).ok())
                .filter_map(|record| Some(record.pointer("/issuer/name")?.as_str()?.to_owned()))
                .collect()
        },
    );
    for name in names {
        for key in &mutant.keys {
            remember(&mut memory, &name, key)?;
        }
    }
    Ok(memory)
}

fn remember(memory: &mut Memory, name: &str, key: &PublicKey) -> Result<(), MakeError> {
    let seen = SeenKey::new(name, key, "2026-01-05T08:00:00Z", "card");
    // A name that stands in several records is remembered once; one that may not be is not remembered.
    match memory.remember(seen) {
        Ok(_) => Ok(()),
        Err(error) => Err(fault("memory")(error)),
    }
}
