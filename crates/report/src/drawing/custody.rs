//! The life of the blade on a line of time: what is known only within limits is a bar between them.

mod links;

use tangmark_core::record::{Blade, CustodyEvent, CustodyKind, PartialDate, Term as _};

use super::{
    Anchor, Drawing, Pen, Words,
    axis::{Axis, ends},
    sentences,
};
use crate::{
    layout::style::{HAIR, INK, MAP, SLATE},
    pages::words,
    scene::{Colour, Path, Stroke},
    speech::{Pair, Speech, pair},
};
use links::{Link, Passing};

/// Height of the row of one event, mm.
const ROW: f64 = 4.6;
/// Height of a bar, mm.
const BAR: f64 = 2.0;
/// Most events drawn.
const MOST: usize = 30;
/// Spans shorter than this are drawn as one mark, mm.
const MARK: f64 = 1.6;
/// Ground between two events of which either may be the first.
const OPEN_ORDER: Colour = Colour(0xe3, 0xe8, 0xf1);
/// How far an open span reaches beyond its known end, mm.
const OPEN: f64 = 9.0;

/// One row.
struct Event {
    name: Pair,
    /// Dates as written.
    when: Pair,
    /// Earliest and latest, as years; nothing where the span is open.
    from: Option<f64>,
    to: Option<f64>,
    /// Whether it is an estimate and no recorded event.
    estimated: bool,
    /// Its place among the recorded events.
    recorded: Option<usize>,
}

impl Event {
    /// Dates as they stand in the drawing: without words, so that both languages need them once.
    fn dates(&self, speech: Speech) -> Pair {
        match speech {
            Speech::Both if self.from.is_some() && self.to.is_some() => {
                let dates = self.when.en.replace(" to ", " – ");
                pair(dates.clone(), dates)
            }
            _ => self.when.clone(),
        }
    }
}

/// A date as years and parts of a year.
fn years(day: &str) -> Option<f64> {
    let mut parts = day.split('-').map(str::parse::<f64>);
    let (year, month, day) = (
        parts.next()?.ok()?,
        parts.next()?.ok()?,
        parts.next()?.ok()?,
    );
    // A drawing of decades needs no calendar.
    Some(year + (month - 1.0) / 12.0 + (day - 1.0) / 372.0)
}

fn first(date: &PartialDate) -> Option<f64> {
    years(&date.first_day())
}

fn last(date: &PartialDate) -> Option<f64> {
    years(&date.last_day())
}

fn made(blade: &Blade) -> Option<Event> {
    let (after, before) = (
        blade.made_not_before.as_ref(),
        blade.made_not_after.as_ref(),
    );
    let when = match (after, before) {
        (Some(after), Some(before)) => {
            pair(format!("{after} to {before}"), format!("{after}～{before}"))
        }
        (Some(after), None) => pair(format!("not before {after}"), format!("{after} 以降")),
        (None, Some(before)) => pair(format!("not after {before}"), format!("{before} 以前")),
        (None, None) => return None,
    };
    Some(Event {
        name: pair("made, estimate", "製作（推定）"),
        when,
        from: after.and_then(first),
        to: before.and_then(last),
        estimated: true,
        recorded: None,
    })
}

fn events(blade: &Blade, custody: &[CustodyEvent]) -> Vec<Event> {
    let recorded = custody.iter().enumerate().map(|(index, event)| {
        let when = &event.when;
        Event {
            name: pair(event.kind.gloss(), CustodyKind::japanese(event.kind)),
            when: pair(
                words::when(Speech::English, when),
                words::when(Speech::Japanese, when),
            ),
            from: first(&when.earliest),
            to: last(&when.latest),
            estimated: false,
            recorded: Some(index),
        }
    });
    made(blade)
        .into_iter()
        .chain(recorded)
        // A span that ends before it begins is no span.
        .filter(|event| match (event.from, event.to) {
            (Some(from), Some(to)) => from <= to,
            (from, to) => from.or(to).is_some(),
        })
        .collect()
}

/// Draws what is known of the blade's life; nothing without an event.
pub(crate) fn custody(
    blade: &Blade,
    custody: &[CustodyEvent],
    width: f64,
    speech: Speech,
) -> Option<Drawing> {
    if custody.is_empty() {
        return None;
    }
    let events = events(blade, custody);
    let shown = events.get(..events.len().min(MOST))?;
    if shown.is_empty() {
        return None;
    }
    let mut pen = Pen::new(speech);
    let name_width = shown
        .iter()
        .map(|event| pen.width(&event.name, MAP))
        .fold(0.0, f64::max)
        .min(width * 0.3);
    let left = name_width + 3.0;
    // Dates stand in a column of their own: what lies between two bars stays free.
    let dates = shown
        .iter()
        .map(|event| pen.width(&event.dates(speech), MAP))
        .fold(0.0, f64::max)
        .min(width * 0.3);
    let dates_at = width - dates;
    let right = dates_at - 3.0 - OPEN;
    let known = shown.iter().flat_map(|event| [event.from, event.to]);
    let axis = Axis::new(ends(known.flatten()), 8.0, true);
    let x = |year: f64| left + OPEN + axis.share(year) * (right - left - OPEN);
    let bottom = shown.len() as f64 * ROW + 1.0;
    for tick in &axis.ticks {
        let at = x(*tick);
        pen.line([at, 0.0], [at, bottom + 0.9], Stroke::solid(HAIR, 0.15));
        pen.write(&axis.number(*tick), MAP, [at, bottom + 2.8], Anchor::Middle);
    }
    pen.line(
        [left, bottom],
        [right + OPEN, bottom],
        Stroke::solid(INK, 0.25),
    );
    let row = |index: usize| (index as f64 + 0.5) * ROW + 0.5;
    let rows = Rows {
        events: shown,
        row: &row,
        x: &x,
    };
    let links = links::of(custody);
    let fields = rows.fields(&mut pen, &links);
    let mut ends = Vec::with_capacity(shown.len());
    for (index, event) in shown.iter().enumerate() {
        let y = row(index);
        pen.say_within(&event.name, MAP, [0.0, y], Anchor::Left, name_width);
        ends.push(draw_event(&mut pen, event, y, &x) + 0.6);
        let dates = event.dates(speech);
        pen.say_within(&dates, MAP, [dates_at, y], Anchor::Left, width - dates_at);
    }
    let lines = rows.lines(&mut pen, &links, &ends);
    let words = Words {
        title: pair("Line of time", "来歴の年表"),
        alternative: alternative(&events, &links),
        note: note(shown, events.len(), lines, fields),
    };
    Drawing::of(pen, [width, bottom + 4.6], words)
}

/// The rows of the events, for what is drawn between them.
struct Rows<'a> {
    events: &'a [Event],
    /// Height of a row's middle.
    row: &'a dyn Fn(usize) -> f64,
    /// Place of a year.
    x: &'a dyn Fn(f64) -> f64,
}

impl Rows<'_> {
    /// The rows of the two events of a link, where both are drawn.
    fn of(&self, link: &Link) -> Option<[(usize, &Event); 2]> {
        let find = |recorded: usize| {
            let mut rows = self.events.iter().enumerate();
            rows.find(|(_, event)| event.recorded == Some(recorded))
        };
        Some([find(link.from)?, find(link.to)?])
    }

    /// Tints the years in which two events may both lie; tells whether there are any.
    fn fields(&self, pen: &mut Pen, links: &[Link]) -> bool {
        let mut any = false;
        for link in links.iter().filter(|link| link.passing == Passing::Open) {
            let Some([(first, one), (second, other)]) = self.of(link) else {
                continue;
            };
            let (Some(from), Some(to)) = (latest(one.from, other.from), earliest(one.to, other.to))
            else {
                continue;
            };
            let (left, right) = ((self.x)(from), (self.x)(to));
            if right - left < MARK {
                continue;
            }
            let (top, bottom) = ((self.row)(first), (self.row)(second));
            pen.fill(
                Path::rectangle(left, top, right - left, bottom - top),
                OPEN_ORDER,
            );
            any = true;
        }
        any
    }

    /// Leads from each passing to the next, solid where one hand is named on both sides; tells whether there are such.
    fn lines(&self, pen: &mut Pen, links: &[Link], ends: &[f64]) -> bool {
        let mut any = false;
        for link in links {
            let stroke = match link.passing {
                Passing::SameHand => Stroke::solid(SLATE, 0.25),
                Passing::NotSaid => Stroke::dashed(SLATE, 0.25, 0.6, 0.9),
                Passing::Open => continue,
            };
            let Some([(first, _), (second, other)]) = self.of(link) else {
                continue;
            };
            let (Some(start), Some(year)) = (ends.get(first), other.from) else {
                continue;
            };
            let end = (self.x)(year);
            if end - start < MARK {
                continue;
            }
            let mut path = Path::new();
            path.add_points([
                [*start, (self.row)(first)],
                [end, (self.row)(first)],
                [end, (self.row)(second) - BAR / 2.0 - 0.2],
            ]);
            pen.stroke(path, stroke);
            any = true;
        }
        any
    }
}

fn latest(one: Option<f64>, other: Option<f64>) -> Option<f64> {
    Some(one?.max(other?))
}

fn earliest(one: Option<f64>, other: Option<f64>) -> Option<f64> {
    Some(one?.min(other?))
}

/// Draws one event; returns where it ends.
fn draw_event(pen: &mut Pen, event: &Event, y: f64, x: &dyn Fn(f64) -> f64) -> f64 {
    let (from, to) = (event.from.map(x), event.to.map(x));
    let ends = match (from, to) {
        (Some(from), Some(to)) => [from, to],
        (Some(from), None) => [from, from + OPEN],
        (None, Some(to)) => [to - OPEN, to],
        (None, None) => return 0.0,
    };
    let [left, right] = ends;
    let is_open = from.is_none() || to.is_none();
    if !is_open && right - left < MARK {
        let middle = f64::midpoint(left, right);
        let diamond = [
            [middle, y - 1.2],
            [middle + 1.1, y],
            [middle, y + 1.2],
            [middle - 1.1, y],
        ];
        pen.fill(Path::polygon(diamond), INK);
        return middle + 1.1;
    }
    let bar = Path::rectangle(left, y - BAR / 2.0, right - left, BAR);
    if !is_open {
        let ground = if event.estimated {
            Colour::WHITE
        } else {
            Colour(0xb8, 0xbc, 0xc2)
        };
        pen.fill(bar.clone(), ground);
        let stroke = if event.estimated {
            Stroke::dashed(INK, 0.25, 1.2, 0.8)
        } else {
            Stroke::solid(INK, 0.25)
        };
        pen.stroke(bar, stroke);
        return right;
    }
    // Open: no end on the side that is not known, but an arrow.
    let (known, open) = if from.is_some() {
        (left, right)
    } else {
        (right, left)
    };
    let sign = if open > known { 1.0 } else { -1.0 };
    let mut sides = Path::new();
    sides.add_points([
        [open - sign * 1.5, y - BAR / 2.0],
        [known, y - BAR / 2.0],
        [known, y + BAR / 2.0],
        [open - sign * 1.5, y + BAR / 2.0],
    ]);
    pen.stroke(sides, Stroke::dashed(INK, 0.25, 1.2, 0.8));
    let arrow = [
        [open, y],
        [open - sign * 1.5, y - 1.1],
        [open - sign * 1.5, y + 1.1],
    ];
    pen.fill(Path::polygon(arrow), SLATE);
    right
}

fn alternative(events: &[Event], links: &[Link]) -> Pair {
    let count = events.len();
    let mut parts = vec![pair(
        format!("Line of time, {count} entries."),
        format!("年表、{count} 件。"),
    )];
    for event in events {
        parts.push(pair(
            format!("{}: {}.", words::capital(&event.name.en), event.when.en),
            format!("{}：{}。", event.name.ja, event.when.ja),
        ));
    }
    let count = |passing| links.iter().filter(|link| link.passing == passing).count();
    let (unsaid, open) = (count(Passing::NotSaid), count(Passing::Open));
    if unsaid > 0 {
        parts.push(pair(
            format!(
                "Times between two passings in which no one hand is named on both sides: {unsaid}."
            ),
            format!("前後で同じ人が記されていない期間：{unsaid}。"),
        ));
    }
    if open > 0 {
        parts.push(pair(
            format!("Passings whose dates leave open which came first: {open}."),
            format!("前後関係の定まらない移転：{open}。"),
        ));
    }
    sentences(parts)
}

fn note(shown: &[Event], count: usize, lines: bool, fields: bool) -> Pair {
    let mut parts = vec![pair(
        "A bar reaches from the earliest to the latest date that is possible, not over the time an event took; a diamond stands where the two are too close to be drawn.",
        "帯はあり得る最も早い日から最も遅い日までを示し、出来事の続いた期間ではない。両者が近く帯にならないものは菱形。",
    )];
    if shown.iter().any(|event| event.estimated) {
        parts.push(pair(
            "Dashed: an estimate from form and work; an arrow stands where it is open.",
            "破線は作風などからの推定、矢印は期限の定まらない側。",
        ));
    }
    if lines {
        parts.push(pair(
            "A thin line leads from one passing to the next: solid where the same person is named on both sides, dashed where the record does not say who had the blade.",
            "細線は移転から次の移転までを結ぶ。実線は前後に同じ人が記された期間、破線は誰の手にあったか記載のない期間。",
        ));
    }
    if fields {
        parts.push(pair(
            "A tinted field joins two passings whose dates leave open which came first.",
            "淡い色の面は、前後関係の定まらない二つの移転を結ぶ。",
        ));
    }
    if shown.len() < count {
        let shown = shown.len();
        parts.push(pair(
            format!("The first {shown} of {count} entries are drawn."),
            format!("{count} 件のうち最初の {shown} 件を示す。"),
        ));
    }
    sentences(parts)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_lie_within_their_year() {
        for (day, year) in [("1650-01-01", 1650.0), ("1650-12-31", 1650.997)] {
            assert!(
                (years(day).unwrap_or_default() - year).abs() < 0.001,
                "{day}"
            );
        }
        assert!(years("1650").is_none());
    }
}
