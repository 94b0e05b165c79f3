//! Photos: what records name, and what is here.

use std::collections::{BTreeMap, BTreeSet};

use tangmark_core::Digest;
use tangmark_core::record::{Photo, PhotoFile};

use super::header;
use super::verdict::{PhotoDifference, PhotoState, PhotoVerdict};
use crate::open::{Package, ReadError};

/// Pixels and orientation.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Facts {
    pub(super) width: u32,
    pub(super) height: u32,
    pub(super) orientation: Option<u8>,
}

/// What records say of a digest.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Named {
    /// Named as an original.
    original: bool,
    /// NN of the record.
    number: u64,
    facts: Facts,
}

/// All digests that records name, in whatever order the records are read.
#[derive(Debug, Default)]
pub(super) struct NamedPhotos(BTreeMap<Digest, Named>);

impl NamedPhotos {
    /// Adds what a record names. Where several name one digest, an original goes before a copy, then the first record.
    pub(super) fn add(&mut self, number: u64, photos: &[Photo]) {
        for photo in photos {
            if let Some(original) = &photo.original {
                self.add_one(original, number, true);
            }
            for derivative in &photo.derivatives {
                self.add_one(&derivative.file, number, false);
            }
        }
    }

    fn add_one(&mut self, file: &PhotoFile, number: u64, original: bool) {
        let named = Named {
            original,
            number,
            facts: Facts {
                width: file.width_px,
                height: file.height_px,
                orientation: file.orientation,
            },
        };
        let known = self.0.entry(file.digest).or_insert(named);
        if (named.original, std::cmp::Reverse(named.number))
            > (known.original, std::cmp::Reverse(known.number))
        {
            *known = named;
        }
    }

    /// Digests of which no photo is here.
    pub(super) fn not_among(&self, here: &BTreeSet<Digest>) -> usize {
        self.0
            .keys()
            .filter(|digest| !here.contains(digest))
            .count()
    }

    /// Judges a photo: the digest in its name, and that of its bytes.
    pub(super) fn judge(
        &self,
        package: &Package,
        path: &str,
        name: Digest,
        digest: Digest,
    ) -> Result<PhotoVerdict, ReadError> {
        let named = self.0.get(&name);
        let mut verdict = PhotoVerdict {
            state: match named {
                Some(named) if named.original => PhotoState::Original,
                Some(_) => PhotoState::Copy,
                None => PhotoState::Unsigned,
            },
            difference: None,
            record: named.map(|named| named.number),
            digest,
        };
        if name != digest {
            verdict.state = PhotoState::NotTheSame;
            if let Some(named) = named {
                verdict.difference = difference(&start(package, path)?, &named.facts);
            }
        }
        Ok(verdict)
    }
}

/// The first bytes of a file.
fn start(package: &Package, path: &str) -> Result<Vec<u8>, ReadError> {
    let mut start = Vec::new();
    package.stream(path, &mut |block| {
        let room = header::LOOKED_AT - start.len();
        start.extend_from_slice(&block[..block.len().min(room)]);
    })?;
    Ok(start)
}

fn difference(start: &[u8], named: &Facts) -> Option<PhotoDifference> {
    let found = header::facts(start)?;
    // Without an orientation a picture stands as with 1.
    let turn = |facts: &Facts| facts.orientation.unwrap_or(1);
    Some(
        if (found.width, found.height) != (named.width, named.height) {
            PhotoDifference::OtherSize
        } else if turn(&found) != turn(named) {
            PhotoDifference::OtherOrientation
        } else {
            PhotoDifference::SameSize
        },
    )
}
