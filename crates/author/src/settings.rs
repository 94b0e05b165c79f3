//! What the user set for a plugin.

use serde::de::DeserializeOwned;
use serde_json::Value;
use tangmark_plugin::Refusal;

/// Reads the settings object into a struct with `#[serde(default, deny_unknown_fields)]`.
///
/// # Errors
/// A refusal that names the plugin, what is wrong, and the settings that are allowed.
pub fn read<T: DeserializeOwned>(
    plugin: &str,
    settings: &Value,
    allowed: &[&str],
) -> Result<T, Refusal> {
    T::deserialize(settings).map_err(|error| {
        Refusal::new(format!(
            "the settings of {plugin} cannot be read: {error}; allowed are {}",
            allowed.join(", ")
        ))
    })
}

/// Tells whether a setting lies within its limits; `unit` may be empty.
///
/// # Errors
/// A refusal that names the setting, what was found and what is allowed.
pub fn within(name: &str, value: f64, least: f64, most: f64, unit: &str) -> Result<f64, Refusal> {
    if (least..=most).contains(&value) {
        return Ok(value);
    }
    let space = if unit.is_empty() { "" } else { " " };
    Err(Refusal::new(format!(
        "setting `{name}` is {value}{space}{unit}; {least} to {most}{space}{unit} is allowed"
    )))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use serde::Deserialize;
    use serde_json::json;

    #[derive(Debug, Default, Deserialize)]
    #[serde(default, deny_unknown_fields)]
    struct Example {
        share: f64,
    }

    #[test]
    fn what_is_wrong_is_named() {
        let read = |value: Value| super::read::<Example>("example", &value, &["share"]);
        assert!((read(json!({"share": 0.5})).unwrap().share - 0.5).abs() < 1e-12);
        let error = read(json!({"shares": 1})).unwrap_err().to_string();
        assert!(
            error.starts_with("the settings of example cannot be read: unknown field `shares`")
                && error.ends_with("allowed are share"),
            "{error}"
        );
        assert_eq!(
            within("share", 33.0, 0.0, 1.0, "").unwrap_err().to_string(),
            "setting `share` is 33; 0 to 1 is allowed"
        );
        assert_eq!(
            within("gap", f64::NAN, 0.0, 2.0, "mm")
                .unwrap_err()
                .to_string(),
            "setting `gap` is NaN mm; 0 to 2 mm is allowed"
        );
    }
}
