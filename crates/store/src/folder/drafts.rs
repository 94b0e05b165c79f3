//! Drafts: every saved state is a row, nothing is erased.

use rusqlite::{Connection, OptionalExtension, Row, Transaction, params};
use serde_json::Value;
use tangmark_core::json::{JsonError, Limits, canonical_bytes, read_value};

use super::{FolderStore, count, journal, registry, search, standing, uncount};
use crate::{Draft, DraftEntry, DraftSource, NewDraft, NewEntry, StoreError, text};

const ACTION: &str = "save the draft";
const READ: &str = "read the draft";

/// A row of the table `draft`.
struct DraftRow {
    blade: String,
    revision: u64,
    body: String,
    saved_at: String,
    source: String,
    note: String,
    restores: Option<u64>,
    by: String,
}

const COLUMNS: &str = "blade, revision, body, saved_at, source, note, restores, by_whom";

impl DraftRow {
    fn read(row: &Row<'_>) -> rusqlite::Result<Self> {
        Ok(Self {
            blade: row.get(0)?,
            revision: uncount(row.get(1)?),
            body: row.get(2)?,
            saved_at: row.get(3)?,
            source: row.get(4)?,
            note: row.get(5)?,
            restores: row.get::<_, Option<i64>>(6)?.map(uncount),
            by: row.get(7)?,
        })
    }

    /// The revision whose body this is: the one brought back, or itself.
    fn origin(&self) -> u64 {
        self.restores.unwrap_or(self.revision)
    }

    fn into_draft(self) -> Result<Draft, StoreError> {
        let body = serde_json::from_str(&self.body).map_err(|error| StoreError::Index {
            action: READ,
            trouble: crate::Trouble::Damaged,
            source: Box::new(error),
        })?;
        let length = self.body.len() as u64;
        Ok(Draft {
            entry: DraftEntry {
                blade: self.blade,
                revision: self.revision,
                saved_at: self.saved_at,
                source: DraftSource::from_word(&self.source)?,
                note: self.note,
                by: self.by,
                restores: self.restores,
                length,
            },
            body,
        })
    }
}

fn newest(connection: &Connection, blade: &str) -> Result<Option<DraftRow>, StoreError> {
    connection
        .query_row(
            &format!("SELECT {COLUMNS} FROM draft WHERE blade = ?1 ORDER BY revision DESC LIMIT 1"),
            [blade],
            DraftRow::read,
        )
        .optional()
        .map_err(|error| StoreError::index(READ, error))
}

fn at(connection: &Connection, blade: &str, revision: u64) -> Result<Option<DraftRow>, StoreError> {
    connection
        .query_row(
            &format!("SELECT {COLUMNS} FROM draft WHERE blade = ?1 AND revision = ?2"),
            params![blade, count(revision)],
            DraftRow::read,
        )
        .optional()
        .map_err(|error| StoreError::index(READ, error))
}

fn insert(transaction: &Transaction<'_>, row: &DraftRow) -> Result<(), StoreError> {
    transaction
        .execute(
            &format!("INSERT INTO draft ({COLUMNS}) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)"),
            params![
                row.blade,
                count(row.revision),
                row.body,
                row.saved_at,
                row.source,
                row.note,
                row.restores.map(count),
                row.by
            ],
        )
        .map(drop)
        .map_err(|error| StoreError::index(ACTION, error))
}

/// Finds the newest row and refuses when it is not the expected one.
fn expect_newest(
    connection: &Connection,
    blade: &str,
    expected: Option<u64>,
) -> Result<Option<DraftRow>, StoreError> {
    let newest = newest(connection, blade)?;
    let found = newest.as_ref().map(|row| row.revision);
    if found == expected {
        return Ok(newest);
    }
    Err(StoreError::DraftConflict {
        blade: blade.to_owned(),
        expected,
        newest: found,
    })
}

/// Canonical text of the body of a draft or an entry.
pub(super) fn canonical_body(
    body: &Value,
    limit: u64,
    what: &'static str,
) -> Result<String, StoreError> {
    let kind = match body {
        Value::Object(_) => None,
        Value::Null => Some("null"),
        Value::Bool(_) => Some("true or false"),
        Value::Number(_) => Some("a number"),
        Value::String(_) => Some("a text"),
        Value::Array(_) => Some("a list"),
    };
    if let Some(kind) = kind {
        return Err(StoreError::DraftNotAnObject(kind));
    }
    let bytes = canonical_bytes(body).map_err(|error| StoreError::DraftBody {
        reason: error.to_string(),
        advice: error.hint().to_owned(),
    })?;
    if bytes.len() as u64 > limit {
        return Err(StoreError::TooLarge {
            what: what.to_owned(),
            limit,
        });
    }
    // What a sealed record could not hold is refused now, while the user still knows what was typed.
    let refused = |error: JsonError| StoreError::DraftBody {
        reason: error.kind.to_string(),
        advice: error.hint().into_owned(),
    };
    let limits = Limits {
        max_bytes: bytes.len(),
        ..Limits::default()
    };
    if read_value(&bytes, &limits).map_err(refused)? != *body {
        return Err(StoreError::DraftBody {
            reason: "a number that is no whole number would come back as one".to_owned(),
            advice: "write decimals as strings, such as \"12.50\"".to_owned(),
        });
    }
    String::from_utf8(bytes).map_err(|error| StoreError::DraftBody {
        reason: error.to_string(),
        advice: "write the text again".to_owned(),
    })
}

/// Refuses a draft that cannot be kept; returns the canonical text of its body.
pub(super) fn check(draft: &NewDraft<'_>, limit: u64) -> Result<String, StoreError> {
    text::time("saved_at", draft.saved_at)?;
    text::words("note", draft.note, true)?;
    text::words("the name of who changed it", draft.by, true)?;
    canonical_body(draft.body, limit, "the draft")
}

/// Adds a revision with the text that [`check`] returned; returns its number.
pub(super) fn add(
    transaction: &Transaction<'_>,
    draft: &NewDraft<'_>,
    body: String,
) -> Result<u64, StoreError> {
    registry::expect_blade(transaction, draft.blade)?;
    let newest = expect_newest(transaction, draft.blade, draft.expected_revision)?;
    if let Some(same) = newest.as_ref().filter(|row| row.body == body) {
        return Ok(same.revision);
    }
    let revision = newest.map_or(0, |row| row.revision) + 1;
    let row = DraftRow {
        blade: draft.blade.to_owned(),
        revision,
        body,
        saved_at: draft.saved_at.to_owned(),
        source: draft.source.word().to_owned(),
        note: draft.note.to_owned(),
        restores: None,
        by: draft.by.to_owned(),
    };
    insert(transaction, &row)?;
    follow(transaction, &row, draft.body)?;
    Ok(revision)
}

/// Brings what is derived from the newest draft up to it.
fn follow(transaction: &Transaction<'_>, row: &DraftRow, body: &Value) -> Result<(), StoreError> {
    let note = (row.source.as_str(), row.note.as_str());
    standing::draft(
        transaction,
        &row.blade,
        row.revision,
        &row.saved_at,
        note,
        body,
    )?;
    standing::work(transaction, &row.blade, body)?;
    search::put_draft(transaction, &row.blade, body)
}

/// Derives again from the newest draft of a blade, if it has one.
pub(super) fn follow_newest(transaction: &Transaction<'_>, blade: &str) -> Result<(), StoreError> {
    let Some(row) = newest(transaction, blade)? else {
        return Ok(());
    };
    // A body that is no JSON any more is told by the check of the whole workshop.
    match serde_json::from_str(&row.body) {
        Ok(body) => follow(transaction, &row, &body),
        Err(_) => Ok(()),
    }
}

/// Derives anew what is counted over sealed passes and those of the newest draft.
pub(super) fn follow_work(transaction: &Transaction<'_>, blade: &str) -> Result<(), StoreError> {
    let body = newest(transaction, blade)?
        .and_then(|row| serde_json::from_str(&row.body).ok())
        .unwrap_or(Value::Null);
    standing::work(transaction, blade, &body)
}

impl FolderStore {
    pub(super) fn do_save_draft(&self, draft: &NewDraft<'_>) -> Result<u64, StoreError> {
        let body = check(draft, self.limits.draft)?;
        self.write(ACTION, |transaction| add(transaction, draft, body))
    }

    pub(super) fn newest_draft(&self, blade: &str) -> Result<Option<Draft>, StoreError> {
        let connection = self.connection();
        registry::expect_blade(&connection, blade)?;
        newest(&connection, blade)?
            .map(DraftRow::into_draft)
            .transpose()
    }

    pub(super) fn do_draft_at(&self, blade: &str, revision: u64) -> Result<Draft, StoreError> {
        let connection = self.connection();
        registry::expect_blade(&connection, blade)?;
        if let Some(row) = at(&connection, blade, revision)? {
            return row.into_draft();
        }
        let newest = newest(&connection, blade)?.map(|row| row.revision);
        Err(StoreError::NoSuchRevision {
            blade: blade.to_owned(),
            asked: revision,
            newest,
        })
    }

    pub(super) fn do_draft_history(&self, blade: &str) -> Result<Vec<DraftEntry>, StoreError> {
        let connection = self.connection();
        registry::expect_blade(&connection, blade)?;
        let fail = |error| StoreError::index("read the draft's history", error);
        let mut statement = connection
            .prepare(
                "SELECT revision, saved_at, source, note, restores, octet_length(body), by_whom
                 FROM draft WHERE blade = ?1 ORDER BY revision",
            )
            .map_err(fail)?;
        let mut rows = statement.query([blade]).map_err(fail)?;
        let mut history = Vec::new();
        while let Some(row) = rows.next().map_err(fail)? {
            let source: String = row.get(2).map_err(fail)?;
            history.push(DraftEntry {
                blade: blade.to_owned(),
                revision: uncount(row.get(0).map_err(fail)?),
                saved_at: row.get(1).map_err(fail)?,
                source: DraftSource::from_word(&source)?,
                note: row.get(3).map_err(fail)?,
                restores: row.get::<_, Option<i64>>(4).map_err(fail)?.map(uncount),
                length: uncount(row.get(5).map_err(fail)?),
                by: row.get(6).map_err(fail)?,
            });
        }
        Ok(history)
    }

    pub(super) fn do_undo(
        &self,
        blade: &str,
        expected: u64,
        (saved_at, by): (&str, &str),
        entries: &[NewEntry<'_>],
    ) -> Result<Draft, StoreError> {
        text::time("saved_at", saved_at)?;
        text::words("the name of who changed it", by, true)?;
        let bodies = journal::check_all(entries, self.limits.draft)?;
        self.write("undo", |transaction| {
            registry::expect_blade(transaction, blade)?;
            let nothing = || StoreError::NothingToUndo(blade.to_owned());
            let newest = expect_newest(transaction, blade, Some(expected))?.ok_or_else(nothing)?;
            // An undo stands where the revision it brought back stood, so the next one goes further back.
            let before = newest.origin().saturating_sub(1);
            let older = at(transaction, blade, before)?.ok_or_else(nothing)?;
            let origin = older.origin();
            let row = DraftRow {
                blade: blade.to_owned(),
                revision: newest.revision + 1,
                body: older.body,
                saved_at: saved_at.to_owned(),
                source: DraftSource::Undo.word().to_owned(),
                note: String::new(),
                restores: Some(origin),
                by: by.to_owned(),
            };
            insert(transaction, &row)?;
            let draft = row.into_draft()?;
            follow_newest(transaction, blade)?;
            journal::insert_all(transaction, entries, &bodies)?;
            Ok(draft)
        })
    }
}
