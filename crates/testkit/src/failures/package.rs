//! The package that everything is done to: three records, four photos, disclosures, a key history, time evidence, a report.

use tangmark_core::schema;
use tangmark_trust::PublicKey;

use super::authority::{self, Token};
use super::bag::Bag;
use super::histories::History;
use super::material::{ISSUER, Material, PURPOSES, TIMES, as_values, disclosure_file};
use super::report::Draft;
use crate::sealed::MakeError;

/// Path of record number `sequence` below `data/`.
pub fn record_path(sequence: usize) -> String {
    format!(
        "records/{sequence:02}-{}.json",
        PURPOSES[(sequence - 1) % PURPOSES.len()]
    )
}

/// Path of a history below `data/`, named by its first key.
pub fn history_path(first: &PublicKey) -> String {
    format!("keys/{}.json", first.fingerprint())
}

/// Path of the report below `data/`.
pub const REPORT: &str = "reports/trial-03-transfer.pdf";
/// Path of the time evidence below `data/`.
pub const TIMESTAMP: &str = "timestamps/03-trial.tsr";
/// Path of the schema below `data/`.
pub const SCHEMA: &str = "schema/tangmark-record-1.schema.json";
/// When the time authority says that the third record existed.
pub const STAMPED: &str = "2026-05-18T12:00:00Z";

/// The history of the workshop with its first key alone.
///
/// # Errors
/// Never, as long as the time is one.
pub fn history(material: &Material) -> Result<History, MakeError> {
    let keys = &material.keys;
    History::first(
        &keys.workshop,
        "2026-01-05T08:00:00Z",
        "first key",
        &keys.paper,
    )
}

/// The report of a record, signed with the workshop's key, unless somebody changes the draft before.
pub fn report(material: &Material, sequence: usize) -> Draft {
    Draft::new(
        &material.records[sequence - 1].bytes,
        &[],
        TIMES[sequence - 1],
    )
}

/// Signs a draft as the workshop.
///
/// # Errors
/// When the certificate cannot be made.
pub fn sign_report(material: &Material, draft: &Draft) -> Result<Vec<u8>, MakeError> {
    draft.signed(&material.keys.workshop, ISSUER, TIMES[0])
}

/// The package, its manifests closed. Nothing in it is wrong.
///
/// # Errors
/// When the project's own types refuse what is made here.
pub fn sound(material: &Material) -> Result<Bag, MakeError> {
    let keys = &material.keys;
    let mut bag = Bag::default();
    for (index, record) in material.records.iter().enumerate() {
        bag.put(&record_path(index + 1), record.bytes.clone());
    }
    for (path, bytes) in &material.photos {
        bag.put(path, bytes.clone());
    }
    let shown: Vec<_> = material.records[2]
        .disclosures
        .iter()
        .filter(|one| ["/agreement/owner/name", "/valuation"].contains(&one.path.as_str()))
        .cloned()
        .collect();
    bag.put("disclosures/03.json", disclosure_file(&as_values(&shown)));
    bag.put(
        &history_path(&keys.workshop.public_key()),
        history(material)?.file(),
    );
    let token = Token::new(material.records[2].name, STAMPED);
    bag.put(
        TIMESTAMP,
        authority::response(&token, &keys.authority, &keys.root),
    );
    let root = authority::root_certificate(&keys.root, true);
    bag.put(
        "timestamps/authorities/trial-root.pem",
        authority::pem(&root),
    );
    bag.put(REPORT, sign_report(material, &report(material, 3))?);
    bag.put(SCHEMA, schema::RECORD_V1.as_bytes().to_vec());
    bag.put("HOW-TO-CHECK.txt", b"See record-format.md.\n".to_vec());
    bag.close();
    Ok(bag)
}
