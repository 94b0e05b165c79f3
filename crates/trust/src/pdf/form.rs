//! The rules on what a report may hold: one signature field ([`field`]), one attachment, nothing that acts or hides.
//!
//! A signature says that bytes are unchanged; these rules see to it that the bytes show one thing only.
//!
//! Source: the attacks published by Ruhr University Bochum, "Vulnerabilities in PDF signatures" (2019),
//! "Shadow attacks" (2021) and "Certification attacks" (2021); from memory and second hand. Names of entries:
//! ISO 32000-1, from memory.

use std::collections::BTreeSet;

use super::{
    field,
    file::File,
    problem::PdfProblem,
    syntax::{Dictionary, Object, name},
};

/// What the catalogue of a report may hold.
const CATALOG_KEYS: [&[u8]; 14] = [
    b"AF",
    b"AcroForm",
    b"Lang",
    b"MarkInfo",
    b"Metadata",
    b"Names",
    b"Outlines",
    b"OutputIntents",
    b"PageMode",
    b"Pages",
    b"Perms",
    b"StructTreeRoot",
    b"Type",
    b"ViewerPreferences",
];
/// Entries that make something happen, in whichever dictionary they stand: the last three turn pages by themselves.
const ACTIVE_KEYS: [&[u8]; 9] = [
    b"OpenAction",
    b"AA",
    b"JavaScript",
    b"JS",
    b"URI",
    b"XFA",
    b"Trans",
    b"Dur",
    b"PresSteps",
];
/// Actions other than going to another page of the same file.
const ACTIONS: [&[u8]; 18] = [
    b"GoTo3DView",
    b"GoToE",
    b"GoToR",
    b"Hide",
    b"ImportData",
    b"JavaScript",
    b"Launch",
    b"Movie",
    b"Named",
    b"Rendition",
    b"ResetForm",
    b"RichMediaExecute",
    b"SetOCGState",
    b"Sound",
    b"SubmitForm",
    b"Thread",
    b"Trans",
    b"URI",
];
/// Entries of layers.
const LAYER_KEYS: [&[u8]; 3] = [b"OCProperties", b"OC", b"OCGs"];
/// Entries that show something else in print, in small, or in the program that wrote them.
const EXCHANGED_KEYS: [&[u8]; 4] = [b"Alternates", b"OPI", b"PieceInfo", b"Thumb"];
/// Entries of a stream that take content from elsewhere.
const OUTSIDE_KEYS: [&[u8]; 4] = [b"F", b"FDecodeParms", b"FFilter", b"Ref"];

/// Names by which a dictionary is told to act or to be an annotation. Written in an object of their own they would be one
/// thing to a program that looks them up and another to one that does not.
const OWN_NAMES: [&str; 3] = ["S", "Subtype", "Type"];

/// The most problems of one kind that are listed: a hostile file could have a million.
const LISTED: usize = 10;

/// What the rules found.
#[derive(Debug, Default)]
pub(super) struct Findings<'a> {
    pub(super) problems: Vec<PdfProblem>,
    /// The signature dictionary of the signature field.
    pub(super) signature: Option<&'a Dictionary>,
}

/// Applies every rule but those on signature bytes and attachment.
pub(super) fn check<'a>(file: &'a File<'_>) -> Findings<'a> {
    let mut findings = Findings::default();
    references(file, &mut findings.problems);
    contents(file, &mut findings.problems);
    match file.dictionary(&file.trailer, "Root") {
        Some(catalog)
            if catalog
                .get(b"Type".as_slice())
                .is_some_and(|kind| kind.is_name("Catalog")) =>
        {
            catalog_entries(catalog, &mut findings.problems);
            field::check(file, catalog, &mut findings);
        }
        _ => findings
            .problems
            .push(PdfProblem::CatalogEntry("no catalogue".to_owned())),
    }
    findings
}

/// Shows every dictionary inside `object`, itself included.
pub(super) fn visit<'a>(object: &'a Object, seen: &mut impl FnMut(&'a Dictionary)) {
    match object {
        Object::Dictionary(dictionary) => {
            seen(dictionary);
            for value in dictionary.values() {
                visit(value, seen);
            }
        }
        Object::Array(items, _) => {
            for item in items {
                visit(item, seen);
            }
        }
        _ => {}
    }
}

fn linked(object: &Object, found: &mut Vec<u32>) {
    match object {
        Object::Reference(number) => found.push(*number),
        Object::Dictionary(dictionary) => {
            for value in dictionary.values() {
                linked(value, found);
            }
        }
        Object::Array(items, _) => {
            for item in items {
                linked(item, found);
            }
        }
        _ => {}
    }
}

/// Every object is reached from the trailer, and every one named is there.
fn references(file: &File<'_>, problems: &mut Vec<PdfProblem>) {
    let mut open = Vec::new();
    for value in file.trailer.values() {
        linked(value, &mut open);
    }
    let (mut reached, mut missing) = (BTreeSet::new(), BTreeSet::new());
    while let Some(number) = open.pop() {
        if !reached.insert(number) {
            continue;
        }
        match file.objects.get(&number) {
            Some(object) => linked(&object.value, &mut open),
            None => {
                missing.insert(number);
            }
        }
    }
    problems.extend(
        missing
            .into_iter()
            .take(LISTED)
            .map(PdfProblem::MissingObject),
    );
    let unreached = file
        .objects
        .keys()
        .filter(|number| !reached.contains(number));
    problems.extend(
        unreached
            .take(LISTED)
            .map(|number| PdfProblem::UnreferencedObject(*number)),
    );
}

/// Nothing acts, hides, comes from outside or is packed away, wherever it stands.
fn contents(file: &File<'_>, problems: &mut Vec<PdfProblem>) {
    let (mut signatures, mut packed) = (0, Vec::new());
    let (mut active, mut layers, mut outside) = (BTreeSet::new(), BTreeSet::new(), BTreeSet::new());
    let mut distant = BTreeSet::new();
    for (number, object) in &file.objects {
        visit(&object.value, &mut |dictionary| {
            distant.extend(OWN_NAMES.into_iter().filter(|key| {
                matches!(dictionary.get(key.as_bytes()), Some(Object::Reference(_)))
            }));
            let kind = name(dictionary, "Type").unwrap_or_default();
            if kind == b"Sig" || dictionary.contains_key(b"ByteRange".as_slice()) {
                signatures += 1;
            }
            active.extend(
                dictionary
                    .keys()
                    .filter(|key| ACTIVE_KEYS.contains(&key.as_slice()))
                    .cloned(),
            );
            if let Some(action) = name(dictionary, "S").filter(|action| ACTIONS.contains(action)) {
                active.insert(action.to_vec());
            }
            layers.extend(
                dictionary
                    .keys()
                    .filter(|key| LAYER_KEYS.contains(&key.as_slice()))
                    .cloned(),
            );
            if matches!(kind, b"OCG" | b"OCMD") {
                layers.insert(kind.to_vec());
            }
            outside.extend(
                dictionary
                    .keys()
                    .filter(|key| EXCHANGED_KEYS.contains(&key.as_slice()))
                    .cloned(),
            );
            if kind == b"Filespec" && !dictionary.contains_key(b"EF".as_slice()) {
                outside.insert(kind.to_vec());
            }
        });
        if let (Object::Dictionary(dictionary), Some(_)) = (&object.value, &object.stream) {
            outside.extend(
                dictionary
                    .keys()
                    .filter(|key| OUTSIDE_KEYS.contains(&key.as_slice()))
                    .cloned(),
            );
            if matches!(name(dictionary, "Type"), Some(b"ObjStm" | b"XRef")) {
                problems.push(PdfProblem::PackedObjects(*number));
            }
            if !is_plainly_packed(dictionary) {
                packed.push(*number);
            }
        }
    }
    problems.extend(packed.into_iter().take(LISTED).map(PdfProblem::Packing));
    problems.extend(distant.into_iter().map(PdfProblem::DistantName));
    problems.extend(
        active
            .iter()
            .map(|key| PdfProblem::ActiveContent(printable(key))),
    );
    problems.extend(
        layers
            .iter()
            .map(|key| PdfProblem::OptionalContent(printable(key))),
    );
    problems.extend(
        outside
            .iter()
            .map(|key| PdfProblem::ExternalContent(printable(key))),
    );
    if signatures != 1 {
        problems.push(PdfProblem::SignatureDictionaries { found: signatures });
    }
}

/// Whether a stream is packed in one of the ways that readers do not disagree about.
fn is_plainly_packed(stream: &Dictionary) -> bool {
    let known = match stream.get(b"Filter".as_slice()) {
        None => true,
        Some(filter) => filter.is_name("FlateDecode") || filter.is_name("DCTDecode"),
    };
    known && !stream.contains_key(b"DecodeParms".as_slice())
}

fn printable(name: &[u8]) -> String {
    crate::key::shorten(&String::from_utf8_lossy(name))
}

fn catalog_entries(catalog: &Dictionary, problems: &mut Vec<PdfProblem>) {
    // Entries with a rule of their own are reported there.
    let known = |key: &&Vec<u8>| CATALOG_KEYS.contains(&key.as_slice()) || is_elsewhere(key);
    let others = catalog.keys().filter(|key| !known(key));
    problems.extend(
        others
            .take(LISTED)
            .map(|key| PdfProblem::CatalogEntry(printable(key))),
    );
}

/// Whether an entry is refused wherever it stands, by a rule of its own.
pub(super) fn is_elsewhere(key: &[u8]) -> bool {
    ACTIVE_KEYS.contains(&key) || LAYER_KEYS.contains(&key) || EXCHANGED_KEYS.contains(&key)
}
