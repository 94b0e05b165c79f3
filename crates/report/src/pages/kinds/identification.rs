//! One page to tell the blade by, for police, insurer or customs.

use tangmark_core::record::Record;

use super::super::{Content, closing, identity, title, words};
use super::{eyebrow, parts};
use crate::{
    drawing,
    layout::{Cell, FigureSpec, Flow, Span, Style, Width, style},
    speech::pair,
};

/// Row of the measurements in the list of the nine categories.
const MEASUREMENTS: usize = 2;
/// Greatest height of the photos, mm.
const PHOTO: f64 = 40.0;

/// Least part of that height where there is little room: smaller photos would tell nothing.
const LEAST: f64 = 0.6;

/// Text of the list: small enough for one page, as small as the notes where that is not enough.
fn small(flow: &Flow) -> Style {
    let size = if flow.fit.spacing < 1.0 {
        style::NOTE.size
    } else {
        7.6
    };
    Style {
        size,
        leading: size * 0.487,
        ..style::CELL
    }
}

pub(super) fn set(flow: &mut Flow, content: &Content<'_>) {
    let record = content.record;
    title::name(flow, record, &eyebrow(content));
    flow.y += 1.0;
    flow.say(
        &pair(
            "For police, insurer or customs. The names of the categories are those of the Object ID standard, in its order.",
            "警察、保険、税関のために。項目は Object ID 基準の名称と順序による。",
        ),
        style::NOTE,
    );
    let highest = PHOTO * flow.fit.spacing.max(LEAST);
    parts::telling_photos(flow, content, highest, 2);
    map(flow, record);
    flow.gap(3.0);
    let speech = flow.speech;
    let mut table = identity::categories(speech, record);
    table.style = small(flow);
    table.padding = 0.55;
    // No readings on this sheet: its rows stand too close for them.
    for span in table.rows.iter_mut().flatten().flat_map(|cell| &mut cell.0) {
        span.ruby = None;
    }
    if let Some(cell) = table
        .rows
        .get_mut(MEASUREMENTS)
        .and_then(|row| row.get_mut(1))
    {
        *cell = Cell(parts::chief_in_a_line(speech, record));
    }
    let registrations: Vec<String> = record
        .blade
        .registrations
        .iter()
        .map(|entry| parts::registration_in_a_line(speech, entry))
        .collect();
    if !registrations.is_empty() {
        let list = registrations.join(words::semicolon(speech));
        words::row(
            &mut table,
            speech,
            &pair("registrations and papers", "登録・証書"),
            vec![Span::plain(list)],
        );
    }
    if let Some(names) = table.columns.first_mut() {
        names.width = Width::Fixed(38.0);
    }
    words::names_on_one_line(&mut table, speech, 60.0);
    flow.table(&table);
    // Where it takes a second page all the same, that one begins with whole words.
    flow.may_turn();
    if_lost(flow);
    closing::short(flow, content);
}

/// What to do when the blade is gone.
fn if_lost(flow: &mut Flow) {
    flow.gap(1.6);
    flow.say(
        &pair(
            "If it is lost: report it to the police at once with this sheet and the photographs, tell the insurer, and ask for an entry in a register of lost objects. Keep a copy away from the blade. Common practice, no source.",
            "紛失・盗難の際：直ちに本票と写真を添えて警察に届け、保険者に知らせ、紛失・盗難品台帳への登載を求める。控えは刀身と別の場所に置く。慣行による（典拠なし）。",
        ),
        style::NOTE,
    );
}

fn map(flow: &mut Flow, record: &Record) {
    let width = flow.frame.text_width();
    let Some(map) = drawing::faces(record, width, flow.speech) else {
        return;
    };
    flow.gap(2.0);
    flow.missing.extend(&map.missing);
    flow.figure(&FigureSpec {
        alternative: map.alternative.clone(),
        x: 0.0,
        width: map.width,
        height: map.height,
        draw: &|x, y| map.moved(x, y),
    });
}
