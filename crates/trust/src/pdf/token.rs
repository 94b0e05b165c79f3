//! A time token inside the signature of a report: what is to be stamped, and the token put in its place.

use std::ops::Range;

use tangmark_core::Digest;

use super::{
    cms::{self, CmsError},
    examine::{PdfJudgement, examine, signature_bytes},
    file, form,
    place::{self, CONTENTS_DIGITS},
    problem::PdfProblem,
};
use crate::timestamp::{TimestampError, Token};

/// Why a report cannot carry a time token. The report given is never returned half-changed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum StampPdfError {
    /// Only a signed, unaltered report is stamped.
    #[error("PDF to be stamped: {0}")]
    Refused(PdfProblem),
    /// One token is enough, and a second would push out the first.
    #[error("PDF to be stamped: its signature carries a time token already")]
    Stamped,
    /// The token is none for this report.
    #[error(transparent)]
    Token(TimestampError),
    /// The signature with the token needs more bytes than the place has.
    #[error(
        "signature with time token: {found} bytes, at most {} bytes allowed",
        CONTENTS_DIGITS / 2
    )]
    TooLong {
        /// Bytes needed.
        found: usize,
    },
    /// The signature could not be written anew.
    #[error(transparent)]
    Signature(CmsError),
}

impl StampPdfError {
    /// The next step.
    pub const fn hint(&self) -> &'static str {
        match self {
            Self::Refused(problem) => problem.hint(),
            Self::Stamped => {
                "verify it with `tangmark verify`; to stamp anew, issue the report again"
            }
            Self::Token(error) => error.hint(),
            Self::TooLong { .. } => {
                "ask an authority whose answer holds fewer certificates, or stamp the record instead"
            }
            Self::Signature(_) => "report this as a fault of the program, with the report",
        }
    }
}

/// Returns what is to be stamped so that a signed report existed not later than some time: SHA-256 over the value of its
/// signature.
///
/// # Errors
/// When the PDF is no signed, unaltered report, or carries a token already.
pub fn signature_to_stamp(pdf: &[u8]) -> Result<Digest, StampPdfError> {
    let found = examine(pdf);
    if let Some(problem) = found.problems.into_iter().next() {
        return Err(StampPdfError::Refused(problem));
    }
    if found.token.is_some() {
        return Err(StampPdfError::Stamped);
    }
    match (found.judgement, found.signature_digest) {
        (PdfJudgement::Unaltered, Some(digest)) => Ok(digest),
        _ => Err(StampPdfError::Refused(PdfProblem::NoSignature)),
    }
}

/// Looks for the time token of a report without judging the report: what a token of its signature stamps, and the one that
/// is there. Nothing when the file cannot be read as a signed report.
pub fn time_token(pdf: &[u8]) -> Option<(Digest, Option<Token>)> {
    let (_, signature) = signature(pdf)?;
    let statement = cms::read(&signature).ok()?;
    Some((statement.stamped(), statement.token))
}

/// Puts a token into the signature of a report. Only bytes in the place of the signature change, which the signature
/// leaves out: the length stays, and so does everything that was signed.
///
/// # Errors
/// When the PDF is no signed, unaltered report, has a token already, or the token does not fit its signature.
pub fn with_token(mut pdf: Vec<u8>, token: &Token) -> Result<Vec<u8>, StampPdfError> {
    signature_to_stamp(&pdf)?;
    let (digits, signature) =
        signature(&pdf).ok_or(StampPdfError::Refused(PdfProblem::NoSignature))?;
    let stamped = cms::with_token(&signature, token).map_err(|error| match error {
        CmsError::Token(error) => StampPdfError::Token(error),
        other => StampPdfError::Signature(other),
    })?;
    if stamped.len() > CONTENTS_DIGITS / 2 {
        return Err(StampPdfError::TooLong {
            found: stamped.len(),
        });
    }
    let written = data_encoding::HEXLOWER.encode(&stamped);
    pdf[digits.start..digits.start + written.len()].copy_from_slice(written.as_bytes());
    Ok(pdf)
}

/// The place of the digits in a sound report, and the structure that they write.
fn signature(pdf: &[u8]) -> Option<(Range<usize>, Vec<u8>)> {
    let file = file::read(pdf).ok()?;
    let dictionary = form::check(&file).signature?;
    let contents = place::in_dictionary(&file, dictionary).contents?;
    let digits = contents.start + 1..contents.end - 1;
    let bytes = signature_bytes(pdf.get(digits.clone())?, &mut Vec::new())?;
    Some((digits, bytes))
}
