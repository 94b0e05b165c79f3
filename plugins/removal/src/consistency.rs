//! Mass against sections: does the scale's loss agree with what the gauge says between the stations?

use tangmark_author::{Notes, numbers};
use tangmark_core::units::Unit;
use tangmark_measure::blade::Blade;
use tangmark_measure::decision::COVERAGE;
use tangmark_measure::{Estimate, print};
use tangmark_plugin::Level;

use crate::Case;
use crate::local::Pair;
use crate::mass::Loss;
use crate::surface::blade;
use tangmark_measure::reading::{Term, sum};
use tangmark_measure::stations::Measure;

/// Step of a central difference, mm: small against a blade, large against rounding.
const STEP: f64 = 1e-3;

/// Compares both where the pairs make two whole sections or more.
pub(crate) fn judge(case: &Case<'_>, loss: Option<&Loss>, pairs: &[Pair], notes: &mut Notes<'_>) {
    let (Some(loss), Some((first, _))) = (loss, case.ends()) else {
        return;
    };
    let Ok(start) = blade(case.sheet, first) else {
        return;
    };
    let Some(volume) = volume_gone(&start, pairs, case.settings.gauge_repeats) else {
        return;
    };
    // What the sections leave out weighs on the volume as on the surface: steel gone is a skin of it.
    let left_out = case.settings.surface_percent / 100.0 * volume.value;
    let by_gauge = (volume.with_added(left_out) * case.settings.density()).scaled(1e-3);
    notes.quantity(
        "steel-gone-by-sections",
        by_gauge,
        Unit::Gram,
        "volume between paired stations and in the point, before less after, times density",
    );
    let apart = by_gauge - loss.all;
    let expanded = COVERAGE * apart.standard_uncertainty;
    if expanded <= 0.0 {
        return;
    }
    let normalised = apart.value.abs() / expanded;
    let both = format!(
        "By the sections {} are gone, by the scale {} (rust with it)",
        print::with_expanded(by_gauge, "g"),
        print::with_expanded(loss.all, "g")
    );
    let (level, text) = if normalised > 1.0 {
        (
            Level::Caution,
            format!(
                "{both}: they do not agree. Look for a station measured at another place, a gauge or scale that moved, or water and \
                 oil on the blade; measure again before relying on either."
            ),
        )
    } else if by_gauge.expanded() > loss.all.value.abs() {
        (
            Level::Info,
            format!(
                "{both}: they do not contradict each other, but the gauge is too coarse to confirm the scale."
            ),
        )
    } else {
        (
            Level::Info,
            format!("{both}: they agree within their uncertainties."),
        )
    };
    let given = numbers(&[
        ("by the sections", by_gauge, Unit::Gram),
        ("by the scale", loss.all, Unit::Gram),
        ("normalised error", Estimate::exact(normalised), Unit::One),
    ]);
    let mut places = vec!["/dimensions/stations".to_owned()];
    places.extend(loss.places.iter().cloned());
    notes.add("removal.mass-and-sections", level, text, &places, given);
}

/// Volume before less volume after, mm³, from the pairs that make whole sections; the same stations on both sides.
///
/// All readings of one session by one gauge share its error, which a volume adds up rather than averages out; what
/// repeats from session to session cancels.
fn volume_gone(start: &Blade, pairs: &[Pair], repeats: f64) -> Option<Estimate> {
    let mut before = start.clone();
    // A station stays when every measure of the form that was read before was read after.
    let needed: Vec<Measure> = match start.form {
        tangmark_measure::section::SectionForm::Ridged
        | tangmark_measure::section::SectionForm::OneSided => Measure::ALL.to_vec(),
        _ => vec![Measure::Width, Measure::RidgeThickness],
    };
    let found = |at: f64, measure: Measure| {
        pairs
            .iter()
            .find(|one| one.measure == measure && (one.at - at).abs() < 1e-9)
    };
    let mut places: Vec<f64> = pairs.iter().map(|one| one.at).collect();
    places.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
    places.retain(|at| needed.iter().all(|measure| found(*at, *measure).is_some()));
    if places.len() < 2 {
        return None;
    }
    let mut after = start.clone();
    let tip = start.stations.last()?.at.value + start.point.map_or(0.0, |point| point.length.value);
    for (blade, later) in [(&mut before, false), (&mut after, true)] {
        let template = blade.stations[0];
        blade.stations = places
            .iter()
            .map(|at| {
                let mut station = template;
                station.at = Estimate::exact(*at);
                for measure in &needed {
                    if let Some(pair) = found(*at, *measure) {
                        let reading = if later { &pair.after } else { &pair.before };
                        *slot(&mut station, *measure) = Estimate::exact(reading.value);
                    }
                }
                if needed.len() < Measure::ALL.len() {
                    fill(&mut station, blade.form);
                }
                station
            })
            .collect();
        if let (Some(point), Some(last)) = (&mut blade.point, places.last()) {
            point.length = Estimate::exact((tip - last).max(0.0));
        }
        blade.bevel = Estimate::exact(0.0);
    }
    let volume = |blade: &Blade| blade.model().ok().map(|model| model.totals().solid.volume);
    let gone = volume(&before)? - volume(&after)?;
    let mut terms = Vec::new();
    for (blade, session) in [(&before, 0), (&after, 1)] {
        for (index, at) in places.iter().enumerate() {
            for measure in &needed {
                let pair = found(*at, *measure)?;
                let moved = |step: f64| {
                    let mut blade = blade.clone();
                    let one = slot(&mut blade.stations[index], *measure);
                    one.value += step;
                    let form = blade.form;
                    if needed.len() < Measure::ALL.len() {
                        fill(&mut blade.stations[index], form);
                    }
                    volume(&blade)
                };
                let slope = (moved(STEP)? - moved(-STEP)?) / (2.0 * STEP);
                let (sign, reading) = if session == 0 {
                    (1.0, &pair.before)
                } else {
                    (-1.0, &pair.after)
                };
                terms.push(Term {
                    coefficient: sign * slope,
                    reading,
                    session,
                });
            }
        }
    }
    Some(Estimate::new(
        gone,
        sum(&terms, repeats).standard_uncertainty,
    ))
}

fn slot(station: &mut tangmark_measure::blade::Station, measure: Measure) -> &mut Estimate {
    match measure {
        Measure::Width => &mut station.width,
        Measure::RidgeThickness => &mut station.thickness,
        Measure::BackThickness => &mut station.back_thickness,
        Measure::RidgeWidth => &mut station.ridge_width,
    }
}

/// What a form without a ridge takes from its other measures.
fn fill(
    station: &mut tangmark_measure::blade::Station,
    form: tangmark_measure::section::SectionForm,
) {
    use tangmark_measure::section::SectionForm as F;
    match form {
        F::Wedge => station.back_thickness = station.thickness,
        F::Diamond | F::Triangle => {
            station.ridge_width = Estimate::exact(station.width.value / 2.0);
        }
        F::Ridged | F::OneSided => {}
    }
}
