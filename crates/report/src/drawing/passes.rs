//! Mass and thickness from pass to pass, with the operations named below.

use std::collections::BTreeMap;

use tangmark_core::record::{Length, Mass, Pass, PassReadings, Quantity, Record};

use super::{
    Anchor, Drawing, Pen, Words,
    chart::{Chart, Spot},
    profile::mm,
    ruler, sentences, tenths,
};
use crate::{
    layout::style::{INK, MAP},
    pages::words,
    scene::Stroke,
    speech::{Pair, Speech, pair},
};

/// Height of one field, mm.
const FIELD: f64 = 30.0;
/// Height of a line of the list of passes, mm.
const LINE: f64 = 3.4;
/// Most passes that are named below.
const NAMED: usize = 30;
/// Most passes that have a number of their own on the axis.
const NUMBERED: usize = 40;
/// Width of number and date of a pass, mm.
const DATE: f64 = 19.0;
/// Least width of a column of the list, mm.
const COLUMN: f64 = 52.0;

/// The passes of a blade in order, each once: those of earlier records first.
pub(crate) fn passes_of<'a>(record: &'a Record, earlier: &'a [Record]) -> Vec<&'a Pass> {
    let mut passes: Vec<&Pass> = Vec::new();
    let all = earlier.iter().chain([record]).flat_map(|one| &one.passes);
    for pass in all {
        match passes.iter().position(|known| known.id == pass.id) {
            // A later record may say more of the same pass.
            Some(index) => passes[index] = pass,
            None => passes.push(pass),
        }
    }
    passes
}

type Reading = fn(&PassReadings, f64) -> Option<&Quantity>;

fn mass(readings: &PassReadings, _: f64) -> Option<&Quantity> {
    readings.mass.as_ref().map(|mass: &Mass| &mass.0)
}

fn thickness(readings: &PassReadings, at: f64) -> Option<&Quantity> {
    let same = |place: f64| (place - at).abs() < 0.5;
    let stations = readings.stations.iter();
    stations
        .filter(|station| same(station.at.to_f64()))
        .find_map(|station| station.ridge_thickness.as_ref())
        .map(|length: &Length| &length.0)
}

/// Values before the first pass (0) and after each (1, 2, …), as far as they were read.
fn spots<'a>(passes: &[&'a Pass], reading: Reading, at: f64) -> Vec<Spot> {
    let read = |readings: Option<&'a PassReadings>| readings.and_then(|one| reading(one, at));
    (0..=passes.len())
        .filter_map(|index| {
            let before = index.checked_sub(1).and_then(|it| passes.get(it));
            let after_last = before.and_then(|pass| read(pass.after.as_ref()));
            // What was read before the next pass stands for what was not read after the last.
            let quantity = after_last.or_else(|| {
                passes
                    .get(index)
                    .and_then(|pass| read(pass.before.as_ref()))
            })?;
            let spot = Spot {
                place: index as f64,
                value: quantity.to_f64(),
                expanded: 2.0 * quantity.standard().abs(),
            };
            (spot.value.is_finite() && spot.expanded.is_finite()).then_some(spot)
        })
        .collect()
}

/// The place where the thickness was read most often, nearest to the datum among equals.
fn usual_place(passes: &[&Pass]) -> Option<f64> {
    let mut counts: BTreeMap<i64, usize> = BTreeMap::new();
    let readings = passes.iter().flat_map(|pass| [&pass.before, &pass.after]);
    for station in readings.flatten().flat_map(|one| &one.stations) {
        let at = mm(Some(&station.at)).filter(|at| at.abs() < 1e5);
        if let (Some(at), Some(_)) = (at, &station.ridge_thickness) {
            // Whole millimetres, well within the range.
            #[allow(clippy::cast_possible_truncation)]
            let at = at.round() as i64;
            *counts.entry(at).or_default() += 1;
        }
    }
    let most = counts
        .iter()
        .max_by(|a, b| a.1.cmp(b.1).then(b.0.cmp(a.0)))?;
    Some(*most.0 as f64)
}

/// Draws mass and thickness against passes; nothing where neither was read twice.
pub(crate) fn pass_history(
    record: &Record,
    earlier: &[Record],
    width: f64,
    speech: Speech,
) -> Option<Drawing> {
    let passes = passes_of(record, earlier);
    let chart = |up: Pair, points: Vec<Spot>| {
        let along = [0.0, (passes.len() as f64).max(1.0)];
        let names = [pair("pass", "工程"), up];
        (points.len() >= 2).then(|| Chart::new(names, points, along, [true, false], FIELD))
    };
    let by_mass = chart(pair("mass, g", "質量 g"), spots(&passes, mass, 0.0));
    let by_thickness = usual_place(&passes).and_then(|at| {
        let (place, datum) = (tenths(at), ruler::datum(record));
        let name = pair(
            format!(
                "thickness at the ridge, {place} mm from the {}, mm",
                datum.en
            ),
            format!("{}より {place} mm の鎬重 mm", datum.ja),
        );
        chart(name, spots(&passes, thickness, at))
    });
    let charts: Vec<Chart> = [by_mass, by_thickness].into_iter().flatten().collect();
    if charts.is_empty() {
        return None;
    }
    let left = charts.iter().map(Chart::left).fold(0.0, f64::max);
    let right = width - 4.0;
    let mut pen = Pen::new(speech);
    let mut y = 0.0;
    for chart in &charts {
        let bottom = chart.draw_field(&mut pen, [left, right], y);
        let [across, _] = &chart.axes;
        let mut tick = |number: f64| {
            let x = chart.x(number, [left, right]);
            pen.line([x, bottom], [x, bottom + 0.9], Stroke::solid(INK, 0.2));
            pen.write(&tenths(number), MAP, [x, bottom + 2.6], Anchor::Middle);
        };
        if passes.len() <= NUMBERED {
            (0..=passes.len()).for_each(|number| tick(number as f64));
        } else {
            across.ticks.iter().for_each(|number| tick(*number));
        }
        y = bottom + 6.0;
    }
    let across = pair(
        "after pass number; 0 is before the first",
        "工程番号（0 は最初の工程の前）",
    );
    pen.say(&across, MAP, [right, y - 0.4], Anchor::Right);
    y += 3.0;
    let named = passes.len().min(NAMED);
    let columns = (width / COLUMN).floor().max(1.0);
    let column = width / columns;
    // A handful.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let rows = named.div_ceil((columns as usize).max(1)).max(1);
    for (index, pass) in passes.iter().take(named).enumerate() {
        let at = [
            (index / rows) as f64 * column,
            y + (index % rows) as f64 * LINE + LINE / 2.0,
        ];
        let number = (index + 1).to_string();
        pen.write(&number, MAP, [at[0] + 3.4, at[1]], Anchor::Right);
        pen.write(
            &pass.on.to_string(),
            MAP,
            [at[0] + 5.0, at[1]],
            Anchor::Left,
        );
        let name = words::name(pass.operation);
        let place = [at[0] + DATE, at[1]];
        pen.say_within(&name, MAP, place, Anchor::Left, column - DATE - 2.0);
    }
    y += rows as f64 * LINE;
    let words = Words {
        title: if charts.len() > 1 {
            pair(
                "Mass and thickness from pass to pass",
                "工程ごとの質量と重ね",
            )
        } else {
            pair("Measures from pass to pass", "工程ごとの計測値")
        },
        alternative: alternative(&charts, &passes),
        note: note(passes.len(), named),
    };
    Drawing::of(pen, [width, y], words)
}

/// What was done in a pass, and when.
fn operation(pass: &Pass) -> Pair {
    let name = words::name(pass.operation);
    let on = &pass.on;
    pair(format!("{}, {on}", name.en), format!("{}（{on}）", name.ja))
}

fn alternative(charts: &[Chart], passes: &[&Pass]) -> Pair {
    let count = passes.len();
    let mut parts = vec![pair(
        format!("{count} {}.", if count == 1 { "pass" } else { "passes" }),
        format!("工程 {count} 回。"),
    )];
    for (index, pass) in passes.iter().take(NAMED).enumerate() {
        let (number, what) = (index + 1, operation(pass));
        parts.push(pair(
            format!("{number}: {}.", what.en),
            format!("{number}：{}。", what.ja),
        ));
    }
    parts.extend(charts.iter().map(Chart::told));
    sentences(parts)
}

fn note(count: usize, named: usize) -> Pair {
    let mut parts = vec![pair(
        "Bars: expanded uncertainty (k = 2) of each reading. Rust that was lifted counts in the mass as steel does.",
        "縦棒は各測定の拡張不確かさ（k = 2）。除いた錆も質量に含まれる。",
    )];
    if named < count {
        parts.push(pair(
            format!("The first {named} of {count} passes are named."),
            format!("{count} 工程のうち最初の {named} 工程を記す。"),
        ));
    }
    sentences(parts)
}
