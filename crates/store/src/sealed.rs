//! Reads from an object's bytes what the index keeps of a sealed record or of an attachment note.

use serde_json::Value;
use tangmark_core::{
    Digest,
    json::{Limits, canonical_bytes, read_value},
};

use crate::{Attachment, Role, StoreError, text};

/// What the index keeps of a sealed record, all of it read from the sealed bytes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RecordFacts {
    /// The record's name: SHA-256 over its canonical bytes without `proof`.
    pub name: Digest,
    /// SHA-256 over the sealed bytes.
    pub object: Digest,
    /// Blade.
    pub blade: String,
    /// Place in the blade's chain, from 1.
    pub sequence: u64,
    /// Name of the record before it.
    pub previous: Option<Digest>,
    /// The record's own id.
    pub record_id: String,
    /// Why it was issued.
    pub purpose: String,
    /// did:key of the issuer.
    pub issuer: String,
    /// When it says it was issued.
    pub issued_at: String,
    /// Verdict of its decision.
    pub decision: Option<String>,
    /// Findings that stop, less those that an override or an answer in it names.
    pub stops: u64,
}

/// Reads the facts of a sealed record. Nothing is verified but the form: the bytes are their own canonical form
/// (RFC 8785, read strictly) and the fields of the chain are there.
pub fn read_record(bytes: &[u8]) -> Result<RecordFacts, StoreError> {
    let refuse = |reason: &str| StoreError::NotARecord {
        reason: reason.to_owned(),
    };
    let value = read_value(bytes, &Limits::default()).map_err(|error| StoreError::NotARecord {
        reason: error.to_string(),
    })?;
    if canonical_bytes(&value).ok().as_deref() != Some(bytes) {
        return Err(refuse(
            "the bytes are not their own canonical form (RFC 8785)",
        ));
    }
    let Value::Object(mut record) = value else {
        return Err(refuse("not a JSON object"));
    };
    if !record.contains_key("schema") {
        return Err(refuse("`schema` is missing"));
    }
    if record.remove("proof").is_none() {
        return Err(refuse("`proof` is missing"));
    }
    let record = Value::Object(record);
    let text = |pointer: &str| {
        let found = record.pointer(pointer).and_then(Value::as_str);
        found
            .map(str::to_owned)
            .ok_or_else(|| StoreError::NotARecord {
                reason: format!("`{pointer}` is not a text"),
            })
    };
    let sequence = record
        .get("sequence")
        .and_then(Value::as_u64)
        .filter(|sequence| (1..=u64::from(u32::MAX)).contains(sequence));
    let sequence = sequence.ok_or_else(|| refuse("`/sequence` is not a whole number from 1"))?;
    let previous = match record.get("previous") {
        Some(Value::Null) => None,
        Some(Value::String(digest)) => Some(
            digest
                .parse()
                .map_err(|_| refuse("`/previous` is neither null nor a digest"))?,
        ),
        _ => return Err(refuse("`/previous` is neither null nor a digest")),
    };
    if previous.is_some() != (sequence > 1) {
        return Err(refuse(
            "`/previous` is null exactly in the first record of a blade",
        ));
    }
    let without_proof = canonical_bytes(&record).map_err(|error| refuse(&error.to_string()))?;
    let facts = RecordFacts {
        name: Digest::of(&without_proof),
        object: Digest::of(bytes),
        blade: text("/blade/id")?,
        sequence,
        previous,
        record_id: text("/record_id")?,
        purpose: text("/purpose")?,
        issuer: text("/issuer/id")?,
        issued_at: text("/issued_at")?,
        decision: text("/decision/verdict").ok(),
        stops: stops(&record),
    };
    text::blade_id(&facts.blade).map_err(|error| StoreError::NotARecord {
        reason: format!("`/blade/id`: {error}"),
    })?;
    text::time("`/issued_at`", &facts.issued_at).map_err(|error| StoreError::NotARecord {
        reason: error.to_string(),
    })?;
    Ok(facts)
}

/// The passes of a sealed record, as it says them; none where the bytes are no record.
pub(crate) fn passes(bytes: &[u8]) -> Vec<Value> {
    match read_value(bytes, &Limits::default()) {
        Ok(Value::Object(mut record)) => match record.remove("passes") {
            Some(Value::Array(passes)) => passes,
            _ => Vec::new(),
        },
        _ => Vec::new(),
    }
}

/// Counts the findings that stop and that nothing in the record answers.
fn stops(record: &Value) -> u64 {
    let list = |pointer: &str| record.pointer(pointer).and_then(Value::as_array);
    let answered: Vec<&str> = [list("/overrides"), list("/decision/answers")]
        .into_iter()
        .flatten()
        .flatten()
        .filter_map(|answer| answer["rule"].as_str())
        .collect();
    let stops = list("/findings").into_iter().flatten().filter(|finding| {
        let name = format!(
            "{}/{}",
            finding["plugin"].as_str().unwrap_or_default(),
            finding["rule"].as_str().unwrap_or_default()
        );
        finding["level"] == "stop" && !answered.contains(&name.as_str())
    });
    stops.count() as u64
}

/// Says whether bytes claim to be a record: a JSON object with the fields of a chain, sound or not.
pub(crate) fn claims_to_be_record(bytes: &[u8]) -> bool {
    bytes.first() == Some(&b'{')
        && serde_json::from_slice::<Value>(bytes).is_ok_and(|value| {
            ["schema", "record_id", "sequence", "previous"]
                .iter()
                .all(|field| value.get(field).is_some())
        })
}

/// Writes the note that ties an object to a record, so that the tie outlives the index.
pub(crate) fn write_link(attachment: &Attachment) -> Vec<u8> {
    // Already canonical: keys in order, hexadecimal digits and plain words only.
    format!(
        r#"{{"attachment":1,"object":"{}","record":"{}","role":"{}"}}"#,
        attachment.object, attachment.record, attachment.role
    )
    .into_bytes()
}

/// Reads such a note.
pub(crate) fn read_link(bytes: &[u8]) -> Option<Attachment> {
    if bytes.len() > 300 || !bytes.starts_with(br#"{"attachment":1,"#) {
        return None;
    }
    let value: Value = serde_json::from_slice(bytes).ok()?;
    let attachment = Attachment {
        record: value.get("record")?.as_str()?.parse().ok()?,
        object: value.get("object")?.as_str()?.parse().ok()?,
        role: Role::from_word(value.get("role")?.as_str()?).ok()?,
    };
    (write_link(&attachment) == bytes).then_some(attachment)
}
