//! The workshop in the chain of custody: what it holds, and what left it.

use serde_json::{Value, json};
use tangmark_core::record::{CustodyEvent, CustodyKind, Person, Role, Term as _};
use tangmark_store::RecordRow;

/// Kinds of events after which somebody else holds the blade.
const PASSED_ON: [CustodyKind; 7] = [
    CustodyKind::Bought,
    CustodyKind::Given,
    CustodyKind::Inherited,
    CustodyKind::LeftForWork,
    CustodyKind::Lent,
    CustodyKind::Returned,
    CustodyKind::Sold,
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
        PASSED_ON.iter().any(|one| one.key() == kind)
    });
    let to = passed.and_then(|event| event.get("to"));
    let own = to.filter(|to| {
        let text = |name: &str| to.get(name).and_then(Value::as_str);
        text("role") == Some(Role::Polisher.key()) || text("name") == Some(workshop)
    });
    own.cloned()
        .unwrap_or_else(|| json!({ "role": Role::Polisher.key(), "name": workshop }))
}

/// Whether somebody else holds the blade after an event of this kind.
pub(crate) fn passes_on(kind: CustodyKind) -> bool {
    PASSED_ON.contains(&kind)
}

/// Whether a person of the chain is this workshop: by its part, or by its name whatever the part.
pub(crate) fn is_own(person: &Person, workshop: &str) -> bool {
    person.role == Role::Polisher || person.name.as_deref() == Some(workshop)
}

/// Who has the blade, as far as the chain says.
enum Holder<'a> {
    Unsaid,
    Workshop,
    Other(&'a CustodyEvent),
}

/// The event by which the blade left the workshop, where it is not here.
///
/// Whoever bought or inherited it before the workshop is named for the first time is taken for somebody who brought it: such
/// a sheet lacks its arrival, and does not say that the blade is elsewhere. Of a blade that was `received` with its records
/// names are withheld: an unnamed receiver may be this workshop.
pub(crate) fn gone<'a>(
    events: &'a [CustodyEvent],
    workshop: &str,
    received: bool,
) -> Option<&'a CustodyEvent> {
    let passed = events.iter().filter(|one| passes_on(one.kind));
    let holder = passed.fold(Holder::Unsaid, |holder, event| {
        let own = event.to.as_ref().map(|to| is_own(to, workshop));
        let unnamed = event.to.as_ref().is_some_and(|to| to.name.is_none());
        match (event.kind, own, &holder) {
            (_, Some(false), _) if unnamed && received => Holder::Unsaid,
            (_, Some(true), _)
            // Without a receiver it came to the one who wrote it down.
            | (CustodyKind::Bought | CustodyKind::LeftForWork, None, _)
            | (CustodyKind::Returned, None, Holder::Other(_)) => Holder::Workshop,
            (
                CustodyKind::Bought | CustodyKind::Given | CustodyKind::Inherited,
                _,
                Holder::Unsaid,
            ) => Holder::Unsaid,
            _ => Holder::Other(event),
        }
    });
    match holder {
        Holder::Other(event) => Some(event),
        Holder::Unsaid | Holder::Workshop => None,
    }
}

/// An event in words: `sold` to whom, on which day.
pub(crate) fn words(event: &CustodyEvent) -> String {
    let to = event.to.as_ref().and_then(|to| to.name.as_deref());
    let to = to.map_or_else(String::new, |to| format!(" to `{to}`"));
    format!("`{}`{to} on {}", event.kind.key(), event.when.latest)
}

/// Whether records of another workshop are among those of a blade.
pub(crate) fn received(records: &[RecordRow]) -> bool {
    records.iter().any(|row| row.draft_revision.is_none())
}

/// The command that says that a blade is here again.
pub(crate) fn came_back(blade: &str, workshop: &str) -> String {
    format!("tangmark custody add {blade} returned --to \"{workshop}\"")
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
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

    /// Events as `kind`, or `kind>name` and `kind>` for the workshop by its part.
    fn chain(events: &[&str]) -> Vec<CustodyEvent> {
        let event = |text: &&str| {
            let (kind, to) = text.split_once('>').unwrap_or((text, "-"));
            let mut event = json!({
                "kind": kind,
                "maps_to": [],
                "when": { "earliest": "2026-03-01", "latest": "2026-03-01" },
            });
            match to {
                "-" => {}
                "" => event["to"] = json!({ "role": "polisher" }),
                name => event["to"] = json!({ "role": "owner", "name": name }),
            }
            serde_json::from_value(event).unwrap()
        };
        events.iter().map(event).collect()
    }

    #[test]
    fn the_last_event_that_says_who_holds_it_says_whether_it_is_here() {
        let left =
            |events: &[&str]| gone(&chain(events), "Reedbank", false).map(|event| event.kind);
        for here in [
            &[][..],
            &["inherited>A"],
            &["bought>A", "left_for_work>"],
            &["bought"],
            &["bought>Reedbank", "measured"],
            &["bought>", "lent>A", "returned>Reedbank"],
            &["sold>A", "returned"],
        ] {
            assert_eq!(left(here), None, "{here:?}");
        }
        for (away, kind) in [
            (&["bought>", "sold>A"][..], CustodyKind::Sold),
            (&["sold>A", "bought>B"], CustodyKind::Bought),
            (&["inherited>A", "sold>C"], CustodyKind::Sold),
            (&["bought>", "lent", "measured"], CustodyKind::Lent),
            (&["left_for_work>", "returned"], CustodyKind::Returned),
            (
                &["left_for_work>", "left_for_work>S"],
                CustodyKind::LeftForWork,
            ),
            (&["bought>", "inherited>A"], CustodyKind::Inherited),
        ] {
            assert_eq!(left(away), Some(kind), "{away:?}");
        }
    }

    #[test]
    fn of_a_received_blade_a_withheld_receiver_may_be_this_workshop() {
        let mut events = chain(&["bought>", "sold>B"]);
        assert!(gone(&events, "Reedbank", true).is_some());
        if let Some(to) = &mut events[1].to {
            to.name = None;
        }
        assert!(gone(&events, "Reedbank", true).is_none());
        assert!(gone(&events, "Reedbank", false).is_some());
    }
}
