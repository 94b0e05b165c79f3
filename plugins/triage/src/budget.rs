//! Steel gone in passes against what may go.

use tangmark_core::record::{Operation, Pass, PassReadings, Sheet};
use tangmark_core::units::Unit;
use tangmark_measure::decision::{GUARD_95, reached};
use tangmark_measure::{Estimate, print};
use tangmark_plugin::Level;

use crate::ledger::{Ledger, number};
use crate::settings::Settings;

/// One weighing: where it stands in the sheet, and what it read.
#[derive(Clone, Debug)]
struct Weighing {
    pointer: String,
    mass: Estimate,
}

/// Steel gone, and the weighings it rests on.
#[derive(Clone, Debug)]
struct Loss {
    mass: Estimate,
    pointers: Vec<String>,
    rust_excluded: usize,
}

/// Judges the steel budget.
pub(crate) fn judge(sheet: &Sheet, settings: &Settings, ledger: &mut Ledger<'_>) {
    let planned = sheet
        .plan
        .as_ref()
        .and_then(|plan| plan.steel_budget.as_ref())
        .map(|mass| Estimate::from(&mass.0));
    let agreed = sheet
        .agreement
        .as_ref()
        .and_then(|agreement| agreement.steel_limit.as_ref())
        .map(|mass| Estimate::from(&mass.0));
    if let (Some(planned), Some(agreed)) = (planned, agreed)
        && planned.value > agreed.value
    {
        let text = format!(
            "The plan lets {} go, the agreement {}: ask the owner or change the plan.",
            print::with_expanded(planned, "g"),
            print::with_expanded(agreed, "g")
        );
        let numbers = [
            number("by the plan", planned, Unit::Gram),
            number("by the agreement", agreed, Unit::Gram),
        ];
        let places = [
            "/plan/steel_budget".to_owned(),
            "/agreement/steel_limit".to_owned(),
        ];
        ledger.find(
            "budget.plan-over-agreement",
            Level::Caution,
            &text,
            &places,
            numbers.into_iter().flatten().collect(),
        );
    }
    let Some(loss) = steel_gone(&sheet.passes) else {
        if !sheet.passes.is_empty() {
            ledger.not_judged(
                "budget.spent",
                "the mass before the first pass and after the last",
            );
        }
        return;
    };
    ledger.quantity("steel-gone", loss.mass, Unit::Gram, SOURCE);
    if loss.mass.value + loss.mass.expanded() < 0.0 {
        let text = format!(
            "By the scale the passes added {}: dry and degrease the blade the same way each time, and weigh again.",
            print::with_expanded(loss.mass.scaled(-1.0), "g")
        );
        let numbers = number("steel gone", loss.mass, Unit::Gram)
            .into_iter()
            .collect();
        ledger.find(
            "budget.mass-grew",
            Level::Caution,
            &text,
            &loss.pointers,
            numbers,
        );
    }
    let limits = [
        ("budget.spent", "the plan", planned, "/plan/steel_budget"),
        (
            "budget.agreed-limit",
            "the agreement",
            agreed,
            "/agreement/steel_limit",
        ),
    ];
    for (rule, whose, limit, pointer) in limits {
        match limit {
            Some(limit) => against_limit(rule, whose, (limit, pointer), &loss, settings, ledger),
            None if rule == "budget.spent" => {
                ledger.not_judged(rule, "the steel that may go (plan.steel_budget)");
            }
            None => {}
        }
    }
}

const SOURCE: &str = "mass before the first pass less mass after the last, without what removing rust took where that was weighed";

fn against_limit(
    rule: &str,
    whose: &str,
    (limit, pointer): (Estimate, &str),
    loss: &Loss,
    settings: &Settings,
    ledger: &mut Ledger<'_>,
) {
    // The limit's own uncertainty, where it has one, tightens it: removal is final.
    let against = loss.mass.with_added(limit.standard_uncertainty);
    let guarded = against.value + GUARD_95 * against.standard_uncertainty;
    let rust = match loss.rust_excluded {
        0 => "",
        _ => ", not counting what removing rust took",
    };
    let guarded_text =
        print::fixed(guarded, 2).map_or_else(|_| "?".to_owned(), |value| value.to_string());
    let text = format!(
        "{} of steel gone{rust}; with the guard of 1.645 u that is {guarded_text} g of the {} that may go by {whose}",
        print::with_expanded(loss.mass, "g"),
        print::with_expanded(limit, "g")
    );
    let numbers = || {
        [
            number("steel gone", loss.mass, Unit::Gram),
            number("with guard", Estimate::exact(guarded), Unit::Gram),
            number("may go", limit, Unit::Gram),
        ]
        .into_iter()
        .flatten()
        .collect()
    };
    let places: Vec<String> = [pointer.to_owned()]
        .into_iter()
        .chain(loss.pointers.iter().cloned())
        .collect();
    if reached(against, limit.value) {
        let text = format!("Stop: {text}. It is gone, or the scale cannot say that it is not.");
        ledger.find(rule, Level::Stop, &text, &places, numbers());
    } else if guarded >= settings.near_share_of_limit * limit.value {
        ledger.find(
            "budget.near",
            Level::Caution,
            &format!("Little is left: {text}."),
            &places,
            numbers(),
        );
        ledger.nearly(rule, text);
    } else {
        ledger.nearly(rule, text);
    }
}

/// Returns the steel gone between the first mass before a pass and the last mass after one.
///
/// A pass that removes rust and was weighed on both sides is left out. Readings that cancel leave no uncertainty
/// behind: `before` of a first rust pass, for example.
fn steel_gone(passes: &[Pass]) -> Option<Loss> {
    let weighing = |index: usize, side: &str, readings: Option<&PassReadings>| {
        let mass = readings?.mass.as_ref()?;
        Some(Weighing {
            pointer: format!("/passes/{index}/{side}/mass"),
            mass: Estimate::from(&mass.0),
        })
    };
    let before = |index: usize| weighing(index, "before", passes[index].before.as_ref());
    let after = |index: usize| weighing(index, "after", passes[index].after.as_ref());
    let first = (0..passes.len()).find_map(|index| Some((index, before(index)?)))?;
    let last = (0..passes.len())
        .rev()
        .find_map(|index| Some((index, after(index)?)))?;
    if last.0 < first.0 {
        return None;
    }
    let mut terms: Vec<(f64, Weighing)> = vec![(1.0, first.1), (-1.0, last.1)];
    let mut rust_excluded = 0;
    for (index, pass) in passes.iter().enumerate().take(last.0 + 1).skip(first.0) {
        if pass.operation == Operation::Derust
            && let (Some(before), Some(after)) = (before(index), after(index))
        {
            terms.push((-1.0, before));
            terms.push((1.0, after));
            rust_excluded += 1;
        }
    }
    let mut kept: Vec<(f64, Weighing)> = Vec::new();
    for (sign, weighing) in terms {
        match kept
            .iter_mut()
            .find(|(_, one)| one.pointer == weighing.pointer)
        {
            Some((sum, _)) => *sum += sign,
            None => kept.push((sign, weighing)),
        }
    }
    kept.retain(|(sign, _)| *sign != 0.0);
    let mass = kept.iter().map(|(sign, one)| one.mass.scaled(*sign)).sum();
    Some(Loss {
        mass,
        pointers: kept.into_iter().map(|(_, one)| one.pointer).collect(),
        rust_excluded,
    })
}
