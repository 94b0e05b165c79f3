//! Bringing a key back after the index was lost: objects and key files are enough to seal again.

use std::fs;

use serde::Serialize;
use tangmark_store::{KeyRow, RecordRow, Store as _};
use tangmark_trust::keyfile;

use crate::blades::Kept;
use crate::{DEMO_SETTING, NAME_SETTING, Workshop, WorkshopError};

/// Largest key file that is read, in bytes.
const LARGEST: u64 = 64 * 1024;

/// Where the day a key was made was read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum MadeOn {
    /// In the key history, signed by the key.
    KeyHistory,
    /// In the first record of the key: the key may be older.
    FirstRecord,
}

/// A key that belongs to the workshop again.
#[derive(Clone, Debug, Serialize)]
pub struct AdoptedKey {
    /// File in `keys/`.
    pub file_name: String,
    /// did:key.
    pub key: String,
    /// Fingerprint, as on the card.
    pub fingerprint: String,
    /// Name of the workshop, from the newest record of the key.
    pub name: String,
    /// The key is a throw-away for demonstration.
    pub demo: bool,
    /// When the key was made, in UTC; the certificate of the reports begins there.
    pub created_at: String,
    /// Where that was read.
    pub created_from: MadeOn,
}

impl Workshop {
    /// Lists a key file that the index does not know as the workshop's own, once the passphrase opened it and sealed
    /// records were found that its key issued. Name and demonstration mark come from the newest of them.
    ///
    /// # Errors
    /// When the passphrase does not open the file, or no record here was sealed with its key. Nothing is listed then.
    pub fn adopt_key(
        &self,
        file_name: &str,
        passphrase: &[u8],
    ) -> Result<AdoptedKey, WorkshopError> {
        let path = self.folder().join("keys").join(file_name);
        let fail = |error| WorkshopError::file("read", &path, error);
        let length = fs::metadata(&path).map_err(fail)?.len();
        if length > LARGEST {
            let error = std::io::Error::other(format!(
                "{length} bytes, at most {LARGEST} bytes are looked at"
            ));
            return Err(fail(error));
        }
        let encrypted = fs::read(&path).map_err(fail)?;
        let key = keyfile::decrypt(&String::from_utf8_lossy(&encrypted), passphrase)?.public_key();
        let did = key.did_key();
        let history = self
            .key_history_if_there()?
            .filter(|history| history.term(&key).is_some());
        // A key that sealed nothing yet is the workshop's when its history names it beside one that did.
        let rows = match &history {
            Some(history) => {
                let keys: Vec<String> = history.terms().map(|term| term.key.did_key()).collect();
                self.issued_by(&keys)?
            }
            None => self.issued_by(std::slice::from_ref(&did))?,
        };
        let (Some(first), Some(newest)) = (rows.first(), rows.last()) else {
            return Err(WorkshopError::StrangeKey(file_name.to_owned()));
        };
        let newest = self.kept(newest)?;
        let term = history.as_ref().and_then(|history| history.term(&key));
        let (created_at, recovery_digest, created_from) = match term {
            Some(term) => (
                term.from.clone(),
                Some(term.recovery_digest),
                MadeOn::KeyHistory,
            ),
            None => (first.issued_at.clone(), None, MadeOn::FirstRecord),
        };
        self.keep_identity(&newest)?;
        // Last, so that an adoption that was cut short is done again.
        let row = KeyRow {
            did: did.clone(),
            file_name: file_name.to_owned(),
            created_at: created_at.clone(),
            recovery_digest,
        };
        self.store.add_key(&row, &encrypted)?;
        let issuer = newest.record.issuer;
        Ok(AdoptedKey {
            file_name: file_name.to_owned(),
            key: did,
            fingerprint: key.fingerprint().to_string(),
            name: issuer.name,
            demo: issuer.demo,
            created_at,
            created_from,
        })
    }

    /// Brings name and demonstration mark back where only they were lost: the keys tell which records are own.
    pub(crate) fn restore_identity(&self) -> Result<(), WorkshopError> {
        if self.store.setting(NAME_SETTING)?.is_some() {
            return Ok(());
        }
        let mut own = Vec::new();
        for key in self.store.keys()? {
            own.extend(self.issued_by(&[key.did])?.pop());
        }
        own.sort_by(|a, b| a.issued_at.cmp(&b.issued_at));
        match own.last() {
            Some(newest) => self.keep_identity(&self.kept(newest)?),
            None => Ok(()),
        }
    }

    /// The records that keys issued, oldest first.
    fn issued_by(&self, keys: &[String]) -> Result<Vec<RecordRow>, WorkshopError> {
        let mut rows = Vec::new();
        for blade in self.store.blades()? {
            rows.extend(self.store.records(&blade.id)?);
        }
        rows.retain(|row| keys.contains(&row.issuer));
        rows.sort_by(|a, b| {
            (&a.issued_at, a.sequence, a.name).cmp(&(&b.issued_at, b.sequence, b.name))
        });
        Ok(rows)
    }

    /// Keeps name and mark as a record has them; the name last, since it tells that both are there.
    fn keep_identity(&self, newest: &Kept) -> Result<(), WorkshopError> {
        if self.store.setting(NAME_SETTING)?.is_some() {
            return Ok(());
        }
        let issuer = &newest.record.issuer;
        self.store
            .set_setting(DEMO_SETTING, issuer.demo.then_some("yes"))?;
        self.store.set_setting(NAME_SETTING, Some(&issuer.name))?;
        Ok(())
    }
}
