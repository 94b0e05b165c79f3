//! Text with its looks, before it is broken into lines.

use crate::{
    font::{Weight, is_japanese},
    scene::{Colour, Language},
};

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
    /// Reading in kana, set small above the text as a whole, which is not broken apart.
    pub(crate) ruby: Option<String>,
}

impl Span {
    /// The same text, said to be in a language as a whole.
    pub(crate) fn in_language(mut self, language: Language) -> Self {
        // A name in kanji among English words tells its language itself.
        let mixed = language == Language::English && self.text.chars().any(is_japanese);
        self.language = (!mixed).then_some(language);
        self
    }

    /// A word with its reading in kana above it.
    pub(crate) fn with_reading(text: impl Into<String>, reading: impl Into<String>) -> Self {
        Self {
            text: text.into(),
            language: Some(Language::Japanese),
            ruby: Some(reading.into()),
            ..Self::default()
        }
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
