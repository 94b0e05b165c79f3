//! Making a workshop: folder, key, recovery secret, card, approvals of the shipped plugins.

use std::fs;
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
    /// Files to hand out: certificate and card.
    pub card: PathBuf,
    /// The certificate of the PDF signature.
    pub certificate: PathBuf,
    /// Shipped plugins that were approved.
    pub approved: Vec<String>,
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
    /// Makes a workshop.
    ///
    /// # Errors
    /// When the folder is not empty or cannot be written, the passphrase is empty, or the name is none that people can
    /// compare. Nothing is made then.
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

        let store = FolderStore::create(order.folder)?;
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
        store.add_key(&row, encrypted.as_bytes())?;
        let workshop = Self { store };
        let approved = plugins::approve_shipped(&workshop, around)?;

        keys::create_history(&workshop, &history)?;
        let card = keys::write_card(&workshop, None, &key, &row)?;
        let certificate_file = card.join("certificate.pem");
        let fingerprint = public.fingerprint().to_string();
        let report = SetupReport {
            folder: workshop.folder().to_owned(),
            name: order.name.to_owned(),
            key: public.did_key(),
            fingerprint,
            recovery_secret: recovery.text().to_string(),
            recovery_digest: recovery.digest().to_string(),
            card,
            certificate: certificate_file,
            approved,
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
