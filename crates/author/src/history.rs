//! The sealed records of the blade.

use tangmark_core::record::Record;
use tangmark_plugin::{CheckRequest, Refusal};

/// Reads the sealed records of the request, oldest first.
///
/// # Errors
/// A refusal that names the record that cannot be read, by its place from 1.
pub fn records(request: &CheckRequest) -> Result<Vec<Record>, Refusal> {
    use serde::Deserialize as _;
    request
        .history
        .iter()
        .enumerate()
        .map(|(index, value)| {
            Record::deserialize(value).map_err(|error| {
                Refusal::new(format!(
                    "record {} of the blade's history cannot be read: {error}",
                    index + 1
                ))
            })
        })
        .collect()
}
