//! The temper line: whether one is expected, what is seen of it, how wide it is at a place.

use tangmark_core::record::{
    BladeKind, PointTemperForm, Sheet, Stretch, TangState, TemperVisibility, Term as _,
};
use tangmark_core::units::Unit;
use tangmark_measure::Estimate;
use tangmark_plugin::{Level, NumberDraft};

use crate::ledger::{Ledger, number};

/// Kinds that have a temper line by make.
fn kind_has_temper(kind: BladeKind) -> bool {
    use BladeKind as B;
    !matches!(
        kind,
        B::Sabre | B::StraightSword | B::Dagger | B::Knife | B::Other
    )
}

/// Tells whether a temper line is to be looked for: the examiner's word first, then the kind.
pub(crate) fn expected(sheet: &Sheet) -> bool {
    use TemperVisibility as V;
    match sheet.temper_line.as_ref().map(|line| line.visibility) {
        Some(V::NotApplicable) => false,
        Some(V::Visible | V::PartlyVisible | V::Lost) => true,
        Some(V::NoneVisible | V::NotExamined) | None => kind_has_temper(sheet.blade.kind_by_make),
    }
}

/// Returns the width of the temper line at a place: linear between the nearest measured places; beyond the first
/// or last the nearest stands for it.
pub(crate) fn width_at(sheet: &Sheet, at: f64) -> Option<Estimate> {
    let mut widths: Vec<(f64, Estimate)> = sheet
        .temper_line
        .iter()
        .flat_map(|line| &line.widths)
        .map(|width| (width.at.to_f64(), Estimate::from(&width.width.0)))
        .collect();
    widths.sort_by(|a, b| a.0.total_cmp(&b.0));
    let after = widths
        .iter()
        .position(|width| width.0 >= at)
        .unwrap_or(widths.len());
    let (low, high) = (
        after.checked_sub(1).and_then(|index| widths.get(index)),
        widths.get(after),
    );
    match (low, high) {
        (Some(low), Some(high)) => {
            let share = (at - low.0) / (high.0 - low.0);
            let between = low.1.scaled(1.0 - share) + high.1.scaled(share);
            // The line waves between the places where it was measured: half their difference, rectangular.
            let wave = Estimate::rectangular(0.0, (high.1.value - low.1.value) / 2.0);
            Some(between.with_added(wave.standard_uncertainty))
        }
        (Some(only), None) | (None, Some(only)) => Some(only.1),
        (None, None) => None,
    }
}

/// Judges what is seen of the temper line, and the tang's word on it.
pub(crate) fn judge(sheet: &Sheet, ledger: &mut Ledger<'_>) {
    if sheet
        .tang
        .as_ref()
        .is_some_and(|tang| tang.state == TangState::SaihaSuspected)
    {
        let text = "The tang makes one suspect re-tempering: an opinion, to be asked of somebody who handles many.";
        ledger.find(
            "temper.re-tempered",
            Level::Caution,
            text,
            &["/tang/state".to_owned()],
            Vec::new(),
        );
    }
    let Some(line) = &sheet.temper_line else {
        return;
    };
    let pointer = || vec!["/temper_line/visibility".to_owned()];
    match line.visibility {
        TemperVisibility::Lost if !kind_has_temper(sheet.blade.kind_by_make) => {
            let text = format!(
                "The sheet says that the temper is gone, and a {} need not show a line: note what that rests on.",
                sheet.blade.kind_by_make.key()
            );
            ledger.find(
                "temper.unusual",
                Level::Caution,
                &text,
                &pointer(),
                Vec::new(),
            );
        }
        TemperVisibility::Lost => {
            let text = "The temper is gone, where the make leads one to expect it: the trade's lists hold this fatal; no work, the \
                        blade is set aside.";
            ledger.find(
                "fatal.temper-lost",
                Level::Stop,
                text,
                &pointer(),
                Vec::new(),
            );
        }
        TemperVisibility::NoneVisible if kind_has_temper(sheet.blade.kind_by_make) => {
            let text = "No temper line is to be seen in the present surface, and the make leads one to expect one: see it in \
                        another light before a stone touches the edge.";
            ledger.find(
                "temper.not-seen",
                Level::Caution,
                text,
                &pointer(),
                Vec::new(),
            );
            ledger.not_judged(
                "fatal.temper-lost",
                "a look that finds the temper line, or finds it gone",
            );
        }
        TemperVisibility::NotApplicable if kind_has_temper(sheet.blade.kind_by_make) => {
            let text = format!(
                "The sheet says that no temper line belongs to this make, though a {} usually has one: note what that rests on.",
                sheet.blade.kind_by_make.key()
            );
            ledger.find(
                "temper.unusual",
                Level::Caution,
                &text,
                &pointer(),
                Vec::new(),
            );
        }
        _ => {}
    }
    if line
        .point
        .as_ref()
        .is_some_and(|point| point.forms.contains(&PointTemperForm::None))
        && expected(sheet)
    {
        let text = "No temper in the point: the trade's lists hold this fatal; look at another angle of light before it is believed, \
                    and stop at the present stage.";
        ledger.find(
            "fatal.point-temper-none",
            Level::Stop,
            text,
            &["/temper_line/point".to_owned()],
            Vec::new(),
        );
    }
    stretches(
        "temper.breaks",
        "is missing",
        "breaks",
        &line.breaks,
        ledger,
    );
    stretches(
        "temper.run-outs",
        "runs out into the edge",
        "run_outs",
        &line.run_outs,
        ledger,
    );
}

fn stretches(rule: &str, what: &str, field: &str, all: &[Stretch], ledger: &mut Ledger<'_>) {
    let Some(first) = all.first() else { return };
    let length =
        |stretch: &Stretch| Estimate::from(&stretch.to.0) - Estimate::from(&stretch.from.0);
    let total: Estimate = all.iter().map(length).sum();
    let where_to = if all.len() == 1 {
        format!("from {} to {} mm", first.from.value, first.to.value)
    } else {
        format!(
            "in {} stretches, the first from {} to {} mm",
            all.len(),
            first.from.value,
            first.to.value
        )
    };
    let numbers: Vec<NumberDraft> = number("length in all", total, Unit::Millimetre)
        .into_iter()
        .collect();
    let text = format!(
        "The temper line {what} {where_to}: follow it in another light before anything is ground there."
    );
    ledger.find(
        rule,
        Level::Caution,
        &text,
        &[format!("/temper_line/{field}")],
        numbers,
    );
}
