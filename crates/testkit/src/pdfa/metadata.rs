//! Rules about metadata: the XMP packet and what it says of the file.

use lopdf::Object;
use roxmltree::{Document, Node};

use super::facts::{text, words};
use super::{Facts, Rule, Told};

const RDF: &str = "http://www.w3.org/1999/02/22-rdf-syntax-ns#";
const DC: &str = "http://purl.org/dc/elements/1.1/";
const XMP: &str = "http://ns.adobe.com/xap/1.0/";
const PDF: &str = "http://ns.adobe.com/pdf/1.3/";
const PDFA: &str = "http://www.aiim.org/pdfa/ns/id/";
const PDFUA: &str = "http://www.aiim.org/pdfua/ns/id/";
const EXTENSION: &str = "http://www.aiim.org/pdfa/ns/extension/";
const SCHEMA: &str = "http://www.aiim.org/pdfa/ns/schema#";

/// Rules about metadata.
pub(super) const RULES: &[Rule] = &[
    Rule {
        id: "M1",
        clause: "ISO 19005-3, 6.6.2.1 (6.6.2.1-1 of a validator)",
        says: "the catalogue has a metadata stream, XML, not packed",
        check: present,
    },
    Rule {
        id: "M2",
        clause: "ISO 19005-3, 6.6.2.1, from memory",
        says: "the packet is well-formed XML in UTF-8 with RDF in it, and its header names no size or encoding",
        check: well_formed,
    },
    Rule {
        id: "M3",
        clause: "ISO 19005-3, 6.6.4, from memory",
        says: "the file says that it is PDF/A part 3, level A",
        check: part,
    },
    Rule {
        id: "M4",
        clause: "ISO 14289-1, clause 5, from memory",
        says: "the file says that it is PDF/UA part 1",
        check: accessibility_part,
    },
    Rule {
        id: "M5",
        clause: "ISO 14289-1, 7.1, from memory",
        says: "the metadata hold a title",
        check: title,
    },
    Rule {
        id: "M6",
        clause: "ISO 19005-3, 6.6.3, from memory",
        says: "the information dictionary says the same as the metadata",
        check: information,
    },
    Rule {
        id: "M7",
        clause: "ISO 19005-3, 6.6.2.3, from memory",
        says: "properties that no standard schema knows are described in the packet",
        check: schemas,
    },
];

fn packet(facts: &Facts<'_>) -> Option<String> {
    let stream = facts.stream(facts.catalog(), "Metadata")?;
    String::from_utf8(stream.content.clone()).ok()
}

/// Looks at the packet's tree; nothing is looked at where there is none, which is another rule's affair.
fn with_tree(facts: &Facts<'_>, look: impl FnOnce(&Document<'_>)) {
    if let Some(packet) = packet(facts)
        && let Ok(tree) = Document::parse(&packet)
    {
        look(&tree);
    }
}

fn present(facts: &Facts<'_>, told: &mut Told) {
    let Some(stream) = facts.stream(facts.catalog(), "Metadata") else {
        told.push("catalogue: no metadata stream".to_owned());
        return;
    };
    let kinds = (
        facts.name(&stream.dict, "Type"),
        facts.name(&stream.dict, "Subtype"),
    );
    if kinds != (Some(b"Metadata"), Some(b"XML")) {
        told.push("metadata stream: Type or Subtype".to_owned());
    }
    if stream.dict.has(b"Filter") {
        told.push("metadata stream: packed".to_owned());
    }
}

fn well_formed(facts: &Facts<'_>, told: &mut Told) {
    let Some(stream) = facts.stream(facts.catalog(), "Metadata") else {
        return;
    };
    if stream.dict.has(b"Filter") {
        return;
    }
    let packet = match std::str::from_utf8(&stream.content) {
        Ok(packet) => packet,
        Err(error) => {
            told.push(format!("not UTF-8: {error}"));
            return;
        }
    };
    match Document::parse(packet) {
        Err(error) => told.push(error.to_string()),
        Ok(tree) => {
            let rdf = tree
                .descendants()
                .filter(|node| node.has_tag_name((RDF, "RDF")))
                .count();
            if rdf != 1 {
                told.push(format!("rdf:RDF {rdf} times"));
            }
        }
    }
    let header = packet.split("?>").next().unwrap_or_default();
    if header.contains("bytes=") || header.contains("encoding=") {
        told.push("the header names a size or an encoding".to_owned());
    }
}

/// The value of a property: its text, or the texts of its items.
fn values(tree: &Document<'_>, namespace: &str, name: &str) -> Vec<String> {
    let Some(node) = tree.descendants().find(|node| {
        node.has_tag_name((namespace, name))
            && node
                .parent()
                .is_some_and(|parent| parent.has_tag_name((RDF, "Description")))
    }) else {
        return Vec::new();
    };
    let items: Vec<Node<'_, '_>> = node
        .descendants()
        .filter(|node| node.has_tag_name((RDF, "li")))
        .collect();
    let text = |node: &Node<'_, '_>| node.text().unwrap_or_default().to_owned();
    if items.is_empty() {
        vec![text(&node)]
    } else {
        items.iter().map(text).collect()
    }
}

fn part(facts: &Facts<'_>, told: &mut Told) {
    with_tree(facts, |tree| {
        let found = (
            values(tree, PDFA, "part"),
            values(tree, PDFA, "conformance"),
        );
        if found != (vec!["3".to_owned()], vec!["A".to_owned()]) {
            told.push(format!("part {:?}, conformance {:?}", found.0, found.1));
        }
    });
}

fn accessibility_part(facts: &Facts<'_>, told: &mut Told) {
    with_tree(facts, |tree| {
        let found = values(tree, PDFUA, "part");
        if found != ["1"] {
            told.push(format!("part {found:?}"));
        }
    });
}

fn title(facts: &Facts<'_>, told: &mut Told) {
    with_tree(facts, |tree| {
        if values(tree, DC, "title")
            .iter()
            .all(|title| title.trim().is_empty())
        {
            told.push("dc:title".to_owned());
        }
    });
}

/// A PDF date in the spelling of XMP, from `D:20260301093000Z`.
fn xmp_date(date: &str) -> Option<String> {
    let digits = date.strip_prefix("D:")?.strip_suffix('Z')?;
    let part = |from: usize, to: usize| digits.get(from..to);
    Some(format!(
        "{}-{}-{}T{}:{}:{}Z",
        part(0, 4)?,
        part(4, 6)?,
        part(6, 8)?,
        part(8, 10)?,
        part(10, 12)?,
        part(12, 14)?
    ))
}

fn information(facts: &Facts<'_>, told: &mut Told) {
    let Some(information) = facts.dictionary(&facts.document.trailer, "Info") else {
        return;
    };
    with_tree(facts, |tree| {
        for (key, namespace, name) in [
            ("Title", DC, "title"),
            ("Author", DC, "creator"),
            ("Subject", DC, "description"),
            ("Keywords", PDF, "Keywords"),
            ("Creator", XMP, "CreatorTool"),
            ("Producer", PDF, "Producer"),
            ("CreationDate", XMP, "CreateDate"),
            ("ModDate", XMP, "ModifyDate"),
        ] {
            let Some(stated) = facts.string(information, key).map(words) else {
                continue;
            };
            let stated = if key.ends_with("Date") {
                xmp_date(&stated).unwrap_or(stated)
            } else {
                stated
            };
            // XML has no other spelling for line ends and tabs in these properties than a space.
            let stated = stated.replace(['\t', '\r', '\n'], " ");
            let found = values(tree, namespace, name);
            if found != [stated.clone()] {
                told.push(format!("{key}: `{stated}` beside {found:?}"));
            }
        }
    });
    for (key, value) in information {
        let known = [
            "Title",
            "Author",
            "Subject",
            "Keywords",
            "Creator",
            "Producer",
            "CreationDate",
            "ModDate",
        ];
        if !known.contains(&text(key).as_str()) && !matches!(value, Object::Null) {
            told.push(format!("{}: not in the metadata", text(key)));
        }
    }
}

fn schemas(facts: &Facts<'_>, told: &mut Told) {
    with_tree(facts, |tree| {
        let described: Vec<&str> = tree
            .descendants()
            .filter(|node| node.has_tag_name((SCHEMA, "namespaceURI")))
            .filter_map(|node| node.text())
            .collect();
        let standard = [DC, XMP, PDF, PDFA, EXTENSION];
        for description in tree
            .descendants()
            .filter(|node| node.has_tag_name((RDF, "Description")))
        {
            let elements = description
                .children()
                .filter(Node::is_element)
                .map(|node| node.tag_name().namespace().unwrap_or_default());
            let attributes = description
                .attributes()
                .map(|attribute| attribute.namespace().unwrap_or_default())
                .filter(|namespace| *namespace != RDF);
            for namespace in elements.chain(attributes) {
                if !standard.contains(&namespace) && !described.contains(&namespace) {
                    told.push(namespace.to_owned());
                }
            }
        }
    });
}
