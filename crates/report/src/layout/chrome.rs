//! Header and footer of every page.

use std::collections::BTreeSet;

use super::{Flow, Line, Span, break_lines, draw_line, style};
use crate::{
    scene::{Draw, Path, PathDraw, Role, Scene, Stroke},
    speech::pair,
};

/// From the top of the text up to the header, mm.
const HEAD: f64 = 10.0;
/// Width kept free for the page number, mm.
const NUMBER: f64 = 34.0;

/// What stands on every page.
pub(crate) struct Chrome {
    /// First line of the footer: the record's name.
    pub(crate) name: String,
    /// Second line of the footer: fingerprint of the issuer's key.
    pub(crate) fingerprint: String,
    /// Left in the header from page 2 on: which blade.
    pub(crate) running_head: String,
    /// A mark in the header of every page.
    pub(crate) mark: Option<String>,
}

impl Flow {
    /// Puts header and footer on every page and returns the scene.
    pub(crate) fn finish(mut self, chrome: &Chrome) -> (Scene, BTreeSet<char>) {
        let total = self.scene.pages.len();
        let mark = chrome.mark.as_ref().and_then(|mark| {
            let spans = [Span::bold(mark.clone())];
            let width = self.frame.text_width();
            self.lines(&spans, style::CHROME, width).into_iter().next()
        });
        for page in 0..total {
            let mut draws = self.head(chrome, mark.as_ref(), page);
            if let Some(mark) = &mark {
                draws.extend(self.mark(mark, page));
            }
            draws.extend(self.foot(chrome, page, total));
            self.scene.put_pagination(page, draws);
        }
        (self.scene, self.missing)
    }

    /// Which blade, from page 2 on; it ends before the mark, its frame and a gap.
    fn head(&mut self, chrome: &Chrome, mark: Option<&Line>, page: usize) -> Vec<Draw> {
        if page == 0 {
            return Vec::new();
        }
        let frame = self.frame;
        let mark = mark.map_or(0.0, |line| line.width + 3.2 + 4.0);
        let width = (frame.text_width() - mark).min(frame.text_width() * 0.6);
        let spans = [Span::plain(chrome.running_head.clone())];
        let lines = self.lines(&spans, style::CHROME, width);
        first_line(&lines, frame.left, frame.top - HEAD)
    }

    /// Draws the mark. On page 1 its words are the first that are read out; on later pages they come again because of the
    /// page break, as the rest of the header does.
    fn mark(&mut self, line: &Line, page: usize) -> Vec<Draw> {
        let top = self.frame.top - HEAD;
        let left = self.frame.width - self.frame.right - line.width - 1.6;
        let mut draws = draw_line(line, style::CHROME, left, top);
        if page == 0 {
            let node = self.scene.add_first_node(Role::Paragraph);
            self.scene.put(page, Some(node), std::mem::take(&mut draws));
        }
        let path = Path::rectangle(
            left - 1.6,
            top - 0.7,
            line.width + 3.2,
            style::CHROME.leading + 1.4,
        );
        draws.push(Draw::Path(PathDraw {
            path,
            fill: None,
            stroke: Some(Stroke::solid(style::INK, 0.25)),
        }));
        draws
    }

    fn foot(&mut self, chrome: &Chrome, page: usize, total: usize) -> Vec<Draw> {
        let frame = self.frame;
        let right_edge = frame.width - frame.right;
        let top = frame.height - frame.bottom + 8.0;
        let rule = Path::line(frame.left, top - 1.8, right_edge, top - 1.8);
        let mut draws = vec![Draw::Path(PathDraw {
            path: rule,
            fill: None,
            stroke: Some(Stroke::solid(style::HAIR, 0.15)),
        })];
        let number = self.speech.text(&pair(
            format!("page {} of {total}", page + 1),
            format!("{} ／ {total} ページ", page + 1),
        ));
        let number = break_lines(&[Span::figures(number)], style::CHROME, f64::INFINITY);
        if let Some(line) = number.first() {
            let left = right_edge - line.width;
            draws.extend(draw_line(line, style::CHROME, left, top));
        }
        let mut y = top;
        for text in [&chrome.name, &chrome.fingerprint] {
            let width = frame.text_width() - NUMBER;
            for line in self.lines(&[Span::figures(text.clone())], style::CHROME, width) {
                draws.extend(draw_line(&line, style::CHROME, frame.left, y));
                y += style::CHROME.leading;
            }
        }
        draws
    }
}

fn first_line(lines: &[Line], x: f64, y: f64) -> Vec<Draw> {
    lines
        .first()
        .map(|line| draw_line(line, style::CHROME, x, y))
        .unwrap_or_default()
}
