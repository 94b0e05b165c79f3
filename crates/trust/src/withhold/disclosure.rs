//! One disclosure, and the file that holds those handed on.

use std::fmt;

use base64::{Engine as _, engine::general_purpose::URL_SAFE_NO_PAD};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use tangmark_core::json::{JsonError, Limits, read_value};

use super::{ALGORITHM, DIGESTS, ELEMENT, SALT_LENGTH, digest_of};
use crate::key::shorten;

/// The one value of a disclosure file's `format`.
pub const FORMAT: &str = "tangmark disclosures 1";

/// Shows one withheld value. Whoever has it can read the value: it is as private as the value itself.
#[derive(Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Disclosure {
    /// Where the value belongs, as a JSON pointer (RFC 6901).
    pub path: String,
    /// Base64url of the JSON array of salt, name and value. Source: RFC 9901, 4.2.1.
    pub disclosure: String,
}

impl fmt::Debug for Disclosure {
    /// Leaves the value out, so that it never gets into a message.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Disclosure({})", self.path)
    }
}

impl Disclosure {
    pub(super) fn new(path: String, salt: &[u8; SALT_LENGTH], name: &str, value: &Value) -> Self {
        let array = Value::from(vec![
            Value::from(URL_SAFE_NO_PAD.encode(salt)),
            Value::from(name),
            value.clone(),
        ]);
        Self {
            path,
            disclosure: URL_SAFE_NO_PAD.encode(array.to_string()),
        }
    }

    /// The digest that stands in `_sd` for it. Source: RFC 9901, 4.2.3.
    pub fn digest(&self) -> String {
        digest_of(&self.disclosure)
    }

    /// The value it shows, where it is put together as the standard says.
    pub fn value(&self) -> Option<Value> {
        self.open(1).ok().map(|(_, _, value)| value)
    }

    /// Takes it apart into salt, name and value. `number` counts from 1.
    pub(super) fn open(&self, number: usize) -> Result<(String, String, Value), DisclosureError> {
        let refused = |problem| DisclosureError::Malformed { number, problem };
        let bytes = URL_SAFE_NO_PAD
            .decode(&self.disclosure)
            .map_err(|_| refused("it is not base64url without padding"))?;
        let value = read_value(&bytes, &Limits::default())
            .map_err(|_| refused("it holds no strict JSON"))?;
        let Value::Array(parts) = value else {
            return Err(refused("it holds no array of salt, name and value"));
        };
        let Ok([salt, name, value]) = <[Value; 3]>::try_from(parts) else {
            return Err(refused(
                "its array has not the three members salt, name and value",
            ));
        };
        let (Value::String(salt), Value::String(name)) = (salt, name) else {
            return Err(refused("its salt or name is no text"));
        };
        if URL_SAFE_NO_PAD.decode(&salt).map_or(0, |salt| salt.len()) != SALT_LENGTH {
            return Err(refused("its salt is not the base64url of 16 bytes"));
        }
        if [DIGESTS, ALGORITHM, ELEMENT].contains(&name.as_str()) {
            return Err(refused(
                "it has a name that is reserved: `_sd`, `_sd_alg` or `...`",
            ));
        }
        Ok((salt, name, value))
    }
}

/// Why disclosures, or the digests they refer to, were refused. No withheld value is ever repeated.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum DisclosureError {
    /// The file is no strict JSON.
    #[error("disclosures: {0}")]
    Json(#[from] JsonError),
    /// A field is missing, unknown or of the wrong kind.
    #[error(
        "disclosures: not an object with `format` and `disclosures` (each with `path` and `disclosure`)"
    )]
    Shape,
    /// Another format or a later version of this one.
    #[error("disclosures: format `{0}`, `{FORMAT}` allowed")]
    Format(String),
    /// A disclosure is not put together as the standard says.
    #[error("disclosure {number}: {problem}")]
    Malformed {
        /// Counted from 1.
        number: usize,
        /// What is wrong.
        problem: &'static str,
    },
    /// The same disclosure twice.
    #[error("disclosure {number}: given twice")]
    Twice {
        /// Counted from 1.
        number: usize,
    },
    /// Two disclosures share a salt, so that one gives the other away.
    #[error("disclosure {number}: its salt is that of an earlier one, every salt must be new")]
    SaltReused {
        /// Counted from 1.
        number: usize,
    },
    /// The record has no digest of it: altered, or made for another record.
    #[error(
        "disclosure {number}: the record has no digest of it, so it was altered or belongs to another record"
    )]
    Unreferenced {
        /// Counted from 1.
        number: usize,
    },
    /// It belongs elsewhere than its path says.
    #[error(
        "disclosure {number}: says it belongs at `{said}`, the record has its digest at `{found}`"
    )]
    PathDiffers {
        /// Counted from 1.
        number: usize,
        /// As the disclosure has it, shortened.
        said: String,
        /// Where its digest stands.
        found: String,
    },
    /// A value of that name stands in the record in clear.
    #[error("disclosure {number}: the record shows a value at `{path}` already")]
    Shadows {
        /// Counted from 1.
        number: usize,
        /// Where.
        path: String,
    },
    /// The name is not on the closed list for this object.
    #[error("disclosure {number}: `{path}` is no value that can be withheld")]
    NotOnTheList {
        /// Counted from 1.
        number: usize,
        /// Where.
        path: String,
    },
    /// The same digest stands twice in the record.
    #[error("{path}: a digest that stands in the record twice")]
    DigestTwice {
        /// Where the second one is.
        path: String,
    },
    /// The digests of an object are not as they must be.
    #[error("{path}: {problem}")]
    Digests {
        /// Which object or member.
        path: String,
        /// What is wrong.
        problem: &'static str,
    },
    /// An object has another number of digests than withholdable properties.
    #[error("{path}: {found} digests, exactly {allowed} allowed")]
    Count {
        /// Which `_sd`.
        path: String,
        /// Digests found.
        found: usize,
        /// Digests allowed.
        allowed: usize,
    },
}

impl DisclosureError {
    /// The next step, where there is one.
    pub fn hint(&self) -> Option<&'static str> {
        match self {
            Self::Unreferenced { .. } | Self::PathDiffers { .. } => {
                Some("use the disclosures that were handed over with this very record")
            }
            Self::Twice { .. } => Some("leave the second one out"),
            _ => None,
        }
    }
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct File<T> {
    format: String,
    disclosures: T,
}

/// Reads a file of disclosures.
///
/// # Errors
/// When it is no strict JSON or has other fields than [`print_file`] writes.
pub fn parse_file(bytes: &[u8]) -> Result<Vec<Disclosure>, DisclosureError> {
    let value = read_value(bytes, &Limits::default())?;
    // The library's message would repeat what the file holds.
    let file: File<Vec<Disclosure>> =
        serde_json::from_value(value).map_err(|_| DisclosureError::Shape)?;
    if file.format == FORMAT {
        Ok(file.disclosures)
    } else {
        Err(DisclosureError::Format(shorten(&file.format)))
    }
}

/// Writes a file of disclosures: all of them for oneself, or those to hand on.
///
/// # Errors
/// None in practice: every field is text.
pub fn print_file(disclosures: &[Disclosure]) -> Result<String, DisclosureError> {
    let file = File {
        format: FORMAT.to_owned(),
        disclosures,
    };
    let mut text = serde_json::to_string_pretty(&file).map_err(|_| DisclosureError::Shape)?;
    text.push('\n');
    Ok(text)
}
