//! The files inside the PDF: the sealed record, `record.json`, and beside it at most `disclosures.json`, which shows
//! values that the record withholds, and `key-history.json`, which says how another key came to sign.
//!
//! Source: ISO 19005-3 (associated files in PDF/A-3) and ISO 32000-1, 7.11.4; from memory, text not read.

use std::io::Read as _;

use flate2::bufread::ZlibDecoder;

use super::{
    file::File,
    problem::{PdfProblem, RECORD_LIMIT},
    syntax::{Dictionary, Object, array},
};

/// Name of the embedded record.
pub(super) const RECORD_NAME: &str = "record.json";
/// Name of the disclosures beside it.
const DISCLOSURES_NAME: &str = "disclosures.json";
/// Name of the key history beside it.
const HISTORY_NAME: &str = "key-history.json";

/// What a report carries.
#[derive(Debug)]
pub(super) struct Carried {
    /// The sealed record.
    pub(super) record: Vec<u8>,
    /// The disclosures of values that the record withholds and the pages show.
    pub(super) disclosures: Option<Vec<u8>>,
    /// The key history of the issuer, where another of its keys signed the report.
    pub(super) history: Option<Vec<u8>>,
}

/// An embedded file: its title in the tree of names, and the number of its specification.
type Entry<'a> = (&'a [u8], u32);

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
    let listed = array(tree, "Names").unwrap_or_default();
    let associated = array(catalog, "AF").unwrap_or_default();
    let (record, beside) = entries(listed, associated)?;
    if names.len() != 1 || tree.len() != 1 || embedding(file) != 1 + beside.len() {
        return Err(PdfProblem::OtherAttachment);
    }
    let packed = stream(
        file,
        record,
        RECORD_NAME,
        missing("the embedded file has another name"),
    )?;
    let taken = |name: &'static str| {
        let found = beside.iter().find(|(known, _)| *known == name);
        let packed =
            found.map(|(_, entry)| stream(file, *entry, name, PdfProblem::OtherAttachment));
        packed.transpose()
    };
    let (disclosures, history) = (taken(DISCLOSURES_NAME)?, taken(HISTORY_NAME)?);
    let unpacked =
        |packed: Option<u32>, name| packed.map(|packed| unpack(file, packed, name)).transpose();
    Ok(Carried {
        record: unpack(file, packed, RECORD_NAME)?,
        disclosures: unpacked(disclosures, DISCLOSURES_NAME)?,
        history: unpacked(history, HISTORY_NAME)?,
    })
}

/// The record's entry, and those beside it with their names.
type Listed<'a> = (Entry<'a>, Vec<(&'static str, Entry<'a>)>);

/// Finds the record and what lies beside it. A tree of names is sorted (ISO 32000-1, 7.9.6), which puts the record last;
/// among the associated files it comes first.
fn entries<'a>(listed: &'a [Object], associated: &[Object]) -> Result<Listed<'a>, PdfProblem> {
    let count = associated.len();
    let ([others @ .., title, number], [other, beside @ ..]) = (listed, associated) else {
        return Err(unlisted(listed, associated));
    };
    if count > 3 || listed.len() != 2 * count {
        return Err(unlisted(listed, associated));
    }
    let record = entry(RECORD_NAME, title, number, other)?;
    let mut found: Vec<(&'static str, Entry<'a>)> = Vec::new();
    for (pair, other) in others.chunks_exact(2).zip(beside) {
        let [Object::Text(title), _] = pair else {
            return Err(PdfProblem::OtherAttachment);
        };
        let name = [DISCLOSURES_NAME, HISTORY_NAME]
            .into_iter()
            .find(|name| is_name(&title.bytes, name))
            .filter(|name| found.last().is_none_or(|(before, _)| before < name))
            .ok_or(PdfProblem::OtherAttachment)?;
        found.push((name, entry(name, &pair[0], &pair[1], other)?));
    }
    Ok((record, found))
}

/// The fault of a file whose lists of embedded and of associated files do not belong together.
const fn unlisted(listed: &[Object], associated: &[Object]) -> PdfProblem {
    if listed.len() > 2 || associated.len() > 1 {
        PdfProblem::OtherAttachment
    } else {
        missing(RECORD_NAME, "not listed once as associated file")
    }
}

const fn missing(name: &'static str, what: &'static str) -> PdfProblem {
    PdfProblem::NotEmbedded { name, what }
}

/// Reads one embedded file; its specification must be the one of the associated file.
fn entry<'a>(
    name: &'static str,
    title: &'a Object,
    number: &Object,
    associated: &Object,
) -> Result<Entry<'a>, PdfProblem> {
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
    (title, number): Entry<'_>,
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
    match dictionary.get(b"Filter".as_slice()) {
        None => Some(false),
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
