//! A timestamp over the signature of a report, kept inside the report.

use std::path::{Path, PathBuf};

use serde::Serialize;
use tangmark_core::Digest;
use tangmark_trust::pdf::{PDF_LIMIT, signature_to_stamp, with_token};
use tangmark_trust::timestamp::Evidence;

use super::evidence::{read_token, write_request};
use super::{TimeError, TimeRequest};
use crate::output::NewFile;
use crate::{Workshop, WorkshopError, input};

/// A report with a timestamp inside its signature.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct StampedReport {
    /// The new file.
    pub file: PathBuf,
    /// SHA-256 over the new file.
    pub digest: Digest,
    /// What the timestamp says; `record` is the digest of the report's signature.
    pub evidence: Evidence,
}

/// Writes a request for a timestamp over the signature of a report. Needs no workshop.
///
/// # Errors
/// When the file is no signed, unaltered report or has a timestamp already, or the request cannot be written.
pub fn report_request(
    pdf: &Path,
    out: &Path,
    random: &mut dyn FnMut(&mut [u8]),
) -> Result<TimeRequest, WorkshopError> {
    let bytes = input::up_to(pdf, PDF_LIMIT as u64)?;
    let digest = signature_to_stamp(&bytes).map_err(|error| TimeError::Report {
        path: pdf.to_owned(),
        error,
    })?;
    write_request(&digest, out, random)?;
    Ok(TimeRequest {
        digest,
        sequence: None,
        file: out.to_owned(),
    })
}

/// Writes a report anew with the authority's answer inside its signature; what was signed does not change.
///
/// `workshop` says which authorities are trusted; without one every authority is unknown.
///
/// # Errors
/// When the answer breaks a rule or stamps something else, or the report cannot carry it. No file is left then.
pub fn stamp_report(
    pdf: &Path,
    answer: &Path,
    request: Option<&Path>,
    out: &Path,
    workshop: Option<&Workshop>,
) -> Result<StampedReport, WorkshopError> {
    let bytes = input::up_to(pdf, PDF_LIMIT as u64)?;
    let token = read_token(answer, request)?;
    let circle = workshop
        .map(Workshop::circle)
        .transpose()?
        .unwrap_or_default();
    let refused = |error| TimeError::Report {
        path: pdf.to_owned(),
        error,
    };
    let digest = signature_to_stamp(&bytes).map_err(refused)?;
    let evidence = token
        .check(&digest, &circle.authorities())
        .map_err(|error| TimeError::Refused {
            path: answer.to_owned(),
            error,
        })?;
    let stamped = with_token(bytes, &token).map_err(refused)?;
    NewFile::open(out)?.write(&stamped)?;
    Ok(StampedReport {
        file: out.to_owned(),
        digest: Digest::of(&stamped),
        evidence,
    })
}
