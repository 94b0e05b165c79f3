//! Certificates of time authorities and of those who vouch for them.

use der::{
    DateTime, Decode as _, Encode as _, Tagged as _,
    asn1::{AnyRef, BitStringRef, ObjectIdentifier},
};
use sha2::{Digest as _, Sha256};
use spki::SubjectPublicKeyInfoOwned;
use tangmark_core::Digest;
use x509_cert::{
    Certificate,
    ext::pkix::{BasicConstraints, ExtendedKeyUsage, KeyUsage, SubjectKeyIdentifier},
    time::Time,
};

use super::{
    TimestampError,
    signature::Scheme,
    syntax::{Fields, with_tag},
};
use crate::PublicKey;

/// id-kp-timeStamping. Source: RFC 5280, 4.2.1.12.
const TIME_STAMPING: ObjectIdentifier = ObjectIdentifier::new_unwrap("1.3.6.1.5.5.7.3.8");
/// anyExtendedKeyUsage. Source: RFC 5280, 4.2.1.12 (from memory).
const ANY_PURPOSE: ObjectIdentifier = ObjectIdentifier::new_unwrap("2.5.29.37.0");
/// id-at-commonName. Source: RFC 5280, appendix A.1.
const COMMON_NAME: ObjectIdentifier = ObjectIdentifier::new_unwrap("2.5.4.3");
/// Extensions that are looked at, or that restrict nothing here: basic constraints, key usage, extended key usage,
/// certificate policies (none is asked for). Source: RFC 5280, 4.2.1.
const KNOWN_EXTENSIONS: [ObjectIdentifier; 4] = [
    ObjectIdentifier::new_unwrap("2.5.29.19"),
    ObjectIdentifier::new_unwrap("2.5.29.15"),
    ObjectIdentifier::new_unwrap("2.5.29.37"),
    ObjectIdentifier::new_unwrap("2.5.29.32"),
];
/// Largest file of certificates that is read, in bytes.
const FILE_LIMIT: usize = 256 << 10;
/// Most certificates in one file.
const MOST_IN_FILE: usize = 16;

/// A certificate that was read; nothing says yet that anybody trusts it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AuthorityCertificate {
    bytes: Vec<u8>,
    certificate: Certificate,
}

/// Why a file holds no certificates of an authority.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum CertificateProblem {
    /// The file is too long.
    #[error("certificates: {found} bytes, at most {FILE_LIMIT} bytes are read")]
    TooLong {
        /// Bytes found.
        found: usize,
    },
    /// There is none.
    #[error("certificates: no block `BEGIN CERTIFICATE` was found")]
    None,
    /// There are too many.
    #[error("certificates: {found} in one file, at most {MOST_IN_FILE} allowed")]
    TooMany {
        /// Certificates found.
        found: usize,
    },
    /// One cannot be read.
    #[error("certificates: number {number} cannot be read: {what}")]
    Unreadable {
        /// Which one, from 1.
        number: usize,
        /// Why not.
        what: String,
    },
}

impl CertificateProblem {
    /// The next step.
    pub const fn hint(&self) -> &'static str {
        "give the authority's certificates in PEM, such as the authority publishes them: its own, or that of the root above it"
    }
}

impl AuthorityCertificate {
    /// Reads the certificates of a PEM file (RFC 7468); text around the blocks is left alone.
    ///
    /// # Errors
    /// When there is none, more than 16, or one that cannot be read.
    pub fn from_pem(file: &[u8]) -> Result<Vec<Self>, CertificateProblem> {
        const BEGIN: &str = "-----BEGIN CERTIFICATE-----";
        const END: &str = "-----END CERTIFICATE-----";
        if file.len() > FILE_LIMIT {
            return Err(CertificateProblem::TooLong { found: file.len() });
        }
        let text = String::from_utf8_lossy(file);
        let blocks: Vec<&str> = text.split(BEGIN).skip(1).collect();
        if blocks.is_empty() {
            return Err(CertificateProblem::None);
        }
        if blocks.len() > MOST_IN_FILE {
            return Err(CertificateProblem::TooMany {
                found: blocks.len(),
            });
        }
        let read = |(index, block): (usize, &str)| {
            let inside = block.split(END).next().unwrap_or_default();
            let digits: String = inside.split_whitespace().collect();
            let unreadable = |what| CertificateProblem::Unreadable {
                number: index + 1,
                what,
            };
            let bytes = data_encoding::BASE64
                .decode(digits.as_bytes())
                .map_err(|error| unreadable(format!("it is not Base64: {error}")))?;
            Self::from_der(&bytes).map_err(|error| unreadable(error.to_string()))
        };
        blocks.into_iter().enumerate().map(read).collect()
    }

    /// Reads one certificate.
    ///
    /// # Errors
    /// When the bytes are none.
    pub fn from_der(bytes: &[u8]) -> Result<Self, der::Error> {
        Ok(Self {
            certificate: Certificate::from_der(bytes)?,
            bytes: bytes.to_vec(),
        })
    }

    /// The certificate as it was given, DER.
    pub fn der(&self) -> &[u8] {
        &self.bytes
    }

    /// The key in it.
    pub(crate) fn public_key_info(&self) -> &SubjectPublicKeyInfoOwned {
        &self.certificate.tbs_certificate.subject_public_key_info
    }

    /// The certificate as PEM.
    pub fn pem(&self) -> String {
        let digits = data_encoding::BASE64.encode(&self.bytes);
        let lines: Vec<String> = digits
            .as_bytes()
            .chunks(64)
            .map(|line| String::from_utf8_lossy(line).into_owned())
            .collect();
        format!(
            "-----BEGIN CERTIFICATE-----\n{}\n-----END CERTIFICATE-----\n",
            lines.join("\n")
        )
    }

    /// SHA-256 over the certificate, by which people compare it with what the authority publishes.
    pub fn digest(&self) -> Digest {
        Digest::from_bytes(Sha256::digest(&self.bytes).into())
    }

    /// Name of the holder: its last common name, else the last part of its name.
    pub fn name(&self) -> String {
        let subject = &self.certificate.tbs_certificate.subject;
        let parts = subject.0.iter().flat_map(|part| part.0.iter());
        let texts = parts.filter_map(|part| {
            let value = &part.value;
            let text = std::str::from_utf8(value.value()).ok()?;
            // UTF8String and PrintableString are what is in use; other kinds of text are other bytes.
            matches!(
                value.tag(),
                der::Tag::Utf8String | der::Tag::PrintableString
            )
            .then_some((part.oid, text))
        });
        let (mut last, mut common) = (None, None);
        for (kind, text) in texts {
            last = Some(text);
            common = (kind == COMMON_NAME).then_some(text).or(common);
        }
        common.or(last).unwrap_or("unnamed").to_owned()
    }

    /// First and last moment of its validity, UTC in the spelling of records.
    pub fn validity(&self) -> (String, String) {
        let (from, until) = self.interval();
        (from.to_string(), until.to_string())
    }

    fn interval(&self) -> (DateTime, DateTime) {
        let moment = |time: &Time| match time {
            Time::UtcTime(time) => time.to_date_time(),
            Time::GeneralTime(time) => time.to_date_time(),
        };
        let validity = &self.certificate.tbs_certificate.validity;
        (moment(&validity.not_before), moment(&validity.not_after))
    }

    /// Whether it is valid from `floor` to `ceiling`: both ends of the second in which something happened.
    pub(super) fn is_valid(&self, floor: DateTime, ceiling: DateTime) -> bool {
        let (from, until) = self.interval();
        from <= floor && ceiling <= until
    }

    /// Whether its extended key usage is `timeStamping`, alone and critical. Source: RFC 3161, 2.3.
    pub(super) fn is_for_time(&self) -> bool {
        matches!(
            self.certificate.tbs_certificate.get::<ExtendedKeyUsage>(),
            Ok(Some((true, usage))) if usage.0 == [TIME_STAMPING]
        )
    }

    /// Whether it may issue a certificate with `below` certificates of issuers between. Source: RFC 5280, 6.1.4.
    pub(super) fn may_issue(&self, below: usize) -> bool {
        let certificate = &self.certificate.tbs_certificate;
        let issuer = match certificate.get::<BasicConstraints>() {
            Ok(Some((_, constraints))) => {
                constraints.ca
                    && constraints
                        .path_len_constraint
                        .is_none_or(|most| usize::from(most) >= below)
            }
            _ => false,
        };
        let signs = match certificate.get::<KeyUsage>() {
            Ok(Some((_, usage))) => usage.key_cert_sign(),
            Ok(None) => true,
            Err(_) => false,
        };
        issuer && signs && self.may_vouch_for_time()
    }

    /// Whether its extended key usage, where it has one, leaves room for time stamping: it restricts what is below it,
    /// too. Source: RFC 5280, 4.2.1.12 (from memory).
    fn may_vouch_for_time(&self) -> bool {
        match self.certificate.tbs_certificate.get::<ExtendedKeyUsage>() {
            Ok(None) => true,
            Ok(Some((_, usage))) => usage
                .0
                .iter()
                .any(|purpose| [TIME_STAMPING, ANY_PURPOSE].contains(purpose)),
            Err(_) => false,
        }
    }

    /// Whether every extension that must be understood is.
    pub(super) fn is_understood(&self) -> bool {
        let extensions = self.certificate.tbs_certificate.extensions.as_deref();
        extensions
            .unwrap_or_default()
            .iter()
            .all(|extension| !extension.critical || KNOWN_EXTENSIONS.contains(&extension.extn_id))
    }

    /// Whether `issuer` signed it under its name.
    pub(super) fn is_issued_by(&self, issuer: &Self) -> bool {
        let named =
            self.certificate.tbs_certificate.issuer == issuer.certificate.tbs_certificate.subject;
        named && self.is_signed_by(issuer).unwrap_or(false)
    }

    fn is_signed_by(&self, issuer: &Self) -> Result<bool, TimestampError> {
        // Only one of the two places is signed. Source: RFC 5280, 4.1.1.2 (from memory).
        if self.certificate.tbs_certificate.signature != self.certificate.signature_algorithm {
            return Ok(false);
        }
        // Over the bytes as they stand: written anew by a library they could be others.
        let mut fields = Fields::whole("the certificate", &self.bytes)?;
        let message = with_tag(fields.any()?)?;
        let scheme = Scheme::read(fields.any()?, None)?;
        let value: BitStringRef<'_> = fields.read()?;
        fields.end()?;
        let key = &issuer.certificate.tbs_certificate.subject_public_key_info;
        Ok(value
            .as_bytes()
            .is_some_and(|value| scheme.verify(key, &message, value)))
    }

    /// Whether the signature over the message is of its key.
    pub(super) fn verifies(&self, scheme: Scheme, message: &[u8], value: &[u8]) -> bool {
        let key = &self.certificate.tbs_certificate.subject_public_key_info;
        scheme.verify(key, message, value)
    }

    /// Whether both carry the same key.
    pub(super) fn has_key_of(&self, other: &Self) -> bool {
        let key = |of: &Self| {
            let info = &of.certificate.tbs_certificate.subject_public_key_info;
            (info.algorithm.oid, info.subject_public_key.clone())
        };
        key(self) == key(other)
    }

    /// Its key, if it is a P-256 one: only such a one can be a workshop's.
    pub(super) fn key(&self) -> Option<PublicKey> {
        let info = &self.certificate.tbs_certificate.subject_public_key_info;
        PublicKey::from_sec1(info.subject_public_key.as_bytes()?).ok()
    }

    /// Whether a `SignerIdentifier` names it. Source: RFC 5652, 5.3.
    pub(super) fn is_named(&self, identifier: AnyRef<'_>) -> Result<bool, TimestampError> {
        let certificate = &self.certificate.tbs_certificate;
        if identifier.tag() == der::Tag::Sequence {
            let mut fields = Fields::within("the signer's name", der::Tag::Sequence, identifier)?;
            let issuer = fields.any()?.to_der();
            let serial = fields.any()?.to_der();
            fields.end()?;
            return Ok(issuer == certificate.issuer.to_der()
                && serial == certificate.serial_number.to_der());
        }
        let subject_key = certificate.get::<SubjectKeyIdentifier>();
        // [0] IMPLICIT SubjectKeyIdentifier: the bytes of an OCTET STRING.
        let by_key = der::Tag::ContextSpecific {
            constructed: false,
            number: der::TagNumber::N0,
        };
        Ok(identifier.tag() == by_key
            && matches!(subject_key, Ok(Some((_, found))) if found.0.as_bytes() == identifier.value()))
    }
}
