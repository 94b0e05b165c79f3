//! The sheet that a received blade starts with.

use serde_json::{Value, json};
use tangmark_core::record::withhold::RULES;
use tangmark_core::record::{Record, Sheet};
use tangmark_core::sheet;
use tangmark_store::{DraftEntry, DraftSource, NewDraft, Store as _};
use tangmark_trust::withhold;

use super::{Incoming, Received};
use crate::blades::Kept;
use crate::{Surroundings, Workshop, WorkshopError};

/// How the note of a sheet begins that was made of a received record; number and issuer follow.
pub(crate) const MADE_OF: &str = "made of record ";

impl Workshop {
    /// Makes a sheet of the newest record, where none was made of it yet and the sheet that is there says no more than the
    /// record before: the receiver's own examination goes on from there. A receiving that was cut short is made good so.
    pub(super) fn keep_received_sheet(
        &self,
        incoming: &Incoming,
        around: &Surroundings<'_>,
        received: &mut Received,
    ) -> Result<(), WorkshopError> {
        let blade = incoming.plan.blade.as_str();
        let Some(tip) = self.newest_row(blade)? else {
            return Ok(());
        };
        let newest = self.kept(&tip)?;
        if self.is_own(&newest.record)? {
            return Ok(());
        }
        let note = format!(
            "{MADE_OF}{} by {}",
            newest.record.sequence,
            one_line(&newest.record.issuer.name)
        );
        let before = self.store().draft(blade)?;
        let mut replaced = None;
        if let Some(before) = &before {
            let made =
                |entry: &DraftEntry| entry.source == DraftSource::Import && entry.note == note;
            // Whatever was entered since goes on from it.
            if self.store().draft_history(blade)?.iter().any(made) {
                return Ok(());
            }
            let rows = self.store().records(blade)?;
            let sealed = rows
                .iter()
                .any(|row| row.draft_revision == Some(before.entry.revision));
            let received_before = before.entry.source == DraftSource::Import
                && before.entry.note.starts_with(MADE_OF);
            if !sealed && !received_before {
                received.remarks.push(format!(
                    "the sheet of `{blade}` has changes of yours that are not sealed; it is left as it is, without what the newest record says"
                ));
                return Ok(());
            }
            replaced = (!received_before).then_some(before.entry.revision);
        }
        let Some((sheet, whole)) = self.sheet_of(&newest)? else {
            received.remarks.push(format!(
                "no sheet could be made of the newest record, which does not follow the rules of sheets: begin one with `tangmark examine new {blade}`"
            ));
            return Ok(());
        };
        if !whole {
            received.remarks.push(
                "the sheet has the identity of the blade alone: what the newest record says beyond it does not stand by itself without the values it withholds".to_owned(),
            );
        }
        let body = sheet
            .to_json()
            .map_err(|error| WorkshopError::Canonical(error.to_string()))?;
        let revision = self.store().save_draft(&NewDraft {
            blade,
            expected_revision: before.map(|before| before.entry.revision),
            body: &body,
            saved_at: around.now.as_str(),
            source: DraftSource::Import,
            note: &note,
            by: &self.name()?,
        })?;
        received.sheet = Some(revision);
        if let Some(own) = replaced {
            received.remarks.push(format!(
                "your own sheet, revision {own}, is kept; `tangmark examine undo {blade}` brings it back"
            ));
        }
        Ok(())
    }

    /// The sheet of a record with the values that are shown here, and whether it is whole; none where not even the
    /// identity of the blade follows the rules of sheets, which are stricter than those of records.
    fn sheet_of(&self, kept: &Kept) -> Result<Option<(Sheet, bool)>, WorkshopError> {
        let fault = |what: String| WorkshopError::Disclosure(what);
        let known = self.disclosures(&kept.row.name)?;
        let (value, _) = withhold::reveal(&kept.value, &known, RULES)
            .map_err(|error| fault(error.to_string()))?;
        let record = Record::from_json(&value).map_err(|error| fault(error.to_string()))?;
        let canonical = |error: serde_json::Error| WorkshopError::Canonical(error.to_string());
        let said = format!(
            "as record {} of {} has it",
            record.sequence, record.issuer.name
        );
        let mut body = carried_over(&record).to_json().map_err(canonical)?;
        take_over(&mut body, &said);
        if let Ok(sheet) = sheet::from_value(body) {
            return Ok(Some((sheet, true)));
        }
        let mut bare = Sheet::of(record.blade.clone())
            .to_json()
            .map_err(canonical)?;
        take_over(&mut bare, &said);
        Ok(sheet::from_value(bare).ok().map(|sheet| (sheet, false)))
    }
}

/// A name that somebody else wrote, as a note can hold it.
fn one_line(name: &str) -> String {
    let shown = |character: char| {
        if character.is_control() {
            '\u{fffd}'
        } else {
            character
        }
    };
    name.chars().map(shown).collect()
}

/// What a receiver goes on with: what is said of the blade. What only the one who sealed it can say or agree to stays
/// behind: the examination, the plan, the agreement with an owner, a valuation, a referral.
fn carried_over(record: &Record) -> Sheet {
    Sheet {
        examination: None,
        plan: None,
        agreement: None,
        valuation: None,
        referral: None,
        refers_to: None,
        key_change: None,
        ..record.sheet()
    }
}

/// Turns the statements of a record into those of a sheet: digests of withheld values go, and a measurement keeps value and
/// uncertainty, but says whose it is in place of naming an instrument that is not at hand.
fn take_over(value: &mut Value, said: &str) {
    match value {
        Value::Object(members) => {
            members.remove("_sd");
            if members.contains_key("as_read") {
                members.remove("instrument");
                if members.contains_key("uncertainty_from") {
                    members.insert("uncertainty_from".to_owned(), json!("stated"));
                }
                members.insert("method".to_owned(), json!(said));
            }
            for member in members.values_mut() {
                take_over(member, said);
            }
        }
        Value::Array(elements) => {
            for element in elements {
                take_over(element, said);
            }
        }
        _ => {}
    }
}
