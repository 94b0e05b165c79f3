//! What kind of file a photo is, and what to do with kinds that cannot be used.

use std::path::Path;

use super::exif_of;

/// A kind of file that can be used.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Format {
    /// Taken as it is.
    Jpeg,
    /// Made into a JPEG file.
    Convert(Convertible),
}

/// Kinds that a JPEG file is made from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Convertible {
    /// Portable Network Graphics.
    Png,
    /// Tagged Image File Format.
    Tiff,
}

impl Convertible {
    pub(super) const fn name(self) -> &'static str {
        match self {
            Self::Png => "PNG",
            Self::Tiff => "TIFF",
        }
    }

    pub(super) const fn media_type(self) -> &'static str {
        match self {
            Self::Png => "image/png",
            Self::Tiff => "image/tiff",
        }
    }
}

/// Endings of raw files that begin like TIFF.
const RAW_ENDINGS: [&str; 12] = [
    "3fr", "arw", "cr2", "dng", "erf", "iiq", "kdc", "mef", "nef", "nrw", "pef", "srw",
];

/// Tells the kind from the first bytes; the error says what the file is, what is allowed and what to do.
///
/// Source: the signatures of each format (from memory).
pub(super) fn tell(bytes: &[u8], name: &str) -> Result<Format, String> {
    let raw = "export it from the camera's program as JPEG, or as 16-bit TIFF";
    let refused = |what: &str, hint: &str| {
        Err(format!(
            "is {what}; JPEG, PNG and TIFF files are allowed; {hint}"
        ))
    };
    match bytes {
        [0xff, 0xd8, 0xff, ..] => Ok(Format::Jpeg),
        [0x89, b'P', b'N', b'G', b'\r', b'\n', 0x1a, b'\n', ..] => {
            Ok(Format::Convert(Convertible::Png))
        }
        [b'I', b'I', b'*', 0, ..] | [b'M', b'M', 0, b'*', ..] => {
            if is_raw(bytes, name) {
                refused("a raw file", raw)
            } else {
                Ok(Format::Convert(Convertible::Tiff))
            }
        }
        [b'I', b'I', b'+', 0, ..] | [b'M', b'M', 0, b'+', ..] => refused(
            "a BigTIFF file",
            "save it as an ordinary TIFF file, or as JPEG",
        ),
        [b'I', b'I', b'R', b'O' | b'S', ..]
        | [b'M', b'M', b'O', b'R', ..]
        | [b'I', b'I', b'U', 0, ..]
        | [b'F', b'U', b'J', b'I', b'F', b'I', b'L', b'M', ..] => refused("a raw file", raw),
        [_, _, _, _, b'f', b't', b'y', b'p', brand @ ..] => match brand.get(..4) {
            Some(b"avif" | b"avis") => refused("an AVIF file", "export it as JPEG of high quality"),
            Some(b"heic" | b"heix" | b"heim" | b"heis" | b"hevc" | b"mif1" | b"msf1") => refused(
                "an HEIC file",
                "export it as JPEG of high quality, or set the phone to take JPEG (\"most compatible\")",
            ),
            Some(b"crx ") => refused("a raw file", raw),
            _ => refused(
                "a film, no photo",
                "take a photo, or export one frame as JPEG",
            ),
        },
        [
            b'R',
            b'I',
            b'F',
            b'F',
            _,
            _,
            _,
            _,
            b'W',
            b'E',
            b'B',
            b'P',
            ..,
        ] => refused("a WebP file", "save the original as JPEG or PNG"),
        [b'G', b'I', b'F', b'8', ..] => refused("a GIF file", "save the original as JPEG or PNG"),
        [b'B', b'M', ..] => refused("a BMP file", "save it as PNG"),
        [0xff, 0x0a, ..] | [0, 0, 0, 0x0c, b'J', b'X', b'L', b' ', ..] => {
            refused("a JPEG XL file", "export it as JPEG of high quality")
        }
        [0, 0, 0, 0x0c, b'j', b'P', b' ', b' ', ..] | [0xff, 0x4f, 0xff, 0x51, ..] => {
            refused("a JPEG 2000 file", "save it as TIFF or PNG")
        }
        [b'%', b'P', b'D', b'F', ..] => refused("a PDF file", "export the photo itself as JPEG"),
        [] => refused("an empty file", "copy the photo from the camera again"),
        _ => refused(
            "no picture of a known kind",
            "export the photo as JPEG of high quality",
        ),
    }
}

/// Tells whether a file that begins like TIFF is a camera's raw file: decoded as TIFF it would show its small preview.
///
/// Source: tags NewSubfileType (TIFF 6.0), SubIFDs (TIFF Technical Note 1) and DNGVersion (DNG 1.4); from memory.
fn is_raw(bytes: &[u8], name: &str) -> bool {
    let ending = Path::new(name)
        .extension()
        .and_then(|ending| ending.to_str());
    if ending.is_some_and(|ending| {
        RAW_ENDINGS
            .iter()
            .any(|raw| ending.eq_ignore_ascii_case(raw))
    }) {
        return true;
    }
    if bytes.get(8..10) == Some(b"CR") {
        return true;
    }
    exif_of(bytes).is_some_and(|exif| {
        let first =
            |number| exif.get_field(exif::Tag(exif::Context::Tiff, number), exif::In::PRIMARY);
        let reduced = first(0x00fe)
            .and_then(|field| field.value.get_uint(0))
            .is_some_and(|kind| kind & 1 == 1);
        reduced || first(0xc612).is_some()
    })
}
