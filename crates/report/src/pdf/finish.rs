//! The last step: only objects that are used, numbered in the order they are reached, written once.

use std::{collections::BTreeMap, io::Write as _};

use flate2::{Compression, write::ZlibEncoder};
use lopdf::{Dictionary, Document, Object, ObjectId};

use super::{
    PdfError,
    signature::{CONTENTS_DIGITS, RANGE_MARKS},
};

/// Writes the document; with the placeholder where one signature is to come.
pub(super) fn write(document: Document, signed: bool) -> Result<Vec<u8>, PdfError> {
    let mut document = renumbered(document);
    compress(&mut document)?;
    let mut bytes = Vec::new();
    document.save_to(&mut bytes)?;
    if signed {
        place_signature_gap(&mut bytes)?;
    }
    Ok(bytes)
}

/// Keeps what the trailer reaches and numbers it from 1: printpdf's leftovers and the numbers they
/// took are gone, so the bytes depend on the document alone.
fn renumbered(mut document: Document) -> Document {
    let mut order = Order::default();
    let mut trailer = Dictionary::new();
    for key in [b"Root".as_slice(), b"Info", b"ID"] {
        if let Ok(value) = document.trailer.get(key) {
            let mut value = value.clone();
            order.visit(&mut value);
            trailer.set(key, value);
        }
    }
    let mut objects = BTreeMap::new();
    let mut done = 0;
    while let Some(old) = order.found.get(done).copied() {
        done += 1;
        if let Some(mut object) = document.objects.remove(&old) {
            order.visit(&mut object);
            if let Some(new) = order.numbers.get(&old) {
                objects.insert((*new, 0), object);
            }
        }
    }
    document.max_id = u32::try_from(done).unwrap_or(u32::MAX);
    document.objects = objects;
    document.trailer = trailer;
    document
}

#[derive(Default)]
struct Order {
    numbers: BTreeMap<ObjectId, u32>,
    found: Vec<ObjectId>,
}

impl Order {
    /// Gives every reference inside `object` its new number.
    fn visit(&mut self, object: &mut Object) {
        match object {
            Object::Reference(id) => {
                let next = u32::try_from(self.found.len() + 1).unwrap_or(u32::MAX);
                let number = *self.numbers.entry(*id).or_insert(next);
                if number == next {
                    self.found.push(*id);
                }
                *id = (number, 0);
            }
            Object::Array(items) => items.iter_mut().for_each(|item| self.visit(item)),
            Object::Dictionary(dictionary) => dictionary
                .iter_mut()
                .for_each(|(_, value)| self.visit(value)),
            Object::Stream(stream) => stream
                .dict
                .iter_mut()
                .for_each(|(_, value)| self.visit(value)),
            _ => {}
        }
    }
}

/// Puts the fixed-width placeholder in place of lopdf's spelling of it; no byte moves.
fn place_signature_gap(bytes: &mut [u8]) -> Result<(), PdfError> {
    let [first, second, third] = RANGE_MARKS;
    let zeros = "0".repeat(10);
    let range = format!("/ByteRange[0 {first} {second} {third}]");
    overwrite(
        bytes,
        range.as_bytes(),
        format!("/ByteRange [0 {zeros} {zeros} {zeros}]").as_bytes(),
    )?;
    let mut written = b"/Contents<".to_vec();
    written.resize(written.len() + CONTENTS_DIGITS + 2, b'0');
    written.push(b'>');
    let mut wanted = b"/Contents <".to_vec();
    wanted.resize(wanted.len() + CONTENTS_DIGITS, b'0');
    wanted.extend(b"> ");
    overwrite(bytes, &written, &wanted)
}

/// Replaces the first place where `old` stands by `new` of the same length.
///
/// Objects stand in the order in which the catalogue reaches them, so the signature comes before
/// pages and pictures; no words of a record are written in this spelling before it.
fn overwrite(bytes: &mut [u8], old: &[u8], new: &[u8]) -> Result<(), PdfError> {
    let place = bytes
        .windows(old.len())
        .position(|window| window.first() == old.first() && window == old);
    match place.and_then(|at| bytes.get_mut(at..at + old.len())) {
        Some(target) if old.len() == new.len() => {
            target.copy_from_slice(new);
            Ok(())
        }
        _ => Err(PdfError::Shape("the signature placeholder")),
    }
}

/// Compresses what may be compressed, where that makes it smaller.
///
/// Level 6 instead of lopdf's highest: the files grow by a hundredth, the time halves.
fn compress(document: &mut Document) -> Result<(), PdfError> {
    for object in document.objects.values_mut() {
        let Object::Stream(stream) = object else {
            continue;
        };
        if !stream.allows_compression || stream.dict.has(b"Filter") {
            continue;
        }
        let mut encoder = ZlibEncoder::new(Vec::new(), Compression::new(6));
        encoder.write_all(&stream.content)?;
        let smaller = encoder.finish()?;
        // The filter's name takes room as well.
        if smaller.len() + 20 < stream.content.len() {
            stream.dict.set("Filter", "FlateDecode");
            stream.set_content(smaller);
        }
    }
    Ok(())
}
