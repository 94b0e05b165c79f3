//! Words in the language of the report, in one column or two, and lists.

use super::{
    Flow, Line, Span, Style, break_lines, draw_line,
    flow::{LEADING_LINES, count, together},
    style,
};
use crate::{
    scene::{Language, Role},
    speech::{Pair, Speech},
};

/// Space between two columns of text, mm.
const COLUMN_GAP: f64 = 6.0;
/// Indent of the items of a list, mm.
const INDENT: f64 = 4.0;

impl Flow {
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

    /// Height of what [`Self::say`] sets, mm.
    pub(crate) fn height_of(&mut self, words: &Pair, style: Style) -> f64 {
        let (full, speech) = (self.frame.text_width(), self.speech);
        let column = (full - COLUMN_GAP) / 2.0;
        let mut lines = |text: &str, width| self.lines(&[Span::plain(text)], style, width).len();
        let most = match speech {
            Speech::English => lines(&words.en, full),
            Speech::Japanese => lines(&words.ja, full),
            Speech::Both => lines(&words.en, column).max(lines(&words.ja, column)),
        };
        style.leading * count(most)
    }

    /// Sets two paragraphs beside each other, the left one read first.
    pub(crate) fn side_by_side(&mut self, left: &[Span], right: &[Span], style: Style) {
        let width = (self.frame.text_width() - COLUMN_GAP) / 2.0;
        let columns = [
            self.lines(left, style, width),
            self.lines(right, style, width),
        ];
        let longest = columns.iter().map(Vec::len).max().unwrap_or(0);
        self.ensure(style.leading * count(together(longest)));
        let leads = style == style::NOTE && self.is_glued() && longest <= LEADING_LINES;
        let (page, top) = (self.page, self.y);
        let mut end = (page, top);
        for (index, lines) in columns.iter().enumerate() {
            (self.page, self.y) = (page, top);
            let x = self.frame.left + count(index) * (width + COLUMN_GAP);
            let node = self.node(Role::Paragraph);
            self.put_lines(node, lines, style, x);
            if (self.page, self.y) > end {
                end = (self.page, self.y);
            }
        }
        (self.page, self.y) = end;
        if !leads {
            self.end_glue();
        }
    }

    /// Sets a list; each item keeps its first lines together.
    pub(crate) fn list(&mut self, items: &[Vec<Span>], style: Style) {
        let width = self.frame.text_width() - INDENT;
        let columns: Vec<Vec<Vec<Line>>> = items
            .iter()
            .map(|item| vec![self.lines(item, style, width)])
            .collect();
        self.set_list(&columns, style, width);
    }

    /// Sets a list of what the report says itself, each item with the words it begins with in bold where it has any; in
    /// both languages side by side.
    pub(crate) fn say_list(&mut self, items: &[(Option<Pair>, Pair)], style: Style) {
        let full = self.frame.text_width();
        let width = match self.speech {
            Speech::Both => (full - COLUMN_GAP) / 2.0 - INDENT,
            Speech::English | Speech::Japanese => full - INDENT,
        };
        let mut columns = Vec::new();
        for (head, text) in items {
            let english = {
                let mut spans = Vec::new();
                if let Some(head) = head {
                    spans.push(Span::bold(format!("{}. ", head.en)).in_language(Language::English));
                }
                spans.push(Span::plain(text.en.clone()).in_language(Language::English));
                spans
            };
            let japanese = {
                let mut spans = Vec::new();
                if let Some(head) = head {
                    spans
                        .push(Span::bold(format!("{}：", head.ja)).in_language(Language::Japanese));
                }
                spans.push(Span::plain(text.ja.clone()).in_language(Language::Japanese));
                spans
            };
            let spans = match self.speech {
                Speech::English => vec![english],
                Speech::Japanese => vec![japanese],
                Speech::Both => vec![english, japanese],
            };
            columns.push(
                spans
                    .iter()
                    .map(|spans| self.lines(spans, style, width))
                    .collect(),
            );
        }
        self.set_list(&columns, style, width);
    }

    /// Sets the items of a list, each in one column or more that begin at the same height.
    fn set_list(&mut self, items: &[Vec<Vec<Line>>], style: Style, width: f64) {
        if items.is_empty() {
            return;
        }
        let list = self.node(Role::List);
        let bullet = break_lines(&[Span::plain("–")], style, INDENT);
        let longest = |columns: &Vec<Vec<Line>>| columns.iter().map(Vec::len).max().unwrap_or(0);
        for (index, columns) in items.iter().enumerate() {
            // The last item does not stand alone on a page unless it is long.
            let last = (index > 0 && index + 2 == items.len())
                .then(|| items.last().map_or(0, longest))
                .filter(|lines| *lines <= 3)
                .map_or(0.0, |lines| style.leading * count(lines) + 0.8);
            // Two columns that say the same stay beside each other; one may go on over the page.
            let kept = match columns.len() {
                0 | 1 => together(longest(columns)),
                _ => longest(columns),
            };
            self.ensure(style.leading * count(kept) + last);
            self.end_glue();
            let node = self.scene.add_node(Role::ListItem, Some(list));
            let label = self.scene.add_node(Role::Label, Some(node));
            let body = self.scene.add_node(Role::ListBody, Some(node));
            let start = (self.page, self.y);
            let mut end = start;
            for (index, lines) in columns.iter().enumerate() {
                (self.page, self.y) = start;
                let x = self.frame.left + count(index) * (width + INDENT + COLUMN_GAP);
                if let Some(bullet) = bullet.first() {
                    let draws = draw_line(bullet, style, x, self.y);
                    // The second column says the same again: its mark is ornament.
                    let owner = (index == 0).then_some(label);
                    self.scene.put(self.page, owner, draws);
                }
                self.set_lines(body, lines, style, x + INDENT);
                if (self.page, self.y) > end {
                    end = (self.page, self.y);
                }
            }
            (self.page, self.y) = end;
            self.y += 0.8;
        }
    }
}
