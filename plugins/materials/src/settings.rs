//! What the user may set.

use serde::Deserialize;
use serde_json::Value;
use tangmark_author::settings::{read, within};
use tangmark_plugin::Refusal;

/// Settings, each with a default.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(crate) struct Settings {
    /// A list older than this is to be renewed, months.
    pub(crate) list_months: i32,
    /// Countries the blade may come from or go to, ISO 3166-1 codes of two letters.
    pub(crate) countries: Vec<String>,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            list_months: 24,
            countries: Vec::new(),
        }
    }
}

impl Settings {
    /// Reads and checks the settings object.
    pub(crate) fn read(settings: &Value) -> Result<Self, Refusal> {
        let read: Self = read("materials", settings, &["countries", "list_months"])?;
        within("list_months", read.list_months.into(), 1.0, 240.0, "months")?;
        within(
            "countries",
            read.countries.len() as f64,
            0.0,
            20.0,
            "entries",
        )?;
        for code in &read.countries {
            if code.len() != 2 || !code.bytes().all(|byte| byte.is_ascii_uppercase()) {
                return Err(Refusal::new(format!(
                    "setting `countries` has `{code}`; codes of two capital letters (ISO 3166-1) are allowed, such as \"JP\""
                )));
            }
        }
        Ok(read)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use serde_json::json;

    #[test]
    fn settings_have_limits() {
        assert_eq!(Settings::read(&json!({})).unwrap(), Settings::default());
        for (settings, said) in [
            (
                json!({"list_months": 0}),
                "setting `list_months` is 0 months; 1 to 240 months is allowed",
            ),
            (
                json!({"countries": ["Japan"]}),
                "setting `countries` has `Japan`; codes of two capital letters",
            ),
            (json!({"country": "JP"}), "unknown field `country`"),
        ] {
            let error = Settings::read(&settings).unwrap_err().to_string();
            assert!(error.contains(said), "{error}");
        }
    }
}
