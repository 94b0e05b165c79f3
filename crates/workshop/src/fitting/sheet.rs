//! A fitting in the sheet of a blade: put in, brought up to date, taken out.

use std::collections::BTreeSet;

use serde_json::{Value, json};
use tangmark_core::record::{CustodyKind, Photo, Term as _};

use super::Card;
use crate::WorkshopError;
use crate::edit::Edit;

/// The fittings of a sheet.
fn fittings(body: &Value) -> impl Iterator<Item = &Value> {
    body["fittings"].as_array().into_iter().flatten()
}

/// Whether a sheet has a fitting of this key.
pub(super) fn has(body: &Value, id: &str) -> bool {
    fittings(body).any(|one| one["id"] == id)
}

/// Writes a fitting into a sheet, in the place of the one of this key, with its photos. Photos that the one before had and
/// nothing else shows go.
pub(super) fn put(edit: &mut Edit, card: &Card) -> Result<(), WorkshopError> {
    let place = fittings(&edit.body).position(|one| one["id"] == card.id());
    let before = place.map(|place| edit.body["fittings"][place].clone());
    let keys: Vec<String> = card
        .photos
        .iter()
        .map(|photo| photo_key(edit, photo))
        .collect();
    let mut entry = crate::fitting::card::value(&card.fitting)?;
    if !keys.is_empty() {
        entry["photos"] = json!(keys);
    }
    match (place, edit.list("fittings")) {
        (Some(place), Some(list)) => list[place] = entry,
        (None, Some(list)) => list.push(entry),
        // Reading the sheet tells what stands there in the place of a list.
        (_, None) => {}
    }
    if let Some(before) = before {
        drop_photos(edit, &before);
    }
    Ok(())
}

/// Takes a fitting out of a sheet, with the photos that nothing else shows.
pub(super) fn take(edit: &mut Edit, id: &str) {
    // Asking for the list would make one.
    if !has(&edit.body, id) {
        return;
    }
    let Some(list) = edit.list("fittings") else {
        return;
    };
    let Some(place) = list.iter().position(|one| one["id"] == id) else {
        return;
    };
    let gone = list.remove(place);
    if list.is_empty() {
        edit.take("fittings");
    }
    drop_photos(edit, &gone);
}

/// Adds what happened to the life of the blade.
pub(super) fn event(edit: &mut Edit, kind: CustodyKind, day: &str, card: &Card, where_: &str) {
    let part = card.fitting.part.key().replace('_', " ");
    let note = format!("{part} `{}` ({}), {where_}", card.id(), card.title);
    // A note has its limit, and a title may be long.
    let note: String = note.chars().take(2000).collect();
    edit.push(
        "custody",
        json!({ "kind": kind.key(), "when": day, "note": note }),
    );
}

/// Puts a photo into the sheet's list unless its file is there already; returns its key in this sheet.
fn photo_key(edit: &mut Edit, photo: &Photo) -> String {
    let same = |one: &Value| {
        photo
            .original
            .as_ref()
            .is_some_and(|file| one["original"]["digest"] == file.digest.to_string())
    };
    let list: Vec<Value> = edit.body["photos"].as_array().cloned().unwrap_or_default();
    if let Some(there) = list.iter().find(|one| same(one)) {
        return there["id"].as_str().unwrap_or_default().to_owned();
    }
    let taken: BTreeSet<&str> = list.iter().filter_map(|one| one["id"].as_str()).collect();
    let mut key = photo.id.as_str().to_owned();
    let mut number = 2;
    while taken.contains(key.as_str()) {
        let stem: String = photo.id.as_str().chars().take(36).collect();
        key = format!("{stem}-{number}");
        number += 1;
    }
    let mut entry = serde_json::to_value(photo).unwrap_or_default();
    entry["id"] = json!(key);
    edit.push("photos", entry);
    key
}

/// Takes the photos of a fitting out of the sheet that nothing in it shows any more.
fn drop_photos(edit: &mut Edit, fitting: &Value) {
    let mut used = BTreeSet::new();
    for (name, section) in edit.body.as_object().into_iter().flatten() {
        if name != "photos" {
            shown(section, &mut used);
        }
    }
    let gone: BTreeSet<String> = fitting["photos"]
        .as_array()
        .into_iter()
        .flatten()
        .filter_map(|key| key.as_str())
        .filter(|key| !used.contains(*key))
        .map(str::to_owned)
        .collect();
    if gone.is_empty() {
        return;
    }
    let left = edit.list("photos").is_none_or(|list| {
        list.retain(|one| one["id"].as_str().is_none_or(|key| !gone.contains(key)));
        !list.is_empty()
    });
    if !left {
        edit.take("photos");
    }
}

/// Keys of photos that a part of a sheet names.
fn shown(value: &Value, keys: &mut BTreeSet<String>) {
    match value {
        Value::Object(members) => {
            for (name, member) in members {
                if name == "photos" {
                    let list = member.as_array().into_iter().flatten();
                    keys.extend(list.filter_map(|key| key.as_str()).map(str::to_owned));
                } else {
                    shown(member, keys);
                }
            }
        }
        Value::Array(items) => items.iter().for_each(|item| shown(item, keys)),
        _ => {}
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::Workshop;

    fn card(photos: &Value) -> Card {
        serde_json::from_value(json!({
            "title": "plain guard",
            "fitting": { "id": "tsuba-1", "part": "tsuba", "description": "plain guard", "matched": "not_tried" },
            "photos": photos,
        }))
        .unwrap()
    }

    fn photo(id: &str, digit: &str) -> Value {
        json!({
            "id": id, "shows": "fittings", "caption": "the guard", "original_kept_private": false,
            "original": { "digest": digit.repeat(64), "length": 1, "media_type": "image/jpeg", "width_px": 10, "height_px": 5 },
        })
    }

    #[test]
    fn a_fitting_comes_and_goes_with_its_photos() {
        let body =
            json!({ "blade": {}, "tang": { "photos": ["tang"] }, "photos": [photo("tang", "a")] });
        let mut edit = Workshop::begin("reed", body.clone());
        // The second photo is one that the tang shows too; the first one's key is taken by it.
        let card = card(&json!([photo("tang", "b"), photo("tsuba-1-photo-2", "a")]));
        put(&mut edit, &card).unwrap();
        assert!(has(&edit.body, "tsuba-1"));
        assert_eq!(
            edit.body["fittings"][0]["photos"],
            json!(["tang-2", "tang"])
        );
        assert_eq!(edit.body["photos"].as_array().unwrap().len(), 2);
        // Brought up to date in place.
        let mut other = card.clone();
        other.fitting.condition = Some("worn".to_owned());
        put(&mut edit, &other).unwrap();
        assert_eq!(edit.body["fittings"].as_array().unwrap().len(), 1);
        assert_eq!(edit.body["fittings"][0]["condition"], "worn");
        take(&mut edit, "tsuba-1");
        assert_eq!(
            edit.body, body,
            "nothing of it is left, and the tang keeps its photo"
        );
        take(&mut edit, "tsuba-1");
        assert_eq!(edit.body, body);
    }

    #[test]
    fn a_photo_that_is_no_longer_shown_leaves_the_sheet() {
        let mut edit = Workshop::begin("reed", json!({ "blade": {} }));
        put(
            &mut edit,
            &card(&json!([photo("one", "a"), photo("two", "b")])),
        )
        .unwrap();
        put(&mut edit, &card(&json!([photo("two", "b")]))).unwrap();
        assert_eq!(edit.body["photos"][0]["id"], "two");
        assert_eq!(edit.body["photos"].as_array().unwrap().len(), 1);
        event(
            &mut edit,
            CustodyKind::FittingAdded,
            "2026-03-04",
            &card(&json!([])),
            "from storage",
        );
        assert_eq!(
            edit.body["custody"][0],
            json!({ "kind": "fitting_added", "when": "2026-03-04", "note": "tsuba `tsuba-1` (plain guard), from storage" })
        );
    }
}
