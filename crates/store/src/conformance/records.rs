//! Sealed records and what goes with them.

use std::thread;

use serde_json::{Value, json};
use tangmark_core::{
    Digest,
    json::{Limits, canonical_bytes, read_value},
};

use super::{
    TIME, add_blade, append, append_with, record_bytes, record_value, refused, save, unexpected,
};
use crate::{Attachment, NewRecord, ObjectKind, Role, Store, StoreError, read_record, sealed};

pub(super) fn chain(store: &dyn Store) {
    let first = record_bytes("b", 1, None, "");
    refused(append(store, &first), "blade `b` is not in this workshop");
    add_blade(store, "b");
    assert_eq!(store.tip("b").unwrap(), None);
    save(store, "b", None, &json!({ "n": 1 })).unwrap();
    let one = store
        .append_record(&NewRecord {
            bytes: &first,
            sealed_at: "2026-11-25T10:00:00Z",
            draft_revision: Some(1),
            disclosures: None,
        })
        .unwrap();
    let facts = read_record(&first).unwrap();
    assert_eq!(
        (one.name, one.object, one.sequence, one.previous),
        (facts.name, Digest::of(&first), 1, None)
    );
    assert_ne!(one.name, one.object);
    assert_eq!(
        (one.sealed_at.as_str(), one.draft_revision),
        ("2026-11-25T10:00:00Z", Some(1))
    );
    assert_eq!(
        (one.purpose.as_str(), one.issuer.as_str()),
        ("intake", "did:key:zInvented")
    );
    assert_eq!(store.object(&one.object).unwrap(), first);
    assert_eq!(
        store.object_row(&one.object).unwrap().unwrap().kind,
        ObjectKind::Record
    );
    // The very same again is what is there, and stays as it was.
    assert_eq!(append(store, &first).unwrap(), one);

    let wrong = Digest::of(b"wrong");
    for (sequence, previous) in [(2, wrong), (3, one.name), (2, one.object)] {
        refused(
            append(store, &record_bytes("b", sequence, Some(previous), "")),
            &format!(
                "the record of blade `b` has sequence {sequence} after {previous}, but the newest here is {} and sequence 2 comes next",
                one.name
            ),
        );
    }
    refused(
        append(store, &record_bytes("b", 1, None, "another first")),
        &format!(
            "the record of blade `b` has sequence 1 after no record, but the newest here is {} and sequence 2 comes next",
            one.name
        ),
    );
    add_blade(store, "c");
    refused(
        append(store, &record_bytes("c", 2, Some(one.name), "")),
        &format!(
            "the record of blade `c` has sequence 2 after {}, but the newest here is no record and sequence 1 comes next",
            one.name
        ),
    );
    let second = record_bytes("b", 2, Some(one.name), "");
    refused(
        store.append_record(&NewRecord {
            bytes: &second,
            sealed_at: TIME,
            draft_revision: Some(2),
            disclosures: None,
        }),
        "blade `b` has no draft revision 2: the newest is revision 1",
    );
    assert_eq!(store.object_row(&Digest::of(&second)).unwrap(), None);
    refused(
        store.object(&Digest::of(&second)),
        &format!("object {} is not kept here", Digest::of(&second)),
    );
    let two = append(store, &second).unwrap();
    assert_eq!(store.records("b").unwrap(), [one.clone(), two.clone()]);
    assert_eq!(store.tip("b").unwrap(), Some(two));
    assert_eq!(store.record(&one.name).unwrap(), one);
    refused(
        store.record(&wrong),
        &format!("sealed record {wrong} is not kept here"),
    );
    let mut other_proof = record_value("b", 1, None, "");
    other_proof["proof"]["proofValue"] = json!("z2");
    refused(
        append(store, &canonical_bytes(&other_proof).unwrap()),
        &format!(
            "sealed record {} is already kept with another proof, as object {}",
            one.name, one.object
        ),
    );
    assert_eq!(store.records("b").unwrap().len(), 2);
}

pub(super) fn records_at_once(store: &dyn Store) {
    add_blade(store, "b");
    thread::scope(|scope| {
        for worker in 0..4 {
            scope.spawn(move || {
                let mut done = 0;
                while done < 3 {
                    let tip = store.tip("b").unwrap();
                    let sequence = tip.as_ref().map_or(0, |tip| tip.sequence) + 1;
                    let bytes = record_bytes(
                        "b",
                        sequence,
                        tip.map(|tip| tip.name),
                        &format!("{worker}-{done}"),
                    );
                    match append(store, &bytes) {
                        Ok(_) => done += 1,
                        Err(StoreError::NotNext { .. }) => {}
                        Err(other) => unexpected(&other),
                    }
                }
            });
        }
    });
    let records = store.records("b").unwrap();
    assert_eq!(records.len(), 12);
    for (index, pair) in records.windows(2).enumerate() {
        assert_eq!(pair[1].previous, Some(pair[0].name), "after {index}");
    }
    let report = store.check(&mut |_| {}).unwrap();
    assert!(report.is_sound() && report.notices.is_empty(), "{report:?}");
    assert_eq!(report.objects, 12);
}

pub(super) fn odd_records(store: &dyn Store) {
    add_blade(store, "b");
    let good = String::from_utf8(record_bytes("b", 1, None, "")).unwrap();
    let with = |field: &str, value: Value| {
        let mut record = record_value("b", 1, None, "");
        record[field] = value;
        canonical_bytes(&record).unwrap()
    };
    let without = |field: &str| {
        let mut record = record_value("b", 1, None, "");
        record.as_object_mut().unwrap().remove(field);
        canonical_bytes(&record).unwrap()
    };
    let not_canonical = "the bytes are not their own canonical form (RFC 8785)";
    let deep = format!("{}{}", "[".repeat(5000), "]".repeat(5000));
    let cases: Vec<(Vec<u8>, &str)> = vec![
        (b"{".to_vec(), ""),
        (b"".to_vec(), ""),
        (deep.into_bytes(), ""),
        (b"[]".to_vec(), "not a JSON object"),
        (format!("{good}\n").into_bytes(), not_canonical),
        (
            good.replacen("\"sequence\":1", "\"sequence\":1.0", 1)
                .into_bytes(),
            "",
        ),
        (
            good.replacen("\"sequence\":1", "\"sequence\":1,\"sequence\":1", 1)
                .into_bytes(),
            "",
        ),
        (without("schema"), "`schema` is missing"),
        (without("proof"), "`proof` is missing"),
        (without("blade"), "`/blade/id` is not a text"),
        (without("issuer"), "`/issuer/id` is not a text"),
        (without("record_id"), "`/record_id` is not a text"),
        (without("purpose"), "`/purpose` is not a text"),
        (
            without("previous"),
            "`/previous` is neither null nor a digest",
        ),
        (
            with("previous", json!("abc")),
            "`/previous` is neither null nor a digest",
        ),
        (
            with("previous", json!("0".repeat(64))),
            "`/previous` is null exactly in the first record of a blade",
        ),
        (
            with("sequence", json!(2)),
            "`/previous` is null exactly in the first record of a blade",
        ),
        (
            with("sequence", json!(0)),
            "`/sequence` is not a whole number from 1",
        ),
        (
            with("sequence", json!(-1)),
            "`/sequence` is not a whole number from 1",
        ),
        (
            with("sequence", json!("1")),
            "`/sequence` is not a whole number from 1",
        ),
        (
            with("issued_at", json!("now")),
            "`/issued_at` is `now`: a UTC time like 2026-11-25T09:30:00Z is allowed",
        ),
        (
            with("blade", json!({ "id": "../b" })),
            "`/blade/id`: `../b` is not a blade id: 1 to 40 lower-case letters, digits and hyphens are allowed, a letter or digit first",
        ),
    ];
    for (bytes, reason) in cases {
        // What the strict reader says is its own to word.
        let reader = || {
            read_value(&bytes, &Limits::default())
                .unwrap_err()
                .to_string()
        };
        let reason = if reason.is_empty() {
            reader()
        } else {
            reason.to_owned()
        };
        refused(
            append(store, &bytes),
            &format!("not a sealed record: {reason}"),
        );
    }
    assert!(store.records("b").unwrap().is_empty());
}

pub(super) fn attachments(store: &dyn Store) {
    add_blade(store, "b");
    let record = append(store, &record_bytes("b", 1, None, "")).unwrap().name;
    let report = store
        .put_object(b"%PDF-1.7 invented", ObjectKind::Report)
        .unwrap();
    let second = store
        .put_object(b"%PDF-1.7 second", ObjectKind::Report)
        .unwrap();
    let disclosures = store.put_object(b"[]", ObjectKind::Disclosures).unwrap();
    let timestamp = store
        .put_object(b"0 an answer", ObjectKind::Timestamp)
        .unwrap();
    let tie = |object, role| {
        store.attach(&Attachment {
            record,
            object,
            role,
        })
    };
    tie(report, Role::Report).unwrap();
    tie(report, Role::Report).unwrap();
    tie(second, Role::Report).unwrap();
    tie(disclosures, Role::Disclosures).unwrap();
    tie(disclosures, Role::Disclosures).unwrap();
    tie(timestamp, Role::Timestamp).unwrap();
    refused(
        tie(report, Role::Disclosures),
        &format!(
            "sealed record {record} already has the disclosures {disclosures}; {report} was offered"
        ),
    );
    let none = Digest::of(b"none");
    refused(
        tie(none, Role::Report),
        &format!("object {none} is not kept here"),
    );
    refused(
        store.attach(&Attachment {
            record: none,
            object: report,
            role: Role::Report,
        }),
        &format!("sealed record {none} is not kept here"),
    );
    let mut reports = [report, second];
    reports.sort();
    let kept: Vec<(Role, Digest)> = store
        .attachments(&record)
        .unwrap()
        .iter()
        .map(|tie| (tie.role, tie.object))
        .collect();
    assert_eq!(
        kept,
        [
            (Role::Disclosures, disclosures),
            (Role::Report, reports[0]),
            (Role::Report, reports[1]),
            (Role::Timestamp, timestamp)
        ]
    );
    refused(
        store.attachments(&none),
        &format!("sealed record {none} is not kept here"),
    );
    let note = sealed::write_link(&Attachment {
        record,
        object: report,
        role: Role::Report,
    });
    refused(
        store.put_object(&note, ObjectKind::Document),
        "an object of kind `link` cannot be put in by itself: these bytes are one",
    );
}

pub(super) fn disclosures(store: &dyn Store) {
    add_blade(store, "b");
    let bytes = record_bytes("b", 1, None, "");
    let (file, other) = (&b"[\"salt\"]"[..], &b"[\"other\"]"[..]);
    let row = append_with(store, &bytes, Some(file)).unwrap();
    let kept = |name| store.attachments(name).unwrap();
    let tie = |record| Attachment {
        record,
        object: Digest::of(file),
        role: Role::Disclosures,
    };
    assert_eq!(kept(&row.name), [tie(row.name)]);
    assert_eq!(store.object(&Digest::of(file)).unwrap(), file);
    assert_eq!(
        store.object_row(&Digest::of(file)).unwrap().unwrap().kind,
        ObjectKind::Disclosures
    );
    // The same again, with and without them, is what is there.
    assert_eq!(append_with(store, &bytes, Some(file)).unwrap(), row);
    assert_eq!(append(store, &bytes).unwrap(), row);
    refused(
        append_with(store, &bytes, Some(other)),
        &format!(
            "sealed record {} already has the disclosures {}; {} was offered",
            row.name,
            Digest::of(file),
            Digest::of(other)
        ),
    );
    // A record that came without them is given them later.
    let second = record_bytes("b", 2, Some(row.name), "");
    let second_row = append(store, &second).unwrap();
    assert_eq!(append_with(store, &second, Some(file)).unwrap(), second_row);
    assert_eq!(kept(&second_row.name), [tie(second_row.name)]);
    // What is refused leaves nothing of either.
    let stray = record_bytes("b", 4, Some(row.name), "");
    append_with(store, &stray, Some(other)).unwrap_err();
    refused(
        append_with(
            store,
            &record_bytes("b", 3, Some(second_row.name), ""),
            Some(&bytes),
        ),
        "an object of kind `record` cannot be put in by itself: these bytes are one",
    );
    assert_eq!(store.object_row(&Digest::of(other)).unwrap(), None);
    assert_eq!(store.records("b").unwrap().len(), 2);
    let report = store.check(&mut |_| {}).unwrap();
    assert!(report.is_sound() && report.notices.is_empty(), "{report:?}");
}
