//! Where the parts of a document stand: lines, columns, and a tree of them.

use std::fmt;

/// A place in a text: line and column, both counted from 1.
///
/// Lines end at U+000A. A column is counted in Unicode scalar values, so a tab, a kanji and a
/// combining mark are one column each.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Position {
    /// Line, from 1.
    pub line: usize,
    /// Column in Unicode scalar values, from 1.
    pub column: usize,
}

impl Position {
    const START: Self = Self { line: 1, column: 1 };

    /// The position after `bytes` when `self` is the position before them.
    fn after(mut self, bytes: &[u8]) -> Self {
        for &byte in bytes {
            if byte == b'\n' {
                self.line += 1;
                self.column = 1;
            } else if !is_continuation(byte) {
                self.column += 1;
            }
        }
        self
    }
}

impl fmt::Display for Position {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "line {}, column {}", self.line, self.column)
    }
}

/// Whether `byte` is a second or later byte of a UTF-8 sequence.
const fn is_continuation(byte: u8) -> bool {
    byte & 0b1100_0000 == 0b1000_0000
}

/// Returns the line and column of the byte at `offset`, which should start a character.
///
/// An offset past the end means the end. Works on bytes, so that a place in text that is not
/// UTF-8 can be named too.
pub fn line_column(bytes: &[u8], offset: usize) -> Position {
    Position::START.after(&bytes[..offset.min(bytes.len())])
}

/// Line and column of every value and every key of a document.
///
/// Kept as a tree, not as a map from pointers: a long key with many values under it would
/// otherwise be stored once for each of them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Positions {
    root: Node,
}

#[derive(Debug, Clone, PartialEq, Eq)]
struct Node {
    value: Position,
    /// Key and its place, for the member of an object.
    key: Option<(String, Position)>,
    /// Elements in their order, or members sorted by key.
    children: Vec<Node>,
}

impl Node {
    fn new(value: Position, key: Option<(String, Position)>) -> Self {
        Self {
            value,
            key,
            children: Vec::new(),
        }
    }

    /// Key that siblings are sorted by.
    fn name(&self) -> Option<&str> {
        self.key.as_ref().map(|(name, _)| name.as_str())
    }

    fn child(&self, token: &str) -> Option<&Self> {
        let index = if self.children.first()?.key.is_some() {
            self.children
                .binary_search_by_key(&Some(token), Self::name)
                .ok()
        } else {
            let plain = token == "0" || !token.starts_with(['0', '+']);
            token.parse().ok().filter(|_| plain)
        };
        self.children.get(index?)
    }
}

impl Positions {
    /// Returns where the value at a JSON Pointer starts; `""` is the whole document.
    ///
    /// Source: RFC 6901.
    pub fn get(&self, pointer: &str) -> Option<Position> {
        self.node(pointer).map(|node| node.value)
    }

    /// Returns where the key of the object member at a JSON Pointer starts (its quotation mark).
    pub fn key(&self, pointer: &str) -> Option<Position> {
        self.node(pointer)
            .and_then(|node| node.key.as_ref())
            .map(|(_, position)| *position)
    }

    /// Returns where the deepest value on the way to a JSON Pointer starts.
    ///
    /// For a pointer to a missing field that is the object it is missing from.
    pub fn nearest(&self, pointer: &str) -> Position {
        let mut node = &self.root;
        for token in pointer.split('/').skip(1) {
            match node.child(&unescape(token)) {
                Some(child) => node = child,
                None => break,
            }
        }
        node.value
    }

    fn node(&self, pointer: &str) -> Option<&Node> {
        if pointer.is_empty() {
            return Some(&self.root);
        }
        pointer
            .strip_prefix('/')?
            .split('/')
            .try_fold(&self.root, |node, token| node.child(&unescape(token)))
    }
}

/// Undoes the escapes of a reference token. Source: RFC 6901 section 4.
fn unescape(token: &str) -> String {
    token.replace("~1", "/").replace("~0", "~")
}

/// What the reader tells while it reads. Offsets never decrease.
pub(super) trait Recorder {
    /// The key of the next value was read; its quotation mark stood at `offset`.
    fn key(&mut self, text: &str, offset: usize, name: &str);
    /// A value starts at `offset`.
    fn start(&mut self, text: &str, offset: usize);
    /// The value started last, and not yet finished, is complete.
    fn finish(&mut self);
}

/// Records nothing and costs nothing.
pub(super) struct NoRecorder;

impl Recorder for NoRecorder {
    #[inline]
    fn key(&mut self, _: &str, _: usize, _: &str) {}
    #[inline]
    fn start(&mut self, _: &str, _: usize) {}
    #[inline]
    fn finish(&mut self) {}
}

/// Builds [`Positions`].
#[derive(Default)]
pub(super) struct TreeRecorder {
    /// Place and offset up to which lines are counted, so that counting is linear in the input.
    counted: Option<(Position, usize)>,
    pending: Option<(String, Position)>,
    open: Vec<Node>,
    root: Option<Node>,
}

impl TreeRecorder {
    fn locate(&mut self, text: &str, offset: usize) -> Position {
        let (position, from) = self.counted.unwrap_or((Position::START, 0));
        let position = position.after(&text.as_bytes()[from..offset]);
        self.counted = Some((position, offset));
        position
    }

    /// Positions of everything recorded.
    pub(super) fn into_positions(self) -> Positions {
        Positions {
            root: self
                .root
                .unwrap_or_else(|| Node::new(Position::START, None)),
        }
    }
}

impl Recorder for TreeRecorder {
    fn key(&mut self, text: &str, offset: usize, name: &str) {
        let position = self.locate(text, offset);
        self.pending = Some((name.to_owned(), position));
    }

    fn start(&mut self, text: &str, offset: usize) {
        let value = self.locate(text, offset);
        let key = self.pending.take();
        self.open.push(Node::new(value, key));
    }

    fn finish(&mut self) {
        let Some(mut node) = self.open.pop() else {
            return;
        };
        node.children.shrink_to_fit();
        // Elements have no key, all compare equal, and the sort keeps their order.
        node.children.sort_by(|a, b| a.name().cmp(&b.name()));
        match self.open.last_mut() {
            Some(parent) => parent.children.push(node),
            None => self.root = Some(node),
        }
    }
}
