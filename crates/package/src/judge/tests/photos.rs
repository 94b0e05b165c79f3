//! Photos: swapped, written anew, turned, missing, added.

use super::*;

/// A JPEG header of the given size and orientation, with `inside` for a picture.
fn jpeg(width: u16, orientation: Option<u8>, inside: &[u8]) -> Vec<u8> {
    let mut bytes = vec![0xff, 0xd8];
    if let Some(turn) = orientation {
        bytes.extend([0xff, 0xe1, 0, 34]);
        bytes.extend(b"Exif\0\0II*\0\x08\0\0\0\x01\0\x12\x01\x03\0\x01\0\0\0");
        bytes.extend([turn, 0, 0, 0, 0, 0, 0, 0]);
    }
    bytes.extend([0xff, 0xc0, 0, 11, 8, 0, 40]);
    bytes.extend(width.to_be_bytes());
    bytes.extend([1, 1, 0x11, 0, 0xff, 0xda]);
    bytes.extend(inside);
    bytes
}

fn path(bytes: &[u8]) -> String {
    format!("data/photos/{}.jpg", Digest::of(bytes))
}

fn file(bytes: &[u8], width: u32, orientation: Option<u8>) -> Value {
    let mut file = json!({
        "digest": Digest::of(bytes).to_string(), "length": bytes.len(), "media_type": "image/jpeg",
        "width_px": width, "height_px": 40
    });
    if let Some(turn) = orientation {
        file["orientation"] = json!(turn);
    }
    file
}

/// A record that names the photos by digest: originals, the last one with a copy.
fn record(first: &[u8], second: &[u8], copy: &[u8]) -> Vec<u8> {
    let mut record = unsigned(None);
    record["photos"] = json!([
        {"id": "whole", "shows": "whole", "caption": "Whole blade", "original_kept_private": false,
         "original": file(first, 60, Some(6))},
        {"id": "tang", "shows": "tang", "caption": "Tang", "original_kept_private": false,
         "original": file(second, 80, None),
         "derivatives": [{"file": file(copy, 80, None), "transform": "without what stands beside the picture"}]}
    ]);
    seal(&record)
}

struct Trial {
    first: Vec<u8>,
    second: Vec<u8>,
    copy: Vec<u8>,
    files: Files,
}

fn trial() -> Trial {
    let first = jpeg(60, Some(6), b"whole");
    let second = jpeg(80, None, b"tang");
    let copy = jpeg(80, None, b"copy");
    let mut files = package(&[record(&first, &second, &copy)]);
    for photo in [&first, &second, &copy] {
        files.insert(path(photo), photo.clone());
    }
    manifests(&mut files);
    Trial {
        first,
        second,
        copy,
        files,
    }
}

/// Puts other bytes under the name of `photo`, with manifests made anew.
fn instead(photo: &[u8], bytes: &[u8]) -> PhotoVerdict {
    let mut files = trial().files;
    files.insert(path(photo), bytes.to_vec());
    manifests(&mut files);
    let verdict = judged(&files);
    assert_eq!(verdict.exit, 1);
    assert!(verdict.bag.changed.is_empty());
    let photo = verdict.photos[&path(photo)].clone();
    assert_eq!(photo.state, PhotoState::NotTheSame);
    photo
}

#[test]
fn photos_that_a_record_names_are_originals_and_copies() {
    let trial = trial();
    let verdict = judged(&trial.files);
    assert_eq!(verdict.exit, 0, "{verdict:#?}");
    let state = |photo: &[u8]| verdict.photos[&path(photo)].state;
    assert_eq!(
        [
            state(&trial.first),
            state(&trial.second),
            state(&trial.copy)
        ],
        [PhotoState::Original, PhotoState::Original, PhotoState::Copy]
    );
    assert_eq!(verdict.photos[&path(&trial.first)].record, Some(1));
    assert_eq!(verdict.photos_not_packed, 0);
}

#[test]
fn case_48_photos_that_change_places_are_told_by_their_size() {
    let trial = trial();
    assert_eq!(
        instead(&trial.first, &trial.second).difference,
        Some(PhotoDifference::OtherSize)
    );
    assert_eq!(
        instead(&trial.second, &trial.first).difference,
        Some(PhotoDifference::OtherSize)
    );
}

#[test]
fn case_48_the_same_pixels_written_anew_or_with_other_exif_are_told_as_that() {
    let trial = trial();
    let again = instead(&trial.first, &jpeg(60, Some(6), b"whole, written anew"));
    assert_eq!(again.difference, Some(PhotoDifference::SameSize));
    // No orientation is the same as 1.
    let exif = instead(&trial.second, &jpeg(80, Some(1), b"tang"));
    assert_eq!(exif.difference, Some(PhotoDifference::SameSize));
}

#[test]
fn case_48_a_turned_photo_is_told_as_that() {
    let trial = trial();
    let turned = instead(&trial.first, &jpeg(60, Some(8), b"whole"));
    assert_eq!(turned.difference, Some(PhotoDifference::OtherOrientation));
    let without = instead(&trial.first, &jpeg(60, None, b"whole"));
    assert_eq!(without.difference, Some(PhotoDifference::OtherOrientation));
}

#[test]
fn a_photo_whose_header_cannot_be_read_is_only_not_the_same() {
    assert_eq!(instead(&trial().first, b"no photo").difference, None);
}

#[test]
fn case_49_a_listed_photo_that_is_missing_cannot_be_checked() {
    let mut trial = trial();
    trial.files.remove(&path(&trial.copy));
    let verdict = judged(&trial.files);
    assert_eq!(
        (verdict.exit, verdict.bag.missing),
        (3, vec![path(&trial.copy)])
    );
    // One that was never packed is counted, and weighs nothing.
    manifests(&mut trial.files);
    let verdict = judged(&trial.files);
    assert_eq!((verdict.exit, verdict.photos_not_packed), (0, 1));
}

#[test]
fn case_49_an_extra_photo_is_to_be_confirmed() {
    let mut trial = trial();
    let extra = jpeg(60, None, b"taken later");
    trial.files.insert(path(&extra), extra.clone());
    manifests(&mut trial.files);
    let verdict = judged(&trial.files);
    assert_eq!(
        (verdict.photos[&path(&extra)].state, verdict.exit),
        (PhotoState::Unsigned, 2)
    );
    // Under a name of its own it has no place in a package.
    trial.files.remove(&path(&extra));
    trial
        .files
        .insert("data/photos/later.jpg".to_owned(), extra);
    manifests(&mut trial.files);
    let verdict = judged(&trial.files);
    assert_eq!(
        (verdict.exit, verdict.bag.unlisted),
        (2, vec!["data/photos/later.jpg".to_owned()])
    );
}

#[test]
fn case_51_a_photo_renamed_after_it_was_changed_is_named_by_no_record() {
    let mut trial = trial();
    let mut bytes = trial.files.remove(&path(&trial.first)).unwrap();
    bytes.push(0);
    trial.files.insert(path(&bytes), bytes.clone());
    manifests(&mut trial.files);
    let verdict = judged(&trial.files);
    assert_eq!(verdict.photos[&path(&bytes)].state, PhotoState::Unsigned);
    assert_eq!((verdict.exit, verdict.photos_not_packed), (2, 1));
}

#[test]
fn a_record_that_does_not_stand_names_no_photo() {
    let mut trial = trial();
    let record = trial.files.get_mut(&record_path(1)).unwrap();
    let place = record
        .windows(5)
        .position(|window| window == b"Brook")
        .unwrap();
    record[place] = b'C';
    manifests(&mut trial.files);
    let verdict = judged(&trial.files);
    assert_eq!(
        verdict.photos[&path(&trial.first)].state,
        PhotoState::Unsigned
    );
    assert_eq!(verdict.exit, 1);
}
