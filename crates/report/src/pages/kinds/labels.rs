//! A sheet of labels to cut out: for box, tag, bag and shelf. The sizes are our own choice.

use tangmark_core::record::Record;

use super::super::{Content, closing, title, words};
use super::eyebrow;
use crate::{
    Speech,
    drawing::{qr, stroked},
    font::Weight,
    layout::{FigureSpec, Flow, Line, Span, Style, count, draw_line, style},
    scene::{Draw, Path, Role, Stroke},
    speech::pair,
};

/// Between labels, mm: room for the cut marks of both.
const GAP: f64 = 7.6;
/// Length of a cut mark, mm.
const MARK: f64 = 3.0;
/// From the edge of a label to its words, mm.
const INSET: f64 = 3.5;
/// Diameter of the hole of a tag, mm.
const HOLE: f64 = 5.0;

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

/// Hairlines outside of the corners, where to cut.
fn cut_marks(left: f64, top: f64, size: Size) -> Vec<Draw> {
    let (right, bottom) = (left + size.width, top + size.height);
    let mut draws = Vec::new();
    for (x, outward) in [(left, -1.0), (right, 1.0)] {
        for (y, down) in [(top, -1.0), (bottom, 1.0)] {
            // A little off the corner: no ink is left on the label.
            let (near, far) = (0.6, 0.6 + MARK);
            draws.push(Path::line(x + outward * near, y, x + outward * far, y));
            draws.push(Path::line(x, y + down * near, x, y + down * far));
        }
    }
    draws
        .into_iter()
        .map(|path| stroked(path, Stroke::solid(style::SLATE, 0.1)))
        .collect()
}

/// A block of words on a label.
struct Block {
    spans: Vec<Span>,
    style: Style,
    /// Most lines.
    lines: usize,
    /// Whether what is longer is cut with dots: a name, never a number. Else it is left out.
    cut: bool,
    /// Space before it, mm.
    before: f64,
}

fn label(flow: &mut Flow, content: &Content<'_>, size: Size, x: f64, top: f64) {
    let left = flow.frame.left + x;
    let mut marks = cut_marks(left, top, size);
    if size.tag {
        let centre = left + size.width / 2.0;
        marks.push(stroked(
            Path::circle(centre, top + 2.0 + HOLE / 2.0, HOLE / 2.0),
            Stroke::dashed(style::SLATE, 0.15, 0.8, 0.6),
        ));
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
        let lines = fitting(flow, &block, width);
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
    // The mark at the head of the page is cut off.
    let demo = if content.demo {
        format!(" · {}", speech.text(&pair("demonstration", "見本")))
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
            lines: if size.height < 30.0 { 1 } else { 2 },
            cut: true,
            before: 0.0,
        },
        Block {
            spans: vec![Span::plain(format!(
                "{} · {}{demo}",
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
    blocks.push(whole(vec![fingerprint], smaller, 0.2));
    let caution = pair("Sharp. Do not touch the steel.", "刃物。刀身に触れない。");
    let cautions = words::sentences(speech, &caution);
    blocks.extend(
        cautions
            .into_iter()
            .map(|spans| whole(words::bold(spans), dark, 0.8)),
    );
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
        .map(|(name, quantity)| {
            // It stands on the second line of the column's title.
            let english = name.en.lines().next_back().unwrap_or_default().to_owned();
            let name = speech.text(&pair(english, name.ja));
            vec![
                Span::quiet(format!("{name} ")),
                Span::figures(words::quantity(quantity)),
            ]
        })
        .collect()
}

/// Lines of a block: cut with dots, or none, where there are more than it may have.
fn fitting(flow: &mut Flow, block: &Block, width: f64) -> Vec<Line> {
    let lines = flow.lines(&block.spans, block.style, width);
    if lines.len() <= block.lines {
        return lines;
    }
    if !block.cut {
        return Vec::new();
    }
    let whole: Vec<char> = block
        .spans
        .iter()
        .flat_map(|span| span.text.chars())
        .collect();
    let like = block.spans.first().cloned().unwrap_or_default();
    let cut = |length: usize| -> Vec<Span> {
        let text: String = whole.iter().take(length).collect();
        vec![Span {
            text: format!("{}…", text.trim_end()),
            ..like.clone()
        }]
    };
    // The longest beginning that fits.
    let (mut fits, mut too_long) = (0, whole.len());
    while too_long - fits > 1 {
        let middle = fits.midpoint(too_long);
        if flow.lines(&cut(middle), block.style, width).len() <= block.lines {
            fits = middle;
        } else {
            too_long = middle;
        }
    }
    let mut lines = flow.lines(&cut(fits), block.style, width);
    lines.truncate(block.lines);
    lines
}
