//! The last step: only objects that are used, numbered in the order they are reached, written once.

use std::{collections::BTreeMap, io::Write as _};

use flate2::{Compress, Compression, FlushCompress, Status};
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
    let mut packer = Packer::new();
    for (index, object) in objects.into_iter().enumerate() {
        offsets.push(out.len());
        syntax::integer(&mut out, number(index + 1));
        out.extend(b" 0 obj\n");
        match object {
            Object::Stream(stream) => write_stream(&mut out, stream, &mut packer)?,
            object => syntax::object(&mut out, &object),
        }
        out.extend(b"\nendobj\n");
    }
    let table = out.len();
    let size = offsets.len() + 1;
    writeln!(out, "xref\n0 {size}\n0000000000 65535 f ")?;
    for offset in offsets {
        writeln!(out, "{offset:010} 00000 n ")?;
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

/// The least that could become smaller by more than the filter's name takes.
const LEAST: usize = 48;

/// One compressor for all streams of a document: its tables take longer to set up than most streams to pack.
struct Packer {
    compress: Compress,
    packed: Vec<u8>,
}

impl Packer {
    fn new() -> Self {
        Self {
            compress: Compress::new(Compression::new(LEVEL), true),
            packed: Vec::new(),
        }
    }

    /// Returns the packed bytes (RFC 1950), where that is worth the filter's name.
    fn pack(&mut self, bytes: &[u8]) -> Result<Option<&[u8]>, PdfError> {
        if bytes.len() < LEAST {
            return Ok(None);
        }
        self.compress.reset();
        self.packed.clear();
        // What cannot be packed grows by less than this (RFC 1951, 3.2.4).
        self.packed.reserve(bytes.len() + bytes.len() / 1000 + 128);
        let status = self
            .compress
            .compress_vec(bytes, &mut self.packed, FlushCompress::Finish)
            .map_err(std::io::Error::from)?;
        let whole = matches!(status, Status::StreamEnd);
        let worth = self.packed.len() + 20 < bytes.len();
        Ok((whole && worth).then_some(self.packed.as_slice()))
    }
}

fn write_stream(
    out: &mut Vec<u8>,
    mut stream: Stream,
    packer: &mut Packer,
) -> Result<(), PdfError> {
    let plain = std::mem::take(&mut stream.content);
    let packed = if stream.allows_compression && !stream.dict.has(b"Filter") {
        packer.pack(&plain)?
    } else {
        None
    };
    if packed.is_some() {
        stream.dict.set("Filter", "FlateDecode");
    }
    let bytes = packed.unwrap_or(&plain);
    stream.dict.set("Length", number(bytes.len()));
    syntax::dictionary(out, &stream.dict);
    out.extend(b"stream\n");
    out.extend_from_slice(bytes);
    out.extend(b"\nendstream");
    Ok(())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use std::io::Read as _;

    use super::*;

    fn unpacked(bytes: &[u8]) -> Vec<u8> {
        let mut plain = Vec::new();
        flate2::read::ZlibDecoder::new(bytes)
            .read_to_end(&mut plain)
            .unwrap();
        plain
    }

    #[test]
    fn streams_are_packed_where_it_is_worth_it_and_each_as_if_alone() {
        let text = b"0.5 0 0 rg ".repeat(4000);
        let other: Vec<u8> = (0..60_000_u32)
            .map(|n| u8::try_from(n * n % 251).unwrap())
            .collect();
        let mut packer = Packer::new();
        let alone = packer.pack(&text).unwrap().unwrap().to_vec();
        assert!(alone.len() < text.len() / 50);
        assert_eq!(unpacked(&alone), text);
        let second = packer.pack(&other).unwrap().unwrap().to_vec();
        assert_eq!(unpacked(&second), other);
        assert_eq!(
            packer.pack(&text).unwrap().unwrap(),
            alone,
            "nothing stays from the last one"
        );

        // Noise does not become smaller.
        let noise: Vec<u8> = (0_u64..2000)
            .scan(1_u64, |state, _| {
                *state = state
                    .wrapping_mul(6_364_136_223_846_793_005)
                    .wrapping_add(1_442_695_040_888_963_407);
                Some(state.to_be_bytes()[0])
            })
            .collect();
        assert_eq!(packer.pack(&noise).unwrap(), None);
        assert_eq!(packer.pack(b"").unwrap(), None);
        assert_eq!(packer.pack(&[b' '; 47]).unwrap(), None);
    }
}
