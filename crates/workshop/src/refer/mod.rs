//! Referring a blade to a senior specialist: the record, the packet, the way out and back, the receipt and the reply.

mod answer;
mod case;
mod chain;
mod error;
mod note;
mod packet;
mod receipt;
#[cfg(test)]
mod tests;
mod way;
mod words;

use serde_json::{Value, json};
use tangmark_core::record::{Decision, PartialDate, Purpose, Term as _, UtcTime, Verdict};
use tangmark_store::Store as _;

use crate::journal::Who;
use crate::steps::{Step, Tell, Walk};
use crate::{Order, Surroundings, Workshop, WorkshopError, counted, journal};

pub use answer::{Replied, ReplyOrder, ReplySource};
pub use case::{ReferralCase, ReplyLine};
pub use error::ReferError;
pub use note::{BackNote, PacketNote, ReceiptNote, ReceiptWay, ReferralNote, ReplyNote, SentNote};
pub use packet::{Packet, PacketWish};
pub use receipt::{ReceiptOrder, ReceiptSource, ReceiptTaken, is_pem};
pub use way::{BackOrder, Moved, OnLoan, SentOrder};

/// Order to open a referral.
#[derive(Clone, Debug)]
pub struct OpenReferral<'a> {
    /// Blade.
    pub blade: &'a str,
    /// Name of the specialist.
    pub to: &'a str,
    /// Questions.
    pub questions: &'a [String],
    /// What was not done, and why.
    pub not_done: &'a [String],
    /// What goes along.
    pub packed: &'a [String],
    /// Conditions of return.
    pub return_conditions: Option<&'a str>,
    /// Day by which it is to be back.
    pub return_by: Option<&'a PartialDate>,
    /// Why it is referred.
    pub reason: &'a str,
    /// The packet.
    pub packet: PacketWish<'a>,
    /// Passphrase of the signing key.
    pub passphrase: &'a [u8],
    /// Who refers it, and when.
    pub who: Who<'a>,
}

/// What came of opening a referral.
#[derive(Debug)]
pub struct Opened {
    /// The steps, those done before among them.
    pub steps: Vec<Step>,
    /// The referral as it stands now.
    pub case: ReferralCase,
    /// The packet, where it was made just now.
    pub packet: Option<Packet>,
}

/// The day of a moment, as `2026-11-25`.
pub fn day_of(now: &UtcTime) -> &str {
    let text = now.as_str();
    text.get(..10).unwrap_or(text)
}

/// The section of the sheet.
fn section(order: &OpenReferral<'_>) -> Value {
    let mut section = json!({
        "to": { "role": "specialist", "name": order.to },
        "questions": order.questions,
        "not_done": order.not_done,
    });
    if let Some(conditions) = order.return_conditions {
        section["return_conditions"] = json!(conditions);
    }
    if !order.packed.is_empty() {
        section["packed"] = json!(order.packed);
    }
    section
}

impl Workshop {
    /// Opens a referral: the section on the sheet, the sealed record, the entry in the journal, the packet. Each step is
    /// told; ended after any of them and run again with the same words, it goes on where it was.
    ///
    /// # Errors
    /// When another referral is open, the words do not fit a record, the passphrase does not open the key, or something is
    /// in the place of the packet.
    pub fn open_referral(
        &self,
        order: &OpenReferral<'_>,
        tell: &mut Tell<'_>,
        around: &mut Surroundings<'_>,
    ) -> Result<Opened, WorkshopError> {
        self.open_referral_to(order, usize::MAX, tell, around)
    }

    pub(crate) fn open_referral_to(
        &self,
        order: &OpenReferral<'_>,
        most: usize,
        tell: &mut Tell<'_>,
        around: &mut Surroundings<'_>,
    ) -> Result<Opened, WorkshopError> {
        let on = order.who.day(around)?;
        if let Some(by) = order.return_by {
            journal::due("the day of return", by, &on)?;
        }
        let mut walk = Walk::new(tell, most);
        let blade = order.blade;
        // A wrong passphrase is told before anything is written.
        let mut press = self.press(order.passphrase)?;

        let mut edit = self.edit(blade)?;
        let wanted = section(order);
        let on_sheet = edit.body.get("referral") == Some(&wanted);
        let revision = edit.revision();
        let tip = self.store().tip(blade)?;
        let sealed = tip.filter(|tip| {
            on_sheet && tip.purpose == Purpose::Referral.key() && tip.draft_revision == revision
        });
        if let Some(open) = self.open_case(blade)?
            && sealed.as_ref().is_none_or(|tip| tip.name != open.record)
        {
            return Err(ReferError::Open {
                blade: blade.to_owned(),
                record: open.sequence,
                to: open.to,
            }
            .into());
        }
        let next = if let Some(tip) = &sealed {
            u32::try_from(tip.sequence).unwrap_or(u32::MAX)
        } else {
            let records = self.store().records(blade)?.len();
            u32::try_from(records + 1).unwrap_or(u32::MAX)
        };
        let place = packet::place(self, blade, next, order.packet.out);
        if sealed.is_none() && std::fs::symlink_metadata(&place).is_ok() {
            return Err(WorkshopError::Exists(place));
        }

        if on_sheet {
            walk.tell(Step::before("sheet", "the referral stands on the sheet"));
        } else {
            walk.next().map_err(ReferError::from)?;
            edit.set("referral", wanted);
            edit.by(&self.by(&order.who)?);
            let saved = edit.save(self, "referral", around)?;
            walk.tell(Step::done(
                "sheet",
                format!(
                    "the referral stands on the sheet, revision {}",
                    saved.revision
                ),
            ));
        }

        let row = if let Some(tip) = sealed {
            walk.tell(
                Step::before("record", format!("record {next} is sealed")).with_record(tip.name),
            );
            tip
        } else {
            walk.next().map_err(ReferError::from)?;
            let by = self.by(&order.who)?;
            let sealed = self.seal(
                &Order {
                    blade,
                    purpose: Purpose::Referral,
                    decision: Some(Decision {
                        verdict: Verdict::Refer,
                        by,
                        reason: order.reason.to_owned(),
                        answers: Vec::new(),
                    }),
                    overrides: Vec::new(),
                    refers_to: None,
                    passphrase: order.passphrase,
                    out: None,
                },
                around,
            )?;
            let mut step = Step::done("record", format!("sealed {}", sealed.line()))
                .with_record(sealed.record);
            step.file.clone_from(&sealed.file);
            walk.tell(step);
            self.row(blade, Some(sealed.sequence))?
        };
        let kept = self.kept(&row)?;

        let noted = self.noted::<ReferralNote>(Some(blade), None)?;
        if noted.iter().any(|one| one.matter.record == row.name) {
            walk.tell(Step::before("journal", "the referral is noted"));
        } else {
            walk.next().map_err(ReferError::from)?;
            let note = ReferralNote {
                record: row.name,
                sequence: kept.record.sequence,
                to: order.to.to_owned(),
                return_by: order.return_by.cloned(),
            };
            let subject = case::subject(kept.record.sequence);
            let number = self.note(Some(blade), &subject, &note, &order.who, around)?;
            walk.tell(Step::done("journal", format!("noted as entry {number}")));
        }

        let packet = self.packet_step(order, &kept, &mut press, &mut walk, around)?;
        let case = self
            .open_case(blade)?
            .ok_or_else(|| ReferError::NoneOpen(blade.to_owned()))?;
        Ok(Opened {
            steps: walk.finish(),
            case,
            packet,
        })
    }

    fn packet_step(
        &self,
        order: &OpenReferral<'_>,
        kept: &crate::blades::Kept,
        press: &mut crate::Press<'_>,
        walk: &mut Walk<'_>,
        around: &mut Surroundings<'_>,
    ) -> Result<Option<Packet>, WorkshopError> {
        let blade = order.blade;
        let folder = packet::place(self, blade, kept.record.sequence, order.packet.out);
        let (list, made) = if let Some(list) = packet::there(&folder, kept)? {
            walk.tell(Step::before("packet", "the packet is made").with_file(&folder));
            (list, None)
        } else {
            walk.next().map_err(ReferError::from)?;
            let made = packet::make(self, blade, kept, &order.packet, press, &around.now)?;
            walk.tell(
                Step::done(
                    "packet",
                    format!("packed {}", counted(made.files.len(), "file")),
                )
                .with_file(&made.folder),
            );
            (made.list, Some(made))
        };
        self.note_packet(blade, kept, list, &folder, &order.who, around)?;
        Ok(made)
    }

    fn note_packet(
        &self,
        blade: &str,
        kept: &crate::blades::Kept,
        list: tangmark_core::Digest,
        folder: &std::path::Path,
        who: &Who<'_>,
        around: &Surroundings<'_>,
    ) -> Result<(), WorkshopError> {
        let folder = std::path::absolute(folder)
            .map_err(|error| WorkshopError::file("find", folder, error))?;
        let note = PacketNote {
            record: kept.row.name,
            list,
            folder: folder.display().to_string(),
        };
        let noted = self.noted::<PacketNote>(Some(blade), None)?;
        if !noted.iter().any(|one| one.matter.list == list) {
            let subject = case::subject(kept.record.sequence);
            self.note(Some(blade), &subject, &note, who, around)?;
        }
        Ok(())
    }

    /// Makes the packet of the open referral once more, in another place.
    ///
    /// # Errors
    /// When no referral is open, something is in its place, or the passphrase does not open the key.
    pub fn referral_packet(
        &self,
        blade: &str,
        wish: &PacketWish<'_>,
        passphrase: &[u8],
        who: &Who<'_>,
        around: &Surroundings<'_>,
    ) -> Result<Packet, WorkshopError> {
        let case = self.needed_case(blade)?;
        let mut press = self.press(passphrase)?;
        let kept = self.pick(blade, Some(case.sequence))?;
        let made = packet::make(self, blade, &kept, wish, &mut press, &around.now)?;
        self.note_packet(blade, &kept, made.list, &made.folder, who, around)?;
        Ok(made)
    }
}
