//! Photo files that sheets name: what they are, and the copies that reports show in their place.

mod beside;
mod compare;
mod convert;
mod format;

use std::fs::File;
use std::io::{self, Read as _};
use std::path::{Path, PathBuf};

use tangmark_core::Digest;
use tangmark_core::record::{Derivative, Photo, PhotoFile, Sheet};
use tangmark_report::jpeg;

pub(crate) use beside::carries;
pub use compare::{ComparedPhoto, LikeWhich, PhotoVerdict};
use format::Format;

/// Largest photo file, in bytes.
pub(crate) const LARGEST: u64 = 256 * 1024 * 1024;

/// A photo file that a sheet names.
#[derive(Clone, Debug)]
pub(crate) struct FoundPhoto {
    pub(crate) facts: PhotoFile,
    pub(crate) file_name: String,
    pub(crate) bytes: Vec<u8>,
    /// What reports show in its place; none where they can show the file itself.
    pub(crate) made: Option<Made>,
    /// What a person should know, without the name of the photo.
    pub(crate) remarks: Vec<String>,
}

/// A file made from a photo.
#[derive(Clone, Debug)]
pub(crate) struct Made {
    pub(crate) listed: Derivative,
    pub(crate) bytes: Vec<u8>,
}

/// A file as far as it was read.
enum Bounded {
    Whole(Vec<u8>),
    /// Length in bytes; of what has none, such as a pipe, how much was read.
    TooLarge(u64),
}

/// Reads a file of at most [`LARGEST`] bytes.
fn bounded(path: &Path) -> io::Result<Bounded> {
    let file = File::open(path)?;
    let length = file.metadata()?.len();
    if length > LARGEST {
        return Ok(Bounded::TooLarge(length));
    }
    let mut bytes = Vec::new();
    file.take(LARGEST + 1).read_to_end(&mut bytes)?;
    let read = bytes.len() as u64;
    Ok(if read > LARGEST {
        Bounded::TooLarge(read)
    } else {
        Bounded::Whole(bytes)
    })
}

/// Reads a photo file and describes it; the error is the sentence a person reads.
pub(crate) fn read(folder: &Path, name: &str) -> Result<FoundPhoto, String> {
    let path: PathBuf = folder.join(name);
    let bytes = match bounded(&path) {
        Ok(Bounded::Whole(bytes)) => bytes,
        Ok(Bounded::TooLarge(length)) => {
            return Err(format!(
                "`{name}` has {length} bytes, at most {LARGEST} bytes are allowed"
            ));
        }
        Err(error) => return Err(format!("`{name}` cannot be read: {error}")),
    };
    let file_name = Path::new(name)
        .file_name()
        .map(|name| name.to_string_lossy().into_owned())
        .unwrap_or_default();
    FoundPhoto::of(file_name, bytes).map_err(|what| format!("`{name}`: {what}"))
}

impl FoundPhoto {
    /// Describes a photo file and makes what reports show in its place.
    pub(crate) fn of(file_name: String, bytes: Vec<u8>) -> Result<Self, String> {
        let exif = exif_of(&bytes);
        let orientation = exif.as_ref().and_then(orientation);
        let (media_type, size, made, said) = match format::tell(&bytes, &file_name)? {
            Format::Jpeg => {
                let copied =
                    jpeg::copy(&bytes).map_err(|error| format!("{error}; {}", error.hint()))?;
                let size = [copied.header.width.into(), copied.header.height.into()];
                let made = copied
                    .differs()
                    .then(|| (copied.bytes.to_vec(), copied.transform()));
                (
                    "image/jpeg",
                    size,
                    made,
                    copied.profile_left_out.map(|it| it.to_string()),
                )
            }
            Format::Convert(kind) => {
                let converted = convert::convert(&bytes, kind, exif.as_ref())?;
                let made = (converted.bytes, converted.transform);
                (
                    kind.media_type(),
                    converted.size,
                    Some(made),
                    converted.profile_left_out,
                )
            }
        };
        let facts = facts(&bytes, media_type, size, orientation);
        let made = made.map(|(bytes, transform)| Made {
            listed: Derivative {
                file: self::facts(&bytes, "image/jpeg", size, orientation),
                transform,
            },
            bytes,
        });
        let mut remarks = Vec::new();
        if exif.as_ref().is_some_and(names_a_place) {
            remarks.push(
                "carries the place where it was taken; reports show a copy without it, the file itself stays in the \
                 workshop as it is"
                    .to_owned(),
            );
        }
        if let Some(fault) = said {
            remarks.push(format!("its colour profile {fault}; it is shown as sRGB"));
        } else if exif.as_ref().is_some_and(is_wide_without_profile)
            && !has_profile(made.as_ref(), &bytes)
        {
            remarks.push(
                "the camera says that its colours are not sRGB, and there is no colour profile; it is shown as sRGB and \
                 may look dull. Save it with its profile, or as sRGB"
                    .to_owned(),
            );
        }
        Ok(Self {
            facts,
            file_name,
            bytes,
            made,
            remarks,
        })
    }
}

fn facts(
    bytes: &[u8],
    media_type: &str,
    [width_px, height_px]: [u32; 2],
    orientation: Option<u8>,
) -> PhotoFile {
    PhotoFile {
        digest: Digest::of(bytes),
        length: bytes.len() as u64,
        media_type: media_type.to_owned(),
        width_px,
        height_px,
        orientation,
    }
}

/// Whether what reports show has a colour profile.
fn has_profile(made: Option<&Made>, bytes: &[u8]) -> bool {
    let shown = made.map_or(bytes, |made| &made.bytes);
    jpeg::copy(shown).is_ok_and(|copied| copied.profile.is_some())
}

/// Lists in a sheet what was made from its photos. A private photo for which the sheet itself names something to show
/// gets nothing more: that may show less than the whole picture, and mean to.
pub(crate) fn list_made<'a>(sheet: &mut Sheet, made: impl Fn(&Digest) -> Option<&'a Made>) {
    for photo in &mut sheet.photos {
        let Some(made) = photo
            .original
            .as_ref()
            .and_then(|original| made(&original.digest))
        else {
            continue;
        };
        if wants(photo, made) {
            photo.derivatives.push(made.listed.clone());
        }
    }
}

fn wants(photo: &Photo, made: &Made) -> bool {
    let listed = photo
        .derivatives
        .iter()
        .any(|derivative| derivative.file.digest == made.listed.file.digest);
    !listed && (!photo.original_kept_private || photo.derivatives.is_empty())
}

fn exif_of(bytes: &[u8]) -> Option<exif::Exif> {
    exif::Reader::new()
        .read_from_container(&mut std::io::Cursor::new(bytes))
        .ok()
}

/// Tells whether a photo carries the place where it was taken.
fn names_a_place(exif: &exif::Exif) -> bool {
    exif.fields()
        .any(|field| field.tag.context() == exif::Context::Gps)
}

/// Tells whether the camera wrote colours wider than sRGB without a profile: colour space "uncalibrated" and the
/// interoperability index R03.
///
/// Source: CIPA DC-010 (DCF 2.0) and Exif tags A001 and 0001 (from memory).
fn is_wide_without_profile(exif: &exif::Exif) -> bool {
    let value = |tag| exif.get_field(tag, exif::In::PRIMARY);
    let uncalibrated = value(exif::Tag::ColorSpace)
        .and_then(|field| field.value.get_uint(0))
        .is_some_and(|space| space == 0xffff);
    let wide = value(exif::Tag::InteroperabilityIndex).is_some_and(|field| {
        matches!(&field.value, exif::Value::Ascii(texts) if texts.iter().any(|text| text.starts_with(b"R03")))
    });
    uncalibrated && wide
}

fn orientation(exif: &exif::Exif) -> Option<u8> {
    let field = exif.get_field(exif::Tag::Orientation, exif::In::PRIMARY)?;
    u8::try_from(field.value.get_uint(0)?)
        .ok()
        .filter(|value| (1..=8).contains(value))
}

#[cfg(test)]
mod tests;
