//! Sums over a blade.

use super::model::{Between, Blade, Station};
use super::outline::{Details, Slice, Zone, Zones, arc_over_chord, slice};
use super::solid::Solid;
use crate::Estimate;
use crate::interpolate::{InterpolateError, Monotone};
use crate::section::{Section, SectionForm};

/// Sums over a stretch of the blade.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Totals {
    /// Steel, mm³ and mm⁴.
    pub solid: Solid,
    /// Surface of each zone, mm².
    pub surface: Zones<f64>,
}

impl std::ops::Add for Totals {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        let (a, b) = (self.surface, other.surface);
        Self {
            solid: self.solid + other.solid,
            surface: Zones {
                edge_bevel: a.edge_bevel + b.edge_bevel,
                ground: a.ground + b.ground,
                ridge_face: a.ridge_face + b.ridge_face,
                back: a.back + b.back,
            },
        }
    }
}

impl Totals {
    fn add_slice(&mut self, slice: &Slice, place: f64, weight: f64) {
        let surface = Zones {
            edge_bevel: weight * slice.perimeter.edge_bevel,
            ground: weight * slice.perimeter.ground,
            ridge_face: weight * slice.perimeter.ridge_face,
            back: weight * slice.perimeter.back,
        };
        let solid = Solid {
            volume: weight * slice.area,
            moment: weight * slice.area * place,
        };
        *self = *self + Self { solid, surface };
    }
}

/// Places and weights of four points on −1 to 1: exact to the seventh power.
///
/// Source: Gauss–Legendre quadrature, from memory.
const GAUSS: [(f64, f64); 4] = [
    (-0.861_136_311_594_052_6, 0.347_854_845_137_453_85),
    (-0.339_981_043_584_856_26, 0.652_145_154_862_546_1),
    (0.339_981_043_584_856_26, 0.652_145_154_862_546_1),
    (0.861_136_311_594_052_6, 0.347_854_845_137_453_85),
];

/// Pieces of a stretch between two breaks. Volume and moment are exact with one; perimeters are no polynomials.
const PIECES: i32 = 2;

/// The values of a blade, joined to curves.
#[derive(Clone, Debug)]
pub struct Model {
    form: SectionForm,
    details: Details,
    places: Vec<f64>,
    curves: Curves,
    from: f64,
    point: Option<(f64, f64)>,
    grooves: Vec<(Zone, f64, f64, f64, f64)>,
}

#[derive(Clone, Debug)]
enum Curves {
    Linear(Vec<Section>),
    Monotone(Box<[Monotone; 4]>),
}

impl Model {
    /// Joins the best values. Cheap checks only: the caller has looked at the ranges.
    pub(super) fn new(blade: &Blade) -> Result<Self, InterpolateError> {
        let list = |pick: fn(&Station) -> Estimate| -> Vec<f64> {
            blade.stations.iter().map(|one| pick(one).value).collect()
        };
        let places = list(|one| one.at);
        let width = Monotone::new(&places, &list(|one| one.width))?;
        let curves = match blade.between {
            Between::Linear => Curves::Linear(blade.stations.iter().map(section).collect()),
            Between::Monotone => Curves::Monotone(Box::new([
                width,
                Monotone::new(&places, &list(|one| one.thickness))?,
                Monotone::new(&places, &list(|one| one.back_thickness))?,
                Monotone::new(&places, &list(|one| one.ridge_width))?,
            ])),
        };
        let grooves = blade
            .grooves
            .iter()
            .map(|one| (one.zone, one.from, one.to, one.width.value, one.depth.value));
        Ok(Self {
            form: blade.form,
            details: Details {
                back: blade.back,
                back_rise: blade.back_rise.value,
                bulge: blade.bulge.value,
                bevel: blade.bevel.value,
            },
            from: blade.from.min(places[0]),
            point: blade.point.map(|one| (one.length.value, one.taper.value)),
            grooves: grooves.collect(),
            places,
            curves,
        })
    }

    /// Returns where the steel begins, the point begins, and the tip is, mm from the datum.
    pub fn ends(&self) -> (f64, f64, f64) {
        let last = self.places.last().copied().unwrap_or(self.from);
        (
            self.from,
            last,
            last + self.point.map_or(0.0, |point| point.0),
        )
    }

    /// Returns the measures at a place; beyond the stations those of the nearest one, in the point smaller ones.
    pub fn section_at(&self, place: f64) -> Section {
        let shrink = self.shrink(place);
        let [width, thickness, back_thickness, ridge_width] = match &self.curves {
            Curves::Monotone(curves) => [0, 1, 2, 3].map(|index: usize| curves[index].at(place)),
            Curves::Linear(sections) => {
                let after = self.places.partition_point(|one| *one <= place);
                let before = after.saturating_sub(1);
                let after = after.min(self.places.len() - 1);
                let step = self.places[after] - self.places[before];
                let share = if step > 0.0 {
                    ((place - self.places[before]) / step).clamp(0.0, 1.0)
                } else {
                    0.0
                };
                let (from, to) = (measures(&sections[before]), measures(&sections[after]));
                std::array::from_fn(|index| from[index] + share * (to[index] - from[index]))
            }
        };
        Section {
            width: shrink * width,
            thickness: shrink * thickness,
            back_thickness: shrink * back_thickness,
            ridge_width: shrink * ridge_width,
        }
    }

    /// Returns by how much a section is smaller than that of the last station.
    fn shrink(&self, place: f64) -> f64 {
        let (_, last, tip) = self.ends();
        match self.point {
            Some((length, taper)) if place > last && length > 0.0 => {
                libm::pow(((tip - place) / length).clamp(0.0, 1.0), taper)
            }
            _ => 1.0,
        }
    }

    /// Returns area and zones at a place, grooves taken out. A groove ends at the last station.
    pub fn slice_at(&self, place: f64) -> Slice {
        let mut details = self.details;
        details.bevel *= self.shrink(place);
        let mut found = slice(self.form, self.section_at(place), &details);
        let (_, last, _) = self.ends();
        for (zone, from, to, width, depth) in &self.grooves {
            if place >= *from && place <= to.min(last) && *width > 0.0 {
                found.area -= 2.0 / 3.0 * width * depth;
                *found.perimeter.of(*zone) += width * (arc_over_chord(depth / width) - 1.0);
            }
        }
        found
    }

    /// Returns the sums from one place to another; what lies beyond the steel counts nothing.
    pub fn between(&self, start: f64, end: f64) -> Totals {
        let (from, last, tip) = self.ends();
        let (start, end) = (start.max(from), end.min(tip));
        let mut breaks = vec![start, end, last];
        breaks.extend(&self.places);
        breaks.extend(self.grooves.iter().flat_map(|one| [one.1, one.2]));
        breaks.retain(|one| *one >= start && *one <= end);
        breaks.sort_by(f64::total_cmp);
        let mut totals = Totals::default();
        for pair in breaks.windows(2) {
            let step = (pair[1] - pair[0]) / f64::from(PIECES);
            for piece in 0..PIECES {
                let middle = pair[0] + step * (f64::from(piece) + 0.5);
                for (shift, weight) in GAUSS {
                    let place = middle + shift * step / 2.0;
                    totals.add_slice(&self.slice_at(place), place, weight * step / 2.0);
                }
            }
        }
        totals
    }

    /// Returns the sums over the whole blade; the point by its closed form.
    ///
    /// Source: ∫(1 − z)^2q = 1/(2q + 1) for areas, ∫(1 − z)^q = 1/(q + 1) for perimeters, centre at 1/(2q + 2); q = 1
    /// gives the cone (1/3, 1/2, 1/4).
    pub fn totals(&self) -> Totals {
        let (from, last, _) = self.ends();
        let body = self.between(from, last);
        let Some((length, taper)) = self.point else {
            return body;
        };
        let base = slice(self.form, self.section_at(last), &self.details);
        let volume = base.area * length / (2.0 * taper + 1.0);
        let surface = length / (taper + 1.0);
        let perimeter = base.perimeter;
        body + Totals {
            solid: Solid {
                volume,
                moment: volume * (last + length / (2.0 * taper + 2.0)),
            },
            surface: Zones {
                edge_bevel: surface * perimeter.edge_bevel,
                ground: surface * perimeter.ground,
                ridge_face: surface * perimeter.ridge_face,
                back: surface * perimeter.back,
            },
        }
    }
}

fn section(station: &Station) -> Section {
    Section {
        width: station.width.value,
        thickness: station.thickness.value,
        back_thickness: station.back_thickness.value,
        ridge_width: station.ridge_width.value,
    }
}

fn measures(section: &Section) -> [f64; 4] {
    [
        section.width,
        section.thickness,
        section.back_thickness,
        section.ridge_width,
    ]
}
