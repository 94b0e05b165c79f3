//! Cases 33 to 40: chains with something taken out, put in or turned round.

use serde_json::json;
use tangmark_core::Digest;
use tangmark_core::json::canonical_bytes;

use super::bag::Bag;
use super::material::Material;
use super::package::{SCHEMA, record_path, sound};
use super::{Corpus, Kind, MakeError};
use crate::sealed::fault;

/// The sound package without the report and what hangs on record 3, so that one thing at a time is told.
fn records_alone(material: &Material) -> Result<Bag, MakeError> {
    let mut bag = sound(material)?;
    for path in [
        super::package::REPORT,
        super::package::TIMESTAMP,
        "disclosures/03.json",
    ] {
        bag.take(path);
    }
    Ok(bag)
}

fn close(mut bag: Bag) -> Vec<u8> {
    bag.close();
    bag.zipped()
}

/// The name of sealed bytes.
fn name(sealed: &[u8]) -> Result<String, MakeError> {
    let mut value: serde_json::Value = serde_json::from_slice(sealed).map_err(fault("record"))?;
    if let Some(members) = value.as_object_mut() {
        members.remove("proof");
    }
    let bytes = canonical_bytes(&value).map_err(fault("record"))?;
    Ok(Digest::of(&bytes).to_string())
}

pub(super) fn add(corpus: &mut Corpus, material: &Material) -> Result<(), MakeError> {
    let key = &material.keys.workshop;
    let [first, second, third] = [0, 1, 2].map(|index| material.records[index].bytes.clone());

    let mut bag = records_alone(material)?;
    bag.take(&record_path(2));
    corpus.package(33, "the middle record taken out", close(bag));
    let mut bag = records_alone(material)?;
    bag.put(&record_path(1), second.clone());
    bag.put(&record_path(2), first.clone());
    corpus.package(33, "two records in each other's place", close(bag));
    let mut bag = records_alone(material)?;
    bag.take(&record_path(2));
    bag.take(&record_path(3));
    bag.put("records/02-transfer.json", third.clone());
    corpus.package(33, "renamed after the middle was taken out", close(bag));
    let renumbered = material.resealed(2, key, |record| record["sequence"] = json!(2))?;
    let mut bag = records_alone(material)?;
    bag.take(&record_path(2));
    bag.take(&record_path(3));
    bag.put("records/02-transfer.json", renumbered);
    corpus.package(33, "numbered anew by the workshop itself", close(bag));
    corpus.add(
        33,
        Kind::Record,
        "the third with the first alone",
        vec![("record.json", third.clone()), ("01.json", first.clone())],
    );

    let foreign = material.resealed(0, key, |record| record["blade"]["id"] = json!("other"))?;
    let after_foreign = |record: &mut serde_json::Value| -> Result<(), MakeError> {
        record["previous"] = json!(name(&foreign)?);
        Ok(())
    };
    let mut after = material.records[1].unsigned.clone();
    after_foreign(&mut after)?;
    let after = super::material::signed_bytes(&after, key)?;
    let mut bag = records_alone(material)?;
    bag.take(&record_path(3));
    bag.put(&record_path(1), foreign.clone());
    bag.put(&record_path(2), after);
    corpus.package(34, "after a record of another blade", close(bag));
    corpus.add(
        34,
        Kind::Record,
        "a record of another blade beside it",
        vec![("record.json", second.clone()), ("01.json", foreign)],
    );

    let rival = material.resealed(1, key, |record| {
        record["decision"]["reason"] = json!("Another story.");
    })?;
    corpus.add(
        35,
        Kind::Record,
        "two second records",
        vec![
            ("record.json", second.clone()),
            ("01.json", first.clone()),
            ("02-rival.json", rival.clone()),
        ],
    );
    let mut bag = records_alone(material)?;
    bag.take(&record_path(3));
    bag.put("records/02-receipt.json", rival.clone());
    corpus.package(35, "two second records", close(bag));

    corpus.record(36, "the first alone", first.clone());
    corpus.add(
        36,
        Kind::Record,
        "the first while the second is here",
        vec![("record.json", first.clone()), ("02.json", second.clone())],
    );

    let looped = material.resealed(1, key, |record| {
        record["previous"] = json!(material.records[2].name.to_string());
    })?;
    let mut bag = records_alone(material)?;
    bag.put(&record_path(2), looped);
    corpus.package(37, "the second names the third", close(bag));
    let ahead = material.resealed(0, key, |record| {
        record["previous"] = json!(material.records[1].name.to_string());
    })?;
    corpus.record(37, "a first record with a predecessor", ahead);
    let orphan = material.resealed(1, key, |record| record["previous"] = json!(null))?;
    corpus.record(37, "a second record without a predecessor", orphan);
    let gap = material.resealed(2, key, |record| record["sequence"] = json!(4))?;
    let mut bag = records_alone(material)?;
    bag.take(&record_path(3));
    bag.put("records/04-transfer.json", gap);
    corpus.package(37, "a number left out", close(bag));
    let back = material.resealed(1, key, |record| {
        record["issued_at"] = json!("2026-02-28T09:30:00Z");
    })?;
    corpus.add(
        37,
        Kind::Record,
        "issued before the one before it",
        vec![("record.json", back), ("01.json", first.clone())],
    );

    let newer = material.resealed(0, key, |record| {
        record["schema"]["version"] = json!(2);
        record["weather"] = json!("rain");
    })?;
    corpus.record(38, "a newer version", newer.clone());
    let mut bag = records_alone(material)?;
    bag.take(&record_path(2));
    bag.take(&record_path(3));
    bag.put(&record_path(1), newer);
    corpus.package(38, "a record of a newer version", close(bag));

    let digest = "0".repeat(64);
    let other = material.resealed(0, key, |record| record["schema"]["digest"] = json!(digest))?;
    corpus.record(39, "another digest of the schema", other);
    let mut bag = records_alone(material)?;
    bag.put(SCHEMA, b"{}\n".to_vec());
    corpus.package(39, "another schema file", close(bag));

    let withdrawal = material.resealed(2, key, |record| {
        record["purpose"] = json!("withdrawal");
        record["refers_to"] = json!({
            "record": material.records[1].name.to_string(), "statement": "The width was read from the wrong edge.",
        });
    })?;
    corpus.record(40, "a withdrawal alone", withdrawal.clone());
    let mut bag = records_alone(material)?;
    bag.take(&record_path(3));
    bag.put("records/03-withdrawal.json", withdrawal);
    corpus.package(40, "a package that ends in a withdrawal", close(bag));
    Ok(())
}
