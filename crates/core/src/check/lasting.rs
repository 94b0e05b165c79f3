//! Rules of sheets and of sealed records alike. They are listed on record-format.md ("What makes a record invalid"), and
//! none is ever added: a record that was sealed while a rule was unknown must stay what it is.

use std::collections::BTreeSet;

use serde_json::Value;

use super::{Problem, quantities};
use crate::record::{CustodyKind, Quantity, Term as _};

/// Lists whose entries have keys of their own, as JSON Pointers.
const KEYED: [&str; 5] = [
    "/flaws",
    "/photos",
    "/fittings",
    "/passes",
    "/examination/instruments",
];

/// Checks a sheet or a record, as JSON.
pub(super) fn check(value: &Value, problems: &mut Vec<Problem>) {
    for list in KEYED {
        unique(value, list, problems);
    }
    let instruments: BTreeSet<&str> = texts(value, "/examination/instruments", "id")
        .map(|(_, key)| key)
        .collect();
    quantities::each(value, "", &mut |quantity, pointer| {
        quantities::recomputes(quantity, pointer, problems);
        instrument(quantity, pointer, &instruments, problems);
    });
    custody(value, problems);
}

/// The texts at `name` in the entries of the list at `list`, with their indices.
fn texts<'v>(
    value: &'v Value,
    list: &str,
    name: &'static str,
) -> impl Iterator<Item = (usize, &'v str)> {
    let entries = value.pointer(list).and_then(Value::as_array);
    let entries = entries.into_iter().flatten().enumerate();
    entries.filter_map(move |(index, entry)| Some((index, entry.get(name)?.as_str()?)))
}

fn unique(value: &Value, list: &str, problems: &mut Vec<Problem>) {
    let mut seen = BTreeSet::new();
    for (index, key) in texts(value, list, "id") {
        if !seen.insert(key) {
            let list_name = list.rsplit('/').next().unwrap_or(list);
            problems.push(Problem::new(
                format!("{list}/{index}/id"),
                format!("the key `{key}` is used by an earlier entry of `{list_name}`, each key is allowed once"),
                "give this entry a key of its own",
            ));
        }
    }
}

/// A quantity names an instrument of the examination.
fn instrument(
    quantity: &Quantity,
    pointer: &str,
    known: &BTreeSet<&str>,
    problems: &mut Vec<Problem>,
) {
    let Some(key) = &quantity.instrument else {
        return;
    };
    if !known.contains(key.as_str()) {
        problems.push(Problem::new(
            format!("{pointer}/instrument"),
            format!(
                "the instrument `{key}` is not in `examination.instruments`, which has {}",
                listed(known)
            ),
            "list the instrument there with its resolution, or correct the key",
        ));
    }
}

/// The terms of CIDOC CRM follow from the kind of the event.
fn custody(value: &Value, problems: &mut Vec<Problem>) {
    for (index, key) in texts(value, "/custody", "kind") {
        let kind = CustodyKind::ALL.iter().find(|kind| kind.key() == key);
        let Some(kind) = kind else { continue };
        let pointer = format!("/custody/{index}/maps_to");
        let found: Vec<&str> = value
            .pointer(&pointer)
            .and_then(Value::as_array)
            .into_iter()
            .flatten()
            .filter_map(Value::as_str)
            .collect();
        if found != kind.maps_to() {
            problems.push(Problem::new(
                pointer,
                format!(
                    "`{}` found, `{}` is fixed for `{key}`",
                    found.join(", "),
                    kind.maps_to().join(", "),
                ),
                "leave `maps_to` out: it follows from `kind`",
            ));
        }
    }
}

/// Keys, for people.
pub(super) fn listed(keys: &BTreeSet<&str>) -> String {
    if keys.is_empty() {
        return "none".to_owned();
    }
    let keys: Vec<String> = keys.iter().map(|key| format!("`{key}`")).collect();
    keys.join(", ")
}
