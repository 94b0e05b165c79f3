//! What the user may set.

use serde::Deserialize;
use serde_json::Value;
use tangmark_author::settings::{read, within};
use tangmark_measure::Estimate;
use tangmark_measure::reading::{GAUGE_REPEATS, SCALE_REPEATS};
use tangmark_measure::stations::PLACEMENT_MM;
use tangmark_plugin::Refusal;

/// Settings, each with a default.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(crate) struct Settings {
    /// Standard deviation of repeated weighings of the same blade, g; one step of the scale where it is not set.
    pub(crate) weighing_repeatability_g: Option<f64>,
    /// Standard uncertainty of what clings to the blade at a weighing (oil, water, mud), g.
    pub(crate) residue_g: Option<f64>,
    /// Correlation of a scale's error of indication between two weighings, 0 to 1.
    pub(crate) scale_repeats: f64,
    /// Correlation of a length gauge's error of indication between two sessions, 0 to 1.
    pub(crate) gauge_repeats: f64,
    /// Standard uncertainty with which a station is found again, mm along the blade.
    pub(crate) station_placement_mm: f64,
    /// Farthest that two stations may lie apart and still be one, mm.
    pub(crate) station_match_mm: f64,
    /// Density of the steel, g/cm³.
    pub(crate) density_g_cm3: f64,
    /// Half-width of the doubt of the density, rectangular, g/cm³.
    pub(crate) density_half_width_g_cm3: f64,
    /// Standard uncertainty of the worked surface, % of it.
    pub(crate) surface_percent: f64,
    /// Standard deviation of the steel taken from one full polish to the next, % of the mean.
    pub(crate) rate_spread_percent: f64,
    /// How much of a polish's deviation from that mean the next one keeps, 0 to 0.95.
    pub(crate) rate_memory: f64,
}

const NAMES: &[&str] = &[
    "weighing_repeatability_g",
    "residue_g",
    "scale_repeats",
    "gauge_repeats",
    "station_placement_mm",
    "station_match_mm",
    "density_g_cm3",
    "density_half_width_g_cm3",
    "surface_percent",
    "rate_spread_percent",
    "rate_memory",
];

impl Default for Settings {
    fn default() -> Self {
        Self {
            weighing_repeatability_g: None,
            residue_g: None,
            scale_repeats: SCALE_REPEATS,
            gauge_repeats: GAUGE_REPEATS,
            station_placement_mm: PLACEMENT_MM,
            station_match_mm: 2.0,
            density_g_cm3: 7.82,
            density_half_width_g_cm3: 0.05,
            surface_percent: 4.0,
            rate_spread_percent: 30.0,
            rate_memory: 0.3,
        }
    }
}

impl Settings {
    /// Reads the settings object.
    ///
    /// # Errors
    /// A refusal that names the setting, what was found and what is allowed.
    pub(crate) fn read(settings: &Value) -> Result<Self, Refusal> {
        let set: Self = read("removal", settings, NAMES)?;
        for (name, value) in [
            ("weighing_repeatability_g", set.weighing_repeatability_g),
            ("residue_g", set.residue_g),
        ] {
            if let Some(value) = value {
                within(name, value, 0.0, 100.0, "g")?;
            }
        }
        within("scale_repeats", set.scale_repeats, 0.0, 1.0, "")?;
        within("gauge_repeats", set.gauge_repeats, 0.0, 1.0, "")?;
        let placement = set.station_placement_mm;
        within("station_placement_mm", placement, 0.0, 50.0, "mm")?;
        within("station_match_mm", set.station_match_mm, 0.0, 50.0, "mm")?;
        within("density_g_cm3", set.density_g_cm3, 1.0, 25.0, "g/cm3")?;
        let doubt = set.density_half_width_g_cm3;
        within("density_half_width_g_cm3", doubt, 0.0, 1.0, "g/cm3")?;
        within("surface_percent", set.surface_percent, 0.0, 50.0, "%")?;
        let spread = set.rate_spread_percent;
        within("rate_spread_percent", spread, 0.0, 200.0, "%")?;
        within("rate_memory", set.rate_memory, 0.0, 0.95, "")?;
        Ok(set)
    }

    /// Density, g/cm³.
    pub(crate) fn density(&self) -> Estimate {
        Estimate::rectangular(self.density_g_cm3, self.density_half_width_g_cm3)
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
        let set = Settings::read(&json!({ "residue_g": 0.05, "gauge_repeats": 1 })).unwrap();
        assert_eq!(set.residue_g, Some(0.05));
        assert!((set.gauge_repeats - 1.0).abs() < 1e-12);
    }

    #[test]
    fn wrong_settings_are_refused() {
        for (settings, expected) in [
            (
                json!({ "gauge_repeats": 1.5 }),
                "setting `gauge_repeats` is 1.5; 0 to 1 is allowed",
            ),
            (
                json!({ "residue_g": -0.1 }),
                "setting `residue_g` is -0.1 g; 0 to 100 g is allowed",
            ),
            (
                json!({ "density_g_cm3": 0.5 }),
                "setting `density_g_cm3` is 0.5 g/cm3; 1 to 25 g/cm3 is allowed",
            ),
        ] {
            assert_eq!(Settings::read(&settings).unwrap_err().to_string(), expected);
        }
        let unknown = Settings::read(&json!({ "oil": 1 }))
            .unwrap_err()
            .to_string();
        assert!(unknown.contains("unknown field `oil`") && unknown.contains("residue_g"));
    }

    #[test]
    fn every_setting_is_named_in_the_refusal() {
        let found = format!("{:?}", Settings::default());
        for name in NAMES {
            assert!(found.contains(name), "{name}");
        }
        assert_eq!(found.matches(": ").count(), NAMES.len());
    }
}
