//! Readings taken apart into what repeats from one to the next and what does not.

use std::collections::BTreeMap;

use tangmark_core::record::{AsRead, Instrument, Quantity, UncertaintyBasis};
use tangmark_core::units::Dimension;
use tangmark_core::units::reading::read_signed;

use crate::Estimate;

/// Correlation of a scale's error of indication between two weighings, unless better is known.
///
/// Source: this tool's own assumption: a bench scale keeps most of its error from day to day.
pub const SCALE_REPEATS: f64 = 0.8;

/// Correlation of a length gauge's error of indication between two sessions, unless better is known.
///
/// Source: this tool's own assumption.
pub const GAUGE_REPEATS: f64 = 0.5;

/// A reading, in the unit of its quantity.
///
/// Its variance is that of the reading alone (step, repeats) plus that of the instrument's error of indication, which
/// is the same or nearly so when the same instrument reads again.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// Value.
    pub value: f64,
    /// Standard uncertainty that no other reading shares.
    pub own: f64,
    /// Standard uncertainty from the instrument's limit of error.
    pub limit: f64,
    /// Step of the reading.
    pub step: f64,
    /// It is the mean of several readings, whose spread is in `own` already.
    pub repeated: bool,
    /// Key of the instrument with the day of its last check: a scale that was adjusted in between is another one.
    pub instrument: Option<String>,
}

impl Reading {
    /// Takes a quantity apart; `instruments` are those of the sheet or record that holds it.
    ///
    /// A stated uncertainty, or one from the step alone, shares nothing: that errs to the side of more doubt.
    pub fn of(quantity: &Quantity, instruments: &[Instrument]) -> Self {
        let dimension = quantity.unit.dimension();
        let known = quantity
            .instrument
            .as_ref()
            .and_then(|key| instruments.iter().find(|one| one.id == *key));
        let step = quantity
            .as_read
            .iter()
            .filter_map(|one| read(&one.text, dimension).map(|(_, step)| step))
            .fold(f64::INFINITY, f64::min);
        let step = if step.is_finite() { step } else { 0.0 };
        // A vernier of 0.05 mm is written to 0.01 mm: the instrument's own step holds where it is coarser.
        let shown = known.and_then(|one| read(&one.resolution.text, dimension));
        let step = shown.map_or(step, |(resolution, _)| resolution.max(step));
        let variance = quantity.standard().powi(2);
        let stated_limit = known
            .and_then(|one| one.limit_of_error.as_ref())
            .and_then(|limit: &AsRead| read(&limit.text, dimension))
            .map(|(limit, _)| limit * limit / 3.0);
        let from_limit = match quantity.uncertainty_from {
            UncertaintyBasis::Instrument => {
                stated_limit.unwrap_or_else(|| (variance - step * step / 12.0).max(0.0))
            }
            UncertaintyBasis::Readings => stated_limit.map_or(0.0, |one| one.min(variance)),
            UncertaintyBasis::Resolution | UncertaintyBasis::Stated => 0.0,
        };
        let own = match quantity.uncertainty_from {
            UncertaintyBasis::Instrument => step * step / 12.0,
            UncertaintyBasis::Resolution => variance.max(step * step / 12.0),
            UncertaintyBasis::Readings | UncertaintyBasis::Stated => {
                (variance - from_limit).max(0.0)
            }
        };
        let instrument = quantity.instrument.as_ref().map(|key| {
            let checked = known.and_then(|one| one.calibrated_on.as_ref());
            checked.map_or_else(|| key.to_string(), |day| format!("{key} of {day}"))
        });
        Self {
            value: quantity.to_f64(),
            own: own.sqrt(),
            limit: from_limit.sqrt(),
            step,
            repeated: quantity.uncertainty_from == UncertaintyBasis::Readings,
            instrument,
        }
    }

    /// Adds a further standard uncertainty that no other reading shares.
    #[must_use]
    pub fn with_own(mut self, added: f64) -> Self {
        self.own = self.own.hypot(added);
        self
    }

    /// A weighing: adds how well the scale repeats, in g as a standard deviation; one step of the scale where that is not
    /// known. Readings that were repeated hold it already.
    #[must_use]
    pub fn weighed(self, repeatability: Option<f64>) -> Self {
        let added = match (repeatability, self.repeated) {
            (_, true) => 0.0,
            (Some(known), false) => known,
            (None, false) => self.step,
        };
        self.with_own(added)
    }

    /// The reading by itself.
    pub fn estimate(&self) -> Estimate {
        Estimate::new(self.value, self.own.hypot(self.limit))
    }
}

/// Value and step of a text, in the record's unit.
fn read(text: &str, dimension: Dimension) -> Option<(f64, f64)> {
    let reading = read_signed(text, dimension).ok()?;
    let limit = tangmark_core::units::Decimal::from_ratio_half_even(&reading.exact, 9).ok()?;
    let step = tangmark_core::units::Decimal::from_ratio_half_even(&reading.resolution, 9).ok()?;
    Some((limit.to_f64(), step.to_f64()))
}

/// A reading in a sum: its coefficient, and the session in which it was taken.
#[derive(Clone, Copy, Debug)]
pub struct Term<'a> {
    /// Coefficient.
    pub coefficient: f64,
    /// Reading.
    pub reading: &'a Reading,
    /// Readings of one instrument in one session have the same error of indication.
    pub session: usize,
}

/// Sums readings, each with its coefficient. `repeats` is the correlation (0 to 1) of an instrument's error of
/// indication between two sessions; within a session it is 1, between instruments 0.
///
/// Source: JCGM 100:2008, 5.2.2, equation (13), with the covariance of F.1.2.3 (the same instrument used for both), from
/// memory.
pub fn sum(terms: &[Term<'_>], repeats: f64) -> Estimate {
    let value = terms
        .iter()
        .map(|term| term.coefficient * term.reading.value)
        .sum();
    let mut variance: f64 = terms
        .iter()
        .map(|term| (term.coefficient * term.reading.own).powi(2))
        .sum();
    let mut instruments: BTreeMap<&str, BTreeMap<usize, f64>> = BTreeMap::new();
    for term in terms {
        let carried = term.coefficient * term.reading.limit;
        match &term.reading.instrument {
            Some(name) => {
                let sessions = instruments.entry(name).or_default();
                *sessions.entry(term.session).or_default() += carried;
            }
            None => variance += carried * carried,
        }
    }
    for sessions in instruments.values() {
        let all: f64 = sessions.values().sum();
        let apart: f64 = sessions.values().map(|one| one * one).sum();
        variance += repeats * all * all + (1.0 - repeats) * apart;
    }
    Estimate::new(value, variance.max(0.0).sqrt())
}

/// First less second, taken in two sessions.
pub fn difference(first: &Reading, second: &Reading, repeats: f64) -> Estimate {
    let term = |coefficient, reading, session| Term {
        coefficient,
        reading,
        session,
    };
    sum(&[term(1.0, first, 0), term(-1.0, second, 1)], repeats)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use proptest::prelude::*;
    use serde_json::json;

    fn close(found: f64, expected: f64) {
        assert!((found - expected).abs() < 1e-9, "{found} is not {expected}");
    }

    fn reading(value: f64, own: f64, limit: f64, instrument: Option<&str>) -> Reading {
        Reading {
            value,
            own,
            limit,
            step: 0.0,
            repeated: false,
            instrument: instrument.map(str::to_owned),
        }
    }

    fn caliper() -> Vec<Instrument> {
        let instrument = json!({"id": "caliper", "name": "caliper",
            "resolution": {"text": "0.01 mm", "unit": "mm"}, "limit_of_error": {"text": "0.03 mm", "unit": "mm"}});
        vec![serde_json::from_value(instrument).unwrap()]
    }

    fn quantity(texts: &[&str], limit: Option<f64>, stated: Option<&str>) -> Quantity {
        let texts: Vec<String> = texts.iter().map(|one| (*one).to_owned()).collect();
        let mut made = Quantity::from_readings(&texts, Dimension::Length, stated, limit).unwrap();
        made.instrument = Some(serde_json::from_value(json!("caliper")).unwrap());
        made
    }

    #[test]
    fn a_quantity_comes_apart_into_step_and_limit() {
        let one = Reading::of(&quantity(&["7.12 mm"], Some(0.03), None), &caliper());
        close(one.own, 0.01 / 12.0_f64.sqrt());
        close(one.limit, 0.03 / 3.0_f64.sqrt());
        assert_eq!(one.instrument.as_deref(), Some("caliper"));
        // Without the instrument's entry the limit is what the step does not explain, from the rounded uncertainty.
        let alone = Reading::of(&quantity(&["7.12 mm"], Some(0.03), None), &[]);
        close(alone.own.hypot(alone.limit), 0.018);
        // Spread 0.01 of two readings 7.12 and 7.14: s/√2 = 0.01, and the step.
        let mean = Reading::of(
            &quantity(&["7.12 mm", "7.14 mm"], Some(0.03), None),
            &caliper(),
        );
        assert!(mean.repeated);
        assert!((mean.own - (0.02_f64.powi(2) - 0.0003).sqrt()).abs() < 2e-3);
        let stated = Reading::of(
            &quantity(&["7.12 mm"], Some(0.03), Some("0.05 mm")),
            &caliper(),
        );
        close(stated.own, 0.05);
        close(stated.limit, 0.0);
    }

    #[test]
    fn a_coarse_instrument_is_as_coarse_as_it_says() {
        let mut vernier = caliper();
        vernier[0].resolution.text = "0.05 mm".to_owned();
        let one = Reading::of(&quantity(&["7.15 mm"], Some(0.03), None), &vernier);
        close(one.step, 0.05);
        close(one.own, 0.05 / 12.0_f64.sqrt());
        let alone = Reading::of(&quantity(&["7.15 mm"], None, None), &vernier);
        close(alone.own, 0.05 / 12.0_f64.sqrt());
    }

    /// By hand: u² = 2·0.003² + 2·0.017²·(1 − r).
    #[test]
    fn what_repeats_cancels_in_a_difference() {
        let before = reading(7.12, 0.003, 0.017, Some("caliper"));
        let after = reading(7.08, 0.003, 0.017, Some("caliper"));
        for (repeats, expected) in [(0.0, 0.024_413_1), (0.5, 0.017_521_4), (1.0, 0.004_242_6)] {
            let found = difference(&before, &after, repeats);
            close(found.value, 0.04);
            assert!(
                (found.standard_uncertainty - expected).abs() < 1e-6,
                "{found:?}"
            );
        }
        let other = reading(7.08, 0.003, 0.017, Some("micrometer"));
        let unnamed = reading(7.08, 0.003, 0.017, None);
        for apart in [other, unnamed] {
            let found = difference(&before, &apart, 1.0);
            assert!((found.standard_uncertainty - 0.024_413_1).abs() < 1e-6);
        }
    }

    /// Two readings of one session share the whole error: their sum has twice it, their difference none.
    #[test]
    fn a_session_shares_its_error() {
        let one = reading(1.0, 0.0, 0.1, Some("caliper"));
        let term = |coefficient| Term {
            coefficient,
            reading: &one,
            session: 3,
        };
        close(sum(&[term(1.0), term(1.0)], 0.0).standard_uncertainty, 0.2);
        close(sum(&[term(1.0), term(-1.0)], 0.0).standard_uncertainty, 0.0);
        close(sum(&[], 0.5).standard_uncertainty, 0.0);
    }

    proptest! {
        #[test]
        fn a_difference_mirrors_and_more_repetition_never_adds_doubt(
            a in -10.0..10.0_f64, b in -10.0..10.0_f64, own in 0.0..0.1_f64, limit in 0.0..0.1_f64, r in 0.0..1.0_f64, more in 0.0..1.0_f64,
        ) {
            let (first, second) = (reading(a, own, limit, Some("x")), reading(b, own, limit, Some("x")));
            let (there, back) = (difference(&first, &second, r), difference(&second, &first, r));
            prop_assert!((there.value + back.value).abs() < 1e-12);
            prop_assert!((there.standard_uncertainty - back.standard_uncertainty).abs() < 1e-12);
            let tighter = difference(&first, &second, r + (1.0 - r) * more);
            prop_assert!(tighter.standard_uncertainty <= there.standard_uncertainty + 1e-12);
        }

        #[test]
        fn a_sum_scales_with_the_unit(own in 0.0..0.1_f64, limit in 0.0..0.1_f64, scale in 0.1..1000.0_f64) {
            let (small, large) = (reading(3.0, own, limit, Some("x")), reading(3.0 * scale, own * scale, limit * scale, Some("x")));
            let twin = |one: &Reading| difference(one, &one.clone(), 0.4).standard_uncertainty;
            prop_assert!((twin(&small) * scale - twin(&large)).abs() < 1e-9 * scale);
        }
    }
}
