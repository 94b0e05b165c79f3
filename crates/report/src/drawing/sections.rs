//! Sections at the stations, with the steel that went since an earlier record.

use std::fmt::Write as _;

use tangmark_core::record::{Record, Station};

use super::{
    Anchor, Drawing, Pen, Words, dashed_note, decimals, line_stroke, ruler,
    section_outline::Outline,
    sentences,
    stations::{Match, matched},
    tenths,
};
use crate::{
    compare::state,
    layout::style::{INK, MAP, SLATE, STEEL},
    scene::{Colour, Path, Stroke},
    speech::{Pair, Speech, pair},
};

/// Steel that is gone: dark enough to be told from the ground in black and white.
const GONE: Colour = Colour(0x86, 0x8b, 0x92);
/// Most sections in one drawing.
const MOST: usize = 16;
/// Most sections in a row.
const MOST_IN_ROW: usize = 8;
/// Most height of a section on paper, mm.
const MOST_HEIGHT: f64 = 48.0;
/// Least distance between the middles of two sections, mm.
const PITCH: f64 = 19.0;
/// Height of the words below a section, mm.
const WORDS: f64 = 3.3;

/// A section with what it was before.
struct Pairing {
    now: Outline,
    before: Option<Outline>,
}

impl Pairing {
    /// The sections of all stations that have one, in order along the blade, each with that of the same place before.
    fn all(record: &Record, before: Option<&Record>) -> Vec<Self> {
        let earlier = before.map(|before| (before, matched(before, record)));
        let before = |station: &Station| {
            let (before, matches) = earlier.as_ref()?;
            let same =
                |one: &&Match<'_>| one.after.is_some_and(|after| std::ptr::eq(after, station));
            Outline::of(before, matches.iter().find(same)?.before?)
        };
        let stations = record.dimensions.iter().flat_map(|it| &it.stations);
        let mut all: Vec<Self> = stations
            .filter_map(|station| {
                Some(Self {
                    now: Outline::of(record, station)?,
                    before: before(station),
                })
            })
            .collect();
        all.sort_by(|a, b| a.now.at.total_cmp(&b.now.at));
        all
    }

    /// Loss of width and of thickness, mm.
    fn loss(&self) -> Option<[f64; 2]> {
        let before = self.before.as_ref()?;
        Some([
            before.width - self.now.width,
            before.thickness - self.now.thickness,
        ])
    }

    /// The corners before and now; nothing when the outlines are not of one form.
    fn corners(&self) -> Option<impl Iterator<Item = ([f64; 2], [f64; 2])>> {
        let before = self.before.as_ref()?;
        let same = before.known == self.now.known && before.corners.len() == self.now.corners.len();
        let pairs = before.corners.iter().zip(&self.now.corners);
        same.then(|| pairs.map(|(was, is)| (*was, *is)))
    }

    /// How far the corner went that went farthest, mm.
    fn greatest(&self) -> f64 {
        let away = |(was, is): ([f64; 2], [f64; 2])| (was[0] - is[0]).hypot(was[1] - is[1]);
        let corners = self.corners().into_iter().flatten();
        corners.map(away).fold(0.0, f64::max)
    }

    /// The corners before, with every loss drawn `times` as large.
    fn before(&self, times: f64) -> Option<Vec<[f64; 2]>> {
        let grown = |was: f64, is: f64| is + (was - is) * times;
        let grown = |(was, is): ([f64; 2], [f64; 2])| [grown(was[0], is[0]), grown(was[1], is[1])];
        Some(self.corners()?.map(grown).collect())
    }
}

/// Draws the sections of a record, and what went of them since `before`; nothing without a station with width and
/// thickness.
pub(crate) fn sections(
    record: &Record,
    before: Option<&Record>,
    width: f64,
    speech: Speech,
) -> Option<Drawing> {
    let all = Pairing::all(record, before);
    let count = all.len();
    // Evenly thinned out, first and last kept.
    let shown: Vec<Pairing> = all
        .into_iter()
        .enumerate()
        .filter(|(index, _)| count <= MOST || (index * (MOST - 1)) % (count - 1) < MOST - 1)
        .map(|(_, one)| one)
        .collect();
    if shown.is_empty() {
        return None;
    }
    let most_in_row = (2..=MOST_IN_ROW)
        .rfind(|columns| width / *columns as f64 >= PITCH)
        .unwrap_or(1);
    let columns = shown.len().min(most_in_row);
    let rows = shown.len().div_ceil(columns);
    let tallest = shown
        .iter()
        .fold(0.0_f64, |most, one| most.max(one.now.width));
    let thickest = shown
        .iter()
        .fold(0.0_f64, |most, one| most.max(one.now.thickness));
    let pitch = (width / columns as f64).min(40.0);
    let most_height = MOST_HEIGHT / rows as f64;
    let scale = ruler::fitting(tallest, most_height)?.max(ruler::fitting(thickest, pitch * 0.5)?);
    let greatest = shown.iter().map(Pairing::greatest).fold(0.0_f64, f64::max);
    // As large as can be told with the naked eye, but no larger than 3.5 mm on paper.
    let times = [100.0, 50.0, 20.0, 10.0, 5.0, 2.0, 1.0]
        .into_iter()
        .find(|times| greatest * times / scale <= 3.5)
        .filter(|_| greatest > 0.0)
        .unwrap_or(1.0);
    let grown = greatest * times / scale;
    let with_loss = shown.iter().any(|one| one.before.is_some());
    let roof = thickest * 0.3 / scale + 0.6;
    let words_height = WORDS * if with_loss { 3.0 } else { 2.0 };
    let row_height = roof + grown + tallest / scale + grown + words_height + 3.0;
    let mut pen = Pen::new(speech);
    for (index, one) in shown.iter().enumerate() {
        let middle = ((index % columns) as f64 + 0.5) * pitch;
        let top = (index / columns) as f64 * row_height + roof + grown;
        draw_one(&mut pen, one, [middle, top], scale, times);
        let mut y = top + tallest / scale + grown + WORDS / 2.0 + 0.6;
        let mut line = |pen: &mut Pen, text: &str, style| {
            pen.write_within(text, style, [middle, y], Anchor::Middle, pitch - 1.0);
            y += WORDS;
        };
        let bold = crate::layout::Style {
            weight: crate::font::Weight::Bold,
            colour: INK,
            ..MAP
        };
        line(&mut pen, &format!("{} mm", tenths(one.now.at)), bold);
        line(
            &mut pen,
            &format!("{} × {}", short(one.now.width), short(one.now.thickness)),
            MAP,
        );
        if let Some([wide, thick]) = one.loss() {
            line(
                &mut pen,
                &format!("{} × {}", signed(-wide), signed(-thick)),
                MAP,
            );
        }
    }
    let height = rows as f64 * row_height + 4.4;
    ruler::scale_bar(&mut pen, width, height - 2.2, scale);
    let assumed: Vec<Pair> = if shown.iter().any(|one| !one.now.roof.is_empty()) {
        vec![pair("roof of the back", "庵の高さ")]
    } else {
        Vec::new()
    };
    let words = Words {
        title: if with_loss {
            pair(
                "Sections, with the steel that went",
                "断面図（失われた鋼を示す）",
            )
        } else {
            pair("Sections", "断面図")
        },
        alternative: alternative(record, before, &shown, scale),
        note: note(&shown, count, [scale, times], &assumed),
    };
    Drawing::of(pen, [width, height], words)
}

fn draw_one(pen: &mut Pen, one: &Pairing, [x, y]: [f64; 2], scale: f64, times: f64) {
    let on_paper = |points: &[[f64; 2]]| {
        let places: Vec<[f64; 2]> = points
            .iter()
            .map(|point| [x + point[0] / scale, y + point[1] / scale])
            .collect();
        places
    };
    let now = on_paper(&one.now.corners);
    let before = one.before(times).map(|corners| on_paper(&corners));
    if let Some(before) = &before {
        pen.fill(Path::polygon(before.iter().copied()), GONE);
    }
    pen.fill(Path::polygon(now.iter().copied()), STEEL);
    if let Some(before) = before {
        pen.stroke(Path::polygon(before), Stroke::solid(INK, 0.12));
    }
    let stroke = if one.now.known {
        Stroke::solid(INK, 0.2)
    } else {
        line_stroke(false)
    };
    pen.stroke(Path::polygon(now), stroke);
    if !one.now.roof.is_empty() {
        pen.stroke(
            Path::open(on_paper(&one.now.roof)),
            Stroke::dashed(SLATE, 0.2, 0.6, 0.5),
        );
    }
}

/// A measure with at most two decimals.
fn short(value: f64) -> String {
    let text = decimals(value, 2);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// A change with its sign.
fn signed(value: f64) -> String {
    let text = decimals(value, 2);
    if text.starts_with('−') || text == "0.00" {
        text
    } else {
        format!("+{text}")
    }
}

fn alternative(record: &Record, before: Option<&Record>, shown: &[Pairing], scale: f64) -> Pair {
    let (scale, count) = (ruler::written(scale), shown.len());
    let datum = ruler::datum(record);
    let mut parts = vec![pair(
        format!(
            "{count} sections, edge down, scale {scale}, places from the {}.",
            datum.en
        ),
        format!(
            "断面 {count} 箇所、刃を下に、縮尺 {scale}、位置は{}より。",
            datum.ja
        ),
    )];
    if let Some(before) = before.filter(|_| shown.iter().any(|one| one.before.is_some())) {
        let since = state::in_text(before);
        parts.push(pair(
            format!("Losses since {}.", since.en),
            format!("減少は{}との差。", since.ja),
        ));
    }
    for one in shown {
        let (at, wide, thick) = (
            tenths(one.now.at),
            short(one.now.width),
            short(one.now.thickness),
        );
        let (mut en, mut ja) = (
            format!("At {at} mm: {wide} mm wide, {thick} mm thick"),
            format!("{at} mm：身幅 {wide} mm、重ね {thick} mm"),
        );
        if let Some([wide, thick]) = one.loss() {
            let (wide, thick) = (decimals(wide, 2), decimals(thick, 2));
            // Writing to a string cannot fail.
            let _ = write!(en, ", lost {wide} mm of width and {thick} mm of thickness");
            let _ = write!(ja, "、身幅 {wide} mm・重ね {thick} mm の減少");
        }
        parts.push(pair(format!("{en}."), format!("{ja}。")));
    }
    sentences(parts)
}

fn note(shown: &[Pairing], count: usize, [scale, times]: [f64; 2], assumed: &[Pair]) -> Pair {
    let scale = ruler::written(scale);
    let mut parts = vec![pair(
        format!(
            "Scale {scale}, width and thickness alike; edge down. Below: place, width × thickness, mm."
        ),
        format!(
            "縮尺 {scale}（幅・重ねとも同じ）、刃を下に示す。下の数値は位置、身幅 × 重ね（mm）。"
        ),
    )];
    if shown.iter().any(|one| one.before.is_some()) {
        let larger = if times > 1.0 {
            pair(
                format!("Dark: steel that went, drawn {times} times as large as it is"),
                format!("濃い部分は失われた鋼（実際の {times} 倍に拡大）"),
            )
        } else {
            pair("Dark: steel that went", "濃い部分は失われた鋼")
        };
        parts.push(pair(
            format!("{}; last line: change of both. The outlines are laid on each other at the foot of the back; the measures do not tell on which side the steel went.", larger.en),
            format!("{}。最下段は両者の変化。輪郭は棟の付け根で重ねた。どちら側が減ったかは計測値からは分からない。", larger.ja),
        ));
    }
    if shown.iter().any(|one| !one.now.known) {
        parts.push(pair(
            "A dashed box stands where the form of the section cannot be told from the measures.",
            "断面の形が計測値から定まらない箇所は破線の枠で示す。",
        ));
    }
    if shown.len() < count {
        let shown = shown.len();
        parts.push(pair(
            format!("{shown} of {count} stations are drawn."),
            format!("{count} 箇所のうち {shown} 箇所を示す。"),
        ));
    }
    parts.push(dashed_note(assumed));
    sentences(parts)
}
