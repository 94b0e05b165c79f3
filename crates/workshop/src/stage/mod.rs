//! Stages: where each blade stands in the work, its way there, and what comes next.

mod error;
mod list;
mod next;
mod terms;
mod way;

use serde::{Deserialize, Serialize};
use tangmark_core::record::Term as _;
use tangmark_store::{StandingRow, Store as _, StoreError};

pub use error::StageError;
pub use list::{StageLine, StageList, StageWish};
pub use next::{NextKind, NextStep};
pub use terms::Stage;
pub use way::{StageStep, StageWay};

use crate::edit::Edit;
use crate::journal::{Matter, Who};
use crate::{Surroundings, Workshop, WorkshopError};

/// Longest remark on a stage, in characters.
const LONGEST_NOTE: usize = 1000;

/// An entry of the journal that sets a stage.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StageNote {
    /// The stage.
    pub stage: Stage,
    /// Remark.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// The work ends with it.
    pub ended: bool,
}

impl Matter for StageNote {
    const KIND: &'static str = "stage";
}

impl StageNote {
    /// Sets a stage; whether the work ends follows from it.
    ///
    /// # Errors
    /// When the remark is empty or too long.
    pub(crate) fn new(stage: Stage, note: Option<&str>) -> Result<Self, StageError> {
        if let Some(note) = note {
            let length = note.chars().count();
            if note.trim().is_empty() || length > LONGEST_NOTE {
                return Err(StageError::Note { length });
            }
        }
        Ok(Self {
            stage,
            note: note.map(str::to_owned),
            ended: stage.ends(),
        })
    }
}

/// What is asked of a move.
#[derive(Clone, Copy, Debug, Default)]
pub struct StageOrder<'a> {
    /// Remark.
    pub note: Option<&'a str>,
    /// The work on a blade that had left begins again.
    pub again: bool,
    /// Day and person.
    pub who: Who<'a>,
}

/// What came of a move.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct StageMove {
    /// Blade.
    pub blade: String,
    /// Where it stood.
    pub from: Option<Stage>,
    /// Where it stands now.
    pub to: Stage,
    /// Day.
    pub on: String,
    /// Number of the entry in the journal; none where nothing changed.
    pub entry: Option<u64>,
    /// What a person should read.
    pub remarks: Vec<String>,
}

/// Stage of a line of the store. One that this program does not know counts as none: a newer program wrote it.
pub(crate) fn stage_of(row: &StandingRow) -> Option<Stage> {
    row.stage.as_deref().and_then(Stage::of_key)
}

impl Workshop {
    /// The stage a blade stands at; none before one was set.
    pub(crate) fn stage_now(&self, blade: &str) -> Result<Option<Stage>, WorkshopError> {
        match self.store().standing(blade) {
            Ok(row) => Ok(stage_of(&row)),
            // A blade that is about to be entered stands nowhere.
            Err(StoreError::UnknownBlade(_)) => Ok(None),
            Err(error) => Err(error.into()),
        }
    }

    /// Moves a blade to a stage. Any move is allowed, since work goes back too; odd ones are told.
    ///
    /// # Errors
    /// When the blade had left the workshop and `again` is not asked for, or it is not known.
    pub fn move_stage(
        &self,
        blade: &str,
        to: Stage,
        order: &StageOrder<'_>,
        around: &Surroundings<'_>,
    ) -> Result<StageMove, WorkshopError> {
        let row = self.store().standing(blade)?;
        let from = stage_of(&row);
        let note = StageNote::new(to, order.note)?;
        let now = around.now.as_str();
        let on = order.who.on.unwrap_or(now.get(..10).unwrap_or(now));
        // A stage of an earlier day belongs to the way; the blade stands where it stood.
        let moves = row.stage_since.as_deref().is_none_or(|since| since <= on);
        if moves && from == Some(to) && order.note.is_none() {
            return Ok(StageMove {
                blade: row.blade,
                from,
                to,
                on: row.stage_since.unwrap_or_default(),
                entry: None,
                remarks: Vec::new(),
            });
        }
        let comes_back = |from: &Stage| moves && from.ends() && !to.ends();
        if let Some(from) = from.filter(|from| comes_back(from) && !order.again) {
            return Err(StageError::Left {
                blade: row.blade,
                from,
                to,
            }
            .into());
        }
        let mut remarks = odd(&row, from.filter(|_| moves), to, on);
        let mut entries = vec![self.entry(Some(blade), "", &note, &order.who, around)?];
        if moves
            && let Some((timer, told)) = self.timer_left_behind(blade, to, &order.who, around)?
        {
            entries.push(timer);
            remarks.push(told);
        }
        let entry = self.write_entries(&entries)?.first().copied();
        Ok(StageMove {
            blade: row.blade,
            from,
            to,
            on: on.to_owned(),
            entry,
            remarks,
        })
    }
}

/// What is odd about a move, in words.
fn odd(row: &StandingRow, from: Option<Stage>, to: Stage, on: &str) -> Vec<String> {
    let mut remarks = Vec::new();
    if let (Some(from), Some(before), Some(place)) = (from, from.and_then(Stage::place), to.place())
        && place < before
    {
        remarks.push(format!(
            "it goes back from `{}` to `{}`",
            from.key(),
            to.key()
        ));
    }
    if to.is_work() && row.known_stops().unwrap_or(row.stops) > 0 {
        remarks.push(format!(
            "a stop stands on it: no pass is logged before it is answered; see `tangmark check {}`",
            row.blade
        ));
    }
    if to == Stage::Finished && row.sheet_passes == 0 {
        remarks.push("no pass is logged on its sheet".to_owned());
    }
    if let Some(since) = row.stage_since.as_deref().filter(|since| *since > on) {
        remarks.push(format!(
            "the day {on} lies before {since}, the day of the stage it stands at: that stage stays the newest"
        ));
    }
    remarks
}

impl Edit {
    /// Moves the blade to a stage with the rest of the change; a blade that stands there already gets no entry. A timer
    /// that runs is paused where the blade leaves with it, and the change remarks it. Returns the stage it stood at.
    pub(crate) fn stage(
        &mut self,
        workshop: &Workshop,
        to: Stage,
        note: Option<&str>,
        who: &Who<'_>,
        around: &Surroundings<'_>,
    ) -> Result<Option<Stage>, WorkshopError> {
        let from = workshop.stage_now(self.blade())?;
        if from != Some(to) || note.is_some() {
            self.note(workshop, "", &StageNote::new(to, note)?, who, around)?;
        }
        if let Some((timer, told)) = workshop.timer_left_behind(self.blade(), to, who, around)? {
            self.add_entry(timer);
            self.remark(told);
        }
        Ok(from)
    }
}

/// A line of a blade with nothing but a sheet.
#[cfg(test)]
pub(crate) fn empty_row(blade: &str) -> StandingRow {
    StandingRow {
        blade: blade.to_owned(),
        title: blade.to_owned(),
        kind: None,
        revision: Some(3),
        saved_at: None,
        source: None,
        note: String::new(),
        passes: 0,
        sheet_passes: 0,
        minutes: None,
        mass_first: None,
        mass_last: None,
        return_by: None,
        examined: None,
        planned: None,
        records: 0,
        tip: None,
        purpose: None,
        tip_revision: None,
        decision: None,
        stops: 0,
        stage: None,
        stage_since: None,
        stage_note: None,
        ended: false,
        judged: None,
    }
}
