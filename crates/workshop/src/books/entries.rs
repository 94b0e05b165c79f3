//! What an entry of the books holds, one struct for each kind of the journal.

use serde::{Deserialize, Serialize};
use tangmark_core::record::Money;

use super::Amount;
use crate::journal::Matter;

/// Money that went out.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Cost {
    /// How much.
    pub amount: Money,
    /// For what.
    #[serde(rename = "for")]
    pub what: String,
    /// To whom.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub paid_to: Option<String>,
}

impl Matter for Cost {
    const KIND: &'static str = "cost";
}

/// Money that came in, other than the price a blade was sold for: that stands on its sheet.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Income {
    /// How much.
    pub amount: Money,
    /// For what.
    #[serde(rename = "for")]
    pub what: String,
    /// From whom.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<String>,
}

impl Matter for Income {
    const KIND: &'static str = "income";
}

/// Where the cost of what was used comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum CostFrom {
    /// Given with the entry.
    Given,
    /// The mean price of what had come into the stock until then.
    Stock,
    /// The price of a gram of the stone.
    Stone,
}

/// A consumable or part of a stone that was used up.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Use {
    /// What.
    pub item: String,
    /// How much of it.
    pub amount: Amount,
    /// What that cost, where it is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cost: Option<Money>,
    /// Where the cost comes from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cost_from: Option<CostFrom>,
    /// Remarks.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

impl Matter for Use {
    const KIND: &'static str = "use";
}

/// What came into the stock of consumables.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Stock {
    /// What.
    pub item: String,
    /// How much of it.
    pub amount: Amount,
    /// What it cost in all.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cost: Option<Money>,
    /// From whom.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<String>,
}

impl Matter for Stock {
    const KIND: &'static str = "stock";
}

/// Work outside passes.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Hours {
    /// How long, in minutes.
    pub time: Amount,
    /// For what.
    #[serde(rename = "for")]
    pub what: String,
}

impl Matter for Hours {
    const KIND: &'static str = "hours";
}
