//! The rules on the signature field, its widget, its signature dictionary and the certification.
//!
//! Names of entries: ISO 32000-1, from memory.

use super::{
    file::File,
    form::{Findings, is_elsewhere, visit},
    problem::PdfProblem,
    syntax::{Dictionary, Object, array, name},
};

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
/// Flags of the widget: printed and locked. Any other way it could show on screen what it does not show on paper.
/// Source: ISO 32000-1, 12.5.3, table 165 (from memory).
const FIELD_FLAGS: i64 = 132;

/// One field, one widget on one page, one signature, certified as final.
pub(super) fn check<'a>(file: &'a File<'_>, catalog: &'a Dictionary, findings: &mut Findings<'a>) {
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
    if array(form, "Fields").is_none() {
        problems.push(PdfProblem::SignatureField(
            "Fields is no array in the form itself",
        ));
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
        && field.get(b"F".as_slice()) == Some(&Object::Integer(FIELD_FLAGS))
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
    let references = array(signature, "Reference").unwrap_or_default();
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
