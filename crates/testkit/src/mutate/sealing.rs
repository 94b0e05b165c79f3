//! Changes to what is said around a record: its proof, its number, purpose and predecessor, and the chain.

use serde_json::{Value, json};
use tangmark_core::Digest;
use tangmark_core::json::canonical_bytes;

use super::records::{chosen, put_back};
use super::{Chance, Maker, scramble};
use crate::failures::MakeError;
use crate::failures::bag::Bag;
use crate::failures::material::{Order, options, proof_value, twin, with_proof};
use crate::failures::package::record_path;

/// The proof of a record is another.
pub(super) fn proof(maker: &Maker, chance: &mut Chance, bag: &mut Bag) -> Result<(), MakeError> {
    let keys = &maker.material.keys;
    let Some((path, record)) = chosen(chance, bag) else {
        return Ok(());
    };
    let mut document = record.clone();
    if let Some(members) = document.as_object_mut() {
        members.remove("proof");
    }
    let time = record["issued_at"].as_str().unwrap_or_default().to_owned();
    let mut own = options(&keys.workshop, &time);
    let mut order = Order::OptionsFirst;
    let mut key = &keys.workshop;
    let kind = chance.below(16);
    match kind {
        0 => own["cryptosuite"] = json!("eddsa-jcs-2022"),
        1 => own["proofPurpose"] = json!("authentication"),
        2 => own["type"] = json!("DataIntegrityproof"),
        3 => own["created"] = json!("2026-03-01T09:30:01Z"),
        4 => own["domain"] = json!("example"),
        5 => order = Order::DocumentFirst,
        6 => key = &keys.stranger,
        7 => own["verificationMethod"] = json!(keys.stranger.public_key().verification_method()),
        8 => {
            document["issuer"]["id"] = json!(keys.second.public_key().did_key());
        }
        9 => {
            if let Some(members) = own.as_object_mut() {
                members.remove("created");
            }
        }
        10 => {
            let multikey = keys.workshop.public_key().multikey();
            own["verificationMethod"] = json!(format!(
                "did:key:{multikey}#{}",
                keys.stranger.public_key().multikey()
            ));
        }
        _ => {}
    }
    let mut signed = with_proof(&document, &own, key, order)?;
    let written = signed["proof"]["proofValue"]
        .as_str()
        .unwrap_or_default()
        .to_owned();
    let raw = bs58::decode(written.trim_start_matches('z'))
        .into_vec()
        .unwrap_or_default();
    match kind {
        11 => {
            if let Ok(raw) = <[u8; 64]>::try_from(raw.as_slice()) {
                signed["proof"]["proofValue"] = json!(proof_value(&twin(&raw)));
            }
        }
        12 => signed["proof"]["proofValue"] = json!(proof_value(&raw[..raw.len().min(63)])),
        13 => signed["proof"]["proofValue"] = json!(written.replacen('z', "u", 1)),
        14 => signed["proof"] = json!([signed["proof"].clone()]),
        15 => {
            let mut raw = raw;
            scramble(chance, &mut raw);
            signed["proof"]["proofValue"] = json!(proof_value(&raw));
        }
        _ => {}
    }
    let bytes = canonical_bytes(&signed).unwrap_or_else(|_| signed.to_string().into_bytes());
    bag.files.insert(path, bytes);
    Ok(())
}

/// A text is not in form C, and the record is signed so: by hand, since our own signer refuses it. Its keys and texts are
/// plain, so sorted keys are all that canonical bytes ask for.
#[allow(clippy::unnecessary_wraps)] // every kind of change has one form
pub(super) fn form(maker: &Maker, chance: &mut Chance, bag: &mut Bag) -> Result<(), MakeError> {
    let Some((path, mut record)) = chosen(chance, bag) else {
        return Ok(());
    };
    let key = &maker.material.keys.workshop;
    let texts = [
        "/decision/by",
        "/decision/reason",
        "/issuer/name",
        "/blade/title",
    ];
    let Some(Value::String(text)) = chance
        .pick(&texts)
        .and_then(|place| record.pointer_mut(place))
    else {
        return Ok(());
    };
    text.push_str("e\u{301}");
    let time = record["issued_at"].as_str().unwrap_or_default().to_owned();
    if let Some(members) = record.as_object_mut() {
        members.remove("proof");
    }
    record["issuer"]["id"] = json!(key.public_key().did_key());
    let mut proof = options(key, &time);
    let digest = |value: &Value| *Digest::of(value.to_string().as_bytes()).as_bytes();
    let signature = key.sign(&[digest(&proof), digest(&record)].concat());
    proof["proofValue"] = json!(proof_value(&signature));
    record["proof"] = proof;
    bag.files.insert(path, record.to_string().into_bytes());
    Ok(())
}

/// What the package looks at first: number, purpose, predecessor, issuer, schema, time.
pub(super) fn head(maker: &Maker, chance: &mut Chance, bag: &mut Bag) -> Result<(), MakeError> {
    let Some((path, mut record)) = chosen(chance, bag) else {
        return Ok(());
    };
    match chance.below(12) {
        0 => record["sequence"] = json!(chance.below(5)),
        1 => {
            let purposes = [
                "withdrawal",
                "correction",
                "in_work",
                "after_work",
                "receipt",
                "lent",
            ];
            record["purpose"] = json!(chance.pick(&purposes));
        }
        2 => record["previous"] = json!(Digest::of(&[chance.byte()]).to_string()),
        3 => record["previous"] = Value::Null,
        4 => record["issuer"]["name"] = json!("workshop  at the WEIR"),
        5 => record["schema"]["version"] = json!(2),
        6 => record["schema"]["digest"] = json!("0".repeat(64)),
        7 => record["issued_at"] = json!("2199-01-01T00:00:00Z"),
        8 => record["issued_at"] = json!("2026-01-01T00:00:00Z"),
        9 => record["blade"]["id"] = json!("other"),
        10 => record["schema"]["id"] = json!("other-record"),
        _ => {
            record["purpose"] = json!("withdrawal");
            record["refers_to"] = json!({
                "record": maker.material.records[0].name.to_string(), "statement": "Read from the wrong edge.",
            });
            let at = record["sequence"].as_u64().unwrap_or(3);
            bag.files.remove(&path);
            let path = format!("data/records/{at:02}-withdrawal.json");
            return put_back(maker, chance, bag, &path, record);
        }
    }
    put_back(maker, chance, bag, &path, record)
}

/// Records taken out, put in, turned round.
pub(super) fn chain(maker: &Maker, chance: &mut Chance, bag: &mut Bag) -> Result<(), MakeError> {
    let records = &maker.material.records;
    let key = &maker.material.keys.workshop;
    let index = chance.below(records.len());
    let path = record_path(index + 1);
    match chance.below(9) {
        0 => {
            bag.take(&path);
        }
        1 => {
            bag.take(&path);
            let other = record_path((index + 1) % 3 + 1);
            let bytes = bag.take(&other);
            bag.put(&path, bytes);
        }
        2 => {
            let rival = maker.material.resealed(index, key, |record| {
                record["decision"]["reason"] = json!("Another story.");
            })?;
            bag.put(&format!("records/{:02}-receipt.json", index + 1), rival);
        }
        3 => {
            let rival = maker.material.resealed(index, key, |record| {
                record["purpose"] = json!("receipt");
                record["sequence"] = json!(4);
                record["previous"] = json!(records[2].name.to_string());
                record["issued_at"] = json!("2026-06-01T08:00:00Z");
            })?;
            bag.put("records/04-receipt.json", rival);
        }
        4 => {
            let far = maker.material.resealed(2, key, |record| {
                record["sequence"] = json!(5);
            })?;
            bag.put("records/05-transfer.json", far);
        }
        5 => {
            let bytes = bag.data(&path);
            bag.put(
                &format!("records/{:03}-{}.json", index + 1, "intake"),
                bytes,
            );
        }
        6 => {
            // The same record under the name of another purpose.
            let purposes = ["intake", "before_work", "transfer", "receipt", "correction"];
            let purpose = chance.pick(&purposes).copied().unwrap_or("receipt");
            let bytes = bag.take(&path);
            bag.put(&format!("records/{:02}-{purpose}.json", index + 1), bytes);
        }
        7 => {
            // Sealed on by another workshop, as after a hand-over.
            let theirs = maker
                .material
                .resealed(2, &maker.material.keys.stranger, |record| {
                    record["sequence"] = json!(4);
                    record["purpose"] = json!("receipt");
                    record["issuer"]["name"] = json!("Bench by the Ford");
                    record["previous"] = json!(records[2].name.to_string());
                    record["issued_at"] = json!("2026-06-01T08:00:00Z");
                })?;
            bag.put("records/04-receipt.json", theirs);
        }
        _ => {
            for path in (1..=3).map(record_path) {
                if chance.percent(50) {
                    bag.take(&path);
                }
            }
        }
    }
    Ok(())
}
