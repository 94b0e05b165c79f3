//! Words for people.

pub use tangmark_core::counted;

/// Joins with commas and a last `and`.
pub fn list(parts: &[String]) -> String {
    match parts {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// Starts a sentence.
pub fn capitalised(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

/// Cuts a text to at most `most` characters, with an ellipsis where something is lost.
pub fn cut(text: &str, most: usize) -> String {
    if text.chars().count() <= most {
        return text.to_owned();
    }
    let mut short: String = text.chars().take(most.saturating_sub(1)).collect();
    short.push('…');
    short
}

/// Makes user text fit for one line: control characters and marks of writing direction become blanks.
pub fn one_line(text: &str) -> String {
    let hidden = |c: char| {
        c.is_control()
            || matches!(c, '\u{200e}' | '\u{200f}' | '\u{061c}' | '\u{2028}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
    };
    text.chars()
        .map(|c| if hidden(c) { ' ' } else { c })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lists_read_like_speech() {
        let words =
            |all: &[&str]| list(&all.iter().map(|one| (*one).to_owned()).collect::<Vec<_>>());
        assert_eq!(words(&[]), "");
        assert_eq!(words(&["a"]), "a");
        assert_eq!(words(&["a", "b"]), "a and b");
        assert_eq!(words(&["a", "b", "c"]), "a, b and c");
    }

    #[test]
    fn long_texts_are_cut_by_letters() {
        assert_eq!(cut("鎬造鎬造", 3), "鎬造…");
        assert_eq!(cut("鎬造", 3), "鎬造");
        assert_eq!(one_line("a\nb\u{202e}c"), "a b c");
    }
}
