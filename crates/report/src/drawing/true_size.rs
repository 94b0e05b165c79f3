//! The blade in true size, cut into sheets that are laid together again.

use tangmark_core::record::{Face, Record};

use super::{
    Anchor, Drawing, Pen, Words, clip::Window, dashed_note, map::Map, profile::Profile, ruler,
    ruler::Ruler, sentences, tenths,
};
use crate::{
    PageSize,
    font::Weight,
    layout::{
        Style,
        style::{HAIR, INK, MAP, NOTE, SLATE},
    },
    pages::words,
    scene::{Colour, Path, Stroke},
    speech::{Pair, Speech, pair},
};

/// Margins of a sheet, mm: left and right, top, bottom.
const SIDE: f64 = 12.0;
const TOP: f64 = 14.0;
const BOTTOM: f64 = 14.0;
/// How much of the blade stands on two sheets, mm.
const OVERLAP: f64 = 15.0;
/// Length of the control bar, mm.
pub(super) const CONTROL: f64 = 100.0;
/// Where the advice begins beside control bar and signs, mm from the left margin.
const ADVICE: f64 = CONTROL + 60.0;
/// Height of title, page plan and control bar, mm.
const HEAD: f64 = 15.0;
/// Height of control bar and signs in use, mm.
pub(super) const FOOT: f64 = 22.0;
/// Height of the ruler between the faces, mm.
const BAND: f64 = 9.0;
/// Room for numbers of flaws beyond a face, mm.
const NUMBERS: f64 = 11.0;
/// Most sheets: more is a slip of the pen among the numbers.
const MOST: usize = 24;

/// How the blade is cut.
pub(super) struct Cut {
    /// Sheets for one length of the blade.
    pub(super) count: usize,
    /// What one sheet shows, mm of the blade.
    pub(super) shown: f64,
}

impl Cut {
    /// Cuts `whole` mm into equal parts of at most `room` mm that overlap.
    pub(super) fn of(whole: f64, room: f64) -> Option<Self> {
        if !(whole > 0.0 && whole.is_finite() && room > 2.0 * OVERLAP) {
            return None;
        }
        let count = ((whole - OVERLAP) / (room - OVERLAP)).ceil().max(1.0);
        if count > MOST as f64 {
            return None;
        }
        let shown = (whole + (count - 1.0) * OVERLAP) / count;
        // At most a few.
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let count = count as usize;
        Some(Self { count, shown })
    }

    /// Where a sheet begins, mm from the end of the tang.
    pub(super) fn start(&self, sheet: usize) -> f64 {
        sheet as f64 * (self.shown - OVERLAP)
    }
}

/// A face (0 omote, 1 ura) with the height of its line tip–datum and of the end of its strip.
type Placed = (usize, f64, f64);
/// Faces on a sheet, and the height of the ruler.
type Layout = (Vec<Placed>, f64);

/// What stands on one sheet.
struct Sheet<'a> {
    map: &'a Map<'a>,
    record: &'a Record,
    cut: &'a Cut,
    faces: Vec<Placed>,
    ruler: f64,
    size: [f64; 2],
    speech: Speech,
}

/// Draws the blade in true size on sheets of paper laid lengthwise, edges and margins included; none when it does not
/// fit across the paper or would take too many.
pub(crate) fn true_size(record: &Record, page: PageSize, speech: Speech) -> Vec<Drawing> {
    let size = match page {
        PageSize::A4 => [297.0, 210.0],
        PageSize::Letter => [279.4, 215.9],
    };
    let profile = Profile::of(record);
    let whole = profile.length + profile.tang;
    let Some(cut) = Cut::of(whole, size[0] - 2.0 * SIDE) else {
        return Vec::new();
    };
    let map = Map::at_scale(record, profile, [whole, 1.0], speech).with_key(ADVICE - 4.0);
    let (back, edge) = map.reach();
    let room = size[1] - TOP - BOTTOM - HEAD - FOOT;
    let top = TOP + HEAD;
    let single = NUMBERS + edge + back + BAND;
    let layouts: Vec<Layout> = if single + back + edge + NUMBERS <= room {
        // In the middle of the sheet.
        let spare = (room - single - back - edge - NUMBERS) / 2.0;
        let omote = top + spare + NUMBERS + edge;
        let ura = omote + back + BAND + back;
        vec![(
            vec![(0, omote, omote - edge), (1, ura, ura + edge)],
            omote + back + 2.0,
        )]
    } else if single <= room {
        // Each face on sheets of its own.
        let omote = top + NUMBERS + edge;
        let ura = top + BAND + back;
        vec![
            (vec![(0, omote, top + NUMBERS)], omote + back + 2.0),
            (vec![(1, ura, ura + edge)], top),
        ]
    } else {
        return Vec::new();
    };
    let total = layouts.len() * cut.count;
    let mut drawings = Vec::new();
    for (layout, (faces, ruler)) in layouts.into_iter().enumerate() {
        let sheet = Sheet {
            map: &map,
            record,
            cut: &cut,
            faces,
            ruler,
            size,
            speech,
        };
        for index in 0..cut.count {
            drawings.extend(sheet.draw(index, [layout * cut.count + index, total]));
        }
    }
    // A set with a sheet missing would not show the whole blade.
    if drawings.len() == total {
        drawings
    } else {
        Vec::new()
    }
}

impl Sheet<'_> {
    fn draw(&self, index: usize, [number, total]: [usize; 2]) -> Option<Drawing> {
        let start = self.cut.start(index);
        let left = (self.size[0] - self.cut.shown) / 2.0;
        // The whole blade, moved so that the part for this sheet lies between the margins.
        let mut whole = Pen::new(self.speech);
        for (face, line, outer) in &self.faces {
            self.map.face(&mut whole, *face, *line);
            self.map.signs(&mut whole, *face, *line, *outer);
        }
        let ruler = Ruler {
            x: self.map.profile.tang,
            y: self.ruler,
            length: self.map.profile.length,
            scale: 1.0,
            room: [0.0, self.map.profile.length + self.map.profile.tang],
        };
        ruler.draw(&mut whole);
        let foot = self.size[1] - BOTTOM - FOOT;
        let window = Window([start, TOP + HEAD - 2.0, start + self.cut.shown, foot]);
        let mut pen = Pen::new(self.speech);
        pen.missing = whole.missing;
        pen.draws = window
            .cut(&whole.draws)
            .iter()
            .map(|draw| super::moved(draw, left - start, 0.0))
            .collect();
        for joint in [index.checked_sub(1), Some(index)].into_iter().flatten() {
            if joint + 1 < self.cut.count {
                let middle = self.cut.start(joint + 1) + OVERLAP / 2.0;
                joint_marks(&mut pen, joint, left + middle - start, foot);
            }
        }
        for (face, _, _) in &self.faces {
            let (face, name) = if *face == 0 {
                (Face::Omote, TOP + HEAD)
            } else {
                (Face::Ura, foot - 2.0)
            };
            let at = [left + OVERLAP + 3.0, name];
            pen.say(&words::name(face), MAP, at, Anchor::Left);
        }
        self.head(&mut pen, [number, total]);
        self.foot(&mut pen, index, foot);
        let words = Words {
            title: pair("Blade in true size", "原寸図"),
            alternative: self.alternative(start, [number, total]),
            note: self.note(),
        };
        Drawing::of(pen, self.size, words)
    }

    /// Blade and number of the sheet, with the plan of all sheets.
    fn head(&self, pen: &mut Pen, [number, total]: [usize; 2]) {
        let title = Style {
            weight: Weight::Bold,
            colour: INK,
            ..NOTE
        };
        let right = self.size[0] - SIDE;
        let record = self.record.sequence;
        let blade = &self.record.blade;
        let name = format!("{} · {}", blade.title, blade.id);
        pen.write_within(&name, title, [SIDE, TOP + 2.0], Anchor::Left, right * 0.55);
        let sheet = number + 1;
        let count = pair(
            format!("record {record}, true size 1 : 1, sheet {sheet} of {total}"),
            format!("記録 {record}、原寸 1 : 1、{total} 枚中 {sheet} 枚目"),
        );
        pen.say_within(
            &count,
            title,
            [right, TOP + 2.0],
            Anchor::Right,
            right * 0.4,
        );
        // The plan: one box for each sheet, this one dark.
        let box_width = (60.0 / total as f64).min(9.0);
        for index in 0..total {
            let x = right - (total - index) as f64 * box_width;
            let path = Path::rectangle(x, TOP + 5.4, box_width - 0.8, 4.2);
            if index == number {
                pen.fill(path.clone(), SLATE);
            }
            pen.stroke(path, Stroke::solid(INK, 0.2));
            let style = Style {
                colour: if index == number { Colour::WHITE } else { INK },
                ..MAP
            };
            let at = [x + (box_width - 0.8) / 2.0, TOP + 7.5];
            pen.write(&(index + 1).to_string(), style, at, Anchor::Middle);
        }
        let from = ruler::from_datum(self.record);
        pen.say(&from, MAP, [SIDE, TOP + 7.5], Anchor::Left);
    }

    /// The control bar and what to do with the sheets; on the first one the signs in use.
    fn foot(&self, pen: &mut Pen, index: usize, top: f64) {
        let y = top + 4.0;
        let bar = Stroke::solid(INK, 0.4);
        pen.line([SIDE, y], [SIDE + CONTROL, y], bar.clone());
        let mut ticks = Path::new();
        for step in 0..=10 {
            let x = SIDE + CONTROL * f64::from(step) / 10.0;
            let size = if step % 5 == 0 { 2.0 } else { 1.2 };
            ticks.add_points([[x, y - size], [x, y]]);
        }
        pen.stroke(ticks, bar);
        let told = pair(
            "This bar must measure 100 mm on paper: print without scaling.",
            "この目盛は紙上で 100 mm になること。拡大・縮小せずに印刷する。",
        );
        pen.say_within(&told, MAP, [SIDE, y + 2.6], Anchor::Left, 150.0);
        let x = SIDE + ADVICE;
        let mut rest = Vec::new();
        if self.cut.count > 1 {
            rest.push(pair(
                "Lay the sheets over each other until marks of one letter and the dashed lines meet.",
                "同じ文字の印と破線が重なるように紙を重ねて継ぐ。",
            ));
        }
        rest.push(dashed_note(&self.map.profile.assumed));
        let rest: Vec<&Pair> = rest.iter().collect();
        pen.paragraph(&rest, MAP, [x, top + 1.0], self.size[0] - SIDE - x);
        if index == 0 {
            self.map.key_signs(pen, [SIDE, y + 5.0]);
        }
    }

    fn alternative(&self, start: f64, [number, total]: [usize; 2]) -> Pair {
        let profile = &self.map.profile;
        let along = |place: f64| tenths(place - profile.tang);
        let (from, to) = (along(start), along(start + self.cut.shown));
        let datum = ruler::datum(self.record);
        let sheet = number + 1;
        let faces = match self.faces.as_slice() {
            [(0, _, _)] => pair("omote", "表"),
            [(1, _, _)] => pair("ura", "裏"),
            _ => pair("both faces", "両面"),
        };
        pair(
            format!(
                "Sheet {sheet} of {total}: {} in true size, from {from} mm to {to} mm of the {}, tang at the left.",
                faces.en, datum.en
            ),
            format!(
                "{total} 枚中 {sheet} 枚目：{}の原寸図、{}を基点に {from} mm から {to} mm、左が茎。",
                faces.ja, datum.ja
            ),
        )
    }

    fn note(&self) -> Pair {
        let overlap = tenths(OVERLAP);
        let mut parts = vec![pair(
            "True size: 1 mm on paper is 1 mm on the blade, when the control bar measures 100 mm.",
            "原寸。目盛が 100 mm のとき、紙上の 1 mm は実物の 1 mm。",
        )];
        if self.cut.count > 1 {
            parts.push(pair(
                format!("Neighbouring sheets show the same {overlap} mm."),
                format!("隣り合う紙は {overlap} mm 重複する。"),
            ));
        }
        parts.push(dashed_note(&self.map.profile.assumed));
        sentences(parts)
    }
}

/// Marks of a joint: the same on the two sheets that meet there.
fn joint_marks(pen: &mut Pen, joint: usize, x: f64, foot: f64) {
    let (top, bottom) = (TOP + HEAD - 2.0, foot);
    pen.line(
        [x, top + 4.0],
        [x, bottom - 4.0],
        Stroke::dashed(HAIR, 0.2, 2.0, 1.5),
    );
    // Letters up to Z are enough for the most sheets there may be.
    let letter = u8::try_from(joint).map_or('?', |joint| char::from(b'A' + joint.min(25)));
    for y in [top + 2.0, bottom - 2.0] {
        let diamond = [[x, y - 2.0], [x + 2.0, y], [x, y + 2.0], [x - 2.0, y]];
        pen.fill(Path::polygon(diamond), Colour::WHITE);
        pen.stroke(Path::polygon(diamond), Stroke::solid(INK, 0.25));
        let mut cross = Path::line(x - 3.2, y, x - 2.0, y);
        cross.append(&Path::line(x + 2.0, y, x + 3.2, y));
        pen.stroke(cross, Stroke::solid(INK, 0.2));
        let bold = Style {
            weight: Weight::Bold,
            colour: INK,
            ..MAP
        };
        pen.write(&letter.to_string(), bold, [x, y], Anchor::Middle);
    }
}
