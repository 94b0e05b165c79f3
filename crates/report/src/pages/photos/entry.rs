//! One photo on a page: picture, scale bar, caption, and what a screen reader says of it.

use tangmark_core::record::{Photo, PhotoFile, Record, Shows};

use super::{
    super::{Content, words},
    candidates,
    scale_bar::ScaleBar,
    sentences,
};
use crate::{
    drawing::stroked,
    layout::{FigureSpec, Flow, Line, Span, draw_line, style},
    scene::{Draw, Image, ImageDraw, Path, Stroke, swaps_sides},
    speech::pair,
};

/// Space between a picture and its caption, mm.
pub(super) const GAP: f64 = 1.4;
/// Height of the frame that stands for a picture that cannot be shown, mm.
const EMPTY: f64 = 24.0;

/// A photo with its place worked out.
pub(super) struct Entry<'a> {
    file: Option<&'a PhotoFile>,
    image: Option<&'a Image>,
    /// Width and height of the picture, mm.
    size: [f64; 2],
    bar: Option<ScaleBar>,
    /// Why no picture is shown, in lines.
    reason: Vec<Line>,
    alternative: String,
    pub(super) caption: Vec<Line>,
}

/// The file of a photo that is shown, with its picture.
fn shown<'a>(content: &'a Content<'_>, photo: &'a Photo) -> Option<(&'a PhotoFile, &'a Image)> {
    candidates(photo).find_map(|file| {
        let image = content.pictures.get(&file.digest)?;
        Some((file, image))
    })
}

/// How the file that is shown was made from the original, in the words of the record or of the copy made for the report.
pub(super) fn made<'a>(content: &'a Content<'_>, photo: &'a Photo) -> Option<&'a str> {
    let (file, image) = shown(content, photo)?;
    let listed = photo
        .derivatives
        .iter()
        .find(|derivative| derivative.file.digest == file.digest)
        .map(|derivative| derivative.transform.as_str());
    listed.or(image.left_out.as_deref())
}

/// Width over height of the picture, upright; nothing where there is none.
pub(super) fn proportion(content: &Content<'_>, photo: &Photo) -> Option<f64> {
    let (file, image) = shown(content, photo)?;
    let [across, down] = upright_size(file, image);
    Some(across / down)
}

/// Columns and rows of the picture, upright.
fn upright_size(file: &PhotoFile, image: &Image) -> [f64; 2] {
    let [width, height] = [
        f64::from(image.header.width),
        f64::from(image.header.height),
    ];
    if swaps_sides(file.orientation.unwrap_or(1)) {
        [height, width]
    } else {
        [width, height]
    }
}

/// The record a photo stands in: the one that is reported, or an earlier one.
fn record_of<'a>(content: &Content<'a>, photo: &Photo) -> Option<&'a Record> {
    let holds = |record: &&Record| record.photos.iter().any(|other| std::ptr::eq(other, photo));
    std::iter::once(content.record)
        .chain(content.earlier)
        .find(holds)
}

impl<'a> Entry<'a> {
    /// Works out the place of a photo in a box at most so wide and so high.
    pub(super) fn new(
        flow: &mut Flow,
        content: &'a Content<'_>,
        photo: &'a Photo,
        [width, highest]: [f64; 2],
        whole: bool,
    ) -> Self {
        let found = shown(content, photo);
        let file = found
            .map(|(file, _)| file)
            .or_else(|| candidates(photo).next());
        let size = found.map_or([width, EMPTY], |(file, image)| {
            let [across, down] = upright_size(file, image);
            let scale = (width / across).min(highest / down);
            [across * scale, down * scale]
        });
        let bar = photo
            .field_width
            .as_ref()
            .filter(|_| found.is_some())
            .and_then(|field| ScaleBar::new(field.to_f64(), size[0]));
        let missing = found.is_none().then(|| sentences::not_shown(photo));
        let reason = missing.as_ref().map_or_else(Vec::new, |missing| {
            let spans = flow.speech.label(missing);
            flow.lines(&spans, style::NOTE, width - 8.0)
        });
        let flaws = record_of(content, photo)
            .map(|record| sentences::flaw_numbers(record, photo))
            .unwrap_or_default();
        let alternative =
            sentences::alternative(flow.speech, photo, bar.as_ref(), &flaws, missing.as_ref());
        let spans = caption(flow, content, photo, &flaws, file, whole);
        let caption = flow.lines(&spans, style::NOTE, width);
        Self {
            file,
            image: found.map(|(_, image)| image),
            size,
            bar,
            reason,
            alternative,
            caption,
        }
    }

    /// Height of picture and scale bar, mm.
    pub(super) fn figure_height(&self) -> f64 {
        self.size[1] + self.bar.as_ref().map_or(0.0, |_| ScaleBar::HEIGHT)
    }

    /// Height with the caption, mm.
    pub(super) fn height(&self) -> f64 {
        self.figure_height() + GAP + self.caption.len() as f64 * style::NOTE.leading
    }

    /// Sets picture and scale bar at the current height, `x` mm from the left edge of the text.
    pub(super) fn place(&self, flow: &mut Flow, x: f64) {
        let draw: Box<dyn Fn(f64, f64) -> Vec<Draw>> = match (self.image, self.file) {
            (Some(image), Some(file)) => {
                flow.scene.add_image(image.clone());
                Box::new(|x, y| self.picture(image, file, [x, y]))
            }
            _ => Box::new(|x, y| self.empty([x, y])),
        };
        flow.figure_here(&FigureSpec {
            alternative: self.alternative.clone(),
            x,
            width: self.size[0],
            height: self.figure_height(),
            draw: &*draw,
        });
    }

    fn picture(&self, image: &Image, file: &PhotoFile, [x, y]: [f64; 2]) -> Vec<Draw> {
        let [width, height] = self.size;
        let mut draws = vec![Draw::Image(ImageDraw {
            digest: image.digest,
            x,
            y,
            width,
            height,
            orientation: file.orientation.unwrap_or(1),
        })];
        if let Some(bar) = &self.bar {
            draws.extend(bar.draw(x, y + height));
        }
        draws
    }

    /// A frame with the reason why there is no picture.
    fn empty(&self, [x, y]: [f64; 2]) -> Vec<Draw> {
        let [width, height] = self.size;
        let mut draws = vec![stroked(
            Path::rectangle(x, y, width, height),
            Stroke::dashed(style::SLATE, 0.2, 1.2, 0.8),
        )];
        for (index, line) in self.reason.iter().enumerate() {
            let top = y + 4.0 + index as f64 * style::NOTE.leading;
            draws.extend(draw_line(line, style::NOTE, x + 4.0, top));
        }
        draws
    }
}

fn caption(
    flow: &Flow,
    content: &Content<'_>,
    photo: &Photo,
    flaws: &[usize],
    file: Option<&PhotoFile>,
    whole: bool,
) -> Vec<Span> {
    let speech = flow.speech;
    let mut caption = vec![
        Span::bold(format!("{} ", photo.id)),
        Span::plain(photo.caption.clone()),
    ];
    let mut quiet = |text: String| caption.push(Span::quiet(format!(" · {text}")));
    let says_flaws = !flaws.is_empty();
    if says_flaws {
        quiet(sentences::flaws(speech, flaws));
    }
    if !whole {
        return caption;
    }
    // The numbers of the flaws say already that it shows flaws.
    if !(says_flaws && photo.shows == Shows::Flaw) {
        quiet(words::short(speech, photo.shows));
    }
    quiet(words::date(speech, photo.taken_on.as_ref()));
    if let Some(field) = &photo.field_width {
        let name = speech.text(&pair("width on the blade", "刀身上の幅"));
        quiet(format!("{name} {}", words::quantity(field)));
    }
    let image = shown(content, photo).map(|(_, image)| image);
    for digest in sentences::digests(speech, photo, file, image) {
        quiet(digest);
    }
    caption
}
