//! A workshop in one folder.

mod check;
mod drafts;
mod faults;
mod files;
mod journal;
mod rebuild;
mod records;
mod registry;
mod schema;
mod search;
mod standing;
mod store;
#[cfg(test)]
mod tests;
mod write;

use std::{
    fs::{self, DirBuilder, File, OpenOptions},
    io::{self, ErrorKind},
    os::unix::fs::DirBuilderExt,
    path::{Path, PathBuf},
    sync::Mutex,
};

use rusqlite::Connection;
use rustix::{
    fs::{FlockOperation, flock},
    io::Errno,
};
use tangmark_core::Digest;

use faults::{FaultPoint, Faults};
use files::{ObjectFiles, list, sync_folder};
pub use rebuild::{LeftOut, OldIndex, RebuildReport};
use schema::Opening;
pub use search::machine_made;

use crate::{Limits, StoreError};

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
        f.debug_struct("FolderStore")
            .field("dir", &self.dir)
            .field("limits", &self.limits)
            .finish_non_exhaustive()
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

    /// Begins a workshop in a new or empty folder, for a caller who has more to put into it before it may be used.
    ///
    /// The folder keeps its marker until [`FolderStore::finish`]; until then nobody else can open it.
    pub fn begin(dir: &Path) -> Result<Self, StoreError> {
        Self::begin_with(dir, Limits::default(), Faults::default())
    }

    /// Ends what [`FolderStore::begin`] began.
    pub fn finish(&self) -> Result<(), StoreError> {
        let marker = self.dir.join(UNFINISHED);
        fs::remove_file(&marker)
            .map_err(|error| StoreError::file("make the workshop in", &self.dir, error))?;
        sync_folder(&self.dir)
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
        let store = Self::begin_with(dir, limits, faults)?;
        store.finish()?;
        Ok(store)
    }

    fn begin_with(dir: &Path, limits: Limits, faults: Faults) -> Result<Self, StoreError> {
        fs::create_dir_all(dir).map_err(|error| StoreError::file("make the folder", dir, error))?;
        let marker = dir.join(UNFINISHED);
        if fs::symlink_metadata(&marker).is_ok() {
            return Err(StoreError::HalfMade(dir.to_owned()));
        }
        if let Some(entry) = list(dir)?.first() {
            return Err(StoreError::NotEmpty {
                dir: dir.to_owned(),
                entry: entry_name(entry),
            });
        }
        let fail = |error| StoreError::file("make the workshop in", dir, error);
        let file = OpenOptions::new()
            .write(true)
            .create_new(true)
            .open(&marker)
            .map_err(fail)?;
        file.sync_all().map_err(fail)?;
        sync_folder(dir)?;
        faults.at(FaultPoint::CreateMarked).map_err(fail)?;
        fs::create_dir(dir.join(OBJECTS)).map_err(fail)?;
        DirBuilder::new()
            .mode(0o700)
            .create(dir.join(KEYS))
            .map_err(fail)?;
        sync_folder(dir)?;
        faults.at(FaultPoint::CreateFolders).map_err(fail)?;
        drop(schema::open(&dir.join(INDEX), Opening::Fresh)?);
        sync_folder(dir)?;
        faults.at(FaultPoint::CreateIndex).map_err(fail)?;
        Self::open_made(dir, limits, faults)
    }

    fn open_with(dir: &Path, limits: Limits, faults: Faults) -> Result<Self, StoreError> {
        expect_workshop(dir)?;
        Self::open_made(dir, limits, faults)
    }

    fn open_made(dir: &Path, limits: Limits, faults: Faults) -> Result<Self, StoreError> {
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
        let files = ObjectFiles {
            root: dir.join(OBJECTS),
            limits,
            faults: faults.clone(),
        };
        let store = Self {
            dir: dir.to_owned(),
            connection: Mutex::new(connection),
            files,
            limits,
            faults,
            lock,
        };
        if alone {
            clear_leftovers(dir)?;
            store.settle()?;
            lock_folder(&store.lock, dir, FlockOperation::LockShared)?;
        }
        Ok(store)
    }
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
        rusqlite::Error::FromSqlConversionFailure(
            column,
            rusqlite::types::Type::Text,
            Box::new(error),
        )
    })
}

/// Reads a digest or nothing from a column.
fn optional_digest_at(row: &rusqlite::Row<'_>, column: usize) -> rusqlite::Result<Option<Digest>> {
    row.get::<_, Option<String>>(column)?
        .map(|_| digest_at(row, column))
        .transpose()
}

fn entry_name(path: &Path) -> String {
    path.file_name()
        .map(|name| name.to_string_lossy().into_owned())
        .unwrap_or_default()
}

/// Refuses a folder that holds no workshop or a half-made one.
fn expect_workshop(dir: &Path) -> Result<(), StoreError> {
    if !dir.is_dir() {
        let error = fs::metadata(dir)
            .err()
            .unwrap_or_else(|| io::Error::from(ErrorKind::NotADirectory));
        return Err(StoreError::file("open the folder", dir, error));
    }
    if fs::symlink_metadata(dir.join(UNFINISHED)).is_ok() {
        return Err(StoreError::HalfMade(dir.to_owned()));
    }
    for missing in [OBJECTS, KEYS] {
        if !dir.join(missing).is_dir() {
            return Err(StoreError::NotAWorkshop {
                dir: dir.to_owned(),
                missing,
            });
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
    let keys = list(&dir.join(KEYS))?
        .into_iter()
        .filter(|path| entry_name(path).starts_with(files::TEMP));
    for path in objects.into_iter().chain(keys) {
        fs::remove_file(&path)
            .map_err(|error| StoreError::file("remove the leftover", &path, error))?;
    }
    Ok(())
}

/// Leftovers lie at the top of `objects/` only, so the objects themselves need not be listed.
fn walk_leftovers(objects: &Path) -> Result<Vec<PathBuf>, StoreError> {
    let is_leftover = |path: &PathBuf| entry_name(path).starts_with(files::TEMP) && !path.is_dir();
    Ok(list(objects)?.into_iter().filter(is_leftover).collect())
}
