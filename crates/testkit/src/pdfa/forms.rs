//! Rules about annotations and forms.

use lopdf::Object;

use super::facts::{dictionary_of, inherited, nothing, text, words};
use super::tree::Kid;
use super::{Facts, Rule, Told};

/// Rules about annotations and forms.
pub(super) const RULES: &[Rule] = &[
    Rule {
        id: "N1",
        clause: "ISO 19005-3, 6.3.1, from memory; fields only: a rule of this project",
        says: "the only annotation is the signature's field",
        check: kinds,
    },
    Rule {
        id: "N2",
        clause: "ISO 19005-3, 6.3.2, from memory",
        says: "annotations are printed, and neither hidden nor invisible",
        check: flags,
    },
    Rule {
        id: "N3",
        clause: "ISO 19005-3, 6.3.3 (6.3.3-1 of a validator)",
        says: "an annotation has a normal appearance and no other",
        check: appearances,
    },
    Rule {
        id: "N4",
        clause: "ISO 14289-1, 7.18.1 and 7.18.4, from memory",
        says: "an annotation says in words what it is",
        check: said,
    },
    Rule {
        id: "N5",
        clause: "ISO 14289-1, 7.18.4 (7.18.4-1 of a validator)",
        says: "a field lies in a form element, linked both ways",
        check: tagged,
    },
    Rule {
        id: "N6",
        clause: "ISO 14289-1, 7.18.3, from memory",
        says: "the tab order of each page is that of the structure",
        check: tab_order,
    },
    Rule {
        id: "N7",
        clause: "ISO 19005-3, 6.4.1 and 6.4.2, from memory",
        says: "the form wants no appearances made and holds no XFA",
        check: form,
    },
    Rule {
        id: "N8",
        clause: "a field that can be found: a rule of this project",
        says: "an annotation has a box on its page",
        check: places,
    },
];

fn kinds(facts: &Facts<'_>, told: &mut Told) {
    for (page, number, annotation) in facts.annotations() {
        let kind = facts
            .name(annotation, "Subtype")
            .map(text)
            .unwrap_or_default();
        if kind != "Widget" {
            told.push(format!("page {}: object {number} is a {kind}", page + 1));
        }
    }
}

/// Bits of the flags. Source: ISO 32000-1, 12.5.3, from memory.
const PRINT: i64 = 4;
const HIDING: i64 = 1 | 2 | 32 | 256;

fn flags(facts: &Facts<'_>, told: &mut Told) {
    for (page, number, annotation) in facts.annotations() {
        let flags = facts.integer(annotation, "F").unwrap_or(0);
        if flags & PRINT == 0 || flags & HIDING != 0 {
            told.push(format!("page {}: object {number}: F {flags}", page + 1));
        }
    }
}

fn appearances(facts: &Facts<'_>, told: &mut Told) {
    for (page, number, annotation) in facts.annotations() {
        let appearance = facts.dictionary(annotation, "AP").unwrap_or(nothing());
        let keys: Vec<String> = appearance.iter().map(|(key, _)| text(key)).collect();
        if keys != ["N"] || facts.stream(appearance, "N").is_none() {
            told.push(format!("page {}: object {number}: {keys:?}", page + 1));
        }
    }
}

fn said(facts: &Facts<'_>, told: &mut Told) {
    for (page, number, annotation) in facts.annotations() {
        let key = if facts.name(annotation, "Subtype") == Some(b"Widget") {
            "TU"
        } else {
            "Contents"
        };
        let said = facts.string(annotation, key).map(words).unwrap_or_default();
        if said.trim().is_empty() {
            told.push(format!("page {}: object {number}: no {key}", page + 1));
        }
    }
}

fn tagged(facts: &Facts<'_>, told: &mut Told) {
    for (page, number, annotation) in facts.annotations() {
        if facts.name(annotation, "Subtype") != Some(b"Widget") {
            continue;
        }
        let holder = facts.tree.elements.iter().find(|element| {
            element
                .kids
                .iter()
                .any(|kid| matches!(kid, Kid::Object(id) if id.0 == number))
        });
        let named = facts
            .integer(annotation, "StructParent")
            .and_then(|key| facts.tree.parents.get(&key))
            .and_then(|object| object.as_reference().ok());
        match holder {
            Some(holder) if holder.role != "Form" => {
                told.push(format!(
                    "page {}: object {number} in {}",
                    page + 1,
                    holder.role
                ));
            }
            Some(holder) if named != Some(holder.id) => {
                told.push(format!(
                    "page {}: object {number} leads to {named:?}",
                    page + 1
                ));
            }
            Some(_) => {}
            None => told.push(format!(
                "page {}: object {number} is in no element",
                page + 1
            )),
        }
    }
}

fn tab_order(facts: &Facts<'_>, told: &mut Told) {
    for (index, id) in facts.pages.iter().enumerate() {
        if facts.name(facts.page(*id), "Tabs") != Some(b"S") {
            told.push(format!("page {}", index + 1));
        }
    }
}

fn form(facts: &Facts<'_>, told: &mut Told) {
    let form = facts
        .dictionary(facts.catalog(), "AcroForm")
        .unwrap_or(nothing());
    let wanted = facts
        .get(form, "NeedAppearances")
        .and_then(|object| object.as_bool().ok());
    if wanted == Some(true) {
        told.push("NeedAppearances".to_owned());
    }
    if form.has(b"XFA") || facts.catalog().has(b"NeedsRendering") {
        told.push("XFA".to_owned());
    }
    for object in facts.array(form, "Fields") {
        let field = dictionary_of(facts.follow(object)).unwrap_or(nothing());
        if facts.name(field, "FT") != Some(b"Sig") {
            told.push("a field that is no signature".to_owned());
        }
    }
}

fn places(facts: &Facts<'_>, told: &mut Told) {
    let corners = |object: Option<&Object>| -> Vec<f32> {
        object
            .and_then(|object| object.as_array().ok())
            .map(|items| {
                items
                    .iter()
                    .filter_map(|item| item.as_float().ok())
                    .collect()
            })
            .unwrap_or_default()
    };
    for (page, number, annotation) in facts.annotations() {
        let sheet = facts
            .pages
            .get(page)
            .map_or(nothing(), |id| facts.page(*id));
        let around = corners(inherited(facts.document, sheet, b"MediaBox"));
        let inside = corners(facts.get(annotation, "Rect"));
        let good = match (around.as_slice(), inside.as_slice()) {
            ([a, b, c, d], [left, low, right, high]) => {
                a <= left && b <= low && right <= c && high <= d && left < right && low < high
            }
            _ => false,
        };
        if !good {
            told.push(format!("page {}: object {number}: {inside:?}", page + 1));
        }
    }
}
