//! Whatever the chain, the plugin answers; and what it is sure of does not hang on the order of the list.
#![allow(clippy::unwrap_used)]

use proptest::prelude::*;
use serde_json::{Value, json};
use tangmark_author::trial;
use tangmark_core::record::{CustodyKind, Role, Term as _};
use tangmark_custody::{check, describe};
use tangmark_plugin::{CheckReply, Level};

fn sheet() -> Value {
    static GORGE: std::sync::OnceLock<Value> = std::sync::OnceLock::new();
    GORGE.get_or_init(|| trial::demo("gorge")).clone()
}

fn person() -> impl Strategy<Value = Option<Value>> {
    let name = prop::sample::select(vec!["", "Anna Berg", "Carl Dunn", "Berg family"]);
    prop::option::of((0..Role::ALL.len(), name)).prop_map(|drawn| {
        drawn.map(|(role, name)| {
            let mut person = json!({"role": Role::ALL[role].key()});
            if !name.is_empty() {
                person["name"] = json!(name);
            }
            person
        })
    })
}

fn event() -> impl Strategy<Value = Value> {
    (
        0..CustodyKind::ALL.len(),
        1500..2100_u16,
        0..30_u16,
        person(),
        person(),
    )
        .prop_map(|(kind, year, span, from, to)| {
            let kind = CustodyKind::ALL[kind];
            let mut event = json!({"kind": kind.key(), "maps_to": kind.maps_to(),
            "when": {"earliest": year.to_string(), "latest": (year + span).to_string()}});
            for (side, person) in [("from", from), ("to", to)] {
                if let Some(person) = person {
                    event[side] = person;
                }
            }
            event
        })
}

fn answered(events: &[Value]) -> CheckReply {
    let mut sheet = sheet();
    sheet["custody"] = json!(events);
    let request = trial::request(sheet);
    let reply = check(&request).unwrap();
    assert_eq!(reply.audit(&describe(), &request.sheet), Ok(()));
    reply
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(100))]

    #[test]
    fn any_chain_is_answered_without_names_and_stops(events in prop::collection::vec(event(), 0..12)) {
        let reply = answered(&events);
        prop_assert!(reply.findings.iter().all(|one| one.level != Level::Stop));
        let shown = trial::shown(&reply);
        for name in ["Anna", "Berg", "Carl", "Dunn"] {
            prop_assert!(!shown.contains(name), "{shown}");
        }
    }

    /// Events on days of their own: the list may stand in any order.
    #[test]
    fn the_order_of_the_list_decides_nothing(mut events in prop::collection::vec(event(), 2..8)) {
        for (index, event) in events.iter_mut().enumerate() {
            let year = 1900 + 10 * index;
            event["when"] = json!({"earliest": year.to_string(), "latest": year.to_string()});
        }
        let said = |events: &[Value]| {
            let mut found: Vec<String> = answered(events)
                .findings
                .into_iter()
                .filter(|one| one.rule != "custody.listed-out-of-order" && one.rule != "custody.no-paper")
                .map(|one| one.message)
                .collect();
            found.sort();
            found
        };
        let forward = said(&events);
        events.reverse();
        prop_assert_eq!(forward, said(&events));
    }
}
