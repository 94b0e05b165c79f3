//! What the reader does next, a line for each thing that is open.

use super::{BytesLine, SignerLine, TimeLine, Verdict};
use crate::timestamp::Authority;

impl Verdict {
    /// The next steps, those about the bytes first. They follow from the verdict alone.
    pub fn next_steps(&self) -> Vec<String> {
        let mut steps: Vec<String> = [self.bytes.next_step(), self.signer.next_step()]
            .into_iter()
            .chain([self.time.next_step()])
            .flatten()
            .collect();
        let completeness = &self.completeness;
        if completeness.broken.is_some() {
            steps.push("ask for every record of the blade as it was sealed, and hand them in with `--with FILE`".to_owned());
        } else if completeness.not_supplied > 0 {
            steps.push("ask for the records before this one if you need the whole story, and hand them in with `--with FILE`".to_owned());
        }
        if let Some(withdrawal) = &completeness.withdrawn_by {
            steps.push(format!(
                "do not rely on this record: read the one that withdraws it, {withdrawal}, verify that, and ask the workshop what holds now"
            ));
        } else if completeness.superseded_by.is_some() {
            steps.push(
                "verify the later record too; it may correct this one or say what was done since"
                    .to_owned(),
            );
        }
        if completeness.is_withdrawal {
            steps.push(
                "read what is withdrawn and why, and ask the workshop what holds now".to_owned(),
            );
        }
        if matches!(self.bytes, BytesLine::Intact | BytesLine::SameContent) {
            steps.push("hold the blade against what the record says of it; a signature says nothing about the steel".to_owned());
        }
        steps
    }
}

impl BytesLine {
    /// The next step, where there is one.
    pub fn next_step(&self) -> Option<String> {
        let step = match self {
            Self::Intact => return None,
            Self::SameContent => "ask for the sealed file itself if you want to hand it on",
            Self::Altered { .. } => {
                "do not rely on this file; ask whoever issued it for the file as it was sealed, and verify that"
            }
            Self::CannotJudge { .. } => {
                "give the record (.json) or the report (.pdf) itself, byte for byte as you received it"
            }
        };
        Some(step.to_owned())
    }
}

impl SignerLine {
    /// The next step, where there is one.
    pub fn next_step(&self) -> Option<String> {
        let step = match self {
            Self::Own | Self::Known { .. } | Self::Succeeded { .. } | Self::CannotJudge { .. } => {
                return None;
            }
            Self::New { fingerprint } => {
                return Some(format!(
                    "compare all twenty characters of {fingerprint} with the card, or ask the workshop by a way you knew before this file"
                ));
            }
            Self::Recovered { fingerprint, .. } => {
                return Some(format!(
                    "ask the workshop, by a way you knew before this file, for its new card, and compare all twenty characters of {fingerprint}"
                ));
            }
            Self::OtherKeyForName { .. } => {
                "ask the workshop, by a way you knew before this file, whether it changed its key, and for its key history (`--keys FILE`); until then treat the file as from somebody you do not know"
            }
            Self::OtherNameForKey { .. } => {
                "ask the workshop, by a way you knew before this file, why it uses another name"
            }
            Self::NotInForce { .. } => {
                "do not rely on this file; ask the workshop, by a way you knew before this file, for one that is sealed with the key in force"
            }
            Self::Revoked { .. } => {
                "do not rely on this file; ask the workshop, by a way you knew before this file, whether it sealed it, and for one that is sealed with its key in force"
            }
            Self::RevokedUnproved { .. } => {
                "ask the workshop, by a way you knew before this file, whether it sealed it; a timestamp from before the revocation by an authority you trust would settle it (`--timestamp FILE --authority PEM`)"
            }
            Self::TwoHistories { .. } => {
                "rely on neither history; ask the workshop, by a way you knew before this file, which one is its own"
            }
        };
        Some(step.to_owned())
    }
}

impl TimeLine {
    /// The next step, where there is one.
    pub fn next_step(&self) -> Option<String> {
        let step = match self {
            Self::Future { .. } => {
                "look at the clock of this computer; if it is right, ask the workshop"
            }
            Self::StatedLater { .. } => "ask the workshop which time is right",
            Self::NotLaterThan {
                standing: Authority::Unknown,
                ..
            } => {
                "if you trust this authority, give its certificate with `--authority PEM`, had by a way of its own"
            }
            Self::OwnWord { .. } | Self::NotLaterThan { .. } | Self::CannotJudge => return None,
        };
        Some(step.to_owned())
    }
}
