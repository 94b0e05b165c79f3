//! The line of the back as a whole.

use super::Apex;
use crate::Estimate;
use crate::gum::{Correlations, GumError, Input, combine_all};
use crate::linear::{FitError, solve};

/// A point of the back: place along and height across a straight edge laid anywhere near the chord, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BackPoint {
    /// Place along the straight edge.
    pub along: Estimate,
    /// Height over it.
    pub height: Estimate,
}

/// Heights over the chord from the first to the last point.
#[derive(Clone, Debug, PartialEq)]
pub struct OverChord {
    /// Length of the chord, mm.
    pub chord: Estimate,
    /// Place along the chord and height over it, mm, for every point; the ends have height 0.
    pub heights: Vec<(f64, Estimate)>,
}

/// Turns points of the back into heights over the chord between the first and the last of them.
///
/// The uncertainty of the ends goes into every height between them. `None` for fewer than three points and where
/// the ends coincide.
///
/// Source: plane geometry.
pub fn over_chord(points: &[BackPoint]) -> Option<OverChord> {
    let (first, last) = (points.first()?, points.last()?);
    let run = last.along.value - first.along.value;
    let rise = last.height.value - first.height.value;
    let chord = run.hypot(rise);
    if points.len() < 3 || chord == 0.0 || !chord.is_finite() {
        return None;
    }
    let (along, across) = (run / chord, rise / chord);
    // Errors along the straight edge matter for a length, those across it for a height.
    let in_length = |point: &BackPoint| {
        (along * point.along.standard_uncertainty).hypot(across * point.height.standard_uncertainty)
    };
    let in_height = |point: &BackPoint| {
        (across * point.along.standard_uncertainty).hypot(along * point.height.standard_uncertainty)
    };
    let ends = points.len() - 1;
    let heights = points.iter().enumerate().map(|(index, point)| {
        let (x, y) = (
            point.along.value - first.along.value,
            point.height.value - first.height.value,
        );
        let place = x * along + y * across;
        if index == 0 || index == ends {
            return (place, Estimate::exact(0.0));
        }
        let share = place / chord;
        let spread = in_height(point)
            .hypot((1.0 - share) * in_height(first))
            .hypot(share * in_height(last));
        (place, Estimate::new(y * along - x * across, spread))
    });
    Some(OverChord {
        chord: Estimate::new(chord, in_length(first).hypot(in_length(last))),
        heights: heights.collect(),
    })
}

/// How unevenly a back is curved: the curve x(1 − x)(a + b·x) over the chord as unit of length.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Skew {
    /// b/a: 0 for an even curve, below 0 deepest towards the tang, above 0 towards the point.
    pub ratio: Estimate,
    /// Depth in mm and place of the top of the fitted curve.
    pub apex: Apex,
    /// Standard deviation of the heights about the curve, mm.
    pub residual_sd: f64,
}

/// Why a skew cannot be told.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum SkewError {
    /// The curve could not be fitted.
    #[error("the line of the back: {0}")]
    Fit(#[from] FitError),
    /// The uncertainties could not be combined.
    #[error(transparent)]
    Budget(#[from] GumError),
    /// No curvature to be skewed, or one with several tops.
    #[error(
        "the back has no single top that stands out of its uncertainty (a = {a} ± {expanded} mm at k = 2, b/a = {ratio}): read more points, or call it straight"
    )]
    NoTop {
        /// Coefficient a, mm.
        a: f64,
        /// Its expanded uncertainty, mm.
        expanded: f64,
        /// b/a.
        ratio: f64,
    },
}

/// Fits the skewed curve to heights over the chord, as [`over_chord`] gives them or as a sheet holds them.
///
/// Points at the ends of the chord and beyond say nothing about the skew and are passed over. The spread of a height
/// is the larger of the residual standard deviation and the mean uncertainty of the readings.
///
/// Source: own construction; the top is where the derivative of the cubic vanishes,
/// x = 1/(1 − r + √(1 + r + r²)) with r = b/a > −1.
///
/// # Errors
/// [`SkewError`] for fewer than two points between the ends, and for a back without a single top.
pub fn skew(heights: &[(f64, Estimate)], chord: f64) -> Result<Skew, SkewError> {
    let within: Vec<(f64, Estimate)> = heights
        .iter()
        .map(|(place, height)| (place / chord, *height))
        .filter(|(share, _)| *share > 0.0 && *share < 1.0)
        .collect();
    let design: Vec<Vec<f64>> = within
        .iter()
        .map(|(x, _)| vec![x * (1.0 - x), x * x * (1.0 - x)])
        .collect();
    let response: Vec<f64> = within.iter().map(|(_, height)| height.value).collect();
    let fit = solve(&design, &response)?;
    let readings: f64 = within
        .iter()
        .map(|(_, height)| height.standard_uncertainty)
        .sum();
    let reading = readings / within.len() as f64;
    let (spread, dof) = if fit.residual_sd > reading {
        (fit.residual_sd, fit.dof as f64)
    } else {
        (reading, f64::INFINITY)
    };
    let input = |index: usize, name: &str| {
        let variance = fit.covariance_unscaled[index][index];
        let estimate = Estimate::new(fit.coefficients[index], spread * variance.sqrt());
        Input::new(name, estimate, "fit to the line of the back").with_dof(dof)
    };
    let (a, b) = (input(0, "a"), input(1, "b"));
    let (found, expanded, ratio) = (a.value, a.estimate().expanded(), b.value / a.value);
    // Near r = −1 the curve has a top on either side.
    if found.abs() <= expanded || ratio.is_nan() || ratio <= -0.9 {
        return Err(SkewError::NoTop {
            a: found,
            expanded,
            ratio,
        });
    }
    let tied = Correlations::none().with(0, 1, fit.correlation(0, 1).unwrap_or(0.0));
    let joint = combine_all(&[a, b], &tied, |at| {
        let ratio = at[1] / at[0];
        let x = top(ratio);
        vec![ratio, x, x * (1.0 - x) * (at[0] + at[1] * x)]
    })?;
    let estimate = |index: usize| joint.outputs[index].estimate;
    Ok(Skew {
        ratio: estimate(0),
        apex: Apex {
            depth: estimate(2),
            place: estimate(1),
        },
        residual_sd: fit.residual_sd,
    })
}

fn top(ratio: f64) -> f64 {
    1.0 / (1.0 - ratio + (1.0 + ratio + ratio * ratio).sqrt())
}
