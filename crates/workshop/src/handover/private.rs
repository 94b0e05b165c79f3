//! Photos that a record keeps private: wherever else the same files are named, they stay.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::Value;
use tangmark_core::Digest;
use tangmark_core::record::Photo;
use tangmark_store::Store as _;

use crate::blades::Kept;
use crate::{Workshop, WorkshopError};

/// Originals that any record here keeps private, each with the copies that such a record names in its place.
#[derive(Debug, Default)]
pub(super) struct Private(BTreeMap<Digest, BTreeSet<Digest>>);

impl Private {
    /// Collects them from every record of every blade, and from the records that are handed over.
    pub(super) fn of<'k>(
        workshop: &Workshop,
        handed_over: impl Iterator<Item = &'k Kept>,
    ) -> Result<Self, WorkshopError> {
        let mut private = Self::default();
        for blade in workshop.store().blades()? {
            for row in workshop.store().records(&blade.id)? {
                let known = workshop.disclosures(&row.name)?;
                let kept_back: Vec<(usize, Digest)> = known
                    .iter()
                    .filter_map(|disclosure| {
                        let index = disclosure.path.strip_prefix("/photos/")?;
                        let index = index.strip_suffix("/original")?.parse().ok()?;
                        let value = disclosure.value()?;
                        let digest = value.get("digest").and_then(Value::as_str)?;
                        Some((index, digest.parse().ok()?))
                    })
                    .collect();
                if kept_back.is_empty() {
                    continue;
                }
                let record = workshop.kept(&row)?.record;
                for (index, original) in kept_back {
                    private.add(original, record.photos.get(index));
                }
            }
        }
        for photo in handed_over.flat_map(|kept| &kept.record.photos) {
            if let (true, Some(original)) = (photo.original_kept_private, &photo.original) {
                private.add(original.digest, Some(photo));
            }
        }
        Ok(private)
    }

    fn add(&mut self, original: Digest, photo: Option<&Photo>) {
        let copies = self.0.entry(original).or_default();
        let named = photo.iter().flat_map(|photo| &photo.derivatives);
        copies.extend(named.map(|made| made.file.digest));
    }

    /// Whether a file is an original that is kept private.
    pub(super) fn holds(&self, file: &Digest) -> bool {
        self.0.contains_key(file)
    }

    /// Whether a copy may go out though its original may not: a record that keeps the original private names it too.
    /// A copy from before may show what the original was taken back for.
    pub(super) fn lets_go(&self, original: &Digest, copy: &Digest) -> bool {
        self.0
            .get(original)
            .is_none_or(|copies| copies.contains(copy))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_copy_goes_out_where_a_record_that_keeps_the_original_names_it() {
        let [original, old, new] = [&b"original"[..], b"old", b"new"].map(Digest::of);
        let mut private = Private::default();
        assert!(private.lets_go(&original, &old));
        private.0.entry(original).or_default().insert(new);
        assert!(private.holds(&original));
        assert!(!private.holds(&new));
        assert!(!private.lets_go(&original, &old));
        assert!(private.lets_go(&original, &new));
        // Nothing is known of a copy of another photo.
        assert!(private.lets_go(&old, &new));
    }
}
