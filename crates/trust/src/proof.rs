//! The proof of a record: one DataIntegrityProof with the cryptosuite ecdsa-jcs-2019.
//!
//! Two stages that never blur: [`verify`] says whether the signature is one of the key the proof names,
//! as any reader of the standard would; [`verify_policy`] adds what a Tangmark record demands beyond it.
//!
//! Source: W3C vc-data-integrity 1.0 and vc-di-ecdsa 1.0 (3.3 ecdsa-jcs-2019), RFC 8785 (canonical bytes).

mod policy;
#[cfg(test)]
pub(crate) mod tests;

use std::ops::Range;

use serde_json::{Map, Value, json};
use sha2::{Digest as _, Sha256};
use tangmark_core::{
    Digest,
    json::{CanonicalError, canonical_bytes},
};

pub(crate) use policy::check_members;
pub use policy::{PolicyError, is_published, verify_policy};

use crate::key::{KeyError, PrivateKey, PublicKey, shorten};

/// The one value of a proof's `type`.
pub const PROOF_TYPE: &str = "DataIntegrityProof";
/// The one value of a proof's `cryptosuite`.
pub const CRYPTOSUITE: &str = "ecdsa-jcs-2019";
/// The one value of a proof's `proofPurpose`.
pub const PROOF_PURPOSE: &str = "assertionMethod";

/// Why a proof could not be made, or its signature is not accepted.
#[derive(Debug, thiserror::Error)]
pub enum ProofError {
    /// The document is no JSON object.
    #[error("document: not a JSON object, so it can carry no proof")]
    NotAnObject,
    /// A document to be signed carries a proof already.
    #[error("document: has a `proof` already, an unsigned document is allowed")]
    AlreadySigned,
    /// A document to be signed carries a JSON-LD context.
    #[error("document: has `@context`, which no record of ours has")]
    ContextToSign,
    /// There is no proof.
    #[error("proof: missing, exactly one proof object allowed")]
    Missing,
    /// There is an array of proofs, whatever its length.
    #[error("proof: an array of {count}, exactly one proof object allowed")]
    Array {
        /// Entries of the array.
        count: usize,
    },
    /// The proof is neither object nor array.
    #[error("proof: not an object, exactly one proof object allowed")]
    ProofNotAnObject,
    /// A field is missing or no string.
    #[error("proof: `{0}` is missing or not a string")]
    Field(&'static str),
    /// A field has another value than the only one allowed.
    #[error("proof: `{field}` is `{found}`, `{allowed}` allowed")]
    Fixed {
        /// Which field.
        field: &'static str,
        /// Its value, shortened.
        found: String,
        /// The value allowed.
        allowed: &'static str,
    },
    /// `created` is no time.
    #[error("proof: `created` is `{0}`, a UTC time such as 2026-03-01T09:30:00Z allowed")]
    Created(String),
    /// The proof was made under another JSON-LD context than the document's.
    #[error("proof: `@context` is not exactly that of the document")]
    ContextDiffers,
    /// The key named is none of ours.
    #[error("proof: `verificationMethod`: {0}")]
    Key(#[from] KeyError),
    /// The signature is not written in base58btc.
    #[error("proof: `proofValue` is not multibase `z` and base58btc characters")]
    ValueNotBase58,
    /// The signature has another length than r ‖ s of P-256.
    #[error("proof: `proofValue` holds {found} bytes, 64 bytes (r and s) allowed")]
    ValueLength {
        /// Bytes found.
        found: usize,
    },
    /// The document has no canonical form.
    #[error("document: {0}")]
    Canonical(#[from] CanonicalError),
    /// Document, proof options or signature were altered, or another key signed.
    #[error("proof: the signature does not match the document and the key named in it")]
    Mismatch,
}

impl ProofError {
    /// The next step, where there is one.
    pub fn hint(&self) -> Option<&'static str> {
        match self {
            Self::AlreadySigned => {
                Some("a sealed record is never signed again; draft a correction instead")
            }
            Self::ContextToSign => Some("remove `@context`; records are plain JSON"),
            Self::Missing => Some("this is no sealed record; ask the workshop for the sealed file"),
            Self::Mismatch => Some(
                "rely on nothing in this file; ask the workshop for the sealed file and compare the digest it names",
            ),
            _ => None,
        }
    }
}

/// What a proof that holds at the signature stage says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Verified {
    /// The key that signed.
    pub key: PublicKey,
    /// Its name, `did:key:zDn…`.
    pub did: String,
    /// `created` as the proof gives it; the signer's own word.
    pub created: Option<String>,
    /// The document's name: SHA-256 over its canonical bytes without `proof`.
    pub record_digest: Digest,
    /// Whether s of the signature lies in the lower half, where [`sign`] writes it. The twin with the other s
    /// (n − s) holds too and names the same record, but is not what was sealed.
    pub low_s: bool,
    /// The document's canonical bytes, proof included: what a sealed file holds, byte for byte.
    pub canonical: Vec<u8>,
}

/// Signs a document: returns it with exactly one proof.
///
/// `created` is a UTC time, `2026-03-01T09:30:00Z`. Same input, same bytes (RFC 6979).
///
/// # Errors
/// When the document is no object, has a proof or a context already, or has no canonical form.
pub fn sign(unsecured: &Value, key: &PrivateKey, created: &str) -> Result<Value, ProofError> {
    let members = unsecured.as_object().ok_or(ProofError::NotAnObject)?;
    if members.contains_key("proof") {
        return Err(ProofError::AlreadySigned);
    }
    if members.contains_key("@context") {
        return Err(ProofError::ContextToSign);
    }
    if !is_utc_time(created) {
        return Err(ProofError::Created(shorten(created)));
    }
    let mut proof = json!({
        "type": PROOF_TYPE,
        "cryptosuite": CRYPTOSUITE,
        "created": created,
        "verificationMethod": key.public_key().verification_method(),
        "proofPurpose": PROOF_PURPOSE,
    });
    let signature = key.sign(&hash_data(
        &canonical_bytes(&proof)?,
        Digest::of(&canonical_bytes(unsecured)?),
    ));
    proof["proofValue"] = Value::String(format!("z{}", bs58::encode(signature).into_string()));
    let mut secured = members.clone();
    secured.insert("proof".to_owned(), proof);
    Ok(Value::Object(secured))
}

/// Verifies the signature of a received document, and nothing else.
///
/// Further members of the proof are accepted when they are signed, and `@context` when the proof repeats
/// it exactly, so that documents of others can be judged too; [`verify_policy`] refuses both.
///
/// # Errors
/// What is wrong, in the order the proof is read.
pub fn verify(document: &Value) -> Result<Verified, ProofError> {
    let members = document.as_object().ok_or(ProofError::NotAnObject)?;
    let proof = match members.get("proof") {
        None => return Err(ProofError::Missing),
        Some(Value::Object(proof)) => proof,
        Some(Value::Array(proofs)) => {
            return Err(ProofError::Array {
                count: proofs.len(),
            });
        }
        Some(_) => return Err(ProofError::ProofNotAnObject),
    };
    fixed(proof, "type", PROOF_TYPE)?;
    fixed(proof, "cryptosuite", CRYPTOSUITE)?;
    fixed(proof, "proofPurpose", PROOF_PURPOSE)?;
    let created = match proof.get("created") {
        None => None,
        Some(_) => Some(text(proof, "created")?),
    };
    if let Some(time) = created.filter(|time| !is_utc_time(time)) {
        return Err(ProofError::Created(shorten(time)));
    }
    // Stricter than the standard, which lets the document's context run on past the proof's.
    if proof.get("@context") != members.get("@context") {
        return Err(ProofError::ContextDiffers);
    }
    let method = text(proof, "verificationMethod")?;
    let key = PublicKey::from_verification_method(method)?;
    let signature = signature_bytes(text(proof, "proofValue")?)?;

    let (canonical, apart) = canonical_object(members, "proof")?;
    let record_digest = digest_without(&canonical, apart);
    let hashes = hash_data(&canonical_without(proof, "proofValue")?, record_digest);
    if !key.verify(&hashes, &signature) {
        return Err(ProofError::Mismatch);
    }
    // The text was read strictly, so what stands before `#` is the key's one name.
    let did = method.split('#').next().unwrap_or(method).to_owned();
    Ok(Verified {
        key,
        did,
        created: created.map(str::to_owned),
        record_digest,
        low_s: is_low(&signature),
        canonical,
    })
}

/// Whether s of r ‖ s is at most half of the group order. Source: FIPS 186-5, which names SP 800-186, 3.2.1.3 (n of P-256; number of the section from memory).
fn is_low(signature: &[u8]) -> bool {
    /// n / 2, rounded down.
    const HALF: [u8; 32] = [
        0x7f, 0xff, 0xff, 0xff, 0x80, 0x00, 0x00, 0x00, 0x7f, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff,
        0xff, 0xde, 0x73, 0x7d, 0x56, 0xd3, 0x8b, 0xcf, 0x42, 0x79, 0xdc, 0xe5, 0x61, 0x7e, 0x31,
        0x92, 0xa8,
    ];
    signature.get(32..).is_some_and(|s| s <= HALF.as_slice())
}

/// The name of a record: SHA-256 over the canonical bytes of the document without `proof`.
///
/// The proof stays out because a signature has a valid twin (n − s), which must not make a second name.
///
/// # Errors
/// When the document is no object or has no canonical form.
pub fn record_digest(document: &Value) -> Result<Digest, ProofError> {
    let members = document.as_object().ok_or(ProofError::NotAnObject)?;
    Ok(Digest::of(&canonical_without(members, "proof")?))
}

/// The 64 bytes that are signed: digest of the proof options first, then digest of the document.
fn hash_data(canonical_options: &[u8], document: Digest) -> [u8; 64] {
    let mut hashes = [0; 64];
    hashes[..32].copy_from_slice(&Sha256::digest(canonical_options));
    hashes[32..].copy_from_slice(document.as_bytes());
    hashes
}

/// Canonical bytes of an object with one member left out.
fn canonical_without(
    members: &Map<String, Value>,
    left_out: &str,
) -> Result<Vec<u8>, CanonicalError> {
    let (mut bytes, apart) = canonical_object(members, left_out)?;
    bytes.drain(apart);
    Ok(bytes)
}

/// Digest of bytes with a stretch left out.
fn digest_without(bytes: &[u8], apart: Range<usize>) -> Digest {
    let mut hash = Sha256::new();
    hash.update(&bytes[..apart.start]);
    hash.update(&bytes[apart.end..]);
    Digest::from_bytes(hash.finalize().into())
}

/// Canonical bytes of an object, and the stretch to leave out for those of the object without one of its members
/// (an empty stretch when it has none of that name).
///
/// Written member by member: the bytes with and without a proof come from one pass over the record.
fn canonical_object(
    members: &Map<String, Value>,
    apart: &str,
) -> Result<(Vec<u8>, Range<usize>), CanonicalError> {
    let mut sorted: Vec<(&String, &Value)> = members.iter().collect();
    // RFC 8785, 3.2.3: names sort by UTF-16 code units.
    sorted.sort_by(|(left, _), (right, _)| left.encode_utf16().cmp(right.encode_utf16()));
    let mut bytes = Vec::with_capacity(4096);
    let mut stretch = 0..0;
    bytes.push(b'{');
    for (index, (name, value)) in sorted.into_iter().enumerate() {
        let start = bytes.len();
        if index > 0 {
            bytes.push(b',');
        }
        bytes.extend(canonical_bytes(&Value::String(name.clone()))?);
        bytes.push(b':');
        bytes.extend(canonical_bytes(value)?);
        if name == apart {
            // The first member has no comma before it: the one after it goes instead.
            let comma = usize::from(index == 0 && members.len() > 1);
            stretch = start..bytes.len() + comma;
        }
    }
    bytes.push(b'}');
    Ok((bytes, stretch))
}

fn text<'a>(proof: &'a Map<String, Value>, field: &'static str) -> Result<&'a str, ProofError> {
    proof
        .get(field)
        .and_then(Value::as_str)
        .ok_or(ProofError::Field(field))
}

fn fixed(
    proof: &Map<String, Value>,
    field: &'static str,
    allowed: &'static str,
) -> Result<(), ProofError> {
    let found = text(proof, field)?;
    if found == allowed {
        Ok(())
    } else {
        Err(ProofError::Fixed {
            field,
            found: shorten(found),
            allowed,
        })
    }
}

fn signature_bytes(value: &str) -> Result<Vec<u8>, ProofError> {
    let base58 = value.strip_prefix('z').ok_or(ProofError::ValueNotBase58)?;
    // Decoding takes the square of the length in time; 64 bytes take 88 characters at most.
    if base58.len() > 200 {
        return Err(ProofError::ValueLength {
            found: base58.len() * 3 / 4,
        });
    }
    let bytes = bs58::decode(base58)
        .into_vec()
        .map_err(|_| ProofError::ValueNotBase58)?;
    if bytes.len() == 64 {
        Ok(bytes)
    } else {
        Err(ProofError::ValueLength { found: bytes.len() })
    }
}

/// The latest time that a record or a key history states.
const LATEST_TIME: &str = "9999-12-30T22:00:00Z";

/// Whether the text is a time in the one spelling records use, `YYYY-MM-DDThh:mm:ssZ`, of a day that exists.
///
/// Source: RFC 3339, 5.6 and appendix C (leap years). Leap seconds are not written.
pub(crate) fn is_utc_time(text: &str) -> bool {
    let bytes = text.as_bytes();
    let shape = b"0000-00-00T00:00:00Z";
    let fits = bytes.len() == shape.len()
        && bytes.iter().zip(shape).all(|(byte, sample)| {
            if *sample == b'0' {
                byte.is_ascii_digit()
            } else {
                byte == sample
            }
        });
    if !fits {
        return false;
    }
    let number = |from: usize, to: usize| {
        bytes[from..to]
            .iter()
            .fold(0_u32, |sum, digit| sum * 10 + u32::from(digit - b'0'))
    };
    let (year, month, day) = (number(0, 4), number(5, 7), number(8, 10));
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let days = match month {
        4 | 6 | 9 | 11 => 30,
        2 if leap => 29,
        2 => 28,
        1..=12 => 31,
        _ => 0,
    };
    (1..=days).contains(&day)
        && number(11, 13) < 24
        && number(14, 16) < 60
        && number(17, 19) < 60
        && text <= LATEST_TIME
}
