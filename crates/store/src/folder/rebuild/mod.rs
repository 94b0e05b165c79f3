//! Makes the index anew from the objects.

mod old;
mod scan;

use std::{
    collections::BTreeMap,
    fs::{self, File},
    io::ErrorKind,
    path::Path,
    time::Duration,
};

use rusqlite::{Connection, ErrorCode, params};
use rustix::fs::FlockOperation;
use tangmark_core::Digest;

use super::{
    FolderStore, INDEX, INTENT, KEYS, OBJECTS, clear_leftovers, count, entry_name, expect_workshop,
    faults::{FaultPoint, Faults},
    files::{ObjectFiles, list, sync_folder},
    lock_folder, open_lock, records, registry,
    schema::{self, Opening},
    standing,
    write::{names_in, object_row},
};
use crate::{Attachment, BladeRow, Limits, ObjectRow, Progress, RecordRow, StoreError};
use old::Old;
use scan::{add_missing, choose, scan};

/// Beside the old index while it is made.
const FRESH: &str = "workshop.db.fresh";
/// Name given to an old index of which not everything could be read.
const DAMAGED: &str = "workshop.db.damaged";

/// What became of the old index.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum OldIndex {
    /// There was none.
    None,
    /// All of it was read; the fresh one took its place.
    Carried,
    /// Not all of it could be read; it lies under this name.
    SetAside {
        /// File name in the workshop folder.
        file_name: String,
        /// What could not be read.
        reasons: Vec<String>,
    },
}

/// A sealed record that is not in the fresh index.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "sealed record {name} of blade `{blade}` was left out: {kept} has sequence {sequence} as well"
)]
pub struct LeftOut {
    /// Its name.
    pub name: Digest,
    /// The object that holds it.
    pub object: Digest,
    /// Blade.
    pub blade: String,
    /// Sequence.
    pub sequence: u64,
    /// Name of the record that was kept.
    pub kept: Digest,
}

/// What a rebuild found and made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RebuildReport {
    /// Objects listed, with those that are missing.
    pub objects: u64,
    /// Sealed records listed.
    pub records: u64,
    /// Attachments listed.
    pub attachments: u64,
    /// Blades known from sealed records only; their titles are lost.
    pub untitled_blades: Vec<String>,
    /// Objects whose bytes cannot be read or are not those that were kept.
    pub rotten: Vec<Digest>,
    /// Objects the old index knew that are gone.
    pub missing: Vec<Digest>,
    /// Records that share a sequence with another one.
    pub left_out: Vec<LeftOut>,
    /// Attachment notes whose record or object is gone, or that give a record a second set of disclosures.
    pub loose_notes: Vec<Digest>,
    /// Key files no row speaks of: they have to be added again.
    pub unlisted_keys: Vec<String>,
    /// What became of the old index.
    pub old_index: OldIndex,
}

impl FolderStore {
    /// Makes the index of a workshop anew from its objects, beside the old one, and puts it in its place.
    ///
    /// Records, attachments and the list of objects come from the objects alone. Blades, drafts, journal, photo notes,
    /// approvals, settings and keys, and the times and drafts of sealing, come from the old index as far as it can
    /// be read. No other program may have the workshop open.
    pub fn rebuild_index(
        dir: &Path,
        limits: Limits,
        progress: &mut dyn FnMut(Progress),
    ) -> Result<RebuildReport, StoreError> {
        rebuild(dir, limits, progress, &Faults::default())
    }
}

pub(super) fn rebuild(
    dir: &Path,
    limits: Limits,
    progress: &mut dyn FnMut(Progress),
    faults: &Faults,
) -> Result<RebuildReport, StoreError> {
    expect_workshop(dir)?;
    let _alone = lock_alone(dir)?;
    clear_leftovers(dir)?;
    let index = dir.join(INDEX);
    let fresh_path = dir.join(FRESH);
    for stale in [fresh_path.clone(), dir.join(format!("{FRESH}-journal"))] {
        remove_if_there(&stale)?;
    }
    let mut old = Old::open(&index)?;
    let files = ObjectFiles {
        root: dir.join(OBJECTS),
        limits,
        faults: faults.clone(),
    };
    settle(dir, &files, &old)?;
    let mut found = scan(&files, progress)?;

    let mut fresh = schema::open(&fresh_path, Opening::Fresh)?;
    let action = "fill the fresh index";
    let fail = |error| StoreError::index(action, error);
    let transaction = schema::begin(&mut fresh).map_err(fail)?;
    old.copy("blade", "id, title, created_at", &transaction);
    old.copy(
        "draft",
        "blade, revision, body, saved_at, source, note, restores, by_whom",
        &transaction,
    );
    let old_records = old.records();
    let missing = add_missing(&mut found, old.objects());
    let old_links = old.links();
    found.name_kinds(&files);
    for row in found.objects.values() {
        insert_object(&transaction, row).map_err(fail)?;
    }
    old.copy(
        "photo",
        "blade, digest, place, media_type, length, width, height, shows, taken_at, file_name",
        &transaction,
    );
    old.copy("plugin_approval", "name, digest, approved_at", &transaction);
    old.copy("setting", "key, value", &transaction);
    old.copy(
        "key",
        "did, file_name, created_at, recovery_digest",
        &transaction,
    );
    let (chosen, left_out) = choose(std::mem::take(&mut found.records), old_records);
    let untitled_blades = insert_records(&transaction, &chosen).map_err(fail)?;
    // After the records: an entry may be about a blade that only they still know.
    old.copy(
        "entry",
        "number, kind, blade, subject, day, body, at, by_whom, replaces",
        &transaction,
    );
    let (attachments, loose_notes) =
        insert_links(&transaction, &old_links, &found.links).map_err(fail)?;
    standing::fill(&transaction, &|digest| fs::read(files.path(digest)).ok())?;
    let keys = registry::all_keys(&transaction)?;
    transaction.commit().map_err(fail)?;
    fresh.close().map_err(|(_, error)| fail(error))?;
    faults
        .at(FaultPoint::FreshIndex)
        .map_err(|error| StoreError::file(action, &fresh_path, error))?;

    let unlisted = list(&dir.join(KEYS))?
        .into_iter()
        .map(|path| entry_name(&path));
    let unlisted_keys = unlisted
        .filter(|name| !keys.iter().any(|key| key.file_name == *name))
        .collect();
    let old_index = swap(dir, old, faults)?;
    Ok(RebuildReport {
        objects: found.objects.len() as u64,
        records: chosen.len() as u64,
        attachments,
        untitled_blades,
        rotten: found.rotten,
        missing,
        left_out,
        loose_notes,
        unlisted_keys,
        old_index,
    })
}

/// Takes the workshop for this program alone. One that is just opening holds it for a moment only.
fn lock_alone(dir: &Path) -> Result<File, StoreError> {
    let lock = open_lock(dir)?;
    for _ in 0..20 {
        if lock_folder(&lock, dir, FlockOperation::NonBlockingLockExclusive)? {
            return Ok(lock);
        }
        std::thread::sleep(Duration::from_millis(50));
    }
    Err(StoreError::InUse(dir.to_owned()))
}

/// Ends a sealing that was interrupted, when the old index can say whether it was committed.
///
/// When it cannot, the objects stay: they are whole, and leaving out what was perhaps acknowledged would be worse.
fn settle(dir: &Path, files: &ObjectFiles, old: &Old) -> Result<(), StoreError> {
    let intent = dir.join(INTENT);
    let Ok(text) = fs::read_to_string(&intent) else {
        return remove_if_there(&intent);
    };
    if let Some(connection) = old.connection.as_ref().filter(|_| old.reasons.is_empty()) {
        for digest in names_in(&text) {
            if object_row(connection, &digest)?.is_none() {
                files.remove(&digest)?;
            }
        }
    }
    remove_if_there(&intent)
}

fn insert_object(connection: &Connection, row: &ObjectRow) -> rusqlite::Result<()> {
    connection
        .execute(
            "INSERT INTO object (digest, kind, length) VALUES (?1, ?2, ?3)",
            params![row.digest.to_string(), row.kind.word(), count(row.length)],
        )
        .map(drop)
}

/// Writes the records; returns the blades that had to be entered for them.
fn insert_records(connection: &Connection, rows: &[RecordRow]) -> rusqlite::Result<Vec<String>> {
    let mut untitled = Vec::new();
    for row in rows {
        let blade = BladeRow {
            id: row.blade.clone(),
            title: row.blade.clone(),
            created_at: row.issued_at.clone(),
        };
        if registry::insert_blade(connection, &blade)? > 0 {
            untitled.push(blade.id);
        }
        let revision = row.draft_revision.map(count);
        let has_draft: bool = connection.query_row(
            "SELECT EXISTS (SELECT 1 FROM draft WHERE blade = ?1 AND revision = ?2)",
            params![row.blade, revision],
            |row| row.get(0),
        )?;
        let draft_revision = row.draft_revision.filter(|_| has_draft);
        records::insert(
            connection,
            &RecordRow {
                draft_revision,
                ..row.clone()
            },
        )?;
    }
    Ok(untitled)
}

/// Writes the attachments, those of the old index first; returns their number and the notes that tie nothing.
fn insert_links(
    connection: &Connection,
    old: &BTreeMap<Digest, Attachment>,
    found: &BTreeMap<Digest, Attachment>,
) -> rusqlite::Result<(u64, Vec<Digest>)> {
    let mut written = 0;
    let mut loose = Vec::new();
    for (note, link) in old
        .iter()
        .chain(found.iter().filter(|(note, _)| !old.contains_key(note)))
    {
        match records::insert_attachment(connection, link, note) {
            Ok(()) => written += 1,
            Err(error) if error.sqlite_error_code() == Some(ErrorCode::ConstraintViolation) => {
                loose.push(*note);
            }
            Err(error) => return Err(error),
        }
    }
    Ok((written, loose))
}

/// Puts the fresh index in the place of the old one.
fn swap(dir: &Path, old: Old, faults: &Faults) -> Result<OldIndex, StoreError> {
    let Old {
        there,
        connection,
        reasons,
    } = old;
    let index = dir.join(INDEX);
    let beside = |suffix: &str| dir.join(format!("{INDEX}{suffix}"));
    let fail = |error| StoreError::file("put the fresh index in place of", &index, error);
    // Closing the last connection writes the log back and removes it.
    let closed = connection.is_none_or(|connection| connection.close().is_ok());
    let state = if !there {
        OldIndex::None
    } else if reasons.is_empty() && closed && !beside("-wal").exists() {
        OldIndex::Carried
    } else {
        let free = |number: &u32| !dir.join(format!("{DAMAGED}-{number}")).exists();
        let number = (1..=u32::MAX).find(free).unwrap_or(u32::MAX);
        let file_name = format!("{DAMAGED}-{number}");
        // A second name, so that at every moment there is an index and the old one is whole somewhere.
        second_name(&beside("-wal"), &dir.join(format!("{file_name}-wal")))?;
        second_name(&index, &dir.join(&file_name))?;
        sync_folder(dir)?;
        faults.at(FaultPoint::OldMoved).map_err(fail)?;
        OldIndex::SetAside { file_name, reasons }
    };
    // No log or shared memory of another file may lie beside the fresh one.
    remove_if_there(&beside("-shm"))?;
    remove_if_there(&beside("-wal"))?;
    fs::rename(dir.join(FRESH), &index).map_err(fail)?;
    sync_folder(dir)?;
    faults.at(FaultPoint::Swapped).map_err(fail)?;
    Ok(state)
}

fn second_name(from: &Path, to: &Path) -> Result<(), StoreError> {
    match fs::hard_link(from, to) {
        Ok(()) => Ok(()),
        Err(error) if error.kind() == ErrorKind::NotFound => Ok(()),
        // Some file systems know one name for a file only.
        Err(_) => fs::copy(from, to)
            .map(drop)
            .map_err(|error| StoreError::file("set aside", from, error)),
    }
}

fn remove_if_there(path: &Path) -> Result<(), StoreError> {
    match fs::remove_file(path) {
        Err(error) if error.kind() != ErrorKind::NotFound => {
            Err(StoreError::file("remove", path, error))
        }
        _ => Ok(()),
    }
}
