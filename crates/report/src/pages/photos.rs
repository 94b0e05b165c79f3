//! Photos, two in a row, each with the beginning of the digest that binds it to the record.

use tangmark_core::{
    Digest,
    record::{Photo, PhotoFile, Record, Term as _},
};

use super::{Content, words};
use crate::{
    drawing::stroked,
    layout::{FigureSpec, Flow, Line, Span, style},
    scene::{Draw, Image, ImageDraw, Path, Stroke, swaps_sides},
};

/// Space between two photos, mm.
const GUTTER: f64 = 6.0;
/// Greatest height of a photo, mm.
const HIGHEST: f64 = 66.0;

/// The file of a photo that a report shows: the first one made from the original that is at hand
/// (it carries no data of the camera), else the original unless that is kept private.
fn candidates(photo: &Photo) -> impl Iterator<Item = &PhotoFile> {
    let original = photo
        .original
        .as_ref()
        .filter(|_| !photo.original_kept_private);
    photo
        .derivatives
        .iter()
        .map(|derivative| &derivative.file)
        .chain(original)
}

/// Digests of the pictures a report of this record can show.
pub(super) fn wanted(record: &Record) -> Vec<Digest> {
    record
        .photos
        .iter()
        .flat_map(candidates)
        .map(|file| file.digest)
        .collect()
}

struct Entry<'a> {
    photo: &'a Photo,
    file: Option<&'a PhotoFile>,
    image: Option<&'a Image>,
    size: [f64; 2],
    caption: Vec<Line>,
}

pub(super) fn set(flow: &mut Flow, content: &Content<'_>) {
    let record = content.record;
    flow.heading("Photographs", 50.0);
    if record.photos.is_empty() {
        flow.paragraph(
            &[Span::plain("No photograph is in this record.")],
            style::BODY,
        );
        return;
    }
    flow.paragraph(&[Span::plain("The digest after each picture is the beginning of the SHA-256 digest over its file, as the record has it.")], style::NOTE);
    flow.y += 1.6;
    let width = (flow.frame.text_width() - GUTTER) / 2.0;
    let entries: Vec<Entry<'_>> = record
        .photos
        .iter()
        .map(|photo| entry(flow, content, photo, width))
        .collect();
    for pair in entries.chunks(2) {
        let height = |entry: &Entry<'_>| {
            entry.size[1] + 1.4 + entry.caption.len() as f64 * style::NOTE.leading
        };
        let highest = pair.iter().map(height).fold(0.0, f64::max);
        flow.ensure(highest);
        let top = flow.y;
        for (column, entry) in pair.iter().enumerate() {
            let x = column as f64 * (width + GUTTER);
            flow.y = top;
            place(flow, entry, x);
            flow.y = top + entry.size[1] + 1.4;
            let node = flow.node(crate::scene::Role::Paragraph);
            let left = flow.frame.left + x;
            flow.set_lines(node, &entry.caption, style::NOTE, left);
        }
        flow.y = top + highest + 5.0;
    }
}

fn entry<'a>(flow: &mut Flow, content: &Content<'a>, photo: &'a Photo, width: f64) -> Entry<'a> {
    let found = candidates(photo).find_map(|file| {
        content
            .pictures
            .get(&file.digest)
            .map(|image| (file, image))
    });
    let file = found
        .map(|(file, _)| file)
        .or_else(|| candidates(photo).next());
    let image = found.map(|(_, image)| image);
    let size = image.map_or([width, 24.0], |image| {
        fit(file.and_then(|file| file.orientation), image, width)
    });
    let mut caption = vec![
        Span::bold(format!("{} ", photo.id)),
        Span::plain(photo.caption.clone()),
    ];
    caption.push(Span::quiet(format!(
        " · {} · {}",
        words::short(flow.speech, photo.shows),
        words::date(flow.speech, photo.taken_on.as_ref())
    )));
    if let Some(field) = &photo.field_width {
        caption.push(Span::quiet(format!(
            " · width of the picture {} on the blade",
            words::quantity(field)
        )));
    }
    if let Some(file) = file {
        caption.push(Span::quiet(format!(
            " · {}",
            words::digest_prefix(&file.digest)
        )));
    }
    let derived = file.and_then(|file| {
        photo
            .derivatives
            .iter()
            .find(|derivative| derivative.file.digest == file.digest)
    });
    if let Some(derived) = derived {
        caption.push(Span::quiet(format!(
            " · made from the original: {}",
            derived.transform
        )));
    }
    let caption = flow.lines(&caption, style::NOTE, width);
    Entry {
        photo,
        file,
        image,
        size,
        caption,
    }
}

/// Width and height on paper, upright and in proportion.
fn fit(orientation: Option<u8>, image: &Image, width: f64) -> [f64; 2] {
    let stored = [
        f64::from(image.header.width),
        f64::from(image.header.height),
    ];
    let [across, down] = if swaps_sides(orientation.unwrap_or(1)) {
        [stored[1], stored[0]]
    } else {
        stored
    };
    let scale = (width / across).min(HIGHEST / down);
    [across * scale, down * scale]
}

fn place(flow: &mut Flow, entry: &Entry<'_>, x: f64) {
    let [width, height] = entry.size;
    let shows = format!(
        "Photograph {}: {} ({})",
        entry.photo.id,
        entry.photo.caption,
        entry.photo.shows.gloss()
    );
    if let (Some(image), Some(file)) = (entry.image, entry.file) {
        flow.scene.add_image(image.clone());
        let (digest, orientation) = (image.digest, file.orientation.unwrap_or(1));
        let draw = |x, y| {
            vec![Draw::Image(ImageDraw {
                digest,
                x,
                y,
                width,
                height,
                orientation,
            })]
        };
        flow.figure_here(&FigureSpec {
            alternative: shows,
            x,
            width,
            height,
            draw: &draw,
        });
        return;
    }
    let private = entry.photo.original_kept_private || !entry.photo.withheld.is_empty();
    let reason = if private {
        "This picture stays with the workshop."
    } else {
        "This picture is not in this copy."
    };
    let lines = flow.lines(&[Span::plain(reason)], style::NOTE, width - 8.0);
    let draw = |x: f64, y: f64| {
        let mut draws = vec![stroked(
            Path::rectangle(x, y, width, height),
            Stroke::dashed(style::SLATE, 0.2, 1.2, 0.8),
        )];
        for (index, line) in lines.iter().enumerate() {
            draws.extend(crate::layout::draw_line(
                line,
                style::NOTE,
                x + 4.0,
                y + 4.0 + index as f64 * style::NOTE.leading,
            ));
        }
        draws
    };
    flow.figure_here(&FigureSpec {
        alternative: format!("{shows}. {reason}"),
        x,
        width,
        height,
        draw: &draw,
    });
}
