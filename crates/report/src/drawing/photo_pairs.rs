//! Photographs of the same thing in two states, side by side on one sheet.

use std::collections::BTreeMap;

use tangmark_core::{
    Digest,
    record::{Photo, PhotoFile, Record},
};

use super::{Anchor, Drawing, Pen, Words, sentences, stroked};
use crate::{
    compare::state,
    layout::style::{INK, MAP, NOTE, SLATE},
    pages::{picture_files, words},
    scene::{Draw, Image, ImageDraw, Path, Stroke, swaps_sides},
    speech::{Pair, Speech, pair},
};

/// Space between two photos, mm.
const GUTTER: f64 = 6.0;
/// Greatest height of a photo, mm.
const HIGHEST: f64 = 80.0;
/// Height of the frame that stands for a photo that is not at hand, mm.
const EMPTY: f64 = 20.0;

/// The file of a photo that is at hand, with its picture.
fn shown<'a>(
    photo: &'a Photo,
    pictures: &'a BTreeMap<Digest, Image>,
) -> Option<(&'a PhotoFile, &'a Image)> {
    picture_files(photo).into_iter().find_map(|digest| {
        let made = photo.derivatives.iter().map(|derivative| &derivative.file);
        let file = made
            .chain(&photo.original)
            .find(|file| file.digest == digest)?;
        Some((file, pictures.get(&digest)?))
    })
}

/// Width and height of a photo in a box, mm.
fn size(photo: &Photo, pictures: &BTreeMap<Digest, Image>, width: f64) -> [f64; 2] {
    let Some((file, image)) = shown(photo, pictures) else {
        return [width, EMPTY];
    };
    let [across, down] = [
        f64::from(image.header.width),
        f64::from(image.header.height),
    ];
    let [across, down] = if swaps_sides(file.orientation.unwrap_or(1)) {
        [down, across]
    } else {
        [across, down]
    };
    let scale = (width / across).min(HIGHEST / down);
    [across * scale, down * scale]
}

/// What stands below a photo: its day, its state, and what the workshop wrote.
fn caption(state: &Record, photo: &Photo) -> Pair {
    let name = state::name(state);
    let on = |speech| words::date(speech, photo.taken_on.as_ref());
    pair(
        format!(
            "{} · {} · {} · {}",
            on(Speech::English),
            name.en,
            photo.id,
            photo.caption
        ),
        format!(
            "{} · {} · {} · {}",
            on(Speech::Japanese),
            name.ja,
            photo.id,
            photo.caption
        ),
    )
}

/// Draws pairs of photographs, the first state left; `pictures` are those at hand, by the digest that names each file.
/// Nothing without a pair.
pub(crate) fn photo_pairs(
    [before, after]: [&Record; 2],
    pairs: &[(&Photo, &Photo)],
    pictures: &BTreeMap<Digest, Image>,
    width: f64,
    speech: Speech,
) -> Option<Drawing> {
    if pairs.is_empty() {
        return None;
    }
    let column = (width - GUTTER) / 2.0;
    let mut pen = Pen::new(speech);
    let mut y = 0.0;
    let mut told = Vec::new();
    for (first, second) in pairs {
        let sides = [(before, *first, 0.0), (after, *second, column + GUTTER)];
        let sizes = sides.map(|(_, photo, _)| size(photo, pictures, column));
        let highest = sizes[0][1].max(sizes[1][1]);
        let mut below: f64 = 0.0;
        for ((state, photo, x), [wide, high]) in sides.into_iter().zip(sizes) {
            if let Some((file, image)) = shown(photo, pictures) {
                pen.draws.push(Draw::Image(ImageDraw {
                    digest: image.digest,
                    x,
                    y,
                    width: wide,
                    height: high,
                    orientation: file.orientation.unwrap_or(1),
                }));
            } else {
                let frame = Path::rectangle(x, y, wide, high);
                pen.draws
                    .push(stroked(frame, Stroke::dashed(SLATE, 0.2, 1.2, 0.8)));
                let reason = pair("not kept here as JPEG", "JPEG ファイルなし");
                let at = [x + wide / 2.0, y + high / 2.0];
                pen.say_within(&reason, MAP, at, Anchor::Middle, wide - 4.0);
            }
            let said = caption(state, photo);
            let height = pen.paragraph(&[&said], NOTE, [x, y + highest + 1.2], column);
            below = below.max(height);
            told.push(pair(format!("{}.", said.en), format!("{}。", said.ja)));
        }
        y += highest + 1.2 + below + 4.0;
    }
    pen.line([0.0, y - 2.0], [width, y - 2.0], Stroke::solid(INK, 0.1));
    let words = Words {
        title: pair("Photographs before and after", "写真の比較"),
        alternative: sentences(told),
        note: pair(
            "Left before, right after. What a light shows another light can hide.",
            "左が前、右が後。見え方は光により異なる。",
        ),
    };
    Drawing::of(pen, [width, y], words)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::{compare::photos::pairs, sample};

    #[test]
    fn pictures_of_one_thing_stand_side_by_side() {
        let first = sample::sword();
        let mut after = first.record.clone();
        after.sequence += 1;
        for photo in &mut after.photos {
            if let Some(file) = &mut photo.original {
                file.digest = Digest::of(photo.id.to_string().as_bytes());
            }
        }
        let pairs = pairs(&first.record, &after);
        let pictures: BTreeMap<Digest, Image> = first
            .photos
            .iter()
            .map(|(digest, bytes)| (*digest, Image::of(bytes, *digest).unwrap()))
            .collect();
        let records = [&first.record, &after];
        let drawing = photo_pairs(records, &pairs, &pictures, 166.0, Speech::English).unwrap();
        let images: Vec<&ImageDraw> = drawing
            .draws
            .iter()
            .filter_map(|draw| match draw {
                Draw::Image(image) => Some(image),
                _ => None,
            })
            .collect();
        // The second state's files are not at hand: their frames say so.
        assert!(!images.is_empty());
        for image in images {
            assert!(image.x == 0.0 && image.width <= 80.0 && image.height <= HIGHEST);
        }
        let text = |draw: &Draw| match draw {
            Draw::Text(text) => text.text.clone(),
            _ => String::new(),
        };
        let said: Vec<String> = drawing.draws.iter().map(text).collect();
        assert!(said.join(" ").contains("not kept here as JPEG"));
        let names = [state::name(records[0]).en, state::name(records[1]).en];
        for name in names {
            assert!(
                drawing.alternative.contains(&*name),
                "{}",
                drawing.alternative
            );
        }
        assert!(photo_pairs(records, &[], &pictures, 166.0, Speech::English).is_none());
    }
}
