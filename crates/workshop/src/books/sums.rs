//! Sums of money, one for each currency.

use std::collections::BTreeMap;

use serde::Serialize;
use tangmark_core::record::Money;
use tangmark_core::units::Decimal;

use super::BooksError;

/// A sum for each currency; amounts in two currencies are never added.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
#[serde(transparent)]
pub struct Sums(BTreeMap<String, Decimal>);

impl Sums {
    /// Adds an amount.
    ///
    /// # Errors
    /// When the sum is too large to be held exactly.
    pub fn add(&mut self, money: &Money) -> Result<(), BooksError> {
        self.put(&money.currency, money.amount)
    }

    /// Adds all sums of another.
    ///
    /// # Errors
    /// As [`Self::add`].
    pub fn add_all(&mut self, other: &Self) -> Result<(), BooksError> {
        for (currency, amount) in &other.0 {
            self.put(currency, *amount)?;
        }
        Ok(())
    }

    /// Takes all sums of another off.
    ///
    /// # Errors
    /// As [`Self::add`].
    pub fn take_all(&mut self, other: &Self) -> Result<(), BooksError> {
        for (currency, amount) in &other.0 {
            let sum = self.0.entry(currency.clone()).or_insert(Decimal::ZERO);
            *sum = sum.checked_sub(*amount).ok_or(BooksError::TooLarge)?;
        }
        Ok(())
    }

    fn put(&mut self, currency: &str, amount: Decimal) -> Result<(), BooksError> {
        let sum = self.0.entry(currency.to_owned()).or_insert(Decimal::ZERO);
        *sum = sum.checked_add(amount).ok_or(BooksError::TooLarge)?;
        Ok(())
    }

    /// Returns the sum in a currency, where there is one.
    pub fn get(&self, currency: &str) -> Option<Decimal> {
        self.0.get(currency).copied()
    }

    /// Returns the sums by currency.
    pub fn iter(&self) -> impl Iterator<Item = (&str, Decimal)> {
        self.0
            .iter()
            .map(|(currency, amount)| (currency.as_str(), *amount))
    }

    /// Tells whether nothing was added.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Returns the sums in words: `1200 EUR, 45000 JPY`, or `-`.
    pub fn shown(&self) -> String {
        if self.0.is_empty() {
            return "-".to_owned();
        }
        let sums: Vec<String> = self
            .iter()
            .map(|(currency, amount)| format!("{amount} {currency}"))
            .collect();
        sums.join(", ")
    }
}

/// Adds times and other plain numbers.
///
/// # Errors
/// When the sum is too large to be held exactly.
pub(super) fn plus(one: Decimal, other: Decimal) -> Result<Decimal, BooksError> {
    one.checked_add(other).ok_or(BooksError::TooLarge)
}

/// Digits after the full stop of the smallest coin.
///
/// Source: ISO 4217, minor units, from memory.
pub(super) fn coin_digits(currency: &str) -> u8 {
    match currency {
        "CLP" | "ISK" | "JPY" | "KRW" | "PYG" | "UGX" | "VND" | "XAF" | "XOF" | "XPF" => 0,
        "BHD" | "IQD" | "JOD" | "KWD" | "LYD" | "OMR" | "TND" => 3,
        _ => 2,
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn currencies_are_never_mixed() {
        let mut sums = Sums::default();
        for text in ["0.10 EUR", "0.20 EUR", "45000 JPY"] {
            sums.add(&text.parse().unwrap()).unwrap();
        }
        assert_eq!(sums.shown(), "0.30 EUR, 45000 JPY");
        let mut other = Sums::default();
        other.add(&"1 USD".parse().unwrap()).unwrap();
        sums.take_all(&other).unwrap();
        assert_eq!(sums.shown(), "0.30 EUR, 45000 JPY, -1 USD");
        assert_eq!(Sums::default().shown(), "-");
        let most: Money = "999999999999 EUR".parse().unwrap();
        assert!(matches!(
            sums.add(&most).and_then(|()| sums.add(&most)),
            Err(BooksError::TooLarge)
        ));
    }
}
