//! One conversation with one runner, from start to kill.

use std::{
    ffi::OsString,
    io::Read,
    os::{
        fd::OwnedFd,
        unix::{
            net::UnixStream,
            process::{CommandExt as _, ExitStatusExt as _},
        },
    },
    path::Path,
    process::{Child, Command, ExitStatus, Stdio},
    sync::{Arc, Mutex, PoisonError, mpsc},
    thread,
    time::{Duration, Instant},
};

use rustix::process::{Pid, Signal, kill_process_group};
use tangmark_plugin::wire::MAX_DESCRIPTION_BYTES;

use crate::{
    Limits,
    frame::{self, FrameError, Tag},
    job::MAX_SMALL_FRAME,
    usage::Used,
};

/// What a runner is given.
pub(crate) struct Orders {
    /// The library, sealed.
    pub(crate) library: OwnedFd,
    /// What is said, in order.
    pub(crate) frames: Vec<(Tag, Vec<u8>)>,
}

/// How a conversation went: what the runner said, and how it ended.
#[derive(Debug)]
pub(crate) struct Conversation {
    /// The frames, in order.
    pub(crate) frames: Vec<(Tag, Vec<u8>)>,
    /// Why no more frames came.
    pub(crate) end: End,
    /// What came on the error stream, cut to size.
    pub(crate) stderr: Vec<u8>,
    /// From the start of the runner to the last byte.
    pub(crate) wall: Duration,
    /// What it used; `None` when it was not watched, or ended too early to be looked at.
    pub(crate) used: Option<Used>,
}

/// Why a conversation ended.
#[derive(Debug)]
pub(crate) enum End {
    /// The awaited frame came.
    Answered,
    /// The time was over.
    TimedOut,
    /// A frame was longer than allowed.
    Flooded,
    /// Bytes that are no frame.
    Garbled(String),
    /// The runner ended before the awaited frame.
    Died(ExitStatus),
}

/// How long the end of a dying process, or the rest of its error stream, is awaited.
const GRACE: Duration = Duration::from_millis(200);

/// Starts a runner in the empty folder `folder` with no environment, gives it `orders`, and reads
/// frames until one tagged `awaited` or [`Tag::Fault`] comes. The runner and whatever it started
/// are dead when this returns.
pub(crate) fn converse(
    runner: &Path,
    arguments: &[OsString],
    folder: &Path,
    limits: &Limits,
    orders: Orders,
    awaited: Tag,
    watched: bool,
) -> std::io::Result<Conversation> {
    let start = Instant::now();
    let deadline = start + limits.wall;
    let (mut ours, theirs) = UnixStream::pair()?;
    let mut speaking = ours.try_clone()?;
    let mut command = Command::new(runner);
    command
        .args(arguments)
        .env_clear()
        .current_dir(folder)
        .stdin(Stdio::from(orders.library))
        .stdout(Stdio::from(OwnedFd::from(theirs)))
        .stderr(Stdio::piped())
        // A group of its own, so that one signal reaches whatever it may have started.
        .process_group(0);
    let mut guard = Guard(command.spawn()?);
    // The command holds the runner's end: as long as it lives, the end of the runner is not seen.
    drop(command);
    let said = orders.frames;
    // A runner that does not read must not keep us from watching the clock.
    thread::spawn(move || {
        for (tag, bytes) in said {
            if frame::write(&mut speaking, tag, &bytes).is_err() {
                break;
            }
        }
    });
    let stderr = guard
        .0
        .stderr
        .take()
        .map(|pipe| Capture::start(pipe, limits.stderr_bytes));
    let (sender, frames) = mpsc::channel();
    let reply_bytes = limits.reply_bytes;
    // Held until the runner was looked at: one that is watched stays until this end is closed.
    let held = ours.try_clone()?;
    thread::spawn(move || {
        let most = |tag| match tag {
            Tag::Reply => reply_bytes,
            Tag::Description => MAX_DESCRIPTION_BYTES,
            Tag::Barriers | Tag::Fault => MAX_SMALL_FRAME,
            _ => 0,
        };
        loop {
            let frame = frame::read(&mut ours, most);
            let last = frame.is_err();
            if sender.send(frame).is_err() || last {
                break;
            }
        }
    });
    let (frames, end) = listen(&mut guard, &frames, deadline, awaited);
    let wall = start.elapsed();
    let used = watched.then(|| Used::of(guard.0.id())).flatten();
    drop(held);
    drop(guard);
    let stderr = stderr.map(Capture::finish).unwrap_or_default();
    Ok(Conversation {
        frames,
        end,
        stderr,
        wall,
        used,
    })
}

fn listen(
    guard: &mut Guard,
    incoming: &mpsc::Receiver<Result<(Tag, Vec<u8>), FrameError>>,
    deadline: Instant,
    awaited: Tag,
) -> (Vec<(Tag, Vec<u8>)>, End) {
    let mut frames = Vec::new();
    loop {
        let left = deadline.saturating_duration_since(Instant::now());
        match incoming.recv_timeout(left) {
            Ok(Ok((tag, bytes))) => {
                frames.push((tag, bytes));
                if tag == awaited || tag == Tag::Fault {
                    return (frames, End::Answered);
                }
                // Three frames are the longest conversation there is.
                if frames.len() >= 3 {
                    return (
                        frames,
                        End::Garbled("more frames than asked for".to_owned()),
                    );
                }
            }
            Ok(Err(FrameError::TooLong { .. })) => return (frames, End::Flooded),
            Ok(Err(FrameError::UnknownTag(_))) => {
                return (frames, End::Garbled("bytes that are no frame".to_owned()));
            }
            Ok(Err(_)) | Err(mpsc::RecvTimeoutError::Disconnected) => {
                let end = guard.wait_until(deadline).map_or(End::TimedOut, End::Died);
                return (frames, end);
            }
            Err(mpsc::RecvTimeoutError::Timeout) => return (frames, End::TimedOut),
        }
    }
}

/// Kills and collects the runner however we leave.
struct Guard(Child);

impl Guard {
    /// Waits for the end of a process that closed its pipe.
    fn wait_until(&mut self, deadline: Instant) -> Option<ExitStatus> {
        let deadline = deadline.max(Instant::now() + GRACE);
        loop {
            if let Ok(Some(status)) = self.0.try_wait() {
                return Some(status);
            }
            if Instant::now() >= deadline {
                return None;
            }
            thread::sleep(Duration::from_millis(2));
        }
    }
}

impl Drop for Guard {
    fn drop(&mut self) {
        // The group outlives a dead leader as long as anything it started lives. Should it be gone
        // already there is nothing to do.
        if let Some(group) = i32::try_from(self.0.id()).ok().and_then(Pid::from_raw) {
            let _ = kill_process_group(group, Signal::KILL);
        }
        let _ = self.0.wait();
    }
}

/// Keeps the first bytes of a stream and swallows the rest, so that nobody blocks on writing.
struct Capture {
    kept: Arc<Mutex<Vec<u8>>>,
    ended: mpsc::Receiver<()>,
}

impl Capture {
    fn start(mut pipe: impl Read + Send + 'static, most: usize) -> Self {
        let kept = Arc::new(Mutex::new(Vec::new()));
        let (sender, ended) = mpsc::channel();
        let shared = Arc::clone(&kept);
        thread::spawn(move || {
            let mut chunk = [0_u8; 4096];
            while let Ok(count @ 1..) = pipe.read(&mut chunk) {
                let mut kept = shared.lock().unwrap_or_else(PoisonError::into_inner);
                let room = most.saturating_sub(kept.len()).min(count);
                kept.extend_from_slice(&chunk[..room]);
            }
            let _ = sender.send(());
        });
        Self { kept, ended }
    }

    fn finish(self) -> Vec<u8> {
        // A process that left the group could hold the pipe open; its words are not awaited.
        let _ = self.ended.recv_timeout(GRACE);
        let mut kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        std::mem::take(&mut *kept)
    }
}

/// Names the signal that ended a process.
pub(crate) fn signal_name(status: ExitStatus) -> Option<(i32, &'static str)> {
    let number = status.signal()?;
    let name = match number {
        libc::SIGILL => "SIGILL",
        libc::SIGTRAP => "SIGTRAP",
        libc::SIGABRT => "SIGABRT",
        libc::SIGBUS => "SIGBUS",
        libc::SIGFPE => "SIGFPE",
        libc::SIGKILL => "SIGKILL",
        libc::SIGSEGV => "SIGSEGV",
        libc::SIGPIPE => "SIGPIPE",
        libc::SIGTERM => "SIGTERM",
        libc::SIGXCPU => "SIGXCPU",
        libc::SIGXFSZ => "SIGXFSZ",
        libc::SIGSYS => "SIGSYS",
        _ => "a signal",
    };
    Some((number, name))
}
