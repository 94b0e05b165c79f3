//! Another passphrase for a key file. The old file stays until the new one is proved to open.

use std::fs;

use tangmark_store::Store as _;
use tangmark_trust::keyfile;

use super::KeysError;
use super::change::find_key;
use super::file::{rename, stage};
use crate::{Surroundings, Workshop, WorkshopError};

/// Mode of a key file: readable and writable by its owner only.
const MODE: u32 = 0o600;

impl Workshop {
    /// Encrypts a key file under a new passphrase: that of the key in force, or of a key named by fingerprint. Returns
    /// the fingerprint.
    ///
    /// The new file is written beside the old one, flushed, read back and opened; only then it takes the old one's
    /// name, in one step.
    ///
    /// # Errors
    /// When the old passphrase does not open the key, the new one is empty, or the file cannot be written. The old file
    /// is there then as it was.
    pub fn change_passphrase(
        &self,
        key: Option<&str>,
        old: &[u8],
        new: &[u8],
        around: &mut Surroundings<'_>,
    ) -> Result<String, WorkshopError> {
        let _keys = self.lock_keys()?;
        let row = match key {
            None => self.row_in_force()?,
            Some(text) => {
                let did = find_key(&self.key_history()?, text)?.did_key();
                let row = self.store.keys()?.into_iter().find(|row| row.did == did);
                row.ok_or_else(|| KeysError::NoFile {
                    fingerprint: text.to_owned(),
                })?
            }
        };
        let key = self.open_key(&row, old)?;
        let (mut salt, mut iv) = ([0; 16], [0; 16]);
        (around.random)(&mut salt);
        (around.random)(&mut iv);
        let encrypted = keyfile::encrypt(&key, new, &salt, &iv)?;
        let path = self.key_path(&row);
        let temp = stage(&path, encrypted.as_bytes(), MODE)?;
        let proved = prove(&temp, new, &row.did);
        if proved.is_err() {
            let _ = fs::remove_file(&temp);
        }
        proved?;
        rename(&temp, &path)?;
        Ok(key.public_key().fingerprint().to_string())
    }
}

/// Reads the new file back from the disk and opens it.
fn prove(path: &std::path::Path, passphrase: &[u8], did: &str) -> Result<(), WorkshopError> {
    let text =
        fs::read_to_string(path).map_err(|error| WorkshopError::file("read", path, error))?;
    let key = keyfile::decrypt(&text, passphrase)?.public_key();
    if key.did_key() == did {
        return Ok(());
    }
    Err(KeysError::OtherKey {
        file_name: path.display().to_string(),
        found: key.fingerprint().to_string(),
    }
    .into())
}
