//! What the tests of the host share: the built runner, the misbehaving library, one request.
#![allow(dead_code, clippy::unwrap_used, clippy::expect_used)]

use std::{
    collections::BTreeMap,
    env, fs,
    ops::Deref,
    path::{Path, PathBuf},
    sync::OnceLock,
    time::Duration,
};

use serde_json::{Value, json};
use tangmark_core::Digest;
use tangmark_host::{
    Approvals, Barrier, BarrierReport, BarrierState, Failed, Given, Host, Library, Limits,
    PluginOutcome, RUNNER_COMMAND, Replied,
};
use tangmark_plugin::CheckRequest;
use tempfile::TempDir;

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
    ordered_as("stress", folder, order)
}

fn ordered_as(name: &str, folder: &Path, order: &str) -> PathBuf {
    let mut bytes = fs::read(stress_library()).unwrap();
    let at = bytes
        .windows(NO_ORDER.len())
        .position(|window| window == NO_ORDER)
        .unwrap();
    let mark = NO_ORDER.len() - 40;
    bytes[at + mark..at + NO_ORDER.len()].copy_from_slice(format!("{order:<40}").as_bytes());
    let path = folder.join(format!("libtangmark_{name}.so"));
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

/// A host with a folder of its own for the runners' empty folders, and a second plugin there which
/// is well-behaved: whatever the first one does, the second must be heard.
pub(crate) struct Yard {
    scratch: TempDir,
    aside: TempDir,
    host: Host,
}

impl Deref for Yard {
    type Target = Host;

    fn deref(&self) -> &Host {
        &self.host
    }
}

/// A host whose runner has every barrier.
pub(crate) fn host(limits: Limits) -> Yard {
    host_without(limits, &[])
}

/// A host whose runner leaves out some barriers.
pub(crate) fn host_without(limits: Limits, down: &[Barrier]) -> Yard {
    let (scratch, aside) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let arguments = down
        .iter()
        .flat_map(|barrier| ["--without", barrier.name()])
        .chain([RUNNER_COMMAND])
        .map(Into::into)
        .collect();
    let runner = PathBuf::from(env!("CARGO_BIN_EXE_host-runner"));
    let host = Host::new(runner, scratch.path().to_owned(), limits);
    Yard {
        host: host.with_runner_arguments(arguments),
        scratch,
        aside,
    }
}

/// A host whose runner has no barrier.
pub(crate) fn bare() -> Yard {
    host_without(limits(), &Barrier::ALL)
}

/// A host whose runner has this one barrier alone.
pub(crate) fn host_with_only(barrier: Barrier) -> Yard {
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

/// Asks the library at `path` with these settings, beside the well-behaved plugin `witness`. Then
/// nothing is left over: the witness was heard, and the folder of the runners is empty.
#[track_caller]
pub(crate) fn ask_at(yard: &Yard, path: &Path, settings: Value) -> PluginOutcome {
    let library = Library::at(path).unwrap();
    let witness = ordered_as("witness", yard.aside.path(), "called witness");
    let witness = Library::at(&witness).unwrap();
    let mut allowed = approvals(&library);
    allowed.approve("witness", witness.digest(1 << 30).unwrap());
    let given = Given {
        settings,
        ..Given::default()
    };
    let given = BTreeMap::from([(library.name.clone(), given)]);
    let mut outcomes = yard.check(&[library, witness], &allowed, &request(), &given);
    assert_eq!(outcomes.len(), 2);
    assert_eq!(reported(outcomes.remove(1)), "nothing was ordered");
    assert_eq!(entries(yard.scratch.path()), [""; 0]);
    outcomes.remove(0)
}

/// Names in a folder, in order.
pub(crate) fn entries(folder: &Path) -> Vec<String> {
    let name = |entry: std::io::Result<fs::DirEntry>| entry.unwrap().file_name();
    let mut names: Vec<String> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| name(entry).into_string().unwrap())
        .collect();
    names.sort();
    names
}

#[track_caller]
pub(crate) fn ask(yard: &Yard, settings: Value) -> PluginOutcome {
    ask_at(yard, &stress_library(), settings)
}

#[track_caller]
pub(crate) fn mischief(yard: &Yard, name: &str) -> PluginOutcome {
    ask(yard, json!({ "mischief": name }))
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

/// Tells how far this kernel has a barrier.
pub(crate) fn state(barrier: Barrier) -> BarrierState {
    static REPORT: OnceLock<BarrierReport> = OnceLock::new();
    let report = REPORT.get_or_init(|| replied(mischief(&host(limits()), "none")).barriers);
    match barrier {
        Barrier::ResourceLimits => report.resource_limits,
        Barrier::Landlock => report.landlock,
        Barrier::Seccomp => report.seccomp,
    }
}

/// Tells whether this kernel has the whole barrier. Where it lacks it, what rests on it is not
/// tested: that is said, and is a failure where `CI_NEEDS_BARRIERS=1`.
#[track_caller]
#[allow(clippy::print_stderr, reason = "what was not tested must be seen")]
pub(crate) fn has(barrier: Barrier) -> bool {
    let state = state(barrier);
    if state == BarrierState::Full {
        return true;
    }
    eprintln!("NOT TESTED: {} (here: {state:?})", barrier.name());
    assert_ne!(
        env::var("CI_NEEDS_BARRIERS").as_deref(),
        Ok("1"),
        "this kernel lacks `{}`; run the tests on one that has it",
        barrier.name()
    );
    false
}
