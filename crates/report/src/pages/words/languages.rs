//! Pages in one language hold no word of the other; both hold both; numbers are the same in each.
#![allow(clippy::unwrap_used, clippy::expect_used)]

use std::collections::{BTreeMap, BTreeSet};

use serde_json::Value;
use tangmark_core::{
    Digest,
    record::{PhotoFile, Record, reading_of},
    sheet::{self, SheetFormat},
};

use super::super::{custody, dimensions, examination, features, fittings, flaws, identity, work};
use crate::{
    PageSize, Speech,
    font::is_japanese,
    layout::{Flow, page_format::Frame},
    sample,
    scene::{Draw, RubyPart, TextDraw},
};

/// Sections whose words are tested here, set one after another.
fn texts(record: &Record, speech: Speech) -> Vec<TextDraw> {
    let mut flow = Flow::new(Frame::of(PageSize::A4), speech);
    identity::set(&mut flow, record);
    dimensions::set(&mut flow, record);
    features::set(&mut flow, record);
    flaws::set(&mut flow, record);
    fittings::set(&mut flow, record);
    work::set(&mut flow, record);
    examination::set(&mut flow, record);
    custody::set(&mut flow, record);
    drawn(&flow)
}

fn drawn(flow: &Flow) -> Vec<TextDraw> {
    let groups = flow.scene.pages.iter().flat_map(|page| &page.groups);
    groups
        .flat_map(|group| &group.draws)
        .filter_map(|draw| {
            // Readings say again what stands below them.
            match draw {
                Draw::Text(text) if text.ruby != RubyPart::Reading => Some(text.clone()),
                _ => None,
            }
        })
        .collect()
}

/// Replaces every text that may be anything by the words given, so that what is left is said by the report itself.
fn without_own_words(mut value: Value, words: &str) -> Record {
    let mut places: BTreeMap<String, Vec<String>> = BTreeMap::new();
    let mut open = vec![(String::new(), String::new(), &value)];
    while let Some((property, place, value)) = open.pop() {
        match value {
            Value::Object(fields) => {
                for (name, value) in fields {
                    open.push((
                        format!("{property}/{name}"),
                        format!("{place}/{name}"),
                        value,
                    ));
                }
            }
            Value::Array(items) => {
                for (index, value) in items.iter().enumerate() {
                    open.push((property.clone(), format!("{place}/{index}"), value));
                }
            }
            Value::String(_) => places.entry(property).or_default().push(place),
            _ => {}
        }
    }
    let mut replaced = 0;
    // Every value of a property at once.
    for places in places.values() {
        let mut attempt = value.clone();
        for place in places {
            *attempt.pointer_mut(place).unwrap() = words.into();
        }
        if serde_json::from_value::<Record>(attempt.clone()).is_ok() {
            value = attempt;
            replaced += 1;
        }
    }
    assert!(replaced >= 5, "{replaced}");
    serde_json::from_value(value).unwrap()
}

/// A record that fills every field of a sheet.
fn full() -> Value {
    let mut photo = |path: &str| {
        Ok(PhotoFile {
            digest: Digest::of(path.as_bytes()),
            length: 9,
            media_type: "image/jpeg".to_owned(),
            width_px: 20,
            height_px: 10,
            orientation: None,
        })
    };
    let bytes = include_bytes!("../../../../core/tests/full-sheet.toml");
    let sheet = sheet::read(bytes, SheetFormat::Toml, &mut photo).unwrap();
    let mut value = sample::bare();
    let fields = value.as_object_mut().unwrap();
    let Value::Object(sections) = serde_json::to_value(sheet).unwrap() else {
        panic!("a sheet is an object");
    };
    fields.extend(sections);
    value
}

fn samples() -> [(&'static str, Value); 3] {
    [
        ("full", full()),
        (
            "sword",
            serde_json::from_slice(&sample::sword().bytes).unwrap(),
        ),
        ("bare", sample::bare()),
    ]
}

/// Words of three Latin letters and more.
fn latin_words(texts: &[TextDraw]) -> BTreeSet<String> {
    let words = texts.iter().flat_map(|text| {
        text.text
            .split(|letter: char| !letter.is_ascii_alphabetic())
            .filter(|word| word.len() >= 3)
    });
    words.map(str::to_owned).collect()
}

/// Japanese words: letters that stand together.
fn japanese_words(text: &str) -> BTreeSet<String> {
    text.split(|letter: char| !is_japanese(letter))
        .filter(|word| !word.is_empty())
        .map(str::to_owned)
        .collect()
}

/// What the record's keys say: they are words of the workshop.
fn keys(record: &Record) -> BTreeSet<String> {
    let mut words = BTreeSet::new();
    let mut open = vec![serde_json::to_value(record).unwrap()];
    while let Some(value) = open.pop() {
        match value {
            Value::Object(fields) => {
                for (name, value) in fields {
                    match value {
                        Value::String(text)
                            if ["id", "instrument", "pass", "currency", "new_key"]
                                .contains(&name.as_str()) =>
                        {
                            words.extend(
                                text.split(|letter: char| !letter.is_ascii_alphabetic())
                                    .map(str::to_owned),
                            );
                        }
                        Value::Array(items) if name == "photos" => {
                            for text in items.iter().filter_map(Value::as_str) {
                                words.extend(
                                    text.split(|letter: char| !letter.is_ascii_alphabetic())
                                        .map(str::to_owned),
                                );
                            }
                            open.extend(items);
                        }
                        other => open.push(other),
                    }
                }
            }
            Value::Array(items) => open.extend(items),
            _ => {}
        }
    }
    words
}

#[test]
fn japanese_pages_hold_no_english_word() {
    // Names of standards, units and digests are the same in every language.
    let everywhere = ["Object", "min", "FEPA", "JIS", "CAMI"];
    for (name, value) in samples() {
        let record = without_own_words(value, "記述");
        let keys = keys(&record);
        let found: Vec<String> = latin_words(&texts(&record, Speech::Japanese))
            .into_iter()
            .filter(|word| !everywhere.contains(&word.as_str()) && !keys.contains(word))
            .filter(|word| !word.chars().all(|letter| letter.is_ascii_hexdigit()))
            .collect();
        assert_eq!(found, Vec::<String>::new(), "{name}");
    }
}

#[test]
fn english_pages_hold_no_japanese_but_terms() {
    let schema: Value = serde_json::from_str(&tangmark_core::schema::generate_record()).unwrap();
    let terms = japanese_words(&schema.to_string());
    for (name, value) in samples() {
        let record = without_own_words(value, "x");
        for text in texts(&record, Speech::English) {
            for word in japanese_words(&text.text) {
                assert!(
                    terms.contains(&word)
                        || reading_of(&word).is_some()
                        || ["茎尻", "長さ", "ふくら", "化粧鑢"].contains(&word.as_str()),
                    "{name}: {word} in {}",
                    text.text
                );
            }
        }
    }
}

#[test]
fn both_say_what_each_says() {
    for (name, value) in samples() {
        let record = without_own_words(value, "x");
        let both = texts(&record, Speech::Both);
        let missing: Vec<String> = latin_words(&texts(&record, Speech::English))
            .difference(&latin_words(&both))
            .cloned()
            .collect();
        assert_eq!(missing, Vec::<String>::new(), "{name}");
        // Japanese breaks anywhere: what stands together is compared letter by letter.
        let letters = |texts: &[TextDraw]| -> BTreeSet<char> {
            texts
                .iter()
                .flat_map(|text| text.text.chars())
                .filter(|letter| is_japanese(*letter) && !"：、。／～（）「」―".contains(*letter))
                .collect()
        };
        // What only qualifies a term, as the English gloss beside its kanji does.
        let qualifies = "銘の作者の手と見る別人の手整う進行性安定露出疑い";
        let missing: String = letters(&texts(&record, Speech::Japanese))
            .difference(&letters(&both))
            .filter(|letter| !qualifies.contains(**letter))
            .collect();
        assert_eq!(missing, "", "{name}");
    }
}

#[test]
fn numbers_are_the_same_in_every_language() {
    let numbers = |record: &Record, speech| {
        let mut flow = Flow::new(Frame::of(PageSize::A4), speech);
        dimensions::set(&mut flow, record);
        let numbers: Vec<String> = drawn(&flow)
            .into_iter()
            .filter(|text| text.tabular && text.text.chars().any(|letter| letter.is_ascii_digit()))
            .map(|text| text.text)
            .collect();
        numbers
    };
    for (name, value) in samples() {
        let record: Record = serde_json::from_value(value).unwrap();
        let english = numbers(&record, Speech::English);
        assert!(name == "bare" || english.len() > 20, "{name}");
        assert_eq!(english, numbers(&record, Speech::Japanese), "{name}");
        assert_eq!(english, numbers(&record, Speech::Both), "{name}");
    }
}
