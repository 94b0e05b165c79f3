//! Huber's M-estimate of regression.

use super::least_squares::{Interval, left_out, ordinary, weighted};
use super::{median, product, quadratic};
use crate::linear::{FitError, solve};
use crate::statistics::sum;

/// Residuals beyond this many scales count less: 95 % efficient for normal errors.
///
/// Source: Huber (1964, 1981), from memory.
pub const HUBER_T: f64 = 1.345;

/// What the median absolute deviation of normal errors is of their standard deviation: Φ⁻¹(3/4).
const NORMAL_MAD: f64 = 0.674_489_750_196_081_7;

/// Rounds after which the fit gives up.
const MOST_ROUNDS: usize = 2_000;

/// The rounds end when no coefficient moves by more than this share of the scale of the fit.
const SETTLED: f64 = 1e-12;

/// Leave-one-out errors beyond this many scales count as this many in the prediction interval. This tool's own choice.
const WINSOR: f64 = 4.0;

/// Result of a robust regression.
#[derive(Clone, Debug, PartialEq)]
pub struct Robust {
    /// One coefficient per column.
    pub coefficients: Vec<f64>,
    /// Standard error of each coefficient.
    pub standard_errors: Vec<f64>,
    /// Covariance of the coefficients.
    pub covariance: Vec<Vec<f64>>,
    /// Scale of the residuals: their median absolute deviation from zero, over 0.6745.
    pub scale: f64,
    /// Observed minus fitted.
    pub residuals: Vec<f64>,
    /// Weight of each observation, above 0 to 1; below 1 where its residual is beyond [`HUBER_T`] scales.
    pub weights: Vec<f64>,
    /// Leave-one-out errors while the weights of the others stay as they are.
    pub left_out_errors: Vec<f64>,
    /// Leverage of each observation in the unweighted design.
    pub leverages: Vec<f64>,
    /// Spread that the prediction interval uses.
    pub prediction_sd: f64,
    /// Rounds of reweighting.
    pub rounds: usize,
    /// Degrees of freedom: observations minus coefficients.
    pub dof: usize,
    /// (XᵀX)⁻¹.
    covariance_unscaled: Vec<Vec<f64>>,
}

/// Fits by Huber's M-estimate with t = 1.345: iterated reweighting, the scale taken anew from the residuals in each
/// round as their median absolute deviation from zero over Φ⁻¹(3/4).
///
/// Where more than half of the observations lie on the fit, the scale is zero and the rounds end there.
///
/// Source: Huber, Robust Statistics (1981), chapter 7, with the correction factor K of its covariance, from memory.
///
/// # Errors
/// [`FitError`] as for [`ordinary`], and where the rounds do not settle.
pub fn huber(design: &[Vec<f64>], response: &[f64]) -> Result<Robust, FitError> {
    let start = ordinary(design, response)?;
    let size = response.iter().fold(0.0_f64, |most, y| most.max(y.abs()));
    // Below this a residual is rounding.
    let nothing = size * 1e-14;
    let mut coefficients = start.coefficients.clone();
    let mut residuals = start.residuals.clone();
    let mut scale = scale_of(&residuals);
    let mut weights = vec![1.0; response.len()];
    let mut rounds = 1;
    let mut settled = false;
    while scale > nothing && !settled {
        if rounds > MOST_ROUNDS {
            return Err(FitError::NotSettled { steps: MOST_ROUNDS });
        }
        weights = residuals.iter().map(|r| weight(r / scale)).collect();
        let next = reweighted(design, response, &weights)?;
        let moved = fitted_shift(design, &coefficients, &next);
        coefficients = next;
        residuals = rest(design, response, &coefficients);
        let before = scale;
        scale = scale_of(&residuals);
        settled = moved <= SETTLED * before && (scale - before).abs() <= SETTLED * before;
        rounds += 1;
    }
    if scale <= nothing {
        scale = 0.0;
    }
    let dof = start.dof;
    let variance = variance_factor(&residuals, scale, coefficients.len(), dof);
    let covariance: Vec<Vec<f64>> = start
        .covariance_unscaled
        .iter()
        .map(|line| line.iter().map(|value| value * variance).collect())
        .collect();
    let standard_errors = (0..coefficients.len())
        .map(|index| covariance[index][index].sqrt())
        .collect();
    let left_out_errors: Vec<f64> = weighted(design, response, &weights)?
        .leverages
        .iter()
        .zip(&residuals)
        .map(|(leverage, residual)| left_out(*residual, *leverage))
        .collect();
    Ok(Robust {
        prediction_sd: prediction_sd(&left_out_errors, &start.leverages),
        coefficients,
        standard_errors,
        covariance,
        scale,
        residuals,
        weights,
        left_out_errors,
        leverages: start.leverages,
        rounds,
        dof,
        covariance_unscaled: start.covariance_unscaled,
    })
}

/// Coefficients under weights, without anything else that a regression tells.
fn reweighted(
    design: &[Vec<f64>],
    response: &[f64],
    weights: &[f64],
) -> Result<Vec<f64>, FitError> {
    let scaled: Vec<Vec<f64>> = design
        .iter()
        .zip(weights)
        .map(|(row, weight)| {
            let root = weight.sqrt();
            row.iter().map(|value| value * root).collect()
        })
        .collect();
    let observed: Vec<f64> = response
        .iter()
        .zip(weights)
        .map(|(y, weight)| y * weight.sqrt())
        .collect();
    Ok(solve(&scaled, &observed)?.coefficients)
}

fn rest(design: &[Vec<f64>], response: &[f64], coefficients: &[f64]) -> Vec<f64> {
    design
        .iter()
        .zip(response)
        .map(|(row, y)| y - product(row, coefficients).unwrap_or(f64::NAN))
        .collect()
}

fn scale_of(residuals: &[f64]) -> f64 {
    median(residuals.iter().map(|r| r.abs()).collect()) / NORMAL_MAD
}

fn weight(standardised: f64) -> f64 {
    if standardised.abs() <= HUBER_T {
        1.0
    } else {
        HUBER_T / standardised.abs()
    }
}

/// Furthest that a fitted value moves between two sets of coefficients.
fn fitted_shift(design: &[Vec<f64>], before: &[f64], after: &[f64]) -> f64 {
    let change: Vec<f64> = after.iter().zip(before).map(|(a, b)| a - b).collect();
    design
        .iter()
        .filter_map(|row| product(row, &change))
        .fold(0.0, |most, shift| most.max(shift.abs()))
}

/// Factor that (XᵀX)⁻¹ is multiplied with: K² · [σ² Σψ² / (n − p)] / (mean of ψ′)², K = 1 + p/n · var(ψ′) / mean(ψ′)².
fn variance_factor(residuals: &[f64], scale: f64, coefficients: usize, dof: usize) -> f64 {
    if scale <= 0.0 || dof == 0 {
        return 0.0;
    }
    let count = residuals.len() as f64;
    let inner = residuals
        .iter()
        .filter(|r| (*r / scale).abs() <= HUBER_T)
        .count() as f64
        / count;
    // ψ′ is 0 or 1, so its variance follows from its mean.
    let correction = 1.0 + coefficients as f64 / count * (inner * (1.0 - inner)) / (inner * inner);
    let squares = sum(residuals
        .iter()
        .map(|r| (r / scale).clamp(-HUBER_T, HUBER_T).powi(2)));
    correction.powi(2) * squares * scale.powi(2) / dof as f64 / inner.powi(2)
}

/// Spread for predictions: leave-one-out errors brought to one size, those beyond four scales counted as four, root
/// of the mean square.
fn prediction_sd(left_out_errors: &[f64], leverages: &[f64]) -> f64 {
    // An observation left out lies at leverage h/(1 − h) of the others.
    let brought: Vec<f64> = left_out_errors
        .iter()
        .zip(leverages)
        .map(|(error, leverage)| error.abs() * (1.0 - leverage).max(0.0).sqrt())
        .filter(|error| error.is_finite())
        .collect();
    if brought.is_empty() {
        return 0.0;
    }
    let count = brought.len() as f64;
    let most = WINSOR * median(brought.clone()) / NORMAL_MAD;
    (sum(brought.into_iter().map(|error| error.min(most).powi(2))) / count).sqrt()
}

impl Robust {
    /// Returns the leverage of a place in the unweighted design; `None` where it has another number of values.
    pub fn leverage(&self, row: &[f64]) -> Option<f64> {
        quadratic(row, &self.covariance_unscaled)
    }

    /// Returns the fitted value at a place in the design with its standard error, without the spread of a new
    /// observation; `None` where the row has another number of values.
    pub fn at(&self, row: &[f64]) -> Option<crate::Estimate> {
        let value = product(row, &self.coefficients)?;
        Some(crate::Estimate::new(
            value,
            quadratic(row, &self.covariance)?.sqrt(),
        ))
    }

    /// Predicts a new observation at a place in the design, with a two-sided interval of the given probability.
    ///
    /// `None` where the row has another number of values, the probability is not between 0 and 1, or no degrees of
    /// freedom are left.
    ///
    /// Source: this tool's own. ŷ ± t·s·√(1 + h) with Student's t, where s is the root mean square of the
    /// leave-one-out errors, each times √(1 − h), and those beyond four robust scales count as four; its coverage is
    /// held by simulation.
    pub fn predict(&self, row: &[f64], probability: f64) -> Option<Interval> {
        let value = product(row, &self.coefficients)?;
        let error = self.prediction_sd * (1.0 + self.leverage(row)?).sqrt();
        Interval::student(value, error, probability, self.dof)
    }
}
