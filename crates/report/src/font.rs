//! The report's own font family: coverage, widths and what is done with characters it lacks.
//!
//! The family is compiled in, so a report looks the same wherever it is made. Fonts are parsed
//! once for the life of the process.

use std::{collections::BTreeSet, fmt::Write as _, sync::OnceLock};

/// Regular weight, reduced as `fonts/README.md` says.
pub(crate) static REGULAR: &[u8] = include_bytes!("../fonts/BIZUDPGothic-Regular.ttf");
/// Bold weight, reduced as `fonts/README.md` says.
pub(crate) static BOLD: &[u8] = include_bytes!("../fonts/BIZUDPGothic-Bold.ttf");

/// Millimetres in one typographic point (1/72 inch).
pub const MM_PER_POINT: f64 = 25.4 / 72.0;

/// Weight of a text run.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub enum Weight {
    /// Text.
    #[default]
    Regular,
    /// Headings and values that must be found quickly.
    Bold,
}

/// One parsed face: which characters it has and how wide they are.
pub struct Face {
    data: &'static [u8],
    /// Glyph and advance of each character below U+10000, indexed by code point; glyph 0 is "none".
    glyphs: Vec<(u16, u16)>,
    units_per_em: u16,
    ascender: i16,
    descender: i16,
    bounds: [i16; 4],
    cap_height: i16,
    figure_width: u16,
}

impl Face {
    fn parse(data: &'static [u8]) -> Self {
        // The bytes are our own and a unit test parses both faces; an empty face would show every
        // character as a code point instead of failing.
        let mut face = Self {
            data,
            glyphs: vec![(0, 0); 0x1_0000],
            units_per_em: 1000,
            ascender: 880,
            descender: -120,
            bounds: [0, -120, 1000, 880],
            cap_height: 700,
            figure_width: 0,
        };
        let Ok(parsed) = ttf_parser::Face::parse(data, 0) else {
            return face;
        };
        face.units_per_em = parsed.units_per_em();
        face.ascender = parsed.ascender();
        face.descender = parsed.descender();
        face.cap_height = parsed.capital_height().unwrap_or(face.ascender);
        let bounds = parsed.global_bounding_box();
        face.bounds = [bounds.x_min, bounds.y_min, bounds.x_max, bounds.y_max];
        let subtables = parsed.tables().cmap.map(|cmap| cmap.subtables);
        for subtable in subtables
            .into_iter()
            .flatten()
            .filter(ttf_parser::cmap::Subtable::is_unicode)
        {
            subtable.codepoints(|code| {
                let slot = usize::try_from(code)
                    .ok()
                    .and_then(|index| face.glyphs.get_mut(index));
                if let (Some(slot), Some(glyph)) = (slot, subtable.glyph_index(code)) {
                    *slot = (glyph.0, parsed.glyph_hor_advance(glyph).unwrap_or(0));
                }
            });
        }
        face.figure_width = ('0'..='9')
            .map(|figure| face.lookup(figure).map_or(0, |(_, width)| width))
            .max()
            .unwrap_or(0);
        face
    }

    /// Returns the face of a weight, parsed at the first call.
    pub fn of(weight: Weight) -> &'static Self {
        static FACES: OnceLock<[Face; 2]> = OnceLock::new();
        let faces = FACES.get_or_init(|| [Face::parse(REGULAR), Face::parse(BOLD)]);
        &faces[weight as usize]
    }

    /// Returns glyph number and advance (font units) of `character`, if the face has it.
    pub fn lookup(&self, character: char) -> Option<(u16, u16)> {
        let (glyph, advance) = *self
            .glyphs
            .get(usize::try_from(u32::from(character)).ok()?)?;
        (glyph != 0).then_some((glyph, advance))
    }

    /// Returns the advance of `character` in font units; figures share one width when `tabular`.
    pub fn advance(&self, character: char, tabular: bool) -> u16 {
        if tabular && character.is_ascii_digit() {
            return self.figure_width;
        }
        self.lookup(character).map_or(0, |(_, advance)| advance)
    }

    /// Returns the space (font units) put before a figure so that it sits in the middle of its tabular width.
    pub fn tabular_lead(&self, character: char) -> u16 {
        if !character.is_ascii_digit() {
            return 0;
        }
        let own = self.lookup(character).map_or(0, |(_, advance)| advance);
        self.figure_width.saturating_sub(own) / 2
    }

    /// Returns the width of `text` in millimetres at `size` points.
    pub fn width(&self, text: &str, size: f64, tabular: bool) -> f64 {
        let units: u64 = text
            .chars()
            .map(|character| u64::from(self.advance(character, tabular)))
            .sum();
        units as f64 / f64::from(self.units_per_em) * size * MM_PER_POINT
    }

    /// Returns the bytes of the font file.
    pub(crate) const fn data(&self) -> &'static [u8] {
        self.data
    }

    /// Returns the font units in one em.
    pub const fn units_per_em(&self) -> u16 {
        self.units_per_em
    }

    /// Returns the height above the base line that capitals reach, in millimetres at `size` points.
    pub fn cap_height(&self, size: f64) -> f64 {
        f64::from(self.cap_height) / f64::from(self.units_per_em) * size * MM_PER_POINT
    }

    /// Returns ascender, descender, bounding box (x min, y min, x max, y max) and capital height in thousandths of an em.
    pub(crate) fn metrics_per_mille(&self) -> ([i64; 2], [i64; 4], i64) {
        let scale = |value: i16| (i64::from(value) * 1000).div_euclid(i64::from(self.units_per_em));
        (
            [scale(self.ascender), scale(self.descender)],
            self.bounds.map(scale),
            scale(self.cap_height),
        )
    }
}

/// Text whose every character the family can draw, with the code points it could not.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Drawable {
    /// The text; what cannot be drawn stands as `[U+XXXX]`.
    pub text: String,
    /// Characters that were replaced by their code points.
    pub missing: BTreeSet<char>,
}

/// Turns `text` into text that can be drawn without loss.
///
/// Spaces of other widths become plain spaces, the narrow non-breaking one a non-breaking one (the
/// line breaker keeps it together), the non-breaking hyphen a hyphen, and fractions the family
/// lacks are spelled with a stroke. Every other character that the family lacks, and every
/// control or invisible formatting character (which could make a name read as another), becomes
/// its code point.
pub fn drawable(text: &str) -> Drawable {
    let regular = Face::of(Weight::Regular);
    let mut out = Drawable {
        text: String::with_capacity(text.len()),
        missing: BTreeSet::new(),
    };
    for character in text.chars() {
        match character {
            '\u{a0}' | '\u{202f}' => out.text.push('\u{a0}'),
            '\u{2000}'..='\u{200a}' | '\u{205f}' => out.text.push(' '),
            '\u{2010}' | '\u{2011}' => out.text.push('-'),
            '\u{2012}' => out.text.push('–'),
            '⅛' => push_fraction(&mut out.text, "1/8"),
            '⅜' => push_fraction(&mut out.text, "3/8"),
            '⅝' => push_fraction(&mut out.text, "5/8"),
            '⅞' => push_fraction(&mut out.text, "7/8"),
            _ if regular.lookup(character).is_some() && !is_invisible(character) => {
                out.text.push(character);
            }
            _ => {
                // Writing to a string cannot fail.
                let _ = write!(out.text, "[U+{:04X}]", u32::from(character));
                out.missing.insert(character);
            }
        }
    }
    out
}

/// Adds a fraction apart from the whole number before it: 26⅞ becomes 26 7/8.
fn push_fraction(text: &mut String, fraction: &str) {
    if text.ends_with(|character: char| character.is_ascii_digit()) {
        text.push(' ');
    }
    text.push_str(fraction);
}

/// Whether a character leaves no mark of its own: controls, zero-width and direction marks.
fn is_invisible(character: char) -> bool {
    character.is_control()
        || matches!(character,
            '\u{ad}' | '\u{61c}' | '\u{180e}' | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{fe00}'..='\u{fe0f}' | '\u{feff}')
}

/// Whether a character belongs to Japanese writing, so that its run is marked as Japanese and
/// lines may break beside it.
pub fn is_japanese(character: char) -> bool {
    matches!(u32::from(character), 0x3000..=0x30ff | 0x31f0..=0x31ff | 0x3200..=0x9fff | 0xf900..=0xfaff | 0xff00..=0xffef)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn both_weights_cover_the_trade_and_the_same_characters() {
        for weight in [Weight::Regular, Weight::Bold] {
            let face = Face::of(weight);
            for character in "鎬鎺鐔錵匂茎鑢鋩樋疵鍔鎺刃棟±µμ°→−×éāōū²³½¼¾≤≥ΔA1あ".chars()
            {
                assert!(
                    face.lookup(character).is_some(),
                    "{character} missing in {weight:?}"
                );
            }
        }
        let difference = (0..0x1_0000)
            .filter_map(char::from_u32)
            .filter(|character| {
                Face::of(Weight::Regular).lookup(*character).is_some()
                    != Face::of(Weight::Bold).lookup(*character).is_some()
            })
            .count();
        assert_eq!(difference, 0);
    }

    #[test]
    fn what_cannot_be_drawn_is_spelled_out() {
        let drawn = drawable("a\u{202e}b 𠮷 26⅞\u{a0}in\u{2011}x");
        assert_eq!(drawn.text, "a[U+202E]b [U+20BB7] 26 7/8\u{a0}in-x");
        assert_eq!(drawn.missing, BTreeSet::from(['\u{202e}', '𠮷']));
        assert_eq!(drawable("長さ 701.5 mm ± 0.4").missing, BTreeSet::new());
    }

    #[test]
    fn tabular_figures_share_one_width() {
        let face = Face::of(Weight::Regular);
        assert!((face.width("111", 10.0, true) - face.width("888", 10.0, true)).abs() < 1e-9);
        assert!(face.width("111", 10.0, false) < face.width("888", 10.0, false));
        // An em at 72 pt is one inch.
        assert!((face.width("亜", 72.0, false) - 25.4).abs() < 1e-9);
    }
}
