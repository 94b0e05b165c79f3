//! Cutting text into pieces that are shaped as one.
//!
//! The cuts depend on nothing but the characters beside them, so a text cut at a place where a line
//! ends falls into the same pieces as before: what a line was measured with is what is drawn.

use unicode_normalization::char::is_combining_mark;

use super::is_japanese;

/// Returns the length in bytes of the first cluster of `text`: a character and the marks on it.
pub(crate) fn cluster_length(text: &str) -> usize {
    let mut characters = text.char_indices();
    let mut previous = characters.next().map(|(_, character)| character);
    for (at, character) in characters {
        // A mark before which no character stands that could carry it stays alone.
        if !is_mark(character) || previous.is_none_or(is_blank) {
            return at;
        }
        previous = Some(character);
    }
    text.len()
}

/// Whether a character is a mark on the one before it.
pub(super) fn is_mark(character: char) -> bool {
    // The first of them is U+0300; most text has none.
    character >= '\u{300}' && is_combining_mark(character)
}

/// Whether a character leaves a space and no mark.
pub(crate) const fn is_blank(character: char) -> bool {
    matches!(character, ' ' | '\u{a0}' | '\u{3000}')
}

/// Whether pieces end between two clusters of one font, told by their first characters.
pub(crate) fn cut_between(before: char, after: char) -> bool {
    is_blank(before)
        || is_blank(after)
        || is_japanese(before)
        || is_japanese(after)
        || matches!(before, '-' | '–' | '—' | '/' | '·' | '_')
}

/// Clusters of a text, one after the other.
pub(crate) struct Clusters<'a>(pub(crate) &'a str);

impl<'a> Iterator for Clusters<'a> {
    type Item = &'a str;

    fn next(&mut self) -> Option<&'a str> {
        if self.0.is_empty() {
            return None;
        }
        let (cluster, rest) = self.0.split_at(cluster_length(self.0));
        self.0 = rest;
        Some(cluster)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn marks_stay_with_what_carries_them() {
        let clusters: Vec<&str> =
            Clusters("m\u{304}h\u{331}\u{323} \u{301}か\u{3099}\u{302}").collect();
        assert_eq!(
            clusters,
            [
                "m\u{304}",
                "h\u{331}\u{323}",
                " ",
                "\u{301}",
                "か\u{3099}\u{302}"
            ]
        );
        assert_eq!(Clusters("").next(), None);
    }
}
