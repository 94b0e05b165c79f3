//! Where to stop: what gauge and scale show when no more may go.

use tangmark_core::record::{Quantity, Sheet};
use tangmark_measure::Estimate;
use tangmark_measure::decision::GUARD_95;

use crate::need::Depths;
use crate::surface::{Body, loss};

/// A value to stop at.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Stop {
    /// Station, mm from the datum.
    pub(crate) at: f64,
    /// What is gauged.
    pub(crate) measure: &'static str,
    /// Reading now, mm.
    pub(crate) now: f64,
    /// What it may lose, mm.
    pub(crate) may_lose: f64,
    /// Guard of the difference of two readings, 1.645·√2·u, mm.
    pub(crate) guard: f64,
    /// Reading at which to stop, mm.
    pub(crate) reading: f64,
    /// The thinnest that the plan allows decides, not the plan's own steel.
    pub(crate) thinnest: bool,
    /// Pointer into the sheet.
    pub(crate) pointer: String,
    /// The instrument's name, in words.
    pub(crate) instrument: String,
}

impl Stop {
    /// The guard eats up what may go, so that this instrument cannot tell when to stop.
    pub(crate) fn blind(&self) -> bool {
        self.guard >= self.may_lose
    }
}

/// Works out the values for every station that was gauged.
///
/// `share` scales the depths of the plan to all that may still go; `thinnest` is the least thickness at the ridge.
pub(crate) fn stops(
    sheet: &Sheet,
    body: &Body,
    depths: &Depths,
    share: f64,
    thinnest: Option<Estimate>,
) -> Vec<Stop> {
    let Some(dimensions) = &sheet.dimensions else {
        return Vec::new();
    };
    let mut all = Vec::new();
    for (index, station) in dimensions.stations.iter().enumerate() {
        let at = station.at.to_f64();
        let here = body
            .slices
            .iter()
            .zip(depths)
            .min_by(|(a, _), (b, _)| (a.at - at).abs().total_cmp(&(b.at - at).abs()))
            .map(|(_, depths)| depths.map(|depth| depth * share / 1_000.0));
        let (Some(here), Ok(section)) = (here, body.form.section_of(station)) else {
            continue;
        };
        let mean = |a: f64, b: f64| f64::midpoint(a, b);
        let Some((thickness, width)) = loss(
            body.form,
            section,
            mean(here[0], here[1]),
            mean(here[2], here[3]),
            here[4],
        ) else {
            continue;
        };
        let mut add =
            |measure, field: &str, quantity: &Quantity, lost: f64, thinnest: Option<Estimate>| {
                let (now, u) = (quantity.to_f64(), quantity.standard());
                let guard = GUARD_95 * libm::sqrt(2.0) * u;
                let own = now - lost + guard;
                let (reading, by_limit, may_lose) = match thinnest {
                    Some(limit) => {
                        let least =
                            limit.value + GUARD_95 * libm::hypot(u, limit.standard_uncertainty);
                        (
                            own.max(least),
                            least > own,
                            lost.min((now - limit.value).max(0.0)),
                        )
                    }
                    None => (own, false, lost),
                };
                if lost > 0.0 || by_limit {
                    all.push(Stop {
                        at,
                        measure,
                        now,
                        may_lose,
                        guard,
                        reading,
                        thinnest: by_limit,
                        pointer: format!("/dimensions/stations/{index}/{field}"),
                        instrument: instrument(sheet, quantity),
                    });
                }
            };
        if let Some(quantity) = &station.ridge_thickness {
            add(
                "thickness",
                "ridge_thickness",
                &quantity.0,
                thickness,
                thinnest,
            );
        }
        if let Some(quantity) = &station.width {
            add("width", "width", &quantity.0, width, None);
        }
    }
    all
}

/// Name of the instrument of a reading; a plain word where the sheet does not say.
pub(crate) fn instrument(sheet: &Sheet, quantity: &Quantity) -> String {
    let known = quantity.instrument.as_ref().and_then(|key| {
        let all = &sheet.examination.as_ref()?.instruments;
        all.iter()
            .find(|one| one.id == *key)
            .map(|one| one.name.clone())
    });
    known.map_or_else(
        || "gauge".to_owned(),
        |name| tangmark_author::words::cut(&tangmark_author::words::one_line(&name), 40),
    )
}
