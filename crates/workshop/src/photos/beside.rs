//! What a photo file carries beside its picture.

use tangmark_report::jpeg;

use super::exif_of;

/// What was found beside a picture, in words that follow "carries".
const PLACE: &str = "the place where it was taken";
const SERIAL: &str = "serial numbers or the owner of the camera";
const CAMERA: &str = "camera and time";
const WORDS: &str = "names or comments";
const THUMBNAIL: &str = "a thumbnail";
const OTHER: &str = "other data beside the picture";

/// Says what a photo file carries beside the picture and its colours; nothing where it carries nothing, so that it can be
/// handed over as it is.
///
/// Of a TIFF file, and of one that cannot be read, that is not found out: it counts as carrying something.
pub(crate) fn carries(bytes: &[u8], media_type: &str) -> Vec<&'static str> {
    let bare = match media_type {
        "image/jpeg" => jpeg::copy(bytes).is_ok_and(|copied| !copied.differs()),
        "image/png" => png_is_bare(bytes),
        _ => false,
    };
    if bare {
        return Vec::new();
    }
    let mut found = Vec::new();
    if let Some(exif) = exif_of(bytes) {
        for field in exif.fields() {
            let word = word(field);
            if !found.contains(&word) {
                found.push(word);
            }
        }
    }
    found.retain(|word| *word != OTHER);
    if found.is_empty() {
        found.push(OTHER);
    }
    found.sort_by_key(|word| order(word));
    found
}

/// What a field of Exif tells of. Source: the names of tags in Exif 2.32 (from memory).
fn word(field: &exif::Field) -> &'static str {
    use exif::{Context, In, Tag};
    if field.ifd_num == In::THUMBNAIL {
        return THUMBNAIL;
    }
    match field.tag {
        tag if tag.context() == Context::Gps => PLACE,
        Tag::BodySerialNumber
        | Tag::LensSerialNumber
        | Tag::CameraOwnerName
        | Tag::ImageUniqueID
        | Tag::MakerNote => SERIAL,
        Tag::Make
        | Tag::Model
        | Tag::LensMake
        | Tag::LensModel
        | Tag::DateTime
        | Tag::DateTimeOriginal
        | Tag::DateTimeDigitized => CAMERA,
        Tag::UserComment | Tag::ImageDescription | Tag::Artist | Tag::Copyright | Tag::Software => {
            WORDS
        }
        _ => OTHER,
    }
}

fn order(word: &str) -> usize {
    let words = [PLACE, SERIAL, CAMERA, WORDS, THUMBNAIL, OTHER];
    words.iter().position(|other| *other == word).unwrap_or(0)
}

/// Whether a PNG file has no chunk of words, time, Exif or a maker's own. Source: PNG (ISO/IEC 15948:2004), 5.3 and 11.3
/// (from memory).
fn png_is_bare(bytes: &[u8]) -> bool {
    /// Chunks of the picture and its colours.
    const PICTURE: [&[u8]; 14] = [
        b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS", b"cHRM", b"gAMA", b"iCCP", b"sBIT", b"sRGB",
        b"bKGD", b"hIST", b"pHYs", b"sPLT",
    ];
    let mut at = 8;
    loop {
        let Some(header) = bytes.get(at..at + 8) else {
            return false;
        };
        let (length, kind) = header.split_at(4);
        if !PICTURE.contains(&kind) {
            return false;
        }
        let length = length
            .iter()
            .fold(0_usize, |sum, byte| sum << 8 | usize::from(*byte));
        at += 12 + length;
        if kind == b"IEND" {
            return at == bytes.len();
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn a_png_file_is_bare_without_words() {
        let chunk = |kind: &[u8; 4], data: &[u8]| {
            let length = u32::try_from(data.len()).unwrap().to_be_bytes();
            [&length[..], kind, data, &[0; 4]].concat()
        };
        let start = b"\x89PNG\r\n\x1a\n".to_vec();
        let bare = [
            start.clone(),
            chunk(b"IHDR", &[0; 13]),
            chunk(b"IDAT", b"x"),
            chunk(b"IEND", b""),
        ]
        .concat();
        assert_eq!(carries(&bare, "image/png"), [""; 0]);
        let worded = [
            start,
            chunk(b"IHDR", &[0; 13]),
            chunk(b"tEXt", b"Author\0A. Polisher"),
            chunk(b"IDAT", b"x"),
            chunk(b"IEND", b""),
        ]
        .concat();
        assert_eq!(carries(&worded, "image/png"), [OTHER]);
        let tailed = [bare.as_slice(), b"GPS"].concat();
        assert_eq!(carries(&tailed, "image/png"), [OTHER]);
        assert_eq!(carries(&bare[..20], "image/png"), [OTHER]);
        assert_eq!(carries(b"II*\0", "image/tiff"), [OTHER]);
    }
}
