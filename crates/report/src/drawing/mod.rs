//! Drawings made from numbers.

pub(crate) mod chart;
pub(crate) mod map;
pub(crate) mod profile;
pub(crate) mod qr;
mod symbol;
pub(crate) mod symbols;

use crate::{
    font::Face,
    layout::{Span, Style, break_lines, draw_line},
    scene::{Colour, Draw, Path, PathDraw, Stroke},
};

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

/// Where a word in a drawing stands relative to its place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Anchor {
    Left,
    Middle,
    Right,
}

/// One line of words with the middle of its height at `y`. The words must be drawable.
pub(crate) fn words(text: &str, style: Style, x: f64, y: f64, anchor: Anchor) -> Vec<Draw> {
    let lines = break_lines(&[Span::plain(text)], style, f64::INFINITY);
    let Some(line) = lines.first() else {
        return Vec::new();
    };
    let left = match anchor {
        Anchor::Left => x,
        Anchor::Middle => x - line.width / 2.0,
        Anchor::Right => x - line.width,
    };
    draw_line(line, style, left, y - style.leading / 2.0)
}

/// Width of words in a drawing, mm.
pub(crate) fn words_width(text: &str, style: Style) -> f64 {
    Face::of(style.weight).width(text, style.size, false)
}
