//! The stock of consumables: what came in, what was used, what that cost.

use std::collections::BTreeMap;

use serde::Serialize;
use tangmark_core::check::nearest;
use tangmark_core::record::Money;
use tangmark_core::units::{Decimal, Unit};

use super::sums::{coin_digits, plus};
use super::{Amount, BooksError, CostFrom, Stock, Sums, Use, amount};
use crate::{Workshop, WorkshopError};

/// Plugin whose table names the stones, with the price of a gram where the workshop wrote one.
const STONES: (&str, &str) = ("abrasives", "stones");

/// Whether there is enough of something.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum StockState {
    /// Some is left.
    There,
    /// None is left.
    UsedUp,
    /// More was used than came in: something was not entered.
    BelowNothing,
}

/// One line of the list of consumables.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct StockLine {
    /// What.
    pub item: String,
    /// Unit of the amounts.
    pub unit: Unit,
    /// What came in.
    pub came: Decimal,
    /// What was used.
    pub used: Decimal,
    /// What is left by the books.
    pub left: Decimal,
    /// What is left, as people say it.
    pub left_shown: String,
    /// Whether there is enough.
    pub state: StockState,
    /// What it cost, by currency.
    pub cost: Sums,
}

/// What the books know of one consumable.
#[derive(Clone, Debug, Default)]
struct Held {
    name: String,
    unit: Option<Unit>,
    came: Decimal,
    used: Decimal,
    cost: Sums,
    /// Amount that came with a cost.
    priced: Decimal,
    /// What uses were charged out of that cost, or as their entry gives it.
    charged: Sums,
    /// Amount that was charged so.
    charged_for: Decimal,
}

/// What a use is charged.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Charge {
    cost: Money,
    /// Why the cost of a part of it is not known.
    unknown: Option<String>,
}

/// Names are the same whatever their case and the spaces in them.
fn key(item: &str) -> String {
    let words: Vec<&str> = item.split_whitespace().collect();
    words.join(" ").to_lowercase()
}

/// The stock as the entries in force say.
pub(super) struct Shelf(BTreeMap<String, Held>);

impl Shelf {
    fn held(&mut self, item: &str, amount: &Amount) -> Result<&mut Held, BooksError> {
        let held = self.0.entry(key(item)).or_insert_with(|| Held {
            name: item.to_owned(),
            ..Held::default()
        });
        let unit = *held.unit.get_or_insert(amount.unit);
        if unit == amount.unit {
            Ok(held)
        } else {
            Err(BooksError::UnitDiffers {
                item: item.to_owned(),
                found: amount.text.clone(),
                allowed: unit_words(unit),
            })
        }
    }

    fn came(&mut self, entry: &Stock) -> Result<(), BooksError> {
        let held = self.held(&entry.item, &entry.amount)?;
        held.came = plus(held.came, entry.amount.value)?;
        if let Some(cost) = &entry.cost {
            held.cost.add(cost)?;
            held.priced = plus(held.priced, entry.amount.value)?;
        }
        Ok(())
    }

    fn used(&mut self, entry: &Use) -> Result<(), BooksError> {
        let held = self.held(&entry.item, &entry.amount)?;
        held.used = plus(held.used, entry.amount.value)?;
        // The price of a gram of a stone is paid for with nothing that came in.
        if let Some(cost) = &entry.cost
            && entry.cost_from != Some(CostFrom::Stone)
        {
            held.charged.add(cost)?;
            held.charged_for = plus(held.charged_for, entry.amount.value)?;
        }
        Ok(())
    }

    /// The name as the stock has it.
    pub(super) fn name(&self, item: &str) -> Option<&str> {
        Some(self.0.get(&key(item))?.name.as_str())
    }

    /// What is left once more is taken, where that is less than nothing.
    pub(super) fn overdrawn(&self, item: &str, more: &Amount) -> Option<String> {
        let held = self.0.get(&key(item))?;
        if held.came.is_zero() {
            return None;
        }
        let left = held.came.checked_sub(held.used)?;
        let after = left.checked_sub(more.value)?;
        after.is_negative().then(|| {
            format!(
                "by the books {} of `{}` was left and {} was used: count what is there, and enter what came in with `tangmark book stock add`",
                amount::shown(left, more.unit),
                held.name,
                more.text
            )
        })
    }

    /// As much of an amount as the stock still has; the whole of it where it has enough, or never had any.
    fn covered(&self, item: &str, of: &Amount) -> Amount {
        let left = self
            .0
            .get(&key(item))
            .filter(|held| !held.came.is_zero())
            .and_then(|held| held.came.checked_sub(held.used));
        let short = left.filter(|left| {
            of.value
                .checked_sub(*left)
                .is_some_and(|lacks| !lacks.is_negative() && !lacks.is_zero())
        });
        short.map_or_else(
            || of.clone(),
            |left| Amount {
                value: if left.is_negative() {
                    Decimal::default()
                } else {
                    left
                },
                ..of.clone()
            },
        )
    }

    /// Checks that an amount is measured as the stock of the item is.
    pub(super) fn fits(&self, item: &str, found: &Amount) -> Result<(), BooksError> {
        match self.0.get(&key(item)).and_then(|held| held.unit) {
            Some(unit) if unit != found.unit => Err(BooksError::UnitDiffers {
                item: item.to_owned(),
                found: found.text.clone(),
                allowed: unit_words(unit),
            }),
            _ => Ok(()),
        }
    }

    /// What an amount costs by the mean price of all that came in with a cost; none where it came in several currencies.
    /// No more is charged than was paid, whatever came in without a cost.
    fn charge(&self, item: &str, of: &Amount) -> Option<Charge> {
        let covered = self.covered(item, of);
        let held = self.0.get(&key(item))?;
        let mut sums = held.cost.iter();
        let (Some((currency, paid)), None) = (sums.next(), sums.next()) else {
            return None;
        };
        if held.priced.is_zero() || covered.value.is_zero() || held.unit != Some(of.unit) {
            return None;
        }
        let exact = paid.to_ratio() * covered.value.to_ratio() / held.priced.to_ratio();
        let digits = coin_digits(currency).max(paid.digits());
        let mean = Decimal::from_ratio_half_even(&exact, digits).ok()?;
        let left = match held.charged.get(currency) {
            Some(charged) => paid.checked_sub(charged)?,
            None => paid,
        };
        // Coins are rounded and prices change: then less money than amount may be left, and all of it is charged.
        let known = held
            .priced
            .checked_sub(held.charged_for)?
            .checked_sub(covered.value)
            .is_some_and(|after| !after.is_negative());
        let least = |amount: Decimal| {
            if amount.is_negative() {
                Decimal::ZERO
            } else {
                amount
            }
        };
        let beyond = mean.checked_sub(left)?;
        let capped = !beyond.is_negative() && !beyond.is_zero();
        let amount = if capped {
            let coins = digits.max(left.digits());
            Decimal::from_ratio_half_even(&least(left).to_ratio(), coins).ok()?
        } else {
            mean
        };
        if capped && !known && amount.is_zero() {
            return None;
        }
        let cost = Money {
            amount,
            currency: currency.to_owned(),
        };
        let part = if capped && !known {
            Some(format!("the {cost} that is left of what was paid"))
        } else if covered.value != of.value {
            Some(format!(
                "the {} that was left",
                amount::shown(covered.value, covered.unit)
            ))
        } else {
            None
        };
        Some(Charge {
            unknown: part.map(|part| {
                format!(
                    "only {part} is charged; what the rest cost is not known: say the whole cost with `--cost`"
                )
            }),
            cost,
        })
    }

    fn lines(&self) -> Vec<StockLine> {
        self.0
            .values()
            .filter_map(|held| {
                let unit = held.unit?;
                let left = held.came.checked_sub(held.used)?;
                Some(StockLine {
                    item: held.name.clone(),
                    unit,
                    came: held.came,
                    used: held.used,
                    left,
                    left_shown: amount::shown(left, unit),
                    state: if left.is_negative() {
                        StockState::BelowNothing
                    } else if left.is_zero() {
                        StockState::UsedUp
                    } else {
                        StockState::There
                    },
                    cost: held.cost.clone(),
                })
            })
            .collect()
    }
}

/// A unit as an error names it.
const fn unit_words(unit: Unit) -> &'static str {
    match unit {
        Unit::Gram => "g or kg",
        Unit::CubicMillimetre => "ml or cm3",
        Unit::Millimetre => "mm, cm or m",
        Unit::SquareMillimetre => "cm2",
        Unit::One => "pieces",
        other => other.code(),
    }
}

impl Workshop {
    /// Returns the stock by the entries in force, leaving one use out of account: the one that is to be amended.
    pub(super) fn shelf(&self, without: Option<u64>) -> Result<Shelf, WorkshopError> {
        let mut shelf = Shelf(BTreeMap::new());
        for entry in self.noted::<Stock>(None, None)? {
            if Some(entry.number) != without {
                shelf.came(&entry.matter)?;
            }
        }
        for entry in self.noted::<Use>(None, None)? {
            if Some(entry.number) != without {
                shelf.used(&entry.matter)?;
            }
        }
        Ok(shelf)
    }

    /// Lists the consumables by name: what came in, what was used, what is left by the books.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn stock(&self) -> Result<Vec<StockLine>, WorkshopError> {
        let shelf = self.shelf(None)?;
        let came: Vec<StockLine> = shelf.lines();
        // What was used without ever being stocked is no stock.
        Ok(came
            .into_iter()
            .filter(|line| !line.came.is_zero())
            .collect())
    }

    /// Finds out what was used and what it cost: as given, by the stock, or by the price of a gram of the stone.
    pub(super) fn used_up(
        &self,
        item: &str,
        amount: Amount,
        cost: Option<Money>,
        note: Option<String>,
        without: Option<u64>,
    ) -> Result<(Use, Vec<String>), WorkshopError> {
        let shelf = self.shelf(without)?;
        let stones = self.stone_prices()?;
        let stone = stones.iter().find(|stone| key(&stone.0) == key(item));
        let name = shelf
            .name(item)
            .or_else(|| stone.map(|stone| stone.0.as_str()))
            .map(str::to_owned);
        let Some(item) = name.or_else(|| cost.is_some().then(|| item.trim().to_owned())) else {
            let mut names: Vec<String> = shelf.0.values().map(|held| held.name.clone()).collect();
            names.extend(stones.iter().map(|stone| stone.0.clone()));
            return Err(BooksError::UnknownItem {
                near: nearest(item, &names).map(str::to_owned),
                item: item.to_owned(),
            }
            .into());
        };
        shelf.fits(&item, &amount)?;
        let mut remarks: Vec<String> = shelf.overdrawn(&item, &amount).into_iter().collect();
        let (cost, cost_from) = match cost {
            Some(cost) => (Some(cost), Some(CostFrom::Given)),
            None => match shelf.charge(&item, &amount) {
                Some(charge) => {
                    remarks.extend(charge.unknown);
                    (Some(charge.cost), Some(CostFrom::Stock))
                }
                None => match stone.and_then(|stone| stone_cost(stone.1.as_ref()?, &amount)) {
                    Some(cost) => (Some(cost), Some(CostFrom::Stone)),
                    None => (None, None),
                },
            },
        };
        if cost.is_none() {
            remarks.push(format!(
                "what that cost is not known: say it with `--cost`, or enter what `{item}` cost with `tangmark book stock add`"
            ));
        }
        let used = Use {
            item,
            amount,
            cost,
            cost_from,
            note,
        };
        Ok((used, remarks))
    }

    /// Names of the workshop's stones, with the price of a gram where there is one.
    fn stone_prices(&self) -> Result<Vec<(String, Option<Money>)>, WorkshopError> {
        let (plugin, table) = STONES;
        let mut given = self.given([plugin].into_iter())?;
        let tables = given.remove(plugin).map(|given| given.tables);
        let rows = tables
            .as_ref()
            .and_then(|tables| tables.get(table))
            .and_then(|rows| rows.as_array());
        let text = |row: &serde_json::Value, name: &str| row.get(name)?.as_str().map(str::to_owned);
        Ok(rows
            .into_iter()
            .flatten()
            .filter_map(|row| {
                let price = text(row, "price_per_g").zip(text(row, "currency"));
                let price = price
                    .and_then(|(amount, currency)| format!("{amount} {currency}").parse().ok());
                Some((text(row, "name")?, price))
            })
            .collect())
    }
}

/// What an amount of a stone costs by the price of a gram.
fn stone_cost(price: &Money, amount: &Amount) -> Option<Money> {
    if amount.unit != Unit::Gram {
        return None;
    }
    let exact = price.amount.to_ratio() * amount.value.to_ratio();
    let digits = coin_digits(&price.currency);
    Some(Money {
        amount: Decimal::from_ratio_half_even(&exact, digits).ok()?,
        currency: price.currency.clone(),
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn stock(item: &str, amount: &str, cost: Option<&str>) -> Stock {
        Stock {
            item: item.to_owned(),
            amount: Amount::read(amount).unwrap(),
            cost: cost.map(|text| text.parse().unwrap()),
            from: None,
        }
    }

    #[test]
    fn a_use_costs_the_mean_price_of_what_came_in() {
        let mut shelf = Shelf(BTreeMap::new());
        shelf
            .came(&stock("Choji oil", "500 ml", Some("20 EUR")))
            .unwrap();
        shelf.came(&stock("choji  Oil", "0.5 ml", None)).unwrap();
        shelf
            .came(&stock("choji oil", "250 ml", Some("13 EUR")))
            .unwrap();
        let cost = |amount: &str| {
            let amount = Amount::read(amount).unwrap();
            shelf
                .charge("CHOJI OIL", &amount)
                .map(|charge| charge.cost.to_string())
        };
        // 33 EUR for 750 ml: 0.044 EUR a ml.
        assert_eq!(cost("100 ml").as_deref(), Some("4.40 EUR"));
        assert_eq!(cost("3"), None);
        let [line] = &shelf.lines()[..] else {
            panic!("one item")
        };
        assert_eq!(line.left_shown, "750.5 ml");
        assert_eq!(line.state, StockState::There);
        shelf
            .came(&stock("choji oil", "250 ml", Some("1500 JPY")))
            .unwrap();
        let amount = Amount::read("1 ml").unwrap();
        assert_eq!(shelf.charge("choji oil", &amount), None, "two currencies");
        let pieces = shelf.came(&stock("choji oil", "3", None)).unwrap_err();
        assert_eq!(
            pieces.to_string(),
            "`choji oil`: 3 found, the stock of it is kept in ml or cm3"
        );
    }

    #[test]
    fn a_stone_costs_its_grams() {
        let price: Money = "0.35 EUR".parse().unwrap();
        let grams = Amount::read("12 g").unwrap();
        assert_eq!(stone_cost(&price, &grams).unwrap().to_string(), "4.20 EUR");
        assert_eq!(stone_cost(&price, &Amount::read("1").unwrap()), None);
    }

    #[test]
    fn more_than_there_is_is_told() {
        let mut shelf = Shelf(BTreeMap::new());
        shelf.came(&stock("papers", "3", None)).unwrap();
        let more = Amount::read("4").unwrap();
        let told = shelf.overdrawn("papers", &more).unwrap();
        assert!(told.starts_with("by the books 3 of `papers` was left and 4 was used"));
        assert_eq!(shelf.overdrawn("papers", &Amount::read("3").unwrap()), None);
    }

    fn used(shelf: &mut Shelf, amount: &str, cost: Option<(&str, CostFrom)>) {
        let entry = Use {
            item: "oil".to_owned(),
            amount: Amount::read(amount).unwrap(),
            cost: cost.map(|(text, _)| text.parse().unwrap()),
            cost_from: cost.map(|(_, from)| from),
            note: None,
        };
        shelf.used(&entry).unwrap();
    }

    /// What a use of oil is charged, and whether the rest is told as unknown.
    fn charged(shelf: &Shelf, amount: &str) -> Option<(String, bool)> {
        let charge = shelf.charge("oil", &Amount::read(amount).unwrap())?;
        Some((charge.cost.to_string(), charge.unknown.is_some()))
    }

    fn shelf(came: &[(&str, Option<&str>)]) -> Shelf {
        let mut shelf = Shelf(BTreeMap::new());
        for (amount, cost) in came {
            shelf.came(&stock("oil", amount, *cost)).unwrap();
        }
        shelf
    }

    #[test]
    fn no_more_is_charged_than_was_left() {
        let mut shelf = shelf(&[("495 ml", Some("19.80 EUR"))]);
        let sum = |text: &str, unknown| Some((text.to_owned(), unknown));
        assert_eq!(charged(&shelf, "99 ml"), sum("3.96 EUR", false));
        assert_eq!(charged(&shelf, "900 ml"), sum("19.80 EUR", true));
        used(&mut shelf, "500 ml", None);
        assert_eq!(charged(&shelf, "1 ml"), None);
    }

    #[test]
    fn no_more_is_charged_than_was_paid() {
        let sum = |text: &str, unknown| Some((text.to_owned(), unknown));
        // Half of what came has no cost.
        let mut half = shelf(&[("500 ml", Some("20 EUR")), ("500 ml", None)]);
        assert_eq!(charged(&half, "1000 ml"), sum("20.00 EUR", true));
        assert_eq!(charged(&half, "400 ml"), sum("16.00 EUR", false));
        used(&mut half, "400 ml", Some(("16 EUR", CostFrom::Stock)));
        let told = half
            .charge("oil", &Amount::read("400 ml").unwrap())
            .unwrap();
        assert_eq!(told.cost.to_string(), "4.00 EUR");
        assert_eq!(
            told.unknown.unwrap(),
            "only the 4.00 EUR that is left of what was paid is charged; what the rest cost is not known: say the whole cost with `--cost`"
        );
        used(&mut half, "400 ml", Some(("4.00 EUR", CostFrom::Stock)));
        assert_eq!(
            charged(&half, "200 ml"),
            None,
            "all that was paid is charged"
        );
    }

    #[test]
    fn what_was_charged_otherwise_counts_too() {
        let sum = |text: &str, unknown| Some((text.to_owned(), unknown));
        let came = [("500 ml", Some("20 EUR")), ("500 ml", None)];
        let mut given = shelf(&came);
        used(&mut given, "500 ml", Some(("15 EUR", CostFrom::Given)));
        assert_eq!(charged(&given, "500 ml"), sum("5.00 EUR", true));
        // What a stone costs by its grams is no part of what was paid.
        let mut stone = shelf(&came);
        used(&mut stone, "500 ml", Some(("15 EUR", CostFrom::Stone)));
        assert_eq!(charged(&stone, "500 ml"), sum("20.00 EUR", false));
    }

    #[test]
    fn rounded_coins_and_new_prices_leave_nothing_unknown() {
        let sum = |text: &str, unknown| Some((text.to_owned(), unknown));
        let mut three = shelf(&[("3", Some("20 EUR"))]);
        for _ in 0..2 {
            assert_eq!(charged(&three, "1"), sum("6.67 EUR", false));
            used(&mut three, "1", Some(("6.67 EUR", CostFrom::Stock)));
        }
        assert_eq!(charged(&three, "1"), sum("6.66 EUR", false));
        let mut cheaper = shelf(&[("500 ml", Some("20 EUR"))]);
        used(&mut cheaper, "500 ml", Some(("20 EUR", CostFrom::Stock)));
        cheaper
            .came(&stock("oil", "500 ml", Some("10 EUR")))
            .unwrap();
        assert_eq!(charged(&cheaper, "500 ml"), sum("10.00 EUR", false));
        // Coins ran out before the pieces: the last is free, not unknown.
        let mut cheap = shelf(&[("5", Some("0.03 EUR"))]);
        used(&mut cheap, "3", Some(("0.03 EUR", CostFrom::Given)));
        assert_eq!(charged(&cheap, "1"), sum("0.00 EUR", false));
    }
}
