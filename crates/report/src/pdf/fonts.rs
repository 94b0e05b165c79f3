//! Fonts reduced to the characters of one document.

use std::collections::{BTreeMap, BTreeSet};

use lopdf::{Document, Object};
use printpdf::{FontId, FontMetrics, ParsedFont, PdfFont};
use subsetter::GlyphRemapper;
use tangmark_core::Digest;

use super::PdfError;
use crate::{
    font::{Face, Weight},
    scene::{Draw, Scene},
};

/// One face reduced to the characters used.
pub(super) struct Subset {
    weight: Weight,
    /// PostScript name with the six-letter tag of ISO 32000-1, 9.6.4.
    name: String,
    program: Vec<u8>,
    /// Character → glyph number in the reduced font.
    glyphs: BTreeMap<u32, u16>,
    /// Advance of each glyph of the reduced font that has a character, font units.
    widths: BTreeMap<u16, u16>,
}

/// Resource name of a weight.
pub(super) fn font_id(weight: Weight) -> FontId {
    FontId(match weight {
        Weight::Regular => "TextRegular".to_owned(),
        Weight::Bold => "TextBold".to_owned(),
    })
}

/// Reduces each weight the scene uses.
pub(super) fn prepare(scene: &Scene) -> Result<Vec<Subset>, PdfError> {
    let mut used: BTreeMap<Weight, BTreeSet<char>> = BTreeMap::new();
    for draw in scene
        .pages
        .iter()
        .flat_map(|page| &page.groups)
        .flat_map(|group| &group.draws)
    {
        if let Draw::Text(text) = draw {
            used.entry(text.weight)
                .or_default()
                .extend(text.text.chars());
        }
    }
    used.into_iter()
        .map(|(weight, characters)| Subset::new(weight, &characters))
        .collect()
}

impl Subset {
    fn new(weight: Weight, characters: &BTreeSet<char>) -> Result<Self, PdfError> {
        let face = Face::of(weight);
        let family = match weight {
            Weight::Regular => "BIZUDPGothic",
            Weight::Bold => "BIZUDPGothic-Bold",
        };
        let mut remapper = GlyphRemapper::new();
        let (mut glyphs, mut widths) = (BTreeMap::new(), BTreeMap::new());
        // In the order of characters, so the numbers depend on nothing else.
        for character in characters {
            if let Some((glyph, advance)) = face.lookup(*character) {
                let number = remapper.remap(glyph);
                glyphs.insert(u32::from(*character), number);
                widths.insert(number, advance);
            }
        }
        let program = subsetter::subset(face.data(), 0, &remapper)
            .map_err(|error| PdfError::Font(family.to_owned(), error))?;
        let name = format!("{}+{family}", subset_tag(&program));
        Ok(Self {
            weight,
            name,
            program,
            glyphs,
            widths,
        })
    }

    pub(super) fn id(&self) -> FontId {
        font_id(self.weight)
    }

    /// The face as printpdf takes it; [`complete`] puts in the metrics later.
    pub(super) fn embedded(&self) -> PdfFont {
        PdfFont::new(ParsedFont::with_glyph_data(
            self.program.clone(),
            0,
            Some(self.name.clone()),
            self.glyphs.clone(),
            self.widths.clone(),
            Face::of(self.weight).units_per_em(),
            FontMetrics {
                ascent: 0,
                descent: 0,
            },
        ))
    }

    /// The `/W` array: exact widths in thousandths of an em, where printpdf would cut off decimals
    /// and long lines would drift from their places.
    fn width_array(&self) -> Vec<Object> {
        let units = f64::from(Face::of(self.weight).units_per_em());
        let mut array: Vec<Object> = Vec::new();
        let mut next = None;
        for (glyph, advance) in &self.widths {
            let width = Object::Real(super::content::narrow(f64::from(*advance) * 1000.0 / units));
            match array.last_mut() {
                Some(Object::Array(run)) if next == Some(*glyph) => run.push(width),
                _ => array.extend([
                    Object::Integer(i64::from(*glyph)),
                    Object::Array(vec![width]),
                ]),
            }
            next = glyph.checked_add(1);
        }
        array
    }
}

/// Six capital letters from the digest of the reduced font.
fn subset_tag(program: &[u8]) -> String {
    let digest = Digest::of(program);
    digest
        .as_bytes()
        .iter()
        .take(6)
        .map(|byte| char::from(b'A' + byte % 26))
        .collect()
}

/// Puts right in the font dictionaries what printpdf cannot know of a reduced font.
pub(super) fn complete(document: &mut Document, fonts: &[Subset]) -> Result<(), PdfError> {
    for font in fonts {
        let name = font.name.as_bytes();
        let composite = document
            .objects
            .values_mut()
            .filter_map(|object| object.as_dict_mut().ok())
            .find(|dictionary| {
                dictionary
                    .get(b"Subtype")
                    .and_then(Object::as_name)
                    .is_ok_and(|kind| kind == b"Type0")
                    && has_name(dictionary, b"BaseFont", name)
            })
            .ok_or(PdfError::Shape("the composite font"))?;
        let descendant = composite
            .get_mut(b"DescendantFonts")
            .and_then(Object::as_array_mut)?
            .first_mut()
            .ok_or(PdfError::Shape("the descendant font"))?
            .as_dict_mut()?;
        descendant.set("W", font.width_array());
        let descriptor = descendant
            .get(b"FontDescriptor")
            .and_then(Object::as_reference)?;
        let (vertical, bounds, capitals) = Face::of(font.weight).metrics_per_mille();
        let descriptor = document.get_object_mut(descriptor)?.as_dict_mut()?;
        descriptor.set("Ascent", vertical[0]);
        descriptor.set("Descent", vertical[1]);
        descriptor.set("FontBBox", bounds.map(Object::Integer).to_vec());
        descriptor.set("CapHeight", capitals);
        // Stem width is in no table; thickness of the upright strokes as drawn, in round figures.
        descriptor.set("StemV", if font.weight == Weight::Bold { 150 } else { 80 });
        // Symbolic (bit 3): the character set is larger than standard Latin.
        descriptor.set("Flags", 4);
    }
    Ok(())
}

fn has_name(dictionary: &lopdf::Dictionary, key: &[u8], name: &[u8]) -> bool {
    dictionary
        .get(key)
        .and_then(Object::as_name)
        .is_ok_and(|found| found == name)
}
