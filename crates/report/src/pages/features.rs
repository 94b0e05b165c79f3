//! Tang, temper line, grain and fittings.

use std::fmt::Write as _;

use tangmark_core::record::{Inscription, Record, Stretch, Tang, TemperLine, Term as _};

use super::words::{self, NOT_RECORDED};
use crate::layout::{Cell, Column, Flow, Span, Table, Width, style};

pub(super) fn set(flow: &mut Flow, record: &Record) {
    flow.heading("Tang · nakago 茎", 20.0);
    match &record.tang {
        Some(tang) => set_tang(flow, tang),
        None => flow.paragraph(
            &[Span::plain("The tang is not described in this record.")],
            style::BODY,
        ),
    }
    flow.heading("Temper line · hamon 刃文, and grain · jihada 地肌", 20.0);
    match &record.temper_line {
        Some(temper) => set_temper(flow, temper),
        None => flow.paragraph(
            &[Span::plain(
                "The temper line is not described in this record.",
            )],
            style::BODY,
        ),
    }
    let Some(grain) = &record.grain else {
        flow.gap(1.0);
        flow.paragraph(
            &[Span::plain("The grain is not described in this record.")],
            style::BODY,
        );
        return;
    };
    let mut table = Table::pairs(46.0);
    table.pair("grain, the dominant first", words::terms(&grain.families));
    if let Some(note) = &grain.note {
        table.pair("remarks on the grain", vec![Span::plain(note.clone())]);
    }
    flow.table(&table);
}

fn set_tang(flow: &mut Flow, tang: &Tang) {
    let mut table = Table::pairs(46.0);
    table.pair("state", words::term(tang.state));
    table.pair("form", words::term(tang.shape));
    if let Some(end) = tang.end {
        table.pair("end", words::term(end));
    }
    if let Some(marks) = tang.file_marks {
        let mut value = words::term(marks);
        if tang.decorated_file_marks {
            value.push(Span::plain(" · decorated at the top (kesho yasuri 化粧鑢)"));
        }
        table.pair("file marks · yasurime 鑢目", value);
    }
    if let Some(marks) = tang.older_file_marks {
        table.pair("older file marks", words::term(marks));
    }
    if let Some(runs_in) = tang.temper_runs_in {
        table.pair(
            "temper line runs into the tang",
            vec![Span::plain(words::yes_no(runs_in))],
        );
    }
    if let Some(patina) = &tang.patina {
        table.pair("patina, never cleaned", vec![Span::plain(patina.clone())]);
    }
    let holes = tang.holes.len();
    let plugged = tang.holes.iter().filter(|hole| hole.plugged).count();
    table.pair(
        "peg holes · mekugi-ana 目釘孔",
        vec![Span::plain(if holes == 0 {
            "none recorded".to_owned()
        } else {
            format!("{holes}, of which {plugged} plugged")
        })],
    );
    flow.table(&table);
    if holes > 0 {
        flow.gap(2.4);
        let mut table = Table::new(vec![
            Column::words("hole", Width::Fixed(14.0)),
            Column::numbers("from the datum, mm", Width::Fixed(36.0)),
            Column::numbers("diameter, mm", Width::Fixed(30.0)),
            Column::words("plugged", Width::Fixed(20.0)),
        ]);
        let figures =
            |quantity: &tangmark_core::record::Quantity| Cell::figures(words::bare(quantity));
        for (index, hole) in tang.holes.iter().enumerate() {
            let diameter = hole
                .diameter
                .as_ref()
                .map_or_else(|| Cell::plain("–"), |diameter| figures(diameter));
            table.rows.push(vec![
                Cell::figures((index + 1).to_string()),
                figures(&hole.at),
                diameter,
                Cell::plain(words::yes_no(hole.plugged)),
            ]);
        }
        flow.table_at(&table, 0.0, 109.0);
    }
    inscriptions(flow, &tang.inscriptions);
}

fn inscriptions(flow: &mut Flow, list: &[Inscription]) {
    if list.is_empty() {
        return;
    }
    flow.subheading("Inscriptions · mei 銘", 14.0);
    let mut table = Table::new(vec![
        Column::words("kind", Width::Share(1.0)),
        Column::words("side", Width::Fixed(30.0)),
        Column::words("as read", Width::Share(1.2)),
        Column::words("opinions and remarks", Width::Share(1.3)),
    ]);
    for entry in list {
        let side = entry
            .side
            .map_or_else(|| vec![Span::plain(NOT_RECORDED)], words::term);
        let mut reading: Vec<Span> = entry
            .reading
            .iter()
            .map(|reading| Span::bold(reading.clone()))
            .collect();
        if let Some(latin) = &entry.transliteration {
            let gap = if reading.is_empty() { "" } else { "\n" };
            reading.push(Span::plain(format!("{gap}{latin}")));
        }
        table.rows.push(vec![
            Cell(words::term(entry.kind)),
            Cell(side),
            Cell(reading),
            Cell(remarks(entry)),
        ]);
    }
    flow.table(&table);
}

/// Opinions on an inscription, each with its author, then remarks.
fn remarks(entry: &Inscription) -> Vec<Span> {
    let mut spans = Vec::new();
    for opinion in &entry.opinions {
        if !spans.is_empty() {
            spans.push(Span::plain("\n"));
        }
        spans.extend(words::term(opinion.view));
        spans.push(Span::quiet(" – opinion of "));
        spans.extend(words::person(&opinion.author));
        let statement = opinion
            .statement
            .as_ref()
            .map_or_else(String::new, |text| format!(": {text}"));
        spans.push(Span::plain(format!(", {}{statement}", opinion.on)));
    }
    if let Some(note) = &entry.note {
        let gap = if spans.is_empty() { "" } else { "\n" };
        spans.push(Span::plain(format!("{gap}{note}")));
    }
    spans
}

fn set_temper(flow: &mut Flow, temper: &TemperLine) {
    let mut table = Table::pairs(46.0);
    table.pair("temper line", vec![Span::plain(temper.visibility.gloss())]);
    if !temper.families.is_empty() {
        table.pair(
            "families, the dominant first",
            words::terms(&temper.families),
        );
    }
    if let Some(start) = temper.start {
        table.pair("lower start", words::term(start));
    }
    if let Some(point) = &temper.point {
        let mut value = words::terms(&point.forms);
        if let Some(back) = point.turn_back {
            value.push(Span::plain(" · turn-back (kaeri 返り) "));
            value.extend(words::term(back));
        }
        if let Some(length) = &point.turn_back_length {
            value.push(Span::plain(format!(", {}", words::quantity(length))));
        }
        table.pair("in the point · boshi 帽子", value);
    }
    if !temper.activities.is_empty() {
        table.pair(
            "activities · hataraki 働き",
            words::terms(&temper.activities),
        );
    }
    if !temper.breaks.is_empty() {
        table.pair("missing", stretches(&temper.breaks));
    }
    if !temper.run_outs.is_empty() {
        table.pair("runs out into the edge", stretches(&temper.run_outs));
    }
    if let Some(note) = &temper.note {
        table.pair("remarks", vec![Span::plain(note.clone())]);
    }
    flow.table(&table);
    if !temper.widths.is_empty() {
        flow.gap(2.4);
        let mut table = Table::new(vec![
            Column::numbers("from the datum, mm", Width::Fixed(36.0)),
            Column::words("face", Width::Fixed(36.0)),
            Column::numbers("width from the edge, mm", Width::Fixed(40.0)),
        ]);
        let figures =
            |quantity: &tangmark_core::record::Quantity| Cell::figures(words::bare(quantity));
        for width in &temper.widths {
            let face = width
                .face
                .map_or_else(|| vec![Span::plain("both")], words::term);
            table
                .rows
                .push(vec![figures(&width.at), Cell(face), figures(&width.width)]);
        }
        flow.table_at(&table, 0.0, 118.0);
        flow.gap(2.4);
    }
}

fn stretches(list: &[Stretch]) -> Vec<Span> {
    let text: Vec<String> = list
        .iter()
        .map(|stretch| {
            let face = stretch
                .face
                .map_or_else(String::new, |face| format!(" on {}", words::short(face)));
            format!(
                "{} to {}{face}",
                words::with_unit(stretch.from.value, stretch.from.unit),
                words::with_unit(stretch.to.value, stretch.to.unit)
            )
        })
        .collect();
    vec![Span::plain(text.join("; "))]
}

pub(super) fn fittings(flow: &mut Flow, record: &Record) {
    flow.heading("Fittings · tosogu 刀装具", 20.0);
    if record.fittings.is_empty() {
        flow.paragraph(&[Span::plain("No fitting is in this record.")], style::BODY);
        return;
    }
    let mut table = Table::new(vec![
        Column::words("part", Width::Share(0.9)),
        Column::words("description and condition", Width::Share(1.5)),
        Column::words("materials", Width::Share(1.1)),
        Column::words("belongs to the blade", Width::Share(0.7)),
        Column::words("protected materials", Width::Share(0.9)),
    ]);
    for fitting in &record.fittings {
        let mut description = vec![Span::plain(fitting.description.clone())];
        if let Some(condition) = &fitting.condition {
            description.push(Span::quiet(format!("\ncondition: {condition}")));
        }
        let mut materials = words::terms(&fitting.materials);
        if let Some(evidence) = &fitting.material_evidence {
            materials.push(Span::quiet(format!("\ntold by {evidence}")));
        }
        let mut screen = fitting.protected.map_or_else(
            || "not looked up".to_owned(),
            |screen| screen.gloss().to_owned(),
        );
        if let Some(list) = &fitting.protected_as_of {
            let _ = write!(screen, ", list of {list}");
        }
        let mut part = words::term(fitting.part);
        part.push(Span::quiet(format!("\n{}", fitting.id)));
        table.rows.push(vec![
            Cell(part),
            Cell(description),
            Cell(materials),
            Cell::plain(fitting.matched.gloss()),
            Cell::plain(screen),
        ]);
    }
    flow.table(&table);
    flow.gap(1.4);
    flow.paragraph(&[Span::plain("A look at a list of protected materials is no clearance: ask the authority before a fitting changes hands or crosses a border.")], style::NOTE);
}
