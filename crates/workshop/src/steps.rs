//! What takes several steps and may be ended after any of them: each is told, and one that was done before is left alone.

use std::path::PathBuf;

use serde::Serialize;
use tangmark_core::Digest;

/// A step of something that takes several.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Step {
    /// Its name.
    pub step: &'static str,
    /// It was done by an earlier run.
    pub was_done: bool,
    /// What was done, in words.
    pub what: String,
    /// The file that came of it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub file: Option<PathBuf>,
    /// The record that was sealed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub record: Option<Digest>,
}

impl Step {
    /// A step that was done just now.
    pub(crate) fn done(step: &'static str, what: impl Into<String>) -> Self {
        Self {
            step,
            was_done: false,
            what: what.into(),
            file: None,
            record: None,
        }
    }

    /// A step that an earlier run did.
    pub(crate) fn before(step: &'static str, what: impl Into<String>) -> Self {
        Self {
            was_done: true,
            ..Self::done(step, what)
        }
    }

    /// With the file that came of it.
    pub(crate) fn with_file(self, file: impl Into<PathBuf>) -> Self {
        Self {
            file: Some(file.into()),
            ..self
        }
    }

    /// With the record that was sealed.
    pub(crate) fn with_record(self, record: Digest) -> Self {
        Self {
            record: Some(record),
            ..self
        }
    }
}

/// Is told each step as soon as it is done.
pub type Tell<'t> = dyn FnMut(&Step) + 't;

/// A run through the steps. A test ends it after so many, as a crash would.
pub(crate) struct Walk<'t> {
    tell: &'t mut Tell<'t>,
    left: usize,
    steps: Vec<Step>,
}

/// The run was ended by a test.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("ended after as many steps as were asked for")]
pub struct Ended;

impl<'t> Walk<'t> {
    pub(crate) fn new(tell: &'t mut Tell<'t>, most: usize) -> Self {
        Self {
            tell,
            left: most,
            steps: Vec::new(),
        }
    }

    /// Asks for leave to do one more step.
    pub(crate) fn next(&mut self) -> Result<(), Ended> {
        self.left = self.left.checked_sub(1).ok_or(Ended)?;
        Ok(())
    }

    /// Tells a step.
    pub(crate) fn tell(&mut self, step: Step) {
        (self.tell)(&step);
        self.steps.push(step);
    }

    /// All that was told.
    pub(crate) fn finish(self) -> Vec<Step> {
        self.steps
    }
}
