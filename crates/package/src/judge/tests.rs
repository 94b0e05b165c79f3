//! Numbers of cases are those of the project's list of failures a verifier must meet.
#![allow(clippy::unwrap_used)]

mod bags;
mod chains;
mod disclosures;
mod keys;
mod page;
mod photos;

use serde_json::{Value, json};
use tangmark_core::json::canonical_bytes;
use tangmark_core::{Digest, schema};
use tangmark_trust::memory::SeenKey;
use tangmark_trust::{PrivateKey, proof};

use super::*;
use crate::fixture::{Files, folder, manifests, zipped};

const NOW: &str = "2026-11-25T08:00:00Z";
const NAME: &str = "Workshop at the Weir";

fn key(byte: u8) -> PrivateKey {
    PrivateKey::from_entropy([byte; 32]).unwrap()
}

/// An unsigned record of an invented blade after `before`, sealed by key 1 on the day of its number.
fn unsigned(before: Option<&[u8]>) -> Value {
    let before: Option<Value> = before.map(|bytes| serde_json::from_slice(bytes).unwrap());
    let sequence = before
        .as_ref()
        .map_or(1, |record| record["sequence"].as_u64().unwrap() + 1);
    json!({
        "schema": { "id": "tangmark-record", "version": 1, "digest": schema::record_digest().to_string() },
        "record_id": format!("{sequence:032x}"),
        "sequence": sequence,
        "previous": before.map(|record| proof::record_digest(&record).unwrap().to_string()),
        "issuer": { "id": key(1).public_key().did_key(), "name": NAME },
        "purpose": "intake",
        "issued_at": format!("2026-03-{sequence:02}T09:30:00Z"),
        "blade": {
            "id": "brook", "title": "Long sword `Brook`", "object_type": "sword blade", "kind_by_make": "katana",
            "construction": "shinogi_zukuri"
        }
    })
}

fn seal_with(record: &Value, key: &PrivateKey) -> Vec<u8> {
    let signed = proof::sign(record, key, record["issued_at"].as_str().unwrap()).unwrap();
    canonical_bytes(&signed).unwrap()
}

fn seal(record: &Value) -> Vec<u8> {
    seal_with(record, &key(1))
}

fn name_of(bytes: &[u8]) -> Digest {
    proof::record_digest(&serde_json::from_slice(bytes).unwrap()).unwrap()
}

/// Sealed records 1 to `last`, each after the one before.
fn chain(last: usize) -> Vec<Vec<u8>> {
    let mut records: Vec<Vec<u8>> = Vec::new();
    for _ in 0..last {
        let next = seal(&unsigned(records.last().map(Vec::as_slice)));
        records.push(next);
    }
    records
}

fn record_path(number: usize) -> String {
    format!("data/records/{number:02}-intake.json")
}

/// A package of records 1, 2, … and the schema.
fn package(records: &[Vec<u8>]) -> Files {
    let mut files = Files::new();
    for (index, record) in records.iter().enumerate() {
        files.insert(record_path(index + 1), record.clone());
    }
    files.insert(
        "data/schema/tangmark-record-1.schema.json".to_owned(),
        schema::RECORD_V1.into(),
    );
    manifests(&mut files);
    files
}

/// A reader who knows key 1 under its name.
fn memory() -> Memory {
    let mut memory = Memory::default();
    let seen = SeenKey::new(NAME, &key(1).public_key(), "2026-04-01T00:00:00Z", "card");
    assert!(memory.remember(seen).unwrap());
    memory
}

fn reader(memory: &Memory) -> PackageReader<'_> {
    PackageReader {
        own_keys: &[],
        memory,
        now: NOW,
        histories: &[],
        authorities: &[],
        own_authorities: &[],
    }
}

/// Judges as a zip file, by a reader who knows key 1.
fn judged(files: &Files) -> PackageVerdict {
    judge_bytes(zipped(files), &reader(&memory()))
}

/// Changes a sound package of two records, makes the manifests anew and judges it.
fn changed(change: impl FnOnce(&mut Files)) -> PackageVerdict {
    let mut files = package(&chain(2));
    change(&mut files);
    manifests(&mut files);
    judged(&files)
}

fn states(verdict: &PackageVerdict) -> Vec<RecordState> {
    verdict
        .records
        .values()
        .map(|record| record.state)
        .collect()
}
