//! One face of the map: body, tang, and flaws.

use tangmark_core::record::{Face, Hole, Stretch, TemperLine};

use super::{Label, Map, NUMBER, ROW};
use crate::{
    drawing::{
        Anchor, Pen,
        file_marks::Hatch,
        filled, line_stroke,
        profile::{interpolate, stations},
        stroked,
        symbols::{REACH, Sign},
    },
    layout::style::{HAIR, INK, SLATE},
    scene::{Colour, Draw, Path, Stroke},
};

/// Steel seen from its face, dark enough to set off the hardened band.
const GROUND: Colour = Colour(0xd8, 0xdc, 0xe1);

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
            let path = Path::polygon(profile.outline.iter().map(|(along, across)| {
                self.at((along.clamp(-profile.tang, profile.length), *across))
            }));
            draws.push(filled(path.clone(), GROUND));
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
        draws.push(filled(Path::polygon(around), GROUND));
        self.inner(draws, face);
        let stroke = line_stroke(profile.edges_measured);
        if profile.symmetric {
            // Both sides run together in the point.
            let straight =
                stations(0.0, start).map(|along| self.at(profile.below_back(along, 0.0)));
            draws.push(stroked(Path::open(straight), stroke.clone()));
            let to_tip = stations(start, profile.length)
                .map(|along| self.at(profile.below_back(along, 0.0)));
            draws.push(stroked(Path::open(to_tip), line_stroke(false)));
        } else {
            draws.push(stroked(Path::open(back), stroke.clone()));
        }
        draws.push(stroked(Path::open(edge), stroke));
        draws.push(stroked(Path::open(point), line_stroke(false)));
    }

    /// Temper line, ridge, point line and grooves, where measured.
    fn inner(&self, draws: &mut Vec<Draw>, face: Face) {
        let profile = &self.map.profile;
        let record = self.map.record;
        if let Some(temper) = &record.temper_line {
            let mut widths: Vec<(f64, f64)> = temper
                .widths
                .iter()
                .filter(|width| width.face.is_none_or(|own| own == face))
                .map(|width| (width.at.to_f64(), width.width.to_f64()))
                .filter(|(along, _)| (0.0..=profile.length).contains(along))
                .map(|(along, width)| (along, width.clamp(0.0, profile.width(along))))
                .collect();
            widths.sort_by(|a, b| a.0.total_cmp(&b.0));
            self.temper(draws, &widths, temper, face);
        }
        if profile.ridge.len() >= 2 {
            let ridge = Path::open(
                profile
                    .ridge
                    .iter()
                    .filter(|(along, _)| (0.0..=profile.length).contains(along))
                    .map(|(along, distance)| {
                        let distance = distance.min(profile.width(*along));
                        self.at(profile.below_back(*along, distance))
                    }),
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
            let (from, to) = (
                groove.from.to_f64().clamp(0.0, profile.length),
                groove.to.to_f64().clamp(0.0, profile.length),
            );
            // Its distance from the back is not recorded.
            let whole = profile.width(f64::midpoint(from, to));
            let near = whole * 0.14;
            let width = groove.width.to_f64().clamp(0.0, whole - near);
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

    /// The hardened band: white between the edge and the line; the line stops where the record says that it is broken,
    /// and comes down to the edge where it runs out. Dots: where its width was measured.
    fn temper(
        &self,
        draws: &mut Vec<Draw>,
        widths: &[(f64, f64)],
        temper: &TemperLine,
        face: Face,
    ) {
        let profile = &self.map.profile;
        let inside = |stretches: &[Stretch], along: f64| {
            stretches.iter().any(|stretch| {
                stretch.face.is_none_or(|own| own == face)
                    && along >= stretch.from.to_f64()
                    && along <= stretch.to.to_f64()
            })
        };
        let dots = |draws: &mut Vec<Draw>| {
            for (along, width) in widths {
                let [x, y] = self.at(profile.inside_edge(*along, *width));
                draws.push(filled(Path::circle(x, y, 0.3), SLATE));
            }
        };
        let (Some(first), Some(last)) = (widths.first(), widths.last()) else {
            return;
        };
        if last.0 <= first.0 {
            dots(draws);
            return;
        }
        let mut places: Vec<f64> = stations(first.0, last.0)
            .chain(widths.iter().map(|width| width.0))
            .chain(
                temper
                    .breaks
                    .iter()
                    .chain(&temper.run_outs)
                    .flat_map(|stretch| [stretch.from.to_f64(), stretch.to.to_f64()])
                    .filter(|along| *along > first.0 && *along < last.0)
                    // Just outside, so that the line goes on up to the very place.
                    .flat_map(|along| [along - 0.01, along, along + 0.01]),
            )
            .collect();
        places.sort_by(f64::total_cmp);
        let width_at = |along: f64| {
            if inside(&temper.run_outs, along) {
                0.0
            } else {
                interpolate(widths, along)
            }
        };
        let line: Vec<[f64; 2]> = places
            .iter()
            .map(|along| self.at(profile.inside_edge(*along, width_at(*along))))
            .collect();
        let edge = places
            .iter()
            .rev()
            .map(|along| self.at(profile.inside_edge(*along, 0.0)));
        draws.push(filled(
            Path::polygon(line.iter().copied().chain(edge)),
            Colour::WHITE,
        ));
        let mut path = Path::new();
        let mut part: Vec<[f64; 2]> = Vec::new();
        for (along, place) in places.iter().zip(line) {
            if inside(&temper.breaks, *along) {
                path.add_points(std::mem::take(&mut part));
            } else {
                part.push(place);
            }
        }
        path.add_points(part);
        draws.push(stroked(path, Stroke::solid(SLATE, 0.2)));
        dots(draws);
    }

    /// Draws the tang.
    pub(super) fn tang(&self, draws: &mut Vec<Draw>, face: Face) {
        let profile = &self.map.profile;
        let tang = self.map.record.tang.as_ref();
        if profile.outline.len() < 3 {
            let [top, bottom, _, _] = profile.tang_corners();
            let end = profile.tang_end(tang.and_then(|tang| tang.end));
            let outline: Vec<[f64; 2]> = std::iter::once(top)
                .chain(end)
                .chain([bottom])
                .map(|place| self.at(place))
                .collect();
            draws.push(filled(
                Path::polygon(outline.iter().copied()),
                Colour(0xf3, 0xf2, 0xef),
            ));
            self.file_marks(draws);
            let notches = [
                self.at(profile.below_back(0.0, 0.0)),
                self.at(profile.inside_edge(0.0, 0.0)),
            ];
            let around = std::iter::once(notches[0])
                .chain(outline)
                .chain([notches[1]]);
            draws.push(stroked(Path::open(around), line_stroke(false)));
        } else {
            self.file_marks(draws);
        }
        let Some(tang) = tang else { return };
        let inside = |hole: &&Hole| {
            let half = hole.diameter.as_ref().map_or(2.5, |it| it.to_f64() / 2.0);
            let at = hole.at.to_f64().abs();
            half.is_finite() && half >= 0.0 && at >= half && at + half <= profile.tang
        };
        for hole in tang.holes.iter().filter(inside) {
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
            let [left, top, right, bottom] = profile.inscription_box();
            let corners = [(left, top), (right, top), (right, bottom), (left, bottom)];
            draws.push(stroked(
                Path::polygon(corners.map(|place| self.at(place))),
                Stroke::dashed(SLATE, 0.2, 0.6, 0.5),
            ));
        }
    }

    /// The file marks, by their family.
    fn file_marks(&self, draws: &mut Vec<Draw>) {
        let marks = self
            .map
            .record
            .tang
            .as_ref()
            .and_then(|tang| tang.file_marks);
        let Some(hatch) = marks.and_then(Hatch::of) else {
            return;
        };
        let profile = &self.map.profile;
        let corners = profile.tang_corners();
        let step = 1.3 * self.map.scale;
        let path = hatch.lines(corners, profile.tang - 2.0 * step, step);
        draws.push(stroked(
            path.mapped(|[along, across]| self.at((along, across))),
            Stroke::solid(HAIR, 0.12),
        ));
    }

    /// Signs with their extent and numbers; `outer` is the height where the strip ends towards the numbers.
    pub(super) fn flaws(&self, pen: &mut Pen, labels: &[Label], outer: f64) {
        let draws = &mut pen.draws;
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
                    let (left, right) = ((x - half).max(0.0), (x + half).min(map.width));
                    let mut extent = Path::line(left, y, right, y);
                    extent.add_points([[left, y - 0.6], [left, y + 0.6]]);
                    extent.add_points([[right, y - 0.6], [right, y + 0.6]]);
                    draws.push(stroked(extent, Stroke::solid(INK, 0.2)));
                }
            }
        }
        for label in labels {
            let Some(flaw) = flaw(label) else { continue };
            let [x, y] = self.at(label.place);
            // Whole also at the end of the tang and at the tip.
            let x = x.min(map.width - REACH).max(REACH);
            let sign = Sign::of(flaw.kind).draw(x, y, flaw.standing);
            pen.draws.extend(sign);
            let middle = outer + self.towards_edge * (3.4 + label.row as f64 * ROW + ROW / 2.0);
            pen.write(
                &(label.flaw + 1).to_string(),
                NUMBER,
                [self.left + label.x, middle],
                Anchor::Middle,
            );
        }
    }
}
