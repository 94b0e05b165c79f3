//! Linear regression: ordinary and weighted least squares, and Huber's M-estimate for data with outliers.
//!
//! - [`ordinary`], [`weighted`]: coefficients with standard errors, leverages, leave-one-out errors, prediction
//!   intervals with Student's t;
//! - [`huber`]: coefficients that single odd observations cannot drag away, with standard errors and a prediction
//!   interval of this crate's own.
//!
//! A design has one row per observation and one value per coefficient; a constant term is a column of ones that the
//! caller puts in. Responses and everything derived from them are in the unit of the response.
//!
//! # Examples
//! ```
//! use tangmark_measure::regression::{huber, ordinary};
//!
//! let design: Vec<Vec<f64>> = (0..10).map(|x| vec![1.0, f64::from(x)]).collect();
//! let mut response: Vec<f64> = (0..10).map(|x| 3.0 + 2.0 * f64::from(x) + 0.1 * f64::from(x % 3)).collect();
//! response[9] += 50.0;
//! let (dragged, firm) = (ordinary(&design, &response)?, huber(&design, &response)?);
//! assert!(dragged.coefficients[1] > 4.0);
//! assert!((firm.coefficients[1] - 2.0).abs() < 0.1);
//! # Ok::<(), tangmark_measure::linear::FitError>(())
//! ```

mod huber;
mod least_squares;
#[cfg(test)]
mod tests;

pub use huber::{HUBER_T, Robust, huber};
pub use least_squares::{Interval, Regression, ordinary, weighted};

/// Returns the quadratic form xᵀ M x; `None` where the sizes differ.
fn quadratic(row: &[f64], matrix: &[Vec<f64>]) -> Option<f64> {
    if row.len() != matrix.len() {
        return None;
    }
    let products = row.iter().zip(matrix).map(|(x, line)| {
        let inner: f64 = row.iter().zip(line).map(|(y, value)| y * value).sum();
        x * inner
    });
    Some(products.sum::<f64>().max(0.0))
}

/// Returns the scalar product; `None` where the sizes differ.
fn product(row: &[f64], coefficients: &[f64]) -> Option<f64> {
    (row.len() == coefficients.len())
        .then(|| row.iter().zip(coefficients).map(|(x, c)| x * c).sum())
}

/// Tells whether a column of the design is constant and not zero, that is, stands for a constant term.
fn has_constant(design: &[Vec<f64>]) -> bool {
    let Some(first) = design.first() else {
        return false;
    };
    first.iter().enumerate().any(|(column, value)| {
        *value != 0.0
            && design.iter().all(|row| {
                row.get(column)
                    .is_some_and(|other| other.total_cmp(value).is_eq())
            })
    })
}

/// Returns the median; not a number for no values.
fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    let middle = values.len() / 2;
    match values.len() {
        0 => f64::NAN,
        even if even % 2 == 0 => f64::midpoint(values[middle - 1], values[middle]),
        _ => values[middle],
    }
}
