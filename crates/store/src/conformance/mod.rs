//! The behaviour every backend has to show. For test code: a deviation panics with what was seen.
#![allow(clippy::unwrap_used, clippy::missing_panics_doc)]

mod drafts;
mod journal;
mod objects;
mod records;
mod registry;

use serde_json::{Value, json};
use tangmark_core::{Digest, json::canonical_bytes};

use crate::{
    Attachment, BladeRow, DraftSource, KeyRow, NewDraft, NewRecord, ObjectKind, PhotoRow,
    PluginApproval, RecordRow, Role, Store, StoreError,
};

/// A time for rows whose time does not matter.
pub const TIME: &str = "2026-11-25T09:30:00Z";

/// Runs every case, each on a store of its own; `make` gives an empty one. Returns the number of cases.
pub fn run(make: impl Fn() -> Box<dyn Store>) -> usize {
    for (name, case) in CASES {
        // The name tells which case it was when one panics.
        let store = make();
        assert!(
            store.blades().unwrap().is_empty(),
            "{name}: the store is not empty"
        );
        case(&*store);
    }
    CASES.len()
}

type Case = fn(&dyn Store);

const CASES: &[(&str, Case)] = &[
    ("blades", registry::blades),
    ("draft_history", drafts::draft_history),
    ("draft_conflict", drafts::draft_conflict),
    ("draft_bodies", drafts::draft_bodies),
    ("undo", drafts::undo),
    ("drafts_at_once", drafts::drafts_at_once),
    ("objects", objects::objects),
    ("object_reader_fails", objects::object_reader_fails),
    (
        "records_enter_by_one_door",
        objects::records_enter_by_one_door,
    ),
    ("chain", records::chain),
    ("records_at_once", records::records_at_once),
    ("odd_records", records::odd_records),
    ("attachments", records::attachments),
    ("disclosures", records::disclosures),
    ("photos", registry::photos),
    ("approvals_and_settings", registry::approvals_and_settings),
    ("keys", registry::keys),
    ("journal", journal::journal),
    ("change", journal::change),
    ("standings", journal::standings),
    ("sealed_passes", journal::sealed_passes),
    ("derived", journal::derived),
    ("search", journal::search),
    ("check_is_sound", check_is_sound),
];

/// Canonical bytes of an invented record with just the fields a store reads.
pub fn record_value(blade: &str, sequence: u64, previous: Option<Digest>, mark: &str) -> Value {
    json!({
        "schema": "invented",
        "record_id": format!("{:0>32}", sequence),
        "sequence": sequence,
        "previous": previous,
        "purpose": "intake",
        "issuer": { "id": "did:key:zInvented", "name": "Invented workshop" },
        "issued_at": TIME,
        "blade": { "id": blade, "note": mark },
        "proof": { "type": "DataIntegrityProof", "proofValue": "z1" }
    })
}

/// Canonical bytes of an invented sealed record.
pub fn record_bytes(blade: &str, sequence: u64, previous: Option<Digest>, mark: &str) -> Vec<u8> {
    canonical_bytes(&record_value(blade, sequence, previous, mark)).unwrap()
}

/// Enters a blade.
pub fn add_blade(store: &dyn Store, id: &str) {
    store
        .add_blade(&BladeRow {
            id: id.to_owned(),
            title: format!("Blade {id}"),
            created_at: TIME.to_owned(),
        })
        .unwrap();
}

/// Saves a draft.
pub fn save(
    store: &dyn Store,
    blade: &str,
    expected: Option<u64>,
    body: &Value,
) -> Result<u64, StoreError> {
    store.save_draft(&NewDraft {
        blade,
        expected_revision: expected,
        body,
        saved_at: TIME,
        source: DraftSource::Page,
        note: "",
        by: "A. Polisher",
    })
}

/// Appends a sealed record.
pub fn append(store: &dyn Store, bytes: &[u8]) -> Result<RecordRow, StoreError> {
    append_with(store, bytes, None)
}

/// Appends a sealed record with the file of its withheld values.
pub fn append_with(
    store: &dyn Store,
    bytes: &[u8],
    disclosures: Option<&[u8]>,
) -> Result<RecordRow, StoreError> {
    store.append_record(&NewRecord {
        bytes,
        sealed_at: TIME,
        draft_revision: None,
        disclosures,
    })
}

#[track_caller]
fn refused<T: std::fmt::Debug>(result: Result<T, StoreError>, text: &str) {
    let error = result.unwrap_err();
    assert_eq!(error.to_string(), text);
    assert!(
        error.hint().is_some_and(|hint| !hint.is_empty()),
        "no hint: {error}"
    );
}

fn unexpected(error: &StoreError) -> ! {
    panic!("unexpected: {error}")
}

/// A note on a photo of seven bytes.
pub fn photo(blade: &str, digest: Digest) -> PhotoRow {
    PhotoRow {
        digest,
        blade: blade.to_owned(),
        media_type: "image/jpeg".to_owned(),
        length: 7,
        width: 4000,
        height: 3000,
        shows: "whole blade, omote".to_owned(),
        taken_at: Some(TIME.to_owned()),
        file_name: "刀 1.jpg".to_owned(),
    }
}

/// A key row for a file.
pub fn key(did: &str, file_name: &str) -> KeyRow {
    KeyRow {
        did: did.to_owned(),
        file_name: file_name.to_owned(),
        created_at: TIME.to_owned(),
        recovery_digest: Some(Digest::of(did.as_bytes())),
    }
}

fn check_is_sound(store: &dyn Store) {
    fill(store);
    let mut steps = Vec::new();
    let report = store
        .check(&mut |progress| steps.push((progress.done, progress.total)))
        .unwrap();
    assert!(report.is_sound() && report.notices.is_empty(), "{report:?}");
    assert_eq!((report.objects, report.records), (9, 3));
    assert_eq!(steps, (1..=9).map(|done| (done, 9)).collect::<Vec<_>>());
}

/// Fills a store with something in every table: 2 blades, 3 records, 9 objects.
pub fn fill(store: &dyn Store) {
    add_blade(store, "katana-1");
    add_blade(store, "yari-2");
    save(store, "katana-1", None, &json!({ "n": 1 })).unwrap();
    save(store, "katana-1", Some(1), &json!({ "n": 2 })).unwrap();
    store.undo("katana-1", 2, TIME, "A. Polisher", &[]).unwrap();
    let photo_digest = store
        .put_object(b"\xff\xd8\xff jpg", ObjectKind::Photo)
        .unwrap();
    store.add_photo(&photo("katana-1", photo_digest)).unwrap();
    let first = record_bytes("katana-1", 1, None, "");
    let first = store
        .append_record(&NewRecord {
            bytes: &first,
            sealed_at: TIME,
            draft_revision: Some(2),
            disclosures: None,
        })
        .unwrap();
    append(store, &record_bytes("katana-1", 2, Some(first.name), "")).unwrap();
    append(store, &record_bytes("yari-2", 1, None, "")).unwrap();
    let report = store
        .put_object(b"%PDF-1.7 invented", ObjectKind::Report)
        .unwrap();
    let disclosures = store
        .put_object(b"[\"invented\"]", ObjectKind::Disclosures)
        .unwrap();
    store
        .attach(&Attachment {
            record: first.name,
            object: report,
            role: Role::Report,
        })
        .unwrap();
    store
        .attach(&Attachment {
            record: first.name,
            object: disclosures,
            role: Role::Disclosures,
        })
        .unwrap();
    store.put_object(b"a paper", ObjectKind::Document).unwrap();
    let approval = PluginApproval {
        name: "triage".to_owned(),
        digest: Digest::of(b"lib"),
        approved_at: TIME.to_owned(),
    };
    store.approve_plugin(&approval).unwrap();
    store
        .set_setting("name", Some("Invented workshop"))
        .unwrap();
    store
        .add_key(&key("did:key:zFirst", "workshop.pem"), b"encrypted")
        .unwrap();
}
