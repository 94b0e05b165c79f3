//! What may still go, and when to stop.

use tangmark_author::passes::Logged;
use tangmark_author::{Notes, numbers};
use tangmark_core::record::{Record, Sheet};
use tangmark_core::units::Unit;
use tangmark_measure::decision::GUARD_95;
use tangmark_measure::{Estimate, print};
use tangmark_plugin::Level;

use crate::log::steel_gone;
use crate::plan::Plan;
use crate::settings::Settings;

/// The least of the limits on steel, g, whose it is, and where it stands.
fn limit(sheet: &Sheet, settings: &Settings) -> Option<(Estimate, &'static str, &'static str)> {
    let planned = sheet
        .plan
        .as_ref()
        .and_then(|plan| plan.steel_budget.as_ref());
    let agreed = sheet
        .agreement
        .as_ref()
        .and_then(|agreement| agreement.steel_limit.as_ref());
    let stated = [
        planned.map(|mass| (Estimate::from(&mass.0), "the plan", "/plan/steel_budget")),
        agreed.map(|mass| {
            (
                Estimate::from(&mass.0),
                "the agreement",
                "/agreement/steel_limit",
            )
        }),
    ];
    let least = stated
        .into_iter()
        .flatten()
        .min_by(|a, b| a.0.value.total_cmp(&b.0.value));
    least.or_else(|| {
        settings
            .steel_limit_g
            .map(|limit| (Estimate::exact(limit), "the setting steel_limit_g", "/plan"))
    })
}

/// Says when to stop; returns what may still go, g, with the doubts of the limit and of what is gone.
pub(crate) fn judge(
    (sheet, records): (&Sheet, &[Record]),
    settings: &Settings,
    passes: &[Logged<'_>],
    notes: &mut Notes<'_>,
) -> Option<Estimate> {
    let (limit, whose, pointer) = limit(sheet, settings)?;
    let Some(gone) = steel_gone(records, sheet, passes) else {
        return Some(limit);
    };
    let left = limit - gone;
    let guard = GUARD_95 * left.standard_uncertainty;
    if gone.value + guard >= limit.value {
        let text = format!(
            "Stop: {} of steel is gone by the scale, and with the guard of 1.645 u that is {:.2} g of the {} that may go by {whose}. \
             What is gone stays gone: no further pass before a new examination with a new budget.",
            print::with_expanded(gone, "g"),
            gone.value + guard,
            print::with_expanded(limit, "g")
        );
        let given = numbers(&[
            ("steel gone", gone, Unit::Gram),
            (
                "with guard",
                Estimate::exact(gone.value + guard),
                Unit::Gram,
            ),
            ("may go", limit, Unit::Gram),
        ]);
        notes.add(
            "abrasives.budget-guard",
            Level::Caution,
            text,
            &[pointer, "/passes"],
            given,
        );
    }
    Some(left)
}

/// Says when the plan takes more than may still go.
pub(crate) fn plan_against(plan: &Plan, left: Option<Estimate>, notes: &mut Notes<'_>) {
    let Some(left) = left else { return };
    let total = plan.total();
    let over = total - left;
    if over.value + GUARD_95 * over.standard_uncertainty < 0.0 {
        return;
    }
    let text = format!(
        "The plan takes {} and {} may still go; with the guard of 1.645 u it does not fit. Leave more pits, end earlier, or ask for a new budget.",
        print::with_expanded(total, "g"),
        print::with_expanded(left, "g")
    );
    let given = numbers(&[
        ("plan", total, Unit::Gram),
        ("may still go", left, Unit::Gram),
    ]);
    notes.add(
        "abrasives.over-budget",
        Level::Caution,
        text,
        &["/plan/steel_budget", "/agreement/steel_limit"],
        given,
    );
}
