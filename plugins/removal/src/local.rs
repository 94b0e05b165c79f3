//! Loss at the stations, by the gauge.

use tangmark_author::words::counted;
use tangmark_author::{Notes, column, numbers, point, text_column};
use tangmark_core::record::Length;
use tangmark_core::units::Unit;
use tangmark_measure::decision::{Against, against, probability_above};
use tangmark_measure::statistics::normal_quantile;
use tangmark_measure::{Estimate, print};
use tangmark_plugin::{Axis, Level, Series, Table};

use crate::Case;
use crate::mass::{cells, percent};
use crate::states::State;
use tangmark_measure::reading::{Reading, difference};
use tangmark_measure::stations::{CLEAR, Measure, on_point_line, placement, tapers};

/// The same measure at the same place, before and after.
#[derive(Clone, Debug)]
pub(crate) struct Pair {
    /// What.
    pub(crate) measure: Measure,
    /// Place after, mm from the datum.
    pub(crate) at: f64,
    /// Its number in the later station table.
    pub(crate) station: usize,
    /// Earlier reading, brought to the place of the later one.
    pub(crate) before: Reading,
    /// Later reading.
    pub(crate) after: Reading,
    /// Loss, mm.
    pub(crate) loss: Estimate,
}

/// Pairs the stations of two states, nearest first, no farther apart than the setting allows. Each reading carries what
/// the placement adds: the local taper times the doubt of the place.
pub(crate) fn pairs(case: &Case<'_>, first: &State<'_>, last: &State<'_>) -> Vec<Pair> {
    let settings = case.settings;
    let mut all = Vec::new();
    let earlier = &first.dimensions.stations;
    for (station, later) in last.dimensions.stations.iter().enumerate() {
        let at = later.at.to_f64();
        let near = (0..earlier.len()).min_by(|a, b| {
            let gap = |index: usize| (earlier[index].at.to_f64() - at).abs();
            gap(*a).total_cmp(&gap(*b))
        });
        let Some(near) = near else { continue };
        let shift = at - earlier[near].at.to_f64();
        if shift.abs() > settings.station_match_mm {
            continue;
        }
        for measure in Measure::ALL {
            let (Some(before), Some(after)) = (measure.of(&earlier[near]), measure.of(later))
            else {
                continue;
            };
            let sides = tapers(earlier, near, measure);
            let doubt = placement(
                first.dimensions,
                near,
                measure,
                settings.station_placement_mm,
            );
            let placed =
                |length: &Length, instruments| Reading::of(&length.0, instruments).with_own(doubt);
            let mut before = placed(before, first.instruments);
            before.value += f64::midpoint(sides.0, sides.1) * shift;
            let after = placed(after, last.instruments);
            all.push(Pair {
                measure,
                at,
                station,
                loss: difference(&before, &after, settings.gauge_repeats),
                before,
                after,
            });
        }
    }
    all
}

/// The limit, as a multiple of u, that a chance alone passes once in forty times among `count` readings.
///
/// Source: Šidák's correction for several comparisons, from memory.
fn limit_among(count: usize) -> f64 {
    normal_quantile(libm::pow(0.975, 1.0 / count.max(1) as f64))
}

/// Judges the losses at the stations.
pub(crate) fn judge(case: &Case<'_>, notes: &mut Notes<'_>) -> Vec<Pair> {
    let Some((first, last)) = case.ends() else {
        return Vec::new();
    };
    let pairs = pairs(case, first, last);
    if pairs.is_empty() {
        let both = !first.dimensions.stations.is_empty() && !last.dimensions.stations.is_empty();
        if both {
            let text = format!(
                "No station of {} lies within {} mm of one of {}, so no local loss can be told: measure at the same places each \
                 time, or raise `station_match_mm`.",
                last.name, case.settings.station_match_mm, first.name
            );
            notes.add(
                "removal.no-pairs",
                Level::Info,
                text,
                &["/dimensions/stations"],
                Vec::new(),
            );
        }
        return pairs;
    }
    table(&pairs, notes);
    series(&pairs, notes);
    for pair in &pairs {
        if pair.measure.only_shrinks() {
            let name = format!("loss.{}.{}", pair.measure.field(), place(pair.at));
            notes.quantity(
                &name,
                pair.loss,
                Unit::Millimetre,
                "reading before less reading after at the same station",
            );
        }
    }
    summary(case, &pairs, first, last, notes);
    grown(&pairs, notes);
    pairs
}

/// A place as part of an identifier.
fn place(at: f64) -> String {
    print::fixed(at, 1).map_or_else(|_| "x".to_owned(), |text| text.to_string())
}

fn pointer(pair: &Pair, last: &State<'_>) -> String {
    if last.is_sheet {
        format!(
            "/dimensions/stations/{}/{}",
            pair.station,
            pair.measure.field()
        )
    } else {
        "/dimensions/stations".to_owned()
    }
}

fn summary(
    case: &Case<'_>,
    pairs: &[Pair],
    first: &State<'_>,
    last: &State<'_>,
    notes: &mut Notes<'_>,
) {
    let shrinking: Vec<&Pair> = pairs
        .iter()
        .filter(|one| one.measure.only_shrinks())
        .collect();
    let gone: Vec<&&Pair> = shrinking
        .iter()
        .filter(|one| against(one.loss, 0.0) == Against::Above)
        .collect();
    let open = shrinking
        .iter()
        .filter(|one| against(one.loss, 0.0) == Against::Undecided)
        .count();
    let most = gone
        .iter()
        .max_by(|a, b| a.loss.value.total_cmp(&b.loss.value));
    let mut given = Vec::new();
    let mut places = vec!["/dimensions/stations".to_owned()];
    let sure = match most {
        Some(most) => {
            given.push(("greatest loss told", most.loss, Unit::Millimetre));
            places.push(pointer(most, last));
            format!(
                "{} of {} can be told; the most is {} of {} at {} mm",
                gone.len(),
                counted(shrinking.len(), "loss"),
                print::with_expanded(most.loss, "mm"),
                most.measure.words(),
                place(most.at)
            )
        }
        None => format!("none of {} can be told", counted(shrinking.len(), "loss")),
    };
    let rest = if open == 0 {
        String::new()
    } else {
        format!(
            ". {open} the gauge cannot tell: use a micrometer, mark the stations, or find out how well the gauge repeats"
        )
    };
    let turning: Vec<String> = (0..last.dimensions.stations.len())
        .filter(|at| {
            on_point_line(last.dimensions, *at, case.settings.station_placement_mm).is_some()
        })
        .map(|at| place(last.dimensions.stations[at].at.to_f64()))
        .collect();
    let turning = if turning.is_empty() {
        String::new()
    } else {
        format!(
            " At {} mm, by the point line, the blade narrows at once, and a place missed by {} mm weighs more than the gauge: measure \
             {} mm or more before it.",
            tangmark_author::words::list(&turning),
            case.settings.station_placement_mm,
            CLEAR * case.settings.station_placement_mm
        )
    };
    let text = format!(
        "By the gauge, from {} to {}: {sure}{rest}.{turning} Errors of the gauge are taken to repeat by {} between sessions (`gauge_repeats`); \
         rust that lay on the steel counts as loss.",
        first.name, last.name, case.settings.gauge_repeats
    );
    notes.add(
        "removal.local-loss",
        Level::Info,
        text,
        &places,
        numbers(&given),
    );
}

fn grown(pairs: &[Pair], notes: &mut Notes<'_>) {
    let shrinking: Vec<&Pair> = pairs
        .iter()
        .filter(|one| one.measure.only_shrinks())
        .collect();
    let limit = limit_among(shrinking.len());
    for pair in &shrinking {
        if pair.loss.value >= -limit * pair.loss.standard_uncertainty {
            continue;
        }
        let text = format!(
            "At {} mm the {} reads {} more than before, which work cannot do: measure again at the same place, or correct the \
             earlier reading in a record of its own. (Among {} one in forty would show so much by chance.)",
            place(pair.at),
            pair.measure.words(),
            print::with_expanded(pair.loss.scaled(-1.0), "mm"),
            counted(shrinking.len(), "reading")
        );
        let given = numbers(&[
            ("loss", pair.loss, Unit::Millimetre),
            (
                "limit in standard uncertainties",
                Estimate::exact(limit),
                Unit::One,
            ),
        ]);
        let at = format!(
            "/dimensions/stations/{}/{}",
            pair.station,
            pair.measure.field()
        );
        notes.add("removal.thicker-after", Level::Caution, text, &[at], given);
    }
}

fn table(pairs: &[Pair], notes: &mut Notes<'_>) {
    let rows = pairs.iter().map(|pair| {
        let (loss, doubt) = cells(pair.loss);
        let shown = |value: f64, digits| {
            print::fixed(value, digits).map_or_else(|_| String::new(), |one| one.to_string())
        };
        let verdict = match against(pair.loss, 0.0) {
            Against::Above => "less than before",
            Against::Undecided => "cannot tell",
            Against::Below => "more than before",
        };
        let expanded = pair.loss.expanded();
        let normalised = if expanded > 0.0 {
            shown(pair.loss.value.abs() / expanded, 2)
        } else {
            String::new()
        };
        vec![
            place(pair.at),
            pair.measure.words().to_owned(),
            shown(pair.before.value, 3),
            shown(pair.after.value, 3),
            loss,
            doubt,
            normalised,
            percent(probability_above(pair.loss, 0.0)),
            verdict.to_owned(),
        ]
    });
    notes.table(Table {
        id: "removal.stations".to_owned(),
        title: "Loss at the stations".to_owned(),
        columns: vec![
            column("at", Unit::Millimetre),
            text_column("measure"),
            column("before", Unit::Millimetre),
            column("after", Unit::Millimetre),
            column("loss", Unit::Millimetre),
            column("standard uncertainty", Unit::Millimetre),
            column("normalised error", Unit::One),
            text_column("probability of a loss"),
            text_column("verdict at k = 2"),
        ],
        rows: rows.collect(),
        source: "before less after at the same station; normalised error |d|/U at k = 2, as E_n of ISO/IEC 17043 with the \
            correlation of one gauge, from memory"
            .to_owned(),
    });
}

fn series(pairs: &[Pair], notes: &mut Notes<'_>) {
    for (measure, id) in [
        (Measure::RidgeThickness, "removal.loss-along"),
        (Measure::Width, "removal.width-loss-along"),
    ] {
        let points: Vec<_> = pairs
            .iter()
            .filter(|one| one.measure == measure)
            .filter_map(|one| point(one.at, 1, one.loss))
            .collect();
        if points.len() < 2 {
            continue;
        }
        notes.series(Series {
            id: id.to_owned(),
            title: format!("Loss of {} along the blade", measure.words()),
            x: Axis {
                name: "from the datum".to_owned(),
                unit: Unit::Millimetre.code().to_owned(),
            },
            y: Axis {
                name: "loss".to_owned(),
                unit: Unit::Millimetre.code().to_owned(),
            },
            points,
            source: "reading before less reading after at the same station".to_owned(),
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: 0.975 quantile of the normal distribution for one reading; 2.87 for twelve: 0.975^(1/12) = 0.997 892 4.
    #[test]
    fn more_readings_raise_the_limit() {
        assert!((limit_among(1) - 1.959_964).abs() < 1e-6);
        assert!(
            (limit_among(12) - 2.861).abs() < 0.005,
            "{}",
            limit_among(12)
        );
        assert!((limit_among(0) - limit_among(1)).abs() < 1e-12);
    }
}
