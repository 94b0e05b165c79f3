//! Page 1: which blade, what was decided, the chief measures and the map.

use std::fmt::Write as _;

use tangmark_core::record::{Level, Quantity, Record, Term as _, Verdict};

use super::{Content, words};
use crate::{
    drawing::{filled, map::Map},
    font::Weight,
    layout::{Align, Cell, Column, FigureSpec, Flow, Span, Table, Width, style},
    scene::{Path, Role},
};

pub(super) fn set(flow: &mut Flow, content: &Content<'_>) {
    let record = content.record;
    head(flow, content);
    decision(flow, record);
    chief_measures(flow, record);
    map(flow, record);
}

fn head(flow: &mut Flow, content: &Content<'_>) {
    let record = content.record;
    flow.section = Some(flow.scene.add_node(Role::Section, None));
    let eyebrow = format!(
        "CONDITION RECORD {} · {}",
        record.sequence,
        record.purpose.gloss().to_uppercase()
    );
    flow.paragraph(&[Span::plain(eyebrow)], style::EYEBROW);
    flow.y += 1.2;
    let width = flow.frame.text_width();
    let lines = flow.lines(
        &[Span::plain(record.blade.title.clone())],
        style::TITLE,
        width,
    );
    let node = flow.node(Role::Heading1);
    let left = flow.frame.left;
    flow.set_lines(node, &lines, style::TITLE, left);
    flow.y += 0.8;
    let mut kind = words::term(flow.speech, record.blade.kind_by_make);
    kind.push(Span::plain(" · "));
    kind.extend(words::term(flow.speech, record.blade.construction));
    flow.paragraph(&kind, style::BODY);
    flow.y += 1.6;
    let mut table = Table::pairs(26.0);
    table.padding = 0.55;
    // Small enough for a whole digest on one line.
    table.style = crate::layout::Style {
        size: 7.0,
        leading: 3.5,
        ..style::CELL
    };
    let issued = record
        .issued_at
        .as_str()
        .replace('T', " at ")
        .replace('Z', " UTC");
    table.pair("issued by", vec![Span::plain(record.issuer.name.clone())]);
    table.pair("key fingerprint", vec![Span::figures(content.fingerprint)]);
    table.pair(
        "issued on",
        vec![
            Span::figures(issued),
            Span::quiet(" by the issuer's own clock"),
        ],
    );
    table.pair("record", vec![Span::figures(words::digest(&content.name))]);
    if let Some(previous) = &record.previous {
        table.pair(
            "record before",
            vec![Span::figures(words::digest(previous))],
        );
    }
    flow.table(&table);
}

/// The panel that says what happens with the blade, with everything that must stand on page 1.
fn decision(flow: &mut Flow, record: &Record) {
    flow.gap(5.0);
    let mut blocks: Vec<(Vec<Span>, crate::layout::Style)> = Vec::new();
    match &record.decision {
        Some(decision) => {
            let verdict = match decision.verdict {
                Verdict::Work => "Work",
                Verdict::SetAside => "Set aside",
                Verdict::Refer => "Refer to a senior specialist",
            };
            blocks.push((vec![Span::plain(verdict)], style::VERDICT));
            blocks.push((vec![Span::plain(decision.reason.clone())], style::BODY));
            blocks.push((
                vec![Span::quiet("decided by "), Span::plain(decision.by.clone())],
                style::CELL,
            ));
        }
        None => blocks.push((
            vec![Span::plain("No decision in this record")],
            style::VERDICT,
        )),
    }
    let count = |level| {
        record
            .findings
            .iter()
            .filter(|finding| finding.level == level)
            .count()
    };
    let (stops, cautions) = (count(Level::Stop), count(Level::Caution));
    let tally = format!(
        "findings: {stops} stop, {cautions} caution, {} information",
        count(Level::Info)
    );
    blocks.push((vec![Span::quiet(tally)], style::CELL));
    // Whoever takes the blade over reads every stop before anything else.
    for finding in record
        .findings
        .iter()
        .filter(|finding| finding.level == Level::Stop)
    {
        let overridden = record
            .overrides
            .iter()
            .any(|entry| entry.rule == tangmark_core::hold::name(finding));
        let head = if overridden {
            "Stop, overridden below: "
        } else {
            "Stop: "
        };
        blocks.push((
            vec![Span::bold(head), Span::plain(finding.message.clone())],
            style::CELL,
        ));
    }
    for entry in &record.overrides {
        let on = entry
            .at
            .as_str()
            .split('T')
            .next()
            .unwrap_or_default()
            .to_owned();
        let spans = vec![
            Span::bold(format!("Override of {} ", entry.rule)),
            Span::plain(format!("by {} on {on}: {}", entry.name, entry.reason)),
        ];
        blocks.push((spans, style::CELL));
    }
    for entry in &record.worked_under_hold {
        let spans = vec![
            Span::bold("Worked under hold: "),
            Span::plain(format!(
                "pass {} while {} stood unanswered ({})",
                entry.pass, entry.rule, entry.message
            )),
        ];
        blocks.push((spans, style::CELL));
    }
    panel(flow, &blocks);
}

/// Sets blocks on a tinted ground with a bar at the left; goes on over pages when it must.
fn panel(flow: &mut Flow, blocks: &[(Vec<Span>, crate::layout::Style)]) {
    let (indent, inset) = (6.0, 3.0);
    let width = flow.frame.text_width() - indent - 4.0;
    let set: Vec<_> = blocks
        .iter()
        .map(|(spans, style)| (flow.lines(spans, *style, width), *style))
        .collect();
    let height = |lines: usize, style: crate::layout::Style| style.leading * lines as f64 + 0.8;
    let first = set
        .first()
        .map_or(0.0, |(lines, style)| height(lines.len(), *style));
    flow.ensure(first + 2.0 * inset + 12.0);
    let mut at = 0;
    while at < set.len() {
        // As many blocks as fit; one that is higher than a page is set and goes on by itself.
        let room = flow.remaining() - 2.0 * inset;
        let mut total = 0.0;
        let mut end = at;
        while let Some((lines, style)) = set.get(end) {
            let own = height(lines.len(), *style);
            if total + own > room && end > at {
                break;
            }
            total += own;
            end += 1;
        }
        let ground = (total + 2.0 * inset).min(flow.remaining());
        let (left, top) = (flow.frame.left, flow.y);
        let tinted = filled(
            Path::rectangle(left, top, flow.frame.text_width(), ground),
            style::PAPER,
        );
        let bar = filled(Path::rectangle(left, top, 1.4, ground), style::INDIGO);
        flow.scene.put(flow.page, None, vec![tinted, bar]);
        flow.y += inset;
        for (lines, style) in set.get(at..end).unwrap_or_default() {
            let node = flow.node(Role::Paragraph);
            flow.set_lines(node, lines, *style, left + indent);
            flow.y += 0.8;
        }
        flow.y += inset - 0.8;
        at = end;
        if at < set.len() {
            flow.next_page();
        }
    }
}

/// The measures that people ask for first, side by side.
fn chief_measures(flow: &mut Flow, record: &Record) {
    let Some(dimensions) = &record.dimensions else {
        return;
    };
    let lengths = [
        (
            "blade length\nnagasa 長さ",
            dimensions.blade_length.as_deref(),
        ),
        ("curvature\nsori 反り", dimensions.curvature.as_deref()),
        (
            "width at the base\nmotohaba 元幅",
            dimensions.width_at_base.as_deref(),
        ),
        (
            "thickness at the base\nmotokasane 元重",
            dimensions.thickness_at_base.as_deref(),
        ),
        ("mass", dimensions.mass.as_deref()),
    ];
    let known: Vec<_> = lengths
        .into_iter()
        .filter_map(|(name, quantity)| quantity.map(|quantity| (name, quantity)))
        .collect();
    if known.is_empty() {
        return;
    }
    flow.gap(5.0);
    let columns = known
        .iter()
        .map(|(name, _)| Column {
            title: (*name).to_owned(),
            width: Width::Share(1.0),
            align: Align::Left,
        })
        .collect();
    let mut table = Table::new(columns);
    table.style = crate::layout::Style {
        size: 9.6,
        leading: 4.8,
        ..style::CELL
    };
    let value = |quantity: &Quantity| {
        let (value, uncertainty) =
            words::value_and_uncertainty(quantity.value, quantity.standard_uncertainty);
        let value = Span {
            weight: Some(Weight::Bold),
            ..Span::figures(words::join(value, quantity.unit))
        };
        let uncertainty = Span {
            colour: Some(style::SLATE),
            ..Span::figures(format!("\n±\u{a0}{uncertainty}"))
        };
        Cell(vec![value, uncertainty])
    };
    table
        .rows
        .push(known.iter().map(|(_, quantity)| value(quantity)).collect());
    flow.table(&table);
}

fn map(flow: &mut Flow, record: &Record) {
    let nothing_to_show = record.dimensions.is_none() && record.flaws.is_empty();
    if nothing_to_show {
        return;
    }
    let width = flow.frame.text_width();
    let Some(map) = Map::new(record, width) else {
        return;
    };
    flow.gap(5.0);
    let height = map.height();
    flow.ensure(height + 4.0 * style::NOTE.leading);
    flow.figure(&FigureSpec {
        alternative: map.alternative(),
        x: 0.0,
        width,
        height,
        draw: &|x, y| map.draw(x, y),
    });
    flow.y += 1.4;
    let unfolded = if map.profile.symmetric {
        "both faces, turned about the long axis"
    } else {
        "both faces, unfolded along the back"
    };
    let mut note = format!(
        "Blade map at scale 1 : {} (1 mm on paper is {} mm on the blade), {unfolded}. ",
        map.scale, map.scale
    );
    if !record.flaws.is_empty() {
        note.push_str("Numbers as in the list of flaws; broken lines: suspected; struck through: ruled out; bars: extent along the blade. Signs stand by zone where the distance from the edge was not measured. ");
    }
    if !map.profile.assumed.is_empty() {
        let _ = write!(
            note,
            "Dashed lines were not measured and are drawn from typical proportions: {}.",
            map.profile.assumed.join(", ")
        );
    }
    flow.paragraph(&[Span::plain(note.trim_end().to_owned())], style::NOTE);
}
