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

/// Nothing outside tests.
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

    #[cfg(not(test))]
    #[allow(clippy::unused_self, clippy::unnecessary_wraps)]
    pub(crate) fn at(&self, _: FaultPoint) -> io::Result<()> {
        Ok(())
    }
}
