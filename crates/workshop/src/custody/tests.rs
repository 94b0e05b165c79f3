#![allow(clippy::unwrap_used)]
use serde_json::{Value, json};

use super::*;

fn event(kind: &str, [earliest, latest]: [&str; 2]) -> CustodyEvent {
    let when = json!({ "earliest": earliest, "latest": latest });
    serde_json::from_value(json!({ "kind": kind, "maps_to": ["crm:E8_Acquisition"], "when": when }))
        .unwrap()
}

fn record(sequence: u32, custody: &[Value]) -> Record {
    serde_json::from_value(json!({
        "schema": { "id": "tangmark-record", "version": 1, "digest": tangmark_core::Digest::of(b"schema").to_string() },
        "record_id": "00112233445566778899aabbccddeeff",
        "sequence": sequence,
        "previous": null,
        "issuer": { "id": "did:key:zDnaerx9CtbPJ1q36T5Ln5wYt3MQYeGRG5ehnPAmxcf5mDZpv", "name": "Workshop at the Weir" },
        "purpose": "intake",
        "issued_at": "2026-03-04T05:06:07Z",
        "blade": { "id": "b-1", "title": "Blade from a parcel", "object_type": "sword blade", "kind_by_make": "other", "construction": "other" },
        "custody": custody,
    }))
    .unwrap()
}

#[test]
fn events_stand_in_the_order_of_time_and_equals_behind_each_other() {
    let mut events = Vec::new();
    for (kind, when) in [
        ("sold", ["1999", "1999"]),
        ("made", ["1590", "1660"]),
        ("examined", ["1999-01-01", "1999-01-01"]),
        ("bought", ["1958", "1961"]),
        ("measured", ["1999", "2001"]),
    ] {
        insert(&mut events, event(kind, when));
    }
    let kinds: Vec<&str> = events.iter().map(|event| event.kind.key()).collect();
    // 1999 and the first of January 1999 begin on one day: as they were entered.
    assert_eq!(kinds, ["made", "bought", "sold", "examined", "measured"]);
}

#[test]
fn an_event_is_held_whatever_the_record_withholds_of_it() {
    let salted = |letter: &str| letter.repeat(43);
    let sealed = json!({
        "kind": "left_for_work", "maps_to": ["crm:E10_Transfer_of_Custody"],
        "when": { "earliest": "2026-03-01", "latest": "2026-03-01" },
        "from": { "role": "customer", "_sd": [salted("A"), salted("B"), salted("C")] },
        "documents": [{ "kind": "receipt", "issuer": "W", "_sd": [salted("D")] }],
        "_sd": [salted("E")]
    });
    let mut open = sealed.clone();
    open["from"] = json!({ "role": "customer", "name": "L. Marrow" });
    open["documents"] = json!([{ "kind": "receipt", "issuer": "W", "number": "26-031" }]);
    open["price"] = json!({ "amount": "5", "currency": "EUR" });
    open.as_object_mut().unwrap().remove("_sd");
    let open: CustodyEvent = serde_json::from_value(open).unwrap();
    let other = event("sold", ["2026-04-01", "2026-04-01"]);

    let records = vec![
        record(1, &[]),
        record(2, std::slice::from_ref(&sealed)),
        record(3, std::slice::from_ref(&sealed)),
    ];
    let events = [open.clone(), other, open.clone()];
    assert_eq!(held(&events, &records), [Some(2), None, None]);
    // Another part played is another event.
    let mut owner = open;
    owner.from.as_mut().unwrap().role = tangmark_core::record::Role::Owner;
    assert_eq!(held(&[owner], &records), [None]);
}
