//! Mass against a model of the sections: plausibility, never a measure of removal.

use tangmark_author::{Notes, numbers};
use tangmark_core::record::{Dimensions, MassState, Sheet};
use tangmark_core::units::Unit;
use tangmark_measure::section::SectionForm;
use tangmark_measure::volume::{Placed, between_stations, density, mass, tip};
use tangmark_measure::{Estimate, print};
use tangmark_plugin::Level;

use crate::settings::Settings;

const RULE: &str = "dimensions.mass-model";

/// Share of the rectangle at the base that a mean section of a tang takes: less or more asks for a second look.
///
/// Source: this tool's own choice; a regular long-sword tang comes near to 0.6.
const TANG_SHARE: (f64, f64) = (0.15, 1.0);

/// Judges the mass where three stations or more can be modelled.
pub(crate) fn judge(
    sheet: &Sheet,
    dimensions: &Dimensions,
    settings: &Settings,
    notes: &mut Notes<'_>,
) {
    let Some(weighed) = dimensions.mass.as_ref().map(|mass| Estimate::from(&mass.0)) else {
        return;
    };
    let Some(length) = dimensions
        .blade_length
        .as_ref()
        .map(|length| Estimate::from(&length.0))
    else {
        return;
    };
    if dimensions.mass_state != Some(MassState::Bare) || dimensions.stations.len() < 3 {
        return;
    }
    let Some(form) = SectionForm::of(sheet.blade.construction) else {
        return;
    };
    let stations: Vec<Placed> = dimensions
        .stations
        .iter()
        .filter_map(|station| {
            Some(Placed {
                at: station.at.to_f64(),
                section: form.section_of(station).ok()?,
            })
        })
        .collect();
    let (Some(first), Some(last)) = (stations.first(), stations.last()) else {
        return;
    };
    // A first station far from the notch leaves steel out that nobody measured.
    if stations.len() < 3 || first.at > 0.1 * length.value || last.at > length.value {
        return;
    }
    let before = form.area(first.section) * first.at;
    let volume = before
        + between_stations(form, &stations)
        + tip(form.area(last.section), length.value - last.at);
    let doubt = Estimate::rectangular(1.0, settings.section_model_percent / 100.0);
    let blade = mass(Estimate::exact(volume) * doubt, density());
    let rest = weighed - blade;
    notes.quantity(
        "blade-model-mass",
        blade,
        Unit::Gram,
        "sections between stations times density, without tang; plausibility only",
    );
    let mut given = numbers(&[
        ("weighed", weighed, Unit::Gram),
        ("blade by the sections", blade, Unit::Gram),
        ("left for the tang", rest, Unit::Gram),
    ]);
    let lead = format!(
        "The sections give {} for the blade without tang (plausibility only), the scale {} with it; that leaves {} for the tang",
        print::with_expanded(blade, "g"),
        print::with_expanded(weighed, "g"),
        print::with_expanded(rest, "g")
    );
    let places = ["/dimensions/mass", "/dimensions/stations"];
    let tang = dimensions
        .tang_length
        .as_ref()
        .map(|tang| Estimate::from(&tang.0));
    let share = tang.and_then(|tang| {
        let base = Estimate::exact(first.section.width * first.section.thickness);
        rest.scaled(1e3).ratio(density())?.ratio(tang)?.ratio(base)
    });
    let Some(share) = share else {
        let level = if rest.value + rest.expanded() < 0.0 {
            Level::Caution
        } else {
            Level::Info
        };
        notes.add(RULE, level, format!("{lead}."), &places, given);
        return;
    };
    given.extend(numbers(&[(
        "mean section of the tang over the rectangle at the base",
        share,
        Unit::One,
    )]));
    let (low, high) = TANG_SHARE;
    let shown = print::with_expanded(share, "");
    if share.value + share.expanded() < low || share.value - share.expanded() > high {
        let message = format!(
            "{lead}: a mean section of {shown} of the rectangle at the base, where {low} to {high} is to be expected. Weigh again, and look \
             for a wrong station, a groove or a collar left on."
        );
        notes.add(RULE, Level::Caution, message, &places, given);
    } else {
        let message = format!(
            "{lead}: a mean section of {shown} of the rectangle at the base, as a tang may have."
        );
        notes.add(RULE, Level::Info, message, &places, given);
    }
}
