//! Labels of many blades or fittings on one sheet. Size and layout are our own choice.

use std::collections::BTreeSet;

use super::{
    cut_out::{Block, GAP, HOLE, cut_marks, punch_mark},
    words,
};
use crate::{
    Label, LabelSheet, Speech,
    drawing::qr,
    font::Weight,
    layout::{
        Chrome, FigureSpec, Flow, Line, Span, Style, count, draw_line, page_format::Frame, style,
    },
    scene::{Bookmark, Role, Scene},
    speech::{Pair, pair},
};

/// Width and height of a label, mm: two beside each other on both papers.
const WIDTH: f64 = 79.2;
const HEIGHT: f64 = 38.0;
/// Side of the code, mm.
pub(crate) const CODE: f64 = 27.0;
/// From the edge of a label to its words, mm.
const INSET: f64 = 3.0;
/// From the left edge of a label to the middle of its hole, mm.
const PUNCH: f64 = 6.0;
/// Sizes of the key that are tried, points: the largest that takes two lines.
const KEY_SIZES: [f64; 4] = [14.0, 11.0, 8.5, 6.5];

/// Title of the document.
pub(crate) fn title(count: usize, speech: Speech) -> String {
    speech.text(&name(count))
}

fn name(count: usize) -> Pair {
    let labels = if count == 1 { "label" } else { "labels" };
    pair(
        format!("{count} {labels} to tie on"),
        format!("結び札 {count} 枚"),
    )
}

/// Sets all pages; returns the characters that no font has.
pub(crate) fn set(
    labels: &[Label<'_>],
    sheet: &LabelSheet<'_>,
    frame: Frame,
) -> (Scene, BTreeSet<char>) {
    let speech = sheet.speech;
    let title = title(labels.len(), speech);
    let mut flow = Flow::new(frame, speech);
    flow.scene.bookmarks.push(Bookmark {
        title: title.clone(),
        level: 1,
        page: 0,
        y: 0.0,
    });
    head(&mut flow, labels.len());
    for row in labels.chunks(2) {
        flow.ensure(HEIGHT);
        let top = flow.y;
        for (column, label) in row.iter().enumerate() {
            let left = frame.left + count(column) * (WIDTH + GAP);
            self::label(&mut flow, label, sheet, [left, top]);
        }
        flow.y = top + HEIGHT + GAP;
    }
    let proves_nothing = pair(
        "not signed: a label says which piece it is tied to and proves nothing",
        "署名なし：札は品を示すのみで、何も証明しない",
    );
    let mark = pair("DEMONSTRATION", "見本");
    let said = |words: &Pair| match speech {
        Speech::Japanese => words.ja.to_string(),
        Speech::English | Speech::Both => words.en.to_string(),
    };
    flow.finish(&Chrome {
        name: format!("{} · {}", sheet.workshop, day(sheet.made_at)),
        fingerprint: said(&proves_nothing),
        running_head: title,
        mark: sheet.demo.then(|| speech.text(&mark)),
    })
}

/// Day of a time in UTC.
fn day(utc: &str) -> &str {
    utc.split('T').next().unwrap_or(utc)
}

fn head(flow: &mut Flow, labels: usize) {
    flow.section = Some(flow.scene.add_node(Role::Section, None));
    let spans = flow.speech.label(&name(labels));
    let width = flow.frame.text_width();
    let lines = flow.lines(&spans, style::SECTION, width);
    let node = flow.node(Role::Heading1);
    let left = flow.frame.left;
    flow.set_lines(node, &lines, style::SECTION, left);
    flow.y += 0.6;
    flow.say(
        &pair(
            "Print at true size, cut along the marks, punch the circle and tie to the wrapping or the scabbard, not to bare steel.",
            "原寸で印刷し、印に沿って切り、丸印に穴をあけ、包みまたは鞘に結ぶ。裸の刀身には結ばない。",
        ),
        style::NOTE,
    );
    flow.gap(5.0);
}

fn label(flow: &mut Flow, label: &Label<'_>, sheet: &LabelSheet<'_>, [left, top]: [f64; 2]) {
    let mut marks = cut_marks([left, top, WIDTH, HEIGHT]);
    marks.push(punch_mark(left + PUNCH, top + HEIGHT / 2.0));
    flow.scene.put(flow.page, None, marks);
    let x = left + PUNCH + HOLE / 2.0 + 2.5;
    let width = left + WIDTH - INSET - CODE - 1.0 - x;
    let bottom = top + HEIGHT - INSET;
    // Set from below: they have their room whatever the title is.
    let mut last = Vec::new();
    if sheet.demo {
        // The mark at the head of the page is cut off.
        last.push(demonstration(flow.speech));
    }
    if label.sharp {
        last.extend(cautions(flow.speech));
    }
    let last: Vec<_> = last
        .into_iter()
        .map(|block| (block.fitting(flow, width), block.style))
        .collect();
    let height = |lines: &[Line], style: Style| style.leading * count(lines.len());
    let foot: f64 = last
        .iter()
        .map(|(lines, style)| height(lines, *style))
        .sum();
    let mut y = top + INSET;
    for mut block in blocks(flow, label, sheet, width) {
        let room = bottom - foot - 0.8 - y - block.before;
        // As many lines as there is room for, and no more than it may have.
        while block.lines > 1 && block.style.leading * count(block.lines) > room + 0.2 {
            block.lines -= 1;
        }
        if block.style.leading > room + 0.2 {
            break;
        }
        let lines = block.fitting(flow, width);
        if lines.is_empty() {
            continue;
        }
        y += block.before;
        put(flow, &lines, block.style, [x, y]);
        y += height(&lines, block.style);
    }
    let mut y = bottom - foot;
    for (lines, style) in &last {
        put(flow, lines, *style, [x, y]);
        y += height(lines, *style);
    }
    let here = flow.y;
    flow.y = top + (HEIGHT - CODE) / 2.0;
    flow.figure_here(&FigureSpec {
        alternative: flow.speech.text(&pair(
            format!("QR code of {}: {}", label.key, label.code),
            format!("{} の二次元コード：{}", label.key, label.code),
        )),
        x: left + WIDTH - INSET - CODE - flow.frame.left,
        width: CODE,
        height: CODE,
        draw: &|x, y| qr::draw(label.code, x, y, CODE),
    });
    flow.y = here;
}

/// Sets lines as a paragraph of their own.
fn put(flow: &mut Flow, lines: &[Line], style: Style, [x, y]: [f64; 2]) {
    let node = flow.node(Role::Paragraph);
    let mut draws = Vec::new();
    for (index, line) in lines.iter().enumerate() {
        draws.extend(draw_line(line, style, x, y + style.leading * count(index)));
    }
    flow.scene.put(flow.page, Some(node), draws);
}

fn small() -> Style {
    Style {
        size: 6.6,
        leading: 3.1,
        colour: style::INK,
        ..style::NOTE
    }
}

/// That nothing on the label is of a real blade.
fn demonstration(speech: Speech) -> Block {
    Block {
        spans: vec![Span::plain(speech.text(&pair("demonstration", "見本")))],
        style: small(),
        lines: 2,
        cut: false,
        before: 0.0,
    }
}

/// What to mind, each language in a block of its own.
fn cautions(speech: Speech) -> Vec<Block> {
    let said = pair("Sharp. Do not touch the steel.", "刃物。刀身に触れない。");
    words::sentences(speech, &said)
        .into_iter()
        .map(|spans| Block {
            spans: words::bold(spans),
            style: small(),
            lines: 2,
            cut: false,
            before: 0.0,
        })
        .collect()
}

/// What stands on a label, what matters most first.
fn blocks(flow: &mut Flow, label: &Label<'_>, sheet: &LabelSheet<'_>, width: f64) -> Vec<Block> {
    let key = [Span::plain(label.key)];
    let sized = |size: f64| Style {
        size,
        leading: size * 0.47,
        weight: Weight::Bold,
        ..style::CELL
    };
    let least = KEY_SIZES.last().copied().unwrap_or(style::CELL.size);
    let fits = |size: &f64| flow.lines(&key, sized(*size), width).len() <= 2;
    let size = KEY_SIZES.into_iter().find(fits).unwrap_or(least);
    let mut blocks = vec![
        Block {
            lines: flow.lines(&key, sized(size), width).len(),
            spans: key.to_vec(),
            style: sized(size),
            cut: false,
            before: 0.0,
        },
        Block {
            spans: vec![Span::plain(label.title)],
            style: Style {
                size: 8.4,
                leading: 3.9,
                weight: Weight::Regular,
                ..style::CELL
            },
            lines: 2,
            cut: true,
            before: 0.6,
        },
    ];
    let more = |text: String, lines: usize| Block {
        spans: vec![Span::plain(text)],
        style: small(),
        lines,
        cut: true,
        before: 0.6,
    };
    if !label.line.is_empty() {
        blocks.push(more(label.line.to_owned(), 3));
    }
    blocks.push(more(sheet.workshop.to_owned(), 2));
    for block in &mut blocks {
        block.spans.retain(|span| !span.text.is_empty());
    }
    blocks.retain(|block| !block.spans.is_empty());
    blocks
}
