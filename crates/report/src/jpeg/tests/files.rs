//! Files to test with: small pictures, and segments put into them.

use jpeg_encoder::{ColorType, Encoder};

/// What a camera, a program and a person wrote into the test files; none of it may get into a copy.
pub(crate) const SECRETS: [&str; 7] = [
    "GPS-48.2082N-16.3738E",
    "SERIAL-0007712",
    "THUMBNAIL-BYTES",
    "COMMENT-OF-A-PERSON",
    "XMP-HISTORY",
    "EDITOR-RESOURCES",
    "SECOND-PICTURE",
];

/// A small picture with structure in it.
pub(crate) fn picture(width: u16, height: u16, colour: ColorType, progressive: bool) -> Vec<u8> {
    let bytes_a_pixel = match colour {
        ColorType::Luma => 1,
        ColorType::Cmyk => 4,
        _ => 3,
    };
    let mut state = 7_u32;
    let pixels: Vec<u8> = (0..usize::from(width) * usize::from(height) * bytes_a_pixel)
        .map(|index| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let noise = u8::try_from(state >> 27).unwrap_or_default();
            u8::try_from(index / 3 % 200).unwrap_or_default() + noise
        })
        .collect();
    let mut bytes = Vec::new();
    let mut encoder = Encoder::new(&mut bytes, 90);
    encoder.set_progressive(progressive);
    encoder.set_restart_interval(2);
    encoder.encode(&pixels, width, height, colour).unwrap();
    bytes
}

/// A segment with its marker and length.
pub(crate) fn segment(marker: u8, payload: &[u8]) -> Vec<u8> {
    let length = u16::try_from(payload.len() + 2).unwrap();
    [&[0xff, marker], length.to_be_bytes().as_slice(), payload].concat()
}

/// The file with segments put after its first application segment.
pub(crate) fn with_segments(jpeg: &[u8], segments: &[Vec<u8>]) -> Vec<u8> {
    let first = 4 + usize::from(u16::from_be_bytes([jpeg[4], jpeg[5]]));
    assert_eq!(&jpeg[2..4], [0xff, 0xe0]);
    [&jpeg[..first], &segments.concat(), &jpeg[first..]].concat()
}

/// The file as a camera and its programs leave it: all of [`SECRETS`] inside.
pub(crate) fn talkative(jpeg: &[u8]) -> Vec<u8> {
    let text = |index: usize| SECRETS[index].as_bytes();
    let exif = [b"Exif\0\0MM\0*".as_slice(), text(0), text(1)].concat();
    let mut bytes = with_segments(
        jpeg,
        &[
            segment(0xe1, &exif),
            segment(0xe0, &[b"JFXX\0\x10".as_slice(), text(2)].concat()),
            segment(0xfe, text(3)),
            segment(
                0xe1,
                &[b"http://ns.adobe.com/xap/1.0/\0".as_slice(), text(4)].concat(),
            ),
            segment(0xed, &[b"Photoshop 3.0\0".as_slice(), text(5)].concat()),
            segment(0xe2, b"MPF\0MM\0*"),
            segment(0xea, text(1)),
        ],
    );
    bytes.extend([0xff, 0xd8]);
    bytes.extend(text(6));
    bytes
}

/// Decoded samples, by a decoder that shares nothing with this program.
pub(crate) fn samples(jpeg: &[u8]) -> Vec<u8> {
    let cursor = zune_jpeg::zune_core::bytestream::ZCursor::new(jpeg);
    zune_jpeg::JpegDecoder::new(cursor).decode().unwrap()
}

/// Whether the bytes hold a text.
pub(crate) fn holds(bytes: &[u8], text: &str) -> bool {
    memchr::memmem::find(bytes, text.as_bytes()).is_some()
}

/// A profile with the tags given, each with the same small data; sound unless the test breaks it.
pub(crate) fn profile(space: [u8; 4], tags: &[[u8; 4]], mark: u8) -> Vec<u8> {
    let data_at = 128 + 4 + 12 * tags.len();
    let length = u32::try_from(data_at + 16).unwrap();
    let mut bytes = vec![0; 128];
    bytes[..4].copy_from_slice(&length.to_be_bytes());
    bytes[8] = 4;
    bytes[12..16].copy_from_slice(b"mntr");
    bytes[16..20].copy_from_slice(&space);
    bytes[20..24].copy_from_slice(b"XYZ ");
    bytes[36..40].copy_from_slice(b"acsp");
    bytes.extend(u32::try_from(tags.len()).unwrap().to_be_bytes());
    for tag in tags {
        bytes.extend(tag);
        bytes.extend(u32::try_from(data_at).unwrap().to_be_bytes());
        bytes.extend(16_u32.to_be_bytes());
    }
    bytes.extend([mark; 16]);
    bytes
}

/// A sound profile for colour pictures.
pub(crate) fn colour_profile(mark: u8) -> Vec<u8> {
    let tags = [*b"rXYZ", *b"gXYZ", *b"bXYZ", *b"rTRC", *b"gTRC", *b"bTRC"];
    profile(*b"RGB ", &tags, mark)
}

/// The segments of a profile in so many parts.
pub(crate) fn profile_segments(profile: &[u8], parts: usize) -> Vec<Vec<u8>> {
    let size = profile.len().div_ceil(parts);
    profile
        .chunks(size)
        .zip(1_u8..)
        .map(|(chunk, number)| {
            let of = u8::try_from(parts).unwrap();
            segment(
                0xe2,
                &[b"ICC_PROFILE\0".as_slice(), &[number, of], chunk].concat(),
            )
        })
        .collect()
}
