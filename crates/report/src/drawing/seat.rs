//! A fitting against a blade: the peg hole of a hilt over those of the tang, its opening over the section it goes over.

use super::{
    Anchor, Drawing, Pen, Words, dashed_note, decimals, line_stroke, ruler, sentences, tenths,
};
use crate::{
    layout::style::{INK, MAP, SLATE, STEEL},
    pages::words::capital,
    scene::{Colour, Path, Stroke},
    speech::{Pair, Speech, pair},
};

/// What is drawn of a fitting and a blade; all lengths in mm.
#[derive(Debug, Clone, PartialEq)]
pub struct Seat<'a> {
    /// Key of the blade.
    pub blade: &'a str,
    /// Key of the fitting.
    pub fitting: &'a str,
    /// Peg hole and tang, where both were measured.
    pub peg: Option<SeatPeg>,
    /// Opening and section, where both were measured.
    pub opening: Option<SeatOpening>,
}

/// The hilt along the tang; places from the notch, towards the end of the tang.
#[derive(Debug, Clone, PartialEq)]
pub struct SeatPeg {
    /// Place of the mouth of the hilt.
    pub mouth: f64,
    /// Place of its peg hole.
    pub hole: f64,
    /// Holes of the tang: place, diameter where measured, whether plugged.
    pub holes: Vec<(f64, Option<f64>, bool)>,
    /// Length of the tang, where measured.
    pub tang: Option<f64>,
    /// Width of the tang at the notch, where measured.
    pub width: Option<f64>,
}

/// The opening over the section: width from edge to back, thickness from face to face.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SeatOpening {
    /// Of the opening.
    pub opening: [f64; 2],
    /// Of the blade or tang.
    pub section: [f64; 2],
    /// Whether the section is that of the blade above the notch, not of the tang.
    pub of_blade: bool,
}

/// Diameter drawn for a hole that was not measured, mm.
const USUAL_HOLE: f64 = 5.0;
/// Length and width drawn for a tang that was not measured, mm.
const USUAL_TANG: [f64; 2] = [200.0, 26.0];
/// Most height of the tang, and of the section, on paper, mm.
const MOST_TANG: f64 = 40.0;
const MOST_SECTION: f64 = 62.0;
/// Beyond these lengths a number is a slip and makes no picture, mm.
const MOST: f64 = 3000.0;
/// Line of the fitting, apart from the steel in black and white too.
const FITTING: Colour = INK;
/// Height of a line of words, mm.
const ROW: f64 = 3.6;

/// Draws a fitting against a blade; nothing where nothing of it was measured on both.
pub(crate) fn seat(seat: &Seat<'_>, width: f64, speech: Speech) -> Option<Drawing> {
    let mut pen = Pen::new(speech);
    let mut y = 0.0;
    let mut said = vec![pair(
        format!("Fitting {} against blade {}.", seat.fitting, seat.blade),
        format!("刀装具 {} と刀身 {}。", seat.fitting, seat.blade),
    )];
    let mut assumed = Vec::new();
    if let Some(peg) = &seat.peg {
        y = along(&mut pen, peg, [y, width], &mut said, &mut assumed)?;
    }
    if let Some(opening) = &seat.opening {
        y = across(&mut pen, opening, [y, width], &mut said)?;
    }
    if y == 0.0 {
        return None;
    }
    let boxed = match seat.opening {
        Some(_) => pair(
            "Section and opening are drawn as boxes of their width and thickness.",
            "断面と穴は幅と厚さの枠で示す。",
        ),
        None => pair("", ""),
    };
    let words = Words {
        title: pair(
            format!("{} on {}", seat.fitting, seat.blade),
            format!("{} を {} に合わせる", seat.fitting, seat.blade),
        ),
        alternative: sentences(said),
        note: sentences([
            pair(
                "Grey: the blade. Heavy line: the fitting. Whether it fits is told by the numbers with their uncertainty, not by the eye; try it by hand, and never file a tang.",
                "灰色は刀身、太線は刀装具。適合は不確かさを伴う数値により判断し、目測によらない。実物で合わせ、茎は決して削らない。",
            ),
            boxed,
            dashed_note(&assumed),
        ]),
    };
    Drawing::of(pen, [width, y], words)
}

fn sound(values: &[f64]) -> bool {
    values
        .iter()
        .all(|value| value.is_finite() && value.abs() <= MOST)
}

/// Words as a sentence.
fn sentence(words: &Pair) -> Pair {
    pair(
        format!("{}.", capital(&words.en)),
        format!("{}。", words.ja),
    )
}

/// The tang from the notch on the left to its end, with the hilt over it; returns where the next part begins.
fn along(
    pen: &mut Pen,
    peg: &SeatPeg,
    [top, width]: [f64; 2],
    said: &mut Vec<Pair>,
    assumed: &mut Vec<Pair>,
) -> Option<f64> {
    let far = peg.holes.iter().map(|hole| hole.0).fold(peg.hole, f64::max);
    let (length, high) = (
        peg.tang.unwrap_or(USUAL_TANG[0].max(far + 30.0)),
        peg.width.unwrap_or(USUAL_TANG[1]),
    );
    let whole = length.max(far + 12.0);
    if !sound(&[peg.mouth, peg.hole, length, high, far])
        || peg.holes.iter().any(|hole| hole.0 < 0.0)
    {
        return None;
    }
    assumed.push(pair("form of the tang", "茎の形"));
    if peg.tang.is_none() {
        assumed.push(pair("length of the tang", "茎の長さ"));
    }
    if peg.width.is_none() {
        assumed.push(pair("width of the tang", "茎の幅"));
    }
    let left = 14.0;
    let scale = ruler::reduced(whole, width - left - 4.0)?.max(ruler::fitting(high, MOST_TANG)?);
    let x = |place: f64| left + place / scale;
    let middle = top + 3.0 * ROW + high / scale / 2.0;
    let half = high / scale / 2.0;
    // The tang narrows towards its end; only its width at the notch is known.
    let narrow = half * 0.62;
    let outline = [
        [x(0.0), middle - half],
        [x(length), middle - narrow],
        [x(length), middle + narrow],
        [x(0.0), middle + half],
    ];
    pen.fill(Path::polygon(outline), STEEL);
    pen.stroke(Path::polygon(outline), line_stroke(false));
    // The notch and the mouth of the hilt, and the hilt as far as it is drawn.
    pen.line(
        [x(0.0), middle - half - 2.0],
        [x(0.0), middle + half + 2.0],
        Stroke::solid(SLATE, 0.25),
    );
    let (mouth, reach) = (x(peg.mouth), half + 2.4);
    for side in [-1.0, 1.0] {
        pen.line(
            [mouth, middle + side * reach],
            [x(whole), middle + side * reach],
            Stroke::solid(FITTING, 0.4),
        );
    }
    pen.line(
        [mouth, middle - reach],
        [mouth, middle + reach],
        Stroke::solid(FITTING, 0.4),
    );
    for (place, diameter, plugged) in &peg.holes {
        let measured = diameter.is_some();
        let radius = diameter.unwrap_or(USUAL_HOLE) / 2.0 / scale;
        let circle = Path::circle(x(*place), middle, radius);
        if !plugged {
            pen.fill(circle.clone(), Colour::WHITE);
        }
        pen.stroke(circle, line_stroke(measured));
        if !measured && !assumed.iter().any(|one| one.en.contains("diameter")) {
            assumed.push(pair("diameter of a hole", "目釘孔の径"));
        }
    }
    let drop = x(peg.hole);
    pen.line(
        [drop, middle - reach - 1.6],
        [drop, middle + reach + 1.6],
        Stroke::dashed(FITTING, 0.3, 1.0, 0.6),
    );
    let cross = 1.6;
    pen.line(
        [drop - cross, middle],
        [drop + cross, middle],
        Stroke::solid(FITTING, 0.4),
    );
    // Words: above the hilt's hole, below those of the tang.
    let room = width;
    let place = |at: f64, text: &Pair, pen: &Pen| {
        let half = pen.width(text, MAP) / 2.0;
        at.min(room - half).max(half)
    };
    let hilt = pair(
        format!("peg hole of the hilt {} mm", tenths(peg.hole)),
        format!("柄の目釘孔 {} mm", tenths(peg.hole)),
    );
    let at = place(drop, &hilt, pen);
    pen.say_within(&hilt, MAP, [at, top + ROW / 2.0], Anchor::Middle, width);
    let from = pair(
        format!("mouth {} mm", tenths(peg.mouth)),
        format!("口 {} mm", tenths(peg.mouth)),
    );
    let at = place(mouth, &from, pen);
    pen.say_within(&from, MAP, [at, top + 1.5 * ROW], Anchor::Middle, width);
    let mut y = middle + reach + 1.6 + ROW / 2.0;
    for (index, (at, diameter, plugged)) in peg.holes.iter().enumerate() {
        let mut words = pair(
            format!("hole {} of the tang {} mm", index + 1, tenths(*at)),
            format!("茎の孔 {} は {} mm", index + 1, tenths(*at)),
        );
        if let Some(diameter) = diameter {
            words = pair(
                format!("{}, Ø {} mm", words.en, tenths(*diameter)),
                format!("{}、径 {} mm", words.ja, tenths(*diameter)),
            );
        }
        if *plugged {
            words = pair(
                format!("{}, plugged", words.en),
                format!("{}、埋め孔", words.ja),
            );
        }
        let at = place(x(*at), &words, pen);
        pen.say_within(&words, MAP, [at, y], Anchor::Middle, width);
        said.push(sentence(&words));
        y += ROW;
    }
    ruler::scale_bar(pen, width, y + 0.8, scale);
    said.push(pair(
        format!(
            "The mouth of the hilt lies {} mm and its peg hole {} mm from the notch.",
            tenths(peg.mouth),
            tenths(peg.hole)
        ),
        format!(
            "柄の口は区から {} mm、柄の目釘孔は {} mm。",
            tenths(peg.mouth),
            tenths(peg.hole)
        ),
    ));
    Some(y + 4.4)
}

/// The section upright, edge down, with the opening around it; returns where the next part begins.
fn across(
    pen: &mut Pen,
    one: &SeatOpening,
    [top, width]: [f64; 2],
    said: &mut Vec<Pair>,
) -> Option<f64> {
    let ([wide, thick], [open_wide, open_thick]) = (one.section, one.opening);
    if !sound(&[wide, thick, open_wide, open_thick])
        || [wide, thick, open_wide, open_thick]
            .iter()
            .any(|it| *it <= 0.0)
    {
        return None;
    }
    let tallest = wide.max(open_wide);
    let thickest = thick.max(open_thick);
    let scale = ruler::fitting(tallest, MOST_SECTION)?.max(ruler::fitting(thickest, width * 0.4)?);
    let first = top + if top > 0.0 { 4.0 } else { 1.0 };
    let (x, middle) = (thickest / scale / 2.0 + 6.0, first + tallest / scale / 2.0);
    let boxed = |wide: f64, thick: f64| {
        Path::rectangle(
            x - thick / scale / 2.0,
            middle - wide / scale / 2.0,
            thick / scale,
            wide / scale,
        )
    };
    pen.fill(boxed(wide, thick), STEEL);
    pen.stroke(boxed(wide, thick), Stroke::solid(SLATE, 0.2));
    pen.stroke(boxed(open_wide, open_thick), Stroke::solid(FITTING, 0.45));
    let short = |value: f64| decimals(value, 2);
    let steel = if one.of_blade {
        pair("blade at the notch", "区上の刀身")
    } else {
        pair("tang at the notch", "区下の茎")
    };
    let lines = [
        pair(
            format!("opening {} × {} mm", short(open_wide), short(open_thick)),
            format!("穴 {} × {} mm", short(open_wide), short(open_thick)),
        ),
        pair(
            format!("{} {} × {} mm", steel.en, short(wide), short(thick)),
            format!("{} {} × {} mm", steel.ja, short(wide), short(thick)),
        ),
        pair(
            format!(
                "play {} × {} mm",
                short(open_wide - wide),
                short(open_thick - thick)
            ),
            format!(
                "隙間 {} × {} mm",
                short(open_wide - wide),
                short(open_thick - thick)
            ),
        ),
    ];
    let words_x = x + thickest / scale / 2.0 + 6.0;
    let mut y = middle - ROW;
    for line in &lines {
        pen.say_within(line, MAP, [words_x, y], Anchor::Left, width - words_x);
        said.push(sentence(line));
        y += ROW;
    }
    let bottom = first + tallest / scale + 3.4;
    ruler::scale_bar(pen, width, bottom, scale);
    Some(bottom + 2.6)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::scene::Draw;

    fn hilt() -> Seat<'static> {
        Seat {
            blade: "reed",
            fitting: "hilt-1",
            peg: Some(SeatPeg {
                mouth: 8.0,
                hole: 50.0,
                holes: vec![(58.0, Some(5.4), false), (96.0, None, true)],
                tang: Some(208.0),
                width: Some(26.3),
            }),
            opening: Some(SeatOpening {
                opening: [26.8, 7.4],
                section: [26.3, 7.1],
                of_blade: false,
            }),
        }
    }

    /// Middles of circles and vertical lines, on paper.
    fn places(drawing: &Drawing) -> Vec<[f64; 4]> {
        drawing
            .draws
            .iter()
            .filter_map(|draw| match draw {
                Draw::Path(path) => path.path.bounds(),
                _ => None,
            })
            .collect()
    }

    #[test]
    fn places_along_the_tang_are_to_scale() {
        let drawing = seat(&hilt(), 166.0, Speech::English).unwrap();
        let boxes = places(&drawing);
        let round = |it: &&[f64; 4]| {
            ((it[2] - it[0]) - (it[3] - it[1])).abs() < 1e-6 && it[2] - it[0] > 0.5
        };
        let circles: Vec<&[f64; 4]> = boxes.iter().filter(round).collect();
        let middle = |it: &[f64; 4]| f64::midpoint(it[0], it[2]);
        // Both holes of the tang, the open one filled white first.
        assert_eq!(circles.len(), 3);
        let between = middle(circles[2]) - middle(circles[0]);
        let diameter = circles[0][2] - circles[0][0];
        assert!(
            (between / diameter - 38.0 / 5.4).abs() < 1e-6,
            "{between} {diameter}"
        );
        assert!(
            drawing
                .alternative
                .contains("Hole 2 of the tang 96 mm, plugged."),
            "{}",
            drawing.alternative
        );
        assert!(
            drawing
                .alternative
                .contains("its peg hole 50 mm from the notch")
        );
        assert!(drawing.note.en.contains("diameter of a hole"));
    }

    #[test]
    fn the_opening_and_the_section_are_to_one_scale() {
        let only = Seat {
            peg: None,
            ..hilt()
        };
        let drawing = seat(&only, 166.0, Speech::English).unwrap();
        let boxes = places(&drawing);
        let (section, opening) = (boxes[0], boxes[2]);
        let high = |it: [f64; 4]| it[3] - it[1];
        assert!((high(opening) / high(section) - 26.8 / 26.3).abs() < 1e-9);
        let broad = |it: [f64; 4]| it[2] - it[0];
        assert!((broad(opening) / broad(section) - 7.4 / 7.1).abs() < 1e-9);
        assert!(
            drawing.alternative.contains("Play 0.50 × 0.30 mm."),
            "{}",
            drawing.alternative
        );
    }

    #[test]
    fn all_languages_fit_and_slips_make_no_picture() {
        for speech in [Speech::English, Speech::Japanese, Speech::Both] {
            for width in [120.0, 166.0, 400.0] {
                assert!(seat(&hilt(), width, speech).is_some());
            }
        }
        let nothing = Seat {
            peg: None,
            opening: None,
            ..hilt()
        };
        assert!(seat(&nothing, 166.0, Speech::English).is_none());
        let mut slip = hilt();
        slip.peg.as_mut().unwrap().hole = 1e9;
        assert!(seat(&slip, 166.0, Speech::English).is_none());
        let mut bare = hilt();
        let peg = bare.peg.as_mut().unwrap();
        (peg.tang, peg.width, peg.holes) = (None, None, Vec::new());
        let drawing = seat(&bare, 166.0, Speech::English).unwrap();
        assert!(
            drawing
                .note
                .en
                .contains("length of the tang, width of the tang")
        );
    }
}
