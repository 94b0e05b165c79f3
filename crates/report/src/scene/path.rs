//! Paths of straight lines and cubic curves.

/// One step of a path, end points in mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Segment {
    /// Starts a new part.
    Move([f64; 2]),
    /// Straight line to a point.
    Line([f64; 2]),
    /// Cubic Bézier curve: two control points and the end.
    Curve([f64; 2], [f64; 2], [f64; 2]),
    /// Closes the part.
    Close,
}

/// A path of one or more parts.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Path {
    /// Steps in order.
    pub segments: Vec<Segment>,
}

/// Distance of the control points from the ends of a quarter circle of radius 1 that keeps the
/// middle of the curve on the circle: 4/3·(√2 − 1).
const QUARTER: f64 = 0.552_284_749_830_793_4;

impl Path {
    /// An empty path.
    pub const fn new() -> Self {
        Self {
            segments: Vec::new(),
        }
    }

    /// A straight line.
    pub fn line(x1: f64, y1: f64, x2: f64, y2: f64) -> Self {
        Self::open([[x1, y1], [x2, y2]])
    }

    /// An open run of straight lines.
    pub fn open(points: impl IntoIterator<Item = [f64; 2]>) -> Self {
        let mut path = Self::new();
        path.add_points(points);
        path
    }

    /// A closed polygon.
    pub fn polygon(points: impl IntoIterator<Item = [f64; 2]>) -> Self {
        let mut path = Self::open(points);
        path.close();
        path
    }

    /// A rectangle by upper left corner and size.
    pub fn rectangle(x: f64, y: f64, width: f64, height: f64) -> Self {
        Self::polygon([
            [x, y],
            [x + width, y],
            [x + width, y + height],
            [x, y + height],
        ])
    }

    /// A circle.
    pub fn circle(x: f64, y: f64, radius: f64) -> Self {
        Self::ellipse(x, y, radius, radius)
    }

    /// An ellipse with upright axes.
    pub fn ellipse(x: f64, y: f64, rx: f64, ry: f64) -> Self {
        let (kx, ky) = (rx * QUARTER, ry * QUARTER);
        let segments = vec![
            Segment::Move([x + rx, y]),
            Segment::Curve([x + rx, y + ky], [x + kx, y + ry], [x, y + ry]),
            Segment::Curve([x - kx, y + ry], [x - rx, y + ky], [x - rx, y]),
            Segment::Curve([x - rx, y - ky], [x - kx, y - ry], [x, y - ry]),
            Segment::Curve([x + kx, y - ry], [x + rx, y - ky], [x + rx, y]),
            Segment::Close,
        ];
        Self { segments }
    }

    /// Adds an open run of straight lines as a new part.
    pub fn add_points(&mut self, points: impl IntoIterator<Item = [f64; 2]>) {
        for (index, point) in points.into_iter().enumerate() {
            self.segments.push(if index == 0 {
                Segment::Move(point)
            } else {
                Segment::Line(point)
            });
        }
    }

    /// Closes the last part.
    pub fn close(&mut self) {
        if !self.segments.is_empty() {
            self.segments.push(Segment::Close);
        }
    }

    /// Adds the parts of another path.
    pub fn append(&mut self, other: &Self) {
        self.segments.extend_from_slice(&other.segments);
    }

    /// Whether it has no steps.
    pub fn is_empty(&self) -> bool {
        self.segments.is_empty()
    }

    /// Returns all end and control points.
    pub fn points(&self) -> Vec<[f64; 2]> {
        let points = self.segments.iter().flat_map(|segment| match *segment {
            Segment::Move(p) | Segment::Line(p) => vec![p],
            Segment::Curve(a, b, p) => vec![a, b, p],
            Segment::Close => Vec::new(),
        });
        points.collect()
    }

    /// Moves every point by (x, y) mm.
    pub fn shift(&mut self, x: f64, y: f64) {
        *self = self.mapped(|[px, py]| [px + x, py + y]);
    }

    /// Returns the path with every end and control point put through a function.
    #[must_use]
    pub fn mapped(&self, place: impl Fn([f64; 2]) -> [f64; 2]) -> Self {
        let segments = self.segments.iter().map(|segment| match *segment {
            Segment::Move(p) => Segment::Move(place(p)),
            Segment::Line(p) => Segment::Line(place(p)),
            Segment::Curve(a, b, p) => Segment::Curve(place(a), place(b), place(p)),
            Segment::Close => Segment::Close,
        });
        Self {
            segments: segments.collect(),
        }
    }

    /// Returns the box around all end and control points: x min, y min, x max, y max.
    pub fn bounds(&self) -> Option<[f64; 4]> {
        let points = self.points();
        points
            .into_iter()
            .fold(None, |bounds: Option<[f64; 4]>, [x, y]| {
                Some(bounds.map_or([x, y, x, y], |[x0, y0, x1, y1]| {
                    [x0.min(x), y0.min(y), x1.max(x), y1.max(y)]
                }))
            })
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn shapes_have_the_bounds_they_are_asked_for() {
        assert_eq!(
            format!(
                "{:?}",
                Path::rectangle(1.0, 2.0, 3.0, 4.0).bounds().unwrap()
            ),
            "[1.0, 2.0, 4.0, 6.0]"
        );
        assert_eq!(
            format!("{:?}", Path::ellipse(0.0, 0.0, 2.0, 1.0).bounds().unwrap()),
            "[-2.0, -1.0, 2.0, 1.0]"
        );
        assert!(Path::new().bounds().is_none());
    }
}
