//! Cases 14 to 25: proofs that do not hold, or hold and are none of ours.

use serde_json::{Value, json};
use tangmark_core::json::canonical_bytes;

use super::material::{
    Material, ORDER, Order, TIMES, options, proof_value, signature, signed_bytes, twin, with_proof,
};
use super::{Corpus, Kind, MakeError, package};
use crate::sealed::fault;

/// Places of all texts, numbers and truth values.
fn leaves(value: &Value, place: &str, found: &mut Vec<String>) {
    match value {
        Value::Object(members) => {
            for (name, member) in members {
                leaves(member, &format!("{place}/{name}"), found);
            }
        }
        Value::Array(items) => {
            for (index, item) in items.iter().enumerate() {
                leaves(item, &format!("{place}/{index}"), found);
            }
        }
        _ => found.push(place.to_owned()),
    }
}

/// Another value of the same kind.
fn changed(value: &Value) -> Value {
    match value {
        Value::String(text) => {
            let mut signs: Vec<char> = text.chars().collect();
            if let Some(last) = signs.last_mut() {
                *last = if *last == '1' { '2' } else { '1' };
            }
            Value::from(signs.into_iter().collect::<String>())
        }
        Value::Number(number) => json!(number.as_i64().unwrap_or(0) + 1),
        Value::Bool(yes) => json!(!yes),
        other => other.clone(),
    }
}

fn bytes_of(value: &Value) -> Result<Vec<u8>, MakeError> {
    canonical_bytes(value).map_err(fault("record"))
}

pub(super) fn add(corpus: &mut Corpus, material: &Material) -> Result<(), MakeError> {
    let key = &material.keys.workshop;
    let stranger = &material.keys.stranger;
    let unsigned = &material.records[0].unsigned;
    let sealed = material.records[0].value()?;
    let time = TIMES[0];
    let own = options(key, time);

    let mut places = Vec::new();
    leaves(&sealed, "", &mut places);
    for place in places.iter().filter(|place| *place != "/previous") {
        let mut altered = sealed.clone();
        if let Some(value) = altered.pointer_mut(place) {
            *value = changed(value);
        }
        corpus.record(14, &format!("changed {place}"), bytes_of(&altered)?);
    }

    let mut more = own.clone();
    more["domain"] = json!("example");
    corpus.record(
        15,
        "a further member of the proof, signed",
        bytes_of(&with_proof(unsigned, &more, key, Order::OptionsFirst)?)?,
    );
    let mut added = sealed.clone();
    added["proof"]["domain"] = json!("example");
    corpus.record(
        15,
        "a further member of the proof, not signed",
        bytes_of(&added)?,
    );

    let good = sealed["proof"].clone();
    let mut bad = good.clone();
    bad["proofValue"] = json!(proof_value(&[7; 64]));
    for (name, proof) in [
        ("a list of one good proof", json!([good])),
        ("a list of a good and a bad proof", json!([good, bad])),
        ("a list of two good proofs", json!([good, good])),
        ("an empty list of proofs", json!([])),
        ("null for a proof", Value::Null),
    ] {
        let mut other = sealed.clone();
        other["proof"] = proof;
        corpus.record(16, name, bytes_of(&other)?);
    }
    corpus.record(16, "no proof", bytes_of(unsigned)?);

    let value = signature(unsigned, &own, key, Order::OptionsFirst)?;
    let with_value = |written: String| {
        let mut other = sealed.clone();
        other["proof"]["proofValue"] = json!(written);
        bytes_of(&other)
    };
    corpus.record(
        17,
        "the twin of the signature",
        with_value(proof_value(&twin(&value)))?,
    );

    let (r, s) = value.split_at(32);
    let zero = [0; 32];
    let above = [0xff; 32];
    for (name, bytes) in [
        ("r is zero", [&zero[..], s].concat()),
        ("s is zero", [r, &zero].concat()),
        ("r is the order", [&ORDER[..], s].concat()),
        ("s is the order", [r, &ORDER].concat()),
        ("s is above the order", [r, &above].concat()),
        ("both zero", [0; 64].to_vec()),
        ("63 bytes", value[..63].to_vec()),
        ("65 bytes", [&value[..], &[0]].concat()),
        (
            "as DER",
            super::der::sequence(&[super::der::integer(r), super::der::integer(s)]),
        ),
    ] {
        corpus.record(18, name, with_value(proof_value(&bytes))?);
    }
    corpus.record(
        18,
        "as base64",
        with_value(format!(
            "u{}",
            data_encoding::BASE64URL_NOPAD.encode(&value)
        ))?,
    );

    for suite in ["eddsa-jcs-2022", "ecdsa-rdfc-2019", "ecdsa-jcs-2022"] {
        let mut named = own.clone();
        named["cryptosuite"] = json!(suite);
        corpus.record(
            19,
            &format!("suite {suite}"),
            bytes_of(&with_proof(unsigned, &named, key, Order::OptionsFirst)?)?,
        );
    }
    // The other kinds of key by their multicodec prefix; points of 49, 33 and 32 bytes that need not be on a curve.
    for (number, name, bytes) in [
        (
            19,
            "a key of P-384",
            [&[0x81, 0x24, 2][..], &[7; 48]].concat(),
        ),
        (
            19,
            "a key of secp256k1",
            [&[0xe7, 0x01, 2][..], &[7; 32]].concat(),
        ),
        (
            19,
            "a key of Ed25519",
            [&[0xed, 0x01][..], &[7; 32]].concat(),
        ),
        (20, "a point that is not on the curve", off_curve()),
        (
            20,
            "an uncompressed point",
            [&[0x80, 0x24][..], key.public_key().uncompressed()].concat(),
        ),
        (
            20,
            "another multicodec",
            [&[0x80, 0x25][..], key.public_key().compressed()].concat(),
        ),
        (20, "no multicodec", key.public_key().compressed().to_vec()),
    ] {
        let multikey = proof_value(&bytes);
        let did = format!("did:key:{multikey}");
        let mut document = unsigned.clone();
        document["issuer"]["id"] = json!(did);
        let mut named = own.clone();
        named["verificationMethod"] = json!(format!("{did}#{multikey}"));
        corpus.record(
            number,
            name,
            bytes_of(&with_proof(&document, &named, key, Order::OptionsFirst)?)?,
        );
    }

    let mut purpose = own.clone();
    purpose["proofPurpose"] = json!("authentication");
    corpus.record(
        21,
        "made for authentication",
        bytes_of(&with_proof(unsigned, &purpose, key, Order::OptionsFirst)?)?,
    );

    let context = json!(["https://www.w3.org/ns/credentials/v2"]);
    let mut spoken = unsigned.clone();
    spoken["@context"] = context.clone();
    let mut repeated = own.clone();
    repeated["@context"] = context;
    let signed = with_proof(&spoken, &repeated, key, Order::OptionsFirst)?;
    corpus.record(22, "a context, signed", bytes_of(&signed)?);
    let mut longer = signed.clone();
    longer["@context"] = json!([
        "https://www.w3.org/ns/credentials/v2",
        "https://example.org/more"
    ]);
    corpus.record(
        22,
        "a context longer than that of the proof",
        bytes_of(&longer)?,
    );
    let mut added = sealed.clone();
    added["@context"] = json!("https://example.org/more");
    corpus.record(22, "a context added", bytes_of(&added)?);

    for (name, when) in [
        ("a day that does not exist", "2026-02-30T09:30:00Z"),
        ("a time with an offset", "2026-03-01T09:30:00+00:00"),
        ("words for a time", "yesterday"),
    ] {
        let mut document = unsigned.clone();
        document["issued_at"] = json!(when);
        corpus.record(
            23,
            name,
            bytes_of(&with_proof(
                &document,
                &options(key, when),
                key,
                Order::OptionsFirst,
            )?)?,
        );
    }
    corpus.record(
        23,
        "created is not issued_at",
        bytes_of(&with_proof(
            unsigned,
            &options(key, TIMES[1]),
            key,
            Order::OptionsFirst,
        )?)?,
    );
    corpus.record(
        23,
        "a time that has not come",
        material.resealed(0, key, |record| {
            record["issued_at"] = json!("2199-01-01T00:00:00Z");
        })?,
    );
    let early = material.resealed(0, key, |record| {
        record["issued_at"] = json!("2026-01-04T08:00:00Z");
    })?;
    corpus.add(
        23,
        Kind::Record,
        "before the key was in force",
        vec![
            ("record.json", early),
            ("keys.json", package::history(material)?.file()),
        ],
    );

    corpus.record(
        24,
        "the document's digest first",
        bytes_of(&with_proof(unsigned, &own, key, Order::DocumentFirst)?)?,
    );

    for (name, suite, multikey, value) in [
        (
            "published example of P-256",
            "ecdsa-jcs-2019",
            "zDnaepBuvsQ8cpsWrVKw8fbpGpvPeNSjVPTWoq6cRqaYzBKVP",
            "z5ptCet75SaEgzG4v4zJhbJtfNi74Wv7Fq15hhKouJQQjEPQvPZKaYxcMXAMLPQS2FXrkCWokNJkFVkwxNzZfD5oT",
        ),
        (
            "published example of P-384",
            "ecdsa-jcs-2019",
            "z82LkuBieyGShVBhvtE2zoiD6Kma4tJGFtkAhxR5pfkp5QPw4LutoYWhvQCnGjdVn14kujQ",
            "zq3EuTeLiGurmB2JR5oL8oWEsT7u2tba4HT1oZbiMYWc5qzsoW2kLYcBcF4HM5vCpJyTkceULKrVXuJQkXeN5seL4uXrFNFRMm53GWy1Yrto8rTWxZi9DkNeWP7yUPs7ELAm",
        ),
        (
            "published example of Ed25519",
            "eddsa-jcs-2022",
            "z6MkrJVnaZkeFzdQyMZu1cgjg7k1pZZ6pvBQ7XJPt4swbTQ2",
            "z2HnFSSPPBzR36zdDgK8PbEHeXbR56YF24jwMpt3R1eHXQzJDMWS93FCzpvJpwTWd3GAVFuUfjoJdcnTMuVor51aX",
        ),
    ] {
        corpus.record(25, name, bytes_of(&published(suite, multikey, value))?);
    }
    // A record of somebody who signs with another key than the one it names.
    corpus.record(
        25,
        "a foreign key in a record of ours",
        signed_bytes(unsigned, stranger)?,
    );
    Ok(())
}

/// Multicodec and the compressed form of an x without a point: 1 is the smallest (x³ − 3x + b is no square of the field;
/// computed).
fn off_curve() -> Vec<u8> {
    let mut bytes = vec![0x80, 0x24, 2];
    bytes.extend([0; 31]);
    bytes.push(1);
    bytes
}

/// A published example: one document, signed by three kinds of key. Source: W3C vc-di-ecdsa, TestVectors/ecdsa-jcs-2019-p256
/// and -p384, commit 00781de; vc-di-eddsa, TestVectors/eddsa-jcs-2022, commit abb673e.
fn published(suite: &str, multikey: &str, value: &str) -> Value {
    let context = json!([
        "https://www.w3.org/ns/credentials/v2",
        "https://www.w3.org/ns/credentials/examples/v2"
    ]);
    json!({
        "@context": context,
        "id": "urn:uuid:58172aac-d8ba-11ed-83dd-0b3aef56cc33",
        "type": ["VerifiableCredential", "AlumniCredential"],
        "name": "Alumni Credential",
        "description": "A minimum viable example of an Alumni Credential.",
        "issuer": "https://vc.example/issuers/5678",
        "validFrom": "2023-01-01T00:00:00Z",
        "credentialSubject": { "id": "did:example:abcdefgh", "alumniOf": "The School of Examples" },
        "proof": {
            "type": "DataIntegrityProof", "cryptosuite": suite, "created": "2023-02-24T23:36:38Z",
            "verificationMethod": format!("did:key:{multikey}#{multikey}"), "proofPurpose": "assertionMethod",
            "@context": context, "proofValue": value,
        },
    })
}
