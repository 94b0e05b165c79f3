//! Pictures that no record names: copies that were made for one report, and what somebody puts in their place.

use std::collections::BTreeMap;
use std::fs;

use tangmark_core::Digest;
use tangmark_core::record::Record;
use tangmark_report::jpeg::{self, TRANSFORM};
use tangmark_report::scene::Image;
use tangmark_report::{Beside, Kind, PageSize, RenderInput, Speech, render_again};
use tangmark_testkit::cases::samples;
use tangmark_testkit::sealed::{Trial, sign_report};
use tangmark_trust::PublicKey;
use tangmark_workshop::rerender::{Pages, pages};

/// A photo as a camera writes it, with the place and a comment beside the picture.
fn photo(comment: &str) -> Vec<u8> {
    let bytes = fs::read(samples().join("photos/gorge-crack.jpg")).unwrap();
    let length = u16::try_from(comment.len() + 2).unwrap().to_be_bytes();
    let (start, rest) = bytes.split_at(2);
    [start, b"\xff\xfe", &length, comment.as_bytes(), rest].concat()
}

/// The same, its picture turned round within the file: as large, and another one.
fn other_picture(photo: &[u8]) -> Vec<u8> {
    let mut other = photo.to_vec();
    // The last bytes before the end of image are coded picture.
    let end = other.len() - 40;
    for byte in &mut other[end - 60..end] {
        *byte ^= 0x15;
        if *byte == 0xff {
            *byte = 0xfe;
        }
    }
    other
}

/// A record with photos whose copies it does not name, and its sealed bytes.
fn sealed(photos: &[&[u8]]) -> (Trial, Vec<u8>) {
    let mut trial = Trial::new(2).unwrap();
    trial.add_photos(photos).unwrap();
    trial.kind = Kind::Condition;
    let sealed = trial.seal().unwrap();
    (trial, sealed)
}

/// Draws the report with a picture of the signer's choosing in the place of each photo.
fn drawn_with(sealed: &[u8], pictures: &BTreeMap<Digest, Image>) -> Vec<u8> {
    let record: Record = serde_json::from_slice(sealed).unwrap();
    let key = PublicKey::from_did(record.issuer.id.as_str()).unwrap();
    let fingerprint = key.fingerprint().to_string();
    let input = RenderInput {
        record_bytes: sealed,
        photos: &BTreeMap::new(),
        page: PageSize::A4,
        demo: true,
        fingerprint: &fingerprint,
        kind: Kind::Condition,
        speech: Speech::English,
        earlier: &[],
    };
    let drawn = render_again(&record, &Beside::default(), &input, pictures).unwrap();
    sign_report(drawn.pdf).unwrap()
}

fn not_named(found: &Pages) -> usize {
    match found {
        Pages::NotCompared {
            pictures_not_named,
            differences,
            ..
        } if differences.is_empty() => *pictures_not_named,
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_copy_that_no_record_names_is_counted_and_never_called_the_same() {
    let photo = photo("by the river");
    let (trial, sealed) = sealed(&[&photo]);
    let honest = sign_report(trial.render(&sealed).unwrap().0).unwrap();
    let found = pages(&honest, &[]).unwrap();
    assert_eq!(not_named(&found), 1);
    let told = found.to_string();
    assert!(
        told.starts_with(
            "not compared as a whole: 1 picture on them is a copy that no record names; all else is equal"
        ),
        "{told}"
    );
    assert_eq!((found.exit_code(0), found.exit_code(2)), (0, 2));
    assert!(found.next_step().unwrap().contains("hold the pictures"));

    // Somebody with the workshop's key puts another picture there: nothing tells the two apart, so neither is "the same".
    let forged = other_picture(&jpeg::copy(&photo).unwrap().bytes);
    assert_ne!(
        Digest::of(&forged),
        Digest::of(&jpeg::copy(&photo).unwrap().bytes)
    );
    let image = Image {
        left_out: Some(TRANSFORM.to_owned()),
        ..Image::of(&forged, Digest::of(&forged)).unwrap()
    };
    let pictures = BTreeMap::from([(Digest::of(&photo), image)]);
    let found = pages(&drawn_with(&sealed, &pictures), &[]).unwrap();
    assert_eq!(not_named(&found), 1);
}

/// Photos by one camera are of one size.
#[test]
fn copies_of_one_size_are_told_apart_by_their_captions() {
    // The pictures differ too, or one copy would stand for both.
    let (one, other) = (photo("one"), other_picture(&photo("other")));
    let (trial, sealed) = sealed(&[&one, &other]);
    let report = sign_report(trial.render(&sealed).unwrap().0).unwrap();
    assert_eq!(not_named(&pages(&report, &[]).unwrap()), 2);
}

/// A picture of another size stands for no photo: the pages cannot be drawn with it, and nothing vouches for them.
#[test]
fn pages_with_pictures_that_cannot_be_placed_are_to_be_confirmed() {
    let (one, strange) = (photo("one"), samples().join("photos/reed-tang.jpg"));
    let (_, sealed) = sealed(&[&one]);
    let strange = fs::read(strange).unwrap();
    let strange = jpeg::copy(&strange).unwrap().bytes.into_owned();
    let digest = Digest::of(&strange);
    let image = Image {
        left_out: Some(TRANSFORM.to_owned()),
        ..Image::of(&strange, digest).unwrap()
    };
    let size = |file: &[u8]| jpeg::header(file).map(|header| (header.width, header.height));
    assert_ne!(size(&one).unwrap(), size(&strange).unwrap());
    let pictures = BTreeMap::from([(Digest::of(&one), image)]);
    let found = pages(&drawn_with(&sealed, &pictures), &[]).unwrap();
    let Pages::NotCompared {
        pictures_not_named: 1,
        differences,
        ..
    } = &found
    else {
        panic!("{found:?}");
    };
    assert!(!differences.is_empty());
    assert_eq!((found.exit_code(0), found.exit_code(1)), (2, 1));
}
