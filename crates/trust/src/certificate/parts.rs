//! Reading a self-issued certificate: exactly the fields of the format page, and the rules on them.
//!
//! A general reader of certificates passes over fields that it does not know and refuses dates that no calendar has; both
//! would be an answer that another reader does not give.

use const_oid::AssociatedOid as _;
use der::{Any, Decode as _, Encode as _, Sequence, asn1::BitString};
use spki::{AlgorithmIdentifierOwned, ObjectIdentifier, SubjectPublicKeyInfoOwned};
use x509_cert::{
    Version,
    attr::AttributeTypeAndValue,
    ext::{Extensions, pkix::KeyUsage},
    name::{Name, RelativeDistinguishedName},
    serial_number::SerialNumber,
};

use super::{
    COMMON_NAME, CertificateError, CertificateFacts, EC_PUBLIC_KEY, SECP256R1, ecdsa_with_sha256,
    raw_from_der,
};
use crate::PublicKey;

/// A certificate taken apart. Source: RFC 5280, 4.1 (from memory).
#[derive(Clone, Debug, PartialEq, Eq, Sequence)]
pub(crate) struct Parts {
    pub(crate) signed: Signed,
    algorithm: AlgorithmIdentifierOwned,
    signature: BitString,
}

/// What is signed in it. Source: RFC 5280, 4.1.2 (from memory).
#[derive(Clone, Debug, PartialEq, Eq, Sequence)]
pub(crate) struct Signed {
    #[asn1(context_specific = "0", default = "Default::default")]
    version: Version,
    pub(crate) serial_number: SerialNumber,
    algorithm: AlgorithmIdentifierOwned,
    pub(crate) issuer: Name,
    validity: Validity,
    subject: Name,
    key: SubjectPublicKeyInfoOwned,
    #[asn1(context_specific = "3", tag_mode = "EXPLICIT", optional = "true")]
    extensions: Option<Extensions>,
}

/// Two fields that are not looked at: an expiry says nothing about a record, the history of the keys does.
#[derive(Clone, Debug, PartialEq, Eq, Sequence)]
struct Validity {
    from: Any,
    until: Any,
}

/// Reads a self-issued certificate and checks it against the key it carries. Dates are not judged.
///
/// # Errors
/// When it is no version 3 certificate, self-issued under one name for a P-256 key that may sign, has other fields, or
/// was not signed by that key.
pub fn read(certificate_der: &[u8]) -> Result<CertificateFacts, CertificateError> {
    facts(&parts(certificate_der)?)
}

/// Takes a certificate apart.
pub(crate) fn parts(certificate_der: &[u8]) -> Result<Parts, CertificateError> {
    let parts = Parts::from_der(certificate_der).map_err(CertificateError::Unreadable)?;
    // The decoder passes over unknown fields before the extensions; written anew they are gone.
    if parts.to_der().map_err(CertificateError::Unreadable)? == certificate_der {
        Ok(parts)
    } else {
        Err(CertificateError::OtherFields)
    }
}

/// Applies the rules on its fields.
pub(crate) fn facts(certificate: &Parts) -> Result<CertificateFacts, CertificateError> {
    let signed = &certificate.signed;
    if signed.version != Version::V3 {
        return Err(CertificateError::Version);
    }
    let name = single_common_name(&signed.subject).ok_or(CertificateError::NotSelfIssued)?;
    if signed.issuer != signed.subject {
        return Err(CertificateError::NotSelfIssued);
    }
    let key = public_key(&signed.key).ok_or(CertificateError::KeyKind)?;
    let usage = key_usage(signed.extensions.as_deref().unwrap_or_default());
    if !usage.is_some_and(|usage| usage.digital_signature()) {
        return Err(CertificateError::KeyUsage);
    }
    let algorithms = [&signed.algorithm, &certificate.algorithm];
    if algorithms
        .into_iter()
        .any(|algorithm| *algorithm != ecdsa_with_sha256())
    {
        return Err(CertificateError::Signature);
    }
    let message = signed.to_der().map_err(CertificateError::Unreadable)?;
    let signature = certificate
        .signature
        .as_bytes()
        .and_then(raw_from_der)
        .ok_or(CertificateError::Signature)?;
    if !key.verify(&message, &signature) {
        return Err(CertificateError::Signature);
    }
    Ok(CertificateFacts { key, name })
}

/// The key usage, if it is there once and can be read.
fn key_usage(extensions: &[x509_cert::ext::Extension]) -> Option<KeyUsage> {
    let mut found = extensions
        .iter()
        .filter(|extension| extension.extn_id == KeyUsage::OID);
    match (found.next(), found.next()) {
        (Some(one), None) => KeyUsage::from_der(one.extn_value.as_bytes()).ok(),
        _ => None,
    }
}

fn single_common_name(name: &Name) -> Option<String> {
    let [RelativeDistinguishedName(values)] = name.0.as_slice() else {
        return None;
    };
    let [AttributeTypeAndValue { oid, value }] = values.as_slice() else {
        return None;
    };
    if *oid != COMMON_NAME {
        return None;
    }
    value.decode_as::<String>().ok()
}

fn public_key(info: &SubjectPublicKeyInfoOwned) -> Option<PublicKey> {
    let curve = info
        .algorithm
        .parameters
        .as_ref()?
        .decode_as::<ObjectIdentifier>()
        .ok()?;
    if info.algorithm.oid != EC_PUBLIC_KEY || curve != SECP256R1 {
        return None;
    }
    PublicKey::from_sec1(info.subject_public_key.as_bytes()?).ok()
}
