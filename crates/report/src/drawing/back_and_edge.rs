//! The blade seen from its back and from its edge: thickness along its length.

use tangmark_core::record::{Dimensions, Face, Flaw, Length, Record, Zone};

use super::{
    Anchor, Drawing, Pen, Words, dashed_note,
    map::spread,
    profile::{Profile, interpolate, mm, positive},
    ruler::{self, Ruler},
    sentences,
    symbols::Sign,
    tenths, words_width,
};
use crate::{
    layout::style::{INK, MAP, SLATE},
    scene::{Colour, Path, Stroke},
    speech::{Pair, Speech, pair},
};

/// Height of a row of words, mm.
const ROW: f64 = 3.4;
/// Distance of numbers of flaws from each other, mm.
const PITCH: f64 = 3.9;
/// Most height that the thickness of the blade may take on paper, mm.
const MOST_HEIGHT: f64 = 11.0;
/// Steel that slopes away from the reader.
const SLOPE: Colour = Colour(0xd8, 0xdc, 0xe1);
/// Thickness at the tang's end and at the tip, as parts of that at the nearest measured place.
///
/// Source: common practice, no source.
const TANG_END: f64 = 0.7;
const TIP: f64 = 0.15;

/// Thicknesses along the blade: places and values, mm.
struct Thickness {
    ridge: Vec<(f64, f64)>,
    back: Vec<(f64, f64)>,
    assumed: Vec<Pair>,
}

impl Thickness {
    fn of(record: &Record, profile: &Profile) -> Option<Self> {
        let dimensions = record.dimensions.as_ref()?;
        let tip = profile.length - profile.point;
        let of_stations = |field: fn(&tangmark_core::record::Station) -> Option<&Length>| {
            let stations = dimensions.stations.iter();
            let mut points: Vec<(f64, f64)> = stations
                .filter_map(|station| {
                    let at = mm(Some(&station.at))?;
                    let inside = (0.0..=profile.length).contains(&at);
                    inside.then_some((at, positive(field(station))?))
                })
                .collect();
            points.sort_by(|a, b| a.0.total_cmp(&b.0));
            points
        };
        let add = |points: &mut Vec<(f64, f64)>, at: f64, value: Option<f64>| {
            if let Some(value) = value
                && !points.iter().any(|point| (point.0 - at).abs() < 1.0)
            {
                points.push((at, value));
                points.sort_by(|a, b| a.0.total_cmp(&b.0));
            }
        };
        let single = |field: fn(&Dimensions) -> Option<&Length>| positive(field(dimensions));
        let mut ridge = of_stations(|station| station.ridge_thickness.as_ref());
        let mut back = of_stations(|station| station.back_thickness.as_ref());
        add(&mut ridge, 0.0, single(|it| it.thickness_at_base.as_ref()));
        add(&mut ridge, tip, single(|it| it.thickness_at_point.as_ref()));
        add(
            &mut back,
            0.0,
            single(|it| it.back_thickness_at_base.as_ref()),
        );
        if ridge.is_empty() {
            return None;
        }
        let mut assumed = vec![pair("thickness of tang and tip", "茎と先端の重ね")];
        if ridge.len() < 2 {
            assumed.push(pair("change of thickness along the blade", "重ねの変化"));
        }
        Some(Self {
            ridge,
            back,
            assumed,
        })
    }

    /// The places between which the thickness was measured.
    fn measured(points: &[(f64, f64)]) -> [f64; 2] {
        let first = points.first().map_or(0.0, |point| point.0);
        [first, points.last().map_or(first, |point| point.0)]
    }
}

/// How the view lies on paper.
struct Strip {
    /// The datum.
    x: f64,
    /// 1 to this number, along the blade.
    scale: f64,
    /// 1 to this number, across it.
    across: f64,
    width: f64,
}

impl Strip {
    fn x(&self, along: f64) -> f64 {
        self.x + along / self.scale
    }

    /// Draws an outline symmetrical about the middle line at y: filled, solid where measured, dashed to both ends.
    fn outline(
        &self,
        pen: &mut Pen,
        points: &[(f64, f64)],
        [start, end]: [f64; 2],
        y: f64,
        fill: Colour,
    ) {
        let [first, last] = Thickness::measured(points);
        let half = |along: f64| interpolate(points, along) / 2.0 / self.across;
        let ends = [
            (
                start,
                half(first) * if start < 0.0 { TANG_END } else { 1.0 },
            ),
            (end, half(last) * TIP),
        ];
        let mut shape: Vec<(f64, f64)> = vec![ends[0]];
        if start < 0.0 && first > 0.0 {
            shape.push((0.0, half(0.0)));
        }
        shape.extend(points.iter().map(|point| (point.0, half(point.0))));
        shape.push(ends[1]);
        let side = |sign: f64| {
            shape
                .iter()
                .map(move |(along, half)| [self.x(*along), y + sign * half])
                .collect::<Vec<_>>()
        };
        let around = side(-1.0).into_iter().chain(side(1.0).into_iter().rev());
        pen.fill(Path::polygon(around), fill);
        for sign in [-1.0, 1.0] {
            let line = side(sign);
            let measured = [self.x(first), self.x(last)];
            let piece = |keep: &dyn Fn(f64) -> bool| {
                Path::open(line.iter().copied().filter(|point| keep(point[0])))
            };
            pen.stroke(
                piece(&|x| x >= measured[0] - 1e-9 && x <= measured[1] + 1e-9),
                thin(points.len() >= 2),
            );
            pen.stroke(piece(&|x| x <= measured[0] + 1e-9), thin(false));
            pen.stroke(piece(&|x| x >= measured[1] - 1e-9), thin(false));
        }
    }

    /// Writes values at their places, leaving out what would run into the one before; returns whether any was left out.
    fn values(&self, pen: &mut Pen, points: &[(f64, f64)], y: f64) -> bool {
        let mut free = f64::NEG_INFINITY;
        let mut left_out = false;
        for (along, value) in points {
            let text = super::decimals(*value, 2);
            let half = words_width(&text, MAP) / 2.0;
            let x = self.x(*along).clamp(half, self.width - half);
            if x - half < free {
                left_out = true;
                continue;
            }
            pen.write(&text, MAP, [x, y], Anchor::Middle);
            free = x + half + 1.0;
        }
        left_out
    }

    /// Draws signs of flaws on the middle line at y, their numbers below `under`.
    fn flaws(&self, pen: &mut Pen, flaws: &[(usize, &Flaw)], y: f64, under: f64) {
        let x = |flaw: &Flaw| self.x(flaw.at.to_f64()).clamp(2.0, self.width - 2.0);
        let mut ordered: Vec<&(usize, &Flaw)> = flaws.iter().collect();
        ordered.sort_by(|a, b| x(a.1).total_cmp(&x(b.1)));
        let mut places: Vec<f64> = ordered.iter().map(|flaw| x(flaw.1)).collect();
        let pitch = PITCH.min((self.width - PITCH) / (places.len() as f64).max(1.0));
        spread(&mut places, pitch, [PITCH / 2.0, self.width - PITCH / 2.0]);
        for ((number, flaw), place) in ordered.into_iter().zip(places) {
            let line = Path::open([[x(flaw), y], [place, under + 0.6]]);
            pen.stroke(line, Stroke::solid(SLATE, 0.12));
            pen.draws
                .extend(Sign::of(flaw.kind).draw(x(flaw), y, flaw.standing));
            let number = (number + 1).to_string();
            pen.write(
                &number,
                super::map::NUMBER,
                [place, under + ROW / 2.0 + 0.6],
                Anchor::Middle,
            );
        }
    }
}

/// Thin lines: two of them lie close to each other.
fn thin(measured: bool) -> Stroke {
    if measured {
        Stroke::solid(INK, 0.18)
    } else {
        Stroke::dashed(INK, 0.18, 1.2, 0.8)
    }
}

/// Flaws of one narrow side.
fn flaws_of(record: &Record, zone: Zone, side: Face) -> Vec<(usize, &Flaw)> {
    let flaws = record.flaws.iter().enumerate();
    flaws
        .filter(|(_, flaw)| flaw.zone == zone || flaw.faces.contains(&side))
        .collect()
}

/// Draws the blade from its back and from its edge; without a back only from the edge. Nothing without a thickness.
pub(crate) fn back_and_edge(record: &Record, width: f64, speech: Speech) -> Option<Drawing> {
    let profile = Profile::of(record);
    let thickness = Thickness::of(record, &profile)?;
    let scale = ruler::reduced(profile.length + profile.tang, width)?;
    let thickest = thickness
        .ridge
        .iter()
        .chain(&thickness.back)
        .fold(0.0_f64, |most, point| most.max(point.1));
    let times = [10.0, 8.0, 6.0, 5.0, 4.0, 3.0, 2.0, 1.0]
        .into_iter()
        .find(|times| thickest * times / scale <= MOST_HEIGHT)?;
    let strip = Strip {
        x: profile.tang / scale,
        scale,
        across: scale / times,
        width,
    };
    let half = thickest / 2.0 / strip.across;
    let mut pen = Pen::new(speech);
    let ends = [-profile.tang, profile.length];
    let mut y = 0.0;
    let mut left_out = false;
    let name = |pen: &mut Pen, words: &Pair, y: f64| {
        pen.say(words, MAP, [0.0, y + ROW / 2.0], Anchor::Left);
    };
    let label_width = (strip.x - 4.0).max(12.0);
    let label = |pen: &mut Pen, words: &Pair, y: f64| {
        pen.say_within(words, MAP, [0.0, y + ROW / 2.0], Anchor::Left, label_width);
    };
    let at_ridge = if profile.symmetric || thickness.back.is_empty() {
        pair("greatest, mm", "最大重ね mm")
    } else {
        pair("at the ridge, mm", "鎬の重ね mm")
    };
    if !profile.symmetric {
        name(&mut pen, &pair("from the back", "棟側より"), y);
        y += ROW;
        label(&mut pen, &at_ridge, y);
        left_out |= strip.values(&mut pen, &thickness.ridge, y + ROW / 2.0);
        y += ROW + 0.4;
        let middle = y + half;
        strip.outline(&mut pen, &thickness.ridge, ends, middle, SLOPE);
        if !thickness.back.is_empty() {
            strip.outline(
                &mut pen,
                &thickness.back,
                [0.0, profile.length],
                middle,
                Colour::WHITE,
            );
        }
        y += 2.0 * half + 0.4;
        if !thickness.back.is_empty() {
            label(&mut pen, &pair("at the back, mm", "棟の重ね mm"), y);
            left_out |= strip.values(&mut pen, &thickness.back, y + ROW / 2.0);
            y += ROW;
        }
        let flaws = flaws_of(record, Zone::Back, Face::BackSide);
        strip.flaws(&mut pen, &flaws, middle, y);
        y += if flaws.is_empty() { 0.6 } else { ROW + 1.2 };
    }
    let ruler = Ruler {
        x: strip.x,
        y: y + 1.0,
        length: profile.length,
        scale,
        room: [0.0, width],
    };
    ruler.draw(&mut pen);
    let from = ruler::from_datum(record);
    y += 1.0 + Ruler::BELOW;
    let end = strip.x(profile.length);
    let beside = [end, y + ROW / 2.0];
    pen.say_within(&from, MAP, beside, Anchor::Right, end * 0.6);
    name(&mut pen, &pair("from the edge", "刃側より"), y);
    if profile.symmetric {
        y += ROW;
        label(&mut pen, &at_ridge, y);
        left_out |= strip.values(&mut pen, &thickness.ridge, y + ROW / 2.0);
    }
    y += ROW + 0.4;
    let middle = y + half;
    strip.outline(&mut pen, &thickness.ridge, ends, middle, SLOPE);
    pen.line(
        [strip.x(0.0), middle],
        [strip.x(profile.length), middle],
        Stroke::solid(SLATE, 0.18),
    );
    y += 2.0 * half + 0.4;
    let flaws = flaws_of(record, Zone::Edge, Face::EdgeSide);
    strip.flaws(&mut pen, &flaws, middle, y);
    y += if flaws.is_empty() { 0.6 } else { ROW + 1.2 };
    ruler::scale_bar(&mut pen, width, y + 2.2, scale);
    let words = Words {
        title: if profile.symmetric {
            pair("Blade from its edge", "刃側より見た図")
        } else {
            pair(
                "Blade from its back and from its edge",
                "棟側・刃側より見た図",
            )
        },
        alternative: alternative(record, &thickness, scale),
        note: note(&thickness, scale, times, left_out),
    };
    Drawing::of(pen, [width, y + 4.4], words)
}

/// How values change along the blade: `falls from 6.9 mm at the back notch to 4.8 mm at 650 mm`.
fn change(record: &Record, points: &[(f64, f64)]) -> Pair {
    let datum = ruler::datum(record);
    let place = |along: f64| {
        if along.abs() < 0.5 {
            pair(format!("at the {}", datum.en), datum.ja.clone())
        } else {
            let along = tenths(along);
            pair(format!("at {along} mm"), format!("{along} mm の位置"))
        }
    };
    let value = |value: f64| {
        super::decimals(value, 2)
            .trim_end_matches('0')
            .trim_end_matches('.')
            .to_owned()
    };
    let (Some(first), Some(last)) = (points.first(), points.last()) else {
        return pair("not measured", "未計測");
    };
    let (from, to) = (place(first.0), place(last.0));
    let (a, b) = (value(first.1), value(last.1));
    if points.len() < 2 {
        return pair(
            format!("{a} mm {}", from.en),
            format!("{}で {a} mm", from.ja),
        );
    }
    let (verb_en, verb_ja) = if last.1 < first.1 {
        ("falls", "減少")
    } else if last.1 > first.1 {
        ("rises", "増加")
    } else {
        ("stays the same,", "変化なし")
    };
    pair(
        format!("{verb_en} from {a} mm {} to {b} mm {}", from.en, to.en),
        format!("{}の {a} mm から {}の {b} mm へ{verb_ja}", from.ja, to.ja),
    )
}

fn alternative(record: &Record, thickness: &Thickness, scale: f64) -> Pair {
    let scale = ruler::written(scale);
    let mut parts = vec![pair(
        format!(
            "The blade seen from its narrow sides, tang at the left, scale {scale} along the blade."
        ),
        format!("刀身を棟側・刃側から見た図、左が茎、長さ方向の縮尺 {scale}。"),
    )];
    let ridge = change(record, &thickness.ridge);
    let greatest = thickness.back.is_empty();
    parts.push(pair(
        format!(
            "Thickness{} {}.",
            if greatest { "" } else { " at the ridge" },
            ridge.en
        ),
        format!(
            "{}：{}。",
            if greatest { "重ね" } else { "鎬の重ね" },
            ridge.ja
        ),
    ));
    if !greatest {
        let back = change(record, &thickness.back);
        parts.push(pair(
            format!("Thickness of the back {}.", back.en),
            format!("棟の重ね：{}。", back.ja),
        ));
    }
    let sides = [
        flaws_of(record, Zone::Back, Face::BackSide),
        flaws_of(record, Zone::Edge, Face::EdgeSide),
    ];
    let mut said: Vec<(usize, Pair)> = Vec::new();
    for (index, flaw) in sides.into_iter().flatten() {
        if !said.iter().any(|(known, _)| *known == index) {
            let words = super::map::flaw_words(record, flaw);
            let number = index + 1;
            said.push((
                index,
                pair(
                    format!("{number}: {}.", words.en),
                    format!("{number}：{}。", words.ja),
                ),
            ));
        }
    }
    said.sort_by_key(|(index, _)| *index);
    parts.extend(said.into_iter().map(|(_, words)| words));
    sentences(parts)
}

fn note(thickness: &Thickness, scale: f64, times: f64, left_out: bool) -> Pair {
    let scale = ruler::written(scale);
    let mut parts = vec![if times > 1.0 {
        pair(
            format!(
                "Scale {scale} along the blade; thickness drawn {times} times as large as that."
            ),
            format!("長さ方向の縮尺 {scale}。重ねはその {times} 倍に拡大。"),
        )
    } else {
        pair(
            format!("Scale {scale}, thickness at the same scale."),
            format!("縮尺 {scale}、重ねも同じ縮尺。"),
        )
    }];
    if !thickness.back.is_empty() {
        parts.push(pair(
            "Outer lines: thickness at the ridge; inner lines: thickness of the back.",
            "外側の線は鎬の重ね、内側の線は棟の重ね。",
        ));
    }
    if left_out {
        parts.push(pair(
            "Numbers that would run into each other are left out here; all stand in the table of stations.",
            "重なる数値はこの図では省略。すべての値は計測位置の表による。",
        ));
    }
    parts.push(dashed_note(&thickness.assumed));
    sentences(parts)
}
