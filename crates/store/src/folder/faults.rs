//! The steps of writing at which tests stop the program or let the system refuse.

use std::io;

/// A step that has just been taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum FaultPoint {
    /// The marker of an unfinished workshop is written.
    CreateMarked,
    /// Its folders are made.
    CreateFolders,
    /// Its index is made.
    CreateIndex,
    /// The temporary file is there, empty.
    TempCreated,
    /// A part of the bytes is written.
    TempWritten,
    /// All bytes are written and flushed.
    TempSynced,
    /// The note of what is being sealed is written.
    IntentWritten,
    /// The folder `objects/xx` is there.
    FolderMade,
    /// The object has its name.
    Renamed,
    /// The folder is flushed.
    FolderSynced,
    /// The row is written, not committed.
    RowWritten,
    /// The row is committed.
    Committed,
    /// The key file has its name.
    KeyNamed,
    /// The fresh index is complete, beside the old one.
    FreshIndex,
    /// The damaged old index has its new name.
    OldMoved,
    /// The fresh index has taken the place.
    Swapped,
}

/// What a test wants to happen at a step.
#[cfg(test)]
pub(crate) type Hook = std::sync::Arc<dyn Fn(FaultPoint) -> io::Result<()> + Send + Sync>;

/// Nothing outside tests, and outside builds with the feature `moments`.
#[derive(Clone, Default)]
pub(crate) struct Faults {
    #[cfg(test)]
    pub(crate) hook: Option<Hook>,
}

impl Faults {
    #[cfg(test)]
    pub(crate) fn at(&self, point: FaultPoint) -> io::Result<()> {
        self.hook.as_ref().map_or(Ok(()), |hook| hook(point))
    }

    #[cfg(all(not(test), feature = "moments"))]
    #[allow(clippy::unused_self)]
    pub(crate) fn at(&self, point: FaultPoint) -> io::Result<()> {
        moments::reached(point)
    }

    #[cfg(not(any(test, feature = "moments")))]
    #[allow(clippy::unused_self, clippy::unnecessary_wraps)]
    pub(crate) fn at(&self, _: FaultPoint) -> io::Result<()> {
        Ok(())
    }
}

/// Tells each step to another program, and stops at the one it named, so that it can kill this one exactly there.
#[cfg(all(not(test), feature = "moments"))]
mod moments {
    use std::fs::{self, OpenOptions};
    use std::io::{self, Write as _};
    use std::path::Path;
    use std::sync::atomic::{AtomicU64, Ordering};
    use std::time::Duration;

    use rustix::process::{Signal, getpid, kill_process};

    use super::FaultPoint;

    /// Names the folder of the other program: `moments` there gets a line for each step, `stop` may hold the number
    /// of the step to stop at, from 1.
    const FOLDER: &str = "TANGMARK_MOMENTS";

    static CAME: AtomicU64 = AtomicU64::new(0);

    pub(super) fn reached(point: FaultPoint) -> io::Result<()> {
        let Some(folder) = std::env::var_os(FOLDER) else {
            return Ok(());
        };
        let folder = Path::new(&folder);
        let number = CAME.fetch_add(1, Ordering::Relaxed) + 1;
        let mut told = OpenOptions::new()
            .append(true)
            .create(true)
            .open(folder.join("moments"))?;
        told.write_all(format!("{point:?}\n").as_bytes())?;
        let asked = fs::read_to_string(folder.join("stop")).unwrap_or_default();
        if asked.trim().parse() == Ok(number) {
            kill_process(getpid(), Signal::STOP)?;
            // Another thread may have taken the signal; this one goes no further before it works.
            std::thread::sleep(Duration::from_millis(20));
        }
        Ok(())
    }
}
