//! How anything is written: rows in one transaction, objects before the rows that speak of them.

use std::{
    fs::{self, File},
    io::{self, ErrorKind, Read},
    sync::{MutexGuard, PoisonError},
};

use rusqlite::{Connection, OptionalExtension, Transaction, params};
use tangmark_core::Digest;

use super::{
    FolderStore, INDEX, INTENT, count,
    faults::FaultPoint,
    files::{Staged, sync_folder},
    schema, uncount,
};
use crate::{ObjectKind, ObjectRow, StoreError, sealed};

impl FolderStore {
    pub(super) fn connection(&self) -> MutexGuard<'_, Connection> {
        // A panic elsewhere cannot leave a half-done change: the transaction rolled back.
        self.connection
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
    }

    /// Runs a writing transaction: all of it is committed or nothing.
    pub(super) fn write<T>(
        &self,
        action: &'static str,
        work: impl FnOnce(&Transaction<'_>) -> Result<T, StoreError>,
    ) -> Result<T, StoreError> {
        let mut connection = self.connection();
        let transaction =
            schema::begin(&mut connection).map_err(|error| StoreError::index(action, error))?;
        let result = work(&transaction)?;
        let fail = |error| StoreError::file(action, &self.dir.join(INDEX), error);
        self.faults.at(FaultPoint::RowWritten).map_err(fail)?;
        transaction
            .commit()
            .map_err(|error| StoreError::index(action, error))?;
        self.faults.at(FaultPoint::Committed).map_err(fail)?;
        Ok(result)
    }

    /// Runs a writing transaction in which some objects and the rows that speak of them appear together.
    ///
    /// The objects are on the disk before their rows, so a crash in between would leave bytes that a rebuild takes for
    /// sealed. A note of their names, written before them, lets the next program remove them. They are placed in the
    /// order given: what the last one needs is there before it.
    pub(super) fn write_sealed<T>(
        &self,
        action: &'static str,
        pieces: &[(&[u8], ObjectKind)],
        work: impl FnOnce(&Transaction<'_>) -> Result<Sealing<T>, StoreError>,
    ) -> Result<T, StoreError> {
        let mut all = Vec::new();
        for (bytes, kind) in pieces {
            let (limit, what) = match kind {
                ObjectKind::Record | ObjectKind::Link => (self.limits.record, "the sealed record"),
                _ => (self.limits.object, "the object"),
            };
            all.push((self.files.stage(&mut &bytes[..], limit, what)?, *kind));
        }
        let result = self.write(action, |transaction| {
            self.settle_in(transaction)?;
            match work(transaction)? {
                Sealing::Known(known) => Ok(known),
                Sealing::New(finish) => {
                    self.note_intent(&all)?;
                    for (staged, kind) in &all {
                        self.files.place(staged)?;
                        list_object(transaction, staged, *kind)?;
                    }
                    finish(transaction)
                }
            }
        });
        // Committed or not, the note has done its work; if this fails the next program does it.
        let _ = self.settle();
        result
    }

    fn note_intent(&self, all: &[(Staged, ObjectKind)]) -> Result<(), StoreError> {
        let path = self.dir.join(INTENT);
        let fail = |error| StoreError::file("write", &path, error);
        let mut file = File::create(&path).map_err(fail)?;
        let names: Vec<String> = all.iter().map(|(one, _)| one.digest.to_string()).collect();
        io::Write::write_all(&mut file, names.join("\n").as_bytes()).map_err(fail)?;
        file.sync_all().map_err(fail)?;
        sync_folder(&self.dir)?;
        self.faults.at(FaultPoint::IntentWritten).map_err(fail)
    }

    /// Ends a sealing that was interrupted.
    pub(super) fn settle(&self) -> Result<(), StoreError> {
        if fs::symlink_metadata(self.dir.join(INTENT)).is_err() {
            return Ok(());
        }
        let action = "end an interrupted sealing";
        let mut connection = self.connection();
        // The lock keeps away a program that is sealing right now.
        let transaction =
            schema::begin(&mut connection).map_err(|error| StoreError::index(action, error))?;
        self.settle_in(&transaction)
    }

    fn settle_in(&self, transaction: &Transaction<'_>) -> Result<(), StoreError> {
        let path = self.dir.join(INTENT);
        let text = match fs::read_to_string(&path) {
            Ok(text) => text,
            Err(error) if error.kind() == ErrorKind::NotFound => return Ok(()),
            Err(error) if error.kind() == ErrorKind::InvalidData => String::new(),
            Err(error) => return Err(StoreError::file("read", &path, error)),
        };
        // A torn note was never flushed, so its objects were never placed.
        for digest in names_in(&text) {
            if object_row(transaction, &digest)?.is_none() {
                self.files.remove(&digest)?;
            }
        }
        fs::remove_file(&path).map_err(|error| StoreError::file("remove", &path, error))?;
        sync_folder(&self.dir)
    }

    pub(super) fn put(
        &self,
        reader: &mut dyn Read,
        kind: ObjectKind,
    ) -> Result<Digest, StoreError> {
        if matches!(kind, ObjectKind::Record | ObjectKind::Link) {
            return Err(StoreError::NotByItself { kind, found: false });
        }
        let staged = self.files.stage(reader, self.limits.object, "the object")?;
        if let Some(bytes) = self.files.peek(&staged)? {
            expect_plain(&bytes)?;
        }
        self.files.place(&staged)?;
        self.write("list the object", |transaction| {
            list_object(transaction, &staged, kind)
        })?;
        Ok(staged.digest)
    }
}

/// The names in a note of a sealing that has begun, the last one placed first.
pub(super) fn names_in(note: &str) -> impl Iterator<Item = Digest> {
    note.lines().rev().filter_map(|line| line.parse().ok())
}

/// Refuses bytes that enter by another door: a sealed record, or a note that ties an object to one.
pub(super) fn expect_plain(bytes: &[u8]) -> Result<(), StoreError> {
    let kind = if sealed::claims_to_be_record(bytes) {
        ObjectKind::Record
    } else if sealed::read_link(bytes).is_some() {
        ObjectKind::Link
    } else {
        return Ok(());
    };
    Err(StoreError::NotByItself { kind, found: true })
}

/// Writes the rows that belong to new objects.
type Finish<T> = dyn FnOnce(&Transaction<'_>) -> Result<T, StoreError>;

/// What a sealing turned out to need.
pub(super) enum Sealing<T> {
    /// It was done before.
    Known(T),
    /// The objects are to be placed, then these rows written.
    New(Box<Finish<T>>),
}

fn list_object(
    transaction: &Transaction<'_>,
    staged: &Staged,
    kind: ObjectKind,
) -> Result<(), StoreError> {
    transaction
        .execute(
            "INSERT INTO object (digest, kind, length) VALUES (?1, ?2, ?3) ON CONFLICT DO NOTHING",
            params![staged.digest.to_string(), kind.word(), count(staged.length)],
        )
        .map(drop)
        .map_err(|error| StoreError::index("list the object", error))
}

pub(super) fn object_row(
    connection: &Connection,
    digest: &Digest,
) -> Result<Option<ObjectRow>, StoreError> {
    let row = connection
        .query_row(
            "SELECT kind, length FROM object WHERE digest = ?1",
            [digest.to_string()],
            |row| Ok((row.get::<_, String>(0)?, row.get::<_, i64>(1)?)),
        )
        .optional()
        .map_err(|error| StoreError::index("find the object", error))?;
    row.map(|(kind, length)| {
        Ok(ObjectRow {
            digest: *digest,
            kind: ObjectKind::from_word(&kind)?,
            length: uncount(length),
        })
    })
    .transpose()
}
