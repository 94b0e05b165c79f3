//! What the user may set.

use serde::Deserialize;
use serde_json::Value;
use tangmark_author::settings::{read, within};
use tangmark_plugin::Refusal;

use crate::rules::flaws::UseCase;

/// Names of the settings, for errors.
const NAMES: &[&str] = &[
    "use_case (strictest, cutting, display, study)",
    "early_before_year",
    "chip_share_of_temper",
    "near_share_of_limit",
    "[[rule]]",
];

/// Settings, each with a default.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(crate) struct Settings {
    /// What the blade is for; not said, the strictest convention holds.
    pub(crate) use_case: UseCase,
    /// A blade made before this year counts as early.
    pub(crate) early_before_year: u16,
    /// A chip deeper than this share of the temper line's local width is a caution.
    pub(crate) chip_share_of_temper: f64,
    /// Share of a limit, guard included, from which it counts as near.
    pub(crate) near_share_of_limit: f64,
    /// The user's own rules, not yet read.
    pub(crate) rule: Vec<Value>,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            use_case: UseCase::Strictest,
            early_before_year: 1600,
            chip_share_of_temper: 0.33,
            near_share_of_limit: 0.8,
            rule: Vec::new(),
        }
    }
}

impl Settings {
    /// Reads the settings object; the error says which member is wrong.
    pub(crate) fn read(settings: &Value) -> Result<Self, Refusal> {
        let found: Self = read("triage", settings, NAMES)?;
        within(
            "chip_share_of_temper",
            found.chip_share_of_temper,
            0.0,
            1.0,
            "",
        )?;
        within(
            "near_share_of_limit",
            found.near_share_of_limit,
            0.1,
            1.0,
            "",
        )?;
        within(
            "early_before_year",
            f64::from(found.early_before_year),
            1.0,
            3000.0,
            "",
        )?;
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
        let set = Settings::read(&json!({ "early_before_year": 1500, "use_case": "display" }));
        let set = set.unwrap();
        assert_eq!(
            (set.early_before_year, set.use_case),
            (1500, UseCase::Display)
        );
    }

    #[test]
    fn wrong_settings_are_refused() {
        let said = |settings: Value| Settings::read(&settings).unwrap_err().to_string();
        assert_eq!(
            said(json!({ "chip_share_of_temper": 33.0 })),
            "setting `chip_share_of_temper` is 33; 0 to 1 is allowed"
        );
        for (settings, part) in [
            (json!({ "early_year": 1500 }), "unknown field `early_year`"),
            (
                json!({ "use_case": "sport" }),
                "unknown variant `sport`, expected one of `strictest`",
            ),
            (json!({ "near_share_of_limit": 0.0 }), "0.1 to 1 is allowed"),
            (json!({ "rule": 7 }), "expected a sequence"),
        ] {
            let said = said(settings);
            assert!(said.contains(part), "{said}");
        }
    }
}
