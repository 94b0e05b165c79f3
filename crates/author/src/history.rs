//! What a request holds: the sheet, and the sealed records of the blade.

use tangmark_core::record::{Record, Sheet};
use tangmark_plugin::{CheckRequest, Refusal};

/// Reads the sheet of the request.
///
/// # Errors
/// A refusal that says what cannot be read.
pub fn sheet(request: &CheckRequest) -> Result<Sheet, Refusal> {
    Sheet::from_json(&request.sheet)
        .map_err(|error| Refusal::new(format!("the sheet cannot be read: {error}")))
}

/// Reads the sealed records of the request, oldest first.
///
/// # Errors
/// A refusal that names the record that cannot be read, by its place from 1.
pub fn records(request: &CheckRequest) -> Result<Vec<Record>, Refusal> {
    request
        .history
        .iter()
        .enumerate()
        .map(|(index, value)| {
            Record::from_json(value).map_err(|error| {
                Refusal::new(format!(
                    "record {} of the blade's history cannot be read: {error}",
                    index + 1
                ))
            })
        })
        .collect()
}
