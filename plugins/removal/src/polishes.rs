//! How many full polishes are left at the rate so far, as an interval.

use tangmark_measure::Estimate;

use crate::remaining::LEFT_COVERAGE;
use tangmark_measure::reading::{Reading, Term, difference, sum};

/// Polishes beyond which the interval counts as open.
const MANY: f64 = 1_000.0;

/// What is known of the thinnest station.
#[derive(Clone, Debug)]
pub(crate) struct Record {
    /// Thickness before the first full polish, mm.
    pub(crate) before: Reading,
    /// Thickness after the last.
    pub(crate) after: Reading,
    /// Full polishes in between, at least one.
    pub(crate) polishes: usize,
    /// Thinnest admitted, mm.
    pub(crate) limit: Estimate,
    /// Standard deviation of what one polish takes, as a share of the mean.
    pub(crate) spread: f64,
    /// How much of a polish's deviation from the mean the next one keeps, 0 to below 1.
    pub(crate) memory: f64,
    /// Correlation of the gauge's error between sessions.
    pub(crate) repeats: f64,
}

/// Polishes left.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Left {
    /// Lower end, at least 0.
    pub(crate) least: f64,
    /// Upper end; `None` where the rate so far cannot be told from nothing.
    pub(crate) most: Option<f64>,
}

impl Record {
    /// What is left after `more` polishes at the mean rate so far, mm, with its standard uncertainty.
    ///
    /// A linear function of the two readings, (t₁ − L) − (N/n)(t₀ − t₁), whose errors are correlated. To its variance comes
    /// that of what the polishes to come take beside N times the past mean, as a chain in which each keeps a share of the
    /// deviation before it. Rates vary in proportion to themselves, so their scale is the geometric mean of the rate so far
    /// and the one that would use up what is left in N: the interval is then that of the logarithm of the ratio.
    ///
    /// Source: variance of sums of a first-order autoregressive series, from memory; the tests sum it term by term.
    fn after_more(&self, more: f64) -> Estimate {
        let count = self.polishes as f64;
        let term = |coefficient, reading, session| Term {
            coefficient,
            reading,
            session,
        };
        let readings = [
            term(1.0 + more / count, &self.after, 1),
            term(-more / count, &self.before, 0),
        ];
        let left = sum(&readings, self.repeats);
        let rate = (self.before.value - self.after.value) / count;
        let margin = left.value - self.limit.value + more * rate;
        // Stones take and never give; and where the rate itself is in doubt, its mean square carries the spread.
        let taken = rate.max(0.0);
        let doubt = difference(&self.before, &self.after, self.repeats).standard_uncertainty;
        let scale = if more > 0.0 {
            (taken.hypot(doubt / count) * margin.max(0.0) / more).sqrt()
        } else {
            0.0
        };
        let each = libm::log1p(self.spread * self.spread).sqrt() * scale;
        let ahead = chained(self.memory, more);
        let past = (more / count).powi(2) * chained(self.memory, count);
        let shared = 2.0 * more / count * carried(self.memory, count, more);
        Estimate::new(margin - more * taken, left.standard_uncertainty)
            .with_added(self.limit.standard_uncertainty)
            .with_added(each * (past + ahead - shared).max(0.0).sqrt())
    }

    /// Returns the interval: every N for which nothing may be left within k = 2.
    ///
    /// Source: Fieller's argument for the interval of a ratio, from memory.
    pub(crate) fn left(&self) -> Left {
        let lower = |more: f64| {
            let left = self.after_more(more);
            left.value - LEFT_COVERAGE * left.standard_uncertainty
        };
        let upper = |more: f64| {
            let left = self.after_more(more);
            left.value + LEFT_COVERAGE * left.standard_uncertainty
        };
        Left {
            least: root(lower).unwrap_or(MANY),
            most: root(upper),
        }
    }
}

/// Variance of the sum of `count` links of a chain with variance 1 that keeps `memory` from one to the next. Below one
/// link it is the square: a part of a polish goes as that polish does.
fn chained(memory: f64, count: f64) -> f64 {
    if count < 1.0 {
        return count * count;
    }
    let rest = 1.0 - memory;
    count * (1.0 + memory) / rest - 2.0 * memory * (1.0 - libm::pow(memory, count)) / (rest * rest)
}

/// Covariance of the sums of the last `count` links and of the `more` to come.
fn carried(memory: f64, count: f64, more: f64) -> f64 {
    let rest = 1.0 - memory;
    memory * (1.0 - libm::pow(memory, count)) * (1.0 - libm::pow(memory, more)) / (rest * rest)
}

/// Where a function that starts above zero comes down to it; 0 where it starts below, `None` beyond [`MANY`].
fn root(function: impl Fn(f64) -> f64) -> Option<f64> {
    if function(0.0) <= 0.0 {
        return Some(0.0);
    }
    let mut high = 0.25;
    while function(high) > 0.0 {
        high *= 2.0;
        if high > MANY {
            return None;
        }
    }
    let mut low = if high > 0.25 { high / 2.0 } else { 0.0 };
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if function(middle) > 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(low)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn reading(value: f64, own: f64) -> Reading {
        Reading {
            value,
            own,
            limit: 0.0,
            step: 0.0,
            repeated: false,
            instrument: Some("micrometer".to_owned()),
        }
    }

    fn record(before: f64, after: f64, limit: f64, own: f64, spread: f64) -> Record {
        Record {
            before: reading(before, own),
            after: reading(after, own),
            polishes: 2,
            limit: Estimate::exact(limit),
            spread,
            memory: 0.0,
            repeats: 0.5,
        }
    }

    /// By hand: 0.1 mm in two polishes, 0.2 mm left: four polishes.
    #[test]
    fn without_doubt_the_interval_is_a_number() {
        let left = record(6.1, 6.0, 5.8, 0.0, 0.0).left();
        assert!((left.least - 4.0).abs() < 1e-9);
        assert!((left.most.unwrap_or(0.0) - 4.0).abs() < 1e-9);
    }

    /// By hand: σ = √ln 1.09 = 0.2936; 0.2 − 0.05 N = ± 2σ·√(0.05·0.2/N)·√(N²/2 + N) = ± 0.05872·√(N/2 + 1): 0.0860 and
    /// 0.0859 at N = 2.28; −0.1205 and −0.1204 at N = 6.41.
    #[test]
    fn spread_alone_widens_it() {
        let left = record(6.1, 6.0, 5.8, 0.0, 0.3).left();
        assert!((2.27..2.29).contains(&left.least), "{left:?}");
        assert!(
            left.most.is_some_and(|most| (6.39..6.43).contains(&most)),
            "{left:?}"
        );
    }

    /// Sums the correlations memory^|i − j| one by one.
    #[test]
    fn chains_sum_as_term_by_term() {
        let memory: f64 = 0.4;
        let mut square = 0.0;
        let mut across = 0.0;
        for i in 0..3_i32 {
            for j in 0..3_i32 {
                square += memory.powi((i - j).abs());
            }
            for j in 3..8_i32 {
                across += memory.powi(j - i);
            }
        }
        assert!((chained(memory, 3.0) - square).abs() < 1e-12);
        assert!((carried(memory, 3.0, 5.0) - across).abs() < 1e-12);
        assert!((chained(0.0, 3.0) - 3.0).abs() < 1e-12 && carried(0.0, 3.0, 5.0).abs() < 1e-12);
        assert!(
            (chained(memory, 1.0) - 1.0).abs() < 1e-12,
            "the two forms meet at one link"
        );
    }

    #[test]
    fn a_rate_that_may_be_nothing_has_no_upper_end() {
        let left = record(6.01, 6.0, 5.8, 0.02, 0.3).left();
        assert_eq!(left.most, None);
        assert!(left.least > 0.5);
        let spent = record(6.1, 5.7, 5.8, 0.001, 0.3).left();
        assert_eq!(
            spent,
            Left {
                least: 0.0,
                most: Some(0.0)
            }
        );
    }

    /// A gauge that shows a gain says nothing of a gain: the lower end stays where a rate within its doubt would put it. By
    /// hand without spread: 0.2 = 2·0.02·√((1 + N/2)² + N²/4) at N = 6.0; the spread lowers it.
    #[test]
    fn readings_that_grew_promise_nothing() {
        let plain = record(5.99, 6.0, 5.8, 0.02, 0.0).left();
        assert_eq!(plain.most, None);
        assert!((plain.least - 6.0).abs() < 0.01, "{plain:?}");
        let spread = record(5.99, 6.0, 5.8, 0.02, 0.3).left();
        assert!((3.0..6.0).contains(&spread.least), "{spread:?}");
    }

    proptest! {
        #[test]
        fn the_interval_holds_the_plain_ratio(loss in 0.02..0.5_f64, margin in 0.05..1.0_f64, own in 0.0..0.005_f64, spread in 0.0..0.5_f64) {
            let record = record(6.0 + loss, 6.0, 6.0 - margin, own, spread);
            let plain = margin / (loss / 2.0);
            let left = record.left();
            prop_assert!(left.least <= plain + 1e-6);
            prop_assert!(left.most.is_none_or(|most| most >= plain - 1e-6));
        }

        #[test]
        fn the_unit_does_not_matter(loss in 0.02..0.5_f64, margin in 0.05..1.0_f64, own in 0.0..0.005_f64, scale in 0.1..10.0_f64) {
            let one = record(6.0 + loss, 6.0, 6.0 - margin, own, 0.3).left();
            let other = record((6.0 + loss) * scale, 6.0 * scale, (6.0 - margin) * scale, own * scale, 0.3).left();
            prop_assert!((one.least - other.least).abs() < 1e-6);
        }
    }
}
