//! The keys of the workshop over the years: its history, changing the key, copies of the key files.
//!
//! `keys/key-history.json` is the source of truth; what lies in `out/card` is a copy to hand out.

mod backup;
mod card;
mod change;
mod error;
mod file;
mod known;
mod passphrase;
mod restore;

use serde::Serialize;
use tangmark_store::{KeyRow, Store as _};
use tangmark_trust::history::{KeyHistory, Term};
use tangmark_trust::{PrivateKey, PublicKey, keyfile};

use crate::{Workshop, WorkshopError};

pub use backup::{BackedUpKey, Backup, BackupCheck, MANIFEST};
pub use change::{Recover, Recovered, Revoke, Revoked, Rotate, Rotated};
pub use error::KeysError;
pub use known::{
    Forgotten, KeyInHistory, KnownKey, KnownKeys, forget_known, known, known_to_forget,
};
pub use restore::{Restore, Restored, restore};
pub use tangmark_trust::history::NamedBy;

pub(crate) use card::write_card;
use file::CARD_HISTORY;
pub(crate) use file::{create_history, is_known_file, is_no_key_file};

/// A key of the workshop, as people look at it.
#[derive(Clone, Debug, Serialize)]
pub struct KeyLine {
    /// Fingerprint, as on the card.
    pub fingerprint: String,
    /// did:key.
    pub key: String,
    /// From when on it signs, UTC.
    pub from: String,
    /// Until when, that moment excluded.
    pub until: Option<String>,
    /// Who named it.
    pub named_by: NamedBy,
    /// Why it was made.
    pub reason: String,
    /// Revoked since, UTC.
    pub revoked_since: Option<String>,
    /// Why it was revoked.
    pub revoked_reason: Option<String>,
    /// File in `keys/`, if it is there.
    pub file_name: Option<String>,
}

/// What the workshop says of its keys.
#[derive(Clone, Debug, Serialize)]
pub struct KeysReport {
    /// Name of the workshop.
    pub name: String,
    /// Fingerprint of the key in force.
    pub fingerprint: String,
    /// SHA-256 over the public key of the recovery secret that may name a successor.
    pub recovery_digest: String,
    /// The keys, the first one first.
    pub terms: Vec<KeyLine>,
    /// Key files that no statement of the history names: what a change that was cut short left behind.
    pub unused_files: Vec<String>,
    /// The history itself is gone; this is its copy beside the card, which may be older. Nothing is signed until it is
    /// brought back.
    pub from_copy: bool,
}

impl Workshop {
    /// Says what the workshop's key history says.
    ///
    /// # Errors
    /// When the history is gone or damaged, or the store cannot be read.
    pub fn keys_report(&self) -> Result<KeysReport, WorkshopError> {
        let history = self
            .key_history_if_there()?
            .ok_or_else(|| KeysError::NoHistory(self.history_path()))?;
        let rows = self.store.keys()?;
        let file_of = |did: &str| {
            let row = rows.iter().find(|row| row.did == did)?;
            let there = self.key_path(row).is_file();
            there.then(|| row.file_name.clone())
        };
        let terms: Vec<KeyLine> = history
            .terms()
            .map(|term| key_line(term, file_of(&term.key.did_key())))
            .collect();
        let unused_files = rows
            .iter()
            .filter(|row| !terms.iter().any(|term| term.key == row.did))
            .map(|row| row.file_name.clone())
            .collect();
        Ok(KeysReport {
            name: self.name()?,
            fingerprint: history.in_force().key.fingerprint().to_string(),
            recovery_digest: history.recovery_digest().to_string(),
            terms,
            unused_files,
            from_copy: !self.history_path().exists(),
        })
    }

    /// Returns the public keys of the workshop: those of its history and of its key files, the key in force last.
    ///
    /// # Errors
    /// When the store or the history cannot be read.
    pub fn keys(&self) -> Result<Vec<PublicKey>, WorkshopError> {
        let history = self.key_history_if_there()?;
        let named: Vec<PublicKey> = history
            .iter()
            .flat_map(|history| history.terms().map(|term| term.key))
            .collect();
        let mut keys = Vec::new();
        for row in self.store.keys()? {
            let key = PublicKey::from_did(&row.did)?;
            if !named.contains(&key) {
                keys.push(key);
            }
        }
        keys.extend(named);
        Ok(keys)
    }

    /// Opens the key in force.
    pub(crate) fn signing_key(
        &self,
        passphrase: &[u8],
    ) -> Result<(PrivateKey, KeyRow), WorkshopError> {
        let row = self.row_in_force()?;
        let key = self.open_key(&row, passphrase)?;
        Ok((key, row))
    }

    /// Refuses where no key is in force that could sign: found out before anybody is asked for a passphrase.
    pub(crate) fn may_sign(&self) -> Result<(), WorkshopError> {
        self.row_in_force().map(|_| ())
    }

    /// Refuses a time at which the key in force does not sign yet: the record would be rejected by every reader.
    pub(crate) fn signs_at(&self, now: &str) -> Result<(), WorkshopError> {
        let history = self.key_history()?;
        let from = &history.in_force().from;
        if now < from.as_str() {
            return Err(KeysError::NotYet {
                from: from.clone(),
                now: now.to_owned(),
            }
            .into());
        }
        Ok(())
    }

    /// The row of the key in force. The history itself tells, never a copy of it: an older copy would bring a key back
    /// that was replaced or revoked.
    fn row_in_force(&self) -> Result<KeyRow, WorkshopError> {
        let rows = self.store.keys()?;
        let history = self.key_history()?;
        let term = history.in_force();
        if let Some(revoked) = &term.revoked {
            return Err(KeysError::Revoked {
                fingerprint: term.key.fingerprint().to_string(),
                since: revoked.since.clone(),
            }
            .into());
        }
        let did = term.key.did_key();
        let row = rows.into_iter().find(|row| row.did == did);
        row.ok_or_else(|| {
            KeysError::NoFile {
                fingerprint: term.key.fingerprint().to_string(),
            }
            .into()
        })
    }

    fn open_key(&self, row: &KeyRow, passphrase: &[u8]) -> Result<PrivateKey, WorkshopError> {
        let bytes = self.store.key_bytes(&row.did)?;
        let key = keyfile::decrypt(&String::from_utf8_lossy(&bytes), passphrase)?;
        if key.public_key().did_key() != row.did {
            return Err(KeysError::OtherKey {
                file_name: row.file_name.clone(),
                found: key.public_key().fingerprint().to_string(),
            }
            .into());
        }
        Ok(key)
    }

    /// Names of the key files that are gone and that nothing is signed with any more.
    pub(crate) fn laid_aside_key_files(&self) -> Result<Vec<String>, WorkshopError> {
        let Some(history) = self.key_history_if_there()? else {
            return Ok(Vec::new());
        };
        let in_force = history.in_force().key.did_key();
        let rows = self.store.keys()?.into_iter();
        Ok(rows
            .filter(|row| row.did != in_force && !self.key_path(row).exists())
            .map(|row| row.file_name)
            .collect())
    }

    /// The histories that a reader of this workshop has: its own.
    ///
    /// # Errors
    /// When it is damaged.
    pub fn key_histories(&self) -> Result<Vec<KeyHistory>, WorkshopError> {
        Ok(self.key_history_if_there()?.into_iter().collect())
    }
}

fn key_line(term: &Term, file_name: Option<String>) -> KeyLine {
    let revoked = term.revoked.as_ref();
    KeyLine {
        fingerprint: term.key.fingerprint().to_string(),
        key: term.key.did_key(),
        from: term.from.clone(),
        until: term.until.clone(),
        named_by: term.named_by,
        reason: term.reason.clone(),
        revoked_since: revoked.map(|revoked| revoked.since.clone()),
        revoked_reason: revoked.map(|revoked| revoked.reason.clone()),
        file_name,
    }
}
