//! A file read once for all rules: its objects, its pages, what is drawn on them.

use std::collections::BTreeSet;

use lopdf::{Dictionary, Document, Object, ObjectId, Stream};

use super::content::Content;
use super::file::is_encrypted;
use super::tree::Tree;

/// Most bytes that a stream may give when it is unpacked.
const STREAM_LIMIT: usize = 1 << 26;

/// One content stream: a page, or the appearance of a field.
pub(super) struct Sheet<'a> {
    /// Name for messages.
    pub(super) name: String,
    /// Index of the page; none for an appearance.
    pub(super) page: Option<usize>,
    /// Its resources.
    pub(super) resources: &'a Dictionary,
    /// What it draws.
    pub(super) content: Content,
}

/// What the rules look at.
pub struct Facts<'a> {
    pub(super) bytes: &'a [u8],
    pub(super) document: &'a Document,
    /// Why the file could not be read at all.
    pub(super) unreadable: Option<String>,
    /// Pages in order.
    pub(super) pages: Vec<ObjectId>,
    pub(super) sheets: Vec<Sheet<'a>>,
    pub(super) tree: Tree,
}

/// Stands where a dictionary is missing.
pub(super) fn nothing() -> &'static Dictionary {
    static NOTHING: std::sync::LazyLock<Dictionary> = std::sync::LazyLock::new(Dictionary::new);
    &NOTHING
}

/// Follows references; what leads nowhere is null.
pub(super) fn follow<'d>(document: &'d Document, object: &'d Object) -> &'d Object {
    document
        .dereference(object)
        .map_or(&Object::Null, |(_, object)| object)
}

/// Dictionary of an object, also of a stream.
pub(super) fn dictionary_of(object: &Object) -> Option<&Dictionary> {
    match object {
        Object::Dictionary(dictionary) => Some(dictionary),
        Object::Stream(stream) => Some(&stream.dict),
        _ => None,
    }
}

/// Bytes as text for messages.
pub(super) fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// A text string as characters (ISO 32000-1, 7.9.2.2, from memory; what is not UTF-16 is taken as Latin-1).
pub(super) fn words(bytes: &[u8]) -> String {
    match bytes.strip_prefix(&[0xfe, 0xff]) {
        Some(rest) => {
            let units: Vec<u16> = rest
                .chunks_exact(2)
                .map(|pair| u16::from_be_bytes([pair[0], pair[1]]))
                .collect();
            String::from_utf16_lossy(&units)
        }
        None => bytes.iter().map(|byte| char::from(*byte)).collect(),
    }
}

/// Bytes of a stream, unpacked where it is packed.
pub(super) fn unpacked(stream: &Stream) -> Result<Vec<u8>, String> {
    if stream.dict.has(b"Filter") {
        stream
            .get_plain_content_with_limit(STREAM_LIMIT)
            .map_err(|error| error.to_string())
    } else {
        Ok(stream.content.clone())
    }
}

impl Facts<'_> {
    /// Reads a file; what cannot be read is told by the first rule.
    pub(super) fn run<T>(bytes: &[u8], look: impl FnOnce(&Facts<'_>) -> T) -> T {
        let (document, unreadable) = match Document::load_mem(bytes) {
            // lopdf does not read the objects of an encrypted file.
            Ok(document) if document.get_pages().is_empty() && !is_encrypted(bytes) => {
                (document, Some("no page".to_owned()))
            }
            Ok(document) => (document, None),
            Err(error) => (Document::new(), Some(error.to_string())),
        };
        let pages: Vec<ObjectId> = document.get_pages().into_values().collect();
        let sheets = sheets(&document, &pages);
        let tree = Tree::read(&document, &pages);
        look(&Facts {
            bytes,
            document: &document,
            unreadable,
            pages,
            sheets,
            tree,
        })
    }

    pub(super) fn follow<'s>(&'s self, object: &'s Object) -> &'s Object {
        follow(self.document, object)
    }

    /// An entry, with references followed; none for null.
    pub(super) fn get<'s>(&'s self, dictionary: &'s Dictionary, key: &str) -> Option<&'s Object> {
        let object = self.follow(dictionary.get(key.as_bytes()).ok()?);
        (!object.is_null()).then_some(object)
    }

    /// An entry that is a dictionary or a stream's dictionary.
    pub(super) fn dictionary<'s>(
        &'s self,
        dictionary: &'s Dictionary,
        key: &str,
    ) -> Option<&'s Dictionary> {
        dictionary_of(self.get(dictionary, key)?)
    }

    pub(super) fn stream<'s>(
        &'s self,
        dictionary: &'s Dictionary,
        key: &str,
    ) -> Option<&'s Stream> {
        self.get(dictionary, key)?.as_stream().ok()
    }

    pub(super) fn array<'s>(&'s self, dictionary: &'s Dictionary, key: &str) -> &'s [Object] {
        self.get(dictionary, key)
            .and_then(|object| object.as_array().ok())
            .map_or(&[], Vec::as_slice)
    }

    pub(super) fn name<'s>(&'s self, dictionary: &'s Dictionary, key: &str) -> Option<&'s [u8]> {
        self.get(dictionary, key)?.as_name().ok()
    }

    pub(super) fn string<'s>(&'s self, dictionary: &'s Dictionary, key: &str) -> Option<&'s [u8]> {
        self.get(dictionary, key)?.as_str().ok()
    }

    pub(super) fn integer(&self, dictionary: &Dictionary, key: &str) -> Option<i64> {
        self.get(dictionary, key)?.as_i64().ok()
    }

    /// The catalogue.
    pub(super) fn catalog(&self) -> &Dictionary {
        self.document.catalog().unwrap_or(nothing())
    }

    /// Dictionary of a page.
    pub(super) fn page(&self, id: ObjectId) -> &Dictionary {
        self.document.get_dictionary(id).unwrap_or(nothing())
    }

    /// Every dictionary of the file, those inside others too, with the number of the object it lies in.
    pub(super) fn dictionaries(&self) -> Vec<(u32, &Dictionary)> {
        fn visit<'s>(number: u32, object: &'s Object, found: &mut Vec<(u32, &'s Dictionary)>) {
            match object {
                Object::Array(items) => {
                    for item in items {
                        visit(number, item, found);
                    }
                }
                Object::Dictionary(_) | Object::Stream(_) => {
                    let dictionary = dictionary_of(object).unwrap_or(nothing());
                    found.push((number, dictionary));
                    for (_, value) in dictionary {
                        visit(number, value, found);
                    }
                }
                _ => {}
            }
        }
        let mut found = Vec::new();
        for (id, object) in &self.document.objects {
            visit(id.0, object, &mut found);
        }
        found.push((0, &self.document.trailer));
        found
    }

    /// Every stream of the file with the number of its object.
    pub(super) fn streams(&self) -> impl Iterator<Item = (u32, &Stream)> {
        self.document
            .objects
            .iter()
            .filter_map(|(id, object)| Some((id.0, object.as_stream().ok()?)))
    }

    /// Annotations of all pages: page index, object number (0 when it stands in the page), dictionary.
    pub(super) fn annotations(&self) -> Vec<(usize, u32, &Dictionary)> {
        let mut found = Vec::new();
        for (index, id) in self.pages.iter().enumerate() {
            for object in self.array(self.page(*id), "Annots") {
                let number = object.as_reference().map_or(0, |id| id.0);
                if let Some(dictionary) = dictionary_of(self.follow(object)) {
                    found.push((index, number, dictionary));
                }
            }
        }
        found
    }

    /// Resources of one kind over all sheets, each object once: name of the sheet, resource name, object.
    pub(super) fn resources(&self, kind: &str) -> Vec<(String, &Object)> {
        let (mut found, mut seen) = (Vec::new(), BTreeSet::new());
        for sheet in &self.sheets {
            let Some(entries) = self.dictionary(sheet.resources, kind) else {
                continue;
            };
            for (name, object) in entries {
                let fresh = object.as_reference().map_or(true, |id| seen.insert(id));
                if fresh {
                    found.push((
                        format!("{}: /{}", sheet.name, text(name)),
                        self.follow(object),
                    ));
                }
            }
        }
        found
    }
}

fn sheets<'a>(document: &'a Document, pages: &[ObjectId]) -> Vec<Sheet<'a>> {
    let mut sheets = Vec::new();
    for (index, id) in pages.iter().enumerate() {
        let page = document.get_dictionary(*id).unwrap_or(nothing());
        let resources = inherited(document, page, b"Resources")
            .and_then(dictionary_of)
            .unwrap_or(nothing());
        sheets.push(Sheet {
            name: format!("page {}", index + 1),
            page: Some(index),
            resources,
            content: Content::read(&document.get_page_content(*id)),
        });
    }
    for (id, object) in &document.objects {
        let Ok(stream) = object.as_stream() else {
            continue;
        };
        let form = stream
            .dict
            .get(b"Subtype")
            .and_then(Object::as_name)
            .is_ok_and(|kind| kind == b"Form");
        if form {
            sheets.push(Sheet {
                name: format!("form of object {}", id.0),
                page: None,
                resources: stream
                    .dict
                    .get(b"Resources")
                    .ok()
                    .and_then(|object| dictionary_of(follow(document, object)))
                    .unwrap_or(nothing()),
                content: Content::read(&unpacked(stream).unwrap_or_default()),
            });
        }
    }
    sheets
}

/// An entry of a page, or of the nodes above it (ISO 32000-1, 7.7.3.4, from memory).
pub(super) fn inherited<'a>(
    document: &'a Document,
    page: &'a Dictionary,
    key: &[u8],
) -> Option<&'a Object> {
    let mut node = page;
    for _ in 0..32 {
        if let Ok(object) = node.get(key) {
            return Some(follow(document, object));
        }
        node = dictionary_of(follow(document, node.get(b"Parent").ok()?))?;
    }
    None
}

/// Pairs of a number tree or name tree, over all its kids.
pub(super) fn pairs<'a>(
    document: &'a Document,
    root: &'a Dictionary,
    leaves: &[u8],
) -> Vec<(&'a Object, &'a Object)> {
    let (mut found, mut open, mut steps) = (Vec::new(), vec![root], 0);
    while let Some(node) = open.pop() {
        steps += 1;
        if steps > 10_000 {
            break;
        }
        let list = |key: &[u8]| {
            node.get(key)
                .ok()
                .and_then(|object| follow(document, object).as_array().ok())
                .map_or(&[][..], Vec::as_slice)
        };
        for pair in list(leaves).chunks_exact(2) {
            found.push((&pair[0], &pair[1]));
        }
        open.extend(
            list(b"Kids")
                .iter()
                .filter_map(|kid| dictionary_of(follow(document, kid))),
        );
    }
    found
}

/// Each object of the file that the trailer reaches.
pub(super) fn reached(document: &Document) -> BTreeSet<ObjectId> {
    let mut reached = BTreeSet::new();
    let mut open: Vec<&Object> = document.trailer.iter().map(|(_, value)| value).collect();
    while let Some(object) = open.pop() {
        match object {
            Object::Reference(id) => {
                if reached.insert(*id)
                    && let Ok(object) = document.get_object(*id)
                {
                    open.push(object);
                }
            }
            Object::Array(items) => open.extend(items),
            Object::Dictionary(_) | Object::Stream(_) => {
                let dictionary = dictionary_of(object).unwrap_or(nothing());
                open.extend(dictionary.iter().map(|(_, value)| value));
            }
            _ => {}
        }
    }
    reached
}
