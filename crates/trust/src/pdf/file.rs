//! The outermost form of a PDF file: header, objects end to end, one cross-reference table, one trailer.
//!
//! Every byte of the file belongs to one of them, so nothing can lie hidden between the objects, and there
//! is no room for a second revision. Cross-reference streams and object streams are not read.
//!
//! Source: ISO 32000-1, 7.5. From memory, text not read.

use std::{collections::BTreeMap, ops::Range};

use super::syntax::{Dictionary, Object, Reader, SyntaxError};

/// The first bytes of every report.
pub(super) const HEADER: &[u8] = b"%PDF-1.7";
/// The keys that a trailer of a single revision may have.
const TRAILER_KEYS: [&[u8]; 4] = [b"ID", b"Info", b"Root", b"Size"];

/// One numbered object of the file.
#[derive(Debug)]
pub(super) struct Indirect {
    pub(super) value: Object,
    /// Where the bytes of the stream lie, if it is one; `value` is then its dictionary.
    pub(super) stream: Option<Range<usize>>,
}

/// A file taken apart.
#[derive(Debug)]
pub(super) struct File<'a> {
    pub(super) bytes: &'a [u8],
    pub(super) trailer: Dictionary,
    pub(super) objects: BTreeMap<u32, Indirect>,
}

/// Whether the file ends as a PDF does: `%%EOF` and at most one end of line.
pub(super) fn has_end(bytes: &[u8]) -> bool {
    without_end_of_line(bytes).ends_with(b"%%EOF")
}

fn without_end_of_line(bytes: &[u8]) -> &[u8] {
    let bytes = bytes.strip_suffix(b"\n").unwrap_or(bytes);
    bytes.strip_suffix(b"\r").unwrap_or(bytes)
}

/// Takes a file apart.
///
/// # Errors
/// The first place at which it is not of the form described above.
pub(super) fn read(bytes: &[u8]) -> Result<File<'_>, SyntaxError> {
    let mut reader = Reader::new(bytes);
    header(&mut reader)?;
    let first = reader.position;
    let table = table_offset(bytes)?;
    reader.position = table;
    let offsets = cross_references(&mut reader)?;
    let trailer = trailer(
        &mut reader,
        offsets.keys().next_back().copied().unwrap_or(0),
    )?;
    end(&mut reader, table, bytes.len())?;
    reader.position = first;
    let objects = objects(&mut reader, bytes, &offsets, table)?;
    Ok(File {
        bytes,
        trailer,
        objects,
    })
}

fn header(reader: &mut Reader<'_>) -> Result<(), SyntaxError> {
    if !reader.accept(HEADER) || !reader.end_of_line() {
        return reader.error("the file does not begin with the line `%PDF-1.7`");
    }
    if reader.accept(b"%") {
        // A comment of four high bytes marks the file as binary.
        while reader.peek().is_some_and(|byte| byte > 127) {
            reader.position += 1;
        }
        if !reader.end_of_line() {
            return reader.error("the second line is not a comment of binary bytes alone");
        }
    }
    Ok(())
}

/// Finds the offset that the last lines of the file name.
fn table_offset(bytes: &[u8]) -> Result<usize, SyntaxError> {
    let refused = |offset, what| Err(SyntaxError { offset, what });
    let Some(body) = without_end_of_line(bytes).strip_suffix(b"%%EOF") else {
        return refused(bytes.len(), "the file does not end with `%%EOF`");
    };
    let body = without_end_of_line(body);
    let start = body.len()
        - body
            .iter()
            .rev()
            .take_while(|byte| byte.is_ascii_digit())
            .count();
    let mut reader = Reader::new(bytes);
    reader.position = start;
    let offset = reader.digits("no number before the last `%%EOF`")?;
    match usize::try_from(offset) {
        Ok(offset) if offset < start => Ok(offset),
        _ => refused(start, "the number after `startxref` lies outside the file"),
    }
}

/// Reads the table: for each object number in use its offset.
fn cross_references(reader: &mut Reader<'_>) -> Result<BTreeMap<u32, usize>, SyntaxError> {
    reader.keyword(b"xref", "no cross-reference table where `startxref` points")?;
    if !reader.end_of_line() {
        return reader.error("no end of line after `xref`");
    }
    let mut offsets = BTreeMap::new();
    let mut next = 0;
    loop {
        let first = reader.digits("the first number of a cross-reference section was expected")?;
        if first < next || !reader.accept(b" ") || (next == 0 && first != 0) {
            return reader.error("cross-reference sections out of order or malformed");
        }
        let count = reader.digits("the length of a cross-reference section was expected")?;
        reader.accept(b" ");
        if !reader.end_of_line() || count == 0 {
            return reader.error("malformed head of a cross-reference section");
        }
        for number in first..first.saturating_add(count) {
            entry(reader, number, &mut offsets)?;
        }
        next = first.saturating_add(count);
        if !reader.peek().is_some_and(|byte| byte.is_ascii_digit()) {
            return Ok(offsets);
        }
    }
}

/// Reads one entry of exactly 20 bytes.
fn entry(
    reader: &mut Reader<'_>,
    number: i64,
    offsets: &mut BTreeMap<u32, usize>,
) -> Result<(), SyntaxError> {
    let start = reader.position;
    let refused = |what| {
        Err(SyntaxError {
            offset: start,
            what,
        })
    };
    let offset = reader.digits("a cross-reference entry was expected")?;
    let fixed = reader.position == start + 10;
    let known = if number == 0 {
        reader.accept(b" 65535 f")
    } else {
        reader.accept(b" 00000 n")
    };
    let ended = reader.accept(b" \n") || reader.accept(b"\r\n") || reader.accept(b" \r");
    if !fixed || !known || !ended {
        return refused(
            "cross-reference entry of another form than `offset 00000 n`, or one for a deleted object",
        );
    }
    if number > 0 {
        let (Ok(number), Ok(offset)) = (u32::try_from(number), usize::try_from(offset)) else {
            return refused("object number or offset too large");
        };
        offsets.insert(number, offset);
    }
    Ok(())
}

fn trailer(reader: &mut Reader<'_>, highest: u32) -> Result<Dictionary, SyntaxError> {
    reader.skip_space();
    reader.keyword(
        b"trailer",
        "`trailer` was expected after the cross-reference table",
    )?;
    let place = reader.position;
    let refused = |what| {
        Err(SyntaxError {
            offset: place,
            what,
        })
    };
    let Object::Dictionary(trailer) = reader.object()? else {
        return refused("the trailer is not a dictionary");
    };
    if trailer.contains_key(b"Prev".as_slice()) {
        return refused("the trailer names an earlier revision");
    }
    if trailer
        .keys()
        .any(|key| !TRAILER_KEYS.contains(&key.as_slice()))
    {
        return refused("the trailer has other keys than Size, Root, Info and ID");
    }
    // An object that stands in the trailer is none of the table, and no rule on objects would look at it.
    let is_reference = |key: &[u8]| match trailer.get(key) {
        None => key != b"Root",
        Some(value) => matches!(value, Object::Reference(_)),
    };
    if !is_reference(b"Root") || !is_reference(b"Info") {
        return refused("the trailer's Root or Info is not a reference");
    }
    match trailer.get(b"Size".as_slice()) {
        Some(Object::Integer(size)) if *size > i64::from(highest) => Ok(trailer),
        _ => refused("the trailer's Size is not above every object number"),
    }
}

fn end(reader: &mut Reader<'_>, table: usize, length: usize) -> Result<(), SyntaxError> {
    reader.skip_space();
    reader.keyword(b"startxref", "`startxref` was expected after the trailer")?;
    let lines = reader.end_of_line()
        && reader
            .digits("an offset was expected after `startxref`")
            .ok()
            == i64::try_from(table).ok()
        && reader.end_of_line()
        && reader.accept(b"%%EOF");
    reader.end_of_line();
    if lines && reader.position == length {
        Ok(())
    } else {
        reader.error("something else than the offset and `%%EOF` after `startxref`")
    }
}

fn objects(
    reader: &mut Reader<'_>,
    bytes: &[u8],
    offsets: &BTreeMap<u32, usize>,
    table: usize,
) -> Result<BTreeMap<u32, Indirect>, SyntaxError> {
    let by_place: BTreeMap<usize, u32> = offsets
        .iter()
        .map(|(number, offset)| (*offset, *number))
        .collect();
    if by_place.len() != offsets.len() {
        return reader.error("two objects at the same place");
    }
    let mut objects = BTreeMap::new();
    for (offset, number) in by_place {
        reader.skip_space();
        if reader.position != offset {
            return reader.error("bytes that belong to no object of the cross-reference table");
        }
        if reader.number()? != number || !reader.accept(b" 0") || !reader.accept(b" obj") {
            return reader
                .error("the object's number or generation differs from the cross-reference table");
        }
        objects.insert(number, indirect(reader, bytes)?);
    }
    reader.skip_space();
    if reader.position != table {
        return reader.error("bytes that belong to no object of the cross-reference table");
    }
    Ok(objects)
}

fn indirect(reader: &mut Reader<'_>, bytes: &[u8]) -> Result<Indirect, SyntaxError> {
    let value = reader.object()?;
    reader.skip_space();
    let mut stream = None;
    if reader.accept(b"stream") {
        let Object::Dictionary(dictionary) = &value else {
            return reader.error("a stream without a dictionary");
        };
        if !reader.accept(b"\r\n") && !reader.accept(b"\n") {
            return reader.error("no end of line after `stream`");
        }
        let length = match dictionary.get(b"Length".as_slice()) {
            Some(Object::Integer(length)) => usize::try_from(*length).ok(),
            _ => None,
        };
        let Some(end) = length.and_then(|length| reader.position.checked_add(length)) else {
            return reader.error("a stream whose Length is not written in its dictionary");
        };
        if end > bytes.len() {
            return reader.error("a stream longer than the file");
        }
        stream = Some(reader.position..end);
        reader.position = end;
        reader.end_of_line();
        reader.keyword(b"endstream", "a stream does not end where its Length says")?;
        reader.skip_space();
    }
    reader.keyword(b"endobj", "`endobj` was expected")?;
    Ok(Indirect { value, stream })
}

impl File<'_> {
    /// Follows a reference; other objects are returned as they are.
    pub(super) fn follow<'b>(&'b self, object: &'b Object) -> Option<&'b Object> {
        match object {
            Object::Reference(number) => match &self.objects.get(number)?.value {
                // A reference to a reference is legal, and no writer of ours makes one.
                Object::Reference(_) => None,
                value => Some(value),
            },
            value => Some(value),
        }
    }

    /// Looks up a key and follows a reference.
    pub(super) fn get<'b>(&'b self, dictionary: &'b Dictionary, key: &str) -> Option<&'b Object> {
        self.follow(dictionary.get(key.as_bytes())?)
    }

    /// Looks up a key that must hold a dictionary or a reference to one.
    pub(super) fn dictionary<'b>(
        &'b self,
        dictionary: &'b Dictionary,
        key: &str,
    ) -> Option<&'b Dictionary> {
        match self.get(dictionary, key)? {
            Object::Dictionary(found) => Some(found),
            _ => None,
        }
    }

    /// Looks up a key that must hold an array or a reference to one.
    pub(super) fn array<'b>(
        &'b self,
        dictionary: &'b Dictionary,
        key: &str,
    ) -> Option<&'b [Object]> {
        match self.get(dictionary, key)? {
            Object::Array(items, _) => Some(items),
            _ => None,
        }
    }
}
