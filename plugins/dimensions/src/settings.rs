//! What the user may set.

use serde::Deserialize;
use serde_json::Value;

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
    pub(crate) fn read(settings: &Value) -> Result<Self, String> {
        let read: Self = serde_json::from_value(settings.clone()).map_err(|error| {
            format!(
                "the settings of dimensions cannot be read: {error}; card_length_tolerance_mm, card_curvature_tolerance_mm, \
                 point_ratio_limits and section_model_percent are allowed"
            )
        })?;
        for (name, value, most) in [
            (
                "card_length_tolerance_mm",
                read.card_length_tolerance_mm,
                100.0,
            ),
            (
                "card_curvature_tolerance_mm",
                read.card_curvature_tolerance_mm,
                100.0,
            ),
            ("section_model_percent", read.section_model_percent, 100.0),
        ] {
            if !(0.0..=most).contains(&value) {
                return Err(format!(
                    "setting `{name}` is {value}, 0 to {most} is allowed"
                ));
            }
        }
        let [short, small, middle] = read.point_ratio_limits;
        if !(0.0 < short && short < small && small < middle) {
            return Err(format!(
                "setting `point_ratio_limits` is {:?}, three rising numbers above 0 are allowed",
                read.point_ratio_limits
            ));
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
        assert_eq!(
            Settings::read(&json!({ "section_model_percent": -1.0 })).unwrap_err(),
            "setting `section_model_percent` is -1, 0 to 100 is allowed"
        );
        assert_eq!(
            Settings::read(&json!({ "point_ratio_limits": [2.0, 1.0, 3.0] })).unwrap_err(),
            "setting `point_ratio_limits` is [2.0, 1.0, 3.0], three rising numbers above 0 are allowed"
        );
        assert!(
            Settings::read(&json!({ "tolerance": 1 }))
                .unwrap_err()
                .contains("unknown field `tolerance`")
        );
    }
}
