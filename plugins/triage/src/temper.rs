//! The temper line: whether one is expected, what is seen of it, how wide it is at a place.

use tangmark_core::record::{
    BladeKind, Face, Flaw, PointTemperForm, Sheet, Stretch, TangState, TemperVisibility,
    TemperWidth, Term as _,
};
use tangmark_core::units::Unit;
use tangmark_measure::Estimate;
use tangmark_plugin::{Level, NumberDraft};

use tangmark_author::number;

use crate::ledger::Ledger;

/// Kinds that have a temper line by make.
pub(crate) fn kind_has_temper(kind: BladeKind) -> bool {
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

/// Width of the temper line at a place, on one face.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct LocalWidth {
    /// Face on which it was measured, where that is noted.
    pub(crate) face: Option<Face>,
    /// Width from the edge, mm.
    pub(crate) width: Estimate,
    /// The place lies beyond the first or the last that was measured.
    pub(crate) beyond: bool,
    /// Measured on another face than the flaw shows on, for want of any on its own.
    pub(crate) other_face: bool,
}

/// Faces of the blade that a flaw bears on: its own; both, where it lies in the edge or the back.
fn faces_of(flaw: &Flaw) -> Vec<Face> {
    let sides: Vec<Face> = [Face::Omote, Face::Ura]
        .into_iter()
        .filter(|face| flaw.faces.contains(face))
        .collect();
    if sides.is_empty() {
        vec![Face::Omote, Face::Ura]
    } else {
        sides
    }
}

/// Tells whether a stretch of the temper line lies on a face that a flaw bears on; without a face it lies on both.
pub(crate) fn faces_meet(flaw: &Flaw, stretch: Option<Face>) -> bool {
    stretch.is_none_or(|face| faces_of(flaw).contains(&face))
}

/// Returns the width of the temper line where a flaw is, for each of its faces that has widths; those measured without
/// a face stand for both. Where none of its faces has any, those of the other face stand for them.
pub(crate) fn widths_at(sheet: &Sheet, flaw: &Flaw) -> Vec<LocalWidth> {
    let all: Vec<&TemperWidth> = sheet
        .temper_line
        .iter()
        .flat_map(|line| &line.widths)
        .collect();
    let at = Estimate::from(&flaw.at.0);
    let of = |face: Face| -> Vec<&TemperWidth> {
        let own = |width: &&&TemperWidth| width.face == Some(face);
        let mine: Vec<&TemperWidth> = all.iter().filter(own).copied().collect();
        if mine.is_empty() {
            all.iter()
                .filter(|width| width.face.is_none())
                .copied()
                .collect()
        } else {
            mine
        }
    };
    let mut found: Vec<LocalWidth> = Vec::new();
    for face in faces_of(flaw) {
        let widths = of(face);
        if let Some(mut local) = interpolated(&widths, at) {
            local.face = widths.first().and_then(|width| width.face);
            if !found.contains(&local) {
                found.push(local);
            }
        }
    }
    if found.is_empty()
        && let Some(mut local) = interpolated(&all, at)
    {
        local.face = all.first().and_then(|width| width.face);
        local.other_face = true;
        found.push(local);
    }
    found
}

/// Linear between the nearest measured places; beyond the first or last the nearest stands for it.
///
/// The line waves between and beyond the places where it was measured: half the difference of the two nearest widths,
/// taken as rectangular, is added, and what the doubt of the place does over the slope.
fn interpolated(widths: &[&TemperWidth], at: Estimate) -> Option<LocalWidth> {
    let mut sorted: Vec<(f64, Estimate)> = widths
        .iter()
        .map(|width| (width.at.to_f64(), Estimate::from(&width.width.0)))
        .collect();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (first, last) = (sorted.first()?, sorted.last()?);
    let beyond = at.value < first.0 || at.value > last.0;
    // The pair of measured places that encloses the place, or is nearest to it.
    let pair = sorted
        .windows(2)
        .find(|pair| at.value <= pair[1].0)
        .or_else(|| sorted.windows(2).last());
    let Some([low, high]) = pair else {
        return Some(LocalWidth {
            face: None,
            width: first.1,
            beyond,
            other_face: false,
        });
    };
    let step = high.0 - low.0;
    let place = at.value.clamp(low.0, high.0);
    let share = if step > 0.0 {
        (place - low.0) / step
    } else {
        0.5
    };
    let between = low.1.scaled(1.0 - share) + high.1.scaled(share);
    let rise = high.1.value - low.1.value;
    let wave = Estimate::rectangular(0.0, rise / 2.0).standard_uncertainty;
    let placed = if step > 0.0 {
        rise / step * at.standard_uncertainty
    } else {
        0.0
    };
    Some(LocalWidth {
        face: None,
        width: between.with_added(wave).with_added(placed),
        beyond,
        other_face: false,
    })
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
                        blade is set aside. Note it as a flaw `yakemi` as well, with its looks, so that a later draft does not lose it.";
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
                    and stop at the present stage. Note it as a flaw `boshi_none` as well, with its looks, so that a later draft does not lose it.";
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
