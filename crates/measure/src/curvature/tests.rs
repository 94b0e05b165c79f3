#![allow(clippy::unwrap_used)]
use super::*;
use crate::linear::FitError;
use proptest::prelude::*;

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

/// Recomputed: dR/ds = ½ − L²/(8s²), −271.7 mm per mm for a chord of 700 and a sagitta of 15: ±0.5 mm are ±136 mm.
#[test]
fn a_radius_is_worse_known_than_its_sagitta() {
    let found = radius_estimate(Estimate::exact(700.0), Estimate::new(15.0, 0.5)).unwrap();
    assert!((found.value - 4090.833).abs() < 6e-4);
    assert!(
        (found.standard_uncertainty - 135.9).abs() < 0.1,
        "{found:?}"
    );
    assert_eq!(
        radius_estimate(Estimate::exact(700.0), Estimate::new(0.9, 0.5)),
        None
    );
    assert_eq!(
        radius_estimate(Estimate::exact(700.0), Estimate::exact(0.0)),
        None
    );
}

/// Points of a circular arc over a chord from 0 to `chord`, turned and moved as a straight edge laid askew sees them.
fn on_a_circle(chord: f64, sagitta: f64, askew: f64, count: u32) -> Vec<(f64, f64)> {
    let big = radius(chord, sagitta);
    let half = (chord / (2.0 * big)).asin();
    (0..=count)
        .map(|step| {
            let angle = half * (2.0 * f64::from(step) / f64::from(count) - 1.0);
            let (x, y) = (
                chord / 2.0 + big * angle.sin(),
                big * angle.cos() - (big - sagitta),
            );
            (
                x * askew.cos() - y * askew.sin() + 3.0,
                x * askew.sin() + y * askew.cos() - 2.0,
            )
        })
        .collect()
}

#[test]
fn worked_arcs_are_fitted() {
    for (chord, sagitta, expected) in [
        (700.0, 15.0, 4090.833),
        (635.0, 20.0, 2530.156),
        (757.0, 22.0, 3266.960),
        (300.0, 2.0, 5626.0),
    ] {
        let points = on_a_circle(chord, sagitta, 0.01, 12);
        let found = circle(&points, 0.05).unwrap();
        let measured = found.radius().unwrap();
        assert!((measured.value - expected).abs() < 6e-4, "{measured:?}");
        assert!(found.residual_sd < 1e-8 && found.greatest_residual < 1e-8);
        assert!(measured.standard_uncertainty > 0.0);
        // Hollow: the same with the other sign.
        let hollow: Vec<(f64, f64)> = points.iter().map(|(x, y)| (*x, -y)).collect();
        let hollow = circle(&hollow, 0.05).unwrap();
        assert!((hollow.radius().unwrap().value + expected).abs() < 6e-4);
    }
    assert_eq!(
        circle(&[(0.0, 0.0), (1.0, 1.0)], 0.1),
        Err(FitError::TooFew {
            observations: 2,
            coefficients: 3
        })
    );
    assert!(circle(&[(1.0, 1.0); 4], 0.1).is_err());
    assert!(circle(&[(0.0, 0.0), (1.0, f64::NAN), (2.0, 0.0)], 0.1).is_err());
    let straight = circle(
        &[(0.0, 1.0), (100.0, 1.0), (250.0, 1.0), (300.0, 1.0)],
        0.05,
    )
    .unwrap();
    assert!(straight.curvature.value.abs() < 1e-12 && straight.radius().is_none());
}

/// The curvature of three exact points read with u has, by the sagitta of equal thirds, u(κ) = 8/L²·√(3/2)·u.
#[test]
fn the_uncertainty_of_a_circle_through_three_points() {
    let found = circle(&[(0.0, 0.0), (350.0, 15.0), (700.0, 0.0)], 0.1).unwrap();
    assert!((found.radius().unwrap().value - 4090.833).abs() < 6e-4);
    let expected = 8.0 / 700.0_f64.powi(2) * 1.5_f64.sqrt() * 0.1;
    let ratio = found.curvature.standard_uncertainty / expected;
    // The arc is shallow, not flat.
    assert!((ratio - 1.0).abs() < 0.01, "{ratio}");
}

#[test]
fn heights_over_the_chord() {
    let askew = 0.02;
    let points: Vec<BackPoint> = on_a_circle(700.0, 15.0, askew, 10)
        .into_iter()
        .map(|(x, y)| BackPoint {
            along: Estimate::new(x, 0.2),
            height: Estimate::new(y, 0.05),
        })
        .collect();
    let found = over_chord(&points).unwrap();
    assert!((found.chord.value - 700.0).abs() < 1e-9);
    assert!((found.chord.standard_uncertainty - 0.2 * 2.0_f64.sqrt()).abs() < 1e-3);
    let (place, height) = found.heights[5];
    assert!((place - 350.0).abs() < 1e-9 && (height.value - 15.0).abs() < 1e-9);
    // Half of either end and the point itself: √1.5, and little from along.
    assert!((height.standard_uncertainty - 0.05 * 1.5_f64.sqrt()).abs() < 2e-3);
    assert_eq!(found.heights[0], (0.0, Estimate::exact(0.0)));
    let top = apex(&found.heights, found.chord.value).unwrap();
    assert!((top.depth.value - 15.0).abs() < 1e-9 && (top.place.value - 0.5).abs() < 1e-9);
    assert_eq!(over_chord(&points[..2]), None);
    assert_eq!(over_chord(&[points[0], points[1], points[0]]), None);
}

fn skewed(a: f64, b: f64, reading: f64) -> Vec<(f64, Estimate)> {
    (0..=14)
        .map(|step| {
            let x = f64::from(step) / 14.0;
            (
                700.0 * x,
                Estimate::new(x * (1.0 - x) * (a + b * x), reading),
            )
        })
        .collect()
}

#[test]
fn skew_and_its_top() {
    // An even parabola: y = 4s·x(1 − x).
    let even = skew(&skewed(60.0, 0.0, 0.05), 700.0).unwrap();
    assert!(even.ratio.value.abs() < 1e-12 && even.residual_sd < 1e-12);
    assert!((even.apex.place.value - 0.5).abs() < 1e-12);
    assert!((even.apex.depth.value - 15.0).abs() < 1e-12);
    assert!(even.ratio.standard_uncertainty > 0.0);
    assert!(even.apex.place.standard_uncertainty < flatness(even.apex.depth));
    // x(1 − x)(1 + x) has its top at 1/√3.
    let late = skew(&skewed(40.0, 40.0, 0.05), 700.0).unwrap();
    assert!((late.ratio.value - 1.0).abs() < 1e-12);
    assert!((late.apex.place.value - 1.0 / 3.0_f64.sqrt()).abs() < 1e-12);
    // Hollow as well.
    let hollow = skew(&skewed(-8.0, 4.0, 0.05), 700.0).unwrap();
    assert!((hollow.ratio.value + 0.5).abs() < 1e-12 && hollow.apex.depth.value < 0.0);
    assert_eq!(kinds(hollow.apex, 300.0), [CurvatureKind::UchiZori]);
    let straight = skew(&skewed(0.1, 0.0, 0.05), 700.0).unwrap_err();
    assert!(straight.to_string().contains("no single top"), "{straight}");
    // One bulge and one hollow: x(1 − x)(1 − x).
    let both = skew(&skewed(40.0, -40.0, 0.05), 700.0).unwrap_err();
    assert!(matches!(both, SkewError::NoTop { .. }), "{both}");
    // Heights that scatter more than they were read count by their scatter.
    let scattered: Vec<(f64, Estimate)> = skewed(60.0, 0.0, 0.05)
        .iter()
        .zip([1.0, -1.0].iter().cycle())
        .map(|((place, height), sign)| (*place, Estimate::new(height.value + sign, 0.05)))
        .collect();
    let loose = skew(&scattered, 700.0).unwrap();
    let wider = loose.ratio.standard_uncertainty / even.ratio.standard_uncertainty;
    assert!(wider > 15.0 && wider < 30.0, "{wider}");
    assert!(matches!(
        skew(&skewed(60.0, 0.0, 0.05)[..2], 700.0),
        Err(SkewError::Fit(FitError::TooFew { .. }))
    ));
    // A circle is even.
    let points: Vec<(f64, Estimate)> = on_a_circle(700.0, 15.0, 0.0, 14)
        .into_iter()
        .map(|(x, y)| (x - 3.0, Estimate::new(y + 2.0, 0.05)))
        .collect();
    let round = skew(&points, 700.0).unwrap();
    assert!(round.ratio.value.abs() < 1e-9, "{round:?}");
}

proptest! {
    #[test]
    fn any_arc_up_to_half_a_circle_is_fitted(chord in 20.0..900.0_f64, share in 0.001..0.45_f64, askew in -0.3..0.3_f64) {
        let expected = radius(chord, share * chord);
        let found = circle(&on_a_circle(chord, share * chord, askew, 9), 0.0).unwrap();
        let measured = found.radius().unwrap();
        prop_assert!((measured.value / expected - 1.0).abs() < 1e-6, "{measured:?} {expected}");
    }

    #[test]
    fn the_top_of_a_skewed_curve_is_its_greatest(a in 5.0..80.0_f64, ratio in -0.8..5.0_f64) {
        let found = skew(&skewed(a, ratio * a, 0.01), 700.0).unwrap();
        let height = |x: f64| x * (1.0 - x) * (a + ratio * a * x);
        for step in 0..=100 {
            prop_assert!(height(f64::from(step) / 100.0) <= found.apex.depth.value + 1e-9);
        }
        prop_assert!((height(found.apex.place.value) - found.apex.depth.value).abs() < 1e-9);
    }
}
