//! The runner's side: one process, one library, one answer.

use std::{
    ffi::OsString,
    fs::File,
    io::{Read, Write},
    os::fd::{AsFd, AsRawFd, OwnedFd},
    path::PathBuf,
};

use rustix::{
    fs::{MemfdFlags, SealFlags},
    process::Signal,
};
use tangmark_core::Digest;
use tangmark_plugin::{Loaded, wire::MAX_DESCRIPTION_BYTES};

use crate::{
    barriers::{self, Allowance, Barrier},
    frame::{self, FrameError, Tag},
    job::{Job, MAX_SMALL_FRAME, RunnerFault},
};

/// Name of the hidden subcommand under which our binary is a runner.
pub const RUNNER_COMMAND: &str = "plugin-runner";

/// Does what the host on the other end of `stdin` says, and answers on `stdout`; returns the exit
/// code. `arguments` are what follows [`RUNNER_COMMAND`]; there are none in this version.
///
/// Changes the whole process for good: raises the barriers, points descriptor 1 at descriptor 2
/// and opens a foreign library. Call it first thing in `main`, from its only thread, and end the
/// process with the code it returns.
pub fn runner_main(arguments: &[OsString], stdin: impl Read, stdout: impl AsFd) -> i32 {
    run(arguments, stdin, stdout, &[])
}

/// As [`runner_main`], without the barriers in `down`: shows in tests that a deed succeeds when
/// nothing stops it.
#[cfg(feature = "barriers-off-for-tests")]
#[doc(hidden)]
pub fn runner_main_with_barriers_down_for_tests(
    arguments: &[OsString],
    stdin: impl Read,
    stdout: impl AsFd,
    down: &[Barrier],
) -> i32 {
    run(arguments, stdin, stdout, down)
}

fn run(arguments: &[OsString], mut stdin: impl Read, stdout: impl AsFd, down: &[Barrier]) -> i32 {
    // The answer goes where only this function writes; what a plugin prints must not mix with it.
    let Ok(answers) = rustix::io::fcntl_dupfd_cloexec(stdout.as_fd(), 3) else {
        return 1;
    };
    let mut answers = File::from(answers);
    if rustix::stdio::dup2_stdout(std::io::stderr()).is_err() {
        return 1;
    }
    let mut stay = false;
    let outcome = if arguments.is_empty() {
        serve(&mut stdin, &mut answers, down, &mut stay)
    } else {
        Err(RunnerFault::Setup(
            "the runner takes no arguments".to_owned(),
        ))
    };
    if let Err(fault) = &outcome {
        let bytes = serde_json::to_vec(fault).unwrap_or_default();
        // When even this fails the host is gone, or sees the pipe end.
        let _ = frame::write(&mut answers, Tag::Fault, &bytes);
    }
    if stay {
        // The host holds the other end until it has looked.
        let _ = std::io::copy(&mut stdin, &mut std::io::sink());
    }
    i32::from(outcome.is_err())
}

/// Everything the host sent, read before any foreign code runs.
struct Orders {
    job: Job,
    library: Vec<u8>,
    describe_request: Vec<u8>,
    check_request: Option<Vec<u8>>,
}

fn serve(
    stdin: impl Read,
    answers: &mut File,
    down: &[Barrier],
    stay: &mut bool,
) -> Result<(), RunnerFault> {
    // The host kills its runner; should the host itself be killed, the kernel does.
    rustix::process::set_parent_process_death_signal(Some(Signal::KILL)).map_err(setup)?;
    let orders = read_orders(stdin)?;
    *stay = orders.job.stay;
    if Digest::of(&orders.library) != orders.job.digest {
        return Err(setup("the library's bytes do not have the ordered digest"));
    }
    let library = sealed_file(&orders.library).map_err(setup)?;
    drop(orders.library);
    let allowance = Allowance {
        memory_bytes: orders.job.memory_bytes,
        processor_seconds: orders.job.processor_seconds,
    };
    let report = barriers::raise(allowance, down).map_err(setup)?;
    send(
        answers,
        Tag::Barriers,
        &serde_json::to_vec(&report).map_err(setup)?,
    )?;

    // From here on foreign code runs, and this process can say anything.
    let path = PathBuf::from(format!("/proc/self/fd/{}", library.as_raw_fd()));
    let loaded = Loaded::open(&path)?;
    let description = loaded.describe(&orders.describe_request, MAX_DESCRIPTION_BYTES)?;
    send(answers, Tag::Description, &description)?;
    if let Some(request) = orders.check_request {
        let reply = loaded.check(&request, orders.job.reply_bytes)?;
        send(answers, Tag::Reply, &reply)?;
    }
    Ok(())
}

fn read_orders(mut stdin: impl Read) -> Result<Orders, RunnerFault> {
    let mut next = |expected: Tag, most: usize| -> Result<Vec<u8>, RunnerFault> {
        let allowed = |tag| if tag == expected { most } else { 0 };
        match frame::read(&mut stdin, allowed) {
            Ok((tag, bytes)) if tag == expected => Ok(bytes),
            Ok((tag, _)) => Err(setup(format!(
                "expected a {expected:?} frame, found {tag:?}"
            ))),
            Err(FrameError::Ended) => Err(setup("the orders ended early")),
            Err(error) => Err(setup(error)),
        }
    };
    let job: Job = serde_json::from_slice(&next(Tag::Job, MAX_SMALL_FRAME)?).map_err(setup)?;
    let library = next(Tag::Library, job.library_bytes)?;
    let describe_request = next(Tag::DescribeRequest, MAX_SMALL_FRAME)?;
    let check_request = if job.check {
        Some(next(Tag::CheckRequest, job.request_bytes)?)
    } else {
        None
    };
    Ok(Orders {
        job,
        library,
        describe_request,
        check_request,
    })
}

/// Puts the library into a memory file that nobody can change any more.
fn sealed_file(bytes: &[u8]) -> std::io::Result<OwnedFd> {
    let flags = MemfdFlags::CLOEXEC | MemfdFlags::ALLOW_SEALING;
    let descriptor = rustix::fs::memfd_create("tangmark-plugin", flags)?;
    let mut file = File::from(descriptor);
    file.write_all(bytes)?;
    let seals = SealFlags::WRITE | SealFlags::GROW | SealFlags::SHRINK | SealFlags::SEAL;
    rustix::fs::fcntl_add_seals(&file, seals)?;
    Ok(file.into())
}

fn send(answers: &mut File, tag: Tag, bytes: &[u8]) -> Result<(), RunnerFault> {
    frame::write(answers, tag, bytes).map_err(setup)
}

#[allow(clippy::needless_pass_by_value, reason = "handed to `map_err`")]
fn setup(reason: impl ToString) -> RunnerFault {
    RunnerFault::Setup(reason.to_string())
}
