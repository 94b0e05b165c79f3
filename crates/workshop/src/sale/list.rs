//! Blades that were sold or given back, and how far one under way has come.

use serde::Serialize;
use tangmark_core::Digest;
use tangmark_core::record::{Money, Purpose, Term as _};
use tangmark_store::Store as _;

use super::error::SaleError;
use super::note::{SaleNote, SalePaper, Way};
use crate::correct::CorrectionLine;
use crate::journal::Noted;
use crate::{Workshop, WorkshopError};

/// One sale or return.
#[derive(Clone, Debug, Serialize)]
pub struct SaleLine {
    /// Blade.
    pub blade: String,
    /// Title of the blade.
    pub title: String,
    /// How it leaves.
    pub way: Way,
    /// To whom.
    pub to: String,
    /// The day.
    pub on: String,
    /// Price.
    pub price: Option<Money>,
    /// Terms.
    pub terms: Option<String>,
    /// Who entered it.
    pub by: String,
    /// Number of the entry in the journal.
    pub entry: u64,
    /// Folder of the papers.
    pub out: String,
    /// Name of the transfer record, where it is sealed.
    pub record: Option<Digest>,
    /// Its number.
    pub sequence: Option<u64>,
    /// Papers that were handed over; empty as long as it is under way.
    pub papers: Vec<SalePaper>,
    /// Everything is done.
    pub complete: bool,
    /// What is still to be done, in order.
    pub to_do: Vec<SaleStep>,
    /// How it stands.
    pub state: SaleState,
    /// Corrections and withdrawals of its record, oldest first; none that was withdrawn itself.
    pub corrections: Vec<CorrectionLine>,
}

/// How a sale or return stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum SaleState {
    /// Steps are still to be done.
    UnderWay,
    /// Everything is done, and nothing was said of its record since.
    Complete,
    /// Its record was put right by a later one.
    Corrected,
    /// Its record was withdrawn: nothing in it is to be relied on.
    Withdrawn,
}

/// A step that is still to be done.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum SaleStep {
    /// The record of the transfer.
    Record,
    /// Reports, package, stage.
    Papers,
}

impl SaleStep {
    /// In words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Record => "seal the transfer",
            Self::Papers => "make the papers and the package, end the work",
        }
    }
}

impl Workshop {
    /// Lists sales and returns, the newest first.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn sales(&self) -> Result<Vec<SaleLine>, WorkshopError> {
        let mut lines = Vec::new();
        for sale in self.noted::<SaleNote>(None, None)? {
            lines.push(self.sale_line(sale)?);
        }
        lines.sort_by(|first, second| {
            let key = |line: &SaleLine| (line.on.clone(), line.entry);
            key(second).cmp(&key(first))
        });
        Ok(lines)
    }

    /// Returns the newest sale or return of a blade.
    ///
    /// # Errors
    /// When there is none.
    pub fn sale_of(&self, blade: &str) -> Result<SaleLine, WorkshopError> {
        self.store().blade(blade)?;
        let newest = self.noted::<SaleNote>(Some(blade), None)?.pop();
        let newest = newest.ok_or_else(|| SaleError::NoSale(blade.to_owned()))?;
        self.sale_line(newest)
    }

    fn sale_line(&self, sale: Noted<SaleNote>) -> Result<SaleLine, WorkshopError> {
        let blade = sale.blade.unwrap_or_default();
        let title = self.store().standing(&blade)?.title;
        let note = sale.matter;
        let (record, sequence) = if let Some(closed) = &note.closed {
            (Some(closed.record), Some(u64::from(closed.sequence)))
        } else {
            let rows = self.store().records(&blade)?;
            let row = rows.into_iter().find(|row| {
                row.sequence > note.records_before
                    && row.purpose == Purpose::Transfer.key()
                    && row.draft_revision.is_some()
            });
            row.map_or((None, None), |row| (Some(row.name), Some(row.sequence)))
        };
        let mut to_do = Vec::new();
        if record.is_none() {
            to_do.push(SaleStep::Record);
        }
        if note.closed.is_none() {
            to_do.push(SaleStep::Papers);
        }
        let mut corrections = self.corrections(&blade)?;
        let withdrawn: Vec<Digest> = corrections
            .iter()
            .filter(|line| line.withdraws)
            .map(|line| line.of)
            .collect();
        corrections.retain(|line| Some(line.of) == record && !withdrawn.contains(&line.record));
        let state = if corrections.iter().any(|line| line.withdraws) {
            SaleState::Withdrawn
        } else if note.closed.is_none() {
            SaleState::UnderWay
        } else if corrections.is_empty() {
            SaleState::Complete
        } else {
            SaleState::Corrected
        };
        Ok(SaleLine {
            blade,
            title,
            way: note.way,
            to: note.to,
            on: sale.on,
            price: note.price,
            terms: note.terms,
            by: sale.by,
            entry: sale.number,
            out: note.out,
            record,
            sequence,
            complete: note.closed.is_some(),
            papers: note.closed.map(|closed| closed.papers).unwrap_or_default(),
            to_do,
            state,
            corrections,
        })
    }
}
