//! The exact decimal of the record.

use std::{borrow::Cow, cmp::Ordering, fmt, hash, str::FromStr};

use num_bigint::BigInt;
use num_rational::BigRational;
use num_traits::{ToPrimitive, Zero};
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Deserialize, Deserializer, Serialize, Serializer, de};

use super::{
    ratio::{floor_log10, power_of_ten},
    shorten,
};

const INTEGER_DIGITS: u32 = 12;
const FRACTION_DIGITS: u8 = 9;

/// An exact decimal: at most 12 digits, then at most 9 after a full stop.
///
/// Written in JSON as a *string*, so that no reader turns it into a binary fraction. The digits are
/// kept as written (`701.50` stays `701.50`), while comparison is by value (`701.50 == 701.5`).
/// Zero has no sign: `-0` and `-0.00` are refused.
#[derive(Clone, Copy)]
pub struct Decimal {
    /// The value times 10^scale; below 10^21 in magnitude.
    mantissa: i128,
    /// Digits after the full stop, 0 to 9.
    scale: u8,
}

/// A text or number cannot be a [`Decimal`].
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum DecimalError {
    /// The text has another form.
    #[error(
        "`{found}` is not a decimal: up to 12 digits and up to 9 more after a full stop are allowed"
    )]
    Form {
        /// The text, shortened.
        found: String,
    },
    /// Zero with a minus sign.
    #[error("`{found}` is zero with a minus sign: zero is allowed without one")]
    NegativeZero {
        /// The text, shortened.
        found: String,
    },
    /// The magnitude is 10^12 or more.
    #[error("{found} is too large for a decimal: magnitudes below 1000000000000 are allowed")]
    TooLarge {
        /// The number, shortened.
        found: String,
    },
    /// More than nine digits after the full stop are asked for.
    #[error("{digits} digits after the full stop are asked for: up to 9 are allowed")]
    TooFine {
        /// The digits asked for.
        digits: i64,
    },
    /// A number other than zero would be written as zero.
    #[error(
        "{found} is too small for a decimal: it would be written as zero, and magnitudes of at least 0.000000001 are allowed"
    )]
    TooSmall {
        /// The number.
        found: String,
    },
    /// NaN or an infinity.
    #[error("{found} is not a finite number: only finite numbers can be decimals")]
    NotFinite {
        /// The number.
        found: String,
    },
}

impl DecimalError {
    /// Says what to do next.
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Form { .. } => {
                "write it like \"701.50\": no plus sign, exponent, comma, space or leading zero"
            }
            Self::NegativeZero { .. } => "leave out the minus sign",
            Self::TooLarge { .. } | Self::TooFine { .. } | Self::TooSmall { .. } => {
                "check the unit: a blade record holds mm, g, deg and min"
            }
            Self::NotFinite { .. } => "check the calculation that the number came from",
        }
    }
}

impl Decimal {
    /// Zero without digits after the full stop.
    pub const ZERO: Self = Self {
        mantissa: 0,
        scale: 0,
    };

    /// Returns the number of digits after the full stop (0 to 9).
    pub const fn digits(self) -> u8 {
        self.scale
    }

    /// Tells whether the value is zero.
    pub const fn is_zero(self) -> bool {
        self.mantissa == 0
    }

    /// Tells whether the value is below zero.
    pub const fn is_negative(self) -> bool {
        self.mantissa < 0
    }

    /// Returns the exact value.
    pub fn to_ratio(self) -> BigRational {
        BigRational::new(
            self.mantissa.into(),
            BigInt::from(10).pow(self.scale.into()),
        )
    }

    /// Returns the nearest binary fraction.
    pub fn to_f64(self) -> f64 {
        // Reading the text rounds once; mantissa / 10^scale would round twice above 2^53.
        self.to_string().parse().unwrap_or(f64::NAN)
    }

    /// Rounds an exact value to `digits` after the full stop, a tie to the even neighbour.
    ///
    /// # Errors
    /// [`DecimalError::TooFine`] above 9 digits, [`DecimalError::TooLarge`] from 10^12 on.
    pub fn from_ratio_half_even(value: &BigRational, digits: u8) -> Result<Self, DecimalError> {
        if digits > FRACTION_DIGITS {
            return Err(DecimalError::TooFine {
                digits: digits.into(),
            });
        }
        let too_large = || DecimalError::TooLarge {
            found: shorten(&value.to_string()),
        };
        let rounded = round_half_even(&(value * power_of_ten(digits.into())));
        let mantissa = rounded.to_i128().ok_or_else(too_large)?;
        if mantissa.unsigned_abs() >= 10_u128.pow(INTEGER_DIGITS + u32::from(digits)) {
            return Err(too_large());
        }
        Ok(Self {
            mantissa,
            scale: digits,
        })
    }

    /// Rounds a binary fraction to `digits` significant digits, a tie of the exact binary value to
    /// the even neighbour. Meant for uncertainties: no more than 9 digits after the full stop come out.
    ///
    /// # Errors
    /// [`DecimalError::NotFinite`]; [`DecimalError::TooLarge`] from 10^12 on;
    /// [`DecimalError::TooSmall`] when a number other than zero would be written as zero;
    /// [`DecimalError::TooFine`] when no significant digit is asked for.
    pub fn from_f64_significant(value: f64, digits: u8) -> Result<Self, DecimalError> {
        let exact = BigRational::from_float(value).ok_or_else(|| DecimalError::NotFinite {
            found: value.to_string(),
        })?;
        if digits == 0 {
            return Err(DecimalError::TooFine { digits: 0 });
        }
        let Some(magnitude) = floor_log10(&exact) else {
            return Ok(Self::ZERO);
        };
        let wanted = i64::from(digits) - 1;
        let mut places = wanted - magnitude;
        // 9.96 to two digits is 10, one order up: 10.0 would claim a third digit.
        let rounded = round_half_even(&(&exact * power_of_ten(places)));
        if floor_log10(&BigRational::from_integer(rounded.clone()))
            .is_some_and(|order| order > wanted)
        {
            places -= 1;
        }
        let places = places.min(FRACTION_DIGITS.into());
        let rounded = BigRational::from_integer(round_half_even(&(&exact * power_of_ten(places))))
            / power_of_ten(places);
        if rounded.is_zero() {
            return Err(DecimalError::TooSmall {
                found: format!("{value:e}"),
            });
        }
        Self::from_ratio_half_even(
            &rounded,
            u8::try_from(places.max(0)).unwrap_or(FRACTION_DIGITS),
        )
    }

    /// Returns the exact sum, with the digits of the finer of the two; `None` from 10^12 on.
    pub fn checked_add(self, other: Self) -> Option<Self> {
        let scale = self.scale.max(other.scale);
        let at = |one: Self| one.mantissa * 10_i128.pow(u32::from(scale - one.scale));
        let mantissa = at(self) + at(other);
        let most = 10_u128.pow(INTEGER_DIGITS + u32::from(scale));
        (mantissa.unsigned_abs() < most).then_some(Self { mantissa, scale })
    }

    /// Returns the exact difference, as [`Self::checked_add`].
    pub fn checked_sub(self, other: Self) -> Option<Self> {
        self.checked_add(Self {
            mantissa: -other.mantissa,
            scale: other.scale,
        })
    }

    /// Mantissa at nine digits, for comparison; below 10^30, so that it cannot overflow.
    fn at_finest(self) -> i128 {
        self.mantissa * 10_i128.pow(u32::from(FRACTION_DIGITS - self.scale))
    }
}

/// The nearest integer, a tie to the even neighbour.
fn round_half_even(value: &BigRational) -> BigInt {
    let floor = value.floor().to_integer();
    let rest = (value - BigRational::from_integer(floor.clone())) * BigInt::from(2);
    let up = match rest.cmp(&BigRational::from_integer(1.into())) {
        Ordering::Less => false,
        Ordering::Greater => true,
        Ordering::Equal => floor.bit(0),
    };
    if up { floor + 1 } else { floor }
}

impl Default for Decimal {
    /// Zero, where a sum begins.
    fn default() -> Self {
        Self::ZERO
    }
}

impl From<u32> for Decimal {
    fn from(value: u32) -> Self {
        Self {
            mantissa: value.into(),
            scale: 0,
        }
    }
}

impl FromStr for Decimal {
    type Err = DecimalError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let form = || DecimalError::Form {
            found: shorten(text),
        };
        let unsigned = text.strip_prefix('-').unwrap_or(text);
        let (integer, fraction) = match unsigned.split_once('.') {
            Some((_, "")) => return Err(form()),
            Some(parts) => parts,
            None => (unsigned, ""),
        };
        let digits_only = |part: &str| part.bytes().all(|byte| byte.is_ascii_digit());
        let sound = (1..=INTEGER_DIGITS as usize).contains(&integer.len())
            && fraction.len() <= FRACTION_DIGITS.into()
            && digits_only(integer)
            && digits_only(fraction)
            && (integer == "0" || !integer.starts_with('0'));
        if !sound {
            return Err(form());
        }
        let magnitude: i128 = format!("{integer}{fraction}").parse().map_err(|_| form())?;
        let negative = unsigned.len() != text.len();
        if negative && magnitude == 0 {
            return Err(DecimalError::NegativeZero {
                found: shorten(text),
            });
        }
        let scale = u8::try_from(fraction.len()).map_err(|_| form())?;
        Ok(Self {
            mantissa: if negative { -magnitude } else { magnitude },
            scale,
        })
    }
}

impl fmt::Display for Decimal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = if self.is_negative() { "-" } else { "" };
        let scale = usize::from(self.scale);
        let digits = format!(
            "{:0>width$}",
            self.mantissa.unsigned_abs(),
            width = scale + 1
        );
        let (integer, fraction) = digits.split_at(digits.len() - scale);
        let point = if scale == 0 { "" } else { "." };
        f.pad(&format!("{sign}{integer}{point}{fraction}"))
    }
}

impl fmt::Debug for Decimal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Decimal({self})")
    }
}

impl PartialEq for Decimal {
    fn eq(&self, other: &Self) -> bool {
        self.at_finest() == other.at_finest()
    }
}

impl Eq for Decimal {}

impl PartialOrd for Decimal {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Decimal {
    fn cmp(&self, other: &Self) -> Ordering {
        self.at_finest().cmp(&other.at_finest())
    }
}

impl hash::Hash for Decimal {
    fn hash<H: hash::Hasher>(&self, state: &mut H) {
        self.at_finest().hash(state);
    }
}

impl Serialize for Decimal {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Decimal {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Visitor;

        impl de::Visitor<'_> for Visitor {
            type Value = Decimal;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a decimal in a string, such as \"701.50\"")
            }

            fn visit_str<E: de::Error>(self, text: &str) -> Result<Decimal, E> {
                text.parse().map_err(E::custom)
            }
        }

        deserializer.deserialize_str(Visitor)
    }
}

impl JsonSchema for Decimal {
    fn schema_name() -> Cow<'static, str> {
        "Decimal".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "description": "Exact decimal in a string: up to 12 digits, up to 9 after a full stop; zero has no minus sign.",
            "type": "string",
            "pattern": r"^-?(0|[1-9][0-9]{0,11})(\.[0-9]{1,9})?$",
            "not": { "pattern": r"^-0(\.0+)?$" }
        })
    }
}

#[cfg(test)]
mod tests;
