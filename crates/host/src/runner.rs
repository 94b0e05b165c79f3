//! The runner's side: one process, one library, one answer.

use std::{
    ffi::OsString,
    fs::File,
    io::Read,
    os::fd::{AsFd, AsRawFd, BorrowedFd},
    path::PathBuf,
};

use rustix::process::Signal;
use tangmark_plugin::{Loaded, wire::MAX_DESCRIPTION_BYTES};

use crate::{
    barriers::{self, Allowance, Barrier},
    frame::{self, FrameError, Tag},
    job::{Job, MAX_SMALL_FRAME, RunnerFault},
    library::SEALS,
};

/// Name of the hidden subcommand under which our binary is a runner.
pub const RUNNER_COMMAND: &str = "plugin-runner";

/// Opens the library that is `stdin`, does with it what the host on the other end of `stdout` (a
/// socket) says, and answers there; returns the exit code. `arguments` are what follows
/// [`RUNNER_COMMAND`]; there are none in this version.
///
/// Changes the whole process for good: raises the barriers, points descriptor 1 at descriptor 2
/// and opens a foreign library. Call it first thing in `main`, from its only thread, and end the
/// process with the code it returns.
pub fn runner_main(arguments: &[OsString], stdin: impl AsFd, stdout: impl AsFd) -> i32 {
    run(arguments, stdin, stdout, &[])
}

/// As [`runner_main`], without the barriers in `down`: shows in tests that a deed succeeds when
/// nothing stops it.
#[cfg(feature = "barriers-off-for-tests")]
#[doc(hidden)]
pub fn runner_main_with_barriers_down_for_tests(
    arguments: &[OsString],
    stdin: impl AsFd,
    stdout: impl AsFd,
    down: &[Barrier],
) -> i32 {
    run(arguments, stdin, stdout, down)
}

fn run(arguments: &[OsString], stdin: impl AsFd, stdout: impl AsFd, down: &[Barrier]) -> i32 {
    // The talk goes where only this function writes; what a plugin prints must not mix with it.
    let Ok(talk) = rustix::io::fcntl_dupfd_cloexec(stdout.as_fd(), 3) else {
        return 1;
    };
    let mut talk = File::from(talk);
    if rustix::stdio::dup2_stdout(std::io::stderr()).is_err() {
        return 1;
    }
    let mut stay = false;
    let outcome = if arguments.is_empty() {
        serve(stdin.as_fd(), &mut talk, down, &mut stay)
    } else {
        Err(RunnerFault::Setup(
            "the runner takes no arguments".to_owned(),
        ))
    };
    if let Err(fault) = &outcome {
        let bytes = serde_json::to_vec(fault).unwrap_or_default();
        // When even this fails the host is gone, or sees the end.
        let _ = frame::write(&mut talk, Tag::Fault, &bytes);
    }
    if stay {
        // The host holds the other end until it has looked.
        let _ = std::io::copy(&mut talk, &mut std::io::sink());
    }
    i32::from(outcome.is_err())
}

/// Everything the host sent, read before any foreign code runs.
struct Orders {
    job: Job,
    describe_request: Vec<u8>,
    check_request: Option<Vec<u8>>,
}

fn serve(
    library: BorrowedFd<'_>,
    talk: &mut File,
    down: &[Barrier],
    stay: &mut bool,
) -> Result<(), RunnerFault> {
    // The host kills its runner; should the host itself be killed, the kernel does.
    rustix::process::set_parent_process_death_signal(Some(Signal::KILL)).map_err(setup)?;
    let orders = read_orders(&mut *talk)?;
    *stay = orders.job.stay;
    // The very bytes whose digest the host found approved: nobody can change them any more.
    let seals = rustix::fs::fcntl_get_seals(library).map_err(setup)?;
    if !seals.contains(SEALS) {
        return Err(setup("the library's file is not sealed"));
    }
    let allowance = Allowance {
        memory_bytes: orders.job.memory_bytes,
        processor_seconds: orders.job.processor_seconds,
    };
    let report = barriers::raise(allowance, down).map_err(setup)?;
    send(
        talk,
        Tag::Barriers,
        &serde_json::to_vec(&report).map_err(setup)?,
    )?;

    // From here on foreign code runs, and this process can say anything.
    let path = PathBuf::from(format!("/proc/self/fd/{}", library.as_raw_fd()));
    let loaded = Loaded::open(&path)?;
    let description = loaded.describe(&orders.describe_request, MAX_DESCRIPTION_BYTES)?;
    send(talk, Tag::Description, &description)?;
    if let Some(request) = orders.check_request {
        let reply = loaded.check(&request, orders.job.reply_bytes)?;
        send(talk, Tag::Reply, &reply)?;
    }
    Ok(())
}

fn read_orders(mut talk: impl Read) -> Result<Orders, RunnerFault> {
    let mut next = |expected: Tag, most: usize| -> Result<Vec<u8>, RunnerFault> {
        let allowed = |tag| if tag == expected { most } else { 0 };
        match frame::read(&mut talk, allowed) {
            Ok((tag, bytes)) if tag == expected => Ok(bytes),
            Ok((tag, _)) => Err(setup(format!(
                "expected a {expected:?} frame, found {tag:?}"
            ))),
            Err(FrameError::Ended) => Err(setup("the orders ended early")),
            Err(error) => Err(setup(error)),
        }
    };
    let job: Job = serde_json::from_slice(&next(Tag::Job, MAX_SMALL_FRAME)?).map_err(setup)?;
    let describe_request = next(Tag::DescribeRequest, MAX_SMALL_FRAME)?;
    let check_request = if job.check {
        Some(next(Tag::CheckRequest, job.request_bytes)?)
    } else {
        None
    };
    Ok(Orders {
        job,
        describe_request,
        check_request,
    })
}

fn send(talk: &mut File, tag: Tag, bytes: &[u8]) -> Result<(), RunnerFault> {
    frame::write(talk, tag, bytes).map_err(setup)
}

#[allow(clippy::needless_pass_by_value, reason = "handed to `map_err`")]
fn setup(reason: impl ToString) -> RunnerFault {
    RunnerFault::Setup(reason.to_string())
}
