//! The surface that was worked, from the station table.

use std::collections::{BTreeMap, BTreeSet};

use tangmark_core::record::{Face, Pass, Sheet, Term as _, Zone};
use tangmark_measure::blade::{Blade, mean_removal};
use tangmark_measure::section::SectionForm;
use tangmark_measure::{Estimate, statistics};

use crate::settings::Settings;
use crate::states::State;

/// Surface of the zones, both faces together, mm².
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Surfaces {
    /// From the edge to the ridge.
    pub(crate) bevel: f64,
    /// Of the bevel, the strip below the temper line; `None` where no width of that is noted.
    pub(crate) edge: Option<f64>,
    /// From the ridge to the back.
    pub(crate) ridge: f64,
    /// Back.
    pub(crate) back: f64,
    /// Point.
    pub(crate) point: f64,
}

/// The worked surface.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Worked {
    /// Its size, mm².
    pub(crate) area: Estimate,
    /// What it consists of, and what had to be assumed, in words.
    pub(crate) words: String,
}

/// Models the blade of a state, with its own values: what the station table gives, a strip as wide as the temper line is
/// on average for the edge, a point that runs out to the tip.
///
/// # Errors
/// What is missing.
pub(crate) fn blade(sheet: &Sheet, state: &State<'_>) -> Result<Blade, String> {
    let form = SectionForm::of(sheet.blade.construction).ok_or_else(|| {
        let name = sheet.blade.construction.key().replace('_', " ");
        format!("a section of simple form: {name} is not modelled")
    })?;
    let mut blade = Blade::of(form, state.dimensions, sheet.blade.back_form);
    if blade.stations.len() < 2 {
        return Err("two whole sections in the station table".to_owned());
    }
    let widths: Vec<f64> = sheet
        .temper_line
        .iter()
        .flat_map(|line| &line.widths)
        .map(|one| one.width.to_f64())
        .collect();
    blade.bevel = Estimate::exact(statistics::mean(&widths).unwrap_or(0.0));
    Ok(blade)
}

/// Sums surfaces along the blade, from the datum to the tip.
///
/// # Errors
/// What is missing.
pub(crate) fn surfaces(sheet: &Sheet, state: &State<'_>) -> Result<Surfaces, String> {
    let blade = blade(sheet, state)?;
    let model = blade
        .model()
        .map_err(|error| format!("sound stations ({error})"))?;
    let (from, last, tip) = model.ends();
    let point = state.dimensions.point_length.as_ref();
    let point_line = point
        .map_or(last, |point| tip - point.to_f64())
        .clamp(last, tip);
    let body = model.between(from, point_line).surface;
    let edge = (blade.bevel.value > 0.0 && body.ground > 0.0).then_some(body.edge_bevel);
    Ok(Surfaces {
        bevel: body.edge_bevel + body.ground,
        edge,
        ridge: body.ridge_face,
        back: body.back,
        point: model.between(point_line, tip).surface.total(),
    })
}

/// Zones of the passes, each with the faces worked.
type Zones = BTreeMap<Zone, BTreeSet<Face>>;

fn zones_of(passes: &[&Pass]) -> Zones {
    let mut zones = Zones::new();
    for pass in passes {
        for zone in &pass.zones {
            let faces = zones.entry(*zone).or_default();
            // An edge or a back named as a face says nothing of the two flats.
            let named = pass.faces.iter().copied();
            let flats: Vec<Face> = named
                .filter(|face| matches!(face, Face::Omote | Face::Ura))
                .collect();
            if flats.is_empty() {
                faces.extend([Face::Omote, Face::Ura]);
            } else {
                faces.extend(flats);
            }
        }
    }
    zones
}

/// Returns the surface that the passes worked, each zone once; without a pass the whole blade before the tang.
///
/// # Errors
/// What is missing.
pub(crate) fn worked(
    sheet: &Sheet,
    state: &State<'_>,
    passes: &[&Pass],
    settings: &Settings,
) -> Result<Worked, String> {
    let all = surfaces(sheet, state)?;
    let mut zones = zones_of(passes);
    let tang = zones.remove(&Zone::Tang).is_some();
    let assumed = zones.is_empty();
    if assumed {
        let both = || BTreeSet::from([Face::Omote, Face::Ura]);
        let whole = [
            Zone::Edge,
            Zone::Ground,
            Zone::Ridge,
            Zone::Back,
            Zone::Point,
        ];
        zones = whole.into_iter().map(|zone| (zone, both())).collect();
    }
    let share = |zone: Zone| {
        zones
            .get(&zone)
            .map_or(0.0, |faces| faces.len() as f64 / 2.0)
    };
    let mut notes = Vec::new();
    let bevel = match all.edge {
        Some(edge) => share(Zone::Edge) * edge + share(Zone::Ground) * (all.bevel - edge),
        None => share(Zone::Edge).max(share(Zone::Ground)) * all.bevel,
    };
    let one_of_two = zones.contains_key(&Zone::Edge) != zones.contains_key(&Zone::Ground);
    if all.edge.is_none() && one_of_two {
        notes.push("all from edge to ridge, since no width of the temper line parts them");
    }
    let back = if zones.contains_key(&Zone::Back) {
        all.back
    } else {
        0.0
    };
    let value = bevel + share(Zone::Ridge) * all.ridge + back + share(Zone::Point) * all.point;
    if value <= 0.0 {
        return Err("a worked zone other than the tang".to_owned());
    }
    if tang {
        notes.push("the tang left out");
    }
    let names: Vec<String> = zones
        .iter()
        .map(|(zone, faces)| {
            let sided = !matches!(zone, Zone::Back) && faces.len() == 1;
            let face = faces.first().filter(|_| sided);
            face.map_or_else(
                || zone.key().to_owned(),
                |face| format!("{} ({} only)", zone.key(), face.key()),
            )
        })
        .collect();
    let mut words = if assumed {
        "the whole blade before the tang, since no pass that takes steel is logged".to_owned()
    } else {
        tangmark_author::words::list(&names)
    };
    for note in notes {
        words = format!("{words}; {note}");
    }
    Ok(Worked {
        area: Estimate::new(value, value * settings.surface_percent / 100.0),
        words,
    })
}

/// Mean depth in µm of a mass in g over a surface in mm² at a density in g/cm³; `None` where that is no number.
pub(crate) fn mean_depth(mass: Estimate, density: Estimate, area: Estimate) -> Option<Estimate> {
    mean_removal(mass, density, area)
        .filter(|depth| depth.value.is_finite() && depth.standard_uncertainty.is_finite())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(found: f64, expected: f64, within: f64) {
        assert!(
            (found - expected).abs() <= within,
            "{found} is not {expected}"
        );
    }

    /// The worked blade: S = 38 093.68 mm², density 7.85 g/cm³; depths recomputed.
    #[test]
    fn the_worked_depths() {
        let (density, area) = (Estimate::exact(7.85), Estimate::exact(38_093.68));
        for (grams, micrometres) in [
            (0.5, 1.672),
            (1.0, 3.344),
            (2.0, 6.688),
            (5.0, 16.720),
            (10.0, 33.441),
        ] {
            let found = mean_depth(Estimate::exact(grams), density, area).map(|one| one.value);
            close(found.unwrap_or(f64::NAN), micrometres, 0.0006);
        }
        // A scale of 0.01 g that repeats to 0.01 g: u(difference) 0.0147 g, u(depth) 0.049 µm, detectable 0.16 µm.
        let each = (0.01_f64.powi(2) / 12.0 + 0.01_f64.powi(2)).sqrt();
        let doubt = mean_depth(Estimate::new(0.0, each * 2.0_f64.sqrt()), density, area);
        let doubt = doubt.map_or(f64::NAN, |one| one.standard_uncertainty);
        close(doubt, 0.049, 0.0005);
        close(
            tangmark_measure::decision::detectable_difference(doubt),
            0.16,
            0.005,
        );
        assert_eq!(
            mean_depth(Estimate::exact(1.0), density, Estimate::exact(0.0)),
            None
        );
    }
}
