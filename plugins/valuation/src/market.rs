//! What is to be said of the comparables themselves.

use tangmark_author::Notes;
use tangmark_author::words::{counted, list};
use tangmark_core::record::{PartialDate, Term as _};
use tangmark_core::units::Unit;
use tangmark_plugin::Level;

use crate::dates::years;
use crate::features::Feature;
use crate::figures::{amount, count, fixed, written};
use crate::model::Model;
use crate::settings::Settings;

/// Below this weight a comparable is called odd: its residual is beyond 2.7 scales.
const ODD: f64 = 0.5;
/// Leave-one-out coverage below this, or a typical miss above [`WIDE`], makes a caution.
const POOR_COVERAGE: f64 = 0.8;
/// Typical leave-one-out miss, as a factor.
const WIDE: f64 = 1.6;

/// Says how well the comparables predict each other.
pub(crate) fn quality(model: &Model<'_>, notes: &mut Notes<'_>) {
    let left_out = model.left_out();
    let tried = left_out.errors.len();
    if tried == 0 {
        return;
    }
    let mut sizes: Vec<f64> = left_out.errors.iter().map(|error| error.abs()).collect();
    sizes.sort_by(f64::total_cmp);
    let typical = libm::exp(sizes[tried / 2]);
    let worst = libm::exp(sizes[tried - 1]);
    let share = left_out.within as f64 / tried as f64;
    let poor = share < POOR_COVERAGE || typical > WIDE;
    let advice = if poor {
        " That is poor: look for rows that do not belong, or for a feature that is missing, before you lean on the estimate."
    } else {
        ""
    };
    let message = format!(
        "Each comparable predicted from the others: half of them were missed by less than a factor {typical:.2}, the worst by {worst:.2}; {} of \
         {tried} lay within their 95 % interval ({:.0} %).{advice}",
        left_out.within,
        100.0 * share
    );
    let given = written([
        fixed("median miss, as a factor", typical, 2, Unit::One),
        fixed("within the 95 % interval", 100.0 * share, 1, Unit::Percent),
    ]);
    let level = if poor { Level::Caution } else { Level::Info };
    notes.add("price.leave-one-out", level, message, &["/blade"], given);
}

/// Names the comparables that the fit counts less.
pub(crate) fn odd(model: &Model<'_>, currency: &str, notes: &mut Notes<'_>) {
    let found: Vec<String> = model
        .rows
        .iter()
        .zip(&model.fit.weights)
        .zip(&model.fit.residuals)
        .filter(|((_, weight), _)| **weight < ODD)
        .take(10)
        .map(|((row, _), residual)| {
            let expected = libm::exp(libm::log(row.price) - residual);
            format!(
                "{} ({} {currency}, where {} was to be expected)",
                row.id,
                amount(row.price),
                amount(expected)
            )
        })
        .collect();
    if !found.is_empty() {
        let message = format!(
            "The fit counts {} less than half: {}. Look whether something about the sale is not in the table.",
            counted(found.len(), "comparable"),
            list(&found)
        );
        notes.add("price.odd", Level::Info, message, &["/blade"], Vec::new());
    }
}

/// Says how old the comparables are.
pub(crate) fn age(
    model: &Model<'_>,
    settings: &Settings,
    as_of: &PartialDate,
    notes: &mut Notes<'_>,
) {
    let limit = settings.old_after_years;
    let ages: Vec<f64> = model
        .rows
        .iter()
        .map(|row| years(as_of) - years(&row.sold_on))
        .collect();
    let old = ages.iter().filter(|age| **age > limit).count();
    if old == 0 {
        return;
    }
    let newest = ages.iter().copied().fold(f64::INFINITY, f64::min);
    let dated = if model.features.contains(&Feature::Date) {
        "The date is a feature of the fit, so a steady change of prices is allowed for; a jump is not."
    } else {
        "The date is not a feature of the fit, so older prices count as if they were of today: name `date` in the settings."
    };
    let message = format!(
        "{old} of {} comparables are older than {limit} years on {as_of}; the newest is {:.1} years old. {dated}",
        model.rows.len(),
        newest.max(0.0)
    );
    let many = 2 * old > model.rows.len() || newest > limit;
    let level = if many { Level::Caution } else { Level::Info };
    let given = written([
        count("old comparables", old),
        count("all comparables", ages.len()),
    ]);
    notes.add("price.old", level, message, &["/blade"], given);
}

/// Says where prices of different kinds are mixed.
pub(crate) fn bases(model: &Model<'_>, notes: &mut Notes<'_>) {
    let mut found: Vec<(&str, usize)> = Vec::new();
    for row in &model.rows {
        let name = row.basis.gloss();
        match found.iter_mut().find(|(known, _)| *known == name) {
            Some((_, count)) => *count += 1,
            None => found.push((name, 1)),
        }
    }
    if found.len() > 1 {
        let parts: Vec<String> = found
            .iter()
            .map(|(name, count)| format!("{count} {name}"))
            .collect();
        let message = format!(
            "The comparables stand on different bases: {}. An asking price or an insured value is no price paid; name the `bases` to be taken in \
             the settings.",
            list(&parts)
        );
        notes.add(
            "price.bases",
            Level::Caution,
            message,
            &["/blade"],
            Vec::new(),
        );
    }
}
