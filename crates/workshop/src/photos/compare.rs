//! A photo file beside the photos a record names: which one it is, and how it differs.

use std::borrow::Cow;
use std::fmt;
use std::path::Path;

use tangmark_core::Digest;
use tangmark_core::record::{Key, Photo, Record};
use tangmark_report::jpeg;
use tangmark_store::Store as _;
use zune_jpeg::JpegDecoder;
use zune_jpeg::zune_core::bytestream::ZCursor;

use super::{Bounded, bounded, exif_of, orientation};
use crate::{Workshop, WorkshopError};

/// A photo file beside the photos of a sealed record.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ComparedPhoto {
    /// Number of the record in the blade's chain.
    pub sequence: u64,
    /// Record.
    pub record: Digest,
    /// The photo the file was compared with; none where no photo was named and none is like the file.
    pub photo: Option<Key>,
    /// Photos that the record names.
    pub photos: usize,
    /// What the file is; none where the record names no photo.
    pub verdict: Option<PhotoVerdict>,
}

impl Workshop {
    /// Compares a file with one photo of a sealed record, or with all and tells the one it is like most, with the files
    /// of the workshop beside them.
    ///
    /// # Errors
    /// When there is no such record, it names no such photo, or the file cannot be read or has more than 256 MiB.
    pub fn compare_photo(
        &self,
        blade: &str,
        sequence: Option<u32>,
        key: Option<&str>,
        file: &Path,
    ) -> Result<ComparedPhoto, WorkshopError> {
        let kept = self.pick(blade, sequence)?;
        let photos = &kept.record.photos;
        let asked: Vec<&Photo> = photos
            .iter()
            .filter(|photo| key.is_none_or(|key| photo.id.as_str() == key))
            .collect();
        if let (Some(key), true) = (key, asked.is_empty()) {
            return Err(WorkshopError::NoPhoto {
                key: key.to_owned(),
                known: photos.iter().map(|photo| photo.id.to_string()).collect(),
            });
        }
        let read = bounded(file).map_err(|error| WorkshopError::file("read", file, error))?;
        let bytes = match read {
            Bounded::Whole(bytes) => bytes,
            Bounded::TooLarge(length) => {
                return Err(WorkshopError::PhotoTooLarge {
                    path: file.to_owned(),
                    length,
                });
            }
        };
        let at_hand = |digest: &Digest| self.store().object(digest).ok().map(Cow::Owned);
        let closest = asked
            .into_iter()
            .map(|photo| (photo, compare(&kept.record, photo, &bytes, &at_hand)))
            .min_by_key(|(_, verdict)| verdict.distance());
        let (photo, verdict) = closest.unzip();
        let like = key.is_some() || verdict.as_ref().is_some_and(PhotoVerdict::is_like);
        Ok(ComparedPhoto {
            sequence: kept.row.sequence,
            record: kept.row.name,
            photo: photo.filter(|_| like).map(|photo| photo.id.clone()),
            photos: photos.len(),
            verdict,
        })
    }
}

/// Which file of a listed photo was found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LikeWhich {
    /// The original.
    Original,
    /// A file made from it.
    Made,
}

/// What a file is, beside a photo that a record names.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum PhotoVerdict {
    /// The record names these bytes for this photo.
    Same(LikeWhich),
    /// The record names these bytes, but for other photos.
    OfAnother(Vec<Key>),
    /// The coded picture is the same; the orientation beside it is another.
    Turned {
        /// Orientation of the file, 1 where it says none.
        found: u8,
        /// Orientation in the record, 1 where it says none.
        named: u8,
    },
    /// The coded picture is the same; what stands beside it in the file is not.
    OtherMetadata,
    /// The coded picture and the orientation are the same; the colour profile or the density (JFIF segment) is not.
    OtherProfile,
    /// The decoded pixels are the same; they were coded anew.
    CodedAnew,
    /// Another picture, or the same one saved again with a loss; the sizes in pixels where they differ.
    Other {
        /// Columns and rows of the file.
        found: [u32; 2],
        /// Columns and rows in the record.
        named: [u32; 2],
    },
    /// The file is no JPEG file that can be looked into.
    Unreadable(String),
}

impl PhotoVerdict {
    /// Whether the file is the one that the record names.
    pub const fn is_same(&self) -> bool {
        matches!(self, Self::Same(_))
    }

    /// Returns a word for programs.
    pub const fn word(&self) -> &'static str {
        match self {
            Self::Same(LikeWhich::Original) => "original",
            Self::Same(LikeWhich::Made) => "copy",
            Self::OfAnother(_) => "of_another",
            Self::Turned { .. } => "turned",
            Self::OtherMetadata => "other_metadata",
            Self::OtherProfile => "other_profile",
            Self::CodedAnew => "coded_anew",
            Self::Other { .. } => "other",
            Self::Unreadable(_) => "unreadable",
        }
    }

    /// Whether the file shows the photo it was compared with.
    const fn is_like(&self) -> bool {
        self.distance() < Self::UNLIKE
    }

    /// How far the file is from the photo it was compared with, only to choose the closest of several.
    const fn distance(&self) -> u8 {
        match self {
            Self::Same(_) => 0,
            Self::OtherMetadata => 1,
            Self::Turned { .. } => 2,
            Self::OtherProfile => 3,
            Self::CodedAnew => 4,
            Self::OfAnother(_) | Self::Other { .. } | Self::Unreadable(_) => Self::UNLIKE,
        }
    }

    /// The distance of another picture.
    const UNLIKE: u8 = 5;
}

impl fmt::Display for PhotoVerdict {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Same(LikeWhich::Original) => f.write_str("is the original that the record names"),
            Self::Same(LikeWhich::Made) => {
                f.write_str("is the copy made from the original that the record names")
            }
            Self::OfAnother(keys) => {
                let keys: Vec<String> = keys.iter().map(|key| format!("`{key}`")).collect();
                write!(
                    f,
                    "is the file of {}, which the record also names: the files are swapped",
                    keys.join(", ")
                )
            }
            Self::Turned { found, named } => write!(
                f,
                "has the same picture data, but orientation {found} where the record says {named}: it was turned after sealing"
            ),
            Self::OtherMetadata => f.write_str(
                "has the same picture data and orientation, but other data beside them (place, camera, comments): those \
                 were changed after sealing",
            ),
            Self::OtherProfile => f.write_str(
                "has the same picture data and orientation, but another colour profile or density: those were changed after \
                 sealing",
            ),
            Self::CodedAnew => f.write_str(
                "has the same pixels, but they were coded anew: it was saved again after sealing",
            ),
            Self::Other { found, named } if found == named => f.write_str(
                "holds picture data that no file of this photo at hand has: it is another picture, or was saved again with a \
                 loss",
            ),
            Self::Other {
                found: [width, height],
                named: [named_width, named_height],
            } => write!(
                f,
                "is {width} × {height} pixels where the record says {named_width} × {named_height}: it is another picture, \
                 or was cut or made smaller"
            ),
            Self::Unreadable(why) => write!(f, "is not the file that the record names, and {why}"),
        }
    }
}

/// Compares a file with a photo that a record names. `kept` finds a file that is at hand by its digest: with the original
/// or its copy there, pixels can be compared too.
pub(crate) fn compare<'a>(
    record: &Record,
    photo: &Photo,
    bytes: &[u8],
    kept: &dyn Fn(&Digest) -> Option<Cow<'a, [u8]>>,
) -> PhotoVerdict {
    let digest = Digest::of(bytes);
    if let Some(which) = which(photo, &digest) {
        return PhotoVerdict::Same(which);
    }
    let others: Vec<Key> = record
        .photos
        .iter()
        .filter(|other| other.id != photo.id && which(other, &digest).is_some())
        .map(|other| other.id.clone())
        .collect();
    if !others.is_empty() {
        return PhotoVerdict::OfAnother(others);
    }
    let copied = match jpeg::copy(bytes) {
        Ok(copied) => copied,
        Err(error) => return PhotoVerdict::Unreadable(error.to_string()),
    };
    let files = || {
        photo
            .derivatives
            .iter()
            .map(|made| &made.file)
            .chain(photo.original.as_ref())
    };
    let copy = Digest::of(&copied.bytes);
    let at_hand: Vec<_> = files().filter_map(|file| kept(&file.digest)).collect();
    // The copy of the original is listed, or can be made again from the original.
    let same_copy = files().any(|file| file.digest == copy)
        || at_hand
            .iter()
            .any(|file| jpeg::copy(file).is_ok_and(|other| other.bytes == copied.bytes));
    let same_picture = || {
        let Ok(picture) = copied.picture() else {
            return false;
        };
        let mut others = at_hand.iter().filter_map(|file| jpeg::copy(file).ok());
        others.any(|other| other.picture().is_ok_and(|other| other == picture))
    };
    if same_copy || same_picture() {
        let found = exif_of(bytes).as_ref().and_then(orientation).unwrap_or(1);
        let named = files().find_map(|file| file.orientation).unwrap_or(1);
        return match (found == named, same_copy) {
            (false, _) => PhotoVerdict::Turned { found, named },
            (true, true) => PhotoVerdict::OtherMetadata,
            (true, false) => PhotoVerdict::OtherProfile,
        };
    }
    if at_hand.iter().any(|file| same_pixels(file, bytes)) {
        return PhotoVerdict::CodedAnew;
    }
    let found = [copied.header.width.into(), copied.header.height.into()];
    let named = files()
        .next()
        .map_or([0, 0], |file| [file.width_px, file.height_px]);
    PhotoVerdict::Other { found, named }
}

fn which(photo: &Photo, digest: &Digest) -> Option<LikeWhich> {
    if photo
        .original
        .as_ref()
        .is_some_and(|file| file.digest == *digest)
    {
        return Some(LikeWhich::Original);
    }
    photo
        .derivatives
        .iter()
        .any(|made| made.file.digest == *digest)
        .then_some(LikeWhich::Made)
}

/// Whether two JPEG files decode to the same samples.
fn same_pixels(first: &[u8], second: &[u8]) -> bool {
    let decode = |bytes: &[u8]| {
        let header = jpeg::header(bytes).ok()?;
        let samples = JpegDecoder::new(ZCursor::new(bytes)).decode().ok()?;
        Some((header, samples))
    };
    // Headers first: decoding is dear.
    match (jpeg::header(first), jpeg::header(second)) {
        (Ok(one), Ok(other)) if one == other => {
            decode(first).is_some_and(|one| decode(second).is_some_and(|other| one == other))
        }
        _ => false,
    }
}
