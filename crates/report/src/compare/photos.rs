//! Photographs that show the same thing in two states.

use tangmark_core::record::{Photo, Record, Shows};

/// Photos of both records that show the same: those with the same key, else those that [`show_the_same`].
pub(crate) fn pairs<'a>(before: &'a Record, after: &'a Record) -> Vec<(&'a Photo, &'a Photo)> {
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
        let same = |other: &&Photo| show_the_same((before, photo), (after, other));
        if let Some(at) = left.iter().position(same) {
            pairs.push((photo, left.remove(at)));
        }
    }
    pairs
}

/// Whether photos with different keys show the same thing of the blade: there is one whole and one point, and a flaw of
/// both records names its photos. Of the rest nothing tells which place they show.
fn show_the_same((before, first): (&Record, &Photo), (after, second): (&Record, &Photo)) -> bool {
    if first.shows != second.shows {
        return false;
    }
    match first.shows {
        Shows::Whole | Shows::Point => true,
        Shows::Flaw => before.flaws.iter().any(|flaw| {
            flaw.photos.contains(&first.id)
                && after
                    .flaws
                    .iter()
                    .any(|other| other.id == flaw.id && other.photos.contains(&second.id))
        }),
        _ => false,
    }
}

fn same_file(first: &Photo, second: &Photo) -> bool {
    let digest = |photo: &Photo| photo.original.as_ref().map(|file| file.digest);
    digest(first).is_some() && digest(first) == digest(second)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use serde_json::json;
    use tangmark_core::record::Key;

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

    fn key(text: &str) -> Key {
        serde_json::from_value(text.into()).unwrap()
    }

    /// A record with photos (key, what it shows) and flaws (key, photo).
    fn record(photos: &[[&str; 2]], flaws: &[[&str; 2]]) -> Record {
        let mut value = sample::bare();
        value["photos"] = photos
            .iter()
            .map(|[id, shows]| json!({ "id": id, "shows": shows, "caption": "invented" }))
            .collect();
        let mut record: Record = serde_json::from_value(value).unwrap();
        let flaw = &sample::sword().record.flaws[0];
        record.flaws = flaws
            .iter()
            .map(|[id, photo]| {
                let mut flaw = flaw.clone();
                (flaw.id, flaw.photos) = (key(id), vec![key(photo)]);
                flaw
            })
            .collect();
        record
    }

    fn keys(before: &Record, after: &Record) -> Vec<[String; 2]> {
        pairs(before, after)
            .into_iter()
            .map(|(first, second)| [first.id.to_string(), second.id.to_string()])
            .collect()
    }

    #[test]
    fn photos_of_different_flaws_are_not_paired() {
        let before = record(
            &[["a", "flaw"], ["b", "flaw"]],
            &[["f-1", "a"], ["f-2", "b"]],
        );
        let other = record(&[["c", "flaw"]], &[["f-3", "c"]]);
        assert!(keys(&before, &other).is_empty());
        let same = record(&[["c", "flaw"]], &[["f-2", "c"]]);
        assert_eq!(keys(&before, &same), [["b", "c"]]);
        // Without a flaw that names them nothing tells what they show.
        let unnamed = record(&[["c", "flaw"]], &[]);
        assert!(keys(&before, &unnamed).is_empty());
    }

    #[test]
    fn whole_and_point_are_paired_without_a_key() {
        let before = record(&[["a", "whole"], ["b", "point"], ["c", "grain"]], &[]);
        let after = record(&[["d", "grain"], ["e", "point"], ["f", "whole"]], &[]);
        assert_eq!(keys(&before, &after), [["a", "f"], ["b", "e"]]);
    }

    #[test]
    fn the_whole_blade_of_the_demo_is_paired() {
        let read = |name: &str| -> Record {
            let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../../samples/records");
            let bytes = std::fs::read(format!("{folder}/{name}.json")).unwrap();
            serde_json::from_slice(&bytes).unwrap()
        };
        let (before, after) = (read("reed-01-before_work"), read("reed-02-after_work"));
        assert_eq!(keys(&before, &after), [["whole-before", "whole-after"]]);
    }
}
