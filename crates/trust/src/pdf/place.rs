//! The place of the signature in the bytes of a file: the signed range and the gap it leaves out.

use std::ops::Range;

use super::{
    file::File,
    syntax::{Dictionary, Object},
};

/// Hexadecimal digits reserved for the signature, written by the report and filled by signing.
pub(super) const CONTENTS_DIGITS: usize = 16_384;

/// Where signature and signed range are written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Place {
    /// `[0 …]` of `/ByteRange`, both brackets included; nothing if it was not found.
    pub(super) range: Option<Range<usize>>,
    /// The string of `/Contents`, from `<` to behind `>`; nothing if it was not found.
    pub(super) contents: Option<Range<usize>>,
}

/// Finds the place by way of the signature dictionary.
pub(super) fn in_dictionary(file: &File<'_>, signature: &Dictionary) -> Place {
    let range = match file.get(signature, "ByteRange") {
        // Only what stands in the dictionary itself: elsewhere it could be exchanged.
        Some(Object::Array(_, span))
            if !matches!(
                signature.get(b"ByteRange".as_slice()),
                Some(Object::Reference(_))
            ) =>
        {
            Some(span.clone())
        }
        _ => None,
    };
    let contents = match signature.get(b"Contents".as_slice()) {
        Some(Object::Text(text)) if text.hexadecimal => Some(text.span.clone()),
        _ => None,
    };
    Place { range, contents }
}

/// Finds the place in a file too damaged to read, to tell at least whether the signed bytes changed.
pub(super) fn by_search(bytes: &[u8]) -> Option<Place> {
    let range = occurrences(bytes, b"/ByteRange")
        .filter_map(|after| bracketed(bytes, after))
        .find(|range| numbers(bytes, range).is_some());
    let strings: Vec<_> = occurrences(bytes, b"/Contents")
        .filter_map(|after| hexadecimal(bytes, after))
        .collect();
    // Of several signatures, the one that the range leaves out.
    let begin = range
        .as_ref()
        .and_then(|range| numbers(bytes, range))
        .map(|[first, ..]| first);
    let contents = strings
        .iter()
        .find(|string| Some(string.start as u64) == begin)
        .or_else(|| strings.iter().max_by_key(|string| string.len()))
        .cloned();
    (range.is_some() || contents.is_some()).then_some(Place { range, contents })
}

/// The places behind each occurrence of `mark`.
pub(super) fn occurrences<'a>(bytes: &'a [u8], mark: &'a [u8]) -> impl Iterator<Item = usize> + 'a {
    let first = mark.first().copied().unwrap_or_default();
    bytes
        .iter()
        .enumerate()
        .filter(move |(_, byte)| **byte == first)
        .filter(move |(place, _)| bytes[*place..].starts_with(mark))
        .map(move |(place, _)| place + mark.len())
}

fn after_space(bytes: &[u8], place: usize) -> usize {
    let rest = bytes.get(place..).unwrap_or_default();
    place
        + rest
            .iter()
            .take_while(|byte| byte.is_ascii_whitespace())
            .count()
}

fn bracketed(bytes: &[u8], place: usize) -> Option<Range<usize>> {
    let start = after_space(bytes, place);
    let rest = bytes.get(start..)?;
    let length = rest.iter().take(64).position(|byte| *byte == b']')? + 1;
    rest.starts_with(b"[").then_some(start..start + length)
}

fn hexadecimal(bytes: &[u8], place: usize) -> Option<Range<usize>> {
    let start = after_space(bytes, place);
    let rest = bytes.get(start..)?.strip_prefix(b"<")?;
    let digits = rest
        .iter()
        .take_while(|byte| byte.is_ascii_hexdigit())
        .count();
    (rest.get(digits) == Some(&b'>')).then_some(start..start + digits + 2)
}

/// Reads `[0 aaaaaaaaaa bbbbbbbbbb cccccccccc]`: the end of the first signed part, then begin and length of
/// the second. Nothing else is accepted, so that the same file has one spelling.
pub(super) fn numbers(bytes: &[u8], range: &Range<usize>) -> Option<[u64; 3]> {
    let written = bytes
        .get(range.clone())?
        .strip_prefix(b"[0 ")?
        .strip_suffix(b"]")?;
    let written = std::str::from_utf8(written).ok()?;
    let mut found = [0; 3];
    let mut parts = written.split(' ');
    for number in &mut found {
        let part = parts.next().filter(|part| part.len() == 10)?;
        *number = part
            .bytes()
            .all(|byte| byte.is_ascii_digit())
            .then(|| part.parse().ok())??;
    }
    parts.next().is_none().then_some(found)
}

/// Writes what [`numbers`] reads; nothing when a number needs more than ten digits.
pub(super) fn write_numbers(numbers: [usize; 3]) -> Option<String> {
    let [first, second, length] = numbers;
    let text = format!("[0 {first:010} {second:010} {length:010}]");
    (text.len() == 36).then_some(text)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used)]

    use super::*;

    #[test]
    fn numbers_are_read_in_one_spelling_only() {
        let read = |text: &str| numbers(text.as_bytes(), &(0..text.len()));
        let text = write_numbers([840, 17_226, 960]).unwrap();
        assert_eq!(text, "[0 0000000840 0000017226 0000000960]");
        assert_eq!(read(&text), Some([840, 17_226, 960]));
        for other in [
            "[0 840 17226 960]",
            "[0 0000000840 0000017226 000000960]",
            "[0 -000000840 0000017226 0000000960]",
            "[0 +000000840 0000017226 0000000960]",
            "[1 0000000840 0000017226 0000000960]",
            "[0  0000000840 0000017226 0000000960]",
            "[0 0000000840 0000017226 0000000960 ]",
            "[0 0000000840 0000017226 0000000960 0000000001 0000000002]",
            "[0 0000000840 0000017226]",
            "",
        ] {
            assert_eq!(read(other), None, "{other}");
        }
        assert_eq!(write_numbers([usize::MAX, 0, 0]), None);
    }

    #[test]
    fn search_finds_the_place_without_reading_the_file() {
        let text = b"x/Contents<</A<00>>> /ByteRange [0 0000000001 0000000002 0000000003]/Contents <00ff>y";
        let place = by_search(text).unwrap();
        assert_eq!(&text[place.contents.unwrap()], b"<00ff>");
        assert_eq!(numbers(text, &place.range.unwrap()), Some([1, 2, 3]));
        assert_eq!(by_search(b"/ByteRange [0 1 2 3]/Contents (00)"), None);
        assert_eq!(
            by_search(b"/ByteRange [0 0000000001 0000000002 0000000003"),
            None
        );
        let two = b"/ByteRange [0 0000000057 0000000002 0000000003]/Contents <00>/Contents <0011>";
        assert_eq!(by_search(two).unwrap().contents, Some(57..61));
    }
}
