//! What each barrier is good for: every deed is done once with the barriers down, where it must be
//! seen to succeed, and once behind them, where it fails. The runner of these tests can leave
//! barriers out, the product's cannot.
#![allow(clippy::unwrap_used, clippy::expect_used)]

mod common;

use std::{
    fs,
    io::Read as _,
    net::{TcpListener, UdpSocket},
    os::unix::process::ExitStatusExt as _,
    path::{Path, PathBuf},
    process::Command,
    time::Duration,
};

use common::{
    ask, bare, entries, failed, has, host, host_with_only, host_without, limits, mischief, replied,
    reported, state,
};
use serde_json::{Value, json};
use tangmark_host::{Barrier, BarrierState, FaultKind, Limits, PluginOutcome};
use tempfile::TempDir;

/// What landlock says to files and ports.
const DENIED: &str = "refused: Permission denied (os error 13)";
/// What the filter says to calls that are neither open nor deadly.
const NOT_PERMITTED: &str = "refused: Operation not permitted (os error 1)";
/// What is said of a call that is deadly.
const KILLED: &str = "plugin `stress`: it was stopped by the kernel (SIGSYS) for a system call \
    that plugins may not make: network, programs, processes, tracing or the like";

/// A folder with one file in it, at which deeds are aimed.
struct Target {
    folder: TempDir,
    file: PathBuf,
}

impl Target {
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("ledger");
        fs::write(&file, "12345").unwrap();
        Self { folder, file }
    }

    fn beside(&self) -> PathBuf {
        self.folder.path().join("new")
    }

    /// Asserts that nothing was made, changed or taken away.
    #[track_caller]
    fn assert_untouched(&self) {
        assert_eq!(entries(self.folder.path()), ["ledger"]);
        assert_eq!(fs::read(&self.file).unwrap(), b"12345");
    }
}

fn deed(name: &str, path: &Path) -> Value {
    json!({"mischief": name, "path": path})
}

/// Does the deed with every barrier down.
#[track_caller]
fn free(deed: &Value) -> PluginOutcome {
    ask(&bare(), deed.clone())
}

/// Does the deed behind every barrier.
#[track_caller]
fn barred(deed: &Value) -> PluginOutcome {
    ask(&host(limits()), deed.clone())
}

/// Does the deed behind this barrier alone.
#[track_caller]
fn behind(barrier: Barrier, deed: &Value) -> PluginOutcome {
    ask(&host_with_only(barrier), deed.clone())
}

#[track_caller]
fn assert_killed(outcome: PluginOutcome) {
    let ended = failed(outcome);
    assert_eq!(
        (ended.kind, ended.fault.as_str()),
        (FaultKind::Forbidden, KILLED)
    );
}

#[test]
fn the_runner_tells_which_barriers_are_up() {
    for barrier in Barrier::ALL {
        let report = replied(mischief(&host_with_only(barrier), "none")).barriers;
        let expected = |candidate| {
            if candidate == barrier {
                state(barrier)
            } else {
                BarrierState::Absent
            }
        };
        assert_eq!(report.no_new_privileges, BarrierState::Full);
        assert_eq!(report.resource_limits, expected(Barrier::ResourceLimits));
        assert_eq!(report.landlock, expected(Barrier::Landlock));
        assert_eq!(report.seccomp, expected(Barrier::Seccomp));
        has(barrier);
    }
}

#[test]
fn reading_a_file() {
    let target = Target::new();
    let deed = deed("read-file", &target.file);
    assert_eq!(reported(free(&deed)), "done: read 5 bytes");
    let without = host_without(limits(), &[Barrier::Landlock]);
    assert_eq!(reported(ask(&without, deed.clone())), "done: read 5 bytes");
    if has(Barrier::Landlock) {
        assert_eq!(reported(barred(&deed)), DENIED);
        assert_eq!(reported(behind(Barrier::Landlock, &deed)), DENIED);
    }
    target.assert_untouched();
}

#[test]
fn listing_a_folder() {
    let target = Target::new();
    let deed = deed("list-folder", target.folder.path());
    assert_eq!(reported(free(&deed)), "done: 1 entries");
    if has(Barrier::Landlock) {
        assert_eq!(reported(barred(&deed)), DENIED);
        assert_eq!(reported(behind(Barrier::Landlock, &deed)), DENIED);
    }
}

/// A deed on files that filter and landlock each stop alone.
#[track_caller]
fn stopped_twice(target: &Target, deed: &Value) {
    if has(Barrier::Seccomp) {
        assert_eq!(reported(barred(deed)), NOT_PERMITTED);
        assert_eq!(reported(behind(Barrier::Seccomp, deed)), NOT_PERMITTED);
    }
    if has(Barrier::Landlock) {
        assert_eq!(reported(behind(Barrier::Landlock, deed)), DENIED);
    }
    target.assert_untouched();
}

#[test]
fn writing_a_file() {
    let target = Target::new();
    let deed = deed("write-file", &target.beside());
    stopped_twice(&target, &deed);
    // The size limit lets an empty file be made, and ends the process at the first byte.
    let ended = failed(behind(Barrier::ResourceLimits, &deed));
    assert_eq!(
        ended.fault,
        "plugin `stress`: it died (SIGXFSZ) before it answered; it may use 256 MiB of memory"
    );
    assert_eq!(fs::read(target.beside()).unwrap(), b"");
    assert_eq!(reported(free(&deed)), "done: written");
    assert_eq!(fs::read(target.beside()).unwrap(), b"written by a plugin");
}

#[test]
fn appending_to_a_file() {
    let target = Target::new();
    let deed = deed("append-file", &target.file);
    stopped_twice(&target, &deed);
    assert_eq!(reported(free(&deed)), "done: appended");
    assert_eq!(fs::read(&target.file).unwrap(), b"12345 and by a plugin");
}

#[test]
fn making_a_folder() {
    let target = Target::new();
    let deed = deed("make-folder", &target.beside());
    stopped_twice(&target, &deed);
    assert_eq!(reported(free(&deed)), "done: made");
    assert!(target.beside().is_dir());
}

#[test]
fn renaming_a_file() {
    let target = Target::new();
    let deed = deed("rename-file", &target.file);
    stopped_twice(&target, &deed);
    assert_eq!(reported(free(&deed)), "done: renamed");
    assert_eq!(entries(target.folder.path()), ["ledger-2"]);
}

#[test]
fn removing_a_file() {
    let target = Target::new();
    let deed = deed("remove-file", &target.file);
    stopped_twice(&target, &deed);
    assert_eq!(reported(free(&deed)), "done: removed");
    assert_eq!(entries(target.folder.path()), [""; 0]);
}

#[test]
fn using_up_descriptors() {
    let deed = json!({"mischief": "take-descriptors", "count": 100});
    assert_eq!(reported(free(&deed)), "done: 100 descriptors");
    if has(Barrier::ResourceLimits) {
        let refused = "refused: Too many open files (os error 24)";
        assert_eq!(reported(barred(&deed)), refused);
        assert_eq!(reported(behind(Barrier::ResourceLimits, &deed)), refused);
    }
}

#[test]
fn listening_on_a_port() {
    let deed = json!({"mischief": "open-socket"});
    assert_eq!(reported(free(&deed)), "done: listening");
    if has(Barrier::Seccomp) {
        assert_killed(barred(&deed));
        assert_killed(behind(Barrier::Seccomp, &deed));
    }
    if has(Barrier::Landlock) {
        assert_eq!(reported(behind(Barrier::Landlock, &deed)), DENIED);
    }
}

#[test]
fn connecting_to_a_port() {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let address = listener.local_addr().unwrap().to_string();
    let deed = json!({"mischief": "connect", "address": address});
    listener.set_nonblocking(true).unwrap();
    if has(Barrier::Seccomp) {
        assert_killed(barred(&deed));
        assert_killed(behind(Barrier::Seccomp, &deed));
    }
    if has(Barrier::Landlock) {
        assert_eq!(reported(behind(Barrier::Landlock, &deed)), DENIED);
    }
    assert!(listener.accept().is_err(), "nobody may have come through");
    assert_eq!(reported(free(&deed)), "done: connected");
    listener.set_nonblocking(false).unwrap();
    let mut heard = String::new();
    let (mut stream, _) = listener.accept().unwrap();
    stream.read_to_string(&mut heard).unwrap();
    assert_eq!(heard, "sent by a plugin");
}

#[test]
fn sending_a_datagram() {
    let socket = UdpSocket::bind("127.0.0.1:0").unwrap();
    socket
        .set_read_timeout(Some(Duration::from_secs(5)))
        .unwrap();
    let address = socket.local_addr().unwrap().to_string();
    let deed = json!({"mischief": "send-datagram", "address": address});
    if has(Barrier::Seccomp) {
        assert_killed(barred(&deed));
        assert_killed(behind(Barrier::Seccomp, &deed));
    }
    assert_eq!(reported(free(&deed)), "done: sent");
    let mut heard = [0; 64];
    let length = socket.recv(&mut heard).unwrap();
    assert_eq!(&heard[..length], b"sent by a plugin");
    // It was the only one: nothing came through while the barriers were up.
    socket.set_nonblocking(true).unwrap();
    assert!(socket.recv(&mut heard).is_err());
}

#[test]
fn listening_on_a_unix_socket() {
    let target = Target::new();
    let deed = deed("unix-socket", &target.beside());
    if has(Barrier::Seccomp) {
        assert_killed(barred(&deed));
        assert_killed(behind(Barrier::Seccomp, &deed));
    }
    if has(Barrier::Landlock) {
        assert_eq!(reported(behind(Barrier::Landlock, &deed)), DENIED);
    }
    target.assert_untouched();
    assert_eq!(reported(free(&deed)), "done: listening");
    assert!(target.beside().exists());
}

#[test]
fn making_a_pair_of_sockets() {
    let deed = json!({"mischief": "socket-pair"});
    assert_eq!(reported(free(&deed)), "done: paired");
    if has(Barrier::Seccomp) {
        assert_killed(barred(&deed));
        assert_killed(behind(Barrier::Seccomp, &deed));
    }
}

#[test]
fn starting_a_program() {
    let target = Target::new();
    let deed = deed("spawn", &target.beside());
    if has(Barrier::Seccomp) {
        // `posix_spawn` uses `clone3`, whose flags a filter cannot see.
        assert_eq!(reported(barred(&deed)), NOT_PERMITTED);
        assert_eq!(reported(behind(Barrier::Seccomp, &deed)), NOT_PERMITTED);
    }
    target.assert_untouched();
    assert_eq!(reported(free(&deed)), "done: exit status: 0");
    assert!(target.beside().exists(), "the program made a file");
}

#[test]
fn becoming_another_program() {
    let target = Target::new();
    let deed = deed("exec", &target.beside());
    if has(Barrier::Seccomp) {
        assert_killed(barred(&deed));
        assert_killed(behind(Barrier::Seccomp, &deed));
    }
    if has(Barrier::Landlock) {
        assert_eq!(reported(behind(Barrier::Landlock, &deed)), DENIED);
    }
    target.assert_untouched();
    // The program that took the runner's place ends well, without an answer.
    let replaced = failed(free(&deed));
    let text = "plugin `stress`: it ended with exit code 0 before it answered";
    assert_eq!(replaced.fault, text);
    assert!(target.beside().exists(), "the program made a file");
}

#[test]
fn forking() {
    let deed = json!({"mischief": "fork"});
    assert_eq!(reported(free(&deed)), "done: forked");
    if has(Barrier::Seccomp) {
        assert_killed(barred(&deed));
        assert_killed(behind(Barrier::Seccomp, &deed));
    }
}

#[test]
fn signalling_the_parent() {
    let deed = json!({"mischief": "signal"});
    assert_eq!(reported(free(&deed)), "done: signalled");
    if has(Barrier::Seccomp) {
        assert_killed(barred(&deed));
        assert_killed(behind(Barrier::Seccomp, &deed));
    }
    if has(Barrier::Landlock) {
        assert_eq!(reported(behind(Barrier::Landlock, &deed)), NOT_PERMITTED);
    }
}

#[test]
fn ending_another_process() {
    let mut other = Command::new("sleep").arg("600").spawn().unwrap();
    let deed = json!({"mischief": "signal", "process": other.id()});
    if has(Barrier::Seccomp) {
        assert_killed(barred(&deed));
    }
    if has(Barrier::Landlock) {
        assert_eq!(reported(behind(Barrier::Landlock, &deed)), NOT_PERMITTED);
    }
    assert!(other.try_wait().unwrap().is_none(), "it lives");
    assert_eq!(reported(free(&deed)), "done: signalled");
    assert_eq!(other.wait().unwrap().signal(), Some(15));
}

#[test]
fn starting_a_thread() {
    let deed = json!({"mischief": "thread"});
    assert_eq!(reported(free(&deed)), "done: started");
    if has(Barrier::Seccomp) {
        assert_eq!(reported(barred(&deed)), NOT_PERMITTED);
        assert_eq!(reported(behind(Barrier::Seccomp, &deed)), NOT_PERMITTED);
    }
}

#[test]
fn taking_memory() {
    let deed = json!({"mischief": "allocate", "mebibytes": 400});
    let without = host_without(limits(), &[Barrier::ResourceLimits]);
    assert_eq!(reported(free(&deed)), "done: 400 MiB");
    assert_eq!(reported(ask(&without, deed.clone())), "done: 400 MiB");
    if has(Barrier::ResourceLimits) {
        for ended in [barred(&deed), behind(Barrier::ResourceLimits, &deed)] {
            assert_eq!(
                failed(ended).fault,
                "plugin `stress`: it died (SIGABRT) before it answered; it may use 256 MiB of memory"
            );
        }
    }
}

#[test]
fn using_up_the_processor() {
    let deed = json!({"mischief": "spin", "milliseconds": 2_500});
    let one_second = || Limits {
        processor_seconds: 1,
        ..limits()
    };
    let without = host_without(one_second(), &[Barrier::ResourceLimits]);
    assert_eq!(reported(ask(&without, deed)), "done: spun");
    if has(Barrier::ResourceLimits) {
        let ended = failed(mischief(&host(one_second()), "spin"));
        assert_eq!(ended.kind, FaultKind::TimedOut);
        assert_eq!(
            ended.fault,
            "plugin `stress`: it used more than 1 s of processor time"
        );
    }
}

/// The wall clock is the host's own: there is no switch for it, but a later hour.
#[test]
fn taking_time() {
    let deed = json!({"mischief": "nap", "milliseconds": 5_000});
    assert_eq!(reported(barred(&deed)), "done: slept");
    let impatient = host(Limits {
        wall: Duration::from_secs(3),
        ..limits()
    });
    let ended = failed(ask(&impatient, deed));
    assert_eq!(ended.kind, FaultKind::TimedOut);
    assert_eq!(
        ended.fault,
        "plugin `stress`: it did not answer within 3 s and was stopped"
    );
}
