//! What the modules share beside the verdicts.

use serde_json::Value;
use tangmark_trust::proof;

/// The name of a sealed record.
pub(crate) fn name(sealed: &[u8]) -> String {
    let value: Value = serde_json::from_slice(sealed).unwrap();
    proof::record_digest(&value).unwrap().to_string()
}
