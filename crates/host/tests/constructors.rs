//! A library's constructors run while it is opened, before it was asked anything: the barriers are
//! up by then. Each deed is seen to succeed with the barriers down.
#![allow(clippy::unwrap_used, clippy::expect_used)]

mod common;

use std::time::Duration;

use common::{Yard, ask_at, bare, failed, has, host, limits, ordered_library, reported};
use serde_json::json;
use tangmark_host::{Barrier, FaultKind, Limits, PluginOutcome};

/// Opens a library whose constructor does this, then asks what came of it.
#[track_caller]
fn construct(yard: &Yard, deed: &str) -> PluginOutcome {
    let folder = tempfile::tempdir().unwrap();
    let path = ordered_library(folder.path(), &format!("constructor {deed}"));
    ask_at(yard, &path, json!({"mischief": "report-constructor"}))
}

#[track_caller]
fn assert_killed(deed: &str) {
    if has(Barrier::Seccomp) {
        let ended = failed(construct(&host(limits()), deed));
        assert_eq!(ended.kind, FaultKind::Forbidden, "{ended}");
    }
}

#[test]
fn a_constructor_reads_a_file() {
    let read = reported(construct(&bare(), "read-file"));
    assert!(read.starts_with("done: read "), "{read}");
    if has(Barrier::Landlock) {
        let said = reported(construct(&host(limits()), "read-file"));
        assert_eq!(said, "refused: Permission denied (os error 13)");
    }
}

#[test]
fn a_constructor_listens_on_a_port() {
    let said = reported(construct(&bare(), "open-socket"));
    assert_eq!(said, "done: listening");
    assert_killed("open-socket");
}

#[test]
fn a_constructor_forks() {
    assert_eq!(reported(construct(&bare(), "fork")), "done: forked");
    assert_killed("fork");
}

#[test]
fn a_constructor_becomes_another_program() {
    let replaced = failed(construct(&bare(), "exec"));
    // `touch` finds no such folder: it ran, in the runner's place.
    let text = "plugin `stress`: it ended with exit code 1 before it answered";
    assert_eq!(replaced.fault, text);
    assert_killed("exec");
}

#[test]
fn a_constructor_aborts() {
    for yard in [bare(), host(limits())] {
        let ended = failed(construct(&yard, "abort"));
        assert_eq!(
            ended.fault,
            "plugin `stress`: it died (SIGABRT) before it answered; it may use 256 MiB of memory"
        );
    }
}

#[test]
fn a_constructor_hangs() {
    let impatient = host(Limits {
        wall: Duration::from_secs(3),
        ..limits()
    });
    let ended = failed(construct(&impatient, "hang"));
    assert_eq!(
        ended.fault,
        "plugin `stress`: it did not answer within 3 s and was stopped"
    );
}
