//! An invented blade as numbers, and its outline in millimetres.
//!
//! Coordinates: `along` runs from the back notch (0) to the point, negative on the tang;
//! `across` runs from the back towards the edge. Both are read off the back, which is a
//! circular arc whose greatest distance from the chord is the curvature.

use super::noise::{blend, step};

/// How the blade is made, as far as the picture shows it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Make {
    /// One edge, a ridge at this part of the width from the back (in hundredths), a bounded point.
    Ridged(u8),
    /// Two edges and a middle ridge.
    Spear,
    /// One edge and a broad fuller along two thirds of the blade.
    Fullered,
}

/// A visible temper line.
#[derive(Debug, Clone, Copy)]
pub(super) struct Temper {
    /// Mean height over the edge, mm.
    pub(super) height: f64,
    /// Height of the waves, mm; 0 for a straight line.
    pub(super) wave: f64,
    /// Length of one wave, mm.
    pub(super) period: f64,
}

/// The tang.
#[derive(Debug, Clone)]
pub(super) struct Tang {
    pub(super) length: f64,
    pub(super) end_width: f64,
    /// Depth of the back notch and of the edge notch, mm.
    pub(super) notches: (f64, f64),
    /// Holes: distance from the back notch and diameter, mm.
    pub(super) holes: Vec<(f64, f64)>,
    /// File marks: spacing in mm and slope (mm along per mm across).
    pub(super) file_marks: Option<(f64, f64)>,
    /// Rows of inlaid gold signs (invented strokes that spell nothing).
    pub(super) gold_signs: u32,
    /// A stamped mark, a running hare in a frame: distance of its middle from the back notch, mm.
    pub(super) stamp: Option<f64>,
}

/// One invented blade.
#[derive(Debug, Clone)]
pub(super) struct Blade {
    pub(super) id: &'static str,
    pub(super) make: Make,
    /// Point to back notch (or shoulder), mm.
    pub(super) length: f64,
    /// Greatest distance of the back from the chord, mm.
    pub(super) curvature: f64,
    /// Width at the notches and where the point begins, mm.
    pub(super) widths: (f64, f64),
    /// Length of the point, mm.
    pub(super) point: f64,
    pub(super) temper: Option<Temper>,
    pub(super) tang: Tang,
    /// Crack through the edge: station and depth, mm.
    pub(super) crack: Option<(f64, f64)>,
    pub(super) seed: u64,
}

/// Where a place of the picture lies on the blade.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Place {
    pub(super) along: f64,
    pub(super) across: f64,
}

impl Blade {
    /// Radius of the back's arc in mm, or `None` for a straight back.
    ///
    /// Source: sagitta of a chord, R = (L²/4 + s²) / (2 s).
    fn radius(&self) -> Option<f64> {
        (self.curvature > 0.0).then(|| {
            (self.length * self.length / 4.0 + self.curvature * self.curvature)
                / (2.0 * self.curvature)
        })
    }

    /// Blade coordinates of a point given in the frame of the chord (x to the point, y to the edge).
    pub(super) fn place(&self, x: f64, y: f64) -> Place {
        let Some(radius) = self.radius() else {
            return Place {
                along: x,
                across: y,
            };
        };
        let (dx, dy) = (x - self.length / 2.0, y - (self.curvature - radius));
        let distance = (dx * dx + dy * dy).sqrt();
        Place {
            along: self.length / 2.0 + dx * radius / distance,
            across: distance - radius,
        }
    }

    /// The inverse of [`Blade::place`].
    pub(super) fn chord_frame(&self, place: Place) -> (f64, f64) {
        let Some(radius) = self.radius() else {
            return (place.along, place.across);
        };
        let sine = (place.along - self.length / 2.0) / radius;
        let cosine = (1.0 - sine * sine).max(0.0).sqrt();
        let reach = radius + place.across;
        (
            self.length / 2.0 + reach * sine,
            self.curvature - radius + reach * cosine,
        )
    }

    /// Back and edge of the outline at a station, or `None` beyond the ends.
    pub(super) fn span(&self, along: f64) -> Option<(f64, f64)> {
        if along > self.length || along < -self.tang.length {
            return None;
        }
        if along >= 0.0 {
            Some(self.blade_span(along))
        } else {
            Some(self.tang_span(along))
        }
    }

    fn blade_span(&self, along: f64) -> (f64, f64) {
        let (base, tip) = self.widths;
        let start = self.length - self.point;
        let width = if along <= start {
            blend(base, tip, along / start)
        } else {
            let part = (along - start) / self.point;
            match self.make {
                Make::Spear => tip * (1.0 - part * part) * (1.0 - 0.18 * part),
                _ => tip * (1.0 - part * part),
            }
        };
        match self.make {
            Make::Spear => ((base - width) / 2.0, f64::midpoint(base, width)),
            _ => (0.0, width),
        }
    }

    fn tang_span(&self, along: f64) -> (f64, f64) {
        let (base, _) = self.widths;
        // Notches are cut over one millimetre; a spear head narrows to a neck instead.
        let cut = step(
            0.0,
            if self.make == Make::Spear {
                -11.0
            } else {
                -1.2
            },
            along,
        );
        let (back, edge) = (self.tang.notches.0 * cut, self.tang.notches.1 * cut);
        let part = -along / self.tang.length;
        let (start, end) = (back, base - edge);
        let narrowing = (end - start - self.tang.end_width).max(0.0) * part;
        let share = if self.make == Make::Spear { 0.5 } else { 0.22 };
        let (mut top, mut bottom) = (start + narrowing * share, end - narrowing * (1.0 - share));
        // A rounded end.
        let rounding = self.tang.end_width * 0.62;
        let inside = along + self.tang.length;
        if inside < rounding {
            let missing = 1.0 - inside / rounding;
            let keep = (1.0 - missing * missing).max(0.0).sqrt();
            let middle = f64::midpoint(top, bottom);
            let half = (bottom - top) / 2.0 * keep;
            (top, bottom) = (middle - half, middle + half);
        }
        (top, bottom)
    }

    /// Distance of the ridge from the back, mm, where the make has one.
    pub(super) fn ridge(&self, along: f64) -> Option<f64> {
        match self.make {
            Make::Ridged(hundredths) => {
                let share = f64::from(hundredths) / 100.0;
                let start = self.length - self.point;
                let (top, bottom) = self.span(along)?;
                if along <= start {
                    return Some(top + share * (bottom - top));
                }
                let part = (along - start) / self.point;
                Some(share * self.widths.1 * (1.0 - 0.75 * part * part - 0.25 * part))
            }
            Make::Spear => self
                .span(along)
                .map(|(top, bottom)| f64::midpoint(top, bottom)),
            Make::Fullered => None,
        }
    }

    /// Height of the temper line over the edge, mm.
    pub(super) fn temper_height(&self, along: f64) -> Option<f64> {
        let temper = self.temper?;
        let phase = along / temper.period + 0.9 * (self.noise_wave(along) - 0.5);
        let part = phase - phase.floor();
        // Rounded arches whose size varies from one to the next.
        let size = 0.55
            + 0.45
                * super::noise::Noise::new(self.seed)
                    .layer(40)
                    .cell(phase.floor() as i64, 0);
        let lobe = 2.0 * part - 1.0;
        let arch = size * (1.0 - lobe * lobe);
        let drift = 0.35 * (self.noise_wave(along * 0.37 + 900.0) - 0.5);
        let point_start = self.length - self.point;
        let closing = if along > point_start {
            1.0 - 0.72 * step(0.0, 1.0, (along - point_start) / self.point)
        } else {
            1.0
        };
        Some((temper.height * (1.0 + drift) + temper.wave * (arch - 0.35)) * closing)
    }

    fn noise_wave(&self, along: f64) -> f64 {
        super::noise::Noise::new(self.seed)
            .layer(41)
            .smooth(along / 31.0, 0.5)
    }
}

#[cfg(test)]
mod tests {
    use super::super::demo;

    #[test]
    fn back_of_the_middle_lies_one_curvature_from_the_chord() {
        for blade in demo::blades() {
            let place = blade.place(blade.length / 2.0, blade.curvature);
            assert!(place.across.abs() < 1e-9, "{}: {place:?}", blade.id);
            assert!(
                (place.along - blade.length / 2.0).abs() < 1e-9,
                "{}: {place:?}",
                blade.id
            );
            let point = blade.place(blade.length, 0.0);
            assert!(point.across.abs() < 1e-9, "{}: {point:?}", blade.id);
        }
    }

    #[test]
    fn places_return_to_where_they_came_from() {
        for blade in demo::blades() {
            for (x, y) in [(-60.0, 4.0), (0.0, 0.0), (blade.length * 0.7, 21.0)] {
                let (back_x, back_y) = blade.chord_frame(blade.place(x, y));
                assert!(
                    (back_x - x).abs() < 1e-6 && (back_y - y).abs() < 1e-6,
                    "{}: {x} {y}",
                    blade.id
                );
            }
        }
    }

    #[test]
    fn outline_has_the_widths_it_was_given_and_ends_at_the_point() {
        for blade in demo::blades() {
            let width = |along: f64| blade.span(along).map(|(top, bottom)| bottom - top);
            let close =
                |found: Option<f64>, wanted: f64| found.is_some_and(|w| (w - wanted).abs() < 1e-9);
            assert!(close(width(0.0), blade.widths.0), "{}", blade.id);
            assert!(
                close(width(blade.length - blade.point), blade.widths.1),
                "{}",
                blade.id
            );
            assert!(close(width(blade.length), 0.0), "{}", blade.id);
            assert_eq!(width(blade.length + 0.1), None, "{}", blade.id);
            assert_eq!(width(-blade.tang.length - 0.1), None, "{}", blade.id);
        }
    }
}
