//! The journal: entries that only grow, and the change of several things at once.

use rusqlite::{Connection, OptionalExtension, Row, Transaction, params};

use super::{FolderStore, count, drafts, registry, search, standing, uncount};
use crate::{Change, Changed, EntryFilter, EntryRow, NewEntry, Seen, StoreError, text};

const WRITE: &str = "write into the journal";
const READ: &str = "read the journal";

const COLUMNS: &str = "entry.number, entry.kind, entry.blade, entry.subject, entry.day, entry.body, entry.at, \
                       entry.by_whom, entry.replaces, (SELECT later.number FROM entry AS later WHERE later.replaces = entry.number)";

struct Raw {
    row: EntryRow,
    body: Option<String>,
}

fn read_row(row: &Row<'_>) -> rusqlite::Result<Raw> {
    let number = |column: usize| -> rusqlite::Result<Option<u64>> {
        Ok(row.get::<_, Option<i64>>(column)?.map(uncount))
    };
    Ok(Raw {
        body: row.get(5)?,
        row: EntryRow {
            number: uncount(row.get(0)?),
            kind: row.get(1)?,
            blade: row.get(2)?,
            subject: row.get(3)?,
            on: row.get(4)?,
            body: None,
            at: row.get(6)?,
            by: row.get(7)?,
            replaces: number(8)?,
            replaced_by: number(9)?,
        },
    })
}

impl Raw {
    fn whole(self) -> Result<EntryRow, StoreError> {
        let body = self
            .body
            .map(|body| serde_json::from_str(&body))
            .transpose()
            .map_err(|error| StoreError::Index {
                action: READ,
                trouble: crate::Trouble::Damaged,
                source: Box::new(error),
            })?;
        Ok(EntryRow { body, ..self.row })
    }
}

/// Lists entries, oldest first.
pub(super) fn list(
    connection: &Connection,
    filter: &EntryFilter<'_>,
) -> Result<Vec<EntryRow>, StoreError> {
    let fail = |error| StoreError::index(READ, error);
    if let Some(blade) = filter.blade {
        registry::expect_blade(connection, blade)?;
    }
    // Only what was asked for stands in the query, so that the index that fits is used.
    let mut query = format!("SELECT {COLUMNS} FROM entry WHERE 1 = 1");
    let mut given: Vec<&str> = Vec::new();
    for (column, wanted) in [
        ("kind", filter.kind),
        ("blade", filter.blade),
        ("subject", filter.subject),
    ] {
        if let Some(wanted) = wanted {
            given.push(wanted);
            for part in [" AND entry.", column, " = ?", &given.len().to_string()] {
                query.push_str(part);
            }
        }
    }
    if !filter.whole {
        query.push_str(
            " AND entry.body IS NOT NULL
              AND NOT EXISTS (SELECT 1 FROM entry AS later WHERE later.replaces = entry.number)",
        );
    }
    query.push_str(" ORDER BY entry.number");
    let mut statement = connection.prepare(&query).map_err(fail)?;
    let rows = statement
        .query_map(rusqlite::params_from_iter(given), read_row)
        .map_err(fail)?;
    rows.map(|row| row.map_err(fail)?.whole()).collect()
}

/// Finds one entry.
pub(super) fn find(connection: &Connection, number: u64) -> Result<EntryRow, StoreError> {
    connection
        .query_row(
            &format!("SELECT {COLUMNS} FROM entry WHERE entry.number = ?1"),
            [count(number)],
            read_row,
        )
        .optional()
        .map_err(|error| StoreError::index(READ, error))?
        .ok_or(StoreError::UnknownEntry(number))?
        .whole()
}

/// Refuses an entry that cannot be kept; returns the canonical text of its body.
fn check(entry: &NewEntry<'_>, limit: u64) -> Result<Option<String>, StoreError> {
    let bad = |field, text: &str, reason| StoreError::BadText {
        field,
        text: text::cut(text),
        reason,
    };
    let letters = |byte: u8| byte.is_ascii_lowercase() || byte == b'_';
    if !(1..=40).contains(&entry.kind.len()) || !entry.kind.bytes().all(letters) {
        return Err(bad(
            "the kind",
            entry.kind,
            "not 1 to 40 lower-case letters and `_`",
        ));
    }
    text::words("the subject", entry.subject, true)?;
    text::words("the name of who enters it", entry.by, false)?;
    text::time("at", entry.at)?;
    text::day("the day", entry.on)?;
    match entry.body {
        Some(body) => drafts::canonical_body(body, limit, "the entry").map(Some),
        None if entry.replaces.is_none() => Err(bad("the body", "", "empty")),
        None => Ok(None),
    }
}

/// Writes one entry; returns its number.
fn insert(
    transaction: &Transaction<'_>,
    entry: &NewEntry<'_>,
    body: Option<&str>,
) -> Result<u64, StoreError> {
    let fail = |error| StoreError::index(WRITE, error);
    if let Some(blade) = entry.blade {
        registry::expect_blade(transaction, blade)?;
    }
    if let Some(old) = entry.replaces {
        let old = find(transaction, old)?;
        if old.kind != entry.kind || old.blade.as_deref() != entry.blade {
            return Err(StoreError::OtherEntry {
                number: old.number,
                found: old.kind,
                blade: old.blade,
            });
        }
        if let Some(by) = old.replaced_by {
            return Err(StoreError::EntryReplaced {
                number: old.number,
                by,
            });
        }
        if old.body.is_none() {
            return Err(StoreError::UnknownEntry(old.number));
        }
        search::drop_entry(transaction, old.number)?;
    }
    let number: i64 = transaction
        .query_row(
            "SELECT coalesce(max(number), 0) + 1 FROM entry",
            [],
            |row| row.get(0),
        )
        .map_err(fail)?;
    transaction
        .execute(
            "INSERT INTO entry (number, kind, blade, subject, day, body, at, by_whom, replaces)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
            params![
                number,
                entry.kind,
                entry.blade,
                entry.subject,
                entry.on,
                body,
                entry.at,
                entry.by,
                entry.replaces.map(count)
            ],
        )
        .map_err(fail)?;
    let number = uncount(number);
    if let Some(body) = entry.body {
        search::put_entry(transaction, number, entry.blade, entry.subject, body)?;
    }
    if let Some(blade) = entry.blade.filter(|_| entry.kind == standing::STAGE) {
        standing::stage(transaction, blade)?;
    }
    Ok(number)
}

/// Refuses entries one of which cannot be kept; returns the canonical texts of their bodies.
pub(super) fn check_all(
    entries: &[NewEntry<'_>],
    limit: u64,
) -> Result<Vec<Option<String>>, StoreError> {
    entries.iter().map(|entry| check(entry, limit)).collect()
}

/// Writes entries with the texts that [`check_all`] returned; returns their numbers.
pub(super) fn insert_all(
    transaction: &Transaction<'_>,
    entries: &[NewEntry<'_>],
    bodies: &[Option<String>],
) -> Result<Vec<u64>, StoreError> {
    entries
        .iter()
        .zip(bodies)
        .map(|(entry, body)| insert(transaction, entry, body.as_deref()))
        .collect()
}

/// Refuses a change that was made on an older journal.
fn expect_seen(transaction: &Transaction<'_>, seen: &Seen<'_>) -> Result<(), StoreError> {
    let newest: Option<i64> = transaction
        .query_row(
            "SELECT max(number) FROM entry WHERE kind = ?1 AND blade = ?2",
            params![seen.kind, seen.blade],
            |row| row.get(0),
        )
        .map_err(|error| StoreError::index(READ, error))?;
    match newest.map(uncount) {
        Some(newest) if seen.newest != Some(newest) => Err(StoreError::EntryMeanwhile {
            kind: seen.kind.to_owned(),
            blade: seen.blade.to_owned(),
            newest,
        }),
        _ => Ok(()),
    }
}

impl FolderStore {
    pub(super) fn do_apply(&self, change: &Change<'_>) -> Result<Changed, StoreError> {
        if let Some(blade) = change.blade {
            registry::check_blade(blade)?;
        }
        for photo in change.photos {
            registry::check_photo(photo)?;
        }
        let draft = change
            .draft
            .as_ref()
            .map(|draft| drafts::check(draft, self.limits.draft))
            .transpose()?;
        let bodies = check_all(change.entries, self.limits.draft)?;
        self.write(WRITE, |transaction| {
            if let Some(seen) = &change.seen {
                expect_seen(transaction, seen)?;
            }
            if let Some(blade) = change.blade {
                registry::insert_blade(transaction, blade)
                    .map_err(|error| StoreError::index(WRITE, error))?;
            }
            for photo in change.photos {
                registry::insert_photo(transaction, photo)?;
            }
            let revision = match (&change.draft, draft) {
                (Some(draft), Some(body)) => Some(drafts::add(transaction, draft, body)?),
                _ => None,
            };
            let entries = insert_all(transaction, change.entries, &bodies)?;
            Ok(Changed { revision, entries })
        })
    }
}

/// Puts every entry in force into the search anew.
pub(super) fn index_all(transaction: &Transaction<'_>) -> Result<(), StoreError> {
    for entry in list(transaction, &EntryFilter::default())? {
        if let Some(body) = &entry.body {
            search::put_entry(
                transaction,
                entry.number,
                entry.blade.as_deref(),
                &entry.subject,
                body,
            )?;
        }
    }
    Ok(())
}
