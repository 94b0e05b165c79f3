//! How the curvature is measured: chord, sagitta with its foot, apex.

use tangmark_core::record::{CurvatureKind, Record, Term as _};
use tangmark_measure::{Estimate, curvature as measure};

use super::{
    Anchor, Drawing, Pen, Words, dashed_note, line_stroke,
    profile::{mm, positive},
    ruler::{self, Ruler},
    sentences, tenths,
};
use crate::{
    layout::style::{HAIR, INDIGO, INK, MAP, SLATE},
    pages::words,
    scene::{Path, Stroke},
    speech::{Pair, Speech, pair},
};

/// Height that the sagitta may take on paper, mm.
const MOST_HEIGHT: f64 = 16.0;
/// Room above and below the curve, mm.
const ROOM: f64 = 5.0;

/// What is known of the line of the back.
struct Back {
    /// Length of the chord, mm.
    chord: f64,
    /// Depth with its expanded uncertainty, mm; below zero for a hollow back.
    depth: f64,
    expanded: f64,
    /// Place of the foot on the chord, mm from the datum, and whether it was measured.
    foot: f64,
    foot_measured: bool,
    /// Measured points: place and height, mm.
    points: Vec<(f64, f64)>,
    /// Standard uncertainty of the chord, mm.
    chord_standard: f64,
    kind: Option<CurvatureKind>,
}

impl Back {
    fn of(record: &Record) -> Option<Self> {
        let dimensions = record.dimensions.as_ref()?;
        let length = dimensions.blade_length.as_ref();
        let chord = positive(length)?;
        let inside = |at: f64| (0.0..=chord).contains(&at);
        let estimates: Vec<(f64, Estimate)> = dimensions
            .back_line
            .iter()
            .filter_map(|point| {
                let (at, height) = (mm(Some(&point.at))?, mm(Some(&point.height))?);
                let estimate = Estimate::new(height, point.height.standard());
                inside(at).then_some((at, estimate))
            })
            .collect();
        let rising = estimates.windows(2).all(|pair| pair[0].0 < pair[1].0);
        // A stranger's record may name places that do not rise: no curve goes through them.
        let apex = rising.then(|| measure::apex(&estimates, chord)).flatten();
        let stated = dimensions.curvature.as_ref();
        let stated_at = mm(dimensions.curvature_at.as_ref()).filter(|at| *at > 0.0 && *at < chord);
        // The sori as it was read comes first; the line of the back says where, and how deep when nobody read it.
        let (depth, expanded) = match (stated, apex) {
            (Some(stated), _) => (stated.to_f64(), 2.0 * stated.standard()),
            (None, Some(apex)) => (apex.depth.value, apex.depth.expanded()),
            (None, None) => return None,
        };
        let from_line = apex.map(|apex| apex.place.value * chord);
        let foot = stated_at.or(from_line.filter(|at| *at > 0.0 && *at < chord));
        // Deeper than half its length is no blade.
        (depth.is_finite() && depth.abs() < chord / 2.0).then(|| Self {
            chord,
            depth,
            expanded,
            foot: foot.unwrap_or(chord / 2.0),
            foot_measured: foot.is_some(),
            points: estimates
                .into_iter()
                .map(|(at, height)| (at, height.value))
                .collect(),
            chord_standard: length.map_or(0.0, |length| length.standard()),
            kind: dimensions.curvature_kind,
        })
    }

    /// The radius of the circle over chord and sagitta with its expanded uncertainty; only where the sagitta stands out
    /// of its uncertainty.
    fn radius(&self) -> Option<(f64, f64)> {
        let chord = Estimate::new(self.chord, self.chord_standard);
        let sagitta = Estimate::new(self.depth.abs(), self.expanded / 2.0);
        let radius = measure::radius_estimate(chord, sagitta)?;
        Some((radius.value, radius.expanded()))
    }

    /// Height of the drawn line over the chord: two halves of parabolas that meet at the apex.
    fn height(&self, along: f64) -> f64 {
        let reach = if along < self.foot {
            self.foot
        } else {
            self.chord - self.foot
        };
        let share = (along - self.foot) / reach;
        self.depth * (1.0 - share * share)
    }
}

/// Draws the construction of the curvature; nothing without blade length and depth.
pub(crate) fn curvature(record: &Record, width: f64, speech: Speech) -> Option<Drawing> {
    let back = Back::of(record)?;
    let scale = ruler::reduced(back.chord, width - 12.0)?;
    let deepest = back
        .points
        .iter()
        .fold(back.depth.abs(), |most, point| most.max(point.1.abs()));
    let times = [10.0, 8.0, 6.0, 5.0, 4.0, 3.0, 2.0, 1.0]
        .into_iter()
        .find(|times| deepest * times / scale <= MOST_HEIGHT)
        .unwrap_or(1.0);
    let up = |height: f64| height * times / scale;
    let highest = back
        .points
        .iter()
        .fold(back.depth, |most, point| most.max(point.1));
    let lowest = back
        .points
        .iter()
        .fold(back.depth, |most, point| most.min(point.1));
    let chord_y = ROOM + up(highest.max(0.0));
    let under = up((-lowest).max(0.0));
    if chord_y + under > 120.0 {
        return None;
    }
    let left = 6.0;
    let at = |along: f64, height: f64| [left + along / scale, chord_y - up(height)];
    let mut pen = Pen::new(speech);
    let sign = if back.depth < 0.0 { -1.0 } else { 1.0 };
    let ruler = Ruler {
        x: left,
        y: chord_y + under + if sign < 0.0 { ROOM } else { 2.4 },
        length: back.chord,
        scale,
        room: [0.0, width],
    };
    let drop = Stroke::dashed(HAIR, 0.2, 0.8, 0.6);
    for along in [0.0, back.foot, back.chord] {
        let [x, y] = at(along, 0.0);
        pen.line([x, y], [x, ruler.y], drop.clone());
    }
    pen.line(at(0.0, 0.0), at(back.chord, 0.0), Stroke::solid(INK, 0.25));
    let line = (0..=96).map(|step| {
        let along = back.chord * f64::from(step) / 96.0;
        at(along, back.height(along))
    });
    if back.points.len() >= 2 {
        pen.stroke(
            Path::open(
                back.points
                    .iter()
                    .map(|(along, height)| at(*along, *height)),
            ),
            line_stroke(true),
        );
        for (along, height) in &back.points {
            let [x, y] = at(*along, *height);
            pen.fill(Path::circle(x, y, 0.5), INK);
        }
    } else {
        pen.stroke(Path::open(line), line_stroke(false));
    }
    for along in [0.0, back.chord] {
        let [x, y] = at(along, 0.0);
        pen.fill(Path::circle(x, y, 0.7), INDIGO);
    }
    let (foot, apex) = (at(back.foot, 0.0), at(back.foot, back.depth));
    let sagitta = if back.foot_measured {
        Stroke::solid(INDIGO, 0.35)
    } else {
        Stroke::dashed(INDIGO, 0.35, 1.2, 0.8)
    };
    pen.line(foot, apex, sagitta);
    if (apex[1] - foot[1]).abs() > 0.2 {
        // The right angle at the foot.
        let corner = 1.4_f64.min((apex[1] - foot[1]).abs());
        let path = Path::open([
            [foot[0] + corner, foot[1]],
            [foot[0] + corner, foot[1] - sign * corner],
            [foot[0], foot[1] - sign * corner],
        ]);
        pen.stroke(path, Stroke::solid(SLATE, 0.15));
    }
    pen.fill(Path::circle(apex[0], apex[1], 0.7), INDIGO);
    let bold = crate::layout::Style {
        weight: crate::font::Weight::Bold,
        colour: INK,
        ..MAP
    };
    let sori = sori_words(record, &back);
    let half = pen.width(&sori, bold) / 2.0;
    let middle = apex[0].min(width - half).max(half);
    pen.say(&sori, bold, [middle, apex[1] - sign * 2.4], Anchor::Middle);
    ruler.draw(&mut pen);
    let y = ruler.y + Ruler::BELOW + 1.8;
    let datum = ruler::datum(record);
    pen.say(&datum, MAP, [0.0, y], Anchor::Left);
    let tip = left + back.chord / scale;
    pen.say(&pair("tip", "鋒の先端"), MAP, [tip, y], Anchor::Right);
    let foot_words = foot_words(&back);
    let room = pen.width(&foot_words, MAP) / 2.0;
    let edges = [
        pen.width(&datum, MAP) + 3.0 + room,
        tip - pen.width(&pair("tip", "鋒の先端"), MAP) - 3.0 - room,
    ];
    pen.say(
        &foot_words,
        MAP,
        [foot[0].min(edges[1]).max(edges[0]), y],
        Anchor::Middle,
    );
    let height = y + 6.4;
    ruler::scale_bar(&mut pen, width, height - 2.2, scale);
    let words = Words {
        title: pair("Construction of the curvature", "反りの作図"),
        alternative: alternative(record, &back),
        note: note(&back, [scale, times]),
    };
    Drawing::of(pen, [width, height], words)
}

fn sori_words(record: &Record, back: &Back) -> Pair {
    let stated = record
        .dimensions
        .as_ref()
        .and_then(|it| it.curvature.as_ref());
    let value = stated.map_or_else(
        || {
            format!(
                "{} ± {} mm",
                tenths(back.depth),
                super::decimals(back.expanded, 1)
            )
        },
        |stated| words::quantity(stated),
    );
    pair(format!("sori 反り {value}"), format!("反り {value}"))
}

fn foot_words(back: &Back) -> Pair {
    let foot = tenths(back.foot);
    let share = super::decimals(back.foot / back.chord * 100.0, 0);
    if back.foot_measured {
        pair(
            format!("foot at {foot} mm, {share} % of the chord"),
            format!("垂線の足 {foot} mm（弦の {share} %）"),
        )
    } else {
        pair("place of the foot not measured", "垂線の足の位置は未計測")
    }
}

fn alternative(record: &Record, back: &Back) -> Pair {
    let datum = ruler::datum(record);
    let chord = tenths(back.chord);
    let sori = sori_words(record, back);
    let foot = foot_words(back);
    let inward = back.depth < 0.0;
    let mut parts = vec![
        pair(
            format!(
                "Curvature of the back: chord of {chord} mm from the {} to the tip.",
                datum.en
            ),
            format!("棟の反り：{}から先端までの弦 {chord} mm。", datum.ja),
        ),
        pair(
            format!(
                "{}{}, {}.",
                words::capital(&sori.en),
                if inward { ", inward" } else { "" },
                foot.en
            ),
            format!(
                "{}{}、{}。",
                sori.ja,
                if inward { "（内反り）" } else { "" },
                foot.ja
            ),
        ),
    ];
    if let Some(kind) = back.kind {
        let kind = (words::name(kind), kind.gloss());
        parts.push(pair(
            format!("In the examiner's view {} ({}).", kind.0.en, kind.1),
            format!("調査者の見方：{}。", kind.0.ja),
        ));
    }
    if !back.points.is_empty() {
        let count = back.points.len();
        parts.push(pair(
            format!("The line of the back was measured at {count} points."),
            format!("棟線の計測点 {count} 点。"),
        ));
    }
    parts.push(radius_words(back));
    sentences(parts)
}

fn radius_words(back: &Back) -> Pair {
    match back.radius() {
        Some((radius, expanded)) => {
            // To the place of the second digit of the uncertainty.
            let step = 10_f64
                .powf(expanded.max(1.0).log10().floor() - 1.0)
                .max(1.0);
            let round = |value: f64| super::decimals((value / step).round() * step, 0);
            let (radius, expanded) = (round(radius), round(expanded));
            pair(
                format!(
                    "The circle over this chord and sagitta has a radius of {radius} ± {expanded} mm (k = 2)."
                ),
                format!("この弦と矢高の円の半径は {radius} ± {expanded} mm（k = 2）。"),
            )
        }
        None => pair(
            "The depth does not stand out of its uncertainty; no radius is given.",
            "反りが不確かさを超えないため、半径は示さない。",
        ),
    }
}

fn note(back: &Back, [scale, times]: [f64; 2]) -> Pair {
    let scale = ruler::written(scale);
    let mut parts = vec![if times > 1.0 {
        pair(
            format!("Scale {scale} along the chord; heights drawn {times} times as large as that."),
            format!("弦方向の縮尺 {scale}。高さはその {times} 倍に拡大。"),
        )
    } else {
        pair(
            format!("Scale {scale}, heights at the same scale."),
            format!("縮尺 {scale}、高さも同じ縮尺。"),
        )
    }];
    parts.push(pair(
        "The chord runs from the datum to the tip along the back; the sagitta stands square on it where the back is farthest from it.",
        "弦は基点から先端までの直線、矢高は棟が弦から最も離れた位置で弦に垂直。",
    ));
    parts.push(radius_words(back));
    let mut assumed = Vec::new();
    if back.points.len() < 2 {
        assumed.push(pair(
            "course of the back between datum, apex and tip",
            "基点・頂点・先端の間の棟線",
        ));
    }
    if !back.foot_measured {
        assumed.push(pair(
            "place of the sagitta (drawn in the middle)",
            "矢高の位置（中央に作図）",
        ));
    }
    parts.push(dashed_note(&assumed));
    sentences(parts)
}
