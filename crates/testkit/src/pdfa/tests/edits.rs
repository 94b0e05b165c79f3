//! Small changes to a document, by which fixtures are made.

use lopdf::{Dictionary, Document, Object, ObjectId, Stream, content::Content, content::Operation};

use super::super::facts::unpacked;

/// Changes the first dictionary (also of a stream) for which `which` holds.
pub(super) fn first(
    document: &mut Document,
    which: impl Fn(&Dictionary) -> bool,
    edit: impl FnOnce(&mut Dictionary),
) {
    let id = find(document, which);
    edit(dictionary(document, id));
}

/// The first object whose dictionary is wanted.
pub(super) fn find(document: &Document, which: impl Fn(&Dictionary) -> bool) -> ObjectId {
    *document
        .objects
        .iter()
        .find(|(_, object)| match object {
            Object::Dictionary(dictionary) => which(dictionary),
            Object::Stream(stream) => which(&stream.dict),
            _ => false,
        })
        .expect("an object of this kind")
        .0
}

pub(super) fn dictionary(document: &mut Document, id: ObjectId) -> &mut Dictionary {
    match document.get_object_mut(id).unwrap() {
        Object::Dictionary(dictionary) => dictionary,
        Object::Stream(stream) => &mut stream.dict,
        _ => panic!("no dictionary"),
    }
}

pub(super) fn named(dictionary: &Dictionary, key: &str, value: &str) -> bool {
    dictionary
        .get(key.as_bytes())
        .and_then(Object::as_name)
        .is_ok_and(|name| name == value.as_bytes())
}

/// A structure element of this type.
pub(super) fn element(role: &'static str) -> impl Fn(&Dictionary) -> bool {
    move |dictionary| named(dictionary, "S", role) && dictionary.has(b"P")
}

pub(super) fn catalog(document: &mut Document) -> &mut Dictionary {
    document.catalog_mut().unwrap()
}

/// A dictionary that stands in the catalogue, itself or by reference.
pub(super) fn in_catalog<'d>(document: &'d mut Document, key: &str) -> &'d mut Dictionary {
    let object = document
        .catalog()
        .unwrap()
        .get(key.as_bytes())
        .unwrap()
        .clone();
    match object {
        Object::Reference(id) => dictionary(document, id),
        _ => catalog(document)
            .get_mut(key.as_bytes())
            .unwrap()
            .as_dict_mut()
            .unwrap(),
    }
}

pub(super) fn page(document: &mut Document) -> &mut Dictionary {
    let id = *document.get_pages().values().next().unwrap();
    dictionary(document, id)
}

pub(super) fn inner<'d>(dictionary: &'d mut Dictionary, key: &str) -> &'d mut Dictionary {
    dictionary
        .get_mut(key.as_bytes())
        .unwrap()
        .as_dict_mut()
        .unwrap()
}

/// Changes the operations of the first page.
pub(super) fn operations(document: &mut Document, edit: impl FnOnce(&mut Vec<Operation>)) {
    let id = *document.get_pages().values().next().unwrap();
    let content = document.get_page_contents(id)[0];
    let mut decoded = Content::decode(&document.get_page_content(id)).unwrap();
    edit(&mut decoded.operations);
    let bytes = decoded.encode().unwrap();
    let stream = document
        .get_object_mut(content)
        .unwrap()
        .as_stream_mut()
        .unwrap();
    stream.set_plain_content(bytes);
}

pub(super) fn operation(operator: &str, operands: Vec<Object>) -> Operation {
    Operation::new(operator, operands)
}

/// Changes the text of the metadata packet.
pub(super) fn packet(document: &mut Document, from: &str, to: &str) {
    let id = find(document, |dictionary| named(dictionary, "Type", "Metadata"));
    let stream = document
        .get_object_mut(id)
        .unwrap()
        .as_stream_mut()
        .unwrap();
    let text = String::from_utf8(stream.content.clone()).unwrap();
    assert!(text.contains(from), "{from}");
    stream.set_content(text.replacen(from, to, 1).into_bytes());
}

/// Changes the unpacked bytes of the first stream that is wanted.
pub(super) fn stream(
    document: &mut Document,
    which: impl Fn(&Dictionary) -> bool,
    edit: impl FnOnce(&mut Vec<u8>),
) {
    let id = find(document, which);
    let stream: &mut Stream = document
        .get_object_mut(id)
        .unwrap()
        .as_stream_mut()
        .unwrap();
    let mut bytes = unpacked(stream).unwrap();
    edit(&mut bytes);
    stream.set_plain_content(bytes);
}
