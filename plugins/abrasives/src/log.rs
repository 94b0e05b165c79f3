//! What the logged passes say: steel gone, mass now, and readings for the rates.

use std::collections::BTreeMap;

use tangmark_author::passes::Logged;
use tangmark_core::record::{MassState, Operation, Pass, PassReadings, Sheet, Station};
use tangmark_measure::Estimate;

use crate::need::stone_work;
use crate::rates::Observation;
use crate::stones::{Stone, meant};
use crate::surface::Body;

fn mass(readings: Option<&PassReadings>) -> Option<Estimate> {
    readings?.mass.as_ref().map(|mass| Estimate::from(&mass.0))
}

/// Steel gone in passes, g: mass before the first less mass after the last, without what removing rust took where that
/// was weighed. `None` where either weighing is missing.
pub(crate) fn steel_gone(passes: &[Logged<'_>]) -> Option<Estimate> {
    let first = passes
        .iter()
        .position(|one| mass(one.pass.before.as_ref()).is_some())?;
    let last = passes
        .iter()
        .rposition(|one| mass(one.pass.after.as_ref()).is_some())?;
    if last < first {
        return None;
    }
    // A weighing after one pass that the next pass repeats as its own is one weighing.
    let before = |index: usize| {
        let mass = mass(passes[index].pass.before.as_ref())?;
        let earlier = index
            .checked_sub(1)
            .filter(|earlier| weighed_after(passes, *earlier) == Some(mass));
        Some((earlier.map_or(2 * index, |earlier| 2 * earlier + 1), mass))
    };
    let after = |index: usize| Some((2 * index + 1, weighed_after(passes, index)?));
    let mut weighings: BTreeMap<usize, (f64, Estimate)> = BTreeMap::new();
    let mut add = |sign: f64, (id, mass): (usize, Estimate)| {
        weighings.entry(id).or_insert((0.0, mass)).0 += sign;
    };
    add(1.0, before(first)?);
    add(-1.0, after(last)?);
    for index in (first..=last).filter(|index| passes[*index].pass.operation == Operation::Derust) {
        if let (Some(before), Some(after)) = (before(index), after(index)) {
            add(-1.0, before);
            add(1.0, after);
        }
    }
    Some(
        weighings
            .into_values()
            .map(|(sign, one)| one.scaled(sign))
            .sum(),
    )
}

fn weighed_after(passes: &[Logged<'_>], index: usize) -> Option<Estimate> {
    mass(passes[index].pass.after.as_ref())
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
/// Steel is the difference of the weighings; where a pass was not weighed, the mean loss of thickness over the stations
/// that were gauged before and after, half of it to each face, times the area of the zones worked.
pub(crate) fn observations(
    passes: &[Logged<'_>],
    stones: &[Stone],
    body: Option<&Body>,
) -> Vec<Observation> {
    passes
        .iter()
        .map(|one| one.pass)
        .filter(|pass| stone_work(pass.operation))
        .filter_map(|pass| {
            let stone = meant(stones, pass.abrasive.as_ref()?)?;
            let minutes = pass.time.as_ref()?.to_f64();
            let by_scale = || Some(mass(pass.before.as_ref())? - mass(pass.after.as_ref())?);
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
