//! Content streams: the operations of a page as bytes.
//!
//! printpdf's own translation makes an object of every number and every glyph, which took longer than all the rest of
//! writing; here the same operations go into the stream as they are. What pages here never use is refused.
//!
//! Source: ISO 32000-1, annex A (operators) and 9.4.3 (showing text).

use printpdf::{Color, LinePoint, Op, PaintMode, TextItem};

use super::{PdfError, syntax};

/// What a document lacks that holds an operation which pages never use.
const UNKNOWN: PdfError = PdfError::Shape("a spelling for one of its operations");

/// Returns the content stream of a page.
pub(super) fn encode(operations: &[Op]) -> Result<Vec<u8>, PdfError> {
    let mut pen = Pen {
        out: Vec::with_capacity(operations.len() * 24),
    };
    for operation in operations {
        pen.operation(operation)?;
    }
    Ok(pen.out)
}

struct Pen {
    out: Vec<u8>,
}

impl Pen {
    /// Writes an operator behind its numbers.
    fn numbers<const N: usize>(&mut self, values: [f32; N], operator: &str) {
        for value in values {
            syntax::real(&mut self.out, value);
            self.out.push(b' ');
        }
        self.operator(operator);
    }

    fn operator(&mut self, operator: &str) {
        self.out.extend_from_slice(operator.as_bytes());
        self.out.push(b'\n');
    }

    fn operation(&mut self, operation: &Op) -> Result<(), PdfError> {
        match operation {
            Op::SaveGraphicsState => self.operator("q"),
            Op::RestoreGraphicsState => self.operator("Q"),
            Op::SetTransformationMatrix { matrix } => self.numbers(matrix.as_array(), "cm"),
            Op::UseXobject { id, .. } => {
                syntax::name(&mut self.out, id.0.as_bytes());
                self.out.push(b' ');
                self.operator("Do");
            }
            Op::SetFillColor { col } => self.colour(col, "rg")?,
            Op::SetOutlineColor { col } => self.colour(col, "RG")?,
            Op::SetOutlineThickness { pt } => self.numbers([pt.0], "w"),
            Op::SetLineDashPattern { dash } => {
                self.out.push(b'[');
                for (index, length) in dash.pattern.iter().enumerate() {
                    if index > 0 {
                        self.out.push(b' ');
                    }
                    syntax::real(&mut self.out, *length);
                }
                self.out.extend(b"] ");
                self.numbers([dash.offset], "d");
            }
            Op::SetLineJoinStyle { join } => self.number(join.id(), "j"),
            Op::DrawLine { line } => {
                self.path(&line.points);
                self.operator(if line.is_closed { "h\nS" } else { "S" });
            }
            Op::DrawPolygon { polygon } if matches!(polygon.mode, PaintMode::Fill) => {
                for ring in &polygon.rings {
                    self.path(&ring.points);
                }
                self.out.extend(b"h\n");
                self.operator(polygon.winding_order.get_fill_op());
            }
            Op::StartTextSection => self.operator("BT"),
            Op::EndTextSection => self.operator("ET"),
            Op::SetFont { font, size } => {
                syntax::name(&mut self.out, font.get_resource_name().as_bytes());
                self.out.push(b' ');
                self.numbers([size.0], "Tf");
            }
            Op::SetTextCursor { pos } => self.numbers([pos.x.0, pos.y.0], "Td"),
            Op::SetLineOffset { multiplier } => self.numbers([*multiplier], "Ts"),
            Op::ShowText { items } => self.text(items)?,
            Op::BeginMarkedContentWithProperties { tag, properties } => {
                syntax::name(&mut self.out, tag.as_bytes());
                syntax::object(&mut self.out, &properties.to_lopdf());
                self.operator("BDC");
            }
            Op::EndMarkedContent => self.operator("EMC"),
            _ => return Err(UNKNOWN),
        }
        Ok(())
    }

    fn number(&mut self, value: i64, operator: &str) {
        syntax::integer(&mut self.out, value);
        self.out.push(b' ');
        self.operator(operator);
    }

    fn colour(&mut self, colour: &Color, operator: &str) -> Result<(), PdfError> {
        // Only sRGB: the output intent speaks of nothing else.
        let Color::Rgb(rgb) = colour else {
            return Err(PdfError::Shape("an sRGB colour"));
        };
        self.numbers([rgb.r, rgb.g, rgb.b], operator);
        Ok(())
    }

    /// Writes one part of a path: a move, then lines, and curves where two handles stand before a point.
    fn path(&mut self, points: &[LinePoint]) {
        let mut rest = points;
        let mut first = true;
        loop {
            rest = match rest {
                [one, two, end, rest @ ..] if !first && one.bezier && two.bezier => {
                    let [one, two, end] = [one, two, end].map(|point| [point.p.x.0, point.p.y.0]);
                    self.numbers([one[0], one[1], two[0], two[1], end[0], end[1]], "c");
                    rest
                }
                [point, rest @ ..] => {
                    self.numbers([point.p.x.0, point.p.y.0], if first { "m" } else { "l" });
                    rest
                }
                [] => return,
            };
            first = false;
        }
    }

    /// Writes glyphs as one string as long as no space stands between them.
    fn text(&mut self, items: &[TextItem]) -> Result<(), PdfError> {
        let mut run = Run {
            out: &mut self.out,
            open: false,
            number: false,
            broken: false,
        };
        let start = run.out.len();
        for item in items {
            match item {
                TextItem::GlyphIds(codes) => {
                    for code in codes {
                        run.glyph(code.gid);
                        run.shift(code.offset);
                    }
                }
                TextItem::Offset(offset) => run.shift(*offset),
                // Which glyphs stand for characters was told when the text was shaped.
                TextItem::Text(_) => return Err(UNKNOWN),
            }
        }
        run.close();
        if run.out.len() == start {
            return Ok(());
        }
        if run.broken {
            self.out.insert(start, b'[');
            self.out.push(b']');
            self.operator("TJ");
        } else {
            self.operator("Tj");
        }
        Ok(())
    }
}

/// Glyphs and the spaces between them.
struct Run<'a> {
    out: &'a mut Vec<u8>,
    /// Inside a string.
    open: bool,
    /// Behind a number.
    number: bool,
    /// A space was written.
    broken: bool,
}

impl Run<'_> {
    fn glyph(&mut self, glyph: u16) {
        if !self.open {
            self.open = true;
            self.number = false;
            self.out.push(b'<');
        }
        syntax::hexadecimal(self.out, &glyph.to_be_bytes());
    }

    /// In thousandths of an em, against the direction of writing; what is less than a millionth cannot be seen.
    fn shift(&mut self, offset: f32) {
        if offset.abs() < 0.0005 {
            return;
        }
        self.close();
        if std::mem::replace(&mut self.number, true) {
            self.out.push(b' ');
        }
        syntax::real(self.out, offset);
        self.broken = true;
    }

    fn close(&mut self) {
        if std::mem::take(&mut self.open) {
            self.out.push(b'>');
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use printpdf::{
        Codepoint, CurTransMat, FontId, LayerInternalId, Line, LineDashPattern, LineJoinStyle,
        PdfFontHandle, Point, Polygon, PolygonRing, Pt, Rgb, WindingOrder, XObjectId,
        XObjectTransform,
    };

    fn encoded(operations: &[Op]) -> String {
        let bytes = encode(operations).unwrap();
        String::from_utf8(bytes)
            .unwrap()
            .trim_end()
            .replace('\n', " | ")
    }

    fn font() -> Op {
        Op::SetFont {
            font: PdfFontHandle::External(FontId("Face".to_owned())),
            size: Pt(9.5),
        }
    }

    fn shown(items: Vec<TextItem>) -> String {
        encoded(&[font(), Op::ShowText { items }])
            .strip_prefix("/Face 9.5 Tf")
            .unwrap()
            .trim_start_matches(" | ")
            .to_owned()
    }

    fn at(x: f32, y: f32, bezier: bool) -> LinePoint {
        LinePoint {
            p: Point { x: Pt(x), y: Pt(y) },
            bezier,
        }
    }

    #[test]
    fn glyphs_stand_in_one_string_until_a_space() {
        let code = |glyph, offset| Codepoint::new(glyph, offset);
        let one = |glyph| TextItem::GlyphIds(vec![code(glyph, 0.0)]);
        assert_eq!(shown(vec![one(1), one(2), one(0x1f2)]), "<0001000201F2>Tj");
        assert_eq!(
            shown(vec![one(1), TextItem::Offset(-12.5), one(2)]),
            "[<0001>-12.5<0002>]TJ"
        );
        assert_eq!(
            shown(vec![TextItem::GlyphIds(vec![
                code(7, 0.0),
                code(8, 3.0),
                code(9, -0.0)
            ])]),
            "[<00070008>3<0009>]TJ"
        );
        assert_eq!(
            shown(vec![
                TextItem::Offset(5.0),
                TextItem::Offset(6.0),
                one(1),
                TextItem::Offset(0.0)
            ]),
            "[5 6<0001>]TJ"
        );
        assert_eq!(shown(vec![TextItem::GlyphIds(Vec::new())]), "");
        assert_eq!(shown(Vec::new()), "");
    }

    #[test]
    fn paths_and_pictures_are_drawn() {
        let curve = [
            at(0.0, 0.0, false),
            at(1.0, 1.0, true),
            at(2.0, 1.0, true),
            at(3.0, 0.0, false),
            at(3.0, -4.25, false),
        ];
        let ring = |points: &[LinePoint]| PolygonRing {
            points: points.to_vec(),
        };
        let polygon = Polygon {
            rings: vec![ring(&curve[..1]), ring(&curve[3..])],
            mode: PaintMode::Fill,
            winding_order: WindingOrder::EvenOdd,
        };
        let line = Line {
            points: curve.to_vec(),
            is_closed: true,
        };
        assert_eq!(
            encoded(&[Op::DrawLine { line }]),
            "0 0 m | 1 1 2 1 3 0 c | 3 -4.25 l | h | S"
        );
        assert_eq!(
            encoded(&[Op::DrawPolygon { polygon }]),
            "0 0 m | 3 0 m | 3 -4.25 l | h | f*"
        );
        let rgb = Rgb {
            r: 0.2,
            g: 0.0,
            b: 1.0,
            icc_profile: None,
        };
        assert_eq!(
            encoded(&[
                Op::SaveGraphicsState,
                Op::SetTransformationMatrix {
                    matrix: CurTransMat::Raw([1.0, 0.0, 0.0, 1.0, 7.5, 8.0])
                },
                Op::UseXobject {
                    id: XObjectId("Photo0".to_owned()),
                    transform: XObjectTransform::default(),
                },
                Op::RestoreGraphicsState,
                Op::SetOutlineColor {
                    col: Color::Rgb(rgb)
                },
                Op::SetLineJoinStyle {
                    join: LineJoinStyle::Round
                },
                Op::SetLineDashPattern {
                    dash: LineDashPattern::new(0.0, &[2.0, 1.5])
                },
            ]),
            "q | 1 0 0 1 7.5 8 cm | /Photo0 Do | Q | 0.2 0 1 RG | 1 j | [2 1.5] 0 d"
        );
    }

    #[test]
    fn what_pages_never_use_is_refused() {
        let refused = [
            Op::BeginLayer {
                layer_id: LayerInternalId("x".to_owned()),
            },
            Op::ShowText {
                items: vec![TextItem::Text("words".to_owned())],
            },
            Op::DrawPolygon {
                polygon: Polygon {
                    rings: Vec::new(),
                    mode: PaintMode::Clip,
                    winding_order: WindingOrder::NonZero,
                },
            },
        ];
        for operation in refused {
            let error = encode(std::slice::from_ref(&operation)).unwrap_err();
            assert_eq!(
                error.to_string(),
                "PDF document lacks a spelling for one of its operations",
                "{operation:?}"
            );
        }
    }
}
