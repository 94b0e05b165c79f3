//! One face of the map: body, tang, and flaws.

use tangmark_core::record::{Face, FileMarks, Stretch, TangEnd};

use super::{Label, Map, NUMBER, ROW};
use crate::{
    drawing::{Anchor, filled, profile::stations, stroked, symbols::Sign, words},
    layout::style::{HAIR, INK, SLATE, STEEL},
    scene::{Colour, Draw, Path, Stroke},
};

/// One face on paper.
pub(super) struct View<'a> {
    /// Left edge of the map on the page.
    pub(super) left: f64,
    /// Height of the line tip–datum on the page.
    pub(super) line: f64,
    /// −1 where the edge is up, 1 where it is down.
    pub(super) towards_edge: f64,
    pub(super) map: &'a Map<'a>,
}

impl View<'_> {
    fn at(&self, (along, across): (f64, f64)) -> [f64; 2] {
        let map = self.map;
        [
            self.left + (along + map.profile.tang) / map.scale,
            self.line + self.towards_edge * across / map.scale,
        ]
    }

    /// Draws the blade.
    pub(super) fn body(&self, draws: &mut Vec<Draw>, face: Face) {
        let profile = &self.map.profile;
        if profile.outline.len() >= 3 {
            let path = Path::polygon(profile.outline.iter().map(|place| self.at(*place)));
            draws.push(filled(path.clone(), STEEL));
            draws.push(stroked(path, line_stroke(true)));
            self.inner(draws, face);
            return;
        }
        let start = profile.length - profile.point;
        let back: Vec<[f64; 2]> = stations(0.0, profile.length)
            .map(|along| self.at(profile.below_back(along, 0.0)))
            .collect();
        let edge: Vec<[f64; 2]> = stations(0.0, start)
            .map(|along| self.at(profile.inside_edge(along, 0.0)))
            .collect();
        // Denser towards the tip, where the curve turns.
        let point: Vec<[f64; 2]> = stations(0.0, 1.0)
            .map(|part| {
                self.at(profile.inside_edge(
                    start + profile.point * (1.0 - (1.0 - part) * (1.0 - part)),
                    0.0,
                ))
            })
            .collect();
        let around = back
            .iter()
            .chain(point.iter().rev())
            .chain(edge.iter().rev())
            .copied();
        draws.push(filled(Path::polygon(around), STEEL));
        self.inner(draws, face);
        let stroke = line_stroke(profile.edges_measured);
        draws.push(stroked(Path::open(back), stroke.clone()));
        draws.push(stroked(Path::open(edge), stroke));
        draws.push(stroked(Path::open(point), line_stroke(false)));
    }

    /// Temper line, ridge, point line and grooves, where measured.
    fn inner(&self, draws: &mut Vec<Draw>, face: Face) {
        let profile = &self.map.profile;
        let record = self.map.record;
        if let Some(temper) = &record.temper_line {
            let widths: Vec<(f64, f64)> = temper
                .widths
                .iter()
                .filter(|width| width.face.is_none_or(|own| own == face))
                .map(|width| (width.at.to_f64(), width.width.to_f64()))
                .collect();
            self.temper(draws, &widths, &temper.breaks, face);
        }
        if profile.ridge.len() >= 2 {
            let ridge = Path::open(
                profile
                    .ridge
                    .iter()
                    .map(|(along, distance)| self.at(profile.below_back(*along, *distance))),
            );
            draws.push(stroked(ridge, Stroke::solid(SLATE, 0.15)));
        }
        if profile.point_line {
            let start = profile.length - profile.point;
            let line = Path::open([
                self.at(profile.inside_edge(start, 0.0)),
                self.at(profile.below_back(start, 0.0)),
            ]);
            draws.push(stroked(line, Stroke::solid(SLATE, 0.15)));
        }
        for groove in record
            .dimensions
            .iter()
            .flat_map(|dimensions| &dimensions.grooves)
            .filter(|groove| groove.face == face)
        {
            let (from, to, width) = (
                groove.from.to_f64(),
                groove.to.to_f64(),
                groove.width.to_f64(),
            );
            // Its distance from the back is not recorded.
            let near = profile.width(f64::midpoint(from, to)) * 0.14;
            let side = |distance: f64| {
                stations(from, to)
                    .map(|along| self.at(profile.below_back(along, distance)))
                    .collect::<Vec<_>>()
            };
            let around = side(near)
                .into_iter()
                .chain(side(near + width).into_iter().rev());
            draws.push(stroked(
                Path::polygon(around),
                Stroke::dashed(SLATE, 0.15, 0.8, 0.6),
            ));
        }
    }

    fn temper(&self, draws: &mut Vec<Draw>, widths: &[(f64, f64)], breaks: &[Stretch], face: Face) {
        let (Some(first), Some(last)) = (widths.first(), widths.last()) else {
            return;
        };
        if widths.len() < 2 {
            return;
        }
        let profile = &self.map.profile;
        let missing = |along: f64| {
            breaks.iter().any(|stretch| {
                stretch.face.is_none_or(|own| own == face)
                    && along > stretch.from.to_f64()
                    && along < stretch.to.to_f64()
            })
        };
        let line: Vec<[f64; 2]> = widths
            .iter()
            .map(|(along, width)| self.at(profile.inside_edge(*along, *width)))
            .collect();
        let edge: Vec<[f64; 2]> = stations(first.0, last.0)
            .map(|along| self.at(profile.inside_edge(along, 0.0)))
            .collect();
        draws.push(filled(
            Path::polygon(line.iter().copied().chain(edge.into_iter().rev())),
            Colour::WHITE,
        ));
        let mut path = Path::new();
        let mut part: Vec<[f64; 2]> = Vec::new();
        for along in stations(first.0, last.0) {
            if missing(along) {
                path.add_points(std::mem::take(&mut part));
            } else {
                let after = widths
                    .partition_point(|width| width.0 <= along)
                    .clamp(1, widths.len() - 1);
                let (Some(a), Some(b)) = (widths.get(after - 1), widths.get(after)) else {
                    continue;
                };
                let share = if b.0 > a.0 {
                    (along - a.0) / (b.0 - a.0)
                } else {
                    0.0
                };
                part.push(self.at(profile.inside_edge(along, a.1 + (b.1 - a.1) * share)));
            }
        }
        path.add_points(part);
        draws.push(stroked(path, Stroke::solid(SLATE, 0.2)));
    }

    /// Draws the tang.
    pub(super) fn tang(&self, draws: &mut Vec<Draw>, face: Face) {
        let profile = &self.map.profile;
        let [top, bottom, end_top, end_bottom] = profile.tang_corners();
        let tang = self.map.record.tang.as_ref();
        if profile.outline.len() < 3 {
            let height = end_bottom.1 - end_top.1;
            let bulge = match tang.and_then(|tang| tang.end) {
                Some(TangEnd::Kiri | TangEnd::Peened) => 0.0,
                Some(TangEnd::Kengyo | TangEnd::IriyamaGata | TangEnd::SasaBa) => height * 0.55,
                _ => height * 0.3,
            };
            let middle = (end_top.0 - bulge, f64::midpoint(end_top.1, end_bottom.1));
            // The end bulges inside the tang's length.
            let shift = |(along, across): (f64, f64)| self.at((along + bulge, across));
            let outline = [
                self.at(top),
                shift(end_top),
                shift(middle),
                shift(end_bottom),
                self.at(bottom),
            ];
            draws.push(filled(Path::polygon(outline), Colour(0xf3, 0xf2, 0xef)));
            self.file_marks(draws);
            let steps = [self.at(profile.below_back(0.0, 0.0)), outline[0]];
            let edge_steps = [outline[4], self.at(profile.inside_edge(0.0, 0.0))];
            draws.push(stroked(
                Path::open(
                    steps
                        .into_iter()
                        .chain(outline[1..4].iter().copied())
                        .chain(edge_steps),
                ),
                line_stroke(false),
            ));
        }
        let Some(tang) = tang else { return };
        for hole in &tang.holes {
            let [x, y] = self.at(profile.tang_middle(hole.at.to_f64().abs()));
            let diameter = hole
                .diameter
                .as_ref()
                .map_or(5.0, |diameter| diameter.to_f64());
            let radius = (diameter / 2.0 / self.map.scale).max(0.5);
            draws.push(filled(
                Path::circle(x, y, radius),
                if hole.plugged { HAIR } else { Colour::WHITE },
            ));
            draws.push(stroked(
                Path::circle(x, y, radius),
                line_stroke(hole.diameter.is_some()),
            ));
            if hole.plugged {
                draws.push(stroked(
                    Path::line(x - radius, y, x + radius, y),
                    Stroke::solid(INK, 0.2),
                ));
            }
        }
        if tang
            .inscriptions
            .iter()
            .any(|inscription| inscription.side == Some(face))
        {
            let (near, far) = (
                profile.tang_middle(profile.tang * 0.3),
                profile.tang_middle(profile.tang * 0.75),
            );
            let half = (end_bottom.1 - end_top.1) * 0.22;
            let corners = [
                (near.0, near.1 - half),
                (far.0, far.1 - half),
                (far.0, far.1 + half),
                (near.0, near.1 + half),
            ];
            draws.push(stroked(
                Path::polygon(corners.map(|place| self.at(place))),
                Stroke::dashed(SLATE, 0.2, 0.6, 0.5),
            ));
        }
    }

    /// A few lines in the direction of the file marks.
    fn file_marks(&self, draws: &mut Vec<Draw>) {
        let slope = match self
            .map
            .record
            .tang
            .as_ref()
            .and_then(|tang| tang.file_marks)
        {
            Some(FileMarks::Kiri) => 0.0,
            Some(FileMarks::KatteSagari) => 0.2,
            Some(FileMarks::KatteAgari) => -0.2,
            Some(FileMarks::Sujikai) => 0.5,
            Some(FileMarks::OSujikai) => 1.0,
            Some(FileMarks::GyakuOSujikai) => -1.0,
            _ => return,
        };
        let profile = &self.map.profile;
        let [top, bottom, end_top, end_bottom] = profile.tang_corners();
        let mut path = Path::new();
        let edge = |from: (f64, f64), to: (f64, f64), distance: f64| {
            from.1 + (to.1 - from.1) * (distance / profile.tang).clamp(0.0, 1.0)
        };
        let step = 1.3 * self.map.scale;
        let mut distance = step;
        while distance < profile.tang - 2.0 * step {
            let height = edge(bottom, end_bottom, distance) - edge(top, end_top, distance);
            let other = distance + slope * height;
            if other > 0.5 * step && other < profile.tang - 2.0 * step {
                path.add_points([
                    self.at((-distance, edge(top, end_top, distance))),
                    self.at((-other, edge(bottom, end_bottom, other))),
                ]);
            }
            distance += step;
        }
        draws.push(stroked(path, Stroke::solid(HAIR, 0.12)));
    }

    /// Signs with their extent and numbers; `outer` is the height where the strip ends towards the numbers.
    pub(super) fn flaws(&self, draws: &mut Vec<Draw>, labels: &[Label], outer: f64) {
        let map = self.map;
        let flaw = |label: &Label| map.record.flaws.get(label.flaw);
        for label in labels {
            let [x, y] = self.at(label.place);
            let start = outer + self.towards_edge * 3.2;
            let number_x = self.left + label.x;
            let near = start + self.towards_edge * (label.row as f64 * ROW);
            let path = Path::open([
                [number_x, near],
                [number_x, start],
                [x, outer + self.towards_edge * 0.6],
                [x, y],
            ]);
            draws.push(stroked(path, Stroke::solid(SLATE, 0.12)));
            if let Some(length) = flaw(label).and_then(|flaw| flaw.length.as_ref()) {
                let half = length.to_f64() / 2.0 / map.scale;
                if half > 1.3 {
                    let mut extent = Path::line(x - half, y, x + half, y);
                    extent.add_points([[x - half, y - 0.6], [x - half, y + 0.6]]);
                    extent.add_points([[x + half, y - 0.6], [x + half, y + 0.6]]);
                    draws.push(stroked(extent, Stroke::solid(INK, 0.2)));
                }
            }
        }
        for label in labels {
            let Some(flaw) = flaw(label) else { continue };
            let [x, y] = self.at(label.place);
            draws.extend(Sign::of(flaw.kind).draw(x, y, flaw.standing));
            let middle = outer + self.towards_edge * (3.4 + label.row as f64 * ROW + ROW / 2.0);
            draws.extend(words(
                &(label.flaw + 1).to_string(),
                NUMBER,
                self.left + label.x,
                middle,
                Anchor::Middle,
            ));
        }
    }
}

/// Solid for what was measured, dashed for what was not.
fn line_stroke(measured: bool) -> Stroke {
    if measured {
        Stroke::solid(INK, 0.3)
    } else {
        Stroke::dashed(INK, 0.25, 1.2, 0.8)
    }
}
