//! Time evidence: requests to time authorities, their answers kept beside the records they stamp.
//!
//! Nothing here speaks to a network: a request is a file, an answer is a file, and where a face can carry one to an
//! authority and back it hands in the means ([`Ask`]).

mod authority;
mod error;
mod evidence;
mod heard;
mod report;

pub(crate) use authority::Circle;
pub use authority::{NewAuthority, TimeAuthority};
pub use error::TimeError;
pub use evidence::{Ask, KeptTimestamp, Stamped, TimeRequest, TimestampOrder};
pub use heard::RefusedTimestamp;
pub(crate) use heard::hear;
pub use report::{StampedReport, report_request, stamp_report};

use std::path::Path;

use tangmark_trust::timestamp::TOKEN_LIMIT;

use crate::WorkshopError;

/// Reads a file of at most `limit` bytes.
pub(crate) fn read_file(path: &Path, limit: usize) -> Result<Vec<u8>, WorkshopError> {
    use std::io::Read as _;
    let fail = |error| WorkshopError::file("read", path, error);
    let mut bytes = Vec::new();
    let file = std::fs::File::open(path).map_err(fail)?;
    // One byte more than is allowed, so that a longer file is told as too long.
    file.take(limit as u64 + 1)
        .read_to_end(&mut bytes)
        .map_err(fail)?;
    Ok(bytes)
}

/// Reads an answer or a request; its reader tells one that is too long.
pub(crate) fn read_answer(path: &Path) -> Result<Vec<u8>, WorkshopError> {
    read_file(path, TOKEN_LIMIT)
}
