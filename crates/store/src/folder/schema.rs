//! The index: its tables, its versions, how it is opened.

use std::{fs, path::Path, time::Duration};

use rusqlite::{Connection, OpenFlags, Transaction, TransactionBehavior};

use super::{OBJECTS, files, standing};
use crate::StoreError;

/// Marks the database as ours: ASCII `Tngm`.
pub(super) const APPLICATION_ID: i32 = 0x546e_676d;

/// How long a program waits for another one's write.
const PATIENCE: Duration = Duration::from_secs(15);

/// A step from one version of the index to the next.
#[derive(Clone, Copy)]
struct Step {
    sql: &'static str,
    /// What has to be derived once the tables are there; it is given the folder of the index.
    then: fn(&Transaction<'_>, &Path) -> Result<(), StoreError>,
}

impl Step {
    const fn plain(sql: &'static str) -> Self {
        Self {
            sql,
            then: |_, _| Ok(()),
        }
    }
}

/// Step n brings an index from version n to version n + 1. Steps are never edited, only added.
const MIGRATIONS: &[Step] = &[
    Step::plain(include_str!("version_1.sql")),
    Step {
        sql: include_str!("version_2.sql"),
        then: fill,
    },
];

/// Derives lists and search from what an index of version 1 holds.
fn fill(transaction: &Transaction<'_>, folder: &Path) -> Result<(), StoreError> {
    let objects = folder.join(OBJECTS);
    standing::fill(transaction, &|digest| {
        fs::read(files::path_in(&objects, digest)).ok()
    })
}

/// How the index file is opened.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Opening {
    /// It must be there.
    Existing,
    /// It must not be there. It is written without a log beside it, so that it can be renamed when closed.
    Fresh,
}

/// Opens the index and brings it to the newest version.
pub(super) fn open(path: &Path, opening: Opening) -> Result<Connection, StoreError> {
    open_with(path, opening, MIGRATIONS)
}

fn open_with(path: &Path, opening: Opening, migrations: &[Step]) -> Result<Connection, StoreError> {
    let fail = |error| StoreError::index("open the index", error);
    let mut flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    if opening == Opening::Fresh {
        flags |= OpenFlags::SQLITE_OPEN_CREATE;
    }
    let mut connection = Connection::open_with_flags(path, flags).map_err(fail)?;
    connection.busy_timeout(PATIENCE).map_err(fail)?;
    let application: i32 = connection
        .pragma_query_value(None, "application_id", |row| row.get(0))
        .map_err(fail)?;
    let version = version(&connection).map_err(fail)?;
    if application == 0 && version == 0 {
        // A file cut to nothing reads as a new database; taking it for one would begin every chain again.
        if opening == Opening::Existing {
            return Err(StoreError::EmptyIndex(path.to_owned()));
        }
    } else if application != APPLICATION_ID {
        return Err(StoreError::ForeignDatabase {
            path: path.to_owned(),
            found: application,
        });
    }
    let known = i64::try_from(migrations.len()).unwrap_or(i64::MAX);
    if version > known {
        return Err(StoreError::NewerIndex {
            path: path.to_owned(),
            found: version,
            known,
        });
    }
    let journal = if opening == Opening::Fresh {
        "DELETE"
    } else {
        "WAL"
    };
    connection
        .pragma_update_and_check(None, "journal_mode", journal, |_| Ok(()))
        .map_err(fail)?;
    // FULL: a committed row outlives a loss of power, not only the end of the program.
    connection
        .pragma_update(None, "synchronous", "FULL")
        .map_err(fail)?;
    connection
        .pragma_update(None, "foreign_keys", true)
        .map_err(fail)?;
    connection
        .pragma_update(None, "recursive_triggers", true)
        .map_err(fail)?;
    connection
        .pragma_update(None, "trusted_schema", false)
        .map_err(fail)?;
    let folder = path.parent().unwrap_or(Path::new("."));
    migrate(&mut connection, migrations, folder)?;
    Ok(connection)
}

fn version(connection: &Connection) -> rusqlite::Result<i64> {
    connection.pragma_query_value(None, "user_version", |row| row.get(0))
}

/// Runs the missing steps, each whole or not at all.
fn migrate(
    connection: &mut Connection,
    migrations: &[Step],
    folder: &Path,
) -> Result<(), StoreError> {
    let fail = |error| StoreError::index("bring the index to the newest version", error);
    loop {
        let behind = version(connection).map_err(fail)?;
        if usize::try_from(behind).is_ok_and(|behind| behind >= migrations.len()) {
            return Ok(());
        }
        let transaction = begin(connection).map_err(fail)?;
        // Asked again under the lock: another program may have done this step.
        let found = version(&transaction).map_err(fail)?;
        if let Some(step) = usize::try_from(found)
            .ok()
            .and_then(|found| migrations.get(found))
        {
            transaction.execute_batch(step.sql).map_err(fail)?;
            (step.then)(&transaction, folder)?;
            transaction
                .pragma_update(None, "user_version", found + 1)
                .map_err(fail)?;
            transaction
                .pragma_update(None, "application_id", APPLICATION_ID)
                .map_err(fail)?;
        }
        transaction.commit().map_err(fail)?;
    }
}

/// Begins a writing transaction: it waits for its turn now, so that no read in it can be outdated.
pub(super) fn begin(connection: &mut Connection) -> rusqlite::Result<Transaction<'_>> {
    connection.transaction_with_behavior(TransactionBehavior::Immediate)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    const STEPS: &[Step] = &[
        Step::plain("CREATE TABLE one(a INTEGER) STRICT;"),
        Step::plain("ALTER TABLE one ADD COLUMN b TEXT;"),
    ];

    fn with_first_step() -> (tempfile::TempDir, std::path::PathBuf) {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("i.db");
        let connection = open_with(&path, Opening::Fresh, &STEPS[..1]).unwrap();
        connection
            .execute("INSERT INTO one VALUES (7)", [])
            .unwrap();
        (dir, path)
    }

    #[test]
    fn an_older_index_is_brought_up() {
        let (_dir, path) = with_first_step();
        let connection = open_with(&path, Opening::Existing, STEPS).unwrap();
        assert_eq!(version(&connection).unwrap(), 2);
        let row: (i64, Option<String>) = connection
            .query_row("SELECT a, b FROM one", [], |row| {
                Ok((row.get(0)?, row.get(1)?))
            })
            .unwrap();
        assert_eq!(row, (7, None));
    }

    #[test]
    fn a_failing_step_changes_nothing() {
        let (_dir, path) = with_first_step();
        let bad = [
            STEPS[0],
            Step::plain("ALTER TABLE one ADD COLUMN b TEXT; INSERT INTO nowhere VALUES (1);"),
        ];
        let error = open_with(&path, Opening::Existing, &bad).unwrap_err();
        assert_eq!(
            error.to_string(),
            "cannot bring the index to the newest version: the index answers that the system refused"
        );
        let connection = open_with(&path, Opening::Existing, &STEPS[..1]).unwrap();
        assert_eq!(version(&connection).unwrap(), 1);
        assert!(connection.prepare("SELECT b FROM one").is_err());
    }

    #[test]
    fn a_newer_index_is_left_alone() {
        let (_dir, path) = with_first_step();
        open_with(&path, Opening::Existing, STEPS).unwrap();
        let before = std::fs::read(&path).unwrap();
        let error = open_with(&path, Opening::Existing, &STEPS[..1]).unwrap_err();
        assert_eq!(
            error.to_string(),
            format!(
                "the index `{}` has version 2; this program knows versions up to 1",
                path.display()
            )
        );
        assert_eq!(error.hint().unwrap(), "use the newer program that wrote it");
        assert_eq!(std::fs::read(&path).unwrap(), before);
    }

    #[test]
    fn another_programs_database_is_left_alone() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("i.db");
        let other = Connection::open(&path).unwrap();
        other
            .execute_batch("PRAGMA application_id = 1234; CREATE TABLE t(a);")
            .unwrap();
        drop(other);
        let error = open(&path, Opening::Existing).unwrap_err();
        assert_eq!(
            error.to_string(),
            format!(
                "`{}` is a database of another program (application id 0x000004d2)",
                path.display()
            )
        );
    }

    #[test]
    fn lists_and_search_of_an_index_of_version_1_are_derived() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("workshop.db");
        let old = open_with(&path, Opening::Fresh, &MIGRATIONS[..1]).unwrap();
        let record = crate::conformance::record_bytes("b", 1, None, "m");
        let facts = crate::read_record(&record).unwrap();
        let object = files::path_in(&dir.path().join(OBJECTS), &facts.object);
        fs::create_dir_all(object.parent().unwrap()).unwrap();
        fs::write(&object, &record).unwrap();
        old.execute_batch(&format!(
            "INSERT INTO blade VALUES ('b', 'As entered', '2026-01-01T00:00:00Z');
             INSERT INTO draft VALUES
                 ('b', 1, '{{\"blade\":{{\"id\":\"b\",\"title\":\"備前 reed\"}}}}', '2026-01-01T00:00:00Z', 'sheet', '', NULL);
             INSERT INTO object VALUES ('{}', 'record', {});",
            facts.object,
            record.len()
        ))
        .unwrap();
        let row = super::super::records::row_of(facts, "2026-01-02T00:00:00Z".to_owned(), Some(1));
        super::super::records::insert(&old, &row).unwrap();
        drop(old);
        let connection = open(&path, Opening::Existing).unwrap();
        let line = standing::find(&connection, "b").unwrap();
        assert_eq!(line.title, "備前 reed");
        assert_eq!((line.records, line.revision), (1, Some(1)));
        assert_eq!(line.purpose.as_deref(), Some("intake"));
        let hits = super::super::search::find(&connection, "備前", 5).unwrap();
        assert_eq!(hits.len(), 1);
    }
}
