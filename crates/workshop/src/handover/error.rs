//! Why a blade was not handed over or received.

use std::path::PathBuf;

use tangmark_core::Digest;

use crate::WorkshopError;

/// Why a package was not made or not taken in. Nothing was kept or written.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum HandOverError {
    /// The report that was named is none that could go in.
    #[error("{file}: {what}")]
    Report {
        /// The file.
        file: PathBuf,
        /// What is wrong with it.
        what: String,
    },
    /// The report shows more than was named.
    #[error("{file} shows values that were not named to be shown: {}", places.join(", "))]
    ReportShows {
        /// The file.
        file: PathBuf,
        /// Their places.
        places: Vec<String>,
    },
    /// The report that is to be made cannot be signed.
    #[error("the report that goes into the package cannot be signed: {what}")]
    CannotSign {
        /// Why.
        what: String,
        /// The next step.
        hint: String,
    },
    /// The report was not made.
    #[error("the report that goes into the package is not made yet")]
    NoReport,
    /// A package that no reader takes.
    #[error("{package}: {what}")]
    Refused {
        /// The package.
        package: PathBuf,
        /// What is wrong with it.
        what: String,
        /// The next step.
        hint: String,
    },
    /// Something in the package is rejected or cannot be checked.
    #[error("{package}: not received: {}", reasons.join("; "))]
    Unsound {
        /// The package.
        package: PathBuf,
        /// What is wrong, the first things.
        reasons: Vec<String>,
    },
    /// The signer has to be confirmed, and nobody compared the fingerprint.
    #[error("{package}: not received: the signer of its newest record is {line}")]
    NotCompared {
        /// The package.
        package: PathBuf,
        /// What is said of the signer.
        line: String,
    },
    /// The signer's key is revoked and nothing but the record's own word makes it older: no fingerprint settles that.
    #[error("{package}: not received: the signer of its newest record is {line}")]
    Unproved {
        /// The package.
        package: PathBuf,
        /// What is said of the signer.
        line: String,
    },
    /// The typed fingerprint is not that of the key.
    #[error(
        "the fingerprint typed is {typed}, the newest record of the package is signed by {found}"
    )]
    OtherFingerprint {
        /// As typed, in groups.
        typed: String,
        /// That of the key.
        found: String,
    },
    /// The typed fingerprint is that of another key of the signer's history, and not rotations alone lead from it to the
    /// signer's.
    #[error(
        "the fingerprint typed, {typed}, is that of another key of the workshop; between it and {found}, which signed the newest record, the recovery key spoke or a revoked key"
    )]
    Recovered {
        /// As typed, in groups.
        typed: String,
        /// That of the key.
        found: String,
    },
    /// The package tells another story than the records kept here.
    #[error(
        "record {sequence} of blade `{blade}` is {kept} here and {offered} in the package: two histories of one blade"
    )]
    Fork {
        /// Blade.
        blade: String,
        /// Number of the first record that differs.
        sequence: u32,
        /// Name of the record here.
        kept: Digest,
        /// Name of the record in the package.
        offered: Digest,
    },
    /// The workshop has another blade under the key.
    #[error(
        "the package is about a blade `{0}`, and this workshop has another blade under that key"
    )]
    KeyTaken(String),
}

/// Whether a record of the package has the standing `revoked`, as [`told::rejected`](crate::receive::told::rejected) says it.
pub(super) fn sealed_while_revoked(rejected: &[String]) -> bool {
    rejected
        .iter()
        .any(|one| one.starts_with("data/records/") && one.ends_with(": revoked"))
}

impl HandOverError {
    /// There is no key in force that could sign the report.
    pub(super) fn cannot_sign(error: &WorkshopError) -> Self {
        Self::CannotSign {
            what: error.to_string(),
            hint: format!(
                "{}; or leave the report out with `--report none`",
                error.hint()
            ),
        }
    }

    /// Returns the next step.
    pub fn hint(&self) -> String {
        let text = match self {
            Self::Report { .. } => {
                "name a report of one of the blade's records with `--report FILE`, or leave `--report` out to have it made"
            }
            Self::ReportShows { places, .. } => {
                let wanted: Vec<String> = places
                    .iter()
                    .map(|place| format!("--reveal {place}"))
                    .collect();
                return format!(
                    "name them with `{}`, or take a report that does not show them",
                    wanted.join(" ")
                );
            }
            Self::NoReport => {
                "give the passphrase, so that it can be signed; or leave it out with `--report none`"
            }
            Self::Refused { hint, .. } | Self::CannotSign { hint, .. } => return hint.clone(),
            Self::Unsound { reasons, .. } if sealed_while_revoked(reasons) => {
                "a record was sealed with a key that its workshop revoked since before: another copy of the package, or a record that withdraws it, does not help; ask the workshop for time evidence from before (`--authority PEM` names who is trusted for it), or to seal the blade anew, under another key of the blade, with its key in force"
            }
            Self::Unsound { .. } => {
                "look at all of it with `tangmark verify PACKAGE`, and ask whoever handed it over for the whole package"
            }
            Self::NotCompared { .. } => {
                "type the fingerprint from the workshop's card with `--fingerprint ABCDE-FGHIJ-KLMNO-PQRST`; the card must not come with the package"
            }
            Self::Unproved { .. } => {
                "a fingerprint does not settle that: ask for time evidence from before the key was revoked, and name its authority with `--authority PEM`; or ask the workshop for a newer record"
            }
            Self::OtherFingerprint { .. } => {
                "compare with the card once more; if the workshop has changed its key since, ask it for its key history and hand that in with `--keys FILE`; else the package is not from whom the card is"
            }
            Self::Recovered { .. } => {
                "whoever stole the earlier key could have made that: ask the workshop, by a way you knew before, for its new card, and type the fingerprint on it"
            }
            Self::Fork { .. } => {
                "keep both and ask the workshops that sealed them; nothing here was changed"
            }
            Self::KeyTaken(_) => {
                "receive it in a workshop folder of its own (`tangmark setup DIR`), since a blade keeps its key from record to record"
            }
        };
        text.to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_revoked_record_is_no_damage_on_the_way() {
        let unsound = |reason: &str| HandOverError::Unsound {
            package: "reed.zip".into(),
            reasons: vec!["data/a: changed".to_owned(), reason.to_owned()],
        };
        let revoked = unsound("data/records/02-care.json: revoked").hint();
        assert!(revoked.contains("seal the blade anew"), "{revoked}");
        let damaged = unsound("data/records/02-care.json: altered: broken").hint();
        assert!(damaged.contains("for the whole package"), "{damaged}");
    }
}
