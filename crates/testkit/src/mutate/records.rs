//! Changes to records: values, members, text.

use serde_json::{Map, Value, json};
use tangmark_core::Digest;
use tangmark_core::json::canonical_bytes;
use tangmark_trust::PrivateKey;

use super::{Chance, Maker, scramble};
use crate::failures::MakeError;
use crate::failures::bag::Bag;
use crate::failures::material::signed_bytes;

/// A record of the bag that can be read: its path and what it says.
pub(super) fn chosen(chance: &mut Chance, bag: &Bag) -> Option<(String, Value)> {
    let paths: Vec<&String> = bag
        .files
        .keys()
        .filter(|path| path.starts_with("data/records/"))
        .collect();
    let path = (*chance.pick(&paths)?).clone();
    let value = serde_json::from_slice(bag.files.get(&path)?).ok()?;
    Some((path, value))
}

/// A key, mostly the workshop's.
fn signer<'a>(maker: &'a Maker, chance: &mut Chance) -> &'a PrivateKey {
    let keys = &maker.material.keys;
    match chance.below(10) {
        0 => &keys.stranger,
        1 => &keys.second,
        _ => &keys.workshop,
    }
}

/// Signs a record again, or leaves the proof that no longer fits; then mends the records after it, or does not.
pub(super) fn put_back(
    maker: &Maker,
    chance: &mut Chance,
    bag: &mut Bag,
    path: &str,
    mut record: Value,
) -> Result<(), MakeError> {
    if chance.percent(80) {
        let key = signer(maker, chance);
        if let Some(members) = record.as_object_mut() {
            members.remove("proof");
        }
        if chance.percent(90) && record["issuer"].is_object() {
            record["issuer"]["id"] = json!(key.public_key().did_key());
        }
        let Ok(bytes) = signed_bytes(&record, key) else {
            // Without a time, or of a form that has no canonical bytes.
            bag.files
                .insert(path.to_owned(), record.to_string().into_bytes());
            return Ok(());
        };
        bag.files.insert(path.to_owned(), bytes);
        if chance.percent(70) {
            relink(maker, bag)?;
        }
    } else {
        let bytes = canonical_bytes(&record).unwrap_or_else(|_| record.to_string().into_bytes());
        bag.files.insert(path.to_owned(), bytes);
    }
    Ok(())
}

/// Makes each record name the one before it again, and signs those that did not.
fn relink(maker: &Maker, bag: &mut Bag) -> Result<(), MakeError> {
    let mut before: Option<String> = None;
    let in_chain = |path: &&String| path.starts_with("data/records/");
    let paths: Vec<String> = bag.files.keys().filter(in_chain).cloned().collect();
    for path in paths {
        let Some(mut record) = bag
            .files
            .get(&path)
            .and_then(|bytes| serde_json::from_slice::<Value>(bytes).ok())
        else {
            return Ok(());
        };
        let wanted = before.as_ref().map_or(Value::Null, |name| json!(name));
        if record["previous"] != wanted && record.is_object() {
            if let Some(members) = record.as_object_mut() {
                members.remove("proof");
            }
            record["previous"] = wanted;
            if record["issuer"].is_object() {
                record["issuer"]["id"] = json!(maker.material.keys.workshop.public_key().did_key());
            }
            if let Ok(bytes) = signed_bytes(&record, &maker.material.keys.workshop) {
                bag.files.insert(path, bytes);
            }
        }
        if let Some(members) = record.as_object_mut() {
            members.remove("proof");
        }
        let Ok(bytes) = canonical_bytes(&record) else {
            return Ok(());
        };
        before = Some(Digest::of(&bytes).to_string());
    }
    Ok(())
}

pub(super) fn places(value: &Value, place: &str, found: &mut Vec<String>) {
    found.push(place.to_owned());
    match value {
        Value::Object(members) => {
            for (name, member) in members {
                places(member, &format!("{place}/{name}"), found);
            }
        }
        Value::Array(items) => {
            for (index, item) in items.iter().enumerate() {
                places(item, &format!("{place}/{index}"), found);
            }
        }
        _ => {}
    }
}

fn somewhere(chance: &mut Chance, value: &Value) -> String {
    let mut found = Vec::new();
    places(value, "", &mut found);
    found.retain(|place| !place.is_empty() && !place.starts_with("/proof"));
    chance.pick(&found).cloned().unwrap_or_default()
}

/// Another value for one: of its kind, or of another.
fn other(chance: &mut Chance, value: &Value) -> Value {
    if chance.percent(20) {
        let odd = [
            Value::Null,
            json!(""),
            json!(0),
            json!(-1),
            json!(true),
            json!([]),
            json!({}),
            json!(["x"]),
            json!("x"),
            json!(9_007_199_254_740_991_i64),
        ];
        return chance.pick(&odd).cloned().unwrap_or_default();
    }
    match value {
        Value::Bool(yes) => json!(!yes),
        Value::Number(number) => {
            let step = [1, -1, 100, -100][chance.below(4)];
            json!(number.as_i64().unwrap_or(0).wrapping_add(step))
        }
        Value::String(text) => {
            let mut signs: Vec<char> = text.chars().collect();
            match chance.below(7) {
                0 => signs.push(
                    *chance
                        .pick(&['0', 'x', ' ', 'é', '研', '\u{202e}'])
                        .unwrap_or(&'0'),
                ),
                1 => {
                    signs.pop();
                }
                // Not in form C.
                3 => signs.extend(['e', '\u{301}']),
                2 if signs.len() > 1 => {
                    let at = chance.below(signs.len() - 1);
                    signs.swap(at, at + 1);
                }
                _ => {
                    let at = chance.below(signs.len());
                    if let Some(sign) = signs.get_mut(at) {
                        *sign = match *sign {
                            '0'..='8' => char::from_u32(u32::from(*sign) + 1).unwrap_or('0'),
                            'a' => 'b',
                            'e' => 'é',
                            '.' => ',',
                            _ => '0',
                        };
                    }
                }
            }
            json!(signs.into_iter().collect::<String>())
        }
        Value::Array(items) => {
            let mut items = items.clone();
            match chance.below(3) {
                0 => items.extend(items.first().cloned()),
                1 => {
                    items.pop();
                }
                _ => items.reverse(),
            }
            Value::Array(items)
        }
        Value::Object(members) => {
            let mut left = Map::new();
            let out = chance.below(members.len());
            for (index, (name, member)) in members.iter().enumerate() {
                if index != out {
                    left.insert(name.clone(), member.clone());
                }
            }
            Value::Object(left)
        }
        Value::Null => json!("0".repeat(64)),
    }
}

/// One value of a record is another.
pub(super) fn value(maker: &Maker, chance: &mut Chance, bag: &mut Bag) -> Result<(), MakeError> {
    let Some((path, mut record)) = chosen(chance, bag) else {
        return Ok(());
    };
    let place = somewhere(chance, &record);
    if let Some(found) = record.pointer_mut(&place) {
        *found = other(chance, found);
    }
    put_back(maker, chance, bag, &path, record)
}

/// A member of an object is taken out, or one put in.
pub(super) fn member(maker: &Maker, chance: &mut Chance, bag: &mut Bag) -> Result<(), MakeError> {
    let Some((path, mut record)) = chosen(chance, bag) else {
        return Ok(());
    };
    let mut found = Vec::new();
    places(&record, "", &mut found);
    found.retain(|place| {
        !place.starts_with("/proof") && record.pointer(place).is_some_and(Value::is_object)
    });
    let place = chance.pick(&found).cloned().unwrap_or_default();
    let names = [
        "weather",
        "_sd",
        "_sd_alg",
        "...",
        "note",
        "price",
        "name",
        "@context",
        "id",
        "orientation",
        "instrument",
        "demo",
        "unit",
    ];
    let name = chance.pick(&names).copied().unwrap_or("note");
    let values = [
        json!("x"),
        json!(1),
        json!([]),
        json!({}),
        json!(true),
        json!("sha-256"),
        json!(["0123456789012345678901234567890123456789012"]),
    ];
    let value = chance.pick(&values).cloned().unwrap_or_default();
    if let Some(members) = record.pointer_mut(&place).and_then(Value::as_object_mut) {
        if chance.percent(50) {
            let names: Vec<String> = members.keys().cloned().collect();
            if let Some(name) = chance.pick(&names) {
                members.remove(name);
            }
        } else {
            members.insert(name.to_owned(), value);
        }
    }
    put_back(maker, chance, bag, &path, record)
}

/// The text of a record is written otherwise, or spoilt.
pub(super) fn text(_: &Maker, chance: &mut Chance, bag: &mut Bag) -> Result<(), MakeError> {
    let Some((path, record)) = chosen(chance, bag) else {
        return Ok(());
    };
    let text =
        String::from_utf8_lossy(bag.files.get(&path).map_or(&[][..], Vec::as_slice)).into_owned();
    let changed: Vec<u8> = match chance.below(12) {
        0 => serde_json::to_vec_pretty(&record).unwrap_or_default(),
        1 => format!("{text}\n").into_bytes(),
        2 => format!("\u{feff}{text}").into_bytes(),
        3 => text
            .replacen("\"issuer\"", "\"\\u0069ssuer\"", 1)
            .into_bytes(),
        4 => text
            .replacen("\"purpose\":", "\"purpose\":\"receipt\",\"purpose\":", 1)
            .into_bytes(),
        5 => text
            .replacen("\"sequence\":", "\"sequence\":0", 1)
            .into_bytes(),
        6 => text
            .replacen("\"sequence\":1", "\"sequence\":1.0", 1)
            .into_bytes(),
        7 => text.replacen('/', "\\/", 1).into_bytes(),
        8 => text.replacen("Weir", "We\\u0131r", 1).into_bytes(),
        9 => text.replacen("}}", "},}", 1).into_bytes(),
        10 => format!("{text} {{}}").into_bytes(),
        _ => {
            let mut bytes = text.into_bytes();
            scramble(chance, &mut bytes);
            bytes
        }
    };
    bag.files.insert(path, changed);
    Ok(())
}
