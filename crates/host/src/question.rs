//! The bytes of a check request, put together of parts that are written once for all plugins.

use serde_json::Value;
use tangmark_core::json::{CanonicalError, canonical_bytes};
use tangmark_plugin::{ABI, CheckRequest, wire::WireError};

use crate::{Given, visit::features};

/// A question about one sheet, for any number of plugins.
pub(crate) struct Question<'a> {
    request: &'a CheckRequest,
    sheet: Vec<u8>,
    history: Vec<u8>,
}

/// What one plugin is asked.
pub(crate) struct Asked<'a> {
    pub(crate) bytes: Vec<u8>,
    pub(crate) sheet: &'a Value,
    pub(crate) seed: &'a str,
}

impl<'a> Question<'a> {
    /// Writes the parts every plugin gets.
    pub(crate) fn new(request: &'a CheckRequest) -> Result<Self, CanonicalError> {
        let mut history = vec![b'['];
        for record in &request.history {
            if history.len() > 1 {
                history.push(b',');
            }
            history.extend(canonical_bytes(record)?);
        }
        history.push(b']');
        Ok(Self {
            request,
            sheet: canonical_bytes(&request.sheet)?,
            history,
        })
    }

    /// Writes the request for a plugin that was given this: the members in the order of canonical
    /// JSON.
    pub(crate) fn of(&self, given: &Given) -> Result<Asked<'a>, WireError> {
        let request = self.request;
        let value = |value: Value| canonical_bytes(&value);
        let parts = [
            ("abi", value(ABI.into())?),
            ("features", value(features(&request.seed).into())?),
            ("history", self.history.clone()),
            ("now", value(request.now.as_str().into())?),
            ("seed", value(request.seed.as_str().into())?),
            ("settings", canonical_bytes(&given.settings)?),
            ("sheet", self.sheet.clone()),
            ("tables", canonical_bytes(&given.tables)?),
        ];
        let mut bytes = Vec::with_capacity(self.sheet.len() + self.history.len() + 1024);
        for (name, part) in parts {
            bytes.push(if bytes.is_empty() { b'{' } else { b',' });
            bytes.extend_from_slice(format!("\"{name}\":").as_bytes());
            bytes.extend(part);
        }
        bytes.push(b'}');
        Ok(Asked {
            bytes,
            sheet: &request.sheet,
            seed: &request.seed,
        })
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use serde_json::json;
    use tangmark_plugin::wire;

    use super::*;

    #[test]
    fn parts_put_together_are_the_whole() {
        for history in [vec![], vec![json!({"b": "é\n", "a": 1}), json!({})]] {
            let asked = CheckRequest {
                history,
                ..CheckRequest::new("2026-01-02T03:04:05Z", "00", json!({"z": [1], "blade": {}}))
            };
            let given = Given {
                settings: json!({"case_mm": 4.5}),
                tables: json!({"stones": [{"name": "\u{201c}a\""}]}),
            };
            let whole = CheckRequest {
                abi: ABI,
                features: features("00"),
                settings: given.settings.clone(),
                tables: given.tables.clone(),
                ..asked.clone()
            };
            let question = Question::new(&asked).unwrap();
            let bytes = question.of(&given).unwrap().bytes;
            assert_eq!(bytes, wire::to_bytes(&whole).unwrap());
        }
    }
}
