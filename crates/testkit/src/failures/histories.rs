//! Key histories that fit or do not, written entry by entry.

use serde_json::{Value, json};
use tangmark_core::Digest;
use tangmark_core::json::canonical_bytes;
use tangmark_trust::{PrivateKey, proof};

use crate::sealed::{MakeError, fault};

/// A key history that grows.
#[derive(Clone, Debug, Default)]
pub struct History {
    /// Its entries.
    pub entries: Vec<Value>,
}

/// The recovery digest of a key on paper.
pub fn recovery_digest(paper: &PrivateKey) -> String {
    Digest::of(paper.public_key().compressed()).to_string()
}

impl History {
    /// A history of one key.
    ///
    /// # Errors
    /// When the time is none.
    pub fn first(
        key: &PrivateKey,
        from: &str,
        reason: &str,
        paper: &PrivateKey,
    ) -> Result<Self, MakeError> {
        let statement = statement(key, from, reason, paper, None)?;
        Ok(Self {
            entries: vec![statement],
        })
    }

    /// Digest of the last entry.
    ///
    /// # Errors
    /// When there is none.
    pub fn last(&self) -> Result<String, MakeError> {
        let entry = self
            .entries
            .last()
            .ok_or_else(|| fault("key history")("no entry"))?;
        let mut entry = entry.clone();
        if let Some(members) = entry.as_object_mut() {
            members.remove("proof");
        }
        let bytes = canonical_bytes(&entry).map_err(fault("key history"))?;
        Ok(Digest::of(&bytes).to_string())
    }

    /// Adds a `rotation` or `recovery` to `new`, signed by `by`.
    ///
    /// # Errors
    /// When the time is none.
    pub fn succeed(
        &mut self,
        kind: &str,
        new: &PrivateKey,
        by: &PrivateKey,
        from: &str,
        paper: &PrivateKey,
    ) -> Result<(), MakeError> {
        let previous = self.last()?;
        let statement = statement(new, from, "the next key", paper, Some(&previous))?;
        let entry = json!({ "kind": kind, "statement": statement });
        self.entries
            .push(proof::sign(&entry, by, from).map_err(fault("key history"))?);
        Ok(())
    }

    /// Adds a revocation of `key` since a time, signed by `by` at `created`.
    ///
    /// # Errors
    /// When a time is none.
    pub fn revoke(
        &mut self,
        key: &PrivateKey,
        since: &str,
        created: &str,
        by: &PrivateKey,
    ) -> Result<(), MakeError> {
        let entry = json!({
            "kind": "revocation", "key": key.public_key().did_key(), "since": since, "reason": "stolen with the bag",
            "previous": self.last()?,
        });
        self.entries
            .push(proof::sign(&entry, by, created).map_err(fault("key history"))?);
        Ok(())
    }

    /// The file.
    pub fn file(&self) -> Vec<u8> {
        json!({ "format": "tangmark key history 1", "entries": self.entries })
            .to_string()
            .into_bytes()
    }
}

fn statement(
    key: &PrivateKey,
    from: &str,
    reason: &str,
    paper: &PrivateKey,
    previous: Option<&str>,
) -> Result<Value, MakeError> {
    let mut statement = json!({
        "key": key.public_key().did_key(), "from": from, "reason": reason,
        "recovery_digest": recovery_digest(paper),
    });
    if let Some(previous) = previous {
        statement["previous"] = json!(previous);
    }
    proof::sign(&statement, key, from).map_err(fault("key history"))
}
