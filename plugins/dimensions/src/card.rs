//! What a paper states, against the blade.

use tangmark_author::{Notes, numbers};
use tangmark_core::record::{Dimensions, RegistrationStates, Sheet, Term as _};
use tangmark_core::units::Unit;
use tangmark_measure::{Estimate, print};
use tangmark_plugin::Level;

use crate::settings::Settings;

/// Judges every paper that states something measurable.
pub(crate) fn judge(
    sheet: &Sheet,
    dimensions: &Dimensions,
    settings: &Settings,
    notes: &mut Notes<'_>,
) {
    for (index, registration) in sheet.blade.registrations.iter().enumerate() {
        if let Some(states) = &registration.states {
            one(
                sheet,
                dimensions,
                settings,
                (index, registration.kind.gloss(), states),
                notes,
            );
        }
    }
}

fn one(
    sheet: &Sheet,
    dimensions: &Dimensions,
    settings: &Settings,
    (index, name, states): (usize, &str, &RegistrationStates),
    notes: &mut Notes<'_>,
) {
    let base = format!("/blade/registrations/{index}/states");
    let mut agreed: Vec<&str> = Vec::new();
    let mut differs = false;
    for (rule, what, field, stated, measured, tolerance) in [
        (
            "dimensions.card-length",
            "length",
            "blade_length",
            &states.blade_length,
            &dimensions.blade_length,
            settings.card_length_tolerance_mm,
        ),
        (
            "dimensions.card-curvature",
            "curvature",
            "curvature",
            &states.curvature,
            &dimensions.curvature,
            settings.card_curvature_tolerance_mm,
        ),
    ] {
        let (Some(stated), Some(measured)) = (stated, measured) else {
            continue;
        };
        let (stated, measured) = (Estimate::from(&stated.0), Estimate::from(&measured.0));
        let difference = measured - stated;
        let allowed = difference.expanded() + tolerance;
        if difference.value.abs() <= allowed {
            agreed.push(what);
            continue;
        }
        differs = true;
        let message = format!(
            "The {name} states a {what} of {}, and the blade has {}: {} apart, where {} mm of tolerance and the measurement allow {allowed:.1} mm. \
             It may have been altered since, measured otherwise, or the paper may belong to another blade.",
            print::with_expanded(stated, "mm"),
            print::with_expanded(measured, "mm"),
            print::with_expanded(difference, "mm"),
            tolerance
        );
        let given = numbers(&[
            ("on the paper", stated, Unit::Millimetre),
            ("on the blade", measured, Unit::Millimetre),
            ("difference", difference, Unit::Millimetre),
            ("tolerance", Estimate::exact(tolerance), Unit::Millimetre),
        ]);
        notes.add(
            rule,
            Level::Caution,
            message,
            &[&format!("{base}/{field}"), &format!("/dimensions/{field}")],
            given,
        );
    }
    if let (Some(stated), Some(tang)) = (states.peg_holes, &sheet.tang) {
        let open = tang.holes.len();
        if u32::try_from(open).is_ok_and(|found| found == stated) {
            agreed.push("number of peg holes");
        } else {
            differs = true;
            let message = format!(
                "The {name} states {stated} peg holes, and the tang has {open}, plugged ones counted: a hole may have been added, or the paper may belong to another blade."
            );
            let mut given = numbers(&[
                ("on the paper", Estimate::exact(stated.into()), Unit::One),
                ("on the tang", Estimate::exact(open as f64), Unit::One),
            ]);
            for (number, count) in given.iter_mut().zip([stated.to_string(), open.to_string()]) {
                number.value = count;
            }
            notes.add(
                "dimensions.card-holes",
                Level::Caution,
                message,
                &[&format!("{base}/peg_holes"), "/tang/holes"],
                given,
            );
        }
    }
    if !agreed.is_empty() && !differs {
        let message = format!(
            "The {name} agrees with the blade in {}, within tolerance and measurement.",
            agreed.join(", ")
        );
        notes.add(
            "dimensions.card-agrees",
            Level::Info,
            message,
            &[&base],
            Vec::new(),
        );
    }
}
