//! What a command ends with: exit codes, errors with their next step, and our own faults.

use std::fmt;
use std::io::{self, Write as _};
use std::panic::{self, AssertUnwindSafe};
use std::path::Path;

use tangmark_workshop::WorkshopError;

use crate::show;

/// Exit codes; `verify` has its own, see [`crate::verbs::verify`].
pub(crate) mod code {
    /// Good.
    pub(crate) const GOOD: u8 = 0;
    /// Failed: nothing half-done, the error says why.
    pub(crate) const FAILED: u8 = 1;
    /// The command line is not understood.
    pub(crate) const USAGE: u8 = 4;
    /// A fault of this program.
    pub(crate) const FAULT: u8 = 70;
}

/// Most problems of one sheet that are printed; more are counted.
const MOST_PROBLEMS: usize = 20;

/// Why a command did not go through.
#[derive(Debug)]
pub(crate) struct Failure {
    /// Pairs of what is wrong and the next step.
    problems: Vec<(String, String)>,
    code: u8,
}

/// What a verb returns: an exit code or a failure.
pub(crate) type Outcome = Result<u8, Failure>;

impl Failure {
    /// A failure with its next step.
    pub(crate) fn new(what: impl Into<String>, hint: impl Into<String>) -> Self {
        Self {
            problems: vec![(what.into(), hint.into())],
            code: code::FAILED,
        }
    }

    /// A command line that cannot be meant.
    pub(crate) fn usage(what: impl Into<String>, hint: impl Into<String>) -> Self {
        Self {
            code: code::USAGE,
            ..Self::new(what, hint)
        }
    }

    /// A file that cannot be read or written.
    pub(crate) fn file(action: &str, path: &Path, error: &io::Error) -> Self {
        let what = format!("{}: cannot {action}: {error}", path.display());
        Self::new(
            what,
            "check that the path exists and may be read and written",
        )
    }

    /// The same failure with another exit code.
    pub(crate) fn with_code(self, code: u8) -> Self {
        Self { code, ..self }
    }

    /// Returns the next step of the first problem.
    pub(crate) fn hint(&self) -> Option<&str> {
        let (_, hint) = self.problems.first()?;
        (!hint.is_empty()).then_some(hint.as_str())
    }

    /// Prints the failure and returns its exit code.
    pub(crate) fn tell(&self) -> u8 {
        for (index, (what, hint)) in self.problems.iter().enumerate() {
            if index > 0 {
                show::say("");
            }
            for line in what.lines() {
                show::say(&format!("error: {}", show::plain(line)));
            }
            if !hint.is_empty() {
                show::say(&format!("hint: {}", show::plain(hint)));
            }
        }
        self.code
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.problems.first().map_or("", |(what, _)| what))
    }
}

impl From<WorkshopError> for Failure {
    fn from(error: WorkshopError) -> Self {
        let WorkshopError::Sheet { file, error } = error else {
            return Self::new(error.to_string(), error.hint());
        };
        let mut problems: Vec<(String, String)> = error
            .problems
            .iter()
            .take(MOST_PROBLEMS)
            .map(|problem| (format!("{file}: {problem}"), problem.hint.clone()))
            .collect();
        let more = error.problems.len().saturating_sub(MOST_PROBLEMS);
        if more > 0 {
            problems.push((
                format!("{file}: {more} more problems"),
                "correct these first".to_owned(),
            ));
        }
        Self {
            problems,
            code: code::FAILED,
        }
    }
}

/// Writes data to standard output. A reader that closed the pipe has what it wanted.
pub(crate) fn print(text: &str) -> Result<(), Failure> {
    let mut out = io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => Err(Failure::new(
            format!("standard output: cannot write: {error}"),
            "what was asked for is done; send the output to a file with room for it",
        )),
        _ => Ok(()),
    }
}

/// Writes what is shown once and kept nowhere to standard output: a reader that closed the pipe has lost it.
pub(crate) fn print_secret(text: &str) -> Result<(), Failure> {
    let mut out = io::stdout().lock();
    out.write_all(text.as_bytes())
        .and_then(|()| out.flush())
        .map_err(|error| {
            Failure::new(
                format!(
                    "standard output: cannot write: {error}; the key is made and signs, but nobody saw the recovery secret"
                ),
                "make a new recovery secret with `tangmark key rotate --new-recovery --reason \"…\"`",
            )
        })
}

/// Prints a value as JSON, indented, with a final newline.
pub(crate) fn print_json(value: &impl serde::Serialize) -> Result<(), Failure> {
    print(&json_text(value)?)
}

/// A value as JSON, indented, with a final newline.
pub(crate) fn json_text(value: &impl serde::Serialize) -> Result<String, Failure> {
    let text = serde_json::to_string_pretty(value).map_err(|error| {
        Failure::new(
            format!("no JSON can be made of it: {error}"),
            "leave `--json` out and report this",
        )
    })?;
    Ok(format!("{text}\n"))
}

/// Runs a command to its exit code; a panic is our fault and is told as such.
pub(crate) fn guard(command: impl FnOnce() -> Outcome) -> u8 {
    panic::set_hook(Box::new(|info| {
        let place = info
            .location()
            .map(|place| format!(" ({}:{})", place.file(), place.line()))
            .unwrap_or_default();
        let what = info.payload_as_str().unwrap_or("no words were left");
        show::say(&format!(
            "error: a fault of this program: {}{place}",
            show::plain(what)
        ));
        show::say(
            "hint: please report it with the command you gave; what was sealed before is not touched",
        );
    }));
    match panic::catch_unwind(AssertUnwindSafe(command)) {
        Ok(Ok(code)) => code,
        Ok(Err(failure)) => failure.tell(),
        Err(_) => code::FAULT,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn outcomes_become_exit_codes() {
        assert_eq!(guard(|| Ok(code::GOOD)), 0);
        assert_eq!(guard(|| Err(Failure::new("a", "b"))), 1);
        assert_eq!(guard(|| Err(Failure::usage("a", "b"))), 4);
        assert_eq!(guard(|| Err(Failure::new("a", "b").with_code(3))), 3);
        assert_eq!(guard(|| panic!("on purpose")), 70);
    }
}
