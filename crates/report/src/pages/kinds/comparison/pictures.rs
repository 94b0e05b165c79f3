//! Photographs that show the same thing, side by side.

use tangmark_core::record::{Photo, Record};

use super::super::super::{Content, photos, words};
use crate::{
    layout::{Flow, style},
    speech::pair,
};

/// Photos of both records that show the same: those with the same key, else of each thing shown the next that is left.
fn pairs<'a>(before: &'a Record, after: &'a Record) -> Vec<(&'a Photo, &'a Photo)> {
    let mut left: Vec<&Photo> = after.photos.iter().collect();
    let mut pairs = Vec::new();
    let mut open = Vec::new();
    for photo in &before.photos {
        // A photo that stands in both records is one photo: it shows no second state.
        if let Some(at) = left.iter().position(|other| same_file(photo, other)) {
            left.remove(at);
        } else if let Some(at) = left.iter().position(|other| other.id == photo.id) {
            pairs.push((photo, left.remove(at)));
        } else {
            open.push(photo);
        }
    }
    for photo in open {
        if let Some(at) = left.iter().position(|other| other.shows == photo.shows) {
            pairs.push((photo, left.remove(at)));
        }
    }
    pairs
}

fn same_file(first: &Photo, second: &Photo) -> bool {
    let digest = |photo: &Photo| photo.original.as_ref().map(|file| file.digest);
    digest(first).is_some() && digest(first) == digest(second)
}

pub(super) fn set(flow: &mut Flow, content: &Content<'_>, before: &Record) {
    let pairs = pairs(before, content.record);
    words::heading(
        flow,
        &pair("Photographs before and after", "写真の比較"),
        40.0,
    );
    if pairs.is_empty() {
        flow.say(
            &pair(
                "No two photographs of the records show the same thing in two states.",
                "二つの状態で同じものを写した写真はない。",
            ),
            style::BODY,
        );
        return;
    }
    flow.say(
        &pair(
            "Left before, right after. What a light shows another light can hide.",
            "左が前、右が後。見え方は光により異なる。",
        ),
        style::NOTE,
    );
    flow.y += 1.2;
    for (first, second) in pairs {
        photos::side_by_side(flow, content, first, second);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sample;

    #[test]
    fn photos_are_paired_by_key_then_by_what_they_show() {
        let before = sample::sword().record;
        let mut after = before.clone();
        for photo in &mut after.photos {
            if let Some(file) = &mut photo.original {
                file.digest = tangmark_core::Digest::of(photo.id.to_string().as_bytes());
            }
        }
        assert_eq!(pairs(&before, &after).len(), 4);
        // The same files show no second state; without a file the key tells.
        assert_eq!(pairs(&before, &before).len(), 1);
    }
}
