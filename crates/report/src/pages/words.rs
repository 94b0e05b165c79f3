//! Numbers, terms, people and dates as the report writes them, in the language it speaks.

mod blocks;
#[cfg(test)]
mod languages;
mod numbers;
mod people;
mod sentences;

use tangmark_core::{
    Digest,
    record::{Money, PartialDate, Term, When, reading_of},
};

pub(crate) use blocks::{
    column, headed_table, heading, label, names_on_one_line, numbers, read_once, row, subheading,
    table, two_lines,
};
pub(crate) use numbers::{
    bare, join, number, quantity, readings, stated, unit, value_and_uncertainty, with_unit,
};
pub(crate) use people::{document, person, person_as};
pub(crate) use sentences::{moment, sentences};

use crate::{
    Speech,
    layout::Span,
    scene::Language,
    speech::{Pair, pair},
};

/// What stands where the record has nothing.
pub(crate) fn not_recorded() -> Pair {
    pair("not recorded", "記載なし")
}

/// What stands where a property may have been withheld: decoys keep the number of digests fixed,
/// so the record itself does not tell which of the two it is.
pub(crate) fn withheld() -> Pair {
    pair("withheld or not stated", "非開示または記載なし")
}

/// What stands in a cell that has nothing to say.
pub(crate) const NOTHING: &str = "–";

/// A comma in the language of the report.
pub(crate) const fn comma(speech: Speech) -> &'static str {
    match speech {
        Speech::Japanese => "、",
        Speech::English | Speech::Both => ", ",
    }
}

/// What divides statements in one line.
pub(crate) const fn semicolon(speech: Speech) -> &'static str {
    match speech {
        Speech::Japanese => "／",
        Speech::English | Speech::Both => "; ",
    }
}

/// What stands between a name and what is said of it.
pub(crate) const fn colon(speech: Speech) -> &'static str {
    match speech {
        Speech::Japanese => "：",
        Speech::English | Speech::Both => ": ",
    }
}

/// The same spans in bold.
pub(crate) fn bold(spans: Vec<Span>) -> Vec<Span> {
    let weight = Some(crate::font::Weight::Bold);
    spans
        .into_iter()
        .map(|span| Span { weight, ..span })
        .collect()
}

/// Whether the key of a term is English: then the gloss says it again.
fn key_is_english<T: Term>(term: T) -> bool {
    let words: Vec<&str> = term
        .gloss()
        .split(|letter: char| !letter.is_alphanumeric())
        .collect();
    term.key()
        .split('_')
        .all(|part| words.iter().any(|word| word.starts_with(part)))
}

/// A Japanese word, with its reading above it where few read its kanji at sight.
pub(crate) fn read(word: &'static str) -> Span {
    reading_of(word).map_or_else(
        || Span::plain(word).in_language(Language::Japanese),
        |reading| Span::with_reading(word, reading),
    )
}

/// A term: romaji, kanji, and the gloss in quiet; in Japanese its word alone.
pub(crate) fn term<T: Term>(speech: Speech, term: T) -> Vec<Span> {
    if speech == Speech::Japanese {
        return vec![read(term.japanese())];
    }
    if term.kanji().is_empty() {
        return speech.label(&gloss(term));
    }
    let key = term.key().replace('_', " ");
    let mut spans = if key_is_english(term) {
        vec![Span::plain(format!("{} {}", term.gloss(), term.kanji()))]
    } else {
        vec![
            Span::plain(format!("{key} {} ", term.kanji())),
            Span::quiet(term.gloss()),
        ]
    };
    // Where a Japanese page says something else than the kanji that stand here already.
    if speech == Speech::Both && !term.japanese().contains(term.kanji()) {
        spans.push(Span::plain(" · "));
        spans.push(Span::plain(term.japanese()).in_language(Language::Japanese));
    }
    spans
}

/// Terms one after another.
pub(crate) fn terms<T: Term>(speech: Speech, list: &[T]) -> Vec<Span> {
    let mut spans = Vec::new();
    for (index, item) in list.iter().enumerate() {
        if index > 0 {
            spans.push(Span::plain(match speech {
                Speech::English => " · ",
                Speech::Japanese => "、",
                // The point stands between the languages.
                Speech::Both => "; ",
            }));
        }
        spans.extend(term(speech, *item));
    }
    spans
}

/// A term for running text: `hagire 刃切れ`, or its plain English where it has no kanji; and its Japanese.
pub(crate) fn name<T: Term>(term: T) -> Pair {
    if term.kanji().is_empty() {
        gloss(term)
    } else {
        let english = format!("{} {}", term.key().replace('_', " "), term.kanji());
        pair(english, term.japanese())
    }
}

/// A term for running text, as one string.
pub(crate) fn short<T: Term>(speech: Speech, term: T) -> String {
    speech.text(&name(term))
}

/// Terms for running text, as one string.
pub(crate) fn shorts<T: Term>(speech: Speech, list: &[T]) -> String {
    let names: Vec<String> = list.iter().map(|term| short(speech, *term)).collect();
    names.join(comma(speech))
}

/// What a term means, in plain words.
pub(crate) fn gloss<T: Term>(term: T) -> Pair {
    pair(term.gloss(), term.japanese())
}

/// A first letter as capital.
pub(crate) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

/// An amount of money.
pub(crate) fn money(money: &Money) -> String {
    format!("{}\u{a0}{}", number(money.amount), money.currency)
}

/// A span of time.
pub(crate) fn when(speech: Speech, when: &When) -> String {
    if when.earliest == when.latest {
        return when.earliest.to_string();
    }
    let between = match speech {
        Speech::English => " to ",
        Speech::Japanese => "～",
        Speech::Both => " – ",
    };
    format!("{}{between}{}", when.earliest, when.latest)
}

/// A digest in groups of eight digits.
pub(crate) fn digest(digest: &Digest) -> String {
    groups(&digest.to_string(), 8)
}

/// The first sixteen digits of a digest in groups of four, with dots for the rest.
pub(crate) fn digest_prefix(digest: &Digest) -> String {
    let text = digest.to_string();
    format!("{}…", groups(text.get(..16).unwrap_or(&text), 4))
}

fn groups(text: &str, size: usize) -> String {
    let characters: Vec<char> = text.chars().collect();
    characters
        .chunks(size)
        .map(|chunk| chunk.iter().collect::<String>())
        .collect::<Vec<_>>()
        .join(" ")
}

/// An optional date.
///
/// Year, month and day in the order of ISO 8601 in Japanese too: dates in one column sort as they stand, and no era has to
/// be counted back.
pub(crate) fn date(speech: Speech, on: Option<&PartialDate>) -> String {
    on.map_or_else(|| speech.text(&not_recorded()), ToString::to_string)
}

/// Whether something is there or so.
pub(crate) fn yes_no(value: bool) -> Pair {
    if value {
        pair("yes", "あり")
    } else {
        pair("no", "なし")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use tangmark_core::record::{FlawKind, Part, Role};

    fn plain(spans: &[Span]) -> String {
        spans.iter().map(|span| span.text.as_str()).collect()
    }

    #[test]
    fn digests_are_spelled_in_groups() {
        let digest = Digest::of(b"abc");
        assert_eq!(digest_prefix(&digest), "ba78 16bf 8f01 cfea…");
        assert!(super::digest(&digest).starts_with("ba7816bf 8f01cfea 414140de "));
    }

    #[test]
    fn a_term_is_said_once_in_each_language() {
        let said = |speech| plain(&term(speech, FlawKind::Hakobore));
        assert_eq!(said(Speech::English), "hakobore 刃毀れ chip in the edge");
        assert_eq!(said(Speech::Japanese), "刃毀れ");
        assert_eq!(said(Speech::Both), said(Speech::English));
        // An English key is not said twice.
        assert_eq!(
            plain(&term(Speech::English, Part::PointTemper)),
            "temper in the point 帽子"
        );
        assert_eq!(
            plain(&term(Speech::Both, FlawKind::SabiActive)),
            "sabi active 赤錆 active rust"
        );
        assert_eq!(
            plain(&terms(Speech::Both, &[Part::Edge, Part::Mass])),
            "edge 刃; mass · 質量"
        );
        assert_eq!(short(Speech::Both, Role::Owner), "owner / 所有者");
        assert_eq!(short(Speech::Both, Role::Polisher), "polisher 研師");
    }
}
