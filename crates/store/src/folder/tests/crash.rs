//! A program that dies at any step: what was acknowledged is there, what was not is not half there.

use std::{
    env, io,
    path::Path,
    process::Command,
    sync::{
        Arc,
        atomic::{AtomicUsize, Ordering},
    },
};

use tangmark_core::Digest;

use super::{FaultPoint, Faults, dump, filled, new_folder};
use crate::{
    Attachment, FolderStore, Limits, ObjectKind, Role, Store, conformance, folder::rebuild::rebuild,
};

const DIR: &str = "TANGMARK_TEST_CRASH_DIR";
const POINT: &str = "TANGMARK_TEST_CRASH_POINT";
const WORK: &str = "TANGMARK_TEST_CRASH_WORK";
/// At which coming to that step it dies, from 1.
const TIME: &str = "TANGMARK_TEST_CRASH_TIME";
/// An invented file of withheld values.
const WITHHELD: &[u8] = b"[\"withheld\"]";

/// Runs in the program that dies; does nothing when run as a test by itself.
#[test]
fn victim() {
    let (Some(dir), Ok(point), Ok(work)) = (env::var_os(DIR), env::var(POINT), env::var(WORK))
    else {
        return;
    };
    let dir = Path::new(&dir);
    let time: usize = env::var(TIME).unwrap().parse().unwrap();
    let came = AtomicUsize::new(0);
    let hook = move |at: FaultPoint| -> io::Result<()> {
        if format!("{at:?}") == point && came.fetch_add(1, Ordering::SeqCst) + 1 == time {
            std::process::abort();
        }
        Ok(())
    };
    let faults = Faults {
        hook: Some(Arc::new(hook)),
    };
    let open = || FolderStore::open_with(dir, Limits::default(), faults.clone()).unwrap();
    match work.as_str() {
        "create" => drop(FolderStore::create_with(
            dir,
            Limits::default(),
            faults.clone(),
        )),
        "put" => drop(open().put_object(b"photo", ObjectKind::Photo)),
        "append" => drop(conformance::append(
            &open(),
            &conformance::record_bytes("b", 1, None, "dies"),
        )),
        "seal" => drop(conformance::append_with(&open(), &sealed(), Some(WITHHELD))),
        "attach" => drop(open().attach(&tie())),
        "key" => drop(open().add_key(&conformance::key("did:key:zNew", "new.pem"), b"secret")),
        "draft" => drop(conformance::save(
            &open(),
            "b",
            None,
            &serde_json::json!({ "n": 1 }),
        )),
        "rebuild" => drop(rebuild(dir, Limits::default(), &mut |_| {}, &faults)),
        other => panic!("unknown work `{other}`"),
    }
}

/// Dies at `point`; panics when it did not come there.
fn die(dir: &Path, work: &str, point: FaultPoint) {
    die_at(dir, work, point, 1);
}

/// Dies when it comes to `point` for the `time`th time.
fn die_at(dir: &Path, work: &str, point: FaultPoint, time: usize) {
    let output = Command::new(env::current_exe().unwrap())
        .args(["--exact", "folder::tests::crash::victim"])
        .env(DIR, dir)
        .env(POINT, format!("{point:?}"))
        .env(WORK, work)
        .env(TIME, time.to_string())
        .output()
        .unwrap();
    let signal = std::os::unix::process::ExitStatusExt::signal(&output.status);
    assert_eq!(
        signal,
        Some(6),
        "{work} at {point:?}: {}",
        String::from_utf8_lossy(&output.stdout)
    );
}

fn sealed() -> Vec<u8> {
    conformance::record_bytes("b", 1, None, "kept")
}

fn tie() -> Attachment {
    let record = crate::read_record(&sealed()).unwrap().name;
    Attachment {
        record,
        object: Digest::of(b"%PDF-"),
        role: Role::Report,
    }
}

/// A workshop with one blade; with a record and a report when asked.
fn prepared(with_record: bool) -> (tempfile::TempDir, std::path::PathBuf) {
    let (temp, dir) = new_folder();
    let store = FolderStore::create(&dir).unwrap();
    conformance::add_blade(&store, "b");
    if with_record {
        conformance::append(&store, &sealed()).unwrap();
        store.put_object(b"%PDF-", ObjectKind::Report).unwrap();
    }
    (temp, dir)
}

const OBJECT_STEPS: [FaultPoint; 8] = [
    FaultPoint::TempCreated,
    FaultPoint::TempWritten,
    FaultPoint::TempSynced,
    FaultPoint::FolderMade,
    FaultPoint::Renamed,
    FaultPoint::FolderSynced,
    FaultPoint::RowWritten,
    FaultPoint::Committed,
];

#[test]
fn while_making_a_workshop() {
    for point in [
        FaultPoint::CreateMarked,
        FaultPoint::CreateFolders,
        FaultPoint::CreateIndex,
    ] {
        let (_temp, dir) = new_folder();
        die(&dir, "create", point);
        let error = FolderStore::open(&dir).unwrap_err();
        assert_eq!(
            error.to_string(),
            format!(
                "the workshop in `{}` was begun and not finished",
                dir.display()
            )
        );
    }
}

#[test]
fn while_putting_an_object() {
    for point in OBJECT_STEPS {
        let (_temp, dir) = prepared(false);
        die(&dir, "put", point);
        let store = FolderStore::open(&dir).unwrap();
        let digest = Digest::of(b"photo");
        let listed = store.object_row(&digest).unwrap().is_some();
        assert_eq!(listed, point == FaultPoint::Committed, "{point:?}");
        let report = store.check(&mut |_| {}).unwrap();
        assert!(report.is_sound(), "{point:?}: {report:?}");
        // Whole bytes without a row are the most that may be left.
        let unlisted = matches!(
            point,
            FaultPoint::Renamed | FaultPoint::FolderSynced | FaultPoint::RowWritten
        );
        assert_eq!(
            report.notices.len(),
            usize::from(unlisted),
            "{point:?}: {report:?}"
        );
        store.put_object(b"photo", ObjectKind::Photo).unwrap();
        assert_eq!(store.object(&digest).unwrap(), b"photo");
        assert!(store.check(&mut |_| {}).unwrap().notices.is_empty());
    }
}

#[test]
fn while_sealing() {
    for point in OBJECT_STEPS.into_iter().chain([FaultPoint::IntentWritten]) {
        let (_temp, dir) = prepared(false);
        die(&dir, "append", point);
        let committed = point == FaultPoint::Committed;
        // A program that has the workshop open meanwhile must not stumble over the remains either.
        let store = FolderStore::open(&dir).unwrap();
        assert_eq!(
            store.records("b").unwrap().len(),
            usize::from(committed),
            "{point:?}"
        );
        let report = store.check(&mut |_| {}).unwrap();
        assert!(
            report.is_sound() && report.notices.is_empty(),
            "{point:?}: {report:?}"
        );
        assert_eq!(report.objects, u64::from(committed), "{point:?}");
        if !committed {
            conformance::append(&store, &sealed()).unwrap();
        }
        let before = store.records("b").unwrap();
        drop(store);
        // The record that was never acknowledged does not come back from the objects.
        let rebuilt = FolderStore::rebuild_index(&dir, Limits::default(), &mut |_| {}).unwrap();
        assert!(rebuilt.left_out.is_empty(), "{point:?}");
        assert_eq!(
            FolderStore::open(&dir).unwrap().records("b").unwrap(),
            before
        );
    }
}

/// A record, what it withholds and the note that ties them are there together or not at all.
#[test]
fn while_sealing_with_withheld_values() {
    let each = [
        FaultPoint::TempCreated,
        FaultPoint::TempSynced,
        FaultPoint::FolderMade,
        FaultPoint::Renamed,
        FaultPoint::FolderSynced,
    ];
    let once = [
        FaultPoint::IntentWritten,
        FaultPoint::RowWritten,
        FaultPoint::Committed,
    ];
    let steps = each
        .into_iter()
        .flat_map(|point| (1..=3).map(move |time| (point, time)))
        .chain(once.map(|point| (point, 1)));
    for (point, time) in steps {
        let (_temp, dir) = prepared(false);
        die_at(&dir, "seal", point, time);
        let committed = point == FaultPoint::Committed;
        let check = |store: &FolderStore, there: bool| {
            assert_eq!(
                store.records("b").unwrap().len(),
                usize::from(there),
                "{point:?} {time}"
            );
            let report = store.check(&mut |_| {}).unwrap();
            assert!(
                report.is_sound() && report.notices.is_empty(),
                "{point:?} {time}: {report:?}"
            );
            assert_eq!(report.objects, 3 * u64::from(there), "{point:?} {time}");
            if there {
                let kept = store.attachments(&tie().record).unwrap();
                assert_eq!(kept.len(), 1, "{point:?} {time}");
                assert_eq!(store.object(&kept[0].object).unwrap(), WITHHELD);
            }
        };
        // Made anew from what lies there, too, it is whole or not there.
        let copy = dir.with_file_name("copy");
        let copied = Command::new("cp").arg("-r").arg(&dir).arg(&copy).status();
        assert!(copied.unwrap().success());
        FolderStore::rebuild_index(&copy, Limits::default(), &mut |_| {}).unwrap();
        check(&FolderStore::open(&copy).unwrap(), committed);

        let store = FolderStore::open(&dir).unwrap();
        check(&store, committed);
        conformance::append_with(&store, &sealed(), Some(WITHHELD)).unwrap();
        check(&store, true);
        drop(store);
        FolderStore::rebuild_index(&dir, Limits::default(), &mut |_| {}).unwrap();
        check(&FolderStore::open(&dir).unwrap(), true);
    }
}

#[test]
fn while_sealing_beside_another_program() {
    for point in [
        FaultPoint::IntentWritten,
        FaultPoint::Renamed,
        FaultPoint::RowWritten,
    ] {
        let (_temp, dir) = prepared(false);
        let other = FolderStore::open(&dir).unwrap();
        die(&dir, "append", point);
        conformance::append(&other, &sealed()).unwrap();
        let report = other.check(&mut |_| {}).unwrap();
        assert!(report.is_sound(), "{point:?}: {report:?}");
        assert_eq!(report.objects, 1);
        assert_eq!(other.records("b").unwrap()[0].object, Digest::of(&sealed()));
    }
}

#[test]
fn while_attaching() {
    for point in OBJECT_STEPS.into_iter().chain([FaultPoint::IntentWritten]) {
        let (_temp, dir) = prepared(true);
        die(&dir, "attach", point);
        let store = FolderStore::open(&dir).unwrap();
        let kept = store.attachments(&tie().record).unwrap();
        assert_eq!(
            kept.len(),
            usize::from(point == FaultPoint::Committed),
            "{point:?}"
        );
        let report = store.check(&mut |_| {}).unwrap();
        assert!(
            report.is_sound() && report.notices.is_empty(),
            "{point:?}: {report:?}"
        );
        store.attach(&tie()).unwrap();
        assert_eq!(store.attachments(&tie().record).unwrap(), [tie()]);
    }
}

#[test]
fn while_keeping_a_key() {
    let points = [
        FaultPoint::TempCreated,
        FaultPoint::TempSynced,
        FaultPoint::KeyNamed,
        FaultPoint::RowWritten,
        FaultPoint::Committed,
    ];
    for point in points {
        let (_temp, dir) = prepared(false);
        die(&dir, "key", point);
        let store = FolderStore::open(&dir).unwrap();
        assert_eq!(
            store.keys().unwrap().len(),
            usize::from(point == FaultPoint::Committed),
            "{point:?}"
        );
        assert!(store.check(&mut |_| {}).unwrap().is_sound());
        store
            .add_key(&conformance::key("did:key:zNew", "new.pem"), b"secret")
            .unwrap();
        assert_eq!(store.key_bytes("did:key:zNew").unwrap(), b"secret");
        let report = store.check(&mut |_| {}).unwrap();
        assert!(
            report.is_sound() && report.notices.is_empty(),
            "{point:?}: {report:?}"
        );
    }
}

#[test]
fn while_saving_a_draft() {
    for (point, revisions) in [(FaultPoint::RowWritten, 0), (FaultPoint::Committed, 1)] {
        let (_temp, dir) = prepared(false);
        die(&dir, "draft", point);
        let store = FolderStore::open(&dir).unwrap();
        assert_eq!(
            store.draft_history("b").unwrap().len(),
            revisions,
            "{point:?}"
        );
    }
}

#[test]
fn while_rebuilding() {
    for point in [FaultPoint::FreshIndex, FaultPoint::Swapped] {
        let (_temp, dir) = filled();
        let before = dump(&dir);
        die(&dir, "rebuild", point);
        assert_eq!(dump(&dir), before, "{point:?}");
        FolderStore::rebuild_index(&dir, Limits::default(), &mut |_| {}).unwrap();
        assert_eq!(dump(&dir), before, "{point:?}");
        assert!(!dir.join("workshop.db.fresh").exists());
    }
}

#[test]
fn while_setting_a_damaged_index_aside() {
    let (_temp, dir) = filled();
    std::fs::write(dir.join("workshop.db"), "no database at all").unwrap();
    die(&dir, "rebuild", FaultPoint::OldMoved);
    assert_eq!(
        std::fs::read(dir.join("workshop.db.damaged-1")).unwrap(),
        b"no database at all"
    );
    FolderStore::rebuild_index(&dir, Limits::default(), &mut |_| {}).unwrap();
    assert_eq!(
        FolderStore::open(&dir)
            .unwrap()
            .records("katana-1")
            .unwrap()
            .len(),
        2
    );
}
