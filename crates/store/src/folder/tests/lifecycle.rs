use std::{
    fs, io,
    os::unix::{fs::PermissionsExt, process::CommandExt},
    process::Command,
    sync::atomic::{AtomicUsize, Ordering},
};

use tangmark_core::Digest;

use super::{FaultPoint, filled, new_folder, open_refusing, refusing};
use crate::{
    FolderStore, Limits, ObjectKind, Store, StoreError, conformance, folder::faults::Faults,
};

#[test]
fn behaves_as_every_store() {
    let temp = tempfile::tempdir().unwrap();
    let number = AtomicUsize::new(0);
    let cases = conformance::run(|| {
        let dir = temp
            .path()
            .join(number.fetch_add(1, Ordering::Relaxed).to_string());
        Box::new(FolderStore::create(&dir).unwrap())
    });
    assert_eq!(cases, 24);
}

#[test]
fn what_was_kept_is_there_after_reopening() {
    let (_temp, dir) = filled();
    let store = FolderStore::open(&dir).unwrap();
    assert_eq!(store.records("katana-1").unwrap().len(), 2);
    assert_eq!(store.draft("katana-1").unwrap().unwrap().entry.revision, 3);
    assert!(store.check(&mut |_| {}).unwrap().is_sound());
    assert_eq!(store.dir(), dir);
    let object = store.records("yari-2").unwrap()[0].object;
    assert_eq!(
        Digest::of(&fs::read(store.object_path(&object)).unwrap()),
        object
    );
    assert!(format!("{store:?}").starts_with("FolderStore"));
}

#[test]
fn a_workshop_is_made_in_an_empty_folder_only() {
    let (_temp, dir) = new_folder();
    fs::create_dir(&dir).unwrap();
    fs::write(dir.join("letter.txt"), "x").unwrap();
    let error = FolderStore::create(&dir).unwrap_err();
    assert_eq!(
        error.to_string(),
        format!(
            "cannot make a workshop in `{}`: it already holds `letter.txt`",
            dir.display()
        )
    );
    assert_eq!(error.hint().unwrap(), "name a new or empty folder");
    fs::remove_file(dir.join("letter.txt")).unwrap();
    drop(FolderStore::create(&dir).unwrap());
    assert_eq!(
        FolderStore::create(&dir).unwrap_err().to_string(),
        format!(
            "cannot make a workshop in `{}`: it already holds `keys`",
            dir.display()
        )
    );
}

#[test]
fn other_folders_are_not_opened() {
    let (temp, dir) = new_folder();
    let error = FolderStore::open(&dir).unwrap_err();
    assert_eq!(
        error.to_string(),
        format!(
            "cannot open the folder `{}`: it is not there",
            dir.display()
        )
    );
    let error = FolderStore::open(temp.path()).unwrap_err();
    assert_eq!(
        error.to_string(),
        format!(
            "`{}` is not a workshop: `objects` is not there",
            temp.path().display()
        )
    );
    assert_eq!(
        error.hint().unwrap(),
        "name the folder that holds `workshop.db`, or make a new workshop"
    );
    // Opening left nothing behind.
    assert_eq!(fs::read_dir(temp.path()).unwrap().count(), 0);
    drop(FolderStore::create(&dir).unwrap());
    fs::write(dir.join("workshop.db"), b"").unwrap();
    let error = FolderStore::open(&dir).unwrap_err();
    assert_eq!(
        error.to_string(),
        format!("the index `{}` is empty", dir.join("workshop.db").display())
    );
    fs::remove_file(dir.join("workshop.db")).unwrap();
    let error = FolderStore::open(&dir).unwrap_err();
    assert_eq!(
        error.to_string(),
        format!(
            "the workshop in `{}` has lost its index `workshop.db`",
            dir.display()
        )
    );
    assert_eq!(error.hint().unwrap(), "rebuild the index from the objects");
}

#[test]
fn a_workshop_that_was_only_begun_cannot_be_opened() {
    let (_temp, dir) = new_folder();
    let store = FolderStore::begin(&dir).unwrap();
    conformance::add_blade(&store, "b");
    let error = FolderStore::open(&dir).unwrap_err();
    assert!(matches!(error, StoreError::HalfMade(_)), "{error}");
    store.finish().unwrap();
    assert_eq!(FolderStore::open(&dir).unwrap().blades().unwrap().len(), 1);
}

#[test]
fn a_half_made_workshop_is_named() {
    for point in [
        FaultPoint::CreateMarked,
        FaultPoint::CreateFolders,
        FaultPoint::CreateIndex,
    ] {
        let (_temp, dir) = new_folder();
        let error = FolderStore::create_with(
            &dir,
            Limits::default(),
            refusing(point, io::ErrorKind::StorageFull),
        )
        .unwrap_err();
        assert_eq!(
            error.to_string(),
            format!(
                "cannot make the workshop in `{}`: the disk is full",
                dir.display()
            )
        );
        for error in [
            FolderStore::open(&dir).unwrap_err(),
            FolderStore::create(&dir).unwrap_err(),
        ] {
            assert_eq!(
                error.to_string(),
                format!(
                    "the workshop in `{}` was begun and not finished",
                    dir.display()
                ),
                "{point:?}"
            );
            assert_eq!(
                error.hint().unwrap(),
                format!(
                    "nothing was kept in it yet: delete the folder `{}` and make it again",
                    dir.display()
                )
            );
        }
    }
}

#[test]
fn a_full_disk_is_named_and_nothing_is_kept() {
    let points = [
        FaultPoint::TempCreated,
        FaultPoint::TempWritten,
        FaultPoint::TempSynced,
        FaultPoint::FolderMade,
        FaultPoint::RowWritten,
    ];
    for point in points {
        let (_temp, dir) = new_folder();
        drop(FolderStore::create(&dir).unwrap());
        let store = open_refusing(&dir, point, io::ErrorKind::StorageFull);
        let error = store.put_object(b"photo", ObjectKind::Photo).unwrap_err();
        assert!(
            error.to_string().ends_with("`: the disk is full"),
            "{point:?}: {error}"
        );
        assert_eq!(
            error.hint().unwrap(),
            "nothing was written; make room on the disk, then do the same again"
        );
        assert_eq!(store.object_row(&Digest::of(b"photo")).unwrap(), None);
        let report = store.check(&mut |_| {}).unwrap();
        assert!(report.is_sound(), "{point:?}: {report:?}");
        // Bytes whose row could not be written stay unlisted; nothing else is left.
        let left = usize::from(point == FaultPoint::RowWritten);
        assert_eq!(report.notices.len(), left, "{point:?}: {report:?}");
        drop(store);
        let store = FolderStore::open(&dir).unwrap();
        store.put_object(b"photo", ObjectKind::Photo).unwrap();
        assert!(store.check(&mut |_| {}).unwrap().notices.is_empty());
    }
}

#[test]
fn a_sealing_refused_by_the_system_leaves_nothing() {
    let points = [
        FaultPoint::IntentWritten,
        FaultPoint::Renamed,
        FaultPoint::FolderSynced,
        FaultPoint::RowWritten,
    ];
    for point in points {
        let (_temp, dir) = new_folder();
        let store = FolderStore::create(&dir).unwrap();
        conformance::add_blade(&store, "b");
        drop(store);
        let store = open_refusing(&dir, point, io::ErrorKind::StorageFull);
        let lost = conformance::record_bytes("b", 1, None, "lost");
        let error = conformance::append(&store, &lost).unwrap_err();
        assert!(
            error.to_string().ends_with("`: the disk is full"),
            "{point:?}: {error}"
        );
        let report = store.check(&mut |_| {}).unwrap();
        assert!(
            report.is_sound() && report.notices.is_empty() && report.objects == 0,
            "{point:?}: {report:?}"
        );
        assert!(!dir.join("workshop.sealing").exists());
    }
}

#[test]
fn sqlite_reporting_a_full_disk_is_named() {
    let (_temp, dir) = filled();
    let store = FolderStore::open(&dir).unwrap();
    let before = store.draft("katana-1").unwrap();
    {
        let connection = store.connection();
        let pages: i64 = connection
            .pragma_query_value(None, "page_count", |row| row.get(0))
            .unwrap();
        connection
            .pragma_update_and_check(None, "max_page_count", pages, |_| Ok(()))
            .unwrap();
    }
    let big = serde_json::json!({ "text": "x".repeat(1 << 20) });
    let error = conformance::save(&store, "katana-1", Some(3), &big).unwrap_err();
    assert_eq!(
        error.to_string(),
        "cannot save the draft: the index answers that the disk is full"
    );
    assert_eq!(
        error.hint().unwrap(),
        "nothing was written; make room on the disk, then do the same again"
    );
    assert_eq!(store.draft("katana-1").unwrap(), before);
    assert!(store.check(&mut |_| {}).unwrap().is_sound());
}

#[test]
fn too_large_things_are_refused() {
    let (_temp, dir) = filled();
    let limits = Limits {
        object: 10,
        record: 20,
        draft: 30,
        key: 5,
    };
    let store = FolderStore::open_limited(&dir, limits).unwrap();
    let refused = |result: Result<(), StoreError>, text: &str| {
        let error = result.unwrap_err();
        assert_eq!(error.to_string(), text);
        assert_eq!(
            error.hint().unwrap(),
            "nothing was kept; give a smaller file"
        );
    };
    store.put_object(&[b'a'; 10], ObjectKind::Photo).unwrap();
    refused(
        store.put_object(&[b'a'; 11], ObjectKind::Photo).map(drop),
        "the object is larger than 10 bytes",
    );
    let record = conformance::record_bytes("yari-2", 1, None, "");
    refused(
        conformance::append(&store, &record).map(drop),
        "the sealed record is larger than 20 bytes",
    );
    let body = serde_json::json!({ "n": "x".repeat(40) });
    refused(
        conformance::save(&store, "yari-2", None, &body).map(drop),
        "the draft is larger than 30 bytes",
    );
    refused(
        store.add_key(&conformance::key("did:key:z", "z.pem"), b"123456"),
        "the key file is larger than 5 bytes",
    );
    // A check under smaller limits says so and goes on.
    let report = store.check(&mut |_| {}).unwrap();
    assert_eq!(
        (report.problems.len(), report.notices.len()),
        (3, 0),
        "{report:?}"
    );
    // A file grown on the disk is not read to its end.
    let object = store.records("yari-2").unwrap()[0].object;
    let path = store.object_path(&object);
    refused(
        store.object(&object).map(drop),
        &format!("`{}` is larger than 10 bytes", path.display()),
    );
}

#[test]
fn keys_are_for_the_owner_only() {
    let (_temp, dir) = filled();
    let mode = |path: &str| fs::metadata(dir.join(path)).unwrap().permissions().mode() & 0o777;
    assert_eq!((mode("keys"), mode("keys/workshop.pem")), (0o700, 0o600));
    fs::set_permissions(
        dir.join("keys/workshop.pem"),
        fs::Permissions::from_mode(0o644),
    )
    .unwrap();
    fs::write(dir.join("keys/stray.pem"), "x").unwrap();
    let report = FolderStore::open(&dir).unwrap().check(&mut |_| {}).unwrap();
    assert_eq!(report.problems.len(), 1);
    assert_eq!(
        report.problems[0].to_string(),
        "key file `workshop.pem` has mode 644: others can reach it, 600 is allowed"
    );
    assert_eq!(
        report.notices[0].to_string(),
        "`keys/stray.pem` is not ours and was left alone"
    );
    fs::remove_file(dir.join("keys/workshop.pem")).unwrap();
    let report = FolderStore::open(&dir).unwrap().check(&mut |_| {}).unwrap();
    assert_eq!(
        report.problems[0].to_string(),
        "key file `workshop.pem` is missing"
    );
}

#[test]
fn a_folder_that_may_not_be_written_is_named() {
    for kind in [
        io::ErrorKind::PermissionDenied,
        io::ErrorKind::ReadOnlyFilesystem,
    ] {
        let (_temp, dir) = filled();
        let store = open_refusing(&dir, FaultPoint::TempCreated, kind);
        let error = store.put_object(b"photo", ObjectKind::Photo).unwrap_err();
        assert!(
            error
                .to_string()
                .ends_with("`: this user may not do that there"),
            "{error}"
        );
        assert_eq!(
            error.hint().unwrap(),
            "nothing was written; give this user the right to write in the workshop folder, then do the same again"
        );
    }
}

/// The administrator may write everywhere, so the test runs itself again as nobody when it has to.
#[test]
fn a_read_only_folder_is_named_by_the_system_itself() {
    const DIR: &str = "TANGMARK_TEST_READ_ONLY";
    if let Some(dir) = std::env::var_os(DIR) {
        let error = FolderStore::open(std::path::Path::new(&dir)).unwrap_err();
        assert!(
            matches!(
                &error,
                StoreError::File {
                    trouble: crate::Trouble::Denied,
                    ..
                }
            ),
            "{error:?}"
        );
        assert!(
            error
                .to_string()
                .ends_with("workshop.lock`: this user may not do that there"),
            "{error}"
        );
        return;
    }
    let (temp, dir) = filled();
    let set_mode = |path: &std::path::Path, mode| {
        fs::set_permissions(path, fs::Permissions::from_mode(mode)).unwrap();
    };
    set_mode(temp.path(), 0o755);
    for name in ["workshop.lock", "workshop.db"] {
        set_mode(&dir.join(name), 0o444);
    }
    set_mode(&dir.join("keys"), 0o555);
    set_mode(&dir, 0o555);
    // A copy others may run: the folders above the test binary may be closed to them.
    let program = temp.path().join("tests");
    fs::copy(std::env::current_exe().unwrap(), &program).unwrap();
    set_mode(&program, 0o755);
    let mut command = Command::new(program);
    command.args([
        "--exact",
        "folder::tests::lifecycle::a_read_only_folder_is_named_by_the_system_itself",
    ]);
    command.env(DIR, &dir).current_dir(temp.path());
    if rustix::process::geteuid().is_root() {
        command.uid(65534).gid(65534);
    }
    let output = command.output().unwrap();
    set_mode(&dir, 0o755);
    let said = String::from_utf8_lossy(&output.stdout);
    assert!(
        output.status.success() && said.contains("1 passed"),
        "{said}"
    );
}

#[test]
fn two_stores_on_one_folder_see_each_other() {
    let (_temp, dir) = filled();
    let (one, two) = (
        FolderStore::open(&dir).unwrap(),
        FolderStore::open(&dir).unwrap(),
    );
    conformance::save(&one, "yari-2", None, &serde_json::json!({ "by": "one" })).unwrap();
    let error =
        conformance::save(&two, "yari-2", None, &serde_json::json!({ "by": "two" })).unwrap_err();
    assert!(matches!(
        error,
        StoreError::DraftConflict {
            expected: None,
            newest: Some(1),
            ..
        }
    ));
    let error = FolderStore::rebuild_index(&dir, Limits::default(), &mut |_| {}).unwrap_err();
    assert_eq!(
        error.to_string(),
        format!(
            "the workshop in `{}` is open in another program",
            dir.display()
        )
    );
    assert_eq!(
        error.hint().unwrap(),
        "close every other program that uses this workshop, then do the same again"
    );
}

#[test]
fn several_programs_save_drafts_at_once() {
    const DIR: &str = "TANGMARK_TEST_AT_ONCE";
    const ROUNDS: u64 = 15;
    if let Some(dir) = std::env::var_os(DIR) {
        let store = FolderStore::open(std::path::Path::new(&dir)).unwrap();
        let mut saved = 0;
        while saved < ROUNDS {
            let draft = store.draft("b").unwrap().unwrap();
            let body = serde_json::json!({ "sum": draft.body["sum"].as_u64().unwrap() + 1 });
            match conformance::save(&store, "b", Some(draft.entry.revision), &body) {
                Ok(_) => saved += 1,
                Err(error) => assert!(
                    matches!(error, StoreError::DraftConflict { .. }),
                    "{error:?}"
                ),
            }
        }
        return;
    }
    let (_temp, dir) = new_folder();
    let store = FolderStore::create(&dir).unwrap();
    conformance::add_blade(&store, "b");
    conformance::save(&store, "b", None, &serde_json::json!({ "sum": 0 })).unwrap();
    let programs: Vec<_> = (0..3)
        .map(|_| {
            Command::new(std::env::current_exe().unwrap())
                .args([
                    "--exact",
                    "folder::tests::lifecycle::several_programs_save_drafts_at_once",
                ])
                .env(DIR, &dir)
                .spawn()
                .unwrap()
        })
        .collect();
    for mut program in programs {
        assert!(program.wait().unwrap().success());
    }
    assert_eq!(store.draft("b").unwrap().unwrap().body["sum"], 3 * ROUNDS);
    assert_eq!(
        store.draft_history("b").unwrap().len() as u64,
        3 * ROUNDS + 1
    );
}

#[test]
fn a_name_taken_by_an_earlier_program_is_stepped_over() {
    let (_temp, dir) = filled();
    let store = FolderStore::open(&dir).unwrap();
    // As if a program with this number had died and left its passing names.
    let pid = std::process::id();
    for number in 0..2000 {
        fs::write(dir.join(format!("objects/temp-{pid}-{number}")), "old").unwrap();
    }
    let digest = store.put_object(b"photo", ObjectKind::Photo).unwrap();
    assert_eq!(store.object(&digest).unwrap(), b"photo");
    let report = store.check(&mut |_| {}).unwrap();
    assert_eq!(report.notices.len(), 2000);
    assert_eq!(
        report.notices[0].to_string(),
        format!("`objects/temp-{pid}-0` is left over from a write that did not end")
    );
    drop(store);
    let store = FolderStore::open_with(&dir, Limits::default(), Faults::default()).unwrap();
    assert!(store.check(&mut |_| {}).unwrap().notices.is_empty());
}

mod undo_is_a_stack {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]
        #[test]
        fn whatever_is_saved_and_undone(steps in prop::collection::vec(prop::option::weighted(0.6, 0_u8..4), 1..14)) {
            let (_temp, dir) = new_folder();
            let store = FolderStore::create(&dir).unwrap();
            conformance::add_blade(&store, "b");
            let mut shown: Vec<u8> = Vec::new();
            let mut revision = None;
            for step in steps {
                match step {
                    Some(letter) => {
                        let body = serde_json::json!({ "is": letter });
                        revision = Some(conformance::save(&store, "b", revision, &body).unwrap());
                        if shown.last() != Some(&letter) {
                            shown.push(letter);
                        }
                    }
                    None if shown.len() < 2 => {
                        prop_assert!(store.undo("b", revision.unwrap_or(1), conformance::TIME, "", &[]).is_err());
                    }
                    None => {
                        shown.pop();
                        revision = Some(store.undo("b", revision.unwrap(), conformance::TIME, "", &[]).unwrap().entry.revision);
                    }
                }
                let draft = store.draft("b").unwrap();
                let is = draft.map(|draft| draft.body["is"].clone());
                prop_assert_eq!(is, shown.last().map(|&letter| serde_json::json!(letter)));
            }
        }
    }
}
