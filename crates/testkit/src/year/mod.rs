//! A scripted year of an invented workshop, through the command only: what people do from the parcel to the sale, with
//! kills on the way, and at the end a look whether all of it is there.

mod actor;
mod arrive;
mod cast;
mod closing;
mod hand;
mod leave;
mod ledger;
mod life;
mod papers;
mod picture;
mod run;
pub(crate) mod shape;
mod tables;
mod truth;
mod work;

use std::io;
use std::path::Path;

use hand::Ran;

pub use closing::Verified;
pub use ledger::{Fact, KillLine, Line};
pub use run::{Kills, Order, YearReport, run};
pub use truth::{Table, Totals};

/// Why a year did not come to its end.
#[derive(Debug, thiserror::Error)]
pub enum YearError {
    /// A file could not be used.
    #[error("cannot {what} {path}: {why}")]
    File {
        /// What was tried.
        what: &'static str,
        /// The file.
        path: String,
        /// What the system says.
        why: String,
    },
    /// A command ended otherwise than it should.
    #[error("`{words}`: exit code {found}, {wanted} expected\n{said}")]
    Unexpected {
        /// Its words.
        words: String,
        /// Its exit code.
        found: String,
        /// The one that was expected.
        wanted: i32,
        /// What it said.
        said: String,
    },
    /// Something that was printed is not understood.
    #[error("not understood: {0}")]
    Understood(String),
    /// Something is not there, or otherwise than it was acknowledged.
    #[error("{0}")]
    Untrue(String),
    /// After a kill something is not as it was acknowledged.
    #[error("after `{words}` was killed at {at}: {what}")]
    AfterKill {
        /// The command.
        words: String,
        /// Where it was killed.
        at: String,
        /// What is wrong.
        what: String,
    },
}

impl YearError {
    fn file(what: &'static str, path: &Path, error: &io::Error) -> Self {
        Self::File {
            what,
            path: path.display().to_string(),
            why: error.to_string(),
        }
    }

    fn unexpected(words: &[String], wanted: i32, ran: &Ran) -> Self {
        Self::Unexpected {
            words: words.join(" "),
            found: match ran.code {
                Some(code) => code.to_string(),
                None => "none, a signal ended it".to_owned(),
            },
            wanted,
            said: format!("{}{}", ran.out, ran.err),
        }
    }

    /// Returns the next step.
    pub fn hint(&self) -> &'static str {
        match self {
            Self::File { .. } => {
                "name the command with `--binary` and a new folder with `--out`; see that both can be used"
            }
            Self::Unexpected { .. } => {
                "give the command by hand in the folder of the year, after `--workshop w`"
            }
            Self::Understood(_) => {
                "see what the command prints, and what reads it in crates/testkit/src/year"
            }
            Self::Untrue(_) | Self::AfterKill { .. } => {
                "compare `ledger.jsonl` in the folder of the year with what `tangmark journal list --whole` shows"
            }
        }
    }
}
