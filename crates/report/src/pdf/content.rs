//! Pages as content streams, with the marked-content numbers that tie marks to the structure.

use std::collections::BTreeMap;

use printpdf::{
    Color, CurTransMat, DictItem, Line, LineDashPattern, LineJoinStyle, LinePoint, Op, PaintMode,
    Point, Polygon, PolygonRing, Pt, Rgb, WindingOrder, XObjectId, XObjectTransform,
};

use super::{fonts::Fonts, image_name};
use crate::{
    font::MM_PER_POINT,
    scene::{
        Colour, Draw, Group, ImageDraw, NodeId, Page, PathDraw, Role, Scene, Segment, Stroke,
        upright,
    },
};

/// A page's operations, and for each marked-content number the node and group it marks.
pub(super) struct Drawn {
    pub(super) operations: Vec<Op>,
    pub(super) marks: Vec<(NodeId, usize)>,
}

/// Returns a length for printpdf, which counts in `f32`; three decimals are kept, so that the file
/// shows no noise of binary fractions and does not depend on the last bit of a calculation.
#[allow(clippy::cast_possible_truncation)]
pub(super) fn narrow(value: f64) -> f32 {
    let rounded = (value * 1000.0).round() / 1000.0;
    // No negative zero: it would be written "-0".
    if rounded == 0.0 { 0.0 } else { rounded as f32 }
}

/// Millimetres as points.
fn points(mm: f64) -> Pt {
    Pt(narrow(mm / MM_PER_POINT))
}

/// Tag of a node's marked content and structure element.
pub(super) const fn tag(role: Role) -> &'static str {
    match role {
        Role::Section => "Sect",
        Role::Heading1 => "H1",
        Role::Heading2 => "H2",
        Role::Heading3 => "H3",
        Role::Paragraph => "P",
        Role::Span => "Span",
        Role::Ruby => "Ruby",
        Role::RubyBase => "RB",
        Role::RubyText => "RT",
        Role::List => "L",
        Role::ListItem => "LI",
        Role::Label => "Lbl",
        Role::ListBody => "LBody",
        Role::Table => "Table",
        Role::TableRow => "TR",
        Role::ColumnHeader | Role::RowHeader => "TH",
        Role::TableCell => "TD",
        Role::Figure => "Figure",
        Role::Caption => "Caption",
        Role::Form => "Form",
    }
}

/// Draws a page.
pub(super) fn operations(scene: &Scene, page: &Page, fonts: &Fonts) -> Drawn {
    let mut pen = Pen {
        scene,
        fonts,
        height: page.height,
        operations: Vec::new(),
        marks: Vec::new(),
        fill: None,
        stroke: None,
        font: None,
    };
    for (index, group) in page.groups.iter().enumerate() {
        pen.group(index, group);
    }
    Drawn {
        operations: pen.operations,
        marks: pen.marks,
    }
}

pub(super) struct Pen<'a> {
    pub(super) scene: &'a Scene,
    pub(super) fonts: &'a Fonts,
    height: f64,
    pub(super) operations: Vec<Op>,
    marks: Vec<(NodeId, usize)>,
    // What the page's graphics state holds, so that nothing is set twice.
    fill: Option<Colour>,
    stroke: Option<Stroke>,
    pub(super) font: Option<(usize, f64)>,
}

impl Pen<'_> {
    fn group(&mut self, index: usize, group: &Group) {
        let node = group
            .node
            .and_then(|id| self.scene.nodes.get(id.0).map(|node| (id, node.role)));
        if let Some((id, role)) = node {
            let number = i64::try_from(self.marks.len()).unwrap_or(i64::MAX);
            self.marks.push((id, index));
            self.begin(tag(role), [("MCID", DictItem::Int(number))]);
        } else {
            let kind = if group.pagination {
                "Pagination"
            } else {
                "Layout"
            };
            self.begin("Artifact", [("Type", DictItem::Name(kind.into()))]);
        }
        for draw in &group.draws {
            match draw {
                Draw::Path(path) => self.path(path),
                Draw::Text(text) => self.text(text),
                Draw::Image(image) => self.image(image),
            }
        }
        self.operations.push(Op::EndMarkedContent);
    }

    pub(super) fn begin<const N: usize>(&mut self, tag: &str, entries: [(&str, DictItem); N]) {
        let map: BTreeMap<String, DictItem> = entries
            .into_iter()
            .map(|(key, value)| (key.to_owned(), value))
            .collect();
        self.operations.push(Op::BeginMarkedContentWithProperties {
            tag: tag.into(),
            properties: DictItem::Dict { map },
        });
    }

    pub(super) fn point(&self, [x, y]: [f64; 2]) -> Point {
        Point {
            x: points(x),
            y: points(self.height - y),
        }
    }

    fn path(&mut self, draw: &PathDraw) {
        let parts = self.parts(&draw.path.segments);
        if let Some(fill) = draw.fill {
            self.fill_state(fill);
            let rings = parts
                .iter()
                .map(|part| PolygonRing {
                    points: part.points.clone(),
                })
                .collect();
            let polygon = Polygon {
                rings,
                mode: PaintMode::Fill,
                winding_order: WindingOrder::NonZero,
            };
            self.operations.push(Op::DrawPolygon { polygon });
        }
        if let Some(stroke) = &draw.stroke {
            self.stroke_state(stroke);
            self.operations
                .extend(parts.into_iter().map(|line| Op::DrawLine { line }));
        }
    }

    pub(super) fn fill_state(&mut self, fill: Colour) {
        if self.fill != Some(fill) {
            self.fill = Some(fill);
            self.operations.push(Op::SetFillColor { col: colour(fill) });
        }
    }

    fn stroke_state(&mut self, stroke: &Stroke) {
        if self.stroke.as_ref() == Some(stroke) {
            return;
        }
        if self.stroke.is_none() {
            self.operations.push(Op::SetLineJoinStyle {
                join: LineJoinStyle::Round,
            });
        }
        self.stroke = Some(stroke.clone());
        let pattern: Vec<f32> = stroke
            .dash
            .iter()
            .map(|length| narrow(length / MM_PER_POINT))
            .collect();
        self.operations.extend([
            Op::SetOutlineColor {
                col: colour(stroke.colour),
            },
            Op::SetOutlineThickness {
                pt: points(stroke.width),
            },
            Op::SetLineDashPattern {
                dash: LineDashPattern::new(0.0, &pattern),
            },
        ]);
    }

    /// Splits a path into its parts, in points.
    fn parts(&self, segments: &[Segment]) -> Vec<Line> {
        let mut parts: Vec<Line> = Vec::new();
        for segment in segments {
            let at = |point: [f64; 2], bezier: bool| LinePoint {
                p: self.point(point),
                bezier,
            };
            match (*segment, parts.last_mut()) {
                (Segment::Move(point), _) => parts.push(Line {
                    points: vec![at(point, false)],
                    is_closed: false,
                }),
                (Segment::Line(point), Some(part)) => part.points.push(at(point, false)),
                (Segment::Curve(a, b, point), Some(part)) => {
                    part.points
                        .extend([at(a, true), at(b, true), at(point, false)]);
                }
                (Segment::Close, Some(part)) => part.is_closed = true,
                (_, None) => {}
            }
        }
        parts
    }

    fn image(&mut self, draw: &ImageDraw) {
        let Some(index) = self
            .scene
            .images
            .iter()
            .position(|image| image.digest == draw.digest)
        else {
            return;
        };
        let turn = upright(draw.orientation);
        let (width, height) = (draw.width, draw.height);
        // PDF's unit square has v upwards: its origin is the stored lower left corner.
        let corner = |axis: usize| turn.origin[axis] + turn.down[axis];
        let matrix = [
            width * turn.across[0],
            -height * turn.across[1],
            -width * turn.down[0],
            height * turn.down[1],
            draw.x + width * corner(0),
            self.height - draw.y - height * corner(1),
        ];
        self.operations.extend([
            Op::SaveGraphicsState,
            Op::SetTransformationMatrix {
                matrix: CurTransMat::Raw(matrix.map(|value| narrow(value / MM_PER_POINT))),
            },
            Op::UseXobject {
                id: XObjectId(image_name(index)),
                transform: XObjectTransform {
                    no_auto_scale: true,
                    ..XObjectTransform::default()
                },
            },
            Op::RestoreGraphicsState,
        ]);
    }
}

fn colour(Colour(r, g, b): Colour) -> Color {
    let channel = |value: u8| narrow(f64::from(value) / 255.0);
    Color::Rgb(Rgb {
        r: channel(r),
        g: channel(g),
        b: channel(b),
        icc_profile: None,
    })
}
