//! The tables: nearest comparables, and factors of the features.

use tangmark_author::{Notes, column, text_column};
use tangmark_core::record::Term as _;
use tangmark_core::units::Unit;
use tangmark_measure::print;
use tangmark_measure::statistics::student_t_quantile;
use tangmark_plugin::Table;

use crate::figures::three_digits;
use crate::model::{Model, PROBABILITY};
use crate::rules::ROBUST;
use crate::settings::Settings;

/// Lists the comparables nearest to the blade.
pub(crate) fn nearest(
    model: &Model<'_>,
    place: &[f64],
    settings: &Settings,
    currency: &str,
    notes: &mut Notes<'_>,
) {
    let mut order: Vec<(f64, usize)> = model.distances(place).into_iter().zip(0..).collect();
    order.sort_by(|first, second| first.0.total_cmp(&second.0).then(first.1.cmp(&second.1)));
    let decimal = |value: f64, digits| {
        print::fixed(value, digits).map_or_else(|_| String::new(), |one| one.to_string())
    };
    let rows: Vec<Vec<String>> = order
        .iter()
        .take(settings.nearest)
        .map(|(distance, index)| {
            let row = model.rows[*index];
            let expected = libm::exp(model.response[*index] - model.fit.residuals[*index]);
            vec![
                row.id.clone(),
                row.sold_on.to_string(),
                row.kind.key().replace('_', " "),
                row.basis.gloss().to_owned(),
                decimal(row.price, 2),
                decimal(three_digits(expected), 0),
                decimal(*distance, 2),
                decimal(model.fit.weights[*index], 2),
                row.document.clone().unwrap_or_default(),
            ]
        })
        .collect();
    if rows.is_empty() {
        return;
    }
    notes.table(Table {
        id: "price.nearest".to_owned(),
        title: "The comparables nearest to this blade".to_owned(),
        columns: vec![
            text_column("comparable"),
            text_column("sold on"),
            text_column("kind"),
            text_column("basis"),
            column(&format!("price in {currency}"), Unit::One),
            column(&format!("fitted in {currency}"), Unit::One),
            column("distance in standard deviations of the features", Unit::One),
            column("weight in the fit", Unit::One),
            text_column("document"),
        ],
        rows,
        source: "this tool's own rule: root of the summed squares of the differences of features, each over its standard deviation; the date \
                 does not count"
            .to_owned(),
    });
}

/// Lists what each feature does to the price.
pub(crate) fn factors(model: &Model<'_>, notes: &mut Notes<'_>) {
    let t = student_t_quantile(f64::midpoint(1.0, PROBABILITY), model.fit.dof as f64);
    let decimal =
        |value: f64| print::fixed(value, 3).map_or_else(|_| String::new(), |one| one.to_string());
    let rows = model
        .features
        .iter()
        .enumerate()
        .map(|(index, feature)| {
            let slope = model.fit.coefficients[index + 1] * feature.units_of_step();
            let half = t * model.fit.standard_errors[index + 1] * feature.units_of_step();
            vec![
                feature.name().to_owned(),
                feature.step().to_owned(),
                decimal(libm::exp(slope)),
                decimal(libm::exp(slope - half)),
                decimal(libm::exp(slope + half)),
            ]
        })
        .collect();
    notes.table(Table {
        id: "price.factors".to_owned(),
        title: "What each feature does to the price, the others being equal".to_owned(),
        columns: vec![
            text_column("feature"),
            text_column("step"),
            column("factor", Unit::One),
            column("95 % from", Unit::One),
            column("95 % to", Unit::One),
        ],
        rows,
        source: ROBUST.to_owned(),
    });
}
