//! Quantities: recomputed from what was read, in the record's unit, with a sign only where one can be.

use serde::Deserialize as _;
use serde_json::Value;

use super::Problem;
use crate::record::{Length, Measured as _, QUANTITY_DEFINITIONS, Quantity};
use crate::units::Dimension;

/// Fields whose values may be below zero: places before the datum, a hollow back, a cold room.
const SIGNED: &[&str] = &[
    "along",
    "across",
    "at",
    "curvature",
    "curvature_at",
    "from",
    "height",
    "tang_curvature",
    "temperature",
    "to",
];

/// Calls `visit` for every quantity inside `value`, with its JSON Pointer.
pub(super) fn each(value: &Value, pointer: &str, visit: &mut dyn FnMut(&Quantity, &str)) {
    match value {
        Value::Object(members) if members.get("as_read").is_some_and(Value::is_array) => {
            if let Ok(quantity) = Quantity::deserialize(value) {
                visit(&quantity, pointer);
            }
        }
        Value::Object(members) => {
            for (name, member) in members {
                each(member, &format!("{pointer}/{name}"), visit);
            }
        }
        Value::Array(items) => {
            for (index, item) in items.iter().enumerate() {
                each(item, &format!("{pointer}/{index}"), visit);
            }
        }
        _ => {}
    }
}

/// Says that a quantity below zero stands where none can be.
pub(super) fn sign(quantity: &Quantity, pointer: &str, problems: &mut Vec<Problem>) {
    let field = pointer.rsplit('/').next().unwrap_or_default();
    if quantity.value.is_negative() && !SIGNED.contains(&field) {
        problems.push(Problem::new(
            pointer,
            format!(
                "{} found, a {} of zero or more is allowed here",
                readings(quantity),
                quantity.unit.dimension()
            ),
            "leave out the minus sign, or check the reading",
        ));
    }
}

/// Says what of a quantity does not follow from its readings: value, unit, an uncertainty above zero.
pub(super) fn recomputes(quantity: &Quantity, pointer: &str, problems: &mut Vec<Problem>) {
    let mut add = |field: &str, what: String, hint: &str| {
        problems.push(Problem::new(format!("{pointer}{field}"), what, hint));
    };
    let dimension = quantity.unit.dimension();
    let canonical = dimension.canonical_unit();
    if quantity.unit != canonical {
        add(
            "/unit",
            format!(
                "the unit `{}` found, `{}` is allowed for a {dimension}",
                quantity.unit, canonical
            ),
            "leave the long form to the program: write { \"text\": \"70.15 cm\" }",
        );
    }
    if quantity.standard_uncertainty.is_zero() || quantity.standard_uncertainty.is_negative() {
        add(
            "/standard_uncertainty",
            format!(
                "{} {} found, more than zero is allowed",
                quantity.standard_uncertainty, quantity.unit
            ),
            "give the standard uncertainty (k = 1), or write { \"text\": \"70.15 cm\" } and leave it to the program",
        );
    }
    match quantity.recomputed() {
        Some(value) if value == quantity.value && value.digits() == quantity.value.digits() => {}
        Some(value) => add(
            "/value",
            format!(
                "{} {} found, but {} makes {value} {canonical}",
                quantity.value,
                quantity.unit,
                readings(quantity)
            ),
            "correct the one that is wrong, or write { \"text\": \"70.15 cm\" } and leave `value` to the program",
        ),
        None => add(
            "/as_read",
            format!(
                "{} found, which cannot be read as a {dimension} in the unit stated with it",
                readings(quantity)
            ),
            "write text and unit like { \"text\": \"70.15 cm\", \"unit\": \"cm\" }",
        ),
    }
}

/// The readings as written, for people: `724 cm`, or `70.15 cm, 70.10 cm`.
pub(super) fn readings(quantity: &Quantity) -> String {
    let texts: Vec<&str> = quantity
        .as_read
        .iter()
        .map(|reading| reading.text.as_str())
        .collect();
    format!("`{}`", texts.join(", "))
}

/// Says that a length is nothing or more than `most` mm.
pub(super) fn length_between(
    length: &Length,
    pointer: &str,
    most: f64,
    problems: &mut Vec<Problem>,
) {
    between(length.quantity(), pointer, most, problems);
}

/// Says that a quantity is nothing or more than `most` in the record's unit. What is below zero is said elsewhere.
pub(super) fn between(quantity: &Quantity, pointer: &str, most: f64, problems: &mut Vec<Problem>) {
    let unit = quantity.unit;
    if quantity.value.is_zero() || quantity.to_f64() > most {
        problems.push(Problem::new(
            pointer,
            format!(
                "{} found, which is {} {unit}: more than 0 and at most {most} {unit} is allowed",
                readings(quantity),
                quantity.value
            ),
            "check the number and its unit, then correct the one that slipped",
        ));
    }
}

/// Tells whether a text and its unit, as an instrument states them, are a quantity above zero.
pub(super) fn is_step(text: &str, unit: &str) -> bool {
    let signed = |dimension: Dimension| crate::units::reading::read_signed(text, dimension).ok();
    QUANTITY_DEFINITIONS
        .iter()
        .filter_map(|(_, dimension)| signed(*dimension))
        .any(|reading| {
            reading.unit_written == unit && num_traits::Signed::is_positive(&reading.exact)
        })
}
