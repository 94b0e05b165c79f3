//! What can go wrong with a referral.

use std::path::PathBuf;

use tangmark_core::record::Purpose;
use tangmark_core::record::Term as _;
use tangmark_trust::detached::DetachedError;

use crate::steps::Ended;

/// Why a referral did not go on.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ReferError {
    /// A referral is under way.
    #[error(
        "blade `{blade}` is referred to `{to}` by record {record} already, and no reply is noted"
    )]
    Open {
        /// Blade.
        blade: String,
        /// Number of the referral record.
        record: u32,
        /// To whom.
        to: String,
    },
    /// No referral is under way.
    #[error("no referral of blade `{0}` is open")]
    NoneOpen(String),
    /// The blade is with the specialist already.
    #[error("blade `{blade}` left for the specialist on {on} already")]
    Away {
        /// Blade.
        blade: String,
        /// Day.
        on: String,
    },
    /// The blade is not with the specialist.
    #[error("blade `{0}` is not noted as sent to the specialist")]
    NotAway(String),
    /// A reply to a referral of a blade that was not sent.
    #[error(
        "blade `{0}` is not noted as sent to the specialist, and nothing says why a reply needs it not"
    )]
    Unsent(String),
    /// A receipt for a blade that was not sent.
    #[error(
        "blade `{0}` is not noted as sent to the specialist: nobody can have signed for it yet"
    )]
    NotSentYet(String),
    /// A scan that is no picture and no PDF.
    #[error("{}: no scan by its content; PDF, JPEG, PNG and TIFF are allowed", file.display())]
    NoScan {
        /// The file.
        file: PathBuf,
    },
    /// The folder of a packet that is there holds something else.
    #[error("{}: {what}", folder.display())]
    OtherPacket {
        /// The folder.
        folder: PathBuf,
        /// What is wrong with it.
        what: String,
    },
    /// No packet was made, so no signature can be over one.
    #[error(
        "no packet of record {record} was made, so there is no list that a signature could be over"
    )]
    NoPacket {
        /// Blade.
        blade: String,
        /// Number of the referral record.
        record: u32,
    },
    /// A signature beside the list of files.
    #[error("{}: {error}", file.display())]
    Signature {
        /// The file.
        file: PathBuf,
        /// Why it counts for nothing.
        error: DetachedError,
    },
    /// A signature without the file it lies in.
    #[error("{}: a key or certificate by itself, the signature over the list of files is needed too", key.display())]
    NoSignature {
        /// The file with the key.
        key: PathBuf,
    },
    /// A record that is no receipt for this referral.
    #[error("{}: no receipt for this referral: {what}", file.display())]
    NoReceipt {
        /// The file.
        file: PathBuf,
        /// Why not.
        what: String,
    },
    /// Stops that the reply does not answer.
    #[error("the reply says `work`, and says nothing of {}", rules.join(", "))]
    Unanswered {
        /// The rules.
        rules: Vec<String>,
    },
    /// A record that is no reply to the referral.
    #[error("record {number} of blade `{blade}` is no reply to this referral: {what}")]
    NoReply {
        /// Blade.
        blade: String,
        /// Number of the record.
        number: u32,
        /// Why not.
        what: String,
    },
    /// Words that differ from those of the reply that is sealed.
    #[error(
        "the reply is sealed as record {record} of blade `{blade}` with {what} `{sealed}`; `{found}` was entered now"
    )]
    OtherReply {
        /// Blade.
        blade: String,
        /// Number of the reply record.
        record: u32,
        /// What differs.
        what: &'static str,
        /// As it is sealed.
        sealed: String,
        /// As it was entered now.
        found: String,
    },
    /// The blade left the workshop.
    #[error("blade `{blade}` is not in the workshop: by its chain of custody it was {how}")]
    Left {
        /// Blade.
        blade: String,
        /// The event by which it left, in words.
        how: String,
        /// The command that says that the blade is here again.
        back: String,
    },
    /// A receipt of the specialist continues the chain and is not in it.
    #[error(
        "the specialist's receipt follows record {after} and is not among the records here: sealing now makes two histories of the blade"
    )]
    WouldFork {
        /// Number of the record that both would follow.
        after: u32,
    },
    /// A test ended the run.
    #[error(transparent)]
    Ended(#[from] Ended),
}

impl ReferError {
    /// Says which purpose a record has in place of the one needed.
    pub(super) fn purpose(found: Purpose, needed: Purpose) -> String {
        format!("it is for `{}`, `{}` is needed", found.key(), needed.key())
    }

    /// The next step.
    pub fn hint(&self) -> String {
        match self {
            Self::Open { blade, .. } => format!(
                "enter the reply with `tangmark refer reply {blade} …`; where none will come, `tangmark journal list {blade} --kind referral` and `tangmark journal strike N --reason \"…\"`"
            ),
            Self::NoneOpen(blade) => {
                format!("open one with `tangmark refer open {blade} --to NAME --question \"…\" --not-done \"…\"`")
            }
            Self::Away { blade, .. } => {
                format!("when it is back, enter that with `tangmark refer back {blade}`")
            }
            Self::NotAway(blade) => {
                format!("when it leaves, enter that with `tangmark refer sent {blade}`")
            }
            Self::Unsent(blade) => format!(
                "enter the day it left with `tangmark refer sent {blade} --on DAY`; where it was not sent, say on what the reply rests with `--unsent \"seen by photographs\"`"
            ),
            Self::NotSentYet(blade) => {
                format!("enter the day it left first: `tangmark refer sent {blade} --on DAY`")
            }
            Self::NoScan { .. } => {
                "name the scan or photograph of the signed paper with `--scan FILE`; without one leave `--scan` out".to_owned()
            }
            Self::OtherPacket { .. } => {
                "name another folder with `--out DIR`; nothing is overwritten".to_owned()
            }
            Self::NoPacket { blade, .. } => {
                format!("make it with `tangmark refer packet {blade}`, or enter a receipt on paper with `--paper`")
            }
            Self::Signature { error, .. } => error.hint().to_owned(),
            Self::NoSignature { .. } => {
                "name the file with the signature too: `--signature FILE`".to_owned()
            }
            Self::NoReceipt { .. } => {
                "ask the specialist for a receipt that names the referral record: `tangmark seal BLADE --for receipt --refers-to N --statement \"…\"`".to_owned()
            }
            Self::Unanswered { rules } => format!(
                "add what the specialist says of each, such as `--answer {} --how \"…\"`; a reply that does not speak of them lifts nothing",
                rules.first().map_or("RULE", String::as_str)
            ),
            Self::NoReply { .. } => {
                "take in the package with the specialist's reply first: `tangmark handover receive PACKAGE`".to_owned()
            }
            Self::OtherReply { blade, record, .. } => format!(
                "take it as it is sealed with `tangmark refer reply {blade} --record {record}`; what is wrong in it is then put right with `tangmark correct {blade} --record {record} --statement \"…\"`"
            ),
            Self::Left { back, .. } => {
                format!("where it is here again, enter that first: `{back}`")
            }
            Self::WouldFork { .. } => {
                "take the receipt in with `tangmark refer receipt BLADE --signed-with FILE --fingerprint …`, the fingerprint from the specialist's card; or the specialist's package with `tangmark handover receive PACKAGE`".to_owned()
            }
            Self::Ended(_) => "run it again".to_owned(),
        }
    }
}
