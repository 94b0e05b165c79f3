//! Rules about files inside the file.

use lopdf::Dictionary;

use super::facts::{pairs, text, words};
use super::{Facts, Rule, Told};

/// Rules about attached files.
pub(super) const RULES: &[Rule] = &[
    Rule {
        id: "A1",
        clause: "ISO 19005-3, 6.8, and ISO 14289-1, 7.11, from memory",
        says: "an attached file is named in F and in UF",
        check: names,
    },
    Rule {
        id: "A2",
        clause: "ISO 19005-3, 6.8, from memory",
        says: "an attached file says what it is to the document",
        check: relationship,
    },
    Rule {
        id: "A3",
        clause: "ISO 19005-3, 6.8, from memory",
        says: "an attached file says its media type",
        check: media_type,
    },
    Rule {
        id: "A4",
        clause: "ISO 19005-3, 6.8, and ISO 32000-1, 7.11.4, from memory",
        says: "an attached file says when it was changed and how long it is",
        check: parameters,
    },
    Rule {
        id: "A5",
        clause: "ISO 19005-3, 6.8, from memory",
        says: "every attached file is an associated file and stands in the tree of names, which is sorted",
        check: associated,
    },
    Rule {
        id: "A6",
        clause: "the record goes with its pages: a rule of this project",
        says: "one file is attached as source: the record, as JSON",
        check: record,
    },
];

/// File specifications with a file in them, by object number.
fn specifications<'f>(facts: &'f Facts<'_>) -> Vec<(u32, &'f Dictionary)> {
    facts
        .dictionaries()
        .into_iter()
        .filter(|(_, dictionary)| dictionary.has(b"EF"))
        .collect()
}

fn names(facts: &Facts<'_>, told: &mut Told) {
    for (number, file) in specifications(facts) {
        let [short, long] =
            ["F", "UF"].map(|key| facts.string(file, key).map(words).unwrap_or_default());
        if short.is_empty() || short != long {
            told.push(format!("object {number}: F `{short}`, UF `{long}`"));
        }
    }
}

fn relationship(facts: &Facts<'_>, told: &mut Told) {
    for (number, file) in specifications(facts) {
        let found = facts
            .name(file, "AFRelationship")
            .map(text)
            .unwrap_or_default();
        if !["Source", "Data", "Alternative", "Supplement", "Unspecified"].contains(&found.as_str())
        {
            told.push(format!("object {number}: `{found}`"));
        }
    }
}

/// The embedded streams of all file specifications.
fn embedded<'f>(facts: &'f Facts<'_>) -> Vec<(u32, &'f lopdf::Stream)> {
    specifications(facts)
        .into_iter()
        .filter_map(|(number, file)| {
            let files = facts.dictionary(file, "EF")?;
            Some((number, facts.stream(files, "F")?))
        })
        .collect()
}

fn media_type(facts: &Facts<'_>, told: &mut Told) {
    for (number, stream) in embedded(facts) {
        let kind = facts
            .name(&stream.dict, "Subtype")
            .map(text)
            .unwrap_or_default();
        let good = kind
            .split_once('/')
            .is_some_and(|(group, kind)| !group.is_empty() && !kind.is_empty());
        if !good {
            told.push(format!("object {number}: `{kind}`"));
        }
    }
}

fn parameters(facts: &Facts<'_>, told: &mut Told) {
    for (number, stream) in embedded(facts) {
        let Some(parameters) = facts.dictionary(&stream.dict, "Params") else {
            told.push(format!("object {number}: no Params"));
            continue;
        };
        let date = facts
            .string(parameters, "ModDate")
            .map(words)
            .unwrap_or_default();
        if !date.starts_with("D:") {
            told.push(format!("object {number}: ModDate `{date}`"));
        }
        let length = super::facts::unpacked(stream)
            .ok()
            .and_then(|bytes| i64::try_from(bytes.len()).ok());
        let stated = facts.integer(parameters, "Size");
        if stated.is_none() || stated != length {
            told.push(format!(
                "object {number}: Size {stated:?}, it has {length:?}"
            ));
        }
    }
}

fn associated(facts: &Facts<'_>, told: &mut Told) {
    let files = facts.array(facts.catalog(), "AF");
    let in_list: Vec<u32> = files
        .iter()
        .filter_map(|file| file.as_reference().ok())
        .map(|id| id.0)
        .collect();
    let tree = facts
        .dictionary(facts.catalog(), "Names")
        .and_then(|names| facts.dictionary(names, "EmbeddedFiles"))
        .map(|root| pairs(facts.document, root, b"Names"))
        .unwrap_or_default();
    let in_tree: Vec<u32> = tree
        .iter()
        .filter_map(|(_, file)| file.as_reference().ok())
        .map(|id| id.0)
        .collect();
    for (number, _) in specifications(facts) {
        if !in_list.contains(&number) || !in_tree.contains(&number) {
            told.push(format!("object {number}"));
        }
    }
    let names: Vec<&[u8]> = tree
        .iter()
        .map(|(name, _)| name.as_str().unwrap_or_default())
        .collect();
    if !names.is_sorted() {
        told.push("the tree of names is not sorted".to_owned());
    }
}

fn record(facts: &Facts<'_>, told: &mut Told) {
    let sources: Vec<(u32, &Dictionary)> = specifications(facts)
        .into_iter()
        .filter(|(_, file)| facts.name(file, "AFRelationship") == Some(b"Source"))
        .collect();
    // A missing relationship is another rule's affair.
    if sources.is_empty()
        && specifications(facts)
            .iter()
            .any(|(_, file)| !file.has(b"AFRelationship"))
    {
        return;
    }
    if sources.len() != 1 {
        told.push(format!("{} files", sources.len()));
    }
    for (number, file) in sources {
        let stream = facts
            .dictionary(file, "EF")
            .and_then(|files| facts.stream(files, "F"));
        let json = stream
            .and_then(|stream| super::facts::unpacked(stream).ok())
            .is_some_and(|bytes| serde_json::from_slice::<serde_json::Value>(&bytes).is_ok());
        if !json {
            told.push(format!("object {number} is no JSON"));
        }
    }
}
