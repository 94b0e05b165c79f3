//! Readings as people write them, in the places of those of a record.

use serde_json::{Value, json};

use super::records::{chosen, places, put_back};
use super::{Chance, Maker};
use crate::failures::MakeError;
use crate::failures::bag::Bag;
use crate::sealed::fault;

/// Readings with what they come to, and readings that are none, each with the unit of the record.
const READINGS: &str = include_str!("../../../../tests/readings.json");

/// A quantity of a record was read otherwise: the value fits what was read, or does not.
pub(super) fn change(maker: &Maker, chance: &mut Chance, bag: &mut Bag) -> Result<(), MakeError> {
    let Some((path, mut record)) = chosen(chance, bag) else {
        return Ok(());
    };
    let mut found = Vec::new();
    places(&record, "", &mut found);
    found.retain(|place| {
        record
            .pointer(place)
            .is_some_and(|inner| inner["as_read"].is_array())
    });
    let listed: Value = serde_json::from_str(READINGS).map_err(fault("readings"))?;
    let list = if chance.percent(75) {
        "read"
    } else {
        "refused"
    };
    let listed = listed[list].as_array().map_or(&[][..], Vec::as_slice);
    let (Some(place), Some(reading)) = (chance.pick(&found), chance.pick(listed)) else {
        return Ok(());
    };
    // Half of them in a place of the same unit.
    let same = |place: &&String| record[place.as_str()]["unit"] == reading["unit"];
    let place = found
        .iter()
        .filter(|_| chance.percent(50))
        .find(same)
        .unwrap_or(place)
        .clone();
    let written = match &reading["written"] {
        Value::Null => &reading["unit"],
        written => written,
    };
    let one = json!({ "text": reading["text"], "unit": written });
    if let Some(quantity) = record.pointer_mut(&place) {
        quantity["unit"] = reading["unit"].clone();
        quantity["value"] = match &reading["value"] {
            Value::String(value) if chance.percent(15) => json!(format!("{value}0")),
            Value::String(value) => json!(value),
            _ => quantity["value"].clone(),
        };
        let times = if chance.percent(15) { 2 } else { 1 };
        quantity["as_read"] = json!(vec![one; times]);
    }
    put_back(maker, chance, bag, &path, record)
}
