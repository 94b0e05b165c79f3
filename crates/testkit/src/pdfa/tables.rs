//! Rules about tables and lists.

use lopdf::Object;

use super::facts::text;
use super::structure::{attributes, dictionary};
use super::tree::{Element, Kid};
use super::{Facts, Rule, Told};

/// Rules about tables and lists.
pub(super) const RULES: &[Rule] = &[
    Rule {
        id: "L1",
        clause: "ISO 14289-1, 7.2, and ISO 32000-1, 14.8.4.3.4, from memory",
        says: "tables hold rows, rows hold cells, and neither stands elsewhere",
        check: tables,
    },
    Rule {
        id: "L2",
        clause: "ISO 14289-1, 7.2 and 7.5, from memory",
        says: "the rows of a table are equally long",
        check: regular,
    },
    Rule {
        id: "L3",
        clause: "ISO 14289-1, 7.5, from memory",
        says: "a header cell says whether it heads a row or a column",
        check: scopes,
    },
    Rule {
        id: "L4",
        clause: "ISO 14289-1, 7.5, from memory",
        says: "a table has header cells",
        check: headed,
    },
    Rule {
        id: "L5",
        clause: "ISO 14289-1, 7.2, and ISO 32000-1, 14.8.4.3.3, from memory",
        says: "lists hold items, items hold labels and bodies, and neither stands elsewhere",
        check: lists,
    },
    Rule {
        id: "L6",
        clause: "ISO 14289-1, 7.6, from memory",
        says: "a list with labels says how it is numbered",
        check: numbering,
    },
];

/// Tells of elements that lie where they may not, or hold what they may not.
fn placed(facts: &Facts<'_>, told: &mut Told, rules: &[(&str, &[&str], &[&str])]) {
    let tree = &facts.tree;
    for element in &tree.elements {
        let Some((role, around, inside)) = rules.iter().find(|(role, ..)| *role == element.role)
        else {
            continue;
        };
        let parent = element
            .parent
            .and_then(|place| tree.elements.get(place))
            .map_or("", |parent| parent.role.as_str());
        if !around.is_empty() && !around.contains(&parent) {
            told.push(format!("object {}: {role} in {parent}", element.id.0));
        }
        if inside.is_empty() {
            continue;
        }
        for kid in tree.inside(element) {
            if !inside.contains(&kid.role.as_str()) {
                told.push(format!("object {}: {} in {role}", kid.id.0, kid.role));
            }
        }
        if element
            .kids
            .iter()
            .any(|kid| !matches!(kid, Kid::Element(_)))
        {
            told.push(format!("object {}: marks in {role} itself", element.id.0));
        }
    }
}

fn tables(facts: &Facts<'_>, told: &mut Told) {
    let groups = ["Table", "THead", "TBody", "TFoot"];
    placed(
        facts,
        told,
        &[
            ("Table", &[], &["TR", "THead", "TBody", "TFoot", "Caption"]),
            ("THead", &["Table"], &["TR"]),
            ("TBody", &["Table"], &["TR"]),
            ("TFoot", &["Table"], &["TR"]),
            ("TR", &groups, &["TH", "TD"]),
            ("TH", &["TR"], &[]),
            ("TD", &["TR"], &[]),
        ],
    );
}

/// Rows of a table, those of its groups too.
fn rows<'f>(facts: &'f Facts<'_>, table: &'f Element) -> Vec<&'f Element> {
    let mut rows = Vec::new();
    for kid in facts.tree.inside(table) {
        match kid.role.as_str() {
            "TR" => rows.push(kid),
            "THead" | "TBody" | "TFoot" => {
                rows.extend(facts.tree.inside(kid).filter(|kid| kid.role == "TR"));
            }
            _ => {}
        }
    }
    rows
}

fn span(facts: &Facts<'_>, cell: &Element, key: &str) -> usize {
    attributes(facts, dictionary(facts, cell), "Table")
        .iter()
        .find_map(|table| facts.integer(table, key))
        .and_then(|span| usize::try_from(span).ok())
        .unwrap_or(1)
}

fn all_tables<'f>(facts: &'f Facts<'_>) -> impl Iterator<Item = &'f Element> {
    facts
        .tree
        .elements
        .iter()
        .filter(|element| element.role == "Table")
}

fn regular(facts: &Facts<'_>, told: &mut Told) {
    for table in all_tables(facts) {
        // Columns that rows above still take: how many rows each goes on.
        let mut taken: Vec<usize> = Vec::new();
        let mut lengths = Vec::new();
        for row in rows(facts, table) {
            let mut next: Vec<usize> = Vec::new();
            let mut from_above = taken.iter();
            let mut above = |next: &mut Vec<usize>| {
                for rest in from_above.by_ref() {
                    if *rest == 0 {
                        return;
                    }
                    next.push(rest - 1);
                }
            };
            for cell in facts.tree.inside(row) {
                above(&mut next);
                let down = span(facts, cell, "RowSpan").saturating_sub(1);
                let across = span(facts, cell, "ColSpan");
                next.push(down);
                for _ in 1..across {
                    above(&mut next);
                    next.push(down);
                }
            }
            above(&mut next);
            lengths.push(next.len());
            taken = next;
        }
        if lengths.is_empty() || lengths.iter().any(|length| *length != lengths[0]) {
            told.push(format!("object {}: rows of {lengths:?} cells", table.id.0));
        }
    }
}

fn scopes(facts: &Facts<'_>, told: &mut Told) {
    for element in &facts.tree.elements {
        if element.role != "TH" {
            continue;
        }
        let scope = attributes(facts, dictionary(facts, element), "Table")
            .iter()
            .find_map(|table| facts.name(table, "Scope"))
            .map(text)
            .unwrap_or_default();
        if !["Row", "Column", "Both"].contains(&scope.as_str()) {
            told.push(format!("object {}: `{scope}`", element.id.0));
        }
    }
}

fn headed(facts: &Facts<'_>, told: &mut Told) {
    for table in all_tables(facts) {
        let headed = rows(facts, table)
            .iter()
            .flat_map(|row| facts.tree.inside(row))
            .any(|cell| cell.role == "TH");
        if !headed {
            told.push(format!("object {}", table.id.0));
        }
    }
}

fn lists(facts: &Facts<'_>, told: &mut Told) {
    placed(
        facts,
        told,
        &[
            ("L", &[], &["LI", "Caption", "L"]),
            ("LI", &["L"], &["Lbl", "LBody"]),
            ("LBody", &["LI"], &[]),
        ],
    );
}

fn numbering(facts: &Facts<'_>, told: &mut Told) {
    for list in &facts.tree.elements {
        if list.role != "L" {
            continue;
        }
        let labelled = facts
            .tree
            .inside(list)
            .any(|item| facts.tree.inside(item).any(|part| part.role == "Lbl"));
        let said = attributes(facts, dictionary(facts, list), "List")
            .iter()
            .any(|attributes| {
                attributes
                    .get(b"ListNumbering")
                    .and_then(Object::as_name)
                    .is_ok_and(|kind| kind != b"None")
            });
        if labelled && !said {
            told.push(format!("object {}", list.id.0));
        }
    }
}
