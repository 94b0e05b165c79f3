//! Changes to key histories.

use serde_json::{Value, json};
use tangmark_trust::PublicKey;

use super::{Chance, Maker, scramble};
use crate::failures::MakeError;
use crate::failures::bag::Bag;
use crate::failures::histories::History;
use crate::failures::material::{proof_value, twin};
use crate::failures::package::history_path;

/// Times before, between and after those of the records.
const TIMES: [&str; 6] = [
    "2026-01-05T08:00:00Z",
    "2026-03-01T09:30:00Z",
    "2026-03-10T00:00:00Z",
    "2026-04-01T08:00:00Z",
    "2026-05-18T11:15:00Z",
    "2026-08-01T08:00:00Z",
];

fn time(chance: &mut Chance) -> &'static str {
    TIMES[chance.below(TIMES.len())]
}

/// Another history in the place of the workshop's, or a second one.
pub(super) fn change(maker: &Maker, chance: &mut Chance, bag: &mut Bag) -> Result<(), MakeError> {
    let keys = &maker.material.keys;
    let (first, file) = made(maker, chance)?;
    let named = if chance.percent(92) {
        first
    } else {
        keys.third.public_key()
    };
    bag.put(&history_path(&named), file);
    if chance.percent(12) {
        let second = History::first(&keys.stranger, TIMES[0], "another", &keys.paper)?;
        bag.put(&history_path(&keys.stranger.public_key()), second.file());
    }
    Ok(())
}

/// A history of the workshop's keys, mostly sound, with its first key.
pub(super) fn made(maker: &Maker, chance: &mut Chance) -> Result<(PublicKey, Vec<u8>), MakeError> {
    let keys = &maker.material.keys;
    let first = if chance.percent(85) {
        &keys.workshop
    } else {
        &keys.second
    };
    let begin = if chance.percent(75) {
        TIMES[0]
    } else {
        time(chance)
    };
    let mut history = History::first(first, begin, "first key", &keys.paper)?;
    let mut last = first;
    for (index, key) in [&keys.second, &keys.third].into_iter().enumerate() {
        if !chance.percent(60) {
            break;
        }
        let by_paper = chance.percent(30);
        let by = match (by_paper, chance.below(12)) {
            (_, 0) => &keys.stranger,
            (true, _) => &keys.paper,
            (false, _) => last,
        };
        let from = if chance.percent(70) {
            ["2026-04-01T08:00:00Z", "2026-06-01T08:00:00Z"][index]
        } else {
            time(chance)
        };
        let kind = if by_paper { "recovery" } else { "rotation" };
        history.succeed(kind, key, by, from, &keys.paper)?;
        last = key;
    }
    if chance.percent(40) {
        let key = [&keys.workshop, &keys.workshop, &keys.second, &keys.third][chance.below(4)];
        let by = [last, last, &keys.paper, &keys.stranger, &keys.workshop][chance.below(5)];
        let created = if chance.percent(70) {
            "2026-09-01T08:00:00Z"
        } else {
            time(chance)
        };
        history.revoke(key, time(chance), created, by)?;
    }
    spoil(chance, &mut history);
    let mut file = history.file();
    if chance.percent(8) {
        scramble(chance, &mut file);
    }
    Ok((first.public_key(), file))
}

fn spoil(chance: &mut Chance, history: &mut History) {
    let at = chance.below(history.entries.len());
    let other = chance.below(history.entries.len());
    match chance.below(24) {
        0 => history.entries.swap(at, other),
        1 => history.entries[at]["reason"] = json!("changed"),
        2 => history.entries[at]["note"] = json!("x"),
        3 => {
            history.entries.remove(at);
        }
        4 => {
            let again = history.entries[at].clone();
            history.entries.push(again);
        }
        5 => {
            let written = history.entries[at]["proof"]["proofValue"]
                .as_str()
                .unwrap_or_default();
            let raw = bs58::decode(written.trim_start_matches('z'))
                .into_vec()
                .unwrap_or_default();
            if let Ok(raw) = <[u8; 64]>::try_from(raw.as_slice()) {
                history.entries[at]["proof"]["proofValue"] = json!(proof_value(&twin(&raw)));
            }
        }
        6 => history.entries[at]["proof"] = json!([history.entries[at]["proof"].clone()]),
        7 => history.entries[at]["kind"] = json!("rotation"),
        8 => {
            if let Some(members) = history.entries[at].as_object_mut() {
                let names: Vec<String> = members.keys().cloned().collect();
                if let Some(name) = chance.pick(&names) {
                    members.remove(name);
                }
            }
        }
        9 => history.entries[at]["previous"] = json!("0".repeat(64)),
        10 => history.entries[at]["previous"] = Value::Null,
        _ => {}
    }
}
