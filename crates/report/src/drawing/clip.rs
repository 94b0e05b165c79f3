//! Cutting drawings at the edge of a sheet.

use crate::scene::{Draw, Path, PathDraw, Segment};

/// A box: left, top, right, bottom, mm.
#[derive(Debug, Clone, Copy)]
pub(super) struct Window(pub(super) [f64; 4]);

/// Straight pieces that stand for a curve.
const PIECES: u32 = 12;

impl Window {
    /// Keeps of the marks what lies in the window; words are kept when they begin in it, whole.
    pub(super) fn cut(self, draws: &[Draw]) -> Vec<Draw> {
        let mut kept = Vec::new();
        for draw in draws {
            match draw {
                Draw::Path(path) => self.cut_path(path, &mut kept),
                Draw::Text(text) if self.holds([text.x, text.y]) => kept.push(draw.clone()),
                _ => {}
            }
        }
        kept
    }

    pub(super) fn holds(self, [x, y]: [f64; 2]) -> bool {
        let [left, top, right, bottom] = self.0;
        x >= left && x <= right && y >= top && y <= bottom
    }

    fn cut_path(self, draw: &PathDraw, kept: &mut Vec<Draw>) {
        let parts = flattened(&draw.path);
        if let Some(colour) = draw.fill {
            let mut path = Path::new();
            for (points, _) in &parts {
                let inside = self.cut_area(points);
                if inside.len() >= 3 {
                    path.append(&Path::polygon(inside));
                }
            }
            if !path.is_empty() {
                kept.push(super::filled(path, colour));
            }
        }
        if let Some(stroke) = &draw.stroke {
            let mut path = Path::new();
            for (points, closed) in &parts {
                let around = closed.then(|| points.first()).flatten();
                let line: Vec<[f64; 2]> = points.iter().chain(around).copied().collect();
                self.cut_line(&line, &mut path);
            }
            if !path.is_empty() {
                kept.push(super::stroked(path, stroke.clone()));
            }
        }
    }

    /// Source: Sutherland and Hodgman, cutting a polygon at one straight line after the other; from memory.
    fn cut_area(self, points: &[[f64; 2]]) -> Vec<[f64; 2]> {
        let [left, top, right, bottom] = self.0;
        let mut points = points.to_vec();
        // Axis, limit, and on which side of it things are kept.
        for (axis, limit, side) in [
            (0, left, 1.0),
            (0, right, -1.0),
            (1, top, 1.0),
            (1, bottom, -1.0),
        ] {
            let depth = |point: &[f64; 2]| side * (point[axis] - limit);
            let mut next = Vec::with_capacity(points.len() + 4);
            for (index, point) in points.iter().enumerate() {
                let before = &points[(index + points.len() - 1) % points.len()];
                let (from, to) = (depth(before), depth(point));
                if (from < 0.0) != (to < 0.0) {
                    let share = from / (from - to);
                    next.push([
                        before[0] + share * (point[0] - before[0]),
                        before[1] + share * (point[1] - before[1]),
                    ]);
                }
                if to >= 0.0 {
                    next.push(*point);
                }
            }
            points = next;
        }
        points
    }

    /// Adds the pieces of a line that lie in the window.
    fn cut_line(self, points: &[[f64; 2]], path: &mut Path) {
        let mut part: Vec<[f64; 2]> = Vec::new();
        for pair in points.windows(2) {
            let Some([from, to]) = self.cut_piece(pair[0], pair[1]) else {
                path.add_points(std::mem::take(&mut part));
                continue;
            };
            let joined = part
                .last()
                .is_some_and(|last| (last[0] - from[0]).hypot(last[1] - from[1]) < 1e-9);
            if !joined {
                path.add_points(std::mem::take(&mut part));
                part.push(from);
            }
            part.push(to);
        }
        path.add_points(part);
    }

    /// Source: Liang and Barsky, the parameters at which a line enters and leaves; from memory.
    fn cut_piece(self, from: [f64; 2], to: [f64; 2]) -> Option<[[f64; 2]; 2]> {
        let [left, top, right, bottom] = self.0;
        let (dx, dy) = (to[0] - from[0], to[1] - from[1]);
        let (mut enter, mut leave) = (0.0_f64, 1.0_f64);
        for (step, room) in [
            (-dx, from[0] - left),
            (dx, right - from[0]),
            (-dy, from[1] - top),
            (dy, bottom - from[1]),
        ] {
            if step == 0.0 {
                if room < 0.0 {
                    return None;
                }
                continue;
            }
            let at = room / step;
            if step < 0.0 {
                enter = enter.max(at);
            } else {
                leave = leave.min(at);
            }
        }
        let at = |share: f64| [from[0] + share * dx, from[1] + share * dy];
        (enter <= leave).then(|| [at(enter), at(leave)])
    }
}

/// The parts of a path as straight lines, and whether each is closed.
fn flattened(path: &Path) -> Vec<(Vec<[f64; 2]>, bool)> {
    let mut parts: Vec<(Vec<[f64; 2]>, bool)> = Vec::new();
    for segment in &path.segments {
        match (*segment, parts.last_mut()) {
            (Segment::Move(point), _) => parts.push((vec![point], false)),
            (Segment::Line(point), Some((points, _))) => points.push(point),
            (Segment::Curve(a, b, end), Some((points, _))) => {
                let Some(start) = points.last().copied() else {
                    continue;
                };
                points.extend((1..=PIECES).map(|step| {
                    let t = f64::from(step) / f64::from(PIECES);
                    let s = 1.0 - t;
                    let mix = |axis: usize| {
                        s * s * s * start[axis]
                            + 3.0 * s * s * t * a[axis]
                            + 3.0 * s * t * t * b[axis]
                            + t * t * t * end[axis]
                    };
                    [mix(0), mix(1)]
                }));
            }
            (Segment::Close, Some((_, closed))) => *closed = true,
            _ => {}
        }
    }
    parts
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::scene::{Colour, Stroke};

    fn area(path: &Path) -> f64 {
        let points = path.points();
        let mut sum = 0.0;
        for (index, point) in points.iter().enumerate() {
            let next = points[(index + 1) % points.len()];
            sum += point[0] * next[1] - next[0] * point[1];
        }
        (sum / 2.0).abs()
    }

    #[test]
    fn areas_and_lines_end_at_the_window() {
        let window = Window([0.0, 0.0, 10.0, 5.0]);
        let draws = [
            super::super::filled(Path::rectangle(-5.0, -5.0, 10.0, 20.0), Colour::BLACK),
            super::super::stroked(
                Path::line(-5.0, 2.0, 30.0, 2.0),
                Stroke::solid(Colour::BLACK, 0.2),
            ),
            super::super::stroked(
                Path::circle(50.0, 50.0, 2.0),
                Stroke::solid(Colour::BLACK, 0.2),
            ),
        ];
        let kept = window.cut(&draws);
        assert_eq!(kept.len(), 2, "what lies outside is gone");
        let paths: Vec<&Path> = kept
            .iter()
            .map(|draw| match draw {
                Draw::Path(path) => &path.path,
                _ => unreachable!(),
            })
            .collect();
        assert!((area(paths[0]) - 25.0).abs() < 1e-9);
        assert_eq!(paths[1].points(), [[0.0, 2.0], [10.0, 2.0]]);
    }

    /// A line that leaves the window and comes back is two parts.
    #[test]
    fn a_line_comes_back() {
        let window = Window([0.0, 0.0, 10.0, 10.0]);
        let mut path = Path::new();
        window.cut_line(
            &[[5.0, 5.0], [15.0, 5.0], [15.0, 8.0], [5.0, 8.0]],
            &mut path,
        );
        assert_eq!(
            path.points(),
            [[5.0, 5.0], [10.0, 5.0], [10.0, 8.0], [5.0, 8.0]]
        );
        assert_eq!(
            path.segments
                .iter()
                .filter(|it| matches!(it, Segment::Move(_)))
                .count(),
            2
        );
        let round = flattened(&Path::circle(0.0, 0.0, 1.0));
        assert!(
            round[0].1
                && round[0]
                    .0
                    .iter()
                    .all(|[x, y]| (x.hypot(*y) - 1.0).abs() < 1e-3)
        );
    }
}
