//! The blade of the sheet, in the features of the comparables.

use tangmark_core::record::{InscriptionKind, RegistrationKind, Sheet, Tang};
use tangmark_measure::Estimate;

use crate::dates::years;
use crate::features::{Feature, of_condition, of_length, of_truth, of_year};

/// A feature of the sheet: its number, or what is missing; and where it stands.
pub(crate) struct Stated {
    /// The number.
    pub(crate) number: Result<Estimate, &'static str>,
    /// Pointer into the sheet.
    pub(crate) pointer: &'static str,
}

/// Reads a feature off the sheet.
pub(crate) fn number(sheet: &Sheet, feature: Feature) -> Stated {
    let (number, pointer) = match feature {
        Feature::Length => (
            sheet
                .dimensions
                .as_ref()
                .and_then(|one| one.blade_length.as_ref())
                .map(|length| of_length(Estimate::from(&length.0)))
                .ok_or("the blade length"),
            "/dimensions/blade_length",
        ),
        Feature::Age => (age(sheet), "/blade/made_not_after"),
        Feature::Condition => (
            sheet
                .examination
                .as_ref()
                .map(|one| Estimate::exact(of_condition(one.surface)))
                .ok_or("an examination with the condition of the surface"),
            "/examination/surface",
        ),
        Feature::Signed => (
            sheet
                .tang
                .as_ref()
                .and_then(signed)
                .map(|truth| Estimate::exact(of_truth(truth)))
                .ok_or("whether the tang is signed (`zaimei` or `mumei`)"),
            "/tang/inscriptions",
        ),
        Feature::Papers => (
            Ok(Estimate::exact(of_truth(
                sheet
                    .blade
                    .registrations
                    .iter()
                    .any(|one| one.kind == RegistrationKind::PrivateAppraisal),
            ))),
            "/blade/registrations",
        ),
        Feature::Date => (Ok(Estimate::exact(0.0)), ""),
    };
    Stated { number, pointer }
}

fn age(sheet: &Sheet) -> Result<Estimate, &'static str> {
    match (&sheet.blade.made_not_before, &sheet.blade.made_not_after) {
        (Some(first), Some(last)) => {
            let (first, last) = (years(first), years(last));
            let middle = Estimate::rectangular(f64::midpoint(first, last), (last - first) / 2.0);
            Ok(of_year(middle))
        }
        _ => Err("the earliest and latest year of making"),
    }
}

/// Tells whether the tang is signed; `None` where the sheet does not say.
fn signed(tang: &Tang) -> Option<bool> {
    use InscriptionKind as I;
    let any = |kinds: &[I]| {
        tang.inscriptions
            .iter()
            .any(|one| kinds.contains(&one.kind))
    };
    if any(&[
        I::Zaimei,
        I::TachiMei,
        I::KatanaMei,
        I::NijiMei,
        I::NagaMei,
        I::GakuMei,
        I::OrikaeshiMei,
        I::HameMei,
        I::MakersMark,
    ]) {
        Some(true)
    } else if any(&[I::Mumei, I::KinzoganMei, I::ShuMei, I::KinpunMei]) {
        Some(false)
    } else {
        None
    }
}
