//! A workshop in one folder.

mod check;
mod drafts;
mod faults;
mod files;
mod rebuild;
mod records;
mod registry;
mod schema;
#[cfg(test)]
mod tests;

use std::{
    fs::{self, DirBuilder, File, OpenOptions},
    io::{self, ErrorKind, Read},
    os::unix::fs::DirBuilderExt,
    path::{Path, PathBuf},
    sync::{Mutex, MutexGuard, PoisonError},
};

use rusqlite::{Connection, OptionalExtension, Transaction, params};
use rustix::{
    fs::{FlockOperation, flock},
    io::Errno,
};
use tangmark_core::Digest;

use faults::{FaultPoint, Faults};
use files::{ObjectFiles, Staged, list, sync_folder};
pub use rebuild::{LeftOut, OldIndex, RebuildReport};
use schema::Opening;

use crate::{
    Attachment, BladeRow, Draft, DraftEntry, IntegrityReport, KeyRow, Limits, NewDraft, NewRecord, ObjectKind,
    ObjectRow, PhotoRow, PluginApproval, Progress, RecordRow, Store, StoreError, sealed,
};

const INDEX: &str = "workshop.db";
const LOCK: &str = "workshop.lock";
const OBJECTS: &str = "objects";
const KEYS: &str = "keys";
/// There while a workshop is being made.
const UNFINISHED: &str = "workshop.unfinished";
/// Names the object of a sealing that has begun; gone when it has ended.
const INTENT: &str = "workshop.sealing";

/// A workshop kept in one folder: an SQLite index and object files named by their digest.
pub struct FolderStore {
    dir: PathBuf,
    connection: Mutex<Connection>,
    files: ObjectFiles,
    limits: Limits,
    faults: Faults,
    /// Held, shared, while the store is open, so that a rebuild knows.
    lock: File,
}

impl std::fmt::Debug for FolderStore {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("FolderStore").field("dir", &self.dir).field("limits", &self.limits).finish_non_exhaustive()
    }
}

impl FolderStore {
    /// Makes a workshop in a new or empty folder and opens it.
    ///
    /// When it cannot be finished the folder keeps a marker, by which [`FolderStore::open`] and this function
    /// name it as half-made.
    pub fn create(dir: &Path) -> Result<Self, StoreError> {
        Self::create_with(dir, Limits::default(), Faults::default())
    }

    /// Opens the workshop in a folder.
    pub fn open(dir: &Path) -> Result<Self, StoreError> {
        Self::open_with(dir, Limits::default(), Faults::default())
    }

    /// Opens the workshop in a folder with other limits.
    pub fn open_limited(dir: &Path, limits: Limits) -> Result<Self, StoreError> {
        Self::open_with(dir, limits, Faults::default())
    }

    /// The folder.
    pub fn dir(&self) -> &Path {
        &self.dir
    }

    /// Where an object lies, for programs that read the file themselves.
    pub fn object_path(&self, digest: &Digest) -> PathBuf {
        self.files.path(digest)
    }

    fn create_with(dir: &Path, limits: Limits, faults: Faults) -> Result<Self, StoreError> {
        fs::create_dir_all(dir).map_err(|error| StoreError::file("make the folder", dir, error))?;
        let marker = dir.join(UNFINISHED);
        if fs::symlink_metadata(&marker).is_ok() {
            return Err(StoreError::HalfMade(dir.to_owned()));
        }
        if let Some(entry) = list(dir)?.first() {
            return Err(StoreError::NotEmpty { dir: dir.to_owned(), entry: entry_name(entry) });
        }
        let fail = |error| StoreError::file("make the workshop in", dir, error);
        let file = OpenOptions::new().write(true).create_new(true).open(&marker).map_err(fail)?;
        file.sync_all().map_err(fail)?;
        sync_folder(dir)?;
        faults.at(FaultPoint::CreateMarked).map_err(fail)?;
        fs::create_dir(dir.join(OBJECTS)).map_err(fail)?;
        DirBuilder::new().mode(0o700).create(dir.join(KEYS)).map_err(fail)?;
        sync_folder(dir)?;
        faults.at(FaultPoint::CreateFolders).map_err(fail)?;
        drop(schema::open(&dir.join(INDEX), Opening::Fresh)?);
        sync_folder(dir)?;
        faults.at(FaultPoint::CreateIndex).map_err(fail)?;
        fs::remove_file(&marker).map_err(fail)?;
        sync_folder(dir)?;
        Self::open_with(dir, limits, faults)
    }

    fn open_with(dir: &Path, limits: Limits, faults: Faults) -> Result<Self, StoreError> {
        expect_workshop(dir)?;
        let index = dir.join(INDEX);
        if fs::symlink_metadata(&index).is_err() {
            return Err(StoreError::IndexMissing(dir.to_owned()));
        }
        let lock = open_lock(dir)?;
        // Alone: what an interrupted program left behind can be cleared away.
        let alone = lock_folder(&lock, dir, FlockOperation::NonBlockingLockExclusive)?;
        if !alone {
            lock_folder(&lock, dir, FlockOperation::LockShared)?;
        }
        let connection = schema::open(&index, Opening::Existing)?;
        let files = ObjectFiles { root: dir.join(OBJECTS), limits, faults: faults.clone() };
        let store = Self { dir: dir.to_owned(), connection: Mutex::new(connection), files, limits, faults, lock };
        if alone {
            clear_leftovers(dir)?;
            store.settle()?;
            lock_folder(&store.lock, dir, FlockOperation::LockShared)?;
        }
        Ok(store)
    }

    fn connection(&self) -> MutexGuard<'_, Connection> {
        // A panic elsewhere cannot leave a half-done change: the transaction rolled back.
        self.connection.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Runs a writing transaction: all of it is committed or nothing.
    fn write<T>(
        &self,
        action: &'static str,
        work: impl FnOnce(&Transaction<'_>) -> Result<T, StoreError>,
    ) -> Result<T, StoreError> {
        let mut connection = self.connection();
        let transaction = schema::begin(&mut connection).map_err(|error| StoreError::index(action, error))?;
        let result = work(&transaction)?;
        let fail = |error| StoreError::file(action, &self.dir.join(INDEX), error);
        self.faults.at(FaultPoint::RowWritten).map_err(fail)?;
        transaction.commit().map_err(|error| StoreError::index(action, error))?;
        self.faults.at(FaultPoint::Committed).map_err(fail)?;
        Ok(result)
    }

    /// Runs a writing transaction in which one object and the rows that speak of it appear together.
    ///
    /// The object is on the disk before its row, so a crash in between would leave bytes that a rebuild takes for
    /// sealed. A note of the object's name, written before it, lets the next program remove them.
    fn write_sealed<T>(
        &self,
        action: &'static str,
        bytes: &[u8],
        kind: ObjectKind,
        work: impl FnOnce(&Transaction<'_>) -> Result<Sealing<T>, StoreError>,
    ) -> Result<T, StoreError> {
        let staged = self.files.stage(&mut &bytes[..], self.limits.record, "the sealed record")?;
        let result = self.write(action, |transaction| {
            self.settle_in(transaction)?;
            match work(transaction)? {
                Sealing::Known(known) => Ok(known),
                Sealing::New(finish) => {
                    self.note_intent(&staged.digest)?;
                    self.files.place(&staged)?;
                    list_object(transaction, &staged, kind)?;
                    finish(transaction)
                }
            }
        });
        // Committed or not, the note has done its work; if this fails the next program does it.
        let _ = self.settle();
        result
    }

    fn note_intent(&self, digest: &Digest) -> Result<(), StoreError> {
        let path = self.dir.join(INTENT);
        let fail = |error| StoreError::file("write", &path, error);
        let mut file = File::create(&path).map_err(fail)?;
        io::Write::write_all(&mut file, digest.to_string().as_bytes()).map_err(fail)?;
        file.sync_all().map_err(fail)?;
        sync_folder(&self.dir)?;
        self.faults.at(FaultPoint::IntentWritten).map_err(fail)
    }

    /// Ends a sealing that was interrupted.
    fn settle(&self) -> Result<(), StoreError> {
        if fs::symlink_metadata(self.dir.join(INTENT)).is_err() {
            return Ok(());
        }
        let action = "end an interrupted sealing";
        let mut connection = self.connection();
        // The lock keeps away a program that is sealing right now.
        let transaction = schema::begin(&mut connection).map_err(|error| StoreError::index(action, error))?;
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
        // A torn note was never flushed, so its object was never placed.
        if let Ok(digest) = text.parse::<Digest>()
            && object_row(transaction, &digest)?.is_none()
        {
            self.files.remove(&digest)?;
        }
        fs::remove_file(&path).map_err(|error| StoreError::file("remove", &path, error))?;
        sync_folder(&self.dir)
    }

    fn put(&self, reader: &mut dyn Read, kind: ObjectKind) -> Result<Digest, StoreError> {
        if matches!(kind, ObjectKind::Record | ObjectKind::Link) {
            return Err(StoreError::NotByItself { kind, found: false });
        }
        let staged = self.files.stage(reader, self.limits.object, "the object")?;
        if let Some(bytes) = self.files.peek(&staged)? {
            if sealed::claims_to_be_record(&bytes) {
                return Err(StoreError::NotByItself { kind: ObjectKind::Record, found: true });
            }
            if sealed::read_link(&bytes).is_some() {
                return Err(StoreError::NotByItself { kind: ObjectKind::Link, found: true });
            }
        }
        self.files.place(&staged)?;
        self.write("list the object", |transaction| list_object(transaction, &staged, kind))?;
        Ok(staged.digest)
    }
}

/// What a sealing turned out to need.
enum Sealing<T> {
    /// It was done before.
    Known(T),
    /// The object is to be placed, then these rows written.
    New(Box<dyn FnOnce(&Transaction<'_>) -> Result<T, StoreError>>),
}

fn list_object(transaction: &Transaction<'_>, staged: &Staged, kind: ObjectKind) -> Result<(), StoreError> {
    transaction
        .execute(
            "INSERT INTO object (digest, kind, length) VALUES (?1, ?2, ?3) ON CONFLICT DO NOTHING",
            params![staged.digest.to_string(), kind.word(), count(staged.length)],
        )
        .map(drop)
        .map_err(|error| StoreError::index("list the object", error))
}

fn object_row(connection: &Connection, digest: &Digest) -> Result<Option<ObjectRow>, StoreError> {
    let row = connection
        .query_row("SELECT kind, length FROM object WHERE digest = ?1", [digest.to_string()], |row| {
            Ok((row.get::<_, String>(0)?, row.get::<_, i64>(1)?))
        })
        .optional()
        .map_err(|error| StoreError::index("find the object", error))?;
    row.map(|(kind, length)| {
        Ok(ObjectRow { digest: *digest, kind: ObjectKind::from_word(&kind)?, length: uncount(length) })
    })
    .transpose()
}

/// SQLite counts in signed 64 bits; our limits keep every count far below.
fn count(number: u64) -> i64 {
    i64::try_from(number).unwrap_or(i64::MAX)
}

fn uncount(number: i64) -> u64 {
    u64::try_from(number).unwrap_or(0)
}

/// Reads a digest from a column.
fn digest_at(row: &rusqlite::Row<'_>, column: usize) -> rusqlite::Result<Digest> {
    let text: String = row.get(column)?;
    text.parse().map_err(|error| {
        rusqlite::Error::FromSqlConversionFailure(column, rusqlite::types::Type::Text, Box::new(error))
    })
}

/// Reads a digest or nothing from a column.
fn optional_digest_at(row: &rusqlite::Row<'_>, column: usize) -> rusqlite::Result<Option<Digest>> {
    row.get::<_, Option<String>>(column)?.map(|_| digest_at(row, column)).transpose()
}

fn entry_name(path: &Path) -> String {
    path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default()
}

/// Refuses a folder that holds no workshop or a half-made one.
fn expect_workshop(dir: &Path) -> Result<(), StoreError> {
    if !dir.is_dir() {
        let error = fs::metadata(dir).err().unwrap_or_else(|| io::Error::from(ErrorKind::NotADirectory));
        return Err(StoreError::file("open the folder", dir, error));
    }
    if fs::symlink_metadata(dir.join(UNFINISHED)).is_ok() {
        return Err(StoreError::HalfMade(dir.to_owned()));
    }
    for missing in [OBJECTS, KEYS] {
        if !dir.join(missing).is_dir() {
            return Err(StoreError::NotAWorkshop { dir: dir.to_owned(), missing });
        }
    }
    Ok(())
}

fn open_lock(dir: &Path) -> Result<File, StoreError> {
    let path = dir.join(LOCK);
    OpenOptions::new()
        .read(true)
        .write(true)
        .create(true)
        .truncate(false)
        .open(&path)
        .map_err(|error| StoreError::file("open", &path, error))
}

/// Takes or changes the lock; says whether it was got.
fn lock_folder(lock: &File, dir: &Path, operation: FlockOperation) -> Result<bool, StoreError> {
    loop {
        match flock(lock, operation) {
            Ok(()) => return Ok(true),
            Err(Errno::WOULDBLOCK) => return Ok(false),
            Err(Errno::INTR) => {}
            Err(error) => return Err(StoreError::file("lock", &dir.join(LOCK), error.into())),
        }
    }
}

/// Removes what writes that did not end left behind. Only for a program that has the workshop for itself.
fn clear_leftovers(dir: &Path) -> Result<(), StoreError> {
    let objects = walk_leftovers(&dir.join(OBJECTS))?;
    let keys = list(&dir.join(KEYS))?.into_iter().filter(|path| entry_name(path).starts_with(files::TEMP));
    for path in objects.into_iter().chain(keys) {
        fs::remove_file(&path).map_err(|error| StoreError::file("remove the leftover", &path, error))?;
    }
    Ok(())
}

/// Leftovers lie at the top of `objects/` only, so the objects themselves need not be listed.
fn walk_leftovers(objects: &Path) -> Result<Vec<PathBuf>, StoreError> {
    let is_leftover = |path: &PathBuf| entry_name(path).starts_with(files::TEMP) && !path.is_dir();
    Ok(list(objects)?.into_iter().filter(is_leftover).collect())
}

impl Store for FolderStore {
    fn add_blade(&self, blade: &BladeRow) -> Result<(), StoreError> {
        self.do_add_blade(blade)
    }

    fn blades(&self) -> Result<Vec<BladeRow>, StoreError> {
        self.list_blades()
    }

    fn blade(&self, id: &str) -> Result<BladeRow, StoreError> {
        registry::find_blade(&self.connection(), id)?.ok_or_else(|| StoreError::UnknownBlade(crate::text::cut(id)))
    }

    fn save_draft(&self, draft: &NewDraft<'_>) -> Result<u64, StoreError> {
        self.do_save_draft(draft)
    }

    fn draft(&self, blade: &str) -> Result<Option<Draft>, StoreError> {
        self.newest_draft(blade)
    }

    fn draft_at(&self, blade: &str, revision: u64) -> Result<Draft, StoreError> {
        self.do_draft_at(blade, revision)
    }

    fn draft_history(&self, blade: &str) -> Result<Vec<DraftEntry>, StoreError> {
        self.do_draft_history(blade)
    }

    fn undo(&self, blade: &str, expected_revision: u64, saved_at: &str) -> Result<Draft, StoreError> {
        self.do_undo(blade, expected_revision, saved_at)
    }

    fn put_object_from_reader(&self, reader: &mut dyn Read, kind: ObjectKind) -> Result<Digest, StoreError> {
        self.put(reader, kind)
    }

    fn object(&self, digest: &Digest) -> Result<Vec<u8>, StoreError> {
        self.files.read(digest)
    }

    fn object_row(&self, digest: &Digest) -> Result<Option<ObjectRow>, StoreError> {
        object_row(&self.connection(), digest)
    }

    fn append_record(&self, record: &NewRecord<'_>) -> Result<RecordRow, StoreError> {
        self.do_append_record(record)
    }

    fn records(&self, blade: &str) -> Result<Vec<RecordRow>, StoreError> {
        self.list_records(blade)
    }

    fn tip(&self, blade: &str) -> Result<Option<RecordRow>, StoreError> {
        records::tip(&self.connection(), blade)
    }

    fn record(&self, name: &Digest) -> Result<RecordRow, StoreError> {
        records::find(&self.connection(), name)?.ok_or(StoreError::UnknownRecord(*name))
    }

    fn attach(&self, attachment: &Attachment) -> Result<(), StoreError> {
        self.do_attach(attachment)
    }

    fn attachments(&self, record: &Digest) -> Result<Vec<Attachment>, StoreError> {
        self.list_attachments(record)
    }

    fn add_photo(&self, photo: &PhotoRow) -> Result<(), StoreError> {
        self.do_add_photo(photo)
    }

    fn photos(&self, blade: &str) -> Result<Vec<PhotoRow>, StoreError> {
        self.list_photos(blade)
    }

    fn approve_plugin(&self, approval: &PluginApproval) -> Result<(), StoreError> {
        self.do_approve_plugin(approval)
    }

    fn withdraw_approval(&self, name: &str, digest: &Digest) -> Result<bool, StoreError> {
        self.do_withdraw_approval(name, digest)
    }

    fn plugin_approvals(&self) -> Result<Vec<PluginApproval>, StoreError> {
        self.list_plugin_approvals()
    }

    fn set_setting(&self, key: &str, value: Option<&str>) -> Result<(), StoreError> {
        self.do_set_setting(key, value)
    }

    fn setting(&self, key: &str) -> Result<Option<String>, StoreError> {
        self.find_setting(key)
    }

    fn add_key(&self, key: &KeyRow, encrypted: &[u8]) -> Result<(), StoreError> {
        self.do_add_key(key, encrypted)
    }

    fn keys(&self) -> Result<Vec<KeyRow>, StoreError> {
        self.list_keys()
    }

    fn key_bytes(&self, did: &str) -> Result<Vec<u8>, StoreError> {
        self.read_key(did)
    }

    fn check(&self, progress: &mut dyn FnMut(Progress)) -> Result<IntegrityReport, StoreError> {
        self.do_check(progress)
    }
}
