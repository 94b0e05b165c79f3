//! The one list of blades in work. Nothing but the store's lines is read: no sheet, no record.

use serde::Serialize;
use tangmark_core::units::Decimal;
use tangmark_store::{StandingFilter, StandingRow, Store as _};

use super::next::{NextStep, next};
use super::{Stage, stage_of};
use crate::{Surroundings, Workshop, WorkshopError, days};

/// Which lines are asked for.
#[derive(Clone, Copy, Debug)]
pub struct StageWish<'a> {
    /// Also blades that have left.
    pub all: bool,
    /// Only those at one stage.
    pub stage: Option<Stage>,
    /// Only blades after this key.
    pub after: Option<&'a str>,
    /// At most so many.
    pub limit: usize,
}

/// A blade in the list.
#[derive(Clone, Debug, Serialize)]
pub struct StageLine {
    /// Blade.
    pub blade: String,
    /// Title.
    pub title: String,
    /// Kind by make.
    pub kind: Option<String>,
    /// Stage; none before one was set.
    pub stage: Option<Stage>,
    /// Day it was set.
    pub since: Option<String>,
    /// Days since then.
    pub days: Option<i64>,
    /// Remark on it.
    pub note: Option<String>,
    /// What comes next.
    pub next: NextStep,
    /// Passes of its sealed records and its sheet, each once.
    pub passes: u64,
    /// Time of the passes, in minutes.
    pub minutes: Option<Decimal>,
    /// Steel and rust gone by the scale between the first mass and the last, in grams.
    pub gone_g: Option<Decimal>,
    /// A stop stands unanswered; none where the newest sheet was not judged yet.
    pub held: Option<bool>,
    /// So many stops do.
    pub stops: Option<u64>,
    /// Day of return agreed with the owner.
    pub return_by: Option<String>,
    /// Days left until then; below zero when it is past.
    pub days_left: Option<i64>,
    /// Sealed records.
    pub records: u64,
    /// It has left the workshop.
    pub ended: bool,
}

/// The list, or a part of it.
#[derive(Clone, Debug, Serialize)]
pub struct StageList {
    /// Lines, by key of the blade.
    pub blades: Vec<StageLine>,
    /// The last key, where more follow.
    pub more_after: Option<String>,
}

fn line(row: StandingRow, today: &str) -> StageLine {
    let next = next(&row);
    let stops = row.known_stops();
    // Readings of the scale are exact decimals, and so is their difference.
    let gone = match (row.mass_first, row.mass_last) {
        (Some(first), Some(last)) if row.passes > 0 => first.checked_sub(last),
        _ => None,
    };
    // A day of return known to the month or year only is past when all of it is.
    let last_day = row
        .return_by
        .as_deref()
        .and_then(|day| day.parse::<tangmark_core::record::PartialDate>().ok())
        .map(|day| day.last_day());
    StageLine {
        stage: stage_of(&row),
        days: row
            .stage_since
            .as_deref()
            .and_then(|since| days::between(since, today)),
        days_left: last_day
            .filter(|_| !row.ended)
            .and_then(|day| days::between(today, &day)),
        held: stops.map(|stops| stops > 0),
        stops,
        gone_g: gone,
        next,
        blade: row.blade,
        title: row.title,
        kind: row.kind,
        since: row.stage_since,
        note: row.stage_note,
        passes: row.passes,
        minutes: row.minutes,
        return_by: row.return_by,
        records: row.records,
        ended: row.ended,
    }
}

impl Workshop {
    /// The line of one blade.
    pub(super) fn stage_line(&self, blade: &str, today: &str) -> Result<StageLine, WorkshopError> {
        Ok(line(self.store().standing(blade)?, today))
    }

    /// Lists blades in work, by key.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn stages(
        &self,
        wish: &StageWish<'_>,
        around: &Surroundings<'_>,
    ) -> Result<StageList, WorkshopError> {
        use tangmark_core::record::Term as _;
        // A stage that ends the work is asked for by its name: then blades that have left are meant.
        let left_too = wish.all || wish.stage.is_some_and(Stage::ends);
        let mut rows = self.store().standings(&StandingFilter {
            ended: (!left_too).then_some(false),
            stage: wish.stage.map(Stage::key),
            after: wish.after,
            limit: wish.limit.saturating_add(1),
        })?;
        let more = rows.len() > wish.limit;
        rows.truncate(wish.limit);
        let more_after = more
            .then(|| rows.last().map(|row| row.blade.clone()))
            .flatten();
        let now = around.now.as_str();
        let today = now.get(..10).unwrap_or(now);
        Ok(StageList {
            blades: rows.into_iter().map(|row| line(row, today)).collect(),
            more_after,
        })
    }
}
