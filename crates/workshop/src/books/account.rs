//! The account of one blade: bought for, hours, consumables, other costs, sold for, what is left.

use std::collections::BTreeSet;

use serde::Serialize;
use serde_json::Value;
use tangmark_core::record::{CustodyKind, Money, Pass, Sheet, Term as _};
use tangmark_core::units::Decimal;
use tangmark_store::Store as _;

use super::ledger::money;
use super::sums::{coin_digits, plus};
use super::trades::Trade;
use super::{BookLine, BookList, BooksError, Sums};
use crate::{Workshop, WorkshopError};

/// Plugin whose settings hold the rate of an hour.
const VALUATION: &str = "valuation";

/// What a blade was bought or sold for, from its sheet.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct AccountLine {
    /// The last day it may have been.
    pub on: String,
    /// `bought` or `sold`.
    pub kind: String,
    /// From or to whom.
    pub party: Option<String>,
    /// Price; none where the sheet has none.
    pub price: Option<Money>,
}

/// What an hour of work is reckoned at.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Rate {
    /// Price of an hour.
    pub hour: Money,
    /// Where it comes from.
    pub from: String,
}

/// The account in one currency.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct CurrencyAccount {
    /// Currency.
    pub currency: String,
    /// Bought for.
    pub bought: Decimal,
    /// Consumables used up.
    pub consumables: Decimal,
    /// Other costs.
    pub costs: Decimal,
    /// Sold for.
    pub sold: Decimal,
    /// Other income.
    pub income: Decimal,
    /// What came in less what went out: sold + income − bought − consumables − costs.
    pub margin: Decimal,
    /// Hours at the rate.
    pub labour: Decimal,
    /// What is left once the hours are paid: margin − labour.
    pub after_labour: Decimal,
}

/// The account of one blade.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Account {
    /// Blade.
    pub blade: String,
    /// Title.
    pub title: String,
    /// What it was bought and sold for, from its sheet.
    pub trades: Vec<AccountLine>,
    /// Entries of the books, by day.
    pub lines: Vec<BookLine>,
    /// Passes of its sealed records and its sheet, each once.
    pub passes: usize,
    /// Time of the passes, minutes.
    pub pass_minutes: Decimal,
    /// Passes without a time.
    pub passes_without_time: usize,
    /// Hours outside passes, minutes.
    pub other_minutes: Decimal,
    /// All hours, minutes.
    pub minutes: Decimal,
    /// Rate of an hour, where one is known.
    pub rate: Option<Rate>,
    /// Hours at the rate.
    pub labour: Option<Money>,
    /// Sums, one for each currency, by its code.
    pub currencies: Vec<CurrencyAccount>,
    /// What the account cannot know or does not count.
    pub remarks: Vec<String>,
}

/// What the books take from a sheet and the passes.
#[derive(Clone, Debug, Default)]
pub(super) struct FromSheet {
    pub(super) trades: Vec<AccountLine>,
    pub(super) bought: Sums,
    pub(super) sold: Sums,
    pub(super) minutes: Decimal,
    pub(super) without_time: usize,
    pub(super) remarks: Vec<String>,
}

impl FromSheet {
    /// Takes what counts of the trades, and hours from all passes.
    pub(super) fn of(
        blade: &str,
        trades: &[Trade<'_>],
        passes: &[Pass],
    ) -> Result<Self, BooksError> {
        let mut all = Self::default();
        for trade in trades {
            all.remarks.extend(trade.remark(blade));
            if !trade.counts() {
                continue;
            }
            let event = trade.event;
            let sums = if event.kind == CustodyKind::Bought {
                &mut all.bought
            } else {
                &mut all.sold
            };
            if let Some(price) = &event.price {
                sums.add(price)?;
            }
            all.trades.push(AccountLine {
                on: event.when.latest.to_string(),
                kind: event.kind.key().to_owned(),
                party: trade.party().map(str::to_owned),
                price: event.price.clone(),
            });
        }
        for pass in passes {
            match &pass.time {
                Some(time) => all.minutes = plus(all.minutes, time.0.value)?,
                None => all.without_time += 1,
            }
        }
        Ok(all)
    }
}

impl Workshop {
    /// Returns the account of a blade. Hours are reckoned at `rate` (`45 EUR`), else at the `hour_rate` of the settings
    /// of `valuation`, where there is one.
    ///
    /// # Errors
    /// When there is no such blade, or the rate is no amount of money.
    pub fn account(&self, blade: &str, rate: Option<&str>) -> Result<Account, WorkshopError> {
        let row = self.store().blade(blade)?;
        let sheet = self.kept_sheet(&row.id)?;
        let on_sheet = sheet.as_ref().map(|sheet| sheet.passes.clone());
        let passes = self.all_passes(&row.id, on_sheet.unwrap_or_default())?;
        let custody = sheet.as_ref().map_or(&[][..], |sheet| &sheet.custody);
        let trades = self.trades(&row.id, custody, &self.name()?)?;
        let from_sheet = FromSheet::of(&row.id, &trades, &passes)?;
        let lines = self.book_lines(Some(&row.id))?;
        let mut list = BookList::default();
        for line in &lines {
            list.count(line)?;
        }
        let mut remarks = from_sheet.remarks;
        if from_sheet.without_time > 0 {
            remarks.push(format!(
                "passes without a time, not counted: {}",
                from_sheet.without_time
            ));
        }
        let free = lines
            .iter()
            .filter(|line| line.kind == "use" && line.money.is_none());
        for line in free {
            remarks.push(format!(
                "entry {}: what `{}` cost is not known",
                line.number, line.what
            ));
        }
        let minutes = plus(from_sheet.minutes, list.minutes)?;
        let rate = match rate {
            Some(text) => Some(Rate {
                hour: money("rate", text)?,
                from: "--rate".to_owned(),
            }),
            None => self.hour_rate()?,
        };
        if rate.is_none() && !minutes.is_zero() {
            remarks.push(
                "the hours are not reckoned: no rate is named with `--rate`, and none is set for `valuation`"
                    .to_owned(),
            );
        }
        let labour = rate
            .as_ref()
            .map(|rate| labour(&rate.hour, minutes))
            .transpose()?;
        // What came into the stock belongs to no blade, but where somebody entered it so it was paid for this one.
        let mut costs = list.costs;
        costs.add_all(&list.stocked)?;
        let parts = Parts {
            bought: from_sheet.bought,
            consumables: list.used,
            costs,
            sold: from_sheet.sold,
            income: list.income,
        };
        Ok(Account {
            title: sheet
                .as_ref()
                .map_or(row.title, |sheet| sheet.blade.title.clone()),
            blade: row.id,
            trades: from_sheet.trades,
            lines,
            passes: passes.len(),
            pass_minutes: from_sheet.minutes,
            passes_without_time: from_sheet.without_time,
            other_minutes: list.minutes,
            minutes,
            currencies: parts.currencies(labour.as_ref())?,
            labour,
            rate,
            remarks,
        })
    }

    /// The newest sheet as it was kept, without judging it anew; none where there is none.
    pub(super) fn kept_sheet(&self, blade: &str) -> Result<Option<Sheet>, WorkshopError> {
        let Some(draft) = self.store().draft(blade)? else {
            return Ok(None);
        };
        match Sheet::from_json(&draft.body) {
            Ok(sheet) => Ok(Some(sheet)),
            // Told with place and next step.
            Err(_) => self.sheet(blade).map(|(sheet, _)| Some(sheet)),
        }
    }

    /// The rate of an hour that is set for `valuation`.
    fn hour_rate(&self) -> Result<Option<Rate>, WorkshopError> {
        let path = self.plugin_folder(VALUATION).join("settings.toml");
        let Some(given) = self.given([VALUATION].into_iter())?.remove(VALUATION) else {
            return Ok(None);
        };
        let Some(rate) = given.settings.get("hour_rate").and_then(Value::as_number) else {
            return Ok(None);
        };
        let currency = given
            .settings
            .get("currency")
            .or_else(|| given.tables.pointer("/comparables/0/currency"))
            .and_then(Value::as_str);
        let fault = |what: &str| {
            let (path, what) = (path.clone(), what.to_owned());
            WorkshopError::from(BooksError::Rate { path, what })
        };
        let currency = currency.ok_or_else(|| {
            fault("no currency stands beside it, a `currency` of three capital letters is needed")
        })?;
        // A number of a settings file that was written with a full stop and no decimals is the whole number.
        let amount = rate.to_string();
        let amount = amount.strip_suffix(".0").unwrap_or(&amount);
        let hour = money("hour_rate", &format!("{amount} {currency}"))
            .map_err(|error| fault(&error.to_string()))?;
        Ok(Some(Rate {
            hour,
            from: path.display().to_string(),
        }))
    }
}

/// Minutes at the price of an hour, rounded half-even to the smallest coin, or as finely as the rate is written.
pub(super) fn labour(hour: &Money, minutes: Decimal) -> Result<Money, BooksError> {
    let exact = hour.amount.to_ratio() * minutes.to_ratio() / Decimal::from(60).to_ratio();
    let digits = coin_digits(&hour.currency).max(hour.amount.digits());
    Ok(Money {
        amount: Decimal::from_ratio_half_even(&exact, digits).map_err(|_| BooksError::TooLarge)?,
        currency: hour.currency.clone(),
    })
}

/// The sums an account is made of.
pub(super) struct Parts {
    pub(super) bought: Sums,
    pub(super) consumables: Sums,
    pub(super) costs: Sums,
    pub(super) sold: Sums,
    pub(super) income: Sums,
}

impl Parts {
    /// The account in each currency that occurs.
    pub(super) fn currencies(
        &self,
        labour: Option<&Money>,
    ) -> Result<Vec<CurrencyAccount>, BooksError> {
        let all = [
            &self.bought,
            &self.consumables,
            &self.costs,
            &self.sold,
            &self.income,
        ];
        let mut codes: BTreeSet<&str> = all
            .iter()
            .flat_map(|sums| sums.iter().map(|(currency, _)| currency))
            .collect();
        codes.extend(
            labour
                .filter(|one| !one.amount.is_zero())
                .map(|one| one.currency.as_str()),
        );
        let minus =
            |one: Decimal, other: Decimal| one.checked_sub(other).ok_or(BooksError::TooLarge);
        codes
            .into_iter()
            .map(|currency| {
                let [bought, consumables, costs, sold, income] =
                    all.map(|sums| sums.get(currency).unwrap_or(Decimal::ZERO));
                let came = plus(sold, income)?;
                let went = plus(plus(bought, consumables)?, costs)?;
                let margin = minus(came, went)?;
                let labour = labour
                    .filter(|one| one.currency == currency)
                    .map_or(Decimal::ZERO, |one| one.amount);
                Ok(CurrencyAccount {
                    currency: currency.to_owned(),
                    bought,
                    consumables,
                    costs,
                    sold,
                    income,
                    margin,
                    labour,
                    after_labour: minus(margin, labour)?,
                })
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn sums(all: &[&str]) -> Sums {
        let mut sums = Sums::default();
        for text in all {
            sums.add(&text.parse().unwrap()).unwrap();
        }
        sums
    }

    #[test]
    fn the_account_of_each_currency_is_its_own() {
        let parts = Parts {
            bought: sums(&["240.00 EUR"]),
            consumables: sums(&["4.40 EUR"]),
            costs: sums(&["12.50 EUR", "900 JPY"]),
            sold: sums(&["480000 JPY"]),
            income: sums(&["50 EUR"]),
        };
        let hour: Money = "45 EUR".parse().unwrap();
        let labour = labour(&hour, "90".parse().unwrap()).unwrap();
        assert_eq!(labour.to_string(), "67.50 EUR");
        let all = parts.currencies(Some(&labour)).unwrap();
        let shown: Vec<String> = all
            .iter()
            .map(|one| format!("{} {} {}", one.currency, one.margin, one.after_labour))
            .collect();
        assert_eq!(shown, ["EUR -206.90 -274.40", "JPY 479100 479100"]);
    }

    #[test]
    fn hours_are_rounded_to_the_smallest_coin() {
        let at = |hour: &str, minutes: &str| {
            labour(&hour.parse().unwrap(), minutes.parse().unwrap())
                .unwrap()
                .to_string()
        };
        // 50 min at 47 EUR are 39.1666… EUR, at 5000 JPY 4166.666… JPY.
        assert_eq!(at("47 EUR", "50"), "39.17 EUR");
        assert_eq!(at("5000 JPY", "50"), "4167 JPY");
        assert_eq!(at("47.125 EUR", "60"), "47.125 EUR");
    }
}
