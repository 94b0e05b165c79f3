//! Rules about the catalogue: language, window title, outline, and what must not be there.

use std::collections::BTreeSet;

use lopdf::{Dictionary, Object, ObjectId};

use super::facts::{dictionary_of, nothing, text, words};
use super::{Facts, Rule, Told};

/// Rules about the catalogue.
pub(super) const RULES: &[Rule] = &[
    Rule {
        id: "C1",
        clause: "ISO 19005-3, 6.7.4, and ISO 14289-1, 7.2, from memory",
        says: "the document has a language",
        check: language,
    },
    Rule {
        id: "C2",
        clause: "ISO 14289-1, 7.1, from memory",
        says: "the window shows the document's title",
        check: window_title,
    },
    Rule {
        id: "C3",
        clause: "ISO 19005-3, 6.7.2.2, and ISO 14289-1, 7.1, from memory",
        says: "the document says that it is tagged, without suspects",
        check: marked,
    },
    Rule {
        id: "C4",
        clause: "ISO 14289-1, 7.17, from memory",
        says: "there is an outline, linked both ways, counted, and each line leads to a page",
        check: outline,
    },
    Rule {
        id: "C5",
        clause: "ISO 19005-3, 6.5.2, from memory",
        says: "nothing happens by itself: no OpenAction, no additional actions",
        check: triggers,
    },
    Rule {
        id: "C6",
        clause: "ISO 19005-3, 6.5.1, from memory; no links: a rule of this project",
        says: "there are no actions: no JavaScript, no Launch, no URI, no other",
        check: actions,
    },
    Rule {
        id: "C7",
        clause: "ISO 19005-3, 6.9, from memory; none at all: a rule of this project",
        says: "there is no optional content",
        check: optional_content,
    },
    Rule {
        id: "C8",
        clause: "ISO 19005-3, 6.10 and 6.11, from memory",
        says: "there are no alternate presentations, page transitions or requirements",
        check: presentations,
    },
    Rule {
        id: "C9",
        clause: "ISO 19005-3, 6.1.12, from memory",
        says: "permissions hold DocMDP only",
        check: permissions,
    },
];

/// Whether a text is a language tag of the form of BCP 47.
pub(super) fn is_language(tag: &str) -> bool {
    let mut parts = tag.split('-');
    let first = parts.next().unwrap_or_default();
    (2..=3).contains(&first.len())
        && first.chars().all(|letter| letter.is_ascii_lowercase())
        && parts.all(|part| {
            (1..=8).contains(&part.len())
                && part.chars().all(|letter| letter.is_ascii_alphanumeric())
        })
}

fn language(facts: &Facts<'_>, told: &mut Told) {
    let found = facts.string(facts.catalog(), "Lang").map(words);
    if !found.as_deref().is_some_and(is_language) {
        told.push(format!("catalogue: {found:?}"));
    }
}

fn flag(facts: &Facts<'_>, dictionary: &str, key: &str) -> Option<bool> {
    let dictionary = facts.dictionary(facts.catalog(), dictionary)?;
    facts.get(dictionary, key)?.as_bool().ok()
}

fn window_title(facts: &Facts<'_>, told: &mut Told) {
    if flag(facts, "ViewerPreferences", "DisplayDocTitle") != Some(true) {
        told.push("catalogue: DisplayDocTitle is not true".to_owned());
    }
}

fn marked(facts: &Facts<'_>, told: &mut Told) {
    if flag(facts, "MarkInfo", "Marked") != Some(true) {
        told.push("catalogue: Marked is not true".to_owned());
    }
    if flag(facts, "MarkInfo", "Suspects") == Some(true) {
        told.push("catalogue: Suspects is true".to_owned());
    }
}

/// Walks the lines below a node; returns how many there are with those below them.
fn lines(facts: &Facts<'_>, id: ObjectId, seen: &mut BTreeSet<ObjectId>, told: &mut Told) -> i64 {
    let node = facts.document.get_dictionary(id).unwrap_or(nothing());
    let reference = |dictionary: &Dictionary, key: &[u8]| {
        dictionary.get(key).and_then(Object::as_reference).ok()
    };
    let (mut before, mut at, mut count) = (None, reference(node, b"First"), 0);
    while let Some(line) = at {
        if !seen.insert(line) {
            told.push(format!("object {} comes twice", line.0));
            return count;
        }
        let entry = facts.document.get_dictionary(line).unwrap_or(nothing());
        if reference(entry, b"Parent") != Some(id) || reference(entry, b"Prev") != before {
            told.push(format!("object {}: parent or line before", line.0));
        }
        if facts.string(entry, "Title").is_none_or(<[u8]>::is_empty) {
            told.push(format!("object {} has no title", line.0));
        }
        let page = facts
            .array(entry, "Dest")
            .first()
            .and_then(|page| page.as_reference().ok());
        if !page.is_some_and(|page| facts.pages.contains(&page)) {
            told.push(format!("object {} leads to no page", line.0));
        }
        count += 1 + lines(facts, line, seen, told);
        before = Some(line);
        at = reference(entry, b"Next");
    }
    if reference(node, b"Last") != before {
        told.push(format!("object {}: last line", id.0));
    }
    let stated = facts.integer(node, "Count").unwrap_or(0);
    if stated.abs() != count {
        told.push(format!(
            "object {} counts {stated} lines, there are {count}",
            id.0
        ));
    }
    count
}

fn outline(facts: &Facts<'_>, told: &mut Told) {
    let Ok(root) = facts
        .catalog()
        .get(b"Outlines")
        .and_then(Object::as_reference)
    else {
        told.push("catalogue: no outline".to_owned());
        return;
    };
    if lines(facts, root, &mut BTreeSet::new(), told) == 0 {
        told.push("no line".to_owned());
    }
}

fn triggers(facts: &Facts<'_>, told: &mut Told) {
    for (number, dictionary) in facts.dictionaries() {
        for key in ["OpenAction", "AA"] {
            if dictionary.has(key.as_bytes()) {
                told.push(format!("object {number}: /{key}"));
            }
        }
    }
}

fn actions(facts: &Facts<'_>, told: &mut Told) {
    for (number, dictionary) in facts.dictionaries() {
        if dictionary.has(b"JS") || dictionary.has(b"JavaScript") {
            told.push(format!("object {number}: JavaScript"));
        }
        // An outline line or annotation that acts; structure elements have an /A of another kind.
        let action = facts
            .dictionary(dictionary, "A")
            .filter(|action| facts.name(action, "S").is_some());
        if let Some(action) = action {
            let kind = facts.name(action, "S").unwrap_or_default();
            told.push(format!("object {number}: action {}", text(kind)));
        }
    }
}

fn optional_content(facts: &Facts<'_>, told: &mut Told) {
    for (number, dictionary) in facts.dictionaries() {
        let group = matches!(facts.name(dictionary, "Type"), Some(b"OCG" | b"OCMD"));
        if group || dictionary.has(b"OCProperties") || dictionary.has(b"OC") {
            told.push(format!("object {number}"));
        }
    }
}

fn presentations(facts: &Facts<'_>, told: &mut Told) {
    let names = facts
        .dictionary(facts.catalog(), "Names")
        .unwrap_or(nothing());
    if names.has(b"AlternatePresentations") {
        told.push("catalogue: alternate presentations".to_owned());
    }
    if facts.catalog().has(b"Requirements") {
        told.push("catalogue: requirements".to_owned());
    }
    for (index, id) in facts.pages.iter().enumerate() {
        for key in ["PresSteps", "Trans", "Dur"] {
            if facts.page(*id).has(key.as_bytes()) {
                told.push(format!("page {}: /{key}", index + 1));
            }
        }
    }
}

fn permissions(facts: &Facts<'_>, told: &mut Told) {
    let permissions = facts.get(facts.catalog(), "Perms").and_then(dictionary_of);
    for (key, _) in permissions.unwrap_or(nothing()) {
        if key.as_slice() != b"DocMDP" {
            told.push(format!("catalogue: /{}", text(key)));
        }
    }
}
