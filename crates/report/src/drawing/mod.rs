//! Drawings made from numbers.
//!
//! Each function here makes one finished [`Drawing`] at the origin, or nothing when the numbers for it are missing or
//! make no picture. All of them read in black and white, and each says in words what it shows.

mod account;
mod axis;
mod back_and_edge;
mod chart;
mod clip;
mod curvature;
mod custody;
mod file_marks;
mod loss;
mod map;
mod months;
mod passes;
mod pen;
mod photo_pairs;
mod profile;
pub(crate) mod qr;
mod ruler;
mod seat;
mod section_outline;
mod sections;
mod stages;
pub(crate) mod stations;
mod steel_gone;
mod symbol;
mod symbols;
mod tang;
#[cfg(test)]
mod tests;
mod true_size;

use std::collections::BTreeSet;

pub(crate) use account::steel_account;
pub(crate) use back_and_edge::back_and_edge;
pub(crate) use chart::{chart, trade_off};
pub(crate) use curvature::curvature;
pub(crate) use custody::custody;
pub(crate) use loss::loss_strip;
pub(crate) use map::faces;
pub use months::MonthBars;
pub(crate) use months::months;
pub(crate) use passes::{pass_history, passes_of};
pub(crate) use pen::{Anchor, Pen};
pub(crate) use photo_pairs::photo_pairs;
pub(crate) use seat::seat;
pub use seat::{Seat, SeatOpening, SeatPeg};
pub(crate) use sections::sections;
pub use stages::StageBar;
pub(crate) use stages::stages;
pub(crate) use steel_gone::steel_gone;
pub(crate) use tang::tang;
pub(crate) use true_size::true_size;

use crate::{
    font::Face,
    layout::{FigureSpec, Flow, Style, style},
    scene::{Colour, Draw, Path, PathDraw, Stroke},
    speech::{Pair, Speech, pair},
};

/// How far a stroke or a letter may reach over the box of a drawing, mm.
const SLACK: f64 = 0.5;

/// A finished drawing: marks in a box whose upper left corner is the origin.
#[derive(Debug, Clone)]
pub(crate) struct Drawing {
    /// What it is.
    pub(crate) title: Pair,
    /// Width, mm.
    pub(crate) width: f64,
    /// Height, mm.
    pub(crate) height: f64,
    /// The marks.
    pub(crate) draws: Vec<Draw>,
    /// What it shows, in words that stand alone, in the language asked for.
    pub(crate) alternative: String,
    /// Scale, meaning of lines, and what is dashed and why.
    pub(crate) note: Pair,
    /// Characters no font has; they stand as code points.
    pub(crate) missing: BTreeSet<char>,
}

/// What a drawing says of itself.
struct Words {
    title: Pair,
    alternative: Pair,
    note: Pair,
}

impl Drawing {
    /// Takes what a pen drew; nothing when a mark is no number or lies outside of the box: a drawing that runs over the
    /// page because of a slip among the numbers says nothing.
    fn of(pen: Pen, [width, height]: [f64; 2], words: Words) -> Option<Self> {
        let drawing = Self {
            title: words.title,
            width,
            height,
            alternative: pen.speech.text(&words.alternative),
            draws: pen.draws,
            note: words.note,
            missing: pen.missing,
        };
        let fits = |[left, top, right, bottom]: [f64; 4]| {
            left >= -SLACK && top >= -SLACK && right <= width + SLACK && bottom <= height + SLACK
        };
        let outside = drawing
            .draws
            .iter()
            .find(|draw| !extent(draw).is_none_or(fits));
        // With numbers that are none the fault lies in the record, else in the program.
        #[cfg(test)]
        assert!(
            outside
                .and_then(extent)
                .is_none_or(|it| !it.iter().all(|end| end.is_finite())),
            "{}: {outside:?} leaves {width} × {height}",
            drawing.title.en
        );
        let sound = width.is_finite() && height.is_finite() && outside.is_none();
        sound.then_some(drawing)
    }

    /// Returns the marks with the upper left corner of the box at a place.
    pub(crate) fn moved(&self, x: f64, y: f64) -> Vec<Draw> {
        self.draws.iter().map(|draw| moved(draw, x, y)).collect()
    }

    /// Sets the drawing with its note on the page; its title is for the heading above it.
    pub(crate) fn set(&self, flow: &mut Flow) {
        self.set_keeping(flow, 2.0 * style::NOTE.leading);
    }

    /// As [`Drawing::set`], with `keep` mm of what follows on the same page.
    pub(crate) fn set_keeping(&self, flow: &mut Flow, keep: f64) {
        flow.missing.extend(&self.missing);
        flow.ensure(self.height + 1.4 + keep);
        flow.figure(&FigureSpec {
            alternative: self.alternative.clone(),
            x: 0.0,
            width: self.width,
            height: self.height,
            draw: &|x, y| self.moved(x, y),
        });
        flow.y += 1.4;
        if !self.note.en.is_empty() {
            flow.say(&self.note, style::NOTE);
        }
    }

    /// Returns the drawing as it stands alone: with its title above and its note below, on white.
    pub(crate) fn alone(&self, speech: Speech) -> Self {
        const MARGIN: f64 = 4.0;
        let width = self.width + 2.0 * MARGIN;
        let mut pen = Pen::new(speech);
        let title = pen.paragraph(
            &[&self.title],
            style::SUBSECTION,
            [MARGIN, MARGIN],
            self.width,
        );
        let top = MARGIN + title + 2.0;
        pen.draws.extend(self.moved(MARGIN, top));
        let below = top + self.height + 2.0;
        let note = pen.paragraph(&[&self.note], style::NOTE, [MARGIN, below], self.width);
        let height = below + note + MARGIN;
        let mut draws = vec![filled(
            Path::rectangle(0.0, 0.0, width, height),
            Colour::WHITE,
        )];
        draws.append(&mut pen.draws);
        Self {
            width,
            height,
            draws,
            missing: self.missing.union(&pen.missing).copied().collect(),
            ..self.clone()
        }
    }
}

/// The box of a mark: left, top, right, bottom; nothing for a mark without extent.
fn extent(draw: &Draw) -> Option<[f64; 4]> {
    match draw {
        Draw::Path(path) => {
            // A number that is none would be passed over by least and greatest.
            let points = path.path.points();
            if points.iter().flatten().any(|value| !value.is_finite()) {
                return Some([f64::NEG_INFINITY; 4]);
            }
            path.path.bounds()
        }
        Draw::Text(text) => {
            let face = Face::of(text.weight);
            let width = face.width(&text.text, text.size, text.tabular);
            let top = text.y - face.cap_height(text.size);
            Some([text.x, top, text.x + width, text.y])
        }
        Draw::Image(image) => Some([
            image.x,
            image.y,
            image.x + image.width,
            image.y + image.height,
        ]),
    }
}

fn moved(draw: &Draw, x: f64, y: f64) -> Draw {
    let mut draw = draw.clone();
    match &mut draw {
        Draw::Path(path) => path.path.shift(x, y),
        Draw::Text(text) => (text.x, text.y) = (text.x + x, text.y + y),
        Draw::Image(image) => (image.x, image.y) = (image.x + x, image.y + y),
    }
    draw
}

/// A stroked path.
pub(crate) fn stroked(path: Path, stroke: Stroke) -> Draw {
    Draw::Path(PathDraw {
        path,
        fill: None,
        stroke: Some(stroke),
    })
}

/// A filled path.
pub(crate) fn filled(path: Path, fill: Colour) -> Draw {
    Draw::Path(PathDraw {
        path,
        fill: Some(fill),
        stroke: None,
    })
}

/// Width of words in a drawing, mm.
pub(crate) fn words_width(text: &str, style: Style) -> f64 {
    Face::of(style.weight).width(text, style.size, false)
}

/// Solid for what was measured, dashed for what was not.
fn line_stroke(measured: bool) -> Stroke {
    if measured {
        Stroke::solid(style::INK, 0.3)
    } else {
        Stroke::dashed(style::INK, 0.25, 1.2, 0.8)
    }
}

/// Sentences one after another.
fn sentences(parts: impl IntoIterator<Item = Pair>) -> Pair {
    let (mut en, mut ja) = (String::new(), String::new());
    for part in parts {
        if !en.is_empty() && !part.en.is_empty() {
            en.push(' ');
        }
        en.push_str(&part.en);
        ja.push_str(&part.ja);
    }
    pair(en, ja)
}

/// Things one after another, with commas.
fn listed<'a>(parts: impl IntoIterator<Item = &'a Pair>) -> Pair {
    let (en, ja): (Vec<&str>, Vec<&str>) = parts
        .into_iter()
        .map(|part| (part.en.as_ref(), part.ja.as_ref()))
        .unzip();
    pair(en.join(", "), ja.join("、"))
}

/// A number with a fixed number of decimals and a true minus sign; what rounds to nothing has no sign.
fn decimals(value: f64, digits: usize) -> String {
    let text = format!("{value:.digits$}");
    let bare = text.trim_start_matches('-');
    if bare.bytes().all(|byte| matches!(byte, b'0' | b'.')) {
        bare.to_owned()
    } else {
        text.replacen('-', "−", 1)
    }
}

/// A number to one decimal, without a useless zero.
fn tenths(value: f64) -> String {
    let text = decimals(value, 1);
    text.strip_suffix(".0").unwrap_or(&text).to_owned()
}

/// What is said of what was not measured.
fn dashed_note(assumed: &[Pair]) -> Pair {
    if assumed.is_empty() {
        return pair("", "");
    }
    let what = listed(assumed);
    pair(
        format!(
            "Dashed lines were not measured and are drawn from typical proportions: {}.",
            what.en
        ),
        format!("破線は未計測で、一般的な比率による作図：{}。", what.ja),
    )
}
