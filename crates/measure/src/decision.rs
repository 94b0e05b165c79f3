//! An estimate against a limit.
//!
//! Source: JCGM 106:2012 (probability of conformity, guard bands), from memory.

use crate::Estimate;

/// Coverage factor of the two-sided comparison.
pub const COVERAGE: f64 = 2.0;

/// Guard factor of a one-sided comparison at 95 %.
///
/// Source: 95 % quantile of the standard normal distribution, 1.644 85, rounded; JCGM 106:2012, from memory.
pub const GUARD_95: f64 = 1.645;

/// Where an estimate lies against a limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Against {
    /// Below by more than U (k = 2).
    Below,
    /// Within U (k = 2) of the limit: the measurement cannot tell.
    Undecided,
    /// At the limit without uncertainty, or above by more than U (k = 2).
    Above,
}

/// Compares an estimate with a limit at k = 2. A value that equals the limit without uncertainty counts as above.
pub fn against(estimate: Estimate, limit: f64) -> Against {
    let expanded = COVERAGE * estimate.standard_uncertainty;
    if estimate.value + expanded < limit {
        Against::Below
    } else if estimate.value - expanded > limit || (expanded == 0.0 && estimate.value >= limit) {
        Against::Above
    } else {
        Against::Undecided
    }
}

/// Where an estimate lies against an interval that is allowed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Within {
    /// Below the interval by more than U (k = 2).
    Below,
    /// Inside by at least U (k = 2) on both sides.
    Inside,
    /// Within U (k = 2) of one of its ends: the measurement cannot tell.
    Undecided,
    /// Above the interval by more than U (k = 2).
    Above,
}

/// Compares an estimate with an interval that is allowed, guarded on both sides: it is inside only where it stays inside
/// by U (k = 2), and outside only where it is outside by more than U.
///
/// An interval narrower than 2 U has no inside: nothing measured so coarsely can be said to be in it.
///
/// Source: JCGM 106:2012, 8.3.2 (guarded acceptance with a guard band of the length U) and 8.3.3 (guarded rejection),
/// from memory.
pub fn within(estimate: Estimate, [least, most]: [f64; 2]) -> Within {
    let expanded = COVERAGE * estimate.standard_uncertainty;
    if estimate.value + expanded < least {
        Within::Below
    } else if estimate.value - expanded > most {
        Within::Above
    } else if estimate.value - expanded >= least && estimate.value + expanded <= most {
        Within::Inside
    } else {
        Within::Undecided
    }
}

/// Returns the probability that the true value lies in an interval, for a normal distribution.
///
/// Source: JCGM 106:2012, clause 7.4 (two tolerance limits): Φ((T_U − y)/u) − Φ((T_L − y)/u), from memory.
pub fn probability_within(estimate: Estimate, [least, most]: [f64; 2]) -> f64 {
    if estimate.standard_uncertainty == 0.0 {
        let inside = (least..=most).contains(&estimate.value);
        return if inside { 1.0 } else { 0.0 };
    }
    (probability_below(estimate, most) - probability_below(estimate, least)).max(0.0)
}

/// Compares two independent estimates at k = 2: where `estimate` lies against `other`.
pub fn against_estimate(estimate: Estimate, other: Estimate) -> Against {
    against(estimate - other, 0.0)
}

/// Returns the probability that the true value lies below `limit`, for a normal distribution: Φ((limit − y)/u).
///
/// Without uncertainty it is 0 or 1.
///
/// Source: JCGM 106:2012, clause 7.3 (one tolerance limit), from memory.
pub fn probability_below(estimate: Estimate, limit: f64) -> f64 {
    if estimate.standard_uncertainty == 0.0 {
        return if estimate.value < limit { 1.0 } else { 0.0 };
    }
    normal_cumulative((limit - estimate.value) / estimate.standard_uncertainty)
}

/// Tells whether a limit must count as reached: value + 1.645 u ≥ limit.
///
/// Guarded rejection, for a thing that cannot be undone: below this the chance that the limit is passed is under 5 %.
pub fn reached(estimate: Estimate, limit: f64) -> bool {
    estimate.value + GUARD_95 * estimate.standard_uncertainty >= limit
}

/// Returns the probability that the true value lies above `limit`; see [`probability_below`].
///
/// With a difference and the limit zero: how likely the difference is above nothing.
pub fn probability_above(estimate: Estimate, limit: f64) -> f64 {
    if estimate.standard_uncertainty == 0.0 {
        return if estimate.value > limit { 1.0 } else { 0.0 };
    }
    normal_cumulative((estimate.value - limit) / estimate.standard_uncertainty)
}

/// Returns the least true difference that is found with 95 % probability, when 5 % of false findings are allowed.
///
/// `standard_uncertainty` is that of a difference, and the result is in its unit: 2 · 1.645 u = 3.29 u.
///
/// Source: the detection limit of ISO 11843-1 for constant uncertainty, from memory.
pub fn detectable_difference(standard_uncertainty: f64) -> f64 {
    2.0 * GUARD_95 * standard_uncertainty.abs()
}

/// Returns the E_n number of two independent results: |a − b| over √(Uₐ² + U_b²) at k = 2. Above 1 they disagree.
///
/// `None` where neither result has an uncertainty.
///
/// Source: ISO/IEC 17043 (comparison between laboratories), from memory.
pub fn e_n(first: Estimate, second: Estimate) -> Option<f64> {
    let difference = first - second;
    let expanded = COVERAGE * difference.standard_uncertainty;
    (expanded > 0.0).then(|| difference.value.abs() / expanded)
}

/// Returns Φ(z), the cumulative standard normal distribution.
pub fn normal_cumulative(z: f64) -> f64 {
    0.5 * libm::erfc(-z / std::f64::consts::SQRT_2)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_three_answers() {
        let limit = 1000.0 * 20.0 / 33.0;
        assert_eq!(against(Estimate::new(605.0, 0.5), limit), Against::Below);
        assert_eq!(
            against(Estimate::new(605.3, 0.5), limit),
            Against::Undecided
        );
        assert_eq!(
            against(Estimate::new(606.9, 0.5), limit),
            Against::Undecided
        );
        assert_eq!(against(Estimate::new(607.2, 0.5), limit), Against::Above);
        assert_eq!(against(Estimate::exact(2.0), 2.0), Against::Above);
        assert_eq!(
            against_estimate(Estimate::new(2.0, 0.3), Estimate::new(3.0, 0.3)),
            Against::Below
        );
        assert_eq!(
            against_estimate(Estimate::new(2.0, 0.4), Estimate::new(3.0, 0.4)),
            Against::Undecided
        );
    }

    /// Source: JCGM 106:2012, 7.3.3, two examples with one limit; numbers from memory, results recomputed:
    /// limit −5.40, y −5.47, u 0.05 gives Φ(1.40) = 0.919; limit 490 from below, y 507, u 6 gives Φ(2.83) = 0.998.
    #[test]
    fn conformity_with_one_limit() {
        let below = probability_below(Estimate::new(-5.47, 0.05), -5.40);
        assert!((below - 0.919_243).abs() < 1e-6, "{below}");
        let above = 1.0 - probability_below(Estimate::new(507.0, 6.0), 490.0);
        assert!((above - 0.997_7).abs() < 1e-4, "{above}");
    }

    #[test]
    fn an_interval_is_guarded_on_both_sides() {
        let allowed = [0.0, 0.3];
        for (value, standard, found) in [
            (0.15, 0.05, Within::Inside),
            // U reaches both ends, and no farther.
            (0.15, 0.075, Within::Inside),
            (0.15, 0.076, Within::Undecided),
            (0.05, 0.05, Within::Undecided),
            (-0.09, 0.05, Within::Undecided),
            (-0.11, 0.05, Within::Below),
            (0.41, 0.05, Within::Above),
            (0.39, 0.05, Within::Undecided),
            // Coarser than the interval is wide.
            (0.15, 0.2, Within::Undecided),
        ] {
            assert_eq!(
                within(Estimate::new(value, standard), allowed),
                found,
                "{value} ± {standard}"
            );
        }
        assert_eq!(within(Estimate::exact(0.3), allowed), Within::Inside);
        assert_eq!(within(Estimate::exact(0.301), allowed), Within::Above);
    }

    /// Source: the standard normal distribution, Φ(2) − Φ(−2) = 0.954 500, Φ(1) − Φ(−∞) = 0.841 345.
    #[test]
    fn conformity_with_two_limits() {
        let both = probability_within(Estimate::new(0.15, 0.075), [0.0, 0.3]);
        assert!((both - 0.954_500).abs() < 1e-6, "{both}");
        let one = probability_within(Estimate::new(0.2, 0.1), [-100.0, 0.3]);
        assert!((one - 0.841_345).abs() < 1e-6, "{one}");
        for (value, expected) in [(0.0, 1.0), (0.3, 1.0), (0.31, 0.0), (-0.01, 0.0)] {
            let sure = probability_within(Estimate::exact(value), [0.0, 0.3]);
            assert!((sure - expected).abs() < f64::EPSILON);
        }
    }

    #[test]
    fn differences_that_can_be_seen() {
        assert!((detectable_difference(0.1) - 0.329).abs() < 1e-12);
        // At the least detectable difference a finding (above 1.645 u) is missed in 5 % of cases.
        let found = probability_above(Estimate::new(detectable_difference(0.1), 0.1), 0.1645);
        assert!((found - 0.95).abs() < 2e-5, "{found}");
        assert!((probability_above(Estimate::new(0.0, 0.1), 0.0) - 0.5).abs() < 1e-15);
        for (value, limit, expected) in [(1.0, 0.0, 1.0), (0.0, 0.0, 0.0), (-1.0, 0.0, 0.0)] {
            let sure = probability_above(Estimate::exact(value), limit);
            assert!((sure - expected).abs() < f64::EPSILON);
        }
    }

    #[test]
    fn two_results_agree_or_not() {
        let number = e_n(Estimate::new(10.0, 0.3), Estimate::new(11.0, 0.4));
        assert!(number.is_some_and(|number| (number - 1.0).abs() < 1e-12));
        assert_eq!(e_n(Estimate::exact(1.0), Estimate::exact(2.0)), None);
    }

    #[test]
    fn the_guard_is_the_95_per_cent_quantile() {
        assert!((normal_cumulative(GUARD_95) - 0.95).abs() < 2e-5);
        assert!(reached(Estimate::new(8.5, 0.31), 9.0));
        assert!(!reached(Estimate::new(8.5, 0.30), 9.0));
    }
}
