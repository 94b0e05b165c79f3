//! Text as glyphs of the embedded fonts, placed as they were shaped.

use printpdf::{Codepoint, DictItem, Op, PdfFontHandle, Pt, TextItem};

use super::{
    content::{Pen, narrow},
    fonts, utf16,
};
use crate::{
    font::{Glyph, Program},
    scene::TextDraw,
};

impl Pen<'_> {
    /// Shows a text: one text object, in which the font changes where the text needs it.
    pub(super) fn text(&mut self, draw: &TextDraw) {
        self.fill_state(draw.colour);
        self.operations.push(Op::StartTextSection);
        self.operations.push(Op::SetTextCursor {
            pos: self.point([draw.x, draw.y]),
        });
        let fonts = &self.scene.fonts;
        for (index, piece, shaped) in fonts.shape(draw.weight, &draw.text, draw.tabular) {
            let Some(program) = fonts.program(index) else {
                continue;
            };
            if self.font != Some((index, draw.size)) {
                self.font = Some((index, draw.size));
                self.operations.push(Op::SetFont {
                    font: PdfFontHandle::External(fonts::font_id(index)),
                    size: Pt(narrow(draw.size)),
                });
            }
            // The words for a whole piece: between two places of their own, some programs read a space.
            let plain = shaped
                .clusters(piece)
                .all(|(glyphs, words)| self.fonts.reads_as(index, glyphs, words));
            if !plain {
                let data = DictItem::String {
                    data: utf16(piece),
                    literal: false,
                };
                self.begin("Span", [("ActualText", data)]);
            }
            for glyph in &shaped.glyphs {
                self.glyph(index, program, glyph, draw.size);
            }
            if !plain {
                self.operations.push(Op::EndMarkedContent);
            }
        }
        self.operations.push(Op::EndTextSection);
    }

    /// Shows a glyph where it was placed and leaves the pen where it was shaped to be.
    fn glyph(&mut self, index: usize, program: &Program, glyph: &Glyph, size: f64) {
        let number = self.fonts.number(index, glyph.id);
        let em = f64::from(program.units_per_em);
        // Against the direction of writing, in thousandths of an em; see ISO 32000-1, 9.4.3.
        let back = |units: i32| narrow(-f64::from(units) * 1000.0 / em);
        self.shift(back(glyph.right));
        let rise = f64::from(glyph.up) / em * size;
        if glyph.up != 0 {
            self.operations.push(Op::SetLineOffset {
                multiplier: narrow(rise),
            });
        }
        self.show(number);
        if glyph.up != 0 {
            self.operations.push(Op::SetLineOffset { multiplier: 0.0 });
        }
        self.shift(back(glyph.advance - glyph.natural - glyph.right));
    }

    /// Shows a glyph, in the same string as the one before where nothing stands between them.
    fn show(&mut self, number: u16) {
        let code = Codepoint::new(number, 0.0);
        if let Some(Op::ShowText { items }) = self.operations.last_mut() {
            match items.last_mut() {
                Some(TextItem::GlyphIds(codes)) => codes.push(code),
                _ => items.push(TextItem::GlyphIds(vec![code])),
            }
            return;
        }
        self.operations.push(Op::ShowText {
            items: vec![TextItem::GlyphIds(vec![code])],
        });
    }

    /// Moves the pen.
    fn shift(&mut self, back: f32) {
        if back == 0.0 {
            return;
        }
        if let Some(Op::ShowText { items }) = self.operations.last_mut() {
            match items.last_mut() {
                Some(TextItem::GlyphIds(codes)) => {
                    if let Some(last) = codes.last_mut() {
                        last.offset += back;
                    }
                }
                _ => items.push(TextItem::Offset(back)),
            }
            return;
        }
        self.operations.push(Op::ShowText {
            items: vec![TextItem::Offset(back)],
        });
    }
}

#[cfg(test)]
mod tests;
