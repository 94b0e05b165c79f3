//! Canonical bytes: the one spelling of a value that digests and signatures are made over.

use std::cmp::Ordering;
use std::io::Write as _;

use serde_json::{Map, Number, Value};

use super::{DEPTH_CEILING, scalar::MAX_SAFE_INTEGER};

/// A value has no canonical bytes.
#[derive(Debug, thiserror::Error)]
pub enum CanonicalError {
    /// An integer that not every reader would read back unchanged.
    #[error(
        "the integer {found} is out of range; -{MAX_SAFE_INTEGER} to {MAX_SAFE_INTEGER} is allowed"
    )]
    UnsafeInteger {
        /// The integer.
        found: Number,
    },
    /// Arrays and objects are nested deeper than [`DEPTH_CEILING`].
    #[error(
        "found an array or object inside {DEPTH_CEILING} others; at most {DEPTH_CEILING} levels are allowed"
    )]
    TooDeep,
    /// A number that is no integer could not be written.
    #[error("the number {found} has no canonical form; finite numbers are allowed")]
    Number {
        /// The number.
        found: Number,
        /// What the number writer said.
        source: serde_json::Error,
    },
}

impl CanonicalError {
    /// Returns the next step for the person who made the value.
    pub fn hint(&self) -> &'static str {
        match self {
            Self::UnsafeInteger { .. } | Self::Number { .. } => {
                "write decimals and large numbers as strings"
            }
            Self::TooDeep => "take arrays and objects apart until they are less nested",
        }
    }
}

/// Returns the RFC 8785 bytes of a value.
///
/// Values from the strict reader hold no number that is not an integer; others are accepted and
/// printed as RFC 8785 section 3.2.2.3 says. Integers outside ±(2^53 - 1) are refused, never rounded.
/// Text is written as it is: normalizing is the reader's business.
///
/// Written out here, not left to `serde_json_canonicalizer`, because that reads every key back to
/// sort it, and a verifier does little else than this; tests hold the two against each other.
///
/// # Errors
///
/// [`CanonicalError`] for integers out of range and nesting past [`DEPTH_CEILING`].
///
/// Source: RFC 8785.
pub fn canonical_bytes(value: &Value) -> Result<Vec<u8>, CanonicalError> {
    let mut out = Vec::with_capacity(512);
    write_value(&mut out, value, 0)?;
    Ok(out)
}

fn write_value(out: &mut Vec<u8>, value: &Value, depth: usize) -> Result<(), CanonicalError> {
    match value {
        Value::Null => out.extend_from_slice(b"null"),
        Value::Bool(true) => out.extend_from_slice(b"true"),
        Value::Bool(false) => out.extend_from_slice(b"false"),
        Value::Number(number) => write_number(out, number)?,
        Value::String(text) => write_string(out, text),
        Value::Array(_) | Value::Object(_) if depth == DEPTH_CEILING => {
            return Err(CanonicalError::TooDeep);
        }
        Value::Array(elements) => {
            out.push(b'[');
            for (index, element) in elements.iter().enumerate() {
                if index > 0 {
                    out.push(b',');
                }
                write_value(out, element, depth + 1)?;
            }
            out.push(b']');
        }
        Value::Object(members) => write_object(out, members, depth)?,
    }
    Ok(())
}

fn write_object(
    out: &mut Vec<u8>,
    members: &Map<String, Value>,
    depth: usize,
) -> Result<(), CanonicalError> {
    // The map's own order is by UTF-8 bytes, or by insertion, should a dependency switch that on.
    // Nearly always it is the right one already, and nothing need be collected.
    if members.keys().is_sorted_by(|a, b| compare(a, b).is_lt()) {
        return write_members(out, members.iter(), depth);
    }
    let mut sorted: Vec<(&String, &Value)> = members.iter().collect();
    sorted.sort_by(|(a, _), (b, _)| compare(a, b));
    write_members(out, sorted.into_iter(), depth)
}

/// Compares two keys by UTF-16 code units. Source: RFC 8785 section 3.2.3.
fn compare(a: &str, b: &str) -> Ordering {
    // In ASCII, bytes and code units have the same order.
    if a.is_ascii() && b.is_ascii() {
        a.cmp(b)
    } else {
        a.encode_utf16().cmp(b.encode_utf16())
    }
}

fn write_members<'v>(
    out: &mut Vec<u8>,
    members: impl Iterator<Item = (&'v String, &'v Value)>,
    depth: usize,
) -> Result<(), CanonicalError> {
    out.push(b'{');
    for (index, (key, value)) in members.enumerate() {
        if index > 0 {
            out.push(b',');
        }
        write_string(out, key);
        out.push(b':');
        write_value(out, value, depth + 1)?;
    }
    out.push(b'}');
    Ok(())
}

fn write_number(out: &mut Vec<u8>, number: &Number) -> Result<(), CanonicalError> {
    if let Some(integer) = number.as_i64() {
        if integer.unsigned_abs() > MAX_SAFE_INTEGER {
            return Err(CanonicalError::UnsafeInteger {
                found: number.clone(),
            });
        }
        // Writing to a vector cannot fail.
        let _ = write!(out, "{integer}");
        return Ok(());
    }
    if number.is_u64() {
        return Err(CanonicalError::UnsafeInteger {
            found: number.clone(),
        });
    }
    serde_json_canonicalizer::to_writer(number, out).map_err(|source| CanonicalError::Number {
        found: number.clone(),
        source,
    })
}

/// Writes a string with the shortest escapes. Source: RFC 8785 section 3.2.2.2.
fn write_string(out: &mut Vec<u8>, text: &str) {
    const HEXADECIMAL: [u8; 16] = *b"0123456789abcdef";
    let bytes = text.as_bytes();
    let escaped = |byte: u8| byte < 0x20 || byte == b'"' || byte == b'\\';
    out.push(b'"');
    // Without a branch for each byte, so that many are looked at in one step; nearly every text is plain.
    if !bytes.iter().fold(false, |any, byte| any | escaped(*byte)) {
        out.extend_from_slice(bytes);
        out.push(b'"');
        return;
    }
    let mut run = 0;
    for (at, &byte) in bytes.iter().enumerate() {
        if !escaped(byte) {
            continue;
        }
        out.extend_from_slice(&bytes[run..at]);
        run = at + 1;
        out.push(b'\\');
        match byte {
            b'"' | b'\\' => out.push(byte),
            0x08 => out.push(b'b'),
            b'\t' => out.push(b't'),
            b'\n' => out.push(b'n'),
            0x0c => out.push(b'f'),
            b'\r' => out.push(b'r'),
            _ => {
                let digits = [byte >> 4, byte & 0xf].map(|digit| HEXADECIMAL[usize::from(digit)]);
                out.extend_from_slice(b"u00");
                out.extend_from_slice(&digits);
            }
        }
    }
    out.extend_from_slice(&bytes[run..]);
    out.push(b'"');
}
