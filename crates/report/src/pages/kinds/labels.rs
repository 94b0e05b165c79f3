//! A sheet of labels to cut out: for box, tag, bag and shelf. The sizes are our own choice.

use tangmark_core::record::Record;

use super::super::{
    Content, closing,
    cut_out::{Block, GAP, HOLE, cut_marks, punch_mark},
    title, words,
};
use super::eyebrow;
use crate::{
    Speech,
    drawing::qr,
    font::Weight,
    layout::{FigureSpec, Flow, Span, Style, count, draw_line, style},
    scene::Role,
    speech::pair,
};

/// From the edge of a label to its words, mm.
const INSET: f64 = 3.5;

/// A kind of label.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Size {
    width: f64,
    height: f64,
    /// Side of the code, mm.
    code: f64,
    /// Size of the title, points.
    title: f64,
    /// Size of the other words, points.
    words: f64,
    /// Whether the label is upright with a hole for a string.
    tag: bool,
}

const BOX: Size = Size {
    width: 104.0,
    height: 54.0,
    code: 27.0,
    title: 12.5,
    words: 8.0,
    tag: false,
};
const TAG: Size = Size {
    width: 52.0,
    height: 54.0,
    code: 20.0,
    title: 8.4,
    words: 6.4,
    tag: true,
};
const BAG: Size = Size {
    width: 78.0,
    height: 42.0,
    code: 24.0,
    title: 10.0,
    words: 7.0,
    tag: false,
};
const SHELF: Size = Size {
    width: 78.0,
    height: 26.0,
    code: 20.0,
    title: 8.4,
    words: 6.4,
    tag: false,
};

pub(super) fn set(flow: &mut Flow, content: &Content<'_>) {
    title::name(flow, content.record, &eyebrow(content));
    flow.y += 1.0;
    flow.say(
        &pair(
            "For box, string tag, bag and shelf. Print at true size, cut along the marks. The code holds the name of the record; compare the fingerprint with one you have from the workshop.",
            "箱、下げ札、袋、棚用。原寸で印刷し、印に沿って切る。二次元コードは記録の名を収める。指紋は工房から得たものと照合する。",
        ),
        style::NOTE,
    );
    flow.gap(5.0);
    for row in [[BOX, TAG], [BAG, BAG], [SHELF, SHELF]] {
        let height = row.iter().map(|size| size.height).fold(0.0, f64::max);
        flow.ensure(height);
        let top = flow.y;
        let mut x = 0.0;
        for size in row {
            label(flow, content, size, x, top);
            x += size.width + GAP;
        }
        flow.y = top + height + GAP;
    }
    closing::short(flow, content);
}

fn label(flow: &mut Flow, content: &Content<'_>, size: Size, x: f64, top: f64) {
    let left = flow.frame.left + x;
    let mut marks = cut_marks([left, top, size.width, size.height]);
    if size.tag {
        marks.push(punch_mark(left + size.width / 2.0, top + 2.0 + HOLE / 2.0));
    }
    flow.scene.put(flow.page, None, marks);
    let head = if size.tag { HOLE + 3.0 } else { 0.0 };
    let code_left = left + size.width - INSET - size.code;
    let code_top = if size.tag {
        top + size.height - 2.0 - size.code
    } else {
        top + 2.0
    };
    let width = size.width - 2.0 * INSET - if size.tag { 0.0 } else { size.code + 2.0 };
    let bottom = top + size.height - INSET;
    // On a tag the code stands below the words, the caution beside it.
    let mut y = top + INSET + head;
    for block in blocks(flow, content, size) {
        let beside = size.tag && y + block.before + block.style.leading > code_top;
        let width = if beside {
            width - size.code - 1.0
        } else {
            width
        };
        let lines = block.fitting(flow, width);
        let height = block.style.leading * count(lines.len());
        if lines.is_empty() || y + block.before + height > bottom + 0.5 {
            continue;
        }
        // What would run into the code is left out.
        if size.tag && !beside && y + block.before + height > code_top + 0.6 {
            continue;
        }
        y += block.before;
        let node = flow.node(Role::Paragraph);
        let mut draws = Vec::new();
        for line in &lines {
            draws.extend(draw_line(line, block.style, left + INSET, y));
            y += block.style.leading;
        }
        flow.scene.put(flow.page, Some(node), draws);
    }
    let text = closing::record_code(content);
    let here = flow.y;
    flow.y = code_top;
    flow.figure_here(&FigureSpec {
        alternative: flow.speech.text(&pair(
            "QR code that holds the name of the record",
            "記録の名を収めた二次元コード",
        )),
        x: code_left - flow.frame.left,
        width: size.code,
        height: size.code,
        draw: &|x, y| qr::draw(&text, x, y, size.code),
    });
    flow.y = here;
}

/// What stands on a label, what matters most first; what finds no room is left out.
fn blocks(flow: &Flow, content: &Content<'_>, size: Size) -> Vec<Block> {
    let speech = flow.speech;
    let record = content.record;
    let small = Style {
        size: size.words,
        leading: size.words * 0.48,
        ..style::NOTE
    };
    let dark = Style {
        colour: style::INK,
        ..small
    };
    let title = Style {
        size: size.title,
        leading: size.title * 0.47,
        weight: Weight::Bold,
        ..style::CELL
    };
    let number = pair(
        format!("record {}", record.sequence),
        format!("記録 {}", record.sequence),
    );
    // The mark at the head of the page is cut off. Here it comes first: what is too long is cut at the end.
    let demo = if content.demo {
        format!("{} · ", speech.text(&pair("demonstration", "見本")))
    } else {
        String::new()
    };
    let whole = |spans: Vec<Span>, style: Style, before: f64| Block {
        spans,
        style,
        lines: 2,
        cut: false,
        before,
    };
    let mut blocks = vec![
        Block {
            spans: vec![Span::plain(record.blade.title.clone())],
            style: title,
            lines: if size == SHELF { 1 } else { 2 },
            cut: true,
            before: 0.0,
        },
        Block {
            spans: vec![Span::plain(format!(
                "{demo}{} · {}",
                record.blade.id,
                speech.text(&number)
            ))],
            style: dark,
            lines: 2,
            cut: true,
            before: 0.4,
        },
    ];
    let fingerprint = Span {
        weight: Some(Weight::Bold),
        ..Span::figures(content.fingerprint)
    };
    let smaller = Style {
        size: size.words.min(7.0) - 0.6,
        ..dark
    };
    let fingerprint = whole(vec![fingerprint], smaller, 0.2);
    let caution = pair("Sharp. Do not touch the steel.", "刃物。刀身に触れない。");
    let cautions = words::sentences(speech, &caution);
    let cautions = cautions
        .into_iter()
        .map(|spans| whole(words::bold(spans), dark, 0.8));
    // On the smallest there may not be room for both: what cuts comes first.
    if size == SHELF {
        blocks.extend(cautions);
        blocks.push(fingerprint);
    } else {
        blocks.push(fingerprint);
        blocks.extend(cautions);
    }
    let mut measures = measures(speech, record).into_iter().map(|spans| Block {
        lines: 1,
        ..whole(spans, dark, 0.2)
    });
    let others = if size == BOX { 4 } else { 1 };
    blocks.extend(measures.by_ref().take(1 + others));
    let oiled = speech.text(&pair("oiled on", "油引き"));
    blocks.push(whole(
        vec![Span::plain(format!("{oiled} ________"))],
        dark,
        1.0,
    ));
    blocks
}

/// The chief measures, each with the trade's word for it.
fn measures(speech: Speech, record: &Record) -> Vec<Vec<Span>> {
    title::chief(record)
        .into_iter()
        .map(|title::Chief { name, on, quantity }| {
            // It stands on the second line of the column's title.
            let english = name.en.lines().next_back().unwrap_or_default().to_owned();
            let name = speech.text(&pair(english, name.ja));
            let on = on.map_or_else(String::new, |on| format!("{}{on}", words::comma(speech)));
            vec![
                Span::quiet(format!("{name} ")),
                Span::figures(format!("{}{on}", words::quantity(quantity))),
            ]
        })
        .collect()
}
