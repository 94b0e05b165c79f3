//! A place on a page that moves down and on.

use std::collections::BTreeSet;

use super::{Line, Span, Style, break_lines, draw_line, page_format::Frame, style};
use crate::{
    font,
    scene::{Bookmark, Draw, Language, NodeId, Path, PathDraw, Role, Scene, Stroke},
    speech::{Pair, Speech},
};

/// Space between two columns of text, mm.
const COLUMN_GAP: f64 = 6.0;

/// A drawing or picture to be set with its caption.
pub(crate) struct FigureSpec<'a> {
    /// What it shows, in words that stand alone.
    pub(crate) alternative: String,
    /// Distance from the left edge of the text, mm.
    pub(crate) x: f64,
    /// Width, mm.
    pub(crate) width: f64,
    /// Height, mm.
    pub(crate) height: f64,
    /// Draws it into the box with the upper left corner given.
    pub(crate) draw: &'a dyn Fn(f64, f64) -> Vec<Draw>,
}

/// What stands on every page.
pub(crate) struct Chrome {
    /// Left in the footer: the record's name.
    pub(crate) name: String,
    /// Left in the header from page 2 on: which blade.
    pub(crate) running_head: String,
    /// A mark in the header of every page.
    pub(crate) mark: Option<String>,
}

/// Pages being set.
pub(crate) struct Flow {
    pub(crate) scene: Scene,
    pub(crate) frame: Frame,
    pub(crate) page: usize,
    pub(crate) y: f64,
    /// The section that blocks belong to.
    pub(crate) section: Option<NodeId>,
    /// Characters shown as code points.
    pub(crate) missing: BTreeSet<char>,
    /// Which language the pages speak.
    pub(crate) speech: Speech,
}

impl Flow {
    /// Starts with an empty first page.
    pub(crate) fn new(frame: Frame, speech: Speech) -> Self {
        let mut scene = Scene {
            language: speech.document(),
            ..Scene::default()
        };
        let page = scene.add_page(frame.width, frame.height);
        Self {
            scene,
            frame,
            page,
            y: frame.top,
            section: None,
            missing: BTreeSet::new(),
            speech,
        }
    }

    /// Height left on the page, mm.
    pub(crate) fn remaining(&self) -> f64 {
        self.frame.height - self.frame.bottom - self.y
    }

    /// Moves to the next page; adds one after the last.
    pub(crate) fn next_page(&mut self) {
        self.page += 1;
        if self.page == self.scene.pages.len() {
            self.scene.add_page(self.frame.width, self.frame.height);
        }
        self.y = self.frame.top;
    }

    /// Moves to a new page unless `height` mm are left here. What is higher than a page starts at the top of one.
    pub(crate) fn ensure(&mut self, height: f64) {
        if self.remaining() + 1e-6 < height && self.y > self.frame.top {
            self.next_page();
        }
    }

    /// Leaves a gap, but not at the top of a page.
    pub(crate) fn gap(&mut self, height: f64) {
        if self.y > self.frame.top {
            self.y += height;
        }
    }

    /// Makes text drawable and remembers what was missing.
    pub(crate) fn drawable(&mut self, spans: &[Span]) -> Vec<Span> {
        spans
            .iter()
            .map(|span| {
                let parts: Vec<_> = span
                    .text
                    .split('\n')
                    .map(|part| font::drawable(part.trim_end_matches('\r')))
                    .collect();
                self.missing
                    .extend(parts.iter().flat_map(|part| part.missing.iter()));
                let text = parts
                    .into_iter()
                    .map(|part| part.text)
                    .collect::<Vec<_>>()
                    .join("\n");
                Span {
                    text,
                    ..span.clone()
                }
            })
            .collect()
    }

    /// Breaks text into lines after making it drawable.
    pub(crate) fn lines(&mut self, spans: &[Span], style: Style, width: f64) -> Vec<Line> {
        let spans = self.drawable(spans);
        break_lines(&spans, style, width)
    }

    /// Adds a node under the current section.
    pub(crate) fn node(&mut self, role: Role) -> NodeId {
        self.scene.add_node(role, self.section)
    }

    /// Starts a section with its heading; `keep` mm must follow on the same page.
    pub(crate) fn heading(&mut self, title: &str, keep: f64) {
        self.gap(7.0);
        let spans = [Span::plain(title)];
        let lines = self.lines(&spans, style::SECTION, self.frame.text_width());
        let height = 2.6 + style::SECTION.leading * count(lines.len()) + 1.6;
        self.ensure(height + keep);
        self.section = Some(self.scene.add_node(Role::Section, None));
        self.rule(self.frame.left, 12.0, 0.7, style::INDIGO);
        let top = self.y;
        self.y += 2.6;
        let node = self.node(Role::Heading2);
        self.set_lines(node, &lines, style::SECTION, self.frame.left);
        self.y += 1.6;
        self.scene.bookmarks.push(Bookmark {
            title: font::drawable(title).text,
            level: 2,
            page: self.page,
            y: top - 2.0,
        });
    }

    /// Sets a heading inside a section; `keep` mm must follow on the same page.
    pub(crate) fn subheading(&mut self, title: &str, keep: f64) {
        self.gap(3.6);
        let lines = self.lines(
            &[Span::plain(title)],
            style::SUBSECTION,
            self.frame.text_width(),
        );
        let height = style::SUBSECTION.leading * count(lines.len());
        self.ensure(height + keep);
        let node = self.node(Role::Heading3);
        self.set_lines(node, &lines, style::SUBSECTION, self.frame.left);
        self.y += 0.6;
    }

    /// Sets a paragraph.
    pub(crate) fn paragraph(&mut self, spans: &[Span], style: Style) {
        self.paragraph_at(spans, style, 0.0, self.frame.text_width());
    }

    /// Sets a paragraph in a part of the width.
    pub(crate) fn paragraph_at(&mut self, spans: &[Span], style: Style, indent: f64, width: f64) {
        if spans.iter().all(|span| span.text.is_empty()) {
            return;
        }
        let lines = self.lines(spans, style, width);
        let node = self.node(Role::Paragraph);
        // Two lines at least stay together.
        self.ensure(style.leading * count(lines.len().min(2)));
        self.set_lines(node, &lines, style, self.frame.left + indent);
    }

    /// Says something in the language of the report; in both, as two columns side by side.
    pub(crate) fn say(&mut self, words: &Pair, style: Style) {
        let english = Span::plain(words.en.clone()).in_language(Language::English);
        let japanese = Span::plain(words.ja.clone()).in_language(Language::Japanese);
        match self.speech {
            Speech::English => self.paragraph(&[english], style),
            Speech::Japanese => self.paragraph(&[japanese], style),
            Speech::Both => self.side_by_side(&[english], &[japanese], style),
        }
    }

    /// Sets two paragraphs beside each other, the left one read first.
    pub(crate) fn side_by_side(&mut self, left: &[Span], right: &[Span], style: Style) {
        let width = (self.frame.text_width() - COLUMN_GAP) / 2.0;
        let columns = [
            self.lines(left, style, width),
            self.lines(right, style, width),
        ];
        let longest = columns.iter().map(Vec::len).max().unwrap_or(0);
        self.ensure(style.leading * count(longest.min(2)));
        let (page, top) = (self.page, self.y);
        let mut end = (page, top);
        for (index, lines) in columns.iter().enumerate() {
            (self.page, self.y) = (page, top);
            let x = self.frame.left + count(index) * (width + COLUMN_GAP);
            let node = self.node(Role::Paragraph);
            self.set_lines(node, lines, style, x);
            if (self.page, self.y) > end {
                end = (self.page, self.y);
            }
        }
        (self.page, self.y) = end;
    }

    /// Sets a list; each item keeps its first two lines together.
    pub(crate) fn list(&mut self, items: &[Vec<Span>], style: Style) {
        if items.is_empty() {
            return;
        }
        let list = self.node(Role::List);
        let indent = 4.0;
        for item in items {
            let lines = self.lines(item, style, self.frame.text_width() - indent);
            self.ensure(style.leading * count(lines.len().min(2)));
            let node = self.scene.add_node(Role::ListItem, Some(list));
            let label = self.scene.add_node(Role::Label, Some(node));
            let bullet = break_lines(&[Span::plain("–")], style, indent);
            if let Some(bullet) = bullet.first() {
                let draws = draw_line(bullet, style, self.frame.left, self.y);
                self.scene.put(self.page, Some(label), draws);
            }
            let body = self.scene.add_node(Role::ListBody, Some(node));
            self.set_lines(body, &lines, style, self.frame.left + indent);
            self.y += 0.8;
        }
    }

    /// Sets lines under a node, going on to new pages where needed.
    pub(crate) fn set_lines(&mut self, node: NodeId, lines: &[Line], style: Style, x: f64) {
        let mut draws = Vec::new();
        for line in lines {
            if self.remaining() + 1e-6 < style.leading {
                self.scene
                    .put(self.page, Some(node), std::mem::take(&mut draws));
                self.next_page();
            }
            draws.extend(draw_line(line, style, x, self.y));
            self.y += style.leading;
        }
        self.scene.put(self.page, Some(node), draws);
    }

    /// Draws a rule at the current height, as decoration.
    pub(crate) fn rule(
        &mut self,
        x: f64,
        width: f64,
        thickness: f64,
        colour: crate::scene::Colour,
    ) {
        let y = self.y + thickness / 2.0;
        let path = PathDraw {
            path: Path::line(x, y, x + width, y),
            fill: None,
            stroke: Some(Stroke::solid(colour, thickness)),
        };
        self.scene.put(self.page, None, vec![Draw::Path(path)]);
    }

    /// Sets a figure on one page and moves below it.
    pub(crate) fn figure(&mut self, figure: &FigureSpec<'_>) {
        self.ensure(figure.height);
        self.figure_here(figure);
        self.y += figure.height;
    }

    /// Sets a figure at the current height without moving.
    pub(crate) fn figure_here(&mut self, figure: &FigureSpec<'_>) {
        let (x, y) = (self.frame.left + figure.x, self.y);
        let node = self.node(Role::Figure);
        if let Some(entry) = self.scene.nodes.get_mut(node.0) {
            entry.alternative = Some(
                font::drawable(&figure.alternative)
                    .text
                    .replace('\u{a0}', " "),
            );
            entry.bounds = Some([x, y, figure.width, figure.height]);
        }
        let draws = (figure.draw)(x, y);
        self.scene.put(self.page, Some(node), draws);
    }

    /// Puts header and footer on every page and returns the scene.
    pub(crate) fn finish(mut self, chrome: &Chrome) -> (Scene, BTreeSet<char>) {
        let total = self.scene.pages.len();
        let frame = self.frame;
        let right_edge = frame.width - frame.right;
        for page in 0..total {
            let mut draws = Vec::new();
            let header = frame.top - 10.0;
            if page > 0 {
                let width = frame.text_width() * 0.6;
                let lines = self.lines(
                    &[Span::plain(chrome.running_head.clone())],
                    style::CHROME,
                    width,
                );
                draws.extend(
                    lines
                        .first()
                        .map(|line| draw_line(line, style::CHROME, frame.left, header))
                        .unwrap_or_default(),
                );
            }
            if let Some(mark) = &chrome.mark {
                let lines = self.lines(
                    &[Span::bold(mark.clone())],
                    style::CHROME,
                    frame.text_width(),
                );
                if let Some(line) = lines.first() {
                    let left = right_edge - line.width - 1.6;
                    draws.extend(draw_line(line, style::CHROME, left, header));
                    let path = Path::rectangle(
                        left - 1.6,
                        header - 0.7,
                        line.width + 3.2,
                        style::CHROME.leading + 1.4,
                    );
                    draws.push(Draw::Path(PathDraw {
                        path,
                        fill: None,
                        stroke: Some(Stroke::solid(style::INK, 0.25)),
                    }));
                }
            }
            let footer = frame.height - frame.bottom + 8.0;
            let rule = Path::line(frame.left, footer - 1.8, right_edge, footer - 1.8);
            draws.push(Draw::Path(PathDraw {
                path: rule,
                fill: None,
                stroke: Some(Stroke::solid(style::HAIR, 0.15)),
            }));
            let number = break_lines(
                &[Span::figures(format!("page {} of {total}", page + 1))],
                style::CHROME,
                40.0,
            );
            if let Some(line) = number.first() {
                draws.extend(draw_line(
                    line,
                    style::CHROME,
                    right_edge - line.width,
                    footer,
                ));
            }
            let name = self.lines(
                &[Span::figures(chrome.name.clone())],
                style::CHROME,
                frame.text_width() - 30.0,
            );
            for (index, line) in name.iter().enumerate() {
                draws.extend(draw_line(
                    line,
                    style::CHROME,
                    frame.left,
                    footer + style::CHROME.leading * count(index),
                ));
            }
            self.scene.put_pagination(page, draws);
        }
        (self.scene, self.missing)
    }
}

/// A count as a factor of lengths.
pub(crate) fn count(number: usize) -> f64 {
    number as f64
}
