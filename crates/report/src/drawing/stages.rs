//! The way of a blade through the stages of work: a bar of days for each, one below the other.

use super::{Anchor, Drawing, Pen, Words, sentences};
use crate::{
    layout::style::{HAIR, INK, MAP, SLATE},
    scene::{Colour, Path, Stroke},
    speech::{Pair, Speech, pair},
};

/// A stretch of time at one stage.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StageBar<'a> {
    /// The stage in English.
    pub name: &'a str,
    /// The stage in Japanese.
    pub japanese: &'a str,
    /// First day, as `2026-11-25`.
    pub from: &'a str,
    /// Days at it.
    pub days: u32,
    /// Steel is worked in it.
    pub work: bool,
    /// It lasts still.
    pub lasts: bool,
}

/// Height of a row and of its bar, mm.
const ROW: f64 = 5.0;
const BAR: f64 = 2.4;
/// Most stretches drawn: the newest.
const MOST: usize = 60;
/// Least length of a bar, so that one of no days is seen, mm.
const LEAST: f64 = 0.6;
/// Ground of a stage in which steel is worked, apart from the others in black and white too.
const WORK: Colour = Colour(0x8a, 0x90, 0x98);

/// Draws the way; nothing without a stretch of time.
pub(crate) fn stages(
    title: &str,
    bars: &[StageBar<'_>],
    width: f64,
    speech: Speech,
) -> Option<Drawing> {
    let left_out = bars.len().saturating_sub(MOST);
    let shown = bars.get(left_out..).filter(|shown| !shown.is_empty())?;
    let mut pen = Pen::new(speech);
    let names: Vec<Pair> = shown
        .iter()
        .map(|bar| pair(bar.name.to_owned(), bar.japanese.to_owned()))
        .collect();
    let days: Vec<Pair> = shown.iter().map(days_of).collect();
    let widest = |pen: &Pen, all: &[Pair]| {
        all.iter()
            .map(|one| pen.width(one, MAP))
            .fold(0.0, f64::max)
            .min(width * 0.35)
    };
    let left = widest(&pen, &names) + 3.0;
    let right = width - widest(&pen, &days) - 3.0;
    let total: f64 = shown.iter().map(|bar| f64::from(bar.days)).sum();
    let scale = (right - left) / total.max(1.0);
    let bottom = shown.len() as f64 * ROW + 0.6;
    pen.line([left, 0.0], [left, bottom], Stroke::solid(HAIR, 0.2));
    let mut start = left;
    for (row, ((bar, name), days)) in shown.iter().zip(&names).zip(&days).enumerate() {
        let y = (row as f64 + 0.5) * ROW;
        pen.say_within(name, MAP, [0.0, y], Anchor::Left, left - 3.0);
        let long = (f64::from(bar.days) * scale).max(LEAST);
        // The last bar of all may begin at the very end.
        let begin = start.min(right - long);
        let shape = Path::rectangle(begin, y - BAR / 2.0, long, BAR);
        let ground = if bar.work { WORK } else { Colour::WHITE };
        pen.fill(shape.clone(), ground);
        let stroke = if bar.lasts {
            Stroke::dashed(INK, 0.25, 1.2, 0.8)
        } else {
            Stroke::solid(INK, 0.25)
        };
        pen.stroke(shape, stroke);
        pen.say_within(
            days,
            MAP,
            [begin + long + 1.4, y],
            Anchor::Left,
            width - begin - long - 1.4,
        );
        start = (start + f64::from(bar.days) * scale).min(right);
    }
    pen.line([left, bottom], [right, bottom], Stroke::solid(SLATE, 0.2));
    let words = Words {
        title: pair(
            format!("{title}: the way through the work"),
            format!("{title}：工程の経過"),
        ),
        alternative: alternative(title, bars),
        note: note(shown, left_out),
    };
    Drawing::of(pen, [width, bottom + 0.6], words)
}

fn days_of(bar: &StageBar<'_>) -> Pair {
    let day = if bar.days == 1 { "day" } else { "days" };
    pair(
        format!("{} {day}, from {}", bar.days, bar.from),
        format!("{} 日、{} から", bar.days, bar.from),
    )
}

fn alternative(title: &str, bars: &[StageBar<'_>]) -> Pair {
    let parts = bars.iter().map(|bar| {
        let days = days_of(bar);
        pair(
            format!("{}: {}.", bar.name, days.en),
            format!("{}：{}。", bar.japanese, days.ja),
        )
    });
    let first = pair(
        format!("The way of {title} through the work."),
        format!("{title} の工程の経過。"),
    );
    sentences(std::iter::once(first).chain(parts))
}

fn note(shown: &[StageBar<'_>], left_out: usize) -> Pair {
    let mut parts = vec![pair(
        "Grey: steel is worked. White: it is not.",
        "灰色は研磨の工程、白はその他。",
    )];
    if shown.iter().any(|bar| bar.lasts) {
        parts.push(pair("Dashed: it lasts still.", "破線は継続中。"));
    }
    if left_out > 0 {
        parts.push(pair(
            format!("{left_out} earlier stages are left out."),
            format!("それ以前の {left_out} 件は省略。"),
        ));
    }
    sentences(parts)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn bar(name: &'static str, days: u32, work: bool, lasts: bool) -> StageBar<'static> {
        StageBar {
            name,
            japanese: "研ぎ",
            from: "2026-02-20",
            days,
            work,
            lasts,
        }
    }

    /// Left and right ends of the filled bars.
    fn bars(drawing: &Drawing) -> Vec<[f64; 2]> {
        let filled = drawing.draws.iter().filter_map(|draw| match draw {
            crate::scene::Draw::Path(path) if path.fill.is_some() => path.path.bounds(),
            _ => None,
        });
        filled.map(|[left, _, right, _]| [left, right]).collect()
    }

    #[test]
    fn bars_follow_each_other_and_are_as_long_as_their_days() {
        let way = [
            bar("as it came", 10, false, false),
            bar("foundation stones", 30, true, false),
            bar("fine stones", 0, true, true),
        ];
        for speech in [Speech::English, Speech::Japanese, Speech::Both] {
            let drawing = stages("Reed", &way, 160.0, speech).unwrap();
            let ends = bars(&drawing);
            assert_eq!(ends.len(), 3);
            let long = |index: usize| ends[index][1] - ends[index][0];
            assert!((long(1) / long(0) - 3.0).abs() < 1e-9);
            assert!((ends[0][1] - ends[1][0]).abs() < 1e-9);
            assert!(long(2) > 0.0 && ends[2][1] <= 160.0);
        }
        let drawing = stages("Reed", &way, 160.0, Speech::English).unwrap();
        assert!(
            drawing
                .alternative
                .contains("foundation stones: 30 days, from 2026-02-20.")
        );
        assert!(drawing.note.en.contains("Dashed: it lasts still."));
        assert!(stages("Reed", &[], 160.0, Speech::English).is_none());
    }

    #[test]
    fn a_long_way_shows_its_end() {
        let way: Vec<StageBar<'_>> = (0..70).map(|_| bar("held", 0, false, false)).collect();
        let drawing = stages("Reed", &way, 160.0, Speech::Both).unwrap();
        assert_eq!(bars(&drawing).len(), MOST);
        assert!(drawing.note.en.contains("10 earlier stages are left out."));
    }
}
