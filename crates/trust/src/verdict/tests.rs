#![allow(clippy::unwrap_used, clippy::expect_used)]
//! Numbers of cases are those of the project's list of failures a verifier must meet.

mod chains;
mod disclosed;
mod examples;
mod histories;
mod page;
mod refusals;
mod signers;
mod wording;

use serde_json::{Value, json};
use tangmark_core::json::canonical_bytes;
use tangmark_core::record::withhold::RULES;
use tangmark_core::{Digest, schema};

use super::*;
use crate::PrivateKey;
use crate::memory::SeenKey;
use crate::{proof, withhold};

/// Time of sealing.
const SEALED: &str = "2026-03-01T09:30:00Z";
/// The reader's clock.
const NOW: &str = "2026-11-25T08:00:00Z";
const NAME: &str = "Rill Workshop";

fn key(byte: u8) -> PrivateKey {
    PrivateKey::from_entropy([byte; 32]).unwrap()
}

/// An unsigned record of the given key: a first intake of an invented blade.
fn unsigned(key: &PrivateKey) -> Value {
    json!({
        "schema": { "id": "tangmark-record", "version": 1, "digest": schema::record_digest().to_string() },
        "record_id": "000102030405060708090a0b0c0d0e0f",
        "sequence": 1,
        "previous": null,
        "issuer": { "id": key.public_key().did_key(), "name": NAME },
        "purpose": "intake",
        "issued_at": SEALED,
        "blade": {
            "id": "brook", "title": "Long sword `Brook`", "object_type": "sword blade", "kind_by_make": "katana",
            "construction": "shinogi_zukuri"
        }
    })
}

/// Signs with the time the record states.
fn sealed_value(record: &Value, key: &PrivateKey) -> Value {
    let at = record["issued_at"].as_str().unwrap();
    proof::sign(record, key, at).unwrap()
}

fn bytes_of(value: &Value) -> Vec<u8> {
    canonical_bytes(value).unwrap()
}

fn seal(record: &Value, key: &PrivateKey) -> Vec<u8> {
    bytes_of(&sealed_value(record, key))
}

/// A sealed first record of key 1.
fn sealed() -> Vec<u8> {
    seal(&unsigned(&key(1)), &key(1))
}

/// The record that follows `before` in the chain.
fn next(before: &[u8], key: &PrivateKey, issued_at: &str) -> Value {
    let before: Value = serde_json::from_slice(before).unwrap();
    let mut record = unsigned(key);
    record["record_id"] = json!(format!("{:032x}", before["sequence"].as_u64().unwrap()));
    record["sequence"] = json!(before["sequence"].as_u64().unwrap() + 1);
    record["previous"] = json!(name_of(&before).to_string());
    record["issued_at"] = json!(issued_at);
    record
}

fn name_of(record: &Value) -> Digest {
    proof::record_digest(record).unwrap()
}

fn named(bytes: &[u8]) -> Digest {
    name_of(&serde_json::from_slice(bytes).unwrap())
}

/// A memory that knows key `byte` under `name`.
fn remembering(name: &str, byte: u8) -> Memory {
    let mut memory = Memory::default();
    let seen = SeenKey::new(
        name,
        &key(byte).public_key(),
        "2026-04-01T00:00:00Z",
        "card",
    );
    assert!(memory.remember(seen).unwrap());
    memory
}

/// A reader who knows nobody.
fn stranger(bytes: &[u8]) -> Verdict {
    with(bytes, &Memory::default(), &[])
}

/// A reader with a memory and other records at hand.
fn with(bytes: &[u8], memory: &Memory, others: &[Vec<u8>]) -> Verdict {
    judge(
        bytes,
        &Reader {
            own_keys: &[],
            memory,
            now: NOW,
            others,
            histories: &[],
            evidence: &[],
        },
    )
    .verdict
}

/// The workshop that holds key 1.
fn owner(bytes: &[u8], others: &[Vec<u8>]) -> Verdict {
    let own_keys = [key(1).public_key()];
    judge(
        bytes,
        &Reader {
            own_keys: &own_keys,
            memory: &Memory::default(),
            now: NOW,
            others,
            histories: &[],
            evidence: &[],
        },
    )
    .verdict
}

#[test]
fn a_sealed_record_is_intact_and_its_parts_are_named() {
    let bytes = sealed();
    let own_keys = [key(1).public_key()];
    let reader = Reader {
        own_keys: &own_keys,
        memory: &Memory::default(),
        now: NOW,
        others: &[],
        histories: &[],
        evidence: &[],
    };
    let judged = judge(&bytes, &reader);
    let verdict = &judged.verdict;
    assert_eq!(verdict.kind, FileKind::Record);
    assert_eq!(verdict.bytes, BytesLine::Intact);
    assert_eq!(verdict.signer, SignerLine::Own);
    assert_eq!(
        verdict.time,
        TimeLine::OwnWord {
            stated: SEALED.to_owned()
        }
    );
    assert_eq!(verdict.record, Some(named(&bytes)));
    assert_eq!(
        verdict.fingerprint,
        Some(key(1).public_key().fingerprint().to_string())
    );
    assert_eq!(verdict.key, Some(key(1).public_key().did_key()));
    assert_eq!(verdict.issuer.as_deref(), Some(NAME));
    assert_eq!(verdict.exit_code(), 0);
    assert_eq!(judged.key, Some(key(1).public_key()));
    assert_eq!(judged.record.unwrap().blade.id.as_str(), "brook");
}

/// Case 10.
#[test]
fn case_10_whitespace_and_other_order_are_the_same_content_in_other_bytes() {
    let bytes = sealed();
    let value: Value = serde_json::from_slice(&bytes).unwrap();
    let pretty = serde_json::to_vec_pretty(&value).unwrap();
    let reordered = {
        let members: Vec<String> = value
            .as_object()
            .unwrap()
            .iter()
            .rev()
            .map(|(name, member)| format!("\"{name}\":{member}"))
            .collect();
        format!("{{{}}}", members.join(",")).into_bytes()
    };
    let escaped = String::from_utf8(bytes.clone())
        .unwrap()
        .replacen("Brook", "\\u0042rook", 1)
        .into_bytes();
    let newline = [bytes.as_slice(), b"\n"].concat();
    let space = [b" ".as_slice(), &bytes].concat();
    for other in [pretty, reordered, escaped, newline, space] {
        assert_ne!(other, bytes);
        let verdict = owner(&other, &[]);
        assert_eq!(
            verdict.bytes,
            BytesLine::SameContent,
            "{}",
            String::from_utf8_lossy(&other)
        );
        assert_eq!(verdict.record, Some(named(&bytes)));
        assert_eq!(verdict.exit_code(), 0);
        assert_eq!(stranger(&other).exit_code(), 2);
    }
}

/// Case 17.
#[test]
fn case_17_the_twin_of_the_signature_names_the_same_record_but_is_not_what_was_sealed() {
    use p256::ecdsa::Signature;
    let mut value: Value = serde_json::from_slice(&sealed()).unwrap();
    let written = value["proof"]["proofValue"].as_str().unwrap()[1..].to_owned();
    let signature = Signature::from_slice(&bs58::decode(written).into_vec().unwrap()).unwrap();
    let (r, s) = signature.split_scalars();
    let twin = Signature::from_scalars(r.to_bytes(), (-*s).to_bytes()).unwrap();
    value["proof"]["proofValue"] =
        json!(format!("z{}", bs58::encode(twin.to_bytes()).into_string()));
    let verdict = owner(&bytes_of(&value), &[]);
    assert_eq!(verdict.bytes, BytesLine::SameContent);
    assert_eq!(verdict.record, Some(named(&sealed())));
}

/// Case 47.
#[test]
fn case_47_a_record_with_everything_withheld_is_intact_and_the_count_is_told() {
    let mut record = unsigned(&key(1));
    record["valuation"] = json!({ "private": "is withheld before anything is checked" });
    record["blade"]["registrations"] = json!([{ "kind": "registration_card", "authority": "Example Prefecture", "number": "Demo 1" }]);
    let mut counter = 0_u8;
    let (record, disclosures) = withhold::withhold(&record, RULES, |salt: &mut [u8]| {
        counter += 1;
        salt.fill(counter);
    })
    .unwrap();
    assert_eq!(disclosures.len(), 2);
    let verdict = owner(&seal(&record, &key(1)), &[]);
    assert_eq!(verdict.bytes, BytesLine::Intact);
    // Two of the record itself (one a decoy), one of the registration.
    assert_eq!(verdict.completeness.withheld, 3);
    assert!(
        verdict
            .completeness
            .to_string()
            .ends_with("; up to 3 values withheld"),
        "{}",
        verdict.completeness
    );
    let mut one = verdict.completeness;
    (one.withheld, one.photos_named) = (1, 1);
    assert!(
        one.to_string()
            .ends_with("; up to 1 value withheld; 1 photo named by digest"),
        "{one}"
    );
}

#[test]
fn what_stands_on_page_one_is_told_first() {
    let mut record = unsigned(&key(1));
    record["issuer"]["demo"] = json!(true);
    record["purpose"] = json!("withdrawal");
    record["overrides"] = json!([{ "rule": "triage/importance", "name": "A. Weir", "reason": "asked", "at": SEALED }]);
    record["runs"] = json!([{
        "plugin": "triage", "version": "1.0", "digest": Digest::of(b"plugin").to_string()
    }]);
    record["findings"] = json!([{
        "plugin": "triage", "rule": "importance", "level": "stop", "message": "early look", "source": "invented"
    }]);
    record["decision"] = json!({ "verdict": "refer", "by": "A. Weir", "reason": "early look" });
    record["passes"] =
        json!([{ "id": "p1", "operation": "derust", "zones": ["ground"], "on": "2026-02-01" }]);
    record["worked_under_hold"] =
        json!([{ "pass": "p1", "rule": "triage/importance", "message": "early look" }]);
    // What the plugin was asked about is what the record says.
    let asked = tangmark_core::input::sections(record.as_object().unwrap());
    let asked = tangmark_core::input::digest(asked, &[], SEALED).unwrap();
    record["runs"][0]["input"] = json!(asked.to_string());
    // Case 40: a withdrawal is stated.
    assert_eq!(
        owner(&seal(&record, &key(1)), &[]).notices,
        [
            "this record withdraws an earlier one",
            "demonstration: this key is a throw-away and stands for nobody",
            "override of triage/importance by A. Weir: asked",
            "worked under hold: pass p1 while triage/importance stood",
            "stop: early look",
            "decision: refer to a senior specialist, by A. Weir",
        ]
    );
}
