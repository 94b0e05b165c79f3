//! Circle through many points of a nearly straight line.

use crate::Estimate;
use crate::fit::least_squares;
use crate::linear::FitError;

/// Circle of least squares through points.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Circle {
    /// Curvature in 1/mm: one over the radius; above 0 where the line bulges towards positive heights, 0 for a
    /// straight line.
    pub curvature: Estimate,
    /// Standard deviation of the distances of the points from the circle, mm.
    pub residual_sd: f64,
    /// Greatest distance of a point from the circle, mm.
    pub greatest_residual: f64,
}

impl Circle {
    /// Returns the radius in mm, with the sign of the curvature; `None` where the curvature is within U (k = 2) of
    /// none, as the radius then has no upper bound.
    pub fn radius(&self) -> Option<Estimate> {
        let curvature = self.curvature;
        if curvature.value.abs() <= curvature.expanded() || curvature.value == 0.0 {
            return None;
        }
        let radius = 1.0 / curvature.value;
        Some(Estimate::new(
            radius,
            curvature.standard_uncertainty * radius * radius,
        ))
    }
}

/// Fits a circle to points (along, height) in mm, up to about half of it, by the distances square to the circle.
///
/// `reading` is the standard uncertainty of a point, mm; the larger of it and the residual spread counts.
///
/// The circle is written as κ(x² + y²)/2 + x·B + y·C + D = 0 with B² + C² = 1 + 2κD, which stays well-behaved
/// when it becomes a straight line.
///
/// Source: geometric least squares, plane geometry; the form with curvature as parameter from memory.
///
/// # Errors
/// [`FitError`] for fewer than three points, numbers that are not finite, points that coincide, and where no circle
/// is found.
pub fn circle(points: &[(f64, f64)], reading: f64) -> Result<Circle, FitError> {
    let count = points.len() as f64;
    if points.len() < 3 {
        return Err(FitError::TooFew {
            observations: points.len(),
            coefficients: 3,
        });
    }
    let middle = |pick: fn(&(f64, f64)) -> f64| points.iter().map(pick).sum::<f64>() / count;
    let (x0, y0) = (middle(|point| point.0), middle(|point| point.1));
    let reach = points.iter().fold(0.0, |most, point| {
        f64::max(most, (point.0 - x0).hypot(point.1 - y0))
    });
    if reach == 0.0 {
        return Err(FitError::Dependent { column: 1 });
    }
    // About their middle and in units of their reach all parameters are of the size of one.
    let scaled: Vec<(f64, f64)> = points
        .iter()
        .map(|(x, y)| ((x - x0) / reach, (y - y0) / reach))
        .collect();
    let fit = least_squares(&[0.0, std::f64::consts::FRAC_PI_2, 0.0], |at| {
        scaled.iter().map(|point| distance(*point, at)).collect()
    })?;
    let bend = fit
        .parameter(0, reading / reach)
        .ok_or(FitError::Dependent { column: 0 })?;
    Ok(Circle {
        curvature: bend.scaled(1.0 / reach),
        residual_sd: fit.residual_sd * reach,
        greatest_residual: reach
            * fit
                .residuals
                .iter()
                .fold(0.0, |most, one| f64::max(most, one.abs())),
    })
}

/// Returns the signed distance of a point from the circle (curvature, direction of the normal, offset).
fn distance((x, y): (f64, f64), at: &[f64]) -> f64 {
    let [bend, direction, offset] = at else {
        return f64::NAN;
    };
    let length = (1.0 + 2.0 * bend * offset).sqrt();
    let across = length * (x * libm::cos(*direction) + y * libm::sin(*direction));
    let form = bend * (x * x + y * y) / 2.0 + across + offset;
    // 1 + 2κF is the square of the distance from the centre over that of the radius.
    2.0 * form / (1.0 + (1.0 + 2.0 * bend * form).max(0.0).sqrt())
}
