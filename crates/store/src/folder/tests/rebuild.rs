use std::fs;

use rusqlite::Connection;
use tangmark_core::Digest;

use super::{dump, filled, new_folder};
use crate::{
    Attachment, Derived, FolderStore, Limits, NewRecord, ObjectKind, OldIndex, RebuildReport, Role,
    Store, conformance, sealed,
};

fn rebuild(dir: &std::path::Path) -> RebuildReport {
    FolderStore::rebuild_index(dir, Limits::default(), &mut |_| {}).unwrap()
}

fn sound(dir: &std::path::Path) {
    let report = FolderStore::open(dir).unwrap().check(&mut |_| {}).unwrap();
    assert!(report.is_sound(), "{report:?}");
}

#[test]
fn equals_the_original() {
    let (_temp, dir) = filled();
    let before = dump(&dir);
    let mut steps = 0;
    let report = FolderStore::rebuild_index(&dir, Limits::default(), &mut |_| steps += 1).unwrap();
    assert_eq!(dump(&dir), before);
    assert_eq!(steps, 9);
    assert_eq!(
        report,
        RebuildReport {
            objects: 9,
            records: 3,
            attachments: 2,
            untitled_blades: Vec::new(),
            rotten: Vec::new(),
            missing: Vec::new(),
            left_out: Vec::new(),
            loose_notes: Vec::new(),
            unlisted_keys: Vec::new(),
            old_index: OldIndex::Carried,
        }
    );
    sound(&dir);
    let names: Vec<String> = super::super::list(&dir)
        .unwrap()
        .iter()
        .map(|path| super::super::entry_name(path))
        .collect();
    assert_eq!(names, ["keys", "objects", "workshop.db", "workshop.lock"]);
}

#[test]
fn timestamps_come_back_with_their_records() {
    let (_temp, dir) = filled();
    let store = FolderStore::open(&dir).unwrap();
    let blade = store
        .blades()
        .unwrap()
        .into_iter()
        .find(|blade| store.tip(&blade.id).unwrap().is_some());
    let record = store.tip(&blade.unwrap().id).unwrap().unwrap().name;
    let object = store
        .put_object(b"0 an answer", ObjectKind::Timestamp)
        .unwrap();
    let tie = Attachment {
        record,
        object,
        role: Role::Timestamp,
    };
    store.attach(&tie).unwrap();
    drop(store);
    fs::remove_file(dir.join("workshop.db")).unwrap();
    rebuild(&dir);
    let store = FolderStore::open(&dir).unwrap();
    assert!(store.attachments(&record).unwrap().contains(&tie));
    let kept = store.object_row(&object).unwrap().unwrap();
    assert_eq!(kept.kind, ObjectKind::Timestamp);
}

#[test]
fn the_log_of_a_program_that_died_is_read() {
    let (_temp, dir) = filled();
    let before = dump(&dir);
    // A copy taken while the log is not yet written back is what a crash leaves.
    let store = FolderStore::open(&dir).unwrap();
    conformance::save(&store, "yari-2", None, &serde_json::json!({ "late": true })).unwrap();
    let copy = dir.with_file_name("copy");
    fs::create_dir(&copy).unwrap();
    for name in ["workshop.db", "workshop.db-wal"] {
        fs::copy(dir.join(name), copy.join(name)).unwrap();
    }
    drop(store);
    for name in ["workshop.db", "workshop.db-wal"] {
        fs::copy(copy.join(name), dir.join(name)).unwrap();
    }
    assert_eq!(rebuild(&dir).old_index, OldIndex::Carried);
    let after = dump(&dir);
    assert_eq!(after.len(), before.len() + 1);
    assert!(before.iter().all(|line| after.contains(line)));
}

#[test]
fn sealed_rows_come_back_from_objects_alone() {
    for damage in ["gone", "rubbish", "empty"] {
        let (_temp, dir) = filled();
        // Without a draft to point to, and taken in when issued: then the objects know everything.
        let sealed_lines = |dir: &std::path::Path| -> Vec<String> {
            let connection = Connection::open(dir.join("workshop.db")).unwrap();
            let mut lines = Vec::new();
            for query in [
                "SELECT digest || kind || length FROM object ORDER BY 1",
                "SELECT name || object || blade || sequence || ifnull(previous, '') || record_id || purpose || issuer
                        || issued_at || sealed_at FROM record ORDER BY 1",
                "SELECT record || object || role || link FROM attachment ORDER BY 1",
            ] {
                let mut statement = connection.prepare(query).unwrap();
                let rows = statement.query_map([], |row| row.get(0)).unwrap();
                lines.extend(rows.collect::<Result<Vec<String>, _>>().unwrap());
            }
            lines
        };
        let before = sealed_lines(&dir);
        assert_eq!(before.len(), 14);
        let index = dir.join("workshop.db");
        match damage {
            "gone" => fs::remove_file(&index).unwrap(),
            "rubbish" => fs::write(&index, "rubbish".repeat(1000)).unwrap(),
            _ => fs::write(&index, "").unwrap(),
        }
        assert!(
            FolderStore::open(&dir)
                .unwrap_err()
                .hint()
                .unwrap()
                .contains("rebuild the index from the objects")
        );
        let report = rebuild(&dir);
        assert_eq!(sealed_lines(&dir), before, "{damage}");
        assert_eq!(report.untitled_blades, ["katana-1", "yari-2"]);
        assert_eq!(report.unlisted_keys, ["workshop.pem"]);
        match (damage, report.old_index) {
            ("gone", old) => assert_eq!(old, OldIndex::None),
            ("rubbish", OldIndex::SetAside { file_name, reasons }) => {
                assert_eq!(
                    fs::read(dir.join(&file_name)).unwrap(),
                    "rubbish".repeat(1000).into_bytes()
                );
                assert_eq!(
                    reasons,
                    [
                        "cannot open the index: the index answers that it is damaged or something else: file is not a database"
                    ]
                );
            }
            ("empty", OldIndex::SetAside { reasons, .. }) => {
                assert_eq!(
                    reasons,
                    [format!("the index `{}` is empty", index.display())]
                );
            }
            (damage, old) => panic!("{damage}: {old:?}"),
        }
        sound(&dir);
        // The chain goes on where it was.
        let store = FolderStore::open(&dir).unwrap();
        let tip = store.tip("katana-1").unwrap().unwrap();
        conformance::append(
            &store,
            &conformance::record_bytes("katana-1", 3, Some(tip.name), ""),
        )
        .unwrap();
    }
}

#[test]
fn drafts_survive_a_partly_readable_index() {
    let (_temp, dir) = filled();
    let drafts: Vec<String> = dump(&dir)
        .into_iter()
        .filter(|line| line.starts_with("draft"))
        .collect();
    let connection = Connection::open(dir.join("workshop.db")).unwrap();
    connection
        .execute_batch(
            "PRAGMA foreign_keys = OFF; DROP TABLE setting; DELETE FROM blade WHERE id = 'yari-2'",
        )
        .unwrap();
    drop(connection);
    let report = rebuild(&dir);
    let OldIndex::SetAside { file_name, reasons } = report.old_index else {
        panic!("{:?}", report.old_index)
    };
    assert_eq!(file_name, "workshop.db.damaged-1");
    assert!(dir.join(file_name).exists());
    for (reason, wanted) in reasons.iter().zip([
        "the index is damaged: a row of `standing`",
        "the index is damaged: a row of `record`",
        "table `setting`: no such table",
    ]) {
        assert!(reason.starts_with(wanted), "{reasons:?}");
    }
    assert_eq!(reasons.len(), 3);
    assert_eq!(report.untitled_blades, ["yari-2"]);
    let store = FolderStore::open(&dir).unwrap();
    assert_eq!(store.draft_history("katana-1").unwrap().len(), drafts.len());
    assert_eq!(
        store.records("katana-1").unwrap()[0].draft_revision,
        Some(2)
    );
    assert_eq!(store.setting("name").unwrap(), None);
}

#[test]
fn what_judgements_found_may_be_lost() {
    let (_temp, dir) = filled();
    let store = FolderStore::open(&dir).unwrap();
    let line = store.standing("katana-1").unwrap();
    let derived = Derived {
        blade: "katana-1",
        revision: line.revision.unwrap(),
        tip: line.tip,
        stops: 2,
        at: conformance::TIME,
    };
    assert!(store.note_derived(&derived).unwrap());
    let judged = store.standing("katana-1").unwrap();
    assert_eq!(judged.known_stops(), Some(2));
    drop(store);
    rebuild(&dir);
    let store = FolderStore::open(&dir).unwrap();
    let rebuilt = store.standing("katana-1").unwrap();
    assert_eq!((rebuilt.judged, rebuilt.passes), (None, judged.passes));
    assert!(store.note_derived(&derived).unwrap());
    assert_eq!(store.standing("katana-1").unwrap(), judged);
}

#[test]
fn missing_and_rotten_objects_are_named_and_not_forgotten() {
    let (_temp, dir) = filled();
    let store = FolderStore::open(&dir).unwrap();
    let records = store.records("katana-1").unwrap();
    fs::remove_file(store.object_path(&records[0].object)).unwrap();
    let paper = Digest::of(b"a paper");
    fs::write(store.object_path(&paper), "other").unwrap();
    let before = dump(&dir);
    drop(store);
    let report = rebuild(&dir);
    assert_eq!(report.missing, [records[0].object]);
    assert_eq!(report.rotten, [paper]);
    assert_eq!(dump(&dir), before);
    let problems = FolderStore::open(&dir)
        .unwrap()
        .check(&mut |_| {})
        .unwrap()
        .problems;
    assert_eq!(problems.len(), 2, "{problems:?}");
}

#[test]
fn of_two_records_at_one_place_the_listed_or_followed_one_is_kept() {
    for index_lost in [false, true] {
        let (_temp, dir) = new_folder();
        let store = FolderStore::create(&dir).unwrap();
        conformance::add_blade(&store, "b");
        let first =
            conformance::append(&store, &conformance::record_bytes("b", 1, None, "kept")).unwrap();
        conformance::append(
            &store,
            &conformance::record_bytes("b", 2, Some(first.name), ""),
        )
        .unwrap();
        let kept = store.records("b").unwrap();
        let mut stray = Vec::new();
        // Several, so that the kept one is not the lowest name by chance.
        for number in 0..40 {
            let bytes = conformance::record_bytes("b", 1, None, &format!("stray {number}"));
            let path = store.object_path(&Digest::of(&bytes));
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            fs::write(path, &bytes).unwrap();
            stray.push(sealed::read_record(&bytes).unwrap().name);
        }
        assert!(stray.iter().any(|name| *name < first.name));
        drop(store);
        if index_lost {
            fs::remove_file(dir.join("workshop.db")).unwrap();
        }
        let report = rebuild(&dir);
        stray.sort();
        let left_out: Vec<Digest> = report.left_out.iter().map(|left| left.name).collect();
        assert_eq!(left_out, stray);
        assert_eq!(
            report.left_out[0].to_string(),
            format!(
                "sealed record {} of blade `b` was left out: {} has sequence 1 as well",
                stray[0], first.name
            )
        );
        let names: Vec<Digest> = FolderStore::open(&dir)
            .unwrap()
            .records("b")
            .unwrap()
            .iter()
            .map(|row| row.name)
            .collect();
        assert_eq!(names, kept.iter().map(|row| row.name).collect::<Vec<_>>());
    }
}

#[test]
fn a_gap_stays_visible_and_the_chain_does_not_begin_again() {
    let (_temp, dir) = new_folder();
    let store = FolderStore::create(&dir).unwrap();
    conformance::add_blade(&store, "b");
    let mut previous = None;
    let mut rows = Vec::new();
    for sequence in 1..=3 {
        let bytes = conformance::record_bytes("b", sequence, previous, "");
        let row = store
            .append_record(&NewRecord {
                bytes: &bytes,
                sealed_at: conformance::TIME,
                draft_revision: None,
                disclosures: None,
            })
            .unwrap();
        previous = Some(row.name);
        rows.push(row);
    }
    fs::remove_file(store.object_path(&rows[1].object)).unwrap();
    drop(store);
    fs::remove_file(dir.join("workshop.db")).unwrap();
    assert_eq!(rebuild(&dir).records, 2);
    let store = FolderStore::open(&dir).unwrap();
    assert_eq!(store.tip("b").unwrap().unwrap().sequence, 3);
    let problems = store.check(&mut |_| {}).unwrap().problems;
    assert_eq!(problems.len(), 1);
    assert_eq!(
        problems[0].to_string(),
        "blade `b`: after sequence 1 comes sequence 3, where 2 belongs"
    );
    assert_eq!(
        problems[0].hint(),
        "copy the missing record back from a backup or from the package that was handed over, then rebuild the index"
    );
}

#[test]
fn kinds_are_known_by_their_first_bytes() {
    let (_temp, dir) = new_folder();
    let store = FolderStore::create(&dir).unwrap();
    let things: [(&[u8], ObjectKind); 6] = [
        (b"\xff\xd8\xff\xe0 jpeg", ObjectKind::Photo),
        (b"\x89PNG\r\n", ObjectKind::Photo),
        (b"RIFF1234WEBPVP8", ObjectKind::Photo),
        (b"%PDF-1.7", ObjectKind::Report),
        (b"words", ObjectKind::Document),
        (b"", ObjectKind::Document),
    ];
    for (bytes, kind) in things {
        store.put_object(bytes, kind).unwrap();
    }
    drop(store);
    fs::remove_file(dir.join("workshop.db")).unwrap();
    rebuild(&dir);
    let store = FolderStore::open(&dir).unwrap();
    for (bytes, kind) in things {
        assert_eq!(
            store.object_row(&Digest::of(bytes)).unwrap().unwrap().kind,
            kind,
            "{bytes:?}"
        );
    }
}
