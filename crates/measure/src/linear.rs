//! Linear least squares through an orthogonal decomposition.

/// Result of a linear least-squares fit.
#[derive(Clone, Debug, PartialEq)]
pub struct LinearFit {
    /// One coefficient per column of the design.
    pub coefficients: Vec<f64>,
    /// (XᵀX)⁻¹: times the variance of one observation, the covariance matrix of the coefficients.
    pub covariance_unscaled: Vec<Vec<f64>>,
    /// Observed minus fitted response, in the unit of the response.
    pub residuals: Vec<f64>,
    /// Residual standard deviation, in the unit of the response; zero where no degrees of freedom are left.
    pub residual_sd: f64,
    /// Degrees of freedom: observations minus coefficients.
    pub dof: usize,
}

/// Why a fit cannot be made.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum FitError {
    /// Nothing to fit.
    #[error(
        "the fit has {observations} observations for {coefficients} coefficients: give at least as many observations as coefficients, and one coefficient or more"
    )]
    TooFew {
        /// Observations found.
        observations: usize,
        /// Coefficients wanted.
        coefficients: usize,
    },
    /// Lists that do not belong together.
    #[error(
        "row {row} has {found} values, {expected} are needed: give every observation its response and one value per coefficient"
    )]
    Uneven {
        /// First row that differs, from 0.
        row: usize,
        /// Values found.
        found: usize,
        /// Values needed.
        expected: usize,
    },
    /// A value that is no finite number.
    #[error(
        "row {row} holds {found}, which is not a finite number: leave the observation out or read it again"
    )]
    NotFinite {
        /// Row, from 0.
        row: usize,
        /// What was found.
        found: f64,
    },
    /// Columns that the observations cannot tell apart.
    #[error(
        "the observations cannot tell column {column} from the columns before it: vary that condition, or leave the column out"
    )]
    Dependent {
        /// Column, from 0.
        column: usize,
    },
    /// A nonlinear fit that found no minimum.
    #[error(
        "the fit did not settle within {steps} steps: start nearer to the answer, or use a simpler curve"
    )]
    NotSettled {
        /// Steps made.
        steps: usize,
    },
}

/// Share of a column's length that must be left after taking the columns before it away.
///
/// Source: this tool's own choice, about a thousand times the rounding of a double.
const INDEPENDENT: f64 = 1e-13;

/// Fits the coefficients that leave the least sum of squared residuals.
///
/// `design` has one row per observation and one value per coefficient; `response` one value per observation. The
/// columns are brought to unit length first, so that units of very different size cost no digits.
///
/// Source: QR decomposition by Householder's reflections (1958), from memory.
///
/// # Errors
/// [`FitError`] for too few or uneven observations, values that are not finite, and dependent columns.
pub fn solve(design: &[Vec<f64>], response: &[f64]) -> Result<LinearFit, FitError> {
    let count = design.first().map_or(0, Vec::len);
    examine(design, response, count)?;
    let mut columns: Vec<Vec<f64>> = (0..count)
        .map(|column| design.iter().map(|row| row[column]).collect())
        .collect();
    let scales: Vec<f64> = columns.iter().map(|column| length(column)).collect();
    for (index, (column, scale)) in columns.iter_mut().zip(&scales).enumerate() {
        // A subnormal length has no reciprocal to trust.
        if !scale.is_normal() {
            return Err(FitError::Dependent { column: index });
        }
        for value in column.iter_mut() {
            *value /= scale;
        }
    }
    let mut rest = response.to_vec();
    for pivot in 0..count {
        reflect(&mut columns, &mut rest, pivot)?;
    }
    let scaled = back_substitute(&columns, &rest);
    let coefficients: Vec<f64> = scaled.iter().zip(&scales).map(|(c, s)| c / s).collect();
    let residuals: Vec<f64> = design
        .iter()
        .zip(response)
        .map(|(row, observed)| {
            let fitted = row.iter().zip(&coefficients).map(|(x, c)| x * c);
            crate::statistics::sum(fitted.map(|part| -part).chain([*observed]))
        })
        .collect();
    let dof = design.len() - count;
    // Below the triangle the rotated response is what no coefficient explains.
    let residual_sd = if dof == 0 {
        0.0
    } else {
        length(&rest[count..]) / (dof as f64).sqrt()
    };
    Ok(LinearFit {
        coefficients,
        covariance_unscaled: covariance(&columns, &scales),
        residuals,
        residual_sd,
        dof,
    })
}

fn examine(design: &[Vec<f64>], response: &[f64], count: usize) -> Result<(), FitError> {
    if count == 0 || design.len() < count {
        return Err(FitError::TooFew {
            observations: design.len(),
            coefficients: count,
        });
    }
    if design.len() != response.len() {
        return Err(FitError::Uneven {
            row: design.len().min(response.len()),
            found: usize::from(design.len() > response.len()) * count,
            expected: count + 1,
        });
    }
    for (row, (values, observed)) in design.iter().zip(response).enumerate() {
        if values.len() != count {
            return Err(FitError::Uneven {
                row,
                found: values.len(),
                expected: count,
            });
        }
        let bad = values.iter().chain([observed]).find(|one| !one.is_finite());
        if let Some(found) = bad {
            return Err(FitError::NotFinite { row, found: *found });
        }
    }
    Ok(())
}

/// Returns the Euclidean length without overflow.
fn length(values: &[f64]) -> f64 {
    let largest = values.iter().fold(0.0_f64, |most, one| most.max(one.abs()));
    if largest == 0.0 {
        return 0.0;
    }
    let squares = crate::statistics::sum(values.iter().map(|one| (one / largest).powi(2)));
    largest * squares.sqrt()
}

/// Turns the space so that column `pivot` ends at its diagonal element, and the response with it.
fn reflect(columns: &mut [Vec<f64>], response: &mut [f64], pivot: usize) -> Result<(), FitError> {
    let mut mirror: Vec<f64> = columns[pivot][pivot..].to_vec();
    let left = length(&mirror);
    // The columns had unit length before the first reflection, and reflections keep lengths.
    if left <= INDEPENDENT {
        return Err(FitError::Dependent { column: pivot });
    }
    let target = if mirror[0] > 0.0 { -left } else { left };
    mirror[0] -= target;
    let square = mirror.iter().map(|one| one * one).sum::<f64>();
    let turn = |vector: &mut [f64]| {
        let along = vector.iter().zip(&mirror).map(|(v, m)| v * m);
        let factor = 2.0 * crate::statistics::sum(along) / square;
        for (value, part) in vector.iter_mut().zip(&mirror) {
            *value -= factor * part;
        }
    };
    for column in &mut columns[pivot + 1..] {
        turn(&mut column[pivot..]);
    }
    turn(&mut response[pivot..]);
    columns[pivot][pivot] = target;
    Ok(())
}

/// Solves the triangle for the first elements of `right`.
fn back_substitute(columns: &[Vec<f64>], right: &[f64]) -> Vec<f64> {
    let mut solution = vec![0.0; columns.len()];
    for row in (0..columns.len()).rev() {
        let known: f64 = (row + 1..columns.len())
            .map(|column| columns[column][row] * solution[column])
            .sum();
        solution[row] = (right[row] - known) / columns[row][row];
    }
    solution
}

/// Returns R⁻¹R⁻ᵀ with the scaling of the columns taken out.
fn covariance(columns: &[Vec<f64>], scales: &[f64]) -> Vec<Vec<f64>> {
    let count = columns.len();
    let inverse: Vec<Vec<f64>> = (0..count)
        .map(|index| {
            let unit: Vec<f64> = (0..count)
                .map(|row| if row == index { 1.0 } else { 0.0 })
                .collect();
            back_substitute(columns, &unit)
        })
        .collect();
    (0..count)
        .map(|row| {
            (0..count)
                .map(|column| {
                    let product: f64 = inverse.iter().map(|one| one[row] * one[column]).sum();
                    product / (scales[row] * scales[column])
                })
                .collect()
        })
        .collect()
}

impl LinearFit {
    /// Returns the standard uncertainty of a coefficient from the residual spread; `None` for no such coefficient.
    pub fn standard_error(&self, index: usize) -> Option<f64> {
        let variance = self.covariance_unscaled.get(index)?.get(index)?;
        Some(self.residual_sd * variance.sqrt())
    }

    /// Returns the correlation of two coefficients; `None` for no such coefficients.
    pub fn correlation(&self, first: usize, second: usize) -> Option<f64> {
        let of =
            |row: usize, column: usize| self.covariance_unscaled.get(row)?.get(column).copied();
        Some(of(first, second)? / (of(first, first)? * of(second, second)?).sqrt())
    }

    /// Returns the fitted value at a design row with its standard uncertainty from the residual spread, without
    /// the spread of a new observation; `None` where the row has another number of values.
    pub fn at(&self, row: &[f64]) -> Option<crate::Estimate> {
        if row.len() != self.coefficients.len() {
            return None;
        }
        let value = row.iter().zip(&self.coefficients).map(|(x, c)| x * c);
        let spread = |(x, line): (&f64, &Vec<f64>)| -> f64 {
            x * row.iter().zip(line).map(|(y, v)| y * v).sum::<f64>()
        };
        let variance: f64 = row.iter().zip(&self.covariance_unscaled).map(spread).sum();
        Some(crate::Estimate::new(
            value.sum(),
            self.residual_sd * variance.max(0.0).sqrt(),
        ))
    }
}

/// Returns the design rows 1, x, x², … for a polynomial.
pub fn polynomial(places: &[f64], degree: usize) -> Vec<Vec<f64>> {
    let row = |place: &f64| {
        let powers = std::iter::successors(Some(1.0), |power| Some(power * place));
        powers.take(degree + 1).collect()
    };
    places.iter().map(row).collect()
}

#[cfg(test)]
#[path = "linear/tests.rs"]
mod tests;
