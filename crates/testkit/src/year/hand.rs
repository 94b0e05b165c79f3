//! The hand that gives the commands: one program after the other, as a person at a terminal would, and some of them
//! killed.

use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::thread;
use std::time::{Duration, Instant};

use rustix::process::{Pid, WaitId, WaitIdOptions, waitid};

use super::YearError;

/// What a command left.
#[derive(Clone, Debug)]
pub(super) struct Ran {
    /// Exit code; nothing when it was killed.
    pub(super) code: Option<i32>,
    pub(super) out: String,
    pub(super) err: String,
    pub(super) passed: Duration,
    /// Where it was killed.
    pub(super) killed: Option<KilledAt>,
}

/// Where a command was killed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum KilledAt {
    /// At a step of a write, which the store names.
    Moment(String),
    /// At some time, wherever it was.
    Anytime,
}

impl KilledAt {
    /// Whether a write had begun and was not committed: everything but the step after the commit.
    pub(super) fn inside_a_write(&self) -> bool {
        matches!(self, Self::Moment(name) if name != "Committed")
    }

    /// Name for tables.
    pub(super) fn name(&self) -> &str {
        match self {
            Self::Moment(name) => name,
            Self::Anytime => "anytime",
        }
    }
}

/// How a command is to be killed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kill {
    /// At the step of a write of this number, from 1.
    Moment(usize),
    /// After this time.
    After(Duration),
}

/// Runs the command.
#[derive(Clone, Debug)]
pub(super) struct Hand {
    /// The command `tangmark`.
    pub(super) binary: PathBuf,
    /// Folder of the year; the workshop is `w` in it.
    pub(super) folder: PathBuf,
    /// A folder of this hand's own, for what the command says and for the moments.
    pub(super) own: PathBuf,
}

impl Hand {
    /// A hand with a folder of its own, named `name`.
    pub(super) fn new(binary: &Path, folder: &Path, name: &str) -> Result<Self, YearError> {
        let own = folder.join("hands").join(name);
        fs::create_dir_all(&own).map_err(|error| YearError::file("make", &own, &error))?;
        Ok(Self {
            binary: binary.to_owned(),
            folder: folder.to_owned(),
            own,
        })
    }

    /// Runs the command on the workshop and waits for its end.
    pub(super) fn run(&self, words: &[String]) -> Result<Ran, YearError> {
        self.give(words, None)
    }

    /// Runs the command on the workshop and kills it; one that ends before is not killed.
    pub(super) fn run_and_kill(&self, words: &[String], kill: Kill) -> Result<Ran, YearError> {
        self.give(words, Some(kill))
    }

    fn give(&self, words: &[String], kill: Option<Kill>) -> Result<Ran, YearError> {
        let fault = |error: io::Error| YearError::file("run", &self.binary, &error);
        let (out, err) = (self.own.join("out"), self.own.join("err"));
        let mut command = Command::new(&self.binary);
        command
            .args(["--workshop", "w"])
            .args(words)
            .current_dir(&self.folder)
            .env_clear()
            .env("XDG_DATA_HOME", self.folder.join("data"))
            .env("TMPDIR", &self.own)
            .stdin(Stdio::null())
            // Into files: nobody reads while the command may be stopped.
            .stdout(File::create(&out).map_err(fault)?)
            .stderr(File::create(&err).map_err(fault)?);
        let moments = self.own.join("moments");
        if let Some(Kill::Moment(number)) = kill {
            fs::write(&moments, "").map_err(fault)?;
            fs::write(self.own.join("stop"), number.to_string()).map_err(fault)?;
            command.env("TANGMARK_MOMENTS", &self.own);
        }
        let start = Instant::now();
        let mut child = command.spawn().map_err(fault)?;
        let stopped = match kill {
            None => false,
            Some(Kill::Moment(_)) => wait_for_stop(&child).map_err(fault)?,
            Some(Kill::After(time)) => {
                thread::sleep(time);
                child.try_wait().map_err(fault)?.is_none()
            }
        };
        if stopped {
            child.kill().map_err(fault)?;
        }
        let status = child.wait().map_err(fault)?;
        let passed = start.elapsed();
        let read = |path: &Path| -> Result<String, YearError> {
            let bytes = fs::read(path).map_err(fault)?;
            Ok(String::from_utf8_lossy(&bytes).into_owned())
        };
        // One that ended by itself between the look and the kill was not killed.
        let killed = (stopped && status.code().is_none()).then(|| match kill {
            Some(Kill::Moment(_)) => {
                let told = fs::read_to_string(&moments).unwrap_or_default();
                KilledAt::Moment(told.lines().last().unwrap_or("nowhere").to_owned())
            }
            _ => KilledAt::Anytime,
        });
        Ok(Ran {
            code: status.code(),
            out: read(&out)?,
            err: read(&err)?,
            passed,
            killed,
        })
    }
}

/// Waits until the command has stopped itself, or has ended: says which.
fn wait_for_stop(child: &Child) -> Result<bool, io::Error> {
    let pid = i32::try_from(child.id()).ok().and_then(Pid::from_raw);
    let pid = pid.ok_or(io::ErrorKind::InvalidInput)?;
    loop {
        // What is found is left for `Child::wait`.
        let options = WaitIdOptions::EXITED | WaitIdOptions::STOPPED | WaitIdOptions::NOWAIT;
        match waitid(WaitId::Pid(pid), options) {
            Ok(Some(status)) => return Ok(status.stopped()),
            Ok(None) | Err(rustix::io::Errno::INTR) => {}
            Err(error) => return Err(error.into()),
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn hand(folder: &Path, script: &str) -> Hand {
        use std::os::unix::fs::PermissionsExt as _;
        let binary = folder.join("command");
        fs::write(&binary, format!("#!/bin/sh\n{script}\n")).unwrap();
        fs::set_permissions(&binary, fs::Permissions::from_mode(0o755)).unwrap();
        Hand::new(&binary, folder, "one").unwrap()
    }

    #[test]
    fn a_command_is_killed_where_it_stopped_itself() {
        let folder = tempfile::tempdir().unwrap();
        let script = "echo begun; cat \"$TANGMARK_MOMENTS/stop\"; echo TempCreated >> \"$TANGMARK_MOMENTS/moments\"; \
                      kill -s STOP $$; echo never";
        let ran = hand(folder.path(), script)
            .run_and_kill(&[], Kill::Moment(3))
            .unwrap();
        assert_eq!(ran.out, "begun\n3");
        assert_eq!(ran.code, None);
        let killed = ran.killed.unwrap();
        assert_eq!(killed, KilledAt::Moment("TempCreated".to_owned()));
        assert!(killed.inside_a_write());
    }

    #[test]
    fn a_command_that_ends_first_is_not_killed() {
        let folder = tempfile::tempdir().unwrap();
        let hand = hand(folder.path(), "echo \"$@\"; exit 7");
        let words = ["pass".to_owned(), "list".to_owned()];
        for kill in [Kill::Moment(1), Kill::After(Duration::from_secs(1))] {
            let ran = hand.run_and_kill(&words, kill).unwrap();
            assert_eq!((ran.code, ran.killed), (Some(7), None));
            assert_eq!(ran.out, "--workshop w pass list\n");
        }
        assert_eq!(hand.run(&words).unwrap().code, Some(7));
    }

    #[test]
    fn a_command_is_killed_at_some_time() {
        let folder = tempfile::tempdir().unwrap();
        let hand = hand(folder.path(), "echo begun; exec sleep 60");
        let kill = Kill::After(Duration::from_millis(200));
        let ran = hand.run_and_kill(&[], kill).unwrap();
        assert_eq!(ran.killed, Some(KilledAt::Anytime));
        assert!(!KilledAt::Anytime.inside_a_write());
        assert!(!KilledAt::Moment("Committed".to_owned()).inside_a_write());
    }
}
