//! From characters to placed glyphs.

use std::{borrow::Cow, sync::Arc};

use harfrust::{
    Buffer, BufferFlags, ClusterLevel, Direction, Feature, GlyphId, ShapeOptions, ShaperFont, Tag,
};

use super::Program;

/// A glyph and where it stands, in font units.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Glyph {
    /// Number in the font.
    pub(crate) id: u16,
    /// First byte, in the piece, of the characters it stands for.
    pub(crate) start: u32,
    /// How far the pen moves on.
    pub(crate) advance: i32,
    /// How far the pen would move on by the font's table of widths alone.
    pub(crate) natural: i32,
    /// Shift to the right.
    pub(crate) right: i32,
    /// Shift upwards.
    pub(crate) up: i32,
}

/// A piece of text as glyphs of one font.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Shaped {
    pub(crate) glyphs: Box<[Glyph]>,
    /// Sum of advances, font units.
    pub(crate) width: i32,
}

/// Pieces remembered for each font. A full memory is emptied; what is found in it or made anew is the same.
const REMEMBERED: usize = 4096;
/// Longer pieces are not remembered, bytes.
const LONGEST_REMEMBERED: usize = 64;

impl Program {
    /// Shapes a piece of text; figures share one width when `tabular`, as far as the font has such figures.
    pub(crate) fn shape(&self, piece: &str, tabular: bool) -> Arc<Shaped> {
        let cache = &self.cache[usize::from(tabular)];
        // A memory that another thread left in the middle of writing is as good: entries are whole.
        let known = match cache.read() {
            Ok(cache) => cache.get(piece).cloned(),
            Err(poisoned) => poisoned.into_inner().get(piece).cloned(),
        };
        if let Some(known) = known {
            return known;
        }
        let shaped = Arc::new(self.shape_anew(piece, tabular));
        if piece.len() <= LONGEST_REMEMBERED {
            let mut cache = match cache.write() {
                Ok(cache) => cache,
                Err(poisoned) => poisoned.into_inner(),
            };
            if cache.len() >= REMEMBERED {
                cache.clear();
            }
            cache.insert(Box::from(piece), Arc::clone(&shaped));
        }
        shaped
    }

    fn shape_anew(&self, piece: &str, tabular: bool) -> Shaped {
        // The non-breaking space differs from a space in nothing that is drawn.
        let text: Cow<'_, str> = if piece == "\u{a0}" {
            Cow::Borrowed(" ")
        } else {
            Cow::Borrowed(piece)
        };
        let font = ShaperFont::new(&self.shaper);
        let mut buffer = Buffer::new();
        buffer.push_str(&text);
        buffer.set_flags(BufferFlags::DO_NOT_INSERT_DOTTED_CIRCLE);
        buffer.set_cluster_level(ClusterLevel::MonotoneGraphemes);
        buffer.guess_segment_properties();
        buffer.set_direction(Direction::LeftToRight);
        let one_width = [Feature::new(Tag::new(b"tnum"), 1, ..)];
        let features = if tabular { one_width.as_slice() } else { &[] };
        let options = ShapeOptions::new().features(features);
        if harfrust::shape(&font, &mut buffer, options).is_err() {
            return self.unshaped(&font, &text);
        }
        let glyphs = buffer
            .glyph_infos()
            .iter()
            .zip(buffer.glyph_positions())
            .map(|(info, position)| Glyph {
                id: u16::try_from(info.glyph_id).unwrap_or(0),
                start: info.cluster,
                advance: position.x_advance,
                natural: font.glyph_h_advance(GlyphId::new(info.glyph_id)),
                right: position.x_offset,
                up: position.y_offset,
            })
            .collect();
        Shaped::of(glyphs)
    }

    /// A piece whose font cannot be shaped with: each character by itself.
    fn unshaped(&self, font: &ShaperFont<'_, '_>, text: &str) -> Shaped {
        let glyphs = text
            .char_indices()
            .map(|(start, character)| {
                let id = self.nominal(character).unwrap_or(0);
                let natural = font.glyph_h_advance(GlyphId::from(id));
                Glyph {
                    id,
                    start: u32::try_from(start).unwrap_or(u32::MAX),
                    advance: natural,
                    natural,
                    right: 0,
                    up: 0,
                }
            })
            .collect();
        Shaped::of(glyphs)
    }
}

impl Shaped {
    fn of(glyphs: Vec<Glyph>) -> Self {
        let width = glyphs.iter().map(|glyph| glyph.advance).sum();
        Self {
            glyphs: glyphs.into_boxed_slice(),
            width,
        }
    }

    /// Splits the glyphs into groups that stand for the same characters of `piece`, each with those characters.
    pub(crate) fn clusters<'a>(
        &'a self,
        piece: &'a str,
    ) -> impl Iterator<Item = (&'a [Glyph], &'a str)> {
        let mut rest = self.glyphs.as_ref();
        std::iter::from_fn(move || {
            let start = rest.first()?.start;
            let length = rest.iter().take_while(|glyph| glyph.start == start).count();
            let (group, after) = rest.split_at(length);
            rest = after;
            let from = usize::try_from(start).ok()?;
            let to = match after.first() {
                Some(next) => usize::try_from(next.start).ok()?,
                None => piece.len(),
            };
            Some((group, piece.get(from..to).unwrap_or_default()))
        })
    }
}
