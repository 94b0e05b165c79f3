//! The last step: only objects that are used, numbered in the order they are reached, written once.

use std::{collections::BTreeMap, io::Write as _};

use flate2::{Compression, write::ZlibEncoder};
use lopdf::{Dictionary, Document, Object, ObjectId, Stream};

use super::{PdfError, syntax};

/// Writes the document. Each object is compressed, written and let go before the next, so that no second copy of the
/// pictures is held.
pub(super) fn write(document: Document) -> Result<Vec<u8>, PdfError> {
    let (objects, mut trailer) = renumbered(document);
    let length: usize = objects.iter().map(expected_length).sum();
    let mut out = Vec::with_capacity(length + 65_536);
    // Four bytes above 127 tell that the file is binary (ISO 19005-3, 6.1.2).
    out.extend(b"%PDF-1.7\n%\xBB\xAD\xC0\xDE\n");
    let mut offsets = Vec::with_capacity(objects.len());
    for (index, object) in objects.into_iter().enumerate() {
        offsets.push(out.len());
        syntax::integer(&mut out, number(index + 1));
        out.extend(b" 0 obj\n");
        match object {
            Object::Stream(stream) => write_stream(&mut out, stream)?,
            object => syntax::object(&mut out, &object),
        }
        out.extend(b"\nendobj\n");
    }
    let table = out.len();
    let size = offsets.len() + 1;
    write!(out, "xref\n0 {size}\n0000000000 65535 f \n")?;
    for offset in offsets {
        write!(out, "{offset:010} 00000 n \n")?;
    }
    trailer.set("Size", number(size));
    out.extend(b"trailer\n");
    syntax::dictionary(&mut out, &trailer);
    write!(out, "\nstartxref\n{table}\n%%EOF")?;
    Ok(out)
}

/// Keeps what the trailer reaches and numbers it from 1: printpdf's leftovers and the numbers they
/// took are gone, so the bytes depend on the document alone.
fn renumbered(mut document: Document) -> (Vec<Object>, Dictionary) {
    let mut order = Order::default();
    let mut trailer = Dictionary::new();
    for key in [b"Root".as_slice(), b"Info", b"ID"] {
        if let Ok(value) = document.trailer.get(key) {
            let mut value = value.clone();
            order.visit(&mut value);
            trailer.set(key, value);
        }
    }
    let mut objects = Vec::with_capacity(document.objects.len());
    while let Some(old) = order.found.get(objects.len()).copied() {
        // A reference to nothing is a reference to null (ISO 32000-1, 7.3.10).
        let mut object = document.objects.remove(&old).unwrap_or(Object::Null);
        order.visit(&mut object);
        objects.push(object);
    }
    (objects, trailer)
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

fn number(count: usize) -> i64 {
    i64::try_from(count).unwrap_or(i64::MAX)
}

/// About as many bytes as an object takes: pictures make up the file, the rest is small.
fn expected_length(object: &Object) -> usize {
    match object {
        Object::Stream(stream) => stream.content.len() + 64,
        _ => 96,
    }
}

/// Level of compression, from 0 to 9: the next one up makes reports smaller by a hundredth and takes half as long again.
const LEVEL: u32 = 6;

fn write_stream(out: &mut Vec<u8>, mut stream: Stream) -> Result<(), PdfError> {
    if stream.allows_compression && !stream.dict.has(b"Filter") {
        let mut encoder = ZlibEncoder::new(Vec::new(), Compression::new(LEVEL));
        encoder.write_all(&stream.content)?;
        let smaller = encoder.finish()?;
        // The filter's name takes room as well.
        if smaller.len() + 20 < stream.content.len() {
            stream.dict.set("Filter", "FlateDecode");
            stream.content = smaller;
        }
    }
    stream.dict.set("Length", number(stream.content.len()));
    syntax::dictionary(out, &stream.dict);
    out.extend(b"stream\n");
    out.extend_from_slice(&stream.content);
    out.extend(b"\nendstream");
    Ok(())
}
