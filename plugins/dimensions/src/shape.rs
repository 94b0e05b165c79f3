//! Taper, point, tang, and whether the parts add up.

use tangmark_author::{Notes, numbers};
use tangmark_core::record::{
    BladeKind, Datum, Dimensions, Length, PointClass, PointConvention, Sheet, Term as _,
};
use tangmark_core::units::Unit;
use tangmark_measure::decision::{Against, against};
use tangmark_measure::{Estimate, print};
use tangmark_plugin::Level;

use crate::is_sword;
use crate::settings::Settings;

fn estimate(length: Option<&Length>) -> Option<Estimate> {
    length.map(|length| Estimate::from(&length.0))
}

/// Judges the shape.
pub(crate) fn judge(
    sheet: &Sheet,
    dimensions: &Dimensions,
    settings: &Settings,
    notes: &mut Notes<'_>,
) {
    let sword = is_sword(sheet);
    let width = (
        "width",
        estimate(dimensions.width_at_base.as_ref()),
        estimate(dimensions.width_at_point.as_ref()),
    );
    let thickness = (
        "thickness",
        estimate(dimensions.thickness_at_base.as_ref()),
        estimate(dimensions.thickness_at_point.as_ref()),
    );
    // Usual tapers of long swords, from memory; nothing is known of other kinds.
    let long = matches!(
        sheet.blade.kind_by_make,
        BladeKind::Katana | BladeKind::Tachi
    );
    taper(width, (0.60, 0.75), long, notes);
    taper(thickness, (0.65, 0.80), long, notes);
    if sword {
        point(dimensions, settings, notes);
    }
    tang(dimensions, notes);
    whole(dimensions, notes);
}

fn taper(
    (what, base, end): (&str, Option<Estimate>, Option<Estimate>),
    usual: (f64, f64),
    long: bool,
    notes: &mut Notes<'_>,
) {
    let (Some(base), Some(end)) = (base, end) else {
        return;
    };
    let Some(ratio) = end.ratio(base) else { return };
    let rule = if what == "width" {
        "dimensions.width-taper"
    } else {
        "dimensions.thickness-taper"
    };
    notes.quantity(
        &format!("{what}-taper"),
        ratio,
        Unit::One,
        "measure at the point line over measure at the base",
    );
    let shown = format!(
        "Taper of the {what}, point over base: {}",
        print::with_expanded(ratio, "")
    );
    let given = numbers(&[
        ("at the base", base, Unit::Millimetre),
        ("at the point", end, Unit::Millimetre),
        ("taper", ratio, Unit::One),
    ]);
    let places = [
        format!("/dimensions/{what}_at_point"),
        format!("/dimensions/{what}_at_base"),
    ];
    let places = [places[0].as_str(), places[1].as_str()];
    if against(ratio, 1.0) == Against::Above {
        let message = format!(
            "{shown}: the {what} grows towards the point; look whether the two were swapped."
        );
        notes.add(rule, Level::Caution, message, &places, given);
    } else if !long {
        notes.add(rule, Level::Info, format!("{shown}."), &places, given);
    } else {
        let message = match (against(ratio, usual.0), against(ratio, usual.1)) {
            (Against::Below, _) => format!(
                "{shown}, stronger than the {:.2} to {:.2} usual for long swords.",
                usual.0, usual.1
            ),
            (_, Against::Above) => format!(
                "{shown}, slighter than the {:.2} to {:.2} usual for long swords.",
                usual.0, usual.1
            ),
            _ => format!(
                "{shown}, as usual for long swords ({:.2} to {:.2}).",
                usual.0, usual.1
            ),
        };
        notes.add(rule, Level::Info, message, &places, given);
    }
}

fn point(dimensions: &Dimensions, settings: &Settings, notes: &mut Notes<'_>) {
    let (Some(length), Some(width)) = (
        estimate(dimensions.point_length.as_ref()),
        estimate(dimensions.width_at_point.as_ref()),
    ) else {
        return;
    };
    let Some(ratio) = length.ratio(width) else {
        return;
    };
    let [short, small, middle] = settings.point_ratio_limits;
    let classes = [
        PointClass::IkubiKissaki,
        PointClass::KoKissaki,
        PointClass::ChuKissaki,
        PointClass::OKissaki,
    ];
    let limits = settings.point_ratio_limits;
    let first = limits
        .iter()
        .filter(|limit| against(ratio, **limit) == Against::Above)
        .count();
    let last = limits
        .iter()
        .filter(|limit| against(ratio, **limit) != Against::Below)
        .count();
    let allowed = &classes[first..=last];
    let words: Vec<String> = allowed.iter().map(|class| class.shown()).collect();
    let class = match words.as_slice() {
        [one] => one.clone(),
        several => format!("undecided, {}", several.join(" or ")),
    };
    let convention = dimensions
        .point_convention
        .map_or("convention not noted", PointConvention::gloss);
    let message = format!(
        "Point length over width at the point line: {} (length taken {convention}): {class}, by this tool's own limits {short}, {small} and \
         {middle}.",
        print::with_expanded(ratio, "")
    );
    notes.quantity(
        "point-ratio",
        ratio,
        Unit::One,
        "point length over width at the point line",
    );
    let given = numbers(&[
        ("point length", length, Unit::Millimetre),
        ("width at the point line", width, Unit::Millimetre),
        ("ratio", ratio, Unit::One),
    ]);
    notes.add(
        "dimensions.point-ratio",
        Level::Info,
        message,
        &["/dimensions/point_length", "/dimensions/width_at_point"],
        given,
    );
    // A nearly straight edge is a matter of form, which the ratio does not see.
    if let Some(view) = dimensions.point_class
        && view != PointClass::KamasuKissaki
        && !allowed.contains(&view)
    {
        let message = format!(
            "The examiner sees {}, the ratio says {}. The limits are this tool's own, so the view may stand; read both numbers again.",
            view.shown(),
            words.join(" or ")
        );
        let places = ["/dimensions/point_class", "/dimensions/point_length"];
        notes.add(
            "dimensions.point-class-differs",
            Level::Info,
            message,
            &places,
            Vec::new(),
        );
    }
}

fn tang(dimensions: &Dimensions, notes: &mut Notes<'_>) {
    let (Some(tang), Some(blade)) = (
        estimate(dimensions.tang_length.as_ref()),
        estimate(dimensions.blade_length.as_ref()),
    ) else {
        return;
    };
    let Some(ratio) = tang.ratio(blade) else {
        return;
    };
    notes.quantity(
        "tang-ratio",
        ratio,
        Unit::One,
        "tang length over blade length",
    );
    let message = format!(
        "Tang {}, blade {}: the tang is {} of the blade.",
        print::with_expanded(tang, "mm"),
        print::with_expanded(blade, "mm"),
        print::with_expanded(ratio, "")
    );
    let given = numbers(&[
        ("tang length", tang, Unit::Millimetre),
        ("ratio", ratio, Unit::One),
    ]);
    notes.add(
        "dimensions.tang-ratio",
        Level::Info,
        message,
        &["/dimensions/tang_length", "/dimensions/blade_length"],
        given,
    );
}

/// Compares blade and tang with the whole.
///
/// Notch–tip and notch–end of tang are two chords. Where both lie on one arc of chord a and sagitta s, with a tang of
/// chord b, the straight whole is shorter than their sum by b(1 + b/a)/2·(4s/a)², at most b·(4s/a)² (plane geometry,
/// small angles); a millimetre more is allowed for where the notch is taken.
fn whole(dimensions: &Dimensions, notes: &mut Notes<'_>) {
    let of = |length: &Option<Length>| estimate(length.as_ref());
    let (Some(whole), Some(blade), Some(tang)) = (
        of(&dimensions.overall_length),
        of(&dimensions.blade_length),
        of(&dimensions.tang_length),
    ) else {
        return;
    };
    if dimensions.datum == Datum::GuardFace {
        return;
    }
    let difference = blade + tang - whole;
    let bend = of(&dimensions.curvature).map_or(0.0, |depth| {
        let angle = 4.0 * depth.value.abs() / blade.value;
        blade.value.min(tang.value) * angle * angle
    });
    let within = difference.expanded() + bend + 1.0;
    if difference.value.abs() <= within {
        return;
    }
    let message = format!(
        "Blade {} and tang {} do not add up to the whole, {}: the difference is {}, and {within:.1} mm can be explained by the measurements and \
         the bend between them. Measure again.",
        print::with_expanded(blade, "mm"),
        print::with_expanded(tang, "mm"),
        print::with_expanded(whole, "mm"),
        print::with_expanded(difference, "mm")
    );
    let given = numbers(&[
        ("blade length", blade, Unit::Millimetre),
        ("tang length", tang, Unit::Millimetre),
        ("overall length", whole, Unit::Millimetre),
        ("difference", difference, Unit::Millimetre),
    ]);
    let places = [
        "/dimensions/overall_length",
        "/dimensions/blade_length",
        "/dimensions/tang_length",
    ];
    notes.add(
        "dimensions.overall-differs",
        Level::Caution,
        message,
        &places,
        given,
    );
}
