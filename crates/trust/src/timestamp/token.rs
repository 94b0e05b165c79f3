//! A token: read strictly, then judged.

use der::{
    Any, AnyRef, DateTime, Encode as _, Tag, Tagged as _,
    asn1::{ObjectIdentifier, OctetStringRef},
};
use tangmark_core::Digest;

use super::{
    Authorities, AuthorityCertificate, Evidence, TOKEN_LIMIT, TimestampError,
    moment::{Moment, accuracy},
    request::{Request, imprint},
    signature::{Hash, Scheme, sha_1},
    syntax::{Fields, context, extensions, integer, plain_algorithm, with_tag},
};

/// Most certificates in a token.
pub(super) const MOST_CERTIFICATES: usize = 16;

/// id-signedData. Source: RFC 5652, 5.1.
const SIGNED_DATA: ObjectIdentifier = ObjectIdentifier::new_unwrap("1.2.840.113549.1.7.2");
/// id-ct-TSTInfo. Source: RFC 3161, 2.4.2.
const TST_INFO: ObjectIdentifier = ObjectIdentifier::new_unwrap("1.2.840.113549.1.9.16.1.4");
/// id-contentType and id-messageDigest. Source: RFC 5652, 11.1, 11.2.
const CONTENT_TYPE: ObjectIdentifier = ObjectIdentifier::new_unwrap("1.2.840.113549.1.9.3");
const MESSAGE_DIGEST: ObjectIdentifier = ObjectIdentifier::new_unwrap("1.2.840.113549.1.9.4");
/// id-aa-signingCertificate and its second version. Source: RFC 5035, 5 and 3.
const SIGNING_CERTIFICATE: ObjectIdentifier =
    ObjectIdentifier::new_unwrap("1.2.840.113549.1.9.16.2.12");
const SIGNING_CERTIFICATE_V2: ObjectIdentifier =
    ObjectIdentifier::new_unwrap("1.2.840.113549.1.9.16.2.47");

/// A token whose form is sound; nothing in it has been judged yet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Token {
    bytes: Vec<u8>,
    stamped: Digest,
    moment: Moment,
    latest: DateTime,
    nonce: Option<Vec<u8>>,
    content: Vec<u8>,
    certificates: Vec<AuthorityCertificate>,
    signer: Signer,
}

/// `SignerInfo`, taken apart.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Signer {
    identifier: Vec<u8>,
    hash: Hash,
    /// The signed attributes as they stand, under the tag of a SET.
    attributes: Vec<u8>,
    content_digest: Vec<u8>,
    certificate_digests: Vec<NamedDigest>,
    scheme: Scheme,
    value: Vec<u8>,
}

/// The digest by which the signed attributes name the signer's certificate.
#[derive(Debug, Clone, PartialEq, Eq)]
struct NamedDigest {
    /// Nothing for the first version, which knows SHA-1 only.
    hash: Option<Hash>,
    value: Vec<u8>,
}

impl Token {
    /// Reads an authority's answer (`TimeStampResp`, as `.tsr` files hold) or a token without one.
    ///
    /// # Errors
    /// When it is neither, refused, or of another form than the format page allows.
    pub fn read(bytes: &[u8]) -> Result<Self, TimestampError> {
        match first_tag(bytes)? {
            Tag::ObjectIdentifier => Self::read_bare(bytes),
            Tag::Integer => Err(TimestampError::IsRequest),
            _ => Self::read_response(bytes),
        }
    }

    /// Reads an authority's answer: `TimeStampResp`. Source: RFC 3161, 2.4.2.
    ///
    /// # Errors
    /// As [`Token::read`]; a token without an answer around it is refused.
    pub fn read_response(bytes: &[u8]) -> Result<Self, TimestampError> {
        first_tag(bytes)?;
        let mut response = Fields::whole("the answer", bytes)?;
        let mut status = response.inner(Tag::Sequence)?;
        let number: u32 = status.read()?;
        let words = status.optional(Tag::Sequence);
        if number > 1 {
            let text = words
                .map(|words| text_of(words.value()))
                .unwrap_or_default();
            return Err(TimestampError::Refused {
                status: number,
                text,
            });
        }
        status.optional(Tag::BitString);
        status.end()?;
        let token = response
            .any()
            .map_err(|_| TimestampError::Form("the answer is granted, but holds no token"))?;
        response.end()?;
        Self::read_bare(&with_tag(token)?)
    }

    /// Reads a token alone: `ContentInfo`, as signatures carry it.
    ///
    /// # Errors
    /// As [`Token::read`]; an answer around it is refused.
    pub fn read_bare(bytes: &[u8]) -> Result<Self, TimestampError> {
        first_tag(bytes)?;
        let mut envelope = Fields::whole("the token", bytes)?;
        if envelope.read::<ObjectIdentifier>()? != SIGNED_DATA {
            return Err(TimestampError::Form("the token is no signed data"));
        }
        let mut wrapped = envelope.inner(context(0))?;
        envelope.end()?;
        let mut signed = wrapped.inner(Tag::Sequence)?;
        wrapped.end()?;
        let _version: u8 = signed.read()?;
        signed.inner(Tag::Set)?;
        let content = content(&mut signed)?;
        let certificates = match signed.optional(context(0)) {
            Some(set) => certificates(set)?,
            None => Vec::new(),
        };
        signed.optional(context(1));
        let signers = signed.inner(Tag::Set)?.rest();
        signed.end()?;
        let [signer] = signers.as_slice() else {
            return Err(TimestampError::Signers {
                found: signers.len(),
            });
        };
        let signer = Signer::read(*signer)?;
        let info = Info::read(&content)?;
        Ok(Self {
            bytes: bytes.to_vec(),
            stamped: info.stamped,
            moment: info.moment,
            latest: info.latest,
            nonce: info.nonce,
            content,
            certificates,
            signer,
        })
    }

    /// What was stamped.
    pub fn stamped(&self) -> Digest {
        self.stamped
    }

    /// The token alone, DER.
    pub fn bytes(&self) -> &[u8] {
        &self.bytes
    }

    /// The token in a granted answer, as packages and the store hold it.
    ///
    /// # Errors
    /// When it cannot be encoded, which no token brings about.
    pub fn response(&self) -> Result<Vec<u8>, TimestampError> {
        // PKIStatusInfo with the status 0. Source: RFC 3161, 2.4.2.
        let granted = [0x30, 0x03, 0x02, 0x01, 0x00];
        Any::new(Tag::Sequence, [granted.as_slice(), &self.bytes].concat())
            .and_then(|answer| answer.to_der())
            .map_err(|error| TimestampError::Unreadable {
                what: "the answer",
                error,
            })
    }

    /// Judges the token: everything that the format page asks of it, then who the authority is to the reader.
    ///
    /// # Errors
    /// The first rule that it breaks.
    pub fn check(
        &self,
        stamped: &Digest,
        authorities: &Authorities<'_>,
    ) -> Result<Evidence, TimestampError> {
        if self.stamped != *stamped {
            return Err(TimestampError::OtherDigest {
                found: self.stamped.to_string(),
                wanted: stamped.to_string(),
            });
        }
        let signer = &self.signer;
        if signer.hash.of(&self.content) != signer.content_digest {
            return Err(TimestampError::ContentChanged);
        }
        let certificate = self.certificate()?;
        if !certificate.is_for_time() {
            return Err(TimestampError::Purpose);
        }
        let moment = (self.moment.floor, self.moment.ceiling);
        if !certificate.is_valid(moment.0, moment.1) {
            let (from, until) = certificate.validity();
            return Err(TimestampError::NotValid {
                time: moment.1.to_string(),
                from,
                until,
            });
        }
        if !certificate.verifies(signer.scheme, &signer.attributes, &signer.value) {
            return Err(TimestampError::Signature);
        }
        Ok(Evidence {
            record: self.stamped,
            time: self.latest.to_string(),
            authority: certificate.name(),
            standing: authorities.standing(certificate, &self.certificates, moment),
        })
    }

    /// Whether the token answers the request: the same digest, and the same nonce where the request has one.
    ///
    /// # Errors
    /// When it answers another one.
    pub fn check_request(&self, request: &Request) -> Result<(), TimestampError> {
        if self.stamped != request.digest {
            return Err(TimestampError::OtherDigest {
                found: self.stamped.to_string(),
                wanted: request.digest.to_string(),
            });
        }
        let hex = |nonce: &[u8]| data_encoding::HEXLOWER.encode(nonce);
        match &request.nonce {
            Some(wanted) if self.nonce.as_ref() != Some(wanted) => {
                Err(TimestampError::OtherNonce {
                    found: self
                        .nonce
                        .as_deref()
                        .map_or_else(|| "missing".to_owned(), hex),
                    wanted: hex(wanted),
                })
            }
            _ => Ok(()),
        }
    }

    /// P-256 keys of its certificates.
    #[cfg(test)]
    pub(super) fn keys(&self) -> Vec<crate::PublicKey> {
        self.certificates
            .iter()
            .filter_map(AuthorityCertificate::key)
            .collect()
    }

    fn certificate(&self) -> Result<&AuthorityCertificate, TimestampError> {
        let identifier = AnyRef::try_from(self.signer.identifier.as_slice()).map_err(|error| {
            TimestampError::Unreadable {
                what: "the signer's name",
                error,
            }
        })?;
        let mut found = None;
        for certificate in &self.certificates {
            if certificate.is_named(identifier)? {
                found = Some(certificate);
                break;
            }
        }
        let certificate = found.ok_or(TimestampError::NoCertificate)?;
        let named = self.signer.certificate_digests.iter().all(|named| {
            let digest = match named.hash {
                Some(hash) => hash.of(certificate.der()),
                None => sha_1(certificate.der()),
            };
            digest == named.value
        });
        named
            .then_some(certificate)
            .ok_or(TimestampError::OtherCertificate)
    }
}

/// Tag of the first field: an answer, a token and a request begin with another one each.
fn first_tag(bytes: &[u8]) -> Result<Tag, TimestampError> {
    if bytes.len() > TOKEN_LIMIT {
        return Err(TimestampError::TooLong { found: bytes.len() });
    }
    Ok(Fields::whole("the file", bytes)?.any()?.tag())
}

/// The words in a `PKIFreeText`, as far as they are text.
fn text_of(value: &[u8]) -> String {
    let lines = Fields::of("the words of the status", value)
        .map(Fields::rest)
        .unwrap_or_default();
    let lines: Vec<_> = lines
        .iter()
        .map(|line| String::from_utf8_lossy(line.value()))
        .collect();
    lines.join("; ")
}

/// `EncapsulatedContentInfo` with a `TSTInfo` inside.
fn content(signed: &mut Fields<'_>) -> Result<Vec<u8>, TimestampError> {
    let mut fields = signed.inner(Tag::Sequence)?;
    if fields.read::<ObjectIdentifier>()? != TST_INFO {
        return Err(TimestampError::Form("what was signed is no timestamp"));
    }
    let mut wrapped = fields.inner(context(0))?;
    fields.end()?;
    let content: OctetStringRef<'_> = wrapped.read()?;
    wrapped.end()?;
    Ok(content.as_bytes().to_vec())
}

/// The X.509 certificates of the set. Other kinds, and those that do not read, can be nobody's here.
fn certificates(set: AnyRef<'_>) -> Result<Vec<AuthorityCertificate>, TimestampError> {
    let fields = Fields::of("the certificates", set.value())?.rest();
    if fields.len() > MOST_CERTIFICATES {
        return Err(TimestampError::Certificates {
            found: fields.len(),
        });
    }
    let plain = fields
        .into_iter()
        .filter(|field| field.tag() == Tag::Sequence);
    Ok(plain
        .filter_map(|field| AuthorityCertificate::from_der(&field.to_der().ok()?).ok())
        .collect())
}

impl Signer {
    /// Source: RFC 5652, 5.3.
    fn read(field: AnyRef<'_>) -> Result<Self, TimestampError> {
        let mut fields = Fields::within("the signer", Tag::Sequence, field)?;
        let _version: u8 = fields.read()?;
        let identifier = with_tag(fields.any()?)?;
        let hash = Hash::from_oid(
            "the signed digest",
            plain_algorithm("the signed digest", fields.any()?)?,
        )?;
        let attributes = fields
            .optional(context(0))
            .ok_or(TimestampError::Form("the signer signed no attributes"))?;
        let scheme = Scheme::read(fields.any()?, Some(hash))?;
        let value: OctetStringRef<'_> = fields.read()?;
        let value = value.as_bytes().to_vec();
        // Attributes that nobody signed, such as counter-signatures: nothing rests on them.
        fields.optional(context(1));
        fields.end()?;

        let list = Fields::of("the signed attributes", attributes.value())?.rest();
        let single = |wanted| single(&list, wanted);
        let kind = single(CONTENT_TYPE)?.ok_or(TimestampError::Form(
            "the signed attributes name no content type",
        ))?;
        if kind.decode_as::<ObjectIdentifier>() != Ok(TST_INFO) {
            return Err(TimestampError::Form(
                "the signed content type is no timestamp",
            ));
        }
        let digest = single(MESSAGE_DIGEST)?.ok_or(TimestampError::Form(
            "the signed attributes hold no digest of the content",
        ))?;
        let digest: OctetStringRef<'_> =
            digest
                .decode_as()
                .map_err(|error| TimestampError::Unreadable {
                    what: "the signed digest",
                    error,
                })?;
        let named = [
            single(SIGNING_CERTIFICATE)?.map(|value| named_digest(value, false)),
            single(SIGNING_CERTIFICATE_V2)?.map(|value| named_digest(value, true)),
        ];
        let certificate_digests: Vec<_> = named.into_iter().flatten().collect::<Result<_, _>>()?;
        if certificate_digests.is_empty() {
            return Err(TimestampError::Form(
                "the signed attributes name no certificate",
            ));
        }
        // RFC 5652, 5.4: signed under the tag of a SET, not under the one they carry in the message.
        let attributes = Any::new(Tag::Set, attributes.value())
            .and_then(|set| set.to_der())
            .map_err(|error| TimestampError::Unreadable {
                what: "the signed attributes",
                error,
            })?;
        Ok(Self {
            identifier,
            hash,
            attributes,
            content_digest: digest.as_bytes().to_vec(),
            certificate_digests,
            scheme,
            value,
        })
    }
}

/// The one value of an attribute; nothing when the attribute is not there.
fn single<'a>(
    attributes: &[AnyRef<'a>],
    wanted: ObjectIdentifier,
) -> Result<Option<AnyRef<'a>>, TimestampError> {
    let mut found = None;
    for attribute in attributes {
        let mut fields = Fields::within("a signed attribute", Tag::Sequence, *attribute)?;
        let kind: ObjectIdentifier = fields.read()?;
        let values = fields.inner(Tag::Set)?.rest();
        fields.end()?;
        if kind != wanted {
            continue;
        }
        let ([value], None) = (values.as_slice(), found) else {
            return Err(TimestampError::Form(
                "a signed attribute has several values",
            ));
        };
        found = Some(*value);
    }
    Ok(found)
}

/// The first entry of a signing certificate attribute. Source: RFC 5035, 3 to 5.
///
/// The issuer and serial number that may stand beside the digest say less than it, and are not compared.
fn named_digest(value: AnyRef<'_>, second: bool) -> Result<NamedDigest, TimestampError> {
    let mut fields = Fields::within("the signing certificate", Tag::Sequence, value)?;
    let mut list = fields.inner(Tag::Sequence)?;
    let mut first = list.inner(Tag::Sequence)?;
    let hash = match (second, first.optional(Tag::Sequence)) {
        (false, None) => None,
        (true, None) => Some(Hash::Sha256),
        (true, Some(algorithm)) => Some(Hash::from_oid(
            "the digest of the certificate",
            plain_algorithm("the digest of the certificate", algorithm)?,
        )?),
        (false, Some(_)) => {
            return Err(TimestampError::Form(
                "a certificate of version 1 is named by SHA-1 alone",
            ));
        }
    };
    let digest: OctetStringRef<'_> = first.read()?;
    Ok(NamedDigest {
        hash,
        value: digest.as_bytes().to_vec(),
    })
}

/// `TSTInfo`. Source: RFC 3161, 2.4.2.
struct Info {
    stamped: Digest,
    moment: Moment,
    latest: DateTime,
    nonce: Option<Vec<u8>>,
}

impl Info {
    fn read(bytes: &[u8]) -> Result<Self, TimestampError> {
        let mut fields = Fields::whole("the stamped content", bytes)?;
        if fields.read::<u8>()? != 1 {
            return Err(TimestampError::Form(
                "the stamped content is not of version 1",
            ));
        }
        let _policy: ObjectIdentifier = fields.read()?;
        let stamped = imprint(&mut fields)?;
        let _serial = integer(fields.any()?)?;
        let moment = Moment::read(fields.any()?)?;
        let accuracy = fields.optional(Tag::Sequence).map(accuracy).transpose()?;
        let latest = moment.latest(accuracy.unwrap_or_default())?;
        let _ordering = fields.optional(Tag::Boolean);
        let nonce = fields.optional(Tag::Integer).map(integer).transpose()?;
        let _authority = fields.optional(context(0));
        if let Some(field) = fields.optional(context(1))
            && extensions("the extensions", field)?
                .iter()
                .any(|extension| extension.critical)
        {
            return Err(TimestampError::Form(
                "an extension that must be understood is not known here",
            ));
        }
        fields.end()?;
        Ok(Self {
            stamped,
            moment,
            latest,
            nonce,
        })
    }
}
