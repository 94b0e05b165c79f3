//! Words of a text as the index of the store has them, each with its place in the text.

use unicode_normalization::UnicodeNormalization as _;

/// One word, without case, macrons and width.
#[derive(Debug, PartialEq, Eq)]
struct Token {
    word: String,
    /// First character in the text, and the one after the last.
    place: [usize; 2],
}

/// The words of a text in their order.
#[derive(Debug)]
pub(super) struct Tokens(Vec<Token>);

/// Tells characters that are written without spaces: Chinese characters, kana and their marks. The index takes each for
/// a word of its own.
///
/// Source: blocks of the Unicode Standard, from memory.
fn unspaced(letter: char) -> bool {
    matches!(letter,
        '\u{3005}'..='\u{3007}' | '\u{3040}'..='\u{30ff}' | '\u{31f0}'..='\u{31ff}' | '\u{3400}'..='\u{4dbf}'
        | '\u{4e00}'..='\u{9fff}' | '\u{f900}'..='\u{faff}' | '\u{20000}'..='\u{3ffff}')
}

/// Marks over and under Latin letters, such as a macron.
fn over_letter(letter: char) -> bool {
    matches!(letter, '\u{300}'..='\u{36f}')
}

impl Tokens {
    pub(super) fn of(text: &str) -> Self {
        let mut tokens: Vec<Token> = Vec::new();
        let mut goes_on = false;
        for (at, letter) in text.chars().enumerate() {
            // Taken apart, a letter with a macron is the letter and its mark.
            for part in std::iter::once(letter).nfkd().flat_map(char::to_lowercase) {
                let place = [at, at + 1];
                if over_letter(part) {
                    if let Some(last) = tokens.last_mut().filter(|_| goes_on) {
                        last.place[1] = at + 1;
                    }
                } else if unspaced(part) {
                    let word = part.to_string();
                    tokens.push(Token { word, place });
                    goes_on = false;
                } else if !part.is_alphanumeric() {
                    goes_on = false;
                } else if let Some(last) = tokens.last_mut().filter(|_| goes_on) {
                    last.word.push(part);
                    last.place[1] = at + 1;
                } else {
                    let word = part.to_string();
                    tokens.push(Token { word, place });
                    goes_on = true;
                }
            }
        }
        Self(tokens)
    }

    pub(super) fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

/// Finds the places where words stand one after the other, the last of them from its beginning.
pub(super) fn found(text: &Tokens, wanted: &Tokens) -> Vec<[usize; 2]> {
    let Some((last, before)) = wanted.0.split_last() else {
        return Vec::new();
    };
    // One letter stands for itself, as the index has it.
    let is_letter = before.is_empty() && last.word.chars().count() == 1;
    text.0
        .windows(wanted.0.len())
        .filter_map(|window| {
            let (end, head) = window.split_last()?;
            let same = head
                .iter()
                .zip(before)
                .all(|(one, other)| one.word == other.word);
            let first = window.first()?.place[0];
            let fits = if is_letter {
                end.word == last.word
            } else {
                end.word.starts_with(&last.word)
            };
            (same && fits).then(|| {
                // Of a longer word only what was asked for is marked, where the two are of one length.
                let asked = last.word.chars().count();
                let whole = end.place[1] - end.place[0] != end.word.chars().count();
                let stop = if whole {
                    end.place[1]
                } else {
                    end.place[0] + asked
                };
                [first, stop]
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(text: &str, words: &str) -> Vec<[usize; 2]> {
        found(&Tokens::of(text), &Tokens::of(words))
    }

    #[test]
    fn macrons_case_and_width_do_not_count() {
        assert_eq!(at("Chōji midare", "choji"), [[0, 5]]);
        assert_eq!(at("choji midare", "Chōji"), [[0, 5]]);
        // A macron that stands apart from its letter.
        assert_eq!(at("Cho\u{304}ji", "choji"), [[0, 6]]);
        assert_eq!(at("ＢＩＺＥＮ", "bizen"), [[0, 5]]);
        assert_eq!(at("ｶﾞ", "ガ"), [[0, 2]]);
    }

    #[test]
    fn words_are_found_from_their_beginning_and_kanji_anywhere() {
        assert_eq!(at("rusty, but not corust", "rust"), [[0, 4]]);
        assert_eq!(at("銘 備前長船住", "長船"), [[4, 6]]);
        assert_eq!(at("備 前", "備前"), [[0, 3]]);
        assert_eq!(at("前備", "備前"), Vec::<[usize; 2]>::new());
        assert_eq!(at("fine-grained", "fine-gr"), [[0, 7]]);
        assert_eq!(at("anything", "—"), Vec::<[usize; 2]>::new());
    }
}
