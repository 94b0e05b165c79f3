//! Whatever stands in the table and the settings, the plugin answers or refuses.
#![allow(clippy::unwrap_used)]

mod common;

use proptest::prelude::*;
use serde_json::{Value, json};
use tangmark_author::trial;
use tangmark_valuation::{check, describe};

fn sheet() -> Value {
    static REED: std::sync::OnceLock<Value> = std::sync::OnceLock::new();
    REED.get_or_init(|| trial::demo("reed-before")).clone()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(30))]

    #[test]
    fn any_cell_is_answered_or_refused(column in "id|sold_on|price|currency|basis|kind|length_mm|made_year|signed|papers|condition|[a-z]{1,8}", cell in ".{0,40}") {
        let mut request = trial::request(sheet());
        let mut table = common::comparables();
        table[4][column] = json!(cell);
        request.tables = json!({ "comparables": table });
        if let Ok(reply) = check(&request) {
            prop_assert_eq!(reply.audit(&describe(), &request.sheet), Ok(()));
        }
    }

    /// Prices over many powers of ten, and features that nearly depend on each other.
    #[test]
    fn any_market_is_answered(prices in prop::collection::vec(-2.0..9.0_f64, 34), rows in 0..35_usize, length in 20.0..3000.0_f64) {
        let mut request = trial::request(sheet());
        let mut table = common::comparables();
        for (row, price) in table.as_array_mut().unwrap().iter_mut().zip(&prices) {
            row["price"] = json!(format!("{:.2}", 10.0_f64.powf(*price).max(0.01)));
            row["length_mm"] = json!(format!("{length:.1}"));
        }
        table[0]["length_mm"] = json!("600");
        table.as_array_mut().unwrap().truncate(rows);
        request.tables = json!({ "comparables": table });
        request.settings = common::settings();
        let reply = check(&request).unwrap();
        prop_assert_eq!(reply.audit(&describe(), &request.sheet), Ok(()));
        prop_assert!(!reply.findings.is_empty());
    }
}
