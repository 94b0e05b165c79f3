//! The one model that every drawing and page is made of, before any file format.
//!
//! Lengths are millimetres, x to the right, y **down**, from the upper left corner of the page.
//! Text sizes are points. A scene knows nothing of SVG or PDF: both are written from it, so no
//! drawing exists twice.

mod orientation;
mod path;
mod picture;

pub use orientation::swaps_sides;
pub(crate) use orientation::upright;
pub use path::{Path, Segment};
pub use picture::Image;
use tangmark_core::Digest;

use crate::font::{FontSet, Weight};

/// An sRGB colour, eight bits a channel.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Colour(pub u8, pub u8, pub u8);

impl Colour {
    /// Black.
    pub const BLACK: Self = Self(0, 0, 0);
    /// White.
    pub const WHITE: Self = Self(255, 255, 255);
}

/// What a group of marks means to a reader who cannot see the page.
///
/// Source: the standard structure types of ISO 32000-1, 14.8.4.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Role {
    /// Part of the report under one heading.
    Section,
    /// Heading of the whole report.
    Heading1,
    /// Heading of a section.
    Heading2,
    /// Heading inside a section.
    Heading3,
    /// Paragraph.
    Paragraph,
    /// Words in another language inside a paragraph, cell or item.
    Span,
    /// A word with its reading.
    Ruby,
    /// The word that is read.
    RubyBase,
    /// The reading, in kana.
    RubyText,
    /// List.
    List,
    /// Item of a list.
    ListItem,
    /// Number or bullet of an item.
    Label,
    /// Text of an item.
    ListBody,
    /// Table.
    Table,
    /// Row of a table.
    TableRow,
    /// Header cell of a column.
    ColumnHeader,
    /// Header cell of a row.
    RowHeader,
    /// Cell with data.
    TableCell,
    /// Drawing or picture; needs an alternative text.
    Figure,
    /// Caption of a figure or table.
    Caption,
    /// Form field (the signature).
    Form,
}

/// Place of a node in [`Scene::nodes`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct NodeId(pub usize);

/// What lies in a node, in reading order.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Child {
    /// Another node.
    Node(NodeId),
    /// Marks on a page: page index, and index into [`Page::groups`].
    Marks(usize, usize),
}

/// One element of the structure tree.
#[derive(Debug, Clone, PartialEq)]
pub struct Node {
    /// What it is.
    pub role: Role,
    /// The node it lies in; none for the top level.
    pub parent: Option<NodeId>,
    /// What a figure shows, in words.
    pub alternative: Option<String>,
    /// Box on the page (x, y, width, height in mm), for figures.
    pub bounds: Option<[f64; 4]>,
    /// Language, where it is not the document's.
    pub language: Option<Language>,
    /// What it holds, in reading order.
    pub children: Vec<Child>,
}

/// One mark on a page.
#[derive(Debug, Clone, PartialEq)]
pub enum Draw {
    /// A path, filled, stroked or both.
    Path(PathDraw),
    /// A run of text.
    Text(TextDraw),
    /// A picture.
    Image(ImageDraw),
}

impl Draw {
    /// Language of a text that is not in the document's language.
    fn foreign_language(&self, document: Language) -> Option<Language> {
        match self {
            Self::Text(text) if text.language != document => Some(text.language),
            _ => None,
        }
    }

    /// What a text has to do with a reading above a word.
    fn ruby(&self) -> RubyPart {
        match self {
            Self::Text(text) => text.ruby,
            _ => RubyPart::None,
        }
    }
}

/// A path with the way it is painted.
#[derive(Debug, Clone, PartialEq)]
pub struct PathDraw {
    /// The path.
    pub path: Path,
    /// Fill, by the non-zero winding rule.
    pub fill: Option<Colour>,
    /// Stroke.
    pub stroke: Option<Stroke>,
}

/// A stroke: round joins, butt ends.
#[derive(Debug, Clone, PartialEq)]
pub struct Stroke {
    /// Colour.
    pub colour: Colour,
    /// Width in mm.
    pub width: f64,
    /// Lengths of dash and gap in mm; empty for a solid line.
    pub dash: Vec<f64>,
}

impl Stroke {
    /// A solid line.
    pub const fn solid(colour: Colour, width: f64) -> Self {
        Self {
            colour,
            width,
            dash: Vec::new(),
        }
    }

    /// A dashed line, dash and gap in mm.
    pub fn dashed(colour: Colour, width: f64, dash: f64, gap: f64) -> Self {
        Self {
            colour,
            width,
            dash: vec![dash, gap],
        }
    }
}

/// Language of a run of text.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Language {
    /// English.
    #[default]
    English,
    /// Japanese.
    Japanese,
}

impl Language {
    /// Returns the BCP 47 tag.
    pub const fn tag(self) -> &'static str {
        match self {
            Self::English => "en",
            Self::Japanese => "ja",
        }
    }
}

/// A run of text in one weight, size and language.
#[derive(Debug, Clone, PartialEq)]
pub struct TextDraw {
    /// Left end of the base line, mm.
    pub x: f64,
    /// Base line, mm.
    pub y: f64,
    /// Size in points.
    pub size: f64,
    /// Weight.
    pub weight: Weight,
    /// Colour.
    pub colour: Colour,
    /// Language.
    pub language: Language,
    /// Whether figures share one width.
    pub tabular: bool,
    /// Whether it is a word with its reading above, or that reading.
    pub ruby: RubyPart,
    /// The text: only characters that the fonts have, see [`crate::font::drawable`].
    pub text: String,
}

/// What a text has to do with a reading in small kana above a word (furigana, ruby).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum RubyPart {
    /// Nothing.
    #[default]
    None,
    /// The word, or a part of it; its reading follows.
    Base,
    /// The reading of the word before it.
    Reading,
}

/// A picture placed on a page.
#[derive(Debug, Clone, PartialEq)]
pub struct ImageDraw {
    /// Digest that names the picture in [`Scene::images`].
    pub digest: Digest,
    /// Left edge of the box, mm.
    pub x: f64,
    /// Upper edge of the box, mm.
    pub y: f64,
    /// Width of the box, mm, after turning upright.
    pub width: f64,
    /// Height of the box, mm, after turning upright.
    pub height: f64,
    /// EXIF orientation 1 to 8 in which the pixels are stored.
    pub orientation: u8,
}

/// Marks that belong together.
#[derive(Debug, Clone, PartialEq)]
pub struct Group {
    /// The node they belong to; none for decoration that a screen reader skips.
    pub node: Option<NodeId>,
    /// Without a node: whether they are there because of the page break (header, footer, repeated
    /// column titles) and not as ornament.
    pub pagination: bool,
    /// The marks, painted in order.
    pub draws: Vec<Draw>,
}

/// One page.
#[derive(Debug, Clone, PartialEq)]
pub struct Page {
    /// Width, mm.
    pub width: f64,
    /// Height, mm.
    pub height: f64,
    /// Groups, painted in order.
    pub groups: Vec<Group>,
}

/// A line of the outline (bookmarks).
#[derive(Debug, Clone, PartialEq)]
pub struct Bookmark {
    /// Heading.
    pub title: String,
    /// 1 for the report, 2 for a section.
    pub level: u8,
    /// Page index.
    pub page: usize,
    /// Height on the page, mm from its upper edge.
    pub y: f64,
}

/// Where the signature field lies.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SignatureField {
    /// Page index.
    pub page: usize,
    /// Box: x, y, width, height, mm.
    pub bounds: [f64; 4],
    /// The form node it is tagged under.
    pub node: NodeId,
}

/// A whole document.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Scene {
    /// Language of the document; text in another one is marked.
    pub language: Language,
    /// Fonts it was set with; the set in use unless given.
    pub fonts: FontSet,
    /// Pages.
    pub pages: Vec<Page>,
    /// Structure, parents before children.
    pub nodes: Vec<Node>,
    /// Top of the structure, in reading order.
    pub roots: Vec<NodeId>,
    /// Pictures, each once.
    pub images: Vec<Image>,
    /// Outline.
    pub bookmarks: Vec<Bookmark>,
    /// Signature field, if the document is to be signed.
    pub signature: Option<SignatureField>,
}

impl Scene {
    /// Adds an empty page and returns its index.
    pub fn add_page(&mut self, width: f64, height: f64) -> usize {
        self.pages.push(Page {
            width,
            height,
            groups: Vec::new(),
        });
        self.pages.len() - 1
    }

    /// Adds a node under `parent` and returns it.
    pub fn add_node(&mut self, role: Role, parent: Option<NodeId>) -> NodeId {
        let id = NodeId(self.nodes.len());
        self.nodes.push(Node {
            role,
            parent,
            alternative: None,
            bounds: None,
            language: None,
            children: Vec::new(),
        });
        match parent.and_then(|parent| self.nodes.get_mut(parent.0)) {
            Some(parent) => parent.children.push(Child::Node(id)),
            None => self.roots.push(id),
        }
        id
    }

    /// Adds a node that is read before all others and returns it.
    pub fn add_first_node(&mut self, role: Role) -> NodeId {
        let id = self.add_node(role, None);
        self.roots.rotate_right(1);
        id
    }

    /// Puts marks on a page: under a node, or as decoration. Nothing is added for no marks.
    ///
    /// Words in another language than the document's get a node of their own under `node`, so that
    /// they are read out in their language; the inside of a figure stays whole.
    pub fn put(&mut self, page: usize, node: Option<NodeId>, draws: Vec<Draw>) {
        let whole = node
            .and_then(|id| self.nodes.get(id.0))
            .is_none_or(|node| node.role == Role::Figure);
        if whole {
            self.put_group(page, node, draws);
            return;
        }
        let mut draws = draws.into_iter().peekable();
        while let Some(first) = draws.next() {
            let language = first.foreign_language(self.language);
            let ruby = first.ruby();
            let mut part = vec![first];
            while let Some(next) = draws.next_if(|next| {
                next.foreign_language(self.language) == language && next.ruby() == ruby
            }) {
                part.push(next);
            }
            if ruby == RubyPart::Base {
                let mut reading = Vec::new();
                while let Some(next) = draws.next_if(|next| next.ruby() == RubyPart::Reading) {
                    reading.push(next);
                }
                self.put_ruby(page, node, language, [part, reading]);
                continue;
            }
            let own = match language {
                None => node,
                Some(language) => {
                    let span = self.add_node(Role::Span, node);
                    if let Some(entry) = self.nodes.get_mut(span.0) {
                        entry.language = Some(language);
                    }
                    Some(span)
                }
            };
            self.put_group(page, own, part);
        }
    }

    /// Puts a word and its reading on a page.
    ///
    /// Source: the structure types Ruby, RB and RT of ISO 32000-1, 14.8.4.4 (from memory).
    fn put_ruby(
        &mut self,
        page: usize,
        node: Option<NodeId>,
        language: Option<Language>,
        [word, reading]: [Vec<Draw>; 2],
    ) {
        let ruby = self.add_node(Role::Ruby, node);
        if let Some(entry) = self.nodes.get_mut(ruby.0) {
            entry.language = language;
        }
        for (role, draws) in [(Role::RubyBase, word), (Role::RubyText, reading)] {
            let own = self.add_node(role, Some(ruby));
            self.put_group(page, Some(own), draws);
        }
    }

    /// Puts marks on a page that are there because of the page break.
    pub fn put_pagination(&mut self, page: usize, draws: Vec<Draw>) {
        if let (Some(sheet), false) = (self.pages.get_mut(page), draws.is_empty()) {
            sheet.groups.push(Group {
                node: None,
                pagination: true,
                draws,
            });
        }
    }

    fn put_group(&mut self, page: usize, node: Option<NodeId>, draws: Vec<Draw>) {
        if draws.is_empty() {
            return;
        }
        let Some(sheet) = self.pages.get_mut(page) else {
            return;
        };
        sheet.groups.push(Group {
            node,
            pagination: false,
            draws,
        });
        let group = sheet.groups.len() - 1;
        if let Some(node) = node.and_then(|node| self.nodes.get_mut(node.0)) {
            node.children.push(Child::Marks(page, group));
        }
    }

    /// Adds a picture unless it is there already.
    pub fn add_image(&mut self, image: Image) {
        if !self.images.iter().any(|known| known.digest == image.digest) {
            self.images.push(image);
        }
    }
}
