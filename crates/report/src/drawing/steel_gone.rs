//! Steel and rust gone, from weighing to weighing, as curves.

use super::{
    Anchor, Drawing, Pen, Words,
    chart::{Chart, Spot},
    sentences,
};
use crate::{
    compare::account::Account,
    layout::style::{INK, MAP},
    scene::Stroke,
    speech::{Pair, Speech, pair},
};

/// Height of the field of a curve, mm.
const FIELD: f64 = 19.0;

/// Draws steel and rust gone from weighing to weighing, each from nothing; nothing where neither went in two steps.
pub(crate) fn steel_gone(account: &Account<'_>, width: f64, speech: Speech) -> Option<Drawing> {
    if account.weighings.len() < 3 {
        return None;
    }
    let along = [0.0, account.steps.len() as f64];
    let chart = |steel: bool, name: Pair| {
        let points: Vec<Spot> = account
            .running(steel)
            .into_iter()
            .enumerate()
            .map(|(index, gone)| Spot {
                place: index as f64,
                value: gone.value,
                expanded: gone.expanded(),
            })
            .collect();
        let moves = points.iter().any(|spot| spot.expanded > 0.0);
        let names = [pair("weighing", "計測"), name];
        moves.then(|| Chart::new(names, points, along, [true, false], FIELD))
    };
    let charts: Vec<Chart> = [
        chart(
            true,
            pair(
                "steel gone since the first weighing, g",
                "最初の計測からの鋼の減少 g",
            ),
        ),
        chart(
            false,
            pair(
                "rust gone since the first weighing, g",
                "最初の計測からの錆の減少 g",
            ),
        ),
    ]
    .into_iter()
    .flatten()
    .collect();
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
        for tick in &across.ticks {
            let x = chart.x(*tick, [left, right]);
            pen.line([x, bottom], [x, bottom + 0.9], Stroke::solid(INK, 0.2));
            pen.write(
                &across.number(*tick),
                MAP,
                [x, bottom + 2.6],
                Anchor::Middle,
            );
        }
        y = bottom + 6.0;
    }
    let across = pair(
        "step of the account; 0 is the first weighing",
        "収支の段階（0 は最初の計測）",
    );
    pen.say(&across, MAP, [right, y - 0.4], Anchor::Right);
    y += 2.4;
    let words = Words {
        title: pair("Steel and rust gone", "鋼と錆の減少"),
        alternative: sentences(charts.iter().map(Chart::told)),
        note: pair(
            "Bars: expanded uncertainty (k = 2) against the first weighing. What no pass explains is in neither curve.",
            "縦棒は最初の計測に対する拡張不確かさ（k = 2）。該当する工程のない減少は含まない。",
        ),
    };
    Drawing::of(pen, [width, y], words)
}
