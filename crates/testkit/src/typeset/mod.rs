//! Checks of set pages, over the scene that they are written from: nothing lies on anything else, nothing leaves the
//! page, and every character has a glyph.
//!
//! Boxes are taken from the fonts' widths and from heights that hold for both families: what is looked for is words on
//! words, not hairs. What may lie on something else is named in `may_touch`.

use std::fmt;

use tangmark_report::font::{Face, MM_PER_POINT};
use tangmark_report::scene::{Child, Draw, NodeId, Role, RubyPart, Scene, TextDraw};

/// How far boxes may reach into one another before it is seen, mm.
const TOLERANCE: f64 = 0.12;

/// Edge of the paper that no printer reaches and no mark may lie in, mm.
const UNPRINTABLE: f64 = 5.0;

/// Least distance of words from the sides of the paper, mm. The frame of the text is 24 and 20 mm inside; the stamp and
/// the footer stand further out.
const SIDE: f64 = 12.0;

/// Share of the size above the base line that a line of text takes, and below it.
const ABOVE: f64 = 0.78;
const BELOW: f64 = 0.16;

/// What is wrong with a page.
#[derive(Debug, Clone, PartialEq)]
pub struct Fault {
    /// Page, from 1.
    pub page: usize,
    /// Kind of fault.
    pub kind: FaultKind,
    /// What and where.
    pub what: String,
}

/// Kinds of faults.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum FaultKind {
    /// Two texts lie on one another.
    TextOnText,
    /// A text lies on a figure that it does not belong to.
    TextOnFigure,
    /// Two figures lie on one another.
    FigureOnFigure,
    /// A text is too near to the side of the paper.
    Margin,
    /// A mark lies outside of the page or where no printer reaches.
    Outside,
    /// A character has no glyph.
    Glyph,
    /// A figure has no box.
    NoBox,
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "page {}: {:?}: {}", self.page, self.kind, self.what)
    }
}

/// Left, top, right, bottom, mm.
type Box4 = [f64; 4];

/// How far two boxes reach into one another, across and down; negative when they do not.
fn common([a, b]: [Box4; 2]) -> [f64; 2] {
    [
        a[2].min(b[2]) - a[0].max(b[0]),
        a[3].min(b[3]) - a[1].max(b[1]),
    ]
}

fn lie_on_another(a: Box4, b: Box4) -> bool {
    common([a, b]).iter().all(|length| *length > TOLERANCE)
}

fn text_box(text: &TextDraw) -> Box4 {
    let size = text.size * MM_PER_POINT;
    let width = Face::of(text.weight).width(&text.text, text.size, text.tabular);
    [
        text.x,
        text.y - ABOVE * size,
        text.x + width,
        text.y + BELOW * size,
    ]
}

/// A text on a page with the node it belongs to.
struct Placed<'s> {
    text: &'s TextDraw,
    at: Box4,
    node: Option<NodeId>,
}

/// A figure on a page.
struct Figure {
    node: NodeId,
    at: Box4,
    name: String,
}

/// The rule of what may touch: a word and its own reading.
fn may_touch(scene: &Scene, first: &Placed<'_>, second: &Placed<'_>) -> bool {
    let parts = [first.text.ruby, second.text.ruby];
    let together = ruby_of(scene, first).is_some_and(|ruby| ruby_of(scene, second) == Some(ruby));
    together && parts.contains(&RubyPart::Base) && parts.contains(&RubyPart::Reading)
}

/// The node that holds a word with its reading, of one of the two.
fn ruby_of(scene: &Scene, placed: &Placed<'_>) -> Option<NodeId> {
    let parent = scene.nodes.get(placed.node?.0)?.parent?;
    (scene.nodes.get(parent.0)?.role == Role::Ruby).then_some(parent)
}

/// Checks all pages of a scene.
pub fn faults(scene: &Scene) -> Vec<Fault> {
    let mut found = Vec::new();
    for page in 0..scene.pages.len() {
        check_page(scene, page, &mut found);
    }
    found
}

fn check_page(scene: &Scene, page: usize, found: &mut Vec<Fault>) {
    let mut tell = |kind: FaultKind, what: String| {
        found.push(Fault {
            page: page + 1,
            kind,
            what,
        });
    };
    let texts = texts(scene, page);
    let figures = figures(scene, page, &mut tell);
    marks(scene, page, &mut tell);
    for placed in &texts {
        for character in placed.text.text.chars() {
            if !character.is_whitespace() && !Face::of(placed.text.weight).covers(character) {
                tell(FaultKind::Glyph, format!("U+{:04X}", u32::from(character)));
            }
        }
    }
    for (index, first) in texts.iter().enumerate() {
        for second in &texts[index + 1..] {
            if lie_on_another(first.at, second.at) && !may_touch(scene, first, second) {
                let [a, b] = [&first.text.text, &second.text.text];
                tell(
                    FaultKind::TextOnText,
                    format!("`{a}` and `{b}` at {:.1?}", first.at),
                );
            }
        }
        for figure in &figures {
            if lie_on_another(first.at, figure.at) && !belongs(scene, first.node, figure.node) {
                tell(
                    FaultKind::TextOnFigure,
                    format!("`{}` on {}", first.text.text, figure.name),
                );
            }
        }
    }
    for (index, first) in figures.iter().enumerate() {
        for second in &figures[index + 1..] {
            if lie_on_another(first.at, second.at)
                && !belongs(scene, Some(first.node), second.node)
                && !belongs(scene, Some(second.node), first.node)
            {
                tell(
                    FaultKind::FigureOnFigure,
                    format!("{} and {}", first.name, second.name),
                );
            }
        }
    }
}

fn texts(scene: &Scene, page: usize) -> Vec<Placed<'_>> {
    let groups = scene
        .pages
        .get(page)
        .into_iter()
        .flat_map(|page| &page.groups);
    groups
        .flat_map(|group| group.draws.iter().map(|draw| (group.node, draw)))
        .filter_map(|(node, draw)| match draw {
            Draw::Text(text) if !text.text.trim().is_empty() => Some(Placed {
                text,
                at: text_box(text),
                node,
            }),
            _ => None,
        })
        .collect()
}

/// Whether a node is another one or lies in it.
fn belongs(scene: &Scene, node: Option<NodeId>, to: NodeId) -> bool {
    let mut next = node;
    while let Some(id) = next {
        if id == to {
            return true;
        }
        next = scene.nodes.get(id.0).and_then(|node| node.parent);
    }
    false
}

fn figures(scene: &Scene, page: usize, tell: &mut impl FnMut(FaultKind, String)) -> Vec<Figure> {
    let mut figures = Vec::new();
    for (index, node) in scene.nodes.iter().enumerate() {
        let here = node
            .children
            .iter()
            .any(|child| matches!(child, Child::Marks(on, _) if *on == page));
        if node.role != Role::Figure || !here {
            continue;
        }
        let said = node
            .alternative
            .as_deref()
            .unwrap_or("figure without words");
        let name: String = said.chars().take(40).collect();
        match node.bounds {
            Some([x, y, width, height]) => figures.push(Figure {
                node: NodeId(index),
                at: [x, y, x + width, y + height],
                name,
            }),
            None => tell(FaultKind::NoBox, name),
        }
    }
    figures
}

/// Marks that leave the page, and words too near to its sides.
fn marks(scene: &Scene, page: usize, tell: &mut impl FnMut(FaultKind, String)) {
    let Some(sheet) = scene.pages.get(page) else {
        return;
    };
    let reach = [
        UNPRINTABLE,
        UNPRINTABLE,
        sheet.width - UNPRINTABLE,
        sheet.height - UNPRINTABLE,
    ];
    let leaves = |at: Box4| {
        at[0] < reach[0]
            || at[1] < reach[1]
            || at[2] > reach[2]
            || at[3] > reach[3]
            || at.iter().any(|side| !side.is_finite())
    };
    for draw in sheet.groups.iter().flat_map(|group| &group.draws) {
        let (at, name) = match draw {
            Draw::Text(text) => {
                let at = text_box(text);
                if at[0] < SIDE || at[2] > sheet.width - SIDE {
                    tell(FaultKind::Margin, format!("`{}` at {at:.1?}", text.text));
                }
                (at, text.text.clone())
            }
            Draw::Image(image) => {
                let [x, y] = [image.x, image.y];
                (
                    [x, y, x + image.width, y + image.height],
                    "a picture".to_owned(),
                )
            }
            Draw::Path(path) => {
                let half = path
                    .stroke
                    .as_ref()
                    .map_or(0.0, |stroke| stroke.width / 2.0);
                let mut at = [
                    f64::INFINITY,
                    f64::INFINITY,
                    f64::NEG_INFINITY,
                    f64::NEG_INFINITY,
                ];
                for [x, y] in path.path.points() {
                    at = [
                        at[0].min(x - half),
                        at[1].min(y - half),
                        at[2].max(x + half),
                        at[3].max(y + half),
                    ];
                }
                if path.path.is_empty() {
                    continue;
                }
                (at, "a path".to_owned())
            }
        };
        if leaves(at) {
            tell(FaultKind::Outside, format!("{name} at {at:.1?}"));
        }
    }
}

#[cfg(test)]
mod tests;
