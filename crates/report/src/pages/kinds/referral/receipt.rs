//! A receipt for the custody, to be filled in and signed by hand: a page to be taken out.

use super::super::super::{Content, words};
use crate::{
    drawing::stroked,
    layout::{Flow, Span, draw_line, style},
    scene::{Path, Role, Stroke},
    speech::{Pair, pair},
};

/// Distance of lines to write on, mm.
const LINE: f64 = 9.0;
/// Between the giver's and the receiver's column, mm.
const GAP: f64 = 10.0;
/// Side of a box to tick, mm.
const TICK: f64 = 3.2;

pub(super) fn set(flow: &mut Flow, content: &Content<'_>) {
    let record = content.record;
    let speech = flow.speech;
    flow.next_page();
    words::heading(flow, &pair("Receipt for the custody", "預り証"), 60.0);
    flow.say(
        &pair(
            "To be filled in and signed by hand by both, one copy for each. It says who holds the blade and in what condition it was handed over. It changes nothing about who owns it.",
            "双方が手書きで記入し署名する。各自一部を保管する。本証は、刀身を誰が預かり、どの状態で引き渡したかを示す。所有権には関わらない。",
        ),
        style::BODY,
    );
    flow.gap(2.0);
    let name = Span::figures(words::digest(&content.name));
    for (label, value) in [
        (
            pair("blade", "刀身"),
            vec![
                Span::bold(record.blade.title.clone()),
                Span::plain(format!(" · {}", record.blade.id)),
            ],
        ),
        (pair("record", "記録"), vec![name]),
    ] {
        let mut spans = vec![Span::quiet(format!(
            "{}{}",
            speech.text(&label),
            words::colon(speech)
        ))];
        spans.extend(value);
        flow.paragraph(&spans, style::CELL);
    }
    handed_over(flow, content);
    flow.gap(3.0);
    words::subheading(
        flow,
        &pair(
            "Condition on handing over, where it differs from the record",
            "引渡し時の状態（記録と異なる点）",
        ),
        3.0 * LINE,
    );
    blank_lines(flow, 3);
    signatures(flow);
}

/// What goes along, each with a box to tick.
fn handed_over(flow: &mut Flow, content: &Content<'_>) {
    let record = content.record;
    let speech = flow.speech;
    flow.gap(2.0);
    words::subheading(flow, &pair("Handed over", "引き渡した物"), 12.0);
    let packed: &[String] = record
        .referral
        .as_ref()
        .map_or(&[], |referral| &referral.packed);
    let mut items: Vec<Vec<Span>> = Vec::new();
    if packed.is_empty() {
        items.push(speech.label(&pair("the blade", "刀身")));
        items.extend(record.fittings.iter().map(|fitting| {
            let mut spans = words::term(speech, fitting.part);
            spans.push(Span::quiet(format!(" {}", fitting.description)));
            spans
        }));
    } else {
        items.extend(packed.iter().map(|item| vec![Span::plain(item.clone())]));
    }
    let width = flow.frame.text_width() - 8.0;
    for item in items {
        let lines = flow.lines(&item, style::BODY, width);
        let height = style::BODY.leading * lines.len() as f64 + 1.6;
        flow.ensure(height);
        let (left, top) = (flow.frame.left, flow.y + 0.6);
        let tick = stroked(
            Path::rectangle(left, top, TICK, TICK),
            Stroke::solid(style::INK, 0.25),
        );
        flow.scene.put(flow.page, None, vec![tick]);
        let node = flow.node(Role::Paragraph);
        flow.set_lines(node, &lines, style::BODY, left + 8.0);
        flow.y += 1.6;
    }
}

/// Empty lines to write on.
fn blank_lines(flow: &mut Flow, count: usize) {
    for _ in 0..count {
        flow.y += LINE;
        flow.rule(flow.frame.left, flow.frame.text_width(), 0.2, style::SLATE);
    }
    flow.y += 4.0;
}

/// Two columns: who gives, who receives.
fn signatures(flow: &mut Flow) {
    let width = (flow.frame.text_width() - GAP) / 2.0;
    let fields = [
        pair("name in block letters", "氏名（楷書）"),
        pair("date and hour", "日時"),
        pair("signature", "署名"),
    ];
    flow.ensure(12.0 + 3.0 * (LINE + 5.0));
    let top = flow.y;
    for (column, who) in [pair("Given by", "渡す者"), pair("Received by", "受ける者")]
        .iter()
        .enumerate()
    {
        let left = flow.frame.left + column as f64 * (width + GAP);
        flow.y = top;
        let head = words::bold(flow.speech.label(who));
        let lines = flow.lines(&head, style::BODY, width);
        let node = flow.node(Role::Paragraph);
        flow.set_lines(node, &lines, style::BODY, left);
        for field in &fields {
            flow.y += LINE;
            field_line(flow, field, left, width);
        }
    }
}

/// A line to write on with its name below.
fn field_line(flow: &mut Flow, name: &Pair, left: f64, width: f64) {
    flow.rule(left, width, 0.2, style::SLATE);
    let label = flow.speech.label(name);
    let lines = flow.lines(&label, style::LABEL, width);
    let node = flow.node(Role::Paragraph);
    let mut draws = Vec::new();
    for line in &lines {
        draws.extend(draw_line(line, style::LABEL, left, flow.y + 0.6));
        flow.y += style::LABEL.leading;
    }
    flow.y += 1.0;
    flow.scene.put(flow.page, Some(node), draws);
}
