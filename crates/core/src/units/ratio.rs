//! Exact helpers on big rationals.

use num_bigint::BigInt;
use num_rational::BigRational;
use num_traits::Signed;

/// Builds `numerator / denominator`; the denominator is a constant other than zero.
pub(super) fn ratio(numerator: u64, denominator: u64) -> BigRational {
    BigRational::new(numerator.into(), denominator.into())
}

/// 10 to the power `exponent`, exactly.
pub(super) fn power_of_ten(exponent: i64) -> BigRational {
    let power = BigInt::from(10).pow(u32::try_from(exponent.unsigned_abs()).unwrap_or(u32::MAX));
    let power = BigRational::from_integer(power);
    if exponent < 0 { power.recip() } else { power }
}

/// The largest `e` with 10^e ≤ |value|; `None` for zero.
pub(super) fn floor_log10(value: &BigRational) -> Option<i64> {
    let value = value.abs();
    if !value.is_positive() {
        return None;
    }
    let digits = |n: &BigInt| i64::try_from(n.to_string().len()).unwrap_or(i64::MAX);
    // With a and b digits the quotient lies strictly between 10^(a-b-1) and 10^(a-b+1).
    let estimate = digits(value.numer()) - digits(value.denom());
    Some(if value < power_of_ten(estimate) {
        estimate - 1
    } else {
        estimate
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_order_of_magnitude_is_exact_at_powers_of_ten() {
        for (numerator, denominator, expected) in [
            (1, 1, 0),
            (9, 1, 0),
            (10, 1, 1),
            (999, 1000, -1),
            (1, 10, -1),
            (99, 1000, -2),
            (127, 5, 1),
            (100, 33, 0),
        ] {
            assert_eq!(
                floor_log10(&ratio(numerator, denominator)),
                Some(expected),
                "{numerator}/{denominator}"
            );
            assert_eq!(floor_log10(&-ratio(numerator, denominator)), Some(expected));
        }
        assert_eq!(floor_log10(&ratio(0, 1)), None);
    }
}
