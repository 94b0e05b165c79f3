//! Rules about the structure tree: whole, linked both ways, and saying enough to whoever cannot see the page.

use std::collections::BTreeSet;

use lopdf::{Dictionary, Object};

use super::document::is_language;
use super::facts::{nothing, words};
use super::tree::{Element, Kid};
use super::typefaces::Fonts;
use super::{Facts, Rule, Told};

/// Rules about structure.
pub(super) const RULES: &[Rule] = &[
    Rule {
        id: "S1",
        clause: "ISO 19005-3, 6.7.3.3, from memory",
        says: "there is a structure tree, and each element names the one it lies in",
        check: whole,
    },
    Rule {
        id: "S2",
        clause: "ISO 19005-3, 6.7.3.4, from memory",
        says: "structure types are those of ISO 32000-1, without detours",
        check: types,
    },
    Rule {
        id: "S3",
        clause: "ISO 14289-1, 7.1, from memory; one top: a rule of this project",
        says: "everything lies in one document element",
        check: one_top,
    },
    Rule {
        id: "S4",
        clause: "ISO 32000-1, 14.7.4.2, from memory",
        says: "what the tree holds is on its page, and each tagged piece of a page is held once",
        check: held_once,
    },
    Rule {
        id: "S5",
        clause: "ISO 32000-1, 14.7.4.4, from memory",
        says: "from each piece of a page the parent tree leads to the element that holds it",
        check: parent_tree,
    },
    Rule {
        id: "S6",
        clause: "ISO 14289-1, 7.4.2, from memory",
        says: "headings begin at the first level and skip none",
        check: headings,
    },
    Rule {
        id: "S7",
        clause: "ISO 14289-1, 7.3, from memory",
        says: "a figure says in words what it shows",
        check: alternatives,
    },
    Rule {
        id: "S8",
        clause: "ISO 32000-1, 14.8.5.4.3, from memory",
        says: "a figure has its box on the page",
        check: boxes,
    },
    Rule {
        id: "S9",
        clause: "ISO 14289-1, 7.2, from memory",
        says: "languages in the tree are language tags",
        check: languages,
    },
    Rule {
        id: "S10",
        clause: "ISO 14289-1, 7.2, from memory",
        says: "Japanese characters lie in an element whose language is Japanese",
        check: japanese,
    },
    Rule {
        id: "S11",
        clause: "ISO 14289-1, 7.4, from memory; none empty: a rule of this project",
        says: "headings, captions and paragraphs hold something",
        check: empty,
    },
];

pub(super) fn dictionary<'f>(facts: &'f Facts<'_>, element: &Element) -> &'f Dictionary {
    facts
        .document
        .get_dictionary(element.id)
        .unwrap_or(nothing())
}

fn whole(facts: &Facts<'_>, told: &mut Told) {
    let tree = &facts.tree;
    let Some(root) = tree.root else {
        told.push("catalogue: no structure tree".to_owned());
        return;
    };
    for element in &tree.elements {
        let number = element.id.0;
        let above = element
            .parent
            .and_then(|place| tree.elements.get(place))
            .map_or(root, |parent| parent.id);
        let named = dictionary(facts, element)
            .get(b"P")
            .and_then(Object::as_reference)
            .ok();
        if named != Some(above) {
            told.push(format!(
                "object {number} lies in {}, names {named:?}",
                above.0
            ));
        }
        if element.role.is_empty() {
            told.push(format!("object {number} has no type"));
        }
    }
    told.extend(
        tree.twice
            .iter()
            .map(|number| format!("object {number} comes twice")),
    );
    told.extend(
        tree.strange
            .iter()
            .map(|place| format!("{place} holds something strange")),
    );
}

/// Standard structure types. Source: ISO 32000-1, 14.8.4, from memory.
const TYPES: &str = " Document Part Art Sect Div BlockQuote Caption TOC TOCI Index NonStruct Private P H H1 H2 H3 H4 H5 \
    H6 L LI Lbl LBody Table TR TH TD THead TBody TFoot Span Quote Note Reference BibEntry Code Link Annot Ruby RB RT \
    RP Warichu WT WP Figure Formula Form ";

fn types(facts: &Facts<'_>, told: &mut Told) {
    for element in &facts.tree.elements {
        if !TYPES.contains(&format!(" {} ", element.role)) && !element.role.is_empty() {
            told.push(format!("object {}: {}", element.id.0, element.role));
        }
    }
    let root = facts
        .dictionary(facts.catalog(), "StructTreeRoot")
        .unwrap_or(nothing());
    if root.has(b"RoleMap") {
        told.push("a role map, though no own type is needed".to_owned());
    }
}

fn one_top(facts: &Facts<'_>, told: &mut Told) {
    let top: Vec<&str> = facts
        .tree
        .elements
        .iter()
        .filter(|element| element.parent.is_none())
        .map(|element| element.role.as_str())
        .collect();
    let below = facts
        .tree
        .elements
        .iter()
        .any(|element| element.parent.is_some() && element.role == "Document");
    if facts.tree.root.is_some() && (top != ["Document"] || below) {
        told.push(format!("at the top: {top:?}"));
    }
}

/// Numbers of the tagged content of each page.
fn on_pages(facts: &Facts<'_>) -> BTreeSet<(usize, i64)> {
    let mut found = BTreeSet::new();
    for sheet in &facts.sheets {
        if let Some(page) = sheet.page {
            let numbers = sheet.content.marks.iter().filter_map(|mark| mark.number);
            found.extend(numbers.map(|number| (page, number)));
        }
    }
    found
}

fn held_once(facts: &Facts<'_>, told: &mut Told) {
    if facts.tree.root.is_none() {
        return;
    }
    let (on_pages, owners) = (on_pages(facts), facts.tree.owners());
    for (page, number) in on_pages.iter().filter(|piece| !owners.contains_key(piece)) {
        told.push(format!("page {}: MCID {number} is not held", page + 1));
    }
    for ((page, number), places) in &owners {
        if !on_pages.contains(&(*page, *number)) {
            told.push(format!("page {}: MCID {number} is not there", page + 1));
        }
        if places.len() > 1 {
            told.push(format!(
                "page {}: MCID {number} is held {} times",
                page + 1,
                places.len()
            ));
        }
    }
    for element in &facts.tree.elements {
        if element
            .kids
            .iter()
            .any(|kid| matches!(kid, Kid::Content(None, _)))
        {
            told.push(format!("object {} names no page", element.id.0));
        }
    }
}

fn parent_tree(facts: &Facts<'_>, told: &mut Told) {
    if facts.tree.root.is_none() {
        return;
    }
    let owners = facts.tree.owners();
    for (index, id) in facts.pages.iter().enumerate() {
        let list = facts
            .integer(facts.page(*id), "StructParents")
            .and_then(|key| facts.tree.parents.get(&key))
            .and_then(|object| facts.follow(object).as_array().ok())
            .map_or(&[][..], Vec::as_slice);
        for (page, number) in on_pages(facts)
            .into_iter()
            .filter(|(page, _)| *page == index)
        {
            let named = usize::try_from(number)
                .ok()
                .and_then(|number| list.get(number))
                .and_then(|object| object.as_reference().ok());
            let Some(held) = owners
                .get(&(page, number))
                .and_then(|places| facts.tree.elements.get(*places.first()?))
            else {
                continue;
            };
            if named != Some(held.id) {
                told.push(format!(
                    "page {}: MCID {number} leads to {named:?}, object {} holds it",
                    index + 1,
                    held.id.0
                ));
            }
        }
    }
    for (key, object) in &facts.tree.parents {
        if !matches!(
            facts.follow(object),
            Object::Array(_) | Object::Dictionary(_)
        ) {
            told.push(format!("number {key} leads nowhere"));
        }
    }
}

fn headings(facts: &Facts<'_>, told: &mut Told) {
    let mut before = 0;
    for element in &facts.tree.elements {
        let level = match element.role.as_bytes() {
            b"H" => {
                told.push(format!("object {}: H without a level", element.id.0));
                continue;
            }
            [b'H', digit @ b'1'..=b'6'] => digit - b'0',
            _ => continue,
        };
        if level > before + 1 {
            told.push(format!("object {}: H{level} after H{before}", element.id.0));
        }
        before = level;
    }
    if before == 0 {
        told.push("no heading".to_owned());
    }
}

fn figures<'f>(facts: &'f Facts<'_>) -> impl Iterator<Item = (u32, &'f Dictionary)> {
    facts
        .tree
        .elements
        .iter()
        .filter(|element| matches!(element.role.as_str(), "Figure" | "Formula"))
        .map(|element| (element.id.0, dictionary(facts, element)))
}

fn alternatives(facts: &Facts<'_>, told: &mut Told) {
    for (number, figure) in figures(facts) {
        let said = ["Alt", "ActualText"]
            .iter()
            .filter_map(|key| facts.string(figure, key))
            .any(|text| !words(text).trim().is_empty());
        if !said {
            told.push(format!("object {number}"));
        }
    }
}

/// Attributes of an element for an owner (`Table`, `Layout`, `List`).
pub(super) fn attributes<'f>(
    facts: &'f Facts<'_>,
    element: &'f Dictionary,
    owner: &str,
) -> Vec<&'f Dictionary> {
    let Some(object) = facts.get(element, "A") else {
        return Vec::new();
    };
    let all: Vec<&Object> = match object {
        Object::Array(items) => items.iter().map(|item| facts.follow(item)).collect(),
        one => vec![one],
    };
    all.into_iter()
        .filter_map(|object| object.as_dict().ok())
        .filter(|attributes| facts.name(attributes, "O") == Some(owner.as_bytes()))
        .collect()
}

fn boxes(facts: &Facts<'_>, told: &mut Told) {
    for (number, figure) in figures(facts) {
        let good = attributes(facts, figure, "Layout").iter().any(|layout| {
            let sides: Vec<f32> = facts
                .array(layout, "BBox")
                .iter()
                .filter_map(|side| side.as_float().ok())
                .collect();
            matches!(sides.as_slice(), [left, low, right, high] if left < right && low < high)
        });
        if !good {
            told.push(format!("object {number}"));
        }
    }
}

fn languages(facts: &Facts<'_>, told: &mut Told) {
    for element in &facts.tree.elements {
        let language = facts.string(dictionary(facts, element), "Lang").map(words);
        if language.is_some_and(|language| !is_language(&language)) {
            told.push(format!("object {}", element.id.0));
        }
    }
    for sheet in &facts.sheets {
        for mark in &sheet.content.marks {
            if let Some(language) = mark.language.as_ref().filter(|tag| !is_language(tag)) {
                told.push(format!("{}: `{language}`", sheet.name));
            }
        }
    }
}

/// Kana and kanji. Source: the blocks of the Unicode Standard, from memory.
pub(super) fn is_japanese(character: char) -> bool {
    matches!(character, '\u{3041}'..='\u{30ff}' | '\u{3400}'..='\u{4dbf}' | '\u{4e00}'..='\u{9fff}' | '\u{f900}'..='\u{faff}')
}

fn japanese(facts: &Facts<'_>, told: &mut Told) {
    let owners = facts.tree.owners();
    let fonts = Fonts::read(facts);
    for sheet in &facts.sheets {
        let Some(page) = sheet.page else { continue };
        for show in &sheet.content.shows {
            let Some(place) = show
                .marks
                .iter()
                .find_map(|mark| mark.number)
                .and_then(|number| owners.get(&(page, number))?.first().copied())
            else {
                continue;
            };
            // A drawing is read out by its alternative text, as a whole.
            if facts
                .tree
                .around(place)
                .any(|element| element.role == "Figure")
            {
                continue;
            }
            let text = fonts.text(facts, sheet, show);
            if !text.chars().any(is_japanese) {
                continue;
            }
            let marked = show
                .marks
                .iter()
                .rev()
                .find_map(|mark| mark.language.clone());
            let language = marked
                .or_else(|| {
                    facts.tree.around(place).find_map(|element| {
                        facts.string(dictionary(facts, element), "Lang").map(words)
                    })
                })
                .or_else(|| facts.string(facts.catalog(), "Lang").map(words))
                .unwrap_or_default();
            if !language.starts_with("ja") {
                told.push(format!("{}: `{text}` in `{language}`", sheet.name));
            }
        }
    }
}

fn empty(facts: &Facts<'_>, told: &mut Told) {
    for element in &facts.tree.elements {
        let wants = matches!(
            element.role.as_str(),
            "H1" | "H2"
                | "H3"
                | "H4"
                | "H5"
                | "H6"
                | "P"
                | "Caption"
                | "Span"
                | "Sect"
                | "Figure"
                | "L"
                | "Table"
        );
        if wants && element.kids.is_empty() {
            told.push(format!("object {}: {}", element.id.0, element.role));
        }
    }
}
