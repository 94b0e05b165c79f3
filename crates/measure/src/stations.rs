//! What is measured at the stations of a blade, and how much the place of a station weighs on it.

use tangmark_core::record::{Dimensions, Length, Station};

/// Standard uncertainty with which a station is found again, mm along the blade, unless better is known.
///
/// Source: this tool's own assumption.
pub const PLACEMENT_MM: f64 = 1.0;

/// What is measured across the blade.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Measure {
    /// Edge to back.
    Width,
    /// At the ridge, or the greatest.
    RidgeThickness,
    /// At the back.
    BackThickness,
    /// Ridge to back; it may grow when the ground is worked alone.
    RidgeWidth,
}

impl Measure {
    /// Every measure.
    pub const ALL: [Self; 4] = [
        Self::Width,
        Self::RidgeThickness,
        Self::BackThickness,
        Self::RidgeWidth,
    ];

    /// Returns the name of the field.
    pub fn field(self) -> &'static str {
        match self {
            Self::Width => "width",
            Self::RidgeThickness => "ridge_thickness",
            Self::BackThickness => "back_thickness",
            Self::RidgeWidth => "ridge_width",
        }
    }

    /// Returns the words for it.
    pub fn words(self) -> &'static str {
        match self {
            Self::Width => "width",
            Self::RidgeThickness => "thickness at the ridge",
            Self::BackThickness => "thickness of the back",
            Self::RidgeWidth => "width behind the ridge",
        }
    }

    /// Steel gone can only make it smaller.
    pub fn only_shrinks(self) -> bool {
        self != Self::RidgeWidth
    }

    /// Takes the measure from a station.
    pub fn of(self, station: &Station) -> Option<&Length> {
        match self {
            Self::Width => station.width.as_ref(),
            Self::RidgeThickness => station.ridge_thickness.as_ref(),
            Self::BackThickness => station.back_thickness.as_ref(),
            Self::RidgeWidth => station.ridge_width.as_ref(),
        }
    }
}

/// Returns the change of a measure along the blade on both sides of a station, mm per mm: to the neighbours that have it; where
/// there is none on one side, as on the other.
pub fn tapers(stations: &[Station], at: usize, measure: Measure) -> (f64, f64) {
    let value = |index: usize| {
        let length = measure.of(&stations[index])?;
        Some((stations[index].at.to_f64(), length.to_f64()))
    };
    let here = value(at);
    let slope = |from: Option<(f64, f64)>, to: Option<(f64, f64)>| {
        let (from, to) = from.zip(to)?;
        (to.0 > from.0).then(|| (to.1 - from.1) / (to.0 - from.0))
    };
    let below = slope((0..at).rev().find_map(value), here);
    let above = slope(here, (at + 1..stations.len()).find_map(value));
    let either = below.or(above).unwrap_or(0.0);
    (below.unwrap_or(either), above.unwrap_or(either))
}

/// Placements beyond which a station is clear of the point line.
pub const CLEAR: f64 = 3.0;

/// Share of the width, and of the thickness, that is lost between the point line and the tip.
///
/// Source: this tool's own assumption; a point narrows to nothing and keeps about half of its thickness at the ridge.
const LOST_IN_POINT: (f64, f64) = (1.0, 0.5);

/// Returns the length of the point, mm, where a station lies on the point line or beyond, or so near that a reading may.
pub fn on_point_line(dimensions: &Dimensions, at: usize, placement_mm: f64) -> Option<f64> {
    let length = dimensions.blade_length.as_ref()?.to_f64();
    let point = dimensions.point_length.as_ref()?.to_f64();
    let place = dimensions.stations[at].at.to_f64();
    let near = place + CLEAR * placement_mm >= length - point;
    (point > 0.0 && near).then_some(point)
}

/// Returns the standard uncertainty of a measure for the place at which it was taken, mm.
///
/// A reading that lands on either side of the station follows the taper of that side, so the mean square of the two counts.
/// At the point line the blade turns: the line of the point may start anywhere from level to straight for the tip, which is
/// rectangular.
pub fn placement(dimensions: &Dimensions, at: usize, measure: Measure, placement_mm: f64) -> f64 {
    let stations = &dimensions.stations;
    let (below, mut above) = tapers(stations, at, measure);
    if let Some(point) = on_point_line(dimensions, at, placement_mm)
        && let Some(here) = measure.of(&stations[at])
    {
        let lost = match measure {
            Measure::Width | Measure::RidgeWidth => LOST_IN_POINT.0,
            Measure::RidgeThickness | Measure::BackThickness => LOST_IN_POINT.1,
        };
        above = above
            .abs()
            .max(lost * here.to_f64() / point / 3.0_f64.sqrt());
    }
    placement_mm * (below.hypot(above)) / 2.0_f64.sqrt()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use serde_json::json;

    /// Widths 30, 28, 25 at 0, 100, 200 mm: tapers 0.02 and 0.03 in the middle, mean square 0.000 65.
    #[test]
    fn the_place_weighs_by_the_taper_of_both_sides() {
        let length = |text: String| {
            json!({"as_read": [{"text": text, "unit": "mm"}], "value": text.trim_end_matches(" mm"),
            "unit": "mm", "standard_uncertainty": "0.1", "uncertainty_from": "stated"})
        };
        let station = |at: u32, width: u32| json!({"at": length(format!("{at} mm")), "width": length(format!("{width} mm"))});
        let mut dimensions: Dimensions = serde_json::from_value(
            json!({"datum": "back_notch", "stations": [station(0, 30), station(100, 28), station(200, 25)]}),
        )
        .unwrap();
        let doubt =
            |dimensions: &Dimensions, at| placement(dimensions, at, Measure::Width, PLACEMENT_MM);
        assert!((doubt(&dimensions, 1) - 0.000_65_f64.sqrt()).abs() < 1e-12);
        assert!((doubt(&dimensions, 0) - 0.02).abs() < 1e-12);
        assert!((doubt(&dimensions, 2) - 0.03).abs() < 1e-12);
        assert!(placement(&dimensions, 1, Measure::RidgeThickness, PLACEMENT_MM).abs() < 1e-12);
        // On the point line of a point 25 mm long: 25/25/√3 = 0.577 beyond it, 0.03 before.
        dimensions.blade_length = serde_json::from_value(length("225 mm".to_owned())).unwrap();
        dimensions.point_length = serde_json::from_value(length("25 mm".to_owned())).unwrap();
        assert!((doubt(&dimensions, 2) - (0.5_f64 * (1.0 / 3.0 + 0.0009)).sqrt()).abs() < 1e-12);
        assert!((doubt(&dimensions, 1) - 0.000_65_f64.sqrt()).abs() < 1e-12);
    }
}
