//! Signatures of people who have a key of their own and no workshop: a P-256 key or certificate in PEM, and a signature
//! beside the file that it signs.
//!
//! What is found here is that the key signed these bytes. Whose key it is nobody is asked: a certificate is read for its
//! key and the name in it, and neither its issuer nor its dates are looked at.
//!
//! Source: RFC 7468, 5 and 13 (labels), RFC 5480, 2.1.1 (keys), RFC 5758, 3.2 (ecdsa-with-SHA256), from memory.

use der::{Decode as _, Encode as _};
use spki::SubjectPublicKeyInfoOwned;

use crate::PublicKey;
use crate::certificate::{EC_PUBLIC_KEY, SECP256R1, raw_from_der};
use crate::timestamp::{AuthorityCertificate, CertificateProblem};

/// Longest file with a key or certificate, in bytes.
pub const LONGEST_KEY: u64 = 64 << 10;
/// Longest file with a signature, in bytes.
pub const LONGEST_SIGNATURE: u64 = 4 << 10;

/// A key that was handed in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OutsideKey {
    /// The key.
    pub key: PublicKey,
    /// The name that a certificate gives its holder; nothing where the key came by itself.
    pub name: Option<String>,
}

/// Why a signature beside a file counts for nothing.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum DetachedError {
    /// A private key was handed in.
    #[error("a private key was found, a public key or a certificate is needed")]
    PrivateKey,
    /// No key and no certificate.
    #[error("no block `BEGIN PUBLIC KEY` or `BEGIN CERTIFICATE` was found")]
    NoKey,
    /// The certificates of the file.
    #[error(transparent)]
    Certificate(#[from] CertificateProblem),
    /// Several certificates.
    #[error("{0} certificates found, one is allowed: that of the signer")]
    Several(usize),
    /// The block is no key.
    #[error("the key cannot be read: {0}")]
    Unreadable(String),
    /// A key of another kind.
    #[error("a key of another kind was found, P-256 (secp256r1) is allowed")]
    KeyKind,
    /// The signature is in no known form.
    #[error(
        "{found} bytes found that are no signature; a DER signature of ECDSA, or its 64 bytes r and s, are allowed, also as Base64"
    )]
    SignatureForm {
        /// Length of the file in bytes.
        found: usize,
    },
    /// It does not hold.
    #[error("the signature is not one of this key over these bytes")]
    DoesNotHold,
}

impl DetachedError {
    /// The next step.
    pub fn hint(&self) -> &'static str {
        match self {
            Self::PrivateKey => {
                "a private key stays with its holder: ask for the public one, such as `openssl pkey -in KEY.pem -pubout` writes it"
            }
            Self::NoKey | Self::Certificate(_) | Self::Unreadable(_) => {
                "give the signer's certificate or public key in PEM, such as `openssl pkey -in KEY.pem -pubout` writes it"
            }
            Self::Several(_) => "give a file with the signer's own certificate alone",
            Self::KeyKind => {
                "ask for a P-256 key, such as `openssl ecparam -name prime256v1 -genkey -noout` makes, or take the receipt on paper"
            }
            Self::SignatureForm { .. } => {
                "ask for the file that `openssl dgst -sha256 -sign KEY.pem -out receipt.sig FILE` writes"
            }
            Self::DoesNotHold => {
                "look whether the very file that was sent was signed, and with this key; otherwise take it for no receipt"
            }
        }
    }
}

/// Reads the public key of a PEM file, or that of the one certificate in it.
///
/// # Errors
/// When there is none, several, or one that is not P-256.
pub fn read_key(file: &[u8]) -> Result<OutsideKey, DetachedError> {
    const BEGIN: &str = "-----BEGIN PUBLIC KEY-----";
    const END: &str = "-----END PUBLIC KEY-----";
    let text = String::from_utf8_lossy(file);
    if text.contains("PRIVATE KEY-----") {
        return Err(DetachedError::PrivateKey);
    }
    if text.contains("-----BEGIN CERTIFICATE-----") {
        let found = AuthorityCertificate::from_pem(file)?;
        let [one] = found.as_slice() else {
            return Err(DetachedError::Several(found.len()));
        };
        let key = key_of(one.public_key_info())?;
        return Ok(OutsideKey {
            key,
            name: Some(one.name()),
        });
    }
    let block = text.split(BEGIN).nth(1).ok_or(DetachedError::NoKey)?;
    let digits: String = block
        .split(END)
        .next()
        .unwrap_or_default()
        .split_whitespace()
        .collect();
    let unreadable = |what: String| DetachedError::Unreadable(what);
    let bytes = data_encoding::BASE64
        .decode(digits.as_bytes())
        .map_err(|error| unreadable(format!("it is not Base64: {error}")))?;
    let info = SubjectPublicKeyInfoOwned::from_der(&bytes)
        .map_err(|error| unreadable(error.to_string()))?;
    Ok(OutsideKey {
        key: key_of(&info)?,
        name: None,
    })
}

fn key_of(info: &SubjectPublicKeyInfoOwned) -> Result<PublicKey, DetachedError> {
    let curve = SECP256R1
        .to_der()
        .map_err(|error| DetachedError::Unreadable(error.to_string()))?;
    let stated = info
        .algorithm
        .parameters
        .as_ref()
        .and_then(|parameters| parameters.to_der().ok());
    if info.algorithm.oid != EC_PUBLIC_KEY || stated.as_deref() != Some(curve.as_slice()) {
        return Err(DetachedError::KeyKind);
    }
    let point = info.subject_public_key.as_bytes().unwrap_or_default();
    PublicKey::from_sec1(point).map_err(|error| DetachedError::Unreadable(error.to_string()))
}

/// Checks that `signature` is one of the key over `message`, hashed with SHA-256: as DER, as 64 bytes r ‖ s, or either as
/// Base64.
///
/// # Errors
/// When it has another form, or does not hold.
pub fn verify(key: &PublicKey, message: &[u8], signature: &[u8]) -> Result<(), DetachedError> {
    let raw = raw(signature).ok_or(DetachedError::SignatureForm {
        found: signature.len(),
    })?;
    if key.verify(message, &raw) {
        Ok(())
    } else {
        Err(DetachedError::DoesNotHold)
    }
}

fn raw(signature: &[u8]) -> Option<[u8; 64]> {
    let binary = |bytes: &[u8]| raw_from_der(bytes).or_else(|| bytes.try_into().ok());
    binary(signature).or_else(|| {
        let text = std::str::from_utf8(signature).ok()?;
        let digits: String = text.split_whitespace().collect();
        binary(&data_encoding::BASE64.decode(digits.as_bytes()).ok()?)
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::PrivateKey;
    use crate::certificate::{public_key_info, raw_to_der, self_issued};

    fn key(seed: u8) -> PrivateKey {
        PrivateKey::from_entropy([seed; 32]).unwrap()
    }

    fn pem(label: &str, der: &[u8]) -> String {
        let digits = data_encoding::BASE64.encode(der);
        let lines: Vec<&str> = digits
            .as_bytes()
            .chunks(64)
            .map(|line| std::str::from_utf8(line).unwrap())
            .collect();
        format!(
            "-----BEGIN {label}-----\n{}\n-----END {label}-----\n",
            lines.join("\n")
        )
    }

    fn public_pem(key: &PrivateKey) -> String {
        let info = public_key_info(&key.public_key()).unwrap();
        pem("PUBLIC KEY", &info.to_der().unwrap())
    }

    #[test]
    fn a_key_and_a_certificate_give_the_same_key() {
        let own = key(3);
        let read = read_key(public_pem(&own).as_bytes()).unwrap();
        assert_eq!((read.key, read.name), (own.public_key(), None));
        let der = self_issued(&own, "S. Moor", "2026-01-02T03:04:05Z").unwrap();
        let read = read_key(pem("CERTIFICATE", &der).as_bytes()).unwrap();
        assert_eq!(read.key, own.public_key());
        assert_eq!(read.name.as_deref(), Some("S. Moor"));
    }

    #[test]
    fn a_signature_holds_in_each_form_and_over_these_bytes_alone() {
        let own = key(3);
        let signed = own.sign(b"files");
        let der = raw_to_der(&signed).unwrap();
        let text = format!("{}\n", data_encoding::BASE64.encode(&der));
        for form in [&signed[..], &der, text.as_bytes()] {
            verify(&own.public_key(), b"files", form).unwrap();
            assert_eq!(
                verify(&own.public_key(), b"other files", form),
                Err(DetachedError::DoesNotHold)
            );
            assert_eq!(
                verify(&key(4).public_key(), b"files", form),
                Err(DetachedError::DoesNotHold)
            );
        }
        assert_eq!(
            verify(&own.public_key(), b"files", b"signed, S. Moor"),
            Err(DetachedError::SignatureForm { found: 15 })
        );
    }

    #[test]
    fn what_is_no_public_key_is_refused() {
        let own = key(3);
        let info = public_key_info(&own.public_key()).unwrap();
        assert_eq!(
            read_key(pem("PRIVATE KEY", &[1]).as_bytes()),
            Err(DetachedError::PrivateKey)
        );
        assert_eq!(read_key(b"a letter"), Err(DetachedError::NoKey));
        assert!(matches!(
            read_key(pem("PUBLIC KEY", &[1, 2]).as_bytes()),
            Err(DetachedError::Unreadable(_))
        ));
        let mut other = info;
        other.algorithm.oid = spki::ObjectIdentifier::new_unwrap("1.2.840.113549.1.1.1");
        assert_eq!(
            read_key(pem("PUBLIC KEY", &other.to_der().unwrap()).as_bytes()),
            Err(DetachedError::KeyKind)
        );
        let der = self_issued(&own, "S. Moor", "2026-01-02T03:04:05Z").unwrap();
        let two = pem("CERTIFICATE", &der).repeat(2);
        assert_eq!(read_key(two.as_bytes()), Err(DetachedError::Several(2)));
    }
}
