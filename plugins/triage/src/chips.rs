//! Chips in the edge against the temper line behind them.

use tangmark_author::number;
use tangmark_author::words::list;
use tangmark_core::record::{Face, Flaw, FlawKind, Sheet, Term as _};
use tangmark_core::units::Unit;
use tangmark_measure::decision::{Against, against_estimate};
use tangmark_measure::{Estimate, print};
use tangmark_plugin::Level;

use crate::ladder::{Rung, rung};
use crate::ledger::{Ledger, Side, left_text};
use crate::settings::Settings;
use crate::temper::{self, LocalWidth};

/// How far a flaw goes against the temper line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Reach {
    /// Through it, by the sheet's word or by its depth.
    Past,
    /// The measurement cannot tell.
    MayBePast,
    /// It stays within.
    Within,
    /// Nothing on the sheet says.
    Unknown,
}

/// Tells how far a flaw goes: by the sheet's word, else by its depth against the narrowest temper line on its faces.
pub(crate) fn reach(sheet: &Sheet, flaw: &Flaw) -> Reach {
    if let Some(through) = flaw.through_temper {
        return if through { Reach::Past } else { Reach::Within };
    }
    if !temper::expected(sheet) {
        return Reach::Within;
    }
    if flaw.kind != FlawKind::Hakobore {
        return Reach::Unknown;
    }
    let Some(depth) = depth(flaw) else {
        return Reach::Unknown;
    };
    // Widths on either side say nothing of a stretch where the line is missing.
    if gap_at(sheet, flaw).is_some() {
        return Reach::Unknown;
    }
    let against: Vec<Against> = temper::widths_at(sheet, flaw)
        .iter()
        .map(|local| against_estimate(depth, local.width))
        .collect();
    if against.contains(&Against::Above) {
        Reach::Past
    } else if against.contains(&Against::Undecided) {
        Reach::MayBePast
    } else if against.is_empty() {
        Reach::Unknown
    } else {
        Reach::Within
    }
}

fn depth(flaw: &Flaw) -> Option<Estimate> {
    flaw.depth.as_ref().map(|depth| Estimate::from(&depth.0))
}

/// The face on which the temper line is narrowest for its doubt.
fn narrowest(widths: &[LocalWidth]) -> Option<&LocalWidth> {
    let least = |one: &LocalWidth| one.width.value - one.width.expanded();
    widths.iter().min_by(|a, b| least(a).total_cmp(&least(b)))
}

/// Depth of a flaw, and the temper line where it is narrowest for its doubt; both in mm.
pub(crate) fn against_line(sheet: &Sheet, flaw: &Flaw) -> Option<(Estimate, Estimate)> {
    let widths = temper::widths_at(sheet, flaw);
    Some((depth(flaw)?, narrowest(&widths)?.width))
}

/// Says what taking a chip out would leave: `7.0 ± 0.9 mm of temper line on the outer face`.
pub(crate) fn left_after(sheet: &Sheet, flaw: &Flaw) -> Option<String> {
    let depth = depth(flaw)?;
    if gap_at(sheet, flaw).is_some() {
        return None;
    }
    let widths = temper::widths_at(sheet, flaw);
    let each: Vec<String> = widths
        .iter()
        .map(|local| {
            let left = local.width - depth;
            if left.value <= 0.0 {
                format!("no temper line{}", on(local))
            } else {
                format!(
                    "{} of temper line{}",
                    print::with_expanded(left, "mm"),
                    on(local)
                )
            }
        })
        .collect();
    (!each.is_empty()).then(|| list(&each))
}

fn on(local: &LocalWidth) -> String {
    let face = local.face.map_or_else(String::new, |face: Face| {
        format!(" on the {}", face.gloss())
    });
    let mut notes = Vec::new();
    if local.other_face {
        notes.push("measured there, not where the chip shows");
    }
    if local.beyond {
        notes.push("beyond the measured places");
    }
    if notes.is_empty() {
        face
    } else {
        format!("{face} ({})", notes.join("; "))
    }
}

/// Judges every chip: against the temper line, and whether it lies where there is none.
pub(crate) fn judge(sheet: &Sheet, settings: &Settings, ledger: &mut Ledger<'_>) {
    if !temper::expected(sheet) {
        return;
    }
    let chips = sheet
        .flaws
        .iter()
        .enumerate()
        .filter(|(_, flaw)| flaw.kind == FlawKind::Hakobore && rung(flaw) != Rung::RuledOut);
    for (index, flaw) in chips {
        gap(sheet, flaw, index, ledger);
        share(sheet, flaw, index, settings, ledger);
    }
}

fn share(sheet: &Sheet, flaw: &Flaw, index: usize, settings: &Settings, ledger: &mut Ledger<'_>) {
    const RULE: &str = "care.chip-depth";
    let Some(depth) = depth(flaw) else {
        return ledger.not_judged(RULE, format!("depth of {}", flaw.id));
    };
    if gap_at(sheet, flaw).is_some() {
        return ledger.not_judged(RULE, format!("what temper stands behind {}", flaw.id));
    }
    let widths = temper::widths_at(sheet, flaw);
    let Some(local) = narrowest(&widths) else {
        return ledger.not_judged(RULE, "widths of the temper line");
    };
    let (Some(share), Some(left)) = (depth.ratio(local.width), left_after(sheet, flaw)) else {
        return ledger.not_judged(RULE, "a width of the temper line above nothing");
    };
    let text = format!(
        "{} is {} deep, and the temper line there is {} wide{}; taking it out brings the edge back by its depth over the whole \
         length and would leave {left}",
        flaw.id,
        print::with_expanded(depth, "mm"),
        print::with_expanded(local.width, "mm"),
        on(local),
    );
    let limit = Estimate::exact(settings.chip_share_of_temper);
    if share.value + share.expanded() < limit.value {
        return ledger.quiet(RULE, text, (share, limit, Side::Above), "of the line");
    }
    let numbers = [
        number("depth of the chip", depth, Unit::Millimetre),
        number("temper line there", local.width, Unit::Millimetre),
        number(
            "left after taking it out",
            local.width - depth,
            Unit::Millimetre,
        ),
        number("share of the temper line", share, Unit::One),
    ];
    let pointers = [
        format!("/flaws/{index}/depth"),
        "/temper_line/widths".to_owned(),
    ];
    ledger.find(
        RULE,
        Level::Caution,
        &format!("The chip {text}."),
        &pointers,
        numbers.into_iter().flatten().collect(),
    );
    ledger.by(left_text(limit - share, "of the line"));
}

/// A stretch without temper line at the edge.
struct Gap {
    pointer: String,
    what: &'static str,
}

/// The first stretch, on a face that the flaw bears on, in which the flaw lies or may lie.
fn gap_at(sheet: &Sheet, flaw: &Flaw) -> Option<Gap> {
    let line = sheet.temper_line.as_ref()?;
    let at = Estimate::from(&flaw.at.0);
    let stretches = [
        ("breaks", "is missing", &line.breaks),
        ("run_outs", "has run out into the edge", &line.run_outs),
    ];
    stretches.into_iter().find_map(|(field, what, all)| {
        let place = all.iter().position(|stretch| {
            temper::faces_meet(flaw, stretch.face)
                && against_estimate(at, Estimate::from(&stretch.from.0)) != Against::Below
                && against_estimate(at, Estimate::from(&stretch.to.0)) != Against::Above
        })?;
        Some(Gap {
            pointer: format!("/temper_line/{field}/{place}"),
            what,
        })
    })
}

fn gap(sheet: &Sheet, flaw: &Flaw, index: usize, ledger: &mut Ledger<'_>) {
    let Some(gap) = gap_at(sheet, flaw) else {
        return;
    };
    let text = format!(
        "The chip {} at {} mm lies where the temper line {}: it may not be possible to take it out. Look in another light whether any \
         temper stands behind it before the edge is touched.",
        flaw.id, flaw.at.value, gap.what
    );
    let pointers = [format!("/flaws/{index}/at"), gap.pointer];
    ledger.find(
        "temper.chip-in-gap",
        Level::Caution,
        &text,
        &pointers,
        Vec::new(),
    );
}
