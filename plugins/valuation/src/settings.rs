//! What the user may set.

use serde::Deserialize;
use serde_json::Value;
use tangmark_author::settings::{read, within};
use tangmark_core::record::{BladeKind, PartialDate, SurfaceGrade, ValueBasis};
use tangmark_plugin::Refusal;

use crate::features::Feature;

/// Names of the settings, for errors.
const ALLOWED: &[&str] = &[
    "as_of",
    "bases",
    "consumables",
    "currency",
    "features",
    "finished_condition",
    "hour_rate",
    "hours",
    "hours_doubt_percent",
    "kinds",
    "least_rows",
    "nearest",
    "old_after_years",
    "risk_loss",
    "risk_share",
];

/// Settings, each with a default.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(crate) struct Settings {
    /// Day the price is for; left out: the day of the check.
    as_of: Option<PartialDate>,
    /// Currency of the estimate; left out: that of the comparables.
    pub(crate) currency: Option<String>,
    /// Features of the regression.
    pub(crate) features: Vec<Feature>,
    /// Kinds of blades to take; empty: every kind.
    pub(crate) kinds: Vec<BladeKind>,
    /// Bases to take; empty: every basis.
    pub(crate) bases: Vec<ValueBasis>,
    /// Least number of comparables.
    pub(crate) least_rows: usize,
    /// Comparables older than this are said to be old, years.
    pub(crate) old_after_years: f64,
    /// How many of the nearest comparables are listed.
    pub(crate) nearest: usize,
    /// Condition of the surface after the work.
    pub(crate) finished_condition: SurfaceGrade,
    /// Hours the work takes; left out: the sum of the plan.
    pub(crate) hours: Option<f64>,
    /// Half-width of the doubt of the hours, per cent.
    pub(crate) hours_doubt_percent: f64,
    /// Price of an hour, in the currency; left out: the work is not judged.
    pub(crate) hour_rate: Option<f64>,
    /// Price of the consumables, in the currency.
    pub(crate) consumables: f64,
    /// Chance that the work goes wrong, 0 to 1.
    pub(crate) risk_share: f64,
    /// Share of the present price that is lost then, 0 to 1.
    pub(crate) risk_loss: f64,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            as_of: None,
            currency: None,
            features: vec![
                Feature::Length,
                Feature::Condition,
                Feature::Signed,
                Feature::Papers,
                Feature::Date,
            ],
            kinds: Vec::new(),
            bases: Vec::new(),
            least_rows: 12,
            old_after_years: 10.0,
            nearest: 5,
            finished_condition: SurfaceGrade::FullPolish,
            hours: None,
            hours_doubt_percent: 25.0,
            hour_rate: None,
            consumables: 0.0,
            risk_share: 0.0,
            risk_loss: 1.0,
        }
    }
}

impl Settings {
    /// Reads and checks the settings object.
    pub(crate) fn read(settings: &Value) -> Result<Self, Refusal> {
        let read: Self = read("valuation", settings, ALLOWED)?;
        if let Some(currency) = &read.currency
            && !is_currency(currency)
        {
            return Err(Refusal::new(format!(
                "setting `currency` is `{currency}`; three capital letters (ISO 4217) are allowed, such as \"EUR\""
            )));
        }
        if read.features.is_empty() {
            return Err(Refusal::new(
                "setting `features` is empty; name one feature or more, such as [\"length\", \"condition\"]",
            ));
        }
        for (index, feature) in read.features.iter().enumerate() {
            if read.features[..index].contains(feature) {
                return Err(Refusal::new(format!(
                    "setting `features` names `{}` twice; once is allowed",
                    feature.name()
                )));
            }
        }
        let count = |name: &str, value: usize, least: f64, most: f64| {
            within(name, value as f64, least, most, "")
        };
        count("least_rows", read.least_rows, 6.0, 1000.0)?;
        count("nearest", read.nearest, 0.0, 50.0)?;
        within("old_after_years", read.old_after_years, 0.5, 200.0, "years")?;
        within(
            "hours_doubt_percent",
            read.hours_doubt_percent,
            0.0,
            100.0,
            "%",
        )?;
        within("consumables", read.consumables, 0.0, 1e7, "")?;
        within("risk_share", read.risk_share, 0.0, 1.0, "")?;
        within("risk_loss", read.risk_loss, 0.0, 1.0, "")?;
        if let Some(hours) = read.hours {
            within("hours", hours, 0.0, 10_000.0, "h")?;
        }
        if let Some(rate) = read.hour_rate {
            within("hour_rate", rate, 0.0, 1e6, "")?;
        }
        Ok(read)
    }

    /// Returns the day the price is for: the one that is set, else the day of the check.
    pub(crate) fn as_of(&self, now: &str) -> Result<PartialDate, Refusal> {
        match &self.as_of {
            Some(day) => Ok(day.clone()),
            None => now.get(..10).unwrap_or(now).parse().map_err(|error| {
                Refusal::new(format!("the moment of the check cannot be read: {error}"))
            }),
        }
    }
}

/// Tells whether a text has the form of a currency code.
pub(crate) fn is_currency(text: &str) -> bool {
    text.len() == 3 && text.bytes().all(|byte| byte.is_ascii_uppercase())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use serde_json::json;

    #[test]
    fn wrong_settings_are_refused_with_what_is_allowed() {
        assert_eq!(Settings::read(&json!({})).unwrap(), Settings::default());
        for (settings, said) in [
            (
                json!({"currency": "euro"}),
                "setting `currency` is `euro`; three capital letters",
            ),
            (json!({"features": []}), "setting `features` is empty"),
            (
                json!({"features": ["date", "date"]}),
                "setting `features` names `date` twice",
            ),
            (json!({"features": ["colour"]}), "unknown variant `colour`"),
            (
                json!({"least_rows": 3}),
                "setting `least_rows` is 3; 6 to 1000 is allowed",
            ),
            (
                json!({"risk_share": 1.5}),
                "setting `risk_share` is 1.5; 0 to 1 is allowed",
            ),
            (
                json!({"hours": -1}),
                "setting `hours` is -1 h; 0 to 10000 h is allowed",
            ),
            (json!({"price": 1}), "unknown field `price`"),
            (json!({"as_of": "soon"}), "`soon` is not a date"),
        ] {
            let error = Settings::read(&settings).unwrap_err().to_string();
            assert!(error.contains(said), "{error}");
        }
    }

    #[test]
    fn the_day_is_kept() {
        let set = Settings::read(&json!({"as_of": "2025-12"})).unwrap();
        assert_eq!(
            set.as_of("2026-06-01T00:00:00Z").unwrap().as_str(),
            "2025-12"
        );
        let plain = Settings::default();
        assert_eq!(
            plain.as_of("2026-06-01T00:00:00Z").unwrap().as_str(),
            "2026-06-01"
        );
        assert!(plain.as_of("today").is_err());
    }
}
