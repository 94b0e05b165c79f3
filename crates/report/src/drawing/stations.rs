//! Stations of two records: which stand at the same place, and what is measured at one.

use tangmark_core::record::{Length, Record, Station};
use tangmark_measure::{Estimate, decision::COVERAGE};

use crate::speech::{Pair, pair};

/// Picks a measure of a station.
pub(crate) type Measure = fn(&Station) -> Option<&Length>;

/// The measures of a station with their names, in the order of the table.
pub(crate) fn measures() -> [(Pair, Measure); 4] {
    [
        (pair("width", "身幅"), |station| station.width.as_ref()),
        (pair("thickness at the ridge", "鎬重"), |station| {
            station.ridge_thickness.as_ref()
        }),
        (pair("thickness of the back", "棟重"), |station| {
            station.back_thickness.as_ref()
        }),
        (pair("ridge to back", "鎬から棟"), |station| {
            station.ridge_width.as_ref()
        }),
    ]
}

/// Whether both records measure along the blade, each from another datum: then the same number is another place.
pub(crate) fn datums_differ(before: &Record, after: &Record) -> bool {
    match (&before.dimensions, &after.dimensions) {
        (Some(before), Some(after)) => before.datum != after.datum,
        _ => false,
    }
}

/// A place of the first record, the second, or both.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Match<'a> {
    pub(crate) before: Option<&'a Station>,
    pub(crate) after: Option<&'a Station>,
}

/// Stations of the first record, each with that of the second at the same place, then those of the second alone.
///
/// Two places are the same as far as the measurement can tell: no further apart than the expanded uncertainty (k = 2) of
/// their distance. The nearest are matched first, each station once. Nothing where the datums differ.
pub(crate) fn matched<'a>(before: &'a Record, after: &'a Record) -> Vec<Match<'a>> {
    if datums_differ(before, after) {
        return Vec::new();
    }
    let list = |record: &'a Record| -> &'a [Station] {
        record
            .dimensions
            .as_ref()
            .map_or(&[], |dimensions| &dimensions.stations)
    };
    let (first, second) = (list(before), list(after));
    let mut near: Vec<(f64, usize, usize)> = Vec::new();
    for (one, station) in first.iter().enumerate() {
        let place = Estimate::from(&*station.at);
        for (other, candidate) in second.iter().enumerate() {
            let apart = Estimate::from(&*candidate.at) - place;
            if apart.value.abs() <= COVERAGE * apart.standard_uncertainty {
                near.push((apart.value.abs(), one, other));
            }
        }
    }
    // A stable sort: among equals the order of the tables.
    near.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut partner: Vec<Option<usize>> = vec![None; first.len()];
    let mut taken = vec![false; second.len()];
    for (_, one, other) in near {
        if partner[one].is_none() && !taken[other] {
            partner[one] = Some(other);
            taken[other] = true;
        }
    }
    let firsts = first.iter().zip(&partner).map(|(station, other)| Match {
        before: Some(station),
        after: other.and_then(|other| second.get(other)),
    });
    let rest = second
        .iter()
        .zip(&taken)
        .filter(|(_, taken)| !**taken)
        .map(|(station, _)| Match {
            before: None,
            after: Some(station),
        });
    firsts.chain(rest).collect()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use serde_json::{Value, json};

    use super::*;
    use crate::sample;

    fn record(datum: &str, places: &[&str]) -> Record {
        let quantity = |value: &str, standard: &str| json!({ "value": value, "unit": "mm", "standard_uncertainty": standard, "uncertainty_from": "instrument", "as_read": [{ "text": format!("{value} mm"), "unit": "mm" }] });
        let stations: Vec<Value> = places
            .iter()
            .map(|at| json!({ "at": quantity(at, "0.29"), "width": quantity("30.00", "0.02") }))
            .collect();
        let mut value = sample::bare();
        value["dimensions"] = json!({ "datum": datum, "stations": stations });
        serde_json::from_value(value).unwrap()
    }

    fn places(before: &Record, after: &Record) -> Vec<[Option<f64>; 2]> {
        let at = |station: Option<&Station>| station.map(|station| station.at.to_f64());
        matched(before, after)
            .into_iter()
            .map(|one| [at(one.before), at(one.after)])
            .collect()
    }

    #[test]
    fn the_nearest_stations_are_matched_each_once() {
        // U of a distance: 2·0.29·√2 = 0.82 mm.
        let before = record("back_notch", &["99.5", "100.0", "200.0"]);
        let after = record("back_notch", &["50.0", "100.1", "200.9"]);
        assert_eq!(
            places(&before, &after),
            [
                [Some(99.5), None],
                [Some(100.0), Some(100.1)],
                [Some(200.0), None],
                [None, Some(50.0)],
                [None, Some(200.9)],
            ]
        );
    }

    #[test]
    fn places_from_different_datums_are_not_matched() {
        let before = record("back_notch", &["100.0"]);
        let after = record("shoulder", &["100.0"]);
        assert!(datums_differ(&before, &after) && matched(&before, &after).is_empty());
        let bare: Record = serde_json::from_value(sample::bare()).unwrap();
        assert!(!datums_differ(&bare, &after));
        assert_eq!(places(&bare, &after), [[None, Some(100.0)]]);
    }
}
