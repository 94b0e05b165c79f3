//! Input quantities, evaluated from readings (type A) or from other knowledge (type B).

use crate::{Estimate, statistics};

/// An input quantity of a measurement.
///
/// Its unit is that of the variable of the function it goes into.
#[derive(Clone, Debug, PartialEq)]
pub struct Input {
    /// Name, for the budget.
    pub name: String,
    /// Best value.
    pub value: f64,
    /// Standard uncertainty (k = 1), zero or more.
    pub standard_uncertainty: f64,
    /// Degrees of freedom, above zero; infinite where the uncertainty itself is taken as known.
    pub dof: f64,
    /// Where value and uncertainty come from, in words.
    pub source: String,
}

impl Input {
    /// Makes an input quantity with its uncertainty taken as known (infinite degrees of freedom).
    pub fn new(name: impl Into<String>, estimate: Estimate, source: impl Into<String>) -> Self {
        Self {
            name: name.into(),
            value: estimate.value,
            standard_uncertainty: estimate.standard_uncertainty,
            dof: f64::INFINITY,
            source: source.into(),
        }
    }

    /// Makes an input quantity from repeated readings: mean, s/√n, n − 1; `None` for fewer than two readings.
    ///
    /// Source: JCGM 100:2008, 4.2 (type A), from memory.
    pub fn from_readings(
        name: impl Into<String>,
        readings: &[f64],
        source: impl Into<String>,
    ) -> Option<Self> {
        let spread = statistics::standard_deviation_of_mean(readings)?;
        let estimate = Estimate::new(statistics::mean(readings)?, spread);
        let dof = readings.len().checked_sub(1)? as f64;
        Some(Self::new(name, estimate, source).with_dof(dof))
    }

    /// Makes an input quantity that lies anywhere within `value` ± `half_width` with equal probability: u = a/√3.
    ///
    /// Source: JCGM 100:2008, 4.3.7, from memory.
    pub fn rectangular(
        name: impl Into<String>,
        value: f64,
        half_width: f64,
        source: impl Into<String>,
    ) -> Self {
        Self::new(name, Estimate::rectangular(value, half_width), source)
    }

    /// Makes an input quantity within `value` ± `half_width`, the middle likeliest: u = a/√6.
    ///
    /// Source: JCGM 100:2008, 4.3.9, from memory.
    pub fn triangular(
        name: impl Into<String>,
        value: f64,
        half_width: f64,
        source: impl Into<String>,
    ) -> Self {
        Self::new(
            name,
            Estimate::new(value, half_width / 6.0_f64.sqrt()),
            source,
        )
    }

    /// Makes an input quantity that swings like a sine between `value` ± `half_width`, the ends likeliest: u = a/√2.
    ///
    /// Source: JCGM 100:2008, H.1.3.4 (cyclic temperature), from memory.
    pub fn arcsine(
        name: impl Into<String>,
        value: f64,
        half_width: f64,
        source: impl Into<String>,
    ) -> Self {
        Self::new(
            name,
            Estimate::new(value, half_width * std::f64::consts::FRAC_1_SQRT_2),
            source,
        )
    }

    /// Makes an input quantity from a certificate that states U and k; `None` for a coverage factor that is not
    /// above zero.
    ///
    /// Source: JCGM 100:2008, 4.3.3, from memory.
    pub fn from_expanded(
        name: impl Into<String>,
        value: f64,
        expanded: f64,
        coverage_factor: f64,
        source: impl Into<String>,
    ) -> Option<Self> {
        let estimate = Estimate::new(value, expanded / coverage_factor);
        (coverage_factor > 0.0).then(|| Self::new(name, estimate, source))
    }

    /// Sets the degrees of freedom.
    #[must_use]
    pub fn with_dof(mut self, dof: f64) -> Self {
        self.dof = dof;
        self
    }

    /// Returns value and standard uncertainty.
    pub fn estimate(&self) -> Estimate {
        Estimate::new(self.value, self.standard_uncertainty)
    }
}

/// Returns the degrees of freedom of an uncertainty that is itself in doubt by this share: ½ · share⁻².
///
/// Source: JCGM 100:2008, G.4.2, equation (G.3), from memory.
pub fn doubt_dof(share: f64) -> f64 {
    0.5 / (share * share)
}
