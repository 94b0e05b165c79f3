//! What the logged passes say: steel gone, mass now, and readings for the rates.

use tangmark_author::passes::Logged;
use tangmark_core::record::{MassState, Pass, PassReadings, Record, Sheet, Station};
use tangmark_measure::Estimate;
use tangmark_measure::weighing::{self, Weighing};

use crate::need::stone_work;
use crate::rates::Observation;
use crate::stones::{Stone, meant};
use crate::surface::Body;

fn mass(readings: Option<&PassReadings>) -> Option<Estimate> {
    readings?.mass.as_ref().map(|mass| Estimate::from(&mass.0))
}

/// Steel gone in passes, g: mass before the first less mass after the last, without what removing rust took where that
/// was weighed; a pass that was not weighed before began with the last weighing. `None` where either end is missing.
pub(crate) fn steel_gone(
    records: &[Record],
    sheet: &Sheet,
    logged: &[Logged<'_>],
) -> Option<Estimate> {
    let passes: Vec<&Pass> = logged.iter().map(|one| one.pass).collect();
    let all = weighing::weighings(records, sheet, &passes);
    let went = weighing::went(&all, &passes, 0)?;
    // A weighing after one pass that the next pass repeats as its own is one weighing.
    let mut apart: Vec<(f64, &Weighing<'_>)> = Vec::new();
    for (one, weight) in all.iter().zip(went.steel()) {
        match apart.last_mut() {
            Some((sum, last)) if last.done == one.done && last.mass == one.mass => *sum += weight,
            _ => apart.push((weight, one)),
        }
    }
    Some(
        apart
            .into_iter()
            .filter(|(weight, _)| *weight != 0.0)
            .map(|(weight, one)| Estimate::from(&one.mass.0).scaled(weight))
            .sum(),
    )
}

/// Mass of the bare blade now, g: after the last pass that was weighed, else as examined.
pub(crate) fn mass_now(sheet: &Sheet, passes: &[Logged<'_>]) -> Option<Estimate> {
    let drafted = passes.iter().filter(|one| one.pointer.is_some());
    let after = drafted.rev().find_map(|one| mass(one.pass.after.as_ref()));
    after.or_else(|| {
        let dimensions = sheet.dimensions.as_ref()?;
        let bare = dimensions.mass_state == Some(MassState::Bare);
        dimensions
            .mass
            .as_ref()
            .filter(|_| bare)
            .map(|one| Estimate::from(&one.0))
    })
}

/// Readings of timed passes with stones of the table, in the order of the log.
///
/// Steel is the difference of the weighings, the one before the pass or the last one taken; where a pass was not weighed, the mean loss of thickness over the stations
/// that were gauged before and after, half of it to each face, times the area of the zones worked.
pub(crate) fn observations(
    (sheet, records): (&Sheet, &[Record]),
    logged: &[Logged<'_>],
    stones: &[Stone],
    body: Option<&Body>,
) -> Vec<Observation> {
    let passes: Vec<&Pass> = logged.iter().map(|one| one.pass).collect();
    let weighings = weighing::weighings(records, sheet, &passes);
    let read = |place: Option<usize>| Some(Estimate::from(&weighings[place?].mass.0));
    passes
        .iter()
        .enumerate()
        .filter(|(_, pass)| stone_work(pass.operation))
        .filter_map(|(index, pass)| {
            let stone = meant(stones, pass.abrasive.as_ref()?)?;
            let minutes = pass.time.as_ref()?.to_f64();
            let by_scale = || {
                let before = read(weighing::before(&weighings, index))?;
                Some(before - read(weighing::after(&weighings, index))?)
            };
            let steel = by_scale().or_else(|| by_gauge(pass, body?))?;
            (minutes > 0.0).then_some(Observation {
                stone,
                minutes,
                steel,
            })
        })
        .collect()
}

fn by_gauge(pass: &Pass, body: &Body) -> Option<Estimate> {
    let (before, after) = (pass.before.as_ref()?, pass.after.as_ref()?);
    let thickness = |one: &Station| {
        one.ridge_thickness
            .as_ref()
            .map(|one| Estimate::from(&one.0))
    };
    let losses: Vec<Estimate> = before
        .stations
        .iter()
        .filter_map(|one| {
            let same = after
                .stations
                .iter()
                .find(|other| other.at.value == one.at.value)?;
            Some(thickness(one)? - thickness(same)?)
        })
        .collect();
    if losses.is_empty() {
        return None;
    }
    let count = losses.len() as f64;
    let mean = losses.into_iter().sum::<Estimate>().scaled(0.5 / count);
    let area = body.area(&pass.zones);
    Some(crate::surface::steel(mean.scaled(area), 0.0))
}
