//! What the work has cost so far, against the price that was agreed with the owner as the most.

use tangmark_author::Notes;
use tangmark_core::record::Sheet;
use tangmark_core::units::Unit;
use tangmark_measure::print;
use tangmark_plugin::Level;

use crate::figures::{amount, fixed, money, written};
use crate::price::Answer;
use crate::settings::Settings;

/// Share of the agreed price from which it counts as near.
const NEAR: f64 = 0.8;

/// Judges labour so far against the agreed price. Passes of an earlier piece of work, before the day of the agreement, are
/// none of it.
pub(crate) fn judge(
    sheet: &Sheet,
    settings: &Settings,
    answer: Option<&Answer<'_>>,
    notes: &mut Notes<'_>,
) {
    let Some(agreement) = &sheet.agreement else {
        return;
    };
    let Some(ceiling) = &agreement.price_ceiling else {
        return;
    };
    let minutes: f64 = sheet
        .passes
        .iter()
        .filter(|pass| pass.on.last_day() >= agreement.on.first_day())
        .filter_map(|pass| pass.time.as_ref())
        .map(|time| time.0.to_f64())
        .sum();
    if minutes <= 0.0 {
        return;
    }
    let hours = minutes / 60.0;
    let hours_text = print::fixed(hours, 1).map_or_else(|_| "?".to_owned(), |one| one.to_string());
    let currency = settings
        .currency
        .as_deref()
        .or(answer.map(|answer| answer.currency.as_str()));
    let missing = match (settings.hour_rate, currency) {
        (None, _) => "the setting `hour_rate` of this plugin".to_owned(),
        (Some(_), None) => "the setting `currency` of this plugin".to_owned(),
        (Some(_), Some(own)) if own != ceiling.currency => format!(
            "an hour's price in {}: here it is in {own}, and no rates of exchange are built in",
            ceiling.currency
        ),
        (Some(rate), Some(own)) => {
            return say(
                (hours, &hours_text),
                rate,
                (ceiling.amount.to_f64(), own),
                notes,
            );
        }
    };
    let message = format!(
        "A price ceiling is agreed, and {hours_text} h are logged; whether that is within it cannot be said, missing is {missing}."
    );
    notes.add(
        "price.ceiling-unknown",
        Level::Info,
        message,
        &["/agreement/price_ceiling"],
        Vec::new(),
    );
}

fn say(
    (hours, hours_text): (f64, &str),
    rate: f64,
    (ceiling, currency): (f64, &str),
    notes: &mut Notes<'_>,
) {
    let cost = hours * rate;
    let words = format!(
        "{hours_text} h at {} {currency} are {} {currency} of the {} {currency} agreed as the most; consumables and other costs are not in it",
        amount(rate),
        amount(cost),
        amount(ceiling)
    );
    let (rule, message) = if cost > ceiling {
        (
            "price.over-ceiling",
            format!("The work costs more than was agreed: {words}. Ask the owner before going on."),
        )
    } else if cost >= NEAR * ceiling {
        (
            "price.ceiling-near",
            format!("Little is left of the agreed price: {words}."),
        )
    } else {
        return;
    };
    let given = written([
        fixed("hours", hours, 2, Unit::Hour),
        money(&format!("labour so far in {currency}"), cost),
        money(&format!("agreed in {currency}"), ceiling),
    ]);
    notes.add(
        rule,
        Level::Caution,
        message,
        &["/agreement/price_ceiling", "/passes"],
        given,
    );
}
