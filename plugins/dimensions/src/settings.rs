//! What the user may set.

use serde::Deserialize;
use serde_json::Value;
use tangmark_author::settings::{read, within};
use tangmark_plugin::Refusal;

/// Names of the settings, for errors.
const NAMES: &[&str] = &[
    "card_length_tolerance_mm",
    "card_curvature_tolerance_mm",
    "point_ratio_limits",
    "section_model_percent",
];

/// Settings, each with a default.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(crate) struct Settings {
    /// How far a length on a card may lie from the blade beside its uncertainty, mm.
    pub(crate) card_length_tolerance_mm: f64,
    /// How far a curvature on a card may lie from the blade beside its uncertainty, mm.
    pub(crate) card_curvature_tolerance_mm: f64,
    /// Limits of the ratio point length to width at the point line: short, small, middle.
    pub(crate) point_ratio_limits: [f64; 3],
    /// Half-width of the doubt of the section model, per cent of the mass.
    pub(crate) section_model_percent: f64,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            card_length_tolerance_mm: 3.0,
            card_curvature_tolerance_mm: 2.0,
            point_ratio_limits: [1.0, 1.4, 2.0],
            section_model_percent: 6.0,
        }
    }
}

impl Settings {
    /// Reads the settings object; the error says which member is wrong.
    pub(crate) fn read(settings: &Value) -> Result<Self, Refusal> {
        let found: Self = read("dimensions", settings, NAMES)?;
        for (name, value, unit) in [
            (
                "card_length_tolerance_mm",
                found.card_length_tolerance_mm,
                "mm",
            ),
            (
                "card_curvature_tolerance_mm",
                found.card_curvature_tolerance_mm,
                "mm",
            ),
            ("section_model_percent", found.section_model_percent, "%"),
        ] {
            within(name, value, 0.0, 100.0, unit)?;
        }
        let [short, small, middle] = found.point_ratio_limits;
        if !(0.0 < short && short < small && small < middle) {
            return Err(Refusal::new(format!(
                "setting `point_ratio_limits` is {:?}; three rising numbers above 0 are allowed",
                found.point_ratio_limits
            )));
        }
        Ok(found)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use serde_json::json;

    #[test]
    fn defaults_hold_where_nothing_is_set() {
        assert_eq!(Settings::read(&json!({})).unwrap(), Settings::default());
        let set = Settings::read(&json!({ "point_ratio_limits": [0.9, 1.5, 2.5] })).unwrap();
        let expected = Settings {
            point_ratio_limits: [0.9, 1.5, 2.5],
            ..Settings::default()
        };
        assert_eq!(set, expected);
    }

    #[test]
    fn wrong_settings_are_refused() {
        let said = |settings: Value| Settings::read(&settings).unwrap_err().to_string();
        assert_eq!(
            said(json!({ "section_model_percent": -1.0 })),
            "setting `section_model_percent` is -1 %; 0 to 100 % is allowed"
        );
        assert_eq!(
            said(json!({ "point_ratio_limits": [2.0, 1.0, 3.0] })),
            "setting `point_ratio_limits` is [2.0, 1.0, 3.0]; three rising numbers above 0 are allowed"
        );
        assert!(said(json!({ "tolerance": 1 })).contains("unknown field `tolerance`"));
    }
}
