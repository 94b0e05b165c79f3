//! The blade seen from the side, from the numbers of a record.
//!
//! Coordinates are millimetres of the real blade: `along` from the datum towards the point
//! (negative on the tang), `across` from the straight line tip–datum towards the **edge**. For a
//! blade without back (spear head, straight double-edged sword) that line is the middle line.
//! What was not measured is filled in from typical proportions and named in [`Profile::assumed`].

use tangmark_core::record::{Construction, Dimensions, Length, Record, TangEnd, TangShape};

use crate::speech::{Pair, pair};

/// Typical proportions, used only for what was not measured and drawn dashed.
///
/// Source: common practice, no source.
mod typical {
    /// Width at the base as a part of the blade length.
    pub(super) const BASE_WIDTH: f64 = 0.044;
    /// Width at the point line as a part of the width at the base.
    pub(super) const POINT_WIDTH: f64 = 0.68;
    /// Length of the point as a multiple of the width at the point line.
    pub(super) const POINT_LENGTH: f64 = 1.45;
    /// Length of the tang as a part of the blade length.
    pub(super) const TANG_LENGTH: f64 = 0.29;
    /// Width of the tang's end as a part of the room between the notches.
    pub(super) const TANG_TAPER: f64 = 0.62;
    /// The same for a tang as wide as the hilt.
    pub(super) const FULL_TANG: f64 = 0.95;
    /// The same for a rod, at its start and at its end.
    pub(super) const ROD_TANG: [f64; 2] = [0.5, 0.32];
    /// The same for a socket, which opens towards its mouth.
    pub(super) const SOCKET: [f64; 2] = [0.8, 1.25];
    /// Depth of the notches, mm.
    pub(super) const NOTCH: f64 = 2.5;
    /// Blade length where none was measured, mm.
    pub(super) const LENGTH: f64 = 650.0;
}

/// The shape of a blade with what of it is measured.
#[derive(Debug, Clone)]
pub(crate) struct Profile {
    /// Datum to tip, mm.
    pub(crate) length: f64,
    /// Length of the tang, mm.
    pub(crate) tang: f64,
    /// Length of the point, mm.
    pub(crate) point: f64,
    /// Widths: (along, width), in order, over the whole length up to the point line.
    widths: Vec<(f64, f64)>,
    /// Line of the back: (along, across) in order.
    back: Vec<(f64, f64)>,
    /// Greatest depth of the curve and where, when the line of the back itself was not measured.
    arc: Option<(f64, f64)>,
    /// Distance from the back to the ridge: (along, distance).
    pub(crate) ridge: Vec<(f64, f64)>,
    /// Whether edges lie on both sides of the middle line.
    pub(crate) symmetric: bool,
    /// Whether a point line crosses the blade.
    pub(crate) point_line: bool,
    /// Depth of edge notch and back notch, mm.
    notches: [f64; 2],
    /// Measured outline: (along, across).
    pub(crate) outline: Vec<(f64, f64)>,
    /// Whether back and edge were measured well enough for a solid line.
    pub(crate) edges_measured: bool,
    /// What is drawn from typical proportions, in words.
    pub(crate) assumed: Vec<Pair>,
    /// Width of the tang at the datum and at its end, as parts of the room between the notches.
    tang_widths: [f64; 2],
}

pub(super) fn mm(length: Option<&Length>) -> Option<f64> {
    length
        .map(|length| length.to_f64())
        .filter(|value| value.is_finite())
}

pub(super) fn positive(length: Option<&Length>) -> Option<f64> {
    mm(length).filter(|value| *value > 0.0)
}

/// The dimensions, which may be missing as a whole.
struct Numbers<'a>(Option<&'a Dimensions>);

impl<'a> Numbers<'a> {
    fn positive(&self, field: fn(&'a Dimensions) -> Option<&'a Length>) -> Option<f64> {
        positive(self.0.and_then(field))
    }

    fn list<T>(&self, field: fn(&'a Dimensions) -> &'a Vec<T>) -> &'a [T] {
        self.0.map_or(&[], |dimensions| field(dimensions))
    }
}

fn tang_length(numbers: &Numbers<'_>) -> Option<f64> {
    numbers.positive(|it| it.tang_length.as_ref()).or_else(|| {
        let difference = numbers.positive(|it| it.overall_length.as_ref())?
            - numbers.positive(|it| it.blade_length.as_ref())?;
        (difference > 0.0).then_some(difference)
    })
}

impl Profile {
    /// Builds the shape from a record.
    pub(crate) fn of(record: &Record) -> Self {
        let numbers = Numbers(record.dimensions.as_ref());
        let mut assumed = Vec::new();
        let measured_length = numbers.positive(|it| it.blade_length.as_ref());
        let length = measured_length.unwrap_or_else(|| {
            assumed.push(pair("blade length", "刃長"));
            typical::LENGTH
        });
        let symmetric = is_symmetric(record);
        let (widths, point, widths_measured) = widths(&numbers, length, symmetric, &mut assumed);
        let (back, arc) = if symmetric {
            (Vec::new(), None)
        } else {
            back(&numbers, length, &mut assumed)
        };
        let tang = tang_length(&numbers).unwrap_or_else(|| {
            assumed.push(pair("tang length", "茎の長さ"));
            length * typical::TANG_LENGTH
        });
        let outline: Vec<(f64, f64)> = numbers
            .list(|it| &it.outline)
            .iter()
            .map(|point| (point.along.to_f64(), -point.across.to_f64()))
            .collect();
        let curve_measured = symmetric || !back.is_empty() || arc.is_some();
        let edges_measured = widths_measured && curve_measured && measured_length.is_some();
        if outline.is_empty() {
            assumed.extend([
                pair("curve of the point", "鋒の形"),
                pair("outline of the tang", "茎の輪郭"),
            ]);
        } else {
            assumed.clear();
        }
        let ridge = numbers
            .list(|it| &it.stations)
            .iter()
            .filter_map(|station| {
                Some((
                    mm(Some(&station.at))?,
                    positive(station.ridge_width.as_ref())?,
                ))
            })
            .collect();
        let edge_notch = numbers
            .positive(|it| it.edge_notch_depth.as_ref())
            .unwrap_or(typical::NOTCH);
        let back_notch = numbers
            .positive(|it| it.back_notch_depth.as_ref())
            .unwrap_or(typical::NOTCH);
        let point_line = has_point_line(record);
        Self {
            length,
            tang,
            point,
            widths,
            back,
            arc,
            ridge,
            symmetric,
            point_line,
            notches: [edge_notch, back_notch],
            outline,
            edges_measured,
            assumed,
            tang_widths: tang_widths(record),
        }
    }

    /// Returns how far the back lies from the line tip–datum, towards the edge, mm.
    pub(crate) fn back(&self, along: f64) -> f64 {
        if self.symmetric {
            return -self.width(along) / 2.0;
        }
        let t = along.clamp(0.0, self.length);
        if !self.back.is_empty() {
            return interpolate(&self.back, t);
        }
        // Two halves of parabolas that meet at the deepest place.
        let Some((depth, apex)) = self.arc else {
            return 0.0;
        };
        let side = if t < apex {
            (apex - t) / apex
        } else {
            (t - apex) / (self.length - apex)
        };
        depth * (1.0 - side * side)
    }

    /// Returns the width square to the back, mm; it runs out to nothing in the point.
    pub(crate) fn width(&self, along: f64) -> f64 {
        let start = self.length - self.point;
        if along <= start {
            return interpolate(&self.widths, along.max(0.0));
        }
        let base = interpolate(&self.widths, start);
        let part = ((along - start) / self.point).clamp(0.0, 1.0);
        if self.symmetric {
            base * (1.0 - part)
        } else {
            base * (1.0 - part * part).sqrt()
        }
    }

    /// Returns the place at a distance `inward` mm from the edge: (along, across).
    pub(crate) fn inside_edge(&self, along: f64, inward: f64) -> (f64, f64) {
        let width = self.width(along);
        self.below_back(along, width - inward)
    }

    /// Returns the place at a distance from the back, square to it: (along, across).
    pub(crate) fn below_back(&self, along: f64, distance: f64) -> (f64, f64) {
        // Over one millimetre, so the difference is the slope.
        let slope = if self.symmetric {
            0.0
        } else {
            self.back(along + 0.5) - self.back(along - 0.5)
        };
        let norm = (1.0 + slope * slope).sqrt();
        (
            along - distance * slope / norm,
            self.back(along) + distance / norm,
        )
    }

    /// Returns the corners of the tang: at the notches (back, edge), at the end (back, edge), each (along, across).
    pub(crate) fn tang_corners(&self) -> [(f64, f64); 4] {
        let (back, width) = (self.back(0.0), self.width(0.0));
        let (top, bottom) = (back + self.notches[1], back + width - self.notches[0]);
        let [start_part, end_part] = self.tang_widths;
        let room = (bottom - top).max(width * 0.4);
        let (height, end_height) = (room * start_part, room * end_part);
        let middle = top + room / 2.0;
        let centred = self.symmetric || start_part < 1.0;
        let top = if centred { middle - height / 2.0 } else { top };
        let end_top = if centred {
            middle - end_height / 2.0
        } else {
            top
        };
        [
            (0.0, top),
            (0.0, top + height),
            (-self.tang, end_top),
            (-self.tang, end_top + end_height),
        ]
    }

    /// Returns the box in which an inscription is said to stand: along from and across from, along to and across to.
    pub(crate) fn inscription_box(&self) -> [f64; 4] {
        let (near, far) = (
            self.tang_middle(self.tang * 0.3),
            self.tang_middle(self.tang * 0.8),
        );
        let [_, _, end_top, end_bottom] = self.tang_corners();
        let half = (end_bottom.1 - end_top.1).abs() * 0.26;
        let middle = f64::midpoint(near.1, far.1);
        [far.0, middle - half, near.0, middle + half]
    }

    /// Returns the end of the tang from its back to its edge, as (along, across).
    ///
    /// Source: the forms by their names; common practice, no source.
    pub(crate) fn tang_end(&self, end: Option<TangEnd>) -> Vec<(f64, f64)> {
        let [_, _, top, bottom] = self.tang_corners();
        let height = bottom.1 - top.1;
        // How far the end bulges, from 0 to 1, on the way from back (0) to edge (1).
        let shape = |share: f64| match end {
            Some(TangEnd::Kiri | TangEnd::Peened) => 0.0,
            Some(TangEnd::Kengyo | TangEnd::SasaBa) => 1.0 - (2.0 * share - 1.0).abs(),
            // Two slopes of different length.
            Some(TangEnd::IriyamaGata) if share < 0.35 => share / 0.35,
            Some(TangEnd::IriyamaGata) => (1.0 - share) / 0.65,
            Some(TangEnd::HaAgariKurijiri) => {
                let skewed = 2.0 * share.powf(0.65) - 1.0;
                (1.0 - skewed * skewed).max(0.0).sqrt()
            }
            _ => (1.0 - (2.0 * share - 1.0).powi(2)).max(0.0).sqrt(),
        };
        let bulge = match end {
            Some(TangEnd::Kiri | TangEnd::Peened) => 0.0,
            Some(TangEnd::Kengyo | TangEnd::IriyamaGata | TangEnd::SasaBa) => height * 0.55,
            _ => height * 0.35,
        };
        let bulge = bulge.clamp(0.0, self.tang * 0.4);
        // The end bulges inside the tang's length.
        (0..=20)
            .map(|step| {
                let share = f64::from(step) / 20.0;
                (top.0 + bulge * (1.0 - shape(share)), top.1 + height * share)
            })
            .collect()
    }

    /// Returns the place on the tang's middle line at a distance from the datum.
    pub(crate) fn tang_middle(&self, distance: f64) -> (f64, f64) {
        let [a, b, c, d] = self.tang_corners();
        let part = (distance / self.tang).clamp(0.0, 1.0);
        let (start, end) = (f64::midpoint(a.1, b.1), f64::midpoint(c.1, d.1));
        (-distance, start + (end - start) * part)
    }

    /// Returns the greatest distance from the line tip–datum that anything drawn reaches: towards the back, towards the edge.
    pub(crate) fn extent(&self) -> (f64, f64) {
        let mut reach = (0.0_f64, 0.0_f64);
        let mut note = |across: f64| reach = (reach.0.max(-across), reach.1.max(across));
        for along in stations(0.0, self.length) {
            note(self.back(along));
            note(self.inside_edge(along, 0.0).1);
        }
        self.tang_corners()
            .iter()
            .chain(&self.outline)
            .for_each(|place| note(place.1));
        reach
    }
}

/// Returns evenly spaced places between two, ends included.
pub(crate) fn stations(from: f64, to: f64) -> impl Iterator<Item = f64> {
    const STEPS: u32 = 96;
    (0..=STEPS).map(move |step| from + (to - from) * f64::from(step) / f64::from(STEPS))
}

/// Widths in order, point length, and whether at least two widths were measured.
fn widths(
    numbers: &Numbers<'_>,
    length: f64,
    symmetric: bool,
    assumed: &mut Vec<Pair>,
) -> (Vec<(f64, f64)>, f64, bool) {
    let base = numbers.positive(|it| it.width_at_base.as_ref());
    let tip = numbers.positive(|it| it.width_at_point.as_ref());
    let stations: Vec<(f64, f64)> = numbers
        .list(|it| &it.stations)
        .iter()
        .filter_map(|station| Some((mm(Some(&station.at))?, positive(station.width.as_ref())?)))
        .collect();
    let widest = base
        .or(stations.first().map(|station| station.1))
        .unwrap_or_else(|| {
            assumed.push(pair("width", "身幅"));
            length * typical::BASE_WIDTH
        });
    let narrowest = tip
        .or(stations.last().map(|station| station.1))
        .unwrap_or(widest * typical::POINT_WIDTH);
    let point = numbers
        .positive(|it| it.point_length.as_ref())
        .filter(|point| *point < length * 0.8)
        .unwrap_or_else(|| {
            assumed.push(pair("length of the point", "鋒の長さ"));
            let usual = if symmetric {
                (widest * 1.6).min(length * 0.5)
            } else {
                (narrowest * typical::POINT_LENGTH).min(length * 0.3)
            };
            // No part of the point where the width was measured.
            let last = stations.iter().map(|station| station.0);
            let free = length - last.fold(0.0, f64::max);
            if free > length * 0.02 {
                usual.min(free)
            } else {
                usual
            }
        });
    let measured = usize::from(base.is_some()) + usize::from(tip.is_some()) + stations.len();
    let start = length - point;
    let mut widths = stations;
    if !widths.iter().any(|station| station.0.abs() < 0.5) {
        widths.push((0.0, widest));
    }
    if tip.is_some() || measured < 2 {
        widths.push((start, narrowest));
    }
    widths.retain(|station| station.0 >= 0.0 && station.0 <= start + 0.5);
    widths.sort_by(|a, b| a.0.total_cmp(&b.0));
    if measured == 1 {
        assumed.push(pair("taper", "身幅の変化"));
    }
    (widths, point, measured >= 2)
}

/// The measured line of the back, or depth and place of the curve.
type Back = (Vec<(f64, f64)>, Option<(f64, f64)>);

fn back(numbers: &Numbers<'_>, length: f64, assumed: &mut Vec<Pair>) -> Back {
    let measured = numbers.list(|it| &it.back_line);
    if measured.len() >= 2 {
        let mut line: Vec<(f64, f64)> = measured
            .iter()
            .map(|point| (point.at.to_f64(), point.height.to_f64()))
            .collect();
        for end in [0.0, length] {
            if !line.iter().any(|point| (point.0 - end).abs() < 0.5) {
                line.push((end, 0.0));
            }
        }
        line.sort_by(|a, b| a.0.total_cmp(&b.0));
        return (line, None);
    }
    let Some(depth) = mm(numbers.0.and_then(|it| it.curvature.as_ref())) else {
        assumed.push(pair(
            "curve of the back (drawn straight)",
            "反り（直線で作図）",
        ));
        return (Vec::new(), None);
    };
    let apex = numbers
        .positive(|it| it.curvature_at.as_ref())
        .filter(|apex| *apex < length)
        .unwrap_or(length / 2.0);
    (Vec::new(), Some((depth, apex)))
}

/// Straight lines between points in order; the ends are carried on level.
pub(super) fn interpolate(points: &[(f64, f64)], at: f64) -> f64 {
    let after = points.partition_point(|point| point.0 <= at);
    match (
        after.checked_sub(1).and_then(|before| points.get(before)),
        points.get(after),
    ) {
        (Some(a), Some(b)) => a.1 + (b.1 - a.1) * (at - a.0) / (b.0 - a.0),
        (Some(only), None) | (None, Some(only)) => only.1,
        (None, None) => 0.0,
    }
}

/// Width of the tang at the datum and at its end, as parts of the room between the notches, by its shape.
fn tang_widths(record: &Record) -> [f64; 2] {
    match record.tang.as_ref().map(|tang| tang.shape) {
        Some(TangShape::RodTang) => typical::ROD_TANG,
        Some(TangShape::Socket) => typical::SOCKET,
        Some(TangShape::FullTang) => [1.0, typical::FULL_TANG],
        _ => [1.0, typical::TANG_TAPER],
    }
}

fn is_symmetric(record: &Record) -> bool {
    matches!(
        record.blade.construction,
        Construction::KenZukuri
            | Construction::SuYari
            | Construction::SankakuYari
            | Construction::RyoShinogiYari
            | Construction::JumonjiYari
            | Construction::KataKamaYari
            | Construction::DiamondSection
    )
}

fn has_point_line(record: &Record) -> bool {
    matches!(
        record.blade.construction,
        Construction::ShinogiZukuri
            | Construction::KirihaZukuri
            | Construction::KataKiriha
            | Construction::KissakiMoroha
    )
}
