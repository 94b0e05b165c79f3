#![allow(clippy::unwrap_used, clippy::expect_used)]

mod accepted;
mod positions;
mod properties;
mod published;
mod refusals;
mod resources;

use serde_json::Value;

use super::{JsonError, Limits, canonical_bytes, read, read_value};

/// Reads with both readers, which must agree, and returns what they say.
fn strict(input: impl AsRef<[u8]>) -> Result<Value, JsonError> {
    let with = read(input.as_ref(), &Limits::default()).map(|document| document.value);
    let without = read_value(input.as_ref(), &Limits::default());
    assert_eq!(with, without, "the two readers disagree");
    without
}

fn canonical(value: &Value) -> String {
    String::from_utf8(canonical_bytes(value).unwrap()).unwrap()
}

/// The two lines a person sees.
fn refusal(input: impl AsRef<[u8]>) -> String {
    let error = strict(input).expect_err("must be refused");
    format!("{error}\nhint: {}", error.hint())
}
