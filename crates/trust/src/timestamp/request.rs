//! The question to a time authority: `TimeStampReq`, RFC 3161, 2.4.1.

use der::{
    Encode as _, Sequence, Tag,
    asn1::{Null, ObjectIdentifier, OctetString, OctetStringRef, Uint},
};
use spki::AlgorithmIdentifierOwned;
use tangmark_core::Digest;

use super::{
    TOKEN_LIMIT, TimestampError,
    syntax::{Fields, context, integer, plain_algorithm},
};

/// id-sha256. Source: RFC 5754, 2.2.
pub(super) const SHA_256: ObjectIdentifier = ObjectIdentifier::new_unwrap("2.16.840.1.101.3.4.2.1");

/// `MessageImprint`. Source: RFC 3161, 2.4.1.
#[derive(Sequence)]
struct Imprint {
    algorithm: AlgorithmIdentifierOwned,
    digest: OctetString,
}

/// `TimeStampReq` without a policy and extensions: none is asked for.
#[derive(Sequence)]
struct Query {
    version: u8,
    imprint: Imprint,
    #[asn1(optional = "true")]
    nonce: Option<Uint>,
    #[asn1(default = "Default::default")]
    certificate_wanted: bool,
}

/// A request as it was read back.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Request {
    /// What is to be stamped.
    pub digest: Digest,
    /// The nonce: the contents of its INTEGER.
    pub nonce: Option<Vec<u8>>,
}

/// Writes a request for a timestamp over a SHA-256 digest, as DER. It asks for the authority's certificate.
///
/// `nonce` is fresh randomness: an answer that repeats it was made after the request. Nothing but the digest and the nonce
/// leaves the workshop with it.
///
/// # Errors
/// When the request cannot be encoded, which no input brings about.
pub fn request(digest: &Digest, nonce: Option<[u8; 8]>) -> Result<Vec<u8>, TimestampError> {
    let unwritable = |error| TimestampError::Unreadable {
        what: "the request",
        error,
    };
    Query {
        version: 1,
        imprint: Imprint {
            algorithm: AlgorithmIdentifierOwned {
                oid: SHA_256,
                // RFC 5754, 2: both spellings must be accepted; with NULL is what authorities have read for longest.
                parameters: Some(Null.into()),
            },
            digest: OctetString::new(digest.as_bytes().as_slice()).map_err(unwritable)?,
        },
        nonce: nonce
            .map(|bytes| Uint::new(&bytes))
            .transpose()
            .map_err(unwritable)?,
        certificate_wanted: true,
    }
    .to_der()
    .map_err(unwritable)
}

impl Request {
    /// Reads a request as [`request`] writes it, or another program for the same purpose.
    ///
    /// # Errors
    /// When it is none, or one over another kind of digest.
    pub fn read(bytes: &[u8]) -> Result<Self, TimestampError> {
        if bytes.len() > TOKEN_LIMIT {
            return Err(TimestampError::TooLong { found: bytes.len() });
        }
        let mut fields = Fields::whole("the request", bytes)?;
        let _version: u8 = fields.read()?;
        let digest = imprint(&mut fields)?;
        fields.optional(Tag::ObjectIdentifier);
        let nonce = fields.optional(Tag::Integer).map(integer).transpose()?;
        fields.optional(Tag::Boolean);
        fields.optional(context(0));
        fields.end()?;
        Ok(Self { digest, nonce })
    }
}

/// The next field as a `MessageImprint` over SHA-256.
pub(super) fn imprint(fields: &mut Fields<'_>) -> Result<Digest, TimestampError> {
    let mut imprint = fields.inner(Tag::Sequence)?;
    let algorithm = plain_algorithm("the digest to be stamped", imprint.any()?)?;
    if algorithm != SHA_256 {
        return Err(TimestampError::Algorithm {
            what: "the stamped digest",
            found: algorithm.to_string(),
            allowed: "SHA-256 (2.16.840.1.101.3.4.2.1)",
        });
    }
    let digest: OctetStringRef<'_> = imprint.read()?;
    imprint.end()?;
    let digest: [u8; 32] = digest
        .as_bytes()
        .try_into()
        .map_err(|_| TimestampError::Form("the stamped digest is not of 32 bytes"))?;
    Ok(Digest::from_bytes(digest))
}
