//! The tang of both faces: outline, file marks, holes with their diameters, and where inscriptions stand.

use tangmark_core::record::{Face, Inscription, Record, Tang, Term as _};

use super::{
    Anchor, Drawing, Pen, Words,
    clip::Window,
    file_marks::Hatch,
    listed,
    map::{Map, spread},
    profile::Profile,
    ruler::{self, Ruler},
    sentences,
};
use crate::{
    layout::style::{INK, LABEL, MAP, SLATE},
    pages::words,
    scene::{Path, Stroke},
    speech::{Pair, Speech, pair},
};

/// How much of the blade is shown beside the tang, mm.
const BLADE_SHOWN: f64 = 40.0;
/// Room for one label of a hole, mm.
const fn label_width(speech: Speech) -> f64 {
    match speech {
        Speech::English | Speech::Japanese => 32.0,
        Speech::Both => 66.0,
    }
}
/// Height of a row of labels, mm.
const ROW: f64 = 3.4;
/// Height of the name of a face, mm.
const NAME: f64 = 4.5;

/// Draws the tang with a little of the blade; nothing without a tang in the record.
pub(crate) fn tang(record: &Record, width: f64, speech: Speech) -> Option<Drawing> {
    let tang = record.tang.as_ref()?;
    let profile = Profile::of(record);
    let shown = profile.tang + BLADE_SHOWN.min(profile.length);
    let scale = ruler::reduced(shown, width)?;
    let (back, edge) = reach(&profile, scale);
    let map = Map::at_scale(record, profile, [width, scale], speech);
    let profile = &map.profile;
    let datum = profile.tang / scale;
    let mut pen = Pen::new(speech);

    let labels = hole_labels(tang, profile, [width, scale], speech);
    let label_rows = labels.iter().map(|label| label.row + 1).max().unwrap_or(0);
    let band = Ruler::BELOW + 2.4 + label_rows as f64 * ROW + 1.6;
    let omote = NAME + edge;
    let ura = omote + back + band + back;
    let height = ura + edge + NAME + 4.4;
    if height > 150.0 {
        return None;
    }
    let right = (shown / scale).min(width);
    for (index, line, [top, bottom]) in [
        (0, omote, [omote - edge, omote + back]),
        (1, ura, [ura - back, ura + edge]),
    ] {
        let mut whole = Pen::new(speech);
        map.face(&mut whole, index, line);
        let window = Window([0.0, top - 0.2, right, bottom + 0.2]);
        pen.draws.extend(window.cut(&whole.draws));
    }
    inscriptions(&mut pen, &map, tang, [omote, ura]);
    // Distances from the datum, towards the end of the tang.
    let ruler = Ruler {
        x: datum,
        y: omote + back + 1.6,
        length: profile.tang,
        scale: -scale,
        room: [0.0, width],
    };
    ruler.draw(&mut pen);
    let from = ruler::from_datum(record);
    let at = [datum + 3.0, ruler.y + 1.6];
    pen.say_within(&from, MAP, at, Anchor::Left, width - datum - 3.0);
    let first = ruler.y + Ruler::BELOW + 0.8;
    for label in &labels {
        let y = first + label.row as f64 * ROW + ROW / 2.0;
        pen.line(
            [label.hole, ruler.y + Ruler::BELOW],
            [label.x, y - 1.2],
            Stroke::solid(SLATE, 0.12),
        );
        pen.say(&label.words, MAP, [label.x, y], Anchor::Middle);
    }
    for (face, y) in [
        (Face::Omote, NAME / 2.0),
        (Face::Ura, ura + edge + NAME / 2.0),
    ] {
        pen.say(&words::name(face), MAP, [0.0, y], Anchor::Left);
    }
    ruler::scale_bar(&mut pen, width, height - 2.2, scale);
    let words = Words {
        title: pair("Tang", "茎図"),
        alternative: alternative(record, tang, profile, scale),
        note: note(record, tang, profile, scale),
    };
    Drawing::of(pen, [width, height], words)
}

/// How far tang and the blade beside it reach from the line tip–datum, towards back and edge, mm on paper.
fn reach(profile: &Profile, scale: f64) -> (f64, f64) {
    let mut reach = (0.0_f64, 0.0_f64);
    let mut note = |across: f64| reach = (reach.0.max(-across), reach.1.max(across));
    for step in 0..=8 {
        // Places square to the back lie off from their place along it.
        let along = (1.5 * BLADE_SHOWN).min(profile.length) * f64::from(step) / 8.0;
        note(profile.back(along));
        note(profile.inside_edge(along, 0.0).1);
    }
    for corner in profile.tang_corners() {
        note(corner.1);
    }
    let near = |place: &&(f64, f64)| place.0 <= BLADE_SHOWN;
    profile
        .outline
        .iter()
        .filter(near)
        .for_each(|it| note(it.1));
    (reach.0 / scale, reach.1 / scale)
}

/// What is written of a hole, and where.
struct HoleLabel {
    hole: f64,
    x: f64,
    row: usize,
    words: Pair,
}

fn hole_words(hole: &tangmark_core::record::Hole) -> Pair {
    let at = words::number(hole.at.value);
    let (mut en, mut ja) = match &hole.diameter {
        Some(diameter) => {
            let diameter = words::number(diameter.value);
            (
                format!("Ø {diameter} mm at {at} mm"),
                format!("Ø {diameter} mm、{at} mm"),
            )
        }
        None => (
            format!("at {at} mm, Ø not measured"),
            format!("{at} mm、径は未計測"),
        ),
    };
    if hole.plugged {
        en.push_str(", plugged");
        ja.push_str("、埋め穴");
    }
    pair(en, ja)
}

fn hole_labels(
    tang: &Tang,
    profile: &Profile,
    [width, scale]: [f64; 2],
    speech: Speech,
) -> Vec<HoleLabel> {
    let room = label_width(speech).min(width);
    let mut labels: Vec<HoleLabel> = tang
        .holes
        .iter()
        .filter(|hole| hole.at.to_f64().abs() <= profile.tang)
        .map(|hole| {
            let x = (profile.tang - hole.at.to_f64().abs()) / scale;
            HoleLabel {
                hole: x,
                x,
                row: 0,
                words: hole_words(hole),
            }
        })
        .collect();
    labels.sort_by(|a, b| a.x.total_cmp(&b.x));
    let capacity = (width / room).floor().max(1.0);
    let rows = (labels.len() as f64 / capacity).ceil().max(1.0);
    let mut places: Vec<f64> = labels.iter().map(|label| label.x).collect();
    spread(&mut places, room / rows, [room / 2.0, width - room / 2.0]);
    // A handful of rows.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let rows = rows as usize;
    for (index, (label, x)) in labels.iter_mut().zip(places).enumerate() {
        (label.x, label.row) = (x, index % rows);
    }
    labels
}

/// Words in the boxes of inscriptions.
fn inscriptions(pen: &mut Pen, map: &Map<'_>, tang: &Tang, lines: [f64; 2]) {
    for (face, line, towards_edge) in [(Face::Omote, lines[0], -1.0), (Face::Ura, lines[1], 1.0)] {
        let here: Vec<&Inscription> = tang
            .inscriptions
            .iter()
            .filter(|inscription| inscription.side == Some(face))
            .collect();
        if here.is_empty() {
            continue;
        }
        let [left, top, right, bottom] = map.profile.inscription_box();
        let x = |along: f64| (along + map.profile.tang) / map.scale;
        let middle = line + towards_edge * f64::midpoint(top, bottom) / map.scale;
        let [from, to] = widest_gap(tang, map, [x(left), x(right)]);
        let room = to - from - 1.0;
        let fit = (((bottom - top) / map.scale) / LABEL.leading)
            .floor()
            .max(1.0);
        // A few lines.
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let fit = fit as usize;
        let count = here.len().min(fit);
        for (index, inscription) in here.into_iter().take(count).enumerate() {
            let y = middle + (index as f64 - (count as f64 - 1.0) / 2.0) * LABEL.leading;
            let at = [f64::midpoint(from, to), y];
            // Letters on a ground of their own, so that file marks do not run through them.
            let said = inscription_words(inscription);
            let wide = pen.width(&said, LABEL).min(room);
            pen.fill(
                Path::rectangle(at[0] - wide / 2.0 - 0.4, y - 1.6, wide + 0.8, 3.2),
                crate::scene::Colour::WHITE,
            );
            let ink = crate::layout::Style {
                colour: INK,
                ..LABEL
            };
            pen.say_within(&said, ink, at, Anchor::Middle, room);
        }
    }
}

/// The widest part between two places on paper that no hole takes.
fn widest_gap(tang: &Tang, map: &Map<'_>, [left, right]: [f64; 2]) -> [f64; 2] {
    let mut taken: Vec<[f64; 2]> = tang
        .holes
        .iter()
        .map(|hole| {
            let middle = (map.profile.tang - hole.at.to_f64().abs()) / map.scale;
            let diameter = hole.diameter.as_ref().map_or(5.0, |it| it.to_f64());
            let half = diameter / 2.0 / map.scale + 0.6;
            [middle - half, middle + half]
        })
        .filter(|[from, to]| *to > left && *from < right)
        .collect();
    taken.sort_by(|a, b| a[0].total_cmp(&b[0]));
    let mut widest = [left, left];
    let mut start = left;
    for [from, to] in taken.into_iter().chain([[right, right]]) {
        if from - start > widest[1] - widest[0] {
            widest = [start, from];
        }
        start = start.max(to);
    }
    widest
}

/// An inscription: its kind, and what it reads.
fn inscription_words(inscription: &Inscription) -> Pair {
    let kind = words::name(inscription.kind);
    match &inscription.reading {
        Some(reading) => pair(
            format!("{}: {reading}", kind.en),
            format!("{}：{reading}", kind.ja),
        ),
        None => kind,
    }
}

fn alternative(record: &Record, tang: &Tang, profile: &Profile, scale: f64) -> Pair {
    let length = super::tenths(profile.tang);
    let datum = ruler::datum(record);
    let scale = ruler::written(scale);
    let mut parts = vec![pair(
        format!(
            "Tang, both faces, scale {scale}, {length} mm from the {} to its end.",
            datum.en
        ),
        format!(
            "茎の両面、縮尺 {scale}、{}から茎尻まで {length} mm。",
            datum.ja
        ),
    )];
    let mut said = |en: &str, ja: &str, what: Pair| {
        parts.push(pair(
            format!("{en}: {}.", what.en),
            format!("{ja}：{}。", what.ja),
        ));
    };
    said("Shape", "形状", words::name(tang.shape));
    if let Some(end) = tang.end {
        said("End", "茎尻", words::name(end));
    }
    if let Some(marks) = tang.file_marks {
        said("File marks", "鑢目", words::name(marks));
    }
    if tang.holes.is_empty() {
        said("Holes", "目釘穴", pair("none recorded", "記載なし"));
    } else {
        let holes: Vec<Pair> = tang.holes.iter().map(hole_words).collect();
        let count = holes.len();
        let holes = listed(&holes);
        said(
            "Holes",
            "目釘穴",
            pair(
                format!("{count}, from the {}: {}", datum.en, holes.en),
                format!("{count} 個、{}より {}", datum.ja, holes.ja),
            ),
        );
    }
    for inscription in &tang.inscriptions {
        let what = inscription_words(inscription);
        let side = inscription.side.map_or_else(
            || pair("side not recorded", "面の記載なし"),
            |side| pair(side.key().replace('_', " "), side.japanese()),
        );
        said(
            "Inscription",
            "銘",
            pair(
                format!("{}, {}", what.en, side.en),
                format!("{}（{}）", what.ja, side.ja),
            ),
        );
    }
    said("State", "状態", words::name(tang.state));
    sentences(parts)
}

fn note(record: &Record, tang: &Tang, profile: &Profile, scale: f64) -> Pair {
    let scale = ruler::written(scale);
    let mut parts = vec![pair(format!("Scale {scale}."), format!("縮尺 {scale}。"))];
    if tang.file_marks.and_then(Hatch::of).is_some() {
        parts.push(pair(
            "The hatch shows the family of the file marks, not single strokes.",
            "斜線は鑢目の種類を示し、一本ごとの鑢目ではない。",
        ));
    }
    let has_side =
        |inscription: &&Inscription| matches!(inscription.side, Some(Face::Omote | Face::Ura));
    if tang.inscriptions.iter().any(|it| has_side(&it)) {
        parts.push(pair(
            "Dashed box: that an inscription stands on this face, not where its strokes are.",
            "破線の枠は銘のある面を示し、銘字の位置や形ではない。",
        ));
    }
    let mut assumed: Vec<Pair> = Vec::new();
    if profile.outline.is_empty() {
        assumed.push(pair("outline of the tang", "茎の輪郭"));
        let length = |it: &tangmark_core::record::Dimensions| {
            it.tang_length.is_some() || it.overall_length.is_some()
        };
        if !record.dimensions.as_ref().is_some_and(length) {
            assumed.push(pair("tang length", "茎の長さ"));
        }
    }
    if tang.holes.iter().any(|hole| hole.diameter.is_none()) {
        assumed.push(pair("diameter of holes", "目釘穴の径"));
    }
    parts.push(super::dashed_note(&assumed));
    sentences(parts)
}
