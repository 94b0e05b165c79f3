//! What the plan and the passes must mind: thin places, pits, core steel, the tang.

use tangmark_author::number;
use tangmark_author::words::list;
use tangmark_core::record::{FlawKind, Operation, Progress, Sheet, Term as _, Zone};
use tangmark_core::units::Unit;
use tangmark_measure::decision::{Against, against_estimate};
use tangmark_measure::{Estimate, print};
use tangmark_plugin::Level;

use crate::ladder::{Rung, rung};
use crate::ledger::{Ledger, Side, left_text};

/// Judges care.
pub(crate) fn judge(sheet: &Sheet, ledger: &mut Ledger<'_>) {
    going_on(sheet, ledger);
    thinnest(sheet, ledger);
    pits(sheet, ledger);
    tang(sheet, ledger);
    core_steel(sheet, ledger);
}

fn going_on(sheet: &Sheet, ledger: &mut Ledger<'_>) {
    let active = sheet.flaws.iter().enumerate().filter(|(_, flaw)| {
        flaw.progress == Progress::Active
            && rung(flaw) != Rung::RuledOut
            && flaw.kind != FlawKind::SabiActive
    });
    let (places, names): (Vec<String>, Vec<String>) = active
        .map(|(index, flaw)| (format!("/flaws/{index}"), flaw.id.to_string()))
        .unzip();
    if !names.is_empty() {
        let text = format!(
            "Still going on: {}. Find the cause and stop it before any stone touches the blade.",
            list(&names)
        );
        ledger.find("care.going-on", Level::Caution, &text, &places, Vec::new());
    }
}

/// A measured thickness at the ridge.
struct Thickness {
    at: f64,
    measured: Estimate,
    pointer: String,
}

fn thicknesses(sheet: &Sheet) -> Vec<Thickness> {
    let stations = sheet
        .dimensions
        .iter()
        .flat_map(|dimensions| &dimensions.stations)
        .enumerate();
    let mut all: Vec<Thickness> = stations
        .filter_map(|(index, station)| {
            let thickness = station.ridge_thickness.as_ref()?;
            let pointer = format!("/dimensions/stations/{index}/ridge_thickness");
            Some(Thickness {
                at: station.at.to_f64(),
                measured: Estimate::from(&thickness.0),
                pointer,
            })
        })
        .collect();
    all.sort_by(|a, b| a.at.total_cmp(&b.at));
    all
}

fn thinnest(sheet: &Sheet, ledger: &mut Ledger<'_>) {
    const RULE: &str = "care.thinnest";
    let Some(limit) = sheet
        .plan
        .as_ref()
        .and_then(|plan| plan.thinnest.as_ref())
        .map(|limit| Estimate::from(&limit.0))
    else {
        if sheet.plan.is_some() || !sheet.passes.is_empty() {
            ledger.not_judged(
                RULE,
                "the thinnest that the blade may become (plan.thinnest); the user states it",
            );
        }
        return;
    };
    let all = thicknesses(sheet);
    let Some(lowest) = all
        .iter()
        .min_by(|a, b| a.measured.value.total_cmp(&b.measured.value))
    else {
        return ledger.not_judged(RULE, "a thickness at the ridge at one station at least");
    };
    let left = lowest.measured - limit;
    let text = format!(
        "the thinnest station, at {} mm, is {} at the ridge, and the plan allows {}",
        lowest.at,
        print::with_expanded(lowest.measured, "mm"),
        print::with_expanded(limit, "mm")
    );
    let numbers = [
        number("thickness at the ridge", lowest.measured, Unit::Millimetre),
        number("thinnest by the plan", limit, Unit::Millimetre),
        number("left", left, Unit::Millimetre),
    ];
    match against_estimate(lowest.measured, limit) {
        Against::Above => {
            ledger.quiet(RULE, text, (lowest.measured, limit, Side::Below), "mm");
        }
        Against::Below | Against::Undecided => {
            let text = format!("Nothing may go there, or the gauge cannot tell: {text}.");
            let places = [lowest.pointer.clone(), "/plan/thinnest".to_owned()];
            ledger.find(
                RULE,
                Level::Caution,
                &text,
                &places,
                numbers.into_iter().flatten().collect(),
            );
            ledger.by(left_text(left, "mm"));
        }
    }
}

/// Thickness at a place, linear between stations; `None` outside them.
fn thickness_at(all: &[Thickness], at: f64) -> Option<Estimate> {
    let pair = all
        .windows(2)
        .find(|pair| pair[0].at <= at && at <= pair[1].at)?;
    let share = (at - pair[0].at) / (pair[1].at - pair[0].at);
    Some(pair[0].measured.scaled(1.0 - share) + pair[1].measured.scaled(share))
}

fn pits(sheet: &Sheet, ledger: &mut Ledger<'_>) {
    const RULE: &str = "care.pit-depth";
    let limit = sheet
        .plan
        .as_ref()
        .and_then(|plan| plan.thinnest.as_ref())
        .map(|limit| Estimate::from(&limit.0));
    let all = thicknesses(sheet);
    for (index, flaw) in sheet.flaws.iter().enumerate() {
        if flaw.kind != FlawKind::Pits || rung(flaw) == Rung::RuledOut || flaw.zone == Zone::Tang {
            continue;
        }
        let Some(depth) = flaw.depth.as_ref().map(|depth| Estimate::from(&depth.0)) else {
            ledger.not_judged(RULE, format!("depth of {}", flaw.id));
            continue;
        };
        let Some(limit) = limit else {
            ledger.not_judged(
                RULE,
                "the thinnest that the blade may become (plan.thinnest); the user states it",
            );
            continue;
        };
        let Some(thickness) = thickness_at(&all, flaw.at.to_f64()) else {
            ledger.not_judged(
                RULE,
                format!("thickness at the ridge on both sides of {}", flaw.id),
            );
            continue;
        };
        let after = thickness - depth.scaled(flaw.faces.len().clamp(1, 2) as f64);
        let text = format!(
            "{} at {} mm is {} deep; clearing it would leave {} at the ridge, and the plan allows {}",
            flaw.id,
            flaw.at.value,
            print::with_expanded(depth, "mm"),
            print::with_expanded(after, "mm"),
            print::with_expanded(limit, "mm")
        );
        if against_estimate(after, limit) == Against::Above {
            ledger.quiet(RULE, text, (after, limit, Side::Below), "mm");
            continue;
        }
        let numbers = [
            number("depth", depth, Unit::Millimetre),
            number("thickness after clearing", after, Unit::Millimetre),
            number("thinnest by the plan", limit, Unit::Millimetre),
        ];
        let places = [format!("/flaws/{index}/depth"), "/plan/thinnest".to_owned()];
        let text = format!("Leave it, or change the plan: {text}.");
        ledger.find(
            RULE,
            Level::Caution,
            &text,
            &places,
            numbers.into_iter().flatten().collect(),
        );
        ledger.by(left_text(after - limit, "mm"));
    }
}

/// Work with a stone, which takes steel.
const fn takes_steel(operation: Operation) -> bool {
    matches!(
        operation,
        Operation::Grind | Operation::Polish | Operation::PointFinish
    )
}

/// Core steel that shows, or a tired blade, ends what may be taken in that zone.
fn core_steel(sheet: &Sheet, ledger: &mut Ledger<'_>) {
    const RULE: &str = "care.core-steel";
    for (index, flaw) in sheet.flaws.iter().enumerate() {
        if !matches!(flaw.kind, FlawKind::Shingane | FlawKind::Tsukare)
            || rung(flaw) == Rung::RuledOut
        {
            continue;
        }
        let Some(plan) = &sheet.plan else {
            ledger.not_judged(
                RULE,
                format!("a plan: what stages take in the zone of {}", flaw.id),
            );
            continue;
        };
        let stages: Vec<usize> = plan
            .stages
            .iter()
            .enumerate()
            .filter(|(_, stage)| takes_steel(stage.operation) && stage.zones.contains(&flaw.zone))
            .map(|(place, _)| place)
            .collect();
        let what = if flaw.kind == FlawKind::Shingane {
            "core steel shows"
        } else {
            "the steel is tired"
        };
        if stages.is_empty() {
            let text = format!(
                "{}: {what}, and no stage of the plan takes steel there",
                flaw.id
            );
            ledger.nearly(RULE, text, "");
            continue;
        }
        let names: Vec<String> = stages.iter().map(|place| (place + 1).to_string()).collect();
        let text = format!(
            "At {} ({} mm, {}) {what}: it ends what may be taken there, and stage {} of the plan takes steel in that zone. Leave the              zone out, or agree with the owner on what is to become of it.",
            flaw.id,
            flaw.at.value,
            flaw.zone.key(),
            list(&names)
        );
        let places: Vec<String> = std::iter::once(format!("/flaws/{index}"))
            .chain(stages.iter().map(|place| format!("/plan/stages/{place}")))
            .collect();
        ledger.find(RULE, Level::Caution, &text, &places, Vec::new());
    }
}

fn tang(sheet: &Sheet, ledger: &mut Ledger<'_>) {
    let worked = |operation: Operation, zones: &[Zone]| {
        zones.contains(&Zone::Tang) && !matches!(operation, Operation::Etch | Operation::Oil)
    };
    let passes = sheet
        .passes
        .iter()
        .enumerate()
        .filter(|(_, pass)| worked(pass.operation, &pass.zones));
    let stages = sheet.plan.iter().flat_map(|plan| &plan.stages).enumerate();
    let stages = stages.filter(|(_, stage)| worked(stage.operation, &stage.zones));
    let places: Vec<String> = passes
        .map(|(index, _)| format!("/passes/{index}/zones"))
        .chain(stages.map(|(index, _)| format!("/plan/stages/{index}/zones")))
        .collect();
    if !places.is_empty() {
        let text = "Work on the tang is logged or planned: its patina is evidence and is never cleaned or polished.";
        ledger.find(
            "care.tang-worked",
            Level::Caution,
            text,
            &places,
            Vec::new(),
        );
    }
}
