//! Which photo files go into a package.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;
use tangmark_core::Digest;
use tangmark_core::record::{Photo, PhotoFile, Record};
use tangmark_package::write::{Content, Source};
use tangmark_store::{ObjectKind, Store as _};

use super::private::Private;
use crate::{Workshop, WorkshopError, photos};

/// Which files of the photos go in. Originals that a record keeps private never do.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum PhotoWish {
    /// The original where it carries nothing beside the picture, else the copy that the record names and that carries
    /// nothing.
    #[default]
    Careful,
    /// The originals, whatever they carry.
    Originals,
    /// The copies; the original only where it is its own copy.
    Copies,
    /// No photos.
    None,
}

/// Which file of a photo it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum PhotoPart {
    /// As the camera wrote it.
    Original,
    /// Made from it.
    Copy,
}

/// A photo file that goes in.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PackedPhoto {
    /// Key of the photo.
    pub photo: String,
    /// Path in the bag.
    pub file: String,
    /// Which file it is.
    pub part: PhotoPart,
    /// What it carries beside the picture.
    pub carries: Vec<&'static str>,
    /// What the original carries that this copy stands for.
    pub instead_of: Vec<&'static str>,
}

/// A photo of which a file or every file stays out.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PhotoLeftOut {
    /// Key of the photo.
    pub photo: String,
    /// Why.
    pub why: String,
}

/// What became of the photos of all records.
#[derive(Debug, Default)]
pub(super) struct Chosen {
    pub(super) packed: Vec<PackedPhoto>,
    pub(super) left_out: Vec<PhotoLeftOut>,
}

/// Adds the photo files of all records. `private` holds the originals that any record keeps back.
pub(super) fn add<'r>(
    workshop: &Workshop,
    records: impl Iterator<Item = &'r Record>,
    private: &Private,
    wish: PhotoWish,
    content: &mut Content,
) -> Result<Chosen, WorkshopError> {
    let mut chosen = Chosen::default();
    // Every file is looked into once, however many records name it.
    let mut looked: BTreeMap<Digest, Vec<&'static str>> = BTreeMap::new();
    let mut done: BTreeSet<(Vec<Digest>, bool)> = BTreeSet::new();
    for photo in records.flat_map(|record| &record.photos) {
        let named = files(photo).map(|file| file.digest).collect();
        if !done.insert((named, photo.original_kept_private)) {
            continue;
        }
        let mut pick = Pick {
            workshop,
            private,
            looked: &mut looked,
            left_out: &mut chosen.left_out,
        };
        match pick.files(photo, wish)? {
            Ok(files) => {
                for (file, part, instead_of) in files {
                    let carries = looked.get(&file.digest).cloned().unwrap_or_default();
                    add_one(workshop, photo, file, part, carries, instead_of, content)
                        .map(|packed| chosen.packed.extend(packed))?;
                }
            }
            Err(why) => chosen.left_out.push(PhotoLeftOut {
                photo: photo.id.to_string(),
                why,
            }),
        }
    }
    Ok(chosen)
}

/// Every file that a record names for a photo.
fn files(photo: &Photo) -> impl Iterator<Item = &PhotoFile> {
    let copies = photo.derivatives.iter().map(|made| &made.file);
    photo.original.iter().chain(copies)
}

fn add_one(
    workshop: &Workshop,
    photo: &Photo,
    file: &PhotoFile,
    part: PhotoPart,
    carries: Vec<&'static str>,
    instead_of: Vec<&'static str>,
    content: &mut Content,
) -> Result<Option<PackedPhoto>, WorkshopError> {
    let path = format!("data/photos/{}.{}", file.digest, ending(&file.media_type));
    if content.files().any(|(there, _)| there == path) {
        return Ok(None);
    }
    let source = Source::File {
        path: workshop.store().object_path(&file.digest),
        length: file.length,
        digest: file.digest,
    };
    content.add(path.clone(), source)?;
    Ok(Some(PackedPhoto {
        photo: photo.id.to_string(),
        file: path,
        part,
        carries,
        instead_of,
    }))
}

/// The ending of a photo's file name.
pub(crate) fn ending(media_type: &str) -> &'static str {
    match media_type {
        "image/png" => "png",
        "image/tiff" => "tif",
        _ => "jpg",
    }
}

struct Pick<'a> {
    workshop: &'a Workshop,
    private: &'a Private,
    looked: &'a mut BTreeMap<Digest, Vec<&'static str>>,
    left_out: &'a mut Vec<PhotoLeftOut>,
}

/// A file, which one it is, and what the original carries that it stands for.
type Picked<'p> = (&'p PhotoFile, PhotoPart, Vec<&'static str>);

impl Pick<'_> {
    /// The files of a photo that go in, or why none does.
    fn files<'p>(
        &mut self,
        photo: &'p Photo,
        wish: PhotoWish,
    ) -> Result<Result<Vec<Picked<'p>>, String>, WorkshopError> {
        if wish == PhotoWish::None {
            return Ok(Err("left out on request".to_owned()));
        }
        let mut copies = Vec::new();
        for made in &photo.derivatives {
            if !self.is_here(&made.file)? || self.private.holds(&made.file.digest) {
                continue;
            }
            let original = photo.original.as_ref().map(|original| original.digest);
            if original.is_some_and(|it| !self.private.lets_go(&it, &made.file.digest)) {
                self.left_out.push(PhotoLeftOut {
                    photo: photo.id.to_string(),
                    why: "a copy from before the original was kept private stays out".to_owned(),
                });
                continue;
            }
            let carries = self.look(&made.file)?;
            if wish == PhotoWish::Careful && !carries.is_empty() {
                self.left_out.push(PhotoLeftOut {
                    photo: photo.id.to_string(),
                    why: format!("a copy carries {}, and stays out", carries.join(", ")),
                });
                continue;
            }
            copies.push((&made.file, PhotoPart::Copy, Vec::new()));
        }
        let original = match &photo.original {
            Some(original)
                if !photo.original_kept_private && !self.private.holds(&original.digest) =>
            {
                self.is_here(original)?.then_some(original)
            }
            Some(_) | None => {
                return Ok(if copies.is_empty() {
                    Err(
                        "the original is kept private, and there is no copy to hand over"
                            .to_owned(),
                    )
                } else {
                    Ok(copies)
                });
            }
        };
        let Some(original) = original else {
            if wish == PhotoWish::Originals && !copies.is_empty() {
                self.left_out.push(PhotoLeftOut {
                    photo: photo.id.to_string(),
                    why: "the original is not kept here, its copy goes in".to_owned(),
                });
            }
            return Ok(if copies.is_empty() {
                Err("the file is not kept here".to_owned())
            } else {
                Ok(copies)
            });
        };
        let carries = self.look(original)?;
        let whole = vec![(original, PhotoPart::Original, Vec::new())];
        Ok(match wish {
            PhotoWish::Originals => Ok(whole),
            PhotoWish::Copies if !copies.is_empty() => Ok(copies),
            _ if carries.is_empty() => Ok(whole),
            _ if copies.is_empty() => Err(format!(
                "the original carries {}, and there is no copy to hand over",
                carries.join(", ")
            )),
            _ => {
                for (_, _, instead_of) in &mut copies {
                    instead_of.clone_from(&carries);
                }
                Ok(copies)
            }
        })
    }

    /// Whether the file is kept here as a photo: a record may name the digest of something else.
    fn is_here(&self, file: &PhotoFile) -> Result<bool, WorkshopError> {
        let row = self.workshop.store().object_row(&file.digest)?;
        Ok(row.is_some_and(|row| row.kind == ObjectKind::Photo))
    }

    fn look(&mut self, file: &PhotoFile) -> Result<Vec<&'static str>, WorkshopError> {
        if let Some(known) = self.looked.get(&file.digest) {
            return Ok(known.clone());
        }
        let bytes = self.workshop.store().object(&file.digest)?;
        let found = photos::carries(&bytes, &file.media_type);
        self.looked.insert(file.digest, found.clone());
        Ok(found)
    }
}
