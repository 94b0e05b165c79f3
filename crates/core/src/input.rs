//! What plugins were asked, as a digest that anyone can compute again from sealed records.

use serde_json::{Map, Value};

use crate::Digest;
use crate::json::{CanonicalError, canonical_bytes};

/// Members of a record that no plugin was asked about: what the program adds to the sheet, what plugins and the decision
/// said, and what is not a fact about the blade.
const BESIDE_THE_SHEET: [&str; 17] = [
    "schema",
    "record_id",
    "sequence",
    "previous",
    "issuer",
    "purpose",
    "issued_at",
    "runs",
    "findings",
    "private_findings",
    "decision",
    "overrides",
    "worked_under_hold",
    "valuation",
    "_sd",
    "_sd_alg",
    "proof",
];

/// Returns the sections of a sealed record that its plugins were asked about, withheld values as digests.
pub fn sections(record: &Map<String, Value>) -> Map<String, Value> {
    record
        .iter()
        .filter(|(name, _)| !BESIDE_THE_SHEET.contains(&name.as_str()))
        .map(|(name, value)| (name.clone(), value.clone()))
        .collect()
}

/// Returns the digest that each run has as `input`: of `sections`, the names of all earlier records of the blade, the
/// oldest first, and the time of sealing.
///
/// # Errors
/// As [`canonical_bytes`].
pub fn digest(
    sections: Map<String, Value>,
    earlier: &[Digest],
    now: &str,
) -> Result<Digest, CanonicalError> {
    let names: Vec<Value> = earlier.iter().map(|name| name.to_string().into()).collect();
    let asked = Map::from_iter([
        ("history".to_owned(), Value::Array(names)),
        ("now".to_owned(), now.into()),
        ("sheet".to_owned(), Value::Object(sections)),
    ]);
    Ok(Digest::of(&canonical_bytes(&Value::Object(asked))?))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn every_member_of_a_record_is_asked_about_or_named_here() {
        let properties = crate::schema::record()["properties"].as_object().unwrap();
        let sheet = crate::schema::sheet()["properties"].as_object().unwrap();
        for name in properties.keys() {
            let beside = BESIDE_THE_SHEET.contains(&name.as_str());
            // A valuation is a section of the sheet, but what it says is for the owner alone.
            assert_eq!(
                beside,
                !sheet.contains_key(name) || name == "valuation",
                "{name}"
            );
        }
    }

    /// Source: the example on record-format.md.
    #[test]
    fn the_input_of_the_example_is_the_one_on_the_page() {
        let bytes = include_bytes!("../../../schemas/example-record.json");
        let record: Value = serde_json::from_slice(bytes).unwrap();
        let previous: Digest = record["previous"].as_str().unwrap().parse().unwrap();
        let asked = sections(record.as_object().unwrap());
        let found = digest(asked, &[previous], record["issued_at"].as_str().unwrap()).unwrap();
        let page = include_str!("../../../schemas/record-format.md");
        assert!(page.contains(&format!("`{found}`")), "{found}");
    }
}
