//! The drawings of two states against each other as files of their own.

use std::collections::BTreeMap;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use tangmark_core::{Digest, record::Record};

use super::Comparison;
use crate::{DrawingFile, Speech, drawing, drawings::file_with, scene::Image};

/// Returns the drawings of two states against each other, each `width` mm wide without its margins: loss along the blade,
/// sections, steel account, steel and rust gone, passes, and the photographs of the same thing side by side.
///
/// `between` are the blade's records after the first and before the second, oldest first; `photos` are files of pictures at
/// hand, by their digest. A file that is no JPEG picture is left out, and its place stands empty.
pub fn comparison_drawings(
    [before, after]: [&Record; 2],
    between: &[Record],
    photos: &BTreeMap<Digest, Vec<u8>>,
    width: f64,
    speech: Speech,
) -> Vec<DrawingFile> {
    let comparison = Comparison::of(before, after, between);
    let pictures: BTreeMap<Digest, Image> = photos
        .iter()
        .filter_map(|(digest, bytes)| Some((*digest, Image::of(bytes, *digest).ok()?)))
        .collect();
    let account = comparison.account.as_ref();
    let since = comparison.worked();
    let made = [
        ("loss", drawing::loss_strip(after, before, width, speech)),
        (
            "sections",
            drawing::sections(after, Some(before), width, speech),
        ),
        (
            "steel-account",
            account.and_then(|account| drawing::steel_account(account, width, speech)),
        ),
        (
            "steel-gone",
            account.and_then(|account| drawing::steel_gone(account, width, speech)),
        ),
        (
            "passes",
            drawing::pass_history(&since.last, &since.earlier, width, speech),
        ),
        (
            "photos",
            drawing::photo_pairs(
                [before, after],
                &comparison.photos,
                &pictures,
                width,
                speech,
            ),
        ),
    ];
    // A picture is named by its own digest, which is not that of the file where metadata were left out.
    let embedded: BTreeMap<Digest, &Image> = pictures
        .values()
        .map(|image| (image.digest, image))
        .collect();
    let address = |digest: &Digest| {
        let bytes = embedded.get(digest).map_or(&[][..], |image| &image.bytes);
        format!("data:image/jpeg;base64,{}", STANDARD.encode(bytes))
    };
    made.into_iter()
        .filter_map(|(name, drawing)| Some((name, drawing?)))
        .map(|(name, drawing)| file_with(name, &drawing.alone(speech), speech, &address))
        .collect()
}
