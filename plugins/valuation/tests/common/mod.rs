//! The demo table and settings, read as the workshop reads them.

use serde_json::{Map, Value, json};

/// The rows of a table: an object of texts for each, empty cells left out.
pub(crate) fn rows(csv: &str) -> Value {
    let mut reader = csv::Reader::from_reader(csv.as_bytes());
    let heads = reader.headers().unwrap().clone();
    let row = |record: csv::StringRecord| {
        let cells = heads.iter().zip(record.iter());
        let kept = cells.filter(|(_, cell)| !cell.trim().is_empty());
        Value::Object(
            kept.map(|(head, cell)| (head.to_owned(), json!(cell.trim())))
                .collect::<Map<_, _>>(),
        )
    };
    reader
        .records()
        .map(|record| row(record.unwrap()))
        .collect()
}

/// The demo comparables.
pub(crate) fn comparables() -> Value {
    rows(include_str!(
        "../../../../samples/tables/valuation/comparables.csv"
    ))
}

/// The demo settings.
pub(crate) fn settings() -> Value {
    let text = include_str!("../../../../samples/settings/valuation.toml");
    serde_json::to_value(toml::from_str::<toml::Table>(text).unwrap()).unwrap()
}
