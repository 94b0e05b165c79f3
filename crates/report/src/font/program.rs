//! One font file: what it covers, its measures, and whether it may be embedded.

use std::{
    collections::HashMap,
    fmt,
    sync::{Arc, RwLock},
};

use harfrust::Font;
use ttf_parser::Permissions;
use unicode_normalization::UnicodeNormalization as _;

use super::{Weight, shaping::Shaped};

/// The bytes of a font file, shared with the shaper.
pub(super) type Bytes = Arc<dyn AsRef<[u8]> + Send + Sync>;

/// A font file that is ready to be shaped with.
pub(crate) struct Program {
    /// PostScript name, of letters that a PDF name may have.
    pub(crate) name: String,
    pub(crate) weight: Weight,
    data: Bytes,
    pub(super) shaper: Font,
    /// One bit for each code point that has a glyph.
    coverage: Vec<u64>,
    pub(crate) units_per_em: u16,
    ascender: i16,
    descender: i16,
    bounds: [i16; 4],
    cap_height: i16,
    /// Slope of italics, degrees.
    pub(crate) italic_angle: f32,
    /// What was shaped before, with and without figures of one width.
    pub(super) cache: [RwLock<HashMap<Box<str>, Arc<Shaped>>>; 2],
}

/// Why a font file is not used.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub(crate) enum ProgramError {
    #[error(
        "is no OpenType or TrueType font that can be read ({0}); a whole file of glyf or CFF outlines is allowed"
    )]
    Broken(String),
    #[error(
        "forbids being embedded in a document (fsType of its OS/2 table); use a font whose licence and fsType allow it"
    )]
    Forbidden,
    #[error(
        "forbids being reduced to the characters used (fsType of its OS/2 table); use a font whose licence and fsType allow it"
    )]
    Whole,
    #[error(
        "cannot be reduced to the characters used ({0}); use a plain TrueType or OpenType file of the family"
    )]
    Irreducible(String),
}

impl Program {
    /// Reads a font file, the first font where it is a collection; of a variable font the default instance.
    pub(super) fn read(data: Bytes) -> Result<Self, ProgramError> {
        let broken = |reason: &str| ProgramError::Broken(reason.to_owned());
        let parsed = ttf_parser::Face::parse((*data).as_ref(), 0)
            .map_err(|error| broken(&error.to_string()))?;
        if matches!(parsed.permissions(), Some(Permissions::Restricted))
            || !parsed.is_outline_embedding_allowed()
        {
            return Err(ProgramError::Forbidden);
        }
        if !parsed.is_subsetting_allowed() {
            return Err(ProgramError::Whole);
        }
        let shaper = Font::new(Arc::clone(&data), 0)
            .ok_or_else(|| broken("its tables do not fit together"))?;
        let coverage = coverage(&shaper);
        if coverage.is_empty() {
            return Err(broken("it has no character"));
        }
        let name = parsed
            .names()
            .into_iter()
            .filter(|name| name.name_id == ttf_parser::name_id::POST_SCRIPT_NAME)
            .find_map(|name| name.to_string())
            .map(|name| {
                name.chars()
                    .filter(|c| c.is_ascii_alphanumeric() || *c == '-')
                    .take(60)
                    .collect()
            })
            .filter(|name: &String| !name.is_empty())
            .unwrap_or_else(|| "Unnamed".to_owned());
        let bounds = parsed.global_bounding_box();
        let program = Self {
            name,
            weight: if parsed.weight().to_number() >= 600 {
                Weight::Bold
            } else {
                Weight::Regular
            },
            units_per_em: parsed.units_per_em(),
            ascender: parsed.ascender(),
            descender: parsed.descender(),
            bounds: [bounds.x_min, bounds.y_min, bounds.x_max, bounds.y_max],
            cap_height: parsed.capital_height().unwrap_or(parsed.ascender()),
            italic_angle: parsed.italic_angle(),
            coverage,
            shaper,
            data,
            cache: Default::default(),
        };
        Ok(program)
    }

    /// Reads a font file of somebody else's: as [`Program::read`], and a few glyphs are reduced on trial.
    pub(super) fn read_checked(data: Vec<u8>) -> Result<Self, ProgramError> {
        let program = Self::read(Arc::new(data))?;
        let mut mapper = subsetter::GlyphRemapper::new();
        for glyph in 1..program.shaper.num_glyphs().min(40) {
            mapper.remap(u16::try_from(glyph).unwrap_or(0));
        }
        subsetter::subset(program.data(), 0, &mapper)
            .map_err(|error| ProgramError::Irreducible(error.to_string()))?;
        Ok(program)
    }

    /// Whether the font can draw a character with the marks on it, by these very characters or by an
    /// equivalent spelling (NFD, NFC), which shaping finds.
    pub(crate) fn covers(&self, cluster: &str) -> bool {
        cluster.chars().all(|character| self.has(character))
            || cluster.nfd().all(|character| self.has(character))
            || cluster.nfc().all(|character| self.has(character))
    }

    fn has(&self, character: char) -> bool {
        let code = u32::from(if character == '\u{a0}' {
            ' '
        } else {
            character
        });
        usize::try_from(code / 64)
            .ok()
            .and_then(|word| self.coverage.get(word))
            .is_some_and(|word| word >> (code % 64) & 1 == 1)
    }

    /// Returns the glyph of a character standing alone.
    pub(crate) fn nominal(&self, character: char) -> Option<u16> {
        let glyph = self.shaper.charmap().map_unicode(character)?;
        u16::try_from(glyph.to_u32()).ok()
    }

    /// Returns the bytes of the font file.
    pub(crate) fn data(&self) -> &[u8] {
        (*self.data).as_ref()
    }

    /// Returns millimetres in a font unit at `size` points.
    pub(crate) fn scale(&self, size: f64) -> f64 {
        size * super::MM_PER_POINT / f64::from(self.units_per_em)
    }

    /// Returns the height of capitals, mm at `size` points.
    pub(crate) fn cap_height(&self, size: f64) -> f64 {
        f64::from(self.cap_height) * self.scale(size)
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

impl fmt::Debug for Program {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Program")
            .field("name", &self.name)
            .finish_non_exhaustive()
    }
}

/// Collects the code points that have a glyph, by the very table that shaping asks.
///
/// The groups of a table may claim any range of numbers, and over each other: the shaper's walk takes each code point at
/// most once and none beyond Unicode.
fn coverage(shaper: &Font) -> Vec<u64> {
    let mut bits: Vec<u64> = Vec::new();
    for (code, glyph) in shaper.charmap().unicodes() {
        let word = char::from_u32(code).and_then(|_| usize::try_from(code / 64).ok());
        let (Some(word), Ok(1..)) = (word, u16::try_from(glyph.to_u32())) else {
            continue;
        };
        if bits.len() <= word {
            bits.resize(word + 1, 0);
        }
        if let Some(slot) = bits.get_mut(word) {
            *slot |= 1 << (code % 64);
        }
    }
    bits
}
