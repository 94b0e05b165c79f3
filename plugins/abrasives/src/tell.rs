//! The plan in words, tables and curves.

use tangmark_author::words::{counted, list};
use tangmark_author::{Notes, column, numbers, point, text_column};
use tangmark_core::record::{
    Flaw, FlawKind, Operation, Sheet, Standing, SurfaceGrade, Term as _, Zone,
};
use tangmark_core::units::Unit;
use tangmark_measure::{Estimate, print};
use tangmark_plugin::{Axis, Level, Series, Table};

use crate::need::Need;
use crate::plan::{Bench, Factors, Plan, left_out};
use crate::price::fixed;
use crate::surface::steel;
use crate::tradeoff::{Choice, Curve};

/// Writes a time as a colleague says it: the best value and the interval of 95 %, since a rate is in doubt by a factor.
fn hours(minutes: Estimate) -> String {
    let shown = |minutes: f64| {
        print::fixed(minutes / 60.0, 1).map_or_else(|_| "?".to_owned(), |value| value.to_string())
    };
    let spread = libm::sqrt(libm::log1p(minutes.relative().min(10.0).powi(2)));
    let factor = libm::exp(1.96 * spread);
    format!(
        "{} h, 95 % between {} and {} h",
        shown(minutes.value),
        shown(minutes.value / factor),
        shown(minutes.value * factor)
    )
}

pub(crate) fn say(text: &mut String, more: &str) {
    text.push_str(more);
}

pub(crate) fn grams(one: Estimate) -> String {
    print::with_expanded(one, "g")
}

fn zones(all: &[Zone]) -> String {
    list(
        &all.iter()
            .map(|zone| zone.key().to_owned())
            .collect::<Vec<_>>(),
    )
}

pub(crate) fn axis(name: &str, unit: Unit) -> Axis {
    Axis {
        name: name.to_owned(),
        unit: unit.code().to_owned(),
    }
}

/// The curve of steel against pits, and the choices around its knee.
pub(crate) fn trade_off(
    need: &Need,
    curve: &Curve,
    drawn_for: Option<(&Choice, &Need)>,
    (percent, fairing): (f64, f64),
    notes: &mut Notes<'_>,
) {
    if need.fields.is_empty() {
        return;
    }
    let mass = |choice: &Choice| steel(Estimate::exact(choice.volume), percent);
    let (Some(first), Some(last)) = (curve.choices.first(), curve.choices.last()) else {
        return;
    };
    notes.series(Series {
        id: "abrasives.trade-off".to_owned(),
        title: "Pits left against steel removed".to_owned(),
        x: axis("steel removed", Unit::Gram),
        y: axis("pits left", Unit::One),
        points: curve.choices.iter().filter_map(|one| point(mass(one).value, 3, one.expected_left)).collect(),
        source: format!(
            "each place lowered to the pit's depth + 1.645 u and led back over {fairing} mm to either side; pits left as expected from \
             the doubt of their depths"
        ),
    });
    let total: u32 = need
        .fields
        .iter()
        .map(|field| u32::try_from(field.pits.len()).unwrap_or(u32::MAX))
        .sum();
    let pits = |count: u32| counted(usize::try_from(count).unwrap_or(usize::MAX), "pit");
    let mut text = format!(
        "{} on the sheet. Leaving them, the surface alone takes {}{}.",
        pits(total),
        grams(mass(first)),
        if first.left < total {
            format!(" and clears {} with it", total - first.left)
        } else {
            String::new()
        }
    );
    let more = |from: &Choice, to: &Choice| {
        grams(steel(Estimate::exact(to.volume - from.volume), percent))
    };
    if let Some(knee) = curve.knee.map(|index| &curve.choices[index]) {
        say(
            &mut text,
            &format!(
                " The knee is at {} left: clearing {} costs {} more than the surface; clearing the last {} would cost {} more again.",
                pits(knee.left),
                pits(first.left.saturating_sub(knee.left)),
                more(first, knee),
                knee.left.saturating_sub(last.left),
                more(knee, last)
            ),
        );
        let index = curve.knee.unwrap_or(0);
        if let (Some(before), Some(after)) = (
            index
                .checked_sub(1)
                .and_then(|index| curve.choices.get(index)),
            curve.choices.get(index + 1),
        ) {
            say(
                &mut text,
                &format!(
                    " Around it: one step less leaves {} and saves {}, one step more leaves {} and costs {}.",
                    pits(before.left),
                    more(before, knee),
                    pits(after.left),
                    more(knee, after)
                ),
            );
        }
    } else if curve.choices.len() > 1 {
        say(
            &mut text,
            &format!(
                " Clearing {} costs {} more; the curve has no knee, so every pit costs about its share.",
                if last.left == 0 {
                    "all".to_owned()
                } else {
                    format!("all but {}", last.left)
                },
                more(first, last)
            ),
        );
    }
    if let Some((choice, inside)) = drawn_for {
        let outside: Vec<String> = need
            .fields
            .iter()
            .filter(|field| !inside.fields.iter().any(|one| one.id == field.id))
            .map(|field| format!("`{}` ({})", field.id, field.zone.key()))
            .collect();
        let kept: usize = need
            .fields
            .iter()
            .map(|field| field.pits.len())
            .sum::<usize>()
            - inside
                .fields
                .iter()
                .map(|field| field.pits.len())
                .sum::<usize>();
        let kept = u32::try_from(kept).unwrap_or(u32::MAX);
        say(
            &mut text,
            &format!(
                " The sequence is drawn for {} left, {}.",
                pits(choice.left.saturating_add(kept)),
                grams(mass(choice))
            ),
        );
        if !outside.is_empty() {
            say(
                &mut text,
                &format!(
                    " Outside the zones that the blade's plan works, so left as they are: {}.",
                    list(&outside)
                ),
            );
        }
    }
    if curve.in_common_steps {
        text +=
            " Too many fields touch to try every combination: those were lowered by common steps.";
    }
    let places: Vec<&str> = need
        .fields
        .iter()
        .map(|field| field.pointer.as_str())
        .collect();
    let given = numbers(&[
        ("steel, pits left as they are", mass(first), Unit::Gram),
        ("steel, all cleared that can be", mass(last), Unit::Gram),
        ("pits left then, as expected", last.expected_left, Unit::One),
    ]);
    notes.add("abrasives.trade-off", Level::Info, text, &places, given);
    let beyond: Vec<String> = need
        .fields
        .iter()
        .filter(|field| field.beyond_limit > 0)
        .map(|field| {
            format!(
                "{} of `{}` in the zone {}",
                pits(field.beyond_limit),
                field.id,
                field.zone.key()
            )
        })
        .collect();
    if !beyond.is_empty() {
        let text = format!(
            "Deeper than their zone may go, so they stay: {}.",
            list(&beyond)
        );
        notes.add(
            "abrasives.zone-limit",
            Level::Caution,
            text,
            &places,
            Vec::new(),
        );
    }
}

/// The sequence in words and as a table.
pub(crate) fn plan(plan: &Plan, bench: &Bench<'_>, now: Option<Estimate>, notes: &mut Notes<'_>) {
    let stones = bench.stones;
    let parts: Vec<String> = plan
        .stages
        .iter()
        .enumerate()
        .map(|(index, stage)| {
            let after = now.map_or(String::new(), |now| {
                format!(", mass then {}", grams(now - stage.so_far))
            });
            format!(
                "{}. {} takes {:.1} µm where most has to go, {} in {}{after}",
                index + 1,
                stones[stage.stone].name,
                stage.step.takes,
                grams(stage.steel),
                hours(stage.minutes)
            )
        })
        .collect();
    let rust = if rusted(bench.sheet) {
        " Take the rust off first and weigh again: rust is not steel."
    } else {
        ""
    };
    let text = format!(
        "On {}: {}. In all {} in {}. It ends with {}, {}. {:.1} µm goes in any case ({}), {:.0} µm is the deepest.{rust}",
        zones(&bench.need.zones),
        parts.join("; "),
        grams(plan.total()),
        hours(plan.minutes()),
        stones[plan.target].name,
        plan.target_from,
        bench.need.surface.value,
        bench.need.surface_from,
        plan.deepest
    );
    let given = numbers(&[
        ("steel in all", plan.total(), Unit::Gram),
        ("time in all", plan.minutes(), Unit::Minute),
    ]);
    notes.add(
        "abrasives.plan",
        Level::Info,
        text,
        &["/plan", "/examination/surface"],
        given,
    );
    notes.quantity(
        "plan-steel",
        plan.total(),
        Unit::Gram,
        "volume under the depths of the plan times density",
    );
    notes.quantity(
        "plan-time",
        plan.minutes(),
        Unit::Minute,
        "volume of each stage over the stone's rate, and changes of stones",
    );
    let rows = plan
        .stages
        .iter()
        .enumerate()
        .map(|(index, stage)| {
            let stone = &stones[stage.stone];
            let after = now.map(|now| now - stage.so_far);
            vec![
                (index + 1).to_string(),
                stone.name.clone(),
                stone
                    .grain
                    .map_or_else(String::new, |grain| fixed(grain.nominal, 1)),
                fixed(stage.step.takes, 1),
                fixed(stage.step.area, 0),
                fixed(stage.steel.value, 2),
                fixed(stage.steel.standard_uncertainty, 2),
                after.map_or_else(String::new, |after| fixed(after.value, 2)),
                after.map_or_else(String::new, |after| fixed(after.standard_uncertainty, 2)),
                fixed(stage.minutes.value, 0),
                fixed(stage.minutes.standard_uncertainty, 0),
            ]
        })
        .collect();
    notes.table(Table {
        id: "abrasives.sequence".to_owned(),
        title: "Stones in order, and what each takes".to_owned(),
        columns: vec![
            text_column("stage"),
            text_column("stone"),
            column("D50", Unit::Micrometre),
            column("takes", Unit::Micrometre),
            column("works", Unit::SquareMillimetre),
            column("steel", Unit::Gram),
            column("u of the steel", Unit::Gram),
            column("mass after", Unit::Gram),
            column("u of the mass", Unit::Gram),
            column("time", Unit::Minute),
            column("u of the time", Unit::Minute),
        ],
        rows,
        source:
            "least steel, then least time, by dynamic programming; standard uncertainties, k = 1"
                .to_owned(),
    });
    beside(plan, bench, notes);
}

/// Rust on the sheet, and no pass that took it off.
fn rusted(sheet: &Sheet) -> bool {
    let grade = sheet.examination.as_ref().map(|one| one.surface);
    let surface = matches!(
        grade,
        Some(SurfaceGrade::Rusted | SurfaceGrade::DeeplyRusted)
    );
    let flaw =
        |flaw: &Flaw| flaw.kind == FlawKind::SabiActive && flaw.standing != Standing::RuledOut;
    let taken_off = sheet
        .passes
        .iter()
        .any(|pass| pass.operation == Operation::Derust);
    (surface || sheet.flaws.iter().any(flaw)) && !taken_off
}

/// What stands beside the sequence: assumptions, stones left out, wide steps, undecided orders, cautions.
fn beside(plan: &Plan, bench: &Bench<'_>, notes: &mut Notes<'_>) {
    let (stones, settings) = (bench.stones, bench.settings);
    let factors = Factors::of(settings);
    let sizes: Vec<String> = plan
        .stages
        .iter()
        .map(|stage| {
            format!(
                "{}: {}",
                stones[stage.stone].name, stones[stage.stone].basis
            )
        })
        .collect();
    let text = format!(
        "Taken for granted, not measured: scratches are {:.2} of D50 deep, the damaged layer below them {:.1} times as deep again (from \
         memory of metallography texts); a range of sizes counts with its coarse end; a lowered place is led back over {} mm to either \
         side; of a field of pits only the deepest was measured, the others are {}; faces are flat. Sizes: {}. All of these are settings.",
        factors.scratch,
        factors.damage,
        settings.fairing_mm,
        match settings.field_depths {
            crate::settings::FieldDepths::Even => "spread evenly below it",
            crate::settings::FieldDepths::AllDeepest => "taken as deep",
        },
        sizes.join("; ")
    );
    notes.add(
        "abrasives.assumptions",
        Level::Info,
        text,
        &["/plan", "/flaws"],
        Vec::new(),
    );
    let skipped: Vec<String> = (0..stones.len())
        .filter_map(|index| {
            Some(format!(
                "{} ({})",
                stones[index].name,
                left_out(index, plan, bench)?
            ))
        })
        .collect();
    if !skipped.is_empty() {
        notes.add(
            "abrasives.skipped",
            Level::Info,
            format!("Left out: {}.", skipped.join("; ")),
            &["/plan"],
            Vec::new(),
        );
    }
    let pairs = || {
        plan.stages
            .windows(2)
            .map(|pair| (&stones[pair[0].stone], &stones[pair[1].stone], &pair[1]))
    };
    let wide: Vec<String> = pairs()
        .filter(|(_, _, stage)| stage.step.breach)
        .filter_map(|(from, to, _)| {
            let ratio = from.grain?.nominal / to.grain?.nominal;
            Some(format!(
                "from {} to {} D50 falls {ratio:.1} to 1",
                from.name, to.name
            ))
        })
        .collect();
    if !wide.is_empty() {
        let text = format!(
            "Outside the preferred {} to {} to 1: {}. Look with a loupe that the scratches of the stage before are gone, or put a stone between.",
            settings.least_ratio,
            settings.greatest_ratio,
            list(&wide)
        );
        notes.add(
            "abrasives.ratio",
            Level::Caution,
            text,
            &["/plan"],
            Vec::new(),
        );
    }
    let undecided: Vec<String> = pairs()
        .filter(|(from, to, _)| {
            from.grain
                .zip(to.grain)
                .is_some_and(|(from, to)| from.overlaps(to))
        })
        .map(|(from, to, _)| format!("{} and {}", from.name, to.name))
        .collect();
    if !undecided.is_empty() {
        let text = format!(
            "The sizes overlap, so that nobody knows which is the coarser: {}. Try both on a scrap of hardened steel and compare the scratches.",
            undecided.join("; ")
        );
        notes.add("abrasives.order", Level::Info, text, &["/plan"], Vec::new());
    }
    notes.add(
        "abrasives.care",
        Level::Info,
        "Work wet and wipe mud up wet: the dust of natural stones holds crystalline silica, so no dry sanding; local limits decide. Keep the \
         edge covered except on the stone, and the tang out of it. A bent blade is straightened before any stone.",
        &["/plan"],
        Vec::new(),
    );
}
