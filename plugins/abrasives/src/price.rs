//! What the stones wear costs. Everything here is private: names begin with `price.`.

use std::collections::BTreeMap;

use tangmark_author::words::counted;
use tangmark_author::{Notes, column, numbers, text_column};
use tangmark_core::units::Unit;
use tangmark_measure::{Estimate, print};
use tangmark_plugin::{Level, Table};

use crate::plan::Plan;
use crate::stones::Stone;

/// Adds the cost of consumables, per currency.
pub(crate) fn add(plan: &Plan, stones: &[Stone], notes: &mut Notes<'_>) {
    let mut sums: BTreeMap<&str, Estimate> = BTreeMap::new();
    let mut rows = Vec::new();
    let mut unpriced = 0_usize;
    for stage in &plan.stages {
        let stone = &stones[stage.stone];
        let (Some(wear), Some((price, currency))) = (stone.wear, &stone.price) else {
            unpriced += 1;
            continue;
        };
        let worn = stage.steel.scaled(wear);
        let cost = worn.scaled(*price);
        let sum = sums.entry(currency).or_insert(Estimate::exact(0.0));
        *sum = *sum + cost;
        rows.push(vec![
            stone.name.clone(),
            fixed(worn.value, 2),
            fixed(cost.value, 2),
            fixed(cost.standard_uncertainty, 2),
            currency.clone(),
        ]);
    }
    if rows.is_empty() {
        return;
    }
    let shown: Vec<String> = sums
        .iter()
        .map(|(currency, sum)| print::with_expanded(*sum, currency))
        .collect();
    let rest = if unpriced == 0 {
        String::new()
    } else {
        format!(
            " Not in the sum for want of wear or price: {}.",
            counted(unpriced, "stage")
        )
    };
    let message = format!("Stones worn on this plan: {}.{rest}", shown.join(", "));
    let given: Vec<(String, Estimate)> = sums
        .iter()
        .map(|(currency, sum)| (format!("consumables in {currency}"), *sum))
        .collect();
    let given: Vec<(&str, Estimate, Unit)> = given
        .iter()
        .map(|(name, sum)| (name.as_str(), *sum, Unit::One))
        .collect();
    notes.add(
        "price.consumables",
        Level::Info,
        message,
        &["/plan"],
        numbers(&given),
    );
    for (currency, sum) in &sums {
        let name = format!("price.consumables-{}", currency.to_lowercase());
        notes.quantity(
            &name,
            *sum,
            Unit::One,
            "steel of each stage times wear times price of the stone",
        );
    }
    notes.table(Table {
        id: "price.consumables".to_owned(),
        title: "Stones worn, and what that costs".to_owned(),
        columns: vec![
            text_column("stone"),
            column("worn", Unit::Gram),
            column("cost", Unit::One),
            column("u of the cost", Unit::One),
            text_column("currency"),
        ],
        rows,
        source: "steel of each stage times wear times price of the stone".to_owned(),
    });
}

/// A number with a fixed count of digits; empty for what cannot be written.
pub(crate) fn fixed(value: f64, digits: usize) -> String {
    print::fixed(value, digits).map_or_else(|_| String::new(), |value| value.to_string())
}
