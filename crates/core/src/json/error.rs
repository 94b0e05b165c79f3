//! What the strict reader refuses, and what to do about it.

use std::{borrow::Cow, fmt};

use super::{Position, scalar::MAX_SAFE_INTEGER};

/// Why an input was refused and where.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{position}: {kind}")]
pub struct JsonError {
    /// Where the refused thing starts. Columns are counted in Unicode scalar values.
    pub position: Position,
    /// What was found and what is allowed.
    pub kind: JsonErrorKind,
}

impl JsonError {
    /// Returns the next step for the person who holds the file.
    pub fn hint(&self) -> Cow<'static, str> {
        self.kind.hint()
    }
}

/// Everything the strict reader refuses. Texts found in the input are shortened and escaped.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum JsonErrorKind {
    /// The input has no value at all.
    #[error("found no value in {bytes} bytes; exactly one JSON value is allowed")]
    Empty {
        /// Length of the input, all of it white space.
        bytes: usize,
    },
    /// The input is larger than [`super::Limits::max_bytes`].
    #[error("the input has {found} bytes; at most {allowed} bytes are allowed")]
    TooLarge {
        /// Length of the input in bytes.
        found: usize,
        /// Largest length allowed in bytes.
        allowed: usize,
    },
    /// The input starts with U+FEFF.
    #[error("found a byte order mark (bytes EF BB BF); UTF-8 without one is allowed")]
    ByteOrderMark,
    /// The input is not UTF-8.
    #[error("found the byte {byte:02X}, which is not UTF-8 here; only UTF-8 text is allowed")]
    InvalidUtf8 {
        /// First byte that belongs to no character.
        byte: u8,
    },
    /// Arrays and objects are nested too deeply.
    #[error(
        "found an array or object inside {allowed} others; at most {allowed} levels are allowed"
    )]
    TooDeep {
        /// Most levels allowed.
        allowed: usize,
    },
    /// There are more values than [`super::Limits::max_values`].
    #[error("found more than {allowed} values; at most {allowed} values are allowed")]
    TooManyValues {
        /// Most values allowed.
        allowed: usize,
    },
    /// An object has the same key twice, compared after escapes are undone.
    #[error(
        "found the key `{key}` a second time, first at {first}; each key is allowed once in an object"
    )]
    DuplicateKey {
        /// The key, shortened for display.
        key: String,
        /// Where the key stands the first time.
        first: Position,
    },
    /// A key or string is not in Unicode Normalization Form C.
    #[error(
        "the {role} `{text}` is not in Unicode Normalization Form C: \
         character {index} is U+{found:04X}, U+{allowed:04X} is allowed there"
    )]
    NotNormalized {
        /// Key or string.
        role: StringRole,
        /// The text, shortened for display.
        text: String,
        /// First character that differs from form C, counted from 1.
        index: usize,
        /// Code point found there.
        found: u32,
        /// Code point that form C has there.
        allowed: u32,
    },
    /// An escape names one half of a surrogate pair.
    #[error(
        "found the lone surrogate `\\u{code:04x}`; surrogates are allowed only in pairs, high then low"
    )]
    LoneSurrogate {
        /// The surrogate.
        code: u16,
    },
    /// A control character stands unescaped in a string.
    #[error(
        "found the control character U+{code:04X} in a string; it is allowed only as an escape"
    )]
    ControlCharacter {
        /// Its code point.
        code: u8,
    },
    /// A string holds U+0000.
    #[error("found U+0000 in a string; it is not allowed, not even as an escape")]
    Nul,
    /// A string holds a code point that is permanently no character.
    #[error("found U+{code:04X} in a {role}, which is no character; only characters are allowed")]
    Noncharacter {
        /// Key or string.
        role: StringRole,
        /// The code point.
        code: u32,
    },
    /// A backslash is followed by something that is no escape.
    #[error(
        "found the escape `{found}`; `\\\"`, `\\\\`, `\\/`, `\\b`, `\\f`, `\\n`, `\\r`, `\\t` \
         and `\\u` with four hexadecimal digits are allowed"
    )]
    Escape {
        /// The escape as written.
        found: String,
    },
    /// A number is not written as a plain safe integer.
    #[error("found `{found}`, {problem}")]
    Number {
        /// The number as written.
        found: String,
        /// What is wrong with it and what is allowed.
        problem: NumberProblem,
    },
    /// The input has a comment.
    #[error("found a comment; JSON allows none")]
    Comment,
    /// A comma is followed by the end of its array or object.
    #[error("found a comma before `{end}`; a comma is allowed only between two entries")]
    TrailingComma {
        /// The bracket that follows.
        end: char,
    },
    /// Something follows the value.
    #[error("found `{found}` after the value; only white space is allowed there")]
    TrailingBytes {
        /// What stands there.
        found: String,
    },
    /// The input ends inside a string, array or object.
    #[error("the input ends inside the {what} opened at {opened}; {allowed} is allowed here")]
    Unterminated {
        /// String, array or object.
        what: &'static str,
        /// Where it starts.
        opened: Position,
        /// What would have been allowed next.
        allowed: &'static str,
    },
    /// Something else stands where the grammar has no place for it.
    #[error("found `{found}`; {allowed} is allowed here")]
    Unexpected {
        /// What stands there.
        found: String,
        /// What would have been allowed.
        allowed: &'static str,
    },
}

/// Whether a text is the key of an object member or a string value.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StringRole {
    /// Key of an object member.
    Key,
    /// String value.
    String,
}

impl fmt::Display for StringRole {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Key => "key",
            Self::String => "string",
        })
    }
}

/// Why a number is refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NumberProblem {
    /// It has a decimal point.
    Fraction,
    /// It has an exponent.
    Exponent,
    /// It is minus zero.
    NegativeZero,
    /// It starts with a needless zero.
    LeadingZero,
    /// It starts with a plus sign.
    PlusSign,
    /// Its magnitude is above 2^53 - 1.
    OutOfRange,
    /// It is not a number or infinite.
    NotFinite,
    /// It is hexadecimal, has no digits, or has letters or signs among them.
    NotDecimal,
}

impl fmt::Display for NumberProblem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let integers = "only whole numbers without a decimal point or exponent are allowed";
        match self {
            Self::Fraction => write!(f, "which has a decimal point; {integers}"),
            Self::Exponent => write!(f, "which has an exponent; {integers}"),
            Self::NegativeZero => f.write_str("which is minus zero; `0` is allowed"),
            Self::LeadingZero => {
                f.write_str("which starts with a needless `0`; digits without one are allowed")
            }
            Self::PlusSign => f.write_str("which starts with `+`; digits without it are allowed"),
            Self::OutOfRange => {
                let most = MAX_SAFE_INTEGER;
                write!(f, "which is out of range; -{most} to {most} is allowed")
            }
            Self::NotFinite => write!(f, "which is no finite number; {integers}"),
            Self::NotDecimal => f.write_str(
                "which is no decimal number; an optional `-` and decimal digits are allowed",
            ),
        }
    }
}

impl JsonErrorKind {
    /// Returns the next step for the person who holds the file.
    pub fn hint(&self) -> Cow<'static, str> {
        let fixed = match self {
            Self::Empty { .. } => {
                "check that this is the file you meant, and that it was copied whole"
            }
            Self::TooLarge { .. } => {
                "check that this is a record or sheet; photos and PDF files are handed over beside it"
            }
            Self::ByteOrderMark => "save the file as UTF-8 without a byte order mark (BOM)",
            Self::InvalidUtf8 { .. } => "save the file as UTF-8",
            Self::TooDeep { .. } => "take arrays and objects apart until they are less nested",
            Self::TooManyValues { .. } => "split the file into smaller ones",
            Self::DuplicateKey { .. } => "remove one of the two, or rename it",
            Self::NotNormalized { .. } => {
                "save the text in form C (NFC), where a letter and its accent are one character"
            }
            Self::LoneSurrogate { .. } => {
                "write the character itself in UTF-8 instead of an escape"
            }
            Self::ControlCharacter { code: b'\n' } => "write a line break in a string as `\\n`",
            Self::ControlCharacter { code: b'\t' } => "write a tab in a string as `\\t`",
            Self::Nul | Self::Noncharacter { .. } => "remove the character",
            Self::ControlCharacter { code } => {
                return format!("remove the character or write it as `\\u{code:04x}`").into();
            }
            Self::Escape { found } if found.starts_with("\\u") => {
                "write four hexadecimal digits after `\\u`, or the character itself"
            }
            Self::Escape { .. } => "write a backslash that is part of the text as `\\\\`",
            Self::Number { found, problem } => return problem.hint(found),
            Self::Comment => "remove the comment, or keep the text in a field made for notes",
            Self::TrailingComma { .. } => "remove the comma",
            Self::TrailingBytes { .. } => {
                "remove everything after the value; one file holds one value"
            }
            Self::Unterminated { .. } => {
                "check that the file was copied whole, then close what is open"
            }
            Self::Unexpected { found, .. } => return unexpected_hint(found).into(),
        };
        fixed.into()
    }
}

impl NumberProblem {
    fn hint(self, found: &str) -> Cow<'static, str> {
        match self {
            Self::Fraction if is_plain_decimal(found) => {
                format!("write decimals as strings: `\"{found}\"`").into()
            }
            Self::Fraction | Self::Exponent | Self::OutOfRange => {
                "write decimals and large numbers as strings of plain digits, such as `\"701.5\"`"
                    .into()
            }
            Self::NegativeZero => "write `0`".into(),
            Self::LeadingZero => {
                "remove the leading `0`, or write an identifier as a string in quotation marks"
                    .into()
            }
            Self::PlusSign => "remove the `+`".into(),
            Self::NotFinite => {
                "leave the field out, or write `null` where the field allows it".into()
            }
            Self::NotDecimal => {
                "write decimal digits, or put text in double quotation marks".into()
            }
        }
    }
}

/// Whether the text is digits, a point and digits, so that quotation marks make it a good string.
fn is_plain_decimal(found: &str) -> bool {
    let digits = |part: &str| !part.is_empty() && part.bytes().all(|byte| byte.is_ascii_digit());
    let magnitude = found.strip_prefix('-').unwrap_or(found);
    magnitude
        .split_once('.')
        .is_some_and(|(whole, part)| digits(whole) && digits(part))
}

fn unexpected_hint(found: &str) -> &'static str {
    match found {
        "True" | "TRUE" => "write `true`",
        "False" | "FALSE" => "write `false`",
        "None" | "Null" | "NULL" | "nil" | "undefined" => "write `null`",
        _ if found.starts_with("\\u{") || found.starts_with("\\0") => {
            "remove the invisible character, or put an ordinary space in its place"
        }
        _ if found.starts_with(['\'', '\u{2018}', '\u{201c}', '\u{201d}']) => {
            "put texts and keys in straight double quotation marks (U+0022)"
        }
        _ if found.starts_with(|c: char| c.is_alphabetic() || c == '_') => {
            "put texts and keys in double quotation marks"
        }
        _ => "look for a missing comma, colon, quotation mark or bracket just before this place",
    }
}

/// Most characters of the input that an error text repeats.
const EXCERPT_CHARACTERS: usize = 40;

/// Shortens text from the input and escapes what would not show, or would move other text.
pub(super) fn excerpt(text: &str) -> String {
    let mut shown = String::new();
    for (index, character) in text.chars().enumerate() {
        if index == EXCERPT_CHARACTERS {
            shown.push('…');
            break;
        }
        match character {
            '"' | '\'' | '\\' => shown.push(character),
            _ => shown.extend(character.escape_debug()),
        }
    }
    shown
}
