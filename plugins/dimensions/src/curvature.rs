//! Kind of curvature, from the line of the back or from where the depth is greatest.

use tangmark_author::{Notes, numbers};
use tangmark_core::record::{CurvatureKind, Dimensions, Length, Term as _};
use tangmark_core::units::Unit;
use tangmark_measure::curvature::{Apex, apex, flatness, kind_without_place, kinds};
use tangmark_measure::{Estimate, print};
use tangmark_plugin::Level;

const RULE: &str = "dimensions.curvature-kind";

/// Judges the curvature.
pub(crate) fn judge(dimensions: &Dimensions, notes: &mut Notes<'_>) {
    let estimate =
        |length: &Option<Length>| length.as_ref().map(|length| Estimate::from(&length.0));
    let Some(chord) = estimate(&dimensions.blade_length) else {
        return;
    };
    let depth = estimate(&dimensions.curvature);
    let line: Vec<(f64, Estimate)> = dimensions
        .back_line
        .iter()
        .map(|point| (point.at.to_f64(), Estimate::from(&point.height.0)))
        .collect();
    let from_line = apex(&line, chord.value);
    if let (Some(line), Some(depth)) = (from_line, depth) {
        compare(line, depth, notes);
    }
    let read_off = depth
        .zip(estimate(&dimensions.curvature_at))
        .filter(|(depth, _)| depth.value != 0.0)
        .and_then(|(depth, at)| {
            let place = at.ratio(chord)?;
            // Where the top lies cannot be seen better than its flatness allows, however fine the rule.
            Some(Apex {
                depth,
                place: place.with_added(flatness(depth)),
            })
        });
    if let Some(found) = from_line.or(read_off) {
        let places = if from_line.is_some() {
            ["/dimensions/back_line", "/dimensions/blade_length"]
        } else {
            ["/dimensions/curvature_at", "/dimensions/curvature"]
        };
        let allowed = kinds(found, chord.value);
        against_view(dimensions, &allowed, notes);
        let words: Vec<String> = allowed.iter().map(|kind| kind.shown()).collect();
        let place = print::with_expanded(found.place, "");
        let lead = format!("Curvature {}", print::with_expanded(found.depth, "mm"));
        let message = match words.as_slice() {
            [one] => format!("{lead}, greatest at {place} of the length from the base: {one}."),
            several => format!(
                "{lead}, greatest at {place} of the length from the base: the kind is undecided, {}. Heights of the back at more places \
                 would settle it.",
                several.join(" or ")
            ),
        };
        notes.quantity(
            "curvature-place",
            found.place,
            Unit::One,
            "place of the greatest curvature over the blade length",
        );
        let given = numbers(&[
            ("curvature", found.depth, Unit::Millimetre),
            ("place of the greatest", found.place, Unit::One),
        ]);
        notes.add(RULE, Level::Info, message, &places, given);
        return;
    }
    let Some(depth) = depth else { return };
    let shown = print::with_expanded(depth, "mm");
    let message = if let Some(kind) = kind_without_place(depth, chord.value) {
        against_view(dimensions, &[kind], notes);
        format!("Curvature {shown}: {}.", kind.shown())
    } else {
        format!(
            "Curvature {shown}: where it is greatest was not noted, so its kind cannot be told; measure curvature_at, or \
             heights of the back."
        )
    };
    let given = numbers(&[("curvature", depth, Unit::Millimetre)]);
    notes.add(
        RULE,
        Level::Info,
        message,
        &["/dimensions/curvature"],
        given,
    );
}

/// Compares the examiner's view of the kind with the kinds that the numbers allow.
fn against_view(dimensions: &Dimensions, allowed: &[CurvatureKind], notes: &mut Notes<'_>) {
    let Some(view) = dimensions.curvature_kind else {
        return;
    };
    // The bamboo-shoot form is a hollow back on a tapering blade: the line of the back alone cannot tell them apart.
    let measured = if view == CurvatureKind::TakenokoZori {
        CurvatureKind::UchiZori
    } else {
        view
    };
    if allowed.contains(&measured) {
        return;
    }
    let words: Vec<String> = allowed.iter().map(|kind| kind.shown()).collect();
    let message = format!(
        "The examiner sees {}, the numbers say {}: measure the back again, or say what the view rests on.",
        view.shown(),
        words.join(" or ")
    );
    let places = ["/dimensions/curvature_kind", "/dimensions/curvature"];
    notes.add(
        "dimensions.curvature-kind-differs",
        Level::Caution,
        message,
        &places,
        Vec::new(),
    );
}

fn compare(line: Apex, depth: Estimate, notes: &mut Notes<'_>) {
    let difference = line.depth - depth;
    if difference.value.abs() <= difference.expanded() {
        return;
    }
    let message = format!(
        "The curvature is noted as {}, and the line of the back gives {}: measure one of them again.",
        print::with_expanded(depth, "mm"),
        print::with_expanded(line.depth, "mm")
    );
    let given = numbers(&[
        ("curvature noted", depth, Unit::Millimetre),
        ("from the line of the back", line.depth, Unit::Millimetre),
        ("difference", difference, Unit::Millimetre),
    ]);
    notes.add(
        "dimensions.curvature-differs",
        Level::Caution,
        message,
        &["/dimensions/curvature", "/dimensions/back_line"],
        given,
    );
}
