//! Distributions, and how they are drawn.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng as _, SeedableRng as _};

use crate::Estimate;

/// What is known of an input quantity.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Distribution {
    /// Normal distribution.
    Normal {
        /// Mean.
        mean: f64,
        /// Standard deviation, zero or more.
        standard_deviation: f64,
    },
    /// Equal probability between two limits.
    Rectangular {
        /// Lower limit.
        low: f64,
        /// Upper limit.
        high: f64,
    },
    /// Symmetric triangle between two limits.
    Triangular {
        /// Lower limit.
        low: f64,
        /// Upper limit.
        high: f64,
    },
    /// A sine of unknown phase between two limits: the ends are likeliest.
    Arcsine {
        /// Lower limit.
        low: f64,
        /// Upper limit.
        high: f64,
    },
    /// Student's t distribution, moved and stretched: a mean of few readings with s/√n as scale.
    StudentT {
        /// Middle.
        location: f64,
        /// Scale, zero or more.
        scale: f64,
        /// Degrees of freedom, above zero.
        dof: f64,
    },
    /// Equal probability between limits that are themselves known to ± `doubt`.
    CurvilinearTrapezoid {
        /// Lower limit.
        low: f64,
        /// Upper limit.
        high: f64,
        /// Half-width of the doubt of either limit, at most half of what lies between them.
        doubt: f64,
    },
}

impl From<Estimate> for Distribution {
    /// Takes value and standard uncertainty as those of a normal distribution.
    fn from(estimate: Estimate) -> Self {
        Self::Normal {
            mean: estimate.value,
            standard_deviation: estimate.standard_uncertainty,
        }
    }
}

impl Distribution {
    /// Says in words what is wrong with the numbers; `None` where nothing is.
    pub(super) fn wrong(&self) -> Option<String> {
        let finite = |numbers: &[f64]| numbers.iter().find(|one| !one.is_finite()).copied();
        let limits = |low: f64, high: f64| {
            if let Some(found) = finite(&[low, high]) {
                Some(format!("the limit {found} is not a finite number"))
            } else {
                (low > high)
                    .then(|| format!("the lower limit {low} lies above the upper limit {high}"))
            }
        };
        let spread = |middle: f64, spread: f64| {
            if let Some(found) = finite(&[middle, spread]) {
                Some(format!("{found} is not a finite number"))
            } else {
                (spread < 0.0).then(|| format!("the spread is {spread}, 0 or more is allowed"))
            }
        };
        match *self {
            Self::Normal {
                mean,
                standard_deviation,
            } => spread(mean, standard_deviation),
            Self::Rectangular { low, high }
            | Self::Triangular { low, high }
            | Self::Arcsine { low, high } => limits(low, high),
            Self::StudentT {
                location,
                scale,
                dof,
            } => spread(location, scale).or_else(|| {
                let allowed = dof > 0.0 && dof.is_finite();
                (!allowed).then(|| {
                    format!("the degrees of freedom are {dof}, a finite number above 0 is allowed")
                })
            }),
            Self::CurvilinearTrapezoid { low, high, doubt } => limits(low, high).or_else(|| {
                let most = (high - low) / 2.0;
                (!(0.0..=most).contains(&doubt))
                    .then(|| format!("the doubt of the limits is {doubt}, 0 to {most} is allowed"))
            }),
        }
    }

    /// Draws one value.
    ///
    /// Source: JCGM 101:2008, 6.4 (each distribution), from memory.
    pub(super) fn draw(&self, draws: &mut Draws) -> f64 {
        match *self {
            Self::Normal {
                mean,
                standard_deviation,
            } => mean + standard_deviation * draws.normal(),
            Self::Rectangular { low, high } => low + (high - low) * draws.uniform(),
            Self::Triangular { low, high } => {
                low + (high - low) * f64::midpoint(draws.uniform(), draws.uniform())
            }
            Self::Arcsine { low, high } => {
                let phase = 2.0 * std::f64::consts::PI * draws.uniform();
                f64::midpoint(low, high) + (high - low) / 2.0 * libm::sin(phase)
            }
            Self::StudentT {
                location,
                scale,
                dof,
            } => {
                let normal = draws.normal();
                location + scale * normal / (2.0 * draws.gamma(dof / 2.0) / dof).sqrt()
            }
            Self::CurvilinearTrapezoid { low, high, doubt } => {
                let start = low - doubt + 2.0 * doubt * draws.uniform();
                let end = low + high - start;
                start + (end - start) * draws.uniform()
            }
        }
    }
}

/// Random numbers from a seed.
pub(super) struct Draws {
    stream: ChaCha8Rng,
    spare: Option<f64>,
}

impl Draws {
    pub(super) fn new(seed: u64) -> Self {
        // The seed is laid into the key as it stands: how the library spreads a short seed may change one day.
        let mut key = [0; 32];
        key[..8].copy_from_slice(&seed.to_le_bytes());
        Self {
            stream: ChaCha8Rng::from_seed(key),
            spare: None,
        }
    }

    /// Draws between 0 and 1, never either of them.
    fn uniform(&mut self) -> f64 {
        let steps = (self.stream.next_u64() >> 11) as f64;
        (steps + 0.5) / 9_007_199_254_740_992.0
    }

    /// Draws from the standard normal distribution.
    ///
    /// Source: Marsaglia's polar method (1964), from memory.
    fn normal(&mut self) -> f64 {
        if let Some(spare) = self.spare.take() {
            return spare;
        }
        loop {
            let (x, y) = (2.0 * self.uniform() - 1.0, 2.0 * self.uniform() - 1.0);
            let square = x * x + y * y;
            if square < 1.0 && square > 0.0 {
                let factor = (-2.0 * libm::log(square) / square).sqrt();
                self.spare = Some(y * factor);
                return x * factor;
            }
        }
    }

    /// Draws from the gamma distribution of this shape, above 0, and scale 1.
    ///
    /// Source: Marsaglia and Tsang (ACM Trans. Math. Softw. 26, 2000), from memory; below shape 1 by the power of a
    /// uniform draw, from the same paper.
    fn gamma(&mut self, shape: f64) -> f64 {
        if shape < 1.0 {
            let raised = self.gamma(shape + 1.0);
            return raised * libm::pow(self.uniform(), 1.0 / shape);
        }
        let d = shape - 1.0 / 3.0;
        let c = 1.0 / (9.0 * d).sqrt();
        loop {
            let x = self.normal();
            let v = 1.0 + c * x;
            if v <= 0.0 {
                continue;
            }
            let cube = v * v * v;
            let bound = 0.5 * x * x + d - d * cube + d * libm::log(cube);
            if libm::log(self.uniform()) < bound {
                return d * cube;
            }
        }
    }
}
