//! The blades of a workshop and where each stands.

use std::collections::BTreeMap;

use serde::Serialize;
use serde_json::Value;
use tangmark_core::record::{Record, Sheet};
use tangmark_core::sheet;
use tangmark_core::{Digest, json};
use tangmark_store::{DraftSource, RecordRow, StandingFilter, StandingRow, Store as _};

use crate::receive::draft::MADE_OF;
use crate::stage::{Stage, stage_of};
use crate::{Workshop, WorkshopError};

/// Where a blade stands, as far as its records say.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum BladeState {
    /// Entered, nothing sealed yet.
    Draft,
    /// At least one record is sealed, and the sheet is as it was then.
    Sealed,
    /// The newest record came from another workshop, and the sheet is the one made of it.
    Received,
    /// The sheet changed since the last record.
    ChangedSinceSealed,
}

/// One line of the list of blades.
#[derive(Clone, Debug, Serialize)]
pub struct BladeLine {
    /// Key.
    pub id: String,
    /// Title.
    pub title: String,
    /// Kind by make.
    pub kind: Option<String>,
    /// Where it stands.
    pub state: BladeState,
    /// Sealed records.
    pub records: usize,
    /// Purpose of the newest record.
    pub newest: Option<String>,
    /// Decision of the newest record.
    pub decision: Option<String>,
    /// Revision of the sheet.
    pub revision: Option<u64>,
    /// Stage of the work; none before one was set.
    pub stage: Option<Stage>,
    /// A stop stands unanswered; none where the newest sheet was not judged yet.
    pub held: Option<bool>,
    /// So many stops do.
    pub stops: Option<u64>,
}

/// Whether a sheet was made of a received record and nothing was entered since, by its source and remark.
fn made_of_record(source: Option<DraftSource>, note: &str) -> bool {
    source == Some(DraftSource::Import) && note.starts_with(MADE_OF)
}

/// Values that another workshop withholds in a record and showed to this one.
#[derive(Clone, Debug, Serialize)]
pub struct ShownValue {
    /// Where the value belongs.
    pub place: String,
    /// The value.
    pub value: Value,
}

/// A sealed record as the store keeps it.
pub(crate) struct Kept {
    pub(crate) row: RecordRow,
    pub(crate) value: Value,
    pub(crate) record: Record,
    pub(crate) bytes: Vec<u8>,
}

impl Workshop {
    /// Lists the blades by key: those after `after`, at most `limit`. Neither sheet nor record is opened for it.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn blades(
        &self,
        after: Option<&str>,
        limit: usize,
    ) -> Result<Vec<BladeLine>, WorkshopError> {
        let rows = self.store.standings(&StandingFilter {
            after,
            limit,
            ..StandingFilter::default()
        })?;
        rows.into_iter().map(|row| self.blade_line(row)).collect()
    }

    /// Returns the line of one blade.
    ///
    /// # Errors
    /// When there is no such blade.
    pub fn blade(&self, blade: &str) -> Result<BladeLine, WorkshopError> {
        self.blade_line(self.store.standing(blade)?)
    }

    fn blade_line(&self, row: StandingRow) -> Result<BladeLine, WorkshopError> {
        let state = match &row.tip {
            None => BladeState::Draft,
            Some(_) if row.tip_revision == row.revision => BladeState::Sealed,
            Some(_) if row.tip_revision.is_none() && made_of_record(row.source, &row.note) => {
                BladeState::Received
            }
            Some(_) => BladeState::ChangedSinceSealed,
        };
        let stops = row.known_stops();
        // After the index was lost only the record knows the title.
        let title = if row.revision.is_none() && row.title == row.blade && row.tip.is_some() {
            self.pick(&row.blade, None)?.record.blade.title
        } else {
            row.title.clone()
        };
        Ok(BladeLine {
            stage: stage_of(&row),
            held: stops.map(|stops| stops > 0),
            stops,
            id: row.blade,
            title,
            kind: row.kind,
            state,
            records: usize::try_from(row.records).unwrap_or(usize::MAX),
            newest: row.purpose,
            decision: row.decision,
            revision: row.revision,
        })
    }

    /// Returns the blade's sheet and its revision.
    ///
    /// # Errors
    /// When there is none.
    pub fn sheet(&self, blade: &str) -> Result<(Sheet, u64), WorkshopError> {
        let row = self.store.blade(blade)?;
        let draft = self
            .store
            .draft(&row.id)?
            .ok_or_else(|| WorkshopError::NoSheet(blade.to_owned()))?;
        let revision = draft.entry.revision;
        let sheet = sheet::from_value(draft.body).map_err(|error| WorkshopError::Sheet {
            file: format!("stored sheet of `{blade}`"),
            error,
        })?;
        Ok((sheet, revision))
    }

    /// Returns the sealed records of a blade, oldest first: name, bytes and content.
    ///
    /// # Errors
    /// When a kept record is missing or rotten.
    pub fn records(&self, blade: &str) -> Result<Vec<(Digest, Vec<u8>, Record)>, WorkshopError> {
        Ok(self
            .history(blade)?
            .into_iter()
            .map(|kept| (kept.row.name, kept.bytes, kept.record))
            .collect())
    }

    /// Returns the values of others' records that were withheld and shown here, by number of the record. What this
    /// workshop withholds itself stands on its sheets.
    ///
    /// # Errors
    /// When a kept record or its shown values cannot be read.
    pub fn shown_values(
        &self,
        blade: &str,
    ) -> Result<BTreeMap<u32, Vec<ShownValue>>, WorkshopError> {
        let mut shown = BTreeMap::new();
        for kept in self.history(blade)? {
            if self.is_own(&kept.record)? {
                continue;
            }
            let values: Vec<ShownValue> = self
                .disclosures(&kept.row.name)?
                .into_iter()
                .filter_map(|one| {
                    Some(ShownValue {
                        value: one.value()?,
                        place: sheet::dotted(&one.path),
                    })
                })
                .collect();
            if !values.is_empty() {
                shown.insert(kept.record.sequence, values);
            }
        }
        Ok(shown)
    }

    pub(crate) fn history(&self, blade: &str) -> Result<Vec<Kept>, WorkshopError> {
        self.store
            .records(blade)?
            .iter()
            .map(|row| self.kept(row))
            .collect()
    }

    /// Finds a record of a blade by its number, or its newest.
    pub(crate) fn pick(&self, blade: &str, number: Option<u32>) -> Result<Kept, WorkshopError> {
        self.kept(&self.row(blade, number)?)
    }

    /// As [`Workshop::pick`], without reading the record itself.
    pub(crate) fn row(&self, blade: &str, number: Option<u32>) -> Result<RecordRow, WorkshopError> {
        let newest = self
            .store
            .tip(blade)?
            .ok_or_else(|| WorkshopError::NoRecord(blade.to_owned()))?;
        let Some(asked) = number else {
            return Ok(newest);
        };
        let rows = self.store.records(blade)?;
        rows.into_iter()
            .find(|row| row.sequence == u64::from(asked))
            .ok_or_else(|| WorkshopError::NoSuchRecord {
                blade: blade.to_owned(),
                asked,
                newest: u32::try_from(newest.sequence).unwrap_or(u32::MAX),
            })
    }

    /// Returns the records of a blade before the given one, oldest first.
    pub(crate) fn before(&self, blade: &str, kept: &Kept) -> Result<Vec<Record>, WorkshopError> {
        let rows = self.store.records(blade)?;
        rows.iter()
            .filter(|row| row.sequence < kept.row.sequence)
            .map(|row| Ok(self.kept(row)?.record))
            .collect()
    }

    /// Whether a record was sealed with a key of this workshop.
    pub(crate) fn is_own(&self, record: &Record) -> Result<bool, WorkshopError> {
        let keys = self.store.keys()?;
        Ok(keys.iter().any(|key| key.did == record.issuer.id))
    }

    pub(crate) fn kept(&self, row: &RecordRow) -> Result<Kept, WorkshopError> {
        let bytes = self.store.object(&row.object)?;
        let fault =
            |what: String| WorkshopError::Canonical(format!("kept record {}: {what}", row.name));
        let value = json::read_value(&bytes, &json::Limits::default())
            .map_err(|error| fault(error.to_string()))?;
        let record: Record = Record::from_json(&value).map_err(|error| fault(error.to_string()))?;
        Ok(Kept {
            row: row.clone(),
            value,
            record,
            bytes,
        })
    }
}
