//! What can go wrong with stages.

use tangmark_core::record::Term as _;

use super::{LONGEST_NOTE, Stage};

/// Why a stage was not set or shown.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum StageError {
    /// The blade had left the workshop.
    #[error("blade `{blade}` stands at `{}` and has left; `{}` found, a stage after a new arrival is allowed with `--again`", from.key(), to.key())]
    Left {
        /// Blade.
        blade: String,
        /// Where it stands.
        from: Stage,
        /// Where it was to go.
        to: Stage,
    },
    /// A remark that is no remark.
    #[error("a remark of {length} characters, 1 to {LONGEST_NOTE} are allowed")]
    Note {
        /// Its length.
        length: usize,
    },
    /// No stage was ever set.
    #[error("blade `{0}` has no stage yet")]
    NoStage(String),
}

impl StageError {
    /// Returns the exact next step.
    pub fn hint(&self) -> String {
        match self {
            Self::Left { blade, to, .. } => format!(
                "if it came back, say so with `tangmark stage set {blade} {} --again`",
                to.key()
            ),
            Self::Note { .. } => "shorten it, or leave out `--note`".to_owned(),
            Self::NoStage(blade) => {
                format!("set one with `tangmark stage set {blade} as_received`")
            }
        }
    }
}
