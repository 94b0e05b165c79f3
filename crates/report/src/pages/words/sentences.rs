//! Sentences and moments.

use crate::{Speech, layout::Span, scene::Language, speech::Pair};

/// Words as blocks of their own, each in its language: one, or two where both languages speak.
pub(crate) fn sentences(speech: Speech, words: &Pair) -> Vec<Vec<Span>> {
    let english = || vec![Span::plain(words.en.clone()).in_language(Language::English)];
    let japanese = || vec![Span::plain(words.ja.clone()).in_language(Language::Japanese)];
    match speech {
        Speech::English => vec![english()],
        Speech::Japanese => vec![japanese()],
        Speech::Both => vec![english(), japanese()],
    }
}

/// A moment in UTC as people read it: `2026-03-04 at 05:06:07 UTC`.
pub(crate) fn moment(speech: Speech, utc: &str) -> String {
    let at = match speech {
        Speech::English => " at ",
        Speech::Japanese | Speech::Both => " ",
    };
    utc.replace('T', at).replace('Z', " UTC")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::speech::pair;

    #[test]
    fn both_languages_are_two_blocks() {
        let words = pair("Nothing.", "なし。");
        assert_eq!(sentences(Speech::English, &words).len(), 1);
        let both = sentences(Speech::Both, &words);
        assert_eq!(both[0][0].text, "Nothing.");
        assert_eq!(both[1][0].language, Some(Language::Japanese));
    }

    #[test]
    fn a_moment_is_read_by_people() {
        let utc = "2026-03-04T05:06:07Z";
        assert_eq!(moment(Speech::English, utc), "2026-03-04 at 05:06:07 UTC");
        assert_eq!(moment(Speech::Japanese, utc), "2026-03-04 05:06:07 UTC");
    }
}
