//! The languages a report speaks, and the words it says in each.

use std::borrow::Cow;

use crate::{font::is_japanese, layout::Span, scene::Language};

/// Which language a report is written in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub enum Speech {
    /// English, with the trade's terms in kanji beside their romaji.
    #[default]
    English,
    /// Japanese.
    Japanese,
    /// English and Japanese side by side.
    Both,
}

/// The same words in both languages. What the workshop or a plugin wrote is no pair: it stands as written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Pair {
    pub(crate) en: Cow<'static, str>,
    pub(crate) ja: Cow<'static, str>,
}

/// Makes a pair: English, Japanese.
pub(crate) fn pair(en: impl Into<Cow<'static, str>>, ja: impl Into<Cow<'static, str>>) -> Pair {
    Pair {
        en: en.into(),
        ja: ja.into(),
    }
}

impl Pair {
    /// Whether the English holds every word of the Japanese already, as `Tang · nakago 茎` does: then it stands alone.
    pub(crate) fn one_says_both(&self) -> bool {
        self.ja
            .split(['・', '、', '（', '）'])
            .all(|part| self.en.contains(part))
    }
}

impl Speech {
    /// Returns the language of the document as a whole: English when both stand side by side.
    pub const fn document(self) -> Language {
        match self {
            Self::Japanese => Language::Japanese,
            Self::English | Self::Both => Language::English,
        }
    }

    /// Returns words as one string, for titles and alternative texts: `English / 日本語` for both.
    pub(crate) fn text(self, words: &Pair) -> String {
        match self {
            Self::English => words.en.to_string(),
            Self::Japanese => words.ja.to_string(),
            Self::Both if words.one_says_both() => words.en.to_string(),
            Self::Both => format!("{} / {}", words.en, words.ja),
        }
    }

    /// Returns words as spans, each in its language: for labels, column heads, cells and headings.
    pub(crate) fn label(self, words: &Pair) -> Vec<Span> {
        let mut english = Span::plain(words.en.clone());
        // Kanji among English: the script of each part tells its language.
        if !words.en.chars().any(is_japanese) {
            english = english.in_language(Language::English);
        }
        let japanese = Span::plain(words.ja.clone()).in_language(Language::Japanese);
        match self {
            Self::English => vec![english],
            Self::Japanese => vec![japanese],
            Self::Both if words.one_says_both() => vec![english],
            Self::Both => vec![english, Span::plain(" · "), japanese],
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_speech_says_its_words_and_both_says_both_once() {
        let words = pair("mass", "質量");
        assert_eq!(Speech::English.text(&words), "mass");
        assert_eq!(Speech::Japanese.text(&words), "質量");
        assert_eq!(Speech::Both.text(&words), "mass / 質量");
        assert_eq!(Speech::Both.text(&pair("PDF", "PDF")), "PDF");
        assert_eq!(
            Speech::Both.text(&pair("Tang · nakago 茎", "茎")),
            "Tang · nakago 茎"
        );
        let told: Vec<_> = Speech::Both
            .label(&words)
            .into_iter()
            .map(|span| (span.text, span.language))
            .collect();
        assert_eq!(
            told,
            [
                ("mass".to_owned(), Some(Language::English)),
                (" · ".to_owned(), None),
                ("質量".to_owned(), Some(Language::Japanese)),
            ]
        );
    }
}
