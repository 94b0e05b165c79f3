//! Content streams walked once: marked content, text, colours, resources. Then the rules about them.

use std::collections::BTreeSet;

use lopdf::{Object, content};

use super::facts::text;
use super::{Facts, Rule, Told};

/// A piece of marked content.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Mark {
    pub(super) tag: String,
    pub(super) number: Option<i64>,
    pub(super) language: Option<String>,
    /// Whether text stands in place of its characters.
    pub(super) actual_text: bool,
}

impl Mark {
    fn is_artifact(&self) -> bool {
        self.tag == "Artifact"
    }
}

/// A string that is shown.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Show {
    /// Resource name of the font.
    pub(super) font: Vec<u8>,
    pub(super) bytes: Vec<u8>,
    /// The marked content it lies in, outermost first.
    pub(super) marks: Vec<Mark>,
}

/// What a content stream does.
#[derive(Debug, Default)]
pub(super) struct Content {
    pub(super) operators: Vec<String>,
    pub(super) shows: Vec<Show>,
    /// Marked content in the order in which it begins.
    pub(super) marks: Vec<Mark>,
    /// Operators that paint outside of marked content.
    loose: Vec<String>,
    /// What is wrong with the nesting of marked content.
    nesting: Vec<String>,
    /// What is wrong with saving and restoring of the graphics state.
    saving: Vec<String>,
    deepest: usize,
    /// Colour spaces by operator or name.
    pub(super) colours: BTreeSet<String>,
    /// Resources used: kind, name.
    pub(super) used: BTreeSet<(&'static str, Vec<u8>)>,
    pub(super) intents: BTreeSet<String>,
}

/// Operators that put something on the page.
const PAINTING: [&str; 17] = [
    "S", "s", "f", "F", "f*", "B", "B*", "b", "b*", "sh", "Do", "Tj", "TJ", "'", "\"", "BI", "EI",
];

impl Content {
    pub(super) fn read(bytes: &[u8]) -> Self {
        let mut content = Self::default();
        let operations = match content::Content::decode(bytes) {
            Ok(decoded) => decoded.operations,
            Err(error) => {
                content.nesting.push(format!("cannot be read: {error}"));
                return content;
            }
        };
        let mut font = Vec::new();
        let (mut saved, mut marks): (Vec<Vec<u8>>, Vec<Mark>) = (Vec::new(), Vec::new());
        for operation in operations {
            let operator = operation.operator.as_str();
            let operands = &operation.operands;
            let name = |index: usize| {
                operands
                    .get(index)
                    .and_then(|object: &Object| object.as_name().ok())
                    .unwrap_or_default()
                    .to_vec()
            };
            match operator {
                "BDC" | "BMC" => {
                    let mark = mark(operands);
                    content.begin(&marks, &mark);
                    marks.push(mark);
                }
                "EMC" if marks.pop().is_none() => {
                    content.nesting.push("EMC without a beginning".to_owned());
                }
                "q" => {
                    saved.push(font.clone());
                    content.deepest = content.deepest.max(saved.len());
                }
                "Q" => match saved.pop() {
                    Some(before) => font = before,
                    None => content.saving.push("Q without q".to_owned()),
                },
                "Tf" => {
                    font = name(0);
                    content.used.insert(("Font", font.clone()));
                }
                "Do" => {
                    content.used.insert(("XObject", name(0)));
                }
                "gs" => {
                    content.used.insert(("ExtGState", name(0)));
                }
                "sh" => {
                    content.used.insert(("Shading", name(0)));
                }
                "ri" => {
                    content.intents.insert(text(&name(0)));
                }
                "cs" | "CS" => {
                    content.colours.insert(text(&name(0)));
                }
                "rg" | "RG" => {
                    content.colours.insert("DeviceRGB".to_owned());
                }
                "k" | "K" => {
                    content.colours.insert("DeviceCMYK".to_owned());
                }
                "g" | "G" => {
                    content.colours.insert("DeviceGray".to_owned());
                }
                _ => {}
            }
            if PAINTING.contains(&operator) && marks.is_empty() {
                content.loose.push(operator.to_owned());
            }
            for bytes in shown(operator, operands) {
                content.shows.push(Show {
                    font: font.clone(),
                    bytes,
                    marks: marks.clone(),
                });
            }
            content.operators.push(operation.operator);
        }
        if !marks.is_empty() {
            content
                .nesting
                .push(format!("{} without an end", marks.len()));
        }
        if !saved.is_empty() {
            content.saving.push(format!("{} q without Q", saved.len()));
        }
        content
    }

    fn begin(&mut self, around: &[Mark], mark: &Mark) {
        let inside = around
            .iter()
            .any(|around| around.is_artifact() || around.number.is_some());
        if inside && (mark.is_artifact() || mark.number.is_some()) {
            let outer: Vec<&str> = around.iter().map(|mark| mark.tag.as_str()).collect();
            self.nesting
                .push(format!("{} inside {}", mark.tag, outer.join(", ")));
        }
        self.marks.push(mark.clone());
    }
}

fn mark(operands: &[Object]) -> Mark {
    let properties = operands.get(1).and_then(|object| object.as_dict().ok());
    let entry = |key: &[u8]| properties.and_then(|properties| properties.get(key).ok());
    Mark {
        tag: operands
            .first()
            .and_then(|object| object.as_name().ok())
            .map(text)
            .unwrap_or_default(),
        number: entry(b"MCID").and_then(|object| object.as_i64().ok()),
        language: entry(b"Lang")
            .and_then(|object| object.as_str().ok())
            .map(text),
        actual_text: entry(b"ActualText").is_some(),
    }
}

/// Strings that an operator shows.
fn shown(operator: &str, operands: &[Object]) -> Vec<Vec<u8>> {
    let strings = |objects: &[Object]| {
        objects
            .iter()
            .filter_map(|object| object.as_str().ok())
            .map(<[u8]>::to_vec)
            .collect()
    };
    match operator {
        "Tj" | "'" | "\"" => strings(operands),
        "TJ" => operands
            .first()
            .and_then(|object| object.as_array().ok())
            .map(|items| strings(items))
            .unwrap_or_default(),
        _ => Vec::new(),
    }
}

/// Operators of ISO 32000-1, annex A, from memory.
const OPERATORS: &str = " b B b* B* BDC BI BMC BT BX c cm CS cs d d0 d1 Do DP EI EMC ET EX f F f* G g gs h i ID j J K k \
    l m M MP n q Q re RG rg ri s S SC sc SCN scn sh T* Tc Td TD Tf Tj TJ TL Tm Tr Ts Tw Tz v w W W* y ' \" ";

/// What is allowed in page contents, and that all of it has a meaning or is an artifact.
pub(super) const RULES: &[Rule] = &[
    Rule {
        id: "P1",
        clause: "ISO 19005-3, 6.2.2, from memory",
        says: "content streams hold operators of ISO 32000-1 only",
        check: operators,
    },
    Rule {
        id: "P2",
        clause: "ISO 19005-3, 6.2.2, from memory",
        says: "what a content stream names stands in its own resources",
        check: resources,
    },
    Rule {
        id: "P3",
        clause: "ISO 19005-3, 6.1.13, from memory",
        says: "q and Q are balanced and nest at most 28 deep",
        check: saving,
    },
    Rule {
        id: "P4",
        clause: "ISO 14289-1, 7.1, from memory",
        says: "what is painted on a page is tagged content or an artifact",
        check: painted,
    },
    Rule {
        id: "P5",
        clause: "ISO 32000-1, 14.6, and ISO 14289-1, 7.1, from memory",
        says: "marked content is balanced; tagged content and artifacts do not lie in one another",
        check: nesting,
    },
    Rule {
        id: "P6",
        clause: "ISO 32000-1, 14.7.4.2, from memory",
        says: "numbers of marked content are used once on a page",
        check: numbers,
    },
    Rule {
        id: "P7",
        clause: "ISO 19005-3, 6.2.6, from memory",
        says: "rendering intents are the four of ISO 32000-1",
        check: intents,
    },
];

fn operators(facts: &Facts<'_>, told: &mut Told) {
    for sheet in &facts.sheets {
        let strange: BTreeSet<&String> = sheet
            .content
            .operators
            .iter()
            .filter(|operator| !OPERATORS.contains(&format!(" {operator} ")))
            .collect();
        for operator in strange {
            told.push(format!("{}: `{operator}`", sheet.name));
        }
    }
}

fn resources(facts: &Facts<'_>, told: &mut Told) {
    for sheet in &facts.sheets {
        for (kind, name) in &sheet.content.used {
            let found = facts
                .dictionary(sheet.resources, kind)
                .and_then(|entries| facts.get(entries, &text(name)));
            if found.is_none() {
                told.push(format!("{}: {kind} /{}", sheet.name, text(name)));
            }
        }
    }
}

fn saving(facts: &Facts<'_>, told: &mut Told) {
    for sheet in &facts.sheets {
        for what in &sheet.content.saving {
            told.push(format!("{}: {what}", sheet.name));
        }
        if sheet.content.deepest > 28 {
            told.push(format!("{}: {} deep", sheet.name, sheet.content.deepest));
        }
    }
}

fn painted(facts: &Facts<'_>, told: &mut Told) {
    for sheet in facts.sheets.iter().filter(|sheet| sheet.page.is_some()) {
        for operator in &sheet.content.loose {
            told.push(format!("{}: `{operator}` outside", sheet.name));
        }
    }
}

fn nesting(facts: &Facts<'_>, told: &mut Told) {
    for sheet in &facts.sheets {
        for what in &sheet.content.nesting {
            told.push(format!("{}: {what}", sheet.name));
        }
    }
}

fn numbers(facts: &Facts<'_>, told: &mut Told) {
    for sheet in &facts.sheets {
        let mut seen = BTreeSet::new();
        for number in sheet.content.marks.iter().filter_map(|mark| mark.number) {
            if !seen.insert(number) {
                told.push(format!("{}: MCID {number} twice", sheet.name));
            }
        }
    }
}

fn intents(facts: &Facts<'_>, told: &mut Told) {
    let known = [
        "RelativeColorimetric",
        "AbsoluteColorimetric",
        "Perceptual",
        "Saturation",
    ];
    let mut named: Vec<(String, String)> = Vec::new();
    for sheet in &facts.sheets {
        named.extend(
            sheet
                .content
                .intents
                .iter()
                .map(|intent| (sheet.name.clone(), intent.clone())),
        );
    }
    for (number, stream) in facts.streams() {
        if let Some(intent) = facts.name(&stream.dict, "Intent") {
            named.push((format!("object {number}"), text(intent)));
        }
    }
    for (place, intent) in named {
        if !known.contains(&intent.as_str()) {
            told.push(format!("{place}: /{intent}"));
        }
    }
}
