//! Rates of the stones, learned from the readings of every pass, and the forecast that follows.
//!
//! The logarithm of a stone's rate is normal: by the user's measured rate, or wide. A pass of t minutes takes
//! ρ·t·exp(θ)·(1 + ε), where ε is the scatter from pass to pass, which nobody knows beforehand: it is carried as seven
//! possible sizes and weighed by how well each explains the log. Between two passes θ drifts. A reading of steel g with
//! its u is weighed in on a grid of θ, so that readings near nothing, or below, do no harm; what comes out is taken as
//! normal again.
//!
//! Source: Bayes' rule; assumed-density filtering with matched moments, from memory; the model is this tool's own.

use tangmark_measure::Estimate;

/// Rate of a stone: the logarithm of mm³/min as a normal variable.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Rate {
    /// Mean of the logarithm.
    pub(crate) log_mean: f64,
    /// Standard deviation of the logarithm.
    pub(crate) log_sd: f64,
}

impl Rate {
    /// Median, mm³/min.
    pub(crate) fn median(self) -> f64 {
        libm::exp(self.log_mean)
    }

    /// Interval that holds 95 %, mm³/min.
    pub(crate) fn interval(self) -> (f64, f64) {
        let reach = 1.96 * self.log_sd;
        (
            libm::exp(self.log_mean - reach),
            libm::exp(self.log_mean + reach),
        )
    }
}

/// A pass with a stone of the table, timed and read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Observation {
    /// Place of the stone in the table.
    pub(crate) stone: usize,
    /// Time, min.
    pub(crate) minutes: f64,
    /// Steel gone by the readings, g.
    pub(crate) steel: Estimate,
}

/// Possible scatters from pass to pass, as multiples of the usual one, and how likely each is before the log.
///
/// Source: own choice: a log-normal of the usual scatter with a standard deviation of 0.75 in the logarithm.
const SCATTERS: [(f64, f64); 7] = [
    (0.27, 0.053),
    (0.42, 0.124),
    (0.65, 0.205),
    (1.0, 0.241),
    (1.55, 0.203),
    (2.4, 0.122),
    (3.7, 0.053),
];

/// Points of the search for the greatest, and of the grid around it, to either side.
const SEARCH: i32 = 24;
const GRID: i32 = 40;

/// How many standard deviations both reach.
const REACH: f64 = 7.0;

/// Density of steel, g/mm³, at its usual value: rates are volumes only so that faces can be compared with them.
const GRAM_PER_MM3: f64 = 7.82e-3;

/// What the log says of the rates.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Learned {
    drift: f64,
    /// One line a scatter: how likely it is, the scatter, and the rate of each stone under it.
    lines: Vec<Line>,
}

#[derive(Clone, Debug, PartialEq)]
struct Line {
    weight: f64,
    scatter: f64,
    rates: Vec<Rate>,
}

/// How rates change between passes, as shares of them, k = 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Wandering {
    /// Drift from one pass to the next, which stays.
    pub(crate) drift: f64,
    /// Usual scatter from pass to pass, which does not.
    pub(crate) scatter: f64,
}

/// Learns the rates of the stones from the log, in its order.
pub(crate) fn learn(priors: &[Rate], log: &[Observation], wandering: Wandering) -> Learned {
    let mut lines: Vec<Line> = SCATTERS
        .iter()
        .map(|(multiple, likely)| {
            let scatter = multiple * wandering.scatter;
            let mut rates = priors.to_vec();
            let mut evidence = libm::log(*likely);
            for seen in log.iter().filter(|seen| seen.minutes > 0.0) {
                if let Some(rate) = rates.get_mut(seen.stone) {
                    let (after, likelihood) = updated(*rate, seen, scatter, wandering.drift);
                    *rate = after;
                    evidence += likelihood;
                }
            }
            Line {
                weight: evidence,
                scatter,
                rates,
            }
        })
        .collect();
    let greatest = lines
        .iter()
        .map(|line| line.weight)
        .fold(f64::NEG_INFINITY, f64::max);
    for line in &mut lines {
        line.weight = libm::exp(line.weight - greatest);
    }
    let all: f64 = lines.iter().map(|line| line.weight).sum();
    for line in &mut lines {
        line.weight /= all;
    }
    Learned {
        drift: wandering.drift,
        lines,
    }
}

/// Weighs one reading in; returns the rate after it and the logarithm of how likely the reading was.
fn updated(rate: Rate, seen: &Observation, scatter: f64, drift: f64) -> (Rate, f64) {
    let spread = libm::hypot(rate.log_sd, drift);
    let u_reading = seen.steel.standard_uncertainty.max(1e-6);
    let expected = |z: f64| GRAM_PER_MM3 * seen.minutes * libm::exp(rate.log_mean + z * spread);
    let weight = |z: f64| {
        let expected = expected(z);
        let u = libm::hypot(u_reading, scatter * expected);
        let off = (seen.steel.value - expected) / u;
        -0.5 * (off * off + z * z) - libm::log(u)
    };
    // First where it is greatest, then a grid as fine as the reading is sharp.
    let searched = (-SEARCH..=SEARCH).map(|index| REACH * f64::from(index) / f64::from(SEARCH));
    let (centre, _) =
        searched
            .map(|z| (z, weight(z)))
            .fold((0.0, f64::NEG_INFINITY), |best, one| {
                if one.1 > best.1 { one } else { best }
            });
    let at = expected(centre);
    let sharp = libm::hypot(u_reading / at, scatter) / spread;
    // The search steps over a sharp reading by half a step at most.
    let width = REACH * (sharp / libm::hypot(1.0, sharp)) + REACH / f64::from(SEARCH);
    let points: Vec<(f64, f64)> = (-GRID..=GRID)
        .map(|index| {
            let z = centre + width * f64::from(index) / f64::from(GRID);
            (z, weight(z))
        })
        .collect();
    let greatest = points
        .iter()
        .map(|point| point.1)
        .fold(f64::NEG_INFINITY, f64::max);
    let weights: Vec<f64> = points
        .iter()
        .map(|point| libm::exp(point.1 - greatest))
        .collect();
    let all: f64 = weights.iter().sum();
    let mean = points
        .iter()
        .zip(&weights)
        .map(|(point, weight)| point.0 * weight)
        .sum::<f64>()
        / all;
    let off = |point: &(f64, f64)| (point.0 - mean) * (point.0 - mean);
    let variance = points
        .iter()
        .zip(&weights)
        .map(|(point, weight)| off(point) * weight)
        .sum::<f64>()
        / all;
    let step = width / f64::from(GRID);
    // Between two points of the grid nothing is resolved.
    let log_sd = spread * libm::sqrt(variance + step * step / 12.0);
    (
        Rate {
            log_mean: rate.log_mean + spread * mean,
            log_sd,
        },
        greatest + libm::log(all * step),
    )
}

impl Learned {
    /// Rate of a stone over all scatters.
    pub(crate) fn rate(&self, stone: usize) -> Option<Rate> {
        let each = || {
            self.lines
                .iter()
                .filter_map(|line| Some((line.weight, *line.rates.get(stone)?)))
        };
        let mean: f64 = each().map(|(weight, rate)| weight * rate.log_mean).sum();
        let variance: f64 = each()
            .map(|(weight, rate)| {
                weight
                    * (rate.log_sd * rate.log_sd + (rate.log_mean - mean) * (rate.log_mean - mean))
            })
            .sum();
        each().next()?;
        Some(Rate {
            log_mean: mean,
            log_sd: libm::sqrt(variance),
        })
    }

    /// Scatter from pass to pass, as standard deviation of the logarithm.
    pub(crate) fn scatter(&self) -> f64 {
        self.lines
            .iter()
            .map(|line| line.weight * line.scatter)
            .sum()
    }

    /// Mass after each stage, g, when each is worked by the clock: stone and minutes.
    ///
    /// Rate, scatter and drift are in the uncertainty; a stone that comes again has the same unknown rate.
    pub(crate) fn forecast(&self, now: Estimate, stages: &[(usize, f64)]) -> Vec<Estimate> {
        (1..=stages.len())
            .map(|count| {
                let (mean, variance) = self.lost(&stages[..count]);
                Estimate::new(
                    now.value - mean,
                    libm::hypot(now.standard_uncertainty, libm::sqrt(variance)),
                )
            })
            .collect()
    }

    /// Mean and variance of the steel that stages take, g.
    fn lost(&self, stages: &[(usize, f64)]) -> (f64, f64) {
        let mut mean = 0.0;
        let mut second = 0.0;
        for Line {
            weight,
            scatter,
            rates,
        } in &self.lines
        {
            let mut means: Vec<(usize, f64)> = Vec::new();
            let mut variance = 0.0;
            for (stone, minutes) in stages {
                let Some(rate) = rates.get(*stone) else {
                    continue;
                };
                let shared = rate.log_sd * rate.log_sd;
                let own = self.drift * self.drift + scatter * scatter;
                let one = GRAM_PER_MM3
                    * minutes
                    * libm::exp(rate.log_mean + f64::midpoint(shared, self.drift * self.drift));
                variance += one * one * libm::expm1(shared + own);
                for (_, other) in means.iter().filter(|(earlier, _)| earlier == stone) {
                    variance += 2.0 * one * other * libm::expm1(shared + self.drift * self.drift);
                }
                means.push((*stone, one));
            }
            let total: f64 = means.iter().map(|one| one.1).sum();
            mean += weight * total;
            second += weight * (variance + total * total);
        }
        (mean, (second - mean * mean).max(0.0))
    }
}

#[cfg(test)]
#[path = "rates_tests.rs"]
mod tests;
