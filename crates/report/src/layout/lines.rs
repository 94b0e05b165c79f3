//! Breaking text into lines, English and Japanese mixed.

use std::borrow::Cow;

use crate::{
    font::{Clusters, Face, FontSet, MM_PER_POINT, Weight, in_use, is_japanese},
    scene::{Colour, Draw, Language, RubyPart, TextDraw},
};

use super::{Span, Style};

/// A piece of a line in one weight, colour and language.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Run {
    x: f64,
    text: String,
    weight: Weight,
    colour: Colour,
    language: Language,
    tabular: bool,
    ruby: RubyPart,
}

/// One line of text, set from x = 0.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Line {
    pub(crate) runs: Vec<Run>,
    /// Width without the space at its end, mm.
    pub(crate) width: f64,
}

/// What is shaped as one and stands on one line: a word or part of one, a space, a Japanese character, or a word with its
/// reading.
#[derive(Clone)]
struct Item<'a> {
    text: Cow<'a, str>,
    span: usize,
    /// Advance, mm.
    width: f64,
    /// Reading above it, with the widths of the word and of the reading, mm.
    reading: Option<(&'a str, f64, f64)>,
}

impl Item<'_> {
    fn first(&self) -> char {
        self.text.chars().next().unwrap_or(' ')
    }

    fn last(&self) -> char {
        self.text.chars().next_back().unwrap_or(' ')
    }

    fn is_blank(&self) -> bool {
        matches!(&*self.text, " " | "\u{a0}")
    }
}

/// Size of readings as part of the size of the words below them: they fit into the usual distance of lines.
const READING_SIZE: f64 = 0.46;
/// Height of readings above the base line of the words below them, as part of the words' size: above the kanji.
const READING_RISE: f64 = 0.93;

/// Japanese characters that may not begin a line, and closing marks of both scripts.
const NOT_FIRST: &str = "、。，．・：；？！ー～゛゜ヽヾゝゞ々〉》」』】〕）］｝ぁぃぅぇぉっゃゅょゎァィゥェォッャュョヮヵヶ,.:;!?)]}%°”’";
/// Characters that may not end a line: opening marks of both scripts.
const NOT_LAST: &str = "〈《「『【〔（［｛([{“‘";

/// Characters of a Japanese word among Latin text that stay together.
const SHORT_WORD: usize = 8;

/// Marks the places inside short Japanese words: a term of the trade is not broken in two.
fn inside_short_words(items: &[Item<'_>]) -> Vec<bool> {
    let mut inside = Vec::with_capacity(items.len());
    for run in items.chunk_by(|a, b| is_japanese(a.first()) == is_japanese(b.first())) {
        let word =
            run.len() <= SHORT_WORD && run.first().is_some_and(|item| is_japanese(item.first()));
        inside.extend((0..run.len()).map(|index| word && index + 1 < run.len()));
    }
    inside
}

/// Whether a line may end between two characters.
///
/// Source: the usual rules of Japanese typesetting (kinsoku), in their simple form; common practice, no source.
fn may_break(before: Option<char>, a: char, b: char, inside_word: bool) -> bool {
    if inside_word {
        return false;
    }
    if NOT_FIRST.contains(b) || NOT_LAST.contains(a) || b == ' ' {
        return false;
    }
    if a == ' ' {
        return true;
    }
    if is_japanese(a) || is_japanese(b) {
        return a != '\u{a0}' && b != '\u{a0}';
    }
    // A hyphen, dash, stroke or underscore between letters; never inside dates, numbers and fractions.
    let joins = matches!(a, '-' | '–' | '—' | '/' | '·') && before.is_some_and(char::is_alphabetic);
    (joins || a == '_') && b.is_alphabetic()
}

/// Breaks text into lines no wider than `width` mm. A word wider than that is broken where it must be.
pub(crate) fn break_lines(spans: &[Span], style: Style, width: f64) -> Vec<Line> {
    let setter = Setter {
        fonts: in_use(),
        spans,
        style,
        width,
    };
    let mut lines = Vec::new();
    let mut items: Vec<Item<'_>> = Vec::new();
    for (index, span) in spans.iter().enumerate() {
        for (part, text) in span.text.split('\n').enumerate() {
            if part > 0 {
                // A space at the end of the line: read out, the lines must not run together.
                if items.last().is_some_and(|last| &*last.text != " ") {
                    setter.cut(index, " ", &mut items);
                }
                setter.fill(std::mem::take(&mut items), &mut lines);
            }
            match &span.ruby {
                Some(reading) if part == 0 => setter.cut_read(index, text, reading, &mut items),
                _ => setter.cut(index, text, &mut items),
            }
        }
    }
    setter.fill(items, &mut lines);
    lines
}

/// What all lines of one text have in common.
struct Setter<'a> {
    fonts: FontSet,
    spans: &'a [Span],
    style: Style,
    width: f64,
}

impl<'a> Setter<'a> {
    fn weight(&self, span: usize) -> Weight {
        self.spans
            .get(span)
            .and_then(|span| span.weight)
            .unwrap_or(self.style.weight)
    }

    fn tabular(&self, span: usize) -> bool {
        self.spans.get(span).is_some_and(|span| span.tabular)
    }

    /// Cuts the text of a span into items.
    fn cut(&self, span: usize, text: &'a str, items: &mut Vec<Item<'a>>) {
        let pieces = self
            .fonts
            .shape(self.weight(span), text, self.tabular(span));
        for (index, piece, shaped) in pieces {
            let scale = self
                .fonts
                .program(index)
                .map_or(0.0, |program| program.scale(self.style.size));
            items.push(Item {
                text: Cow::Borrowed(piece),
                span,
                width: f64::from(shaped.width) * scale,
                reading: None,
            });
        }
    }

    /// Makes one item of a word with its reading; too wide for a line, the reading follows in brackets.
    fn cut_read(&self, span: usize, text: &'a str, reading: &'a str, items: &mut Vec<Item<'a>>) {
        let weight = self.weight(span);
        let base = self
            .fonts
            .width(text, weight, self.style.size, self.tabular(span));
        let above = self
            .fonts
            .width(reading, weight, self.style.size * READING_SIZE, false);
        let width = base.max(above);
        if text.is_empty() || reading.is_empty() || width > self.width {
            self.cut(span, text, items);
            if !reading.is_empty() {
                for part in ["（", reading, "）"] {
                    self.cut(span, part, items);
                }
            }
            return;
        }
        items.push(Item {
            text: Cow::Borrowed(text),
            span,
            width,
            reading: Some((reading, base, above)),
        });
    }

    /// Fills lines with one paragraph; an empty paragraph is an empty line.
    fn fill(&self, mut items: Vec<Item<'a>>, lines: &mut Vec<Line>) {
        // Rounding of sums must not push a line that fits exactly to the next one.
        let limit = self.width + 1e-6;
        let mut inside = inside_short_words(&items);
        let mut start = 0;
        loop {
            let mut used = 0.0;
            let mut last_break = None;
            // Where nothing else helps, a line ends between a number and its unit before it ends inside a word.
            let mut last_resort = None;
            let mut end = start;
            while let Some(item) = items.get(end) {
                if used + item.width > limit && &*item.text != " " {
                    if end > start {
                        break;
                    }
                    if let Some((head, tail)) = self.split(item, limit) {
                        items.splice(start..=start, [head, tail]);
                        inside.insert(start, false);
                        end = start + 1;
                        break;
                    }
                }
                used += item.width;
                let last = item.last();
                let before = item.text.chars().rev().nth(1).or_else(|| {
                    let at = end.checked_sub(1)?;
                    items.get(at).map(Item::last)
                });
                end += 1;
                if last == '\u{a0}' {
                    last_resort = Some(end);
                }
                if let Some(next) = items.get(end)
                    && may_break(
                        before,
                        last,
                        next.first(),
                        inside.get(end - 1) == Some(&true),
                    )
                {
                    last_break = Some(end);
                }
            }
            if end < items.len() {
                end = last_break.or(last_resort).unwrap_or(end);
            }
            lines.push(self.set(items.get(start..end).unwrap_or_default()));
            if end >= items.len() {
                return;
            }
            start = end;
        }
    }

    /// Splits a word after as many characters as fit, at least one; none when it is one character.
    fn split(&self, item: &Item<'a>, limit: f64) -> Option<(Item<'a>, Item<'a>)> {
        let weight = self.weight(item.span);
        let measure = |text: &str| {
            self.fonts
                .width(text, weight, self.style.size, self.tabular(item.span))
        };
        let text: &str = &item.text;
        let mut fits = None;
        let mut at = 0;
        for cluster in Clusters(text) {
            at += cluster.len();
            if at == text.len() {
                break;
            }
            let width = text.get(..at).map_or(0.0, measure);
            if fits.is_some() && width > limit {
                break;
            }
            fits = Some((at, width));
        }
        let (at, width) = fits?;
        let part = |text: &str, width: f64| Item {
            text: Cow::Owned(text.to_owned()),
            width,
            span: item.span,
            reading: None,
        };
        let (head, tail) = text.split_at_checked(at)?;
        Some((part(head, width), part(tail, measure(tail))))
    }

    /// Sets one line. The space at its end stays, so that words of two lines do not run together when read out.
    fn set(&self, items: &[Item<'_>]) -> Line {
        let mut line = Line::default();
        let mut x = 0.0;
        let mut open = None;
        for item in items {
            let Some(span) = self.spans.get(item.span) else {
                continue;
            };
            let blank = item.is_blank();
            let language = span.language.unwrap_or(if is_japanese(item.first()) {
                Language::Japanese
            } else {
                Language::English
            });
            let text = if blank { " " } else { &*item.text };
            let run = |x: f64, text: &str, ruby: RubyPart| Run {
                x,
                text: text.to_owned(),
                weight: span.weight.unwrap_or(self.style.weight),
                colour: span.colour.unwrap_or(self.style.colour),
                language,
                tabular: span.tabular && ruby != RubyPart::Reading,
                ruby,
            };
            if let Some((reading, base, above)) = item.reading {
                let inset = |width: f64| x + (item.width - width) / 2.0;
                line.runs.push(run(inset(base), text, RubyPart::Base));
                line.runs
                    .push(run(inset(above), reading, RubyPart::Reading));
                open = None;
            } else {
                match line.runs.last_mut() {
                    Some(run) if open == Some(item.span) && (blank || run.language == language) => {
                        run.text.push_str(text);
                    }
                    _ => line.runs.push(run(x, text, RubyPart::None)),
                }
                open = Some(item.span);
            }
            x += item.width;
            if !blank {
                line.width = x;
            }
        }
        line
    }
}

/// Returns the marks of a line whose box has its upper left corner at (x, top).
pub(crate) fn draw_line(line: &Line, style: Style, x: f64, top: f64) -> Vec<Draw> {
    let baseline = top
        + f64::midpoint(
            style.leading,
            Face::of(Weight::Regular).cap_height(style.size),
        );
    line.runs
        .iter()
        .map(|run| {
            let (size, rise) = match run.ruby {
                RubyPart::Reading => (
                    style.size * READING_SIZE,
                    style.size * READING_RISE * MM_PER_POINT,
                ),
                RubyPart::None | RubyPart::Base => (style.size, 0.0),
            };
            Draw::Text(TextDraw {
                x: x + run.x,
                y: baseline - rise,
                size,
                weight: run.weight,
                colour: run.colour,
                language: run.language,
                tabular: run.tabular,
                ruby: run.ruby,
                text: run.text.clone(),
            })
        })
        .collect()
}

#[cfg(test)]
mod tests;
