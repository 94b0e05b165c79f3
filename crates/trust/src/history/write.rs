//! Writing the first entry and those that follow. What is written is read back before it is handed out, so no rule
//! stands here a second time.

use serde_json::{Value, json};
use tangmark_core::Digest;

use super::{FORMAT, HistoryError, KeyHistory, LARGEST};
use crate::key::{PrivateKey, PublicKey};
use crate::proof;

/// What is said of a new key.
#[derive(Clone, Copy, Debug)]
pub struct Statement<'a> {
    /// The key.
    pub key: &'a PrivateKey,
    /// From when on it signs, UTC.
    pub from: &'a str,
    /// Why it was made.
    pub reason: &'a str,
    /// SHA-256 over the compressed point of the recovery key that may name its successor.
    pub recovery_digest: Digest,
}

impl Statement<'_> {
    fn members(&self) -> Value {
        json!({
            "key": self.key.public_key().did_key(),
            "from": self.from,
            "reason": self.reason,
            "recovery_digest": self.recovery_digest.to_string(),
        })
    }
}

/// Writes a key history of one entry, signed by the key itself. `from` is a UTC time.
///
/// # Errors
/// When `from` is no UTC time in the spelling of records, or the key is one that anybody can sign with.
pub fn first_entry(
    key: &PrivateKey,
    from: &str,
    reason: &str,
    recovery_digest: Digest,
) -> Result<String, HistoryError> {
    let statement = Statement {
        key,
        from,
        reason,
        recovery_digest,
    };
    let entry = proof::sign(&statement.members(), key, from).map_err(HistoryError::Sign)?;
    text(&[entry])
}

impl KeyHistory {
    /// Names a new key, signed by it and by the key in force; returns the longer file.
    ///
    /// # Errors
    /// When the entry would break a rule of the page: a time that runs back, another key than the one in force, a key
    /// that stands in the history already.
    pub fn rotate(&self, old: &PrivateKey, new: &Statement<'_>) -> Result<String, HistoryError> {
        self.succession("rotation", old, new)
    }

    /// Names a new key, signed by it and by the recovery key; returns the longer file.
    ///
    /// # Errors
    /// As [`KeyHistory::rotate`], and when this is not the recovery key announced last.
    pub fn recover(
        &self,
        recovery: &PrivateKey,
        new: &Statement<'_>,
    ) -> Result<String, HistoryError> {
        self.succession("recovery", recovery, new)
    }

    /// Revokes a key: from `since` on somebody else may have held it. Signed by the key in force or the recovery key at
    /// `at`; all times UTC. Returns the longer file.
    ///
    /// # Errors
    /// When the key stands in no statement or is revoked already, or `since` is after `at`.
    pub fn revoke(
        &self,
        signer: &PrivateKey,
        key: &PublicKey,
        since: &str,
        at: &str,
        reason: &str,
    ) -> Result<String, HistoryError> {
        let entry = json!({
            "kind": "revocation",
            "key": key.did_key(),
            "since": since,
            "reason": reason,
            "previous": self.last_digest(),
        });
        self.extended(proof::sign(&entry, signer, at).map_err(HistoryError::Sign)?)
    }

    /// The file: indented, unless that would make it too long to be read again.
    ///
    /// # Errors
    /// None in practice: what was read can be written.
    pub fn text(&self) -> Result<String, HistoryError> {
        print(&self.entries)
    }

    pub(super) fn succession_entry(
        &self,
        kind: &str,
        signer: &PrivateKey,
        new: &Statement<'_>,
    ) -> Result<Value, HistoryError> {
        let mut members = new.members();
        members["previous"] = json!(self.last_digest());
        let statement = proof::sign(&members, new.key, new.from).map_err(HistoryError::Sign)?;
        let entry = json!({ "kind": kind, "statement": statement });
        proof::sign(&entry, signer, new.from).map_err(HistoryError::Sign)
    }

    fn succession(
        &self,
        kind: &str,
        signer: &PrivateKey,
        new: &Statement<'_>,
    ) -> Result<String, HistoryError> {
        self.extended(self.succession_entry(kind, signer, new)?)
    }

    fn last_digest(&self) -> String {
        self.digests
            .last()
            .map(Digest::to_string)
            .unwrap_or_default()
    }

    fn extended(&self, entry: Value) -> Result<String, HistoryError> {
        let mut entries = self.entries.clone();
        entries.push(entry);
        text(&entries)
    }
}

/// Prints entries and reads them back.
fn text(entries: &[Value]) -> Result<String, HistoryError> {
    let text = print(entries)?;
    KeyHistory::read(text.as_bytes())?;
    Ok(text)
}

fn print(entries: &[Value]) -> Result<String, HistoryError> {
    let shape = |error: serde_json::Error| HistoryError::Shape(error.to_string());
    let file = json!({ "format": FORMAT, "entries": entries });
    let mut text = serde_json::to_string_pretty(&file).map_err(shape)?;
    text.push('\n');
    if text.len() > LARGEST {
        text = serde_json::to_string(&file).map_err(shape)?;
    }
    Ok(text)
}
