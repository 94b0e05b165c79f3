//! Readings to stop at, rates and forecast, in words, tables and curves.

use tangmark_author::words::counted;
use tangmark_author::{Notes, column, numbers, point, text_column};
use tangmark_core::units::Unit;
use tangmark_measure::Estimate;
use tangmark_measure::decision::GUARD_95;
use tangmark_plugin::{Level, Series, Table};

use crate::gauge::Stop;
use crate::plan::{Bench, Plan};
use crate::price::fixed;
use crate::rates::{Learned, Observation};
use crate::settings::Settings;
use crate::stones::Stone;
use crate::tell::{axis, grams, say};

/// Values to stop at. `left` is what may still go, g, and `scale` the scale's doubt of one weighing with its name.
pub(crate) fn gauge(
    stops: &[Stop],
    left: Option<Estimate>,
    now: Option<&(Estimate, String)>,
    notes: &mut Notes<'_>,
) {
    let mut text = String::new();
    if let (Some(left), Some((now, scale))) = (left.filter(|left| left.value > 0.0), now) {
        let guard = GUARD_95
            * libm::hypot(
                libm::sqrt(2.0) * now.standard_uncertainty,
                left.standard_uncertainty,
            );
        if guard >= left.value {
            say(
                &mut text,
                &format!(
                    "By the scale: {:.2} g may still go and the guard alone is {guard:.2} g, so your {scale} cannot police this: weigh on a finer one, \
                 dry and degreased the same way each time. ",
                    left.value
                ),
            );
        } else {
            say(
                &mut text,
                &format!(
                    "By the scale: never below {:.2} g, where what may go ends and not the plan ({} may still go, guard {guard:.2} g for your {scale}), dry and degreased the same way each time. ",
                    now.value - left.value + guard,
                    grams(left)
                ),
            );
        }
    }
    let sees = |one: &&Stop| !one.blind();
    for measure in ["thickness", "width"] {
        let of: Vec<&Stop> = stops.iter().filter(|one| one.measure == measure).collect();
        let Some(any) = of.first() else { continue };
        let blind: Vec<&&Stop> = of.iter().filter(|one| one.blind()).collect();
        if let Some(least) = of
            .iter()
            .copied()
            .filter(sees)
            .min_by(|a, b| a.at.total_cmp(&b.at))
        {
            say(
                &mut text,
                &format!(
                    "By {measure}: stop at {:.3} mm at the station {:.0} mm (now {:.3} mm, guard {:.3} mm). ",
                    least.reading, least.at, least.now, least.guard
                ),
            );
        }
        if !blind.is_empty() {
            let widest = blind.iter().map(|one| one.guard).fold(0.0, f64::max);
            let most = blind.iter().map(|one| one.may_lose).fold(0.0, f64::max);
            say(
                &mut text,
                &format!(
                    "By {measure} at {} of {} stations your {} cannot police this: up to {most:.3} mm may go there and the guard is {widest:.3} mm; use a {} \
                 or weigh. ",
                    blind.len(),
                    of.len(),
                    any.instrument,
                    if measure == "thickness" {
                        "micrometer"
                    } else {
                        "finer gauge"
                    }
                ),
            );
        }
        if of.iter().any(|one| one.thinnest) {
            text += "Where the thinnest that the plan allows comes first, that is the value. ";
        }
    }
    if text.is_empty() {
        return;
    }
    let places: Vec<&str> = stops.iter().map(|one| one.pointer.as_str()).collect();
    notes.add(
        "abrasives.gauge",
        Level::Info,
        text.trim_end(),
        &places,
        Vec::new(),
    );
    if stops.is_empty() {
        return;
    }
    let rows = stops
        .iter()
        .map(|one| {
            vec![
                fixed(one.at, 1),
                one.measure.to_owned(),
                fixed(one.now, 3),
                fixed(one.may_lose, 3),
                fixed(one.guard, 3),
                if one.blind() {
                    String::new()
                } else {
                    fixed(one.reading, 3)
                },
                match (one.blind(), one.thinnest) {
                    (true, _) => format!("{} cannot police this", one.instrument),
                    (false, true) => "the thinnest allowed decides".to_owned(),
                    (false, false) => format!("{} can", one.instrument),
                },
            ]
        })
        .collect();
    notes.table(Table {
        id: "abrasives.gauge".to_owned(),
        title: "Readings at which to stop".to_owned(),
        columns: vec![
            column("station", Unit::Millimetre),
            text_column("measure"),
            column("now", Unit::Millimetre),
            column("may lose", Unit::Millimetre),
            column("guard", Unit::Millimetre),
            column("stop at", Unit::Millimetre),
            text_column("instrument"),
        ],
        rows,
        source: "now less what may go, plus 1.645 times root two times u of one reading; plane geometry of the section".to_owned(),
    });
}

/// Rates as learned from the log.
pub(crate) fn rates(
    stones: &[Stone],
    settings: &Settings,
    log: &[Observation],
    learned: &Learned,
    notes: &mut Notes<'_>,
) {
    let per_minute = 1_000.0 / settings.rate_area_mm2;
    let mut rows = Vec::new();
    let mut words = Vec::new();
    for (index, stone) in stones.iter().enumerate() {
        let passes = log.iter().filter(|seen| seen.stone == index).count();
        let (Some(rate), true) = (learned.rate(index), stone.grain.is_some() || passes > 0) else {
            continue;
        };
        let before = stone.prior(settings).median() * per_minute;
        let (low, high) = rate.interval();
        rows.push(vec![
            stone.name.clone(),
            passes.to_string(),
            fixed(before, 3),
            fixed(rate.median() * per_minute, 3),
            fixed(low * per_minute, 3),
            fixed(high * per_minute, 3),
            if stone.rate.is_some() {
                "measured before"
            } else {
                "guess from the grain"
            }
            .to_owned(),
        ]);
        if passes > 0 {
            words.push(format!(
                "{} {:.2} µm a minute ({:.2} to {:.2}) after {}, {before:.2} before",
                stone.name,
                rate.median() * per_minute,
                low * per_minute,
                high * per_minute,
                counted(passes, "pass")
            ));
        }
    }
    if rows.is_empty() {
        return;
    }
    if !words.is_empty() {
        let text = format!(
            "Rates on {} mm2 by the log: {}. Scatter from pass to pass about {:.0} %.",
            settings.rate_area_mm2,
            words.join("; "),
            100.0 * learned.scatter()
        );
        notes.add(
            "abrasives.rates",
            Level::Info,
            text,
            &["/passes"],
            Vec::new(),
        );
    }
    notes.table(Table {
        id: "abrasives.rates".to_owned(),
        title: format!("Depth that a stone takes in a minute on {} mm2", settings.rate_area_mm2),
        columns: vec![
            text_column("stone"),
            text_column("passes"),
            column("before the log", Unit::Micrometre),
            column("now", Unit::Micrometre),
            column("low, 95 %", Unit::Micrometre),
            column("high, 95 %", Unit::Micrometre),
            text_column("before from"),
        ],
        rows,
        source: "normal log rate, weighed with the steel of each timed pass; drift and scatter between passes".to_owned(),
    });
}

/// Mass against stages when each is worked by the clock.
pub(crate) fn forecast(plan: &Plan, bench: &Bench<'_>, now: Estimate, notes: &mut Notes<'_>) {
    let change = bench.settings.change_minutes;
    let stages: Vec<(usize, f64)> = plan
        .stages
        .iter()
        .map(|stage| (stage.stone, (stage.step.minutes - change).max(0.0)))
        .collect();
    let all = bench.learned.forecast(now, &stages);
    let Some(last) = all.last() else { return };
    let points = std::iter::once(&now)
        .chain(&all)
        .enumerate()
        .filter_map(|(index, mass)| point(index as f64, 0, *mass))
        .collect();
    notes.series(Series {
        id: "abrasives.forecast".to_owned(),
        title: "Mass when each stage is worked for its planned time".to_owned(),
        x: axis("stages done", Unit::One),
        y: axis("mass", Unit::Gram),
        points,
        source: "mass now less density times rate times minutes of each stage; the doubts of rate, drift, scatter and scale".to_owned(),
    });
    let text = format!(
        "Worked by the clock alone, without scale or gauge, the plan ends at {}; by the scale it is stopped where it should be.",
        grams(*last)
    );
    notes.add(
        "abrasives.forecast",
        Level::Info,
        text,
        &["/dimensions/mass"],
        numbers(&[("mass at the end", *last, Unit::Gram)]),
    );
}
