//! Propagation of distributions by drawing them at random, from a seed.
//!
//! The same seed gives the same draws on every machine: the stream is ChaCha8, and all functions are those of one
//! library and not of the machine.
//!
//! Source: JCGM 101:2008, from memory.

mod distribution;

pub use distribution::Distribution;

use distribution::Draws;

use crate::{Estimate, statistics};

/// Fewest trials: below, even a coverage interval of 95 % rests on a handful of draws.
pub const FEWEST: usize = 1_000;

/// Most trials, for the memory they take.
pub const MOST: usize = 10_000_000;

/// Why distributions cannot be propagated.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum MonteCarloError {
    /// Too few or too many trials.
    #[error(
        "{found} trials were asked for, {FEWEST} to {MOST} are allowed: 200000 do for an interval of 95 %"
    )]
    Trials {
        /// What was asked for.
        found: usize,
    },
    /// A distribution that is none.
    #[error("input {index}: {what}; set its distribution again")]
    Distribution {
        /// Which input, from 0.
        index: usize,
        /// What is wrong.
        what: String,
    },
    /// A model without a finite value for some draw.
    #[error(
        "the model gives {found} for trial {trial}: it must be finite wherever the inputs may lie"
    )]
    Model {
        /// Which trial, from 0.
        trial: usize,
        /// What was found.
        found: f64,
    },
}

/// What came out of the trials.
#[derive(Clone, Debug, PartialEq)]
pub struct Outcome {
    sorted: Vec<f64>,
    mean: f64,
    standard_uncertainty: f64,
}

/// Draws all inputs `trials` times, independent of each other, and puts each set through the model.
///
/// # Errors
/// [`MonteCarloError`] for a number of trials out of range, impossible distributions and a model that is not finite.
pub fn propagate(
    inputs: &[Distribution],
    trials: usize,
    seed: u64,
    model: impl Fn(&[f64]) -> f64,
) -> Result<Outcome, MonteCarloError> {
    if !(FEWEST..=MOST).contains(&trials) {
        return Err(MonteCarloError::Trials { found: trials });
    }
    for (index, input) in inputs.iter().enumerate() {
        if let Some(what) = input.wrong() {
            return Err(MonteCarloError::Distribution { index, what });
        }
    }
    let mut draws = Draws::new(seed);
    let mut sorted = Vec::with_capacity(trials);
    let mut point = vec![0.0; inputs.len()];
    for trial in 0..trials {
        for (place, input) in point.iter_mut().zip(inputs) {
            *place = input.draw(&mut draws);
        }
        let found = model(&point);
        if !found.is_finite() {
            return Err(MonteCarloError::Model { trial, found });
        }
        sorted.push(found);
    }
    let mean = statistics::mean(&sorted).unwrap_or(f64::NAN);
    let standard_uncertainty = statistics::sample_standard_deviation(&sorted).unwrap_or(0.0);
    sorted.sort_by(f64::total_cmp);
    Ok(Outcome {
        sorted,
        mean,
        standard_uncertainty,
    })
}

impl Outcome {
    /// Returns mean and standard deviation of the trials.
    pub fn estimate(&self) -> Estimate {
        Estimate::new(self.mean, self.standard_uncertainty)
    }

    /// Returns all values, in rising order.
    pub fn sorted(&self) -> &[f64] {
        &self.sorted
    }

    /// Returns the coverage interval with equal tails, for a probability such as 0.95.
    ///
    /// Source: JCGM 101:2008, 7.7.2, from memory.
    pub fn symmetric(&self, probability: f64) -> (f64, f64) {
        let inside = self.inside(probability);
        let below = (self.sorted.len() - inside) / 2;
        self.interval(below, inside)
    }

    /// Returns the shortest coverage interval, for a probability such as 0.95; the lowest of several equal ones.
    ///
    /// Source: JCGM 101:2008, 7.7.4, from memory.
    pub fn shortest(&self, probability: f64) -> (f64, f64) {
        let inside = self.inside(probability);
        let width = |below: &usize| self.sorted[below + inside] - self.sorted[*below];
        let below = (0..self.sorted.len() - inside)
            .min_by(|one, other| width(one).total_cmp(&width(other)))
            .unwrap_or(0);
        self.interval(below, inside)
    }

    /// Returns the share of trials below a limit.
    pub fn share_below(&self, limit: f64) -> f64 {
        let below = self.sorted.partition_point(|value| *value < limit);
        below as f64 / self.sorted.len() as f64
    }

    /// Tells whether an interval found by another way agrees with the symmetric one, to this many significant digits
    /// of the standard uncertainty.
    ///
    /// Source: JCGM 101:2008, clause 8 (validation of the first-order framework), from memory: both ends within half
    /// a unit of the last digit that counts.
    pub fn agrees(&self, interval: (f64, f64), probability: f64, digits: i32) -> bool {
        let exponent = libm::floor(libm::log10(self.standard_uncertainty));
        let within = 0.5 * libm::pow(10.0, exponent + 1.0 - f64::from(digits));
        let own = self.symmetric(probability);
        (own.0 - interval.0).abs() <= within && (own.1 - interval.1).abs() <= within
    }

    /// Returns how many steps lie between the ends of an interval.
    fn inside(&self, probability: f64) -> usize {
        let wanted = probability.clamp(0.0, 1.0) * self.sorted.len() as f64 + 0.5;
        // Counted, as a float is not turned into an index here.
        let (mut low, mut high) = (0, self.sorted.len() - 1);
        while low < high {
            let middle = (low + high).div_ceil(2);
            if middle as f64 <= wanted {
                low = middle;
            } else {
                high = middle - 1;
            }
        }
        low
    }

    fn interval(&self, below: usize, inside: usize) -> (f64, f64) {
        let last = self.sorted.len() - 1;
        let start = below.min(last);
        (self.sorted[start], self.sorted[(start + inside).min(last)])
    }
}

#[cfg(test)]
mod tests;
