//! What was asked and what was acknowledged, line by line, so that others can add it up for themselves.

use std::fs::File;
use std::io::Write as _;
use std::path::Path;
use std::sync::{Mutex, PoisonError};

use serde::Serialize;

use super::YearError;
use super::hand::KilledAt;

/// What a command was to bring about. Masses in tenths of a gram, times in minutes, money as it was typed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(tag = "what", rename_all = "snake_case")]
#[allow(missing_docs)]
pub enum Fact {
    /// A blade came.
    Entered {
        on: String,
        whose: &'static str,
        price: Option<String>,
    },
    /// A pass was logged.
    Pass {
        on: String,
        operation: &'static str,
        minutes: u64,
        before: i64,
        after: i64,
    },
    /// A pass was refused, since the blade is held.
    Refused { on: String },
    /// A reading was questioned.
    Questioned { on: String },
    /// Money went out.
    Cost { on: String, amount: String },
    /// Money came in, beside a sale.
    Income { on: String, amount: String },
    /// Work outside passes.
    Hours { on: String, minutes: u64 },
    /// A consumable was used.
    Used {
        on: String,
        name: String,
        amount: String,
    },
    /// A stage was set.
    Stage { on: String, stage: &'static str },
    /// A fitting was entered.
    Fitting { on: String, id: String },
    /// A custody event was added.
    Custody { on: String, kind: &'static str },
    /// A record was sealed.
    Sealed { purpose: &'static str },
    /// A blade was sold.
    Sold {
        on: String,
        price: String,
        to: String,
    },
    /// A blade went back to its owner.
    Returned { on: String },
    /// A blade went to the specialist.
    Referred { on: String },
    /// The specialist answered.
    Replied { on: String },
    /// A sealed record was put right or withdrawn.
    Corrected { on: String, withdrawn: bool },
    /// A new key signs.
    Rotated,
}

/// A kill that a command met.
#[derive(Clone, Debug, Serialize)]
pub struct KillLine {
    /// Step of the write, or `anytime`.
    pub at: String,
    /// A write had begun and was not committed.
    pub inside: bool,
    /// What it was to bring about was found all the same: it had been committed.
    pub found: bool,
}

/// One line of the ledger.
#[derive(Clone, Debug, Serialize)]
pub struct Line {
    /// Number, from 1.
    pub number: usize,
    /// Blade.
    pub blade: Option<String>,
    /// The command line after the workshop.
    pub words: Vec<String>,
    /// Exit code that acknowledged it; nothing when it was killed and its work was found done.
    pub code: Option<i32>,
    /// Milliseconds of the last run.
    pub ms: u64,
    /// Kills on the way.
    pub kills: Vec<KillLine>,
    /// What it brought about.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fact: Option<Fact>,
}

impl KillLine {
    /// A kill, and whether its work was found.
    pub(super) fn new(at: &KilledAt, found: bool) -> Self {
        Self {
            at: at.name().to_owned(),
            inside: at.inside_a_write(),
            found,
        }
    }
}

/// The ledger: a file of JSON lines, and the same in memory.
#[derive(Debug)]
pub(super) struct Ledger {
    inner: Mutex<Inner>,
}

#[derive(Debug)]
struct Inner {
    file: File,
    lines: Vec<Line>,
}

impl Ledger {
    /// A fresh ledger.
    pub(super) fn create(path: &Path) -> Result<Self, YearError> {
        let file = File::create(path).map_err(|error| YearError::file("make", path, &error))?;
        Ok(Self {
            inner: Mutex::new(Inner {
                file,
                lines: Vec::new(),
            }),
        })
    }

    /// Notes what was acknowledged; it is on the disk when this returns.
    pub(super) fn note(&self, mut line: Line) -> Result<(), YearError> {
        let mut inner = self.inner.lock().unwrap_or_else(PoisonError::into_inner);
        line.number = inner.lines.len() + 1;
        let mut text = serde_json::to_string(&line)
            .map_err(|error| YearError::Understood(format!("ledger: {error}")))?;
        text.push('\n');
        inner
            .file
            .write_all(text.as_bytes())
            .map_err(|error| YearError::file("write", Path::new("ledger.jsonl"), &error))?;
        inner.lines.push(line);
        Ok(())
    }

    /// All lines so far.
    pub(super) fn lines(&self) -> Vec<Line> {
        let inner = self.inner.lock().unwrap_or_else(PoisonError::into_inner);
        inner.lines.clone()
    }
}
