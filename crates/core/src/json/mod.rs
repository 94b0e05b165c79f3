//! Strict JSON reader and canonical bytes.
//!
//! Two readers of one file must see the same record, so everything on which JSON readers are known
//! to disagree is refused here, before a schema or a digest is looked at: keys given twice, text
//! outside Unicode Normalization Form C, numbers that are not plain safe integers, and so on (the
//! list is [`JsonErrorKind`]). What is left has exactly one meaning and, through
//! [`canonical_bytes`], exactly one spelling.
//!
//! Source: RFC 8259 (JSON), RFC 7493 (I-JSON), RFC 8785 (JSON Canonicalization Scheme).
//!
//! ```
//! use tangmark_core::json::{Limits, canonical_bytes, read};
//!
//! let document = read(b"{\"b\": \"68.1\",\n \"a\": [1, 2]}", &Limits::default())?;
//! assert_eq!(canonical_bytes(&document.value)?, br#"{"a":[1,2],"b":"68.1"}"#);
//! let second = document.positions.get("/a/1").map(|at| (at.line, at.column));
//! assert_eq!(second, Some((2, 11)));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod canonical;
mod error;
mod position;
mod reader;
mod scalar;
#[cfg(test)]
mod tests;

pub use canonical::{CanonicalError, canonical_bytes};
pub use error::{JsonError, JsonErrorKind, NumberProblem, StringRole};
use position::{NoRecorder, Recorder, TreeRecorder};
pub use position::{Position, Positions, line_column};
use reader::Reader;
use serde_json::Value;

/// Deepest nesting that is read or written whatever [`Limits::max_depth`] says, in containers.
///
/// Reading, writing and dropping a value use the call stack; this keeps all three far from its end.
pub const DEPTH_CEILING: usize = 128;

/// How much a reader accepts before it looks closer.
///
/// The defaults are workshop practice: a record is a few dozen kilobytes, twelve levels deep.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// Largest input, in bytes. Default 16 MiB.
    pub max_bytes: usize,
    /// Deepest nesting of arrays and objects, in containers; never more than [`DEPTH_CEILING`].
    /// Default 32.
    pub max_depth: usize,
    /// Most values of any kind in the input, because a value of three bytes can take hundreds in
    /// memory. Default 200 000.
    pub max_values: usize,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            max_bytes: 16 * 1024 * 1024,
            max_depth: 32,
            max_values: 200_000,
        }
    }
}

/// A value together with where each part of it stands in the input.
#[derive(Debug, Clone, PartialEq)]
pub struct Document {
    /// The value read. Its numbers are safe integers, its strings and keys are in form C.
    pub value: Value,
    /// Line and column of every value and key.
    pub positions: Positions,
}

/// Reads one JSON value and where its parts stand.
///
/// # Errors
///
/// The first thing that is not allowed, with its line and column.
pub fn read(bytes: &[u8], limits: &Limits) -> Result<Document, JsonError> {
    let (value, recorder) = read_with(bytes, limits, TreeRecorder::default())?;
    Ok(Document {
        value,
        positions: recorder.into_positions(),
    })
}

/// Reads one JSON value without positions, several times faster than [`read`].
///
/// Accepts and refuses the same inputs as [`read`], with the same errors.
///
/// # Errors
///
/// The first thing that is not allowed, with its line and column.
pub fn read_value(bytes: &[u8], limits: &Limits) -> Result<Value, JsonError> {
    read_with(bytes, limits, NoRecorder).map(|(value, _)| value)
}

fn read_with<R: Recorder>(
    bytes: &[u8],
    limits: &Limits,
    recorder: R,
) -> Result<(Value, R), JsonError> {
    let fault = |offset, kind| JsonError {
        position: line_column(bytes, offset),
        kind,
    };
    // Size first: nothing else is bounded before it.
    if bytes.len() > limits.max_bytes {
        let kind = JsonErrorKind::TooLarge {
            found: bytes.len(),
            allowed: limits.max_bytes,
        };
        return Err(fault(0, kind));
    }
    if bytes.starts_with(b"\xEF\xBB\xBF") {
        return Err(fault(0, JsonErrorKind::ByteOrderMark));
    }
    let text = std::str::from_utf8(bytes).map_err(|error| {
        let offset = error.valid_up_to();
        fault(
            offset,
            JsonErrorKind::InvalidUtf8 {
                byte: bytes.get(offset).copied().unwrap_or(0),
            },
        )
    })?;
    Reader::new(text, limits, recorder)
        .document()
        .map_err(|found| {
            let (offset, kind) = found.into_parts();
            fault(offset, kind)
        })
}
