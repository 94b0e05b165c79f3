//! The blade map: both faces to scale, unfolded along the back, with numbered signs for flaws.

mod face;

use std::collections::BTreeSet;

use tangmark_core::record::{Face, Flaw, Record, Standing, Term as _, Zone};

use face::View;

use super::{
    Anchor, Drawing, Pen, Words, dashed_note, listed,
    profile::Profile,
    ruler::{self, Ruler},
    sentences,
    symbols::Sign,
    tenths,
};
use crate::{
    font::Weight,
    layout::{
        Style,
        style::{INK, MAP},
    },
    pages::words,
    speech::{Pair, Speech, pair},
};

/// Height of a row of numbers.
const ROW: f64 = 3.3;
/// Least distance of numbers in one row.
const PITCH: f64 = 3.9;
/// Height of the band with ruler and names between the faces.
const BAND: f64 = 13.0;
/// Numbers beside signs.
pub(super) const NUMBER: Style = Style {
    size: 6.4,
    leading: ROW,
    weight: Weight::Bold,
    colour: INK,
};

/// Draws both faces of the blade, with temper line, grooves, tang and numbered signs for flaws.
pub(crate) fn faces(record: &Record, width: f64, speech: Speech) -> Option<Drawing> {
    let map = Map::new(record, width, speech)?;
    let mut pen = Pen::new(speech);
    map.draw(&mut pen);
    let words = Words {
        title: pair("Both faces of the blade", "刀身両面図"),
        alternative: map.alternative(),
        note: map.note(),
    };
    Drawing::of(pen, [width, map.height()], words)
}

/// A map ready to be drawn.
pub(super) struct Map<'a> {
    record: &'a Record,
    pub(super) profile: Profile,
    /// 1 mm on paper stands for this many on the blade.
    pub(super) scale: f64,
    width: f64,
    speech: Speech,
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
    fn new(record: &'a Record, width: f64, speech: Speech) -> Option<Self> {
        let profile = Profile::of(record);
        let whole = profile.length + profile.tang;
        let scale = ruler::reduced(whole, width)?;
        // Room for the scale bar on the last line of the key.
        let key = width - ruler::bar_width(&Pen::new(speech), scale) - 6.0;
        let map = Self::at_scale(record, profile, [width, scale], speech).with_key(key);
        let (back, edge) = map.reach();
        // A strip higher than this is no blade but a slip of the pen among the numbers.
        (back + edge < width / 4.0 && map.height() < 150.0).then_some(map)
    }

    /// Lays a map out without a key, whatever its height.
    pub(super) fn at_scale(
        record: &'a Record,
        profile: Profile,
        [width, scale]: [f64; 2],
        speech: Speech,
    ) -> Self {
        let mut map = Self {
            record,
            profile,
            scale,
            width,
            speech,
            outer: [Vec::new(), Vec::new()],
            key: Vec::new(),
        };
        map.outer = [map.labels(Face::Omote), map.labels(Face::Ura)];
        map
    }

    /// Adds a key: the signs in use, broken into lines of at most `room` mm.
    pub(super) fn with_key(mut self, room: f64) -> Self {
        let used: BTreeSet<Sign> = self
            .record
            .flaws
            .iter()
            .map(|flaw| Sign::of(flaw.kind))
            .collect();
        let mut lines: Vec<Vec<Sign>> = vec![Vec::new()];
        let mut x = 0.0;
        let pen = Pen::new(self.speech);
        for sign in used {
            let own = key_width(&pen, sign);
            if x + own > room && x > 0.0 {
                lines.push(Vec::new());
                x = 0.0;
            }
            x += own;
            if let Some(line) = lines.last_mut() {
                line.push(sign);
            }
        }
        self.key = lines;
        self
    }

    pub(super) fn reach(&self) -> (f64, f64) {
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
    fn height(&self) -> f64 {
        let (back, edge) = self.reach();
        self.zone(0) + self.zone(1) + 2.0 * (back + edge) + BAND + 2.0 + self.key.len() as f64 * 4.2
    }

    /// The map in words.
    fn alternative(&self) -> Pair {
        let (length, tang) = (tenths(self.profile.length), tenths(self.profile.tang));
        let scale = ruler::written(self.scale);
        let mut parts = vec![pair(
            format!(
                "Map of the blade, both faces {}, tang at the left, point at the right, scale {scale}, drawn from {length} mm blade length and {tang} mm tang.",
                self.unfolded().en
            ),
            format!(
                "刀身図。{}、左が茎、右が鋒、縮尺 {scale}、刃長 {length} mm、茎の長さ {tang} mm による。",
                self.unfolded().ja
            ),
        )];
        if self.record.flaws.is_empty() {
            parts.push(pair("No flaw is recorded.", "疵の記載なし。"));
        }
        for (index, flaw) in self.record.flaws.iter().enumerate() {
            let said = flaw_words(self.record, flaw);
            let number = index + 1;
            parts.push(pair(
                format!("{number}: {}.", said.en),
                format!("{number}：{}。", said.ja),
            ));
        }
        sentences(parts)
    }

    fn unfolded(&self) -> Pair {
        if self.profile.symmetric {
            pair("turned about the long axis", "長軸まわりに回した両面")
        } else {
            pair("unfolded along the back", "棟を境に展開した両面")
        }
    }

    /// What lines and signs mean.
    fn note(&self) -> Pair {
        let scale = ruler::written(self.scale);
        let times = tenths(self.scale);
        let mut parts = vec![pair(
            format!(
                "Both faces at scale {scale} (1 mm on paper is {times} mm on the blade), {}.",
                self.unfolded().en
            ),
            format!(
                "縮尺 {scale}（紙上の 1 mm は実物の {times} mm）、{}。",
                self.unfolded().ja
            ),
        )];
        let temper = self.record.temper_line.as_ref();
        if temper.is_some_and(|temper| temper.widths.len() == 1) {
            parts.push(pair(
                "Dot: where the width of the temper line was measured.",
                "点は刃文の幅を測った位置。",
            ));
        }
        if let Some(temper) = temper.filter(|temper| temper.widths.len() > 1) {
            parts.push(pair(
                "White along the edge: hardened band between the places where its width was measured (dots).",
                "刃側の白い部分は焼刃（点は刃文の幅を測った位置）。",
            ));
            if !temper.breaks.is_empty() || !temper.run_outs.is_empty() {
                parts.push(pair(
                    "Its line stops where it is broken and comes down to the edge where it runs out.",
                    "刃文の線は匂切れで途切れ、駆け出しで刃先に下がる。",
                ));
            }
        }
        if !self.record.flaws.is_empty() {
            parts.push(pair(
                "Numbers as in the list of flaws; broken lines: suspected; struck through: ruled out; bars: extent along the blade. Signs stand by zone where the distance from the edge was not measured.",
                "番号は疵の一覧に同じ。破線の記号は疑い、斜線入りは再調査で認められず、横棒は刀身方向の長さ。刃先からの距離が未計測の記号は部位の中ほどに置く。",
            ));
        }
        parts.push(dashed_note(&self.profile.assumed));
        sentences(parts)
    }

    /// Where a flaw is drawn on a face.
    fn place(&self, flaw: &Flaw) -> (f64, f64) {
        let at = flaw.at.to_f64();
        let profile = &self.profile;
        if flaw.zone == Zone::Tang || at < 0.0 {
            return profile.tang_middle(at.abs().min(profile.tang));
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
        let mut places: Vec<f64> = labels.iter().map(|label| label.x).collect();
        spread(&mut places, pitch, [PITCH / 2.0, self.width - PITCH / 2.0]);
        // A handful of rows.
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let rows = rows as usize;
        for (index, (label, x)) in labels.iter_mut().zip(places).enumerate() {
            (label.x, label.row) = (x, index % rows);
        }
        labels
    }

    /// Draws the map.
    fn draw(&self, pen: &mut Pen) {
        let (back, edge) = self.reach();
        let omote = self.zone(0) + edge;
        let ura = omote + back + BAND + back;
        self.face(pen, 0, omote);
        self.face(pen, 1, ura);
        self.band(pen, omote + back);
        self.signs(pen, 0, omote, self.zone(0));
        self.signs(pen, 1, ura, ura + edge);
        self.key(pen, ura + edge + self.zone(1) + 2.0);
    }

    fn view(&self, face: usize, line: f64) -> View<'_> {
        View {
            left: 0.0,
            line,
            towards_edge: if face == 0 { -1.0 } else { 1.0 },
            map: self,
        }
    }

    /// Draws a face (0 omote, 1 ura) with the line tip–datum at a height.
    pub(super) fn face(&self, pen: &mut Pen, face: usize, line: f64) {
        let view = self.view(face, line);
        let which = if face == 0 { Face::Omote } else { Face::Ura };
        view.body(&mut pen.draws, which);
        view.tang(&mut pen.draws, which);
    }

    /// Draws the signs of a face, with their numbers beyond the height `outer`.
    pub(super) fn signs(&self, pen: &mut Pen, face: usize, line: f64, outer: f64) {
        if let Some(labels) = self.outer.get(face) {
            self.view(face, line).flaws(pen, labels, outer);
        }
    }

    /// Ruler and names of the faces between the two backs.
    fn band(&self, pen: &mut Pen, top: f64) {
        let middle = top + BAND / 2.0;
        let ruler = Ruler {
            x: self.profile.tang / self.scale,
            y: middle,
            length: self.profile.length,
            scale: self.scale,
            room: [0.0, self.width],
        };
        ruler.draw(pen);
        let end = ruler.x + ruler.length / self.scale;
        let from = ruler::from_datum(self.record);
        pen.say(&from, MAP, [end, middle - 1.8], Anchor::Right);
        for (face, y) in [(Face::Omote, middle - 2.6), (Face::Ura, middle + 2.6)] {
            pen.say(&words::name(face), MAP, [0.0, y], Anchor::Left);
        }
    }

    /// Signs in use and the scale bar.
    fn key(&self, pen: &mut Pen, top: f64) {
        let y = self.key_signs(pen, [0.0, top]);
        ruler::scale_bar(pen, self.width, y, self.scale);
    }

    /// Signs in use with their meaning; returns the height of the last line.
    pub(super) fn key_signs(&self, pen: &mut Pen, [left, top]: [f64; 2]) -> f64 {
        for (row, signs) in self.key.iter().enumerate() {
            let y = top + 2.1 + row as f64 * 4.2;
            let mut x = left + 1.5;
            for sign in signs {
                pen.draws.extend(sign.draw(x, y, Standing::Confirmed));
                pen.say(&sign.meaning(), MAP, [x + 2.4, y], Anchor::Left);
                x += key_width(pen, *sign);
            }
        }
        top + 2.1 + (self.key.len().saturating_sub(1)) as f64 * 4.2
    }
}

/// Moves places in rising order apart until each is at least `pitch` from the next and all lie between two limits.
pub(super) fn spread(places: &mut [f64], pitch: f64, [least, most]: [f64; 2]) {
    let mut low = least;
    for place in places.iter_mut() {
        *place = place.max(low);
        low = *place + pitch;
    }
    let mut high = most;
    for place in places.iter_mut().rev() {
        *place = place.min(high);
        high = *place - pitch;
    }
}

/// Width a sign takes in the key.
fn key_width(pen: &Pen, sign: Sign) -> f64 {
    pen.width(&sign.meaning(), MAP) + 7.0
}

/// A flaw in words that stand alone: kind, size, place, zone, faces, standing; `hakobore 刃毀れ (chip in the edge),
/// 3.2 mm long, 41 mm from the back notch, edge, omote, confirmed`.
pub(crate) fn flaw_words(record: &Record, flaw: &Flaw) -> Pair {
    let mut parts = vec![pair(
        format!("{} ({})", words::name(flaw.kind).en, flaw.kind.gloss()),
        flaw.kind.japanese(),
    )];
    for (en, ja, size) in [
        ("long", "長さ", &flaw.length),
        ("wide", "幅", &flaw.width),
        ("deep", "深さ", &flaw.depth),
    ] {
        if let Some(size) = size {
            let value = words::number(size.value);
            parts.push(pair(format!("{value} mm {en}"), format!("{ja} {value} mm")));
        }
    }
    let (at, datum) = (words::number(flaw.at.value), ruler::datum(record));
    parts.push(pair(
        format!("{at} mm from the {}", datum.en),
        format!("{}より {at} mm", datum.ja),
    ));
    parts.push(words::gloss(flaw.zone));
    let faces: Vec<Pair> = flaw
        .faces
        .iter()
        .map(|face| pair(face.key().replace('_', " "), face.japanese()))
        .collect();
    parts.push(pair(
        listed(&faces).en.replace(", ", " and "),
        listed(&faces).ja.replace('、', "・"),
    ));
    parts.push(words::gloss(flaw.standing));
    listed(&parts)
}
