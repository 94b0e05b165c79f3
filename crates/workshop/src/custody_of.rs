//! The workshop as the chain of custody has it.

use serde_json::{Value, json};

/// Kinds of events after which somebody else holds the blade.
const PASSED_ON: [&str; 7] = [
    "bought",
    "given",
    "inherited",
    "left_for_work",
    "lent",
    "returned",
    "sold",
];

/// The workshop as the one who gives the blade on: by the last event that says who holds it, in the same words, so that
/// the chain goes on from the same hand. Where that is somebody else an event is missing, and the chain shows it.
pub(crate) fn own_hand(body: &Value, workshop: &str) -> Value {
    let events = body.get("custody").and_then(Value::as_array);
    let passed = events.into_iter().flatten().rev().find(|event| {
        let kind = event
            .get("kind")
            .and_then(Value::as_str)
            .unwrap_or_default();
        PASSED_ON.contains(&kind)
    });
    let to = passed.and_then(|event| event.get("to"));
    let own = to.filter(|to| {
        let text = |name: &str| to.get(name).and_then(Value::as_str);
        text("role") == Some("polisher") || text("name") == Some(workshop)
    });
    own.cloned()
        .unwrap_or_else(|| json!({ "role": "polisher", "name": workshop }))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_chain_goes_on_from_the_own_hand() {
        let body = json!({ "custody": [
            { "kind": "bought", "to": { "role": "owner", "name": "A" } },
            { "kind": "left_for_work", "to": { "role": "polisher" } },
            { "kind": "measured" },
        ] });
        assert_eq!(own_hand(&body, "Reedbank"), json!({ "role": "polisher" }));
        let own = json!({ "role": "polisher", "name": "Reedbank" });
        assert_eq!(own_hand(&json!({}), "Reedbank"), own);
        let unsaid = json!({ "custody": [{ "kind": "bought" }] });
        assert_eq!(own_hand(&unsaid, "Reedbank"), own);
        let elsewhere =
            json!({ "custody": [{ "kind": "sold", "to": { "role": "buyer", "name": "B" } }] });
        assert_eq!(own_hand(&elsewhere, "Reedbank"), own);
    }
}
