//! Whether the work would pay.

use tangmark_author::words::list;
use tangmark_author::{Notes, number};
use tangmark_core::record::{Sheet, Term as _};
use tangmark_core::units::Unit;
use tangmark_measure::{Estimate, decision, print};
use tangmark_plugin::Level;

use crate::features::{Feature, of_condition};
use crate::figures::{amount, fixed, money, written};
use crate::price::Answer;
use crate::settings::Settings;

const SOURCE: &str = "this tool's own rule: fitted price at the finished condition less that at the present one, less hours, consumables and risk";

/// What the work does to the price and what it costs, in the currency.
struct Account {
    now: f64,
    uplift: Estimate,
    hours: Estimate,
    labour: Estimate,
    risk: f64,
    cost: f64,
    net: Estimate,
}

/// Judges the work, where an hour has a price.
pub(crate) fn judge(
    sheet: &Sheet,
    settings: &Settings,
    answer: &Answer<'_>,
    notes: &mut Notes<'_>,
) {
    let Some(rate) = settings.hour_rate else {
        return;
    };
    let mut missing = Vec::new();
    let column = answer
        .model
        .features
        .iter()
        .position(|feature| *feature == Feature::Condition)
        .map(|index| index + 1);
    if column.is_none() {
        missing.push("the feature `condition` in the settings".to_owned());
    }
    let hours = settings.hours.or_else(|| planned_hours(sheet));
    if hours.is_none() {
        missing.push(
            "the hours: a time for every stage of the plan, or the setting `hours`".to_owned(),
        );
    }
    let (Some(column), Some(hours)) = (column, hours) else {
        let message = format!(
            "Whether the work would pay cannot be said yet; missing is {}.",
            list(&missing)
        );
        notes.add(
            "price.work-unknown",
            Level::Info,
            message,
            &["/plan"],
            Vec::new(),
        );
        return;
    };
    let finished = of_condition(settings.finished_condition);
    if answer.place[column] >= finished {
        let message = format!(
            "The surface already stands at `{}` or better: by the comparables there is no price to be gained with work.",
            settings.finished_condition.key()
        );
        notes.add(
            "price.work",
            Level::Info,
            message,
            &["/examination/surface"],
            Vec::new(),
        );
        return;
    }
    if let Some(account) = account(settings, answer, column, finished, hours, rate) {
        say(settings, answer, rate, &account, notes);
    }
}

/// Sums the times of the plan; `None` where a stage has none.
fn planned_hours(sheet: &Sheet) -> Option<f64> {
    let stages = &sheet.plan.as_ref()?.stages;
    let times: Option<Vec<f64>> = stages
        .iter()
        .map(|stage| stage.time.as_ref().map(|time| time.0.to_f64() / 60.0))
        .collect();
    times
        .filter(|times| !times.is_empty())
        .map(|times| times.iter().sum())
}

fn account(
    settings: &Settings,
    answer: &Answer<'_>,
    column: usize,
    finished: f64,
    hours: f64,
    rate: f64,
) -> Option<Account> {
    let fit = &answer.model.fit;
    let mut after = answer.place.clone();
    after[column] = finished;
    let now = libm::exp(fit.at(&answer.place)?.value);
    let then = libm::exp(fit.at(&after)?.value);
    let lost = settings.risk_share * settings.risk_loss;
    let hours = Estimate::rectangular(hours, hours * settings.hours_doubt_percent / 100.0);
    let labour = hours.scaled(rate);
    let risk = lost * now;
    let cost = labour.value + settings.consumables + risk;
    // How uplift and uplift less risk follow the coefficients; both prices share them.
    let spread = |share_of_now: f64| -> f64 {
        let slopes: Vec<f64> = after
            .iter()
            .zip(&answer.place)
            .map(|(later, present)| then * later - share_of_now * now * present)
            .collect();
        let lines = fit.covariance.iter().zip(&slopes).map(|(line, slope)| {
            slope
                * line
                    .iter()
                    .zip(&slopes)
                    .map(|(value, other)| value * other)
                    .sum::<f64>()
        });
        lines.sum::<f64>().max(0.0)
    };
    // What this one blade has that the features do not see multiplies both prices.
    let own = |gain: f64| (gain * fit.prediction_sd).powi(2);
    let gain = then - now;
    let net_variance = spread(1.0 + lost) + own(gain - risk) + labour.standard_uncertainty.powi(2);
    Some(Account {
        now,
        uplift: Estimate::new(gain, (spread(1.0) + own(gain)).sqrt()),
        hours,
        labour,
        risk,
        cost,
        net: Estimate::new(gain - cost, net_variance.sqrt()),
    })
}

fn say(
    settings: &Settings,
    answer: &Answer<'_>,
    rate: f64,
    account: &Account,
    notes: &mut Notes<'_>,
) {
    let currency = &answer.currency;
    let pays = decision::probability_above(account.net, 0.0);
    let bare = account.uplift.value - settings.consumables - account.risk;
    let break_even = (rate > 0.0).then(|| {
        Estimate::new(
            bare.max(0.0) / rate,
            account.uplift.standard_uncertainty / rate,
        )
    });
    let hours_text = break_even.map_or(String::new(), |hours| {
        format!(
            ", or at {} for the price expected",
            print::with_expanded(hours, "h")
        )
    });
    let with = |estimate: Estimate, unit: &str| print::with_expanded(estimate, unit);
    let message = format!(
        "Brought to `{}`, the blade would go for {} more than the {} it goes for now (k = 2). Against that stand {} at {} {currency}, that is {} \
         {currency}, consumables of {}, and {} for the risk (a chance of {:.0} % to lose {:.0} % of it). Left over: {}; it pays with a \
         probability of {}. It breaks even at a finished price of {} {currency}{hours_text}. The difference is one between blades that were \
         sold, not what a polish did to one of them; steel that goes for it is not in the account.",
        settings.finished_condition.key(),
        with(account.uplift, currency),
        amount(account.now),
        with(account.hours, "h"),
        amount(rate),
        amount(account.labour.value),
        amount(settings.consumables),
        amount(account.risk),
        100.0 * settings.risk_share,
        100.0 * settings.risk_loss,
        with(account.net, currency),
        chance(pays),
        amount(account.now + account.cost)
    );
    let given = written([
        number(&format!("uplift in {currency}"), account.uplift, Unit::One),
        money(&format!("cost in {currency}"), account.cost),
        number(&format!("left over in {currency}"), account.net, Unit::One),
        money(
            &format!("break-even finished price in {currency}"),
            account.now + account.cost,
        ),
        fixed("probability that it pays", 100.0 * pays, 0, Unit::Percent),
        break_even.and_then(|hours| number("break-even hours", hours, Unit::Hour)),
    ]);
    let level = if pays < 0.5 {
        Level::Caution
    } else {
        Level::Info
    };
    notes.add(
        "price.work",
        level,
        message,
        &["/examination/surface", "/plan"],
        given,
    );
    let suffix = currency.to_lowercase();
    notes.quantity(
        &format!("price.uplift.{suffix}"),
        account.uplift,
        Unit::One,
        SOURCE,
    );
    notes.quantity(
        &format!("price.left-over.{suffix}"),
        account.net,
        Unit::One,
        SOURCE,
    );
    if let Some(hours) = break_even {
        notes.quantity("price.break-even-hours", hours, Unit::Hour, SOURCE);
    }
}

fn chance(probability: f64) -> String {
    if probability < 0.01 {
        "less than 1 %".to_owned()
    } else if probability > 0.99 {
        "more than 99 %".to_owned()
    } else {
        format!("{:.0} %", 100.0 * probability)
    }
}
