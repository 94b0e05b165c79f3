//! Copies of the key files: the encrypted keys, the history, the card, with their digests.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};
use tangmark_core::Digest;
use tangmark_core::json::{Limits, read_value};
use tangmark_store::{KeyRow, Store as _};
use tangmark_trust::history::{Agreement, KeyHistory, LARGEST};
use tangmark_trust::keyfile;
use zeroize::Zeroizing;

use super::KeysError;
use super::file::{NAME, read_if_there};
use crate::{Workshop, WorkshopError, counted, setup};

/// The digests of the other files, as `sha256sum -c` reads them.
pub const MANIFEST: &str = "manifest-sha256.txt";
/// What the index knows of the keys.
pub(super) const ABOUT: &str = "workshop.json";
/// The one value of its `format`.
const FORMAT: &str = "tangmark key backup 1";
/// Largest file of a backup, in bytes.
const LARGEST_FILE: usize = LARGEST;
/// Most files of a backup.
const MOST_FILES: usize = 300;

/// What the index knows of a key.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct AboutKey {
    pub(super) key: String,
    pub(super) file_name: String,
    pub(super) created_at: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) recovery_digest: Option<Digest>,
}

/// `workshop.json` of a backup.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct About {
    pub(super) format: String,
    pub(super) name: String,
    pub(super) demo: bool,
    pub(super) keys: Vec<AboutKey>,
}

impl AboutKey {
    pub(super) fn row(&self) -> KeyRow {
        KeyRow {
            did: self.key.clone(),
            file_name: self.file_name.clone(),
            created_at: self.created_at.clone(),
            recovery_digest: self.recovery_digest,
        }
    }
}

/// What was copied.
#[derive(Clone, Debug, Serialize)]
pub struct Backup {
    /// The folder.
    pub folder: PathBuf,
    /// Files in it.
    pub files: usize,
    /// Fingerprints of the keys.
    pub keys: Vec<String>,
}

/// A key of a backup.
#[derive(Clone, Debug, Serialize)]
pub struct BackedUpKey {
    /// Fingerprint.
    pub fingerprint: String,
    /// File.
    pub file_name: String,
    /// A passphrase opened it, and it is the key it is said to be.
    pub opened: bool,
}

/// What a check of a backup found. Every file has its digest, and the history holds.
#[derive(Clone, Debug, Serialize)]
pub struct BackupCheck {
    /// Files whose digest fits.
    pub files: usize,
    /// The keys.
    pub keys: Vec<BackedUpKey>,
    /// What the workshop has and the backup has not: keys, or newer entries of the history.
    pub behind: Vec<String>,
}

/// A backup read into memory, every file with its digest.
pub(super) struct Read {
    pub(super) about: About,
    pub(super) history: KeyHistory,
    pub(super) files: BTreeMap<String, Vec<u8>>,
}

impl Workshop {
    /// Copies the key files as they are, encrypted, with history and card into a new folder.
    ///
    /// # Errors
    /// When the folder is there and not empty, or a key file is gone. Nothing is left of it then.
    pub fn backup_keys(&self, folder: &Path) -> Result<Backup, WorkshopError> {
        if fs::read_dir(folder).is_ok_and(|mut entries| entries.next().is_some())
            || folder.is_file()
        {
            return Err(KeysError::NotEmpty(folder.to_owned()).into());
        }
        let history = self.key_history()?;
        let mut files: BTreeMap<String, Vec<u8>> = BTreeMap::new();
        files.insert(NAME.to_owned(), history.text()?.into_bytes());
        let mut keys = Vec::new();
        for row in self.keys_to_copy(&history)? {
            files.insert(row.file_name.clone(), self.store.key_bytes(&row.did)?);
            keys.push(row);
        }
        let about = About {
            format: FORMAT.to_owned(),
            name: self.name()?,
            demo: self.is_demo()?,
            keys: keys
                .iter()
                .map(|row| AboutKey {
                    key: row.did.clone(),
                    file_name: row.file_name.clone(),
                    created_at: row.created_at.clone(),
                    recovery_digest: row.recovery_digest,
                })
                .collect(),
        };
        let text = serde_json::to_string_pretty(&about)
            .map_err(|error| WorkshopError::Canonical(error.to_string()))?;
        files.insert(ABOUT.to_owned(), format!("{text}\n").into_bytes());
        for name in ["card.txt", "certificate.pem"] {
            let path = self.out_folder().join("card").join(name);
            if let Some(bytes) = read_if_there(&path, LARGEST_FILE)? {
                files.insert(name.to_owned(), bytes);
            }
        }
        files.insert(MANIFEST.to_owned(), manifest(&files).into_bytes());
        write_folder(folder, &files)?;
        let keys = keys
            .iter()
            .map(|row| fingerprint(&row.did))
            .collect::<Result<_, _>>()?;
        Ok(Backup {
            folder: folder.to_owned(),
            files: files.len(),
            keys,
        })
    }

    /// The keys that belong in a backup. One whose file is lost cannot be copied, and the others must be all the same;
    /// without that of the key in force there is nothing to back up.
    fn keys_to_copy(&self, history: &KeyHistory) -> Result<Vec<KeyRow>, WorkshopError> {
        let in_force = history.in_force().key.did_key();
        let mut rows = self.store.keys()?;
        rows.retain(|row| row.did == in_force || self.key_path(row).is_file());
        Ok(rows)
    }

    /// Reads a backup, opens its keys and compares it with the workshop.
    ///
    /// `ask` is called for each key that no passphrase given so far opens, with its fingerprint; none leaves it unopened.
    ///
    /// # Errors
    /// When a file is damaged or missing, or the backup belongs to another workshop.
    pub fn check_backup(
        &self,
        folder: &Path,
        given: &[Zeroizing<String>],
        ask: &mut dyn FnMut(&str) -> Option<Zeroizing<String>>,
    ) -> Result<BackupCheck, WorkshopError> {
        let backup = read(folder)?;
        let own = self.key_history()?;
        let wrong = |what: &str| KeysError::Backup {
            path: folder.to_owned(),
            what: what.to_owned(),
        };
        let mut behind = Vec::new();
        match own.compare(&backup.history) {
            Agreement::Same => {}
            Agreement::Longer => behind.push(format!(
                "the key history has {}, {} in the backup",
                counted(own.digests().len(), "entry"),
                backup.history.digests().len()
            )),
            Agreement::Shorter => {
                return Err(wrong("its key history is longer than that of the workshop").into());
            }
            Agreement::Fork { .. } | Agreement::Other => {
                return Err(wrong("its key history is not that of the workshop").into());
            }
        }
        let mut given = given.to_vec();
        let mut keys = Vec::new();
        for about in &backup.about.keys {
            let fingerprint = fingerprint(&about.key)?;
            let bytes = backup.files.get(&about.file_name);
            let bytes = bytes.ok_or_else(|| wrong("a key file is missing"))?;
            let text = String::from_utf8_lossy(bytes);
            let mut opened = given
                .iter()
                .any(|words| opens(&text, words.as_bytes(), &about.key));
            if !opened && let Some(words) = ask(&fingerprint) {
                opened = opens(&text, words.as_bytes(), &about.key);
                given.push(words);
            }
            keys.push(BackedUpKey {
                fingerprint,
                file_name: about.file_name.clone(),
                opened,
            });
        }
        for row in self.keys_to_copy(&own)? {
            if !backup.about.keys.iter().any(|about| about.key == row.did) {
                behind.push(format!("the key {}", fingerprint(&row.did)?));
            }
        }
        Ok(BackupCheck {
            files: backup.files.len(),
            keys,
            behind,
        })
    }
}

fn opens(text: &str, passphrase: &[u8], did: &str) -> bool {
    keyfile::decrypt(text, passphrase).is_ok_and(|key| key.public_key().did_key() == did)
}

fn fingerprint(did: &str) -> Result<String, WorkshopError> {
    Ok(tangmark_trust::PublicKey::from_did(did)?
        .fingerprint()
        .to_string())
}

fn manifest(files: &BTreeMap<String, Vec<u8>>) -> String {
    let mut lines = String::new();
    for (name, bytes) in files.iter().filter(|(name, _)| *name != MANIFEST) {
        lines.push_str(&Digest::of(bytes).to_string());
        lines.push_str("  ");
        lines.push_str(name);
        lines.push('\n');
    }
    lines
}

/// Writes the files into a folder beside the one that is meant, flushed, then gives it its name.
fn write_folder(folder: &Path, files: &BTreeMap<String, Vec<u8>>) -> Result<(), WorkshopError> {
    let parent = match folder.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    let fail = |error| WorkshopError::file("make the folder", folder, error);
    fs::create_dir_all(parent).map_err(fail)?;
    // Removed with all that is in it unless it was given its name; mode 700.
    let temp = tempfile::Builder::new()
        .prefix(".tangmark-backup-")
        .tempdir_in(parent)
        .map_err(fail)?;
    for (name, bytes) in files {
        setup::write(&temp.path().join(name), bytes)?;
    }
    fs::File::open(temp.path())
        .and_then(|opened| opened.sync_all())
        .map_err(fail)?;
    // Takes the place of an empty folder, and of nothing else.
    fs::rename(temp.path(), folder).map_err(|error| match error.kind() {
        std::io::ErrorKind::DirectoryNotEmpty | std::io::ErrorKind::AlreadyExists => {
            KeysError::NotEmpty(folder.to_owned()).into()
        }
        _ => fail(error),
    })?;
    drop(temp.keep());
    fs::File::open(parent)
        .and_then(|opened| opened.sync_all())
        .map_err(fail)
}

/// Reads a backup: every file of the manifest with its digest, the history, what the index knew.
pub(super) fn read(folder: &Path) -> Result<Read, WorkshopError> {
    let wrong = |path: &Path, what: String| KeysError::Backup {
        path: path.to_owned(),
        what,
    };
    let needed = |name: &str| -> Result<Vec<u8>, WorkshopError> {
        let path = folder.join(name);
        read_if_there(&path, LARGEST_FILE)?
            .ok_or_else(|| wrong(&path, "is missing".to_owned()).into())
    };
    let listed = String::from_utf8_lossy(&needed(MANIFEST)?).into_owned();
    let mut files = BTreeMap::new();
    for (index, line) in listed.lines().enumerate() {
        let bad = || {
            wrong(
                &folder.join(MANIFEST),
                format!("line {}: no digest and file name", index + 1),
            )
        };
        let (digest, name) = line.split_once("  ").ok_or_else(bad)?;
        let digest: Digest = digest.parse().map_err(|_| bad())?;
        // A plain name: nothing outside the folder is ever read or written.
        let plain = !name.is_empty()
            && !name.starts_with('.')
            && name
                .bytes()
                .all(|byte| byte.is_ascii_alphanumeric() || b"-_.".contains(&byte));
        if !plain || index >= MOST_FILES {
            return Err(bad().into());
        }
        let bytes = needed(name)?;
        if Digest::of(&bytes) != digest {
            let what = format!(
                "SHA-256 is {}, the manifest has {digest}",
                Digest::of(&bytes)
            );
            return Err(wrong(&folder.join(name), what).into());
        }
        files.insert(name.to_owned(), bytes);
    }
    let listed = |name: &str| {
        files
            .get(name)
            .ok_or_else(|| wrong(&folder.join(name), "is not in the manifest".to_owned()))
    };
    let shape = |what: String| wrong(&folder.join(ABOUT), what);
    let value =
        read_value(listed(ABOUT)?, &Limits::default()).map_err(|error| shape(error.to_string()))?;
    let about: About = serde_json::from_value(value).map_err(|error| shape(error.to_string()))?;
    if about.format != FORMAT {
        return Err(shape(format!("format `{}`, `{FORMAT}` allowed", about.format)).into());
    }
    for key in &about.keys {
        listed(&key.file_name)?;
    }
    let history = KeyHistory::read(listed(NAME)?)?;
    Ok(Read {
        about,
        history,
        files,
    })
}
