//! What a copy leaves out, and what it keeps byte for byte.

use std::borrow::Cow;

use jpeg_encoder::ColorType;
use proptest::prelude::*;

use super::files::{SECRETS, holds, picture, samples, segment, talkative, with_segments};
use crate::jpeg::{JpegError, copy, header};

/// Everything from the first table to the end: tables, frame, scans.
fn coded(jpeg: &[u8]) -> &[u8] {
    let tables = memchr::memmem::find(jpeg, &[0xff, 0xdb]).unwrap();
    &jpeg[tables..]
}

#[test]
fn nothing_but_the_picture_is_left() {
    for (colour, progressive) in [
        (ColorType::Rgb, false),
        (ColorType::Rgb, true),
        (ColorType::Luma, false),
        (ColorType::Luma, true),
    ] {
        let bare = picture(64, 40, colour, progressive);
        let file = talkative(&bare);
        for secret in SECRETS {
            assert!(holds(&file, secret), "{secret} is in the file");
        }
        let copied = copy(&file).unwrap();
        assert!(copied.differs());
        for secret in SECRETS {
            assert!(!holds(&copied.bytes, secret), "{secret}");
        }
        // What the encoder wrote, byte for byte: nothing was encoded anew.
        assert_eq!(&*copied.bytes, bare.as_slice());
        assert_eq!(samples(&copied.bytes), samples(&file));
        assert_eq!(copied.header, header(&file).unwrap());
        assert_eq!(
            copied.transform(),
            "segments with place, camera, comments and thumbnails left out; picture data unchanged"
        );
    }
}

#[test]
fn a_file_with_nothing_beside_the_picture_is_its_own_copy() {
    let bare = picture(33, 17, ColorType::Rgb, false);
    let copied = copy(&bare).unwrap();
    assert!(matches!(copied.bytes, Cow::Borrowed(bytes) if bytes == bare));
    assert!(!copied.differs());
}

#[test]
fn a_copy_of_a_copy_is_the_copy() {
    let file = talkative(&picture(64, 40, ColorType::Rgb, true));
    let once = copy(&file).unwrap().bytes.into_owned();
    assert!(!copy(&once).unwrap().differs());
}

#[test]
fn thumbnails_in_the_first_segment_go_and_the_colour_transform_stays() {
    let bare = picture(16, 16, ColorType::Rgb, false);
    // A JFIF segment with a thumbnail of one pixel, before the encoder's own.
    let thumbnail = [
        b"JFIF\0\x01\x02\x01\x00\x48\x00\x48\x01\x01".as_slice(),
        b"\x01\x02\x03",
    ]
    .concat();
    let adobe = b"Adobe\0\x64\0\0\0\0\x01and more than belongs there";
    let file = [
        &bare[..2],
        &segment(0xe0, &thumbnail),
        &segment(0xee, adobe),
        &bare[20..],
    ]
    .concat();
    let copied = copy(&file).unwrap();
    let expected = [
        &bare[..2],
        &segment(0xe0, b"JFIF\0\x01\x02\x01\x00\x48\x00\x48\0\0"),
        &segment(0xee, &adobe[..12]),
        &bare[20..],
    ]
    .concat();
    assert_eq!(&*copied.bytes, expected);
    assert_eq!(coded(&copied.bytes), coded(&file));
}

#[test]
fn fill_bytes_before_markers_and_bytes_after_the_end_go() {
    let bare = picture(16, 16, ColorType::Rgb, false);
    let mut file = bare.clone();
    file.splice(2..2, [0xff, 0xff, 0xff]);
    let end = file.len() - 2;
    file.splice(end..end, [0xff, 0xff]);
    file.extend(b"trailer of a phone");
    assert_eq!(&*copy(&file).unwrap().bytes, bare.as_slice());
}

#[test]
fn damaged_files_are_refused_with_what_and_where() {
    let bare = picture(32, 32, ColorType::Rgb, false);
    let text = |bytes: &[u8]| copy(bytes).unwrap_err().to_string();
    assert_eq!(
        text(&bare[..bare.len() - 1]),
        format!(
            "ends at byte {}, inside the picture data; the end marker FFD9 of a JPEG file is needed",
            bare.len() - 1
        )
    );
    let mut gap = bare.clone();
    gap.insert(20, 0x41);
    assert_eq!(
        text(&gap),
        "has byte 41 at byte 20, where a marker (FF and its number) of a JPEG file is needed"
    );
    let mut short = bare.clone();
    short[22..24].copy_from_slice(&[0, 1]);
    assert_eq!(
        text(&short),
        "has a segment of length 1 at byte 22; at least 2 is needed"
    );
    let odd = with_segments(&bare, &[segment(0xf7, b"other coding")]);
    assert_eq!(
        text(&odd),
        "has marker FFF7 at byte 20, which is no part of an ordinary JPEG file"
    );
    assert_eq!(copy(&[0xff, 0xd8, 0xff, 0xd9]), Err(JpegError::NoFrame));
    let cmyk = picture(8, 8, ColorType::Cmyk, false);
    assert_eq!(copy(&cmyk), Err(JpegError::Components(4)));
    let frames = with_segments(&bare, &[segment(0xc0, &[8, 0, 8, 0, 8, 1, 1, 0x11, 0])]);
    assert!(matches!(copy(&frames), Err(JpegError::SecondFrame(_))));
    for end in 0..bare.len() {
        assert!(copy(&bare[..end]).is_err(), "cut at {end}");
    }
}

proptest! {
    #[test]
    fn no_bytes_make_it_panic(bytes in prop::collection::vec(any::<u8>(), 0..600)) {
        let _ = (copy(&bytes), header(&bytes));
        let _ = copy(&[&[0xff, 0xd8], bytes.as_slice()].concat());
    }

    #[test]
    fn flipped_bits_and_random_segments_give_a_sound_copy_or_an_error(
        flips in prop::collection::vec((any::<prop::sample::Index>(), 0_u8..8), 0..6),
        segments in prop::collection::vec((0xc0_u8..=0xfe, prop::collection::vec(any::<u8>(), 0..40)), 0..4),
    ) {
        let segments: Vec<Vec<u8>> =
            segments.iter().map(|(marker, payload)| segment(*marker, payload)).collect();
        let mut file = with_segments(&talkative(&picture(24, 16, ColorType::Rgb, false)), &segments);
        for (index, bit) in flips {
            let at = index.index(file.len());
            file[at] ^= 1 << bit;
        }
        if let Ok(copied) = copy(&file) {
            prop_assert!(copied.bytes.len() <= file.len());
            let again = copy(&copied.bytes);
            prop_assert!(again.is_ok_and(|again| !again.differs()));
        }
    }
}
