//! Facts of photo files.

use std::fs;
use std::path::{Path, PathBuf};

use tangmark_core::Digest;
use tangmark_core::record::PhotoFile;
use tangmark_report::jpeg;

/// Largest photo file, in bytes.
const LARGEST: u64 = 256 * 1024 * 1024;

/// A photo file that a sheet names.
#[derive(Clone, Debug)]
pub(crate) struct FoundPhoto {
    pub(crate) facts: PhotoFile,
    pub(crate) file_name: String,
    pub(crate) bytes: Vec<u8>,
}

/// Reads a JPEG file and describes it; the error is the sentence a person reads.
pub(crate) fn read(folder: &Path, name: &str) -> Result<FoundPhoto, String> {
    let path: PathBuf = folder.join(name);
    let length = fs::metadata(&path)
        .map_err(|error| format!("`{name}` cannot be read: {error}"))?
        .len();
    if length > LARGEST {
        return Err(format!(
            "`{name}` has {length} bytes, at most {LARGEST} bytes are allowed"
        ));
    }
    let bytes = fs::read(&path).map_err(|error| format!("`{name}` cannot be read: {error}"))?;
    let file_name = Path::new(name)
        .file_name()
        .map(|name| name.to_string_lossy().into_owned())
        .unwrap_or_default();
    describe(&bytes)
        .map(|facts| FoundPhoto {
            facts,
            file_name,
            bytes,
        })
        .map_err(|what| format!("`{name}`: {what}"))
}

/// Describes a JPEG file.
pub(crate) fn describe(bytes: &[u8]) -> Result<PhotoFile, String> {
    let header = jpeg::header(bytes).map_err(|error| format!("{error}; {}", error.hint()))?;
    Ok(PhotoFile {
        digest: Digest::of(bytes),
        length: bytes.len() as u64,
        media_type: "image/jpeg".to_owned(),
        width_px: header.width.into(),
        height_px: header.height.into(),
        orientation: exif_of(bytes).as_ref().and_then(orientation),
    })
}

/// Tells whether a photo carries the place where it was taken.
pub(crate) fn names_a_place(bytes: &[u8]) -> bool {
    exif_of(bytes).is_some_and(|exif| {
        exif.fields()
            .any(|field| field.tag.context() == exif::Context::Gps)
    })
}

fn exif_of(bytes: &[u8]) -> Option<exif::Exif> {
    exif::Reader::new()
        .read_from_container(&mut std::io::Cursor::new(bytes))
        .ok()
}

fn orientation(exif: &exif::Exif) -> Option<u8> {
    let field = exif.get_field(exif::Tag::Orientation, exif::In::PRIMARY)?;
    u8::try_from(field.value.get_uint(0)?)
        .ok()
        .filter(|value| (1..=8).contains(value))
}
