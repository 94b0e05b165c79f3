//! Ordinary and weighted least squares.

use super::{has_constant, product, quadratic};
use crate::linear::{FitError, solve};
use crate::statistics::{student_t_quantile, sum};

/// A predicted response with its prediction interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interval {
    /// Predicted response.
    pub value: f64,
    /// Standard uncertainty of a single new observation about the prediction.
    pub standard_error: f64,
    /// Lower end.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
}

impl Interval {
    /// Tells whether a value lies within, ends included.
    pub fn holds(&self, value: f64) -> bool {
        (self.lower..=self.upper).contains(&value)
    }

    /// Makes a two-sided interval from Student's t; `None` for no degrees of freedom or no probability.
    pub(super) fn student(
        value: f64,
        standard_error: f64,
        probability: f64,
        dof: usize,
    ) -> Option<Self> {
        if dof == 0 || !(probability > 0.0 && probability < 1.0) {
            return None;
        }
        let factor = student_t_quantile(f64::midpoint(1.0, probability), dof as f64);
        let half = factor * standard_error;
        Some(Self {
            value,
            standard_error,
            lower: value - half,
            upper: value + half,
        })
    }
}

/// Result of a regression by least squares.
#[derive(Clone, Debug, PartialEq)]
pub struct Regression {
    /// One coefficient per column.
    pub coefficients: Vec<f64>,
    /// Standard error of each coefficient.
    pub standard_errors: Vec<f64>,
    /// Observed minus fitted, unweighted.
    pub residuals: Vec<f64>,
    /// Residual standard deviation of an observation of weight 1; zero where no degrees of freedom are left.
    pub residual_sd: f64,
    /// Share of the variation that the regression explains: about the weighted mean where a column of the design is
    /// constant, else about zero. `None` where the response does not vary.
    pub r_squared: Option<f64>,
    /// Leverage of each observation, 0 to 1; they add up to the number of coefficients.
    pub leverages: Vec<f64>,
    /// What each observation would miss its prediction by, were it left out; infinite where the observation alone
    /// decides a coefficient.
    pub left_out_errors: Vec<f64>,
    /// Degrees of freedom: observations minus coefficients.
    pub dof: usize,
    /// (XᵀWX)⁻¹.
    pub covariance_unscaled: Vec<Vec<f64>>,
}

/// Fits by ordinary least squares; every observation counts the same.
///
/// Source: Gauss–Markov theory; leave-one-out errors as e/(1 − h), from memory.
///
/// # Errors
/// [`FitError`] for too few or uneven observations, values that are not finite, and dependent columns.
pub fn ordinary(design: &[Vec<f64>], response: &[f64]) -> Result<Regression, FitError> {
    weighted(design, response, &vec![1.0; response.len()])
}

/// Fits by weighted least squares; a weight is the reciprocal of the relative variance of an observation.
///
/// # Errors
/// [`FitError`] as for [`ordinary`], and for a weight that is missing, not above zero, or not finite.
pub fn weighted(
    design: &[Vec<f64>],
    response: &[f64],
    weights: &[f64],
) -> Result<Regression, FitError> {
    as_many(design, weights)?;
    as_many(design, response)?;
    if let Some((row, found)) = weights
        .iter()
        .enumerate()
        .find(|(_, weight)| !(weight.is_finite() && **weight > 0.0))
    {
        return Err(FitError::NotFinite { row, found: *found });
    }
    let roots: Vec<f64> = weights.iter().map(|weight| weight.sqrt()).collect();
    let scaled: Vec<Vec<f64>> = design
        .iter()
        .zip(&roots)
        .map(|(row, root)| row.iter().map(|value| value * root).collect())
        .collect();
    let observed: Vec<f64> = response
        .iter()
        .zip(&roots)
        .map(|(y, root)| y * root)
        .collect();
    let fit = solve(&scaled, &observed)?;
    let standard_errors = (0..fit.coefficients.len())
        .map(|index| fit.residual_sd * fit.covariance_unscaled[index][index].sqrt())
        .collect();
    let leverages: Vec<f64> = scaled
        .iter()
        .map(|row| {
            quadratic(row, &fit.covariance_unscaled)
                .unwrap_or(f64::NAN)
                .min(1.0)
        })
        .collect();
    let residuals: Vec<f64> = fit
        .residuals
        .iter()
        .zip(&roots)
        .map(|(residual, root)| residual / root)
        .collect();
    let left_out_errors = residuals
        .iter()
        .zip(&leverages)
        .map(|(residual, leverage)| left_out(*residual, *leverage))
        .collect();
    Ok(Regression {
        r_squared: explained(design, response, weights, &fit.residuals),
        coefficients: fit.coefficients,
        standard_errors,
        residuals,
        residual_sd: fit.residual_sd,
        leverages,
        left_out_errors,
        dof: fit.dof,
        covariance_unscaled: fit.covariance_unscaled,
    })
}

/// Tells whether there is one value for each row of the design.
fn as_many(design: &[Vec<f64>], values: &[f64]) -> Result<(), FitError> {
    if values.len() == design.len() {
        return Ok(());
    }
    Err(FitError::Uneven {
        row: values.len().min(design.len()),
        found: usize::from(values.len() > design.len()),
        expected: usize::from(design.len() > values.len()),
    })
}

/// What an observation misses its prediction by when it is left out.
pub(super) fn left_out(residual: f64, leverage: f64) -> f64 {
    // Beyond this the observation decides a coefficient alone, and residual and gap are both rounding.
    if leverage > 1.0 - 1e-10 {
        f64::INFINITY
    } else {
        residual / (1.0 - leverage)
    }
}

fn explained(
    design: &[Vec<f64>],
    response: &[f64],
    weights: &[f64],
    scaled_residuals: &[f64],
) -> Option<f64> {
    let middle = if has_constant(design) {
        sum(response.iter().zip(weights).map(|(y, w)| y * w)) / sum(weights.iter().copied())
    } else {
        0.0
    };
    let total = sum(response
        .iter()
        .zip(weights)
        .map(|(y, w)| w * (y - middle).powi(2)));
    let rest = sum(scaled_residuals.iter().map(|r| r * r));
    (total > 0.0).then(|| 1.0 - rest / total)
}

impl Regression {
    /// Returns the root of the mean squared leave-one-out error; infinite where one of them is.
    pub fn left_out_rms(&self) -> f64 {
        (self.press() / self.left_out_errors.len() as f64).sqrt()
    }

    /// Returns the sum of squared leave-one-out errors (PRESS); infinite where one of them is.
    pub fn press(&self) -> f64 {
        // A plain sum: the corrected one makes no number of an infinite error.
        self.left_out_errors.iter().map(|error| error * error).sum()
    }

    /// Returns the leverage of a place in the design; `None` where it has another number of values.
    pub fn leverage(&self, row: &[f64]) -> Option<f64> {
        quadratic(row, &self.covariance_unscaled)
    }

    /// Predicts a new observation of weight 1 at a place in the design, with a two-sided interval of the given
    /// probability (for example 0.95).
    ///
    /// `None` where the row has another number of values, the probability is not between 0 and 1, or no degrees of
    /// freedom are left.
    ///
    /// Source: ŷ ± t·s·√(1 + xᵀ(XᵀWX)⁻¹x), from memory.
    pub fn predict(&self, row: &[f64], probability: f64) -> Option<Interval> {
        let value = product(row, &self.coefficients)?;
        let error = self.residual_sd * (1.0 + self.leverage(row)?).sqrt();
        Interval::student(value, error, probability, self.dof)
    }
}
