//! The steel account: mass from weighing to weighing as bars.

use tangmark_core::units::Unit;
use tangmark_measure::{Against, Estimate, against};

use super::{
    Anchor, Drawing, Pen, Words,
    axis::{Axis, ends},
    sentences,
};
use crate::{
    compare::{
        account::{Account, Went},
        quantities::stated,
    },
    layout::style::{HAIR, INK, MAP, SLATE},
    pages::words,
    scene::{Colour, Path, Stroke},
    speech::{Pair, Speech, pair},
};

/// Height of a row, mm.
const ROW: f64 = 5.0;
/// Height of a bar, mm.
const BAR: f64 = 3.2;
/// Room for the name of a step, mm.
const NAMES: f64 = 46.0;
/// Room for what went, mm.
const NUMBERS: f64 = 25.0;
/// Most rows; from there on neighbours of one kind are drawn as one, and then the rest as one.
const MOST_ROWS: usize = 36;
/// Grey of steel.
const STEEL_BAR: Colour = Colour(0x5c, 0x62, 0x69);
/// Grey of what is steel in part.
const MIXED_BAR: Colour = Colour(0xc9, 0xcc, 0xd0);

/// One bar.
struct Bar {
    name: Pair,
    went: Went,
    /// Masses before and after, g.
    masses: [f64; 2],
    gone: Estimate,
}

/// A bar for each step; fewer where there are too many.
fn bars(account: &Account<'_>) -> Vec<Bar> {
    let mass = |index: usize| account.weighings[index].mass.to_f64();
    let bar = |first: usize, last: usize, went: Went| {
        let steps = &account.steps[first..=last];
        let name = match steps {
            [one] => one.said(),
            many => pair(
                format!("{} steps: {}", many.len(), went.said().en),
                format!("{} 段階：{}", many.len(), went.said().ja),
            ),
        };
        Bar {
            name,
            went,
            masses: [mass(first), mass(last + 1)],
            gone: account.in_steps(first, last),
        }
    };
    let count = account.steps.len();
    if count <= MOST_ROWS {
        return (0..count)
            .map(|index| bar(index, index, account.steps[index].went))
            .collect();
    }
    let mut merged: Vec<[usize; 2]> = Vec::new();
    for index in 0..count {
        match merged.last_mut() {
            Some([first, last]) if account.steps[*first].went == account.steps[index].went => {
                *last = index;
            }
            _ => merged.push([index, index]),
        }
    }
    if let Some([_, last]) = merged.last().copied()
        && merged.len() > MOST_ROWS
    {
        merged.truncate(MOST_ROWS);
        if let Some(rest) = merged.last_mut() {
            rest[1] = last;
        }
    }
    merged
        .into_iter()
        .map(|[first, last]| {
            let went = account.steps[first].went;
            let one_kind = account.steps[first..=last]
                .iter()
                .all(|step| step.went == went);
            bar(first, last, if one_kind { went } else { Went::Mixed })
        })
        .collect()
}

/// Draws every step from weighing to weighing.
pub(crate) fn steel_account(account: &Account<'_>, width: f64, speech: Speech) -> Option<Drawing> {
    let bars = bars(account);
    let (left, right) = (NAMES, width - NUMBERS);
    let reach = bars.iter().flat_map(|bar| {
        let [_, after] = bar.masses;
        let doubt = bar.gone.expanded();
        [bar.masses[0], after - doubt, after + doubt]
    });
    let [low, high] = ends(reach);
    if !(low.is_finite() && high.is_finite() && right > left) {
        return None;
    }
    let axis = Axis::new([low, high], 6.0, false);
    let x = |mass: f64| left + axis.share(mass) * (right - left);
    let mut pen = Pen::new(speech);
    let top = 4.4;
    let rows = bars.len() + 2;
    let bottom = top + ROW * rows as f64 + 1.0;
    let middle_of = |row: usize| top + ROW * (row as f64 + 0.5) + 0.5;
    let heads = [
        (pair("step", "段階"), 0.0, Anchor::Left),
        (pair("gone, g", "減少 g"), width, Anchor::Right),
    ];
    for (head, at, anchor) in heads {
        pen.say(&head, MAP, [at, 1.6], anchor);
    }
    pen.say_within(
        &pair("mass, g", "質量 g"),
        MAP,
        [left, 1.6],
        Anchor::Left,
        right - left,
    );
    for tick in &axis.ticks {
        let at = x(*tick);
        pen.line([at, top], [at, bottom], Stroke::solid(HAIR, 0.15));
        pen.write(&axis.number(*tick), MAP, [at, bottom + 2.2], Anchor::Middle);
    }
    let ends = [
        (account.weighings.first(), 0, Anchor::Right),
        (account.weighings.last(), rows - 1, Anchor::Left),
    ];
    for (weighing, row, anchor) in ends {
        let Some(weighing) = weighing else { continue };
        let (at, middle) = (x(weighing.mass.to_f64()), middle_of(row));
        let said = weighing.place.said();
        pen.say_within(&said, MAP, [0.0, middle], Anchor::Left, NAMES - 2.0);
        mark(&mut pen, [at, middle], &words::bare(weighing.mass), anchor);
    }
    for (index, bar) in bars.iter().enumerate() {
        let middle = middle_of(index + 1);
        let y = middle - BAR / 2.0;
        pen.say_within(&bar.name, MAP, [0.0, middle], Anchor::Left, NAMES - 2.0);
        let [before, after] = bar.masses.map(x);
        let (from, to) = (before.min(after), before.max(after));
        fill(&mut pen, bar.went, [from, y, to - from]);
        // Down to where the next begins.
        let end = Stroke::solid(SLATE, 0.15);
        pen.line([after, y + BAR], [after, y + ROW], end);
        if index == 0 {
            let above = y - ROW + BAR / 2.0;
            pen.line([before, above], [before, y], Stroke::solid(SLATE, 0.15));
        }
        let doubt = bar.gone.expanded();
        if doubt > 0.0 {
            let ends = [x(bar.masses[1] - doubt), x(bar.masses[1] + doubt)];
            let mut bracket = Path::line(ends[0], middle, ends[1], middle);
            for end in ends {
                bracket.append(&Path::line(end, middle - 0.6, end, middle + 0.6));
            }
            pen.stroke(bracket.clone(), Stroke::solid(Colour::WHITE, 0.5));
            pen.stroke(bracket, Stroke::solid(INK, 0.2));
        }
        let number = stated(bar.gone, account.digits(), Unit::One);
        let number = number.trim_start_matches('+');
        pen.write_within(number, MAP, [width, middle], Anchor::Right, NUMBERS - 1.0);
    }
    let y = bottom + 6.6;
    let height = key(&mut pen, &bars, y, width);
    let words = Words {
        title: pair("From weighing to weighing", "計測ごとの質量"),
        alternative: alternative(account, &bars),
        note: note(account, &bars),
    };
    Drawing::of(pen, [width, height], words)
}

/// A mass that was weighed, on the side where nothing else stands.
fn mark(pen: &mut Pen, [x, y]: [f64; 2], mass: &str, anchor: Anchor) {
    const HALF: f64 = 1.1;
    let diamond = Path::polygon([[x, y - HALF], [x + HALF, y], [x, y + HALF], [x - HALF, y]]);
    pen.fill(diamond, INK);
    let aside = match anchor {
        Anchor::Right => x - 2.2,
        Anchor::Left | Anchor::Middle => x + 2.2,
    };
    pen.write(mass, MAP, [aside, y], anchor);
}

/// Fills a bar by what went; each kind is told apart without colour.
fn fill(pen: &mut Pen, went: Went, [x, y, width]: [f64; 3]) {
    // A step in which nothing went is a line.
    let width = width.max(0.3);
    let shape = Path::rectangle(x, y, width, BAR);
    match went {
        Went::Steel => pen.fill(shape.clone(), STEEL_BAR),
        Went::Etch => {
            pen.fill(shape.clone(), STEEL_BAR);
            let mut dots = Path::new();
            let mut at = x + 0.9;
            while at < x + width - 0.3 {
                dots.append(&Path::circle(at, y + BAR / 2.0, 0.35));
                at += 1.8;
            }
            pen.fill(dots, Colour::WHITE);
        }
        Went::Mixed => {
            pen.fill(shape.clone(), MIXED_BAR);
            pen.stroke(slants([x, y, width]), Stroke::solid(SLATE, 0.2));
        }
        Went::Rust => pen.stroke(slants([x, y, width]), Stroke::solid(SLATE, 0.2)),
        Went::Other | Went::Unexplained => pen.fill(shape.clone(), Colour::WHITE),
    }
    let stroke = match went {
        Went::Unexplained => Stroke::dashed(INK, 0.2, 0.8, 0.6),
        _ => Stroke::solid(INK, 0.2),
    };
    pen.stroke(shape, stroke);
}

/// Slanting lines in a bar.
fn slants([x, y, width]: [f64; 3]) -> Path {
    let mut path = Path::new();
    let mut offset = 0.8;
    while offset < width + BAR {
        let (from, to) = (
            [x + offset.min(width), y + (offset - width).max(0.0)],
            [x + (offset - BAR).max(0.0), y + offset.min(BAR)],
        );
        path.add_points([from, to]);
        offset += 1.2;
    }
    path
}

/// What the bars mean, as far as they are there; returns the height where it ends.
fn key(pen: &mut Pen, bars: &[Bar], top: f64, width: f64) -> f64 {
    let (mut x, mut y) = (0.0, top);
    for went in Went::ALL {
        if !bars.iter().any(|bar| bar.went == went) {
            continue;
        }
        let said = went.said();
        let needs = 8.0 + pen.width(&said, MAP);
        if x > 0.0 && x + needs > width {
            (x, y) = (0.0, y + 4.4);
        }
        fill(pen, went, [x, y - BAR / 2.0, 6.0]);
        pen.say_within(&said, MAP, [x + 7.4, y], Anchor::Left, width - x - 7.4);
        x += needs + 5.0;
    }
    y + 2.6
}

fn alternative(account: &Account<'_>, bars: &[Bar]) -> Pair {
    let first = account
        .weighings
        .first()
        .map(|one| (one.place.said(), words::quantity(one.mass)));
    let mut parts = Vec::new();
    if let Some((place, mass)) = first {
        parts.push(pair(
            format!("Mass in {}: {mass}.", place.en),
            format!("{}の質量：{mass}。", place.ja),
        ));
    }
    for bar in bars {
        let number = stated(bar.gone, account.digits(), Unit::Gram);
        let number = number.trim_start_matches('+');
        let went = bar.went.said();
        parts.push(pair(
            format!("{}: {number} gone ({}).", bar.name.en, went.en),
            format!("{}：減少 {number}（{}）。", bar.name.ja, went.ja),
        ));
    }
    if let Some(last) = account.weighings.last() {
        let (place, mass) = (last.place.said(), words::quantity(last.mass));
        parts.push(pair(
            format!("Mass {}: {mass}.", place.en),
            format!("{}の質量：{mass}。", place.ja),
        ));
    }
    sentences(parts)
}

fn note(account: &Account<'_>, bars: &[Bar]) -> Pair {
    let mut parts = vec![pair(
        "Diamonds: first and last weighing. A bar reaches from the mass before to the mass after; brackets: expanded uncertainty (k = 2) of the difference. The axis does not begin at nothing.",
        "菱形は最初と最後の計測。帯は前の質量から後の質量まで。括弧線は差の拡張不確かさ（k = 2）。軸は 0 から始まらない。",
    )];
    if bars.len() < account.steps.len() {
        parts.push(pair(
            format!(
                "{} steps in {} rows: neighbours of one kind are drawn together, and what is left at the end.",
                account.steps.len(),
                bars.len()
            ),
            format!(
                "{} 段階を {} 行にまとめた（同じ種類の隣どうし、および末尾の残り）。",
                account.steps.len(),
                bars.len()
            ),
        ));
    }
    let unexplained = account
        .of_kind(Went::Unexplained)
        .filter(|gone| against(*gone, 0.0) != Against::Undecided);
    if let Some(gone) = unexplained {
        let number = stated(gone, account.digits(), Unit::Gram);
        let number = number.trim_start_matches('+');
        parts.push(pair(
            format!("{number} is more than the scale can tell from nothing, and no pass says why: look for a pass that was not logged, or for water and oil at a weighing."),
            format!("{number} は秤で判別できる量で、該当する工程がない。記録漏れの工程、または計測時の水や油を確かめること。"),
        ));
    }
    sentences(parts)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use serde_json::{Value, json};
    use tangmark_core::record::Record;

    use super::*;
    use crate::{drawing::steel_gone, sample, scene::Draw};

    fn mass(tenths: usize) -> Value {
        let text = format!("{}.{} g", tenths / 10, tenths % 10);
        sample::read(&text, tangmark_core::units::Dimension::Mass)
    }

    fn record(passes: &[Value]) -> Record {
        let mut value = sample::bare();
        value["passes"] = passes.into();
        serde_json::from_value(value).unwrap()
    }

    /// So many passes, each of which takes 0.2 g; every second one removes rust.
    fn passes(count: usize) -> Vec<Value> {
        (0..count)
            .map(|index| {
                let operation = if index % 2 == 0 { "derust" } else { "grind" };
                json!({ "id": format!("p-{index}"), "on": "2026-03-09", "operation": operation, "zones": ["ground"],
                    "before": { "mass": mass(7483 - 2 * index) }, "after": { "mass": mass(7481 - 2 * index) } })
            })
            .collect()
    }

    fn words(drawing: &Drawing) -> String {
        let texts = drawing.draws.iter().filter_map(|draw| match draw {
            Draw::Text(text) => Some(text.text.as_str()),
            _ => None,
        });
        texts.collect::<Vec<_>>().join(" ").replace('\u{a0}', " ")
    }

    #[test]
    fn every_step_is_a_bar_with_its_number_in_each_language() {
        let (before, after) = (record(&[]), record(&passes(3)));
        let account = Account::of(&before, &after, &[]).unwrap();
        let english = steel_account(&account, 166.0, Speech::English).unwrap();
        // Steps of 0.1 g: u² = 2·(0.1²/12 + 0.1²), U = 0.294 g.
        assert_eq!(
            words(&english).matches("0.20 ± 0.29").count(),
            3,
            "{}",
            words(&english)
        );
        assert!(
            english
                .alternative
                .contains("p-1 foundation grinding: 0.20"),
            "{}",
            english.alternative
        );
        let japanese = steel_account(&account, 166.0, Speech::Japanese).unwrap();
        assert!(
            words(&japanese).contains("下地研ぎ"),
            "{}",
            words(&japanese)
        );
        let again = steel_account(&account, 166.0, Speech::English).unwrap();
        assert_eq!(english.draws, again.draws);
        let curves = steel_gone(&account, 166.0, Speech::Both).unwrap();
        assert!(
            curves.alternative.contains("Last: 0.2 at 3")
                && curves.alternative.contains("錆の減少"),
            "{}",
            curves.alternative
        );
    }

    #[test]
    fn many_steps_are_drawn_together_and_none_is_lost() {
        let (before, after) = (record(&[]), record(&passes(90)));
        let account = Account::of(&before, &after, &[]).unwrap();
        assert_eq!(account.steps.len(), 90);
        let bars = bars(&account);
        assert_eq!(bars.len(), MOST_ROWS);
        let sum: f64 = bars.iter().map(|bar| bar.gone.value).sum();
        assert!((sum - account.all().value).abs() < 1e-9);
        assert_eq!(bars.last().map(|bar| bar.went), Some(Went::Mixed));
        let drawing = steel_account(&account, 166.0, Speech::English).unwrap();
        assert!(drawing.height < 240.0, "{}", drawing.height);
        assert!(
            drawing.note.en.contains("90 steps in 36 rows"),
            "{}",
            drawing.note.en
        );
    }

    #[test]
    fn one_step_makes_no_curve() {
        let (before, after) = (record(&[]), record(&passes(1)));
        let account = Account::of(&before, &after, &[]).unwrap();
        assert!(steel_gone(&account, 166.0, Speech::English).is_none());
        assert!(steel_account(&account, 166.0, Speech::English).is_some());
    }
}
