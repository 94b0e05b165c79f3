//! Round numbers along an axis.

use super::decimals;

/// Most ticks an axis may have.
const MOST_TICKS: usize = 40;

/// Rising round numbers that hold every value between the first and the last.
#[derive(Debug, Clone)]
pub(super) struct Axis {
    pub(super) ticks: Vec<f64>,
    digits: usize,
}

impl Axis {
    /// Chooses about `most` ticks for the values between two; `counted` things have nothing between whole numbers.
    pub(super) fn new([low, high]: [f64; 2], most: f64, counted: bool) -> Self {
        let span = if high > low {
            high - low
        } else {
            high.abs().max(1.0)
        };
        let least = round_step(span / most);
        let step = if counted { least.max(1.0) } else { least };
        let first = (low / step).floor();
        let last = (high / step).ceil().max(first + 1.0);
        let mut ticks = Vec::new();
        let mut number = first;
        while number <= last && ticks.len() < MOST_TICKS {
            ticks.push(number * step);
            number += 1.0;
        }
        let digits = (0..9).find(|digits| is_whole(step * 10_f64.powi(*digits)));
        let digits = digits.and_then(|digits| usize::try_from(digits).ok());
        Self {
            ticks,
            digits: digits.unwrap_or(9),
        }
    }

    pub(super) fn low(&self) -> f64 {
        self.ticks.first().copied().unwrap_or(0.0)
    }

    /// Where a value lies between the first tick (0) and the last (1).
    pub(super) fn share(&self, value: f64) -> f64 {
        let high = self.ticks.last().copied().unwrap_or(1.0);
        (value - self.low()) / (high - self.low())
    }

    /// A number as it stands at its tick.
    pub(super) fn number(&self, value: f64) -> String {
        decimals(value, self.digits)
    }

    /// A value with at most one digit more than the numbers along the axis.
    pub(super) fn number_at(&self, value: f64) -> String {
        let text = decimals(value, (self.digits + 1).min(9));
        if text.contains('.') {
            text.trim_end_matches('0').trim_end_matches('.').to_owned()
        } else {
            text
        }
    }
}

/// Least and greatest of some numbers.
pub(super) fn ends(values: impl Iterator<Item = f64>) -> [f64; 2] {
    values.fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], value| {
        [low.min(value), high.max(value)]
    })
}

/// Whether a number has nothing after the full stop, as far as binary numbers tell.
pub(super) fn is_whole(value: f64) -> bool {
    (value - value.round()).abs() < 1e-6 * value.abs().max(1.0)
}

/// The least of 1, 2, 5 times a power of ten that is not below `least`.
fn round_step(least: f64) -> f64 {
    let power = 10_f64.powf(least.log10().floor());
    [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|part| part * power)
        .find(|step| *step >= least * (1.0 - 1e-9))
        .unwrap_or(least)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_are_round_and_hold_every_value() {
        for (least, step) in [
            (0.13, 0.2),
            (1.0, 1.0),
            (3.1, 5.0),
            (700.0, 1000.0),
            (0.05, 0.05),
        ] {
            assert!((round_step(least) - step).abs() < 1e-12 * step, "{least}");
        }
        let axis = Axis::new([741.9, 748.3], 5.0, false);
        assert_eq!(axis.ticks, [740.0, 742.0, 744.0, 746.0, 748.0, 750.0]);
        assert_eq!(axis.number(744.0), "744");
        let flat = Axis::new([0.0, 0.0], 5.0, false);
        assert!(flat.ticks.len() >= 2 && flat.share(0.0).is_finite());
        let fine = Axis::new([-0.05, 0.15], 5.0, false);
        assert_eq!(fine.number(fine.low()), "−0.05");
        assert_eq!(fine.number(-0.0), "0.00");
        let counted = Axis::new([0.0, 2.0], 8.0, true);
        assert_eq!(counted.ticks, [0.0, 1.0, 2.0]);
    }
}
