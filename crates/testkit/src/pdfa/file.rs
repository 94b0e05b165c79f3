//! Rules about the bytes of the file: header, cross-reference table, objects, streams.

use std::collections::BTreeSet;

use super::facts::{inherited, reached, text};
use super::{Facts, Rule, Told};

/// Rules about bytes.
pub(super) const RULES: &[Rule] = &[
    Rule {
        id: "F1",
        clause: "ISO 32000-1, 7.5, from memory",
        says: "the file can be read",
        check: readable,
    },
    Rule {
        id: "F6",
        clause: "ISO 19005-3, 6.1.3, from memory",
        says: "the file is not encrypted",
        check: encryption,
    },
    Rule {
        id: "F2",
        clause: "ISO 19005-3, 6.1.2, from memory",
        says: "the file begins with %PDF-1. and a digit up to 7, then an end of line",
        check: header,
    },
    Rule {
        id: "F3",
        clause: "ISO 19005-3, 6.1.2, from memory",
        says: "the second line is a comment of four or more bytes above 127",
        check: binary_comment,
    },
    Rule {
        id: "F4",
        clause: "ISO 19005-3, 6.1.3 (6.1.3-3 of a validator)",
        says: "nothing follows %%EOF but one end of line",
        check: end,
    },
    Rule {
        id: "F5",
        clause: "ISO 19005-3, 6.1.3, from memory",
        says: "the trailer has an identifier of two strings",
        check: identifier,
    },
    Rule {
        id: "F7",
        clause: "ISO 19005-3, 6.1.4, and ISO 32000-1, 7.5.4, from memory",
        says: "the cross-reference table has the form of the standard, and its places are those of the objects",
        check: table,
    },
    Rule {
        id: "F8",
        clause: "one revision: a rule of this project",
        says: "there is one cross-reference table, one end of file, no object stream",
        check: one_revision,
    },
    Rule {
        id: "F16",
        clause: "ISO 19005-3, 6.1.13, from memory",
        says: "each page has a media box of 3 to 14400 units a side",
        check: page_sizes,
    },
    Rule {
        id: "F17",
        clause: "no hidden objects: a rule of this project",
        says: "every object is reached from the trailer",
        check: unreferenced,
    },
];

fn readable(facts: &Facts<'_>, told: &mut Told) {
    told.extend(facts.unreadable.clone());
}

fn header(facts: &Facts<'_>, told: &mut Told) {
    let good = facts
        .bytes
        .strip_prefix(b"%PDF-1.")
        .is_some_and(|rest| matches!(rest, [b'0'..=b'7', b'\n' | b'\r', ..]));
    if !good {
        let begin = &facts.bytes[..facts.bytes.len().min(12)];
        told.push(format!("`{}`", begin.escape_ascii()));
    }
}

fn binary_comment(facts: &Facts<'_>, told: &mut Told) {
    let mut lines = facts.bytes.split(|byte| *byte == b'\n');
    let line = lines.nth(1).unwrap_or_default();
    let good = line
        .strip_prefix(b"%")
        .is_some_and(|rest| rest.len() >= 4 && rest.iter().take(4).all(|byte| *byte > 127));
    if !good {
        let begin = &line[..line.len().min(12)];
        told.push(format!("`{}`", begin.escape_ascii()));
    }
}

/// Places of a word.
pub(super) fn places(bytes: &[u8], word: &[u8]) -> Vec<usize> {
    memchr::memmem::find_iter(bytes, word).collect()
}

fn end(facts: &Facts<'_>, told: &mut Told) {
    let Some(last) = places(facts.bytes, b"%%EOF").pop() else {
        told.push("no %%EOF".to_owned());
        return;
    };
    let rest = &facts.bytes[last + 5..];
    if !matches!(rest, b"" | b"\n" | b"\r" | b"\r\n") {
        told.push(format!("{} bytes follow", rest.len()));
    }
}

fn identifier(facts: &Facts<'_>, told: &mut Told) {
    let halves = facts.array(&facts.document.trailer, "ID");
    let good = halves.len() == 2
        && halves
            .iter()
            .all(|half| half.as_str().is_ok_and(|half| !half.is_empty()));
    if !good {
        told.push("trailer".to_owned());
    }
}

/// Whether the trailer names an encryption.
pub(super) fn is_encrypted(bytes: &[u8]) -> bool {
    let trailer = places(bytes, b"trailer").pop().unwrap_or(0);
    !places(&bytes[trailer..], b"/Encrypt").is_empty()
}

fn encryption(facts: &Facts<'_>, told: &mut Told) {
    if is_encrypted(facts.bytes) {
        told.push("trailer".to_owned());
    }
}

/// Number and place of each object in use, or what is wrong with the table.
fn entries(bytes: &[u8]) -> Result<Vec<(usize, usize)>, String> {
    let number = |text: &[u8]| -> Option<usize> { std::str::from_utf8(text).ok()?.parse().ok() };
    let start = places(bytes, b"startxref").pop().ok_or("no startxref")?;
    let digits: Vec<u8> = bytes[start + 9..]
        .iter()
        .copied()
        .skip_while(u8::is_ascii_whitespace)
        .take_while(u8::is_ascii_digit)
        .collect();
    let at = number(&digits).ok_or("startxref names no place")?;
    let rest = bytes
        .get(at..)
        .and_then(|rest| rest.strip_prefix(b"xref\n".as_slice()))
        .ok_or_else(|| format!("no `xref` and line end at byte {at}"))?;
    let line = rest.split(|byte| *byte == b'\n').next().unwrap_or_default();
    let (first, count) = std::str::from_utf8(line)
        .ok()
        .and_then(|line| line.split_once(' '))
        .and_then(|(first, count)| {
            Some((first.parse::<usize>().ok()?, count.parse::<usize>().ok()?))
        })
        .ok_or_else(|| format!("section header `{}`", line.escape_ascii()))?;
    let rows = &rest[line.len() + 1..];
    let mut found = Vec::new();
    for index in 0..count {
        let row = rows
            .get(20 * index..20 * index + 20)
            .ok_or("the table is cut off")?;
        let place = number(&row[..10]);
        let good = row[10] == b' '
            && number(&row[11..16]).is_some()
            && row[16] == b' '
            && matches!(&row[18..], b" \n" | b"\r\n" | b" \r");
        match (row[17], place) {
            (b'n', Some(place)) if good => found.push((first + index, place)),
            (b'f', Some(_)) if good => {}
            _ => return Err(format!("entry {index}: `{}`", row.escape_ascii())),
        }
    }
    if !rows[20 * count..].starts_with(b"trailer") {
        return Err("no `trailer` after the last entry".to_owned());
    }
    Ok(found)
}

fn table(facts: &Facts<'_>, told: &mut Told) {
    match entries(facts.bytes) {
        Err(what) => told.push(what),
        Ok(entries) => {
            for (number, place) in entries {
                let begin = format!("{number} 0 obj");
                if !facts
                    .bytes
                    .get(place..)
                    .is_some_and(|rest| rest.starts_with(begin.as_bytes()))
                {
                    told.push(format!("object {number} is not at byte {place}"));
                }
            }
        }
    }
}

fn one_revision(facts: &Facts<'_>, told: &mut Told) {
    for word in ["startxref", "%%EOF", "\ntrailer"] {
        let times = places(facts.bytes, word.as_bytes()).len();
        if times != 1 {
            told.push(format!("`{}` {times} times", word.trim()));
        }
    }
    if facts.document.trailer.has(b"Prev") {
        told.push("the trailer names a table before".to_owned());
    }
    for (number, stream) in facts.streams() {
        if let Some(kind @ (b"XRef" | b"ObjStm")) = facts.name(&stream.dict, "Type") {
            told.push(format!("object {number} is a {}", text(kind)));
        }
    }
}

/// Bytes of each object, from its number to the next object or the table.
pub(super) fn spans<'b>(facts: &Facts<'b>) -> Vec<(usize, &'b [u8])> {
    let mut entries = entries(facts.bytes).unwrap_or_default();
    entries.sort_by_key(|(_, place)| *place);
    let table = places(facts.bytes, b"\nxref\n")
        .pop()
        .unwrap_or(facts.bytes.len());
    let mut spans = Vec::new();
    for (index, (number, place)) in entries.iter().enumerate() {
        let end = entries.get(index + 1).map_or(table + 1, |(_, next)| *next);
        // A place that is wrong is another rule's affair.
        let head = format!("{number} 0 obj");
        if let Some(span) = facts.bytes.get(*place..end.min(facts.bytes.len()))
            && span.starts_with(head.as_bytes())
        {
            spans.push((*number, span));
        }
    }
    spans
}

fn page_sizes(facts: &Facts<'_>, told: &mut Told) {
    for (index, id) in facts.pages.iter().enumerate() {
        let corners: Vec<f32> = inherited(facts.document, facts.page(*id), b"MediaBox")
            .and_then(|object| object.as_array().ok())
            .map(|items| {
                items
                    .iter()
                    .filter_map(|item| item.as_float().ok())
                    .collect()
            })
            .unwrap_or_default();
        let good = matches!(corners.as_slice(), [left, low, right, high]
            if (3.0..=14_400.0).contains(&(right - left)) && (3.0..=14_400.0).contains(&(high - low)));
        if !good {
            told.push(format!("page {}: {corners:?}", index + 1));
        }
    }
}

fn unreferenced(facts: &Facts<'_>, told: &mut Told) {
    let reached = reached(facts.document);
    let lost: BTreeSet<u32> = facts
        .document
        .objects
        .keys()
        .filter(|id| !reached.contains(id))
        .map(|id| id.0)
        .collect();
    for number in lost {
        told.push(format!("object {number}"));
    }
}
