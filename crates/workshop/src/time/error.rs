//! What can go wrong with time evidence.

use std::path::PathBuf;

use tangmark_core::Digest;
use tangmark_trust::pdf::StampPdfError;
use tangmark_trust::timestamp::{CertificateProblem, TimestampError};

/// Why time evidence could not be asked for, added or judged.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum TimeError {
    /// An answer or a request that is refused.
    #[error("{}: {error}", path.display())]
    Refused {
        /// The file.
        path: PathBuf,
        /// The rule it breaks.
        error: TimestampError,
    },
    /// A request that could not be written.
    #[error(transparent)]
    Request(#[from] TimestampError),
    /// A file without certificates.
    #[error("{}: {error}", path.display())]
    Certificate {
        /// The file.
        path: PathBuf,
        /// What is wrong with it.
        error: CertificateProblem,
    },
    /// A report that cannot carry a token.
    #[error("{}: {error}", path.display())]
    Report {
        /// The file.
        path: PathBuf,
        /// Why not.
        error: StampPdfError,
    },
    /// A name that no authority may have.
    #[error("`{0}` cannot be the name of a time authority")]
    BadName(String),
    /// The name is taken.
    #[error("there is a time authority `{0}` already")]
    NameTaken(String),
    /// No authority of that name.
    #[error(
        "no time authority `{name}`; {}",
        if known.is_empty() { "none is there yet".to_owned() } else { format!("there are {}", known.join(", ")) }
    )]
    NoAuthority {
        /// Name asked for.
        name: String,
        /// Names there are.
        known: Vec<String>,
    },
    /// An address that cannot be asked.
    #[error("`{url}` is no address of a time authority: {what}")]
    BadAddress {
        /// The address.
        url: String,
        /// What is wrong with it.
        what: &'static str,
    },
    /// The authority has no address.
    #[error("time authority `{0}` has no address")]
    NoAddress(String),
    /// The address needs TLS, which this program does not speak.
    #[error(
        "time authority `{name}` is asked by https, which this program does not speak; nothing was sent"
    )]
    Secure {
        /// Name of the authority.
        name: String,
        /// The commands that do it by hand.
        by_hand: String,
    },
    /// The authority did not answer as it should.
    #[error("{url}: {what}")]
    Unanswered {
        /// The address.
        url: String,
        /// What happened.
        what: String,
    },
    /// The answer stamps no record of the blade.
    #[error("{}: it stamps {stamped}, which is the name of no record of blade `{blade}`", path.display())]
    NoRecord {
        /// The file.
        path: PathBuf,
        /// What it stamps.
        stamped: Digest,
        /// Blade.
        blade: String,
    },
    /// What is kept of the authorities cannot be read.
    #[error("the kept list of time authorities cannot be read: {0}")]
    List(String),
}

impl TimeError {
    /// The next step.
    pub fn hint(&self) -> String {
        let text = match self {
            Self::Refused { error, .. } | Self::Request(error) => error.hint(),
            Self::Certificate { error, .. } => error.hint(),
            Self::Report { error, .. } => error.hint(),
            Self::BadName(_) => {
                "take 1 to 40 lower-case letters, digits and hyphens, a letter or digit first"
            }
            Self::NameTaken(name) => {
                return format!(
                    "take another name, or remove it with `tangmark time authority remove {name}`"
                );
            }
            Self::NoAuthority { .. } => {
                "see what is there with `tangmark time authority list`, or add one with `tangmark time authority add NAME --certificate PEM`"
            }
            Self::BadAddress { .. } => {
                "write it as http://tsa.example/stamp; spaces and quotes have no place in it"
            }
            Self::NoAddress(name) => {
                return format!(
                    "remove it and add it with `--url`, or write a request with `tangmark time request` and carry it to `{name}` yourself"
                );
            }
            Self::Secure { by_hand, .. } => return by_hand.clone(),
            Self::Unanswered { .. } => {
                "try again later; or write a request with `tangmark time request` and carry it there by other means"
            }
            Self::NoRecord { .. } => {
                "name the blade whose record was stamped; `tangmark blade show BLADE` lists the names of its records"
            }
            Self::List(_) => {
                "run `tangmark store check`; add the authorities anew once the index is sound"
            }
        };
        text.to_owned()
    }
}
