//! The plan in words, tables and curves.

use tangmark_author::words::{counted, list};
use tangmark_author::{Notes, column, numbers, point, text_column};
use tangmark_core::record::{Term as _, Zone};
use tangmark_core::units::Unit;
use tangmark_measure::decision::GUARD_95;
use tangmark_measure::{Estimate, print};
use tangmark_plugin::{Axis, Level, Series, Table};

use crate::gauge::Stop;
use crate::need::Need;
use crate::plan::{Bench, Factors, Plan, left_out};
use crate::price::fixed;
use crate::rates::Observation;
use crate::surface::steel;
use crate::tradeoff::{Choice, Curve};

/// Writes hours and minutes as a colleague says them.
fn hours(minutes: Estimate) -> String {
    print::with_expanded(minutes.scaled(1.0 / 60.0), "h")
}

fn grams(one: Estimate) -> String {
    print::with_expanded(one, "g")
}

fn zones(all: &[Zone]) -> String {
    list(
        &all.iter()
            .map(|zone| zone.key().to_owned())
            .collect::<Vec<_>>(),
    )
}

fn axis(name: &str, unit: Unit) -> Axis {
    Axis {
        name: name.to_owned(),
        unit: unit.code().to_owned(),
    }
}

/// The curve of steel against pits, and the choices around its knee.
pub(crate) fn trade_off(
    need: &Need,
    curve: &Curve,
    chosen: Option<usize>,
    percent: f64,
    fairing: f64,
    notes: &mut Notes<'_>,
) {
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
    if need.fields.is_empty() {
        return;
    }
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
        text += &format!(
            " The knee is at {} left: clearing {} costs {} more than the surface; clearing the last {} would cost {} more again.",
            pits(knee.left),
            pits(first.left.saturating_sub(knee.left)),
            more(first, knee),
            knee.left.saturating_sub(last.left),
            more(knee, last)
        );
        let index = curve.knee.unwrap_or(0);
        if let (Some(before), Some(after)) = (
            index
                .checked_sub(1)
                .and_then(|index| curve.choices.get(index)),
            curve.choices.get(index + 1),
        ) {
            text += &format!(
                " Around it: one step less leaves {} and saves {}, one step more leaves {} and costs {}.",
                pits(before.left),
                more(before, knee),
                pits(after.left),
                more(knee, after)
            );
        }
    } else if curve.choices.len() > 1 {
        text += &format!(
            " Clearing {} costs {} more; the curve has no knee, so every pit costs about its share.",
            if last.left == 0 {
                "all".to_owned()
            } else {
                format!("all but {}", last.left)
            },
            more(first, last)
        );
    }
    if let Some(choice) = chosen.and_then(|index| curve.choices.get(index)) {
        text += &format!(
            " The plan is drawn for {} left, {}.",
            pits(choice.left),
            grams(mass(choice))
        );
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
                "{}. {} takes {:.1} µm where most has to go, {} ({}){after}",
                index + 1,
                stones[stage.stone].name,
                stage.step.takes,
                grams(stage.steel),
                hours(stage.minutes)
            )
        })
        .collect();
    let text = format!(
        "On {}: {}. In all {} and {}. It ends with {}, {}. {:.1} µm goes in any case ({}), {:.0} µm is the deepest.",
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
            "The sizes overlap, so that nobody knows which is the coarser: {}. Try both on the back near the notch and compare the scratches.",
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

/// Values to stop at. `left` is what may still go, g, and `scale` the scale's doubt of one weighing with its name.
pub(crate) fn gauge(
    stops: &[Stop],
    left: Option<Estimate>,
    now: Option<(Estimate, String)>,
    notes: &mut Notes<'_>,
) {
    let mut text = String::new();
    if let (Some(left), Some((now, scale))) = (left, &now) {
        let guard = GUARD_95
            * libm::hypot(
                libm::sqrt(2.0) * now.standard_uncertainty,
                left.standard_uncertainty,
            );
        if guard >= left.value {
            text += &format!(
                "By the scale: {:.2} g may still go and the guard alone is {guard:.2} g, so your {scale} cannot police this: weigh on a finer one, \
                 dry and degreased the same way each time. ",
                left.value
            );
        } else {
            text += &format!(
                "By the scale: stop at {:.2} g ({} may still go, guard {guard:.2} g for your {scale}), dry and degreased the same way each time. ",
                now.value - left.value + guard,
                grams(left)
            );
        }
    }
    let sees = |one: &&Stop| !one.blind();
    for measure in ["thickness", "width"] {
        let of: Vec<&Stop> = stops.iter().filter(|one| one.measure == measure).collect();
        let Some(any) = of.first() else { continue };
        let blind: Vec<&&Stop> = of.iter().filter(|one| one.blind()).collect();
        if let Some(least) = of
            .iter()
            .copied()
            .filter(sees)
            .min_by(|a, b| a.at.total_cmp(&b.at))
        {
            text += &format!(
                "By {measure}: stop at {:.3} mm at the station {:.0} mm (now {:.3} mm, guard {:.3} mm). ",
                least.stop_at, least.at, least.now, least.guard
            );
        }
        if !blind.is_empty() {
            let widest = blind.iter().map(|one| one.guard).fold(0.0, f64::max);
            let most = blind.iter().map(|one| one.may_lose).fold(0.0, f64::max);
            text += &format!(
                "By {measure} at {} of {} stations your {} cannot police this: up to {most:.3} mm may go there and the guard is {widest:.3} mm; use a {} \
                 or weigh. ",
                blind.len(),
                of.len(),
                any.instrument,
                if measure == "thickness" {
                    "micrometer"
                } else {
                    "finer gauge"
                }
            );
        }
        if of.iter().any(|one| one.thinnest) {
            text += "Where the thinnest that the plan allows comes first, that is the value. ";
        }
    }
    if text.is_empty() {
        return;
    }
    let places: Vec<&str> = stops.iter().map(|one| one.pointer.as_str()).collect();
    notes.add(
        "abrasives.gauge",
        Level::Info,
        text.trim_end(),
        &places,
        Vec::new(),
    );
    if stops.is_empty() {
        return;
    }
    let rows = stops
        .iter()
        .map(|one| {
            vec![
                fixed(one.at, 1),
                one.measure.to_owned(),
                fixed(one.now, 3),
                fixed(one.may_lose, 3),
                fixed(one.guard, 3),
                fixed(one.stop_at, 3),
                match (one.blind(), one.thinnest) {
                    (true, _) => format!("{} cannot police this", one.instrument),
                    (false, true) => "the thinnest allowed decides".to_owned(),
                    (false, false) => format!("{} can", one.instrument),
                },
            ]
        })
        .collect();
    notes.table(Table {
        id: "abrasives.gauge".to_owned(),
        title: "Readings at which to stop".to_owned(),
        columns: vec![
            column("station", Unit::Millimetre),
            text_column("measure"),
            column("now", Unit::Millimetre),
            column("may lose", Unit::Millimetre),
            column("guard", Unit::Millimetre),
            column("stop at", Unit::Millimetre),
            text_column("instrument"),
        ],
        rows,
        source: "now less what may go, plus 1.645 times root two times u of one reading; plane geometry of the section".to_owned(),
    });
}

/// Rates as learned from the log.
pub(crate) fn rates(
    bench_stones: &[crate::stones::Stone],
    settings: &crate::settings::Settings,
    log: &[Observation],
    learned: &crate::rates::Learned,
    notes: &mut Notes<'_>,
) {
    let per_minute = 1_000.0 / settings.rate_area_mm2;
    let mut rows = Vec::new();
    let mut words = Vec::new();
    for (index, stone) in bench_stones.iter().enumerate() {
        let passes = log.iter().filter(|seen| seen.stone == index).count();
        let (Some(rate), true) = (learned.rate(index), stone.grain.is_some() || passes > 0) else {
            continue;
        };
        let before = stone.prior(settings).median() * per_minute;
        let (low, high) = rate.interval();
        rows.push(vec![
            stone.name.clone(),
            passes.to_string(),
            fixed(before, 3),
            fixed(rate.median() * per_minute, 3),
            fixed(low * per_minute, 3),
            fixed(high * per_minute, 3),
            if stone.rate.is_some() {
                "measured before"
            } else {
                "guess from the grain"
            }
            .to_owned(),
        ]);
        if passes > 0 {
            words.push(format!(
                "{} {:.2} µm a minute ({:.2} to {:.2}) after {}, {before:.2} before",
                stone.name,
                rate.median() * per_minute,
                low * per_minute,
                high * per_minute,
                counted(passes, "pass").replace("passs", "passes")
            ));
        }
    }
    if rows.is_empty() {
        return;
    }
    if !words.is_empty() {
        let text = format!(
            "Rates on {} mm2 by the log: {}. Scatter from pass to pass about {:.0} %.",
            settings.rate_area_mm2,
            words.join("; "),
            100.0 * learned.scatter()
        );
        notes.add(
            "abrasives.rates",
            Level::Info,
            text,
            &["/passes"],
            Vec::new(),
        );
    }
    notes.table(Table {
        id: "abrasives.rates".to_owned(),
        title: format!("Depth that a stone takes in a minute on {} mm2", settings.rate_area_mm2),
        columns: vec![
            text_column("stone"),
            text_column("passes"),
            column("before the log", Unit::Micrometre),
            column("now", Unit::Micrometre),
            column("low, 95 %", Unit::Micrometre),
            column("high, 95 %", Unit::Micrometre),
            text_column("before from"),
        ],
        rows,
        source: "normal log rate, weighed with the steel of each timed pass; drift and scatter between passes".to_owned(),
    });
}

/// Mass against stages when each is worked by the clock.
pub(crate) fn forecast(plan: &Plan, bench: &Bench<'_>, now: Estimate, notes: &mut Notes<'_>) {
    let change = bench.settings.change_minutes;
    let stages: Vec<(usize, f64)> = plan
        .stages
        .iter()
        .map(|stage| (stage.stone, (stage.step.minutes - change).max(0.0)))
        .collect();
    let all = bench.learned.forecast(now, &stages);
    let Some(last) = all.last() else { return };
    let points = std::iter::once(&now)
        .chain(&all)
        .enumerate()
        .filter_map(|(index, mass)| point(index as f64, 0, *mass))
        .collect();
    notes.series(Series {
        id: "abrasives.forecast".to_owned(),
        title: "Mass when each stage is worked for its planned time".to_owned(),
        x: axis("stages done", Unit::One),
        y: axis("mass", Unit::Gram),
        points,
        source: "mass now less density times rate times minutes of each stage; the doubts of rate, drift, scatter and scale".to_owned(),
    });
    let text = format!(
        "Worked by the clock alone, without scale or gauge, the plan ends at {}; by the scale it is stopped where it should be.",
        grams(*last)
    );
    notes.add(
        "abrasives.forecast",
        Level::Info,
        text,
        &["/dimensions/mass"],
        numbers(&[("mass at the end", *last, Unit::Gram)]),
    );
}
