//! The asking price: what the comparables say, what the blade has cost, and what goes on the sheet. Never a price without
//! what it rests on and between which limits it lies.

use serde::Serialize;
use serde_json::{Value, json};
use tangmark_core::record::{Money, Number, PartialDate, Term as _, Valuation, ValueBasis};
use tangmark_core::units::Decimal;

use super::error::SaleError;
use crate::journal::Who;
use crate::{CheckReport, Surroundings, Workshop, WorkshopError, journal};

/// Plugin that speaks of prices.
const PLUGIN: &str = "valuation";
/// Longest note of a valuation, in characters.
const LONGEST: usize = 2000;

/// What is asked of the price of a blade.
#[derive(Clone, Debug, Default)]
pub struct PriceOrder<'a> {
    /// Blade.
    pub blade: &'a str,
    /// The price to be written on the sheet.
    pub asking: Option<&'a Money>,
    /// What it rests on, in words.
    pub basis: Option<&'a str>,
    /// Between which prices such a sale is expected, in the currency of the price; needed where there is no estimate.
    pub between: Option<(Decimal, Decimal)>,
    /// Day until which it holds.
    pub valid_until: Option<&'a PartialDate>,
    /// What interest the one who prices it has in the blade.
    pub interest: Option<&'a str>,
    /// Who prices it, and when.
    pub who: Who<'a>,
}

/// Prices that such a sale is expected at: 95 of 100 between the limits.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PriceRange {
    /// Currency code.
    pub currency: String,
    /// Half of such sales above, half below.
    pub median: Decimal,
    /// Standard uncertainty of the median (k = 1).
    pub standard_uncertainty: Option<Decimal>,
    /// Lower limit.
    pub lower: Decimal,
    /// Upper limit.
    pub upper: Decimal,
}

/// What can be said of the price.
#[derive(Clone, Debug, Serialize)]
pub struct Price {
    /// Blade.
    pub blade: String,
    /// What the comparables say.
    pub estimate: Option<PriceRange>,
    /// What the plugin says of it, in words.
    pub said: Vec<String>,
    /// What the blade has cost so far, one sum for each currency: below it the sale is a loss.
    pub cost: Vec<Money>,
    /// What the cost is made of, or why it is not known.
    pub cost_of: Vec<String>,
    /// The asking price on the sheet.
    pub asking: Option<Valuation>,
    /// Revision of the sheet, where the price was written just now.
    pub revision: Option<u64>,
    /// What a person should read before naming a price.
    pub remarks: Vec<String>,
}

impl Workshop {
    /// Says what is known of the price of a blade, and writes the asking price on the sheet where one is given.
    ///
    /// # Errors
    /// When a price is to be written and nothing says what it rests on or between which limits it lies.
    pub fn price(
        &self,
        order: &PriceOrder<'_>,
        around: &Surroundings<'_>,
    ) -> Result<Price, WorkshopError> {
        let report = self.check(order.blade, around)?.only(&[PLUGIN]);
        let (cost, cost_of) = self.cost_so_far(order.blade)?;
        let (sheet, _) = self.sheet(order.blade)?;
        let mut price = Price {
            blade: order.blade.to_owned(),
            estimate: range(&report),
            said: words(&report),
            cost,
            cost_of,
            asking: sheet
                .valuation
                .filter(|valuation| valuation.basis == ValueBasis::Asking),
            revision: None,
            remarks: Vec::new(),
        };
        let Some(asking) = order.asking else {
            return Ok(price);
        };
        let limits = limits(order, asking, &price)?;
        remarks(asking, &limits, &mut price);
        let mut edit = self.edit(order.blade)?;
        let section = valuation(self, order, asking, &limits, around)?;
        edit.set("valuation", section);
        edit.by(&self.by(&order.who)?);
        let saved = edit.save(self, "asking price", around)?;
        let (sheet, _) = self.sheet(order.blade)?;
        price.asking = sheet.valuation;
        price.revision = Some(saved.revision);
        Ok(price)
    }
}

/// The numbers of the plugin that are named `price.NAME.CURRENCY`.
fn range(report: &CheckReport) -> Option<PriceRange> {
    let numbers: Vec<&Number> = report
        .private_results
        .iter()
        .flat_map(|one| &one.quantities)
        .collect();
    let median = numbers
        .iter()
        .find(|number| number.name.starts_with("price.median."))?;
    let suffix = median.name.rsplit('.').next()?;
    let named = |name: &str| {
        let name = format!("price.{name}.{suffix}");
        numbers.iter().find(|number| number.name == name)
    };
    Some(PriceRange {
        currency: suffix.to_uppercase(),
        median: median.value,
        standard_uncertainty: median.standard_uncertainty,
        lower: named("lower")?.value,
        upper: named("upper")?.value,
    })
}

fn words(report: &CheckReport) -> Vec<String> {
    let faults = report
        .runs
        .iter()
        .filter_map(|run| run.fault.as_ref())
        .map(|fault| format!("the plugin `{PLUGIN}` gave no answer: {fault}"));
    let findings = report
        .private_findings
        .iter()
        .chain(&report.findings)
        .map(|finding| finding.message.clone());
    let mut said: Vec<String> = faults.chain(findings).collect();
    if report.runs.is_empty() {
        said.push(format!("the plugin `{PLUGIN}` did not run"));
    }
    said
}

/// Between which prices such a sale is expected, and who says so.
struct Limits {
    lower: Decimal,
    upper: Decimal,
    words: String,
}

fn limits(order: &PriceOrder<'_>, asking: &Money, price: &Price) -> Result<Limits, Box<SaleError>> {
    let estimate = price
        .estimate
        .as_ref()
        .filter(|one| one.currency == asking.currency);
    if let Some((lower, upper)) = order.between {
        let bad = |what| {
            Box::new(SaleError::BadInterval {
                found: format!("{lower} to {upper} {}", asking.currency),
                asking: asking.to_string(),
                what,
            })
        };
        if lower > upper {
            return Err(bad("the first limit is above the second"));
        }
        if asking.amount < lower || asking.amount > upper {
            return Err(bad("the price lies outside it"));
        }
    }
    let why = || {
        let mut why = price.said.clone();
        if let Some(other) = price.estimate.as_ref().filter(|_| estimate.is_none()) {
            why.insert(0, format!("its estimate is in {}", other.currency));
        }
        why
    };
    let stated = order.between.map(|(lower, upper)| Limits {
        words: format!("expected between {lower} and {upper} {}", asking.currency),
        lower,
        upper,
    });
    match (estimate, stated, order.basis) {
        (None, None, _) => Err(Box::new(SaleError::NoBasis {
            lacks: "an interval",
            why: why(),
        })),
        (None, Some(_), None) => Err(Box::new(SaleError::NoBasis {
            lacks: "a basis",
            why: why(),
        })),
        (None, Some(stated), Some(_)) => Ok(stated),
        (Some(one), stated, _) => Ok(Limits {
            lower: one.lower,
            upper: one.upper,
            words: format!(
                "own comparables: median {} {currency}, 95 of 100 single sales between {} and {} {currency}{}",
                one.median,
                one.lower,
                one.upper,
                stated.map_or_else(String::new, |stated| format!("; {}", stated.words)),
                currency = one.currency,
            ),
        }),
    }
}

fn remarks(asking: &Money, limits: &Limits, price: &mut Price) {
    let outside = if asking.amount < limits.lower {
        Some("below")
    } else if asking.amount > limits.upper {
        Some("above")
    } else {
        None
    };
    if let Some(side) = outside {
        price.remarks.push(format!(
            "the asking price {asking} lies {side} the interval, {} to {} {}",
            limits.lower, limits.upper, asking.currency
        ));
    }
    for sum in &price.cost {
        if sum.currency != asking.currency {
            price.remarks.push(format!(
                "{sum} of the cost is in another currency than the price; the two are not compared"
            ));
        } else if asking.amount < sum.amount {
            price.remarks.push(format!(
                "the asking price {asking} is below what the blade has cost so far, {sum}"
            ));
        }
    }
}

/// The section of the sheet.
fn valuation(
    workshop: &Workshop,
    order: &PriceOrder<'_>,
    asking: &Money,
    limits: &Limits,
    around: &Surroundings<'_>,
) -> Result<Value, WorkshopError> {
    // Who sees the price sees the note: what the blade has cost stays in the books.
    let mut note = vec![limits.words.clone()];
    if let Some(basis) = order.basis {
        note.insert(0, basis.to_owned());
    }
    let note: String = note.join("; ").chars().take(LONGEST).collect();
    let on = order.who.day(around)?;
    if let Some(until) = order.valid_until {
        journal::due("the last day of the price", until, &on)?;
    }
    let mut section = json!({
        "value": { "amount": asking.amount, "currency": asking.currency },
        "basis": ValueBasis::Asking.key(),
        "on": on,
        "valuer": workshop.by(&order.who)?,
        "interest": order.interest.unwrap_or("offers the blade for sale"),
        "note": note,
    });
    if let Some(until) = order.valid_until {
        section["valid_until"] = json!(until);
    }
    Ok(section)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn price(estimate: Option<PriceRange>, cost: &[&str]) -> Price {
        Price {
            blade: "reed".to_owned(),
            estimate,
            said: vec!["There are no comparables to go by.".to_owned()],
            cost: cost.iter().map(|sum| sum.parse().unwrap()).collect(),
            cost_of: Vec::new(),
            asking: None,
            revision: None,
            remarks: Vec::new(),
        }
    }

    fn decimal(text: &str) -> Decimal {
        text.parse().unwrap()
    }

    fn estimate() -> PriceRange {
        PriceRange {
            currency: "JPY".to_owned(),
            median: decimal("450000"),
            standard_uncertainty: None,
            lower: decimal("300000"),
            upper: decimal("680000"),
        }
    }

    #[test]
    fn no_price_stands_without_basis_and_interval() {
        let asking: Money = "480000 JPY".parse().unwrap();
        let bare = PriceOrder::default();
        let between = PriceOrder {
            between: Some((decimal("400000"), decimal("600000"))),
            ..PriceOrder::default()
        };
        let both = PriceOrder {
            basis: Some("two like sales this year"),
            ..between.clone()
        };
        let none = price(None, &[]);
        for (order, lacks) in [(&bare, "an interval"), (&between, "a basis")] {
            let error = limits(order, &asking, &none).err().unwrap();
            assert!(
                matches!(&*error, SaleError::NoBasis { lacks: found, .. } if *found == lacks),
                "{error}"
            );
        }
        assert_eq!(
            limits(&both, &asking, &none).unwrap().lower,
            decimal("400000")
        );
        let known = price(Some(estimate()), &[]);
        let found = limits(&bare, &asking, &known).unwrap();
        assert!(found.words.contains("median 450000 JPY"), "{}", found.words);
        // An estimate in another currency is none for this price.
        let euros: Money = "3000 EUR".parse().unwrap();
        let error = limits(&bare, &euros, &known).err().unwrap().to_string();
        assert!(error.contains("its estimate is in JPY"), "{error}");
    }

    #[test]
    fn an_interval_holds_its_price() {
        let asking: Money = "480000 JPY".parse().unwrap();
        for (lower, upper) in [("600000", "400000"), ("500000", "600000")] {
            let order = PriceOrder {
                basis: Some("like sales"),
                between: Some((decimal(lower), decimal(upper))),
                ..PriceOrder::default()
            };
            let error = limits(&order, &asking, &price(None, &[])).err().unwrap();
            assert!(matches!(*error, SaleError::BadInterval { .. }), "{error}");
        }
    }

    #[test]
    fn a_price_outside_the_interval_or_below_the_cost_is_told() {
        let mut known = price(Some(estimate()), &["310000 JPY", "40 EUR"]);
        let asking: Money = "290000 JPY".parse().unwrap();
        let found = limits(&PriceOrder::default(), &asking, &known).unwrap();
        remarks(&asking, &found, &mut known);
        assert_eq!(known.remarks.len(), 3, "{:?}", known.remarks);
        assert!(known.remarks[0].contains("below the interval"));
        assert!(known.remarks[1].contains("below what the blade has cost so far, 310000 JPY"));
        assert!(known.remarks[2].starts_with("40 EUR"));
    }
}
