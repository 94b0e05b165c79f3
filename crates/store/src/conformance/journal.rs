//! The journal, changes of several things at once, lists and search.

use serde_json::{Value, json};
use tangmark_core::Digest;

use super::{TIME, add_blade, record_value, refused, save};
use crate::{
    BladeRow, Change, Derived, DraftSource, EntryFilter, NewDraft, NewEntry, Seen, StandingFilter,
    Store,
};

const DAY: &str = "2026-11-25";

fn entry<'a>(kind: &'a str, blade: Option<&'a str>, body: &'a Value) -> NewEntry<'a> {
    NewEntry {
        kind,
        blade,
        subject: "",
        on: DAY,
        body: Some(body),
        at: TIME,
        by: "A. Polisher",
        replaces: None,
    }
}

fn write(store: &dyn Store, entries: &[NewEntry<'_>]) -> Vec<u64> {
    let change = Change {
        entries,
        ..Change::default()
    };
    store.apply(&change).unwrap().entries
}

fn refuse(store: &dyn Store, entry: NewEntry<'_>, message: &str) {
    let entries = [entry];
    let change = Change {
        entries: &entries,
        ..Change::default()
    };
    refused(store.apply(&change), message);
}

pub(super) fn journal(store: &dyn Store) {
    add_blade(store, "b");
    add_blade(store, "c");
    let first = json!({ "amount": "3" });
    let second = json!({ "amount": "4" });
    let made = write(
        store,
        &[
            entry("cost", Some("b"), &first),
            entry("cost", None, &first),
            NewEntry {
                subject: "stone-1",
                ..entry("use", Some("c"), &first)
            },
        ],
    );
    assert_eq!(made, [1, 2, 3]);
    // A correction takes the place; what was there stays to be read.
    let made = write(
        store,
        &[NewEntry {
            replaces: Some(1),
            ..entry("cost", Some("b"), &second)
        }],
    );
    assert_eq!(made, [4]);
    let numbers = |filter: EntryFilter<'_>| -> Vec<u64> {
        let found = store.entries(&filter).unwrap();
        found.into_iter().map(|row| row.number).collect()
    };
    let of = |kind| EntryFilter {
        kind: Some(kind),
        ..EntryFilter::default()
    };
    assert_eq!(numbers(of("cost")), [2, 4]);
    assert_eq!(numbers(EntryFilter::default()), [2, 3, 4]);
    let whole = EntryFilter {
        whole: true,
        ..EntryFilter::default()
    };
    assert_eq!(numbers(whole), [1, 2, 3, 4]);
    let blade = EntryFilter {
        blade: Some("b"),
        ..of("cost")
    };
    assert_eq!(numbers(blade), [4]);
    let subject = EntryFilter {
        subject: Some("stone-1"),
        ..EntryFilter::default()
    };
    assert_eq!(numbers(subject), [3]);
    let old = store.entry(1).unwrap();
    assert_eq!((old.replaced_by, old.body), (Some(4), Some(first.clone())));
    let new = store.entry(4).unwrap();
    assert_eq!((new.replaces, new.body), (Some(1), Some(second.clone())));
    // A strike leaves nothing in force.
    let strike = NewEntry {
        body: None,
        replaces: Some(4),
        ..entry("cost", Some("b"), &first)
    };
    assert_eq!(write(store, &[strike]), [5]);
    assert_eq!(numbers(blade), [0; 0]);

    refuse(
        store,
        NewEntry {
            replaces: Some(4),
            ..entry("cost", Some("b"), &second)
        },
        "entry 4 of the journal was replaced by entry 5 already",
    );
    refuse(
        store,
        NewEntry {
            replaces: Some(3),
            ..entry("cost", Some("c"), &second)
        },
        "entry 3 of the journal is of kind `use` on blade `c`: an entry of another kind or blade cannot take its place",
    );
    refuse(
        store,
        NewEntry {
            replaces: Some(5),
            ..entry("cost", Some("b"), &second)
        },
        "the journal has no entry 5 in force",
    );
    refuse(
        store,
        entry("cost", Some("nowhere"), &second),
        "blade `nowhere` is not in this workshop",
    );
    refuse(
        store,
        NewEntry {
            on: "2026-11",
            ..entry("cost", Some("b"), &second)
        },
        "the day is `2026-11`: a day like 2026-11-25 is allowed",
    );
    refuse(
        store,
        entry("Cost!", Some("b"), &second),
        "the kind `Cost!` is not 1 to 40 lower-case letters and `_`",
    );
    refuse(
        store,
        NewEntry {
            body: None,
            ..entry("cost", Some("b"), &second)
        },
        "the body `` is empty",
    );
    assert_eq!(numbers(whole), [1, 2, 3, 4, 5]);
}

pub(super) fn change(store: &dyn Store) {
    let blade = BladeRow {
        id: "b".to_owned(),
        title: "Blade b".to_owned(),
        created_at: TIME.to_owned(),
    };
    let body = json!({ "blade": { "id": "b", "title": "The first" } });
    let draft = |expected| NewDraft {
        blade: "b",
        expected_revision: expected,
        body: &body,
        saved_at: TIME,
        source: DraftSource::Command,
        note: "",
        by: "A. Polisher",
    };
    let note = json!({ "words": "came by post" });
    let good = [entry("arrival", Some("b"), &note)];
    let bad = [
        entry("arrival", Some("b"), &note),
        entry("arrival", Some("z"), &note),
    ];
    // One bad entry, and neither blade nor draft nor the good entry is there.
    let half = Change {
        blade: Some(&blade),
        draft: Some(draft(None)),
        entries: &bad,
        ..Change::default()
    };
    refused(store.apply(&half), "blade `z` is not in this workshop");
    assert!(store.blades().unwrap().is_empty());
    assert!(store.entries(&EntryFilter::default()).unwrap().is_empty());
    let whole = Change {
        entries: &good,
        ..half
    };
    let changed = store.apply(&whole).unwrap();
    assert_eq!((changed.revision, changed.entries), (Some(1), vec![1]));
    // An entry that somebody else wrote meanwhile takes the change down.
    let seen = |newest| Change {
        entries: &good,
        seen: Some(Seen {
            kind: "arrival",
            blade: "b",
            newest,
        }),
        ..Change::default()
    };
    for earlier in [None, Some(7)] {
        refused(
            store.apply(&seen(earlier)),
            "entry 1 of kind `arrival` on blade `b` was written elsewhere meanwhile",
        );
    }
    assert_eq!(store.apply(&seen(Some(1))).unwrap().entries, [2]);
    // An undo goes with its entries, or not at all.
    store
        .save_draft(&NewDraft {
            body: &json!({ "blade": { "id": "b", "title": "Other" } }),
            ..draft(Some(1))
        })
        .unwrap();
    refused(
        store.undo("b", 2, TIME, "A. Polisher", &bad),
        "blade `z` is not in this workshop",
    );
    assert_eq!(store.draft("b").unwrap().unwrap().entry.revision, 2);
    assert_eq!(store.entries(&EntryFilter::default()).unwrap().len(), 2);
    store.undo("b", 2, TIME, "A. Polisher", &good).unwrap();
    assert_eq!(store.entries(&EntryFilter::default()).unwrap().len(), 3);
    // A draft that somebody else changed takes its entries down with it.
    refused(
        store.apply(&whole),
        "the draft of blade `b` was changed elsewhere: this change was made on no draft, the newest is revision 3",
    );
    assert_eq!(store.entries(&EntryFilter::default()).unwrap().len(), 3);
}

pub(super) fn standings(store: &dyn Store) {
    for id in ["a", "b", "c"] {
        add_blade(store, id);
    }
    let line = store.standing("b").unwrap();
    assert_eq!((line.title.as_str(), line.revision), ("Blade b", None));
    let body = json!({
        "blade": { "id": "b", "title": "Long", "kind_by_make": "katana" },
        "dimensions": { "mass": { "value": "750.00" } },
        "passes": [
            { "time": { "value": "90" }, "before": { "mass": { "value": "748.30" } }, "after": { "mass": { "value": "747.1" } } },
            { "time": { "value": "30.5" } },
            { "after": { "mass": { "value": "746.00" } } }
        ]
    });
    save(store, "b", None, &body).unwrap();
    let line = store.standing("b").unwrap();
    assert_eq!(line.title, "Long");
    assert_eq!(line.kind.as_deref(), Some("katana"));
    assert_eq!((line.revision, line.passes), (Some(1), 3));
    let text = |value: Option<tangmark_core::units::Decimal>| value.unwrap().to_string();
    assert_eq!(text(line.minutes), "120.5");
    assert_eq!(text(line.mass_first), "750.00");
    assert_eq!(text(line.mass_last), "746.00");
    // The first weighing is the first in time: one at an examination after the work is none.
    let mut later = body.clone();
    later["examination"] = json!({ "on": "2026-04-02", "reason": "before_work" });
    later["passes"][0]["on"] = json!("2026-04-01");
    save(store, "b", Some(1), &later).unwrap();
    let found = store.standing("b").unwrap();
    assert_eq!(text(found.mass_first), "748.30");
    later["examination"]["on"] = json!("2026-03-31");
    save(store, "b", Some(2), &later).unwrap();
    let found = store.standing("b").unwrap();
    assert_eq!(text(found.mass_first), "750.00");
    // Passes weighed before them alone: what is known last is the mass before the last one.
    let mut before = later.clone();
    before["passes"] = json!([
        { "id": "p1", "on": "2026-04-01", "before": { "mass": { "value": "748.30" } } },
        { "id": "p2", "on": "2026-04-02", "before": { "mass": { "value": "745.00" } } },
    ]);
    save(store, "c", None, &before).unwrap();
    let found = store.standing("c").unwrap();
    assert_eq!(text(found.mass_last), "745.00");
    // An undo is followed as well.
    let shorter = json!({ "blade": { "id": "b", "title": "Short" } });
    save(store, "b", Some(3), &shorter).unwrap();
    assert_eq!(store.standing("b").unwrap().passes, 0);
    store.undo("b", 4, TIME, "A. Polisher", &[]).unwrap();
    assert_eq!(store.standing("b").unwrap().passes, 3);

    // A record with two stops, one of which an override names.
    let mut record = record_value("b", 1, None, "m");
    record["findings"] = json!([
        { "plugin": "triage", "rule": "importance.signed", "level": "stop" },
        { "plugin": "triage", "rule": "budget.spent", "level": "stop" },
        { "plugin": "triage", "rule": "note", "level": "info" }
    ]);
    record["overrides"] = json!([{ "rule": "triage/budget.spent" }]);
    record["decision"] = json!({ "verdict": "refer" });
    let bytes = tangmark_core::json::canonical_bytes(&record).unwrap();
    let row = super::append(store, &bytes).unwrap();
    let line = store.standing("b").unwrap();
    assert_eq!((line.records, line.tip, line.stops), (1, Some(row.name), 1));
    assert_eq!(line.decision.as_deref(), Some("refer"));

    // The stage of the latest day counts, not the one entered last.
    let stage = |word: &str, ended: bool| json!({ "stage": word, "ended": ended });
    let (early, late) = (stage("as_received", false), stage("sold", true));
    write(
        store,
        &[
            entry("stage", Some("b"), &late),
            NewEntry {
                on: "2026-01-02",
                ..entry("stage", Some("b"), &early)
            },
        ],
    );
    let line = store.standing("b").unwrap();
    assert_eq!(line.stage.as_deref(), Some("sold"));
    assert_eq!((line.stage_since.as_deref(), line.ended), (Some(DAY), true));
    let strike = NewEntry {
        body: None,
        replaces: Some(1),
        ..entry("stage", Some("b"), &late)
    };
    write(store, &[strike]);
    let line = store.standing("b").unwrap();
    assert_eq!(line.stage.as_deref(), Some("as_received"));
    assert!(!line.ended);

    let ids = |filter: StandingFilter<'_>| -> Vec<String> {
        let lines = store.standings(&filter).unwrap();
        lines.into_iter().map(|line| line.blade).collect()
    };
    let all = StandingFilter::default();
    assert_eq!(ids(all), ["a", "b", "c"]);
    assert_eq!(ids(StandingFilter { limit: 2, ..all }), ["a", "b"]);
    assert_eq!(
        ids(StandingFilter {
            after: Some("a"),
            ..all
        }),
        ["b", "c"]
    );
    assert_eq!(
        ids(StandingFilter {
            stage: Some("as_received"),
            ..all
        }),
        ["b"]
    );
    assert_eq!(
        ids(StandingFilter {
            ended: Some(true),
            ..all
        }),
        [""; 0]
    );
    refused(store.standing("z"), "blade `z` is not in this workshop");
}

pub(super) fn sealed_passes(store: &dyn Store) {
    add_blade(store, "b");
    let pass = |id: &str, minutes: &str| json!({ "id": id, "on": "2026-04-01", "time": { "value": minutes } });
    let sheet =
        |passes: Value| json!({ "blade": { "id": "b", "title": "Long" }, "passes": passes });
    let numbers = || {
        let line = store.standing("b").unwrap();
        let minutes = line.minutes.unwrap().to_string();
        (line.passes, line.sheet_passes, minutes)
    };
    save(store, "b", None, &sheet(json!([pass("p1", "30")]))).unwrap();
    let seal = |sequence: u64, previous: Option<Digest>, passes: Value| {
        let mut record = record_value("b", sequence, previous, "m");
        record["passes"] = passes;
        let bytes = tangmark_core::json::canonical_bytes(&record).unwrap();
        super::append(store, &bytes).unwrap().name
    };
    let first = seal(1, None, json!([pass("p1", "30"), pass("p2", "10")]));
    assert_eq!(
        numbers(),
        (2, 1, "40".to_owned()),
        "as soon as it is sealed"
    );
    // What the sheet says of a pass counts; what it leaves out stays.
    save(
        store,
        "b",
        Some(1),
        &sheet(json!([pass("p2", "15"), pass("p3", "1")])),
    )
    .unwrap();
    assert_eq!(numbers(), (3, 2, "46".to_owned()));
    seal(2, Some(first), json!([pass("p1", "35")]));
    assert_eq!(
        numbers(),
        (3, 2, "51".to_owned()),
        "the newest record counts"
    );
    let sealed = store.sealed_passes("b").unwrap();
    assert_eq!(
        sealed,
        [pass("p1", "35"), pass("p2", "10")],
        "in the place of the earlier one"
    );
    refused(
        store.sealed_passes("z"),
        "blade `z` is not in this workshop",
    );
}

pub(super) fn derived(store: &dyn Store) {
    add_blade(store, "b");
    let known = || store.standing("b").unwrap().known_stops();
    assert_eq!(known(), Some(0), "there is nothing to judge");
    let note = |revision: u64, tip: Option<Digest>, stops: u64| {
        let derived = Derived {
            blade: "b",
            revision,
            tip,
            stops,
            at: TIME,
        };
        store.note_derived(&derived).unwrap()
    };
    assert!(!note(1, None, 1), "no draft was judged");
    save(store, "b", None, &json!({ "mark": 1 })).unwrap();
    assert_eq!(known(), None);
    assert!(note(1, None, 2));
    assert_eq!(known(), Some(2));
    assert_eq!(
        store.standings(&StandingFilter::default()).unwrap()[0].judged,
        Some(2)
    );
    // A judgement is of its revision after its record and of no other.
    save(store, "b", Some(1), &json!({ "mark": 2 })).unwrap();
    assert_eq!(known(), None);
    assert!(!note(1, None, 2));
    assert!(note(2, None, 0));
    assert_eq!(known(), Some(0));
    let record = record_value("b", 1, None, "m");
    let bytes = tangmark_core::json::canonical_bytes(&record).unwrap();
    let tip = super::append(store, &bytes).unwrap().name;
    assert_eq!(known(), None);
    assert!(!note(2, None, 0));
    assert!(note(2, Some(tip), 3));
    assert_eq!(known(), Some(3));
    // Other plugins may find something else.
    let approval = crate::PluginApproval {
        name: "triage".to_owned(),
        digest: tip,
        approved_at: TIME.to_owned(),
    };
    store.approve_plugin(&approval).unwrap();
    assert_eq!(known(), None);
    assert!(note(2, Some(tip), 1));
    store.approve_plugin(&approval).unwrap();
    assert_eq!(known(), Some(1), "nothing changed");
    assert!(store.withdraw_approval("triage", &tip).unwrap());
    assert_eq!(known(), None);
}

pub(super) fn search(store: &dyn Store) {
    for id in ["a", "b"] {
        add_blade(store, id);
    }
    let body = |words: &str| json!({ "blade": { "id": "x", "title": words }, "photos": [{ "digest": "a".repeat(64) }] });
    save(store, "a", None, &body("備前長船祐定 made at Ōsafune")).unwrap();
    save(store, "b", None, &body("備後 and 前田, Rust-red")).unwrap();
    let note = json!({ "words": "Paid for the rust of a" });
    write(store, &[entry("cost", Some("a"), &note)]);
    let found = |words: &str| -> Vec<(Option<String>, Option<u64>)> {
        let hits = store.search(words, 10).unwrap();
        hits.into_iter().map(|hit| (hit.blade, hit.entry)).collect()
    };
    let sheet = |blade: &str| (Some(blade.to_owned()), None);
    assert_eq!(found("備前"), [sheet("a")]);
    assert_eq!(found("長船"), [sheet("a")]);
    // Both characters are there, and do not stand together.
    assert_eq!(found("備 前"), [sheet("b"), sheet("a")]);
    assert_eq!(found("osafune"), [sheet("a")]);
    assert_eq!(found("RUST"), [(Some("a".to_owned()), Some(1)), sheet("b")]);
    assert_eq!(found("rust red"), [sheet("b")]);
    assert_eq!(found("aaaa"), []);
    assert_eq!(store.search("rust", 1).unwrap().len(), 1);
    // No phrase reaches from one text into the next.
    save(store, "b", Some(1), &json!({ "one": "備", "two": "前" })).unwrap();
    assert_eq!(found("備前"), [sheet("a")]);
    assert_eq!(found("red"), []);
    // What was replaced is found no more.
    let strike = NewEntry {
        body: None,
        replaces: Some(1),
        ..entry("cost", Some("a"), &note)
    };
    write(store, &[strike]);
    assert_eq!(found("rust"), []);
    refused(
        store.search("…", 10),
        "`…` cannot be looked for: there is no letter or digit in it",
    );
}
