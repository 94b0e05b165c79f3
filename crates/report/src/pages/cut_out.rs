//! What sheets of labels have in common: marks to cut and punch by, and words that fit into little room.

use crate::{
    drawing::stroked,
    layout::{Flow, Line, Span, Style, style},
    scene::{Draw, Path, Stroke},
};

/// Between labels, mm: room for the cut marks of both.
pub(super) const GAP: f64 = 7.6;
/// Diameter of the hole for a string, mm: that of common paper punches.
pub(super) const HOLE: f64 = 5.0;
/// Length of a cut mark, mm.
const MARK: f64 = 3.0;
/// From the corner of a label to its cut marks, mm: no ink is left on the label.
const OFF: f64 = 0.6;

/// Hairlines outside of the corners of a box (x, y, width, height in mm), where to cut.
pub(super) fn cut_marks([left, top, width, height]: [f64; 4]) -> Vec<Draw> {
    let (right, bottom) = (left + width, top + height);
    let mut draws = Vec::new();
    for (x, outward) in [(left, -1.0), (right, 1.0)] {
        for (y, down) in [(top, -1.0), (bottom, 1.0)] {
            let far = OFF + MARK;
            draws.push(Path::line(x + outward * OFF, y, x + outward * far, y));
            draws.push(Path::line(x, y + down * OFF, x, y + down * far));
        }
    }
    draws
        .into_iter()
        .map(|path| stroked(path, Stroke::solid(style::SLATE, 0.1)))
        .collect()
}

/// Where to punch the hole for a string.
pub(super) fn punch_mark(x: f64, y: f64) -> Draw {
    stroked(
        Path::circle(x, y, HOLE / 2.0),
        Stroke::dashed(style::SLATE, 0.15, 0.8, 0.6),
    )
}

/// A block of words on a label.
pub(super) struct Block {
    pub(super) spans: Vec<Span>,
    pub(super) style: Style,
    /// Most lines.
    pub(super) lines: usize,
    /// Whether what is longer is cut with dots: a name, never a number. Else it is left out.
    pub(super) cut: bool,
    /// Space before it, mm.
    pub(super) before: f64,
}

impl Block {
    /// Its lines: cut with dots, or none, where there are more than it may have.
    pub(super) fn fitting(&self, flow: &mut Flow, width: f64) -> Vec<Line> {
        let lines = flow.lines(&self.spans, self.style, width);
        if lines.len() <= self.lines {
            return lines;
        }
        if !self.cut {
            return Vec::new();
        }
        let whole: Vec<char> = self
            .spans
            .iter()
            .flat_map(|span| span.text.chars())
            .collect();
        let like = self.spans.first().cloned().unwrap_or_default();
        let cut = |length: usize| -> Vec<Span> {
            let text: String = whole.iter().take(length).collect();
            vec![Span {
                text: format!("{}…", text.trim_end()),
                ..like.clone()
            }]
        };
        // The longest beginning that fits.
        let (mut fits, mut too_long) = (0, whole.len());
        while too_long - fits > 1 {
            let middle = fits.midpoint(too_long);
            if flow.lines(&cut(middle), self.style, width).len() <= self.lines {
                fits = middle;
            } else {
                too_long = middle;
            }
        }
        let mut lines = flow.lines(&cut(fits), self.style, width);
        lines.truncate(self.lines);
        lines
    }
}
