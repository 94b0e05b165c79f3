//! Steel between stations, in the point and in a tang; mass.

use crate::Estimate;
use crate::section::{Section, SectionForm};

/// Density of blade steel, g/cm³, as known without weighing in water.
///
/// Source: from memory: carbon steel 7.85 by convention, martensite and slag lower it; 7.82 ± 0.05, rectangular.
pub fn density() -> Estimate {
    Estimate::rectangular(7.82, 0.05)
}

/// A section at its place along the blade, mm from the datum.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Placed {
    /// Place.
    pub at: f64,
    /// Section.
    pub section: Section,
}

/// Returns the volume between the first and the last section, mm³; zero for fewer than two.
///
/// Each measure runs linearly from station to station, so that the area is a quadratic of the place and Simpson's
/// rule is exact.
///
/// Source: prismoidal formula, V = h(A₀ + 4A½ + A₁)/6.
pub fn between_stations(form: SectionForm, stations: &[Placed]) -> f64 {
    stations
        .windows(2)
        .map(|pair| {
            let (first, last) = (pair[0], pair[1]);
            let middle = form.area(first.section.halfway(last.section));
            (last.at - first.at) / 6.0
                * (form.area(first.section) + 4.0 * middle + form.area(last.section))
        })
        .sum()
}

/// Returns the volume of a body that runs out to a tip like a cone: a third of area times length, mm³.
///
/// Source: volume of a cone; that the point of a blade comes near to it is an assumption of this tool.
pub fn tip(area: f64, length: f64) -> f64 {
    area * length / 3.0
}

/// Returns the volume of a rectangular bar through the given (width, thickness) at equal distances, mm³; `None`
/// for fewer than two sections.
///
/// Source: prismoidal formula, exact for a linear taper between neighbours.
pub fn tapered_bar(length: f64, sections: &[(f64, f64)]) -> Option<f64> {
    let gaps = sections.len().checked_sub(1).filter(|gaps| *gaps > 0)?;
    let step = length / gaps as f64;
    let product = |(width, thickness): (f64, f64)| width * thickness;
    let piece = |pair: &[(f64, f64)]| {
        let middle = (
            f64::midpoint(pair[0].0, pair[1].0),
            f64::midpoint(pair[0].1, pair[1].1),
        );
        step / 6.0 * (product(pair[0]) + 4.0 * product(middle) + product(pair[1]))
    };
    Some(sections.windows(2).map(piece).sum())
}

/// Returns the mass in g of a volume in mm³ at a density in g/cm³.
pub fn mass(volume: Estimate, density: Estimate) -> Estimate {
    (volume * density).scaled(1e-3)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use proptest::prelude::*;

    fn placed(at: f64, measures: [f64; 4]) -> Placed {
        let [width, thickness, back_thickness, ridge_width] = measures;
        Placed {
            at,
            section: Section {
                width,
                thickness,
                back_thickness,
                ridge_width,
            },
        }
    }

    fn close(found: f64, expected: f64, within: f64) {
        assert!(
            (found - expected).abs() <= within,
            "{found} is not {expected}"
        );
    }

    const BASE: [f64; 4] = [30.0, 7.0, 6.5, 10.0];
    const MIDDLE: [f64; 4] = [25.0, 6.0, 5.55, 8.5];
    const POINT_LINE: [f64; 4] = [20.0, 5.0, 4.6, 7.0];

    /// A worked long sword: 665 mm from notch to point line, point 35 mm, tang 200 mm. All results recomputed from
    /// the stated inputs.
    #[test]
    fn the_worked_long_sword() {
        let stations = [
            placed(0.0, BASE),
            placed(332.5, MIDDLE),
            placed(665.0, POINT_LINE),
        ];
        let blade = between_stations(SectionForm::Ridged, &stations);
        close(blade, 66_272.79, 0.005);
        let point = tip(SectionForm::Ridged.area(stations[2].section), 35.0);
        close(point, 771.17, 0.005);
        let tang = tapered_bar(200.0, &[(27.0, 6.8), (22.0, 5.65), (17.0, 4.5)]).unwrap();
        close(tang, 25_243.33, 0.005);
        close(blade + point + tang, 92_287.29, 0.006);
        close(
            mass(Estimate::exact(blade + point + tang), Estimate::exact(7.85)).value,
            724.46,
            0.005,
        );
        close(
            mass(Estimate::exact(blade + point), Estimate::exact(7.85)).value,
            526.30,
            0.005,
        );
        let in_doubt = mass(Estimate::exact(blade + point + tang), density());
        close(in_doubt.standard_uncertainty, 2.664, 0.001);
    }

    #[test]
    fn prism_and_cone() {
        let bar = [10.0, 4.0, 4.0, 10.0];
        close(
            between_stations(SectionForm::Ridged, &[placed(0.0, bar), placed(100.0, bar)]),
            4000.0,
            1e-9,
        );
        let nothing = [0.0, 0.0, 0.0, 0.0];
        let wedge = between_stations(
            SectionForm::Diamond,
            &[placed(0.0, bar), placed(30.0, nothing)],
        );
        close(wedge, tip(20.0, 30.0), 1e-9);
        assert_eq!(tapered_bar(10.0, &[(1.0, 1.0)]), None);
        close(
            between_stations(SectionForm::Wedge, &[placed(0.0, bar)]),
            0.0,
            0.0,
        );
    }

    proptest! {
        #[test]
        fn a_station_more_on_a_straight_taper_changes_nothing(share in 0.01..0.99_f64) {
            let between = |from: [f64; 4], to: [f64; 4]| -> [f64; 4] {
                std::array::from_fn(|index| from[index] + share * (to[index] - from[index]))
            };
            let ends = [placed(0.0, BASE), placed(665.0, POINT_LINE)];
            let more = [ends[0], placed(665.0 * share, between(BASE, POINT_LINE)), ends[1]];
            let (coarse, fine) = (between_stations(SectionForm::Ridged, &ends), between_stations(SectionForm::Ridged, &more));
            prop_assert!((coarse - fine).abs() <= 1e-9 * coarse);
        }

        #[test]
        fn a_volume_scales_with_the_cube(scale in 0.1..10.0_f64) {
            let scaled = |at: f64, measures: [f64; 4]| placed(at * scale, measures.map(|one| one * scale));
            let small = between_stations(SectionForm::Ridged, &[placed(0.0, BASE), placed(300.0, MIDDLE)]);
            let large = between_stations(SectionForm::Ridged, &[scaled(0.0, BASE), scaled(300.0, MIDDLE)]);
            prop_assert!((large - small * scale.powi(3)).abs() <= 1e-9 * large);
        }
    }
}
