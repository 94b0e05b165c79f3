//! How the blade was examined, and what was not examined.

use tangmark_core::record::{Examination, Part, Record};

use super::{words, work};
use crate::{
    Speech,
    layout::{Cell, Flow, Span, Table, Width, style},
    speech::{Pair, pair},
};

pub(super) fn set(flow: &mut Flow, record: &Record) {
    words::heading(flow, &pair("Examination", "調査"), 24.0);
    let Some(examination) = &record.examination else {
        flow.say(
            &pair(
                "No examination is described in this record.",
                "この記録に調査の記述はない。",
            ),
            style::BODY,
        );
        return;
    };
    let table = circumstances(flow.speech, examination);
    words::table(flow, table);
    not_examined(flow, examination);
    instruments(flow, examination);
}

fn circumstances(speech: Speech, examination: &Examination) -> Table {
    let mut table = Table::pairs(46.0);
    let mut say = |name: Pair, value: Vec<Span>| words::row(&mut table, speech, &name, value);
    let text = |text: &str| vec![Span::plain(text)];
    say(
        pair("examined by", "調査者"),
        words::person(speech, &examination.by),
    );
    say(
        pair("on", "調査日"),
        vec![Span::figures(examination.on.to_string())],
    );
    if let Some(place) = &examination.place {
        say(pair("where", "場所"), text(place));
    }
    say(
        pair("reason", "理由"),
        speech.label(&words::gloss(examination.reason)),
    );
    say(pair("light", "光源"), text(&examination.light));
    say(
        pair("ways of looking", "調査方法"),
        words::terms(speech, &examination.methods),
    );
    if let Some(temperature) = &examination.temperature {
        say(
            pair("temperature", "温度"),
            text(&words::quantity(temperature)),
        );
    }
    say(
        pair("surface", "表面"),
        speech.label(&words::gloss(examination.surface)),
    );
    say(
        pair("completeness", "完存の度合い"),
        speech.label(&words::gloss(examination.completeness)),
    );
    say(
        pair("examined", "調査した箇所"),
        words::terms(speech, &examination.examined),
    );
    if let Some(etch) = &examination.etch {
        say(pair("etch", "腐食"), text(&work::etch(speech, etch)));
    }
    if let Some(note) = &examination.note {
        say(pair("remarks", "備考"), text(note));
    }
    table
}

pub(super) fn not_examined(flow: &mut Flow, examination: &Examination) {
    let speech = flow.speech;
    words::subheading(
        flow,
        &pair("What was not examined", "調査しなかった箇所"),
        10.0,
    );
    let colon = words::colon(speech);
    let mut items: Vec<Vec<Span>> = examination
        .not_examined
        .iter()
        .map(|entry| {
            let mut item = words::term(speech, entry.part);
            item.push(Span::plain(format!("{colon}{}", entry.why)));
            item
        })
        .collect();
    let unnamed: Vec<Part> = <Part as tangmark_core::record::Term>::ALL
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
        let mut item = words::terms(speech, &unnamed);
        item.push(Span::plain(colon));
        item.extend(speech.label(&pair(
            "not named as examined",
            "調査した箇所に挙げられていない",
        )));
        items.push(item);
    }
    if items.is_empty() {
        flow.say(
            &pair(
                "Every part on the list was examined with the means named above.",
                "一覧のすべての箇所を、上記の方法で調査した。",
            ),
            style::CELL,
        );
    }
    flow.list(&items, style::CELL);
}

fn instruments(flow: &mut Flow, examination: &Examination) {
    if examination.instruments.is_empty() {
        return;
    }
    let speech = flow.speech;
    words::subheading(flow, &pair("Instruments", "計器"), 14.0);
    let column = |title: &Pair, share| words::column(speech, title, Width::Share(share));
    let mut table = Table::new(vec![
        column(&pair("instrument", "計器"), 1.4),
        column(&pair("key", "管理番号"), 0.8),
        column(&pair("resolution", "分解能"), 0.7),
        column(&pair("limit of error", "最大許容誤差"), 0.7),
        column(&pair("last checked", "最終点検日"), 0.7),
    ]);
    for instrument in &examination.instruments {
        table.rows.push(vec![
            Cell::plain(instrument.name.clone()),
            Cell::plain(instrument.id.to_string()),
            Cell::plain(instrument.resolution.text.clone()),
            instrument.limit_of_error.as_ref().map_or_else(
                || Cell(speech.label(&words::not_recorded())),
                |limit| Cell::plain(format!("±\u{a0}{}", limit.text)),
            ),
            Cell::plain(words::date(speech, instrument.calibrated_on.as_ref())),
        ]);
    }
    words::table(flow, table);
}
