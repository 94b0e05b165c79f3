//! A new key in place of the old one, and keys that are no longer to be relied on.

use std::path::PathBuf;

use serde::Serialize;
use tangmark_store::{KeyRow, Store as _};
use tangmark_trust::history::{KeyHistory, Statement};
use tangmark_trust::recovery::Recovery;
use tangmark_trust::{Fingerprint, PrivateKey, PublicKey, keyfile};

use super::card::take_card_away;
use super::{KeysError, write_card};
use crate::setup::new_key;
use crate::{Surroundings, Workshop, WorkshopError};

/// Order to let a new key sign from now on.
#[derive(Clone, Copy, Debug)]
pub struct Rotate<'a> {
    /// Passphrase of the key in force.
    pub passphrase: &'a [u8],
    /// Passphrase of the new key.
    pub new_passphrase: &'a [u8],
    /// Why.
    pub reason: &'a str,
    /// Make a new recovery secret too, where the paper is lost.
    pub new_recovery: bool,
}

/// Order to name a new key with the recovery secret.
#[derive(Clone, Copy, Debug)]
pub struct Recover<'a> {
    /// The recovery secret, as typed from paper.
    pub secret: &'a str,
    /// Passphrase of the new key.
    pub new_passphrase: &'a [u8],
    /// Why.
    pub reason: &'a str,
    /// From when on somebody else may have held the old key, UTC: it is revoked too.
    pub stolen_since: Option<&'a str>,
}

/// Order to revoke a key.
#[derive(Clone, Copy, Debug)]
pub struct Revoke<'a> {
    /// Its fingerprint or did:key.
    pub key: &'a str,
    /// From when on somebody else may have held it, UTC.
    pub since: &'a str,
    /// Why.
    pub reason: &'a str,
    /// Passphrase of the key in force.
    pub passphrase: &'a [u8],
}

/// A new key signs.
#[derive(Clone, Debug, Serialize)]
pub struct Rotated {
    /// Fingerprint of the key before.
    pub before: String,
    /// Fingerprint of the new key, to print on a card.
    pub fingerprint: String,
    /// did:key of the new key.
    pub key: String,
    /// From when on it signs, UTC.
    pub from: String,
    /// Its file in `keys/`.
    pub file_name: String,
    /// Folder with card, certificate and key history to hand out.
    pub card: Option<PathBuf>,
    /// Why they could not be written; the key signs all the same.
    pub no_card: Option<String>,
    /// New recovery secret, shown this once and kept nowhere; the one before it is spent.
    pub recovery_secret: Option<String>,
}

/// A key is revoked.
#[derive(Clone, Debug, Serialize)]
pub struct Revoked {
    /// Its fingerprint.
    pub fingerprint: String,
    /// It was the key in force: nothing can be sealed before another one is named, and there is no card.
    pub in_force: bool,
    /// Folder with the key history to hand out, and the card of the key in force.
    pub folder: Option<PathBuf>,
    /// Why they could not be written; the key is revoked all the same.
    pub no_card: Option<String>,
}

/// A new key was named by the recovery key.
#[derive(Clone, Debug, Serialize)]
pub struct Recovered {
    /// The new key.
    #[serde(flatten)]
    pub rotated: Rotated,
    /// The old key is revoked since then.
    pub revoked_since: Option<String>,
}

/// A key pair that is made but not named yet.
struct Fresh {
    key: PrivateKey,
    encrypted: String,
}

impl Workshop {
    /// Makes a key, names it in the history signed by both, and signs with it from now on.
    ///
    /// The history is the one thing that decides: until it is replaced the old key signs, from then on the new one.
    ///
    /// # Errors
    /// When the passphrase does not open the key in force, or something was signed in this very second. Nothing is
    /// changed then, but for a key file that nothing names.
    pub fn rotate_key(
        &self,
        order: &Rotate<'_>,
        around: &mut Surroundings<'_>,
    ) -> Result<Rotated, WorkshopError> {
        let _keys = self.lock_keys()?;
        let history = self.key_history()?;
        let (old, _) = self.signing_key(order.passphrase)?;
        let from = self.free_moment(&history, around)?;
        let fresh = fresh(order.new_passphrase, around)?;
        let paper = order
            .new_recovery
            .then(|| new_recovery(around))
            .transpose()?;
        let statement = Statement {
            key: &fresh.key,
            from: &from,
            reason: order.reason,
            recovery_digest: paper
                .as_ref()
                .map_or(history.recovery_digest(), Recovery::digest),
        };
        let text = history.rotate(&old, &statement)?;
        self.take(
            &history,
            &text,
            &statement,
            &fresh.encrypted,
            paper.as_ref(),
        )
    }

    /// Makes a key and a new recovery secret, named by the recovery secret that the history announced.
    ///
    /// # Errors
    /// When it is another secret, when the old key is to be revoked and is already, or something was signed in this very
    /// second. Nothing is changed then, but for a key file that nothing names.
    pub fn recover_key(
        &self,
        order: &Recover<'_>,
        around: &mut Surroundings<'_>,
    ) -> Result<Recovered, WorkshopError> {
        let _keys = self.lock_keys()?;
        let history = self.key_history()?;
        let paper: Recovery = order.secret.parse()?;
        if paper.digest() != history.recovery_digest() {
            return Err(KeysError::OtherRecovery {
                found: paper.digest().to_string(),
                wanted: history.recovery_digest().to_string(),
            }
            .into());
        }
        let old = history.in_force();
        if let (Some(_), Some(revoked)) = (order.stolen_since, &old.revoked) {
            return Err(KeysError::RevokedAlready {
                fingerprint: old.key.fingerprint().to_string(),
                since: revoked.since.clone(),
            }
            .into());
        }
        let from = self.free_moment(&history, around)?;
        let fresh = fresh(order.new_passphrase, around)?;
        let next = new_recovery(around)?;
        let statement = Statement {
            key: &fresh.key,
            from: &from,
            reason: order.reason,
            recovery_digest: next.digest(),
        };
        let mut text = history.recover(paper.key(), &statement)?;
        if let Some(since) = order.stolen_since {
            let longer = KeyHistory::read(text.as_bytes())?;
            text = longer.revoke(&fresh.key, &old.key, since, &from, order.reason)?;
        }
        let rotated = self.take(&history, &text, &statement, &fresh.encrypted, Some(&next))?;
        Ok(Recovered {
            rotated,
            revoked_since: order.stolen_since.map(str::to_owned),
        })
    }

    /// Revokes a key. Where it is the key in force its card is taken away: no card offers a revoked key.
    ///
    /// # Errors
    /// When it is no key of the history, is revoked already, or `since` is after now.
    pub fn revoke_key(
        &self,
        order: &Revoke<'_>,
        around: &mut Surroundings<'_>,
    ) -> Result<Revoked, WorkshopError> {
        let _keys = self.lock_keys()?;
        let history = self.key_history()?;
        let key = find_key(&history, order.key)?;
        let (signer, row) = self.signing_key(order.passphrase)?;
        let text = history.revoke(
            &signer,
            &key,
            order.since,
            around.now.as_str(),
            order.reason,
        )?;
        self.replace_history(&text)?;
        // From here on it is revoked, whatever becomes of the card.
        let in_force = history.in_force().key == key;
        let written = if in_force {
            take_card_away(self)
        } else {
            write_card(self, None, &signer, &row)
        };
        let (folder, no_card) = match written {
            Ok(folder) => (Some(folder), None),
            Err(error) => (None, Some(error.to_string())),
        };
        Ok(Revoked {
            fingerprint: key.fingerprint().to_string(),
            in_force,
            folder,
            no_card,
        })
    }

    /// The fingerprint of a key of the history that a person named by fingerprint or did:key, and whether it is the key
    /// in force.
    ///
    /// # Errors
    /// When the history names no such key.
    pub fn named_key(&self, text: &str) -> Result<(String, bool), WorkshopError> {
        let history = self.key_history()?;
        let key = find_key(&history, text)?;
        Ok((key.fingerprint().to_string(), history.in_force().key == key))
    }

    /// Lists the key file, then names the key: a crash in between leaves a file that nothing names.
    fn take(
        &self,
        before: &KeyHistory,
        text: &str,
        new: &Statement<'_>,
        encrypted: &str,
        paper: Option<&Recovery>,
    ) -> Result<Rotated, WorkshopError> {
        let public = new.key.public_key();
        let row = KeyRow {
            did: public.did_key(),
            file_name: self.free_file_name()?,
            created_at: new.from.to_owned(),
            recovery_digest: Some(new.recovery_digest),
        };
        self.store.add_key(&row, encrypted.as_bytes())?;
        self.replace_history(text)?;
        // From here on the new key signs, and a new recovery secret has to reach the paper whatever becomes of the card.
        let (card, no_card) = match write_card(self, None, new.key, &row) {
            Ok(folder) => (Some(folder), None),
            Err(error) => (None, Some(error.to_string())),
        };
        Ok(Rotated {
            before: before.in_force().key.fingerprint().to_string(),
            fingerprint: public.fingerprint().to_string(),
            key: row.did,
            from: new.from.to_owned(),
            file_name: row.file_name,
            card,
            no_card,
            recovery_secret: paper.map(|paper| paper.text().to_string()),
        })
    }

    /// Returns the time now, when nothing was signed at it or later: a record sealed in the same second would fall out
    /// of the interval of its key.
    fn free_moment(
        &self,
        history: &KeyHistory,
        around: &Surroundings<'_>,
    ) -> Result<String, WorkshopError> {
        let now = around.now.as_str();
        let mut newest = history.last_time().max(&history.in_force().from).to_owned();
        let own: Vec<String> = history.terms().map(|term| term.key.did_key()).collect();
        for blade in self.store.blades()? {
            for row in self.store.records(&blade.id)? {
                if own.contains(&row.issuer) && row.issued_at > newest {
                    newest = row.issued_at;
                }
            }
        }
        if now <= newest.as_str() {
            return Err(KeysError::TooSoon {
                now: now.to_owned(),
                newest,
            }
            .into());
        }
        Ok(now.to_owned())
    }

    /// `signing-key-2.pem` and so on, the first that no file and no row has.
    fn free_file_name(&self) -> Result<String, WorkshopError> {
        let rows = self.store.keys()?;
        let free = (2_u32..=9999)
            .map(|number| format!("signing-key-{number}.pem"))
            .find(|name| {
                !rows.iter().any(|row| row.file_name == *name)
                    && !self.folder().join("keys").join(name).exists()
            });
        free.ok_or(WorkshopError::NotSetUp)
    }
}

fn new_recovery(around: &mut Surroundings<'_>) -> Result<Recovery, WorkshopError> {
    let mut entropy = [0; 20];
    (around.random)(&mut entropy);
    Ok(Recovery::from_entropy(&entropy)?)
}

fn fresh(passphrase: &[u8], around: &mut Surroundings<'_>) -> Result<Fresh, WorkshopError> {
    let key = new_key(around.random)?;
    let (mut salt, mut iv) = ([0; 16], [0; 16]);
    (around.random)(&mut salt);
    (around.random)(&mut iv);
    let encrypted = keyfile::encrypt(&key, passphrase, &salt, &iv)?;
    Ok(Fresh { key, encrypted })
}

/// Finds a key of the history by fingerprint or did:key.
pub(super) fn find_key(history: &KeyHistory, text: &str) -> Result<PublicKey, WorkshopError> {
    let text = text.trim();
    // As typed from a card: hyphens, spaces and small letters do not matter.
    let fingerprint = text.parse::<Fingerprint>().ok();
    let found = history
        .terms()
        .find(|term| term.key.did_key() == text || fingerprint == Some(term.key.fingerprint()));
    found
        .map(|term| term.key)
        .ok_or_else(|| KeysError::NoSuchKey(text.to_owned()).into())
}
