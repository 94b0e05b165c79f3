//! Changes to records: values, members, text, proofs, and what stands in the chain.

use serde_json::{Map, Value, json};
use tangmark_core::Digest;
use tangmark_core::json::canonical_bytes;
use tangmark_trust::PrivateKey;

use super::{Chance, Maker, scramble};
use crate::failures::MakeError;
use crate::failures::bag::Bag;
use crate::failures::material::{Order, options, proof_value, signed_bytes, twin, with_proof};
use crate::failures::package::record_path;

/// A record of the bag that can be read: its path and what it says.
fn chosen(chance: &mut Chance, bag: &Bag) -> Option<(String, Value)> {
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
fn put_back(
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
    for sequence in 1..=3 {
        let path = format!("data/{}", record_path(sequence));
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

fn places(value: &Value, place: &str, found: &mut Vec<String>) {
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
            match chance.below(5) {
                0 => signs.push(
                    *chance
                        .pick(&['0', 'x', ' ', 'é', '研', '\u{202e}'])
                        .unwrap_or(&'0'),
                ),
                1 => {
                    signs.pop();
                }
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

/// The proof of a record is another.
pub(super) fn proof(maker: &Maker, chance: &mut Chance, bag: &mut Bag) -> Result<(), MakeError> {
    let keys = &maker.material.keys;
    let Some((path, record)) = chosen(chance, bag) else {
        return Ok(());
    };
    let mut document = record.clone();
    if let Some(members) = document.as_object_mut() {
        members.remove("proof");
    }
    let time = record["issued_at"].as_str().unwrap_or_default().to_owned();
    let mut own = options(&keys.workshop, &time);
    let mut order = Order::OptionsFirst;
    let mut key = &keys.workshop;
    let kind = chance.below(16);
    match kind {
        0 => own["cryptosuite"] = json!("eddsa-jcs-2022"),
        1 => own["proofPurpose"] = json!("authentication"),
        2 => own["type"] = json!("DataIntegrityproof"),
        3 => own["created"] = json!("2026-03-01T09:30:01Z"),
        4 => own["domain"] = json!("example"),
        5 => order = Order::DocumentFirst,
        6 => key = &keys.stranger,
        7 => own["verificationMethod"] = json!(keys.stranger.public_key().verification_method()),
        8 => {
            document["issuer"]["id"] = json!(keys.second.public_key().did_key());
        }
        9 => {
            if let Some(members) = own.as_object_mut() {
                members.remove("created");
            }
        }
        10 => {
            let multikey = keys.workshop.public_key().multikey();
            own["verificationMethod"] = json!(format!(
                "did:key:{multikey}#{}",
                keys.stranger.public_key().multikey()
            ));
        }
        _ => {}
    }
    let mut signed = with_proof(&document, &own, key, order)?;
    let written = signed["proof"]["proofValue"]
        .as_str()
        .unwrap_or_default()
        .to_owned();
    let raw = bs58::decode(written.trim_start_matches('z'))
        .into_vec()
        .unwrap_or_default();
    match kind {
        11 => {
            if let Ok(raw) = <[u8; 64]>::try_from(raw.as_slice()) {
                signed["proof"]["proofValue"] = json!(proof_value(&twin(&raw)));
            }
        }
        12 => signed["proof"]["proofValue"] = json!(proof_value(&raw[..raw.len().min(63)])),
        13 => signed["proof"]["proofValue"] = json!(written.replacen('z', "u", 1)),
        14 => signed["proof"] = json!([signed["proof"].clone()]),
        15 => {
            let mut raw = raw;
            scramble(chance, &mut raw);
            signed["proof"]["proofValue"] = json!(proof_value(&raw));
        }
        _ => {}
    }
    let bytes = canonical_bytes(&signed).unwrap_or_else(|_| signed.to_string().into_bytes());
    bag.files.insert(path, bytes);
    Ok(())
}

/// What the package looks at first: number, purpose, predecessor, issuer, schema, time.
pub(super) fn head(maker: &Maker, chance: &mut Chance, bag: &mut Bag) -> Result<(), MakeError> {
    let Some((path, mut record)) = chosen(chance, bag) else {
        return Ok(());
    };
    match chance.below(12) {
        0 => record["sequence"] = json!(chance.below(5)),
        1 => {
            let purposes = [
                "withdrawal",
                "correction",
                "in_work",
                "after_work",
                "receipt",
                "lent",
            ];
            record["purpose"] = json!(chance.pick(&purposes));
        }
        2 => record["previous"] = json!(Digest::of(&[chance.byte()]).to_string()),
        3 => record["previous"] = Value::Null,
        4 => record["issuer"]["name"] = json!("workshop  at the WEIR"),
        5 => record["schema"]["version"] = json!(2),
        6 => record["schema"]["digest"] = json!("0".repeat(64)),
        7 => record["issued_at"] = json!("2199-01-01T00:00:00Z"),
        8 => record["issued_at"] = json!("2026-01-01T00:00:00Z"),
        9 => record["blade"]["id"] = json!("other"),
        10 => record["schema"]["id"] = json!("other-record"),
        _ => {
            record["purpose"] = json!("withdrawal");
            record["refers_to"] = json!({
                "record": maker.material.records[0].name.to_string(), "statement": "Read from the wrong edge.",
            });
            let at = record["sequence"].as_u64().unwrap_or(3);
            bag.files.remove(&path);
            let path = format!("data/records/{at:02}-withdrawal.json");
            return put_back(maker, chance, bag, &path, record);
        }
    }
    put_back(maker, chance, bag, &path, record)
}

/// Records taken out, put in, turned round.
pub(super) fn chain(maker: &Maker, chance: &mut Chance, bag: &mut Bag) -> Result<(), MakeError> {
    let records = &maker.material.records;
    let key = &maker.material.keys.workshop;
    let index = chance.below(records.len());
    let path = record_path(index + 1);
    match chance.below(8) {
        0 => {
            bag.take(&path);
        }
        1 => {
            bag.take(&path);
            let other = record_path((index + 1) % 3 + 1);
            let bytes = bag.take(&other);
            bag.put(&path, bytes);
        }
        2 => {
            let rival = maker.material.resealed(index, key, |record| {
                record["decision"]["reason"] = json!("Another story.");
            })?;
            bag.put(&format!("records/{:02}-receipt.json", index + 1), rival);
        }
        3 => {
            let rival = maker.material.resealed(index, key, |record| {
                record["purpose"] = json!("receipt");
                record["sequence"] = json!(4);
                record["previous"] = json!(records[2].name.to_string());
                record["issued_at"] = json!("2026-06-01T08:00:00Z");
            })?;
            bag.put("records/04-receipt.json", rival);
        }
        4 => {
            let far = maker.material.resealed(2, key, |record| {
                record["sequence"] = json!(5);
            })?;
            bag.put("records/05-transfer.json", far);
        }
        5 => {
            let bytes = bag.data(&path);
            bag.put(
                &format!("records/{:03}-{}.json", index + 1, "intake"),
                bytes,
            );
        }
        6 => {
            // Sealed on by another workshop, as after a hand-over.
            let theirs = maker
                .material
                .resealed(2, &maker.material.keys.stranger, |record| {
                    record["sequence"] = json!(4);
                    record["purpose"] = json!("receipt");
                    record["issuer"]["name"] = json!("Bench by the Ford");
                    record["previous"] = json!(records[2].name.to_string());
                    record["issued_at"] = json!("2026-06-01T08:00:00Z");
                })?;
            bag.put("records/04-receipt.json", theirs);
        }
        _ => {
            for path in (1..=3).map(record_path) {
                if chance.percent(50) {
                    bag.take(&path);
                }
            }
        }
    }
    Ok(())
}
