//! What the journal keeps of a referral, from the day it is opened to the reply.

use serde::{Deserialize, Serialize};
use tangmark_core::Digest;
use tangmark_core::record::{PartialDate, Verdict};

use crate::journal::Matter;

/// A referral was opened: its record is sealed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ReferralNote {
    /// Name of the referral record.
    pub record: Digest,
    /// Its number.
    pub sequence: u32,
    /// To whom.
    pub to: String,
    /// Day by which the blade is to be back.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub return_by: Option<PartialDate>,
}

impl Matter for ReferralNote {
    const KIND: &'static str = "referral";
}

/// The packet for the specialist was made.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PacketNote {
    /// Name of the referral record.
    pub record: Digest,
    /// SHA-256 over the list of its files, which is what a receipt is signed over.
    pub list: Digest,
    /// Where it was written.
    pub folder: String,
}

impl Matter for PacketNote {
    const KIND: &'static str = "referral_packet";
}

/// The blade left for the specialist.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SentNote {
    /// Name of the referral record.
    pub record: Digest,
    /// Who carries it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub carrier: Option<String>,
    /// Stage of the work on the day it left.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stage_before: Option<String>,
}

impl Matter for SentNote {
    const KIND: &'static str = "referral_sent";
}

/// How the specialist signed for the blade.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ReceiptWay {
    /// A receipt record sealed by the specialist's own workshop.
    Record,
    /// A signature over the list of the packet's files.
    Signature,
    /// On paper.
    Paper,
}

/// The specialist signed for the blade.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ReceiptNote {
    /// Name of the referral record.
    pub record: Digest,
    /// How it was signed.
    pub way: ReceiptWay,
    /// Name of the receipt record.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub receipt: Option<Digest>,
    /// Who signed, as far as it is told.
    pub signer: String,
    /// Fingerprint of the key.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fingerprint: Option<String>,
    /// What was checked of it.
    pub checked: Vec<String>,
    /// What was not.
    pub not_checked: Vec<String>,
    /// The papers that are kept: record, signature or scan.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub kept: Vec<Digest>,
}

impl Matter for ReceiptNote {
    const KIND: &'static str = "referral_receipt";
}

/// The blade came back from the specialist.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BackNote {
    /// Name of the referral record.
    pub record: Digest,
    /// In what state it came, where that differs.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub state: Option<String>,
}

impl Matter for BackNote {
    const KIND: &'static str = "referral_back";
}

/// The specialist replied.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ReplyNote {
    /// Name of the referral record.
    pub record: Digest,
    /// Name of the reply record.
    pub reply: Digest,
    /// Its number.
    pub sequence: u32,
    /// From whom.
    pub from: String,
    /// What the reply says is to happen; `refer`: the specialist keeps the blade, or refers it on.
    pub verdict: Verdict,
    /// It was sealed by the specialist's own workshop.
    pub sealed_elsewhere: bool,
    /// Why it was given though the blade was not sent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unsent: Option<String>,
    /// The letter, where it is kept.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub letter: Option<Digest>,
}

impl Matter for ReplyNote {
    const KIND: &'static str = "referral_reply";
}
