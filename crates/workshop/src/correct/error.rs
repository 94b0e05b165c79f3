//! What can go wrong with a correction.

/// Why nothing was corrected.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum CorrectError {
    /// The record was withdrawn already.
    #[error("record {number} of blade `{blade}` was withdrawn by record {by} already")]
    Withdrawn {
        /// Blade.
        blade: String,
        /// Number of the record.
        number: u32,
        /// Number of the withdrawal.
        by: u32,
    },
    /// The same was said before.
    #[error("record {by} of blade `{blade}` says the same of record {number} already")]
    SaidBefore {
        /// Blade.
        blade: String,
        /// Number of the record.
        number: u32,
        /// Number of the record that says so.
        by: u32,
    },
    /// A withdrawal is taken back by nothing.
    #[error("record {number} of blade `{blade}` is a withdrawal, which stands for good")]
    IsWithdrawal {
        /// Blade.
        blade: String,
        /// Number of the record.
        number: u32,
    },
    /// The record is another workshop's.
    #[error(
        "record {number} of blade `{blade}` was sealed by `{issuer}`; a workshop withdraws records of its own only"
    )]
    NotOwn {
        /// Blade.
        blade: String,
        /// Number of the record.
        number: u32,
        /// Name of the workshop that sealed it.
        issuer: String,
    },
}

impl CorrectError {
    /// The next step.
    pub fn hint(&self) -> String {
        match self {
            Self::Withdrawn { blade, .. } => {
                format!("read it with `tangmark correct list {blade}`; correct a later record, or seal a new one")
            }
            Self::SaidBefore { blade, by, .. } => {
                format!("send that one on: `tangmark blade record {blade} --number {by} --out FILE`")
            }
            Self::IsWithdrawal { .. } => {
                "seal a new record of the blade: it says how things stand now".to_owned()
            }
            Self::NotOwn { .. } => {
                "say what you found otherwise in a correction, without `--withdraw`, and tell its issuer".to_owned()
            }
        }
    }
}
