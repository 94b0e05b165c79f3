//! What each barrier is good for: the deed fails behind it, and succeeds when it is down. The
//! runner of these tests can leave barriers out, the product's cannot.
#![allow(clippy::unwrap_used, clippy::expect_used)]

mod common;

use std::{fs, time::Duration};

use common::{
    ask, ask_at, failed, host, host_with_only, host_without, landlock, limits, mischief,
    ordered_library, replied, reported,
};
use serde_json::json;
use tangmark_host::{Barrier, BarrierState, FaultKind, Host, Limits};

/// What landlock says to files and ports.
const DENIED: &str = "refused: Permission denied (os error 13)";
/// What the filter says to calls that are neither open nor deadly.
const NOT_PERMITTED: &str = "refused: Operation not permitted (os error 1)";

fn bare() -> Host {
    host_without(limits(), &Barrier::ALL)
}

#[test]
fn the_runner_tells_which_barriers_are_up() {
    let here = landlock();
    for barrier in Barrier::ALL {
        let report = replied(mischief(&host_with_only(barrier), "none")).barriers;
        let expected = |candidate, state| {
            if candidate == barrier {
                state
            } else {
                BarrierState::Absent
            }
        };
        assert_eq!(report.no_new_privileges, BarrierState::Full);
        let limits = expected(Barrier::ResourceLimits, BarrierState::Full);
        assert_eq!(report.resource_limits, limits);
        assert_eq!(report.landlock, expected(Barrier::Landlock, here));
        assert_eq!(
            report.seccomp,
            expected(Barrier::Seccomp, BarrierState::Full)
        );
    }
}

#[test]
fn reading_files_is_stopped_by_landlock() {
    let folder = tempfile::tempdir().unwrap();
    let secret = folder.path().join("secret");
    fs::write(&secret, "12345").unwrap();
    let settings = json!({"mischief": "read-file", "path": secret});
    let read = "done: read 5 bytes";
    for host in [bare(), host_without(limits(), &[Barrier::Landlock])] {
        assert_eq!(reported(ask(&host, settings.clone())), read);
    }
    // A kernel without landlock leaves reading open; the report says that it is absent.
    let behind = if landlock() == BarrierState::Absent {
        read
    } else {
        DENIED
    };
    for host in [host(limits()), host_with_only(Barrier::Landlock)] {
        assert_eq!(reported(ask(&host, settings.clone())), behind);
    }
}

#[test]
fn writing_and_removing_files_is_stopped_three_times() {
    let folder = tempfile::tempdir().unwrap();
    let target = folder.path().join("target");
    let writing = json!({"mischief": "write-file", "path": target});
    let removing = json!({"mischief": "remove-file", "path": target});
    let mut behind = vec![
        (host(limits()), NOT_PERMITTED),
        (host_with_only(Barrier::Seccomp), NOT_PERMITTED),
    ];
    if landlock() != BarrierState::Absent {
        behind.push((host_with_only(Barrier::Landlock), DENIED));
    }
    for (host, refused) in &behind {
        assert_eq!(reported(ask(host, writing.clone())), *refused);
        assert!(!target.exists());
    }
    // The size limit lets an empty file be made, and ends the process at the first byte.
    let ended = failed(ask(
        &host_with_only(Barrier::ResourceLimits),
        writing.clone(),
    ));
    assert!(ended.fault.contains("SIGXFSZ"), "{ended}");
    assert_eq!(fs::read(&target).unwrap(), b"");
    assert_eq!(reported(ask(&bare(), writing)), "done: written");
    assert_eq!(fs::read(&target).unwrap(), b"written by a plugin");

    for (host, refused) in &behind {
        assert_eq!(reported(ask(host, removing.clone())), *refused);
        assert!(target.exists());
    }
    assert_eq!(reported(ask(&bare(), removing)), "done: removed");
    assert!(!target.exists());
}

#[test]
fn the_network_is_stopped_by_the_filter_and_by_landlock() {
    let ended = failed(mischief(&host(limits()), "open-socket"));
    assert_eq!(ended.kind, FaultKind::Forbidden);
    assert_eq!(
        ended.fault,
        "plugin `stress`: it was stopped by the kernel (SIGSYS) for a system call that plugins \
         may not make: network, programs, processes, tracing or the like"
    );
    let done = "done: listening";
    // Ports are landlock's since Linux 6.7; before that it is up in part only.
    if landlock() == BarrierState::Full {
        let said = reported(mischief(&host_with_only(Barrier::Landlock), "open-socket"));
        assert_eq!(said, DENIED);
        let without = host_without(limits(), &[Barrier::Landlock, Barrier::Seccomp]);
        assert_eq!(reported(mischief(&without, "open-socket")), done);
    }
    assert_eq!(reported(mischief(&bare(), "open-socket")), done);
}

#[test]
fn programs_and_processes_are_stopped_by_the_filter() {
    for host in [host(limits()), host_with_only(Barrier::Seccomp)] {
        // `posix_spawn` uses `clone3`, whose flags a filter cannot see.
        assert_eq!(reported(mischief(&host, "spawn")), NOT_PERMITTED);
        for deed in ["fork", "exec"] {
            assert_eq!(
                failed(mischief(&host, deed)).kind,
                FaultKind::Forbidden,
                "{deed}"
            );
        }
    }
    assert_eq!(reported(mischief(&bare(), "spawn")), "done: exit status: 0");
    assert_eq!(reported(mischief(&bare(), "fork")), "done: forked");
    // The program that took the runner's place ends well, without an answer.
    let replaced = failed(mischief(&bare(), "exec"));
    let text = "plugin `stress`: it ended with exit code 0 before it answered";
    assert_eq!(replaced.fault, text);
}

#[test]
fn signals_to_others_are_stopped_by_the_filter_and_by_landlock() {
    assert_eq!(
        failed(mischief(&host(limits()), "signal")).kind,
        FaultKind::Forbidden
    );
    if landlock() == BarrierState::Full {
        let said = reported(mischief(&host_with_only(Barrier::Landlock), "signal"));
        assert_eq!(said, NOT_PERMITTED);
    }
    assert_eq!(reported(mischief(&bare(), "signal")), "done: could signal");
}

#[test]
fn threads_are_stopped_by_the_filter_with_an_error_an_author_can_read() {
    assert_eq!(reported(mischief(&host(limits()), "thread")), NOT_PERMITTED);
    let without = host_without(limits(), &[Barrier::Seccomp, Barrier::ResourceLimits]);
    assert_eq!(reported(mischief(&without, "thread")), "done: started");
}

#[test]
fn memory_is_stopped_by_the_resource_limits() {
    let settings = json!({"mischief": "allocate", "mebibytes": 400});
    for host in [host(limits()), host_with_only(Barrier::ResourceLimits)] {
        let ended = failed(ask(&host, settings.clone()));
        assert!(ended.fault.contains("SIGABRT"), "{ended}");
    }
    let without = host_without(limits(), &[Barrier::ResourceLimits]);
    assert_eq!(reported(ask(&without, settings)), "done: 400 MiB");
}

#[test]
fn constructors_run_behind_the_barriers() {
    let folder = tempfile::tempdir().unwrap();
    let construct = |host: &Host, deed: &str| {
        let path = ordered_library(folder.path(), &format!("constructor {deed}"));
        ask_at(host, &path, json!({"mischief": "report-constructor"}))
    };
    assert!(reported(construct(&bare(), "read-file")).starts_with("done: read "));
    assert_eq!(
        reported(construct(&bare(), "open-socket")),
        "done: listening"
    );
    assert_eq!(reported(construct(&bare(), "fork")), "done: forked");

    let barred = host(limits());
    if landlock() != BarrierState::Absent {
        assert_eq!(reported(construct(&barred, "read-file")), DENIED);
    }
    for deed in ["open-socket", "fork", "exec"] {
        assert_eq!(
            failed(construct(&barred, deed)).kind,
            FaultKind::Forbidden,
            "{deed}"
        );
    }
    assert_eq!(failed(construct(&barred, "abort")).kind, FaultKind::Crashed);
    let impatient = host(Limits {
        wall: Duration::from_millis(1_500),
        ..limits()
    });
    assert_eq!(
        failed(construct(&impatient, "hang")).kind,
        FaultKind::TimedOut
    );
}
