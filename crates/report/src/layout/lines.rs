//! Breaking text into lines, English and Japanese mixed.

use crate::{
    font::{Face, Weight, is_japanese},
    scene::{Colour, Draw, Language, TextDraw},
};

use super::Style;

/// Text in one weight and colour; what is not said comes from the style it is set in.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Span {
    pub(crate) text: String,
    pub(crate) weight: Option<Weight>,
    pub(crate) colour: Option<Colour>,
    /// Whether figures share one width.
    pub(crate) tabular: bool,
    /// Language; none: told by the script of each part.
    pub(crate) language: Option<Language>,
}

impl Span {
    /// The same text, said to be in a language as a whole.
    pub(crate) fn in_language(mut self, language: Language) -> Self {
        self.language = Some(language);
        self
    }

    /// Text as the style has it.
    pub(crate) fn plain(text: impl Into<String>) -> Self {
        Self {
            text: text.into(),
            ..Self::default()
        }
    }

    /// Bold text.
    pub(crate) fn bold(text: impl Into<String>) -> Self {
        Self {
            text: text.into(),
            weight: Some(Weight::Bold),
            ..Self::default()
        }
    }

    /// Secondary text.
    pub(crate) fn quiet(text: impl Into<String>) -> Self {
        Self {
            text: text.into(),
            colour: Some(super::style::SLATE),
            ..Self::default()
        }
    }

    /// Numbers that stand in columns.
    pub(crate) fn figures(text: impl Into<String>) -> Self {
        Self {
            text: text.into(),
            tabular: true,
            ..Self::default()
        }
    }
}

/// A piece of a line in one weight, colour and language.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Run {
    x: f64,
    text: String,
    weight: Weight,
    colour: Colour,
    language: Language,
    tabular: bool,
}

/// One line of text, set from x = 0.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Line {
    pub(crate) runs: Vec<Run>,
    /// Width without the space at its end, mm.
    pub(crate) width: f64,
}

/// One character with its looks.
#[derive(Clone, Copy)]
struct Glyph {
    character: char,
    span: usize,
    width: f64,
}

/// Japanese characters that may not begin a line, and closing marks of both scripts.
const NOT_FIRST: &str = "、。，．・：；？！ー～゛゜ヽヾゝゞ々〉》」』】〕）］｝ぁぃぅぇぉっゃゅょゎァィゥェォッャュョヮヵヶ,.:;!?)]}%°”’";
/// Characters that may not end a line: opening marks of both scripts.
const NOT_LAST: &str = "〈《「『【〔（［｛([{“‘";

/// Characters of a Japanese word among Latin text that stay together.
const SHORT_WORD: usize = 8;

/// Marks the places inside short Japanese words: a term of the trade is not broken in two.
fn inside_short_words(glyphs: &[Glyph]) -> Vec<bool> {
    let mut inside = Vec::with_capacity(glyphs.len());
    for run in glyphs.chunk_by(|a, b| is_japanese(a.character) == is_japanese(b.character)) {
        let word = run.len() <= SHORT_WORD
            && run
                .first()
                .is_some_and(|glyph| is_japanese(glyph.character));
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
    let mut lines = Vec::new();
    let mut glyphs: Vec<Glyph> = Vec::new();
    for (index, span) in spans.iter().enumerate() {
        let face = Face::of(span.weight.unwrap_or(style.weight));
        let scale = style.size * crate::font::MM_PER_POINT / f64::from(face.units_per_em());
        for character in span.text.chars() {
            if character == '\n' {
                // A space at the end of the line: read out, the lines must not run together.
                if glyphs.last().is_some_and(|last| last.character != ' ') {
                    glyphs.push(Glyph {
                        character: ' ',
                        span: index,
                        width: f64::from(face.advance(' ', false)) * scale,
                    });
                }
                fill(&glyphs, spans, style, width, &mut lines);
                glyphs.clear();
                continue;
            }
            let drawn = if character == '\u{a0}' {
                ' '
            } else {
                character
            };
            glyphs.push(Glyph {
                character,
                span: index,
                width: f64::from(face.advance(drawn, span.tabular)) * scale,
            });
        }
    }
    fill(&glyphs, spans, style, width, &mut lines);
    lines
}

/// Fills lines with one paragraph; an empty paragraph is an empty line.
fn fill(glyphs: &[Glyph], spans: &[Span], style: Style, width: f64, lines: &mut Vec<Line>) {
    // Rounding of sums must not push a line that fits exactly to the next one.
    let limit = width + 1e-6;
    let inside = inside_short_words(glyphs);
    let mut start = 0;
    loop {
        let mut used = 0.0;
        let mut last_break = None;
        // Where nothing else helps, a line ends between a number and its unit before it ends inside a word.
        let mut last_resort = None;
        let mut end = start;
        while let Some(glyph) = glyphs.get(end) {
            used += glyph.width;
            if used > limit && glyph.character != ' ' && end > start {
                break;
            }
            end += 1;
            if glyph.character == '\u{a0}' {
                last_resort = Some(end);
            }
            if let Some(next) = glyphs.get(end) {
                let before = end
                    .checked_sub(2)
                    .and_then(|at| glyphs.get(at))
                    .map(|glyph| glyph.character);
                if may_break(
                    before,
                    glyph.character,
                    next.character,
                    inside.get(end - 1) == Some(&true),
                ) {
                    last_break = Some(end);
                }
            }
        }
        if end < glyphs.len() {
            end = last_break.or(last_resort).unwrap_or(end);
        }
        lines.push(set(
            glyphs.get(start..end).unwrap_or_default(),
            spans,
            style,
        ));
        if end >= glyphs.len() {
            return;
        }
        start = end;
    }
}

/// Sets one line. The space at its end stays, so that words of two lines do not run together when read out.
fn set(glyphs: &[Glyph], spans: &[Span], style: Style) -> Line {
    let mut line = Line::default();
    let mut x = 0.0;
    let mut last_span = None;
    for glyph in glyphs {
        let Some(span) = spans.get(glyph.span) else {
            continue;
        };
        let blank = matches!(glyph.character, ' ' | '\u{a0}');
        let language = span.language.unwrap_or(if is_japanese(glyph.character) {
            Language::Japanese
        } else {
            Language::English
        });
        let character = if blank { ' ' } else { glyph.character };
        match line.runs.last_mut() {
            Some(run) if last_span == Some(glyph.span) && (blank || run.language == language) => {
                run.text.push(character);
            }
            _ => line.runs.push(Run {
                x,
                text: character.to_string(),
                weight: span.weight.unwrap_or(style.weight),
                colour: span.colour.unwrap_or(style.colour),
                language,
                tabular: span.tabular,
            }),
        }
        last_span = Some(glyph.span);
        x += glyph.width;
        if !blank {
            line.width = x;
        }
    }
    line
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
            Draw::Text(TextDraw {
                x: x + run.x,
                y: baseline,
                size: style.size,
                weight: run.weight,
                colour: run.colour,
                language: run.language,
                tabular: run.tabular,
                text: run.text.clone(),
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layout::style::BODY;

    fn texts(spans: &[Span], width: f64) -> Vec<String> {
        break_lines(spans, BODY, width)
            .iter()
            .map(|line| line.runs.iter().map(|run| run.text.as_str()).collect())
            .collect()
    }

    #[test]
    fn lines_break_at_spaces_and_keep_the_space() {
        let lines = texts(&[Span::plain("one two "), Span::bold("three four")], 14.0);
        assert_eq!(lines.concat(), "one two three four");
        assert!(
            lines.len() > 1
                && lines[..lines.len() - 1]
                    .iter()
                    .all(|line| line.ends_with(' ')),
            "{lines:?}"
        );
    }

    #[test]
    fn no_line_is_wider_than_asked() {
        let text = "A blade of 701.5 mm 刃文は小乱れ、匂口深く沸よくつく。 aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa (end)";
        for width in [5.0, 12.0, 30.0, 170.0] {
            let lines = break_lines(&[Span::plain(text)], BODY, width);
            assert!(
                lines.iter().all(|line| line.width <= width + 1e-5),
                "{width}"
            );
            assert_eq!(texts(&[Span::plain(text)], width).concat(), text);
        }
    }

    #[test]
    fn japanese_marks_do_not_start_or_end_a_line() {
        let lines = texts(&[Span::plain("刃文、「小乱れ」。匂口、「深く」。")], 13.0);
        assert!(lines.len() > 2, "{lines:?}");
        for line in &lines {
            assert!(
                !line.starts_with(['、', '。', '」']) && !line.ends_with('「'),
                "{lines:?}"
            );
        }
    }

    #[test]
    fn a_short_japanese_word_stays_whole_and_a_sentence_does_not() {
        for width in 20..40 {
            let lines = texts(
                &[Span::plain(
                    "file marks yasurime 鑢目 and 登録証 or 勝手下り",
                )],
                f64::from(width),
            );
            assert!(
                ["鑢目", "登録証", "勝手下り"]
                    .iter()
                    .all(|word| lines.iter().any(|line| line.contains(word))),
                "{lines:?}"
            );
        }
        assert!(
            texts(
                &[Span::plain("茎は生ぶ、目釘孔一。銘は太刀銘に切る。")],
                30.0
            )
            .len()
                > 1
        );
    }

    #[test]
    fn numbers_keep_their_units_and_dates_stay_whole() {
        assert_eq!(
            texts(&[Span::plain("1\u{a0}mm 2026-01-02")], 1.0).concat(),
            "1 mm 2026-01-02"
        );
        let lines = texts(&[Span::plain("at 701.5\u{a0}mm on 2026-01-02")], 25.0);
        assert!(
            lines.iter().any(|line| line.contains("701.5 mm"))
                && lines.iter().any(|line| line.contains("2026-01-02")),
            "{lines:?}"
        );
    }

    #[test]
    fn languages_are_apart_and_line_ends_are_kept() {
        let lines = break_lines(&[Span::plain("ridge 鎬 line\n\nend")], BODY, 100.0);
        let languages: Vec<_> = lines[0]
            .runs
            .iter()
            .map(|run| (run.text.as_str(), run.language))
            .collect();
        assert_eq!(
            languages,
            [
                ("ridge ", Language::English),
                ("鎬 ", Language::Japanese),
                ("line ", Language::English)
            ]
        );
        assert_eq!(lines.len(), 3);
        assert_eq!(texts(&[Span::plain("one\ntwo")], 100.0), ["one ", "two"]);
    }
}
