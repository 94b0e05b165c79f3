//! What can be wrong with a token, one sentence for each rule.

use super::TOKEN_LIMIT;

/// Why an answer of a time authority is no evidence.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum TimestampError {
    /// The file is too long.
    #[error("timestamp: {found} bytes, at most {TOKEN_LIMIT} bytes are read")]
    TooLong {
        /// Bytes found.
        found: usize,
    },
    /// The bytes do not read as what they should be.
    #[error("timestamp: {what} cannot be read as DER: {error}")]
    Unreadable {
        /// Which part.
        what: &'static str,
        /// The decoder's words.
        error: der::Error,
    },
    /// A part is missing, stands twice, or is another one.
    #[error("timestamp: {0}")]
    Form(&'static str),
    /// The authority did not grant the request.
    #[error("timestamp: the authority refused, status {status}{}", told(text))]
    Refused {
        /// `PKIStatus`; 0 and 1 are granted.
        status: u32,
        /// The authority's words, may be empty.
        text: String,
    },
    /// The file is a request.
    #[error("timestamp: this is a request, not the authority's answer to it")]
    IsRequest,
    /// More or fewer signers.
    #[error("timestamp: {found} signers, exactly one allowed")]
    Signers {
        /// Signers found.
        found: usize,
    },
    /// More certificates than are looked at.
    #[error(
        "timestamp: {found} certificates, at most {} allowed",
        super::token::MOST_CERTIFICATES
    )]
    Certificates {
        /// Certificates found.
        found: usize,
    },
    /// The certificate that the signed attributes name is not in the token.
    #[error("timestamp: the signer's certificate is not in it")]
    NoCertificate,
    /// The signer is named in two ways that do not agree.
    #[error("timestamp: the signer is named as another one than its certificate says")]
    OtherCertificate,
    /// An algorithm that is not accepted.
    #[error("timestamp: {what} is of the kind {found}, allowed are {allowed}")]
    Algorithm {
        /// Which part.
        what: &'static str,
        /// Object identifier found.
        found: String,
        /// What is allowed.
        allowed: &'static str,
    },
    /// The signed digest is not that of the content.
    #[error("timestamp: the content was changed: its digest is not the signed one")]
    ContentChanged,
    /// The signature does not hold.
    #[error(
        "timestamp: the signature does not fit the certificate's key (RSA keys of 2048 to 8192 bits, P-256 and P-384 are read)"
    )]
    Signature,
    /// The certificate is not made for timestamps alone.
    #[error("timestamp: the signer's certificate is not for `timeStamping` alone, marked critical")]
    Purpose,
    /// The certificate was not valid.
    #[error("timestamp: made {time}, but the signer's certificate is valid from {from} to {until}")]
    NotValid {
        /// `genTime`.
        time: String,
        /// First moment.
        from: String,
        /// Last moment.
        until: String,
    },
    /// Something else was stamped.
    #[error("timestamp: it stamps {found}, but {wanted} was to be stamped")]
    OtherDigest {
        /// Digest in the token, in hexadecimal.
        found: String,
        /// Digest that should be there.
        wanted: String,
    },
    /// The answer belongs to another request.
    #[error(
        "timestamp: it answers another request: its nonce is {found}, the request has {wanted}"
    )]
    OtherNonce {
        /// As in the token.
        found: String,
        /// As in the request.
        wanted: String,
    },
}

fn told(text: &str) -> String {
    if text.is_empty() {
        String::new()
    } else {
        format!(" (`{}`)", crate::key::shorten(text))
    }
}

impl TimestampError {
    /// The next step.
    pub const fn hint(&self) -> &'static str {
        match self {
            Self::IsRequest => {
                "send this file to a time authority, and give the file that it answers"
            }
            Self::Refused { .. } => {
                "ask the authority again, or another one; it must stamp SHA-256 digests"
            }
            Self::OtherDigest { .. } | Self::OtherNonce { .. } => {
                "give the answer to the request that was written for this record or report"
            }
            Self::TooLong { .. } | Self::Unreadable { .. } | Self::Form(_) => {
                "give the authority's answer byte for byte as it came (a `.tsr` file), or fetch it again"
            }
            Self::NoCertificate => {
                "ask again: the request asks for the certificate, and the answer must hold it"
            }
            _ => "do not rely on this timestamp; ask another authority",
        }
    }
}
