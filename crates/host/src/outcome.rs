//! What came of asking a plugin.

use tangmark_core::Digest;
use tangmark_plugin::{CheckReply, Description};

use crate::BarrierReport;

/// What came of asking one plugin.
#[derive(Debug, Clone, PartialEq, Eq)]
#[allow(clippy::large_enum_variant, reason = "a handful exist at a time")]
pub enum PluginOutcome {
    /// It answered, and the answer passed the audit.
    Replied(Replied),
    /// It did not, for the reason given.
    Failed(Failed),
}

impl PluginOutcome {
    /// Returns the plugin's name.
    pub fn name(&self) -> &str {
        match self {
            Self::Replied(replied) => &replied.description.name,
            Self::Failed(failed) => &failed.name,
        }
    }
}

/// A plugin's answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Replied {
    /// What the plugin says it is; its name equals the file's.
    pub description: Description,
    /// Digest of the library's bytes.
    pub digest: Digest,
    /// The answer.
    pub reply: CheckReply,
    /// The barriers it ran behind.
    pub barriers: BarrierReport,
}

/// A plugin that died, hung, flooded, lied or was not let in. The caller makes a `caution` finding
/// of it, or a `stop` when the plugin is `triage`.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{fault}")]
pub struct Failed {
    /// The plugin's name, from the file name.
    pub name: String,
    /// The file's digest, when it could be read.
    pub digest: Option<Digest>,
    /// What kind of failure it is.
    pub kind: FaultKind,
    /// One line: which plugin, what happened, found against allowed. The same failure has the same
    /// text in every run, so that it can stand in a record.
    pub fault: String,
    /// What the plugin wrote to its error stream, cut to size, control characters replaced; for
    /// the plugin's author, not for a record.
    pub stderr: String,
}

impl Failed {
    /// Returns the next step for the user.
    pub fn hint(&self) -> String {
        let name = &self.name;
        match self.kind {
            FaultKind::Unreadable => {
                format!("put a readable libtangmark_{name}.so back in its place")
            }
            FaultKind::Unapproved => "run `tangmark plugin approve --shipped` after a rebuild of \
                the shipped plugins, or `tangmark plugin approve PATH` for a file you trust"
                .to_owned(),
            FaultKind::OtherAbi => {
                format!("rebuild `{name}` against this version of the plugin page")
            }
            FaultKind::Environment => {
                "see whether this machine lets `tangmark` start processes, and report it if so"
                    .to_owned()
            }
            FaultKind::Refused => format!("see what `{name}` says is missing"),
            _ => format!(
                "report it to the author of `{name}`; `tangmark plugin withdraw {name}` goes on \
                 without it"
            ),
        }
    }
}

/// Kinds of failures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum FaultKind {
    /// The file is missing, unreadable, too large or no file.
    Unreadable,
    /// The file's digest is not approved.
    Unapproved,
    /// The file is no library, or lacks a function of the ABI.
    Unloadable,
    /// It speaks another ABI number.
    OtherAbi,
    /// It took more time than allowed.
    TimedOut,
    /// It died.
    Crashed,
    /// The kernel ended it for a forbidden system call.
    Forbidden,
    /// It answered more than allowed.
    Flooded,
    /// Its answer is not one: not JSON, not this message, or not true to the sheet.
    Lied,
    /// It says that it cannot judge this.
    Refused,
    /// It hit a bug of its own, such as a panic.
    Broken,
    /// Our own side failed: the runner could not be started or made ready.
    Environment,
}
