//! Making a workshop: folder, key, recovery secret, card, approvals of the shipped plugins.

use std::fs;
use std::os::unix::fs::PermissionsExt as _;
use std::path::{Path, PathBuf};

use serde::Serialize;
use tangmark_store::{FolderStore, KeyRow, Store as _};
use tangmark_trust::recovery::Recovery;
use tangmark_trust::{PrivateKey, certificate, history, keyfile};

use crate::name::check_name;
use crate::{DEMO_SETTING, NAME_SETTING, Surroundings, Workshop, WorkshopError, keys, plugins};

/// Order to make a workshop.
#[derive(Clone, Debug)]
pub struct Setup<'a> {
    /// Folder, empty or not there yet.
    pub folder: &'a Path,
    /// Name of the workshop, as it stands in every record.
    pub name: &'a str,
    /// Passphrase of the key.
    pub passphrase: &'a [u8],
    /// The key is a throw-away for demonstration.
    pub demo: bool,
}

/// What was made.
#[derive(Clone, Debug, Serialize)]
pub struct SetupReport {
    /// Folder.
    pub folder: PathBuf,
    /// Name.
    pub name: String,
    /// did:key of the signing key.
    pub key: String,
    /// Fingerprint to print on a card.
    pub fingerprint: String,
    /// Recovery secret, shown this once and kept nowhere.
    pub recovery_secret: String,
    /// SHA-256 over the recovery public key, kept in the key history.
    pub recovery_digest: String,
    /// Folder with the files to hand out: card, certificate and key history.
    pub card: Option<PathBuf>,
    /// Why they could not be written; the workshop is made all the same.
    pub no_card: Option<String>,
    /// Shipped plugins that were approved.
    pub approved: Vec<String>,
    /// Shipped plugins that were found and could not be approved, each with the reason.
    pub not_approved: Vec<NotApproved>,
}

/// A plugin that could not be approved.
#[derive(Clone, Debug, Serialize)]
pub struct NotApproved {
    /// Plugin.
    pub name: String,
    /// Why.
    pub why: String,
}

/// Draws a private key, again in the unlikely case that the bytes are no scalar.
pub(crate) fn new_key(random: &mut dyn FnMut(&mut [u8])) -> Result<PrivateKey, WorkshopError> {
    let mut last = None;
    for _ in 0..8 {
        let mut entropy = [0; 32];
        random(&mut entropy);
        match PrivateKey::from_entropy(entropy) {
            Ok(key) => return Ok(key),
            Err(error) => last = Some(error),
        }
    }
    Err(last.map_or(WorkshopError::NotSetUp, WorkshopError::Key))
}

impl Workshop {
    /// Makes a workshop. Once it has key and history, nothing keeps the recovery secret from the caller any more:
    /// a card that cannot be written and plugins that cannot be approved are told in the report.
    ///
    /// # Errors
    /// When the folder is not empty or cannot be written, the passphrase is empty, or the name is none that people can
    /// compare. What is left then can be opened by nobody, and says that it was not finished.
    pub fn setup(
        order: &Setup<'_>,
        around: &mut Surroundings<'_>,
    ) -> Result<(Self, SetupReport), WorkshopError> {
        check_name(order.name)?;
        let key = new_key(around.random)?;
        let mut salt = [0; 16];
        let mut iv = [0; 16];
        let mut entropy = [0; 20];
        (around.random)(&mut salt);
        (around.random)(&mut iv);
        (around.random)(&mut entropy);
        let recovery = Recovery::from_entropy(&entropy)?;
        let encrypted = keyfile::encrypt(&key, order.passphrase, &salt, &iv)?;
        let now = around.now.as_str();
        let public = key.public_key();
        // Before anything is written: a name that no certificate can hold makes no workshop.
        certificate::self_issued(&key, order.name, now)?;
        let history =
            history::first_entry(&key, now, "the workshop's first key", recovery.digest())?;

        let store = FolderStore::begin(order.folder)?;
        store.set_setting(NAME_SETTING, Some(order.name))?;
        if order.demo {
            store.set_setting(DEMO_SETTING, Some("yes"))?;
        }
        let row = KeyRow {
            did: public.did_key(),
            file_name: "signing-key.pem".to_owned(),
            created_at: now.to_owned(),
            recovery_digest: Some(recovery.digest()),
        };
        let workshop = Self { store };
        // The history first: a key without one could seal what no reader can follow.
        keys::create_history(&workshop, &history)?;
        workshop.store.add_key(&row, encrypted.as_bytes())?;
        workshop.store.finish()?;

        let (approved, faults) = plugins::approve_shipped(&workshop, around);
        let (card, no_card) = match keys::write_card(&workshop, None, &key, &row) {
            Ok(folder) => (Some(folder), None),
            Err(error) => (None, Some(error.to_string())),
        };
        let not_approved = faults.into_iter().map(|(name, error)| NotApproved {
            name: name.to_owned(),
            why: error.to_string(),
        });
        let fingerprint = public.fingerprint().to_string();
        let report = SetupReport {
            folder: workshop.folder().to_owned(),
            name: order.name.to_owned(),
            key: public.did_key(),
            fingerprint,
            recovery_secret: recovery.text().to_string(),
            recovery_digest: recovery.digest().to_string(),
            card,
            no_card,
            approved,
            not_approved: not_approved.collect(),
        };
        Ok((workshop, report))
    }
}

/// Writes a new file; an existing one is never overwritten.
pub(crate) fn write(path: &Path, bytes: &[u8]) -> Result<(), WorkshopError> {
    use std::io::Write as _;
    let mut file = fs::OpenOptions::new()
        .write(true)
        .create_new(true)
        .open(path)
        .map_err(|error| {
            if error.kind() == std::io::ErrorKind::AlreadyExists {
                WorkshopError::Exists(path.to_owned())
            } else {
                WorkshopError::file("write", path, error)
            }
        })?;
    file.write_all(bytes)
        .and_then(|()| file.sync_all())
        .map_err(|error| {
            let _ = fs::remove_file(path);
            WorkshopError::file("write", path, error)
        })
}

/// A new file under a passing name, flushed; gone again unless placed.
pub(crate) struct Staged {
    file: tempfile::NamedTempFile,
    path: PathBuf,
}

/// Writes bytes beside the place that is meant for them. A file that has the name already is never overwritten.
pub(crate) fn stage(path: &Path, bytes: &[u8]) -> Result<Staged, WorkshopError> {
    use std::io::Write as _;
    if fs::symlink_metadata(path).is_ok() {
        return Err(WorkshopError::Exists(path.to_owned()));
    }
    let fail = |error| WorkshopError::file("write", path, error);
    let mut file = tempfile::Builder::new()
        .prefix(".tangmark-")
        .permissions(fs::Permissions::from_mode(0o666))
        .tempfile_in(folder_of(path))
        .map_err(fail)?;
    file.write_all(bytes)
        .and_then(|()| file.as_file().sync_all())
        .map_err(fail)?;
    Ok(Staged {
        file,
        path: path.to_owned(),
    })
}

impl Staged {
    /// Gives the file its name; returns it.
    pub(crate) fn place(self) -> Result<PathBuf, WorkshopError> {
        let Self { file, path } = self;
        match file.persist_noclobber(&path) {
            Ok(_) => {}
            Err(error) if error.error.kind() == std::io::ErrorKind::AlreadyExists => {
                return Err(WorkshopError::Exists(path));
            }
            Err(error) => return Err(WorkshopError::file("write", &path, error.error)),
        }
        // The file is there; that its name outlives a loss of power as well is more than some disks can promise.
        let _ = fs::File::open(folder_of(&path)).and_then(|folder| folder.sync_all());
        Ok(path)
    }
}

/// The folder in which a file lies.
fn folder_of(path: &Path) -> &Path {
    path.parent()
        .filter(|parent| !parent.as_os_str().is_empty())
        .unwrap_or(Path::new("."))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn a_file_that_took_the_name_meanwhile_is_not_overwritten() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("copy.json");
        let staged = stage(&path, b"record").unwrap();
        fs::write(&path, "other").unwrap();
        assert!(matches!(staged.place(), Err(WorkshopError::Exists(_))));
        assert!(matches!(
            stage(&path, b"record"),
            Err(WorkshopError::Exists(_))
        ));
        assert_eq!(fs::read(&path).unwrap(), b"other");
        fs::remove_file(&path).unwrap();
        assert_eq!(stage(&path, b"record").unwrap().place().unwrap(), path);
        drop(stage(&folder.path().join("never.json"), b"record").unwrap());
        let left: Vec<_> = fs::read_dir(folder.path()).unwrap().collect();
        assert_eq!(left.len(), 1, "{left:?}");
        assert_eq!(fs::read(&path).unwrap(), b"record");
        stage(&folder.path().join("nowhere/copy.json"), b"record")
            .map(drop)
            .unwrap_err();
    }
}
