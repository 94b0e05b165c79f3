//! Trying one library: the answer comes with what was asked, what was written, and what was used.
#![allow(clippy::unwrap_used, clippy::expect_used)]

mod common;

use std::time::Duration;

use common::{failed, host, limits, ordered_library, replied, request, stress_library};
use serde_json::{Value, json};
use tangmark_host::{Attempt, FaultKind, Library, Limits};
use tangmark_plugin::CheckRequest;

fn attempt(limits: Limits, mischief: &str) -> Attempt {
    let library = Library::at(&stress_library()).unwrap();
    let asked = CheckRequest {
        settings: json!({"mischief": mischief, "mebibytes": 100, "milliseconds": 400}),
        tables: json!({"stones": [{"name": "first"}]}),
        ..request()
    };
    host(limits).attempt(&library, &asked)
}

#[test]
fn an_answer_comes_with_what_it_took() {
    let tried = attempt(limits(), "allocate");
    let asked: Value = serde_json::from_slice(&tried.request).unwrap();
    assert_eq!(asked["settings"]["mebibytes"], 100);
    assert_eq!(asked["tables"]["stones"][0]["name"], "first");
    assert_eq!(asked["sheet"], request().sheet);
    let used = tried.used.unwrap();
    assert!(used.address_space_bytes > 100 << 20, "{used:?}");
    assert!(used.address_space_bytes <= 256 << 20, "{used:?}");
    assert!(used.memory_bytes < used.address_space_bytes, "{used:?}");
    assert_eq!(tried.barriers.unwrap(), replied(tried.outcome).barriers);
}

#[test]
fn time_and_noise_are_told() {
    let tried = attempt(limits(), "spin");
    assert!(tried.wall.unwrap() >= Duration::from_millis(400));
    if let Some(processor) = tried.used.unwrap().processor {
        assert!(processor < limits().wall, "{processor:?}");
        assert!(processor > Duration::from_millis(1), "{processor:?}");
    }
    assert_eq!(tried.stderr, "");
    let loud = attempt(limits(), "shout");
    assert!(loud.stderr.starts_with("noise 0\n"), "{}", loud.stderr);
    assert!(loud.stderr.len() <= limits().stderr_bytes);
}

#[test]
fn faults_come_with_what_could_still_be_seen() {
    let refused = attempt(limits(), "refuse");
    assert!(refused.used.is_some());
    assert_eq!(failed(refused.outcome).kind, FaultKind::Refused);
    let impatient = Limits {
        wall: Duration::from_secs(1),
        ..limits()
    };
    let hung = attempt(impatient, "hang");
    assert!(hung.used.is_some() && hung.barriers.is_some());
    assert_eq!(failed(hung.outcome).kind, FaultKind::TimedOut);
    // A dead process has given everything back: nobody can tell what it had.
    let died = attempt(limits(), "abort");
    assert!(died.used.is_none() && died.barriers.is_some() && died.wall.is_some());
    assert_eq!(failed(died.outcome).kind, FaultKind::Crashed);
}

#[test]
fn a_file_that_is_none_is_a_fault_too() {
    let folder = tempfile::tempdir().unwrap();
    let path = ordered_library(folder.path(), "none");
    let library = Library::at(&path).unwrap();
    std::fs::remove_file(&path).unwrap();
    let tried = host(limits()).attempt(&library, &request());
    assert!(tried.wall.is_none() && tried.used.is_none() && tried.barriers.is_none());
    assert_eq!(failed(tried.outcome).kind, FaultKind::Unreadable);
}
