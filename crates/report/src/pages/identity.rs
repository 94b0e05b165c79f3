//! Identity: the nine categories of Object ID, opinions with their authors, papers.

use tangmark_core::record::{Attribution, Record, Registration, Term as _};

use super::words::{self, NOT_RECORDED, WITHHELD};
use crate::layout::{Cell, Column, Flow, Span, Table, Width, style};

pub(super) fn set(flow: &mut Flow, record: &Record) {
    let blade = &record.blade;
    flow.heading("Identity", 24.0);
    flow.paragraph(
        &[Span::plain(
            "The nine categories of the Object ID standard, in its order.",
        )],
        style::NOTE,
    );
    flow.y += 0.8;
    let mut table = Table::pairs(46.0);
    let text = |value: Option<&str>| vec![Span::plain(value.unwrap_or(NOT_RECORDED))];
    let mut kind = vec![Span::plain(format!("{}; by make ", blade.object_type))];
    kind.extend(words::term(blade.kind_by_make));
    if let Some(by_length) = blade.kind_by_length {
        kind.push(Span::plain("; by length "));
        kind.extend(words::term(by_length));
    }
    table.pair("type of object", kind);
    let mut materials = words::term(blade.construction);
    if let Some(back) = blade.back_form {
        materials.push(Span::plain(" · back "));
        materials.extend(words::term(back));
    }
    for item in &blade.materials_and_techniques {
        materials.push(Span::plain(format!(" · {item}")));
    }
    table.pair("materials and techniques", materials);
    let measures = match record
        .dimensions
        .as_ref()
        .and_then(|it| it.blade_length.as_ref())
    {
        Some(length) => format!(
            "blade length {}; all measures under Measurements",
            words::quantity(length)
        ),
        None if record.dimensions.is_some() => "under Measurements".to_owned(),
        None => NOT_RECORDED.to_owned(),
    };
    table.pair("measurements", vec![Span::plain(measures)]);
    table.pair("inscriptions and markings", inscriptions(record));
    table.pair(
        "distinguishing features",
        text(blade.distinguishing_features.as_deref()),
    );
    table.pair("title", vec![Span::plain(blade.title.clone())]);
    let mut subject: Vec<&str> = blade.subject.as_deref().into_iter().collect();
    subject.extend(blade.carvings.iter().map(String::as_str));
    table.pair(
        "subject",
        vec![Span::plain(if subject.is_empty() {
            NOT_RECORDED.to_owned()
        } else {
            subject.join("; ")
        })],
    );
    let limits = match (&blade.made_not_before, &blade.made_not_after) {
        (None, None) => None,
        (from, to) => Some(format!(
            "examiner's limits: not before {}, not after {}",
            words::date(from.as_ref()),
            words::date(to.as_ref())
        )),
    };
    table.pair("date or period", opinions(&blade.period, limits));
    table.pair("maker", opinions(&blade.maker, None));
    table.pair(
        "workshop's key of the blade",
        vec![Span::plain(blade.id.to_string())],
    );
    if !blade.origin.is_empty() {
        table.pair("place of origin", opinions(&blade.origin, None));
    }
    if !blade.related.is_empty() {
        table.pair(
            "related material",
            vec![Span::plain(blade.related.join("; "))],
        );
    }
    flow.table(&table);
    registrations(flow, &blade.registrations);
    if !blade.signs.is_empty() {
        flow.subheading("Signs of importance seen", 8.0);
        let items: Vec<Vec<Span>> = blade
            .signs
            .iter()
            .map(|sign| {
                vec![
                    Span::bold(format!("{}: ", sign.kind.gloss())),
                    Span::plain(sign.note.clone()),
                ]
            })
            .collect();
        flow.list(&items, style::CELL);
    }
}

fn inscriptions(record: &Record) -> Vec<Span> {
    let Some(tang) = &record.tang else {
        return vec![Span::plain(NOT_RECORDED)];
    };
    if tang.inscriptions.is_empty() {
        return vec![Span::plain(NOT_RECORDED)];
    }
    let mut spans = Vec::new();
    for (index, inscription) in tang.inscriptions.iter().enumerate() {
        if index > 0 {
            spans.push(Span::plain("; "));
        }
        spans.extend(words::term(inscription.kind));
        for part in [&inscription.reading, &inscription.transliteration]
            .into_iter()
            .flatten()
        {
            spans.push(Span::plain(format!(" · {part}")));
        }
    }
    spans
}

/// Opinions are never facts: each names its author, basis and confidence.
fn opinions(list: &[Attribution], limits: Option<String>) -> Vec<Span> {
    let mut spans = Vec::new();
    for opinion in list {
        if !spans.is_empty() {
            spans.push(Span::plain("\n"));
        }
        spans.push(Span::plain(opinion.statement.clone()));
        spans.push(Span::quiet(" – opinion of "));
        spans.extend(words::person(&opinion.author));
        let on = opinion
            .on
            .as_ref()
            .map_or_else(String::new, |on| format!(", {on}"));
        spans.push(Span::quiet(format!(
            "{on}; rests on {}; confidence {}",
            opinion.basis,
            opinion.confidence.gloss()
        )));
    }
    if let Some(limits) = limits {
        if !spans.is_empty() {
            spans.push(Span::plain("\n"));
        }
        spans.push(Span::plain(limits));
    }
    if spans.is_empty() {
        vec![Span::plain("no opinion recorded")]
    } else {
        spans
    }
}

fn registrations(flow: &mut Flow, list: &[Registration]) {
    if list.is_empty() {
        return;
    }
    let mut table = Table::new(vec![
        Column::words("kind", Width::Share(1.1)),
        Column::words("authority", Width::Share(1.0)),
        Column::words("date", Width::Fixed(20.0)),
        Column::words("number", Width::Fixed(30.0)),
        Column::words("grade, and what it states", Width::Share(1.2)),
    ]);
    for entry in list {
        let number = match &entry.number {
            Some(number) => number.clone(),
            None if !entry.withheld.is_empty() => WITHHELD.to_owned(),
            None => NOT_RECORDED.to_owned(),
        };
        let mut states: Vec<String> = entry.grade.iter().cloned().collect();
        if let Some(stated) = &entry.states {
            states.extend(
                stated
                    .blade_length
                    .as_ref()
                    .map(|length| format!("length {}", words::readings(length))),
            );
            states.extend(
                stated
                    .curvature
                    .as_ref()
                    .map(|curvature| format!("curvature {}", words::readings(curvature))),
            );
            states.extend(stated.peg_holes.map(|holes| format!("peg holes {holes}")));
            states.extend(
                stated
                    .inscription
                    .as_ref()
                    .map(|inscription| format!("inscription {inscription}")),
            );
        }
        table.rows.push(vec![
            Cell(words::term(entry.kind)),
            Cell::plain(entry.authority.clone()),
            Cell::figures(words::date(entry.on.as_ref())),
            Cell::plain(number),
            Cell::plain(states.join("; ")),
        ]);
    }
    flow.headed_table("Registrations and papers", &table);
}
