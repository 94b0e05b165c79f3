//! The behaviour every backend has to show. For test code: a deviation panics with what was seen.
#![allow(clippy::unwrap_used, clippy::missing_panics_doc)]

use std::{io, sync::Arc, thread};

use serde_json::{Value, json};
use tangmark_core::Digest;

use crate::{
    Attachment, BladeRow, DraftSource, KeyRow, NewDraft, NewRecord, ObjectKind, PhotoRow, PluginApproval, RecordRow,
    Role, Store, StoreError, read_record, sealed,
};

/// A time for rows whose time does not matter.
pub const TIME: &str = "2026-11-25T09:30:00Z";

/// Runs every case, each on a store of its own; `make` gives an empty one. Returns the number of cases.
pub fn run(make: impl Fn() -> Box<dyn Store>) -> usize {
    for (name, case) in CASES {
        // The name tells which case it was when one panics.
        let store = make();
        assert!(store.blades().unwrap().is_empty(), "{name}: the store is not empty");
        case(store.into());
    }
    CASES.len()
}

type Case = fn(Arc<dyn Store>);

const CASES: &[(&str, Case)] = &[
    ("blades", blades),
    ("draft_history", draft_history),
    ("draft_conflict", draft_conflict),
    ("draft_bodies", draft_bodies),
    ("undo", undo),
    ("drafts_at_once", drafts_at_once),
    ("objects", objects),
    ("object_reader_fails", object_reader_fails),
    ("records_enter_by_one_door", records_enter_by_one_door),
    ("chain", chain),
    ("records_at_once", records_at_once),
    ("odd_records", odd_records),
    ("attachments", attachments),
    ("photos", photos),
    ("approvals_and_settings", approvals_and_settings),
    ("keys", keys),
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
        "issuer": { "did": "did:key:zInvented", "name": "Invented workshop" },
        "issued_at": TIME,
        "blade": { "id": blade, "note": mark },
        "proof": { "type": "DataIntegrityProof", "proofValue": "z1" }
    })
}

/// Canonical bytes of an invented sealed record.
pub fn record_bytes(blade: &str, sequence: u64, previous: Option<Digest>, mark: &str) -> Vec<u8> {
    sealed::canonical(&record_value(blade, sequence, previous, mark)).unwrap()
}

/// Enters a blade.
pub fn add_blade(store: &dyn Store, id: &str) {
    store.add_blade(&BladeRow { id: id.to_owned(), title: format!("Blade {id}"), created_at: TIME.to_owned() }).unwrap();
}

/// Saves a draft.
pub fn save(store: &dyn Store, blade: &str, expected: Option<u64>, body: &Value) -> Result<u64, StoreError> {
    store.save_draft(&NewDraft {
        blade,
        expected_revision: expected,
        body,
        saved_at: TIME,
        source: DraftSource::Page,
        note: "",
    })
}

/// Appends a sealed record.
pub fn append(store: &dyn Store, bytes: &[u8]) -> Result<RecordRow, StoreError> {
    store.append_record(&NewRecord { bytes, sealed_at: TIME, draft_revision: None })
}

#[track_caller]
fn refused<T: std::fmt::Debug>(result: Result<T, StoreError>, text: &str) {
    let error = result.unwrap_err();
    assert_eq!(error.to_string(), text);
    assert!(error.hint().is_some_and(|hint| !hint.is_empty()), "no hint: {error}");
}

fn blades(store: Arc<dyn Store>) {
    add_blade(&*store, "yari-2");
    add_blade(&*store, "katana-1");
    let ids: Vec<String> = store.blades().unwrap().into_iter().map(|blade| blade.id).collect();
    assert_eq!(ids, ["katana-1", "yari-2"]);
    assert_eq!(store.blade("yari-2").unwrap().title, "Blade yari-2");
    let again = BladeRow { id: "yari-2".to_owned(), title: "Other".to_owned(), created_at: TIME.to_owned() };
    refused(store.add_blade(&again), "blade `yari-2` is already in this workshop");
    assert_eq!(store.blade("yari-2").unwrap().title, "Blade yari-2");
    refused(store.blade("tanto"), "blade `tanto` is not in this workshop");
    refused(
        store.add_blade(&BladeRow { id: "A b".to_owned(), ..again.clone() }),
        "`A b` is not a blade id: 1 to 40 lower-case letters, digits and hyphens are allowed, a letter or digit first",
    );
    refused(
        store.add_blade(&BladeRow { id: "c".to_owned(), created_at: "today".to_owned(), ..again.clone() }),
        "created_at is `today`: a UTC time like 2026-11-25T09:30:00Z is allowed",
    );
    refused(
        store.add_blade(&BladeRow { id: "c".to_owned(), title: String::new(), ..again }),
        "title `` is empty",
    );
    assert_eq!(store.blades().unwrap().len(), 2);
}

fn draft_history(store: Arc<dyn Store>) {
    refused(store.draft("b"), "blade `b` is not in this workshop");
    add_blade(&*store, "b");
    assert_eq!(store.draft("b").unwrap(), None);
    let body = json!({ "z": "刃", "a": { "blade_length": "681.0" } });
    let first = NewDraft {
        blade: "b",
        expected_revision: None,
        body: &body,
        saved_at: TIME,
        source: DraftSource::Sheet,
        note: "from the sheet",
    };
    assert_eq!(store.save_draft(&first).unwrap(), 1);
    let kept = store.draft("b").unwrap().unwrap();
    assert_eq!(kept.body, body);
    assert_eq!((kept.entry.revision, kept.entry.source), (1, DraftSource::Sheet));
    assert_eq!((kept.entry.note.as_str(), kept.entry.saved_at.as_str()), ("from the sheet", TIME));
    assert_eq!(kept.entry.length, sealed::canonical(&body).unwrap().len() as u64);

    assert_eq!(save(&*store, "b", Some(1), &json!({ "z": 2 })).unwrap(), 2);
    // The same again is no new revision.
    assert_eq!(save(&*store, "b", Some(2), &json!({ "z": 2 })).unwrap(), 2);
    assert_eq!(store.draft_at("b", 1).unwrap().body, body);
    let revisions: Vec<u64> = store.draft_history("b").unwrap().iter().map(|entry| entry.revision).collect();
    assert_eq!(revisions, [1, 2]);
    refused(store.draft_at("b", 3), "blade `b` has no draft revision 3: the newest is revision 2");
    add_blade(&*store, "c");
    refused(store.draft_at("c", 1), "blade `c` has no draft revision 1: the newest is no draft");
    assert!(store.draft_history("c").unwrap().is_empty());
}

fn draft_conflict(store: Arc<dyn Store>) {
    add_blade(&*store, "b");
    refused(
        save(&*store, "b", Some(4), &json!({})),
        "the draft of blade `b` was changed elsewhere: this change was made on revision 4, the newest is no draft",
    );
    save(&*store, "b", None, &json!({ "n": 1 })).unwrap();
    refused(
        save(&*store, "b", None, &json!({ "n": 2 })),
        "the draft of blade `b` was changed elsewhere: this change was made on no draft, the newest is revision 1",
    );
    save(&*store, "b", Some(1), &json!({ "n": 3 })).unwrap();
    refused(
        save(&*store, "b", Some(1), &json!({ "n": 4 })),
        "the draft of blade `b` was changed elsewhere: this change was made on revision 1, the newest is revision 2",
    );
    refused(
        store.undo("b", 1, TIME),
        "the draft of blade `b` was changed elsewhere: this change was made on revision 1, the newest is revision 2",
    );
    assert_eq!(store.draft("b").unwrap().unwrap().body, json!({ "n": 3 }));
    assert_eq!(store.draft_history("b").unwrap().len(), 2);
}

fn draft_bodies(store: Arc<dyn Store>) {
    add_blade(&*store, "b");
    for (body, kind) in [(json!(null), "null"), (json!([1]), "a list"), (json!("x"), "a text"), (json!(1), "a number")] {
        refused(save(&*store, "b", None, &body), &format!("the draft body is {kind}, a JSON object is allowed"));
    }
    for number in [json!(1.0), json!(9_007_199_254_740_993_u64)] {
        refused(
            save(&*store, "b", None, &json!({ "n": number })),
            "the draft body has a number that canonical JSON does not keep as it is",
        );
    }
    assert_eq!(store.draft("b").unwrap(), None);
}

fn undo(store: Arc<dyn Store>) {
    add_blade(&*store, "b");
    refused(
        store.undo("b", 1, TIME),
        "the draft of blade `b` was changed elsewhere: this change was made on revision 1, the newest is no draft",
    );
    for (expected, letter) in [(None, "A"), (Some(1), "B"), (Some(2), "C")] {
        save(&*store, "b", expected, &json!({ "is": letter })).unwrap();
    }
    let undone = store.undo("b", 3, TIME).unwrap();
    assert_eq!(undone.body, json!({ "is": "B" }));
    assert_eq!((undone.entry.revision, undone.entry.restores), (4, Some(2)));
    assert_eq!(undone.entry.source, DraftSource::Undo);
    assert_eq!(store.draft("b").unwrap().unwrap(), undone);
    assert_eq!(store.undo("b", 4, TIME).unwrap().body, json!({ "is": "A" }));
    refused(store.undo("b", 5, TIME), "nothing to undo on blade `b`: the draft is as it was first saved");
    // A change after an undo is undone to what the undo showed.
    assert_eq!(save(&*store, "b", Some(5), &json!({ "is": "D" })).unwrap(), 6);
    assert_eq!(store.undo("b", 6, TIME).unwrap().body, json!({ "is": "A" }));
    let bodies: Vec<Value> = (1..=7).map(|revision| store.draft_at("b", revision).unwrap().body["is"].clone()).collect();
    assert_eq!(bodies, ["A", "B", "C", "B", "A", "D", "A"]);
}

fn drafts_at_once(store: Arc<dyn Store>) {
    add_blade(&*store, "b");
    save(&*store, "b", None, &json!({ "sum": 0 })).unwrap();
    let workers: Vec<_> = (0..4)
        .map(|_| {
            let store = Arc::clone(&store);
            thread::spawn(move || {
                let mut saved = 0;
                while saved < 10 {
                    let draft = store.draft("b").unwrap().unwrap();
                    let body = json!({ "sum": draft.body["sum"].as_u64().unwrap() + 1 });
                    match save(&*store, "b", Some(draft.entry.revision), &body) {
                        Ok(_) => saved += 1,
                        Err(StoreError::DraftConflict { .. }) => {}
                        Err(other) => unexpected(&other),
                    }
                }
            })
        })
        .collect();
    workers.into_iter().for_each(|worker| worker.join().unwrap());
    assert_eq!(store.draft("b").unwrap().unwrap().body, json!({ "sum": 40 }));
    assert_eq!(store.draft_history("b").unwrap().len(), 41);
}

fn unexpected(error: &StoreError) -> ! {
    panic!("unexpected: {error}")
}

fn objects(store: Arc<dyn Store>) {
    let photo = vec![0xff; 300_000];
    let digest = store.put_object(&photo, ObjectKind::Photo).unwrap();
    assert_eq!(digest, Digest::of(&photo));
    assert_eq!(store.put_object(&photo, ObjectKind::Document).unwrap(), digest);
    assert_eq!(store.object(&digest).unwrap(), photo);
    let row = store.object_row(&digest).unwrap().unwrap();
    assert_eq!((row.kind, row.length), (ObjectKind::Photo, 300_000));
    let empty = store.put_object(b"", ObjectKind::Document).unwrap();
    assert_eq!(store.object(&empty).unwrap(), b"");
    let other = Digest::of(b"other");
    refused(store.object(&other), &format!("object {other} is not kept here"));
    assert_eq!(store.object_row(&other).unwrap(), None);
    for kind in [ObjectKind::Record, ObjectKind::Link] {
        refused(store.put_object(b"x", kind), &format!("an object of kind `{kind}` cannot be put in by itself"));
    }
}

fn object_reader_fails(store: Arc<dyn Store>) {
    struct Broken(usize);
    impl io::Read for Broken {
        fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
            self.0 += 1;
            match self.0 {
                1 => Err(io::ErrorKind::Interrupted.into()),
                2 => {
                    into[..3].copy_from_slice(b"abc");
                    Ok(3)
                }
                _ => Err(io::Error::other("the card was pulled out")),
            }
        }
    }
    refused(
        store.put_object_from_reader(&mut Broken(0), ObjectKind::Photo),
        "cannot read the input after 3 bytes",
    );
    assert_eq!(store.object_row(&Digest::of(b"abc")).unwrap(), None);
    let report = store.check(&mut |_| {}).unwrap();
    assert!(report.is_sound() && report.notices.is_empty() && report.objects == 0, "{report:?}");
}

fn records_enter_by_one_door(store: Arc<dyn Store>) {
    add_blade(&*store, "b");
    let bytes = record_bytes("b", 1, None, "");
    for kind in [ObjectKind::Document, ObjectKind::Photo, ObjectKind::Disclosures] {
        refused(
            store.put_object(&bytes, kind),
            "an object of kind `record` cannot be put in by itself: these bytes are one",
        );
    }
    assert_eq!(store.object_row(&Digest::of(&bytes)).unwrap(), None);
    // Other JSON is welcome.
    store.put_object(br#"{"disclosures":[]}"#, ObjectKind::Disclosures).unwrap();
}

fn chain(store: Arc<dyn Store>) {
    let first = record_bytes("b", 1, None, "");
    refused(append(&*store, &first), "blade `b` is not in this workshop");
    add_blade(&*store, "b");
    assert_eq!(store.tip("b").unwrap(), None);
    save(&*store, "b", None, &json!({ "n": 1 })).unwrap();
    let one = store
        .append_record(&NewRecord { bytes: &first, sealed_at: "2026-11-25T10:00:00Z", draft_revision: Some(1) })
        .unwrap();
    let facts = read_record(&first).unwrap();
    assert_eq!((one.name, one.object, one.sequence, one.previous), (facts.name, Digest::of(&first), 1, None));
    assert_ne!(one.name, one.object);
    assert_eq!((one.sealed_at.as_str(), one.draft_revision), ("2026-11-25T10:00:00Z", Some(1)));
    assert_eq!((one.purpose.as_str(), one.issuer.as_str()), ("intake", "did:key:zInvented"));
    assert_eq!(store.object(&one.object).unwrap(), first);
    assert_eq!(store.object_row(&one.object).unwrap().unwrap().kind, ObjectKind::Record);
    // The very same again is what is there, and stays as it was.
    assert_eq!(append(&*store, &first).unwrap(), one);

    let wrong = Digest::of(b"wrong");
    for (sequence, previous) in [(2, wrong), (3, one.name), (2, one.object)] {
        refused(
            append(&*store, &record_bytes("b", sequence, Some(previous), "")),
            &format!(
                "the record of blade `b` has sequence {sequence} after {previous}, but the newest here is {} and sequence 2 comes next",
                one.name
            ),
        );
    }
    refused(
        append(&*store, &record_bytes("b", 1, None, "another first")),
        &format!(
            "the record of blade `b` has sequence 1 after no record, but the newest here is {} and sequence 2 comes next",
            one.name
        ),
    );
    add_blade(&*store, "c");
    refused(
        append(&*store, &record_bytes("c", 2, Some(one.name), "")),
        &format!(
            "the record of blade `c` has sequence 2 after {}, but the newest here is no record and sequence 1 comes next",
            one.name
        ),
    );
    let second = record_bytes("b", 2, Some(one.name), "");
    refused(
        store.append_record(&NewRecord { bytes: &second, sealed_at: TIME, draft_revision: Some(2) }),
        "blade `b` has no draft revision 2: the newest is revision 1",
    );
    assert_eq!(store.object_row(&Digest::of(&second)).unwrap(), None);
    refused(store.object(&Digest::of(&second)), &format!("object {} is not kept here", Digest::of(&second)));
    let two = append(&*store, &second).unwrap();
    assert_eq!(store.records("b").unwrap(), [one.clone(), two.clone()]);
    assert_eq!(store.tip("b").unwrap(), Some(two));
    assert_eq!(store.record(&one.name).unwrap(), one);
    refused(store.record(&wrong), &format!("sealed record {wrong} is not kept here"));
    let mut other_proof = record_value("b", 1, None, "");
    other_proof["proof"]["proofValue"] = json!("z2");
    refused(
        append(&*store, &sealed::canonical(&other_proof).unwrap()),
        &format!("sealed record {} is already kept with another proof, as object {}", one.name, one.object),
    );
    assert_eq!(store.records("b").unwrap().len(), 2);
}

fn records_at_once(store: Arc<dyn Store>) {
    add_blade(&*store, "b");
    let workers: Vec<_> = (0..4)
        .map(|worker| {
            let store = Arc::clone(&store);
            thread::spawn(move || {
                let mut done = 0;
                while done < 3 {
                    let tip = store.tip("b").unwrap();
                    let sequence = tip.as_ref().map_or(0, |tip| tip.sequence) + 1;
                    let bytes = record_bytes("b", sequence, tip.map(|tip| tip.name), &format!("{worker}-{done}"));
                    match append(&*store, &bytes) {
                        Ok(_) => done += 1,
                        Err(StoreError::NotNext { .. }) => {}
                        Err(other) => unexpected(&other),
                    }
                }
            })
        })
        .collect();
    workers.into_iter().for_each(|worker| worker.join().unwrap());
    let records = store.records("b").unwrap();
    assert_eq!(records.len(), 12);
    for (index, pair) in records.windows(2).enumerate() {
        assert_eq!(pair[1].previous, Some(pair[0].name), "after {index}");
    }
    let report = store.check(&mut |_| {}).unwrap();
    assert!(report.is_sound() && report.notices.is_empty(), "{report:?}");
    assert_eq!(report.objects, 12);
}

fn odd_records(store: Arc<dyn Store>) {
    add_blade(&*store, "b");
    let good = String::from_utf8(record_bytes("b", 1, None, "")).unwrap();
    let with = |field: &str, value: Value| {
        let mut record = record_value("b", 1, None, "");
        record[field] = value;
        sealed::canonical(&record).unwrap()
    };
    let without = |field: &str| {
        let mut record = record_value("b", 1, None, "");
        record.as_object_mut().unwrap().remove(field);
        sealed::canonical(&record).unwrap()
    };
    let not_canonical = "the bytes are not their own canonical form (RFC 8785)";
    let deep = format!("{}{}", "[".repeat(5000), "]".repeat(5000));
    let cases: Vec<(Vec<u8>, &str)> = vec![
        (b"{".to_vec(), "not JSON at line 1 column 1"),
        (b"".to_vec(), "not JSON at line 1 column 0"),
        (deep.into_bytes(), "not JSON at line 1 column 128"),
        (b"[]".to_vec(), "not a JSON object"),
        (format!("{good}\n").into_bytes(), not_canonical),
        (good.replacen("\"sequence\":1", "\"sequence\":1.0", 1).into_bytes(), not_canonical),
        (good.replacen("\"sequence\":1", "\"sequence\":1,\"sequence\":1", 1).into_bytes(), not_canonical),
        (without("schema"), "`schema` is missing"),
        (without("proof"), "`proof` is missing"),
        (without("blade"), "`/blade/id` is not a text"),
        (without("issuer"), "`/issuer/did` is not a text"),
        (without("record_id"), "`/record_id` is not a text"),
        (without("purpose"), "`/purpose` is not a text"),
        (without("previous"), "`/previous` is neither null nor a digest"),
        (with("previous", json!("abc")), "`/previous` is neither null nor a digest"),
        (with("previous", json!("0".repeat(64))), "`/previous` is null exactly in the first record of a blade"),
        (with("sequence", json!(2)), "`/previous` is null exactly in the first record of a blade"),
        (with("sequence", json!(0)), "`/sequence` is not a whole number from 1"),
        (with("sequence", json!(-1)), "`/sequence` is not a whole number from 1"),
        (with("sequence", json!("1")), "`/sequence` is not a whole number from 1"),
        (with("issued_at", json!("now")), "`/issued_at` is `now`: a UTC time like 2026-11-25T09:30:00Z is allowed"),
        (
            with("blade", json!({ "id": "../b" })),
            "`/blade/id`: `../b` is not a blade id: 1 to 40 lower-case letters, digits and hyphens are allowed, a letter or digit first",
        ),
    ];
    for (bytes, reason) in cases {
        refused(append(&*store, &bytes), &format!("not a sealed record: {reason}"));
    }
    assert!(store.records("b").unwrap().is_empty());
}

fn attachments(store: Arc<dyn Store>) {
    add_blade(&*store, "b");
    let record = append(&*store, &record_bytes("b", 1, None, "")).unwrap().name;
    let report = store.put_object(b"%PDF-1.7 invented", ObjectKind::Report).unwrap();
    let second = store.put_object(b"%PDF-1.7 second", ObjectKind::Report).unwrap();
    let disclosures = store.put_object(b"[]", ObjectKind::Disclosures).unwrap();
    let tie = |object, role| store.attach(&Attachment { record, object, role });
    tie(report, Role::Report).unwrap();
    tie(report, Role::Report).unwrap();
    tie(second, Role::Report).unwrap();
    tie(disclosures, Role::Disclosures).unwrap();
    tie(disclosures, Role::Disclosures).unwrap();
    refused(
        tie(report, Role::Disclosures),
        &format!("sealed record {record} already has the disclosures {disclosures}; {report} was offered"),
    );
    let none = Digest::of(b"none");
    refused(tie(none, Role::Report), &format!("object {none} is not kept here"));
    refused(
        store.attach(&Attachment { record: none, object: report, role: Role::Report }),
        &format!("sealed record {none} is not kept here"),
    );
    let mut reports = [report, second];
    reports.sort();
    let kept: Vec<(Role, Digest)> = store.attachments(&record).unwrap().iter().map(|tie| (tie.role, tie.object)).collect();
    assert_eq!(
        kept,
        [(Role::Disclosures, disclosures), (Role::Report, reports[0]), (Role::Report, reports[1])]
    );
    refused(store.attachments(&none), &format!("sealed record {none} is not kept here"));
    let note = sealed::write_link(&Attachment { record, object: report, role: Role::Report });
    refused(
        store.put_object(&note, ObjectKind::Document),
        "an object of kind `link` cannot be put in by itself: these bytes are one",
    );
}

fn photos(store: Arc<dyn Store>) {
    add_blade(&*store, "b");
    let mut digests = Vec::new();
    for bytes in [b"photo 2", b"photo 1"] {
        let digest = store.put_object(bytes, ObjectKind::Photo).unwrap();
        digests.push(digest);
        store.add_photo(&photo("b", digest)).unwrap();
    }
    let changed = PhotoRow { shows: "point, ura".to_owned(), taken_at: None, ..photo("b", digests[0]) };
    store.add_photo(&changed).unwrap();
    assert_eq!(store.photos("b").unwrap(), [changed.clone(), photo("b", digests[1])]);
    refused(
        store.add_photo(&PhotoRow { length: 9, ..changed.clone() }),
        &format!("photo {} is 7 bytes long, not 9", digests[0]),
    );
    let none = Digest::of(b"none");
    refused(store.add_photo(&photo("b", none)), &format!("object {none} is not kept here"));
    refused(store.add_photo(&photo("x", digests[0])), "blade `x` is not in this workshop");
    refused(
        store.add_photo(&PhotoRow { taken_at: Some("2026".to_owned()), ..changed }),
        "taken_at is `2026`: a UTC time like 2026-11-25T09:30:00Z is allowed",
    );
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

fn approvals_and_settings(store: Arc<dyn Store>) {
    let approval = |name: &str, bytes: &[u8]| PluginApproval {
        name: name.to_owned(),
        digest: Digest::of(bytes),
        approved_at: TIME.to_owned(),
    };
    store.approve_plugin(&approval("triage", b"2")).unwrap();
    store.approve_plugin(&approval("dimensions", b"1")).unwrap();
    let later = PluginApproval { approved_at: "2027-01-01T00:00:00Z".to_owned(), ..approval("triage", b"2") };
    store.approve_plugin(&later).unwrap();
    assert_eq!(store.plugin_approvals().unwrap(), [approval("dimensions", b"1"), approval("triage", b"2")]);
    assert!(store.withdraw_approval("triage", &Digest::of(b"2")).unwrap());
    assert!(!store.withdraw_approval("triage", &Digest::of(b"2")).unwrap());
    assert_eq!(store.plugin_approvals().unwrap().len(), 1);

    assert_eq!(store.setting("name").unwrap(), None);
    store.set_setting("name", Some("Invented workshop")).unwrap();
    store.set_setting("name", Some("Other")).unwrap();
    assert_eq!(store.setting("name").unwrap().as_deref(), Some("Other"));
    store.set_setting("name", None).unwrap();
    assert_eq!(store.setting("name").unwrap(), None);
    refused(store.set_setting("", Some("x")), "setting `` is empty");
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

fn keys(store: Arc<dyn Store>) {
    let first = key("did:key:zFirst", "workshop.pem");
    store.add_key(&first, b"encrypted").unwrap();
    store.add_key(&first, b"encrypted").unwrap();
    store.add_key(&key("did:key:zA", "a.pem"), b"other").unwrap();
    assert_eq!(store.keys().unwrap(), [first.clone(), key("did:key:zA", "a.pem")]);
    assert_eq!(store.key_bytes("did:key:zFirst").unwrap(), b"encrypted");
    refused(store.key_bytes("did:key:zNone"), "key `did:key:zNone` is not in this workshop");
    refused(
        store.add_key(&key("did:key:zB", "workshop.pem"), b"encrypted"),
        "key file name `workshop.pem` belongs to another key already",
    );
    refused(
        store.add_key(&key("did:key:zA", "b.pem"), b"other"),
        "did `did:key:zA` belongs to another key already",
    );
    refused(store.add_key(&first, b"changed"), "key file name `workshop.pem` belongs to another key already");
    refused(
        store.add_key(&key("did:key:zC", "../c.pem"), b"c"),
        "`../c.pem` is not a key file name: 1 to 80 letters, digits, `-`, `_` and `.` are allowed, a letter or digit first",
    );
    assert_eq!(store.key_bytes("did:key:zFirst").unwrap(), b"encrypted");
    assert_eq!(store.keys().unwrap().len(), 2);
}

fn check_is_sound(store: Arc<dyn Store>) {
    fill(&*store);
    let mut steps = Vec::new();
    let report = store.check(&mut |progress| steps.push((progress.done, progress.total))).unwrap();
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
    store.undo("katana-1", 2, TIME).unwrap();
    let photo_digest = store.put_object(b"\xff\xd8\xff jpg", ObjectKind::Photo).unwrap();
    store.add_photo(&photo("katana-1", photo_digest)).unwrap();
    let first = record_bytes("katana-1", 1, None, "");
    let first = store.append_record(&NewRecord { bytes: &first, sealed_at: TIME, draft_revision: Some(2) }).unwrap();
    append(store, &record_bytes("katana-1", 2, Some(first.name), "")).unwrap();
    append(store, &record_bytes("yari-2", 1, None, "")).unwrap();
    let report = store.put_object(b"%PDF-1.7 invented", ObjectKind::Report).unwrap();
    let disclosures = store.put_object(b"[\"invented\"]", ObjectKind::Disclosures).unwrap();
    store.attach(&Attachment { record: first.name, object: report, role: Role::Report }).unwrap();
    store.attach(&Attachment { record: first.name, object: disclosures, role: Role::Disclosures }).unwrap();
    store.put_object(b"a paper", ObjectKind::Document).unwrap();
    let approval =
        PluginApproval { name: "triage".to_owned(), digest: Digest::of(b"lib"), approved_at: TIME.to_owned() };
    store.approve_plugin(&approval).unwrap();
    store.set_setting("name", Some("Invented workshop")).unwrap();
    store.add_key(&key("did:key:zFirst", "workshop.pem"), b"encrypted").unwrap();
}
