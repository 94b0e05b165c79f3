//! Scales, rulers and scale bars.

use crate::{
    layout::style::{INK, MAP, SLATE},
    scene::{Path, Stroke},
    speech::{Pair, pair},
};
use tangmark_core::record::{Datum, Record};

use super::{Anchor, Pen, tenths, words_width};

/// Scales a drawing may have, 1 to this number; below 1 it is larger than the blade.
const SCALES: [f64; 21] = [
    0.2,
    0.25,
    0.333_333_333_333_333_3,
    0.5,
    0.666_666_666_666_666_6,
    1.0,
    1.5,
    2.0,
    2.5,
    3.0,
    4.0,
    5.0,
    6.0,
    7.0,
    8.0,
    10.0,
    12.0,
    15.0,
    20.0,
    30.0,
    50.0,
];

/// Returns the largest scale, no larger than the blade itself, at which `whole` mm fit into `width` mm.
pub(super) fn reduced(whole: f64, width: f64) -> Option<f64> {
    fitting(whole, width).map(|scale| scale.max(1.0))
}

/// Returns the largest scale, up to five times the size of the blade, at which `whole` mm fit into `width` mm.
pub(super) fn fitting(whole: f64, width: f64) -> Option<f64> {
    let fits = |scale: &f64| whole > 0.0 && whole / scale <= width;
    SCALES.into_iter().find(fits)
}

/// A scale as people write it: `1 : 4`, `1.5 : 1`.
pub(super) fn written(scale: f64) -> String {
    if scale < 1.0 {
        format!("{} : 1", tenths(1.0 / scale))
    } else {
        format!("1 : {}", tenths(scale))
    }
}

/// `scale 1 : 4`.
pub(super) fn scale_words(scale: f64) -> Pair {
    let written = written(scale);
    pair(format!("scale {written}"), format!("縮尺 {written}"))
}

/// Where lengths along the blade start.
pub(super) fn datum(record: &Record) -> Pair {
    match record.dimensions.as_ref().map(|it| it.datum) {
        Some(Datum::BackNotch) => pair("back notch", "棟区"),
        Some(Datum::Shoulder) => pair("shoulder", "肩"),
        Some(Datum::GuardFace) => pair("face of the guard", "鍔面"),
        None => pair("datum", "基点"),
    }
}

/// A ruler along the blade.
pub(super) struct Ruler {
    /// Left end on paper: the datum.
    pub(super) x: f64,
    /// Height on paper.
    pub(super) y: f64,
    /// Length it measures, mm of the blade.
    pub(super) length: f64,
    /// 1 to this number; below zero the ruler goes to the left.
    pub(super) scale: f64,
    /// Left and right edge within which its numbers stand.
    pub(super) room: [f64; 2],
}

impl Ruler {
    /// Height of ticks and numbers below the line, mm.
    pub(super) const BELOW: f64 = 4.8;

    /// Draws line, ticks and numbers.
    pub(super) fn draw(&self, pen: &mut Pen) {
        let thin = || Stroke::solid(SLATE, 0.15);
        let at = |along: f64| self.x + along / self.scale;
        pen.line([self.x, self.y], [at(self.length), self.y], thin());
        let step = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0]
            .into_iter()
            .find(|step| step / self.scale.abs() >= 11.0)
            .unwrap_or(2000.0);
        let mut ticks = Path::new();
        let mut count = 0_u32;
        while f64::from(count) * step / 10.0 <= self.length + 1e-9 && count < 4000 {
            let along = f64::from(count) * step / 10.0;
            let size = match count % 10 {
                0 => 1.5,
                5 => 1.0,
                _ => 0.6,
            };
            ticks.add_points([[at(along), self.y], [at(along), self.y + size]]);
            if count.is_multiple_of(10) {
                let number = tenths(along);
                let half = words_width(&number, MAP) / 2.0;
                let x = at(along).min(self.room[1] - half).max(self.room[0] + half);
                pen.write(&number, MAP, [x, self.y + 3.2], Anchor::Middle);
            }
            count += 1;
        }
        pen.stroke(ticks, thin());
    }
}

/// `mm from the back notch`.
pub(super) fn from_datum(record: &Record) -> Pair {
    let datum = datum(record);
    pair(
        format!("mm from the {}", datum.en),
        format!("{}からの距離 mm", datum.ja),
    )
}

/// Length of a scale bar at a scale, mm of the blade.
fn bar_length(scale: f64) -> f64 {
    [1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0]
        .into_iter()
        .rfind(|bar| bar / scale <= 30.0)
        .unwrap_or(1.0)
}

/// Width of a scale bar with its words, mm.
pub(super) fn bar_width(pen: &Pen, scale: f64) -> f64 {
    bar_length(scale) / scale + 3.0 + pen.width(&scale_words(scale), MAP)
}

/// Draws a scale bar with its right end at a place, the scale in words left of it.
pub(super) fn scale_bar(pen: &mut Pen, right: f64, y: f64, scale: f64) {
    let bar = bar_length(scale);
    let size = bar / scale;
    let mut path = Path::line(right - size, y + 1.0, right, y + 1.0);
    path.add_points([[right - size, y + 0.2], [right - size, y + 1.0]]);
    path.add_points([[right, y + 0.2], [right, y + 1.0]]);
    pen.stroke(path, Stroke::solid(INK, 0.3));
    let length = format!("{} mm", tenths(bar));
    pen.write(&length, MAP, [right - size / 2.0, y - 1.0], Anchor::Middle);
    pen.say(
        &scale_words(scale),
        MAP,
        [right - size - 3.0, y],
        Anchor::Right,
    );
}
