//! A referral as far as it has come: read from the records of the blade and the journal, never stored by itself.

use std::collections::BTreeSet;

use serde::Serialize;
use tangmark_core::Digest;
use tangmark_core::record::{PartialDate, Purpose, Term as _, Verdict};
use tangmark_store::Store as _;

use super::error::ReferError;
use super::note::{BackNote, PacketNote, ReceiptNote, ReferralNote, ReplyNote, SentNote};
use crate::days::between;
use crate::{Workshop, WorkshopError};

/// A referral as far as it has come.
#[derive(Clone, Debug, Serialize)]
pub struct ReferralCase {
    /// Blade.
    pub blade: String,
    /// Name of the referral record.
    pub record: Digest,
    /// Its number.
    pub sequence: u32,
    /// To whom; empty where the record was sealed without this flow.
    pub to: String,
    /// The day it was opened.
    pub opened_on: String,
    /// Day by which the blade is to be back.
    pub return_by: Option<PartialDate>,
    /// Where the packet was written last.
    pub packet: Option<String>,
    /// SHA-256 over the list of its files.
    pub packet_list: Option<Digest>,
    /// The day the blade left.
    pub sent_on: Option<String>,
    /// Who carried it.
    pub carrier: Option<String>,
    /// The stage it left from.
    #[serde(skip)]
    pub stage_before: Option<String>,
    /// How the specialist signed for it.
    pub receipts: Vec<ReceiptNote>,
    /// The day it came back.
    pub back_on: Option<String>,
    /// The reply.
    pub reply: Option<ReplyLine>,
    /// Days between the day it left and the day it came back, or today.
    pub days_out: Option<i64>,
    /// Days since the day of return has passed.
    pub days_late: Option<i64>,
}

/// The reply to a referral.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ReplyLine {
    /// The day it was given.
    pub on: String,
    /// From whom; empty where the record was sealed without this flow.
    pub from: String,
    /// Name of the reply record.
    pub record: Digest,
    /// Its number.
    pub sequence: u32,
    /// What it says is to happen.
    pub verdict: Option<Verdict>,
    /// Why it was given though the blade was not sent.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unsent: Option<String>,
}

impl ReferralCase {
    /// Whether the blade is with the specialist.
    pub fn is_away(&self) -> bool {
        self.sent_on.is_some() && self.back_on.is_none()
    }

    /// Whether something is still to come: a reply, or the blade.
    pub fn is_open(&self) -> bool {
        self.reply.is_none() || self.is_away()
    }

    /// Whether it was replied to and the blade went out and came back: nothing of it is to come.
    pub(super) fn is_over(&self) -> bool {
        self.sent_on.is_some() && !self.is_open()
    }
}

/// What entries on a referral are about.
pub(super) fn subject(sequence: u32) -> String {
    format!("record-{sequence}")
}

impl Workshop {
    /// Returns the referrals of a blade, oldest first. `today` counts the days.
    ///
    /// # Errors
    /// When there is no such blade, or something kept cannot be read.
    pub fn referrals_of(
        &self,
        blade: &str,
        today: &str,
    ) -> Result<Vec<ReferralCase>, WorkshopError> {
        self.store().blade(blade)?;
        let mut cases = self.cases(blade)?;
        for case in &mut cases {
            count_days(case, today);
        }
        Ok(cases)
    }

    /// Returns every referral that is open, the one that is to be back first at the top; with `all` the closed ones too.
    ///
    /// # Errors
    /// When something kept cannot be read.
    pub fn referrals(&self, all: bool, today: &str) -> Result<Vec<ReferralCase>, WorkshopError> {
        let mut blades: Vec<String> = self
            .noted::<ReferralNote>(None, None)?
            .into_iter()
            .filter_map(|one| one.blade)
            .collect();
        blades.sort();
        blades.dedup();
        let mut found = Vec::new();
        for blade in blades {
            let cases = self.referrals_of(&blade, today)?;
            found.extend(cases.into_iter().filter(|case| all || case.is_open()));
        }
        let due = |case: &ReferralCase| {
            let by = case.return_by.as_ref().map(PartialDate::last_day);
            (by.is_none(), by, case.opened_on.clone(), case.blade.clone())
        };
        found.sort_by_key(due);
        Ok(found)
    }

    fn cases(&self, blade: &str) -> Result<Vec<ReferralCase>, WorkshopError> {
        let rows = self.store().records(blade)?;
        let opened = self.noted::<ReferralNote>(Some(blade), None)?;
        let packets = self.noted::<PacketNote>(Some(blade), None)?;
        let sent = self.noted::<SentNote>(Some(blade), None)?;
        let receipts = self.noted::<ReceiptNote>(Some(blade), None)?;
        let back = self.noted::<BackNote>(Some(blade), None)?;
        let mut replies = self.noted::<ReplyNote>(Some(blade), None)?;
        // A reply that was withdrawn answers nothing: the referral waits for another.
        let lines = self.corrections(blade)?.into_iter();
        let withdrawn: BTreeSet<Digest> = lines
            .filter(|line| line.withdraws)
            .map(|line| line.of)
            .collect();
        replies.retain(|one| !withdrawn.contains(&one.matter.reply));
        let mut cases = Vec::new();
        for row in &rows {
            // A record of another workshop is that one's own referral.
            let noted = opened.iter().find(|one| one.matter.record == row.name);
            let is_referral = row.purpose == Purpose::Referral.key();
            if !is_referral || (noted.is_none() && row.draft_revision.is_none()) {
                continue;
            }
            let packet = packets
                .iter()
                .rev()
                .find(|one| one.matter.record == row.name);
            let left = sent.iter().rev().find(|one| one.matter.record == row.name);
            let came = back.iter().rev().find(|one| one.matter.record == row.name);
            let reply = match replies
                .iter()
                .rev()
                .find(|one| one.matter.record == row.name)
            {
                Some(one) => Some(ReplyLine {
                    on: one.on.clone(),
                    from: one.matter.from.clone(),
                    record: one.matter.reply,
                    sequence: one.matter.sequence,
                    verdict: Some(one.matter.verdict),
                    unsent: one.matter.unsent.clone(),
                }),
                None => self.sealed_reply(&rows, row, &withdrawn)?,
            };
            cases.push(ReferralCase {
                blade: blade.to_owned(),
                record: row.name,
                sequence: u32::try_from(row.sequence).unwrap_or(u32::MAX),
                to: noted.map_or_else(String::new, |one| one.matter.to.clone()),
                opened_on: noted.map_or_else(|| day(&row.issued_at), |one| one.on.clone()),
                return_by: noted.and_then(|one| one.matter.return_by.clone()),
                packet: packet.map(|one| one.matter.folder.clone()),
                packet_list: packet.map(|one| one.matter.list),
                sent_on: left.map(|one| one.on.clone()),
                carrier: left.and_then(|one| one.matter.carrier.clone()),
                stage_before: left.and_then(|one| one.matter.stage_before.clone()),
                receipts: receipts
                    .iter()
                    .filter(|one| one.matter.record == row.name)
                    .map(|one| one.matter.clone())
                    .collect(),
                back_on: came.map(|one| one.on.clone()),
                reply,
                days_out: None,
                days_late: None,
            });
        }
        Ok(cases)
    }

    /// A reply record of this workshop that no entry speaks of: it was sealed by hand, or the run that sealed it was ended.
    fn sealed_reply(
        &self,
        rows: &[tangmark_store::RecordRow],
        referral: &tangmark_store::RecordRow,
        withdrawn: &BTreeSet<Digest>,
    ) -> Result<Option<ReplyLine>, WorkshopError> {
        let later = rows.iter().filter(|row| {
            row.sequence > referral.sequence
                && !withdrawn.contains(&row.name)
                && row.purpose == Purpose::Reply.key()
                && row.draft_revision.is_some()
        });
        for row in later {
            let record = self.kept(row)?.record;
            let of = record.refers_to.as_ref().map(|said| said.record);
            if of == Some(referral.name) {
                return Ok(Some(ReplyLine {
                    on: day(&row.issued_at),
                    from: String::new(),
                    record: row.name,
                    sequence: record.sequence,
                    verdict: record.decision.map(|decision| decision.verdict),
                    unsent: None,
                }));
            }
        }
        Ok(None)
    }

    /// The newest referral of a blade that is open.
    pub(crate) fn open_case(&self, blade: &str) -> Result<Option<ReferralCase>, WorkshopError> {
        let cases = self.cases(blade)?;
        Ok(cases.into_iter().rev().find(ReferralCase::is_open))
    }

    pub(super) fn needed_case(&self, blade: &str) -> Result<ReferralCase, WorkshopError> {
        self.store().blade(blade)?;
        let open = self.open_case(blade)?;
        Ok(open.ok_or_else(|| ReferError::NoneOpen(blade.to_owned()))?)
    }

    /// The referral whose way goes on: the open one, else the newest. A reply ends no way: that the blade left, was signed
    /// for and came back is a fact of custody, whenever it is entered.
    pub(super) fn case_on_the_way(&self, blade: &str) -> Result<ReferralCase, WorkshopError> {
        self.store().blade(blade)?;
        let found = match self.open_case(blade)? {
            Some(open) => Some(open),
            None => self.cases(blade)?.pop(),
        };
        Ok(found.ok_or_else(|| ReferError::NoneOpen(blade.to_owned()))?)
    }
}

fn day(time: &str) -> String {
    time.get(..10).unwrap_or(time).to_owned()
}

fn count_days(case: &mut ReferralCase, today: &str) {
    let until = case.back_on.as_deref().unwrap_or(today);
    case.days_out = case
        .sent_on
        .as_deref()
        .and_then(|left| between(left, until));
    if case.is_away() {
        let by = case.return_by.as_ref().map(PartialDate::last_day);
        case.days_late = by
            .and_then(|by| between(&by, today))
            .filter(|late| *late > 0);
    }
}
