//! What the user may set; every number is an assumption until the user has measured it.

use std::collections::BTreeMap;

use serde::Deserialize;
use serde_json::Value;
use tangmark_author::settings::{read, within};
use tangmark_core::record::{SurfaceGrade, Term as _, Zone};
use tangmark_plugin::Refusal;

use crate::rates::Wandering;

/// Which pits the plan clears, where the budget lets it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(crate) enum Pits {
    /// Those up to the knee of the curve.
    Knee,
    /// None but what goes with the surface.
    Leave,
    /// All.
    All,
}

/// How deep the other pits of a field are, of which only the deepest was measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(crate) enum FieldDepths {
    /// Spread evenly between nothing and the deepest.
    Even,
    /// All as deep as the deepest.
    AllDeepest,
}

/// Settings, each with a default.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(crate) struct Settings {
    /// Depth of the scratches over D50.
    pub(crate) scratch_per_d50: f64,
    /// Half-width of that, rectangular.
    pub(crate) scratch_per_d50_half_width: f64,
    /// Damaged layer below the scratches over their depth.
    pub(crate) damage_per_scratch: f64,
    /// Half-width of that, rectangular.
    pub(crate) damage_per_scratch_half_width: f64,
    /// Preferred least ratio of successive D50.
    pub(crate) least_ratio: f64,
    /// Preferred greatest ratio of successive D50.
    pub(crate) greatest_ratio: f64,
    /// What a step outside the preferred ratios counts for, min.
    pub(crate) ratio_breach_minutes: f64,
    /// Washing, checking and changing the stone, min a stage.
    pub(crate) change_minutes: f64,
    /// Length along the blade over which a lowered place is led back into the face, to either side, mm.
    pub(crate) fairing_mm: f64,
    /// Area on which rates are stated, mm².
    pub(crate) rate_area_mm2: f64,
    /// Rate taken for a stone of D50 10 µm whose rate is not known, µm/min on that area.
    pub(crate) unknown_rate_um_per_min: f64,
    /// How an unknown rate grows with D50: the power.
    pub(crate) unknown_rate_power: f64,
    /// Factor either way within which an unknown rate lies, k = 1.
    pub(crate) unknown_rate_factor: f64,
    /// Share by which a rate drifts from one pass to the next, k = 1.
    pub(crate) drift_per_pass: f64,
    /// Share by which a rate scatters from pass to pass, k = 1: the usual size, which the log corrects.
    pub(crate) scatter_per_pass: f64,
    /// Depth of rust, stains and hairlines over the whole surface, by grade of the surface, µm.
    pub(crate) surface_depth_um: BTreeMap<String, f64>,
    /// Half-width of those depths, per cent of each, rectangular.
    pub(crate) surface_depth_percent: f64,
    /// Half-width of the doubt of the surface model, per cent.
    pub(crate) surface_model_percent: f64,
    /// Finish to reach where the plan of the blade names none, µm.
    pub(crate) target_d50_um: Option<f64>,
    /// Deepest that may go in a zone, by zone, µm.
    pub(crate) zone_limit_um: BTreeMap<String, f64>,
    /// Steel that may go where neither plan nor agreement says so, g.
    pub(crate) steel_limit_g: Option<f64>,
    /// Which pits the plan clears.
    pub(crate) pits: Pits,
    /// How deep the other pits of a field are.
    pub(crate) field_depths: FieldDepths,
}

const ALLOWED: &[&str] = &[
    "scratch_per_d50",
    "scratch_per_d50_half_width",
    "damage_per_scratch",
    "damage_per_scratch_half_width",
    "least_ratio",
    "greatest_ratio",
    "ratio_breach_minutes",
    "change_minutes",
    "fairing_mm",
    "rate_area_mm2",
    "unknown_rate_um_per_min",
    "unknown_rate_power",
    "unknown_rate_factor",
    "drift_per_pass",
    "scatter_per_pass",
    "surface_depth_um",
    "surface_depth_percent",
    "surface_model_percent",
    "target_d50_um",
    "zone_limit_um",
    "steel_limit_g",
    "pits",
    "field_depths",
];

impl Default for Settings {
    fn default() -> Self {
        Self {
            scratch_per_d50: 0.3,
            scratch_per_d50_half_width: 0.05,
            damage_per_scratch: 3.0,
            damage_per_scratch_half_width: 1.0,
            least_ratio: 1.5,
            greatest_ratio: 2.5,
            ratio_breach_minutes: 30.0,
            change_minutes: 10.0,
            fairing_mm: 40.0,
            rate_area_mm2: 1_000.0,
            unknown_rate_um_per_min: 0.7,
            unknown_rate_power: 0.5,
            unknown_rate_factor: 2.5,
            drift_per_pass: 0.07,
            scatter_per_pass: 0.12,
            surface_depth_um: BTreeMap::new(),
            surface_depth_percent: 50.0,
            surface_model_percent: 5.0,
            target_d50_um: None,
            zone_limit_um: BTreeMap::new(),
            steel_limit_g: None,
            pits: Pits::Knee,
            field_depths: FieldDepths::Even,
        }
    }
}

impl Settings {
    /// Reads the settings object.
    ///
    /// # Errors
    /// A refusal that names the setting, what was found and what is allowed.
    pub(crate) fn read(value: &Value) -> Result<Self, Refusal> {
        let set: Self = read("abrasives", value, ALLOWED)?;
        for (name, value, least, most, unit) in [
            ("scratch_per_d50", set.scratch_per_d50, 0.01, 2.0, ""),
            (
                "scratch_per_d50_half_width",
                set.scratch_per_d50_half_width,
                0.0,
                set.scratch_per_d50,
                "",
            ),
            ("damage_per_scratch", set.damage_per_scratch, 0.0, 20.0, ""),
            (
                "damage_per_scratch_half_width",
                set.damage_per_scratch_half_width,
                0.0,
                set.damage_per_scratch,
                "",
            ),
            ("least_ratio", set.least_ratio, 1.0, 10.0, ""),
            (
                "greatest_ratio",
                set.greatest_ratio,
                set.least_ratio,
                20.0,
                "",
            ),
            (
                "ratio_breach_minutes",
                set.ratio_breach_minutes,
                0.0,
                1e4,
                "min",
            ),
            ("change_minutes", set.change_minutes, 0.0, 600.0, "min"),
            ("fairing_mm", set.fairing_mm, 0.0, 500.0, "mm"),
            ("rate_area_mm2", set.rate_area_mm2, 1.0, 1e6, "mm2"),
            (
                "unknown_rate_um_per_min",
                set.unknown_rate_um_per_min,
                1e-3,
                1e3,
                "um/min",
            ),
            ("unknown_rate_power", set.unknown_rate_power, 0.0, 3.0, ""),
            (
                "unknown_rate_factor",
                set.unknown_rate_factor,
                1.01,
                20.0,
                "",
            ),
            ("drift_per_pass", set.drift_per_pass, 0.0, 1.0, ""),
            ("scatter_per_pass", set.scatter_per_pass, 0.01, 1.0, ""),
            (
                "surface_depth_percent",
                set.surface_depth_percent,
                0.0,
                100.0,
                "%",
            ),
            (
                "surface_model_percent",
                set.surface_model_percent,
                0.0,
                50.0,
                "%",
            ),
            (
                "target_d50_um",
                set.target_d50_um.unwrap_or(1.0),
                0.05,
                500.0,
                "um",
            ),
            (
                "steel_limit_g",
                set.steel_limit_g.unwrap_or(1.0),
                0.001,
                1e4,
                "g",
            ),
        ] {
            within(name, value, least, most, unit)?;
        }
        let grades: Vec<&str> = SurfaceGrade::ALL.iter().map(|one| one.key()).collect();
        let zones: Vec<&str> = Zone::ALL
            .iter()
            .filter(|one| **one != Zone::Tang)
            .map(|one| one.key())
            .collect();
        keys("surface_depth_um", &set.surface_depth_um, &grades)?;
        keys("zone_limit_um", &set.zone_limit_um, &zones)?;
        Ok(set)
    }

    /// How rates wander.
    pub(crate) fn wandering(&self) -> Wandering {
        Wandering {
            drift: self.drift_per_pass,
            scatter: self.scatter_per_pass,
        }
    }

    /// Depth over the whole surface that goes with a grade, µm.
    ///
    /// Source: this tool's own guesses, for want of a published table.
    pub(crate) fn surface_depth(&self, grade: SurfaceGrade) -> f64 {
        self.surface_depth_um
            .get(grade.key())
            .copied()
            .unwrap_or(match grade {
                SurfaceGrade::FullPolish => 0.0,
                SurfaceGrade::WornPolish => 3.0,
                SurfaceGrade::StainedOrScratched => 8.0,
                SurfaceGrade::Rusted => 15.0,
                SurfaceGrade::DeeplyRusted => 30.0,
            })
    }
}

fn keys(name: &str, found: &BTreeMap<String, f64>, allowed: &[&str]) -> Result<(), Refusal> {
    for (key, value) in found {
        if !allowed.contains(&key.as_str()) {
            return Err(Refusal::new(format!(
                "setting `{name}` has the member `{}`; allowed are {}",
                tangmark_author::words::cut(&tangmark_author::words::one_line(key), 40),
                allowed.join(", ")
            )));
        }
        within(&format!("{name}.{key}"), *value, 0.0, 1_000.0, "um")?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use serde_json::json;

    #[test]
    fn defaults_hold_and_members_are_read() {
        assert_eq!(Settings::read(&json!({})).unwrap(), Settings::default());
        let set =
            Settings::read(&json!({"surface_depth_um": {"rusted": 22}, "pits": "all"})).unwrap();
        assert!((set.surface_depth(SurfaceGrade::Rusted) - 22.0).abs() < 1e-12);
        assert!((set.surface_depth(SurfaceGrade::WornPolish) - 3.0).abs() < 1e-12);
        assert_eq!(set.pits, Pits::All);
    }

    #[test]
    fn what_is_wrong_is_named_with_its_limits() {
        let said = |value: Value| Settings::read(&value).unwrap_err().to_string();
        assert_eq!(
            said(json!({"fairing_mm": -1})),
            "setting `fairing_mm` is -1 mm; 0 to 500 mm is allowed"
        );
        assert_eq!(
            said(json!({"least_ratio": 2.0, "greatest_ratio": 1.5})),
            "setting `greatest_ratio` is 1.5; 2 to 20 is allowed"
        );
        assert_eq!(
            said(json!({"zone_limit_um": {"tang": 1}})),
            "setting `zone_limit_um` has the member `tang`; allowed are edge, ground, ridge, back, point"
        );
        assert_eq!(
            said(json!({"surface_depth_um": {"rusted": 1e9}})),
            "setting `surface_depth_um.rusted` is 1000000000 um; 0 to 1000 um is allowed"
        );
        assert!(said(json!({"acid": true})).contains("unknown field `acid`"));
        assert!(said(json!({"pits": "some"})).contains("`knee`"));
    }
}
