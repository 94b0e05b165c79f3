//! Arcs, the line of the back, and the kind of curvature.

mod circle;
mod line;

use tangmark_core::record::CurvatureKind;

use crate::Estimate;
use crate::decision::{Against, against};

pub use circle::{Circle, circle};
pub use line::{BackPoint, OverChord, Skew, SkewError, over_chord, skew};

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

/// Returns the radius with its uncertainty; `None` where the sagitta is within U (k = 2) of none.
///
/// A radius says less than its sagitta: dR/ds = ½ − L²/(8s²) is hundreds of mm per mm on a sword.
///
/// Source: as [`radius`], carried to first order.
pub fn radius_estimate(chord: Estimate, sagitta: Estimate) -> Option<Estimate> {
    let known = sagitta.value.abs() > sagitta.expanded() && sagitta.value != 0.0;
    let slope_chord = chord.value / (4.0 * sagitta.value);
    let slope_sagitta = 0.5 - (chord.value / sagitta.value).powi(2) / 8.0;
    known.then(|| {
        Estimate::new(
            radius(chord.value, sagitta.value),
            (slope_chord * chord.standard_uncertainty)
                .hypot(slope_sagitta * sagitta.standard_uncertainty),
        )
    })
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
mod tests;
