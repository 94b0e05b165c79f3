//! Class by length, undecided where the measurement straddles a limit.

use tangmark_author::{Notes, number};
use tangmark_core::record::{BladeKind, Datum, Dimensions, Sheet, Term as _};
use tangmark_core::units::Unit;
use tangmark_measure::decision::{Against, against, probability_below};
use tangmark_measure::{Estimate, print};
use tangmark_plugin::Level;

use crate::is_sword;

/// One shaku in mm: 10/33 m.
const SHAKU: f64 = 10_000.0 / 33.0;

/// A class by length.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Class {
    Dagger,
    Short,
    Long,
}

impl Class {
    const fn words(self) -> &'static str {
        match self {
            Self::Dagger => "tanto 短刀 (under 1 shaku)",
            Self::Short => "wakizashi 脇差 (1 shaku or more, under 2)",
            Self::Long => "long sword, katana 刀 or tachi 太刀 (2 shaku or more)",
        }
    }

    /// Kinds that a sheet may name for this class.
    const fn kinds(self) -> &'static [BladeKind] {
        match self {
            Self::Dagger => &[
                BladeKind::Tanto,
                BladeKind::SunnobiTanto,
                BladeKind::SunzumariTanto,
            ],
            Self::Short => &[
                BladeKind::Wakizashi,
                BladeKind::KoWakizashi,
                BladeKind::OWakizashi,
                BladeKind::Chisagatana,
                BladeKind::Kodachi,
            ],
            Self::Long => &[
                BladeKind::Katana,
                BladeKind::Tachi,
                BladeKind::Odachi,
                BladeKind::Nodachi,
            ],
        }
    }
}

/// Returns the classes that the measurement allows, the lower first.
fn classes(length: Estimate) -> Vec<Class> {
    let (one, two) = (against(length, SHAKU), against(length, 2.0 * SHAKU));
    let mut classes = Vec::new();
    if one != Against::Above {
        classes.push(Class::Dagger);
    }
    if one != Against::Below && two != Against::Above {
        classes.push(Class::Short);
    }
    if two != Against::Below {
        classes.push(Class::Long);
    }
    classes
}

/// Judges the class.
pub(crate) fn judge(sheet: &Sheet, dimensions: &Dimensions, notes: &mut Notes<'_>) {
    let Some(length) = dimensions
        .blade_length
        .as_ref()
        .map(|length| Estimate::from(&length.0))
    else {
        return;
    };
    notes.quantity("blade-length", length, Unit::Millimetre, "as measured");
    if !is_sword(sheet) || dimensions.datum != Datum::BackNotch {
        return;
    }
    let shown = print::with_expanded(length, "mm");
    let shaku = print::with_expanded(length.scaled(1.0 / SHAKU), "shaku");
    let places = ["/dimensions/blade_length", "/blade/kind_by_length"];
    let mut numbers: Vec<_> = number("blade length", length, Unit::Millimetre)
        .into_iter()
        .collect();
    let found = classes(length);
    let stated = sheet.blade.kind_by_length;
    let message = match found.as_slice() {
        [class] => format!("By length, {shown} ({shaku}): {}.", class.words()),
        [low, high, ..] => {
            let limit = if *low == Class::Dagger {
                SHAKU
            } else {
                2.0 * SHAKU
            };
            let below = probability_below(length, limit);
            numbers.extend(number("limit", Estimate::exact(limit), Unit::Millimetre));
            numbers.extend(number(
                "probability of the lower class",
                Estimate::exact(below),
                Unit::One,
            ));
            format!(
                "Class by length undecided: {shown} ({shaku}) straddles a limit; it may be {} or {}. A finer measurement would settle it.",
                low.words(),
                high.words()
            )
        }
        [] => return,
    };
    notes.add(
        "dimensions.length-class",
        Level::Info,
        message,
        &places[..1],
        numbers.clone(),
    );
    let Some(stated) = stated else { return };
    let differs = if let [class] = found.as_slice() {
        let fits = class.kinds().contains(&stated);
        let great = stated == BladeKind::Odachi && against(length, 3.0 * SHAKU) == Against::Below;
        if fits && !great {
            None
        } else {
            Some(format!("by length it is {}", class.words()))
        }
    } else {
        Some("the length does not settle it; leave the kind by length out".to_owned())
    };
    if let Some(differs) = differs {
        let message = format!(
            "The sheet says {} by length, and at {shown} {differs}.",
            stated.key()
        );
        notes.add(
            "dimensions.length-class-differs",
            Level::Caution,
            message,
            &places,
            numbers,
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn limits_are_exact_and_two_shaku_is_long() {
        for (length, u, expected) in [
            (302.0, 0.2, vec![Class::Dagger]),
            (303.0, 0.2, vec![Class::Dagger, Class::Short]),
            (304.0, 0.2, vec![Class::Short]),
            (606.0, 0.2, vec![Class::Short, Class::Long]),
            (607.0, 0.2, vec![Class::Long]),
            (SHAKU, 0.0, vec![Class::Short]),
            (2.0 * SHAKU, 0.0, vec![Class::Long]),
            (303.0, 200.0, vec![Class::Dagger, Class::Short, Class::Long]),
        ] {
            assert_eq!(
                classes(Estimate::new(length, u)),
                expected,
                "{length} ± {u}"
            );
        }
    }
}
