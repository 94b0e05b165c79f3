//! Rules about the spelling of objects and streams.

use std::io;

use flate2::read::ZlibDecoder;
use lopdf::Object;

use super::facts::{dictionary_of, text};
use super::file::{places, spans};
use super::{Facts, Rule, Told};

/// Rules about objects and streams.
pub(super) const RULES: &[Rule] = &[
    Rule {
        id: "F9",
        clause: "ISO 19005-3, 6.1.9, from memory",
        says: "`obj` and `endobj` stand at line ends",
        check: object_lines,
    },
    Rule {
        id: "F10",
        clause: "ISO 19005-3, 6.1.7.1, from memory",
        says: "a stream is as long as it says, between `stream` and `endstream` at line ends",
        check: stream_lengths,
    },
    Rule {
        id: "F11",
        clause: "ISO 19005-3, 6.1.7.1, from memory",
        says: "no stream lies in another file",
        check: external_streams,
    },
    Rule {
        id: "F12",
        clause: "ISO 19005-3, 6.1.7.2, from memory",
        says: "filters are those of ISO 32000-1, without LZWDecode and Crypt, and streams can be unpacked",
        check: filters,
    },
    Rule {
        id: "F13",
        clause: "ISO 19005-3, 6.1.6, from memory",
        says: "hexadecimal strings hold an even number of hexadecimal digits",
        check: hexadecimal_strings,
    },
    Rule {
        id: "F14",
        clause: "ISO 19005-3, 6.1.8, from memory",
        says: "names are UTF-8",
        check: names,
    },
    Rule {
        id: "F15",
        clause: "ISO 19005-3, 6.1.13, from memory",
        says: "numbers, names and strings stay within the limits of the standard",
        check: limits,
    },
];

fn object_lines(facts: &Facts<'_>, told: &mut Told) {
    for (number, span) in spans(facts) {
        let head = format!("{number} 0 obj\n");
        let good =
            span.starts_with(head.as_bytes()) && span.trim_ascii_end().ends_with(b"\nendobj");
        if !good {
            told.push(format!("object {number}"));
        }
    }
}

/// Where the bytes of a stream begin in its object: behind the keyword that follows the dictionary.
fn stream_start(span: &[u8]) -> Option<usize> {
    let found = places(span, b">>stream")
        .into_iter()
        .map(|at| at + 8)
        .chain(places(span, b">>\nstream").into_iter().map(|at| at + 9))
        .min()?;
    Some(found)
}

/// The length that a stream states in its own dictionary.
fn stated_length(syntax: &[u8]) -> Option<usize> {
    let at = places(syntax, b"/Length ").pop()? + 8;
    let digits = syntax[at..]
        .iter()
        .take_while(|byte| byte.is_ascii_digit())
        .count();
    std::str::from_utf8(&syntax[at..at + digits])
        .ok()?
        .parse()
        .ok()
}

/// Looks at the text of the file: a stream of another length is one that lopdf does not see.
fn stream_lengths(facts: &Facts<'_>, told: &mut Told) {
    for (number, span) in spans(facts) {
        let Some(start) = stream_start(span) else {
            continue;
        };
        let stated = stated_length(&span[..start]);
        let rest = &span[start..];
        let body = rest
            .strip_prefix(b"\r\n")
            .or_else(|| rest.strip_prefix(b"\n"));
        let good = match (stated, body) {
            (Some(length), Some(body)) => body.get(length..).is_some_and(|rest| {
                rest.starts_with(b"\nendstream") || rest.starts_with(b"\r\nendstream")
            }),
            _ => false,
        };
        if !good {
            told.push(format!("object {number}, {stated:?} bytes stated"));
        }
    }
}

fn external_streams(facts: &Facts<'_>, told: &mut Told) {
    for (number, stream) in facts.streams() {
        for key in ["F", "FFilter", "FDecodeParms"] {
            if stream.dict.has(key.as_bytes()) {
                told.push(format!("object {number}: /{key}"));
            }
        }
    }
}

fn filters(facts: &Facts<'_>, told: &mut Told) {
    let known: [&[u8]; 7] = [
        b"FlateDecode",
        b"DCTDecode",
        b"ASCIIHexDecode",
        b"ASCII85Decode",
        b"RunLengthDecode",
        b"CCITTFaxDecode",
        b"JPXDecode",
    ];
    for (number, stream) in facts.streams() {
        let filters = stream.filters().unwrap_or_default();
        for filter in &filters {
            if !known.contains(filter) {
                told.push(format!("object {number}: /{}", text(filter)));
            }
        }
        // lopdf gives what it could unpack; here all of it must be sound.
        if filters == [b"FlateDecode"] {
            let mut decoder = ZlibDecoder::new(stream.content.as_slice());
            if let Err(why) = io::copy(&mut decoder, &mut io::sink()) {
                told.push(format!("object {number}: {why}"));
            }
        }
    }
}

/// Hexadecimal strings of the syntax in `bytes`, without their brackets.
fn hexadecimal(bytes: &[u8]) -> Vec<&[u8]> {
    let (mut found, mut at) = (Vec::new(), 0);
    while at < bytes.len() {
        match bytes[at] {
            b'(' => {
                let mut depth = 0;
                while at < bytes.len() {
                    match bytes[at] {
                        b'\\' => at += 1,
                        b'(' => depth += 1,
                        b')' => depth -= 1,
                        _ => {}
                    }
                    at += 1;
                    if depth == 0 {
                        break;
                    }
                }
            }
            b'%' => {
                while at < bytes.len() && bytes[at] != b'\n' {
                    at += 1;
                }
            }
            b'<' if bytes.get(at + 1) == Some(&b'<') => at += 2,
            b'<' => {
                let from = at + 1;
                while at < bytes.len() && bytes[at] != b'>' {
                    at += 1;
                }
                found.push(&bytes[from.min(at)..at]);
            }
            _ => at += 1,
        }
    }
    found
}

fn hexadecimal_strings(facts: &Facts<'_>, told: &mut Told) {
    for (number, span) in spans(facts) {
        let syntax = &span[..stream_start(span).unwrap_or(span.len())];
        for string in hexadecimal(syntax) {
            let digits: Vec<u8> = string
                .iter()
                .copied()
                .filter(|byte| !byte.is_ascii_whitespace())
                .collect();
            if !digits.len().is_multiple_of(2) || !digits.iter().all(u8::is_ascii_hexdigit) {
                told.push(format!(
                    "object {number}: `{}`",
                    digits[..digits.len().min(20)].escape_ascii()
                ));
            }
        }
    }
}

/// Every object inside `object`, itself first.
fn inside<'o>(object: &'o Object, found: &mut Vec<&'o Object>) {
    found.push(object);
    if let Object::Array(items) = object {
        for item in items {
            inside(item, found);
        }
    }
    if let Some(dictionary) = dictionary_of(object) {
        for (_, value) in dictionary {
            inside(value, found);
        }
    }
}

fn names(facts: &Facts<'_>, told: &mut Told) {
    for (id, object) in &facts.document.objects {
        let mut all = Vec::new();
        inside(object, &mut all);
        for object in all {
            let mut names: Vec<&[u8]> = object.as_name().into_iter().collect();
            if let Some(dictionary) = dictionary_of(object) {
                names.extend(dictionary.iter().map(|(key, _)| key.as_slice()));
            }
            for name in names {
                if std::str::from_utf8(name).is_err() {
                    told.push(format!("object {}: /{}", id.0, name.escape_ascii()));
                }
            }
        }
    }
}

fn limits(facts: &Facts<'_>, told: &mut Told) {
    for (id, object) in &facts.document.objects {
        let mut all = Vec::new();
        inside(object, &mut all);
        for object in all {
            let beyond = match object {
                Object::Integer(value) => i32::try_from(*value).is_err(),
                Object::Real(value) => !value.is_finite(),
                Object::Name(name) => name.len() > 127,
                Object::String(bytes, _) => bytes.len() > 32_767,
                _ => false,
            };
            if beyond {
                let told_of = format!("{object:?}");
                told.push(format!(
                    "object {}: {}",
                    id.0,
                    told_of.chars().take(40).collect::<String>()
                ));
            }
        }
    }
}
