//! The blade map: both faces to scale, unfolded along the back, with numbered signs for flaws.

mod face;

use std::fmt::Write as _;

use std::collections::BTreeSet;

use tangmark_core::record::{Datum, Face, Flaw, Record, Term as _, Zone};

use face::View;

use super::{Anchor, profile::Profile, stroked, symbols::Sign, words, words_width};
use crate::{
    font::Weight,
    layout::{
        Style,
        style::{INK, MAP, SLATE},
    },
    scene::{Draw, Path, Stroke},
};

/// Scales a map may have, 1 to this number.
const SCALES: [f64; 16] = [
    1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 10.0, 12.0, 15.0, 20.0, 30.0, 50.0,
];
/// Height of a row of numbers.
const ROW: f64 = 3.3;
/// Least distance of numbers in one row.
const PITCH: f64 = 3.9;
/// Height of the band with ruler and names between the faces.
const BAND: f64 = 13.0;
/// Numbers beside signs.
const NUMBER: Style = Style {
    size: 6.4,
    leading: ROW,
    weight: Weight::Bold,
    colour: INK,
};

/// A map ready to be drawn.
pub(crate) struct Map<'a> {
    record: &'a Record,
    pub(crate) profile: Profile,
    /// 1 mm on paper stands for this many on the blade.
    pub(crate) scale: f64,
    width: f64,
    outer: [Vec<Label>; 2],
    key: Vec<Vec<Sign>>,
}

/// A number at the outer side of a face.
#[derive(Debug, Clone)]
struct Label {
    flaw: usize,
    /// Place of the sign: (along, across), mm of the blade.
    place: (f64, f64),
    /// Place of the number, mm on paper from the left edge.
    x: f64,
    row: usize,
}

impl<'a> Map<'a> {
    /// Lays a map out in `width` mm; nothing when the numbers make no blade that could be drawn.
    pub(crate) fn new(record: &'a Record, width: f64) -> Option<Self> {
        let profile = Profile::of(record);
        let whole = profile.length + profile.tang;
        let scale = SCALES.into_iter().find(|scale| whole / scale <= width)?;
        let mut map = Self {
            record,
            profile,
            scale,
            width,
            outer: [Vec::new(), Vec::new()],
            key: Vec::new(),
        };
        map.outer = [map.labels(Face::Omote), map.labels(Face::Ura)];
        map.key = map.key_lines();
        let (back, edge) = map.reach();
        // A strip higher than this is no blade but a slip of the pen among the numbers.
        (back + edge < width / 4.0 && map.height() < 150.0).then_some(map)
    }

    /// Signs in use, broken into lines that leave room for the scale bar on the last.
    fn key_lines(&self) -> Vec<Vec<Sign>> {
        let used: BTreeSet<Sign> = self
            .record
            .flaws
            .iter()
            .map(|flaw| Sign::of(flaw.kind))
            .collect();
        let mut lines: Vec<Vec<Sign>> = vec![Vec::new()];
        let mut x = 0.0;
        for sign in used {
            let own = key_width(sign);
            if x + own > self.width - 62.0 && x > 0.0 {
                lines.push(Vec::new());
                x = 0.0;
            }
            x += own;
            if let Some(line) = lines.last_mut() {
                line.push(sign);
            }
        }
        lines
    }

    fn reach(&self) -> (f64, f64) {
        let (back, edge) = self.profile.extent();
        (back / self.scale, edge / self.scale)
    }

    fn zone(&self, face: usize) -> f64 {
        let rows = self
            .outer
            .get(face)
            .and_then(|labels| labels.iter().map(|label| label.row + 1).max())
            .unwrap_or(0);
        if rows == 0 {
            1.0
        } else {
            rows as f64 * ROW + 3.4
        }
    }

    /// Height of the map, mm.
    pub(crate) fn height(&self) -> f64 {
        let (back, edge) = self.reach();
        self.zone(0) + self.zone(1) + 2.0 * (back + edge) + BAND + 2.0 + self.key.len() as f64 * 4.2
    }

    /// The map in words.
    pub(crate) fn alternative(&self) -> String {
        let mut text = format!(
            "Map of the blade, both faces unfolded along the back, tang at the left, point at the right, scale 1 to {}, drawn from {} mm blade length and {} mm tang.",
            self.scale,
            round(self.profile.length),
            round(self.profile.tang)
        );
        if self.record.flaws.is_empty() {
            text.push_str(" No flaw is recorded.");
        }
        for (index, flaw) in self.record.flaws.iter().enumerate() {
            let _ = write!(text, " {}: {}.", index + 1, flaw_words(flaw));
        }
        text
    }

    /// Where a flaw is drawn on a face.
    fn place(&self, flaw: &Flaw) -> (f64, f64) {
        let at = flaw.at.to_f64();
        let profile = &self.profile;
        if flaw.zone == Zone::Tang || at < 0.0 {
            return profile.tang_middle(at.abs());
        }
        let at = at.min(profile.length);
        let width = profile.width(at);
        let inward = flaw.from_edge.as_ref().map_or_else(
            || match flaw.zone {
                Zone::Edge => 0.0,
                Zone::Ground => width * 0.38,
                Zone::Ridge => width * 0.75,
                Zone::Back => width,
                Zone::Point | Zone::Tang => width * 0.4,
            },
            |distance| distance.to_f64().clamp(0.0, width),
        );
        profile.inside_edge(at, inward)
    }

    /// Numbers of one face, spread so that none covers another.
    fn labels(&self, face: Face) -> Vec<Label> {
        let shown = |flaw: &Flaw| {
            flaw.faces.contains(&face)
                || (face == Face::Omote
                    && !flaw
                        .faces
                        .iter()
                        .any(|face| matches!(face, Face::Omote | Face::Ura)))
        };
        let mut labels: Vec<Label> = self
            .record
            .flaws
            .iter()
            .enumerate()
            .filter(|(_, flaw)| shown(flaw))
            .map(|(index, flaw)| {
                let place = self.place(flaw);
                Label {
                    flaw: index,
                    place,
                    x: (place.0 + self.profile.tang) / self.scale,
                    row: 0,
                }
            })
            .collect();
        labels.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.flaw.cmp(&b.flaw)));
        // As many rows as bring the numbers into the width.
        let capacity = (self.width / PITCH).floor().max(1.0);
        let rows = (labels.len() as f64 / capacity).ceil().max(1.0);
        let pitch = PITCH / rows;
        spread(&mut labels, pitch, self.width);
        for (index, label) in labels.iter_mut().enumerate() {
            // A handful of rows.
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
            let rows = rows as usize;
            label.row = index % rows;
        }
        labels
    }

    /// Draws the map with its upper left corner at (x, y).
    pub(crate) fn draw(&self, x: f64, y: f64) -> Vec<Draw> {
        let (back, edge) = self.reach();
        let omote = y + self.zone(0) + edge;
        let ura = omote + back + BAND + back;
        let mut draws = Vec::new();
        for (index, face) in [(0, Face::Omote), (1, Face::Ura)] {
            let view = View {
                left: x,
                line: if index == 0 { omote } else { ura },
                towards_edge: if index == 0 { -1.0 } else { 1.0 },
                map: self,
            };
            view.body(&mut draws, face);
            view.tang(&mut draws, face);
        }
        self.band(&mut draws, x, omote + back);
        for (index, labels) in self.outer.iter().enumerate() {
            let view = View {
                left: x,
                line: if index == 0 { omote } else { ura },
                towards_edge: if index == 0 { -1.0 } else { 1.0 },
                map: self,
            };
            let outer = if index == 0 {
                y + self.zone(0)
            } else {
                ura + edge
            };
            view.flaws(&mut draws, labels, outer);
        }
        self.key(&mut draws, x, ura + edge + self.zone(1) + 2.0);
        draws
    }

    /// Ruler and names of the faces between the two backs.
    fn band(&self, draws: &mut Vec<Draw>, left: f64, top: f64) {
        let middle = top + BAND / 2.0;
        let on_paper = |along: f64| left + (along + self.profile.tang) / self.scale;
        let thin = || Stroke::solid(SLATE, 0.15);
        draws.push(stroked(
            Path::line(on_paper(0.0), middle, on_paper(self.profile.length), middle),
            thin(),
        ));
        let step = [10.0, 20.0, 50.0, 100.0, 200.0]
            .into_iter()
            .find(|step| step / self.scale >= 11.0)
            .unwrap_or(200.0);
        let small = step / 10.0;
        let mut count = 0.0;
        let mut ticks = Path::new();
        while count * small <= self.profile.length + 1e-9 {
            let along = count * small;
            let whole = (count % 10.0) == 0.0;
            let half = (count % 5.0) == 0.0;
            let size = if whole {
                1.5
            } else if half {
                1.0
            } else {
                0.6
            };
            ticks.add_points([[on_paper(along), middle], [on_paper(along), middle + size]]);
            if whole {
                draws.extend(words(
                    &round(along),
                    MAP,
                    on_paper(along),
                    middle + 3.2,
                    Anchor::Middle,
                ));
            }
            count += 1.0;
        }
        draws.push(stroked(ticks, thin()));
        let datum = match self
            .record
            .dimensions
            .as_ref()
            .map(|dimensions| dimensions.datum)
        {
            Some(Datum::BackNotch) => "back notch",
            Some(Datum::Shoulder) => "shoulder",
            Some(Datum::GuardFace) => "face of the guard",
            None => "datum",
        };
        draws.extend(words(
            &format!("mm from the {datum}"),
            MAP,
            on_paper(self.profile.length),
            middle - 1.8,
            Anchor::Right,
        ));
        for (face, y) in [(Face::Omote, middle - 2.6), (Face::Ura, middle + 2.6)] {
            draws.extend(words(
                &format!("{} {}", face.key(), face.kanji()),
                MAP,
                left,
                y,
                Anchor::Left,
            ));
        }
    }

    /// Signs in use and the scale bar.
    fn key(&self, draws: &mut Vec<Draw>, left: f64, top: f64) {
        for (row, signs) in self.key.iter().enumerate() {
            let y = top + 2.1 + row as f64 * 4.2;
            let mut x = left + 1.5;
            for sign in signs {
                draws.extend(sign.draw(x, y, tangmark_core::record::Standing::Confirmed));
                draws.extend(words(sign.meaning(), MAP, x + 2.4, y, Anchor::Left));
                x += key_width(*sign);
            }
        }
        let y = top + 2.1 + (self.key.len().saturating_sub(1)) as f64 * 4.2;
        let bar = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0]
            .into_iter()
            .rfind(|bar| bar / self.scale <= 30.0)
            .unwrap_or(100.0);
        let right = left + self.width;
        let size = bar / self.scale;
        let line = Stroke::solid(INK, 0.3);
        let mut path = Path::line(right - size, y + 1.0, right, y + 1.0);
        path.add_points([[right - size, y + 0.2], [right - size, y + 1.0]]);
        path.add_points([[right, y + 0.2], [right, y + 1.0]]);
        draws.push(stroked(path, line));
        draws.extend(words(
            &format!("{} mm", round(bar)),
            MAP,
            right - size / 2.0,
            y - 1.0,
            Anchor::Middle,
        ));
        draws.extend(words(
            &format!("scale 1 : {}", self.scale),
            MAP,
            right - size - 3.0,
            y,
            Anchor::Right,
        ));
    }
}

/// Moves places apart until each is at least `pitch` from the next and all lie within the width.
fn spread(labels: &mut [Label], pitch: f64, width: f64) {
    let margin = PITCH / 2.0;
    let mut low = margin;
    for label in labels.iter_mut() {
        label.x = label.x.max(low);
        low = label.x + pitch;
    }
    let mut high = width - margin;
    for label in labels.iter_mut().rev() {
        label.x = label.x.min(high);
        high = label.x - pitch;
    }
}

/// Width a sign takes in the key.
fn key_width(sign: Sign) -> f64 {
    words_width(sign.meaning(), MAP) + 7.0
}

/// A flaw in words that stand alone: kind, zone, faces, place, size.
pub(crate) fn flaw_words(flaw: &Flaw) -> String {
    let faces: Vec<&str> = flaw.faces.iter().map(|face| face.key()).collect();
    let mut text = format!(
        "{}, {} ({}), {}, ",
        flaw.standing.gloss(),
        flaw.kind.gloss(),
        flaw.kind.key().replace('_', " "),
        flaw.zone.gloss()
    );
    let _ = write!(
        text,
        "{}, {} mm from the datum",
        faces.join(" and ").replace('_', " "),
        flaw.at.value
    );
    for (name, size) in [
        ("long", &flaw.length),
        ("wide", &flaw.width),
        ("deep", &flaw.depth),
    ] {
        if let Some(size) = size {
            let _ = write!(text, ", {} mm {name}", size.value);
        }
    }
    text
}

/// A number of millimetres to one decimal, without a useless zero.
fn round(value: f64) -> String {
    ((value * 10.0).round() / 10.0 + 0.0).to_string()
}
