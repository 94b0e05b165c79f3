//! A place on a page that moves down and on.

use std::collections::BTreeSet;

use super::{Line, Span, Style, break_lines, draw_line, glue::Glue, page_format::Frame, style};
use crate::{
    font,
    scene::{Bookmark, Draw, NodeId, Path, PathDraw, Role, Scene, Stroke},
    speech::Speech,
};

/// Most lines of a note that stays with what follows.
pub(super) const LEADING_LINES: usize = 8;

/// Lines of a paragraph of so many that begin together: one alone is not left at the foot of a page, nor one for the next.
pub(super) const fn together(lines: usize) -> usize {
    match lines {
        0..=3 => lines,
        _ => 2,
    }
}

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

/// How pages are made to end well: no last page with one lonely block.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Fit {
    /// Factor of the gaps between blocks.
    pub(crate) spacing: f64,
    /// Whether the last block is said in short.
    pub(crate) brief: bool,
    /// Whether the block before the last one moves to the last page.
    pub(crate) turn: bool,
}

impl Default for Fit {
    fn default() -> Self {
        Self {
            spacing: 1.0,
            brief: false,
            turn: false,
        }
    }
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
    /// What must not be torn from the block that follows.
    pub(super) glue: Option<Glue>,
    /// How the pages are made to end well.
    pub(crate) fit: Fit,
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
            glue: None,
            fit: Fit::default(),
        }
    }

    /// The same empty pages, to be set so that they end well.
    pub(crate) fn fitted(mut self, fit: Fit) -> Self {
        self.fit = fit;
        self
    }

    /// A place at which a report may go to its last page early, so that the last block has company there.
    pub(crate) fn may_turn(&mut self) {
        if self.fit.turn && self.y > self.frame.top {
            self.next_page();
        }
    }

    /// Height left on the page, mm.
    pub(crate) fn remaining(&self) -> f64 {
        self.frame.height - self.frame.bottom - self.y
    }

    /// Height of a page for text, mm.
    pub(crate) fn capacity(&self) -> f64 {
        self.frame.height - self.frame.bottom - self.frame.top
    }

    /// Moves to the next page; adds one after the last.
    pub(crate) fn next_page(&mut self) {
        self.glue = None;
        self.page += 1;
        if self.page == self.scene.pages.len() {
            self.scene.add_page(self.frame.width, self.frame.height);
        }
        self.y = self.frame.top;
    }

    /// Moves to a new page unless `height` mm are left here; a heading right above moves along. What is higher than a page
    /// starts at the top of one.
    pub(crate) fn ensure(&mut self, height: f64) {
        if self.remaining() + 1e-6 < height && self.y > self.frame.top {
            self.break_page();
        }
    }

    /// Leaves a gap, but not at the top of a page.
    pub(crate) fn gap(&mut self, height: f64) {
        if self.y > self.frame.top {
            self.y += height * self.fit.spacing;
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
        self.end_glue();
        self.gap(7.0);
        let spans = [Span::plain(title)];
        let lines = self.lines(&spans, style::SECTION, self.frame.text_width());
        let height = 2.6 + style::SECTION.leading * count(lines.len()) + 1.6;
        self.ensure(height + keep);
        self.begin_glue();
        self.section = Some(self.scene.add_node(Role::Section, None));
        self.rule(self.frame.left, 12.0, 0.7, style::INDIGO);
        let top = self.y;
        self.y += 2.6;
        let node = self.node(Role::Heading2);
        self.put_lines(node, &lines, style::SECTION, self.frame.left);
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
        self.begin_glue();
        let node = self.node(Role::Heading3);
        self.put_lines(node, &lines, style::SUBSECTION, self.frame.left);
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
        // Two lines at least stay together.
        self.ensure(style.leading * count(together(lines.len())));
        let node = self.node(Role::Paragraph);
        // A short note under a heading leads to what it speaks of.
        let leads = style == style::NOTE && self.is_glued() && lines.len() <= LEADING_LINES;
        if leads {
            self.put_lines(node, &lines, style, self.frame.left + indent);
        } else {
            self.set_lines(node, &lines, style, self.frame.left + indent);
        }
    }

    /// Sets lines under a node, going on to new pages where needed: no last line alone on a page.
    pub(crate) fn set_lines(&mut self, node: NodeId, lines: &[Line], style: Style, x: f64) {
        self.end_glue();
        self.put_lines(node, lines, style, x);
    }

    /// As [`Self::set_lines`], for what leads to the block that follows.
    pub(super) fn put_lines(&mut self, node: NodeId, lines: &[Line], style: Style, x: f64) {
        let mut draws = Vec::new();
        let mut since = 0;
        for (index, line) in lines.iter().enumerate() {
            let left = lines.len() - index;
            let room = self.remaining() + 1e-6;
            // The last line but one goes along with the last one.
            let widow = left == 2 && since > 1 && room < 2.0 * style.leading;
            if room < style.leading || widow {
                self.scene
                    .put(self.page, Some(node), std::mem::take(&mut draws));
                self.next_page();
                since = 0;
            }
            draws.extend(draw_line(line, style, x, self.y));
            self.y += style.leading;
            since += 1;
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
        self.end_glue();
        self.scene.put(self.page, Some(node), draws);
    }
}

/// A count as a factor of lengths.
pub(crate) fn count(number: usize) -> f64 {
    number as f64
}
