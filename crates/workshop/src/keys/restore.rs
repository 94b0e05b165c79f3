//! Bringing key files back from a backup.

use std::fs;
use std::os::unix::fs::DirBuilderExt as _;
use std::path::Path;

use serde::Serialize;
use tangmark_store::Store as _;
use tangmark_trust::PublicKey;
use tangmark_trust::history::Agreement;

use super::KeysError;
use super::backup::{self, Read};
use super::file::read_if_there;
use crate::{DEMO_SETTING, NAME_SETTING, Workshop, WorkshopError};

/// What was brought back.
#[derive(Clone, Debug, Serialize)]
pub struct Restored {
    /// Files written.
    pub written: Vec<String>,
    /// Files that were there already, with the same bytes.
    pub there: Vec<String>,
    /// Fingerprint of the key in force.
    pub fingerprint: String,
}

/// Brings the keys of a backup back into the workshop in `folder`: key files, their rows in the index, the history.
///
/// # Errors
/// When a file of the workshop has other bytes than the backup, its history disagrees with that of the backup, the backup is
/// older than a key that sealed records here, or it is damaged. Nothing is written then.
pub fn restore(folder: &Path, backup: &Path) -> Result<Restored, WorkshopError> {
    let at = backup;
    let backup = backup::read(at)?;
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
        names_every_signer(&workshop, &backup, at)?;
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
    let rows = workshop.store.keys()?;
    for about in &backup.about.keys {
        let other = rows
            .iter()
            .any(|row| (row.did == about.key) != (row.file_name == about.file_name));
        if other {
            return Err(KeysError::Differs(keys.join(&about.file_name)).into());
        }
    }
    write(&workshop, &backup, longer, there)
}

/// Refuses a history that ends before a key of the workshop which sealed records: what is added to it would be a second
/// history, and those records would be nobody's.
fn names_every_signer(workshop: &Workshop, backup: &Read, at: &Path) -> Result<(), WorkshopError> {
    for row in workshop.store.keys()? {
        let key = PublicKey::from_did(&row.did)?;
        if backup.history.term(&key).is_some() {
            continue;
        }
        for blade in workshop.store.blades()? {
            let records = workshop.store.records(&blade.id)?;
            if let Some(sealed) = records.iter().find(|record| record.issuer == row.did) {
                return Err(KeysError::Backup {
                    path: at.to_owned(),
                    what: format!(
                        "its key history does not name the key {}, which sealed record {} of blade `{}` here: the backup is older than that key",
                        key.fingerprint(),
                        sealed.sequence,
                        blade.id
                    ),
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
        written,
        there,
        fingerprint: history.in_force().key.fingerprint().to_string(),
    })
}
