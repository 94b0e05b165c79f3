//! What must not be torn from what follows: headings, and notes that lead to a table or figure.
//!
//! A heading is drawn where it stands. When the block after it does not fit, all that was set since the heading began
//! moves to the next page with it.

use super::Flow;
use crate::scene::{Child, Draw, Segment};

/// Where glued content begins: on a page, at a height, after so many groups, nodes and bookmarks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Glue {
    page: usize,
    y: f64,
    groups: usize,
    nodes: usize,
    bookmarks: usize,
}

impl Flow {
    /// Whether what stands right above must move along.
    pub(super) fn is_glued(&self) -> bool {
        self.glue.is_some()
    }

    /// Whether all that stands on this page must move along.
    pub(super) fn is_glued_at_top(&self) -> bool {
        self.glue
            .is_some_and(|glue| glue.page == self.page && glue.y <= self.frame.top + 1e-6)
    }

    /// Begins glued content here, unless what stands right above is glued already.
    pub(super) fn begin_glue(&mut self) {
        if self.glue.is_some_and(|glue| glue.page == self.page) {
            return;
        }
        self.glue = Some(Glue {
            page: self.page,
            y: self.y,
            groups: self
                .scene
                .pages
                .get(self.page)
                .map_or(0, |page| page.groups.len()),
            nodes: self.scene.nodes.len(),
            bookmarks: self.scene.bookmarks.len(),
        });
    }

    /// Ends glued content: something was set that may stand at the foot of a page.
    pub(super) fn end_glue(&mut self) {
        self.glue = None;
    }

    /// Moves to the next page, with the glued content above if there is any.
    pub(super) fn break_page(&mut self) {
        let Some(glue) = self.glue.take().filter(|glue| glue.page == self.page) else {
            self.next_page();
            return;
        };
        // Content that fills a page from its top would go on from page to page.
        if glue.y <= self.frame.top + 1e-6 {
            self.next_page();
            return;
        }
        let height = self.y - glue.y;
        let from = self.page;
        let moved = self
            .scene
            .pages
            .get_mut(from)
            .map(|page| page.groups.split_off(glue.groups.min(page.groups.len())))
            .unwrap_or_default();
        self.next_page();
        let shift = self.y - glue.y;
        let Some(page) = self.scene.pages.get_mut(self.page) else {
            return;
        };
        let first = page.groups.len();
        for mut group in moved {
            for draw in &mut group.draws {
                shift_down(draw, shift);
            }
            page.groups.push(group);
        }
        for node in self.scene.nodes.iter_mut().skip(glue.nodes) {
            for child in &mut node.children {
                if let Child::Marks(page, index) = child
                    && *page == from
                    && *index >= glue.groups
                {
                    (*page, *index) = (self.page, *index - glue.groups + first);
                }
            }
        }
        for bookmark in self.scene.bookmarks.iter_mut().skip(glue.bookmarks) {
            bookmark.page = self.page;
            bookmark.y += shift;
        }
        self.y += height;
    }
}

/// Moves a mark down by `by` mm.
fn shift_down(draw: &mut Draw, by: f64) {
    match draw {
        Draw::Text(text) => text.y += by,
        Draw::Image(image) => image.y += by,
        Draw::Path(path) => {
            for segment in &mut path.path.segments {
                shift_segment(segment, by);
            }
        }
    }
}

fn shift_segment(segment: &mut Segment, by: f64) {
    match segment {
        Segment::Move(point) | Segment::Line(point) => point[1] += by,
        Segment::Curve(first, second, end) => {
            for point in [first, second, end] {
                point[1] += by;
            }
        }
        Segment::Close => {}
    }
}
