//! What the user may set.

use serde::Deserialize;
use serde_json::Value;
use tangmark_author::settings::{read, within};
use tangmark_plugin::Refusal;

/// Settings, each with a default.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(crate) struct Settings {
    /// A time without a named holder that is longer than this is a gap, years.
    pub(crate) gap_years: f64,
    /// How far two papers may differ in a length beside their uncertainty, mm.
    pub(crate) paper_length_tolerance_mm: f64,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            gap_years: 5.0,
            paper_length_tolerance_mm: 3.0,
        }
    }
}

impl Settings {
    /// Reads and checks the settings object.
    pub(crate) fn read(settings: &Value) -> Result<Self, Refusal> {
        let read: Self = read(
            "custody",
            settings,
            &["gap_years", "paper_length_tolerance_mm"],
        )?;
        within("gap_years", read.gap_years, 0.0, 500.0, "years")?;
        within(
            "paper_length_tolerance_mm",
            read.paper_length_tolerance_mm,
            0.0,
            100.0,
            "mm",
        )?;
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
        let error = Settings::read(&json!({"gap_years": -1}))
            .unwrap_err()
            .to_string();
        assert_eq!(
            error,
            "setting `gap_years` is -1 years; 0 to 500 years is allowed"
        );
        assert!(Settings::read(&json!({"gap": 1})).is_err());
    }
}
