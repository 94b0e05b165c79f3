//! Changes to a report that is not yet signed, as somebody would make them who holds the workshop's key.

use std::fmt::Write as _;

use lopdf::{Stream, dictionary};

fn find(bytes: &[u8], part: &[u8]) -> usize {
    bytes
        .windows(part.len())
        .position(|window| window == part)
        .unwrap_or_else(|| panic!("{}", String::from_utf8_lossy(part)))
}

/// Replaces every occurrence with as many bytes.
pub(crate) fn replace_all(bytes: &[u8], old: &[u8], new: &[u8]) -> Vec<u8> {
    assert_eq!(old.len(), new.len());
    let mut out = bytes.to_vec();
    let mut count = 0;
    for start in 0..out.len() - old.len() {
        if out[start..].starts_with(old) {
            out[start..start + new.len()].copy_from_slice(new);
            count += 1;
        }
    }
    assert!(count > 0);
    out
}

/// The objects of a report as its renderer writes them, in order, each from its number to behind `endobj`.
fn objects(pdf: &[u8]) -> Vec<Vec<u8>> {
    let table = find(pdf, b"\nxref\n0 ") + 1;
    let text = String::from_utf8_lossy(&pdf[table..]);
    let mut offsets: Vec<usize> = text
        .lines()
        .filter(|line| line.ends_with(" 00000 n "))
        .map(|line| line[..10].parse().unwrap())
        .collect();
    offsets.push(table);
    offsets
        .windows(2)
        .map(|pair| pdf[pair[0]..pair[1]].to_vec())
        .collect()
}

/// Writes the report with other objects in the place of its own.
fn written(pdf: &[u8], objects: &[Vec<u8>]) -> Vec<u8> {
    let mut out = pdf[..find(pdf, b"1 0 obj\n")].to_vec();
    let mut table = format!("xref\n0 {}\n0000000000 65535 f \n", objects.len() + 1);
    for object in objects {
        writeln!(table, "{:010} 00000 n ", out.len()).unwrap();
        out.extend(object);
    }
    let start = out.len();
    let trailer = find(pdf, b"trailer\n");
    let end = trailer + find(&pdf[trailer..], b"startxref\n");
    out.extend(table.bytes());
    out.extend(&pdf[trailer..end]);
    out.extend(format!("startxref\n{start}\n%%EOF").bytes());
    out
}

/// The unpacked bytes of a stream, none for other objects.
fn unpacked(object: &[u8]) -> Option<Vec<u8>> {
    let start = object.windows(8).position(|window| window == b">>stream")? + 9;
    let head = String::from_utf8_lossy(&object[..start]).into_owned();
    let length: usize = head
        .split("/Length ")
        .nth(1)?
        .split(|digit: char| !digit.is_ascii_digit())
        .next()?
        .parse()
        .ok()?;
    let bytes = &object[start..start + length];
    if !head.contains("/FlateDecode") {
        return Some(bytes.to_vec());
    }
    let stream = Stream::new(dictionary! { "Filter" => "FlateDecode" }, bytes.to_vec());
    stream.decompressed_content().ok()
}

fn packed(number: usize, plain: &[u8]) -> Vec<u8> {
    let mut stream = Stream::new(dictionary! {}, plain.to_vec());
    stream.compress().unwrap();
    let bytes = stream.content;
    let head = format!(
        "{number} 0 obj\n<</Length {}/Filter/FlateDecode>>stream\n",
        bytes.len()
    );
    [head.as_bytes(), &bytes, b"\nendstream\nendobj\n"].concat()
}

/// Draws the first page in another way.
pub(crate) fn replace_in_drawing(pdf: &[u8], change: impl FnOnce(&[u8]) -> Vec<u8>) -> Vec<u8> {
    let mut objects = objects(pdf);
    let (index, plain) = objects
        .iter()
        .enumerate()
        .find_map(|(index, object)| {
            let plain = unpacked(object)?;
            let drawn = plain.windows(4).any(|window| window == b" Td\n");
            drawn.then_some((index, plain))
        })
        .unwrap();
    objects[index] = packed(index + 1, &change(&plain));
    written(pdf, &objects)
}

/// Names the drawings of every page in an array: the same pages for every program that shows them.
pub(crate) fn drawings_in_arrays(pdf: &[u8]) -> Vec<u8> {
    let mut objects = objects(pdf);
    let mut count = 0;
    for object in &mut objects {
        let mark = b"/Contents ";
        let Some(start) = object.windows(mark.len()).position(|window| window == mark) else {
            continue;
        };
        let number = start + mark.len();
        // The place of the signature has digits in brackets.
        if !object[number].is_ascii_digit() {
            continue;
        }
        let end = number + find(&object[number..], b" R") + 2;
        object.insert(end, b']');
        object[number - 1] = b'[';
        count += 1;
    }
    assert!(count > 0);
    written(pdf, &objects)
}

/// Sets other words in the place of some, in whichever font has all their characters. Both are as long, and are drawn
/// without spaces between their letters or with the same ones.
pub(crate) fn replace_words(pdf: &[u8], old: &str, new: &str) -> Vec<u8> {
    let mut objects = objects(pdf);
    let tables: Vec<String> = objects
        .iter()
        .filter_map(|object| String::from_utf8(unpacked(object)?).ok())
        .filter(|text| text.contains("begincmap"))
        .collect();
    // A character may have several glyphs, such as figures of one width and of their own.
    let codes = |words: &str, table: &str| -> Option<Vec<Vec<String>>> {
        words
            .chars()
            .map(|character| {
                let mark = format!("> <{:04X}>\n", u32::from(character));
                let ends = table.match_indices(&mark).map(|(end, _)| end);
                let found: Vec<String> = ends.map(|end| table[end - 4..end].to_owned()).collect();
                (!found.is_empty()).then_some(found)
            })
            .collect()
    };
    let mut count = 0;
    for (index, object) in objects.iter_mut().enumerate() {
        let Some(plain) = unpacked(object) else {
            continue;
        };
        let Ok(mut drawn) = String::from_utf8(plain) else {
            continue;
        };
        if !drawn.contains(" Td\n") {
            continue;
        }
        let before = count;
        for table in &tables {
            let (Some(from), Some(to)) = (codes(old, table), codes(new, table)) else {
                continue;
            };
            count += replace_codes(&mut drawn, &from, &to);
        }
        if count > before {
            *object = packed(index + 1, drawn.as_bytes());
        }
    }
    assert!(count > 0, "`{old}` is nowhere");
    written(pdf, &objects)
}

/// Replaces the codes of glyphs that stand one after the other, with or without a space between them (`>12<`).
fn replace_codes(drawn: &mut String, from: &[Vec<String>], to: &[Vec<String>]) -> usize {
    let mut count = 0;
    // Digits of the string that the place is in, so that no code is taken apart.
    let mut inside = 0;
    for start in 0..drawn.len() {
        match drawn.as_bytes()[start] {
            b'<' => inside = 0,
            _ => inside += 1,
        }
        if inside % 4 != 1 {
            continue;
        }
        let mut places = Vec::new();
        let mut at = start;
        for codes in from {
            if drawn[at..].starts_with('>') {
                let end = drawn[at..].find('<').map_or(at, |open| at + open);
                let is_space = drawn.get(at + 1..end).is_some_and(|space| {
                    space
                        .chars()
                        .all(|c| c.is_ascii_digit() || matches!(c, '-' | '.'))
                });
                at = if is_space { end + 1 } else { at };
            }
            let which = codes
                .iter()
                .position(|code| drawn[at..].starts_with(code.as_str()));
            let Some(which) = which else { break };
            places.push((at, which));
            at += 4;
        }
        if places.len() == from.len() {
            for ((place, which), codes) in places.into_iter().zip(to) {
                let code = codes.get(which).unwrap_or(&codes[0]);
                drawn.replace_range(place..place + 4, code);
            }
            count += 1;
        }
    }
    count
}
