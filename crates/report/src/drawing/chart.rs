//! One number over another, with what is not known of it: the series of a plugin.

use std::fmt::Write as _;

use tangmark_core::record::{Artefact, ArtefactKind, Column};

use super::{Anchor, filled, stroked, words, words_width};
use crate::{
    font::drawable,
    layout::style::{HAIR, INDIGO, INK, MAP},
    pages::words::unit,
    scene::{Draw, Path, Stroke},
};

/// Height of the field between the axes, mm.
const FIELD: f64 = 42.0;
/// Room below the field for numbers and the name of the axis.
const BELOW: f64 = 8.0;
/// Room above the field for the name of the upright axis.
const ABOVE: f64 = 5.0;
/// Most points that get a mark of their own.
const MARKED: usize = 60;
/// Half-width of the bars of uncertainty at their ends.
const SERIF: f64 = 0.7;

/// A chart ready to be drawn.
pub(crate) struct Chart<'a> {
    title: &'a str,
    across: Axis<'a>,
    up: Axis<'a>,
    points: Vec<Spot>,
    width: f64,
    left: f64,
}

/// One point.
#[derive(Clone, Copy)]
struct Spot {
    place: f64,
    value: f64,
    /// Expanded uncertainty (k = 2) of the value; zero where it is not known.
    expanded: f64,
}

/// Least and greatest of some numbers.
fn ends(values: impl Iterator<Item = f64>) -> (f64, f64) {
    values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
        (low.min(value), high.max(value))
    })
}

/// One axis: its name, and rising round numbers that hold every value between the first and the last.
struct Axis<'a> {
    column: &'a Column,
    ticks: Vec<f64>,
    digits: usize,
}

impl<'a> Axis<'a> {
    fn new(column: &'a Column, low: f64, high: f64, most: f64) -> Self {
        let span = if high > low {
            high - low
        } else {
            high.abs().max(1.0)
        };
        let least = round_step(span / most);
        // Passes and stages are counted: there is nothing between them.
        let counted = !column.cells.is_empty()
            && column
                .cells
                .iter()
                .all(|cell| cell.parse::<f64>().is_ok_and(is_whole));
        let step = if counted { least.max(1.0) } else { least };
        let first = (low / step).floor();
        let last = (high / step).ceil().max(first + 1.0);
        let mut ticks = Vec::new();
        let mut number = first;
        while number <= last && ticks.len() < 40 {
            ticks.push(number * step);
            number += 1.0;
        }
        let digits = (0..9).find(|digits| is_whole(step * 10_f64.powi(*digits)));
        let digits = digits.and_then(|digits| usize::try_from(digits).ok());
        Self {
            column,
            ticks,
            digits: digits.unwrap_or(9),
        }
    }

    fn low(&self) -> f64 {
        self.ticks.first().copied().unwrap_or(0.0)
    }

    fn share(&self, value: f64) -> f64 {
        let high = self.ticks.last().copied().unwrap_or(1.0);
        (value - self.low()) / (high - self.low())
    }

    fn number(&self, value: f64) -> String {
        let text = format!("{value:.digits$}", digits = self.digits);
        // What rounds to nothing has no sign.
        let bare = text.trim_start_matches('-');
        if bare.bytes().all(|byte| matches!(byte, b'0' | b'.')) {
            bare.to_owned()
        } else {
            text.replacen('-', "−", 1)
        }
    }

    fn name(&self) -> String {
        // A plugin's words; what no font covers stands as code points.
        let name = drawable(&self.column.name).text;
        match self.column.unit.map(unit).filter(|unit| !unit.is_empty()) {
            Some(unit) => format!("{name}, {unit}"),
            None => name,
        }
    }
}

/// Whether a number has nothing after the full stop, as far as binary numbers tell.
fn is_whole(value: f64) -> bool {
    (value - value.round()).abs() < 1e-6 * value.abs().max(1.0)
}

/// The least of 1, 2, 5 times a power of ten that is not below `least`.
fn round_step(least: f64) -> f64 {
    let power = 10_f64.powf(least.log10().floor());
    [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|part| part * power)
        .find(|step| *step >= least * (1.0 - 1e-9))
        .unwrap_or(least)
}

impl<'a> Chart<'a> {
    /// Lays out the chart of a series in `width` mm; nothing for a table, or for fewer than two points that are numbers.
    pub(crate) fn new(artefact: &'a Artefact, width: f64) -> Option<Self> {
        if artefact.kind != ArtefactKind::Series {
            return None;
        }
        let (across, up) = (artefact.columns.first()?, artefact.columns.get(1)?);
        let doubt = artefact.columns.get(2);
        let read = |column: &Column, row: usize| -> Option<f64> {
            let value: f64 = column.cells.get(row)?.parse().ok()?;
            value.is_finite().then_some(value)
        };
        let points: Vec<Spot> = (0..across.cells.len())
            .filter_map(|row| {
                let uncertainty = doubt.and_then(|column| read(column, row)).unwrap_or(0.0);
                Some(Spot {
                    place: read(across, row)?,
                    value: read(up, row)?,
                    expanded: 2.0 * uncertainty,
                })
            })
            .collect();
        if points.len() < 2 {
            return None;
        }
        let (from, to) = ends(points.iter().map(|point| point.place));
        let (least, most) = ends(
            points
                .iter()
                .flat_map(|point| [point.value - point.expanded, point.value + point.expanded]),
        );
        let across = Axis::new(across, from, to, 8.0);
        let up = Axis::new(up, least, most, 5.0);
        let widest = up
            .ticks
            .iter()
            .map(|tick| words_width(&up.number(*tick), MAP))
            .fold(0.0, f64::max);
        Some(Self {
            title: &artefact.title,
            across,
            up,
            points,
            width,
            left: widest + 2.0,
        })
    }

    /// Height of the chart, mm.
    #[allow(clippy::unused_self, reason = "as every drawing is asked")]
    pub(crate) fn height(&self) -> f64 {
        ABOVE + FIELD + BELOW
    }

    /// The chart in words: its ends, its least and its greatest value.
    pub(crate) fn alternative(&self) -> String {
        let said = |point: &Spot| {
            let mut text = format!(
                "{} at {}",
                self.value(point.value),
                self.across.number_at(point.place)
            );
            if point.expanded > 0.0 {
                let _ = write!(text, " (± {})", self.value(point.expanded));
            }
            text
        };
        let by_value = |a: &&Spot, b: &&Spot| a.value.total_cmp(&b.value);
        let mut text = format!(
            "Chart: {}. {} over {}, {} points.",
            self.title,
            self.up.name(),
            self.across.name(),
            self.points.len()
        );
        let named = [
            ("First", self.points.first()),
            ("Last", self.points.last()),
            ("Least", self.points.iter().min_by(by_value)),
            ("Greatest", self.points.iter().max_by(by_value)),
        ];
        for (name, point) in named {
            if let Some(point) = point {
                let _ = write!(text, " {name}: {}.", said(point));
            }
        }
        text
    }

    fn value(&self, value: f64) -> String {
        self.up.number_at(value)
    }

    /// Draws the chart with its upper left corner at a place.
    pub(crate) fn draw(&self, x: f64, y: f64) -> Vec<Draw> {
        let left = x + self.left;
        let right = x + self.width - 4.0;
        let (top, bottom) = (y + ABOVE, y + ABOVE + FIELD);
        let across = |value: f64| left + self.across.share(value) * (right - left);
        let up = |value: f64| bottom - self.up.share(value) * FIELD;
        let mut draws = words(&self.up.name(), MAP, x, y + 1.6, Anchor::Left);
        for tick in &self.up.ticks {
            let at = up(*tick);
            let line = Path::line(left, at, right, at);
            draws.push(stroked(line, Stroke::solid(HAIR, 0.15)));
            draws.extend(words(
                &self.up.number(*tick),
                MAP,
                left - 1.2,
                at,
                Anchor::Right,
            ));
        }
        for tick in &self.across.ticks {
            let at = across(*tick);
            let line = Path::line(at, bottom, at, bottom + 0.9);
            draws.push(stroked(line, Stroke::solid(INK, 0.2)));
            draws.extend(words(
                &self.across.number(*tick),
                MAP,
                at,
                bottom + 2.6,
                Anchor::Middle,
            ));
        }
        draws.extend(words(
            &self.across.name(),
            MAP,
            right,
            bottom + 6.0,
            Anchor::Right,
        ));
        let frame = Path::open([[left, top], [left, bottom], [right, bottom]]);
        draws.push(stroked(frame, Stroke::solid(INK, 0.25)));
        for spot in &self.points {
            if spot.expanded > 0.0 {
                let at = across(spot.place);
                let (low, high) = (
                    up(spot.value - spot.expanded),
                    up(spot.value + spot.expanded),
                );
                let mut bar = Path::line(at, low, at, high);
                bar.append(&Path::line(at - SERIF, low, at + SERIF, low));
                bar.append(&Path::line(at - SERIF, high, at + SERIF, high));
                draws.push(stroked(bar, Stroke::solid(INK, 0.18)));
            }
        }
        let line = Path::open(
            self.points
                .iter()
                .map(|spot| [across(spot.place), up(spot.value)]),
        );
        draws.push(stroked(line, Stroke::solid(INDIGO, 0.4)));
        if self.points.len() <= MARKED {
            for spot in &self.points {
                draws.push(filled(
                    Path::circle(across(spot.place), up(spot.value), 0.75),
                    INDIGO,
                ));
            }
        }
        draws
    }
}

impl Axis<'_> {
    /// A value with at most one digit more than the numbers along the axis.
    fn number_at(&self, value: f64) -> String {
        let finer = Axis {
            column: self.column,
            ticks: Vec::new(),
            digits: (self.digits + 1).min(9),
        };
        let text = finer.number(value);
        if text.contains('.') {
            text.trim_end_matches('0').trim_end_matches('.').to_owned()
        } else {
            text
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use tangmark_core::units::Unit;

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
    fn steps_are_round_and_hold_every_value() {
        for (least, step) in [
            (0.13, 0.2),
            (1.0, 1.0),
            (3.1, 5.0),
            (700.0, 1000.0),
            (0.05, 0.05),
        ] {
            assert!((round_step(least) - step).abs() < 1e-12 * step, "{least}");
        }
        let column = column("x", Unit::Millimetre, &[]);
        let axis = Axis::new(&column, 741.9, 748.3, 5.0);
        assert_eq!(axis.ticks, [740.0, 742.0, 744.0, 746.0, 748.0, 750.0]);
        assert_eq!(axis.number(744.0), "744");
        let flat = Axis::new(&column, 0.0, 0.0, 5.0);
        assert!(flat.ticks.len() >= 2 && flat.share(0.0).is_finite());
        let fine = Axis::new(&column, -0.05, 0.15, 5.0);
        assert_eq!(fine.number(fine.ticks[0]), "−0.05");
        assert_eq!(fine.number(-0.0), "0.00");
    }

    #[test]
    fn every_mark_lies_within_the_drawing() {
        let series = series();
        let chart = Chart::new(&series, 150.0).unwrap();
        for draw in chart.draw(10.0, 20.0) {
            if let Draw::Path(path) = draw {
                let [x, y, width, height] = path.path.bounds().unwrap();
                let _ = (width, height);
                assert!((10.0..=160.0).contains(&x) && (20.0..=20.0 + chart.height()).contains(&y));
            }
        }
    }

    #[test]
    fn the_chart_is_told_in_words() {
        let series = series();
        let chart = Chart::new(&series, 150.0).unwrap();
        assert_eq!(
            chart.alternative(),
            "Chart: Steel gone. mass, g over pass, 4 points. First: 748.3 at 1 (± 0.2). Last: −741.9 at 4 (± 0.2). Least: −741.9 at 4 (± 0.2). Greatest: 748.3 at 1 (± 0.2)."
        );
    }

    #[test]
    fn tables_and_single_points_make_no_chart() {
        let mut one = series();
        one.columns[0].cells.truncate(1);
        assert!(Chart::new(&one, 150.0).is_none());
        let mut table = series();
        table.kind = ArtefactKind::Table;
        assert!(Chart::new(&table, 150.0).is_none());
        let mut words = series();
        words.columns[1].cells = vec!["many".to_owned(); 4];
        assert!(Chart::new(&words, 150.0).is_none());
    }
}
