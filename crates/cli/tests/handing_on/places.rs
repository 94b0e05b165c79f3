//! Case 69: files in folders that may only be read, and names that are no text.
#![allow(clippy::print_stderr, reason = "what was not tested is told")]

use std::ffi::OsStr;
use std::fs;
use std::os::unix::ffi::OsStrExt as _;
use std::os::unix::fs::PermissionsExt as _;
use std::os::unix::process::CommandExt as _;
use std::path::Path;
use std::process::Command;

use super::give;
use crate::common::{Bench, text};

/// Nobody, where the tests run as root, whom no right holds back.
const NOBODY: u32 = 65_534;

fn rights(path: &Path, mode: u32) {
    fs::set_permissions(path, fs::Permissions::from_mode(mode)).unwrap();
}

fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).unwrap();
    let mut names: Vec<String> = entries
        .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
        .collect();
    names.sort();
    names
}

/// Lets everybody read a file, or a folder with all that is in it.
fn everybody(path: &Path) {
    if path.is_dir() {
        rights(path, 0o755);
        for entry in fs::read_dir(path).unwrap() {
            everybody(&entry.unwrap().path());
        }
    } else {
        rights(path, 0o644);
    }
}

/// A folder with a record, a package of it in both forms, and a copy of the record whose name is no text.
fn prepared() -> Bench {
    let bench = Bench::with_workshop("Reedbank Polishing");
    bench.put("heron");
    let sealed = bench.seal("heron", "before_work", "work").code(0).json();
    let given = bench.path("given");
    fs::create_dir(&given).unwrap();
    let record = bench.path(text(&sealed, "file"));
    fs::copy(&record, given.join("record.json")).unwrap();
    fs::copy(&record, given.join(OsStr::from_bytes(b"record-\xff.json"))).unwrap();
    give(&bench, "heron", "given/package", &[]).code(0);
    give(&bench, "heron", "given/package.zip", &[]).code(0);
    everybody(&given);
    bench
}

/// The command as somebody for whom a folder can be read-only; none where that cannot be brought about here.
fn as_somebody(bench: &Bench) -> Option<impl Fn() -> Command> {
    let probe = bench.path("probe");
    fs::create_dir(&probe).unwrap();
    rights(&probe, 0o555);
    let is_root = fs::write(probe.join("file"), "x").is_ok();
    rights(bench.folder.path(), 0o755);
    let command = move || {
        let mut command = bench.command(&[]);
        if is_root {
            command.uid(NOBODY).gid(NOBODY);
        }
        command
    };
    let works = command().arg("--version").output();
    works
        .is_ok_and(|done| done.status.success())
        .then_some(command)
}

#[test]
fn case_69_what_may_only_be_read_is_verified_all_the_same() {
    let bench = prepared();
    let memory = bench.path("memory");
    fs::create_dir(&memory).unwrap();
    let Some(command) = as_somebody(&bench) else {
        eprintln!("NOT TESTED: this user cannot run the command as another one");
        return;
    };
    let given = bench.path("given");
    rights(&given, 0o555);
    rights(&memory, 0o555);
    let there = names(&given);
    for file in ["record.json", "package", "package.zip"] {
        for remember in [true, false] {
            let mut command = command();
            command.args(["verify", "--json", "--memory", "memory"]);
            if !remember {
                command.arg("--no-remember");
            }
            let done = command.arg(format!("given/{file}")).output().unwrap();
            let (out, err) = (
                String::from_utf8(done.stdout).unwrap(),
                String::from_utf8(done.stderr).unwrap(),
            );
            assert_eq!(done.status.code(), Some(2), "{file}: {out}\n{err}");
            // A record's key is to be remembered, and cannot be: that is told and changes nothing.
            let noted = err.contains("note: the key is not remembered: ");
            assert_eq!(noted, remember && file == "record.json", "{file}: {err}");
        }
    }
    assert_eq!(names(&given), there);
    assert_eq!(names(&memory), Vec::<String>::new());
    rights(&given, 0o755);
    rights(&memory, 0o755);
}

#[test]
fn case_69_a_name_that_is_no_text_is_shown_as_far_as_it_is() {
    let bench = prepared();
    let name = OsStr::from_bytes(b"given/record-\xff.json");
    for json in [false, true] {
        let mut command = bench.command(&["verify", "--no-remember"]);
        if json {
            command.arg("--json");
        }
        let done = command.arg(name).output().unwrap();
        let out = String::from_utf8(done.stdout).unwrap();
        let err = String::from_utf8_lossy(&done.stderr);
        assert_eq!(done.status.code(), Some(2), "{out}\n{err}");
        assert!(out.contains("record-\u{fffd}.json"), "{out}");
    }
    // It is remembered under a name that can be written, and read back.
    let line = ["verify", "--memory", "their"];
    for code in [2, 0] {
        let done = bench.command(&line).arg(name).output().unwrap();
        assert_eq!(done.status.code(), Some(code));
    }
}
