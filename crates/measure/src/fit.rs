//! Nonlinear least squares.

use crate::Estimate;
use crate::linear::{FitError, solve};

/// Result of a nonlinear fit.
#[derive(Clone, Debug, PartialEq)]
pub struct CurveFit {
    /// Parameters, in the order of the start.
    pub parameters: Vec<f64>,
    /// Times the variance of one observation, the covariance matrix of the parameters (first order).
    pub covariance_unscaled: Vec<Vec<f64>>,
    /// Observed minus fitted, in the unit of the response.
    pub residuals: Vec<f64>,
    /// Residual standard deviation; zero where no degrees of freedom are left.
    pub residual_sd: f64,
    /// Degrees of freedom: observations minus parameters.
    pub dof: usize,
    /// Steps made.
    pub steps: usize,
}

impl CurveFit {
    /// Returns a parameter with its standard uncertainty, for the spread of one observation: the larger of the
    /// residual standard deviation and `reading`. `None` for no such parameter.
    pub fn parameter(&self, index: usize, reading: f64) -> Option<Estimate> {
        let variance = self.covariance_unscaled.get(index)?.get(index)?;
        let spread = self.residual_sd.max(reading);
        Some(Estimate::new(
            *self.parameters.get(index)?,
            spread * variance.sqrt(),
        ))
    }
}

/// Most steps before a fit is given up.
const MOST_STEPS: usize = 500;

/// Relative step for slopes: the cube root of a double's rounding, best for central differences.
const SLOPE_STEP: f64 = 6.1e-6;

/// Relative change of all parameters below which the fit has settled.
const SETTLED: f64 = 1e-11;

/// Share of its size at the start below which a parameter counts as near zero.
const NEAR_ZERO: f64 = 1e-2;

/// Relative step to the minimum that may be left where rounding hides anything lower.
const LEFT: f64 = 1e-6;

/// Damping beyond which no step can lower the sum of squares any more.
const STIFFEST: f64 = 1e14;

/// Fits a curve through observations, from a start near enough to the answer.
///
/// `model` gives the response at a place for parameters.
///
/// # Errors
/// As [`least_squares`]; also for lists of different length.
pub fn curve(
    places: &[f64],
    response: &[f64],
    start: &[f64],
    model: impl Fn(f64, &[f64]) -> f64,
) -> Result<CurveFit, FitError> {
    if places.len() != response.len() {
        return Err(FitError::Uneven {
            row: places.len().min(response.len()),
            found: 1,
            expected: 2,
        });
    }
    least_squares(start, |parameters| {
        let pairs = places.iter().zip(response);
        pairs.map(|(x, y)| y - model(*x, parameters)).collect()
    })
}

/// Finds the parameters that leave the least sum of squares of what `residuals` returns.
///
/// A parameter that starts at 0 is taken to be of the size of 1 for the slopes.
///
/// Source: Levenberg (1944) and Marquardt (1963), each step solved through an orthogonal decomposition; from memory.
///
/// # Errors
/// [`FitError`] for fewer residuals than parameters, residuals that are not finite at the start, parameters that the
/// residuals cannot tell apart, and where no minimum is found.
pub fn least_squares(
    start: &[f64],
    residuals: impl Fn(&[f64]) -> Vec<f64>,
) -> Result<CurveFit, FitError> {
    let sizes: Vec<f64> = start
        .iter()
        .map(|one| if *one == 0.0 { 1.0 } else { one.abs() })
        .collect();
    let mut at = start.to_vec();
    let mut rest = residuals(&at);
    if start.is_empty() || rest.len() < start.len() {
        return Err(FitError::TooFew {
            observations: rest.len(),
            coefficients: start.len(),
        });
    }
    if let Some(row) = rest.iter().position(|one| !one.is_finite()) {
        return Err(FitError::NotFinite {
            row,
            found: rest[row],
        });
    }
    let mut damping = 1e-3;
    let mut steps = 0;
    'outer: while steps < MOST_STEPS {
        steps += 1;
        let slopes = slopes(&at, &sizes, &rest, &residuals)?;
        loop {
            let step = damped_step(&slopes, &rest, damping)?;
            let next: Vec<f64> = at.iter().zip(&step).map(|(p, s)| p + s).collect();
            let left = residuals(&next);
            let moved = change(&at, &sizes, &step);
            // Written so that a sum that is no number is refused.
            if squares(&left) < squares(&rest) {
                (at, rest) = (next, left);
                damping = (damping / 10.0).max(1e-16);
                if moved < SETTLED {
                    break 'outer;
                }
                break;
            }
            if moved < SETTLED || damping > STIFFEST {
                // The last digits of a sum of squares are rounding; but a wall of values that are no numbers can
                // stop the search as well, and is no minimum.
                let whole = solve(&slopes, &rest)?.coefficients;
                if change(&at, &sizes, &whole) > LEFT {
                    return Err(FitError::NotSettled { steps });
                }
                break 'outer;
            }
            damping *= 10.0;
        }
    }
    if steps >= MOST_STEPS {
        return Err(FitError::NotSettled { steps });
    }
    let last = solve(&slopes(&at, &sizes, &rest, &residuals)?, &rest)?;
    let dof = rest.len() - start.len();
    let residual_sd = if dof == 0 {
        0.0
    } else {
        (squares(&rest) / dof as f64).sqrt()
    };
    Ok(CurveFit {
        parameters: at,
        covariance_unscaled: last.covariance_unscaled,
        residuals: rest,
        residual_sd,
        dof,
        steps,
    })
}

fn squares(values: &[f64]) -> f64 {
    crate::statistics::sum(values.iter().map(|one| one * one))
}

/// Returns the slopes of the fitted curve (minus those of the residuals), one row per observation.
fn slopes(
    at: &[f64],
    sizes: &[f64],
    rest: &[f64],
    residuals: &impl Fn(&[f64]) -> Vec<f64>,
) -> Result<Vec<Vec<f64>>, FitError> {
    let mut rows = vec![vec![0.0; at.len()]; rest.len()];
    let mut point = at.to_vec();
    for (column, size) in sizes.iter().enumerate() {
        let step = SLOPE_STEP * at[column].abs().max(NEAR_ZERO * size);
        let (high, low) = (at[column] + step, at[column] - step);
        point[column] = high;
        let above = residuals(&point);
        point[column] = low;
        let below = residuals(&point);
        point[column] = at[column];
        for (row, (line, (up, down))) in rows.iter_mut().zip(above.iter().zip(&below)).enumerate() {
            line[column] = (down - up) / (high - low);
            if !line[column].is_finite() {
                let found = line[column];
                return Err(FitError::NotFinite { row, found });
            }
        }
    }
    Ok(rows)
}

/// Returns the largest relative change that a step makes.
fn change(at: &[f64], sizes: &[f64], step: &[f64]) -> f64 {
    let all = at.iter().zip(sizes).zip(step);
    all.fold(0.0, |most, ((p, size), s)| {
        f64::max(most, s.abs() / p.abs().max(NEAR_ZERO * size))
    })
}

/// Solves for the step with rows added that hold each parameter back in proportion to its column.
fn damped_step(slopes: &[Vec<f64>], rest: &[f64], damping: f64) -> Result<Vec<f64>, FitError> {
    let count = slopes.first().map_or(0, Vec::len);
    let mut rows = slopes.to_vec();
    let mut right = rest.to_vec();
    for column in 0..count {
        let length = squares(&slopes.iter().map(|row| row[column]).collect::<Vec<_>>()).sqrt();
        let mut row = vec![0.0; count];
        row[column] = damping.sqrt() * length;
        rows.push(row);
        right.push(0.0);
    }
    Ok(solve(&rows, &right)?.coefficients)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use proptest::prelude::*;

    /// Source: NIST Statistical Reference Datasets, nonlinear regression, Misra1a (public domain), from public copies.
    const MISRA1A: [(f64, f64); 14] = [
        (77.6, 10.07),
        (114.9, 14.73),
        (141.1, 17.94),
        (190.8, 23.93),
        (239.9, 29.61),
        (289.0, 35.18),
        (332.8, 40.02),
        (378.4, 44.82),
        (434.8, 50.76),
        (477.3, 55.05),
        (536.8, 61.01),
        (593.1, 66.40),
        (689.1, 75.47),
        (760.0, 81.78),
    ];

    fn saturating(x: f64, at: &[f64]) -> f64 {
        at[0] * (1.0 - (-at[1] * x).exp())
    }

    /// Source: certified values of NIST StRD Misra1a and its two starts, from public copies.
    #[test]
    fn misra1a_from_both_starts() {
        let (places, response): (Vec<f64>, Vec<f64>) = MISRA1A.into_iter().unzip();
        for start in [[500.0, 1e-4], [250.0, 5e-4]] {
            let fit = curve(&places, &response, &start, saturating).unwrap();
            for (index, (value, uncertainty)) in [
                (2.389_421_291_8e2, 2.707_007_524_1),
                (5.501_564_318_1e-4, 7.266_868_843_6e-6),
            ]
            .into_iter()
            .enumerate()
            {
                let found = fit.parameter(index, 0.0).unwrap();
                assert!((found.value / value - 1.0).abs() < 1e-9, "{fit:?}");
                assert!(
                    (found.standard_uncertainty / uncertainty - 1.0).abs() < 1e-8,
                    "{fit:?}"
                );
            }
            assert!((squares(&fit.residuals) / 1.245_513_889_4e-1 - 1.0).abs() < 1e-9);
            assert_eq!(fit.dof, 12);
        }
    }

    #[test]
    fn what_cannot_be_fitted_is_refused() {
        let line = |x: f64, at: &[f64]| at[0] + at[1] * x;
        assert!(matches!(
            curve(&[1.0], &[1.0], &[1.0, 1.0], line),
            Err(FitError::TooFew {
                observations: 1,
                coefficients: 2
            })
        ));
        assert!(matches!(
            curve(&[1.0, 2.0], &[1.0], &[1.0], line),
            Err(FitError::Uneven { row: 1, .. })
        ));
        assert!(matches!(
            curve(&[1.0, 2.0], &[1.0, 2.0], &[f64::NAN], saturating_one),
            Err(FitError::NotFinite { row: 0, .. })
        ));
        // Two parameters that only act as their sum.
        let twins = curve(&[1.0, 2.0, 3.0], &[1.0, 2.0, 2.5], &[1.0, 1.0], |x, at| {
            (at[0] + at[1]) * x
        });
        assert!(
            matches!(twins, Err(FitError::Dependent { column: 1 })),
            "{twins:?}"
        );
        // A sum of squares that falls for ever.
        let endless = least_squares(&[1.0], |at| vec![(-at[0]).exp()]);
        assert!(
            matches!(endless, Err(FitError::NotSettled { .. })),
            "{endless:?}"
        );
        // No numbers beyond a wall: the search runs up to it.
        let walled = least_squares(&[1.0], |at| {
            let inside = (at[0] - 1.0).abs() < 1e-4;
            vec![if inside { at[0] } else { f64::NAN }]
        });
        assert!(
            matches!(walled, Err(FitError::NotFinite { row: 0, .. })),
            "{walled:?}"
        );
    }

    fn saturating_one(x: f64, at: &[f64]) -> f64 {
        at[0] * x
    }

    proptest! {
        #[test]
        fn an_exact_curve_is_found_again(height in 50.0..400.0_f64, rate in 2e-4..2e-3_f64) {
            let places: Vec<f64> = MISRA1A.iter().map(|pair| pair.0).collect();
            let response: Vec<f64> = places.iter().map(|x| saturating(*x, &[height, rate])).collect();
            let fit = curve(&places, &response, &[1.3 * height, 0.8 * rate], saturating).unwrap();
            prop_assert!((fit.parameters[0] / height - 1.0).abs() < 1e-8, "{fit:?}");
            prop_assert!((fit.parameters[1] / rate - 1.0).abs() < 1e-8);
        }

        #[test]
        fn a_straight_line_agrees_with_the_linear_fit(noise in prop::collection::vec(-1.0..1.0_f64, 8)) {
            let places: Vec<f64> = (0..8).map(f64::from).collect();
            let response: Vec<f64> = places.iter().zip(&noise).map(|(x, e)| 3.0 + 2.0 * x + e).collect();
            let linear = solve(&crate::linear::polynomial(&places, 1), &response).unwrap();
            let fit = curve(&places, &response, &[1.0, 1.0], |x, at| at[0] + at[1] * x).unwrap();
            for index in 0..2 {
                prop_assert!((fit.parameters[index] - linear.coefficients[index]).abs() < 1e-7);
                let found = fit.parameter(index, 0.0).unwrap().standard_uncertainty;
                prop_assert!((found - linear.standard_error(index).unwrap()).abs() < 1e-8);
            }
        }
    }
}
