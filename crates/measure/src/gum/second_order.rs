//! The terms after the first.

use super::combine::{examine, finite};
use super::{GumError, Input};
use crate::statistics;

/// Returns the variance that the next terms of the series add to the first-order one, for independent inputs with
/// symmetric distributions. It can be negative.
///
/// Wanted where the function bends strongly or a first-order term vanishes, as with a product of two deviations
/// about zero. Derivatives are taken as differences over one standard uncertainty.
///
/// Source: JCGM 100:2008, 5.1.2, note, from memory: Σᵢ Σⱼ (½ fᵢⱼ² + fᵢ fᵢⱼⱼ) u²(xᵢ) u²(xⱼ).
///
/// # Errors
/// [`GumError`] for inputs and functions that give no finite result.
pub fn second_order_variance(
    inputs: &[Input],
    function: impl Fn(&[f64]) -> f64,
) -> Result<f64, GumError> {
    examine(inputs)?;
    let at = |moves: &[(usize, f64)]| {
        let mut point: Vec<f64> = inputs.iter().map(|input| input.value).collect();
        for (index, steps) in moves {
            point[*index] += steps * inputs[*index].standard_uncertainty;
        }
        function(&point)
    };
    let centre = at(&[]);
    let mut terms = Vec::new();
    for i in 0..inputs.len() {
        let (up, down) = (at(&[(i, 1.0)]), at(&[(i, -1.0)]));
        let slope = (up - down) / 2.0;
        for j in 0..inputs.len() {
            let (mixed, third) = if i == j {
                let far = at(&[(i, 2.0)]) - at(&[(i, -2.0)]);
                (up - 2.0 * centre + down, (far - 2.0 * (up - down)) / 2.0)
            } else {
                let corner = |one: f64, other: f64| at(&[(i, one), (j, other)]);
                let (a, b) = (corner(1.0, 1.0), corner(1.0, -1.0));
                let (c, d) = (corner(-1.0, 1.0), corner(-1.0, -1.0));
                let bend_up = a - 2.0 * up + b;
                let bend_down = c - 2.0 * down + d;
                ((a - b - c + d) / 4.0, (bend_up - bend_down) / 2.0)
            };
            terms.push(0.5 * mixed * mixed + slope * third);
        }
    }
    let added = statistics::sum(terms);
    finite(&[added])?;
    Ok(added)
}
