//! What is left: to the thinnest that is admitted, to the lowest point of the temper line, in full polishes.

use tangmark_author::words::counted;
use tangmark_author::{Notes, numbers};
use tangmark_core::units::Unit;
use tangmark_measure::decision::{Against, COVERAGE, GUARD_95, against, reached};
use tangmark_measure::{Estimate, print};
use tangmark_plugin::Level;

use crate::Case;
use crate::local::{Pair, pairs};
use crate::polishes::{Left, Record};
use crate::states::polish_ends;
use tangmark_measure::reading::Reading;
use tangmark_measure::stations::{Measure, placement};

/// Judges what is left.
pub(crate) fn judge(case: &Case<'_>, pairs: &[Pair], notes: &mut Notes<'_>) {
    thinnest(case, notes);
    temper(case, pairs, notes);
}

/// The thinnest station of the last state: its number, place and thickness at the ridge.
fn thinnest_station(case: &Case<'_>) -> Option<(usize, f64, Reading)> {
    let state = case.states.last()?;
    let stations = &state.dimensions.stations;
    let all = stations.iter().enumerate().filter_map(|(index, station)| {
        let thickness = station.ridge_thickness.as_ref()?;
        let placement = placement(
            state.dimensions,
            index,
            Measure::RidgeThickness,
            case.settings.station_placement_mm,
        );
        let reading = Reading::of(&thickness.0, state.instruments).with_own(placement);
        Some((index, station.at.to_f64(), reading))
    });
    all.min_by(|a, b| a.2.value.total_cmp(&b.2.value))
}

fn thinnest(case: &Case<'_>, notes: &mut Notes<'_>) {
    let Some((index, at, reading)) = thinnest_station(case) else {
        return;
    };
    let limit = case
        .sheet
        .plan
        .as_ref()
        .and_then(|plan| plan.thinnest.as_ref());
    let Some(limit) = limit.map(|limit| Estimate::from(&limit.0)) else {
        if case.sheet.plan.is_some() || !case.logged.is_empty() {
            let text = "How thin the blade may become is not stated (plan.thinnest), so what is left to that is not judged: agree on it \
                with the owner and write it down; there is no rule that gives it.";
            notes.add(
                "removal.thinnest-not-stated",
                Level::Info,
                text,
                &["/plan"],
                Vec::new(),
            );
        }
        return;
    };
    let left = reading.estimate() - limit;
    notes.quantity(
        "left-to-thinnest",
        left,
        Unit::Millimetre,
        "thickness at the ridge of the thinnest station less plan.thinnest",
    );
    let place = if case.states.last().is_some_and(|state| state.is_sheet) {
        format!("/dimensions/stations/{index}/ridge_thickness")
    } else {
        "/dimensions".to_owned()
    };
    let places = [place, "/plan/thinnest".to_owned()];
    let given = numbers(&[
        (
            "thickness at the ridge",
            reading.estimate(),
            Unit::Millimetre,
        ),
        ("thinnest admitted", limit, Unit::Millimetre),
        ("left", left, Unit::Millimetre),
    ]);
    let told = format!(
        "The thinnest station, at {at} mm, is {} at the ridge; {} may be left, so {} can still go there, both faces together",
        print::with_expanded(reading.estimate(), "mm"),
        print::with_expanded(limit, "mm"),
        print::with_expanded(left, "mm")
    );
    if reached(left.scaled(-1.0), 0.0) {
        let text = format!(
            "{told}. With the guard of 1.645 u nothing is left that is sure: take no more there, or measure with a finer gauge first."
        );
        notes.add("removal.thinnest", Level::Caution, text, &places, given);
    } else {
        notes.add(
            "removal.thinnest",
            Level::Info,
            format!("{told}."),
            &places,
            given,
        );
    }
    polishes(case, limit, at, &places, notes);
}

fn polishes(case: &Case<'_>, limit: Estimate, at: f64, places: &[String], notes: &mut Notes<'_>) {
    let ends = polish_ends(&case.states);
    let logged = ends.len().saturating_sub(1);
    if logged < 2 {
        if logged == 1 || !case.logged.is_empty() {
            let text = format!(
                "How many full polishes are left is not told: {} of this blade is measured at both ends, two are needed. One says nothing \
                 of how much the next may differ.",
                if logged == 1 {
                    "one full polish"
                } else {
                    "no full polish"
                }
            );
            notes.add(
                "removal.polishes-left",
                Level::Info,
                text,
                places,
                Vec::new(),
            );
        }
        return;
    }
    let (Some(first), Some(last)) = (ends.first(), ends.last()) else {
        return;
    };
    let (first, last) = (&case.states[*first], &case.states[*last]);
    let pair = pairs(case, first, last).into_iter().find(|one| {
        one.measure == Measure::RidgeThickness
            && (one.at - at).abs() <= case.settings.station_match_mm
    });
    let Some(pair) = pair else {
        let text = format!(
            "How many full polishes are left is not told: the thickness at {at} mm was not measured both in {} and in {}.",
            first.name, last.name
        );
        notes.add(
            "removal.polishes-left",
            Level::Info,
            text,
            places,
            Vec::new(),
        );
        return;
    };
    let record = Record {
        before: pair.before,
        after: pair.after,
        polishes: logged,
        limit,
        spread: case.settings.rate_spread_percent / 100.0,
        memory: case.settings.rate_memory,
        repeats: case.settings.gauge_repeats,
    };
    let each = pair.loss.scaled(1.0 / logged as f64);
    let told = format!(
        "Over {} the thickness at {at} mm went down by {} each on average",
        format_args!("{logged} full polishes"),
        print::with_expanded(each, "mm")
    );
    let mut given = vec![
        ("taken by a full polish", each, Unit::Millimetre),
        (
            "full polishes logged",
            Estimate::exact(logged as f64),
            Unit::One,
        ),
    ];
    let source = "least and most N for which what is left less N times the mean so far may be nothing, at k = 2 (Fieller's argument, from memory)";
    let text = match record.left() {
        Left {
            least,
            most: Some(most),
        } => {
            notes.quantity(
                "polishes-left-least",
                Estimate::exact(least),
                Unit::One,
                source,
            );
            notes.quantity(
                "polishes-left-most",
                Estimate::exact(most),
                Unit::One,
                source,
            );
            given.push((
                "least full polishes left",
                Estimate::exact(least),
                Unit::One,
            ));
            given.push(("most full polishes left", Estimate::exact(most), Unit::One));
            if most < 1.0 {
                format!(
                    "{told}. At that rate there is not one full polish left (the interval is {least:.1} to {most:.1})."
                )
            } else {
                format!(
                    "{told}. At that rate {} to {} full polishes are left to the thinnest admitted (95 %, {least:.1} to {most:.1}); hands \
                     and stones that take {} more or less from one polish to the next are counted in.",
                    least.floor(),
                    most.floor(),
                    format_args!("{} %", case.settings.rate_spread_percent)
                )
            }
        }
        Left { least, most: None } => {
            notes.quantity(
                "polishes-left-least",
                Estimate::exact(least),
                Unit::One,
                source,
            );
            given.push((
                "least full polishes left",
                Estimate::exact(least),
                Unit::One,
            ));
            format!(
                "{told}, which the gauge cannot tell from nothing: at least {} left, and no upper end can be given.",
                counted(least.floor(), "full polish")
            )
        }
    };
    notes.add(
        "removal.polishes-left",
        Level::Info,
        text,
        places,
        numbers(&given),
    );
}

fn temper(case: &Case<'_>, pairs: &[Pair], notes: &mut Notes<'_>) {
    let Some(line) = &case.sheet.temper_line else {
        return;
    };
    let lowest = line
        .widths
        .iter()
        .enumerate()
        .min_by(|a, b| a.1.width.to_f64().total_cmp(&b.1.width.to_f64()));
    let Some((index, lowest)) = lowest else {
        return;
    };
    let at = lowest.at.to_f64();
    let width = Estimate::from(&lowest.width.0);
    let Some(edge) = edge_loss(pairs, at) else {
        return;
    };
    notes.quantity(
        "temper-lowest",
        width,
        Unit::Millimetre,
        "narrowest noted width of the temper line",
    );
    let left = width - edge;
    let told = format!(
        "The temper line comes lowest at {at} mm, {} from the edge; the width of the blade there went down by {} in this work (counted \
         as if all of it went from the edge)",
        print::with_expanded(width, "mm"),
        print::with_expanded(edge, "mm")
    );
    let places = [
        format!("/temper_line/widths/{index}/width"),
        "/dimensions/stations".to_owned(),
    ];
    let given = numbers(&[
        ("lowest temper width", width, Unit::Millimetre),
        ("loss of width", edge, Unit::Millimetre),
    ]);
    if reached(left.scaled(-1.0), 0.0) {
        let text = format!(
            "{told}. As much again may reach it: leave the edge there alone until the line was measured again in a clear light."
        );
        notes.add("removal.temper-line", Level::Caution, text, &places, given);
        return;
    }
    // Guarded on both sides: the narrowest the line may be over the most the edge may have lost.
    let most = edge.value + GUARD_95 * edge.standard_uncertainty;
    let least = width.value - GUARD_95 * width.standard_uncertainty;
    let text = if against(edge, 0.0) == Against::Above {
        format!(
            "{told}. As much again fits {} times at least before the line is reached (both guarded by 1.645 u).",
            (least / most).floor()
        )
    } else {
        format!(
            "{told}, which the gauge cannot tell from nothing; if it were the most it may be ({}), as much again would fit {} times.",
            print::with_expanded(Estimate::exact(most), "mm"),
            (least / most).floor()
        )
    };
    notes.add("removal.temper-line", Level::Info, text, &places, given);
}

/// How much more doubtful than the best a pair may be and still speak for its neighbourhood.
const WORST: f64 = 4.0;

/// Loss of width at a place, straight between the neighbouring pairs; outside, that of the nearest. Pairs whose place
/// makes them useless, as on the point line, are left aside. Neighbours share the gauge's error, so that their doubts add
/// up in proportion.
fn edge_loss(pairs: &[Pair], at: f64) -> Option<Estimate> {
    let doubt = |one: &Pair| one.loss.standard_uncertainty;
    let all = || pairs.iter().filter(|one| one.measure == Measure::Width);
    let best = all().map(doubt).fold(f64::INFINITY, f64::min);
    let widths = || all().filter(|one| doubt(one) <= WORST * best);
    let below = widths().filter(|one| one.at <= at);
    let below = below.max_by(|a, b| a.at.total_cmp(&b.at));
    let above = widths().filter(|one| one.at >= at);
    let above = above.min_by(|a, b| a.at.total_cmp(&b.at));
    match (below, above) {
        (Some(below), Some(above)) if above.at > below.at => {
            let share = (at - below.at) / (above.at - below.at);
            Some(Estimate::new(
                below.loss.value + share * (above.loss.value - below.loss.value),
                doubt(below) + share * (doubt(above) - doubt(below)),
            ))
        }
        (Some(one), _) | (None, Some(one)) => Some(one.loss),
        (None, None) => None,
    }
}

/// Coverage of the interval of polishes left.
pub(crate) const LEFT_COVERAGE: f64 = COVERAGE;
