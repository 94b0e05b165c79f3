//! The pages on the record format: their tables are made from the types, so that they cannot drift from them.
//!
//! `BLESS=1` writes them anew.
#![allow(clippy::unwrap_used)]

mod common;

use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};

use serde_json::Value;
use tangmark_core::json::{Limits, canonical_bytes, read};
use tangmark_core::record::withhold::RULES;
use tangmark_core::record::{
    CustodyKind, QUANTITY_DEFINITIONS, Quantity, Term as _, UncertaintyBasis,
};
use tangmark_core::units::Dimension;
use tangmark_core::{Digest, check, schema};

use common::lists;

fn schemas() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../schemas")
}

fn compare(name: &str, wanted: &str) {
    let path = schemas().join(name);
    if std::env::var_os("BLESS").is_some() {
        fs::write(&path, wanted).unwrap();
    }
    let found = fs::read_to_string(&path).unwrap_or_default();
    assert!(
        found == wanted,
        "schemas/{name} is not what the types give: run with BLESS=1 and read the difference"
    );
}

/// Puts `table` between the marks of a hand-written page.
fn compare_part(name: &str, part: &str, table: &str) {
    let (start, end) = (
        format!("<!-- {part}: made from the types -->\n"),
        format!("<!-- {part}: end -->"),
    );
    let page = fs::read_to_string(schemas().join(name)).unwrap();
    let (before, rest) = page
        .split_once(&start)
        .unwrap_or_else(|| panic!("{name} has no mark for {part}"));
    let (_, after) = rest.split_once(&end).unwrap();
    compare(name, &format!("{before}{start}{table}{end}{after}"));
}

#[test]
fn the_page_of_terms_is_made_from_the_types() {
    let mut page = String::from(
        "# Closed lists of terms\n\nMade from the types by a test; not written by hand. A record holds the key. Keys of the trade \
         are romaji, the\nothers plain English; where the trade has a writing of its own it stands beside. Glosses say what is \
         meant here\nin a few words and define nothing for anybody else.\n",
    );
    for list in lists() {
        write!(
            page,
            "\n## {}\n\n{}| key | writing | gloss |\n|---|---|---|\n",
            list.name,
            intro(list.name)
        )
        .unwrap();
        for (key, kanji, gloss, _) in &list.terms {
            writeln!(page, "| `{key}` | {kanji} | {gloss} |").unwrap();
        }
    }
    compare("record-terms.md", &page);
}

/// Where a list is used, as fields of the schema.
fn intro(list: &str) -> String {
    let root = schema::record();
    let target = format!("#/$defs/{list}");
    let mut uses = BTreeSet::new();
    let definitions = root["$defs"]
        .as_object()
        .unwrap()
        .iter()
        .map(|(name, definition)| (name.as_str(), definition));
    for (name, definition) in definitions.chain([("Record", root)]) {
        for (property, field) in definition["properties"].as_object().into_iter().flatten() {
            if field["$ref"] == target.as_str() || field["items"]["$ref"] == target.as_str() {
                uses.insert(format!(
                    "`{property}` of [{name}](record-fields.md#{})",
                    name.to_lowercase()
                ));
            }
        }
    }
    assert!(!uses.is_empty(), "{list} is used nowhere");
    format!(
        "In {}.\n\n",
        uses.into_iter().collect::<Vec<_>>().join(", ")
    )
}

#[test]
fn the_page_of_fields_is_made_from_the_schema() {
    let root = schema::record();
    let mut page = String::from(
        "# Fields of a record\n\nMade from the schema by a test; not written by hand. `!` marks a field that must be there; every \
         other field is left\nout when there is nothing to say, and is never `null`. A field that is not listed is refused.\n",
    );
    describe(&mut page, "Record", root);
    for (name, definition) in root["$defs"].as_object().unwrap() {
        if definition["properties"].is_object() {
            describe(&mut page, name, definition);
        }
    }
    writeln!(
        page,
        "\n## Texts of a fixed form\n\n| name | form | pattern |\n|---|---|---|"
    )
    .unwrap();
    for (name, definition) in root["$defs"].as_object().unwrap() {
        if let Some(pattern) = definition["pattern"].as_str() {
            let text = line(definition["description"].as_str().unwrap_or_default());
            writeln!(
                page,
                "| <a id=\"{}\"></a>{name} | {text} | `{}` |",
                name.to_lowercase(),
                pattern.replace('|', "\\|")
            )
            .unwrap();
        }
    }
    compare("record-fields.md", &page);
}

fn describe(page: &mut String, name: &str, definition: &Value) {
    let text = line(definition["description"].as_str().unwrap_or_default());
    write!(
        page,
        "\n## {name}\n\n{text}\n\n| field | holds | meaning |\n|---|---|---|\n"
    )
    .unwrap();
    let required: Vec<&str> = definition["required"]
        .as_array()
        .into_iter()
        .flatten()
        .filter_map(Value::as_str)
        .collect();
    for (property, field) in definition["properties"].as_object().unwrap() {
        let must = if required.contains(&property.as_str()) {
            " !"
        } else {
            ""
        };
        let text = line(field["description"].as_str().unwrap_or_default());
        writeln!(page, "| `{property}`{must} | {} | {text} |", holds(field)).unwrap();
    }
}

fn holds(field: &Value) -> String {
    if let Some(name) = field["$ref"]
        .as_str()
        .and_then(|target| target.strip_prefix("#/$defs/"))
    {
        let target = &schema::record()["$defs"][name];
        let page = if target["enum"].is_array() {
            "record-terms.md"
        } else {
            ""
        };
        return if QUANTITY_DEFINITIONS
            .iter()
            .any(|(quantity, _)| *quantity == name)
        {
            format!("[quantity](#quantity): {}", name.to_lowercase())
        } else if name == "Unit" {
            "[unit](record-format.md#units)".to_owned()
        } else {
            format!("[{name}]({page}#{})", name.to_lowercase())
        };
    }
    let range =
        |low: &str, high: &str, what: &str| match (field[low].as_u64(), field[high].as_u64()) {
            (Some(low), Some(high)) if low == high => format!(", {low} {what}"),
            (None | Some(0), Some(high)) => format!(", up to {high} {what}"),
            (Some(low), Some(high)) => format!(", {low} to {high} {what}"),
            (Some(low), None) if low > 0 => format!(", {low} or more {what}"),
            _ => String::new(),
        };
    let text = match field["type"].as_str() {
        Some("array") => format!(
            "list of {}{}",
            holds(&field["items"]),
            range("minItems", "maxItems", "entries")
        ),
        Some("string") => format!("text{}", range("minLength", "maxLength", "characters")),
        Some("integer") => format!("whole number{}", range("minimum", "maximum", "")),
        Some("boolean") => "true or false".to_owned(),
        _ => field["anyOf"].as_array().map_or_else(
            || "see the schema".to_owned(),
            |options| {
                options
                    .iter()
                    .map(|option| {
                        if option["type"] == "null" {
                            "null".to_owned()
                        } else {
                            holds(option)
                        }
                    })
                    .collect::<Vec<_>>()
                    .join(" or ")
            },
        ),
    };
    text.trim_end().to_owned()
}

/// The first paragraph on one line, fit for a cell.
fn line(text: &str) -> String {
    text.split("\n\n")
        .next()
        .unwrap_or_default()
        .replace('\n', " ")
        .replace('|', "\\|")
}

#[test]
fn the_table_of_units_is_made_from_the_types() {
    let mut table = String::from(
        "\n| kind | unit in the record (UCUM) | units a reading may be written in |\n|---|---|---|\n",
    );
    for (name, dimension) in QUANTITY_DEFINITIONS {
        writeln!(
            table,
            "| {} | `{}` | {} |",
            name.to_lowercase(),
            dimension.canonical_unit(),
            dimension.allowed_units()
        )
        .unwrap();
    }
    table.push('\n');
    compare_part("record-format.md", "units", &table);
}

#[test]
fn the_table_of_withheld_values_is_made_from_the_rules() {
    let mut table = String::from(
        "\n| object | digests in its `_sd` | what they may stand for |\n|---|---|---|\n",
    );
    for rule in RULES {
        let object = if rule.object.is_empty() {
            "the record itself".to_owned()
        } else {
            format!("`{}`", rule.object)
        };
        let names: Vec<String> = rule
            .properties
            .iter()
            .map(|name| format!("`{name}`"))
            .collect();
        writeln!(
            table,
            "| {object} | {} | {} |",
            rule.properties.len(),
            names.join(", ")
        )
        .unwrap();
    }
    table.push('\n');
    compare_part("record-format.md", "withheld", &table);
}

#[test]
fn the_table_of_custody_is_made_from_the_types() {
    let mut table = String::from("\n| `kind` | `maps_to` |\n|---|---|\n");
    for kind in CustodyKind::ALL {
        let terms: Vec<String> = kind
            .maps_to()
            .iter()
            .map(|term| format!("\"{term}\""))
            .collect();
        writeln!(table, "| `{}` | `[{}]` |", kind.key(), terms.join(", ")).unwrap();
    }
    table.push('\n');
    compare_part("record-format.md", "maps_to", &table);
}

/// A number that a reader of JSON takes and these types do not: the page lists where.
#[test]
fn the_page_lists_the_whole_numbers_of_32_bits() {
    let page = fs::read_to_string(schemas().join("record-format.md")).unwrap();
    let rule = page
        .split("\n4. Whole")
        .nth(1)
        .and_then(|rest| rest.split("\n5. ").next())
        .unwrap();
    let root = schema::record();
    let definitions = root["$defs"].as_object().unwrap().values().chain([root]);
    let mut seen = 0;
    for definition in definitions {
        for (name, field) in definition["properties"].as_object().into_iter().flatten() {
            if field["format"] == "uint32" {
                seen += 1;
                assert!(
                    rule.contains(&format!("{name}`")),
                    "rule 4 does not name `{name}`"
                );
            }
        }
    }
    assert_eq!(seen, 8);
}

/// The worked examples of the page, computed.
#[test]
fn the_worked_examples_are_right() {
    let page = fs::read_to_string(schemas().join("record-format.md")).unwrap();
    let length = |texts: &[&str], limit| {
        let texts: Vec<String> = texts.iter().map(|text| (*text).to_owned()).collect();
        Quantity::from_readings(&texts, Dimension::Length, None, limit).unwrap()
    };
    let shaku = length(&["2 shaku 3 sun 5 bu"], None);
    assert_eq!(
        (
            shaku.value.to_string().as_str(),
            shaku.standard_uncertainty.to_string().as_str()
        ),
        ("712.1", "0.87")
    );
    let mean = length(&["69.80 cm", "69.80 cm", "69.85 cm"], Some(0.2));
    assert_eq!(
        (
            mean.value.to_string().as_str(),
            mean.standard_uncertainty.to_string().as_str()
        ),
        ("698.17", "0.20")
    );
    assert_eq!(mean.uncertainty_from, UncertaintyBasis::Readings);
    let tie = length(&["31.20 mm", "31.21 mm", "31.20 mm", "31.20 mm"], None);
    assert_eq!(tie.value.to_string(), "31.202");
    for text in ["`712.1`", "`0.87`", "`698.17`", "`0.20`", "`31.202`"] {
        assert!(page.contains(text), "the page does not show {text}");
    }
}

#[test]
fn the_example_is_a_sealed_record_of_this_schema() {
    let bytes = fs::read(schemas().join("example-record.json")).unwrap();
    let document = read(&bytes, &Limits::default()).unwrap();
    assert_eq!(
        canonical_bytes(&document.value).unwrap(),
        bytes,
        "the file is its canonical bytes"
    );
    let record = check::record(&document.value).unwrap_or_else(|problems| {
        panic!("seal the example anew (`tangmark tour`, the after-work record of `reed`): {problems:#?}")
    });
    assert!(
        record.issuer.demo,
        "the key of the example stands for nobody"
    );
    assert!(record.proof.is_some());
    let mut unsigned = document.value.clone();
    unsigned.as_object_mut().unwrap().remove("proof");
    let name = Digest::of(&canonical_bytes(&unsigned).unwrap()).to_string();
    let page = fs::read_to_string(schemas().join("record-format.md")).unwrap();
    assert!(page.contains(&name), "the page names the example as {name}");
    assert!(
        page.contains(&record.runs[0].input.to_string()),
        "the page gives the input digest {}",
        record.runs[0].input
    );
}

#[test]
fn every_file_of_the_folder_is_listed() {
    let listed = fs::read_to_string(schemas().join("README.md")).unwrap();
    for entry in fs::read_dir(schemas()).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        assert!(
            name == "README.md" || name.starts_with('_') || listed.contains(&format!("`{name}`")),
            "schemas/README.md does not list {name}"
        );
    }
}
