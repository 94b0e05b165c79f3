//! What a Tangmark record demands of its proof beyond a signature that holds.

use serde_json::Value;

use super::Verified;
use crate::key::{PublicKey, shorten};

/// Members a proof of ours has; no others.
const FIELDS: [&str; 6] = [
    "type",
    "cryptosuite",
    "created",
    "verificationMethod",
    "proofPurpose",
    "proofValue",
];

/// Keys whose private halves are printed in specifications: anyone can sign with them.
pub(super) const PUBLISHED_KEYS: [&str; 3] = [
    // W3C vc-di-ecdsa TestVectors/p256KeyPair.json, commit 00781de; the key of RFC 6979, A.2.5, too.
    "zDnaepBuvsQ8cpsWrVKw8fbpGpvPeNSjVPTWoq6cRqaYzBKVP",
    // The did:key method, P-256 examples (from memory).
    "zDnaerDaTF5BXEavCrfRZEk316dpbLsfPDZ3WJ5hRTPFU2169",
    "zDnaerx9CtbPJ1q36T5Ln5wYt3MQYeGRG5ehnPAmxcf5mDZpv",
];

/// Why a proof whose signature holds is still none of ours.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PolicyError {
    /// A JSON-LD context, which changes what names mean.
    #[error("document: has `@context`, which no record of ours has")]
    Context,
    /// A member of the proof that ours do not have.
    #[error(
        "proof: unknown member `{0}`; type, cryptosuite, created, verificationMethod, proofPurpose and proofValue allowed"
    )]
    UnknownField(String),
    /// The document names no issuer.
    #[error("issuer: no key is named, `issuer` with `id` (did:key) needed")]
    NoIssuer,
    /// Another key signed than the one the document names.
    #[error("issuer: the document names `{issuer}`, but `{signer}` signed it")]
    IssuerIsNotSigner {
        /// As the document has it, shortened.
        issuer: String,
        /// The did:key of the signer.
        signer: String,
    },
    /// The document gives no time, or another than the proof.
    #[error(
        "issued_at: `{issued_at}`, the proof's `created` is `{created}`; both must be the same"
    )]
    TimeDiffers {
        /// As the document has it, shortened.
        issued_at: String,
        /// As the proof has it.
        created: String,
    },
    /// The private key is public knowledge.
    #[error("issuer: `{0}` is an example key printed in a specification, anyone can sign with it")]
    PublishedKey(String),
}

impl PolicyError {
    /// The next step, where there is one.
    pub fn hint(&self) -> Option<&'static str> {
        match self {
            Self::PublishedKey(_) => Some("make a key of your own with `tangmark setup`"),
            Self::IssuerIsNotSigner { .. } => {
                Some("ask the workshop named for its own sealed file")
            }
            _ => None,
        }
    }
}

/// Checks the rules of our records on a document that passed [`super::verify`].
///
/// The issuer is `issuer.id` (or `issuer` itself when it is a text, as other documents write it).
///
/// # Errors
/// The first rule that is broken.
pub fn verify_policy(document: &Value, verified: &Verified) -> Result<(), PolicyError> {
    let signer = &verified.did;
    let issuer = match document.get("issuer") {
        Some(Value::String(did)) => did,
        Some(issuer) => issuer
            .get("id")
            .and_then(Value::as_str)
            .ok_or(PolicyError::NoIssuer)?,
        None => return Err(PolicyError::NoIssuer),
    };
    if issuer != signer {
        return Err(PolicyError::IssuerIsNotSigner {
            issuer: shorten(issuer),
            signer: signer.clone(),
        });
    }
    check_members(document)?;
    let issued_at = document.get("issued_at").and_then(Value::as_str);
    if issued_at.is_none() || issued_at != verified.created.as_deref() {
        let or_missing = |text: Option<&str>| text.map_or_else(|| "missing".to_owned(), shorten);
        return Err(PolicyError::TimeDiffers {
            issued_at: or_missing(issued_at),
            created: or_missing(verified.created.as_deref()),
        });
    }
    if is_published_name(signer) {
        return Err(PolicyError::PublishedKey(signer.clone()));
    }
    Ok(())
}

/// Refuses contexts and members of the proof that ours do not have, signed or not.
pub(crate) fn check_members(document: &Value) -> Result<(), PolicyError> {
    if document.get("@context").is_some() || document.pointer("/proof/@context").is_some() {
        return Err(PolicyError::Context);
    }
    let proof = document.get("proof").and_then(Value::as_object);
    let unknown =
        proof.and_then(|proof| proof.keys().find(|name| !FIELDS.contains(&name.as_str())));
    unknown.map_or(Ok(()), |name| Err(PolicyError::UnknownField(shorten(name))))
}

/// Whether the private half of the key is printed in a specification.
pub fn is_published(key: &PublicKey) -> bool {
    is_published_name(&key.did_key())
}

fn is_published_name(did: &str) -> bool {
    did.strip_prefix("did:key:")
        .is_some_and(|multikey| PUBLISHED_KEYS.contains(&multikey))
}
