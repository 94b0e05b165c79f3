//! What the comparables say of the price.

use tangmark_author::words::{capitalised, counted, list};
use tangmark_author::{Notes, number};
use tangmark_core::record::{PartialDate, Sheet, Term as _};
use tangmark_core::units::Unit;
use tangmark_measure::Estimate;
use tangmark_measure::linear::FitError;
use tangmark_measure::regression::Interval;
use tangmark_plugin::Level;

use crate::comparables::Comparable;
use crate::features::Feature;
use crate::figures::{amount, count, fixed, money, three_digits, written};
use crate::model::{self, Model, PROBABILITY};
use crate::rules::ROBUST;
use crate::settings::Settings;
use crate::{listed, market, subject};

/// The fitted market and the place of the blade in it.
pub(crate) struct Answer<'a> {
    /// The fit.
    pub(crate) model: Model<'a>,
    /// The blade's row of the design.
    pub(crate) place: Vec<f64>,
    /// Predicted log price, the doubt of the blade's own features included.
    pub(crate) interval: Interval,
    /// Currency.
    pub(crate) currency: String,
}

/// Judges the price of the blade; `None` where the comparables do not allow an estimate.
pub(crate) fn judge<'a>(
    sheet: &Sheet,
    settings: &Settings,
    as_of: &PartialDate,
    table: Option<&'a [Comparable]>,
    notes: &mut Notes<'_>,
) -> Option<Answer<'a>> {
    let features = &settings.features;
    let needed = model::needed(settings.least_rows, features.len());
    let Some(table) = table.filter(|table| !table.is_empty()) else {
        let message = format!(
            "There are no comparables to go by, and no prices are built in. For an estimate, put {needed} sales or more that you know of \
             into the table `comparables` of this plugin, each with price, currency, day and basis."
        );
        notes.add(
            "price.no-comparables",
            Level::Info,
            message,
            &["/blade"],
            Vec::new(),
        );
        return None;
    };
    let (known, later): (Vec<&Comparable>, Vec<&Comparable>) = table
        .iter()
        .filter(|row| settings.kinds.is_empty() || settings.kinds.contains(&row.kind))
        .filter(|row| settings.bases.is_empty() || settings.bases.contains(&row.basis))
        .partition(|row| row.sold_on.first_day() <= as_of.last_day());
    let currency = one_currency(&known, settings, notes)?;
    let (rows, lacking) = model::complete(&known, features, as_of);
    left_out_rows(features, &lacking, &later, as_of, notes);
    if rows.len() < needed {
        let message = format!(
            "{} can be used, and {needed} are needed: {} at least, and four for each of the {} coefficients ({} and a constant). \
             Add sales you know of, or name fewer features in the settings.",
            capitalised(&counted(rows.len(), "comparable")),
            settings.least_rows,
            features.len() + 1,
            feature_list(features)
        );
        let given = written([
            count("usable comparables", rows.len()),
            count("needed", needed),
        ]);
        notes.add("price.too-few", Level::Info, message, &["/blade"], given);
        return None;
    }
    let (place, doubts, pointers) = placed(sheet, features, notes)?;
    let model = match model::fit(rows, features, as_of) {
        Ok(model) => model,
        Err(error) => {
            cannot_tell(&error, features, notes);
            return None;
        }
    };
    let interval = widened(&model, &place, &doubts)?;
    say_estimate(&model, &interval, &currency, as_of, &pointers, notes);
    extrapolation(sheet, &model, &place, &pointers, notes);
    market::quality(&model, notes);
    market::odd(&model, &currency, notes);
    market::age(&model, settings, as_of, notes);
    market::bases(&model, notes);
    listed::nearest(&model, &place, settings, &currency, notes);
    listed::factors(&model, notes);
    Some(Answer {
        model,
        place,
        interval,
        currency,
    })
}

fn feature_list(features: &[Feature]) -> String {
    list(
        &features
            .iter()
            .map(|one| one.name().to_owned())
            .collect::<Vec<_>>(),
    )
}

fn one_currency(
    rows: &[&Comparable],
    settings: &Settings,
    notes: &mut Notes<'_>,
) -> Option<String> {
    let mut found: Vec<&str> = rows.iter().map(|row| row.currency.as_str()).collect();
    found.extend(settings.currency.as_deref());
    found.sort_unstable();
    found.dedup();
    if let [one] = found[..] {
        return Some(one.to_owned());
    }
    let names: Vec<String> = found.iter().map(|one| (*one).to_owned()).collect();
    if names.is_empty() {
        return Some(String::new());
    }
    let message = format!(
        "The comparables and settings name {}. Prices in different currencies are not mixed here: bring every row to one currency at the rate \
         of its day and say so in its note, or keep the others in another table.",
        list(&names)
    );
    notes.add(
        "price.currency",
        Level::Caution,
        message,
        &["/blade"],
        Vec::new(),
    );
    None
}

fn left_out_rows(
    features: &[Feature],
    lacking: &[&Comparable],
    later: &[&Comparable],
    as_of: &PartialDate,
    notes: &mut Notes<'_>,
) {
    let mut parts = Vec::new();
    if !lacking.is_empty() {
        let columns: Vec<String> = features
            .iter()
            .filter(|feature| {
                lacking
                    .iter()
                    .any(|row| row.number(**feature, as_of).is_none())
            })
            .map(|feature| format!("`{}`", feature.column()))
            .collect();
        parts.push(format!(
            "{} for lack of {} ({})",
            lacking.len(),
            list(&columns),
            ids(lacking)
        ));
    }
    if !later.is_empty() {
        parts.push(format!(
            "{} dated after {as_of} ({})",
            later.len(),
            ids(later)
        ));
    }
    if !parts.is_empty() {
        let message = format!(
            "Left out of the comparables: {}. Fill the cells, or leave the feature out of the settings.",
            list(&parts)
        );
        notes.add(
            "price.left-out",
            Level::Info,
            message,
            &["/blade"],
            Vec::new(),
        );
    }
}

fn ids(rows: &[&Comparable]) -> String {
    let mut names: Vec<String> = rows.iter().take(10).map(|row| row.id.clone()).collect();
    if rows.len() > 10 {
        names.push(format!("{} more", rows.len() - 10));
    }
    list(&names)
}

type Placed = (Vec<f64>, Vec<f64>, Vec<&'static str>);

fn placed(sheet: &Sheet, features: &[Feature], notes: &mut Notes<'_>) -> Option<Placed> {
    let (mut place, mut doubts, mut pointers) = (vec![1.0], vec![0.0], Vec::new());
    let (mut missing, mut gaps) = (Vec::new(), Vec::new());
    for feature in features {
        let stated = subject::number(sheet, *feature);
        match stated.number {
            Ok(number) => {
                place.push(number.value);
                doubts.push(number.standard_uncertainty);
                pointers.push(stated.pointer);
            }
            Err(what) => {
                missing.push(what.to_owned());
                gaps.push(stated.pointer);
            }
        }
    }
    if missing.is_empty() {
        pointers.retain(|pointer| !pointer.is_empty());
        return Some((place, doubts, pointers));
    }
    let message = format!(
        "The sheet does not say {}, and the estimate needs it. Enter it, or leave the feature out of the settings.",
        list(&missing)
    );
    notes.add("price.missing", Level::Info, message, &gaps, Vec::new());
    None
}

fn cannot_tell(error: &FitError, features: &[Feature], notes: &mut Notes<'_>) {
    let message = match error {
        FitError::Dependent { column } => {
            match column.checked_sub(1).and_then(|index| features.get(index)) {
                Some(feature) => format!(
                    "The comparables cannot tell `{}` from the other features: it is the same in all of them, or follows from the others. \
                 Add sales that differ in it, or leave it out of the settings.",
                    feature.name()
                ),
                None => "The comparables do not differ enough to be told apart; add sales that do."
                    .to_owned(),
            }
        }
        other => format!(
            "The comparables cannot be fitted: {other}. Look for a row that does not belong."
        ),
    };
    notes.add(
        "price.cannot-tell",
        Level::Caution,
        message,
        &["/blade"],
        Vec::new(),
    );
}

/// Predicts, with the doubt of the blade's own features put in.
fn widened(model: &Model<'_>, place: &[f64], doubts: &[f64]) -> Option<Interval> {
    let plain = model.fit.predict(place, PROBABILITY)?;
    let own: f64 = doubts
        .iter()
        .zip(&model.fit.coefficients)
        .map(|(doubt, slope)| (doubt * slope).powi(2))
        .sum();
    let error = (plain.standard_error.powi(2) + own).sqrt();
    let factor = if plain.standard_error > 0.0 {
        (plain.upper - plain.value) / plain.standard_error
    } else {
        0.0
    };
    Some(Interval {
        value: plain.value,
        standard_error: error,
        lower: plain.value - factor * error,
        upper: plain.value + factor * error,
    })
}

fn say_estimate(
    model: &Model<'_>,
    interval: &Interval,
    currency: &str,
    as_of: &PartialDate,
    pointers: &[&'static str],
    notes: &mut Notes<'_>,
) {
    let [median, lower, upper] = [interval.value, interval.lower, interval.upper].map(libm::exp);
    let mut days: Vec<&PartialDate> = model.rows.iter().map(|row| &row.sold_on).collect();
    days.sort();
    let span = match days[..] {
        [first, .., last] => format!(", {first} to {last}"),
        _ => String::new(),
    };
    let message = format!(
        "From {} in {currency}{span}: a blade with these features goes for about {} {currency} on {as_of}, half of such sales above and half \
         below; 95 of 100 single sales are expected between {} and {} {currency}. Looked at: {}. This is arithmetic on your own comparables \
         and no appraisal: it sees neither maker nor steel nor temper line. Look at the nearest comparables before you name a price.",
        counted(model.rows.len(), "sale"),
        amount(median),
        amount(lower),
        amount(upper),
        feature_list(&model.features)
    );
    let median = Estimate::new(median, median * interval.standard_error);
    let names = [
        format!("median in {currency}"),
        format!("95 % from, in {currency}"),
        format!("95 % to, in {currency}"),
    ];
    let given = written([
        number(&names[0], median, Unit::One),
        money(&names[1], lower),
        money(&names[2], upper),
        count("comparables", model.rows.len()),
    ]);
    notes.add("price.estimate", Level::Info, message, pointers, given);
    let suffix = currency.to_lowercase();
    notes.quantity(&format!("price.median.{suffix}"), median, Unit::One, ROBUST);
    for (name, value) in [("lower", lower), ("upper", upper)] {
        let value = Estimate::exact(three_digits(value));
        notes.quantity(&format!("price.{name}.{suffix}"), value, Unit::One, ROBUST);
    }
}

fn extrapolation(
    sheet: &Sheet,
    model: &Model<'_>,
    place: &[f64],
    pointers: &[&'static str],
    notes: &mut Notes<'_>,
) {
    let mut reasons = Vec::new();
    for ((feature, (low, high)), value) in
        model.features.iter().zip(model.ranges()).zip(&place[1..])
    {
        // The day of the price lies after every sale by its nature.
        let allowed = if *feature == Feature::Date {
            high + 1.0
        } else {
            high
        };
        if *value < low || *value > allowed {
            let side = if *value < low { "below" } else { "above" };
            let what = if *feature == Feature::Date {
                "the day of the price is more than a year after the last sale".to_owned()
            } else {
                format!("its {} lies {side} every one of them", feature.name())
            };
            reasons.push(what);
        }
    }
    let kind = sheet.blade.kind_by_make;
    if !model.rows.iter().any(|row| row.kind == kind) {
        reasons.push(format!(
            "none of them is of its kind ({})",
            kind.key().replace('_', " ")
        ));
    }
    let most = model.fit.leverages.iter().copied().fold(0.0, f64::max);
    let own = model.fit.leverage(place).unwrap_or(f64::INFINITY);
    if own > most && reasons.is_empty() {
        reasons
            .push("the combination of its features is further out than any of theirs".to_owned());
    }
    if reasons.is_empty() {
        return;
    }
    let message = format!(
        "The blade lies outside the comparables: {}. Its leverage is {own:.2}, the greatest among them {most:.2}. The interval does not hold out \
         there: take the estimate as a guess, or add sales nearer to this blade.",
        list(&reasons)
    );
    let given = written([
        fixed("leverage of the blade", own, 3, Unit::One),
        fixed("greatest leverage of a comparable", most, 3, Unit::One),
    ]);
    let mut places = vec!["/blade/kind_by_make"];
    places.extend(pointers);
    notes.add(
        "price.extrapolates",
        Level::Caution,
        message,
        &places,
        given,
    );
}
