//! The demo workshop's stones and settings.

use serde_json::{Map, Value, json};
use tangmark_author::trial;
use tangmark_plugin::CheckRequest;

fn sample(path: &str) -> String {
    let whole = format!("{}/../../samples/{path}", env!("CARGO_MANIFEST_DIR"));
    std::fs::read_to_string(whole).unwrap()
}

/// The table `stones`, as a plugin gets it.
pub(crate) fn stones() -> Value {
    let text = sample("tables/abrasives/stones.csv");
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let heads = reader.headers().unwrap().clone();
    let rows: Vec<Value> = reader
        .records()
        .map(|record| {
            let record = record.unwrap();
            let cells = heads
                .iter()
                .zip(record.iter())
                .filter(|(_, cell)| !cell.is_empty());
            Value::Object(
                cells
                    .map(|(head, cell)| (head.to_owned(), json!(cell)))
                    .collect::<Map<_, _>>(),
            )
        })
        .collect();
    json!({ "stones": rows })
}

/// The settings of the demo workshop.
pub(crate) fn settings() -> Value {
    toml::from_str(&sample("settings/abrasives.toml")).unwrap()
}

/// Asks about a sheet with stones and settings of the demo workshop.
pub(crate) fn request(sheet: Value) -> CheckRequest {
    let mut request = trial::request(sheet);
    request.tables = stones();
    request.settings = settings();
    request
}
