//! The signatures of time authorities: RSA and ECDSA, by `ring`.

use der::{AnyRef, asn1::ObjectIdentifier};
use ring::signature::{self, UnparsedPublicKey, VerificationAlgorithm};
use spki::SubjectPublicKeyInfoOwned;

use super::{TimestampError, request::SHA_256, syntax};

/// id-sha384, id-sha512. Source: RFC 5754, 2.3, 2.4.
const SHA_384: ObjectIdentifier = ObjectIdentifier::new_unwrap("2.16.840.1.101.3.4.2.2");
const SHA_512: ObjectIdentifier = ObjectIdentifier::new_unwrap("2.16.840.1.101.3.4.2.3");
/// rsaEncryption: the key, and in CMS a signature with it whose digest is named beside it. Source: RFC 3370, 3.2.
const RSA: ObjectIdentifier = ObjectIdentifier::new_unwrap("1.2.840.113549.1.1.1");
/// sha256WithRSAEncryption and its sisters. Source: RFC 8017, appendix A.2.4.
const RSA_SHA_256: ObjectIdentifier = ObjectIdentifier::new_unwrap("1.2.840.113549.1.1.11");
const RSA_SHA_384: ObjectIdentifier = ObjectIdentifier::new_unwrap("1.2.840.113549.1.1.12");
const RSA_SHA_512: ObjectIdentifier = ObjectIdentifier::new_unwrap("1.2.840.113549.1.1.13");
/// ecdsa-with-SHA256 and its sister. Source: RFC 5758, 3.2.
const ECDSA_SHA_256: ObjectIdentifier = ObjectIdentifier::new_unwrap("1.2.840.10045.4.3.2");
const ECDSA_SHA_384: ObjectIdentifier = ObjectIdentifier::new_unwrap("1.2.840.10045.4.3.3");
/// id-ecPublicKey and the two curves. Source: RFC 5480, 2.1.1.
const EC_KEY: ObjectIdentifier = ObjectIdentifier::new_unwrap("1.2.840.10045.2.1");
const P_256: ObjectIdentifier = ObjectIdentifier::new_unwrap("1.2.840.10045.3.1.7");
const P_384: ObjectIdentifier = ObjectIdentifier::new_unwrap("1.3.132.0.34");

/// A digest that signatures are made over.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Hash {
    Sha256,
    Sha384,
    Sha512,
}

impl Hash {
    pub(super) fn from_oid(
        what: &'static str,
        oid: ObjectIdentifier,
    ) -> Result<Self, TimestampError> {
        Ok(match oid {
            SHA_256 => Self::Sha256,
            SHA_384 => Self::Sha384,
            SHA_512 => Self::Sha512,
            _ => {
                return Err(TimestampError::Algorithm {
                    what,
                    found: oid.to_string(),
                    allowed: "SHA-256, SHA-384 and SHA-512",
                });
            }
        })
    }

    pub(super) fn of(self, bytes: &[u8]) -> Vec<u8> {
        let algorithm = match self {
            Self::Sha256 => &ring::digest::SHA256,
            Self::Sha384 => &ring::digest::SHA384,
            Self::Sha512 => &ring::digest::SHA512,
        };
        ring::digest::digest(algorithm, bytes).as_ref().to_vec()
    }
}

/// SHA-1, with which the first version of the signing certificate names it; nothing is signed over one.
pub(super) fn sha_1(bytes: &[u8]) -> Vec<u8> {
    ring::digest::digest(&ring::digest::SHA1_FOR_LEGACY_USE_ONLY, bytes)
        .as_ref()
        .to_vec()
}

/// Kind of a signature.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Scheme {
    ecdsa: bool,
    hash: Hash,
}

impl Scheme {
    /// Reads a signature algorithm; `hash` is the digest named beside it, where there is one.
    ///
    /// Parameters: with RSA none or NULL, which RFC 4055, 1.2, asks readers to take alike; with ECDSA none (RFC 5758, 3.2).
    /// Both from memory.
    pub(super) fn read(field: AnyRef<'_>, hash: Option<Hash>) -> Result<Self, TimestampError> {
        let (algorithm, null) = syntax::algorithm("the signature's kind", field)?;
        let scheme = Self::new(algorithm, hash)?;
        if scheme.ecdsa && null {
            return Err(TimestampError::Form(
                "an ECDSA signature's kind has parameters",
            ));
        }
        Ok(scheme)
    }

    fn new(algorithm: ObjectIdentifier, hash: Option<Hash>) -> Result<Self, TimestampError> {
        let (ecdsa, own) = match algorithm {
            RSA => (false, hash),
            RSA_SHA_256 => (false, Some(Hash::Sha256)),
            RSA_SHA_384 => (false, Some(Hash::Sha384)),
            RSA_SHA_512 => (false, Some(Hash::Sha512)),
            ECDSA_SHA_256 => (true, Some(Hash::Sha256)),
            ECDSA_SHA_384 => (true, Some(Hash::Sha384)),
            _ => (false, None),
        };
        match own {
            Some(own) if hash.is_none_or(|hash| hash == own) => Ok(Self { ecdsa, hash: own }),
            Some(_) => Err(TimestampError::Form(
                "the signature uses another digest than it names",
            )),
            None => Err(TimestampError::Algorithm {
                what: "the signature",
                found: algorithm.to_string(),
                allowed: "RSA (PKCS #1 v1.5) with SHA-256, SHA-384 or SHA-512, ECDSA with SHA-256 or SHA-384",
            }),
        }
    }

    /// Whether the signature over the message holds for the key.
    pub(super) fn verify(
        self,
        key: &SubjectPublicKeyInfoOwned,
        message: &[u8],
        value: &[u8],
    ) -> bool {
        let Some(point) = key.subject_public_key.as_bytes() else {
            return false;
        };
        let curve = || {
            let parameters = key.algorithm.parameters.as_ref()?;
            parameters.decode_as::<ObjectIdentifier>().ok()
        };
        let algorithm: &'static dyn VerificationAlgorithm =
            match (key.algorithm.oid, self.ecdsa, self.hash) {
                (RSA, false, Hash::Sha256) => &signature::RSA_PKCS1_2048_8192_SHA256,
                (RSA, false, Hash::Sha384) => &signature::RSA_PKCS1_2048_8192_SHA384,
                (RSA, false, Hash::Sha512) => &signature::RSA_PKCS1_2048_8192_SHA512,
                (EC_KEY, true, hash) => match (curve(), hash) {
                    (Some(P_256), Hash::Sha256) => &signature::ECDSA_P256_SHA256_ASN1,
                    (Some(P_256), Hash::Sha384) => &signature::ECDSA_P256_SHA384_ASN1,
                    (Some(P_384), Hash::Sha256) => &signature::ECDSA_P384_SHA256_ASN1,
                    (Some(P_384), Hash::Sha384) => &signature::ECDSA_P384_SHA384_ASN1,
                    _ => return false,
                },
                _ => return false,
            };
        UnparsedPublicKey::new(algorithm, point)
            .verify(message, value)
            .is_ok()
    }
}
