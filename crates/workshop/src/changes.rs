//! What a change of a sheet changed.

use std::collections::BTreeSet;

use serde::Serialize;
use serde_json::Value;
use tangmark_store::{Store as _, StoreError};

use crate::{Workshop, WorkshopError, dotted};

/// The values in which two revisions of a sheet differ.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct SheetDifference {
    /// Revision before.
    pub from: u64,
    /// Revision after.
    pub to: u64,
    /// The values, in the order of the sheet.
    pub values: Vec<ChangedValue>,
}

/// One value that differs.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ChangedValue {
    /// Where, such as `passes[2].after.mass`.
    pub place: String,
    /// What stood there; none where nothing did.
    pub before: Option<Value>,
    /// What stands there now; none where nothing does.
    pub after: Option<Value>,
}

impl Workshop {
    /// Lists the values in which two revisions of a blade's sheet differ: from the one before `to` unless `from` names
    /// another, to the newest unless `to` does.
    ///
    /// # Errors
    /// When there is no such blade or revision.
    pub fn sheet_changes(
        &self,
        blade: &str,
        from: Option<u64>,
        to: Option<u64>,
    ) -> Result<SheetDifference, WorkshopError> {
        let newest = self
            .store
            .draft(blade)?
            .ok_or_else(|| WorkshopError::NoSheet(blade.to_owned()))?;
        let after = match to {
            Some(to) => self.store.draft_at(blade, to)?,
            None => newest.clone(),
        };
        let to = after.entry.revision;
        let from = from.unwrap_or_else(|| to.saturating_sub(1));
        let before = match (from, self.store.draft_at(blade, from)) {
            // Before the first revision there was nothing.
            (0, Err(StoreError::NoSuchRevision { .. })) => Value::Null,
            (_, before) => before?.body,
        };
        let mut values = Vec::new();
        differ(
            &mut String::new(),
            Some(&before),
            Some(&after.body),
            &mut values,
        );
        Ok(SheetDifference { from, to, values })
    }
}

/// Collects differences below a place. A quantity is one value, and so is an item of a list that came or went.
fn differ(
    pointer: &mut String,
    before: Option<&Value>,
    after: Option<&Value>,
    found: &mut Vec<ChangedValue>,
) {
    if before == after {
        return;
    }
    match (before, after) {
        (Some(Value::Object(old)), Some(Value::Object(new))) if !old.contains_key("as_read") => {
            let names: BTreeSet<&String> = old.keys().chain(new.keys()).collect();
            for name in names {
                let token = name.replace('~', "~0").replace('/', "~1");
                below(pointer, &token, old.get(name), new.get(name), found);
            }
        }
        (Some(Value::Array(old)), Some(Value::Array(new))) => {
            for index in 0..old.len().max(new.len()) {
                below(
                    pointer,
                    &index.to_string(),
                    old.get(index),
                    new.get(index),
                    found,
                );
            }
        }
        _ => found.push(ChangedValue {
            place: dotted(pointer),
            before: before.filter(|value| !value.is_null()).cloned(),
            after: after.filter(|value| !value.is_null()).cloned(),
        }),
    }
}

fn below(
    pointer: &mut String,
    token: &str,
    before: Option<&Value>,
    after: Option<&Value>,
    found: &mut Vec<ChangedValue>,
) {
    let length = pointer.len();
    pointer.push('/');
    pointer.push_str(token);
    differ(pointer, before, after, found);
    pointer.truncate(length);
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use serde_json::json;

    use super::*;

    #[test]
    fn each_value_that_differs_is_named_once() {
        let quantity =
            |text: &str, value: &str| json!({ "as_read": [{ "text": text }], "value": value });
        let before = json!({
            "blade": { "id": "reed", "title": "Long" },
            "dimensions": { "mass": quantity("748 g", "748.0") },
            "passes": [{ "id": "p1" }],
            "plan": { "basis": "agreed" }
        });
        let after = json!({
            "blade": { "id": "reed", "title": "Longer" },
            "dimensions": { "mass": quantity("747 g", "747.0") },
            "passes": [{ "id": "p1" }, { "id": "p2" }]
        });
        let mut found = Vec::new();
        differ(&mut String::new(), Some(&before), Some(&after), &mut found);
        let told: Vec<(&str, bool, bool)> = found
            .iter()
            .map(|value| {
                (
                    value.place.as_str(),
                    value.before.is_some(),
                    value.after.is_some(),
                )
            })
            .collect();
        assert_eq!(
            told,
            [
                ("blade.title", true, true),
                ("dimensions.mass", true, true),
                ("passes[1]", false, true),
                ("plan", true, false),
            ]
        );
        assert_eq!(found[1].after, Some(quantity("747 g", "747.0")));
        let mut none = Vec::new();
        differ(&mut String::new(), Some(&after), Some(&after), &mut none);
        assert!(none.is_empty());
    }
}
