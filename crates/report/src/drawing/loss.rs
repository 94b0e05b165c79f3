//! What went along the blade between two records, as a strip of tones with numbers.

use tangmark_core::record::Record;
use tangmark_measure::{Against, Estimate, decision::against};

use super::{
    Anchor, Drawing, Pen, Words, decimals,
    profile::{mm, positive},
    ruler::{self, Ruler},
    sentences,
    stations::measures,
    tenths,
};
use crate::{
    compare::{quantities::stations, state},
    font::Weight,
    layout::{
        Style,
        style::{HAIR, INK, MAP, SLATE},
    },
    scene::{Colour, Path, Stroke},
    speech::{Pair, Speech, pair},
};

/// Height of a row of cells, mm.
const CELL: f64 = 9.0;
/// Distance of two rows, mm.
const GAP: f64 = 1.0;
/// Height of the line with the name of a row, mm.
const NAME: f64 = 3.6;
/// Width from which a cell holds its number, mm.
const ROOM: f64 = 8.5;

/// Loss of one measure at one place.
struct Loss {
    at: f64,
    amount: Estimate,
    verdict: Against,
}

impl Loss {
    /// Whether the loss is larger than its expanded uncertainty.
    fn is_told(&self) -> bool {
        self.verdict == Against::Above && self.amount.value > 0.0
    }
}

/// Losses of one measure along the blade.
struct Row {
    name: Pair,
    losses: Vec<Loss>,
}

fn rows(record: &Record, before: &Record, length: f64) -> Vec<Row> {
    let mut rows: Vec<Row> = measures()
        .into_iter()
        .map(|(name, _)| Row {
            name,
            losses: Vec::new(),
        })
        .collect();
    for station in stations(before, record) {
        let place = station.now.and_then(|now| mm(Some(&now.at)));
        let Some(at) = place.filter(|at| (0.0..=length).contains(at)) else {
            continue;
        };
        for measure in &station.rows {
            let Some(amount) = measure.difference.map(|grown| grown.scaled(-1.0)) else {
                continue;
            };
            let row = rows.iter_mut().find(|row| row.name == measure.name);
            if let Some(row) = row.filter(|_| amount.value.is_finite()) {
                row.losses.push(Loss {
                    at,
                    amount,
                    verdict: against(amount, 0.0),
                });
            }
        }
    }
    for row in &mut rows {
        row.losses.sort_by(|a, b| a.at.total_cmp(&b.at));
        row.losses.dedup_by(|a, b| (a.at - b.at).abs() < 0.01);
    }
    rows.retain(|row| !row.losses.is_empty());
    rows
}

/// Draws what went along the blade since an earlier record; nothing where no station was measured in both.
pub(crate) fn loss_strip(
    record: &Record,
    before: &Record,
    width: f64,
    speech: Speech,
) -> Option<Drawing> {
    let dimensions = record.dimensions.as_ref()?;
    let length = positive(dimensions.blade_length.as_ref())?;
    let rows = rows(record, before, length);
    if rows.is_empty() {
        return None;
    }
    let scale = length / width;
    let most = rows
        .iter()
        .flat_map(|row| &row.losses)
        .filter(|loss| loss.is_told())
        .fold(0.0_f64, |most, loss| most.max(loss.amount.value));
    let mut pen = Pen::new(speech);
    let mut y = 0.0;
    let mut left_out = false;
    for row in &rows {
        let name = pair(
            format!("loss, {}, mm", row.name.en),
            format!("{}の減少 mm", row.name.ja),
        );
        pen.say(&name, MAP, [0.0, y + NAME / 2.0], Anchor::Left);
        y += NAME;
        for (index, loss) in row.losses.iter().enumerate() {
            let edge = |other: Option<&Loss>, end: f64| {
                other.map_or(end, |other| f64::midpoint(other.at, loss.at)) / scale
            };
            let left = edge(
                index
                    .checked_sub(1)
                    .and_then(|before| row.losses.get(before)),
                0.0,
            );
            let right = edge(row.losses.get(index + 1), length);
            left_out |= !cell(&mut pen, loss, most, [left, y, right - left]);
        }
        y += CELL + GAP;
    }
    let ruler = Ruler {
        x: 0.0,
        y: y + 1.0,
        length,
        scale,
        room: [0.0, width],
    };
    ruler.draw(&mut pen);
    y = ruler.y + Ruler::BELOW + 1.8;
    let from = ruler::from_datum(record);
    pen.say(&from, MAP, [width, y], Anchor::Right);
    y += 4.2;
    key(&mut pen, y);
    let words = Words {
        title: pair("Loss along the blade", "刀身各部の減少"),
        alternative: alternative(record, before, &rows),
        note: note(record, before, left_out),
    };
    Drawing::of(pen, [width, y + 2.4], words)
}

/// The grey for a loss: darker for more; white for what cannot be told from nothing.
fn tone(loss: &Loss, most: f64) -> u8 {
    if !loss.is_told() || most <= 0.0 {
        return 0xff;
    }
    let share = (loss.amount.value / most).clamp(0.0, 1.0);
    // Between two greys that carry black and white letters.
    let grey = 225.0 - share * 130.0;
    // Within a byte by its making.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let grey = grey.round() as u8;
    grey
}

/// Draws one cell: tone, mark, numbers; returns whether there was room for the numbers.
fn cell(pen: &mut Pen, loss: &Loss, most: f64, [x, y, width]: [f64; 3]) -> bool {
    let grey = tone(loss, most);
    let path = Path::rectangle(x, y, width, CELL);
    pen.fill(path.clone(), Colour(grey, grey, grey));
    pen.stroke(path, Stroke::solid(SLATE, 0.15));
    let told = loss.is_told();
    if told {
        // The mark: a filled corner, seen without any tone.
        let size = 2.2_f64.min(width / 2.0);
        let corner = Path::polygon([[x, y], [x + size, y], [x, y + size]]);
        pen.fill(corner, INK);
    } else {
        let lines = hatch([x, y, width]);
        pen.stroke(lines, Stroke::solid(HAIR, 0.12));
    }
    if width < ROOM {
        return false;
    }
    let ink = if grey < 0x80 { Colour::WHITE } else { INK };
    let value = Style {
        weight: if told { Weight::Bold } else { Weight::Regular },
        colour: ink,
        ..MAP
    };
    let middle = x + width / 2.0;
    let (number, doubt) = written(loss.amount);
    if !told {
        // Letters on a ground of their own.
        let ground = Path::rectangle(middle - 4.0, y + 1.2, 8.0, CELL - 2.4);
        pen.fill(ground, Colour::WHITE);
    }
    pen.write(&number, value, [middle, y + 2.9], Anchor::Middle);
    let doubt = format!("± {doubt}");
    let quiet = Style {
        weight: Weight::Regular,
        ..value
    };
    pen.write(&doubt, quiet, [middle, y + 6.1], Anchor::Middle);
    true
}

/// Thin slanting lines in a cell.
fn hatch([x, y, width]: [f64; 3]) -> Path {
    let mut path = Path::new();
    let mut offset = 1.5;
    while offset < width + CELL {
        // From the upper edge or the right one down to the lower edge or the left one.
        let (from, to) = (
            [x + offset.min(width), y + (offset - width).max(0.0)],
            [x + (offset - CELL).max(0.0), y + offset.min(CELL)],
        );
        path.add_points([from, to]);
        offset += 1.5;
    }
    path
}

/// Loss and expanded uncertainty to the same place.
fn written(loss: Estimate) -> (String, String) {
    let expanded = loss.expanded();
    let digits = if expanded < 0.1 {
        3
    } else if expanded < 1.0 {
        2
    } else {
        1
    };
    (decimals(loss.value, digits), decimals(expanded, digits))
}

/// What the cells mean.
fn key(pen: &mut Pen, y: f64) {
    let box_at = |x: f64| Path::rectangle(x, y - 1.3, 4.0, 2.6);
    let more = Colour(0x9a, 0x9a, 0x9a);
    pen.fill(box_at(0.0), more);
    pen.stroke(box_at(0.0), Stroke::solid(SLATE, 0.15));
    pen.fill(
        Path::polygon([[0.0, y - 1.3], [1.6, y - 1.3], [0.0, y + 0.3]]),
        INK,
    );
    let told = pair("more than its uncertainty", "測定で判別できる減少");
    pen.say(&told, MAP, [5.0, y], Anchor::Left);
    let x = 5.0 + pen.width(&told, MAP) + 5.0;
    pen.stroke(box_at(x), Stroke::solid(SLATE, 0.15));
    let mut lines = Path::new();
    for offset in [1.0, 2.4, 3.8] {
        lines.add_points([
            [x + offset, y - 1.3],
            [x + (offset - 2.0_f64).max(0.0), y + 1.3],
        ]);
    }
    pen.stroke(lines, Stroke::solid(HAIR, 0.12));
    pen.say(
        &pair("cannot be told from nothing", "判別できない"),
        MAP,
        [x + 5.0, y],
        Anchor::Left,
    );
}

fn alternative(record: &Record, before: &Record, rows: &[Row]) -> Pair {
    let datum = ruler::datum(record);
    let (then, now) = (state::in_text(before), state::in_text(record));
    let mut parts = vec![pair(
        format!(
            "Loss along the blade from {} to {}, with expanded uncertainty (k = 2); places from the {}.",
            then.en, now.en, datum.en
        ),
        format!(
            "{}から{}までの刀身各部の減少（拡張不確かさ k = 2）、位置は{}より。",
            then.ja, now.ja, datum.ja
        ),
    )];
    for row in rows {
        let mut said: (Vec<String>, Vec<String>) = (Vec::new(), Vec::new());
        for loss in &row.losses {
            let (value, doubt) = written(loss.amount);
            let at = tenths(loss.at);
            let verdict = match (loss.is_told(), loss.verdict) {
                (true, _) => pair("gone", "減少"),
                (_, Against::Below) => pair("more than before", "以前より大きい"),
                _ => pair("cannot be told", "判別できず"),
            };
            said.0
                .push(format!("{value} ± {doubt} mm at {at} mm ({})", verdict.en));
            said.1
                .push(format!("{at} mm で {value} ± {doubt} mm（{}）", verdict.ja));
        }
        parts.push(pair(
            format!("Loss, {}: {}.", row.name.en, said.0.join(", ")),
            format!("{}の減少：{}。", row.name.ja, said.1.join("、")),
        ));
    }
    sentences(parts)
}

fn note(record: &Record, before: &Record, left_out: bool) -> Pair {
    let (then, now) = (state::in_text(before), state::in_text(record));
    let mut parts = vec![pair(
        format!(
            "Measures of {} less those of {}, with expanded uncertainty (k = 2) of the difference: with what two readings of one gauge share, and 1 mm of doubt of the place. The darker, the more; a filled corner marks what is more than that uncertainty. Each cell stands for one station and reaches halfway to the next.",
            then.en, now.en
        ),
        format!(
            "{}の値から{}の値を引いた差と、その拡張不確かさ（k = 2、同じゲージの誤差の共通分と位置の不確かさ 1 mm を考慮）。濃いほど減少が大きく、角の黒い印は不確かさを超えることを示す。各枠は一つの計測位置を表し、隣との中間まで描く。",
            then.ja, now.ja
        ),
    )];
    if left_out {
        parts.push(pair(
            "Narrow cells bear no numbers; they stand in the table of stations.",
            "狭い枠の数値は省略し、計測位置の表に示す。",
        ));
    }
    sentences(parts)
}
