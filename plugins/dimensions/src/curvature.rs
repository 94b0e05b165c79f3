//! Kind of curvature, from the line of the back or from where the depth is greatest.

use tangmark_core::record::{Dimensions, Length};
use tangmark_core::units::Unit;
use tangmark_measure::curvature::{Apex, apex, flatness, kind_without_place, kinds};
use tangmark_measure::{Estimate, print};
use tangmark_plugin::Level;

use crate::notes::{Notes, numbers, ratio_text};

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
        let words: Vec<&str> = kinds(found, chord.value)
            .iter()
            .map(|kind| kind.shown())
            .collect();
        let place = ratio_text(found.place);
        let lead = format!("Curvature {}", print::with_expanded(found.depth, "mm"));
        let message = match words.as_slice() {
            [one] => format!("{lead}, greatest at {place} of the length from the notch: {one}."),
            several => format!(
                "{lead}, greatest at {place} of the length from the notch: the kind is undecided, {}. Heights of the back at more places \
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
    if let Some(kind) = kind_without_place(depth, chord.value) {
        let message = format!(
            "Curvature {}: {}.",
            print::with_expanded(depth, "mm"),
            kind.shown()
        );
        notes.add(
            RULE,
            Level::Info,
            message,
            &["/dimensions/curvature"],
            numbers(&[("curvature", depth, Unit::Millimetre)]),
        );
    } else {
        let message = format!(
            "Curvature {}: where it is greatest was not noted, so its kind cannot be told; measure curvature_at, or heights of the back.",
            print::with_expanded(depth, "mm")
        );
        notes.add(
            RULE,
            Level::Info,
            message,
            &["/dimensions/curvature"],
            numbers(&[("curvature", depth, Unit::Millimetre)]),
        );
    }
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
