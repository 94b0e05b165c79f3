//! Self-issued certificates: the form in which PDF readers expect the workshop's public key.
//!
//! A certificate of this kind vouches for nothing; it only carries the key. Serial number and first day
//! are fixed for a key and there is no expiry, so that the same key gives the same bytes for ever.
//!
//! Source: RFC 5280 (X.509 version 3), RFC 5480 (P-256 keys), RFC 5758, 3.2 (ecdsa-with-SHA256),
//! RFC 7093, 2 (key identifiers from SHA-256).

mod parts;

use std::str::FromStr as _;

use der::{
    Encode as _,
    asn1::{BitString, GeneralizedTime, OctetString, SetOfVec, UtcTime, Utf8StringRef},
};
use p256::ecdsa::Signature;
use sha2::{Digest as _, Sha256};
use spki::{AlgorithmIdentifierOwned, ObjectIdentifier, SubjectPublicKeyInfoOwned};
use x509_cert::{
    Certificate, TbsCertificate, Version,
    attr::AttributeTypeAndValue,
    ext::{
        AsExtension,
        pkix::{BasicConstraints, KeyUsage, KeyUsages, SubjectKeyIdentifier},
    },
    name::{Name, RdnSequence, RelativeDistinguishedName},
    serial_number::SerialNumber,
    time::{Time, Validity},
};

pub use parts::read;
pub(crate) use parts::{Parts, facts, parts};

use crate::{PrivateKey, PublicKey, key::shorten};

/// ecdsa-with-SHA256. Source: RFC 5758, 3.2.
pub(crate) const ECDSA_WITH_SHA256: ObjectIdentifier =
    ObjectIdentifier::new_unwrap("1.2.840.10045.4.3.2");
/// id-ecPublicKey. Source: RFC 5480, 2.1.1.
pub(crate) const EC_PUBLIC_KEY: ObjectIdentifier =
    ObjectIdentifier::new_unwrap("1.2.840.10045.2.1");
/// secp256r1, which FIPS 186-5 calls P-256. Source: RFC 5480, 2.1.1.1.
pub(crate) const SECP256R1: ObjectIdentifier = ObjectIdentifier::new_unwrap("1.2.840.10045.3.1.7");
/// id-at-commonName. Source: RFC 5280, appendix A.1.
const COMMON_NAME: ObjectIdentifier = ObjectIdentifier::new_unwrap("2.5.4.3");
/// The most characters a common name may have. Source: RFC 5280, appendix A.1, ub-common-name.
const COMMON_NAME_LIMIT: usize = 64;
/// From this year on a time is written with four digits for the year. Source: RFC 5280, 4.1.2.5.
const FIRST_GENERALIZED_YEAR: u16 = 2050;

/// Why a certificate cannot be made or is not one of a workshop's key.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum CertificateError {
    /// The name is empty or too long for a certificate.
    #[error("certificate name: {found} characters, 1 to {COMMON_NAME_LIMIT} allowed")]
    NameLength {
        /// Characters found.
        found: usize,
    },
    /// The first day is no UTC time.
    #[error(
        "certificate date `{0}`: a UTC time such as 2026-01-02T03:04:05Z allowed, from 1970 on"
    )]
    Created(String),
    /// The certificate could not be written.
    #[error("certificate cannot be encoded: {0}")]
    Encoding(der::Error),
    /// The bytes are no X.509 certificate.
    #[error("certificate cannot be read: {0}")]
    Unreadable(der::Error),
    /// The certificate has fields that ours do not have, or is not the one DER form of what it says.
    #[error(
        "certificate: other fields than a workshop's certificate has, or not in their one form"
    )]
    OtherFields,
    /// The certificate is not of version 3.
    #[error("certificate: not of version 3")]
    Version,
    /// Issuer and subject differ, or they are not one common name.
    #[error("certificate: issuer and subject are not the same single name")]
    NotSelfIssued,
    /// The key in the certificate is not a P-256 key.
    #[error("certificate: the key is not a P-256 key")]
    KeyKind,
    /// The certificate may not be used for signatures.
    #[error("certificate: the key usage does not allow signatures")]
    KeyUsage,
    /// The certificate was not signed by the key in it, with SHA-256.
    #[error("certificate: not signed by the key it carries")]
    Signature,
}

impl CertificateError {
    /// The next step, where there is one.
    pub fn hint(&self) -> Option<&'static str> {
        match self {
            Self::NameLength { .. } => Some("give the workshop a name of at most 64 characters"),
            Self::Created(_) => Some("write the time as 2026-01-02T03:04:05Z"),
            _ => None,
        }
    }
}

/// What a certificate says, once it is known to be sound.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CertificateFacts {
    /// The key it carries.
    pub key: PublicKey,
    /// The name the holder of the key gave; nobody has checked it.
    pub name: String,
}

/// Makes the certificate of `key` under `name`, valid from `created` without end, as DER.
///
/// `created` is the UTC time at which the key was made (`2026-01-02T03:04:05Z`); the caller keeps it with
/// the key. The same three inputs always give the same bytes.
///
/// # Errors
/// When the name has 0 or more than 64 characters, or `created` is no UTC time.
pub fn self_issued(
    key: &PrivateKey,
    name: &str,
    created: &str,
) -> Result<Vec<u8>, CertificateError> {
    let public = key.public_key();
    let tbs_certificate = to_be_signed(&public, name, created)?;
    let message = tbs_certificate
        .to_der()
        .map_err(CertificateError::Encoding)?;
    let signature = raw_to_der(&key.sign(&message)).ok_or(CertificateError::Signature)?;
    let certificate = Certificate {
        tbs_certificate,
        signature_algorithm: ecdsa_with_sha256(),
        signature: BitString::from_bytes(&signature).map_err(CertificateError::Encoding)?,
    };
    certificate.to_der().map_err(CertificateError::Encoding)
}

fn to_be_signed(
    key: &PublicKey,
    name: &str,
    created: &str,
) -> Result<TbsCertificate, CertificateError> {
    let name = common_name(name)?;
    let mut extensions = Vec::new();
    // RFC 5280, 4.2.1.9: a certificate that issues no others says so.
    let constraints = BasicConstraints {
        ca: false,
        path_len_constraint: None,
    };
    let usage = KeyUsage(KeyUsages::DigitalSignature | KeyUsages::NonRepudiation);
    let digest = Sha256::digest(key.uncompressed());
    // RFC 7093, 2, method 1: the leftmost 160 bits of SHA-256 over the public key's bits.
    let identifier =
        SubjectKeyIdentifier(OctetString::new(&digest[..20]).map_err(CertificateError::Encoding)?);
    for extension in [
        constraints.to_extension(&name, &extensions),
        usage.to_extension(&name, &extensions),
        identifier.to_extension(&name, &extensions),
    ] {
        extensions.push(extension.map_err(CertificateError::Encoding)?);
    }
    Ok(TbsCertificate {
        version: Version::V3,
        serial_number: serial_number(key)?,
        signature: ecdsa_with_sha256(),
        issuer: name.clone(),
        validity: Validity {
            not_before: not_before(created)?,
            not_after: Time::INFINITY,
        },
        subject: name,
        subject_public_key_info: public_key_info(key)?,
        issuer_unique_id: None,
        subject_unique_id: None,
        extensions: Some(extensions),
    })
}

/// 16 bytes of SHA-256 over the compressed point: positive, never shorter, the same for the same key.
fn serial_number(key: &PublicKey) -> Result<SerialNumber, CertificateError> {
    let mut bytes = [0; 16];
    bytes.copy_from_slice(&Sha256::digest(key.compressed())[..16]);
    bytes[0] = bytes[0] & 0x7f | 0x40;
    SerialNumber::new(&bytes).map_err(CertificateError::Encoding)
}

fn common_name(text: &str) -> Result<Name, CertificateError> {
    let found = text.chars().count();
    if found == 0 || found > COMMON_NAME_LIMIT {
        return Err(CertificateError::NameLength { found });
    }
    let value = Utf8StringRef::new(text)
        .map_err(CertificateError::Encoding)?
        .into();
    let mut values = SetOfVec::new();
    values
        .insert(AttributeTypeAndValue {
            oid: COMMON_NAME,
            value,
        })
        .map_err(CertificateError::Encoding)?;
    Ok(RdnSequence(vec![RelativeDistinguishedName(values)]))
}

fn not_before(created: &str) -> Result<Time, CertificateError> {
    let refused = || CertificateError::Created(shorten(created));
    let time = der::DateTime::from_str(created).map_err(|_| refused())?;
    if time.year() < FIRST_GENERALIZED_YEAR {
        UtcTime::from_date_time(time)
            .map(Time::from)
            .map_err(|_| refused())
    } else {
        Ok(GeneralizedTime::from_date_time(time).into())
    }
}

pub(crate) fn public_key_info(
    key: &PublicKey,
) -> Result<SubjectPublicKeyInfoOwned, CertificateError> {
    Ok(SubjectPublicKeyInfoOwned {
        algorithm: AlgorithmIdentifierOwned {
            oid: EC_PUBLIC_KEY,
            parameters: Some((&SECP256R1).into()),
        },
        subject_public_key: BitString::from_bytes(key.uncompressed())
            .map_err(CertificateError::Encoding)?,
    })
}

/// The algorithm's identifier; for this one no parameters are written. Source: RFC 5758, 3.2.
pub(crate) fn ecdsa_with_sha256() -> AlgorithmIdentifierOwned {
    AlgorithmIdentifierOwned {
        oid: ECDSA_WITH_SHA256,
        parameters: None,
    }
}

/// A signature r ‖ s as X.509 and CMS write it: a SEQUENCE of two INTEGERs.
pub(crate) fn raw_to_der(raw: &[u8; 64]) -> Option<Vec<u8>> {
    Signature::from_slice(raw)
        .ok()
        .map(|signature| signature.to_der().as_bytes().to_vec())
}

/// The reverse of [`raw_to_der`]; nothing when the bytes are not the one DER form of a signature.
pub(crate) fn raw_from_der(bytes: &[u8]) -> Option<[u8; 64]> {
    let signature = Signature::from_der(bytes).ok()?;
    (signature.to_der().as_bytes() == bytes).then(|| signature.to_bytes().into())
}

/// Whether s is in the lower half: every signature of ours is, its twin is not.
pub(crate) fn is_low_s(raw: &[u8; 64]) -> bool {
    Signature::from_slice(raw).is_ok_and(|signature| signature.normalize_s().is_none())
}

#[cfg(test)]
mod tests;
