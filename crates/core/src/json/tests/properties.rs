use std::fmt::Write as _;

use proptest::prelude::*;
use serde_json::{Map, json};
use unicode_normalization::UnicodeNormalization;

use super::*;

/// Text with what escapes, sorting and normalization are about, in form C.
fn text() -> impl Strategy<Value = String> {
    let characters = prop_oneof![
        4 => proptest::char::range(' ', '~'),
        1 => proptest::char::range('\u{1}', '\u{1f}'),
        2 => proptest::sample::select(vec!['é', '刃', 'が', 'か', '\u{3099}', 'e', '\u{301}', '\u{323}']),
        2 => proptest::sample::select(vec!['\u{e000}', '\u{ff5e}', '😂', '𠮟', '\u{d7ff}', '\u{10000}']),
    ];
    proptest::collection::vec(characters, 0..8).prop_map(|text| text.into_iter().nfc().collect())
}

fn value(number: impl Strategy<Value = Value> + 'static) -> impl Strategy<Value = Value> {
    let leaf = prop_oneof![
        Just(Value::Null),
        any::<bool>().prop_map(Value::from),
        number,
        text().prop_map(Value::from)
    ];
    leaf.prop_recursive(4, 48, 6, |inner| {
        prop_oneof![
            proptest::collection::vec(inner.clone(), 0..6).prop_map(Value::from),
            proptest::collection::btree_map(text(), inner, 0..6)
                .prop_map(|members| Value::Object(members.into_iter().collect())),
        ]
    })
}

fn safe_integer() -> impl Strategy<Value = Value> {
    let most = (1_i64 << 53) - 1;
    prop_oneof![-most..=most, -20..20_i64].prop_map(Value::from)
}

fn any_number() -> impl Strategy<Value = Value> {
    prop_oneof![safe_integer(), any::<f64>().prop_map(Value::from)]
}

/// Spells a value with members in another order, needless space and needless escapes.
fn respell(value: &Value, choices: &mut impl Iterator<Item = u8>, out: &mut String) {
    let space = |choices: &mut dyn Iterator<Item = u8>| {
        ["", " ", "\n", "\r\n\t"][usize::from(choices.next().unwrap() % 4)]
    };
    out.push_str(space(choices));
    match value {
        Value::String(text) => respell_text(text, choices, out),
        Value::Array(elements) => {
            out.push('[');
            for (index, element) in elements.iter().enumerate() {
                out.push_str(if index > 0 { "," } else { "" });
                respell(element, choices, out);
            }
            out.push(']');
        }
        Value::Object(members) => {
            let mut members: Vec<_> = members
                .iter()
                .map(|member| (choices.next().unwrap(), member))
                .collect();
            members.sort_by_key(|(order, _)| *order);
            out.push('{');
            for (index, (_, (key, value))) in members.into_iter().enumerate() {
                out.push_str(if index > 0 { "," } else { "" });
                out.push_str(space(choices));
                respell_text(key, choices, out);
                out.push_str(space(choices));
                out.push(':');
                respell(value, choices, out);
            }
            out.push('}');
        }
        plain => out.push_str(&plain.to_string()),
    }
    out.push_str(space(choices));
}

fn respell_text(text: &str, choices: &mut impl Iterator<Item = u8>, out: &mut String) {
    out.push('"');
    for character in text.chars() {
        let plain = character >= ' ' && !['"', '\\'].contains(&character);
        if plain && choices.next().unwrap().is_multiple_of(2) {
            out.push(character);
        } else {
            for unit in character.encode_utf16(&mut [0; 2]) {
                write!(out, "\\u{unit:04x}").unwrap();
            }
        }
    }
    out.push('"');
}

/// All inputs that differ from `good` in one place: a byte gone, doubled or replaced.
fn damaged(good: &[u8], place: usize, byte: u8) -> [Vec<u8>; 3] {
    let place = place % good.len();
    let (before, after) = good.split_at(place);
    let rest = &after[1..];
    [
        [before, rest].concat(),
        [before, &[byte], rest].concat(),
        [before, &[byte], after].concat(),
    ]
}

proptest! {
    #[test]
    fn reading_canonical_bytes_gives_the_value_back(value in value(safe_integer())) {
        let bytes = canonical_bytes(&value).unwrap();
        let read = strict(&bytes).unwrap();
        prop_assert_eq!(&read, &value);
        prop_assert_eq!(canonical_bytes(&read).unwrap(), bytes);
    }

    #[test]
    fn order_space_and_escapes_never_change_the_bytes(
        value in value(safe_integer()),
        choices in proptest::collection::vec(any::<u8>(), 1..64),
    ) {
        let mut spelled = String::new();
        respell(&value, &mut choices.into_iter().cycle(), &mut spelled);
        let read = strict(&spelled).unwrap();
        prop_assert_eq!(canonical_bytes(&read).unwrap(), canonical_bytes(&value).unwrap());
    }

    #[test]
    fn bytes_are_those_of_the_crate(value in value(any_number())) {
        let other = serde_json_canonicalizer::to_vec(&value).unwrap();
        prop_assert_eq!(canonical_bytes(&value).unwrap(), other);
    }

    #[test]
    fn what_is_read_is_what_others_read(value in value(safe_integer())) {
        let spelled = serde_json::to_string_pretty(&value).unwrap();
        prop_assert_eq!(strict(&spelled).unwrap(), serde_json::from_str::<Value>(&spelled).unwrap());
    }

    #[test]
    fn keys_given_twice_are_refused_wherever_they_stand(
        before in proptest::collection::btree_map("[b-z]{1,3}", value(safe_integer()), 0..5),
        between in proptest::collection::btree_map("[B-Z]{1,3}", value(safe_integer()), 0..5),
    ) {
        let inside = |members: Map<String, Value>| {
            let text = Value::Object(members).to_string();
            text[1..text.len() - 1].to_owned()
        };
        let join = |parts: [String; 2]| {
            parts.into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join(",")
        };
        let head = join([inside(before.into_iter().collect()), "\"a\":1".to_owned()]);
        let middle = join([head.clone(), inside(between.into_iter().collect())]);
        let input = format!("{{{middle},\"\\u0061\":1}}");
        let expected = format!(
            "line 1, column {}: found the key `a` a second time, first at line 1, column {}; ",
            1 + middle.chars().count() + ",{".len(),
            1 + head.chars().count() + "{".len() - "\"a\":1".len(),
        );
        let error = strict(&input).unwrap_err().to_string();
        prop_assert!(error.starts_with(&expected), "{error}");
    }

    #[test]
    fn garbage_never_panics(bytes in proptest::collection::vec(any::<u8>(), 0..64)) {
        let _ = strict(bytes).map_err(|error| (error.to_string(), error.hint()));
    }

    #[test]
    fn garbage_of_signs_never_panics(text in r#"[\[\]{}",:\\u0-9a-f\-+.eE/ \ntrnlé😂]{0,40}"#) {
        let _ = strict(text).map_err(|error| (error.to_string(), error.hint()));
    }

    #[test]
    fn damage_never_panics_and_what_passes_is_json(
        value in value(safe_integer()),
        place in any::<usize>(),
        byte in any::<u8>(),
    ) {
        for input in damaged(&canonical_bytes(&value).unwrap(), place, byte) {
            if let Ok(read) = strict(&input) {
                prop_assert_eq!(read, serde_json::from_slice::<Value>(&input).unwrap());
            }
        }
    }
}

#[test]
fn respelling_changes_the_text() {
    let mut spelled = String::new();
    respell(
        &json!({"a": [1], "b": "é"}),
        &mut [3, 1, 2].into_iter().cycle(),
        &mut spelled,
    );
    assert!(
        spelled.contains("\\u0061") && spelled.contains('\n'),
        "{spelled}"
    );
}
