//! Signing: filling the place that the report left for the signature.

use sha2::{Digest as _, Sha256};

use super::{
    attachment,
    cms::{self, CmsError},
    file, form,
    place::{self, CONTENTS_DIGITS},
    problem::{PDF_LIMIT, PdfProblem},
};
use crate::PrivateKey;

/// The signed range as the report writes it before signing.
pub const BYTE_RANGE_PLACEHOLDER: &str = "[0 0000000000 0000000000 0000000000]";

/// Why a PDF cannot be signed. The PDF given is never returned half-signed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum SignPdfError {
    /// The PDF breaks a rule of [`super::examine`]: signed, it would be refused.
    #[error("PDF to be signed: {0}")]
    Refused(PdfProblem),
    /// The signed range is not the placeholder.
    #[error("PDF to be signed: signed range is not `{BYTE_RANGE_PLACEHOLDER}`")]
    RangeNotEmpty,
    /// The place of the signature is not the placeholder.
    #[error("PDF to be signed: place of the signature is not {CONTENTS_DIGITS} digits `0`")]
    ContentsNotEmpty,
    /// The signature needs more bytes than the place has.
    #[error("signature: {found} bytes, at most {} bytes allowed", CONTENTS_DIGITS / 2)]
    TooLong {
        /// Bytes needed.
        found: usize,
    },
    /// The signature could not be made.
    #[error(transparent)]
    Signature(#[from] CmsError),
}

/// Signs a report: fills its signed range and its signature, changing no other byte.
///
/// The PDF is whole and in one revision already, with the signature field, its widget, the certification
/// (DocMDP, P = 1), `/ByteRange` as [`BYTE_RANGE_PLACEHOLDER`] and `/Contents` as 16384 digits `0` in `<>`.
/// Same PDF, key and certificate give the same bytes.
///
/// # Errors
/// When the PDF is not of that form, breaks a rule of [`super::examine`], or the certificate is not one of
/// the key.
pub fn fill_signature(
    mut pdf: Vec<u8>,
    key: &PrivateKey,
    certificate_der: &[u8],
) -> Result<Vec<u8>, SignPdfError> {
    if pdf.len() > PDF_LIMIT {
        return Err(SignPdfError::Refused(PdfProblem::TooLarge {
            bytes: pdf.len(),
        }));
    }
    let (range, contents) = {
        let file = file::read(&pdf).map_err(|error| {
            SignPdfError::Refused(PdfProblem::Unreadable {
                offset: error.offset,
                what: error.what,
            })
        })?;
        let findings = form::check(&file);
        if let Some(problem) = findings.problems.into_iter().next() {
            return Err(SignPdfError::Refused(problem));
        }
        attachment::files(&file).map_err(SignPdfError::Refused)?;
        let signature = findings
            .signature
            .ok_or(SignPdfError::Refused(PdfProblem::NoSignature))?;
        let place = place::in_dictionary(&file, signature);
        (
            place.range.ok_or(SignPdfError::RangeNotEmpty)?,
            place.contents.ok_or(SignPdfError::ContentsNotEmpty)?,
        )
    };
    if pdf[range.clone()] != *BYTE_RANGE_PLACEHOLDER.as_bytes() {
        return Err(SignPdfError::RangeNotEmpty);
    }
    let digits = contents.start + 1..contents.end - 1;
    if digits.len() != CONTENTS_DIGITS || pdf[digits.clone()].iter().any(|digit| *digit != b'0') {
        return Err(SignPdfError::ContentsNotEmpty);
    }
    let numbers = place::write_numbers([contents.start, contents.end, pdf.len() - contents.end])
        .ok_or(SignPdfError::Refused(PdfProblem::TooLarge {
            bytes: pdf.len(),
        }))?;
    pdf[range].copy_from_slice(numbers.as_bytes());
    let digest = digest_without(&pdf, contents.start, contents.end);
    let signature = cms::sign(&digest, key, certificate_der)?;
    if signature.len() > CONTENTS_DIGITS / 2 {
        return Err(SignPdfError::TooLong {
            found: signature.len(),
        });
    }
    let written = data_encoding::HEXLOWER.encode(&signature);
    pdf[digits.start..digits.start + written.len()].copy_from_slice(written.as_bytes());
    Ok(pdf)
}

/// SHA-256 over everything but the gap `start..end`, which lies inside.
pub(super) fn digest_without(bytes: &[u8], start: usize, end: usize) -> [u8; 32] {
    let mut hash = Sha256::new();
    hash.update(bytes.get(..start).unwrap_or_default());
    hash.update(bytes.get(end..).unwrap_or_default());
    hash.finalize().into()
}
