//! Type: which fonts a report is set in, what they cover, and how wide text is.
//!
//! Two families are compiled in ([`FontSet::bundled`]), fonts of the workshop may follow. A report
//! asks in many places for the width of a text, from lines to words inside drawings; all of them
//! must ask the same set. It is therefore chosen once around the whole of setting and writing
//! ([`FontSet::scope`]) and found with `in_use`.

mod cutting;
mod drawable;
mod program;
mod set;
mod shaping;

#[cfg(test)]
mod tests;

pub(crate) use cutting::Clusters;
pub use drawable::{Drawable, drawable};
pub(crate) use program::{Program, ProgramError};
pub(crate) use set::{BUNDLED, in_use};
pub use set::{FontSet, RefusedFont};
pub(crate) use shaping::{Glyph, Shaped};

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

/// What a reader sees of one weight, whichever fonts it comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Face(Weight);

impl Face {
    /// Returns the face of a weight.
    pub const fn of(weight: Weight) -> Self {
        Self(weight)
    }

    /// Whether one of the fonts in use has `character`.
    pub fn covers(self, character: char) -> bool {
        let mut buffer = [0; 4];
        in_use()
            .program_for(self.0, character.encode_utf8(&mut buffer))
            .is_some()
    }

    /// Returns the width of `text` in millimetres at `size` points; figures share one width when `tabular`.
    pub fn width(self, text: &str, size: f64, tabular: bool) -> f64 {
        in_use().width(text, self.0, size, tabular)
    }

    /// Returns the height above the base line that Latin capitals reach, in millimetres at `size` points.
    pub fn cap_height(self, size: f64) -> f64 {
        in_use().cap_height(self.0, size)
    }
}

/// Whether a character belongs to Japanese writing, so that its run is marked as Japanese, set in
/// the Japanese family, and lines may break beside it.
pub fn is_japanese(character: char) -> bool {
    matches!(u32::from(character), 0x3000..=0x30ff | 0x31f0..=0x31ff | 0x3200..=0x9fff | 0xf900..=0xfaff | 0xff00..=0xffef | 0x20000..=0x3ffff)
}
