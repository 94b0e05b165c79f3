//! The signature inside a PDF: one CMS `SignedData` of exactly one form, written and read.
//!
//! One signer, one certificate, the content outside (detached), three signed attributes and nothing else:
//! content type, message digest and the signing certificate. The time of signing stands in the PDF, not here. One attribute
//! may be added that the signer does not sign: an RFC 3161 token over the signature's value.
//!
//! Source: RFC 5652 (CMS), RFC 5753, 2.1.1 (ECDSA in CMS), RFC 5035, 3 (signing-certificate-v2). From memory,
//! text not read: ETSI EN 319 142-1, baseline levels B-B and, with the token, B-T.

use cms::{
    cert::IssuerAndSerialNumber,
    content_info::{CmsVersion, ContentInfo},
    signed_data::{
        EncapsulatedContentInfo, SignedAttributes, SignerIdentifier, SignerInfo, SignerInfos,
    },
};
use der::{
    Any, Decode, DerOrd, Encode as _, EncodeValue, Sequence, Tag, Tagged,
    asn1::{OctetString, SetOfVec},
};
use sha2::{Digest as _, Sha256};
use spki::{AlgorithmIdentifierOwned, ObjectIdentifier};
use tangmark_core::Digest;
use x509_cert::attr::Attribute;

use crate::{
    PrivateKey, PublicKey,
    certificate::{self, CertificateError, Parts},
    timestamp::{Authorities, TimestampError, Token},
};

/// id-data. Source: RFC 5652, 4.
const DATA: ObjectIdentifier = ObjectIdentifier::new_unwrap("1.2.840.113549.1.7.1");
/// id-signedData. Source: RFC 5652, 5.1.
const SIGNED_DATA: ObjectIdentifier = ObjectIdentifier::new_unwrap("1.2.840.113549.1.7.2");
/// id-contentType. Source: RFC 5652, 11.1.
const CONTENT_TYPE: ObjectIdentifier = ObjectIdentifier::new_unwrap("1.2.840.113549.1.9.3");
/// id-messageDigest. Source: RFC 5652, 11.2.
const MESSAGE_DIGEST: ObjectIdentifier = ObjectIdentifier::new_unwrap("1.2.840.113549.1.9.4");
/// id-aa-signingCertificateV2. Source: RFC 5035, 3.
const SIGNING_CERTIFICATE_V2: ObjectIdentifier =
    ObjectIdentifier::new_unwrap("1.2.840.113549.1.9.16.2.47");
/// id-aa-timeStampToken. Source: RFC 3161, appendix A.
const TIME_STAMP_TOKEN: ObjectIdentifier =
    ObjectIdentifier::new_unwrap("1.2.840.113549.1.9.16.2.14");
/// id-sha256. Source: RFC 5754, 2.2.
const SHA_256: ObjectIdentifier = ObjectIdentifier::new_unwrap("2.16.840.1.101.3.4.2.1");

/// `ESSCertIDv2` with its default hash algorithm, SHA-256, and without issuer. Source: RFC 5035, 4.
#[derive(Sequence)]
struct CertificateIdentifier {
    cert_hash: OctetString,
}

/// `SigningCertificateV2` without policies. Source: RFC 5035, 3.
#[derive(Sequence)]
struct SigningCertificate {
    certs: Vec<CertificateIdentifier>,
}

/// `SignedData`, with its certificates as they stand: they have rules of their own. Source: RFC 5652, 5.1 (from memory).
#[derive(Sequence)]
struct SignedData {
    version: CmsVersion,
    digest_algorithms: SetOfVec<AlgorithmIdentifierOwned>,
    encap_content_info: EncapsulatedContentInfo,
    #[asn1(context_specific = "0", tag_mode = "IMPLICIT", optional = "true")]
    certificates: Option<SetOfVec<Any>>,
    #[asn1(context_specific = "1", tag_mode = "IMPLICIT", optional = "true")]
    crls: Option<SetOfVec<Any>>,
    signer_infos: SignerInfos,
}

/// Why a CMS signature could not be made or is not one of ours.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum CmsError {
    /// The structure could not be written.
    #[error("signature cannot be encoded: {0}")]
    Encoding(der::Error),
    /// The bytes are no CMS `SignedData`.
    #[error("signature cannot be read as CMS: {0}")]
    Unreadable(der::Error),
    /// The bytes can be read, but are not the one DER form of what they say.
    #[error("signature is not in its one DER form, so its bytes were changed")]
    NotCanonical,
    /// The structure is sound CMS, but not of the form a sealed report uses.
    #[error("signature: {0}")]
    OtherForm(&'static str),
    /// The certificate is not a self-issued one of a P-256 key.
    #[error(transparent)]
    Certificate(#[from] CertificateError),
    /// The signature names another certificate than the one beside it.
    #[error("signature names another certificate than the one it carries")]
    OtherCertificate,
    /// The signature value is no ECDSA signature in DER, or the upper twin of one.
    #[error("signature value is not a P-256 signature in DER with s in the lower half")]
    Value,
    /// The time token beside the signature is no evidence for it.
    #[error("time token of the signature: {0}")]
    Token(#[from] TimestampError),
    /// The signature does not belong to the key and the attributes.
    #[error("signature does not fit the certificate's key")]
    Wrong,
    /// The private key and the certificate do not belong together.
    #[error("the certificate carries the key {certificate}, but the signing key is {key}")]
    KeyDiffers {
        /// Fingerprint of the key in the certificate.
        certificate: String,
        /// Fingerprint of the signing key.
        key: String,
    },
}

fn sha256() -> AlgorithmIdentifierOwned {
    AlgorithmIdentifierOwned {
        oid: SHA_256,
        parameters: None,
    }
}

/// Signs the SHA-256 `digest` of a content kept elsewhere. Returns the CMS `ContentInfo` as DER.
///
/// # Errors
/// When `certificate_der` is no self-issued certificate of `key`.
pub(crate) fn sign(
    digest: &[u8; 32],
    key: &PrivateKey,
    certificate_der: &[u8],
) -> Result<Vec<u8>, CmsError> {
    let parts = certificate::parts(certificate_der)?;
    let facts = certificate::facts(&parts)?;
    if facts.key != key.public_key() {
        return Err(CmsError::KeyDiffers {
            certificate: facts.key.fingerprint().to_string(),
            key: key.public_key().fingerprint().to_string(),
        });
    }
    let attributes = signed_attributes(digest, certificate_der).map_err(CmsError::Encoding)?;
    let message = attributes.to_der().map_err(CmsError::Encoding)?;
    let value = certificate::raw_to_der(&key.sign(&message)).ok_or(CmsError::Value)?;
    content_info(parts, certificate_der, attributes, value).map_err(CmsError::Encoding)
}

fn signed_attributes(digest: &[u8; 32], certificate_der: &[u8]) -> der::Result<SignedAttributes> {
    let certificate_hash = Sha256::digest(certificate_der).to_vec();
    let signing_certificate = SigningCertificate {
        certs: vec![CertificateIdentifier {
            cert_hash: OctetString::new(certificate_hash)?,
        }],
    };
    let mut attributes = SetOfVec::new();
    attributes.insert(attribute(CONTENT_TYPE, &DATA)?)?;
    attributes.insert(attribute(
        MESSAGE_DIGEST,
        &OctetString::new(digest.as_slice())?,
    )?)?;
    attributes.insert(attribute(SIGNING_CERTIFICATE_V2, &signing_certificate)?)?;
    Ok(attributes)
}

fn attribute<T: EncodeValue + Tagged>(oid: ObjectIdentifier, value: &T) -> der::Result<Attribute> {
    Ok(Attribute {
        oid,
        values: set_of_one(Any::encode_from(value)?)?,
    })
}

fn set_of_one<T: DerOrd>(value: T) -> der::Result<SetOfVec<T>> {
    let mut set = SetOfVec::new();
    set.insert(value)?;
    Ok(set)
}

fn content_info(
    certificate: Parts,
    certificate_der: &[u8],
    attributes: SignedAttributes,
    value: Vec<u8>,
) -> der::Result<Vec<u8>> {
    let signer = SignerInfo {
        version: CmsVersion::V1,
        sid: SignerIdentifier::IssuerAndSerialNumber(IssuerAndSerialNumber {
            issuer: certificate.signed.issuer,
            serial_number: certificate.signed.serial_number,
        }),
        digest_alg: sha256(),
        signed_attrs: Some(attributes),
        signature_algorithm: certificate::ecdsa_with_sha256(),
        signature: OctetString::new(value)?,
        unsigned_attrs: None,
    };
    let signed_data = SignedData {
        version: CmsVersion::V1,
        digest_algorithms: set_of_one(sha256())?,
        encap_content_info: EncapsulatedContentInfo {
            econtent_type: DATA,
            econtent: None,
        },
        certificates: Some(set_of_one(Any::from_der(certificate_der)?)?),
        crls: None,
        signer_infos: SignerInfos(set_of_one(signer)?),
    };
    ContentInfo {
        content_type: SIGNED_DATA,
        content: Any::encode_from(&signed_data)?,
    }
    .to_der()
}

/// A CMS signature taken apart; nothing in it has been checked yet but its form.
pub(crate) struct Statement {
    /// The SHA-256 of the content, as the signer states it.
    pub(crate) message_digest: [u8; 32],
    /// The certificate beside the signature, as DER.
    pub(crate) certificate_der: Vec<u8>,
    /// The time token, which no signature of the signer protects.
    pub(crate) token: Option<Token>,
    canonical: bool,
    certificate: Result<Parts, CertificateError>,
    certificate_hash: OctetString,
    signer: SignerInfo,
}

/// Takes a CMS signature apart.
///
/// # Errors
/// When the bytes are no CMS signature, or one of another form than [`sign`] writes.
pub(crate) fn read(bytes: &[u8]) -> Result<Statement, CmsError> {
    let other = CmsError::OtherForm;
    let envelope = ContentInfo::from_der(bytes).map_err(CmsError::Unreadable)?;
    if envelope.content_type != SIGNED_DATA {
        return Err(other("not of the type signed data"));
    }
    let signed_data: SignedData = envelope.content.decode_as().map_err(CmsError::Unreadable)?;
    // Whatever a decoder forgave would be bytes that no signature protects.
    let canonical = Any::encode_from(&signed_data)
        .and_then(|content| {
            ContentInfo {
                content_type: SIGNED_DATA,
                content,
            }
            .to_der()
        })
        .map_err(CmsError::Unreadable)?
        == bytes;
    if signed_data.version != CmsVersion::V1 || signed_data.crls.is_some() {
        return Err(other("not of version 1, or with revocation lists"));
    }
    if signed_data.digest_algorithms.as_slice() != [sha256()] {
        return Err(other("digest algorithm is not SHA-256 alone"));
    }
    let content = &signed_data.encap_content_info;
    if content.econtent_type != DATA || content.econtent.is_some() {
        return Err(other("the content is not data kept outside the signature"));
    }
    let certificates = signed_data
        .certificates
        .as_ref()
        .map(SetOfVec::as_slice)
        .unwrap_or_default();
    let certificate_der = match certificates {
        [certificate] if certificate.tag() == Tag::Sequence => {
            certificate.to_der().map_err(CmsError::Unreadable)?
        }
        _ => return Err(other("not exactly one certificate")),
    };
    let [signer] = signed_data.signer_infos.0.as_slice() else {
        return Err(other("not exactly one signer"));
    };
    if signer.version != CmsVersion::V1 || signer.digest_alg != sha256() {
        return Err(other("the signer does not use version 1 and SHA-256"));
    }
    if signer.signature_algorithm != certificate::ecdsa_with_sha256() {
        return Err(other("the signature algorithm is not ECDSA with SHA-256"));
    }
    if !matches!(signer.sid, SignerIdentifier::IssuerAndSerialNumber(_)) {
        return Err(other("the signer is not named by issuer and serial number"));
    }
    let token = signer.unsigned_attrs.as_ref().map(token).transpose()?;
    let attributes = signer
        .signed_attrs
        .as_ref()
        .filter(|attributes| attributes.len() == 3);
    let attributes = attributes.ok_or_else(|| other("not exactly three signed attributes"))?;
    if single::<ObjectIdentifier>(attributes, CONTENT_TYPE) != Some(DATA) {
        return Err(other("the signed content type is not data"));
    }
    let message_digest = single::<OctetString>(attributes, MESSAGE_DIGEST)
        .and_then(|digest| digest.as_bytes().try_into().ok())
        .ok_or_else(|| other("no signed digest of 32 bytes"))?;
    let certificate_hash = single::<SigningCertificate>(attributes, SIGNING_CERTIFICATE_V2)
        .and_then(|mut named| named.certs.pop().filter(|_| named.certs.is_empty()))
        .map(|identifier| identifier.cert_hash)
        .ok_or_else(|| other("the signed attributes do not name exactly one certificate"))?;
    Ok(Statement {
        message_digest,
        certificate: certificate::parts(&certificate_der),
        certificate_der,
        token,
        canonical,
        certificate_hash,
        signer: signer.clone(),
    })
}

/// The one attribute that need not be signed.
fn token(attributes: &SignedAttributes) -> Result<Token, CmsError> {
    let [attribute] = attributes.as_slice() else {
        return Err(CmsError::OtherForm("attributes that no signature protects"));
    };
    let ([value], TIME_STAMP_TOKEN) = (attribute.values.as_slice(), attribute.oid) else {
        return Err(CmsError::OtherForm("attributes that no signature protects"));
    };
    Ok(Token::read_bare(
        &value.to_der().map_err(CmsError::Unreadable)?,
    )?)
}

/// Puts a token beside the signature; nothing that is signed changes.
///
/// # Errors
/// When the bytes are no signature of ours, have a token already, or the token stamps something else.
pub(crate) fn with_token(bytes: &[u8], token: &Token) -> Result<Vec<u8>, CmsError> {
    let statement = read(bytes)?;
    if statement.token.is_some() {
        return Err(CmsError::OtherForm("there is a time token already"));
    }
    token.check(&statement.stamped(), &Authorities::default())?;
    let envelope = ContentInfo::from_der(bytes).map_err(CmsError::Unreadable)?;
    let mut signed_data: SignedData = envelope.content.decode_as().map_err(CmsError::Unreadable)?;
    let value = Any::from_der(token.bytes()).map_err(CmsError::Encoding)?;
    let attribute = Attribute {
        oid: TIME_STAMP_TOKEN,
        values: set_of_one(value).map_err(CmsError::Encoding)?,
    };
    let signer = SignerInfo {
        unsigned_attrs: Some(set_of_one(attribute).map_err(CmsError::Encoding)?),
        ..statement.signer
    };
    signed_data.signer_infos = SignerInfos(set_of_one(signer).map_err(CmsError::Encoding)?);
    let content = Any::encode_from(&signed_data).map_err(CmsError::Encoding)?;
    ContentInfo {
        content_type: SIGNED_DATA,
        content,
    }
    .to_der()
    .map_err(CmsError::Encoding)
}

fn single<T: for<'a> Decode<'a>>(
    attributes: &SignedAttributes,
    oid: ObjectIdentifier,
) -> Option<T> {
    let attribute = attributes.iter().find(|attribute| attribute.oid == oid)?;
    let [value] = attribute.values.as_slice() else {
        return None;
    };
    T::from_der(&value.to_der().ok()?).ok()
}

impl Statement {
    /// The key and name in the certificate.
    ///
    /// # Errors
    /// When it is no self-issued certificate of a P-256 key.
    pub(crate) fn signer(&self) -> Result<certificate::CertificateFacts, CmsError> {
        let certificate = self.certificate.as_ref().map_err(Clone::clone)?;
        Ok(certificate::facts(certificate)?)
    }

    /// What a time token of this signature stamps: SHA-256 over the signature's value. Source: RFC 3161, appendix A.
    pub(crate) fn stamped(&self) -> Digest {
        Digest::of(self.signer.signature.as_bytes())
    }

    /// Checks the time token, if there is one. Who its authority is to the reader is another question.
    ///
    /// # Errors
    /// The first rule that the token breaks.
    pub(crate) fn verify_token(&self) -> Result<(), CmsError> {
        if let Some(token) = &self.token {
            token.check(&self.stamped(), &Authorities::default())?;
        }
        Ok(())
    }

    /// Checks the signature over the attributes with `key`, and that they name the certificate beside them.
    ///
    /// # Errors
    /// The first thing found wrong.
    pub(crate) fn verify(&self, key: &PublicKey) -> Result<(), CmsError> {
        if !self.canonical {
            return Err(CmsError::NotCanonical);
        }
        let certificate = &self.certificate.as_ref().map_err(Clone::clone)?.signed;
        let named = matches!(&self.signer.sid, SignerIdentifier::IssuerAndSerialNumber(named)
            if named.issuer == certificate.issuer && named.serial_number == certificate.serial_number);
        if !named
            || self.certificate_hash.as_bytes() != Sha256::digest(&self.certificate_der).as_slice()
        {
            return Err(CmsError::OtherCertificate);
        }
        let value = certificate::raw_from_der(self.signer.signature.as_bytes())
            .filter(certificate::is_low_s)
            .ok_or(CmsError::Value)?;
        // RFC 5652, 5.4: signed over the attributes as a SET, not under the tag they carry in the message.
        let attributes = self.signer.signed_attrs.clone().unwrap_or_default();
        let message = attributes.to_der().map_err(CmsError::Unreadable)?;
        if key.verify(&message, &value) {
            Ok(())
        } else {
            Err(CmsError::Wrong)
        }
    }
}

#[cfg(test)]
mod tests;
