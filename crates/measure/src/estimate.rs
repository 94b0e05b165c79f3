//! A value with its standard uncertainty.

use tangmark_core::record::Quantity;

/// A value with its standard uncertainty (k = 1), both in the unit its owner names.
///
/// Estimates that are combined count as independent; where they share a cause, write the result as a function of
/// the independent inputs and use [`propagate`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    /// Best value.
    pub value: f64,
    /// Standard uncertainty (k = 1), zero or more.
    pub standard_uncertainty: f64,
}

impl Estimate {
    /// Makes an estimate; the sign of the uncertainty is dropped.
    pub fn new(value: f64, standard_uncertainty: f64) -> Self {
        Self {
            value,
            standard_uncertainty: standard_uncertainty.abs(),
        }
    }

    /// Makes an estimate without uncertainty, for a count or a definition.
    pub fn exact(value: f64) -> Self {
        Self::new(value, 0.0)
    }

    /// Makes the estimate of something known only to lie within `value` ± `half_width`.
    ///
    /// Source: JCGM 100:2008, 4.3.7 (rectangular distribution, u = a/√3), from memory.
    pub fn rectangular(value: f64, half_width: f64) -> Self {
        Self::new(value, half_width / 3.0_f64.sqrt())
    }

    /// Returns the expanded uncertainty at k = 2.
    pub fn expanded(self) -> f64 {
        2.0 * self.standard_uncertainty
    }

    /// Returns the relative standard uncertainty; infinite for the value zero.
    pub fn relative(self) -> f64 {
        if self.standard_uncertainty == 0.0 {
            0.0
        } else {
            (self.standard_uncertainty / self.value).abs()
        }
    }

    /// Multiplies by a number without uncertainty.
    #[must_use]
    pub fn scaled(self, factor: f64) -> Self {
        Self::new(self.value * factor, self.standard_uncertainty * factor)
    }

    /// Adds a further independent standard uncertainty.
    #[must_use]
    pub fn with_added(self, standard_uncertainty: f64) -> Self {
        Self::new(
            self.value,
            self.standard_uncertainty.hypot(standard_uncertainty),
        )
    }

    /// Divides, both independent.
    ///
    /// Returns `None` when the divisor is zero.
    ///
    /// Source: JCGM 100:2008, 5.1.2, equation (10), from memory.
    pub fn ratio(self, divisor: Self) -> Option<Self> {
        if divisor.value == 0.0 {
            return None;
        }
        let value = self.value / divisor.value;
        let from_top = self.standard_uncertainty / divisor.value;
        let from_bottom = value * divisor.standard_uncertainty / divisor.value;
        Some(Self::new(value, from_top.hypot(from_bottom)))
    }
}

impl From<&Quantity> for Estimate {
    fn from(quantity: &Quantity) -> Self {
        Self::new(quantity.to_f64(), quantity.standard())
    }
}

impl std::ops::Add for Estimate {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        Self::new(
            self.value + other.value,
            self.standard_uncertainty.hypot(other.standard_uncertainty),
        )
    }
}

impl std::ops::Sub for Estimate {
    type Output = Self;

    fn sub(self, other: Self) -> Self {
        Self::new(
            self.value - other.value,
            self.standard_uncertainty.hypot(other.standard_uncertainty),
        )
    }
}

impl std::ops::Mul for Estimate {
    type Output = Self;

    fn mul(self, other: Self) -> Self {
        let from_self = self.standard_uncertainty * other.value;
        let from_other = other.standard_uncertainty * self.value;
        Self::new(self.value * other.value, from_self.hypot(from_other))
    }
}

impl std::iter::Sum for Estimate {
    fn sum<I: Iterator<Item = Self>>(all: I) -> Self {
        all.fold(Self::exact(0.0), |sum, one| sum + one)
    }
}

/// Carries the uncertainties of independent inputs through any smooth function, to first order.
///
/// The slopes are taken over one standard uncertainty to either side, as central differences.
///
/// Source: JCGM 100:2008, 5.1.2 and the numerical form of 5.1.3, note 2, from memory.
pub fn propagate(inputs: &[Estimate], function: impl Fn(&[f64]) -> f64) -> Estimate {
    let mut point: Vec<f64> = inputs.iter().map(|input| input.value).collect();
    let value = function(&point);
    let mut variance = 0.0;
    for (index, input) in inputs.iter().enumerate() {
        if input.standard_uncertainty == 0.0 {
            continue;
        }
        point[index] = input.value + input.standard_uncertainty;
        let above = function(&point);
        point[index] = input.value - input.standard_uncertainty;
        let below = function(&point);
        point[index] = input.value;
        variance += ((above - below) / 2.0).powi(2);
    }
    Estimate::new(value, variance.sqrt())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use proptest::prelude::*;

    fn close(found: f64, expected: f64) {
        assert!(
            (found - expected).abs() <= 1e-12 * expected.abs().max(1.0),
            "{found} is not {expected}"
        );
    }

    #[test]
    fn sums_add_in_squares() {
        let sum = Estimate::new(10.0, 3.0) + Estimate::new(5.0, 4.0);
        close(sum.value, 15.0);
        close(sum.standard_uncertainty, 5.0);
        let difference = Estimate::new(10.0, 3.0) - Estimate::new(5.0, 4.0);
        close(difference.value, 5.0);
        close(difference.standard_uncertainty, 5.0);
        close(
            [Estimate::new(1.0, 2.0); 4]
                .into_iter()
                .sum::<Estimate>()
                .standard_uncertainty,
            4.0,
        );
    }

    #[test]
    fn ratios_add_relative_parts_in_squares() {
        let ratio = Estimate::new(20.0, 0.6)
            .ratio(Estimate::new(40.0, 1.6))
            .unwrap();
        close(ratio.value, 0.5);
        close(ratio.relative(), 0.05);
        assert_eq!(Estimate::exact(1.0).ratio(Estimate::new(0.0, 1.0)), None);
    }

    #[test]
    fn a_rectangle_has_its_half_width_over_the_root_of_three() {
        close(
            Estimate::rectangular(7.82, 0.05).standard_uncertainty,
            0.028_867_513_459_481_29,
        );
    }

    #[test]
    fn shared_inputs_cancel_where_the_function_says_so() {
        let length = Estimate::new(700.0, 0.5);
        close(
            propagate(&[length], |at| at[0] / at[0]).standard_uncertainty,
            0.0,
        );
        assert!(
            length.ratio(length).unwrap().standard_uncertainty > 0.0,
            "as independent lengths they do not cancel"
        );
    }

    proptest! {
        #[test]
        fn propagation_agrees_with_the_closed_forms(a in 1.0..1e3_f64, b in 1.0..1e3_f64, u in 0.0..0.01_f64, v in 0.0..0.01_f64) {
            let (first, second) = (Estimate::new(a, u * a), Estimate::new(b, v * b));
            let product = propagate(&[first, second], |at| at[0] * at[1]);
            let closed = first * second;
            prop_assert!((product.standard_uncertainty - closed.standard_uncertainty).abs() <= 1e-9 * closed.value);
            prop_assert!(product.standard_uncertainty >= 0.0);
            let ratio = propagate(&[first, second], |at| at[0] / at[1]);
            let closed = first.ratio(second).unwrap();
            // Second-order terms stay: at most u³ relative.
            prop_assert!((ratio.standard_uncertainty - closed.standard_uncertainty).abs() <= 1e-4 * closed.value);
        }

        #[test]
        fn units_scale(value in -1e4..1e4_f64, u in 0.0..10.0_f64, factor in 0.001..1000.0_f64) {
            let scaled = Estimate::new(value, u).scaled(factor);
            prop_assert!((scaled.value - value * factor).abs() <= 1e-9 * scaled.value.abs());
            prop_assert!((scaled.standard_uncertainty - u * factor).abs() <= 1e-9 * scaled.standard_uncertainty);
        }
    }
}
