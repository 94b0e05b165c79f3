//! What the user may set.

use serde::Deserialize;
use serde_json::Value;

/// Settings, each with a default.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(crate) struct Settings {
    /// A blade made before this year counts as early.
    pub(crate) early_before_year: u16,
    /// A chip deeper than this share of the temper line's local width is a caution.
    pub(crate) chip_share_of_temper: f64,
    /// Share of a limit, guard included, from which a caution says that it is near.
    pub(crate) near_share_of_limit: f64,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            early_before_year: 1600,
            chip_share_of_temper: 0.33,
            near_share_of_limit: 0.8,
        }
    }
}

impl Settings {
    /// Reads the settings object; the error says which member is wrong.
    pub(crate) fn read(settings: &Value) -> Result<Self, String> {
        let read: Self = serde_json::from_value(settings.clone()).map_err(|error| {
            format!(
                "the settings of triage cannot be read: {error}; early_before_year, chip_share_of_temper and \
                 near_share_of_limit are allowed"
            )
        })?;
        for (name, share) in [
            ("chip_share_of_temper", read.chip_share_of_temper),
            ("near_share_of_limit", read.near_share_of_limit),
        ] {
            if !(0.0..=1.0).contains(&share) {
                return Err(format!("setting `{name}` is {share}, 0 to 1 is allowed"));
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
    fn defaults_hold_where_nothing_is_set() {
        assert_eq!(Settings::read(&json!({})).unwrap(), Settings::default());
        assert_eq!(
            Settings::read(&json!({ "early_before_year": 1500 }))
                .unwrap()
                .early_before_year,
            1500
        );
    }

    #[test]
    fn wrong_settings_are_refused() {
        assert_eq!(
            Settings::read(&json!({ "chip_share_of_temper": 33.0 })).unwrap_err(),
            "setting `chip_share_of_temper` is 33, 0 to 1 is allowed"
        );
        let unknown = Settings::read(&json!({ "early_year": 1500 })).unwrap_err();
        assert!(
            unknown
                .starts_with("the settings of triage cannot be read: unknown field `early_year`"),
            "{unknown}"
        );
    }
}
