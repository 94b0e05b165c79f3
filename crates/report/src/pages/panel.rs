//! Blocks on a tinted ground.

use crate::{
    drawing::filled,
    layout::{Flow, Span, Style, count, style},
    scene::{Path, Role},
};

/// From the left edge of the ground to the words, mm.
const INDENT: f64 = 6.0;
/// Above and below the words, mm.
const INSET: f64 = 3.0;
/// Between blocks, mm.
const BETWEEN: f64 = 0.8;

/// Sets blocks on a tinted ground with a bar at the left; goes on over pages when it must.
pub(super) fn set(flow: &mut Flow, blocks: &[(Vec<Span>, Style)]) {
    let width = flow.frame.text_width() - INDENT - 4.0;
    let lines: Vec<_> = blocks
        .iter()
        .map(|(spans, style)| (flow.lines(spans, *style, width), *style))
        .collect();
    let height = |lines: usize, style: Style| style.leading * count(lines) + BETWEEN;
    let whole: f64 = lines
        .iter()
        .map(|(lines, style)| height(lines.len(), *style))
        .sum();
    let first = lines
        .first()
        .map_or(0.0, |(lines, style)| height(lines.len(), *style));
    // A short panel stays whole.
    flow.ensure(2.0 * INSET + if whole < 60.0 { whole } else { first + 12.0 });
    let mut at = 0;
    while at < lines.len() {
        // As many blocks as fit; one that is higher than a page is set and goes on by itself.
        let room = flow.remaining() - 2.0 * INSET;
        let mut total = 0.0;
        let mut end = at;
        while let Some((block, style)) = lines.get(end) {
            let own = height(block.len(), *style);
            if total + own > room && end > at {
                break;
            }
            total += own;
            end += 1;
        }
        let ground = (total + 2.0 * INSET).min(flow.remaining());
        let (left, top) = (flow.frame.left, flow.y);
        let tinted = filled(
            Path::rectangle(left, top, flow.frame.text_width(), ground),
            style::PAPER,
        );
        let bar = filled(Path::rectangle(left, top, 1.4, ground), style::INDIGO);
        flow.scene.put(flow.page, None, vec![tinted, bar]);
        flow.y += INSET;
        for (lines, style) in lines.get(at..end).unwrap_or_default() {
            let node = flow.node(Role::Paragraph);
            flow.set_lines(node, lines, *style, left + INDENT);
            flow.y += BETWEEN;
        }
        flow.y += INSET - BETWEEN;
        at = end;
        if at < lines.len() {
            flow.next_page();
        }
    }
}
