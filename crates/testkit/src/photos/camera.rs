//! What a camera writes beside a picture: an invented one, so that the tour can show that reports do not hand it on.
//!
//! Sources: TIFF 6.0 (directories), Exif 2.32 (tags), ICC.1:2001-04 (profile); all from memory.

use jpeg_encoder::{ColorType, Encoder, EncodingError};

/// What stands in a file beside the picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Beside {
    /// Nothing.
    Nothing,
    /// Place, serial numbers, a comment and a thumbnail.
    Camera,
    /// A colour profile.
    Profile,
}

/// Words that stand in the files with `Beside::Camera`; none of them may stand in a report.
pub const CAMERA_WORDS: [&str; 6] = [
    "Halewood Optical (invented)",
    "HO7-BODY-00417",
    "HO7-LENS-20933",
    "back room, third shelf (invented)",
    "HO-7 PICTURE EDITOR",
    "rough note of the tour (invented)",
];

/// Columns and rows of the thumbnail.
const THUMBNAIL: (u16, u16) = (96, 24);

impl Beside {
    /// What the index says of it.
    pub(super) const fn words(self) -> &'static str {
        match self {
            Self::Nothing => "nothing",
            Self::Camera => "invented camera data: place, serial numbers, comments, thumbnail",
            Self::Profile => "colour profile",
        }
    }

    /// Puts it into a JPEG file after the first segment; `pixels` are its samples, red, green and blue.
    pub(super) fn put(
        self,
        jpeg: Vec<u8>,
        pixels: &[u8],
        size: (u16, u16),
    ) -> Result<Vec<u8>, EncodingError> {
        let segments = match self {
            Self::Nothing => return Ok(jpeg),
            Self::Camera => {
                let exif = [b"Exif\0\0".as_slice(), &exif(&thumbnail(pixels, size)?)].concat();
                let xmp = [
                    b"http://ns.adobe.com/xap/1.0/\0".as_slice(),
                    b"<x:xmpmeta xmlns:x=\"adobe:ns:meta/\"><!-- ",
                    CAMERA_WORDS[4].as_bytes(),
                    b" --></x:xmpmeta>",
                ]
                .concat();
                [
                    segment(0xe1, &exif),
                    segment(0xe1, &xmp),
                    segment(0xfe, CAMERA_WORDS[5].as_bytes()),
                ]
                .concat()
            }
            Self::Profile => segment(
                0xe2,
                &[b"ICC_PROFILE\0\x01\x01".as_slice(), &profile()].concat(),
            ),
        };
        // Start of image, then the encoder's JFIF segment.
        let first = 4 + usize::from(u16::from_be_bytes([jpeg[4], jpeg[5]]));
        let (head, rest) = jpeg.split_at(first);
        Ok([head, &segments, rest].concat())
    }
}

fn segment(marker: u8, payload: &[u8]) -> Vec<u8> {
    let length = (payload.len() + 2) as u16;
    [&[0xff, marker], length.to_be_bytes().as_slice(), payload].concat()
}

/// Every so many pixels of the picture, coded by itself.
fn thumbnail(pixels: &[u8], (width, height): (u16, u16)) -> Result<Vec<u8>, EncodingError> {
    let mut small = Vec::new();
    for row in 0..THUMBNAIL.1 {
        for column in 0..THUMBNAIL.0 {
            let x = usize::from(column) * usize::from(width) / usize::from(THUMBNAIL.0);
            let y = usize::from(row) * usize::from(height) / usize::from(THUMBNAIL.1);
            let at = 3 * (y * usize::from(width) + x);
            small.extend_from_slice(&pixels[at..at + 3]);
        }
    }
    let mut jpeg = Vec::new();
    Encoder::new(&mut jpeg, 60).encode(&small, THUMBNAIL.0, THUMBNAIL.1, ColorType::Rgb)?;
    Ok(jpeg)
}

/// One entry of a directory: tag, type, number of values, bytes of the values.
struct Tag(u16, u16, u32, Vec<u8>);

const ASCII: u16 = 2;
const SHORT: u16 = 3;
const LONG: u16 = 4;
const RATIONAL: u16 = 5;
const UNDEFINED: u16 = 7;

fn text(tag: u16, words: &str) -> Tag {
    let bytes = [words.as_bytes(), b"\0"].concat();
    Tag(tag, ASCII, bytes.len() as u32, bytes)
}

fn short(tag: u16, value: u16) -> Tag {
    Tag(tag, SHORT, 1, [value.to_be_bytes(), [0; 2]].concat())
}

fn long(tag: u16, value: usize) -> Tag {
    Tag(tag, LONG, 1, (value as u32).to_be_bytes().to_vec())
}

fn degrees(tag: u16, parts: [(u32, u32); 3]) -> Tag {
    let bytes = parts
        .iter()
        .flat_map(|(over, under)| [over.to_be_bytes(), under.to_be_bytes()].concat())
        .collect();
    Tag(tag, RATIONAL, 3, bytes)
}

/// Length of a directory with its values.
fn length(tags: &[Tag]) -> usize {
    let values: usize = tags
        .iter()
        .map(|tag| tag.3.len())
        .filter(|length| *length > 4)
        .map(|length| length.next_multiple_of(2))
        .sum();
    2 + 12 * tags.len() + 4 + values
}

/// Writes a directory that begins at `start`; `next` is where the next one begins, 0 for none.
fn directory(out: &mut Vec<u8>, start: usize, tags: &[Tag], next: usize) {
    let mut values_at = start + 2 + 12 * tags.len() + 4;
    let mut values = Vec::new();
    out.extend((tags.len() as u16).to_be_bytes());
    for Tag(tag, kind, count, bytes) in tags {
        out.extend(tag.to_be_bytes());
        out.extend(kind.to_be_bytes());
        out.extend(count.to_be_bytes());
        if bytes.len() <= 4 {
            let mut value = bytes.clone();
            value.resize(4, 0);
            out.extend(value);
        } else {
            out.extend((values_at as u32).to_be_bytes());
            let mut value = bytes.clone();
            value.resize(bytes.len().next_multiple_of(2), 0);
            values_at += value.len();
            values.extend(value);
        }
    }
    out.extend((next as u32).to_be_bytes());
    out.extend(values);
}

/// The Exif block: camera, place in the middle of an ocean, serial numbers, a comment and the thumbnail.
fn exif(thumbnail: &[u8]) -> Vec<u8> {
    let place = [
        text(1, "S"),
        degrees(2, [(48, 1), (52, 1), (316, 10)]),
        text(3, "W"),
        degrees(4, [(123, 1), (23, 1), (334, 10)]),
    ];
    let comment = [b"ASCII\0\0\0".as_slice(), CAMERA_WORDS[3].as_bytes()].concat();
    let details = [
        text(0x9003, "2026:03:02 10:11:12"),
        Tag(0x9286, UNDEFINED, comment.len() as u32, comment),
        text(0xa431, CAMERA_WORDS[1]),
        text(0xa435, CAMERA_WORDS[2]),
    ];
    let main = |details_at, place_at| {
        [
            text(0x010f, CAMERA_WORDS[0]),
            text(0x0110, "HO-7"),
            short(0x0112, 1),
            long(0x8769, details_at),
            long(0x8825, place_at),
        ]
    };
    let small = |at| {
        [
            short(0x0103, 6),
            long(0x0201, at),
            long(0x0202, thumbnail.len()),
        ]
    };
    let main_at = 8;
    let details_at = main_at + length(&main(0, 0));
    let place_at = details_at + length(&details);
    let small_at = place_at + length(&place);
    let thumbnail_at = small_at + length(&small(0));
    let mut out = b"MM\0*\0\0\0\x08".to_vec();
    directory(&mut out, main_at, &main(details_at, place_at), small_at);
    directory(&mut out, details_at, &details, 0);
    directory(&mut out, place_at, &place, 0);
    directory(&mut out, small_at, &small(thumbnail_at), 0);
    out.extend(thumbnail);
    out
}

/// A profile of version 2: the primaries of sRGB at D50 and one curve, a power of 2.2.
fn profile() -> Vec<u8> {
    let name = b"Workshop camera (invented)\0";
    let mut description = b"desc\0\0\0\0".to_vec();
    description.extend((name.len() as u32).to_be_bytes());
    description.extend(name);
    description.extend([0; 4 + 4 + 2 + 1 + 67]);
    let xyz = |values: [i32; 3]| {
        let mut out = b"XYZ \0\0\0\0".to_vec();
        out.extend(values.iter().flat_map(|value| value.to_be_bytes()));
        out
    };
    let curve = b"curv\0\0\0\0\0\0\0\x01\x02\x33".to_vec();
    // In 1/65536, rounded; from memory.
    let tags: [(&[u8; 4], Vec<u8>); 9] = [
        (b"desc", description),
        (b"cprt", b"text\0\0\0\0No copyright is claimed\0".to_vec()),
        (b"wtpt", xyz([63_190, 65_536, 54_061])),
        (b"rXYZ", xyz([28_580, 14_581, 912])),
        (b"gXYZ", xyz([25_238, 46_983, 6_362])),
        (b"bXYZ", xyz([9_376, 3_972, 46_792])),
        (b"rTRC", curve.clone()),
        (b"gTRC", curve.clone()),
        (b"bTRC", curve),
    ];
    let start = 128 + 4 + 12 * tags.len();
    let (mut table, mut data) = ((tags.len() as u32).to_be_bytes().to_vec(), Vec::new());
    for (name, bytes) in &tags {
        table.extend_from_slice(name.as_slice());
        table.extend(((start + data.len()) as u32).to_be_bytes());
        table.extend((bytes.len() as u32).to_be_bytes());
        data.extend(bytes);
        data.resize(data.len().next_multiple_of(4), 0);
    }
    let mut out = ((start + data.len()) as u32).to_be_bytes().to_vec();
    out.extend([0; 4]);
    out.extend([2, 0x40, 0, 0]);
    out.extend(b"mntrRGB XYZ ");
    for part in [2026_u16, 1, 1, 0, 0, 0] {
        out.extend(part.to_be_bytes());
    }
    out.extend(b"acsp");
    out.resize(68, 0);
    for value in [63_190_i32, 65_536, 54_061] {
        out.extend(value.to_be_bytes());
    }
    out.resize(128, 0);
    out.extend(table);
    out.extend(data);
    out
}
