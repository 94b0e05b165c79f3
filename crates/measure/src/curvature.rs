//! Arcs, and the kind of curvature.

use tangmark_core::record::CurvatureKind;

use crate::Estimate;
use crate::decision::{Against, against};

/// Depth and place of the greatest curvature.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Apex {
    /// Greatest height above the chord, mm; negative for a hollow back.
    pub depth: Estimate,
    /// Place along the chord as a share of its length: 0 at the notch, 1 at the tip.
    pub place: Estimate,
}

/// Share of the length below which a curvature counts as none: 0.003.
///
/// Source: this tool's own choice.
pub const BARELY: f64 = 0.003;

/// Returns the kinds that the measurement allows: one, or two when the place straddles a third at k = 2.
///
/// Source: that a judge places the greatest depth in a third or the centre is common practice of the trade; the
/// numbers (limits at 1/3 and 2/3, muzori below 0.003 of the length or below U) are this tool's own rule.
pub fn kinds(apex: Apex, chord: f64) -> Vec<CurvatureKind> {
    if apex.depth.value.abs() <= apex.depth.expanded() || apex.depth.value.abs() / chord < BARELY {
        return vec![CurvatureKind::Muzori];
    }
    if apex.depth.value < 0.0 {
        return vec![CurvatureKind::UchiZori];
    }
    let (first, second) = (
        against(apex.place, 1.0 / 3.0),
        against(apex.place, 2.0 / 3.0),
    );
    let mut kinds = Vec::new();
    if first != Against::Above {
        kinds.push(CurvatureKind::KoshiZori);
    }
    if first != Against::Below && second != Against::Above {
        kinds.push(CurvatureKind::ToriiZori);
    }
    if second != Against::Below {
        kinds.push(CurvatureKind::SakiZori);
    }
    kinds
}

/// Tells the kind where only depth and length are known: it can be none, or hollow; else the place is needed.
pub fn kind_without_place(depth: Estimate, chord: f64) -> Option<CurvatureKind> {
    if depth.value.abs() <= depth.expanded() || depth.value.abs() / chord < BARELY {
        Some(CurvatureKind::Muzori)
    } else if depth.value < 0.0 {
        Some(CurvatureKind::UchiZori)
    } else {
        None
    }
}

/// Returns how well the place of the greatest height can be known at all, as a share of the chord.
///
/// Near its top a curve is flat: for the parabola y = 4s·x(1 − x) an error u of a height moves the top by
/// √(u/(4s)). Infinite for no depth.
pub fn flatness(depth: Estimate) -> f64 {
    (depth.standard_uncertainty / (4.0 * depth.value.abs())).sqrt()
}

/// Finds the apex of the line of the back from heights above the chord.
///
/// `points` are (place along the chord, height) in mm, in order. The parabola through the sample of greatest
/// magnitude and its neighbours gives place and depth. `None` for fewer than three points, and when the greatest
/// is an end point: then there is no top to be seen.
pub fn apex(points: &[(f64, Estimate)], chord: f64) -> Option<Apex> {
    let greatest = (0..points.len()).max_by(|a, b| {
        let magnitude = |index: &usize| points[*index].1.value.abs();
        // The first of equals, so that the order of reading does not matter.
        magnitude(a).total_cmp(&magnitude(b)).then(b.cmp(a))
    })?;
    let before = points.get(greatest.checked_sub(1)?)?;
    let (top, after) = (points.get(greatest)?, points.get(greatest + 1)?);
    let (x0, x1, x2) = (before.0 - top.0, 0.0, after.0 - top.0);
    let slope_before = (top.1.value - before.1.value) / (x1 - x0);
    let slope_after = (after.1.value - top.1.value) / (x2 - x1);
    let bend = (slope_after - slope_before) / (x2 - x0);
    let shift = if bend == 0.0 {
        0.0
    } else {
        f64::midpoint(x0, x1) - slope_before / (2.0 * bend)
    };
    let shift = shift.clamp(x0, x2);
    let height = top.1.value + shift * (slope_before + bend * (shift - x0));
    let depth = Estimate::new(height, top.1.standard_uncertainty);
    Some(Apex {
        depth,
        place: Estimate::new((top.0 + shift) / chord, flatness(depth)),
    })
}

/// Returns the radius of the circle through the ends of a chord with this sagitta, mm; infinite for no sagitta.
///
/// Source: plane geometry, R = (L²/4 + s²)/(2s).
pub fn radius(chord: f64, sagitta: f64) -> f64 {
    (chord * chord / 4.0 + sagitta * sagitta) / (2.0 * sagitta)
}

/// Returns the length of the circular arc over a chord with this sagitta (at most half the chord), mm.
///
/// Source: plane geometry, 2R·asin(L/(2R)).
pub fn arc_length(chord: f64, sagitta: f64) -> f64 {
    if sagitta == 0.0 {
        return chord;
    }
    let radius = radius(chord, sagitta).abs();
    2.0 * radius * libm::asin((chord / (2.0 * radius)).min(1.0))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    /// Chord, sagitta, radius, arc: recomputed from the stated inputs.
    #[test]
    fn worked_arcs() {
        for (chord, sagitta, expected_radius, expected_arc) in [
            (700.0, 15.0, 4090.833, 700.8568),
            (635.0, 20.0, 2530.156, 636.6785),
            (757.0, 22.0, 3266.960, 758.7038),
            (300.0, 2.0, 5626.000, 300.035_55),
        ] {
            assert!((radius(chord, sagitta) - expected_radius).abs() < 6e-4);
            assert!((arc_length(chord, sagitta) - expected_arc).abs() < 6e-5);
            assert!((arc_length(chord, -sagitta) - expected_arc).abs() < 6e-5);
        }
        assert!((arc_length(500.0, 0.0) - 500.0).abs() < 1e-12);
    }

    fn arc(chord: f64, sagitta: f64, top: f64) -> Vec<(f64, Estimate)> {
        // Two half parabolas of equal height that meet at `top`, read every 50 mm: the bend there costs some accuracy.
        (0..=14)
            .map(|step| {
                let x = chord * f64::from(step) / 14.0;
                let reach = if x < top { top } else { chord - top };
                (
                    x,
                    Estimate::new(sagitta * (1.0 - ((x - top) / reach).powi(2)), 0.05),
                )
            })
            .collect()
    }

    #[test]
    fn the_top_of_the_back_is_found() {
        for (top, kind) in [
            (150.0, CurvatureKind::KoshiZori),
            (350.0, CurvatureKind::ToriiZori),
            (560.0, CurvatureKind::SakiZori),
        ] {
            let found = apex(&arc(700.0, 15.0, top), 700.0).unwrap();
            assert!((found.place.value * 700.0 - top).abs() < 30.0, "{found:?}");
            assert!((found.depth.value - 15.0).abs() < 0.3, "{found:?}");
            assert_eq!(kinds(found, 700.0), [kind]);
        }
        assert_eq!(apex(&arc(700.0, 15.0, 350.0)[..2], 700.0), None);
        assert_eq!(
            apex(&arc(700.0, 15.0, 350.0)[..5], 700.0),
            None,
            "no top within the points"
        );
    }

    #[test]
    fn a_circle_is_deepest_in_its_middle() {
        let big = radius(700.0, 15.0);
        let points: Vec<(f64, Estimate)> = (0..=10)
            .map(|step| {
                let x: f64 = 70.0 * f64::from(step);
                (
                    x,
                    Estimate::new((big * big - (x - 350.0).powi(2)).sqrt() - (big - 15.0), 0.1),
                )
            })
            .collect();
        let found = apex(&points, 700.0).unwrap();
        assert!((found.place.value - 0.5).abs() < 1e-9 && (found.depth.value - 15.0).abs() < 1e-9);
    }

    #[test]
    fn hollow_flat_and_undecided() {
        let at = |place: f64, spread: f64, depth: f64| Apex {
            depth: Estimate::new(depth, 0.1),
            place: Estimate::new(place, spread),
        };
        assert_eq!(kinds(at(0.5, 0.01, -3.0), 270.0), [CurvatureKind::UchiZori]);
        assert_eq!(kinds(at(0.5, 0.01, 2.0), 700.0), [CurvatureKind::Muzori]);
        assert_eq!(
            kinds(at(0.5, 0.01, 0.15), 30.0),
            [CurvatureKind::Muzori],
            "within U"
        );
        assert_eq!(
            kinds(at(0.37, 0.05, 22.0), 705.0),
            [CurvatureKind::KoshiZori, CurvatureKind::ToriiZori]
        );
        assert_eq!(
            kinds(at(0.5, 0.2, 22.0), 705.0),
            [
                CurvatureKind::KoshiZori,
                CurvatureKind::ToriiZori,
                CurvatureKind::SakiZori
            ]
        );
        assert_eq!(kind_without_place(Estimate::new(16.5, 0.2), 698.0), None);
        assert_eq!(
            kind_without_place(Estimate::new(-2.0, 0.2), 270.0),
            Some(CurvatureKind::UchiZori)
        );
    }
}
