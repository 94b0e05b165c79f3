//! Changes to disclosures.

use serde_json::{Value, json};

use super::{Chance, Maker, scramble};
use crate::failures::MakeError;
use crate::failures::bag::Bag;
use crate::failures::material::{as_values, disclosure, disclosure_file, opened};

/// Another choice of disclosures for one of the records, mostly with one of them spoilt.
pub(super) fn change(maker: &Maker, chance: &mut Chance, bag: &mut Bag) -> Result<(), MakeError> {
    let records = &maker.material.records;
    let index = chance.below(records.len());
    let path = format!("disclosures/{:02}.json", index + 1);
    let mut chosen: Vec<Value> = as_values(&records[index].disclosures)
        .into_iter()
        .filter(|_| chance.percent(50))
        .collect();
    let all = &records[index].disclosures;
    match chance.below(13) {
        0 => chosen.clear(),
        1 => chosen.extend(chosen.first().cloned()),
        2 => {
            let other = &records[(index + 1) % records.len()].disclosures;
            chosen.extend(as_values(other).first().cloned());
        }
        3 => {
            if let Some(one) = chosen.first_mut() {
                one["path"] = json!("/agreement/owner/contact");
            }
        }
        4 => {
            if let Some(one) = chosen.first_mut() {
                let mut text = one["disclosure"]
                    .as_str()
                    .unwrap_or_default()
                    .as_bytes()
                    .to_vec();
                scramble(chance, &mut text);
                one["disclosure"] = json!(String::from_utf8_lossy(&text));
            }
        }
        5 => {
            if let Some(one) = all.first() {
                let [salt, name, _] = opened(one)?;
                chosen.push(disclosure(&one.path, &json!([salt, name, "somebody else"])));
            }
        }
        6 => {
            let names = ["_sd", "...", "role", "_sd_alg", "name"];
            let name = chance.pick(&names).copied().unwrap_or("_sd");
            chosen.push(disclosure(
                &format!("/agreement/owner/{name}"),
                &json!(["AAECAwQFBgcICQoLDA0ODw", name, "x"]),
            ));
        }
        7 => {
            if let Some(one) = chosen.first_mut() {
                let text = one["disclosure"].as_str().unwrap_or_default().to_owned();
                one["disclosure"] = json!(format!("{text}="));
            }
        }
        8 => {
            if let Some(one) = chosen.first_mut().and_then(Value::as_object_mut) {
                one.insert("note".to_owned(), json!("x"));
            }
        }
        9 => chosen = as_values(all),
        10 => {
            chosen = as_values(all);
            chosen.reverse();
        }
        _ => {}
    }
    let mut file = disclosure_file(&chosen);
    match chance.below(12) {
        0 => scramble(chance, &mut file),
        1 => {
            file = String::from_utf8_lossy(&file)
                .replacen("disclosures 1", "disclosures 2", 1)
                .into_bytes();
        }
        2 => file.extend(b"\n"),
        _ => {}
    }
    let path = match chance.below(15) {
        0 => "disclosures/09.json".to_owned(),
        1 => "disclosures/3.json".to_owned(),
        2 => "disclosures/003.json".to_owned(),
        _ => path,
    };
    bag.put(&path, file);
    Ok(())
}
