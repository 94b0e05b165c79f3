//! One number over another, with what is not known of it.

use std::borrow::Cow;

use tangmark_core::{
    record::{Artefact, ArtefactKind, Column, Record},
    units::Unit,
};

use super::{
    Anchor, Drawing, Pen, Words,
    axis::{Axis, ends, is_whole},
    pen::rows,
    sentences, words_width,
};
use crate::{
    layout::style::{HAIR, INDIGO, INK, MAP},
    pages::words::unit,
    scene::{Path, Stroke},
    speech::{Pair, Speech, pair},
};

/// Height of the field between the axes, mm.
const FIELD: f64 = 42.0;
/// Room below the field for numbers and the name of the axis.
const BELOW: f64 = 8.0;
/// Room above the field for the name of the upright axis.
const ABOVE: f64 = 5.0;
/// Most points that get a mark of their own.
const MARKED: usize = 60;
/// Distance of the first place from the upright axis, mm.
const INSET: f64 = 2.0;
/// Half-width of the bars of uncertainty at their ends.
const SERIF: f64 = 0.7;

/// Draws the series of a plugin in `width` mm; nothing for a table, or for fewer than two points that are numbers.
pub(crate) fn chart(artefact: &Artefact, width: f64, speech: Speech) -> Option<Drawing> {
    let chart = Chart::of_series(artefact)?;
    let mut pen = Pen::new(speech);
    let height = chart.draw(&mut pen, width);
    let bars = chart.points.iter().any(|point| point.expanded > 0.0);
    let note = if bars {
        pair(
            "Bars: expanded uncertainty (k = 2); they end at nothing for what cannot be less.",
            "縦棒は拡張不確かさ（k = 2）。負になり得ない量では 0 で止める。",
        )
    } else {
        pair("", "")
    };
    let words = Words {
        title: Pair {
            en: Cow::Owned(artefact.title.clone()),
            ja: Cow::Owned(artefact.title.clone()),
        },
        alternative: chart.alternative(&artefact.title),
        note,
    };
    Drawing::of(pen, [width, height], words)
}

/// Draws what is left for the steel that goes, when a plugin of the record computed it.
pub(crate) fn trade_off(record: &Record, width: f64, speech: Speech) -> Option<Drawing> {
    let series = record.runs.iter().flat_map(|run| &run.artefacts);
    // Only this curve has steel on the axis along which it is read; along all others lie passes, stages or places.
    let over_steel = |artefact: &&Artefact| {
        artefact.kind == ArtefactKind::Series
            && artefact
                .columns
                .first()
                .is_some_and(|column| column.unit == Some(Unit::Gram))
    };
    series
        .filter(over_steel)
        .find_map(|artefact| chart(artefact, width, speech))
}

/// One point.
#[derive(Debug, Clone, Copy)]
pub(super) struct Spot {
    pub(super) place: f64,
    pub(super) value: f64,
    /// Expanded uncertainty (k = 2) of the value; zero where it is not known.
    pub(super) expanded: f64,
}

/// Points with the names of what they say.
#[derive(Debug, Clone)]
pub(super) struct Chart {
    across: Pair,
    up: Pair,
    points: Vec<Spot>,
    /// The axes, along and up.
    pub(super) axes: [Axis; 2],
    /// Whether no value is below nothing.
    never_below: bool,
    /// Height of the field between the axes, mm.
    field: f64,
}

/// Where the bar of a point ends below: what has no value below nothing has no bar there either.
fn low(point: &Spot, never_below: bool) -> f64 {
    let low = point.value - point.expanded;
    if never_below { low.max(0.0) } else { low }
}

impl Chart {
    /// Lays out points between the first and last place `along` the axis; `counted` says, along and up, whether nothing
    /// lies between whole numbers, `field` is the height between the axes in mm.
    pub(super) fn new(
        [across, up]: [Pair; 2],
        points: Vec<Spot>,
        along: [f64; 2],
        counted: [bool; 2],
        field: f64,
    ) -> Self {
        let never_below = points.iter().all(|point| point.value >= 0.0);
        let reach = ends(
            points
                .iter()
                .flat_map(|point| [low(point, never_below), point.value + point.expanded]),
        );
        Self {
            across,
            up,
            points,
            axes: [
                Axis::new(along, 8.0, counted[0]),
                Axis::new(reach, 5.0, counted[1]),
            ],
            never_below,
            field,
        }
    }

    fn of_series(artefact: &Artefact) -> Option<Self> {
        if artefact.kind != ArtefactKind::Series {
            return None;
        }
        let (across, up) = (artefact.columns.first()?, artefact.columns.get(1)?);
        let doubt = artefact.columns.get(2);
        let read = |column: &Column, row: usize| -> Option<f64> {
            let value: f64 = column.cells.get(row)?.parse().ok()?;
            // Beyond this no axis has round numbers that can be told apart.
            (value.is_finite() && value.abs() < 1e12).then_some(value)
        };
        let points: Vec<Spot> = (0..across.cells.len())
            .filter_map(|row| {
                let uncertainty = doubt.and_then(|column| read(column, row)).unwrap_or(0.0);
                Some(Spot {
                    place: read(across, row)?,
                    value: read(up, row)?,
                    expanded: 2.0 * uncertainty.abs(),
                })
            })
            .collect();
        let counted = |column: &Column| {
            column
                .cells
                .iter()
                .all(|cell| cell.parse::<f64>().is_ok_and(is_whole))
        };
        let along = ends(points.iter().map(|point| point.place));
        (points.len() >= 2).then(|| {
            let counted = [counted(across), counted(up)];
            Self::new([name(across), name(up)], points, along, counted, FIELD)
        })
    }

    fn low(&self, point: &Spot) -> f64 {
        low(point, self.never_below)
    }

    /// The chart in words.
    fn alternative(&self, title: &str) -> Pair {
        let told = self.told();
        pair(
            format!("Chart: {title}. {}", told.en),
            format!("図：{title}。{}", told.ja),
        )
    }

    /// What the chart tells: its ends, its least and its greatest value.
    pub(super) fn told(&self) -> Pair {
        let [across, up] = &self.axes;
        let said = |point: &Spot| {
            let value = up.number_at(point.value);
            let place = across.number_at(point.place);
            let doubt = if point.expanded > 0.0 {
                format!(" (± {})", up.number_at(point.expanded))
            } else {
                String::new()
            };
            pair(
                format!("{value} at {place}{doubt}"),
                format!("{place} で {value}{doubt}"),
            )
        };
        let by_value = |a: &&Spot, b: &&Spot| a.value.total_cmp(&b.value);
        let count = self.points.len();
        let mut parts = vec![pair(
            format!("{} over {}, {count} points.", self.up.en, self.across.en),
            format!("横軸 {}、縦軸 {}、{count} 点。", self.across.ja, self.up.ja),
        )];
        let named = [
            ("First", "最初", self.points.first()),
            ("Last", "最後", self.points.last()),
            ("Least", "最小", self.points.iter().min_by(by_value)),
            ("Greatest", "最大", self.points.iter().max_by(by_value)),
        ];
        for (en, ja, point) in named {
            if let Some(point) = point {
                let said = said(point);
                parts.push(pair(
                    format!("{en}: {}.", said.en),
                    format!("{ja}：{}。", said.ja),
                ));
            }
        }
        sentences(parts)
    }

    /// Draws the chart; returns its height.
    fn draw(&self, pen: &mut Pen, width: f64) -> f64 {
        let [across, _] = &self.axes;
        let room = |pen: &Pen, text: &str| {
            pen.width(&pair(text.to_owned(), text.to_owned()), MAP) / 2.0 + 0.5
        };
        // The last number along the axis stands around its end.
        let last = across.ticks.last().copied().unwrap_or(0.0);
        let right = width - room(pen, &across.number(last)).max(4.0);
        let left = self.left();
        let bottom = self.draw_field(pen, [left, right], 0.0);
        for tick in &across.ticks {
            let at = self.x(*tick, [left, right]);
            pen.line([at, bottom], [at, bottom + 0.9], Stroke::solid(INK, 0.2));
            let at = [at, bottom + 2.6];
            pen.write(&across.number(*tick), MAP, at, Anchor::Middle);
        }
        let at = [right, bottom + 6.0];
        pen.say_within(&self.across, MAP, at, Anchor::Right, right);
        bottom + BELOW
    }

    /// Where a place stands in a field; the first does not touch the upright axis.
    pub(super) fn x(&self, place: f64, [left, right]: [f64; 2]) -> f64 {
        let [across, _] = &self.axes;
        left + INSET + across.share(place) * (right - left - INSET)
    }

    /// Room left of the field for numbers, mm.
    pub(super) fn left(&self) -> f64 {
        let [_, up] = &self.axes;
        let widths = up
            .ticks
            .iter()
            .map(|tick| words_width(&up.number(*tick), MAP));
        widths.fold(0.0, f64::max) + 2.0
    }

    /// Draws the field with the upright axis, bars, line and points from a height down; returns the height of its foot.
    pub(super) fn draw_field(&self, pen: &mut Pen, [left, right]: [f64; 2], top: f64) -> f64 {
        let [_, up] = &self.axes;
        let name = top + rows(1, MAP) / 2.0;
        pen.say_within(&self.up, MAP, [0.0, name], Anchor::Left, right);
        let top = top + ABOVE;
        let bottom = top + self.field;
        let x = |value: f64| self.x(value, [left, right]);
        let y = |value: f64| bottom - up.share(value) * self.field;
        for tick in &up.ticks {
            let at = y(*tick);
            pen.line([left, at], [right, at], Stroke::solid(HAIR, 0.15));
            pen.write(&up.number(*tick), MAP, [left - 1.2, at], Anchor::Right);
        }
        let frame = Path::open([[left, top], [left, bottom], [right, bottom]]);
        pen.stroke(frame, Stroke::solid(INK, 0.25));
        for spot in self.points.iter().filter(|spot| spot.expanded > 0.0) {
            let (at, lowest) = (x(spot.place), self.low(spot));
            let (low, high) = (y(lowest), y(spot.value + spot.expanded));
            let mut bar = Path::line(at, low, at, high);
            bar.append(&Path::line(at - SERIF, high, at + SERIF, high));
            // A bar that was cut at nothing has no end of its own.
            if lowest <= spot.value - spot.expanded {
                bar.append(&Path::line(at - SERIF, low, at + SERIF, low));
            }
            pen.stroke(bar, Stroke::solid(INK, 0.18));
        }
        let places = self
            .points
            .iter()
            .map(|spot| [x(spot.place), y(spot.value)]);
        pen.stroke(Path::open(places.clone()), Stroke::solid(INDIGO, 0.4));
        if self.points.len() <= MARKED {
            for [x, y] in places {
                pen.fill(Path::circle(x, y, 0.75), INDIGO);
            }
        }
        bottom
    }
}

/// The name of a column with its unit: the plugin's words.
fn name(column: &Column) -> Pair {
    let text = match column.unit.map(unit).filter(|unit| !unit.is_empty()) {
        Some(unit) => format!("{}, {unit}", column.name),
        None => column.name.clone(),
    };
    pair(text.clone(), text)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn column(name: &str, unit: Unit, cells: &[&str]) -> Column {
        Column {
            name: name.to_owned(),
            unit: Some(unit),
            cells: cells.iter().map(|cell| (*cell).to_owned()).collect(),
        }
    }

    fn series() -> Artefact {
        Artefact {
            kind: ArtefactKind::Series,
            title: "Steel gone".to_owned(),
            columns: vec![
                column("pass", Unit::One, &["1", "2", "3", "4"]),
                column("mass", Unit::Gram, &["748.3", "746.1", "742.6", "-741.9"]),
                column("u", Unit::Gram, &["0.1", "", "0.1", "0.1"]),
            ],
        }
    }

    #[test]
    fn the_chart_is_told_in_words() {
        let drawing = chart(&series(), 150.0, Speech::English).unwrap();
        assert_eq!(
            drawing.alternative,
            "Chart: Steel gone. mass, g over pass, 4 points. First: 748.3 at 1 (± 0.2). Last: −741.9 at 4 (± 0.2). Least: −741.9 at 4 (± 0.2). Greatest: 748.3 at 1 (± 0.2)."
        );
        let drawing = chart(&series(), 150.0, Speech::Japanese).unwrap();
        assert!(
            drawing.alternative.starts_with(
                "図：Steel gone。横軸 pass、縦軸 mass, g、4 点。最初：1 で 748.3 (± 0.2)。"
            ),
            "{}",
            drawing.alternative
        );
    }

    #[test]
    fn tables_and_single_points_make_no_chart() {
        let drawn = |artefact: &Artefact| chart(artefact, 150.0, Speech::English);
        let mut one = series();
        one.columns[0].cells.truncate(1);
        assert!(drawn(&one).is_none());
        let mut table = series();
        table.kind = ArtefactKind::Table;
        assert!(drawn(&table).is_none());
        let mut words = series();
        words.columns[1].cells = vec!["many".to_owned(); 4];
        assert!(drawn(&words).is_none());
        let mut vast = series();
        vast.columns[1].cells = vec!["1e300".to_owned(); 4];
        assert!(drawn(&vast).is_none());
    }

    /// What cannot be less than nothing has neither a bar nor a tick below it.
    #[test]
    fn bars_end_at_nothing() {
        let mut pits = series();
        pits.columns[1] = column("pits left", Unit::One, &["3", "2", "1", "0"]);
        pits.columns[2] = column("u", Unit::One, &["0.5", "1.5", "1", "0.4"]);
        let of = Chart::of_series(&pits).unwrap();
        let [_, up] = &of.axes;
        assert!(up.low().abs() < 1e-9, "{}", up.low());
        assert_eq!(
            of.points
                .iter()
                .map(|point| of.low(point))
                .collect::<Vec<_>>(),
            [2.0, 0.0, 0.0, 0.0]
        );
        // A series with values on both sides keeps its bars.
        let of = Chart::of_series(&series()).unwrap();
        assert!((of.low(&of.points[3]) + 742.1).abs() < 1e-9);
    }
}
