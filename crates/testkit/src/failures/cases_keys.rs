//! Cases 26 to 32: other keys than the ones a reader expects.

use serde_json::json;
use tangmark_trust::PrivateKey;

use super::histories::History;
use super::material::{
    Material, Order, TIMES, options, proof_value, signed_bytes, twin, with_proof,
};
use super::{Corpus, Kind, MakeError, package};
use crate::sealed::fault;

/// When the workshop's second key came into force.
pub(super) const ROTATED: &str = "2026-04-01T08:00:00Z";
/// Since when somebody else may have had the first one.
const STOLEN: &str = "2026-03-10T00:00:00Z";
/// When that was written down.
const NOTED: &str = "2026-04-02T08:00:00Z";

/// The workshop's first key, then its second.
///
/// # Errors
/// Never, as long as the times are such.
pub(super) fn rotated(material: &Material) -> Result<History, MakeError> {
    let keys = &material.keys;
    let mut history = package::history(material)?;
    history.succeed(
        "rotation",
        &keys.second,
        &keys.workshop,
        ROTATED,
        &keys.paper,
    )?;
    Ok(history)
}

fn with_history(corpus: &mut Corpus, number: u32, name: &str, record: Vec<u8>, history: Vec<u8>) {
    corpus.add(
        number,
        Kind::Record,
        name,
        vec![("record.json", record), ("keys.json", history)],
    );
}

pub(super) fn add(corpus: &mut Corpus, material: &Material) -> Result<(), MakeError> {
    let keys = &material.keys;
    let first = &material.records[0];
    corpus.record(
        26,
        "sealed by a stranger under the workshop's name",
        material.resealed(0, &keys.stranger, |_| ())?,
    );
    corpus.record(
        27,
        "the issuer named is not who signed",
        signed_bytes(&first.unsigned, &keys.stranger)?,
    );
    let (own, other) = (
        keys.workshop.public_key().multikey(),
        keys.stranger.public_key().multikey(),
    );
    for (name, method) in [
        (
            "another key behind the hash sign",
            format!("did:key:{own}#{other}"),
        ),
        (
            "another key before the hash sign",
            format!("did:key:{other}#{own}"),
        ),
        ("nothing behind the hash sign", format!("did:key:{own}")),
        ("two hash signs", format!("did:key:{own}#{own}#{own}")),
    ] {
        let mut named = options(&keys.workshop, TIMES[0]);
        named["verificationMethod"] = json!(method);
        let signed = with_proof(&first.unsigned, &named, &keys.workshop, Order::OptionsFirst)?;
        corpus.record(28, name, signed.to_string());
    }

    let history = rotated(material)?.file();
    with_history(
        corpus,
        29,
        "first key, while it was in force",
        first.bytes.clone(),
        history.clone(),
    );
    let late = material.resealed(0, &keys.workshop, |record| {
        record["issued_at"] = json!(ROTATED);
    })?;
    with_history(
        corpus,
        29,
        "first key, at the moment of the second",
        late,
        history.clone(),
    );
    let early = material.resealed(0, &keys.second, |_| ())?;
    with_history(
        corpus,
        29,
        "second key, before it came",
        early,
        history.clone(),
    );
    let second = material.resealed(0, &keys.second, |record| {
        record["issued_at"] = json!(TIMES[2]);
    })?;
    with_history(
        corpus,
        29,
        "second key, while it is in force",
        second,
        history.clone(),
    );
    corpus.add(
        29,
        Kind::Keys,
        "a history of two keys",
        vec![("keys.json", history.clone())],
    );

    let mut revoked = rotated(material)?;
    revoked.revoke(&keys.workshop, STOLEN, NOTED, &keys.second)?;
    with_history(
        corpus,
        30,
        "before the theft, without outside evidence",
        first.bytes.clone(),
        revoked.file(),
    );
    with_history(
        corpus,
        30,
        "after the theft",
        material.records[1].bytes.clone(),
        revoked.file(),
    );
    let evidence = super::cases_time::evidence(material, 0, "2026-03-02T00:00:00Z");
    let root = super::authority::root_certificate(&keys.root, true);
    corpus.add(
        30,
        Kind::Record,
        "before the theft, with outside evidence",
        vec![
            ("record.json", first.bytes.clone()),
            ("keys.json", revoked.file()),
            ("trial.tsr", evidence),
            ("root.pem", super::authority::pem(&root).into_bytes()),
        ],
    );
    let late = super::cases_time::evidence(material, 0, "2026-03-11T00:00:00Z");
    corpus.add(
        30,
        Kind::Record,
        "before the theft, with evidence of a day after it",
        vec![
            ("record.json", first.bytes.clone()),
            ("keys.json", revoked.file()),
            ("trial.tsr", late),
            ("root.pem", super::authority::pem(&root).into_bytes()),
        ],
    );

    let mut fork = package::history(material)?;
    fork.succeed(
        "rotation",
        &keys.third,
        &keys.workshop,
        ROTATED,
        &keys.paper,
    )?;
    corpus.add(
        31,
        Kind::Keys,
        "two successors of one key",
        vec![
            ("keys.json", rotated(material)?.file()),
            ("keys-other.json", fork.file()),
        ],
    );
    corpus.add(
        31,
        Kind::Record,
        "a record beside two histories",
        vec![
            ("record.json", first.bytes.clone()),
            ("keys.json", rotated(material)?.file()),
            ("keys-other.json", fork.file()),
        ],
    );
    hostile_histories(corpus, material)?;

    // Source of the private half: W3C vc-di-ecdsa, TestVectors/p256KeyPair.json, commit 00781de.
    let secret = bs58::decode("42twTcNeSYcnqg1FLuSFs2bsGH3ZqbRHFmvS9XMsYhjxvHN")
        .into_vec()
        .map_err(fault("published key"))?;
    let secret: [u8; 32] = secret
        .get(2..)
        .and_then(|bytes| bytes.try_into().ok())
        .ok_or_else(|| fault("published key")("not 32 bytes"))?;
    let published = PrivateKey::from_entropy(secret).map_err(fault("published key"))?;
    corpus.record(
        32,
        "a key printed in a specification",
        material.resealed(0, &published, |_| ())?,
    );
    let printed = History::first(&published, TIMES[0], "first key", &keys.paper)?;
    corpus.add(
        32,
        Kind::Keys,
        "a history of a key printed in a specification",
        vec![("keys.json", printed.file())],
    );
    Ok(())
}

/// Histories that break one rule each (31).
fn hostile_histories(corpus: &mut Corpus, material: &Material) -> Result<(), MakeError> {
    let keys = &material.keys;
    let base = || package::history(material);
    let mut add = |name: &str, history: History| {
        corpus.add(31, Kind::Keys, name, vec![("keys.json", history.file())]);
    };
    let mut history = base()?;
    history.succeed(
        "rotation",
        &keys.second,
        &keys.stranger,
        ROTATED,
        &keys.paper,
    )?;
    add("a rotation that a stranger signed", history);
    let mut history = base()?;
    history.succeed(
        "recovery",
        &keys.second,
        &keys.stranger,
        ROTATED,
        &keys.paper,
    )?;
    add("a recovery by another key than the one on paper", history);
    let mut history = base()?;
    history.succeed("recovery", &keys.second, &keys.paper, ROTATED, &keys.paper)?;
    add("a recovery by the key on paper", history);
    let mut history = rotated(material)?;
    history.succeed(
        "rotation",
        &keys.third,
        &keys.second,
        "2026-03-31T08:00:00Z",
        &keys.paper,
    )?;
    add("a time that runs back", history);
    let mut history = rotated(material)?;
    history.succeed(
        "rotation",
        &keys.workshop,
        &keys.second,
        "2026-06-01T08:00:00Z",
        &keys.paper,
    )?;
    add("a key that comes twice", history);
    let mut history = rotated(material)?;
    history.entries.swap(0, 1);
    add("entries in another order", history);
    let mut history = rotated(material)?;
    history.revoke(&keys.third, STOLEN, "2026-06-01T08:00:00Z", &keys.second)?;
    add("a revocation of a key that is not in it", history);
    let mut history = rotated(material)?;
    history.revoke(
        &keys.workshop,
        "2026-07-01T00:00:00Z",
        "2026-06-01T08:00:00Z",
        &keys.second,
    )?;
    add("revoked before the theft", history);
    let mut history = rotated(material)?;
    history.revoke(
        &keys.workshop,
        STOLEN,
        "2026-06-01T08:00:00Z",
        &keys.stranger,
    )?;
    add("a revocation that a stranger signed", history);
    let mut history = rotated(material)?;
    history.entries[1]["statement"]["reason"] = json!("another reason");
    add("a statement changed", history);
    let mut history = rotated(material)?;
    history.entries[1]["note"] = json!("x");
    add("a further member", history);
    let mut history = base()?;
    // The twin of the first entry's signature: a history holds the lower s alone.
    let written = history.entries[0]["proof"]["proofValue"]
        .as_str()
        .unwrap_or_default()
        .to_owned();
    let value: [u8; 64] = bs58::decode(&written[1..])
        .into_vec()
        .ok()
        .and_then(|bytes| bytes.try_into().ok())
        .ok_or_else(|| fault("key history")("not 64 bytes"))?;
    history.entries[0]["proof"]["proofValue"] = json!(proof_value(&twin(&value)));
    add("the twin of a signature", history);
    add("no entries", History::default());
    Ok(())
}
