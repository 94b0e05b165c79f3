//! Names of workshops, and what of a text does not show.

use serde_json::json;
use tangmark_core::json::{Limits, read_value};

/// Most characters of a workshop's name: the certificate holds no more.
///
/// Source: RFC 5280, appendix A.1, ub-common-name.
pub const LONGEST_NAME: usize = 64;

/// Invisible letters and marks that the standard library counts as printable.
const INVISIBLE: [char; 6] = [
    '\u{34f}', '\u{115f}', '\u{1160}', '\u{2800}', '\u{3164}', '\u{ffa0}',
];

/// Why a name is not taken for a workshop.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NameError {
    /// Empty, or nothing but spaces.
    #[error("workshop name: no letter found, 1 to {LONGEST_NAME} characters that show are allowed")]
    Empty,
    /// Too long.
    #[error("workshop name: {found} characters found, 1 to {LONGEST_NAME} are allowed")]
    Length {
        /// Characters found.
        found: usize,
    },
    /// A space at an end, which nobody sees.
    #[error("workshop name: a space found at its {0}, none is allowed there")]
    Space(&'static str),
    /// A character that does not show, or turns or steers what stands around it.
    #[error(
        "workshop name: U+{:04X} found at character {place}, only characters that show are allowed",
        u32::from(*letter)
    )]
    Hidden {
        /// The character.
        letter: char,
        /// Counted from 1.
        place: usize,
    },
    /// Letters and marks apart that have one sign together (not Unicode form C).
    #[error("workshop name: letters and their marks found apart, one sign for both is allowed")]
    Apart,
}

impl NameError {
    /// Returns the next step.
    pub const fn hint(&self) -> &'static str {
        match self {
            Self::Empty => {
                "give the name that people know the workshop by, such as \"Reedbank Polishing\": it stands in the certificate of the key and in every record"
            }
            Self::Length { .. } => {
                "give a name of at most 64 characters: it stands in the certificate of the key and in every record"
            }
            Self::Space(_) => "leave the space out",
            Self::Hidden { .. } | Self::Apart => {
                "type the name anew instead of copying it from elsewhere"
            }
        }
    }
}

/// Checks the name of a workshop: it stands in every record, for people who compare it with a card.
///
/// # Errors
/// The first thing that is wrong with it.
pub fn check_name(name: &str) -> Result<(), NameError> {
    if name.trim().is_empty() {
        return Err(NameError::Empty);
    }
    let found = name.chars().count();
    if found > LONGEST_NAME {
        return Err(NameError::Length { found });
    }
    if let Some((index, letter)) = name.chars().enumerate().find(|(_, letter)| hides(*letter)) {
        let place = index + 1;
        return Err(NameError::Hidden { letter, place });
    }
    if name.starts_with(char::is_whitespace) {
        return Err(NameError::Space("start"));
    }
    if name.ends_with(char::is_whitespace) {
        return Err(NameError::Space("end"));
    }
    // The reader of records takes a text in form C only.
    read_value(json!(name).to_string().as_bytes(), &Limits::default())
        .map(drop)
        .map_err(|_| NameError::Apart)
}

/// Tells whether a character is invisible, turns the direction of writing or steers a terminal.
pub fn hides(letter: char) -> bool {
    if matches!(letter, ' ' | '\'' | '"' | '\\' | '\u{3000}') {
        return false;
    }
    let variation = matches!(letter, '\u{180b}'..='\u{180f}' | '\u{fe00}'..='\u{fe0f}' | '\u{e0000}'..='\u{e0fff}');
    // In second place, so that a combining mark is not taken for hidden for lack of a letter before it.
    let pair: String = ['x', letter].iter().collect();
    variation || INVISIBLE.contains(&letter) || pair.escape_debug().nth(1) == Some('\\')
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn names_that_show_are_taken() {
        let longest = "é".repeat(LONGEST_NAME);
        for name in [
            "R",
            "Reedbank Polishing",
            "Halloway & Daughter's \"edge\"",
            "研師　葦原",
            "Κύκνος",
            &longest,
        ] {
            assert_eq!(check_name(name), Ok(()), "{name}");
        }
    }

    #[test]
    fn what_does_not_show_is_refused() {
        let long = "a".repeat(65);
        let cases = [
            (
                "",
                "no letter found, 1 to 64 characters that show are allowed",
            ),
            (&*long, "65 characters found, 1 to 64 are allowed"),
            (" Reed", "a space found at its start, none is allowed there"),
            (
                "Reed\u{3000}",
                "a space found at its end, none is allowed there",
            ),
            (
                "   ",
                "no letter found, 1 to 64 characters that show are allowed",
            ),
            (
                "Reed\u{202e}bank",
                "U+202E found at character 5, only characters that show are allowed",
            ),
            (
                "Reed\u{200b}",
                "U+200B found at character 5, only characters that show are allowed",
            ),
            (
                "Reed\u{2066}",
                "U+2066 found at character 5, only characters that show are allowed",
            ),
            (
                "a\nb",
                "U+000A found at character 2, only characters that show are allowed",
            ),
            (
                "\u{1b}[31m",
                "U+001B found at character 1, only characters that show are allowed",
            ),
            (
                "a\u{ad}b",
                "U+00AD found at character 2, only characters that show are allowed",
            ),
            (
                "Reed\u{a0}bank",
                "U+00A0 found at character 5, only characters that show are allowed",
            ),
            (
                "葛\u{e0100}",
                "U+E0100 found at character 2, only characters that show are allowed",
            ),
            (
                "Re\u{301}ed",
                "letters and their marks found apart, one sign for both is allowed",
            ),
        ];
        for (name, what) in cases {
            let error = check_name(name).unwrap_err();
            assert_eq!(error.to_string(), format!("workshop name: {what}"));
            assert!(!error.hint().is_empty());
        }
    }
}
