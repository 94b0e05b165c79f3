//! The rules on what a report may hold: one signature field, one attachment, nothing that acts or hides.
//!
//! A signature says that bytes are unchanged; these rules see to it that the bytes show one thing only.
//!
//! Source: the attacks published by Ruhr University Bochum, "Vulnerabilities in PDF signatures" (2019),
//! "Shadow attacks" (2021) and "Certification attacks" (2021); from memory and second hand. Names of entries:
//! ISO 32000-1, from memory.

use std::collections::BTreeSet;

use super::{
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
/// What the signature field, which is its own widget, may hold.
const FIELD_KEYS: [&[u8]; 11] = [
    b"AP",
    b"F",
    b"FT",
    b"P",
    b"Rect",
    b"StructParent",
    b"Subtype",
    b"T",
    b"TU",
    b"Type",
    b"V",
];
/// What the signature dictionary may hold.
const SIGNATURE_KEYS: [&[u8]; 8] = [
    b"ByteRange",
    b"Contents",
    b"Filter",
    b"M",
    b"Name",
    b"Reference",
    b"SubFilter",
    b"Type",
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
            signature_field(file, catalog, &mut findings);
        }
        _ => findings
            .problems
            .push(PdfProblem::CatalogEntry("no catalogue".to_owned())),
    }
    findings
}

/// Shows every dictionary inside `object`, itself included.
fn visit<'a>(object: &'a Object, seen: &mut impl FnMut(&'a Dictionary)) {
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
    for (number, object) in &file.objects {
        visit(&object.value, &mut |dictionary| {
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

/// One field, one widget on one page, one signature, certified as final.
fn signature_field<'a>(file: &'a File<'_>, catalog: &'a Dictionary, findings: &mut Findings<'a>) {
    let problems = &mut findings.problems;
    let Some(form) = file.dictionary(catalog, "AcroForm") else {
        problems.push(PdfProblem::SignatureField("no form"));
        annotations(file, None, problems);
        return;
    };
    let others =
        |key: &&Vec<u8>| !matches!(key.as_slice(), b"Fields" | b"SigFlags") && !is_elsewhere(key);
    if form.keys().any(|key| others(&key)) {
        problems.push(PdfProblem::SignatureField(
            "the form has other entries than Fields and SigFlags",
        ));
    }
    if form.get(b"SigFlags".as_slice()) != Some(&Object::Integer(3)) {
        problems.push(PdfProblem::SignatureField("SigFlags is not 3"));
    }
    let fields = file.array(form, "Fields").unwrap_or_default();
    let [Object::Reference(number)] = fields else {
        problems.push(PdfProblem::SignatureField("not exactly one field"));
        annotations(file, None, problems);
        return;
    };
    annotations(file, Some(*number), problems);
    let Some(Object::Dictionary(field)) = fields.first().and_then(|field| file.follow(field))
    else {
        problems.push(PdfProblem::SignatureField("the field is not a dictionary"));
        return;
    };
    let plain = name(field, "FT") == Some(b"Sig")
        && name(field, "Subtype") == Some(b"Widget")
        // An entry with a rule of its own is reported there.
        && field.keys().all(|key| FIELD_KEYS.contains(&key.as_slice()) || is_elsewhere(key))
        && has_one_appearance(file, field);
    if !plain {
        problems.push(PdfProblem::SignatureField(
            "the field is no plain signature field",
        ));
    }
    let Some(Object::Reference(value)) = field.get(b"V".as_slice()) else {
        problems.push(PdfProblem::SignatureField("the field has no signature"));
        return;
    };
    let Some(Object::Dictionary(signature)) = file.objects.get(value).map(|object| &object.value)
    else {
        problems.push(PdfProblem::SignatureField(
            "the signature is not a dictionary",
        ));
        return;
    };
    findings.signature = Some(signature);
    let kind = ["Type", "Filter", "SubFilter"].map(|key| name(signature, key));
    let others = |key: &Vec<u8>| !SIGNATURE_KEYS.contains(&key.as_slice()) && !is_elsewhere(key);
    if kind
        != [
            Some(b"Sig".as_slice()),
            Some(b"Adobe.PPKLite"),
            Some(b"ETSI.CAdES.detached"),
        ]
        || signature.keys().any(others)
    {
        problems.push(PdfProblem::SignatureKind);
    }
    certification(file, catalog, signature, *value, problems);
}

/// Whether an entry is refused wherever it stands, by a rule of its own.
fn is_elsewhere(key: &[u8]) -> bool {
    ACTIVE_KEYS.contains(&key) || LAYER_KEYS.contains(&key) || EXCHANGED_KEYS.contains(&key)
}

/// Whether the widget looks the same at rest, under the pointer and pressed: it has one appearance or none.
fn has_one_appearance(file: &File<'_>, field: &Dictionary) -> bool {
    if !field.contains_key(b"AP".as_slice()) {
        return true;
    }
    let Some(appearance) = file.dictionary(field, "AP") else {
        return false;
    };
    match (appearance.len(), appearance.get(b"N".as_slice())) {
        (1, Some(Object::Reference(number))) => file
            .objects
            .get(number)
            .is_some_and(|object| object.stream.is_some()),
        _ => false,
    }
}

/// Exactly one annotation in the file: the widget of the field, on one page.
fn annotations(file: &File<'_>, field: Option<u32>, problems: &mut Vec<PdfProblem>) {
    let (mut shown, mut other) = (0, false);
    for (number, object) in &file.objects {
        visit(&object.value, &mut |dictionary| {
            if dictionary.contains_key(b"Annots".as_slice()) {
                let items = file.array(dictionary, "Annots");
                other |= items.is_none();
                for item in items.unwrap_or_default() {
                    match item {
                        Object::Reference(item) if Some(*item) == field => shown += 1,
                        _ => other = true,
                    }
                    // Many pages may share one long list: the answer is known, and reading on takes hours.
                    if other || shown > 1 {
                        break;
                    }
                }
            }
            let widget = name(dictionary, "Type") == Some(b"Annot")
                || name(dictionary, "Subtype") == Some(b"Widget");
            other |= widget && Some(*number) != field;
        });
    }
    if other {
        problems.push(PdfProblem::Annotation);
    }
    if field.is_some() && shown != 1 {
        problems.push(PdfProblem::SignatureField(
            "the widget is not on exactly one page",
        ));
    }
}

/// The catalogue names the signature as the certification, which allows no changes (P = 1).
fn certification(
    file: &File<'_>,
    catalog: &Dictionary,
    signature: &Dictionary,
    number: u32,
    problems: &mut Vec<PdfProblem>,
) {
    let permissions = file.dictionary(catalog, "Perms");
    let named = permissions.is_some_and(|permissions| {
        permissions.len() == 1
            && permissions.get(b"DocMDP".as_slice()) == Some(&Object::Reference(number))
    });
    if !named {
        problems.push(PdfProblem::NotCertified(
            "the catalogue does not name this signature, and it alone, in Perms",
        ));
    }
    let references = file.array(signature, "Reference").unwrap_or_default();
    let parameters = match references {
        [reference] => match file.follow(reference) {
            Some(Object::Dictionary(reference))
                if name(reference, "TransformMethod") == Some(b"DocMDP") =>
            {
                file.dictionary(reference, "TransformParams")
            }
            _ => None,
        },
        _ => None,
    };
    let level = parameters.and_then(|parameters| parameters.get(b"P".as_slice()));
    if level != Some(&Object::Integer(1)) {
        problems.push(PdfProblem::NotCertified(
            "the signature does not state DocMDP with P = 1",
        ));
    }
}
