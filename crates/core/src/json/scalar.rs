//! Strings and numbers.

use unicode_normalization::{UnicodeNormalization, is_nfc};

use super::{
    JsonErrorKind, NumberProblem, StringRole,
    error::excerpt,
    line_column,
    position::Recorder,
    reader::{Fault, Reader, fail},
};

/// Largest integer that every double represents apart from its neighbours: 2^53 - 1.
///
/// Source: RFC 7493 section 2.2.
pub(super) const MAX_SAFE_INTEGER: u64 = (1 << 53) - 1;

/// Characters below this are all in form C and never combine with the one before.
///
/// Source: Unicode Standard Annex 15, property NFC_Quick_Check; a test asks the tables.
const FIRST_COMBINING: char = '\u{300}';

/// The bytes that end a run of plain text: quotation mark, backslash and control characters.
const ENDS_RUN: [bool; 256] = {
    let mut ends = [false; 256];
    let mut control = 0;
    while control < 0x20 {
        ends[control] = true;
        control += 1;
    }
    ends[b'"' as usize] = true;
    ends[b'\\' as usize] = true;
    ends
};

impl<'a, R: Recorder> Reader<'a, R> {
    /// Reads the string that starts at the current offset.
    pub(super) fn string(&mut self, role: StringRole) -> Result<String, Fault> {
        let opened = self.at;
        self.at += 1;
        let run = self.plain_run();
        // Nearly every string is one run without escapes, copied once.
        let read = match self.peek() {
            Some(b'"') => run.to_owned(),
            _ => self.string_with_escapes(run, opened)?,
        };
        self.at += 1;
        if !read.is_ascii() {
            check_characters(&read, role).map_err(|kind| Fault::new(opened, kind))?;
        }
        Ok(read)
    }

    /// Reads on, up to the closing quotation mark, after `run`.
    fn string_with_escapes(&mut self, run: &str, opened: usize) -> Result<String, Fault> {
        let mut read = run.to_owned();
        loop {
            match self.peek() {
                Some(b'"') => return Ok(read),
                Some(b'\\') => read.push(self.escape(opened)?),
                Some(0) => return fail(self.at, JsonErrorKind::Nul),
                Some(code) => return fail(self.at, JsonErrorKind::ControlCharacter { code }),
                None => return Err(self.unterminated_string(opened)),
            }
            read.push_str(self.plain_run());
        }
    }

    /// Passes over text up to a quotation mark, backslash, control character or the end.
    #[inline]
    fn plain_run(&mut self) -> &'a str {
        let text: &'a str = self.text;
        let rest = &text.as_bytes()[self.at..];
        let length = rest.iter().position(|byte| ENDS_RUN[usize::from(*byte)]);
        let start = self.at;
        self.at += length.unwrap_or(rest.len());
        &text[start..self.at]
    }

    /// Reads the escape that starts at the current offset.
    fn escape(&mut self, opened: usize) -> Result<char, Fault> {
        let start = self.at;
        self.at += 1;
        let Some(byte) = self.peek() else {
            return Err(self.unterminated_string(opened));
        };
        self.at += 1;
        let character = match byte {
            b'"' | b'\\' | b'/' => char::from(byte),
            b'b' => '\u{8}',
            b'f' => '\u{c}',
            b'n' => '\n',
            b'r' => '\r',
            b't' => '\t',
            b'u' => return self.unicode_escape(start, opened),
            _ => return self.bad_escape(start),
        };
        Ok(character)
    }

    fn unicode_escape(&mut self, start: usize, opened: usize) -> Result<char, Fault> {
        let first = self.four_digits(start, opened)?;
        let lone = JsonErrorKind::LoneSurrogate { code: first };
        let code = match first {
            0 => return fail(start, JsonErrorKind::Nul),
            0xD800..0xDC00 => {
                let low = self.at;
                if !self.text.as_bytes()[low..].starts_with(b"\\u") {
                    return fail(start, lone);
                }
                self.at += 2;
                let second = self.four_digits(low, opened)?;
                if !(0xDC00..0xE000).contains(&second) {
                    return fail(start, lone);
                }
                0x1_0000 + (u32::from(first - 0xD800) << 10) + u32::from(second - 0xDC00)
            }
            other => u32::from(other),
        };
        // Only a low surrogate on its own is left that is no character.
        char::from_u32(code).ok_or_else(|| Fault::new(start, lone))
    }

    fn four_digits(&mut self, start: usize, opened: usize) -> Result<u16, Fault> {
        let mut code = 0;
        for _ in 0..4 {
            let Some(byte) = self.peek() else {
                return Err(self.unterminated_string(opened));
            };
            let Some(digit) = char::from(byte).to_digit(16) else {
                return self.bad_escape(start);
            };
            code = code << 4 | digit;
            self.at += 1;
        }
        // Four hexadecimal digits always fit.
        Ok(u16::try_from(code).unwrap_or(u16::MAX))
    }

    #[cold]
    fn bad_escape<T>(&self, start: usize) -> Result<T, Fault> {
        let length = if self.text[start..].starts_with("\\u") {
            6
        } else {
            2
        };
        let found: String = self.text[start..]
            .chars()
            .take(length)
            .take_while(|c| *c != '"')
            .collect();
        fail(
            start,
            JsonErrorKind::Escape {
                found: excerpt(&found),
            },
        )
    }

    #[cold]
    fn unterminated_string(&self, opened: usize) -> Fault {
        let position = line_column(self.text.as_bytes(), opened);
        let allowed = "a closing quotation mark";
        let kind = JsonErrorKind::Unterminated {
            what: "string",
            opened: position,
            allowed,
        };
        Fault::new(self.text.len(), kind)
    }

    /// Reads an integer that has one spelling and one meaning for every reader.
    pub(super) fn integer(&mut self) -> Result<i64, Fault> {
        let start = self.at;
        let bytes = self.text.as_bytes();
        let negative = bytes[start] == b'-';
        self.at += usize::from(negative);
        let digits = self.at;
        let mut magnitude: u64 = 0;
        while let Some(&byte @ b'0'..=b'9') = bytes.get(self.at) {
            magnitude = magnitude
                .saturating_mul(10)
                .saturating_add(u64::from(byte - b'0'));
            self.at += 1;
        }
        let plain = match self.at - digits {
            0 => false,
            1 => !(negative && magnitude == 0),
            _ => bytes[digits] != b'0' && magnitude <= MAX_SAFE_INTEGER,
        };
        let ends = self.peek().is_none_or(|byte| !is_number_part(byte));
        match i64::try_from(magnitude) {
            Ok(magnitude) if plain && ends => Ok(if negative { -magnitude } else { magnitude }),
            _ => Err(self.number_fault(start)),
        }
    }

    /// Says why the text at `start`, which looks like a number, is none that is allowed.
    #[cold]
    pub(super) fn number_fault(&self, start: usize) -> Fault {
        let rest = &self.text[start..];
        let length = rest
            .bytes()
            .position(|byte| !is_number_part(byte))
            .unwrap_or(rest.len());
        let found = &rest[..length];
        let digits = found.strip_prefix(['-', '+']).unwrap_or(found);
        let has = |signs: &[char]| digits.contains(signs);
        let problem = if ["NaN", "Infinity"].contains(&digits) {
            NumberProblem::NotFinite
        } else if has(&['x', 'X']) || !digits.starts_with(|c: char| c == '.' || c.is_ascii_digit())
        {
            NumberProblem::NotDecimal
        } else if found.starts_with('+') {
            NumberProblem::PlusSign
        } else if has(&['.']) {
            NumberProblem::Fraction
        } else if has(&['e', 'E']) {
            NumberProblem::Exponent
        } else if has(&['+', '-']) || digits.contains(|c: char| !c.is_ascii_digit()) {
            NumberProblem::NotDecimal
        } else if found == "-0" {
            NumberProblem::NegativeZero
        } else if digits.starts_with('0') {
            NumberProblem::LeadingZero
        } else {
            NumberProblem::OutOfRange
        };
        Fault::new(
            start,
            JsonErrorKind::Number {
                found: excerpt(found),
                problem,
            },
        )
    }
}

const fn is_number_part(byte: u8) -> bool {
    byte.is_ascii_alphanumeric() || matches!(byte, b'+' | b'-' | b'.' | b'_')
}

/// Refuses text that is not in form C or holds code points that are no characters.
fn check_characters(text: &str, role: StringRole) -> Result<(), JsonErrorKind> {
    if let Some(found) = text.chars().find(|c| is_noncharacter(*c)) {
        return Err(JsonErrorKind::Noncharacter {
            role,
            code: u32::from(found),
        });
    }
    if text.chars().all(|c| c < FIRST_COMBINING) || is_nfc(text) {
        return Ok(());
    }
    let differs = text
        .chars()
        .zip(text.nfc())
        .enumerate()
        .find(|(_, (found, form))| found != form);
    let (index, (found, allowed)) = differs.unwrap_or_default();
    let (found, allowed) = (u32::from(found), u32::from(allowed));
    Err(JsonErrorKind::NotNormalized {
        role,
        text: excerpt(text),
        index: index + 1,
        found,
        allowed,
    })
}

/// Source: RFC 7493 section 2.1 bars them; The Unicode Standard 23.7 lists them (from memory).
const fn is_noncharacter(character: char) -> bool {
    let code = character as u32;
    code >= 0xFDD0 && (code <= 0xFDEF || code & 0xFFFE == 0xFFFE)
}

#[cfg(test)]
mod tests {
    use unicode_normalization::{IsNormalized, char::canonical_combining_class, is_nfc_quick};

    use super::*;

    #[test]
    fn characters_below_the_first_combining_one_never_need_the_tables() {
        for character in '\0'..FIRST_COMBINING {
            assert_eq!(canonical_combining_class(character), 0, "{character:?}");
            assert_eq!(
                is_nfc_quick([character].into_iter()),
                IsNormalized::Yes,
                "{character:?}"
            );
        }
        assert_ne!(canonical_combining_class(FIRST_COMBINING), 0);
    }

    #[test]
    fn there_are_sixty_six_noncharacters() {
        // The Unicode Standard 23.7, from memory.
        assert_eq!(
            ('\0'..=char::MAX).filter(|c| is_noncharacter(*c)).count(),
            66
        );
    }
}
