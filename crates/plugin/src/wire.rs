//! Messages as bytes: canonical JSON (RFC 8785) both ways.

use serde::{Serialize, de::DeserializeOwned};
use serde_json::Value;
use tangmark_core::json::{self, CanonicalError, JsonError, Limits};

use crate::message::{CheckReply, Description};

/// Largest description a plugin may give, in bytes.
pub const MAX_DESCRIPTION_BYTES: usize = 256 * 1024;

/// Nesting a plugin's answer may have. The deepest place of a reply is a cell of a table's row.
const MAX_DEPTH: usize = 8;

/// Why bytes of a plugin are not a message.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum WireError {
    /// Not strict JSON.
    #[error("{0}")]
    Json(#[from] JsonError),
    /// JSON, but spelled otherwise than RFC 8785 says.
    #[error(
        "the bytes are not canonical JSON: sorted keys, no blanks, shortest escapes (RFC 8785)"
    )]
    NotCanonical,
    /// JSON, but not this message: a member is missing, unknown or of the wrong type.
    #[error("{0}")]
    Shape(#[source] serde_json::Error),
    /// A value has no canonical bytes.
    #[error("{0}")]
    Canonical(#[from] CanonicalError),
}

/// Writes a message as canonical JSON.
///
/// # Errors
/// When the message holds a value without canonical bytes, such as an integer beyond 2^53 - 1.
pub fn to_bytes<T: Serialize>(message: &T) -> Result<Vec<u8>, WireError> {
    let value = serde_json::to_value(message).map_err(WireError::Shape)?;
    Ok(json::canonical_bytes(&value)?)
}

/// Reads a message of the program, on the plugin's side. The program is trusted, so that this is
/// an ordinary JSON reader; unknown members are ignored.
pub fn request_from_bytes<T: DeserializeOwned>(bytes: &[u8]) -> Result<T, WireError> {
    serde_json::from_slice(bytes).map_err(WireError::Shape)
}

/// Reads a description, strictly.
pub fn description_from_bytes(bytes: &[u8]) -> Result<Description, WireError> {
    answer_from_bytes(bytes, MAX_DESCRIPTION_BYTES)
}

/// Reads a reply of at most `max_bytes` bytes, strictly.
pub fn reply_from_bytes(bytes: &[u8], max_bytes: usize) -> Result<CheckReply, WireError> {
    answer_from_bytes(bytes, max_bytes)
}

fn answer_from_bytes<T: DeserializeOwned>(bytes: &[u8], max_bytes: usize) -> Result<T, WireError> {
    let limits = Limits {
        max_bytes,
        max_depth: MAX_DEPTH,
        ..Limits::default()
    };
    let value: Value = json::read_value(bytes, &limits)?;
    if json::canonical_bytes(&value)? != bytes {
        return Err(WireError::NotCanonical);
    }
    serde_json::from_value(value).map_err(WireError::Shape)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use serde_json::json;

    use super::*;
    use crate::message::{CheckRequest, DescribeRequest};

    fn fault(text: &str) -> String {
        reply_from_bytes(text.as_bytes(), 1000)
            .unwrap_err()
            .to_string()
    }

    #[test]
    fn an_empty_reply_survives_the_way() {
        let bytes = to_bytes(&CheckReply::default()).unwrap();
        assert_eq!(bytes, br#"{"artefacts":[],"findings":[],"quantities":[]}"#);
        assert_eq!(
            reply_from_bytes(&bytes, 1000).unwrap(),
            CheckReply::default()
        );
    }

    #[test]
    fn a_reply_has_one_spelling() {
        assert_eq!(
            fault(r#"{"findings":[],"artefacts":[],"quantities":[]}"#),
            "the bytes are not canonical JSON: sorted keys, no blanks, shortest escapes (RFC 8785)"
        );
        let twice = r#"{"artefacts":[],"artefacts":[],"findings":[],"quantities":[]}"#;
        assert!(fault(twice).contains("artefacts"), "{}", fault(twice));
        assert!(reply_from_bytes(&to_bytes(&CheckReply::default()).unwrap(), 10).is_err());
    }

    #[test]
    fn unknown_missing_and_null_members_of_an_answer_are_refused() {
        let unknown = r#"{"artefacts":[],"findings":[],"quantities":[],"verdict":"fine"}"#;
        assert!(
            fault(unknown).starts_with("unknown field `verdict`"),
            "{}",
            fault(unknown)
        );
        assert!(fault("{}").starts_with("missing field"), "{}", fault("{}"));
        let null = r#"{"artefacts":[],"findings":[],"quantities":[{"name":"a","source":"b","standard_uncertainty":null,"unit":"1","value":"1"}]}"#;
        assert!(
            fault(null).starts_with("invalid type: null"),
            "{}",
            fault(null)
        );
        let artefact = r#"{"artefacts":[{"columns":[],"id":"a","kind":"table","more":1,"rows":[],"source":"s","title":"t"}],"findings":[],"quantities":[]}"#;
        assert!(
            fault(artefact).starts_with("unknown field `more`"),
            "{}",
            fault(artefact)
        );
    }

    #[test]
    fn a_plugin_ignores_what_it_does_not_know() {
        let request: DescribeRequest =
            request_from_bytes(br#"{"abi":1,"features":["no-such-thing"],"later":true}"#).unwrap();
        assert_eq!(request.features, ["no-such-thing"]);
        let mut value =
            serde_json::to_value(CheckRequest::new("2026-01-02T03:04:05Z", "00", json!({})))
                .unwrap();
        value["later"] = json!([1, 2]);
        let bytes = json::canonical_bytes(&value).unwrap();
        assert!(request_from_bytes::<CheckRequest>(&bytes).is_ok());
    }
}
