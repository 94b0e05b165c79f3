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

use crate::{WorkshopError, input};

/// Reads an answer or a request; its reader tells one that is too long.
pub(crate) fn read_answer(path: &Path) -> Result<Vec<u8>, WorkshopError> {
    input::up_to(path, TOKEN_LIMIT as u64)
}
