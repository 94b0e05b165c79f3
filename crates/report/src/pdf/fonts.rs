//! Fonts reduced to the glyphs of one document.

use std::collections::BTreeMap;

use lopdf::{Document, Object};
use printpdf::{
    Codepoint, FontId, FontMetrics, Op, ParsedFont, PdfFont, PdfFontHandle, Pt, TextItem,
};
use subsetter::GlyphRemapper;
use tangmark_core::Digest;

use super::PdfError;
use crate::{
    font::{Glyph, Program, Weight},
    scene::{Draw, Scene},
};

/// A glyph of a document.
struct Used {
    /// The characters it stands for wherever nothing else is said.
    text: String,
    /// Width in the font's own table, font units.
    width: i32,
    /// Number in the reduced font.
    number: u16,
}

/// A font reduced to the glyphs used.
pub(super) struct Subset {
    index: usize,
    /// PostScript name with the six-letter tag of ISO 32000-1, 9.6.4.
    name: String,
    program: Vec<u8>,
    /// By number in the whole font.
    glyphs: BTreeMap<u16, Used>,
    units_per_em: u16,
    weight: Weight,
    italic_angle: f32,
    vertical: [i64; 2],
    bounds: [i64; 4],
    capitals: i64,
}

/// The fonts of a document, by their place in the set of fonts.
pub(super) struct Fonts(BTreeMap<usize, Subset>);

/// Resource name of a font.
pub(super) fn font_id(index: usize) -> FontId {
    FontId(format!("Font{index}"))
}

impl Fonts {
    /// Reduces each font the scene uses.
    pub(super) fn of(scene: &Scene) -> Result<Self, PdfError> {
        let mut used: BTreeMap<usize, BTreeMap<u16, Used>> = BTreeMap::new();
        let draws = scene
            .pages
            .iter()
            .flat_map(|page| &page.groups)
            .flat_map(|group| &group.draws);
        for draw in draws {
            let Draw::Text(text) = draw else { continue };
            for (index, piece, shaped) in scene.fonts.shape(text.weight, &text.text, text.tabular) {
                let Some(program) = scene.fonts.program(index) else {
                    continue;
                };
                let glyphs = used.entry(index).or_default();
                for (cluster, words) in shaped.clusters(piece) {
                    note(glyphs, program, cluster, words);
                }
            }
        }
        let subsets = used.into_iter().map(|(index, glyphs)| {
            let program = scene
                .fonts
                .program(index)
                .ok_or(PdfError::Shape("a font"))?;
            Ok((index, Subset::new(index, program, glyphs)?))
        });
        Ok(Self(subsets.collect::<Result<_, PdfError>>()?))
    }

    pub(super) fn subsets(&self) -> impl Iterator<Item = &Subset> {
        self.0.values()
    }

    fn used(&self, index: usize, glyph: u16) -> Option<&Used> {
        self.0.get(&index)?.glyphs.get(&glyph)
    }

    /// Returns the number of a glyph in its reduced font; 0 is the sign for a missing one.
    pub(super) fn number(&self, index: usize, glyph: u16) -> u16 {
        self.used(index, glyph).map_or(0, |used| used.number)
    }

    /// Whether glyphs read by themselves as `words`; if not, the words must be said beside them.
    ///
    /// Marks that were moved over their letter do not: many programs order glyphs by their places.
    pub(super) fn reads_as(&self, index: usize, glyphs: &[Glyph], words: &str) -> bool {
        if glyphs.len() > 1 && glyphs.iter().any(|glyph| glyph.right != 0 || glyph.up != 0) {
            return false;
        }
        let mut rest = words;
        for glyph in glyphs {
            let text = self.used(index, glyph.id).map(|used| used.text.as_str());
            match text.and_then(|text| rest.strip_prefix(text)) {
                Some(after) => rest = after,
                None => return false,
            }
        }
        rest.is_empty()
    }

    /// Returns operations that show every glyph once: what printpdf has to know to embed the fonts,
    /// with the text behind each glyph.
    pub(super) fn shown(&self) -> Vec<Op> {
        let mut operations = vec![Op::StartTextSection];
        for subset in self.0.values() {
            operations.push(Op::SetFont {
                font: PdfFontHandle::External(subset.id()),
                size: Pt(1.0),
            });
            let codes = subset
                .glyphs
                .values()
                .map(|used| Codepoint::with_cid(used.number, 0.0, used.text.clone()))
                .collect();
            operations.push(Op::ShowText {
                items: vec![TextItem::GlyphIds(codes)],
            });
        }
        operations.push(Op::EndTextSection);
        operations
    }

    /// Puts right in the font dictionaries what printpdf cannot know of a reduced font.
    pub(super) fn complete(&self, document: &mut Document) -> Result<(), PdfError> {
        self.0
            .values()
            .try_for_each(|subset| subset.complete(document))
    }
}

/// Notes the glyphs of a cluster, each with the characters it stands for: those of its first use.
fn note(glyphs: &mut BTreeMap<u16, Used>, program: &Program, cluster: &[Glyph], words: &str) {
    let one_each = cluster.len() > 1
        && words.chars().count() == cluster.len()
        && words
            .chars()
            .zip(cluster)
            .all(|(character, glyph)| program.nominal(character) == Some(glyph.id));
    let mut characters = words.chars();
    for glyph in cluster {
        let own = if one_each { characters.next() } else { None };
        glyphs.entry(glyph.id).or_insert_with(|| Used {
            text: own.map_or_else(|| words.to_owned(), String::from),
            width: glyph.natural,
            number: 0,
        });
    }
}

impl Subset {
    fn new(
        index: usize,
        program: &Program,
        mut glyphs: BTreeMap<u16, Used>,
    ) -> Result<Self, PdfError> {
        let mut remapper = GlyphRemapper::new();
        // In the order of the whole font, so the numbers depend on nothing else.
        for (glyph, used) in &mut glyphs {
            used.number = remapper.remap(*glyph);
        }
        let reduced =
            subsetter::subset(program.data(), 0, &remapper).map_err(|reason| PdfError::Font {
                index,
                name: program.name.clone(),
                reason,
            })?;
        let (vertical, bounds, capitals) = program.metrics_per_mille();
        Ok(Self {
            index,
            name: format!("{}+{}", subset_tag(index, &reduced), program.name),
            program: reduced,
            glyphs,
            units_per_em: program.units_per_em,
            weight: program.weight,
            italic_angle: program.italic_angle,
            vertical,
            bounds,
            capitals,
        })
    }

    pub(super) fn id(&self) -> FontId {
        font_id(self.index)
    }

    /// The font as printpdf takes it; [`Fonts::complete`] puts in the metrics later.
    pub(super) fn embedded(&self) -> PdfFont {
        let widths = self
            .glyphs
            .values()
            .map(|used| (used.number, u16::try_from(used.width).unwrap_or(0)))
            .collect();
        PdfFont::new(ParsedFont::with_glyph_data(
            self.program.clone(),
            0,
            Some(self.name.clone()),
            BTreeMap::new(),
            widths,
            self.units_per_em,
            FontMetrics {
                ascent: 0,
                descent: 0,
            },
        ))
    }

    /// The `/W` array: exact widths in thousandths of an em, where printpdf would cut off decimals
    /// and long lines would drift from their places.
    fn width_array(&self) -> Vec<Object> {
        let units = f64::from(self.units_per_em);
        let mut array: Vec<Object> = Vec::new();
        let mut next = None;
        // The reduced font keeps the order of the whole one.
        for used in self.glyphs.values() {
            let width = Object::Real(super::content::narrow(
                f64::from(used.width) * 1000.0 / units,
            ));
            match array.last_mut() {
                Some(Object::Array(run)) if next == Some(used.number) => run.push(width),
                _ => array.extend([
                    Object::Integer(i64::from(used.number)),
                    Object::Array(vec![width]),
                ]),
            }
            next = used.number.checked_add(1);
        }
        array
    }

    fn complete(&self, document: &mut Document) -> Result<(), PdfError> {
        let name = self.name.as_bytes();
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
        descendant.set("W", self.width_array());
        let descriptor = descendant
            .get(b"FontDescriptor")
            .and_then(Object::as_reference)?;
        let descriptor = document.get_object_mut(descriptor)?.as_dict_mut()?;
        descriptor.set("Ascent", self.vertical[0]);
        descriptor.set("Descent", self.vertical[1]);
        descriptor.set("FontBBox", self.bounds.map(Object::Integer).to_vec());
        descriptor.set("CapHeight", self.capitals);
        // Stem width is in no table; thickness of the upright strokes as drawn, in round figures.
        descriptor.set("StemV", if self.weight == Weight::Bold { 150 } else { 80 });
        // Symbolic (bit 3): the character set is larger than standard Latin. Italic is bit 7.
        descriptor.set("Flags", if self.italic_angle == 0.0 { 4 } else { 68 });
        descriptor.set(
            "ItalicAngle",
            Object::Real(super::content::narrow(f64::from(self.italic_angle))),
        );
        Ok(())
    }
}

/// Six capital letters from the digest of the reduced font and its place, so that no two are alike.
fn subset_tag(index: usize, program: &[u8]) -> String {
    let mut named = Digest::of(program).as_bytes().to_vec();
    named.extend(index.to_be_bytes());
    let digest = Digest::of(&named);
    digest
        .as_bytes()
        .iter()
        .take(6)
        .map(|byte| char::from(b'A' + byte % 26))
        .collect()
}

fn has_name(dictionary: &lopdf::Dictionary, key: &[u8], name: &[u8]) -> bool {
    dictionary
        .get(key)
        .and_then(Object::as_name)
        .is_ok_and(|found| found == name)
}
