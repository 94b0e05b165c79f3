//! One line for each blade, so that a list opens no draft and no record.
//!
//! Nothing here decides anything: a hold is derived from records and draft each time, never from this line.

use rusqlite::{Connection, OptionalExtension, Row, Transaction, params};
use serde_json::Value;
use tangmark_core::{
    Digest,
    record::{PartialDate, each_pass_once},
    units::Decimal,
};

use super::{FolderStore, count, drafts, journal, optional_digest_at, records, registry, uncount};
use crate::{
    BladeRow, Derived, DraftSource, RecordRow, StandingFilter, StandingRow, StoreError, sealed,
    text,
};

const ACTION: &str = "bring the list of blades up to date";
const READ: &str = "read the list of blades";

/// Kind of the entries that set a stage.
pub(super) const STAGE: &str = "stage";

/// Enters a blade that has nothing yet.
pub(super) fn enter(connection: &Connection, blade: &BladeRow) -> rusqlite::Result<()> {
    connection
        .execute(
            "INSERT INTO standing (blade, title, note, passes, sheet_passes, records, stops, ended)
             VALUES (?1, ?2, '', 0, 0, 0, 0, 0)",
            params![blade.id, blade.title],
        )
        .map(drop)
}

/// What sealed records and a draft say of the work so far.
struct Work {
    passes: usize,
    minutes: Option<Decimal>,
    mass_first: Option<Decimal>,
    mass_last: Option<Decimal>,
}

impl Work {
    /// Reads the body of a draft and all passes, sealed ones among them.
    fn of(body: &Value, passes: &[Value]) -> Self {
        let decimal = |value: &Value| value["value"].as_str()?.parse::<Decimal>().ok();
        let minutes = passes
            .iter()
            .filter_map(|pass| decimal(&pass["time"]))
            .try_fold(None, |sum: Option<Decimal>, time| {
                sum.unwrap_or_default().checked_add(time).map(Some)
            })
            .flatten();
        let measured = decimal(&body["dimensions"]["mass"]);
        let at_first = measured.filter(|_| measured_first(body, passes.first()));
        let weighed = |end: &'static str| move |pass: &Value| decimal(&pass[end]["mass"]);
        let in_passes = || {
            passes
                .iter()
                .find_map(|pass| weighed("before")(pass).or_else(|| weighed("after")(pass)))
        };
        // A pass that was weighed before it alone is still later than the examination.
        let last = passes
            .iter()
            .rev()
            .find_map(|pass| weighed("after")(pass).or_else(|| weighed("before")(pass)));
        Self {
            passes: passes.len(),
            minutes,
            mass_first: at_first.or_else(in_passes).or(measured),
            mass_last: last.or(measured),
        }
    }
}

/// Whether the mass of the bare blade under its dimensions was read before its first pass: its examination is not of a later
/// day, nor of the same day with the work finished.
fn measured_first(body: &Value, first: Option<&Value>) -> bool {
    let bare = body["dimensions"]["mass_state"]
        .as_str()
        .is_none_or(|state| state == "bare");
    let day = |value: &Value| value["on"].as_str()?.parse::<PartialDate>().ok();
    let Some((examined, worked)) = day(&body["examination"]).zip(first.and_then(day)) else {
        return bare;
    };
    let after_work = body["examination"]["reason"] == "after_work";
    let not_after = if after_work {
        examined.last_day() < worked.first_day()
    } else {
        examined.first_day() <= worked.last_day()
    };
    bare && not_after
}

/// Why the blade was examined; a look at the opened parcel, which says nothing of tang, temper line, grain or flaws, is no
/// examination.
fn examined(body: &Value) -> Option<&str> {
    let reason = body.pointer("/examination/reason")?.as_str()?;
    let seen = ["tang", "temper_line", "grain", "flaws"];
    let looked_into = seen.iter().any(|section| body.get(section).is_some());
    (reason != "intake" || looked_into).then_some(reason)
}

/// Operation and name of the abrasive of a pass or of a stage of the plan.
fn work_of(step: &Value) -> (Option<&str>, Option<&str>) {
    (
        step["operation"].as_str(),
        step["abrasive"]["name"].as_str(),
    )
}

/// The first stage of the plan after the last one that a pass carried out. A stage without an abrasive is carried out by
/// any pass with its operation.
fn planned(body: &Value) -> Option<String> {
    let stages = body["plan"]["stages"].as_array()?;
    let passes: &[Value] = body["passes"].as_array().map_or(&[], Vec::as_slice);
    let carried_out = |stage: &Value| {
        let (operation, abrasive) = work_of(stage);
        passes.iter().map(work_of).any(|(done, with)| {
            done == operation && (abrasive.is_none() || with.is_none() || with == abrasive)
        })
    };
    let next = stages.iter().rposition(carried_out).map_or(0, |at| at + 1);
    let (operation, abrasive) = work_of(stages.get(next)?);
    let operation = operation?;
    Some(abrasive.map_or_else(
        || operation.to_owned(),
        |abrasive| format!("{operation}, {abrasive}"),
    ))
}

/// Follows the newest draft. `origin` is its source and its remark.
pub(super) fn draft(
    transaction: &Transaction<'_>,
    blade: &str,
    revision: u64,
    saved_at: &str,
    origin: (&str, &str),
    body: &Value,
) -> Result<(), StoreError> {
    let words = |pointer: &str| body.pointer(pointer).and_then(Value::as_str);
    transaction
        .execute(
            "UPDATE standing SET title = coalesce(?2, title), kind = ?3, revision = ?4, saved_at = ?5, source = ?6,
                 note = ?7, return_by = ?8, examined = ?9, planned = ?10
             WHERE blade = ?1",
            params![
                blade,
                words("/blade/title"),
                words("/blade/kind_by_make"),
                count(revision),
                saved_at,
                origin.0,
                origin.1,
                words("/agreement/return_by"),
                examined(body),
                planned(body),
            ],
        )
        .map(drop)
        .map_err(|error| StoreError::index(ACTION, error))
}

/// Follows what the newest draft and the sealed records say of the work; `body` is the draft's, null where there is none.
pub(super) fn work(
    transaction: &Transaction<'_>,
    blade: &str,
    body: &Value,
) -> Result<(), StoreError> {
    let on_sheet = body["passes"].as_array().cloned().unwrap_or_default();
    let sheet_passes = on_sheet.len();
    let passes = each_pass_once(
        sealed_passes(transaction, blade)?,
        on_sheet,
        key_of_pass,
        day_of_pass,
    );
    let work = Work::of(body, &passes);
    let written = |decimal: Option<Decimal>| decimal.map(|decimal| decimal.to_string());
    transaction
        .execute(
            "UPDATE standing SET passes = ?2, sheet_passes = ?3, minutes = ?4, mass_first = ?5, mass_last = ?6
             WHERE blade = ?1",
            params![
                blade,
                count(work.passes as u64),
                count(sheet_passes as u64),
                written(work.minutes),
                written(work.mass_first),
                written(work.mass_last),
            ],
        )
        .map(drop)
        .map_err(|error| StoreError::index(ACTION, error))
}

fn key_of_pass(pass: &Value) -> Option<&str> {
    pass["id"].as_str()
}

fn day_of_pass(pass: &Value) -> Option<&str> {
    pass["on"].as_str()
}

/// Adds the passes of the record that was sealed after those which are kept.
pub(super) fn add_sealed(
    transaction: &Transaction<'_>,
    blade: &str,
    passes: Vec<Value>,
) -> Result<(), StoreError> {
    if passes.is_empty() {
        return Ok(());
    }
    let all = each_pass_once(
        sealed_passes(transaction, blade)?,
        passes,
        key_of_pass,
        day_of_pass,
    );
    transaction
        .execute(
            "INSERT INTO sealed_passes (blade, passes) VALUES (?1, ?2)
             ON CONFLICT (blade) DO UPDATE SET passes = excluded.passes",
            params![blade, Value::Array(all).to_string()],
        )
        .map(drop)
        .map_err(|error| StoreError::index(ACTION, error))
}

/// The passes of the sealed records of a blade, each once.
pub(super) fn sealed_passes(
    connection: &Connection,
    blade: &str,
) -> Result<Vec<Value>, StoreError> {
    let text: Option<String> = connection
        .query_row(
            "SELECT passes FROM sealed_passes WHERE blade = ?1",
            [blade],
            |row| row.get(0),
        )
        .optional()
        .map_err(|error| StoreError::index(READ, error))?;
    let damaged = |error| StoreError::Index {
        action: READ,
        trouble: crate::Trouble::Damaged,
        source: Box::new(error),
    };
    text.map_or(Ok(Vec::new()), |text| {
        serde_json::from_str(&text).map_err(damaged)
    })
}

impl FolderStore {
    pub(super) fn do_note_derived(&self, derived: &Derived<'_>) -> Result<bool, StoreError> {
        const ACTION: &str = "note what a judgement found";
        text::time("at", derived.at)?;
        self.write(ACTION, |transaction| {
            transaction
                .execute(
                    "INSERT INTO derived (blade, revision, tip, stops, at)
                     SELECT blade, revision, tip, ?4, ?5 FROM standing
                     WHERE blade = ?1 AND revision = ?2 AND tip IS ?3
                     ON CONFLICT (blade) DO UPDATE SET
                         revision = excluded.revision, tip = excluded.tip, stops = excluded.stops, at = excluded.at",
                    params![
                        derived.blade,
                        count(derived.revision),
                        derived.tip.map(|tip| tip.to_string()),
                        count(derived.stops),
                        derived.at
                    ],
                )
                .map(|rows| rows > 0)
                .map_err(|error| StoreError::index(ACTION, error))
        })
    }
}

/// Follows the newest record.
pub(super) fn record(
    connection: &Connection,
    row: &RecordRow,
    decision: Option<&str>,
    stops: u64,
) -> rusqlite::Result<()> {
    connection
        .execute(
            "UPDATE standing SET records = (SELECT count(*) FROM record WHERE record.blade = ?1), tip = ?2,
                 purpose = ?3, tip_revision = ?4, decision = ?5, stops = ?6
             WHERE blade = ?1",
            params![
                row.blade,
                row.name.to_string(),
                row.purpose,
                row.draft_revision.map(count),
                decision,
                count(stops)
            ],
        )
        .map(drop)
}

/// Follows the journal: the stage is the one of the latest day, of two on one day the one entered last.
pub(super) fn stage(transaction: &Transaction<'_>, blade: &str) -> Result<(), StoreError> {
    transaction
        .execute(
            "WITH newest AS (
                 SELECT day, body FROM entry WHERE kind = ?2 AND blade = ?1 AND body IS NOT NULL
                     AND NOT EXISTS (SELECT 1 FROM entry AS later WHERE later.replaces = entry.number)
                 ORDER BY day DESC, number DESC LIMIT 1)
             UPDATE standing SET
                 stage = (SELECT json_extract(body, '$.stage') FROM newest),
                 stage_since = (SELECT day FROM newest),
                 stage_note = (SELECT json_extract(body, '$.note') FROM newest),
                 ended = coalesce((SELECT json_extract(body, '$.ended') FROM newest), 0)
             WHERE blade = ?1",
            params![blade, STAGE],
        )
        .map(drop)
        .map_err(|error| StoreError::index(ACTION, error))
}

/// Derives every line and all words of the search anew; `object` gives the bytes of a kept object.
pub(super) fn fill(
    transaction: &Transaction<'_>,
    object: &dyn Fn(&Digest) -> Option<Vec<u8>>,
) -> Result<(), StoreError> {
    let fail = |error| StoreError::index(ACTION, error);
    for blade in registry::all_blades(transaction)? {
        transaction
            .execute("DELETE FROM standing WHERE blade = ?1", [&blade.id])
            .map_err(fail)?;
        enter(transaction, &blade).map_err(fail)?;
        transaction
            .execute("DELETE FROM sealed_passes WHERE blade = ?1", [&blade.id])
            .map_err(fail)?;
        let rows = records::all(transaction, Some(&blade.id))?;
        let mut newest = None;
        for row in &rows {
            newest = object(&row.object);
            let passes = newest.as_deref().map(sealed::passes);
            add_sealed(transaction, &blade.id, passes.unwrap_or_default())?;
        }
        drafts::follow_newest(transaction, &blade.id)?;
        drafts::follow_work(transaction, &blade.id)?;
        stage(transaction, &blade.id)?;
        if let Some(tip) = rows.last() {
            let facts = newest.and_then(|bytes| sealed::read_record(&bytes).ok());
            let (decision, stops) = facts.map_or((None, 0), |facts| (facts.decision, facts.stops));
            record(transaction, tip, decision.as_deref(), stops).map_err(fail)?;
        }
    }
    journal::index_all(transaction)
}

/// The last one counts a judgement of this very revision after this very record, and of no other.
const COLUMNS: &str = "blade, title, kind, revision, saved_at, source, note, passes, minutes, mass_first, mass_last, \
                       return_by, examined, planned, records, tip, purpose, tip_revision, decision, stops, stage, stage_since, \
                       stage_note, ended, sheet_passes, \
                       (SELECT derived.stops FROM derived WHERE derived.blade = standing.blade \
                        AND derived.revision = standing.revision AND derived.tip IS standing.tip)";

/// A line with the word of its source still to be read.
type Raw = (StandingRow, Option<String>);

fn read_row(row: &Row<'_>) -> rusqlite::Result<Raw> {
    let decimal = |column: usize| -> rusqlite::Result<Option<Decimal>> {
        let text: Option<String> = row.get(column)?;
        Ok(text.and_then(|text| text.parse().ok()))
    };
    let number = |column: usize| -> rusqlite::Result<Option<u64>> {
        Ok(row.get::<_, Option<i64>>(column)?.map(uncount))
    };
    Ok((
        StandingRow {
            blade: row.get(0)?,
            title: row.get(1)?,
            kind: row.get(2)?,
            revision: number(3)?,
            saved_at: row.get(4)?,
            source: None,
            note: row.get(6)?,
            passes: uncount(row.get(7)?),
            minutes: decimal(8)?,
            mass_first: decimal(9)?,
            mass_last: decimal(10)?,
            return_by: row.get(11)?,
            examined: row.get(12)?,
            planned: row.get(13)?,
            records: uncount(row.get(14)?),
            tip: optional_digest_at(row, 15)?,
            purpose: row.get(16)?,
            tip_revision: number(17)?,
            decision: row.get(18)?,
            stops: uncount(row.get(19)?),
            stage: row.get(20)?,
            stage_since: row.get(21)?,
            stage_note: row.get(22)?,
            ended: row.get(23)?,
            sheet_passes: uncount(row.get(24)?),
            judged: number(25)?,
        },
        row.get(5)?,
    ))
}

fn whole((row, source): Raw) -> Result<StandingRow, StoreError> {
    let source = source.as_deref().map(DraftSource::from_word).transpose()?;
    Ok(StandingRow { source, ..row })
}

/// Finds the line of one blade.
pub(super) fn find(connection: &Connection, blade: &str) -> Result<StandingRow, StoreError> {
    connection
        .query_row(
            &format!("SELECT {COLUMNS} FROM standing WHERE blade = ?1"),
            [blade],
            read_row,
        )
        .optional()
        .map_err(|error| StoreError::index(READ, error))?
        .ok_or_else(|| StoreError::UnknownBlade(text::cut(blade)))
        .and_then(whole)
}

/// Lists lines in order of the keys.
pub(super) fn list(
    connection: &Connection,
    filter: &StandingFilter<'_>,
) -> Result<Vec<StandingRow>, StoreError> {
    let fail = |error| StoreError::index(READ, error);
    // Only what was asked for stands in the query, so that the index that fits is used.
    let mut query = format!("SELECT {COLUMNS} FROM standing WHERE blade > ?1");
    match filter.ended {
        Some(true) => query.push_str(" AND ended = 1"),
        Some(false) => query.push_str(" AND ended = 0"),
        None => {}
    }
    if filter.stage.is_some() {
        query.push_str(" AND stage = ?3");
    }
    query.push_str(" ORDER BY blade LIMIT ?2");
    let mut statement = connection.prepare(&query).map_err(fail)?;
    let after = filter.after.unwrap_or_default();
    let limit = i64::try_from(filter.limit).unwrap_or(i64::MAX);
    let rows = match filter.stage {
        Some(stage) => statement.query_map(params![after, limit, stage], read_row),
        None => statement.query_map(params![after, limit], read_row),
    };
    rows.map_err(fail)?
        .map(|row| whole(row.map_err(fail)?))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn what_is_planned_next_follows_the_last_stage_that_was_carried_out() {
        let stage = |operation: &str, stone: &str| json!({ "operation": operation, "abrasive": { "name": stone } });
        let mut body = json!({ "plan": { "stages": [
            { "operation": "derust" }, stage("grind", "coarse"), stage("grind", "middle"), stage("polish", "fine"),
        ] } });
        assert_eq!(planned(&json!({})), None);
        assert_eq!(planned(&body).as_deref(), Some("derust"));
        body["passes"] = json!([stage("derust", "finger stone"), stage("grind", "coarse")]);
        assert_eq!(planned(&body).as_deref(), Some("grind, middle"));
        // A stage that was left out is not asked for again.
        body["passes"] = json!([stage("derust", "finger stone"), stage("grind", "middle")]);
        assert_eq!(planned(&body).as_deref(), Some("polish, fine"));
        body["passes"] = json!([stage("polish", "fine")]);
        assert_eq!(planned(&body), None);
    }

    #[test]
    fn a_look_at_the_parcel_is_no_examination() {
        assert_eq!(examined(&json!({})), None);
        let mut body = json!({ "examination": { "reason": "intake" } });
        assert_eq!(examined(&body), None);
        body["tang"] = json!({ "state": "ubu" });
        assert_eq!(examined(&body), Some("intake"));
        let before = json!({ "examination": { "reason": "before_work" } });
        assert_eq!(examined(&before), Some("before_work"));
    }
}
