//! Bringing key files back from a backup, and with them the workshop where it is lost.

use std::fs;
use std::io::ErrorKind;
use std::os::unix::fs::DirBuilderExt as _;
use std::path::Path;

use serde::Serialize;
use tangmark_store::{FolderStore, KeyRow, Store as _};
use tangmark_trust::history::Agreement;
use tangmark_trust::{Fingerprint, PublicKey};

use super::KeysError;
use super::backup::{self, Read};
use super::file::read_if_there;
use crate::{DEMO_SETTING, NAME_SETTING, Workshop, WorkshopError};

/// Order to bring the keys of a backup back.
#[derive(Clone, Copy, Debug)]
pub struct Restore<'a> {
    /// Folder of the workshop; a new or empty one is made into the workshop again.
    pub folder: &'a Path,
    /// Folder that [`Workshop::backup_keys`] made.
    pub backup: &'a Path,
    /// Fingerprints of keys that belong to somebody else, though records here carry the workshop's name with them.
    pub not_mine: &'a [String],
}

/// What was brought back.
#[derive(Clone, Debug, Serialize)]
pub struct Restored {
    /// The workshop was made anew.
    pub made: bool,
    /// Files written.
    pub written: Vec<String>,
    /// Files that were there already, with the same bytes.
    pub there: Vec<String>,
    /// Fingerprint of the key in force.
    pub fingerprint: String,
}

/// Brings the keys of a backup back into a workshop: key files, their rows in the index, the history. Where there is no
/// workshop any more, one is made that has these keys and nothing else.
///
/// # Errors
/// When a file of the workshop has other bytes than the backup, its history disagrees with that of the backup, the backup is
/// older than a key that sealed records here, or it is damaged. Nothing is written then.
pub fn restore(order: &Restore<'_>) -> Result<Restored, WorkshopError> {
    let folder = order.folder;
    let backup = backup::read(order.backup)?;
    if is_new(folder)? {
        let workshop = Workshop {
            store: FolderStore::begin(folder)?,
        };
        let restored = write(&workshop, &backup, true, Vec::new())?;
        workshop.store.finish()?;
        return Ok(Restored {
            made: true,
            ..restored
        });
    }
    let keys = folder.join("keys");
    // Whoever lost the keys may have lost their folder too; the rest must be there.
    if folder.join("objects").is_dir() && !keys.exists() {
        fs::DirBuilder::new()
            .mode(0o700)
            .create(&keys)
            .map_err(|error| WorkshopError::file("make the folder", &keys, error))?;
    }
    let workshop = Workshop::open(folder)?;
    let _keys = workshop.lock_keys()?;
    let longer = longer_history(&workshop, &backup)?;
    if longer {
        names_every_signer(&workshop, &backup, order)?;
    }
    let mut there = Vec::new();
    for about in &backup.about.keys {
        let path = keys.join(&about.file_name);
        let wanted = backup.files.get(&about.file_name);
        match read_if_there(&path, usize::MAX >> 1)? {
            None => {}
            Some(found) if Some(&found) == wanted => there.push(about.file_name.clone()),
            Some(_) => return Err(KeysError::Differs(path).into()),
        }
    }
    rows_agree(&workshop.store.keys()?, &backup)?;
    write(&workshop, &backup, longer, there)
}

/// Whether a folder is not there yet, or empty.
fn is_new(folder: &Path) -> Result<bool, WorkshopError> {
    match fs::read_dir(folder) {
        Ok(mut entries) => Ok(entries.next().is_none()),
        Err(error) if error.kind() == ErrorKind::NotFound => Ok(true),
        Err(error) => Err(WorkshopError::file("open the folder", folder, error)),
    }
}

/// Refuses a backup that has another key under a file name of the index, or a key of it under another file name.
fn rows_agree(rows: &[KeyRow], backup: &Read) -> Result<(), WorkshopError> {
    for about in &backup.about.keys {
        let other = rows
            .iter()
            .find(|row| (row.did == about.key) != (row.file_name == about.file_name));
        let Some(row) = other else { continue };
        let here = if row.did == about.key {
            format!("it in `{}`", row.file_name)
        } else {
            let key = PublicKey::from_did(&row.did)?;
            format!("the key {} there", key.fingerprint())
        };
        return Err(KeysError::RowDiffers {
            file_name: about.file_name.clone(),
            backup: PublicKey::from_did(&about.key)?.fingerprint().to_string(),
            here,
        }
        .into());
    }
    Ok(())
}

/// Refuses a history that ends before a key of the workshop which sealed records: what is added to it would be a second
/// history, and those records would be nobody's. An index made anew lists no keys, so the name in the records tells too.
fn names_every_signer(
    workshop: &Workshop,
    backup: &Read,
    order: &Restore<'_>,
) -> Result<(), WorkshopError> {
    let strangers = order
        .not_mine
        .iter()
        .map(|text| text.parse())
        .collect::<Result<Vec<Fingerprint>, _>>()?;
    let rows = workshop.store.keys()?;
    let name = workshop.store.setting(NAME_SETTING)?;
    let name = name.as_ref().unwrap_or(&backup.about.name);
    for blade in workshop.store.blades()? {
        for record in workshop.store.records(&blade.id)? {
            let Ok(key) = PublicKey::from_did(&record.issuer) else {
                continue;
            };
            if backup.history.term(&key).is_some() {
                continue;
            }
            let listed = rows.iter().any(|row| row.did == record.issuer);
            let own = listed
                || (!strangers.contains(&key.fingerprint())
                    && workshop
                        .kept(&record)
                        .is_ok_and(|kept| kept.record.issuer.name == *name));
            if own {
                return Err(KeysError::OlderThanKey {
                    path: order.backup.to_owned(),
                    fingerprint: key.fingerprint().to_string(),
                    record: record.sequence,
                    blade: record.blade,
                    listed,
                }
                .into());
            }
        }
    }
    Ok(())
}

/// Whether the backup's history is to be written: the workshop has none, or a shorter one.
fn longer_history(workshop: &Workshop, backup: &Read) -> Result<bool, WorkshopError> {
    let path = workshop.history_path();
    // The copy beside the card does not count: the file itself has to be there again.
    if !path.exists() {
        if let Some(copy) = workshop.key_history_if_there()? {
            return match backup.history.compare(&copy) {
                Agreement::Same | Agreement::Longer => Ok(true),
                _ => {
                    Err(KeysError::Differs(workshop.out_folder().join(super::CARD_HISTORY)).into())
                }
            };
        }
        return Ok(true);
    }
    match backup.history.compare(&workshop.key_history()?) {
        Agreement::Same | Agreement::Shorter => Ok(false),
        Agreement::Longer => Ok(true),
        Agreement::Fork { .. } | Agreement::Other => Err(KeysError::Differs(path).into()),
    }
}

fn write(
    workshop: &Workshop,
    backup: &Read,
    longer: bool,
    there: Vec<String>,
) -> Result<Restored, WorkshopError> {
    let mut written = Vec::new();
    let rows = workshop.store.keys()?;
    for about in &backup.about.keys {
        let bytes = backup
            .files
            .get(&about.file_name)
            .map(Vec::as_slice)
            .unwrap_or_default();
        let missing = !there.contains(&about.file_name);
        match rows.iter().find(|row| row.did == about.key) {
            None => workshop.store.add_key(&about.row(), bytes)?,
            // The row is there, only the file is gone.
            Some(row) if missing => {
                super::file::replace(&workshop.key_path(row), bytes, 0o600)?;
            }
            Some(_) => {}
        }
        if missing {
            written.push(about.file_name.clone());
        }
    }
    if longer {
        workshop.replace_history(&backup.history.text()?)?;
        written.push(super::file::NAME.to_owned());
    }
    // Name and mark only where a lost index took them along.
    if workshop.store.setting(NAME_SETTING)?.is_none() {
        let demo = backup.about.demo.then_some("yes");
        workshop.store.set_setting(DEMO_SETTING, demo)?;
        workshop
            .store
            .set_setting(NAME_SETTING, Some(&backup.about.name))?;
    }
    let history = workshop.key_history()?;
    Ok(Restored {
        made: false,
        written,
        there,
        fingerprint: history.in_force().key.fingerprint().to_string(),
    })
}
