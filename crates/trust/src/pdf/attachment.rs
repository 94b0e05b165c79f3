//! The files inside the PDF: the sealed record, `record.json`, and beside it at most `disclosures.json`, which shows
//! values that the record withholds.
//!
//! Source: ISO 19005-3 (associated files in PDF/A-3) and ISO 32000-1, 7.11.4; from memory, text not read.

use std::io::Read as _;

use flate2::bufread::ZlibDecoder;

use super::{
    file::File,
    problem::{PdfProblem, RECORD_LIMIT},
    syntax::{Dictionary, Object},
};

/// Name of the embedded record.
pub(super) const RECORD_NAME: &str = "record.json";
/// Name of the disclosures beside it.
const DISCLOSURES_NAME: &str = "disclosures.json";

/// What a report carries.
#[derive(Debug)]
pub(super) struct Carried {
    /// The sealed record.
    pub(super) record: Vec<u8>,
    /// The disclosures of values that the record withholds and the pages show.
    pub(super) disclosures: Option<Vec<u8>>,
}

/// Takes the embedded files out.
///
/// # Errors
/// When the record is missing, a file is too large or packed in an unknown way, or there are others.
pub(super) fn files(file: &File<'_>) -> Result<Carried, PdfProblem> {
    let missing = |what| missing(RECORD_NAME, what);
    let catalog = file
        .dictionary(&file.trailer, "Root")
        .ok_or(missing("no catalogue"))?;
    let names = file
        .dictionary(catalog, "Names")
        .ok_or(missing("no tree of names"))?;
    let tree = file
        .dictionary(names, "EmbeddedFiles")
        .ok_or(missing("no embedded files"))?;
    let listed = file.array(tree, "Names").unwrap_or_default();
    let associated = file.array(catalog, "AF").unwrap_or_default();
    let (record, disclosures) = match (listed, associated) {
        ([title, number], [other]) => (entry(RECORD_NAME, title, number, other)?, None),
        // A tree of names is sorted (ISO 32000-1, 7.9.6); the record comes first among the associated files.
        ([beside, beside_number, title, number], [other, beside_other]) => (
            entry(RECORD_NAME, title, number, other)?,
            Some(entry(
                DISCLOSURES_NAME,
                beside,
                beside_number,
                beside_other,
            )?),
        ),
        _ if listed.len() > 2 || associated.len() > 1 => return Err(PdfProblem::OtherAttachment),
        _ => return Err(missing("not listed once as associated file")),
    };
    let count = 1 + usize::from(disclosures.is_some());
    if names.len() != 1 || tree.len() != 1 || embedding(file) != count {
        return Err(PdfProblem::OtherAttachment);
    }
    let packed = stream(
        file,
        record,
        RECORD_NAME,
        missing("the embedded file has another name"),
    )?;
    let beside = disclosures
        .map(|entry| stream(file, entry, DISCLOSURES_NAME, PdfProblem::OtherAttachment))
        .transpose()?;
    Ok(Carried {
        record: unpack(file, packed, RECORD_NAME)?,
        disclosures: beside
            .map(|packed| unpack(file, packed, DISCLOSURES_NAME))
            .transpose()?,
    })
}

const fn missing(name: &'static str, what: &'static str) -> PdfProblem {
    PdfProblem::NotEmbedded { name, what }
}

/// One embedded file: its title in the tree of names, and the number of its specification, which must be the one of
/// the associated file.
fn entry<'a>(
    name: &'static str,
    title: &'a Object,
    number: &Object,
    associated: &Object,
) -> Result<(&'a [u8], u32), PdfProblem> {
    match (title, number, associated) {
        (Object::Text(title), Object::Reference(number), Object::Reference(other))
            if number == other =>
        {
            Ok((&title.bytes, *number))
        }
        (Object::Text(_), Object::Reference(_), Object::Reference(_)) => Err(missing(
            name,
            "the associated file is another one than the embedded file",
        )),
        _ => Err(missing(name, "not listed once as associated file")),
    }
}

/// Finds the stream of an embedded file that must bear `name` in all three places.
fn stream(
    file: &File<'_>,
    (title, number): (&[u8], u32),
    name: &'static str,
    other_name: PdfProblem,
) -> Result<u32, PdfProblem> {
    let missing = |what| missing(name, what);
    let Some(Object::Dictionary(specification)) =
        file.objects.get(&number).map(|object| &object.value)
    else {
        return Err(missing("no file specification"));
    };
    let named = ["F", "UF"]
        .iter()
        .all(|key| match specification.get(key.as_bytes()) {
            Some(Object::Text(text)) => is_name(&text.bytes, name),
            _ => false,
        });
    if !named || !is_name(title, name) {
        return Err(other_name);
    }
    let embedded = file
        .dictionary(specification, "EF")
        .ok_or(missing("no embedded file"))?;
    let stream = embedded
        .get(b"F".as_slice())
        .ok_or(missing("no embedded file"))?;
    if embedded.values().any(|value| value != stream) {
        return Err(PdfProblem::OtherAttachment);
    }
    match stream {
        Object::Reference(stream) => Ok(*stream),
        _ => Err(missing("no embedded file")),
    }
}

/// How many dictionaries of the file embed something.
fn embedding(file: &File<'_>) -> usize {
    fn count(object: &Object) -> usize {
        match object {
            Object::Dictionary(dictionary) => {
                usize::from(dictionary.contains_key(b"EF".as_slice()))
                    + dictionary.values().map(count).sum::<usize>()
            }
            Object::Array(items, _) => items.iter().map(count).sum(),
            _ => 0,
        }
    }
    file.objects
        .values()
        .map(|object| count(&object.value))
        .sum()
}

/// The name in plain characters or in UTF-16 with its mark.
fn is_name(bytes: &[u8], name: &str) -> bool {
    let Some(wide) = bytes.strip_prefix(&[0xfe, 0xff]) else {
        return bytes == name.as_bytes();
    };
    let units: Vec<u8> = name.encode_utf16().flat_map(u16::to_be_bytes).collect();
    wide == units
}

fn unpack(file: &File<'_>, number: u32, name: &'static str) -> Result<Vec<u8>, PdfProblem> {
    let object = file
        .objects
        .get(&number)
        .ok_or(PdfProblem::MissingObject(number))?;
    let (Object::Dictionary(dictionary), Some(place)) = (&object.value, &object.stream) else {
        return Err(PdfProblem::EmbeddedUnreadable { name });
    };
    let packed = file.bytes.get(place.clone()).unwrap_or_default();
    match filter(dictionary) {
        Some(false) if packed.len() > RECORD_LIMIT => Err(PdfProblem::EmbeddedTooLarge { name }),
        Some(false) => Ok(packed.to_vec()),
        Some(true) => inflate(packed, name),
        None => Err(PdfProblem::EmbeddedUnreadable { name }),
    }
}

/// Whether the stream is deflated; nothing when it is packed in another way.
fn filter(dictionary: &Dictionary) -> Option<bool> {
    if dictionary.contains_key(b"DecodeParms".as_slice()) {
        return None;
    }
    match dictionary.get(b"Filter".as_slice()) {
        None => Some(false),
        Some(Object::Array(items, _)) if items.is_empty() => Some(false),
        Some(Object::Array(items, _)) if items.len() > 1 => None,
        Some(Object::Array(items, _)) => items
            .first()
            .filter(|item| item.is_name("FlateDecode"))
            .map(|_| true),
        Some(value) => value.is_name("FlateDecode").then_some(true),
    }
}

fn inflate(packed: &[u8], name: &'static str) -> Result<Vec<u8>, PdfProblem> {
    let mut decoder = ZlibDecoder::new(packed);
    let mut bytes = Vec::new();
    let limit = u64::try_from(RECORD_LIMIT)
        .unwrap_or(u64::MAX)
        .saturating_add(1);
    (&mut decoder)
        .take(limit)
        .read_to_end(&mut bytes)
        .map_err(|_| PdfProblem::EmbeddedUnreadable { name })?;
    if bytes.len() > RECORD_LIMIT {
        return Err(PdfProblem::EmbeddedTooLarge { name });
    }
    // Bytes behind the packed ones would travel with the record and be seen by nobody.
    if decoder.total_in() == u64::try_from(packed.len()).unwrap_or(u64::MAX) {
        Ok(bytes)
    } else {
        Err(PdfProblem::EmbeddedUnreadable { name })
    }
}
