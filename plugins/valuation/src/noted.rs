//! The value noted on the sheet, against the comparables and the calendar.

use tangmark_author::Notes;
use tangmark_core::record::{PartialDate, Sheet};
use tangmark_plugin::Level;

use crate::figures::{amount, money, written};
use crate::price::Answer;

/// Judges the valuation on the sheet.
pub(crate) fn judge(
    sheet: &Sheet,
    as_of: &PartialDate,
    answer: Option<&Answer<'_>>,
    notes: &mut Notes<'_>,
) {
    let Some(valuation) = &sheet.valuation else {
        return;
    };
    if let Some(until) = &valuation.valid_until
        && until.last_day() < as_of.first_day()
    {
        let message = format!(
            "The value noted on the sheet was good until {until}, and the day is {as_of}. Have it renewed before anybody relies on it."
        );
        notes.add(
            "price.noted-old",
            Level::Caution,
            message,
            &["/valuation/valid_until"],
            Vec::new(),
        );
    }
    let Some(answer) = answer else {
        return;
    };
    let noted = valuation.value.amount.to_f64();
    let (lower, upper) = (
        libm::exp(answer.interval.lower),
        libm::exp(answer.interval.upper),
    );
    if valuation.value.currency != answer.currency || (lower..=upper).contains(&noted) {
        return;
    }
    let currency = &answer.currency;
    let message = format!(
        "The sheet notes a value of {} {currency} (of {}), and your comparables leave 95 of 100 sales between {} and {} {currency}. Either the \
         blade has something the features do not see, or one of the two is off: note the reason with the value.",
        amount(noted),
        valuation.on,
        amount(lower),
        amount(upper)
    );
    let given = written([
        money(&format!("noted in {currency}"), noted),
        money(&format!("95 % from, in {currency}"), lower),
        money(&format!("95 % to, in {currency}"), upper),
    ]);
    notes.add(
        "price.noted-differs",
        Level::Caution,
        message,
        &["/valuation/value"],
        given,
    );
}
