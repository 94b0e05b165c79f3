use std::{ffi::OsStr, fs, os::unix::ffi::OsStrExt, path::Path};

use rusqlite::Connection;
use tangmark_core::Digest;

use super::filled;
use crate::{FolderStore, IntegrityReport, ObjectKind, Store, StoreError, conformance};

fn check(dir: &Path) -> IntegrityReport {
    FolderStore::open(dir).unwrap().check(&mut |_| {}).unwrap()
}

/// Changes the index behind the program's back.
fn tamper(dir: &Path, sql: &str) {
    let connection = Connection::open(dir.join("workshop.db")).unwrap();
    connection.execute_batch(sql).unwrap();
}

#[test]
fn a_rotten_object_is_named_and_refused() {
    let (_temp, dir) = filled();
    let store = FolderStore::open(&dir).unwrap();
    let object = store.records("yari-2").unwrap()[0].object;
    let path = store.object_path(&object);
    let good = fs::read(&path).unwrap();
    for position in 0..good.len() {
        let mut bytes = good.clone();
        bytes[position] ^= 1;
        fs::write(&path, &bytes).unwrap();
        let error = store.object(&object).unwrap_err();
        assert_eq!(
            error.to_string(),
            format!(
                "object {object} in `{}` is rotten: its bytes have the digest {}",
                path.display(),
                Digest::of(&bytes)
            )
        );
    }
    fs::write(&path, &good[1..]).unwrap();
    let report = store.check(&mut |_| {}).unwrap();
    assert_eq!(report.problems.len(), 1);
    assert_eq!(
        report.problems[0].to_string(),
        format!(
            "object {object} (record) is rotten: its {} bytes have the digest {}",
            good.len() - 1,
            Digest::of(&good[1..])
        )
    );
    assert_eq!(
        report.problems[0].hint(),
        "copy the file back from a backup or from the package that was handed over, then check again"
    );
    fs::remove_file(&path).unwrap();
    assert!(
        matches!(store.object(&object).unwrap_err(), StoreError::ObjectMissing(missing) if missing == object)
    );
    assert_eq!(
        store.check(&mut |_| {}).unwrap().problems[0].to_string(),
        format!("object {object} (record, {} bytes) is missing", good.len())
    );
    fs::create_dir(&path).unwrap();
    let report = store.check(&mut |_| {}).unwrap();
    assert!(
        report.problems[0]
            .to_string()
            .starts_with(&format!("object {object} cannot be read: ")),
        "{report:?}"
    );
}

#[test]
fn putting_the_same_bytes_heals_a_rotten_object() {
    let (_temp, dir) = filled();
    let store = FolderStore::open(&dir).unwrap();
    let digest = Digest::of(b"a paper");
    fs::write(store.object_path(&digest), b"A paper").unwrap();
    assert!(store.object(&digest).is_err());
    store.put_object(b"a paper", ObjectKind::Document).unwrap();
    assert_eq!(store.object(&digest).unwrap(), b"a paper");
}

#[test]
fn foreign_files_are_left_alone() {
    let (_temp, dir) = filled();
    let objects = dir.join("objects");
    let odd = objects.join(OsStr::from_bytes(b"odd\xff\n"));
    fs::write(&odd, "x").unwrap();
    let inner = fs::read_dir(&objects)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .find(|path| path.is_dir())
        .unwrap();
    fs::write(inner.join(OsStr::from_bytes(b"\xfe")), "x").unwrap();
    fs::create_dir(objects.join("zz")).unwrap();
    // A digest in the wrong folder is not an object.
    fs::create_dir_all(objects.join("00")).unwrap();
    fs::write(objects.join("00").join("f".repeat(64)), "x").unwrap();
    let report = check(&dir);
    assert!(report.is_sound(), "{report:?}");
    assert_eq!(report.objects, 9);
    let notices: Vec<String> = report.notices.iter().map(ToString::to_string).collect();
    assert_eq!(notices.len(), 4, "{notices:?}");
    assert!(
        notices.contains(&r"`objects/odd\xff\n` is not ours and was left alone".to_owned()),
        "{notices:?}"
    );
    assert!(notices.contains(&format!(
        "`objects/00/{}` is not ours and was left alone",
        "f".repeat(64)
    )));
    FolderStore::rebuild_index(&dir, crate::Limits::default(), &mut |_| {}).unwrap();
    assert!(odd.exists());
    assert_eq!(check(&dir), report);
}

#[test]
fn sealed_rows_and_history_refuse_every_change() {
    let (_temp, dir) = filled();
    let connection = Connection::open(dir.join("workshop.db")).unwrap();
    let record = "never";
    for (sql, text) in [
        (
            "UPDATE record SET purpose = 'x'",
            "a sealed record is never changed",
        ),
        ("DELETE FROM record", "a sealed record is never removed"),
        (
            "REPLACE INTO record SELECT * FROM record",
            "a sealed record is never replaced",
        ),
        (
            "UPDATE attachment SET role = 'x'",
            "an attachment is never changed",
        ),
        ("DELETE FROM attachment", "an attachment is never removed"),
        (
            "UPDATE draft SET body = '{}'",
            "a saved draft is never changed",
        ),
        ("DELETE FROM draft", "a saved draft is never removed"),
        (
            "REPLACE INTO draft SELECT * FROM draft",
            "a saved draft is never replaced",
        ),
    ] {
        let error = connection.execute_batch(sql).unwrap_err();
        assert!(error.to_string().contains(text), "{record}: {sql}: {error}");
    }
}

#[test]
fn rows_that_lie_are_named() {
    let (_temp, dir) = filled();
    let store = FolderStore::open(&dir).unwrap();
    let records = store.records("katana-1").unwrap();
    drop(store);
    tamper(
        &dir,
        "DROP TRIGGER record_is_final_update;
         UPDATE record SET purpose = 'transfer', issued_at = '2020-01-01T00:00:00Z' WHERE blade = 'yari-2';
         UPDATE record SET sequence = 3 WHERE blade = 'katana-1' AND sequence = 2;",
    );
    let report = check(&dir);
    let problems: Vec<String> = report.problems.iter().map(ToString::to_string).collect();
    let second = records[1].name;
    assert_eq!(
        problems,
        [
            format!(
                "sealed record {second}: the index says sequence `3`, the sealed bytes say `2`"
            ),
            format!(
                "sealed record {}: the index says purpose `transfer`, the sealed bytes say `intake`",
                crate::read_record(&conformance::record_bytes("yari-2", 1, None, ""))
                    .unwrap()
                    .name
            ),
            format!(
                "sealed record {}: the index says time of issue `2020-01-01T00:00:00Z`, the sealed bytes say `{}`",
                crate::read_record(&conformance::record_bytes("yari-2", 1, None, ""))
                    .unwrap()
                    .name,
                conformance::TIME
            ),
            "blade `katana-1`: after sequence 1 comes sequence 3, where 2 belongs".to_owned(),
        ]
    );
    assert_eq!(
        report.problems[0].hint(),
        "copy the whole folder to a safe place, then rebuild the index from the objects"
    );
}

#[test]
fn a_removed_row_does_not_hide_a_record() {
    let (_temp, dir) = filled();
    let store = FolderStore::open(&dir).unwrap();
    let second = store.records("katana-1").unwrap().remove(1);
    drop(store);
    tamper(
        &dir,
        &format!(
            "PRAGMA foreign_keys = OFF; DROP TRIGGER record_is_final_delete;
             DELETE FROM record WHERE name = '{}'; DELETE FROM object WHERE digest = '{}';",
            second.name, second.object
        ),
    );
    let problems = check(&dir).problems;
    assert_eq!(problems.len(), 1);
    assert_eq!(
        problems[0].to_string(),
        format!(
            "object {} is a sealed record of blade `katana-1` (sequence 2) that the index does not list",
            second.object
        )
    );
    FolderStore::rebuild_index(&dir, crate::Limits::default(), &mut |_| {}).unwrap();
    assert_eq!(
        FolderStore::open(&dir)
            .unwrap()
            .records("katana-1")
            .unwrap()[1],
        second
    );
}

#[test]
fn dangling_rows_are_named() {
    let (_temp, dir) = filled();
    tamper(
        &dir,
        "PRAGMA foreign_keys = OFF; DELETE FROM blade WHERE id = 'yari-2';",
    );
    let problems = check(&dir).problems;
    let told: Vec<String> = problems.iter().map(ToString::to_string).collect();
    for table in ["record", "standing"] {
        let wanted = format!(
            "the index is damaged: a row of `{table}` names a row of `blade` that is not there"
        );
        assert!(told.contains(&wanted), "{told:?}");
    }
    assert_eq!(told.len(), 2);
}

#[test]
fn a_spoilt_index_is_an_error_and_not_a_panic() {
    let (_temp, dir) = filled();
    drop(FolderStore::open(&dir).unwrap());
    let path = dir.join("workshop.db");
    let good = fs::read(&path).unwrap();
    // Every page in turn filled with rubbish, the header among them.
    let mut refused = 0;
    for page in 0..good.len() / 4096 {
        let mut bytes = good.clone();
        bytes[page * 4096..(page + 1) * 4096].fill(0xa5);
        fs::write(&path, bytes).unwrap();
        let seen = FolderStore::open(&dir).and_then(|store| store.check(&mut |_| {}));
        match seen {
            Ok(report) => refused += usize::from(!report.is_sound()),
            Err(error) => {
                assert!(error.hint().is_some(), "{error:?}");
                refused += 1;
            }
        }
    }
    assert_eq!(refused, good.len() / 4096);
}
