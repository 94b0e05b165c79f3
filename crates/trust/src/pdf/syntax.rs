//! The objects of a PDF, read strictly: what cannot be read in one way only is refused.
//!
//! Readers of PDF forgive a great deal, each in its own way, and two of them can then show two different
//! pages of one file. Here nothing is forgiven: no comments, no repeated keys, no missing separators.
//!
//! Source: ISO 32000-1, 7.2 and 7.3. From memory, text not read.

use std::{collections::BTreeMap, ops::Range};

/// The deepest nesting of arrays and dictionaries: a report needs less than ten.
const DEPTH_LIMIT: usize = 40;
/// The most values in a file; bounds the memory that a hostile file can claim. A report has some thousands.
const VALUE_LIMIT: usize = 1_000_000;
/// The largest object number. Source: ISO 32000-1, annex C, table C.1 (from memory).
const NUMBER_LIMIT: i64 = 8_388_607;

/// Why a file could not be read, and where.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct SyntaxError {
    /// Bytes from the beginning of the file.
    pub(super) offset: usize,
    /// What is wrong there.
    pub(super) what: &'static str,
}

/// A string with the place it was read from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Text {
    /// The characters, with escapes resolved.
    pub(super) bytes: Vec<u8>,
    /// From the opening to behind the closing bracket.
    pub(super) span: Range<usize>,
    /// Whether it is written in hexadecimal digits.
    pub(super) hexadecimal: bool,
}

/// A dictionary; a key stands in it once.
pub(super) type Dictionary = BTreeMap<Vec<u8>, Object>;

/// One object.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Object {
    Null,
    Boolean(bool),
    Integer(i64),
    /// A number with a decimal point, in thousandths; its value matters to no rule.
    Real(i64),
    Name(Vec<u8>),
    Text(Text),
    /// The items, and the place from `[` to behind `]`.
    Array(Vec<Object>, Range<usize>),
    Dictionary(Dictionary),
    /// The number of another object; the generation is always 0.
    Reference(u32),
}

impl Object {
    pub(super) fn is_name(&self, name: &str) -> bool {
        matches!(self, Self::Name(found) if found == name.as_bytes())
    }
}

/// Looks a key up that must hold an array in the dictionary itself.
pub(super) fn array<'a>(dictionary: &'a Dictionary, key: &str) -> Option<&'a [Object]> {
    match dictionary.get(key.as_bytes()) {
        Some(Object::Array(items, _)) => Some(items),
        _ => None,
    }
}

/// Looks a key up that must hold a name in the dictionary itself.
pub(super) fn name<'a>(dictionary: &'a Dictionary, key: &str) -> Option<&'a [u8]> {
    match dictionary.get(key.as_bytes()) {
        Some(Object::Name(name)) => Some(name),
        _ => None,
    }
}

/// Reads objects from a place in the file on.
pub(super) struct Reader<'a> {
    bytes: &'a [u8],
    /// Where the next byte is read.
    pub(super) position: usize,
    values: usize,
}

fn is_space(byte: u8) -> bool {
    matches!(byte, 0 | b'\t' | b'\n' | 0x0c | b'\r' | b' ')
}

fn is_delimiter(byte: u8) -> bool {
    matches!(
        byte,
        b'(' | b')' | b'<' | b'>' | b'[' | b']' | b'{' | b'}' | b'/' | b'%'
    )
}

fn hex_value(byte: u8) -> Option<u8> {
    char::from(byte)
        .to_digit(16)
        .and_then(|digit| u8::try_from(digit).ok())
}

/// Reads digits with one point, whose form was checked; what is beyond the third decimal is cut off.
fn thousandths(text: &str) -> i64 {
    let (whole, decimals) = text.split_once('.').unwrap_or((text, ""));
    let decimals: String = decimals.chars().chain("000".chars()).take(3).collect();
    let digits = format!("{}{decimals}", whole.trim_start_matches(['+', '-']));
    let size = digits.parse().unwrap_or(i64::MAX);
    if whole.starts_with('-') { -size } else { size }
}

impl<'a> Reader<'a> {
    pub(super) fn new(bytes: &'a [u8]) -> Self {
        Self {
            bytes,
            position: 0,
            values: 0,
        }
    }

    pub(super) fn error<T>(&self, what: &'static str) -> Result<T, SyntaxError> {
        Err(SyntaxError {
            offset: self.position,
            what,
        })
    }

    pub(super) fn peek(&self) -> Option<u8> {
        self.bytes.get(self.position).copied()
    }

    fn rest(&self) -> &'a [u8] {
        self.bytes.get(self.position..).unwrap_or_default()
    }

    pub(super) fn skip_space(&mut self) {
        while self.peek().is_some_and(is_space) {
            self.position += 1;
        }
    }

    /// Passes `word` if it comes next.
    pub(super) fn accept(&mut self, word: &[u8]) -> bool {
        let found = self.rest().starts_with(word);
        if found {
            self.position += word.len();
        }
        found
    }

    /// Passes `word`, which must end at a separator.
    pub(super) fn keyword(&mut self, word: &[u8], what: &'static str) -> Result<(), SyntaxError> {
        let start = self.position;
        if self.accept(word)
            && self
                .peek()
                .is_none_or(|byte| is_space(byte) || is_delimiter(byte))
        {
            Ok(())
        } else {
            self.position = start;
            self.error(what)
        }
    }

    /// Passes one end of line: LF, CR LF or CR.
    pub(super) fn end_of_line(&mut self) -> bool {
        self.accept(b"\r\n") || self.accept(b"\n") || self.accept(b"\r")
    }

    /// Reads decimal digits only.
    pub(super) fn digits(&mut self, what: &'static str) -> Result<i64, SyntaxError> {
        let count = self
            .rest()
            .iter()
            .take_while(|byte| byte.is_ascii_digit())
            .count();
        let digits = self
            .rest()
            .get(..count)
            .and_then(|digits| std::str::from_utf8(digits).ok());
        match digits.and_then(|digits| digits.parse().ok()) {
            Some(value) => {
                self.position += count;
                Ok(value)
            }
            None => self.error(what),
        }
    }

    /// Reads an object number.
    pub(super) fn number(&mut self) -> Result<u32, SyntaxError> {
        let start = self.position;
        let value = self.digits("an object number was expected")?;
        match u32::try_from(value) {
            Ok(number) if (1..=NUMBER_LIMIT).contains(&value) => Ok(number),
            _ => Err(SyntaxError {
                offset: start,
                what: "object number outside 1 to 8388607",
            }),
        }
    }

    /// Reads one object, blanks before it passed.
    pub(super) fn object(&mut self) -> Result<Object, SyntaxError> {
        self.nested(0)
    }

    fn nested(&mut self, depth: usize) -> Result<Object, SyntaxError> {
        self.skip_space();
        self.values += 1;
        if self.values > VALUE_LIMIT {
            return self.error("more than 1000000 values");
        }
        if depth > DEPTH_LIMIT {
            return self.error("arrays and dictionaries nested more than 40 deep");
        }
        match self.peek() {
            Some(b'/') => self.name().map(Object::Name),
            Some(b'(') => self.literal(),
            Some(b'[') => self.array(depth),
            Some(b'<') if self.rest().starts_with(b"<<") => {
                self.dictionary(depth).map(Object::Dictionary)
            }
            Some(b'<') => self.hexadecimal(),
            Some(b'+' | b'-' | b'.' | b'0'..=b'9') => self.number_or_reference(),
            Some(b't') => self
                .keyword(b"true", "unknown word")
                .map(|()| Object::Boolean(true)),
            Some(b'f') => self
                .keyword(b"false", "unknown word")
                .map(|()| Object::Boolean(false)),
            Some(b'n') => self.keyword(b"null", "unknown word").map(|()| Object::Null),
            _ => self.error("an object was expected"),
        }
    }

    fn name(&mut self) -> Result<Vec<u8>, SyntaxError> {
        self.position += 1;
        let mut name = Vec::new();
        while let Some(byte) = self
            .peek()
            .filter(|byte| !is_space(*byte) && !is_delimiter(*byte))
        {
            self.position += 1;
            if byte != b'#' {
                name.push(byte);
                continue;
            }
            let pair = self
                .rest()
                .get(..2)
                .map(|pair| (hex_value(pair[0]), hex_value(pair[1])));
            let Some((Some(high), Some(low))) = pair else {
                return self.error("`#` in a name without two hexadecimal digits");
            };
            name.push(high << 4 | low);
            self.position += 2;
        }
        Ok(name)
    }

    fn literal(&mut self) -> Result<Object, SyntaxError> {
        let start = self.position;
        self.position += 1;
        let (mut bytes, mut open) = (Vec::new(), 1_usize);
        while let Some(byte) = self.peek() {
            self.position += 1;
            match byte {
                b'\\' => self.escape(&mut bytes)?,
                b'(' => {
                    open += 1;
                    bytes.push(byte);
                }
                b')' if open == 1 => {
                    return Ok(Object::Text(Text {
                        bytes,
                        span: start..self.position,
                        hexadecimal: false,
                    }));
                }
                b')' => {
                    open -= 1;
                    bytes.push(byte);
                }
                _ => bytes.push(byte),
            }
        }
        self.error("string without its closing bracket")
    }

    fn escape(&mut self, bytes: &mut Vec<u8>) -> Result<(), SyntaxError> {
        let Some(byte) = self.peek() else {
            return self.error("string without its closing bracket");
        };
        if self.end_of_line() {
            return Ok(());
        }
        if matches!(byte, b'0'..=b'7') {
            let digits = self
                .rest()
                .iter()
                .take(3)
                .take_while(|digit| matches!(digit, b'0'..=b'7'))
                .count();
            let value = self
                .rest()
                .iter()
                .take(digits)
                .fold(0_u32, |value, digit| value * 8 + u32::from(digit - b'0'));
            let Ok(value) = u8::try_from(value) else {
                return self.error("octal escape above 377");
            };
            self.position += digits;
            bytes.push(value);
            return Ok(());
        }
        self.position += 1;
        bytes.push(match byte {
            b'n' => b'\n',
            b'r' => b'\r',
            b't' => b'\t',
            b'b' => 8,
            b'f' => 0x0c,
            b'(' | b')' | b'\\' => byte,
            _ => return self.error("unknown escape in a string"),
        });
        Ok(())
    }

    fn hexadecimal(&mut self) -> Result<Object, SyntaxError> {
        let start = self.position;
        self.position += 1;
        let digits = self
            .rest()
            .iter()
            .take_while(|byte| hex_value(**byte).is_some())
            .count();
        let written = self.rest().get(..digits).unwrap_or_default();
        self.position += digits;
        if self.peek() != Some(b'>') {
            return self.error("hexadecimal string with other characters than digits");
        }
        if digits % 2 == 1 {
            return self.error("hexadecimal string with an odd number of digits");
        }
        self.position += 1;
        let bytes = written
            .chunks_exact(2)
            .map(|pair| hex_value(pair[0]).unwrap_or(0) << 4 | hex_value(pair[1]).unwrap_or(0))
            .collect();
        Ok(Object::Text(Text {
            bytes,
            span: start..self.position,
            hexadecimal: true,
        }))
    }

    fn array(&mut self, depth: usize) -> Result<Object, SyntaxError> {
        let start = self.position;
        self.position += 1;
        let mut items = Vec::new();
        loop {
            self.skip_space();
            if self.accept(b"]") {
                return Ok(Object::Array(items, start..self.position));
            }
            items.push(self.nested(depth + 1)?);
        }
    }

    fn dictionary(&mut self, depth: usize) -> Result<Dictionary, SyntaxError> {
        self.position += 2;
        let mut entries = Dictionary::new();
        loop {
            self.skip_space();
            if self.accept(b">>") {
                return Ok(entries);
            }
            if self.peek() != Some(b'/') {
                return self.error("a key or `>>` was expected in a dictionary");
            }
            let place = self.position;
            let key = self.name()?;
            let value = self.nested(depth + 1)?;
            if entries.insert(key, value).is_some() {
                return Err(SyntaxError {
                    offset: place,
                    what: "the same key twice in a dictionary",
                });
            }
        }
    }

    fn number_or_reference(&mut self) -> Result<Object, SyntaxError> {
        let start = self.position;
        let token = self
            .rest()
            .iter()
            .take_while(|byte| !is_space(**byte) && !is_delimiter(**byte))
            .count();
        let text = self
            .rest()
            .get(..token)
            .and_then(|token| std::str::from_utf8(token).ok())
            .unwrap_or_default();
        let unsigned = text.strip_prefix(['+', '-']).unwrap_or(text);
        let digits = unsigned.bytes().filter(u8::is_ascii_digit).count();
        let points = unsigned.bytes().filter(|byte| *byte == b'.').count();
        if digits == 0 || points > 1 || digits + points != unsigned.len() {
            return self.error("malformed number");
        }
        self.position += token;
        if points == 1 {
            return Ok(Object::Real(thousandths(text)));
        }
        let Ok(value) = text.parse::<i64>() else {
            self.position = start;
            return self.error("whole number too large");
        };
        if digits == text.len() && self.rest().starts_with(b" 0 R") {
            let after = self.rest().get(4).copied();
            if after.is_none_or(|byte| is_space(byte) || is_delimiter(byte)) {
                self.position = start;
                let number = self.number()?;
                self.position += 4;
                return Ok(Object::Reference(number));
            }
        }
        Ok(Object::Integer(value))
    }
}

#[cfg(test)]
mod tests;
