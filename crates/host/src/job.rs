//! What the host tells the runner to do, and how the runner says that it could not.

use serde::{Deserialize, Serialize};
use tangmark_plugin::loader::{CallError, LoadError};

/// Longest job, request for a description, barrier report or fault, in bytes.
pub(crate) const MAX_SMALL_FRAME: usize = 64 << 10;

/// The runner's orders.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Job {
    /// Whether a check request follows the describe request.
    pub(crate) check: bool,
    /// Most bytes of the check request.
    pub(crate) request_bytes: usize,
    /// Most bytes of the reply.
    pub(crate) reply_bytes: usize,
    /// Address space, in bytes.
    pub(crate) memory_bytes: u64,
    /// Processor time, in seconds.
    pub(crate) processor_seconds: u64,
    /// Whether the runner stays after its answer until it is ended, so that the host can see what it
    /// used.
    pub(crate) stay: bool,
}

/// Why the runner has no answer. Sent after the barrier report it is no more than the plugin's own
/// word, since the plugin shares the runner's memory.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(
    deny_unknown_fields,
    rename_all = "kebab-case",
    tag = "kind",
    content = "text"
)]
pub(crate) enum RunnerFault {
    /// The runner could not get ready.
    Setup(String),
    /// The library cannot be loaded.
    Load(String),
    /// The library speaks another ABI number.
    OtherAbi(String),
    /// The plugin will not judge this.
    Refused(String),
    /// The plugin hit a bug of its own.
    Broken(String),
    /// The plugin answered more than allowed.
    Flooded(String),
    /// The plugin broke the ABI.
    Lied(String),
}

impl From<LoadError> for RunnerFault {
    fn from(error: LoadError) -> Self {
        match error {
            LoadError::OtherAbi { .. } => Self::OtherAbi(error.to_string()),
            _ => Self::Load(error.to_string()),
        }
    }
}

impl From<CallError> for RunnerFault {
    fn from(error: CallError) -> Self {
        match error {
            CallError::Refused(text) => Self::Refused(text),
            CallError::Broken(text) => Self::Broken(text),
            CallError::TooLong { .. } => Self::Flooded(error.to_string()),
            _ => Self::Lied(error.to_string()),
        }
    }
}
