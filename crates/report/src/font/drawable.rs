//! Text that can be drawn without loss.

use std::{collections::BTreeSet, fmt::Write as _};

use super::{
    Weight,
    cutting::{Clusters, is_mark},
    in_use,
};

/// Text whose every character the fonts in use can draw, with the code points they could not.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Drawable {
    /// The text; what cannot be drawn stands as `[U+XXXX]`.
    pub text: String,
    /// Characters that were replaced by their code points.
    pub missing: BTreeSet<char>,
}

/// Turns `text` into text that can be drawn without loss by the fonts in use.
///
/// Spaces of other widths become plain spaces, the narrow non-breaking one a non-breaking one (the
/// line breaker keeps it together), and the non-breaking hyphen a hyphen. Every other character that
/// no font has, every control or invisible formatting character (which could make a name read as
/// another), and every letter that is written from right to left becomes its code point: these
/// pages are set from left to right only, and letters in the wrong order would be another word.
/// A mark that no font can set over what it belongs to becomes its code point behind it.
pub fn drawable(text: &str) -> Drawable {
    if text.bytes().all(|byte| matches!(byte, b' '..=b'~')) {
        return Drawable {
            text: text.to_owned(),
            missing: BTreeSet::new(),
        };
    }
    let fonts = in_use();
    let mut out = Drawable {
        text: String::with_capacity(text.len()),
        missing: BTreeSet::new(),
    };
    for cluster in Clusters(text) {
        let covered = |part: &str| {
            // A mark alone has nothing to stand on.
            !part.starts_with(is_mark)
                && [Weight::Regular, Weight::Bold]
                    .iter()
                    .all(|weight| fonts.program_for(*weight, part).is_some())
        };
        if cluster.chars().all(|character| !is_refused(character)) && covered(cluster) {
            out.text.push_str(cluster);
            continue;
        }
        for character in cluster.chars() {
            let mut buffer = [0; 4];
            let alone = covered(character.encode_utf8(&mut buffer));
            out.push(character, alone);
        }
    }
    out
}

impl Drawable {
    fn push(&mut self, character: char, covered: bool) {
        match character {
            '\u{202f}' => self.text.push('\u{a0}'),
            '\u{2000}'..='\u{200a}' | '\u{205f}' => self.text.push(' '),
            '\u{2010}' | '\u{2011}' => self.text.push('-'),
            '\u{2012}' => self.text.push('–'),
            _ if covered && !is_refused(character) => self.text.push(character),
            '⅛' => self.push_fraction("1/8"),
            '⅜' => self.push_fraction("3/8"),
            '⅝' => self.push_fraction("5/8"),
            '⅞' => self.push_fraction("7/8"),
            _ => {
                // Writing to a string cannot fail.
                let _ = write!(self.text, "[U+{:04X}]", u32::from(character));
                self.missing.insert(character);
            }
        }
    }

    /// Adds a fraction apart from the whole number before it: 26⅞ becomes 26 7/8.
    fn push_fraction(&mut self, fraction: &str) {
        if self
            .text
            .ends_with(|character: char| character.is_ascii_digit())
        {
            self.text.push(' ');
        }
        self.text.push_str(fraction);
    }
}

/// Whether a character is never drawn as it is, whatever the fonts have: spaces and hyphens that
/// have another spelling here, what leaves no mark of its own, and letters from right to left.
fn is_refused(character: char) -> bool {
    character.is_control()
        || matches!(character, '\u{2000}'..='\u{2012}' | '\u{202f}' | '\u{205f}')
        || is_invisible(character)
        || is_right_to_left(character)
}

/// Zero-width and direction marks, variation selectors, fillers and tags.
///
/// Source: Default_Ignorable_Code_Point of the Unicode Character Database, and the line and
/// paragraph separators; from memory.
fn is_invisible(character: char) -> bool {
    matches!(character,
        '\u{ad}' | '\u{34f}' | '\u{61c}' | '\u{115f}' | '\u{1160}' | '\u{17b4}' | '\u{17b5}' | '\u{180b}'..='\u{180f}'
        | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{3164}' | '\u{fe00}'..='\u{fe0f}'
        | '\u{feff}' | '\u{ffa0}' | '\u{fff0}'..='\u{fffb}' | '\u{1bca0}'..='\u{1bca3}' | '\u{1d173}'..='\u{1d17a}'
        | '\u{e0000}'..='\u{e0fff}')
}

/// Blocks of scripts written from right to left.
///
/// Source: default Bidi_Class R and AL of unassigned code points in the Unicode Character Database; from memory.
const fn is_right_to_left(character: char) -> bool {
    matches!(character, '\u{590}'..='\u{8ff}' | '\u{fb1d}'..='\u{fdff}' | '\u{fe70}'..='\u{fefe}' | '\u{10800}'..='\u{10fff}' | '\u{1e800}'..='\u{1efff}')
}
