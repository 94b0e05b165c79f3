//! The list of flaws, numbered as on the map.

use tangmark_core::record::{Flaw, Record, Term as _};

use super::words;
use crate::layout::{Cell, Column, Flow, Span, Table, Width, style};

pub(super) fn set(flow: &mut Flow, record: &Record) {
    if record.flaws.is_empty() {
        flow.heading("Flaws · kizu 疵", 20.0);
        flow.paragraph(
            &[Span::plain(
                "No flaw is in this record. That none was seen does not say that there is none.",
            )],
            style::BODY,
        );
        return;
    }
    let mut table = Table::new(vec![
        Column::words("no.", Width::Fixed(7.0)),
        Column::words("kind", Width::Share(1.0)),
        Column::words("zone, face", Width::Fixed(18.0)),
        Column::numbers("from datum, mm", Width::Fixed(19.0)),
        Column::words("size", Width::Fixed(36.0)),
        Column::words("standing and looks", Width::Share(1.9)),
    ]);
    for (index, flaw) in record.flaws.iter().enumerate() {
        let mut kind = words::term(flaw.kind);
        kind.push(Span::quiet(format!("\n{}", flaw.id)));
        let faces: Vec<String> = flaw.faces.iter().map(|face| words::short(*face)).collect();
        let zone = format!("{}\n{}", words::short(flaw.zone), faces.join("\n"));
        let at = words::bare(&flaw.at);
        table.rows.push(vec![
            Cell(vec![Span {
                weight: Some(crate::font::Weight::Bold),
                ..Span::figures((index + 1).to_string())
            }]),
            Cell(kind),
            Cell::plain(zone),
            Cell::figures(at),
            Cell::figures(size(flaw)),
            Cell(standing(flaw)),
        ]);
    }
    let keep = flow.table_start(&table) + 8.0;
    flow.heading("Flaws · kizu 疵", keep);
    flow.paragraph(
        &[Span::plain(
            "Numbers as on the map. How much a flaw matters is said under Findings, not here.",
        )],
        style::NOTE,
    );
    flow.y += 0.8;
    flow.table(&table);
}

fn size(flaw: &Flaw) -> String {
    let mut parts = Vec::new();
    for (name, length) in [
        ("long", &flaw.length),
        ("wide", &flaw.width),
        ("deep", &flaw.depth),
        ("from the edge", &flaw.from_edge),
    ] {
        parts.extend(
            length
                .as_ref()
                .map(|length| format!("{} {name}", words::quantity(length))),
        );
    }
    parts.extend(
        flaw.area
            .as_ref()
            .map(|area| format!("area {}", words::quantity(area))),
    );
    parts.extend(flaw.count.map(|count| format!("{count} of them")));
    if parts.is_empty() {
        "not measured".to_owned()
    } else {
        parts.join("\n")
    }
}

fn standing(flaw: &Flaw) -> Vec<Span> {
    let mut spans = vec![Span::bold(flaw.standing.gloss())];
    spans.push(Span::plain(format!(
        "; progress: {}",
        flaw.progress.gloss()
    )));
    if let Some(through) = flaw.through_temper {
        spans.push(Span::plain(if through {
            "; through the temper line"
        } else {
            "; not through the temper line"
        }));
    }
    for sighting in &flaw.sightings {
        let face = sighting
            .face
            .map_or_else(String::new, |face| format!(", {}", words::short(face)));
        let photos = if sighting.photos.is_empty() {
            String::new()
        } else {
            format!(", photo {}", keys(&sighting.photos))
        };
        let text = format!(
            "\n{}: {} with {}, {}{face}, by {}{photos}",
            sighting.on,
            sighting.outcome.gloss(),
            sighting.method.gloss(),
            sighting.light,
            sighting.by.gloss()
        );
        spans.push(Span::quiet(text));
    }
    if let Some(cause) = &flaw.cause {
        spans.push(Span::plain(format!("\ncause, an opinion: {cause}")));
    }
    if let Some(note) = &flaw.note {
        spans.push(Span::plain(format!("\n{note}")));
    }
    if !flaw.photos.is_empty() {
        spans.push(Span::quiet(format!("\nphoto {}", keys(&flaw.photos))));
    }
    spans
}

fn keys(list: &[tangmark_core::record::Key]) -> String {
    list.iter()
        .map(ToString::to_string)
        .collect::<Vec<_>>()
        .join(", ")
}
