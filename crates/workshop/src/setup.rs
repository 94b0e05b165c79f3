//! Making a workshop: folder, key, recovery secret, card, approvals of the shipped plugins.

use std::fs;
use std::path::{Path, PathBuf};

use base64::{Engine as _, engine::general_purpose::STANDARD};
use serde::Serialize;
use tangmark_store::{FolderStore, KeyRow, Store as _};
use tangmark_trust::recovery::Recovery;
use tangmark_trust::{PrivateKey, certificate, history, keyfile};

use crate::name::check_name;
use crate::{DEMO_SETTING, NAME_SETTING, Surroundings, Workshop, WorkshopError, plugins};

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
fn new_key(random: &mut dyn FnMut(&mut [u8])) -> Result<PrivateKey, WorkshopError> {
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
        let certificate = certificate::self_issued(&key, order.name, now)?;
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

        let card = workshop.out_folder().join("card");
        fs::create_dir_all(&card)
            .map_err(|error| WorkshopError::file("make the folder", &card, error))?;
        let certificate_file = card.join("certificate.pem");
        write(&certificate_file, pem(&certificate).as_bytes())?;
        write(&card.join("key-history.json"), history.as_bytes())?;
        let fingerprint = public.fingerprint().to_string();
        write(
            &card.join("card.txt"),
            card_text(order.name, &fingerprint, order.demo).as_bytes(),
        )?;
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

    /// Opens the newest signing key.
    pub(crate) fn signing_key(
        &self,
        passphrase: &[u8],
    ) -> Result<(PrivateKey, KeyRow), WorkshopError> {
        let row = self.store.keys()?.pop().ok_or(WorkshopError::NotSetUp)?;
        let bytes = self.store.key_bytes(&row.did)?;
        let pem = String::from_utf8_lossy(&bytes);
        Ok((keyfile::decrypt(&pem, passphrase)?, row))
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

/// Writes DER as PEM (RFC 7468).
fn pem(der: &[u8]) -> String {
    let mut text = String::from("-----BEGIN CERTIFICATE-----\n");
    let encoded = STANDARD.encode(der);
    for line in encoded.as_bytes().chunks(64) {
        text.push_str(&String::from_utf8_lossy(line));
        text.push('\n');
    }
    text.push_str("-----END CERTIFICATE-----\n");
    text
}

fn card_text(name: &str, fingerprint: &str, demo: bool) -> String {
    let demo = if demo {
        "\nDEMONSTRATION KEY: a throw-away that stands for nobody.\n"
    } else {
        ""
    };
    format!(
        "{name}\n\nFingerprint of our signing key:\n\n    {fingerprint}\n\n\
         Compare all twenty characters with what `tangmark verify` shows for a record or report of ours.\n{demo}"
    )
}
