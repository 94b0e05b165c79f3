//! The bytes of a table: their encoding and what divides its cells.

use std::fmt;
use std::path::Path;

use encoding_rs::SHIFT_JIS;
use serde::Serialize;

use super::super::BooksError;

/// How the letters of a table are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub enum Encoding {
    /// UTF-8, with or without its mark.
    #[serde(rename = "utf-8")]
    Utf8,
    /// UTF-16 with its mark, as spreadsheets save `Unicode text`.
    #[serde(rename = "utf-16")]
    Utf16,
    /// Shift_JIS, as Japanese spreadsheets save CSV.
    #[serde(rename = "shift_jis")]
    ShiftJis,
}

impl Encoding {
    /// Every encoding that is read.
    pub(super) const ALL: [Self; 3] = [Self::Utf8, Self::Utf16, Self::ShiftJis];

    pub(super) const fn name(self) -> &'static str {
        match self {
            Self::Utf8 => "utf-8",
            Self::Utf16 => "utf-16",
            Self::ShiftJis => "shift_jis",
        }
    }
}

impl fmt::Display for Encoding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// Marks at the beginning of UTF-16.
const LITTLE: &[u8] = &[0xff, 0xfe];
const BIG: &[u8] = &[0xfe, 0xff];

/// Reads the letters of a table: as `stated`, else UTF-16 by its mark, else UTF-8, else Shift_JIS where every byte fits.
pub(super) fn decode(
    file: &Path,
    bytes: &[u8],
    stated: Option<Encoding>,
) -> Result<(String, Encoding), BooksError> {
    let fault = |at: usize, encoding: &'static str| BooksError::Encoding {
        file: file.to_owned(),
        at,
        encoding,
    };
    let marked = bytes.starts_with(LITTLE) || bytes.starts_with(BIG);
    let encoding = match stated {
        Some(encoding) => encoding,
        None if marked => Encoding::Utf16,
        None if str::from_utf8(bytes).is_ok() => Encoding::Utf8,
        None => Encoding::ShiftJis,
    };
    let text = match encoding {
        Encoding::Utf8 => str::from_utf8(bytes)
            .map_err(|error| fault(error.valid_up_to(), "UTF-8"))?
            .to_owned(),
        Encoding::Utf16 => utf16(bytes).map_err(|at| fault(at, "UTF-16 with its mark"))?,
        Encoding::ShiftJis => {
            let shift_jis = SHIFT_JIS.decode_without_bom_handling_and_without_replacement(bytes);
            let at = || str::from_utf8(bytes).map_or_else(|error| error.valid_up_to(), |_| 0);
            shift_jis
                .ok_or_else(|| {
                    if stated.is_some() {
                        fault(at(), "Shift_JIS")
                    } else {
                        fault(at(), "UTF-8, and the whole is not Shift_JIS")
                    }
                })?
                .into_owned()
        }
    };
    let text = text
        .strip_prefix('\u{feff}')
        .map_or(text.clone(), str::to_owned);
    Ok((text, encoding))
}

/// Reads UTF-16 with its mark; else the byte that does not fit.
fn utf16(bytes: &[u8]) -> Result<String, usize> {
    let unit: fn([u8; 2]) -> u16 = if bytes.starts_with(LITTLE) {
        u16::from_le_bytes
    } else if bytes.starts_with(BIG) {
        u16::from_be_bytes
    } else {
        return Err(0);
    };
    let pairs = bytes.chunks_exact(2);
    if !pairs.remainder().is_empty() {
        return Err(bytes.len() - 1);
    }
    let units: Vec<u16> = pairs
        .filter_map(|pair| <[u8; 2]>::try_from(pair).ok())
        .map(unit)
        .collect();
    let mut text = String::with_capacity(units.len());
    let mut at = 0;
    for letter in char::decode_utf16(units) {
        let letter = letter.map_err(|_| at)?;
        at += 2 * letter.len_utf16();
        text.push(letter);
    }
    Ok(text)
}

/// What may divide cells.
pub(super) const SEPARATORS: [char; 3] = [',', ';', '\t'];

/// Finds what divides the cells: of comma, semicolon and tab the one that stands most often outside quotes in the header,
/// a comma where there is none.
pub(super) fn separator(text: &str) -> char {
    let mut counts = [0_usize; SEPARATORS.len()];
    let mut quoted = false;
    for letter in text.chars() {
        match letter {
            '"' => quoted = !quoted,
            '\n' | '\r' if !quoted => break,
            _ if quoted => {}
            _ => {
                let found = SEPARATORS.iter().position(|one| *one == letter);
                if let Some(count) = found.and_then(|at| counts.get_mut(at)) {
                    *count += 1;
                }
            }
        }
    }
    // The first of those that stand most often.
    let best = counts.iter().max().copied().unwrap_or(0);
    let at = counts.iter().position(|count| *count == best);
    at.and_then(|at| SEPARATORS.get(at)).copied().unwrap_or(',')
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn read(bytes: &[u8]) -> (String, Encoding) {
        decode(Path::new("t.csv"), bytes, None).unwrap()
    }

    #[test]
    fn what_spreadsheets_save_is_read() {
        let text = "銘,備前";
        assert_eq!(read(text.as_bytes()), (text.to_owned(), Encoding::Utf8));
        let marked = format!("\u{feff}{text}");
        assert_eq!(read(marked.as_bytes()), (text.to_owned(), Encoding::Utf8));
        let little: Vec<u8> = marked.encode_utf16().flat_map(u16::to_le_bytes).collect();
        assert_eq!(read(&little), (text.to_owned(), Encoding::Utf16));
        let big: Vec<u8> = marked.encode_utf16().flat_map(u16::to_be_bytes).collect();
        assert_eq!(read(&big), (text.to_owned(), Encoding::Utf16));
        let (shift_jis, ..) = SHIFT_JIS.encode(text);
        assert_eq!(read(&shift_jis), (text.to_owned(), Encoding::ShiftJis));
    }

    #[test]
    fn bytes_that_fit_nowhere_are_told() {
        let error = decode(Path::new("t.csv"), b"a,b\n\xff\xfe\xfd", None).unwrap_err();
        assert_eq!(
            error.to_string(),
            "t.csv: byte 4 is not UTF-8, and the whole is not Shift_JIS"
        );
        let error = decode(Path::new("t.csv"), b"\xff\xfea", Some(Encoding::Utf16)).unwrap_err();
        assert_eq!(
            error.to_string(),
            "t.csv: byte 2 is not UTF-16 with its mark"
        );
    }

    #[test]
    fn cells_are_divided_by_what_stands_most_often() {
        for (text, found) in [
            ("a,b;c,d\n;;;;", ','),
            ("a;b;\"c,,,,\";d", ';'),
            ("a\tb", '\t'),
            ("a", ','),
            ("", ','),
        ] {
            assert_eq!(separator(text), found, "{text}");
        }
    }
}
