//! How the blade was examined, and what was not examined.

use tangmark_core::record::{Part, Record, Term as _};

use super::{words, work};
use crate::layout::{Cell, Column, Flow, Span, Table, Width, style};

pub(super) fn set(flow: &mut Flow, record: &Record) {
    flow.heading("Examination", 24.0);
    let Some(examination) = &record.examination else {
        flow.paragraph(
            &[Span::plain("No examination is described in this record.")],
            style::BODY,
        );
        return;
    };
    let mut table = Table::pairs(46.0);
    table.pair("examined by", words::person(&examination.by));
    table.pair("on", vec![Span::figures(examination.on.to_string())]);
    if let Some(place) = &examination.place {
        table.pair("where", vec![Span::plain(place.clone())]);
    }
    table.pair("reason", vec![Span::plain(examination.reason.gloss())]);
    table.pair("light", vec![Span::plain(examination.light.clone())]);
    table.pair("ways of looking", words::terms(&examination.methods));
    if let Some(temperature) = &examination.temperature {
        table.pair(
            "temperature",
            vec![Span::plain(words::quantity(temperature))],
        );
    }
    table.pair("surface", vec![Span::plain(examination.surface.gloss())]);
    table.pair(
        "completeness",
        vec![Span::plain(examination.completeness.gloss())],
    );
    table.pair("examined", words::terms(&examination.examined));
    if let Some(etch) = &examination.etch {
        table.pair("etch", vec![Span::plain(work::etch(etch))]);
    }
    if let Some(note) = &examination.note {
        table.pair("remarks", vec![Span::plain(note.clone())]);
    }
    flow.table(&table);

    flow.subheading("What was not examined", 10.0);
    let mut items: Vec<Vec<Span>> = examination
        .not_examined
        .iter()
        .map(|entry| {
            let mut item = words::term(entry.part);
            item.push(Span::plain(format!(": {}", entry.why)));
            item
        })
        .collect();
    let unnamed: Vec<Part> = Part::ALL
        .iter()
        .copied()
        .filter(|part| {
            !examination.examined.contains(part)
                && !examination
                    .not_examined
                    .iter()
                    .any(|entry| entry.part == *part)
        })
        .collect();
    if !unnamed.is_empty() {
        let mut item = words::terms(&unnamed);
        item.push(Span::plain(": not named as examined"));
        items.push(item);
    }
    if items.is_empty() {
        flow.paragraph(
            &[Span::plain(
                "Every part on the list was examined with the means named above.",
            )],
            style::CELL,
        );
    }
    flow.list(&items, style::CELL);

    if examination.instruments.is_empty() {
        return;
    }
    flow.subheading("Instruments", 14.0);
    let mut table = Table::new(vec![
        Column::words("instrument", Width::Share(1.4)),
        Column::words("key", Width::Share(0.8)),
        Column::words("resolution", Width::Share(0.7)),
        Column::words("limit of error", Width::Share(0.7)),
        Column::words("last checked", Width::Share(0.7)),
    ]);
    for instrument in &examination.instruments {
        table.rows.push(vec![
            Cell::plain(instrument.name.clone()),
            Cell::plain(instrument.id.to_string()),
            Cell::plain(instrument.resolution.text.clone()),
            Cell::plain(instrument.limit_of_error.as_ref().map_or_else(
                || words::NOT_RECORDED.to_owned(),
                |limit| format!("± {}", limit.text),
            )),
            Cell::plain(words::date(instrument.calibrated_on.as_ref())),
        ]);
    }
    flow.table(&table);
}
