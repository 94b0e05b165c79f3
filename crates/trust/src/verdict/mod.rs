//! What can be said of a record or a report, in four separate lines and never as one tick.
//!
//! *Bytes*: are these the bytes that were signed? *Signer*: is this a key the reader knows? *Time*: who says
//! when? *Completeness*: what belongs to it and is not here? "Changed" outranks "unknown signer".

mod chain;
mod file;
mod line;
mod pages;
mod signer;
mod steps;
#[cfg(test)]
mod tests;
mod time;
mod withdrawals;

use serde::Serialize;
use tangmark_core::Digest;
use tangmark_core::record::Record;

use crate::history::KeyHistory;
use crate::key::PublicKey;
use crate::memory::Memory;
use crate::timestamp::Evidence;

pub use file::{Judged, judge, judge_report};
pub use line::{BytesLine, Completeness};
pub use pages::signer_of_pages;
pub use signer::{SignerLine, known_key};
pub use time::TimeLine;

/// What the reader brings to a verification. Nothing is asked from a network or a clock.
#[derive(Clone, Copy, Debug)]
pub struct Reader<'a> {
    /// Keys the reader's own workshop signs with.
    pub own_keys: &'a [PublicKey],
    /// Keys seen before.
    pub memory: &'a Memory,
    /// The time now (UTC text), to notice times in the future.
    pub now: &'a str,
    /// Other records that were handed in, as received: predecessors, successors, withdrawals.
    pub others: &'a [Vec<u8>],
    /// Key histories at hand: handed in, remembered, the reader's own.
    pub histories: &'a [KeyHistory],
    /// What time authorities say of the record, each token checked.
    pub evidence: &'a [Evidence],
}

/// What a file is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum FileKind {
    /// A sealed record.
    Record,
    /// A signed PDF report.
    Pdf,
    /// Neither.
    Unknown,
}

/// The verdict on one file.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Verdict {
    /// What the file is.
    pub kind: FileKind,
    /// Are these the bytes that were signed?
    pub bytes: BytesLine,
    /// Is this a key the reader knows?
    pub signer: SignerLine,
    /// Who says when?
    pub time: TimeLine,
    /// What belongs to it and is not here?
    pub completeness: Completeness,
    /// The record's name, where it could be computed.
    pub record: Option<Digest>,
    /// Fingerprint of the key that signed, where a signature was found to hold.
    pub fingerprint: Option<String>,
    /// did:key of that key.
    pub key: Option<String>,
    /// Name the issuer gave itself.
    pub issuer: Option<String>,
    /// What a reader must be told first: demonstration keys, withdrawals, overrides, stops.
    pub notices: Vec<String>,
}

/// How much a state weighs for the exit code, the least first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Weight {
    /// Nothing is open.
    Accepted,
    /// The reader has something to confirm.
    ToBeConfirmed,
    /// Nothing can be said of it here.
    CannotBeChecked,
    /// Not to be relied on.
    Rejected,
}

impl Verdict {
    /// Returns the exit code: 1 altered, chain broken, or the signer is rejected by a key history (outranks all), 3 bytes
    /// or signer cannot be judged, 2 the signer is to be confirmed, or the record is a withdrawal or superseded by one at
    /// hand, 0 otherwise.
    pub fn exit_code(&self) -> u8 {
        let bytes = match &self.bytes {
            BytesLine::Intact | BytesLine::SameContent => Weight::Accepted,
            BytesLine::Altered { .. } => Weight::Rejected,
            BytesLine::CannotJudge { .. } => Weight::CannotBeChecked,
        };
        let weights = [bytes, self.signer.weight(), self.completeness.weight()];
        match weights.into_iter().max() {
            Some(Weight::Rejected) => 1,
            Some(Weight::CannotBeChecked) => 3,
            Some(Weight::ToBeConfirmed) => 2,
            Some(Weight::Accepted) | None => 0,
        }
    }
}

/// Collects what stands on page 1 of a report and must be told first.
pub(crate) fn notices(record: &Record) -> Vec<String> {
    use tangmark_core::record::{Level, Term as _};
    let mut notices = Vec::new();
    if record.issuer.demo {
        notices.push("demonstration: this key is a throw-away and stands for nobody".to_owned());
    }
    for entry in &record.overrides {
        notices.push(format!(
            "override of {} by {}: {}",
            entry.rule, entry.name, entry.reason
        ));
    }
    for line in &record.worked_under_hold {
        notices.push(format!(
            "worked under hold: pass {} while {} stood",
            line.pass, line.rule
        ));
    }
    for finding in record
        .findings
        .iter()
        .filter(|finding| finding.level == Level::Stop)
    {
        notices.push(format!("stop: {}", finding.message));
    }
    if let Some(decision) = &record.decision {
        notices.push(format!(
            "decision: {}, by {}",
            decision.verdict.gloss(),
            decision.by
        ));
    }
    notices
}
