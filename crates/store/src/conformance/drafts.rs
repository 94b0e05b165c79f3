//! Drafts: history, conflicts, undo.

use std::thread;

use serde_json::{Value, json};
use tangmark_core::json::{Limits, canonical_bytes, read_value};

use super::{TIME, add_blade, refused, save, unexpected};
use crate::{DraftSource, NewDraft, Store, StoreError};

pub(super) fn draft_history(store: &dyn Store) {
    refused(store.draft("b"), "blade `b` is not in this workshop");
    add_blade(store, "b");
    assert_eq!(store.draft("b").unwrap(), None);
    let body = json!({ "z": "刃", "a": { "blade_length": "681.0" } });
    let first = NewDraft {
        blade: "b",
        expected_revision: None,
        body: &body,
        saved_at: TIME,
        source: DraftSource::Sheet,
        note: "from the sheet",
        by: "A. Polisher",
    };
    assert_eq!(store.save_draft(&first).unwrap(), 1);
    let kept = store.draft("b").unwrap().unwrap();
    assert_eq!(kept.body, body);
    assert_eq!(
        (kept.entry.revision, kept.entry.source),
        (1, DraftSource::Sheet)
    );
    assert_eq!(
        (kept.entry.note.as_str(), kept.entry.saved_at.as_str()),
        ("from the sheet", TIME)
    );
    assert_eq!(
        kept.entry.length,
        canonical_bytes(&body).unwrap().len() as u64
    );

    assert_eq!(save(store, "b", Some(1), &json!({ "z": 2 })).unwrap(), 2);
    // The same again is no new revision.
    assert_eq!(save(store, "b", Some(2), &json!({ "z": 2 })).unwrap(), 2);
    assert_eq!(store.draft_at("b", 1).unwrap().body, body);
    let revisions: Vec<u64> = store
        .draft_history("b")
        .unwrap()
        .iter()
        .map(|entry| entry.revision)
        .collect();
    assert_eq!(revisions, [1, 2]);
    refused(
        store.draft_at("b", 3),
        "blade `b` has no draft revision 3: the newest is revision 2",
    );
    add_blade(store, "c");
    refused(
        store.draft_at("c", 1),
        "blade `c` has no draft revision 1: the newest is no draft",
    );
    assert!(store.draft_history("c").unwrap().is_empty());
}

pub(super) fn draft_conflict(store: &dyn Store) {
    add_blade(store, "b");
    refused(
        save(store, "b", Some(4), &json!({})),
        "the draft of blade `b` was changed elsewhere: this change was made on revision 4, the newest is no draft",
    );
    save(store, "b", None, &json!({ "n": 1 })).unwrap();
    refused(
        save(store, "b", None, &json!({ "n": 2 })),
        "the draft of blade `b` was changed elsewhere: this change was made on no draft, the newest is revision 1",
    );
    save(store, "b", Some(1), &json!({ "n": 3 })).unwrap();
    refused(
        save(store, "b", Some(1), &json!({ "n": 4 })),
        "the draft of blade `b` was changed elsewhere: this change was made on revision 1, the newest is revision 2",
    );
    refused(
        store.undo("b", 1, TIME, "A. Polisher", &[]),
        "the draft of blade `b` was changed elsewhere: this change was made on revision 1, the newest is revision 2",
    );
    assert_eq!(store.draft("b").unwrap().unwrap().body, json!({ "n": 3 }));
    assert_eq!(store.draft_history("b").unwrap().len(), 2);
}

pub(super) fn draft_bodies(store: &dyn Store) {
    add_blade(store, "b");
    for (body, kind) in [
        (json!(null), "null"),
        (json!([1]), "a list"),
        (json!("x"), "a text"),
        (json!(1), "a number"),
    ] {
        refused(
            save(store, "b", None, &body),
            &format!("the draft body is {kind}, a JSON object is allowed"),
        );
    }
    // What the strict reader and the canonical writer say is theirs to word.
    let unsafe_integer = json!({ "n": 9_007_199_254_740_993_u64 });
    let fraction = json!({ "n": 1.5 });
    let not_composed = json!({ "n": "e\u{301}" });
    let read = |text: &str| {
        let error = read_value(text.as_bytes(), &Limits::default()).unwrap_err();
        error.kind.to_string()
    };
    let cases = [
        (
            json!({ "n": 1.0 }),
            "a number that is no whole number would come back as one".to_owned(),
        ),
        (fraction, read(r#"{"n":1.5}"#)),
        (not_composed, read("{\"n\":\"e\u{301}\"}")),
        (
            unsafe_integer.clone(),
            canonical_bytes(&unsafe_integer).unwrap_err().to_string(),
        ),
    ];
    for (body, reason) in cases {
        refused(
            save(store, "b", None, &body),
            &format!("the draft body cannot be kept: {reason}"),
        );
    }
    assert_eq!(store.draft("b").unwrap(), None);
}

pub(super) fn undo(store: &dyn Store) {
    add_blade(store, "b");
    refused(
        store.undo("b", 1, TIME, "A. Polisher", &[]),
        "the draft of blade `b` was changed elsewhere: this change was made on revision 1, the newest is no draft",
    );
    for (expected, letter) in [(None, "A"), (Some(1), "B"), (Some(2), "C")] {
        save(store, "b", expected, &json!({ "is": letter })).unwrap();
    }
    let undone = store.undo("b", 3, TIME, "A. Polisher", &[]).unwrap();
    assert_eq!(undone.body, json!({ "is": "B" }));
    assert_eq!((undone.entry.revision, undone.entry.restores), (4, Some(2)));
    assert_eq!(undone.entry.source, DraftSource::Undo);
    assert_eq!(store.draft("b").unwrap().unwrap(), undone);
    assert_eq!(
        store.undo("b", 4, TIME, "A. Polisher", &[]).unwrap().body,
        json!({ "is": "A" })
    );
    refused(
        store.undo("b", 5, TIME, "A. Polisher", &[]),
        "nothing to undo on blade `b`: the draft is as it was first saved",
    );
    // A change after an undo is undone to what the undo showed.
    assert_eq!(save(store, "b", Some(5), &json!({ "is": "D" })).unwrap(), 6);
    assert_eq!(
        store.undo("b", 6, TIME, "A. Polisher", &[]).unwrap().body,
        json!({ "is": "A" })
    );
    let bodies: Vec<Value> = (1..=7)
        .map(|revision| store.draft_at("b", revision).unwrap().body["is"].clone())
        .collect();
    assert_eq!(bodies, ["A", "B", "C", "B", "A", "D", "A"]);
}

pub(super) fn drafts_at_once(store: &dyn Store) {
    add_blade(store, "b");
    save(store, "b", None, &json!({ "sum": 0 })).unwrap();
    thread::scope(|scope| {
        for _ in 0..4 {
            scope.spawn(|| {
                let mut saved = 0;
                while saved < 10 {
                    let draft = store.draft("b").unwrap().unwrap();
                    let body = json!({ "sum": draft.body["sum"].as_u64().unwrap() + 1 });
                    match save(store, "b", Some(draft.entry.revision), &body) {
                        Ok(_) => saved += 1,
                        Err(StoreError::DraftConflict { .. }) => {}
                        Err(other) => unexpected(&other),
                    }
                }
            });
        }
    });
    assert_eq!(
        store.draft("b").unwrap().unwrap().body,
        json!({ "sum": 40 })
    );
    assert_eq!(store.draft_history("b").unwrap().len(), 41);
}
