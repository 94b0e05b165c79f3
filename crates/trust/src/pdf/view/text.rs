//! The words of a page: codes on the page, and the characters that each font's table gives them.

use std::collections::BTreeMap;

use crate::pdf::syntax::{Object, Reader};

/// What the codes of a font stand for.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(super) struct Table(BTreeMap<u16, String>);

impl Table {
    /// Reads a `ToUnicode` table: pairs of a code and its characters. Source: ISO 32000-1, 9.10.3.
    pub(super) fn read(bytes: &[u8]) -> Self {
        let mut table = BTreeMap::new();
        let text = String::from_utf8_lossy(bytes);
        for part in text.split("beginbfchar").skip(1) {
            let pairs = part.split("endbfchar").next().unwrap_or_default();
            let mut digits = pairs.split(['<', '>']).skip(1).step_by(2);
            while let (Some(code), Some(characters)) = (digits.next(), digits.next()) {
                let Ok(code) = u16::from_str_radix(code.trim(), 16) else {
                    continue;
                };
                let bytes = data_encoding::HEXUPPER_PERMISSIVE
                    .decode(characters.trim().as_bytes())
                    .unwrap_or_default();
                table.insert(code, utf16(&bytes));
            }
        }
        Self(table)
    }

    /// Two bytes are a code, as reports write them (`Identity-H`).
    fn characters(&self, codes: &[u8], out: &mut String) {
        for code in codes.chunks_exact(2) {
            let code = u16::from_be_bytes([code[0], code[1]]);
            match self.0.get(&code) {
                Some(characters) => out.push_str(characters),
                None => out.push(char::REPLACEMENT_CHARACTER),
            }
        }
    }
}

fn utf16(bytes: &[u8]) -> String {
    let units = bytes
        .chunks_exact(2)
        .map(|pair| u16::from_be_bytes([pair[0], pair[1]]));
    char::decode_utf16(units)
        .map(|character| character.unwrap_or(char::REPLACEMENT_CHARACTER))
        .collect()
}

/// A text string of the document: UTF-16 with its mark, or one character a byte.
pub(super) fn string(bytes: &[u8]) -> String {
    match bytes.strip_prefix(&[0xfe, 0xff]) {
        Some(wide) => utf16(wide),
        None => bytes.iter().copied().map(char::from).collect(),
    }
}

/// The words that a content stream draws, a line for each text object. Where the page gives the words of a run itself
/// (`ActualText`), those stand in place of the codes.
pub(super) fn words<'a>(content: &[u8], table: impl Fn(&[u8]) -> Option<&'a Table>) -> String {
    let mut reader = Reader::new(content);
    let mut operands: Vec<Object> = Vec::new();
    let mut page = Page::default();
    loop {
        reader.skip_space();
        let Some(first) = reader.peek() else { break };
        if matches!(
            first,
            b'/' | b'(' | b'[' | b'<' | b'+' | b'-' | b'.' | b'0'..=b'9'
        ) {
            match reader.object() {
                Ok(object) => operands.push(object),
                Err(_) => break,
            }
            continue;
        }
        let Some(operator) = operator(&mut reader, content) else {
            break;
        };
        page.take(operator, &operands, &table);
        operands.clear();
    }
    page.words
}

/// Passes one operator; nothing when no operator comes next.
fn operator<'a>(reader: &mut Reader<'_>, content: &'a [u8]) -> Option<&'a [u8]> {
    let start = reader.position;
    let rest = content.get(start..)?;
    let length = rest
        .iter()
        .take_while(|byte| byte.is_ascii_alphanumeric() || matches!(byte, b'\'' | b'"' | b'*'))
        .count();
    reader.position += length;
    rest.get(..length).filter(|operator| !operator.is_empty())
}

#[derive(Default)]
struct Page<'a> {
    words: String,
    font: Option<&'a Table>,
    /// For each open mark, whether it has words of its own.
    marks: Vec<bool>,
}

impl<'a> Page<'a> {
    fn take(
        &mut self,
        operator: &[u8],
        operands: &[Object],
        table: &impl Fn(&[u8]) -> Option<&'a Table>,
    ) {
        match (operator, operands) {
            (b"Tf", [Object::Name(font), ..]) => self.font = table(font),
            (b"Tj", [Object::Text(text)]) => self.show(&text.bytes),
            (b"TJ", [Object::Array(items, _)]) => {
                for item in items {
                    if let Object::Text(text) = item {
                        self.show(&text.bytes);
                    }
                }
            }
            (b"BDC", [_, Object::Dictionary(properties)]) => {
                let own = properties.get(b"ActualText".as_slice());
                if let (Some(Object::Text(text)), false) = (own, self.is_told()) {
                    self.words.push_str(&string(&text.bytes));
                }
                self.marks.push(own.is_some());
            }
            (b"BDC" | b"BMC", _) => self.marks.push(false),
            (b"EMC", _) => {
                self.marks.pop();
            }
            (b"ET", _) if !self.words.ends_with('\n') => self.words.push('\n'),
            _ => {}
        }
    }

    /// Whether the words of what is drawn here were given already.
    fn is_told(&self) -> bool {
        self.marks.contains(&true)
    }

    fn show(&mut self, codes: &[u8]) {
        if self.is_told() {
            return;
        }
        match self.font {
            Some(table) => table.characters(codes, &mut self.words),
            None => self.words.push(char::REPLACEMENT_CHARACTER),
        }
    }
}
