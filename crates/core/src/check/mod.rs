//! Rules that a schema cannot state: references, order, recomputed values, consistency.

mod along;
mod consistency;
mod lasting;
mod quantities;
mod record;
mod wording;

use jsonschema::Validator;
use serde::Serialize;
use serde_json::Value;

use crate::record::Sheet;
pub use record::{each_match, opened, record, to_seal};
pub(crate) use wording::Form;
pub use wording::nearest;

/// Most problems listed at once.
const MOST_PROBLEMS: usize = 50;

/// One problem of a sheet or record.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Problem {
    /// JSON Pointer (RFC 6901) to the value.
    pub pointer: String,
    /// What was found against what is allowed.
    pub what: String,
    /// The next step.
    pub hint: String,
}

impl Problem {
    pub(crate) fn new(
        pointer: impl Into<String>,
        what: impl Into<String>,
        hint: impl Into<String>,
    ) -> Self {
        Self {
            pointer: pointer.into(),
            what: what.into(),
            hint: hint.into(),
        }
    }
}

/// Validates `value` against a schema, in this tool's own words.
pub(crate) fn against_schema(
    validator: Option<&Validator>,
    value: &Value,
    form: Form,
) -> Vec<Problem> {
    let Some(validator) = validator else {
        let hint = "report this as a fault of the program";
        return vec![Problem::new(
            "",
            "the built-in schema could not be compiled",
            hint,
        )];
    };
    let mut found: Vec<(u8, Problem)> = validator
        .iter_errors(value)
        .take(MOST_PROBLEMS)
        .map(|error| (wording::rank(&error), wording::problem(&error, form)))
        .collect();
    // One wrong value breaks several keywords of the schema; the most telling one is enough.
    found.sort_by(|(rank, a), (other, b)| a.pointer.cmp(&b.pointer).then(rank.cmp(other)));
    found.dedup_by(|(_, later), (_, first)| {
        later.pointer == first.pointer && !later.pointer.is_empty()
    });
    found.into_iter().map(|(_, problem)| problem).collect()
}

/// Turns a JSON value into a type, with the place of what does not fit: what a pattern of the schema lets through.
pub(crate) fn typed<T: serde::de::DeserializeOwned>(
    value: &Value,
    form: Form,
) -> Result<T, Problem> {
    serde_path_to_error::deserialize(value).map_err(|error| {
        let pointer = format!(
            "/{}",
            error
                .path()
                .to_string()
                .replace(['.', '['], "/")
                .replace(']', "")
        );
        let hint = form.hint("correct the text; `tangmark examine new` writes a template");
        Problem::new(pointer, said(&error.inner().to_string()), hint)
    })
}

/// What the types say, in this tool's own words where it is about a number that is too large.
fn said(text: &str) -> String {
    text.strip_prefix("invalid value: integer `")
        .and_then(|rest| rest.strip_suffix("`, expected u32"))
        .map_or_else(
            || text.to_owned(),
            |found| format!("{found} found, at most {} is allowed", u32::MAX),
        )
}

/// Checks the meaning of a sheet.
pub fn sheet(sheet: &Sheet) -> Vec<Problem> {
    let mut problems = Vec::new();
    if let Ok(value) = sheet.to_json() {
        lasting::check(&value, &mut problems);
        consistency::check(sheet, &value, &mut problems);
    }
    problems
}
