//! The `custody` plugin.
#![forbid(unsafe_code)]

use tangmark_author::rules;
use tangmark_plugin::{CheckReply, CheckRequest, Description, Refusal};

tangmark_plugin::export!(describe, check);

rules! {
    "custody.nothing" "Nothing yet" "this tool's own rule";
}

/// Describes the plugin and its rules.
pub fn describe() -> Description {
    tangmark_author::describe("custody", env!("CARGO_PKG_VERSION"), "Where the blade has been", RULES)
}

/// Judges a sheet.
///
/// # Errors
/// A sheet or settings that cannot be read.
pub fn check(_request: &CheckRequest) -> Result<CheckReply, Refusal> {
    Ok(CheckReply::default())
}
