//! The least removal that the workshop's instruments can tell.

use tangmark_author::{Notes, numbers};
use tangmark_core::units::Unit;
use tangmark_measure::Estimate;
use tangmark_measure::decision::detectable_difference;
use tangmark_plugin::Level;

use crate::Case;
use crate::states::State;
use crate::surface::{mean_depth, worked};
use tangmark_measure::reading::{Reading, difference};
use tangmark_measure::stations::{Measure, placement};

const SOURCE: &str = "2 x 1.645 u of a difference of two readings (5 % false alarms, 5 % misses; ISO 11843-1, from memory)";

/// What one instrument can tell.
struct Reach {
    /// Standard uncertainty of a difference, and what it can find.
    doubt: f64,
    detectable: f64,
}

fn reach(doubt: f64) -> Reach {
    Reach {
        doubt,
        detectable: detectable_difference(doubt),
    }
}

/// Tells what two readings like those of the last state can tell apart.
pub(crate) fn judge(case: &Case<'_>, notes: &mut Notes<'_>) {
    let Some(state) = case.states.last().filter(|state| state.is_sheet) else {
        return;
    };
    let mut said = Vec::new();
    let mut given = Vec::new();
    let mut places = Vec::new();
    if let Some((words, mut figures)) = by_scale(case, state, notes) {
        said.push(words);
        given.append(&mut figures);
        places.push("/dimensions/mass".to_owned());
    }
    if let Some((words, figure, place)) = by_gauge(case, state, notes) {
        said.push(words);
        given.push(figure);
        places.push(place);
    }
    if said.is_empty() {
        return;
    }
    let text = format!(
        "What can be told here, two readings of the same kind, standard uncertainty and detectable difference (3.29 u) apart: {}.",
        said.join("; ")
    );
    notes.add(
        "removal.detectable",
        Level::Info,
        text,
        &places,
        numbers(&given),
    );
}

type Figures = Vec<(&'static str, Estimate, Unit)>;

fn by_scale(
    case: &Case<'_>,
    state: &State<'_>,
    notes: &mut Notes<'_>,
) -> Option<(String, Figures)> {
    let mass = state.dimensions.mass.as_ref()?;
    let settings = case.settings;
    let mut alone = settings.clone();
    alone.residue_g = None;
    let twice = |settings| {
        let reading = crate::mass::weighed(mass, state.instruments, settings);
        reach(difference(&reading, &reading, settings.scale_repeats).standard_uncertainty)
    };
    let (scale, entered) = (twice(&alone), twice(settings));
    let gram = Unit::Gram;
    notes.quantity(
        "detectable-mass",
        Estimate::exact(entered.detectable),
        gram,
        SOURCE,
    );
    let mut figures = vec![
        (
            "detectable mass, scale only",
            Estimate::exact(scale.detectable),
            gram,
        ),
        (
            "detectable mass, as entered",
            Estimate::exact(entered.detectable),
            gram,
        ),
    ];
    let area = case
        .geometry()
        .and_then(|state| worked(case.sheet, state, &case.steel_passes(), settings).ok());
    let told = |one: &Reach| match &area {
        Some(worked) => {
            let (density, area) = (settings.density().value, worked.area.value);
            let depth = |mass: f64| {
                let exact = Estimate::exact;
                mean_depth(exact(mass), exact(density), exact(area))
                    .map_or(f64::NAN, |one| one.value)
            };
            format!(
                "u {} g, detectable {} g, which is {} and {} µm of mean depth over {}",
                short(one.doubt),
                short(one.detectable),
                short(depth(one.doubt)),
                short(depth(one.detectable)),
                format_args!("{:.0} cm²", area / 100.0)
            )
        }
        None => format!(
            "u {} g, detectable {} g",
            short(one.doubt),
            short(one.detectable)
        ),
    };
    if let Some(worked) = &area {
        let per_gram = |mass: f64| {
            let exact = Estimate::exact;
            mean_depth(
                exact(mass),
                exact(settings.density().value),
                exact(worked.area.value),
            )
        };
        if let Some(depth) = per_gram(entered.detectable) {
            notes.quantity("detectable-mean-depth", depth, Unit::Micrometre, SOURCE);
            figures.push(("detectable mean depth, as entered", depth, Unit::Micrometre));
        }
    }
    let residue = match settings.residue_g {
        Some(residue) => format!(
            "with drying and oil as you enter it ({} g each time), {}",
            short(residue),
            told(&entered)
        ),
        None => {
            "what clings to the blade is not entered (`residue_g`), so count on more".to_owned()
        }
    };
    Some((format!("scale only, {}; {residue}", told(&scale)), figures))
}

fn by_gauge(
    case: &Case<'_>,
    state: &State<'_>,
    notes: &mut Notes<'_>,
) -> Option<(String, (&'static str, Estimate, Unit), String)> {
    let stations = &state.dimensions.stations;
    let settings = case.settings;
    let mut all: Vec<(f64, usize, Option<String>)> = Vec::new();
    for (index, station) in stations.iter().enumerate() {
        let Some(thickness) = &station.ridge_thickness else {
            continue;
        };
        let placement = placement(
            state.dimensions,
            index,
            Measure::RidgeThickness,
            settings.station_placement_mm,
        );
        let reading = Reading::of(&thickness.0, state.instruments).with_own(placement);
        let doubt = difference(&reading, &reading, settings.gauge_repeats).standard_uncertainty;
        let name = thickness.0.instrument.as_ref().map(|key| {
            let known = state.instruments.iter().find(|one| one.id == *key);
            known.map_or_else(|| key.to_string(), |one| one.name.clone())
        });
        all.push((doubt, index, name));
    }
    // The worst station speaks for the gauge: a limit that holds at some stations is no limit.
    let least = all.iter().map(|one| one.0).fold(f64::INFINITY, f64::min);
    let (doubt, index, name) = all.into_iter().max_by(|a, b| a.0.total_cmp(&b.0))?;
    let (least, most) = (reach(least), reach(doubt));
    let local = Estimate::exact(most.detectable * 1e3);
    notes.quantity("detectable-local", local, Unit::Micrometre, SOURCE);
    let gauge = name.unwrap_or_else(|| "gauge without a name".to_owned());
    let span = |least: f64, most: f64| {
        let (least, most) = (short(least * 1e3), short(most * 1e3));
        if least == most {
            most
        } else {
            format!("{least} to {most}")
        }
    };
    let words = format!(
        "locally, this {gauge} at a station found again to {} mm: u {} µm, detectable {} µm of thickness, with {} of the gauge's \
         error repeating",
        settings.station_placement_mm,
        span(least.doubt, most.doubt),
        span(least.detectable, most.detectable),
        percent_of(settings.gauge_repeats)
    );
    let place = format!("/dimensions/stations/{index}/ridge_thickness");
    Some((
        words,
        ("detectable local loss", local, Unit::Micrometre),
        place,
    ))
}

fn percent_of(share: f64) -> String {
    format!("{:.0} %", share * 100.0)
}

/// Two significant digits.
fn short(value: f64) -> String {
    tangmark_core::units::Decimal::from_f64_significant(value, 2)
        .map_or_else(|_| "?".to_owned(), |one| one.to_string())
}
