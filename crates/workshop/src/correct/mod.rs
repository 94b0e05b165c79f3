//! Putting right what was sealed: a correction or a withdrawal is a record of its own. What it speaks of is never changed.

mod error;
#[cfg(test)]
mod tests;

use std::path::Path;

use serde::{Deserialize, Serialize};
use tangmark_core::Digest;
use tangmark_core::record::{Purpose, RefersTo, Term as _};
use tangmark_store::Store as _;

use crate::blades::Kept;
use crate::journal::{Matter, Who};
use crate::sale::SaleNote;
use crate::{Order, Sealed, Surroundings, Workshop, WorkshopError};

pub use error::CorrectError;

/// What the journal keeps of a correction: who put right what.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CorrectionNote {
    /// Name of the record that says it.
    pub record: Digest,
    /// Its number.
    pub sequence: u32,
    /// Name of the record it speaks of.
    pub of: Digest,
    /// Number of that record.
    pub of_sequence: u32,
    /// It withdraws that record.
    pub withdraws: bool,
    /// What is said.
    pub statement: String,
}

impl Matter for CorrectionNote {
    const KIND: &'static str = "correction";
}

/// Order to put right an earlier record.
#[derive(Clone, Debug)]
pub struct Correction<'a> {
    /// Blade.
    pub blade: &'a str,
    /// Number of the record that is put right.
    pub record: u32,
    /// What was wrong and what holds, in words.
    pub statement: &'a str,
    /// The record is withdrawn: nothing in it is to be relied on.
    pub withdraw: bool,
    /// Passphrase of the signing key.
    pub passphrase: &'a [u8],
    /// File for a copy of the new record; left out: in `out/`.
    pub out: Option<&'a Path>,
    /// Who says so, and when.
    pub who: Who<'a>,
}

/// What came of it.
#[derive(Clone, Debug, Serialize)]
pub struct Corrected {
    /// The record that was put right.
    pub of: Digest,
    /// Its number.
    pub of_sequence: u32,
    /// The record that says so.
    pub record: Digest,
    /// Its number.
    pub sequence: u32,
    /// It withdraws the earlier one.
    pub withdraws: bool,
    /// Sealed just now; nothing where an earlier run had sealed it and was ended before it was noted.
    pub sealed: Option<Sealed>,
    /// Number of the entry in the journal.
    pub entry: u64,
    /// To whom the blade was sold or given back, who is to be told.
    pub to_be_told: Vec<String>,
}

/// A line of the list of corrections.
#[derive(Clone, Debug, Serialize)]
pub struct CorrectionLine {
    /// Number of the record that says it.
    pub sequence: u32,
    /// Its name.
    pub record: Digest,
    /// When it was sealed.
    pub issued_at: String,
    /// Name of the workshop that sealed it.
    pub issuer: String,
    /// Number of the record it speaks of; none where that one is not here.
    pub of_sequence: Option<u32>,
    /// Name of that record.
    pub of: Digest,
    /// It withdraws that record.
    pub withdraws: bool,
    /// What is said.
    pub statement: String,
    /// Who entered it, where it was noted here.
    pub by: Option<String>,
}

impl Workshop {
    /// Seals a correction or a withdrawal of an earlier record, and notes it. The sheet stays as it is: the record after
    /// this one speaks of nothing earlier. Ended between the two and run again with the same words, it seals nothing twice.
    ///
    /// # Errors
    /// When there is no such record, it was withdrawn already, it is a withdrawal or, for a withdrawal, another workshop's;
    /// and as [`Workshop::seal`].
    pub fn correct(
        &self,
        order: &Correction<'_>,
        around: &mut Surroundings<'_>,
    ) -> Result<Corrected, WorkshopError> {
        // Asked first, since the entry with the day is written after the record is sealed.
        order.who.day(around)?;
        let history = self.history(order.blade)?;
        let target = self.pick(order.blade, Some(order.record))?;
        let purpose = if order.withdraw {
            Purpose::Withdrawal
        } else {
            Purpose::Correction
        };
        let of = target.row.name;
        let noted = self.noted::<CorrectionNote>(Some(order.blade), None)?;
        let said_before = history.iter().find(|kept| {
            kept.record.purpose == purpose
                && kept
                    .record
                    .refers_to
                    .as_ref()
                    .is_some_and(|said| said.record == of && said.statement == order.statement)
        });
        let is_noted = |kept: &Kept| noted.iter().any(|one| one.matter.record == kept.row.name);
        if let Some(kept) = said_before.filter(|kept| is_noted(kept)) {
            return Err(CorrectError::SaidBefore {
                blade: order.blade.to_owned(),
                number: order.record,
                by: kept.record.sequence,
            }
            .into());
        }
        let (record, sequence, sealed) = if let Some(kept) = said_before {
            (kept.row.name, kept.record.sequence, None)
        } else {
            let sealed = self.seal(
                &Order {
                    blade: order.blade,
                    purpose,
                    decision: None,
                    overrides: Vec::new(),
                    refers_to: Some(RefersTo {
                        record: of,
                        statement: order.statement.to_owned(),
                    }),
                    passphrase: order.passphrase,
                    out: order.out,
                },
                around,
            )?;
            (sealed.record, sealed.sequence, Some(sealed))
        };
        let note = CorrectionNote {
            record,
            sequence,
            of,
            of_sequence: order.record,
            withdraws: order.withdraw,
            statement: order.statement.to_owned(),
        };
        let entry = self.note(
            Some(order.blade),
            &format!("record-{}", order.record),
            &note,
            &order.who,
            around,
        )?;
        let to_be_told = self
            .noted::<SaleNote>(Some(order.blade), None)?
            .into_iter()
            .map(|sale| sale.matter.to)
            .collect();
        Ok(Corrected {
            of,
            of_sequence: order.record,
            record,
            sequence,
            withdraws: order.withdraw,
            sealed,
            entry,
            to_be_told,
        })
    }

    /// Refuses a correction or withdrawal of what is not to be put right, however it is sealed; returns the number of the
    /// record that is withdrawn by it.
    pub(crate) fn may_speak_of(
        &self,
        order: &Order<'_>,
        of: Option<&RefersTo>,
        history: &[Kept],
    ) -> Result<Option<u32>, WorkshopError> {
        let withdraws = order.purpose == Purpose::Withdrawal;
        if !withdraws && order.purpose != Purpose::Correction {
            return Ok(None);
        }
        let target = of.and_then(|of| history.iter().find(|kept| kept.row.name == of.record));
        let Some(target) = target else {
            return Ok(None);
        };
        let (blade, number) = (order.blade.to_owned(), target.record.sequence);
        if target.record.purpose == Purpose::Withdrawal {
            return Err(CorrectError::IsWithdrawal { blade, number }.into());
        }
        if withdraws && !self.is_own(&target.record)? {
            let issuer = target.record.issuer.name.clone();
            return Err(CorrectError::NotOwn {
                blade,
                number,
                issuer,
            }
            .into());
        }
        let withdrawal = history.iter().find(|kept| {
            kept.record.purpose == Purpose::Withdrawal
                && kept
                    .record
                    .refers_to
                    .as_ref()
                    .is_some_and(|said| said.record == target.row.name)
        });
        match withdrawal {
            Some(kept) => Err(CorrectError::Withdrawn {
                blade,
                number,
                by: kept.record.sequence,
            }
            .into()),
            None => Ok(withdraws.then_some(number)),
        }
    }

    /// Lists the corrections and withdrawals among a blade's records, oldest first.
    ///
    /// # Errors
    /// When there is no such blade, or a kept record cannot be read.
    pub fn corrections(&self, blade: &str) -> Result<Vec<CorrectionLine>, WorkshopError> {
        self.store().blade(blade)?;
        let noted = self.noted::<CorrectionNote>(Some(blade), None)?;
        let rows = self.store().records(blade)?;
        let mut lines = Vec::new();
        for row in &rows {
            if row.purpose != Purpose::Correction.key() && row.purpose != Purpose::Withdrawal.key()
            {
                continue;
            }
            let kept = self.kept(row)?;
            let Some(said) = kept.record.refers_to else {
                continue;
            };
            let of = rows.iter().find(|row| row.name == said.record);
            lines.push(CorrectionLine {
                sequence: kept.record.sequence,
                record: row.name,
                issued_at: row.issued_at.clone(),
                issuer: kept.record.issuer.name,
                of_sequence: of.and_then(|row| u32::try_from(row.sequence).ok()),
                of: said.record,
                withdraws: kept.record.purpose == Purpose::Withdrawal,
                statement: said.statement,
                by: noted
                    .iter()
                    .find(|one| one.matter.record == row.name)
                    .map(|one| one.by.clone()),
            });
        }
        Ok(lines)
    }
}
