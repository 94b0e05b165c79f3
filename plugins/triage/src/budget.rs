//! Steel gone in passes against what may go. Passes of sealed records count, whether the sheet has them or not.

use tangmark_author::passes::{self, Logged};
use tangmark_author::words::list;
use tangmark_author::{number, numbers};
use tangmark_core::record::{Examination, Mass, Pass, Plan, Record, Sheet};
use tangmark_core::units::Unit;
use tangmark_measure::decision::{Against, GUARD_95, against, reached};
use tangmark_measure::weighing::{self, Place};
use tangmark_measure::{Estimate, print};
use tangmark_plugin::Level;

use crate::ledger::{Ledger, Side, left_text};
use crate::settings::Settings;

/// Steel gone, and the weighings it rests on.
#[derive(Clone, Debug)]
struct Loss {
    mass: Estimate,
    pointers: Vec<String>,
    rust_excluded: usize,
}

const SOURCE: &str = "mass before the first pass less mass after the last, passes of sealed records counted, without what removing rust \
    took where that was weighed; a pass not weighed before began with the last weighing";

/// Judges the steel budget.
pub(crate) fn judge(
    sheet: &Sheet,
    history: &[Record],
    settings: &Settings,
    ledger: &mut Ledger<'_>,
) {
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
    if let (Some(planned), Some(agreed)) = (planned, agreed) {
        plan_against_agreement(planned, agreed, ledger);
    }
    let logged = passes::logged(history, sheet);
    let counting: Vec<Logged<'_>> = logged
        .iter()
        .filter(|one| one.pointer.is_some() || counts(one.pass, history, sheet))
        .cloned()
        .collect();
    sealed(&counting, history, ledger);
    let Some(loss) = steel_gone(&counting, &logged, history, sheet) else {
        if !counting.is_empty() {
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
        let given = numbers(&[("steel gone", loss.mass, Unit::Gram)]);
        ledger.find(
            "budget.mass-grew",
            Level::Caution,
            &text,
            &loss.pointers,
            given,
        );
    } else if loss.mass.value - loss.mass.expanded() < 0.0 {
        let text = format!(
            "{} of steel gone by the scale, which cannot tell it from nothing",
            print::with_expanded(loss.mass, "g")
        );
        ledger.nearly("budget.mass-grew", text, left_text(loss.mass, "g"));
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

fn plan_against_agreement(planned: Estimate, agreed: Estimate, ledger: &mut Ledger<'_>) {
    const RULE: &str = "budget.plan-over-agreement";
    let words = format!(
        "The plan lets {} go, the agreement {}",
        print::with_expanded(planned, "g"),
        print::with_expanded(agreed, "g")
    );
    // Both are numbers that somebody wrote down: what they say counts, not what a scale might have read.
    if planned.value <= agreed.value {
        return ledger.quiet(
            RULE,
            words,
            (
                Estimate::exact(planned.value),
                Estimate::exact(agreed.value),
                Side::Above,
            ),
            "g",
        );
    }
    let given = numbers(&[
        ("by the plan", planned, Unit::Gram),
        ("by the agreement", agreed, Unit::Gram),
    ]);
    let places = [
        "/plan/steel_budget".to_owned(),
        "/agreement/steel_limit".to_owned(),
    ];
    let text = format!("{words}: ask the owner or change the plan.");
    ledger.find(RULE, Level::Caution, &text, &places, given);
    ledger.by(left_text(
        Estimate::exact(agreed.value - planned.value),
        "g",
    ));
}

/// Tells whether a sealed pass that the sheet leaves out still counts against the budget.
///
/// It does until a later record or the sheet has an examination after that of the last record with the pass, and another
/// budget: that is what answers a spent budget, and what begins a new piece of work.
fn counts(pass: &Pass, history: &[Record], sheet: &Sheet) -> bool {
    let Some(last) = history
        .iter()
        .rposition(|record| record.passes.iter().any(|one| one.id == pass.id))
    else {
        return true;
    };
    let record = &history[last];
    let budget = |plan: Option<&Plan>| -> Option<Mass> { plan?.steel_budget.clone() };
    let anew = |examination: Option<&Examination>, plan: Option<&Plan>| {
        let later = examination.is_some_and(|new| {
            record
                .examination
                .as_ref()
                .is_none_or(|old| new.on.first_day() > old.on.last_day())
        });
        let new = budget(plan);
        later && new.is_some() && new != budget(record.plan.as_ref())
    };
    let since = history[last + 1..]
        .iter()
        .any(|later| anew(later.examination.as_ref(), later.plan.as_ref()));
    !(since || anew(sheet.examination.as_ref(), sheet.plan.as_ref()))
}

/// Says which sealed passes the sheet leaves out, and where it tells their masses otherwise.
fn sealed(counting: &[Logged<'_>], history: &[Record], ledger: &mut Ledger<'_>) {
    const RULE: &str = "budget.sealed-passes";
    let mut left_out = Vec::new();
    let mut differing = Vec::new();
    let mut places = Vec::new();
    for one in counting {
        let Some(sequence) = one.sequence else {
            continue;
        };
        let Some(pointer) = &one.pointer else {
            left_out.push(format!("`{}` (record {sequence})", one.pass.id));
            continue;
        };
        let newest = history
            .iter()
            .rev()
            .find_map(|record| record.passes.iter().find(|pass| pass.id == one.pass.id));
        if newest.is_some_and(|sealed| masses(sealed) != masses(one.pass)) {
            differing.push(format!("`{}`", one.pass.id));
            places.push(pointer.clone());
        }
    }
    if !left_out.is_empty() {
        let text = format!(
            "Sealed, and not on the sheet: {}. They count against the steel that may go all the same; put them back on the sheet. Work \
             with a new budget begins with a new examination.",
            list(&left_out)
        );
        ledger.find(
            RULE,
            Level::Caution,
            &text,
            &["/passes".to_owned()],
            Vec::new(),
        );
    }
    if !differing.is_empty() {
        let text = format!(
            "The sheet gives other masses than the sealed record for {}: the sheet is taken here; if the record was wrong, seal a \
             correction that says so.",
            list(&differing)
        );
        ledger.find(RULE, Level::Caution, &text, &places, Vec::new());
    }
}

fn masses(pass: &Pass) -> [Option<&Mass>; 2] {
    [&pass.before, &pass.after]
        .map(|side| side.as_ref().and_then(|readings| readings.mass.as_ref()))
}

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
    let given = || {
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
    let left = left_text(limit - loss.mass, "g");
    if reached(against, limit.value) {
        let text = format!("Stop: {text}. {}", spent_text(loss.mass, limit));
        ledger.find(rule, Level::Stop, &text, &places, given());
        ledger.by(left);
        return;
    }
    if guarded >= settings.near_share_of_limit * limit.value {
        let text = format!("Little is left: {text}. Weigh before each further pass.");
        ledger.find("budget.near", Level::Caution, &text, &places, given());
        ledger.by(left);
    } else {
        let near = Estimate::exact(settings.near_share_of_limit * limit.value);
        let text = format!("{guarded_text} g with the guard, by {whose}");
        ledger.quiet(
            "budget.near",
            text,
            (Estimate::exact(guarded), near, Side::Above),
            "g",
        );
    }
    ledger.quiet(rule, text, (loss.mass, limit, Side::Above), "g");
}

/// Whether the scale says that it is gone, or only cannot say that it is not.
fn spent_text(gone: Estimate, limit: Estimate) -> &'static str {
    match against(gone - limit, 0.0) {
        Against::Above => "It is gone: examine anew before another budget is set.",
        _ => {
            "The scale cannot say that it is not gone: weigh finer, or examine anew before another budget is set."
        }
    }
}

/// Returns the steel gone in the passes from the first that counts.
///
/// A pass that removes rust and was weighed is left out. Readings that cancel leave no uncertainty behind: `before` of a
/// first rust pass, for example.
fn steel_gone(
    counting: &[Logged<'_>],
    logged: &[Logged<'_>],
    history: &[Record],
    sheet: &Sheet,
) -> Option<Loss> {
    let first = counting.first()?;
    let from = logged.iter().position(|one| one.pass.id == first.pass.id)?;
    let passes: Vec<&Pass> = logged.iter().map(|one| one.pass).collect();
    let all = weighing::weighings(history, sheet, &passes);
    let went = weighing::went(&all, &passes, from)?;
    let steel = went.steel();
    let pointer = |place: Place| match place {
        Place::Sheet => Some("/dimensions/mass".to_owned()),
        Place::Record(_) => None,
        Place::Before(pass) => Some(format!("{}/before/mass", logged[pass].pointer.as_ref()?)),
        Place::After(pass) => Some(format!("{}/after/mass", logged[pass].pointer.as_ref()?)),
    };
    Some(Loss {
        mass: weighing::sum(&all, &steel),
        pointers: all
            .iter()
            .zip(&steel)
            .filter(|(_, weight)| **weight != 0.0)
            .filter_map(|(one, _)| pointer(one.place))
            .collect(),
        rust_excluded: went.rust_passes,
    })
}
