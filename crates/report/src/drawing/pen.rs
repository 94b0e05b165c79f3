//! What draws lines and words into a drawing.

use std::collections::BTreeSet;

use crate::{
    font,
    layout::{Span, Style, break_lines, count, draw_line},
    scene::{Colour, Draw, Path, Stroke},
    speech::{Pair, Speech},
};

use super::{filled, stroked};

/// Words that do not fit may become this much smaller before they are cut, as a share of their size.
const LEAST_SHARE: f64 = 0.8;

/// Where a word in a drawing stands relative to its place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Anchor {
    Left,
    Middle,
    Right,
}

/// Marks of a drawing in the making.
#[derive(Debug, Clone)]
pub(crate) struct Pen {
    pub(crate) speech: Speech,
    pub(crate) draws: Vec<Draw>,
    pub(crate) missing: BTreeSet<char>,
}

impl Pen {
    pub(crate) const fn new(speech: Speech) -> Self {
        Self {
            speech,
            draws: Vec::new(),
            missing: BTreeSet::new(),
        }
    }

    /// Strokes a path.
    pub(crate) fn stroke(&mut self, path: Path, stroke: Stroke) {
        if !path.is_empty() {
            self.draws.push(stroked(path, stroke));
        }
    }

    /// Fills a path.
    pub(crate) fn fill(&mut self, path: Path, colour: Colour) {
        if !path.is_empty() {
            self.draws.push(filled(path, colour));
        }
    }

    /// Draws a straight line.
    pub(crate) fn line(&mut self, [x1, y1]: [f64; 2], [x2, y2]: [f64; 2], stroke: Stroke) {
        self.stroke(Path::line(x1, y1, x2, y2), stroke);
    }

    /// Writes what is the same in every language, or the workshop's own words, on one line with the middle of its height
    /// at y.
    pub(crate) fn write(&mut self, text: &str, style: Style, at: [f64; 2], anchor: Anchor) {
        self.put(&[Span::plain(text)], style, at, anchor);
    }

    /// As [`Pen::write`], cut to a width.
    pub(crate) fn write_within(
        &mut self,
        text: &str,
        style: Style,
        at: [f64; 2],
        anchor: Anchor,
        width: f64,
    ) {
        let spans = self.drawable(&[Span::plain(text)]);
        let spans = cut(spans, style, width);
        self.put(&spans, style, at, anchor);
    }

    /// Says words on one line with the middle of its height at y.
    pub(crate) fn say(&mut self, words: &Pair, style: Style, at: [f64; 2], anchor: Anchor) {
        self.put(&self.speech.label(words), style, at, anchor);
    }

    /// As [`Pen::say`], in a width: smaller where that is enough, else in English alone where both languages were to
    /// stand, else cut.
    pub(crate) fn say_within(
        &mut self,
        words: &Pair,
        style: Style,
        at: [f64; 2],
        anchor: Anchor,
        width: f64,
    ) {
        let both = self.drawable(&self.speech.label(words));
        let share = width / self::width(&both, style);
        if share >= LEAST_SHARE {
            let size = style.size * share.min(1.0);
            return self.put(&both, Style { size, ..style }, at, anchor);
        }
        let speech = match self.speech {
            Speech::Both => Speech::English,
            one => one,
        };
        let one = self.drawable(&speech.label(words));
        let spans = cut(one, style, width);
        self.put(&spans, style, at, anchor);
    }

    /// Width of words, mm.
    pub(crate) fn width(&self, words: &Pair, style: Style) -> f64 {
        width(&self.speech.label(words), style)
    }

    /// Says sentences in lines from a place down, in both languages one below the other; returns their height, mm.
    pub(crate) fn paragraph(
        &mut self,
        words: &[&Pair],
        style: Style,
        [x, y]: [f64; 2],
        width: f64,
    ) -> f64 {
        use crate::scene::Language::{English, Japanese};
        let mut top = y;
        for words in words {
            let english = Span::plain(words.en.clone()).in_language(English);
            let japanese = Span::plain(words.ja.clone()).in_language(Japanese);
            let parts = match self.speech {
                Speech::English => vec![english],
                Speech::Japanese => vec![japanese],
                Speech::Both if words.one_says_both() => vec![english],
                Speech::Both => vec![english, japanese],
            };
            for part in parts.into_iter().filter(|part| !part.text.is_empty()) {
                let spans = self.drawable(&[part]);
                for line in break_lines(&spans, style, width) {
                    self.draws.extend(draw_line(&line, style, x, top));
                    top += style.leading;
                }
            }
        }
        top - y
    }

    fn put(&mut self, spans: &[Span], style: Style, [x, y]: [f64; 2], anchor: Anchor) {
        let spans = self.drawable(spans);
        let lines = break_lines(&spans, style, f64::INFINITY);
        let Some(line) = lines.first() else {
            return;
        };
        let left = match anchor {
            Anchor::Left => x,
            Anchor::Middle => x - line.width / 2.0,
            Anchor::Right => x - line.width,
        };
        self.draws
            .extend(draw_line(line, style, left, y - style.leading / 2.0));
    }

    fn drawable(&mut self, spans: &[Span]) -> Vec<Span> {
        spans
            .iter()
            .map(|span| {
                let made = font::drawable(&span.text.replace(['\n', '\r'], " "));
                self.missing.extend(made.missing);
                Span {
                    text: made.text,
                    ..span.clone()
                }
            })
            .collect()
    }
}

fn width(spans: &[Span], style: Style) -> f64 {
    break_lines(spans, style, f64::INFINITY)
        .first()
        .map_or(0.0, |line| line.width)
}

/// Cuts spans to a width; three points stand for what is left out.
fn cut(mut spans: Vec<Span>, style: Style, most: f64) -> Vec<Span> {
    if width(&spans, style) <= most {
        return spans;
    }
    while let Some(last) = spans.last_mut() {
        if last.text.pop().is_none() {
            spans.pop();
            continue;
        }
        last.text.truncate(last.text.trim_end().len());
        let mut shown = spans.clone();
        if let Some(last) = shown.last_mut() {
            last.text.push('…');
        }
        if width(&shown, style) <= most {
            return shown;
        }
    }
    spans
}

/// Height of lines of a style, mm.
pub(super) fn rows(number: usize, style: Style) -> f64 {
    count(number) * style.leading
}
