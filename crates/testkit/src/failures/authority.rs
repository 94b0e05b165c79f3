//! A time authority of our own making, and tokens of it that fit or do not.
//!
//! Source: RFC 3161, 2.4.2 (TimeStampResp, TSTInfo), RFC 5652, 5 (SignedData), RFC 5035, 3 (ESSCertIDv2), RFC 5280, 4.

use sha2::{Digest as _, Sha256};
use tangmark_core::Digest;
use tangmark_trust::PrivateKey;

use crate::mutate::Chance;

use super::der::{
    bits, explicit, generalized_time, integer, octets, oid, sequence, set, tagged, utc_time, yes,
};

const ECDSA_WITH_SHA256: &str = "1.2.840.10045.4.3.2";
const SHA_256: &str = "2.16.840.1.101.3.4.2.1";
const TST_INFO: &str = "1.2.840.113549.1.9.16.1.4";
const TIME_STAMPING: &str = "1.3.6.1.5.5.7.3.8";

/// What a token says, so that one thing at a time can be another.
#[derive(Clone, Debug)]
#[allow(clippy::struct_excessive_bools)] // each breaks one rule
pub struct Token {
    /// Digest that was stamped.
    pub imprint: [u8; 32],
    /// `genTime`.
    pub time: String,
    /// Fraction of a second behind it, with its full stop.
    pub fraction: String,
    /// Extended key usage in the certificate.
    pub usage: String,
    /// Whether that is marked critical.
    pub critical: bool,
    /// First and last time of the signer's certificate.
    pub valid: (String, String),
    /// Status of the response (0 is granted).
    pub status: u8,
    /// Whether the certificate of who certified it is in the token.
    pub with_root: bool,
    /// Whether who certified it is a CA.
    pub root_is_ca: bool,
    /// Whether the certificate's digest in the signed attributes is that of another one.
    pub other_certificate: bool,
    /// A part whose elements are changed before it is signed, and where the chances for that start.
    pub edit: Option<(Part, u64)>,
}

/// A part of a token that is written by itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Part {
    /// What is stamped, and when.
    Info,
    /// What is signed of the authority's certificate.
    Own,
    /// What is signed of the certificate of who certified it.
    Root,
    /// The signed attributes.
    Attributes,
    /// The signer with its signature.
    Signer,
}

impl Part {
    /// All of them.
    pub const ALL: [Self; 5] = [
        Self::Info,
        Self::Own,
        Self::Root,
        Self::Attributes,
        Self::Signer,
    ];
}

impl Token {
    /// A token that fits a record.
    pub fn new(record: Digest, time: &str) -> Self {
        Self {
            imprint: *record.as_bytes(),
            time: time.to_owned(),
            fraction: String::new(),
            usage: TIME_STAMPING.to_owned(),
            critical: true,
            valid: (
                "2025-01-01T00:00:00Z".to_owned(),
                "2045-01-01T00:00:00Z".to_owned(),
            ),
            status: 0,
            with_root: true,
            root_is_ca: true,
            other_certificate: false,
            edit: None,
        }
    }

    /// A part as it is to stand in the token.
    fn part(&self, part: Part, der: Vec<u8>) -> Vec<u8> {
        match self.edit {
            Some((edited, seed)) if edited == part => {
                super::der::edited(&der, &mut Chance::new(seed, 0))
            }
            _ => der,
        }
    }
}

fn name(common: &str) -> Vec<u8> {
    sequence(&[set(&[sequence(&[
        oid("2.5.4.3"),
        tagged(0x0c, common.as_bytes()),
    ])])])
}

fn signed_with(key: &PrivateKey, message: &[u8]) -> Vec<u8> {
    let signature = key.sign(message);
    sequence(&[integer(&signature[..32]), integer(&signature[32..])])
}

fn extension(identifier: &str, critical: bool, value: &[u8]) -> Vec<u8> {
    let mut parts = vec![oid(identifier)];
    if critical {
        parts.push(yes());
    }
    parts.push(octets(value));
    sequence(&parts)
}

struct Subject<'a> {
    name: &'a str,
    key: &'a PrivateKey,
    serial: u8,
    valid: (&'a str, &'a str),
    extensions: Vec<Vec<u8>>,
}

fn certificate(
    subject: &Subject<'_>,
    issuer: &str,
    issuer_key: &PrivateKey,
    change: impl FnOnce(Vec<u8>) -> Vec<u8>,
) -> Vec<u8> {
    let algorithm = sequence(&[oid(ECDSA_WITH_SHA256)]);
    let key = sequence(&[
        sequence(&[oid("1.2.840.10045.2.1"), oid("1.2.840.10045.3.1.7")]),
        bits(subject.key.public_key().uncompressed()),
    ]);
    let body = sequence(&[
        explicit(0, &integer(&[2])),
        integer(&[subject.serial]),
        algorithm.clone(),
        name(issuer),
        sequence(&[utc_time(subject.valid.0), utc_time(subject.valid.1)]),
        name(subject.name),
        key,
        explicit(3, &sequence(&subject.extensions)),
    ]);
    let body = change(body);
    let signature = signed_with(issuer_key, &body);
    sequence(&[body, algorithm, bits(&signature)])
}

/// Name of who certifies the authority.
const ROOT: &str = "Trial Time Root";
/// Name of the authority.
pub const AUTHORITY: &str = "Trial Time Authority";

/// The certificate that a reader of the authority would trust.
pub fn root_certificate(root: &PrivateKey, is_ca: bool) -> Vec<u8> {
    root_with(root, is_ca, |body| body)
}

fn root_with(root: &PrivateKey, is_ca: bool, change: impl FnOnce(Vec<u8>) -> Vec<u8>) -> Vec<u8> {
    let mut constraints = Vec::new();
    if is_ca {
        constraints.push(yes());
    }
    let subject = Subject {
        name: ROOT,
        key: root,
        serial: 1,
        valid: ("2025-01-01T00:00:00Z", "2049-01-01T00:00:00Z"),
        extensions: vec![
            extension("2.5.29.19", true, &sequence(&constraints)),
            extension("2.5.29.15", true, &[0x03, 0x02, 0x01, 0x06]),
        ],
    };
    certificate(&subject, ROOT, root, change)
}

/// A certificate as text. Source: RFC 7468.
pub fn pem(certificate: &[u8]) -> String {
    let text = data_encoding::BASE64.encode(certificate);
    let mut lines = String::from("-----BEGIN CERTIFICATE-----\n");
    for line in text.as_bytes().chunks(64) {
        lines.extend(line.iter().map(|sign| char::from(*sign)));
        lines.push('\n');
    }
    lines.push_str("-----END CERTIFICATE-----\n");
    lines
}

/// A time-stamp response, signed.
pub fn response(token: &Token, key: &PrivateKey, root: &PrivateKey) -> Vec<u8> {
    let status = sequence(&[integer(&[token.status])]);
    sequence(&[status, bare(token, key, root)])
}

/// The token of a response.
pub fn bare(token: &Token, key: &PrivateKey, root: &PrivateKey) -> Vec<u8> {
    let sha_256 = sequence(&[oid(SHA_256)]);
    let content = sequence(&[
        integer(&[1]),
        oid("1.3.6.1.4.1.32473.3161"), // an arc for examples (RFC 5612)
        sequence(&[sha_256.clone(), octets(&token.imprint)]),
        integer(&[7]),
        generalized_time(&token.time, &token.fraction),
    ]);
    let content = token.part(Part::Info, content);
    let usage = sequence(&[oid(&token.usage)]);
    let own = certificate(
        &Subject {
            name: AUTHORITY,
            key,
            serial: 2,
            valid: (&token.valid.0, &token.valid.1),
            extensions: vec![
                extension("2.5.29.15", true, &[0x03, 0x02, 0x06, 0xc0]),
                extension("2.5.29.37", token.critical, &usage),
            ],
        },
        ROOT,
        root,
        |body| token.part(Part::Own, body),
    );
    let root_certificate = root_with(root, token.root_is_ca, |body| token.part(Part::Root, body));
    let named = if token.other_certificate {
        &root_certificate
    } else {
        &own
    };
    let attribute = |identifier: &str, value: Vec<u8>| sequence(&[oid(identifier), set(&[value])]);
    let attributes = [
        attribute("1.2.840.113549.1.9.3", oid(TST_INFO)),
        attribute("1.2.840.113549.1.9.4", octets(&Sha256::digest(&content))),
        // The digest's algorithm is left out: SHA-256 is the default.
        attribute(
            "1.2.840.113549.1.9.16.2.47",
            sequence(&[sequence(&[sequence(&[octets(&Sha256::digest(named))])])]),
        ),
    ];
    let signed_attributes = token.part(Part::Attributes, set(&attributes));
    let signature = signed_with(key, &signed_attributes);
    let mut implicit = signed_attributes;
    if let Some(tag) = implicit.first_mut() {
        *tag = 0xa0;
    }
    let signer = sequence(&[
        integer(&[1]),
        sequence(&[name(ROOT), integer(&[2])]),
        sha_256.clone(),
        implicit,
        sequence(&[oid(ECDSA_WITH_SHA256)]),
        octets(&signature),
    ]);
    let signer = token.part(Part::Signer, signer);
    let mut certificates = vec![own];
    if token.with_root {
        certificates.push(root_certificate);
    }
    certificates.sort();
    let signed_data = sequence(&[
        integer(&[3]),
        set(&[sha_256]),
        sequence(&[oid(TST_INFO), explicit(0, &octets(&content))]),
        tagged(0xa0, &certificates.concat()),
        set(&[signer]),
    ]);
    sequence(&[oid("1.2.840.113549.1.7.2"), explicit(0, &signed_data)])
}
