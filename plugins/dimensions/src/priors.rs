//! Measures against what is usual for a kind.

use tangmark_author::{Notes, numbers};
use tangmark_core::record::{BladeKind, Dimensions, Length, Sheet, Term as _};
use tangmark_core::units::Unit;
use tangmark_measure::decision::{Against, against};
use tangmark_measure::{Estimate, print};
use tangmark_plugin::Level;

/// A measure that has priors.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Measure {
    Length,
    WidthAtBase,
    Curvature,
    ThicknessAtBase,
    TangLength,
}

/// A usual range.
struct Prior {
    kind: BladeKind,
    measure: Measure,
    /// mm.
    low: f64,
    /// mm.
    high: f64,
    /// Where the range comes from.
    source: &'static str,
}

const CLASSES: &str = "a study site's table of classes";

macro_rules! priors {
    ($($kind:ident $measure:ident $low:literal $high:literal $source:expr;)+) => {
        const PRIORS: &[Prior] = &[$(Prior {
            kind: BladeKind::$kind, measure: Measure::$measure, low: $low, high: $high, source: $source,
        }),+];
    };
}

// Millimetres. The museum ranges are recomputed from published rows of one museum for the most part.
priors! {
    Tachi Length 606.0 909.0 CLASSES;
    Tachi Length 662.0 721.0 "9 museum blades";
    Tachi WidthAtBase 24.0 35.0 CLASSES;
    Tachi Curvature 12.0 21.0 CLASSES;
    Tachi Curvature 16.0 27.0 "7 museum blades";
    Tachi ThicknessAtBase 5.0 5.6 CLASSES;
    Tachi TangLength 173.0 195.0 "3 museum blades";
    Katana Length 606.0 757.5 CLASSES;
    Katana Length 621.0 808.0 "11 museum blades";
    Katana WidthAtBase 28.0 31.0 CLASSES;
    Katana Curvature 4.0 19.0 CLASSES;
    Katana Curvature 12.0 24.0 "9 museum blades";
    Katana ThicknessAtBase 5.0 8.0 CLASSES;
    Katana TangLength 189.0 209.0 "5 museum blades";
    Wakizashi Length 310.0 551.0 "12 museum blades";
    Wakizashi Curvature 3.0 19.0 "9 museum blades";
    Wakizashi TangLength 102.0 149.0 "9 museum blades";
    Tanto Length 181.0 282.0 "9 museum blades";
    Tanto Curvature 1.0 3.0 "2 museum blades";
    Tanto TangLength 77.0 135.0 "8 museum blades";
}

/// Share of a range by which a measure must lie outside it to be a caution, not an information.
const FAR: f64 = 0.5;

/// Judges every measure that has priors.
pub(crate) fn judge(sheet: &Sheet, dimensions: &Dimensions, notes: &mut Notes<'_>) {
    let measures: [(Measure, &str, &str, Option<&Length>); 5] = [
        (
            Measure::Length,
            "blade length",
            "/dimensions/blade_length",
            dimensions.blade_length.as_ref(),
        ),
        (
            Measure::WidthAtBase,
            "width at the base",
            "/dimensions/width_at_base",
            dimensions.width_at_base.as_ref(),
        ),
        (
            Measure::Curvature,
            "curvature",
            "/dimensions/curvature",
            dimensions.curvature.as_ref(),
        ),
        (
            Measure::ThicknessAtBase,
            "thickness at the base",
            "/dimensions/thickness_at_base",
            dimensions.thickness_at_base.as_ref(),
        ),
        (
            Measure::TangLength,
            "tang length",
            "/dimensions/tang_length",
            dimensions.tang_length.as_ref(),
        ),
    ];
    for (measure, name, pointer, length) in measures {
        let Some(length) = length else { continue };
        let kind = sheet.blade.kind_by_make;
        let known: Vec<&Prior> = PRIORS
            .iter()
            .filter(|prior| prior.kind == kind && prior.measure == measure)
            .collect();
        one(
            kind,
            &known,
            name,
            pointer,
            Estimate::from(&length.0),
            notes,
        );
    }
}

fn one(
    kind: BladeKind,
    known: &[&Prior],
    name: &str,
    pointer: &str,
    found: Estimate,
    notes: &mut Notes<'_>,
) {
    let low = known
        .iter()
        .map(|prior| prior.low)
        .fold(f64::INFINITY, f64::min);
    let high = known
        .iter()
        .map(|prior| prior.high)
        .fold(f64::NEG_INFINITY, f64::max);
    let (side, distance) = match (against(found, low), against(found, high)) {
        (Against::Below, _) => ("below", low - found.value),
        (_, Against::Above) => ("above", found.value - high),
        _ => return,
    };
    if known.is_empty() {
        return;
    }
    let ranges: Vec<String> = known
        .iter()
        .map(|prior| format!("{} to {} mm ({})", prior.low, prior.high, prior.source))
        .collect();
    let level = if distance > FAR * (high - low) {
        Level::Caution
    } else {
        Level::Info
    };
    let message = format!(
        "The {name}, {}, lies {side} what is usual for a {}: {}. Few blades stand behind this; read the number again and let it stand if it is right.",
        print::with_expanded(found, "mm"),
        kind.key(),
        ranges.join("; ")
    );
    let given = numbers(&[
        (name, found, Unit::Millimetre),
        ("usual from", Estimate::exact(low), Unit::Millimetre),
        ("usual to", Estimate::exact(high), Unit::Millimetre),
    ]);
    notes.add("dimensions.unusual", level, message, &[pointer], given);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ranges_are_ranges() {
        for prior in PRIORS {
            assert!(
                0.0 < prior.low && prior.low < prior.high,
                "{:?} {:?}",
                prior.kind,
                prior.measure
            );
        }
    }
}
