//! The way of a referred blade: out to the specialist, and back.

use serde::Serialize;
use serde_json::{Value, json};
use tangmark_core::record::{CustodyKind, Term as _, Verdict};
use tangmark_store::Store as _;

use super::case::subject;
use super::error::ReferError;
use super::note::{BackNote, SentNote};
use crate::custody_of::{self, own_hand};
use crate::journal::Who;
use crate::stage::Stage;
use crate::{Surroundings, Workshop, WorkshopError};

/// On what ground the blade leaves.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum OnLoan {
    /// Left in custody for work or a look.
    #[default]
    ForWork,
    /// Lent.
    Lent,
}

/// Order to note that a blade left for the specialist.
#[derive(Clone, Debug)]
pub struct SentOrder<'a> {
    /// Blade.
    pub blade: &'a str,
    /// On what ground.
    pub ground: OnLoan,
    /// Who carries it.
    pub carrier: Option<&'a str>,
    /// Who sends it, and when.
    pub who: Who<'a>,
}

/// Order to note that a blade came back.
#[derive(Clone, Debug)]
pub struct BackOrder<'a> {
    /// Blade.
    pub blade: &'a str,
    /// In what state it came, where that differs from the record.
    pub state: Option<&'a str>,
    /// Who took it in, and when.
    pub who: Who<'a>,
}

/// What was noted.
#[derive(Clone, Debug, Serialize)]
pub struct Moved {
    /// Blade.
    pub blade: String,
    /// Number of the referral record.
    pub referral: u32,
    /// The specialist.
    pub specialist: String,
    /// The day.
    pub on: String,
    /// Revision of the sheet.
    pub revision: u64,
    /// Stage now.
    pub stage: Stage,
    /// What a person should read.
    pub remarks: Vec<String>,
}

/// The stage that a reply leads to; `before` is the one it left from.
pub(super) fn stage_after(verdict: Verdict, before: Option<&str>) -> Stage {
    match verdict {
        Verdict::Work => before
            .and_then(Stage::of_key)
            .filter(|stage| !matches!(stage, Stage::Referred | Stage::Held | Stage::SetAside))
            .unwrap_or(Stage::AsReceived),
        Verdict::SetAside => Stage::SetAside,
        Verdict::Refer => Stage::Held,
    }
}

impl Workshop {
    /// Notes that the blade left for the specialist: custody on the sheet, stage and journal, together or not at all.
    ///
    /// # Errors
    /// When there is no referral that the blade could leave by, it is with the specialist already, or it left the workshop.
    pub fn referral_sent(
        &self,
        order: &SentOrder<'_>,
        around: &Surroundings<'_>,
    ) -> Result<Moved, WorkshopError> {
        let blade = order.blade;
        let case = self.case_on_the_way(blade)?;
        if case.is_over() {
            return Err(ReferError::NoneOpen(blade.to_owned()).into());
        }
        if let Some(on) = case.sent_on.clone() {
            let blade = blade.to_owned();
            return Err(ReferError::Away { blade, on }.into());
        }
        let on = order.who.day(around)?;
        let stage_before = self.store().standing(blade)?.stage;
        let mut edit = self.edit(blade)?;
        let workshop = self.name()?;
        let received = custody_of::received(&self.store().records(blade)?);
        if let Some(gone) = custody_of::gone(&edit.sheet()?.custody, &workshop, received) {
            return Err(ReferError::Left {
                blade: blade.to_owned(),
                how: custody_of::words(gone),
                back: custody_of::came_back(blade, &workshop),
            }
            .into());
        }
        let kind = match order.ground {
            OnLoan::ForWork => CustodyKind::LeftForWork,
            OnLoan::Lent => CustodyKind::Lent,
        };
        let mut event = json!({
            "kind": kind.key(),
            "when": on,
            "from": own_hand(&edit.body, &workshop),
            "to": specialist(&edit.body, &case.to),
            "note": format!("Referral, record {}", case.sequence),
        });
        if let Some(carrier) = order.carrier {
            event["note"] = json!(format!(
                "Referral, record {}; carrier: {carrier}",
                case.sequence
            ));
        }
        edit.push("custody", event);
        let note = SentNote {
            record: case.record,
            carrier: order.carrier.map(str::to_owned),
            stage_before,
        };
        edit.note(self, &subject(case.sequence), &note, &order.who, around)?;
        let told = format!("at {}", case.to);
        edit.stage(self, Stage::Referred, Some(&told), &order.who, around)?;
        let saved = edit.save(self, "left for the specialist", around)?;
        Ok(Moved {
            blade: blade.to_owned(),
            referral: case.sequence,
            specialist: case.to,
            on,
            revision: saved.revision,
            stage: Stage::Referred,
            remarks: saved.remarks,
        })
    }

    /// Notes that the blade came back from the specialist. It goes on as the reply says; without one it is held.
    ///
    /// # Errors
    /// When it is not away.
    pub fn referral_back(
        &self,
        order: &BackOrder<'_>,
        around: &Surroundings<'_>,
    ) -> Result<Moved, WorkshopError> {
        let blade = order.blade;
        let case = self.case_on_the_way(blade)?;
        if case.is_over() {
            return Err(ReferError::NoneOpen(blade.to_owned()).into());
        }
        if !case.is_away() {
            return Err(ReferError::NotAway(blade.to_owned()).into());
        }
        let on = order.who.day(around)?;
        let mut edit = self.edit(blade)?;
        let mut event = json!({
            "kind": CustodyKind::Returned.key(),
            "when": on,
            "from": specialist(&edit.body, &case.to),
            "to": { "role": "polisher", "name": self.name()? },
        });
        if let Some(state) = order.state {
            event["note"] = json!(state);
        }
        edit.push("custody", event);
        let note = BackNote {
            record: case.record,
            state: order.state.map(str::to_owned),
        };
        edit.note(self, &subject(case.sequence), &note, &order.who, around)?;
        let verdict = case.reply.as_ref().and_then(|reply| reply.verdict);
        let stage = verdict.map_or(Stage::Held, |verdict| {
            stage_after(verdict, case.stage_before.as_deref())
        });
        edit.stage(self, stage, None, &order.who, around)?;
        let saved = edit.save(self, "back from the specialist", around)?;
        Ok(Moved {
            blade: blade.to_owned(),
            referral: case.sequence,
            specialist: case.to,
            on,
            revision: saved.revision,
            stage,
            remarks: saved.remarks,
        })
    }
}

/// The specialist as the sheet has it, else by name alone.
fn specialist(body: &Value, name: &str) -> Value {
    let on_sheet = body.pointer("/referral/to");
    on_sheet.cloned().unwrap_or_else(|| {
        if name.is_empty() {
            json!({ "role": "specialist" })
        } else {
            json!({ "role": "specialist", "name": name })
        }
    })
}
