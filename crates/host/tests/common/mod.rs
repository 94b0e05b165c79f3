//! What the tests of the host share: the built runner, the misbehaving library, one request.
#![allow(dead_code, clippy::unwrap_used, clippy::expect_used)]

use std::{
    collections::BTreeMap,
    fs,
    path::{Path, PathBuf},
    time::Duration,
};

use serde_json::{Value, json};
use tangmark_core::Digest;
use tangmark_host::{
    Approvals, Barrier, BarrierState, Failed, Host, Library, Limits, PluginOutcome, RUNNER_COMMAND,
    Replied,
};
use tangmark_plugin::CheckRequest;

/// The order inside the misbehaving library, as built.
const NO_ORDER: &[u8] = b"tangmark stress order : none                                    ";

/// Cargo builds the libraries of dev-dependencies beside the test binaries.
pub(crate) fn stress_library() -> PathBuf {
    let test = std::env::current_exe().unwrap();
    let path = test.with_file_name("libtangmark_stress.so");
    assert!(
        path.is_file(),
        "{} should have been built with this test",
        path.display()
    );
    path
}

/// Writes a copy of the misbehaving library whose constructor or description does as ordered.
pub(crate) fn ordered_library(folder: &Path, order: &str) -> PathBuf {
    let mut bytes = fs::read(stress_library()).unwrap();
    let at = bytes
        .windows(NO_ORDER.len())
        .position(|window| window == NO_ORDER)
        .unwrap();
    let mark = NO_ORDER.len() - 40;
    bytes[at + mark..at + NO_ORDER.len()].copy_from_slice(format!("{order:<40}").as_bytes());
    let path = folder.join("libtangmark_stress.so");
    fs::write(&path, bytes).unwrap();
    path
}

/// Short enough for a test that waits for the end of it, long enough for a busy machine.
pub(crate) fn limits() -> Limits {
    Limits {
        wall: Duration::from_secs(30),
        memory_bytes: 256 << 20,
        ..Limits::default()
    }
}

pub(crate) fn host(limits: Limits) -> Host {
    Host::new(
        PathBuf::from(env!("CARGO_BIN_EXE_host-runner")),
        std::env::temp_dir(),
        limits,
    )
}

/// A host whose runner leaves out some barriers.
pub(crate) fn host_without(limits: Limits, down: &[Barrier]) -> Host {
    let arguments = down
        .iter()
        .flat_map(|barrier| ["--without", barrier.name()])
        .chain([RUNNER_COMMAND])
        .map(Into::into)
        .collect();
    host(limits).with_runner_arguments(arguments)
}

/// A host whose runner has this one barrier alone.
pub(crate) fn host_with_only(barrier: Barrier) -> Host {
    let down: Vec<Barrier> = Barrier::ALL
        .into_iter()
        .filter(|candidate| *candidate != barrier)
        .collect();
    host_without(limits(), &down)
}

pub(crate) fn request() -> CheckRequest {
    let sheet = json!({"blade": {"id": "B-1"}, "dimensions": {"nagasa": {"value": "724.0"}}});
    CheckRequest::new(
        "2026-01-02T03:04:05Z",
        "000102030405060708090a0b0c0d0e0f",
        sheet,
    )
}

pub(crate) fn approvals(library: &Library) -> Approvals {
    let digest: Digest = library.digest(1 << 30).unwrap();
    [(library.name.clone(), digest)].into_iter().collect()
}

/// Asks the library at `path` with these settings.
pub(crate) fn ask_at(host: &Host, path: &Path, settings: Value) -> PluginOutcome {
    let library = Library::at(path).unwrap();
    let approvals = approvals(&library);
    let settings = BTreeMap::from([(library.name.clone(), settings)]);
    let mut outcomes = host.check(&[library], &approvals, &request(), &settings);
    assert_eq!(outcomes.len(), 1);
    outcomes.remove(0)
}

pub(crate) fn ask(host: &Host, settings: Value) -> PluginOutcome {
    ask_at(host, &stress_library(), settings)
}

pub(crate) fn mischief(host: &Host, name: &str) -> PluginOutcome {
    ask(host, json!({ "mischief": name }))
}

#[track_caller]
pub(crate) fn failed(outcome: PluginOutcome) -> Failed {
    match outcome {
        PluginOutcome::Failed(failed) => failed,
        PluginOutcome::Replied(replied) => panic!("it replied: {replied:?}"),
    }
}

#[track_caller]
pub(crate) fn replied(outcome: PluginOutcome) -> Replied {
    match outcome {
        PluginOutcome::Replied(replied) => replied,
        PluginOutcome::Failed(failed) => panic!("{failed}\n{}", failed.stderr),
    }
}

/// What the misbehaving plugin reports about its deed.
#[track_caller]
pub(crate) fn reported(outcome: PluginOutcome) -> String {
    replied(outcome).reply.findings.remove(0).message
}

/// How far this kernel has landlock. Full since Linux 6.12; the tests allow for less.
pub(crate) fn landlock() -> BarrierState {
    replied(mischief(&host(limits()), "none")).barriers.landlock
}
