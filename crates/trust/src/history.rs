//! The key history of a workshop: which key it signed with from when on, and the recovery key's digest.
//!
//! Each entry is a document of its own with an ecdsa-jcs-2019 proof by the key it names, so anything that
//! verifies a record's proof verifies an entry too. This version knows the first entry only.

use serde::{Deserialize, Serialize};
use serde_json::Value;
use tangmark_core::{
    Digest,
    json::{JsonError, Limits, read_value},
};

use crate::{
    key::{PrivateKey, PublicKey, shorten},
    proof::{self, PolicyError, ProofError},
};

/// The one value of a file's `format`.
pub const FORMAT: &str = "tangmark key history 1";

/// What the first entry of a key history says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FirstKey {
    /// The key.
    pub key: PublicKey,
    /// From when on it signs, UTC.
    pub from: String,
    /// Why it was made, in the workshop's words.
    pub reason: String,
    /// SHA-256 over the compressed point of the recovery key.
    pub recovery_digest: Digest,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    format: String,
    entries: Vec<Value>,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Entry {
    key: String,
    from: String,
    reason: String,
    recovery_digest: Digest,
}

/// Why a key history was refused.
#[derive(Debug, thiserror::Error)]
pub enum HistoryError {
    /// The file is no strict JSON.
    #[error("key history: {0}")]
    Json(#[from] JsonError),
    /// A field is missing, unknown or of the wrong kind.
    #[error("key history: {0}")]
    Shape(String),
    /// Another format or a later version of this one.
    #[error("key history: format `{0}`, `{FORMAT}` allowed")]
    Format(String),
    /// None or more than one entry.
    #[error("key history: {found} entries, exactly one allowed in this version")]
    Entries {
        /// Entries found.
        found: usize,
    },
    /// The entry's proof does not hold.
    #[error("key history: first entry: {0}")]
    Proof(#[from] ProofError),
    /// The entry or its proof has members that ours do not have.
    #[error("key history: first entry: {0}")]
    Members(#[from] PolicyError),
    /// The entry is signed by another key than the one it names.
    #[error("key history: first entry names `{named}`, but `{signer}` signed it")]
    OtherSigner {
        /// The key named, shortened.
        named: String,
        /// The did:key of the signer.
        signer: String,
    },
    /// The proof gives another time than the entry, or is marked for another use.
    #[error(
        "key history: first entry: proof made at `{created}`, `from` is `{from}`; both must be the same"
    )]
    OtherTime {
        /// As the proof has it.
        created: String,
        /// As the entry has it, shortened.
        from: String,
    },
}

impl HistoryError {
    /// The next step, where there is one.
    pub fn hint(&self) -> Option<&'static str> {
        match self {
            Self::Format(_) | Self::Entries { .. } => {
                Some("read it with a newer release of tangmark")
            }
            _ => Some(
                "ask the workshop for its key history again, and compare the fingerprint with its card",
            ),
        }
    }
}

/// Writes a key history of one entry, signed by the key itself. `from` is a UTC time.
///
/// # Errors
/// When `from` is no UTC time in the spelling of records.
pub fn first_entry(
    key: &PrivateKey,
    from: &str,
    reason: &str,
    recovery_digest: Digest,
) -> Result<String, HistoryError> {
    let entry = Entry {
        key: key.public_key().did_key(),
        from: from.to_owned(),
        reason: reason.to_owned(),
        recovery_digest,
    };
    let shape = |error: serde_json::Error| HistoryError::Shape(error.to_string());
    let signed = proof::sign(&serde_json::to_value(entry).map_err(shape)?, key, from)?;
    let file = File {
        format: FORMAT.to_owned(),
        entries: vec![signed],
    };
    let mut text = serde_json::to_string_pretty(&file).map_err(shape)?;
    text.push('\n');
    Ok(text)
}

/// Reads and verifies a key history.
///
/// # Errors
/// The first thing that is not as [`first_entry`] writes it.
pub fn read(bytes: &[u8]) -> Result<FirstKey, HistoryError> {
    let limits = Limits {
        max_bytes: 64 * 1024,
        ..Limits::default()
    };
    let shape = |error: serde_json::Error| HistoryError::Shape(error.to_string());
    let file: File = serde_json::from_value(read_value(bytes, &limits)?).map_err(shape)?;
    if file.format != FORMAT {
        return Err(HistoryError::Format(shorten(&file.format)));
    }
    let [document] = file.entries.as_slice() else {
        return Err(HistoryError::Entries {
            found: file.entries.len(),
        });
    };
    let verified = proof::verify(document)?;
    proof::check_members(document)?;
    let mut unsigned = document.clone();
    if let Some(members) = unsigned.as_object_mut() {
        members.remove("proof");
    }
    let entry: Entry = serde_json::from_value(unsigned).map_err(shape)?;
    let signer = verified.key.did_key();
    if entry.key != signer {
        return Err(HistoryError::OtherSigner {
            named: shorten(&entry.key),
            signer,
        });
    }
    if verified.created.as_deref() != Some(entry.from.as_str()) {
        let created = verified.created.unwrap_or_else(|| "missing".to_owned());
        return Err(HistoryError::OtherTime {
            created,
            from: shorten(&entry.from),
        });
    }
    Ok(FirstKey {
        key: verified.key,
        from: entry.from,
        reason: entry.reason,
        recovery_digest: entry.recovery_digest,
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn key(byte: u8) -> PrivateKey {
        PrivateKey::from_entropy([byte; 32]).unwrap()
    }

    fn sound() -> String {
        first_entry(
            &key(1),
            "2026-03-01T09:30:00Z",
            "first key",
            Digest::of(b"recovery"),
        )
        .unwrap()
    }

    #[test]
    fn what_is_written_reads_back() {
        let first = read(sound().as_bytes()).unwrap();
        assert_eq!(first.key, key(1).public_key());
        assert_eq!(
            (first.from.as_str(), first.reason.as_str()),
            ("2026-03-01T09:30:00Z", "first key")
        );
        assert_eq!(first.recovery_digest, Digest::of(b"recovery"));
        assert_eq!(sound(), sound());
    }

    #[test]
    fn any_change_is_refused() {
        let text = sound();
        let mut refused = 0;
        for (from, to) in [
            ("first key", "first  key"),
            (
                "2026-03-01T09:30:00Z\",\n      \"key",
                "2026-03-01T09:30:01Z\",\n      \"key",
            ),
            (FORMAT, "tangmark key history 2"),
            ("\"entries\"", "\"more\": 1, \"entries\""),
            ("\"reason\"", "\"until\": \"2027\", \"reason\""),
            ("\"recovery_digest\": \"", "\"recovery_digest\": \"0"),
        ] {
            assert!(text.contains(from), "{from}");
            let changed = text.replacen(from, to, 1);
            assert!(read(changed.as_bytes()).is_err(), "{to}");
            refused += 1;
        }
        assert_eq!(refused, 6);
        assert_eq!(
            read(b"{\"format\":\"tangmark key history 1\",\"entries\":[]}")
                .unwrap_err()
                .to_string(),
            "key history: 0 entries, exactly one allowed in this version"
        );
    }

    #[test]
    fn an_entry_signed_by_another_key_is_refused() {
        let file: Value = serde_json::from_str(&sound()).unwrap();
        let mut entry = file["entries"][0].clone();
        entry.as_object_mut().unwrap().remove("proof");
        let signed = proof::sign(&entry, &key(2), "2026-03-01T09:30:00Z").unwrap();
        let forged = serde_json::json!({"format": FORMAT, "entries": [signed]}).to_string();
        let error = read(forged.as_bytes()).unwrap_err();
        assert!(matches!(error, HistoryError::OtherSigner { .. }), "{error}");
    }
}
