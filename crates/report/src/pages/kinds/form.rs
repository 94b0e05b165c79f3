//! Parts of pages that are filled in and signed by hand.

use tangmark_core::record::{CustodyEvent, CustodyKind, Person, Record};

use super::super::words;
use crate::{
    drawing::stroked,
    layout::{Flow, Span, count, draw_line, style},
    scene::{Path, Role, Stroke},
    speech::{Pair, pair},
};

/// Distance of lines to write on, mm.
const LINE: f64 = 9.0;
/// Between two columns, mm.
const GAP: f64 = 10.0;
/// Side of a box to tick, mm.
const TICK: f64 = 3.2;
/// From the edge of a box to its words, mm.
const INDENT: f64 = 8.0;
/// Kinds of events by which a blade goes from hand to hand.
const HANDS: [CustodyKind; 7] = [
    CustodyKind::LeftForWork,
    CustodyKind::Returned,
    CustodyKind::Lent,
    CustodyKind::Sold,
    CustodyKind::Given,
    CustodyKind::Inherited,
    CustodyKind::Bought,
];

/// The newest event by which the blade went to other hands.
pub(super) fn last_hands(record: &Record) -> Option<&CustodyEvent> {
    let events = record.custody.iter().rev();
    events.into_iter().find(|event| HANDS.contains(&event.kind))
}

/// A line to write on, or what is known already.
pub(super) struct Field {
    pub(super) name: Pair,
    pub(super) value: Option<String>,
}

impl Field {
    /// A line to write on.
    pub(super) const fn empty(name: Pair) -> Self {
        Self { name, value: None }
    }

    /// Name, address and contact of a person; lines where they are withheld or not stated.
    pub(super) fn of_person(person: Option<&Person>) -> Vec<Self> {
        let known =
            |value: fn(&Person) -> &Option<String>| person.and_then(|one| value(one).clone());
        vec![
            Self {
                name: pair("name in block letters", "氏名（楷書）"),
                value: known(|person| &person.name),
            },
            Self {
                name: pair("address", "住所"),
                value: known(|person| &person.address),
            },
        ]
    }
}

/// Sets items, each with a box to tick.
pub(super) fn ticks(flow: &mut Flow, items: &[Vec<Span>]) {
    let width = flow.frame.text_width() - INDENT;
    for item in items {
        let lines = flow.lines(item, style::BODY, width);
        flow.ensure(style::BODY.leading * count(lines.len()) + 1.4);
        tick(flow);
        let node = flow.node(Role::Paragraph);
        let left = flow.frame.left + INDENT;
        flow.set_lines(node, &lines, style::BODY, left);
        flow.y += 1.4;
    }
}

/// Sets boxes to tick, each with a line to write on.
pub(super) fn blank_ticks(flow: &mut Flow, number: usize) {
    for _ in 0..number {
        flow.ensure(6.4);
        flow.y += 1.4;
        tick(flow);
        flow.y += 4.0;
        let left = flow.frame.left + INDENT;
        flow.rule(left, flow.frame.text_width() - INDENT, 0.2, style::SLATE);
        flow.y += 1.0;
    }
}

fn tick(flow: &mut Flow) {
    let (left, top) = (flow.frame.left, flow.y + 0.6);
    let tick = stroked(
        Path::rectangle(left, top, TICK, TICK),
        Stroke::solid(style::INK, 0.25),
    );
    flow.scene.put(flow.page, None, vec![tick]);
}

/// Height of empty lines to write on, with the room after them, mm.
pub(super) fn height_of_lines(number: usize) -> f64 {
    count(number) * LINE + 4.0
}

/// Empty lines to write on, all on one page.
pub(super) fn blank_lines(flow: &mut Flow, number: usize) {
    flow.ensure(height_of_lines(number));
    for _ in 0..number {
        flow.y += LINE;
        flow.rule(flow.frame.left, flow.frame.text_width(), 0.2, style::SLATE);
    }
    flow.y += 4.0;
}

/// Sets fields in two columns under their heads, the left one read first; all of it on one page.
pub(super) fn columns(flow: &mut Flow, columns: [(&Pair, &[Field]); 2]) {
    let width = (flow.frame.text_width() - GAP) / 2.0;
    let rows = columns
        .iter()
        .map(|(_, fields)| fields.len())
        .max()
        .unwrap_or(0);
    flow.gap(1.6);
    // Addresses of several lines are rare, and most of them short.
    flow.ensure(6.0 + count(rows) * (LINE + 5.0));
    let top = flow.y;
    let mut end = top;
    for (index, (head, fields)) in columns.into_iter().enumerate() {
        let left = flow.frame.left + count(index) * (width + GAP);
        flow.y = top;
        let head = words::bold(flow.speech.label(head));
        let lines = flow.lines(&head, style::BODY, width);
        let node = flow.node(Role::Paragraph);
        flow.set_lines(node, &lines, style::BODY, left);
        for field in fields {
            write_on(flow, field, left, width);
        }
        end = end.max(flow.y);
    }
    flow.y = end;
}

/// Sets fields one below the other over the whole width.
pub(super) fn fields(flow: &mut Flow, fields: &[Field]) {
    let (left, width) = (flow.frame.left, flow.frame.text_width());
    for field in fields {
        flow.ensure(LINE + 5.0);
        write_on(flow, field, left, width);
    }
}

/// A line with its name below it, and what is known above it.
fn write_on(flow: &mut Flow, field: &Field, left: f64, width: f64) {
    let known: Vec<Span> = field.value.iter().cloned().map(Span::plain).collect();
    let lines = flow.lines(&known, style::BODY, width);
    let height = style::BODY.leading * count(lines.len());
    flow.y += (LINE - height - 0.4).max(1.6);
    let node = flow.node(Role::Paragraph);
    let mut draws = Vec::new();
    for line in &lines {
        draws.extend(draw_line(line, style::BODY, left, flow.y));
        flow.y += style::BODY.leading;
    }
    flow.y += 0.4;
    flow.rule(left, width, 0.2, style::SLATE);
    let label = flow.speech.label(&field.name);
    let mut y = flow.y + 0.6;
    for line in &flow.lines(&label, style::LABEL, width) {
        draws.extend(draw_line(line, style::LABEL, left, y));
        y += style::LABEL.leading;
    }
    flow.scene.put(flow.page, Some(node), draws);
    flow.y = y + 0.4;
}

/// Place, day and signature of whoever gives and whoever receives.
pub(super) fn signatures(flow: &mut Flow) {
    let fields = || {
        [
            pair("place and day", "場所・年月日"),
            pair("name in block letters", "氏名（楷書）"),
            pair("signature", "署名"),
        ]
        .map(Field::empty)
    };
    let (given, received) = (pair("Given by", "渡す者"), pair("Received by", "受ける者"));
    columns(flow, [(&given, &fields()), (&received, &fields())]);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{PageSize, Speech, layout::page_format::Frame};

    #[test]
    fn lines_to_write_on_stay_above_the_foot_of_the_page() {
        for left in [1.0, LINE, height_of_lines(2) - 0.1] {
            let mut flow = Flow::new(Frame::of(PageSize::A4), Speech::English);
            flow.y = flow.frame.height - flow.frame.bottom - left;
            blank_lines(&mut flow, 2);
            assert_eq!(flow.page, 1, "{left} mm were left");
            assert!(flow.remaining() > 0.0);
        }
        let mut flow = Flow::new(Frame::of(PageSize::A4), Speech::English);
        flow.y = flow.frame.height - flow.frame.bottom - height_of_lines(2);
        blank_lines(&mut flow, 2);
        assert_eq!(flow.page, 0, "what fits stays");
    }
}
