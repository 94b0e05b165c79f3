//! What reports and drawings have in common: paper, language, and what is told of their fonts.

use clap::ValueEnum;
use tangmark_workshop::{Paper, Speech};

use crate::show::{self, say};

#[derive(Clone, Copy, Debug, ValueEnum)]
pub(crate) enum PaperName {
    /// ISO A4
    A4,
    /// US Letter
    Letter,
}

impl From<PaperName> for Paper {
    fn from(name: PaperName) -> Self {
        match name {
            PaperName::A4 => Self::A4,
            PaperName::Letter => Self::Letter,
        }
    }
}

#[derive(Clone, Copy, Debug, ValueEnum)]
pub(crate) enum Language {
    /// English
    En,
    /// Japanese
    Ja,
    /// English and Japanese
    Both,
}

impl From<Language> for Speech {
    fn from(name: Language) -> Self {
        match name {
            Language::En => Self::English,
            Language::Ja => Self::Japanese,
            Language::Both => Self::Both,
        }
    }
}

/// Says of each font file that is not used why; `of` names the report where there are several.
pub(crate) fn tell_fonts(refused: &[String], of: &str) {
    for sentence in refused {
        say(&format!("note: {of}left out: {}", show::plain(sentence)));
    }
}

/// Says which characters no font has; `made` is what was done with them.
pub(crate) fn tell_missing(missing: impl IntoIterator<Item = char>, made: &str, of: &str) {
    let list: Vec<String> = missing
        .into_iter()
        .map(|letter| format!("U+{:04X}", u32::from(letter)))
        .collect();
    if !list.is_empty() {
        say(&format!(
            "note: {of}{made} as code points, since no font here has them: {}",
            list.join(", ")
        ));
    }
}
