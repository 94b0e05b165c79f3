//! Reading a key history: nothing is kept of it that is not signed.

use serde::Deserialize;
use serde_json::Value;
use tangmark_core::Digest;
use tangmark_core::json::{Limits, read_value};

use super::{
    EntryFault, FORMAT, HistoryError, KeyHistory, LARGEST, MOST_ENTRIES, NamedBy, Revocation, Term,
};
use crate::key::{PublicKey, shorten};
use crate::proof::{self, Verified, is_published, is_utc_time};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    format: String,
    entries: Vec<Value>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct First {
    key: String,
    from: String,
    reason: String,
    recovery_digest: Digest,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Later {
    key: String,
    from: String,
    reason: String,
    recovery_digest: Digest,
    previous: Digest,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Succession {
    #[serde(rename = "kind")]
    _kind: String,
    statement: Value,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Revoking {
    #[serde(rename = "kind")]
    _kind: String,
    key: String,
    since: String,
    reason: String,
    previous: Digest,
}

/// A document whose one proof holds.
struct Signed {
    /// The document without it.
    members: Value,
    /// Digest over its canonical bytes.
    digest: Digest,
    /// The signer.
    key: PublicKey,
    /// did:key of the signer.
    did: String,
    /// When, in the signer's word.
    created: String,
}

pub(super) fn read(bytes: &[u8]) -> Result<KeyHistory, HistoryError> {
    let limits = Limits {
        max_bytes: LARGEST,
        ..Limits::default()
    };
    let file: File = serde_json::from_value(read_value(bytes, &limits)?)
        .map_err(|error| HistoryError::Shape(error.to_string()))?;
    if file.format != FORMAT {
        return Err(HistoryError::Format(shorten(&file.format)));
    }
    let found = file.entries.len();
    if found > MOST_ENTRIES {
        return Err(HistoryError::Entries { found });
    }
    let mut entries = file.entries.into_iter().enumerate();
    let (_, first) = entries.next().ok_or(HistoryError::Entries { found: 0 })?;
    let at = |entry| move |fault| HistoryError::Entry { entry, fault };
    let mut history = begin(first).map_err(at(1))?;
    for (index, entry) in entries {
        history.follow(entry).map_err(at(index + 1))?;
    }
    Ok(history)
}

fn begin(document: Value) -> Result<KeyHistory, EntryFault> {
    let signed = signed(&document)?;
    let First {
        key,
        from,
        reason,
        recovery_digest,
    } = shaped(signed.members)?;
    own_word(&signed.did, &signed.created, &key, &from)?;
    Ok(KeyHistory {
        first: Term {
            key: signed.key,
            from: from.clone(),
            until: None,
            reason,
            named_by: NamedBy::First,
            recovery_digest,
            revoked: None,
        },
        later: Vec::new(),
        entries: vec![document],
        digests: vec![signed.digest],
        last_time: from,
    })
}

impl KeyHistory {
    /// Takes the next entry, or says why it is none.
    pub(super) fn follow(&mut self, document: Value) -> Result<(), EntryFault> {
        let kind = document
            .get("kind")
            .and_then(Value::as_str)
            .ok_or_else(|| EntryFault::Shape("`kind` is missing or not a text".to_owned()))?;
        let named_by = match kind {
            "rotation" => Some(NamedBy::Rotation),
            "recovery" => Some(NamedBy::Recovery),
            "revocation" => None,
            other => return Err(EntryFault::Kind(shorten(other))),
        };
        let outer = signed(&document)?;
        let digest = outer.digest;
        let time = match named_by {
            Some(named_by) => self.succeed(outer, named_by)?,
            None => self.revoke_key(outer)?,
        };
        self.entries.push(document);
        self.digests.push(digest);
        self.last_time = time;
        Ok(())
    }

    /// Takes a new key; returns the time of the entry.
    fn succeed(&mut self, outer: Signed, named_by: NamedBy) -> Result<String, EntryFault> {
        let Succession { statement, .. } = shaped(outer.members)?;
        let inner = signed(&statement)?;
        let later: Later = shaped(inner.members)?;
        own_word(&inner.did, &inner.created, &later.key, &later.from)?;
        self.follows(later.previous)?;
        if self.term(&inner.key).is_some() {
            return Err(EntryFault::KeyTwice(inner.did));
        }
        let before = self.in_force();
        match named_by {
            NamedBy::Recovery if self.is_recovery(&outer.key) => {}
            NamedBy::Recovery => return Err(other_signer(outer.did, "the recovery key")),
            _ => {
                if outer.key != before.key {
                    let allowed = format!("the key in force ({})", before.key.fingerprint());
                    return Err(other_signer(outer.did, &allowed));
                }
                if before.revoked.is_some() {
                    return Err(other_signer(
                        outer.did,
                        "the recovery key, since the key in force is revoked,",
                    ));
                }
            }
        }
        if outer.created != later.from {
            return Err(EntryFault::OtherTime {
                created: outer.created,
                from: later.from,
            });
        }
        if later.from <= before.from {
            return Err(EntryFault::NotLater {
                from: later.from,
                before: before.from.clone(),
            });
        }
        self.runs_on(&later.from)?;
        let term = Term {
            key: inner.key,
            from: later.from.clone(),
            until: None,
            reason: later.reason,
            named_by,
            recovery_digest: later.recovery_digest,
            revoked: None,
        };
        let before = self.later.last_mut().unwrap_or(&mut self.first);
        before.until = Some(later.from.clone());
        self.later.push(term);
        Ok(later.from)
    }

    /// Takes a revocation; returns the time of the entry.
    fn revoke_key(&mut self, outer: Signed) -> Result<String, EntryFault> {
        let Revoking {
            key,
            since,
            reason,
            previous,
            ..
        } = shaped(outer.members)?;
        self.follows(previous)?;
        let in_force = self.in_force();
        let by_key = outer.key == in_force.key && in_force.revoked.is_none();
        if !by_key && !self.is_recovery(&outer.key) {
            let allowed = "the key in force, not revoked, or the recovery key";
            return Err(other_signer(outer.did, allowed));
        }
        self.runs_on(&outer.created)?;
        if !is_utc_time(&since) || since > outer.created {
            return Err(EntryFault::Since {
                since: shorten(&since),
                created: outer.created,
            });
        }
        let terms = std::iter::once(&mut self.first).chain(&mut self.later);
        // Whoever is named here is one key of one spelling, as everywhere.
        let named = PublicKey::from_did(&key).ok();
        let term = terms
            .into_iter()
            .find(|term| Some(term.key) == named)
            .ok_or_else(|| EntryFault::UnknownKey(shorten(&key)))?;
        if term.revoked.is_some() {
            return Err(EntryFault::RevokedTwice(key));
        }
        term.revoked = Some(Revocation {
            since,
            at: outer.created.clone(),
            reason,
        });
        Ok(outer.created)
    }

    fn is_recovery(&self, key: &PublicKey) -> bool {
        Digest::of(key.compressed()) == self.recovery_digest()
    }

    fn follows(&self, previous: Digest) -> Result<(), EntryFault> {
        match self.digests.last() {
            Some(last) if *last == previous => Ok(()),
            last => Err(EntryFault::Previous {
                found: previous.to_string(),
                right: last.map(Digest::to_string).unwrap_or_default(),
            }),
        }
    }

    fn runs_on(&self, time: &str) -> Result<(), EntryFault> {
        if time < self.last_time.as_str() {
            return Err(EntryFault::RunsBack {
                time: time.to_owned(),
                before: self.last_time.clone(),
            });
        }
        Ok(())
    }
}

/// Verifies the one proof of a document as that of a record is verified, and takes it off.
fn signed(document: &Value) -> Result<Signed, EntryFault> {
    let Verified {
        key,
        did,
        created,
        record_digest,
        low_s,
        ..
    } = proof::verify(document)?;
    proof::check_members(document)?;
    if !low_s {
        return Err(EntryFault::HighS);
    }
    if is_published(&key) {
        return Err(EntryFault::Published(did));
    }
    let created =
        created.ok_or_else(|| EntryFault::Shape("proof: `created` is missing".to_owned()))?;
    let mut members = document.clone();
    if let Some(members) = members.as_object_mut() {
        members.remove("proof");
    }
    Ok(Signed {
        members,
        digest: record_digest,
        key,
        did,
        created,
    })
}

fn shaped<T: serde::de::DeserializeOwned>(members: Value) -> Result<T, EntryFault> {
    serde_json::from_value(members).map_err(|error| EntryFault::Shape(error.to_string()))
}

/// A statement is signed by the key it names, at the time it gives.
fn own_word(did: &str, created: &str, key: &str, from: &str) -> Result<(), EntryFault> {
    if key != did {
        let allowed = format!("the key it names (`{}`)", shorten(key));
        return Err(other_signer(did.to_owned(), &allowed));
    }
    if created != from {
        return Err(EntryFault::OtherTime {
            created: created.to_owned(),
            from: shorten(from),
        });
    }
    Ok(())
}

fn other_signer(signer: String, allowed: &str) -> EntryFault {
    EntryFault::OtherSigner {
        signer,
        allowed: allowed.to_owned(),
    }
}
