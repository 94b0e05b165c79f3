//! Means, spreads, and quantiles of distributions.

use statrs::distribution::{ContinuousCDF, StudentsT};

use crate::decision::normal_cumulative;

/// Sums with a running correction, so that digits lost by one addition come back at the end.
///
/// Source: Kahan's summation in Neumaier's form (1974), from memory.
pub(crate) fn sum(values: impl IntoIterator<Item = f64>) -> f64 {
    let (mut total, mut lost) = (0.0_f64, 0.0_f64);
    for value in values {
        let next = total + value;
        lost += if total.abs() >= value.abs() {
            (total - next) + value
        } else {
            (value - next) + total
        };
        total = next;
    }
    total + lost
}

/// Returns the arithmetic mean, in the unit of the values; `None` for no values.
///
/// Differences from the first value are summed, so that a large common part costs no digits.
pub fn mean(values: &[f64]) -> Option<f64> {
    let first = *values.first()?;
    let shift = sum(values.iter().map(|value| value - first)) / values.len() as f64;
    Some(first + shift)
}

/// Returns the sums of squares and products of deviations from the means: (xx, xy, yy).
fn products(first: &[f64], second: &[f64]) -> Option<(f64, f64, f64)> {
    let (middle, other) = (mean(first)?, mean(second)?);
    let count = first.len() as f64;
    let pairs = || {
        first
            .iter()
            .zip(second)
            .map(move |(x, y)| (x - middle, y - other))
    };
    // What rounding left in the means is taken out again: the corrected two-pass form.
    let (rest, other_rest) = (sum(pairs().map(|(x, _)| x)), sum(pairs().map(|(_, y)| y)));
    Some((
        sum(pairs().map(|(x, _)| x * x)) - rest * rest / count,
        sum(pairs().map(|(x, y)| x * y)) - rest * other_rest / count,
        sum(pairs().map(|(_, y)| y * y)) - other_rest * other_rest / count,
    ))
}

/// Returns the sample standard deviation with n − 1, in the unit of the values; `None` for fewer than two.
///
/// Source: JCGM 100:2008, 4.2.2, equation (4), from memory; computed by the corrected two-pass form.
pub fn sample_standard_deviation(values: &[f64]) -> Option<f64> {
    let spare = values.len().checked_sub(1).filter(|spare| *spare > 0)?;
    let (squares, _, _) = products(values, values)?;
    Some((squares.max(0.0) / spare as f64).sqrt())
}

/// Returns the experimental standard deviation of the mean, s/√n; `None` for fewer than two values.
///
/// Source: JCGM 100:2008, 4.2.3, equation (5), from memory.
pub fn standard_deviation_of_mean(values: &[f64]) -> Option<f64> {
    Some(sample_standard_deviation(values)? / (values.len() as f64).sqrt())
}

/// Returns the correlation coefficient of paired values, −1 to 1.
///
/// `None` for fewer than two pairs, lists of different length, and where either list does not vary.
///
/// Source: JCGM 100:2008, 5.2.2, equation (14), from memory.
pub fn correlation(first: &[f64], second: &[f64]) -> Option<f64> {
    if first.len() != second.len() || first.len() < 2 {
        return None;
    }
    let (xx, xy, yy) = products(first, second)?;
    let scale = xx.sqrt() * yy.sqrt();
    // Written so that a scale that is no number gives `None` as well.
    (scale > 0.0).then(|| (xy / scale).clamp(-1.0, 1.0))
}

/// Returns the value below which a standard normal variable lies with probability `p`.
///
/// −∞ for 0, ∞ for 1, and not a number for what is no probability.
pub fn normal_quantile(p: f64) -> f64 {
    if !(0.0..=1.0).contains(&p) {
        return f64::NAN;
    }
    if p == 0.0 || p >= 1.0 {
        return if p == 0.0 {
            f64::NEG_INFINITY
        } else {
            f64::INFINITY
        };
    }
    let start = -std::f64::consts::SQRT_2 * statrs::function::erf::erfc_inv(2.0 * p);
    // One step of Newton's method against the distribution that the rest of the crate uses.
    let density = libm::exp(-0.5 * start * start) / (2.0 * std::f64::consts::PI).sqrt();
    let step = (normal_cumulative(start) - p) / density;
    if step.is_finite() {
        start - step
    } else {
        start
    }
}

/// Degrees of freedom from which Student's t is taken by its expansion about the normal distribution.
const NEARLY_NORMAL: f64 = 1e4;

/// Returns the value below which a variable of Student's t distribution lies with probability `p`.
///
/// `dof` are the degrees of freedom, above zero, whole or not; infinite ones mean the normal distribution. −∞ for
/// `p` 0, ∞ for 1, and not a number for what is no probability or no degree of freedom.
///
/// Source: for many degrees of freedom the Cornish–Fisher expansion to 1/ν², from memory.
pub fn student_t_quantile(p: f64, dof: f64) -> f64 {
    if !(0.0..=1.0).contains(&p) || dof.is_nan() || dof <= 0.0 {
        return f64::NAN;
    }
    if dof.is_infinite() || p == 0.0 || p >= 1.0 {
        return normal_quantile(p);
    }
    if dof >= NEARLY_NORMAL {
        let z = normal_quantile(p);
        let first = (z.powi(3) + z) / 4.0;
        let second = (5.0 * z.powi(5) + 16.0 * z.powi(3) + 3.0 * z) / 96.0;
        return z + first / dof + second / (dof * dof);
    }
    if p.total_cmp(&0.5).is_eq() {
        return 0.0;
    }
    // The lower tail keeps its digits where 1 − p would lose them.
    match StudentsT::new(0.0, 1.0, dof) {
        Ok(distribution) if p < 0.5 => distribution.inverse_cdf(p),
        Ok(distribution) => -distribution.inverse_cdf(1.0 - p),
        Err(_) => f64::NAN,
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use proptest::prelude::*;

    fn close(found: f64, expected: f64, within: f64) {
        assert!(
            (found - expected).abs() <= within,
            "{found} is not {expected} ± {within}"
        );
    }

    fn alternating(first: f64, low: f64, high: f64) -> Vec<f64> {
        let mut values = vec![first];
        for _ in 0..500 {
            values.extend([low, high]);
        }
        values
    }

    /// Source: NIST Statistical Reference Datasets, univariate, NumAcc1 to NumAcc4; the construction of the data from
    /// memory, the certified standard deviations (1 and 0.1) as quoted in public copies. The tolerance of the larger
    /// ones is what the data lose when they become binary numbers.
    #[test]
    fn numerical_accuracy_sets() {
        let one = [10_000_001.0, 10_000_003.0, 10_000_002.0];
        close(mean(&one).unwrap(), 10_000_002.0, 0.0);
        close(sample_standard_deviation(&one).unwrap(), 1.0, 0.0);
        for (base, within) in [(1.0, 1e-15), (1e6, 1e-10), (1e7, 2e-9)] {
            let values = alternating(base + 0.2, base + 0.1, base + 0.3);
            assert_eq!(values.len(), 1001);
            close(mean(&values).unwrap(), base + 0.2, within);
            close(sample_standard_deviation(&values).unwrap(), 0.1, within);
        }
    }

    #[test]
    fn a_mean_that_cannot_be_written_leaves_the_spread() {
        // Near 10¹⁵ numbers lie ⅛ apart, and the mean falls between two of them.
        let values = [1e15, 1e15 + 1.0, 1e15 + 1.0];
        close(
            sample_standard_deviation(&values).unwrap(),
            3.0_f64.sqrt() / 3.0,
            1e-12,
        );
    }

    #[test]
    fn too_few_values_have_no_answer() {
        assert_eq!(mean(&[]), None);
        assert_eq!(sample_standard_deviation(&[1.0]), None);
        assert_eq!(standard_deviation_of_mean(&[]), None);
        assert_eq!(correlation(&[1.0, 2.0], &[1.0]), None);
        assert_eq!(correlation(&[1.0, 1.0], &[1.0, 2.0]), None);
        close(standard_deviation_of_mean(&[1.0, 3.0]).unwrap(), 1.0, 1e-15);
    }

    /// Source: JCGM 100:2008, H.2 (readings of voltage, current and phase), from memory; results recomputed.
    #[test]
    fn means_of_simultaneous_readings() {
        let volt = [5.007, 4.994, 5.005, 4.990, 4.999];
        let milliampere = [19.663, 19.639, 19.640, 19.685, 19.678];
        let radian = [1.0456, 1.0438, 1.0468, 1.0428, 1.0433];
        close(mean(&volt).unwrap(), 4.9990, 1e-12);
        close(mean(&milliampere).unwrap(), 19.6610, 1e-12);
        close(mean(&radian).unwrap(), 1.044_46, 1e-12);
        close(standard_deviation_of_mean(&volt).unwrap(), 0.0032, 5e-5);
        close(
            standard_deviation_of_mean(&milliampere).unwrap(),
            0.0095,
            5e-5,
        );
        close(standard_deviation_of_mean(&radian).unwrap(), 0.000_75, 5e-6);
        close(correlation(&volt, &milliampere).unwrap(), -0.36, 0.005);
        close(correlation(&volt, &radian).unwrap(), 0.86, 0.005);
        close(correlation(&milliampere, &radian).unwrap(), -0.65, 0.005);
    }

    /// Source: tables of the normal distribution, from memory.
    #[test]
    fn quantiles_of_the_normal_distribution() {
        for (p, expected) in [
            (0.5, 0.0),
            (0.95, 1.644_853_626_951_472),
            (0.975, 1.959_963_984_540_054),
            (0.995, 2.575_829_303_548_901),
        ] {
            close(normal_quantile(p), expected, 1e-13);
            close(normal_quantile(1.0 - p), -expected, 1e-13);
        }
        assert!(normal_quantile(0.0).is_infinite() && normal_quantile(1.0) > 1e300);
        assert!(normal_quantile(-0.1).is_nan() && normal_quantile(f64::NAN).is_nan());
        close(
            normal_cumulative(normal_quantile(1e-300)) / 1e-300,
            1.0,
            1e-9,
        );
    }

    /// Source: JCGM 100:2008, table G.2, from memory; one and two degrees of freedom in closed form.
    #[test]
    fn quantiles_of_students_t() {
        for (dof, t95, t99) in [
            (1.0, 12.71, 63.66),
            (2.0, 4.30, 9.92),
            (5.0, 2.57, 4.03),
            (10.0, 2.23, 3.17),
            (16.0, 2.12, 2.92),
            (50.0, 2.01, 2.68),
            (f64::INFINITY, 1.960, 2.576),
        ] {
            close(student_t_quantile(0.975, dof), t95, 0.005);
            close(student_t_quantile(0.995, dof), t99, 0.005);
        }
        for p in [0.001, 0.1, 0.4, 0.5, 0.7, 0.975, 0.9999] {
            let one = libm::tan(std::f64::consts::PI * (p - 0.5));
            close(student_t_quantile(p, 1.0), one, 1e-10 * one.abs().max(1.0));
            let two = (2.0 * p - 1.0) / (2.0 * p * (1.0 - p)).sqrt();
            close(student_t_quantile(p, 2.0), two, 1e-10 * two.abs().max(1.0));
        }
        assert!(student_t_quantile(0.9, 0.0).is_nan() && student_t_quantile(1.1, 3.0).is_nan());
    }

    #[test]
    fn many_degrees_of_freedom_join_without_a_step() {
        for p in [1e-6, 0.025, 0.3, 0.6, 0.99] {
            let below = student_t_quantile(p, NEARLY_NORMAL * (1.0 - 1e-9));
            let above = student_t_quantile(p, NEARLY_NORMAL);
            close(below, above, 1e-9 * above.abs());
        }
    }

    proptest! {
        #[test]
        fn quantiles_invert_and_mirror(p in 1e-9..0.999_999_999_f64, dof in 0.5..500.0_f64) {
            prop_assert!((normal_cumulative(normal_quantile(p)) - p).abs() <= 1e-14);
            let t = student_t_quantile(p, dof);
            let back = StudentsT::new(0.0, 1.0, dof).unwrap().cdf(t);
            prop_assert!((back - p).abs() <= 1e-8, "{t} {back} {p}");
            // Heavier tails than the normal distribution.
            prop_assert!(t.abs() >= normal_quantile(p).abs() * (1.0 - 1e-9));
        }

        #[test]
        fn a_shift_moves_the_mean_and_leaves_the_spread(values in prop::collection::vec(-10.0..10.0_f64, 2..20), shift in -1e6..1e6_f64) {
            let moved: Vec<f64> = values.iter().map(|value| value + shift).collect();
            prop_assert!((mean(&moved).unwrap() - mean(&values).unwrap() - shift).abs() < 1e-8);
            prop_assert!((sample_standard_deviation(&moved).unwrap() - sample_standard_deviation(&values).unwrap()).abs() < 1e-8);
        }
    }
}
