//! What came in and went out in the months of a year: two bars for each month, one field for each currency.

use super::{
    Anchor, Drawing, Pen, Words,
    axis::{Axis, ends},
    sentences,
};
use crate::{
    layout::style::{HAIR, INDIGO, INK, MAP, SLATE},
    scene::{Colour, Path, Stroke},
    speech::{Pair, Speech, pair},
};

/// What came in and went out in one currency.
#[derive(Debug, Clone, PartialEq)]
pub struct MonthBars<'a> {
    /// Code of the currency.
    pub unit: &'a str,
    /// What came in, from January on; more than twelve are left out.
    pub came: Vec<f64>,
    /// What went out.
    pub went: Vec<f64>,
}

/// Height of a field between its axes, mm.
const FIELD: f64 = 34.0;
/// Room above a field for its currency, and below it for the months, mm.
const ABOVE: f64 = 5.0;
const BELOW: f64 = 6.0;
/// Months of a year.
const MONTHS: usize = 12;
/// Share of a month that its two bars fill.
const FILLED: f64 = 0.72;

/// Draws the bars of a year; nothing where no amount is above zero.
pub(crate) fn months(
    year: &str,
    fields: &[MonthBars<'_>],
    width: f64,
    speech: Speech,
) -> Option<Drawing> {
    let sound = |values: &[f64]| values.iter().all(|value| value.is_finite());
    let any = |values: &[f64]| values.iter().any(|value| *value > 0.0);
    let fields: Vec<&MonthBars<'_>> = fields
        .iter()
        .filter(|field| sound(&field.came) && sound(&field.went))
        .filter(|field| any(&field.came) || any(&field.went))
        .collect();
    if fields.is_empty() {
        return None;
    }
    let mut pen = Pen::new(speech);
    let mut top = 0.0;
    for field in &fields {
        draw_field(&mut pen, field, top, width);
        top += ABOVE + FIELD + BELOW;
    }
    let words = Words {
        title: pair(
            format!("What came in and went out in {year}"),
            format!("{year} 年の収入と支出"),
        ),
        alternative: alternative(year, &fields),
        note: pair(
            "Filled: came in. Outlined: went out. Each field has its own scale; currencies are never added.",
            "塗りは収入、枠のみは支出。目盛りは通貨ごとに異なり、通貨どうしは合算しない。",
        ),
    };
    Drawing::of(pen, [width, top], words)
}

fn draw_field(pen: &mut Pen, field: &MonthBars<'_>, top: f64, width: f64) {
    let bars = || field.came.iter().chain(&field.went).copied();
    let axis = Axis::new(ends(bars().chain([0.0])), 4.0, false);
    let labels: Vec<String> = axis.ticks.iter().map(|tick| axis.number(*tick)).collect();
    let widest = labels
        .iter()
        .map(|label| super::words_width(label, MAP))
        .fold(0.0, f64::max);
    let (left, bottom) = (widest + 2.0, top + ABOVE + FIELD);
    let height = |value: f64| bottom - axis.share(value) * FIELD;
    pen.write(field.unit, MAP, [0.0, top + 1.8], Anchor::Left);
    for (tick, label) in axis.ticks.iter().zip(&labels) {
        let y = height(*tick);
        pen.line([left, y], [width, y], Stroke::solid(HAIR, 0.15));
        pen.write(label, MAP, [widest, y], Anchor::Right);
    }
    let month = (width - left) / MONTHS as f64;
    let bar = month * FILLED / 2.0;
    for index in 0..MONTHS {
        let start = left + index as f64 * month;
        let middle = start + month / 2.0;
        let number = (index + 1).to_string();
        pen.write(&number, MAP, [middle, bottom + 2.6], Anchor::Middle);
        let at = |values: &[f64]| values.get(index).copied().filter(|value| *value > 0.0);
        if let Some(came) = at(&field.came) {
            let y = height(came);
            let shape = Path::rectangle(middle - bar, y, bar, bottom - y);
            pen.fill(shape, INDIGO);
        }
        if let Some(went) = at(&field.went) {
            let y = height(went);
            let shape = Path::rectangle(middle, y, bar, bottom - y);
            pen.fill(shape.clone(), Colour::WHITE);
            pen.stroke(shape, Stroke::solid(INK, 0.25));
        }
    }
    pen.line([left, bottom], [width, bottom], Stroke::solid(SLATE, 0.25));
}

fn alternative(year: &str, fields: &[&MonthBars<'_>]) -> Pair {
    let first = pair(
        format!("Bars for the months of {year}."),
        format!("{year} 年の月別の棒グラフ。"),
    );
    let said = fields.iter().map(|field| {
        let months = (0..MONTHS).filter_map(|index| {
            let at = |values: &[f64]| values.get(index).copied().unwrap_or(0.0);
            let (came, went) = (at(&field.came), at(&field.went));
            (came > 0.0 || went > 0.0).then(|| {
                let number = |value: f64| {
                    let text = super::decimals(value, 2);
                    text.trim_end_matches('0').trim_end_matches('.').to_owned()
                };
                (index + 1, number(came), number(went))
            })
        });
        let (mut en, mut ja) = (Vec::new(), Vec::new());
        for (month, came, went) in months {
            en.push(format!("month {month} in {came}, out {went}"));
            ja.push(format!("{month} 月 収入 {came}、支出 {went}"));
        }
        pair(
            format!("{}: {}.", field.unit, en.join("; ")),
            format!("{}：{}。", field.unit, ja.join("、")),
        )
    });
    sentences(std::iter::once(first).chain(said))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn each_month_with_money_has_its_bars() {
        let mut came = vec![0.0; 12];
        let mut went = vec![0.0; 12];
        came[2] = 480.0;
        went[2] = 240.5;
        went[11] = 12.0;
        let field = MonthBars {
            unit: "EUR",
            came,
            went,
        };
        let drawing = months("2026", std::slice::from_ref(&field), 160.0, Speech::English).unwrap();
        assert_eq!(
            drawing.alternative,
            "Bars for the months of 2026. EUR: month 3 in 480, out 240.5; month 12 in 0, out 12."
        );
        let empty = MonthBars {
            unit: "EUR",
            came: vec![0.0; 12],
            went: Vec::new(),
        };
        assert!(months("2026", &[empty], 160.0, Speech::English).is_none());
        let broken = MonthBars {
            unit: "EUR",
            came: vec![f64::NAN],
            went: vec![1.0],
        };
        assert!(months("2026", &[broken], 160.0, Speech::English).is_none());
    }
}
