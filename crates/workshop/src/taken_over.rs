//! Numbers of a sheet that are those of an earlier record to the last digit.

use std::collections::BTreeMap;

use serde::Serialize;
use serde_json::Value;
use tangmark_core::record::{Dimensions, Record};

/// Fewest equal quantities that are called taken over: one or two can be read the same twice.
const FEWEST: usize = 3;

/// How many quantities of a record are those of an earlier one, reading by reading.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct TakenOver {
    /// Quantities that are equal to the last digit.
    pub equal: usize,
    /// Quantities that both records have.
    pub both: usize,
    /// Number of the earlier record.
    pub record: u32,
    /// Who sealed the earlier record, by its own word.
    pub issuer: String,
}

impl TakenOver {
    /// Whether nothing was measured again, as far as the numbers tell.
    pub fn all(&self) -> bool {
        self.equal == self.both
    }
}

/// Compares a sheet with the newest record before it that was measured. None where too few are equal to say anything.
pub(crate) fn taken_over(
    dimensions: Option<&Dimensions>,
    records: &[Record],
) -> Result<Option<TakenOver>, serde_json::Error> {
    let before = records
        .iter()
        .rev()
        .find_map(|record| Some((record, record.dimensions.as_ref()?)));
    let (Some(now), Some((record, before))) = (dimensions, before) else {
        return Ok(None);
    };
    let (now, before) = (quantities(now)?, quantities(before)?);
    let both = now
        .iter()
        .filter_map(|(place, quantity)| Some((quantity, before.get(place)?)));
    let (mut equal, mut all) = (0, 0);
    for (quantity, earlier) in both {
        all += 1;
        equal += usize::from(same_reading(quantity, earlier));
    }
    Ok((equal >= FEWEST).then(|| TakenOver {
        equal,
        both: all,
        record: record.sequence,
        issuer: record.issuer.name.clone(),
    }))
}

/// Whether two quantities are one reading: a sheet that was made of a received record says so in its method, and names no
/// instrument.
fn same_reading(first: &Value, second: &Value) -> bool {
    ["as_read", "value", "unit", "standard_uncertainty"]
        .iter()
        .all(|name| first.get(name) == second.get(name))
}

/// Every quantity by its place. What is in a row is named by where on the blade it was measured, not by its number: a
/// station more moves none of the others.
fn quantities(dimensions: &Dimensions) -> Result<BTreeMap<String, Value>, serde_json::Error> {
    let mut found = BTreeMap::new();
    collect(&serde_json::to_value(dimensions)?, "", &mut found);
    Ok(found)
}

fn collect(value: &Value, place: &str, found: &mut BTreeMap<String, Value>) {
    match value {
        Value::Object(fields) if fields.contains_key("as_read") => {
            found.insert(place.to_owned(), value.clone());
        }
        Value::Object(fields) => {
            for (name, inner) in fields {
                // Where it was measured is chosen, and chosen the same on purpose.
                if !matches!(name.as_str(), "at" | "along" | "across") {
                    collect(inner, &format!("{place}/{name}"), found);
                }
            }
        }
        Value::Array(rows) => {
            for (number, row) in rows.iter().enumerate() {
                let at = row
                    .get("at")
                    .map_or_else(|| number.to_string(), Value::to_string);
                collect(row, &format!("{place}/{at}"), found);
            }
        }
        _ => {}
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use serde_json::json;

    use super::*;

    fn quantity(value: &str, unit: &str) -> Value {
        json!({
            "value": value, "unit": unit, "standard_uncertainty": "0.2", "uncertainty_from": "instrument",
            "as_read": [{ "text": format!("{value} {unit}"), "unit": unit }],
        })
    }

    fn dimensions(length: &str, stations: &[(&str, &str)]) -> Value {
        let stations: Vec<Value> = stations
            .iter()
            .map(|(at, width)| json!({ "at": quantity(at, "mm"), "width": quantity(width, "mm") }))
            .collect();
        json!({
            "datum": "back_notch", "blade_length": quantity(length, "mm"),
            "tang_length": quantity("205.0", "mm"), "stations": stations,
        })
    }

    fn record(dimensions: &Value) -> Record {
        let sealed = include_bytes!("../../../samples/records/reed-01-before_work.json");
        let mut value: Value = serde_json::from_slice(sealed).unwrap();
        value["dimensions"] = dimensions.clone();
        serde_json::from_value(value).unwrap()
    }

    #[test]
    fn what_nobody_measured_again_is_told() {
        let before = dimensions("698.2", &[("0.0", "31.2"), ("100.0", "28.7")]);
        let records = [record(&before)];
        let compare = |now: &Value| {
            let now: Dimensions = serde_json::from_value(now.clone()).unwrap();
            taken_over(Some(&now), &records).unwrap()
        };
        let all = compare(&before).unwrap();
        assert_eq!((all.equal, all.both), (4, 4));
        assert!(all.all());
        assert_eq!(all.record, records[0].sequence);
        assert_eq!(all.issuer, records[0].issuer.name);
        // As a sheet made of a received record has it.
        let mut received = before.clone();
        received["blade_length"]["uncertainty_from"] = json!("stated");
        received["blade_length"]["method"] = json!("as record 1 of the Mill has it");
        assert!(compare(&received).unwrap().all());
        // A station more, and the length measured again: the others are where they were.
        let now = dimensions(
            "698.0",
            &[("0.0", "31.2"), ("50.0", "30.0"), ("100.0", "28.7")],
        );
        let some = compare(&now).unwrap();
        assert_eq!((some.equal, some.both), (3, 4));
        assert!(!some.all());
        // One or two that read the same say nothing.
        let now = dimensions("698.0", &[("0.0", "31.2"), ("100.0", "28.6")]);
        assert_eq!(compare(&now), None);
    }

    #[test]
    fn without_an_earlier_measurement_nothing_is_taken_over() {
        let now: Dimensions = serde_json::from_value(dimensions("698.2", &[])).unwrap();
        assert_eq!(taken_over(Some(&now), &[]).unwrap(), None);
        assert_eq!(taken_over(None, &[]).unwrap(), None);
    }
}
