//! What the failure cases are made from: three records of an invented blade, their photos, disclosures and keys.
//!
//! Everything is fixed: keys are no secret, random bytes are counted, times are written down.

use std::collections::BTreeMap;

use serde_json::{Map, Value, json};
use sha2::{Digest as _, Sha256};
use tangmark_core::json::canonical_bytes;
use tangmark_core::record::withhold::RULES;
use tangmark_core::{Digest, check};
use tangmark_trust::withhold::{self, Disclosure};
use tangmark_trust::{PrivateKey, proof};

use super::pictures;
use crate::sealed::{MakeError, Trial, fault};

/// Times of sealing of the three records.
pub const TIMES: [&str; 3] = [
    "2026-03-01T09:30:00Z",
    "2026-03-20T16:00:00Z",
    "2026-05-18T11:15:00Z",
];
/// Purposes of the three records.
pub const PURPOSES: [&str; 3] = ["intake", "before_work", "transfer"];
/// Name of the workshop that seals them.
pub const ISSUER: &str = "Workshop at the Weir";

/// Keys of the cases: none is a secret.
#[derive(Clone, Debug)]
pub struct Keys {
    /// The workshop's first key, the one of all trial records.
    pub workshop: PrivateKey,
    /// Its second key.
    pub second: PrivateKey,
    /// Its third key.
    pub third: PrivateKey,
    /// The key on paper.
    pub paper: PrivateKey,
    /// Somebody else's.
    pub stranger: PrivateKey,
    /// Key of a time authority.
    pub authority: PrivateKey,
    /// Key of who certified the authority.
    pub root: PrivateKey,
}

impl Keys {
    /// The keys.
    ///
    /// # Errors
    /// Never, as long as the bytes are below the group order.
    pub fn new() -> Result<Self, MakeError> {
        let key = |byte: u8| PrivateKey::from_entropy([byte; 32]).map_err(fault("key"));
        Ok(Self {
            workshop: key(0x54)?,
            second: key(0x55)?,
            third: key(0x56)?,
            paper: key(0x57)?,
            stranger: key(0x09)?,
            authority: key(0x5a)?,
            root: key(0x5b)?,
        })
    }
}

/// Counted bytes in the place of random ones.
pub fn counted(start: &'static str) -> impl FnMut(&mut [u8]) {
    let mut number = 0_u64;
    move |bytes| {
        for part in bytes.chunks_mut(32) {
            let digest = Sha256::digest(format!("{start} {number}"));
            part.copy_from_slice(&digest[..part.len()]);
            number += 1;
        }
    }
}

/// A sealed record as a file, with what was withheld from it.
#[derive(Clone, Debug)]
pub struct Sealed {
    /// The record without its proof, digests of withheld values in it.
    pub unsigned: Value,
    /// The sealed bytes.
    pub bytes: Vec<u8>,
    /// The record's name.
    pub name: Digest,
    /// All withheld values.
    pub disclosures: Vec<Disclosure>,
}

impl Sealed {
    /// The sealed record as a value.
    ///
    /// # Errors
    /// Never for what was sealed here.
    pub fn value(&self) -> Result<Value, MakeError> {
        serde_json::from_slice(&self.bytes).map_err(fault("sealed record"))
    }
}

/// Everything the cases start from.
#[derive(Clone, Debug)]
pub struct Material {
    /// Keys.
    pub keys: Keys,
    /// The chain of three records.
    pub records: Vec<Sealed>,
    /// Photos by the path they have in a package.
    pub photos: BTreeMap<String, Vec<u8>>,
}

fn person(role: &str, name: &str) -> Value {
    json!({ "role": role, "name": name, "address": "3 Sluice Lane, Upper Weir" })
}

fn photo(id: &str, shows: &str, original: &pictures::Picture) -> Value {
    json!({
        "id": id, "shows": shows, "caption": format!("Trial photo {id}"), "original_kept_private": false,
        "original": original.facts(),
    })
}

impl Material {
    /// Makes it all.
    ///
    /// # Errors
    /// When the project's own types refuse what is made here.
    pub fn new() -> Result<Self, MakeError> {
        let keys = Keys::new()?;
        let whole = pictures::jpeg(16, 12, 40)?;
        let tang = pictures::turned(&pictures::jpeg(12, 16, 90)?, 6);
        let copy = pictures::jpeg(8, 6, 40)?;
        let papers = pictures::png(10, 10);
        let kept = pictures::jpeg(20, 12, 120)?;
        let mut photos = BTreeMap::new();
        for picture in [&whole, &tang, &copy, &papers] {
            photos.insert(picture.path(), picture.bytes.clone());
        }
        let mut records: Vec<Sealed> = Vec::new();
        for (index, (time, purpose)) in TIMES.iter().zip(PURPOSES).enumerate() {
            let mut record = Trial::new(1)?.unsigned;
            record["sequence"] = json!(index + 1);
            record["previous"] = records
                .last()
                .map_or(Value::Null, |before| json!(before.name.to_string()));
            record["record_id"] = json!(format!("{:032x}", 0x3f1c_09d2_0000 + index));
            record["purpose"] = json!(purpose);
            record["issued_at"] = json!(time);
            record["agreement"] = json!({
                "owner": person("customer", "E. Sallow"), "work": "Remove active rust, keep the outline.",
                "etch_allowed": false, "on": "2026-02-20", "price_ceiling": { "amount": "1250", "currency": "EUR" },
            });
            record["photos"] = json!([
                photo("whole", "whole", &whole),
                photo("tang", "tang", &tang)
            ]);
            if index == 2 {
                let mut private = photo("kept", "papers", &kept);
                private["original_kept_private"] = json!(true);
                private["derivatives"] =
                    json!([{ "file": copy.facts(), "transform": "half as large" }]);
                record["photos"] = json!([
                    photo("whole", "whole", &whole),
                    private,
                    photo("papers", "papers", &papers)
                ]);
                record["valuation"] = json!({
                    "value": { "amount": "4800", "currency": "EUR" }, "basis": "insurance", "on": "2026-05-17",
                    "valuer": "I. Weir", "interest": "none",
                });
            }
            let label = ["first salt", "second salt", "third salt"][index];
            records.push(seal(&record, &keys.workshop, label)?);
        }
        Ok(Self {
            keys,
            records,
            photos,
        })
    }

    /// A variant of one of the records: changed, then withheld from and sealed by the key again.
    ///
    /// # Errors
    /// When what the change makes cannot be signed.
    pub fn resealed(
        &self,
        index: usize,
        key: &PrivateKey,
        change: impl FnOnce(&mut Value),
    ) -> Result<Vec<u8>, MakeError> {
        let mut record = self.records[index].unsigned.clone();
        record["issuer"]["id"] = json!(key.public_key().did_key());
        change(&mut record);
        signed_bytes(&record, key)
    }
}

/// Withholds, signs, checks and writes a record.
///
/// # Errors
/// When it is none of its schema.
pub fn seal(record: &Value, key: &PrivateKey, salts: &'static str) -> Result<Sealed, MakeError> {
    let (unsigned, disclosures) =
        withhold::withhold(record, RULES, counted(salts)).map_err(fault("withholding"))?;
    // Photo originals stay in clear unless the photo says otherwise, as sealing does it.
    let (unsigned, disclosures) = open_originals(unsigned, disclosures)?;
    let bytes = signed_bytes(&unsigned, key)?;
    let value: Value = serde_json::from_slice(&bytes).map_err(fault("record"))?;
    check::record(&value).map_err(|problems| {
        let told: Vec<String> = problems
            .iter()
            .map(|problem| format!("{}: {}", problem.pointer, problem.what))
            .collect();
        fault("record")(told.join("; "))
    })?;
    Ok(Sealed {
        name: Digest::of(&canonical_bytes(&unsigned).map_err(fault("name"))?),
        unsigned,
        bytes,
        disclosures,
    })
}

/// Puts the originals of photos that are not private back into the record.
fn open_originals(
    mut record: Value,
    disclosures: Vec<Disclosure>,
) -> Result<(Value, Vec<Disclosure>), MakeError> {
    let mut kept = Vec::new();
    for disclosure in disclosures {
        let Some(place) = disclosure.path.strip_suffix("/original") else {
            kept.push(disclosure);
            continue;
        };
        let photo = record
            .pointer_mut(place)
            .and_then(Value::as_object_mut)
            .ok_or_else(|| fault("photo")(place))?;
        if photo["original_kept_private"] == json!(true) {
            kept.push(disclosure);
            continue;
        }
        photo.remove("_sd");
        let [_, _, value] = opened(&disclosure)?;
        photo.insert("original".to_owned(), value);
    }
    Ok((record, kept))
}

/// Salt, name and value of a disclosure.
///
/// # Errors
/// When it is none.
pub fn opened(disclosure: &Disclosure) -> Result<[Value; 3], MakeError> {
    let bytes = data_encoding::BASE64URL_NOPAD
        .decode(disclosure.disclosure.as_bytes())
        .map_err(fault("disclosure"))?;
    serde_json::from_slice(&bytes).map_err(fault("disclosure"))
}

/// A disclosure of anything.
pub fn disclosure(path: &str, parts: &Value) -> Value {
    json!({ "path": path, "disclosure": data_encoding::BASE64URL_NOPAD.encode(parts.to_string().as_bytes()) })
}

/// A file of disclosures, whatever they are.
pub fn disclosure_file(disclosures: &[Value]) -> Vec<u8> {
    json!({ "format": withhold::FORMAT, "disclosures": disclosures })
        .to_string()
        .into_bytes()
}

/// Disclosures as they stand in a file.
pub fn as_values(disclosures: &[Disclosure]) -> Vec<Value> {
    disclosures
        .iter()
        .map(|one| json!({ "path": one.path, "disclosure": one.disclosure }))
        .collect()
}

/// Canonical bytes of a record signed by a key, whatever it says.
///
/// # Errors
/// When it has no canonical form or no `issued_at`.
pub fn signed_bytes(unsigned: &Value, key: &PrivateKey) -> Result<Vec<u8>, MakeError> {
    let time = unsigned["issued_at"].as_str().unwrap_or_default();
    let signed = proof::sign(unsigned, key, time).map_err(fault("proof"))?;
    canonical_bytes(&signed).map_err(fault("canonical bytes"))
}

/// Which digest is signed first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Order {
    /// The proof's options, as the standard says.
    OptionsFirst,
    /// The document.
    DocumentFirst,
}

/// The options of a proof of ours.
pub fn options(key: &PrivateKey, created: &str) -> Value {
    json!({
        "type": "DataIntegrityProof", "cryptosuite": "ecdsa-jcs-2019", "created": created,
        "verificationMethod": key.public_key().verification_method(), "proofPurpose": "assertionMethod",
    })
}

/// Signs a document with any options and in any order, and returns the 64 bytes.
///
/// # Errors
/// When something has no canonical form.
pub fn signature(
    document: &Value,
    options: &Value,
    key: &PrivateKey,
    order: Order,
) -> Result<[u8; 64], MakeError> {
    let digest = |value: &Value| {
        canonical_bytes(value)
            .map(Sha256::digest)
            .map_err(fault("canonical bytes"))
    };
    let (mut first, mut second) = (digest(options)?, digest(document)?);
    if order == Order::DocumentFirst {
        std::mem::swap(&mut first, &mut second);
    }
    Ok(key.sign(&[first, second].concat()))
}

/// A document with a proof of any options.
///
/// # Errors
/// When something has no canonical form.
pub fn with_proof(
    document: &Value,
    options: &Value,
    key: &PrivateKey,
    order: Order,
) -> Result<Value, MakeError> {
    let value = proof_value(&signature(document, options, key, order)?);
    let mut proof: Map<String, Value> = options.as_object().cloned().unwrap_or_default();
    proof.insert("proofValue".to_owned(), Value::String(value));
    let mut signed = document.clone();
    signed["proof"] = Value::Object(proof);
    Ok(signed)
}

/// `z` and base58btc of bytes.
pub fn proof_value(bytes: &[u8]) -> String {
    format!("z{}", bs58::encode(bytes).into_string())
}

/// The other signature that holds: n − s in the place of s. Source of n: FIPS 186-5, which names SP 800-186, 3.2.1.3
/// (number of the section from memory).
pub fn twin(signature: &[u8; 64]) -> [u8; 64] {
    let mut twin = *signature;
    let mut borrow = 0_i16;
    for place in (0..32).rev() {
        let digit = i16::from(ORDER[place]) - i16::from(signature[32 + place]) - borrow;
        borrow = i16::from(digit < 0);
        twin[32 + place] = u8::try_from(digit.rem_euclid(256)).unwrap_or_default();
    }
    twin
}

/// The order n of P-256, as above.
pub const ORDER: [u8; 32] = [
    0xff, 0xff, 0xff, 0xff, 0x00, 0x00, 0x00, 0x00, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff,
    0xbc, 0xe6, 0xfa, 0xad, 0xa7, 0x17, 0x9e, 0x84, 0xf3, 0xb9, 0xca, 0xc2, 0xfc, 0x63, 0x25, 0x51,
];
