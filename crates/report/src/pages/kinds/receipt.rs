//! A receipt for a sale or a return: what changes hands, in which condition, between whom; signed by hand by both.

use std::collections::BTreeSet;

use tangmark_core::record::{CustodyEvent, Purpose, Record};

use super::super::{Content, cautions, closing, panel, stops, title, words};
use super::{
    eyebrow,
    form::{self, Field},
    parts,
};
use crate::{
    layout::{Flow, Span, Table, style},
    speech::{Pair, pair},
};

pub(super) fn set(flow: &mut Flow, content: &Content<'_>) {
    let record = content.record;
    title::head(flow, content, &eyebrow(content));
    asks_to_stop(flow, content);
    let event = (record.purpose == Purpose::Transfer)
        .then(|| form::last_hands(record))
        .flatten();
    hands(flow, record, event);
    piece(flow, record, event);
    handed_over(flow, record);
    condition(flow, content);
    flow.may_turn();
    signed(flow);
    closing::short(flow, content);
}

/// What asks to stop, and what was done all the same: whoever takes the blade over reads it first.
fn asks_to_stop(flow: &mut Flow, content: &Content<'_>) {
    let mut blocks = stops::stops(content);
    blocks.extend(stops::overrides(flow.speech, content.record));
    if !blocks.is_empty() {
        flow.gap(4.0);
        panel::set(flow, &blocks);
    }
}

/// Which change of hands, and between whom.
fn hands(flow: &mut Flow, record: &Record, event: Option<&CustodyEvent>) {
    let speech = flow.speech;
    words::heading(flow, &pair("Between", "当事者"), 40.0);
    match event {
        Some(event) => {
            let mut spans = words::bold(speech.label(&words::gloss(event.kind)));
            spans.push(Span::plain(format!(
                "{}{}",
                words::comma(speech),
                words::when(speech, &event.when)
            )));
            if let Some(place) = &event.place {
                spans.push(Span::plain(format!("{}{place}", words::comma(speech))));
            }
            flow.paragraph(&spans, style::BODY);
        }
        None if record.purpose == Purpose::Transfer => flow.say(
            &pair(
                "The record is one of a change of hands and names no event: write in which one it is.",
                "引渡しの記録であるが、出来事の記載はない。何による引渡しかを書き入れる。",
            ),
            style::BODY,
        ),
        None => flow.say(
            &pair(
                "The record is not one of a change of hands: this is a form, to be filled in by hand.",
                "引渡しの記録ではない。本書は手書きで記入する様式である。",
            ),
            style::BODY,
        ),
    }
    flow.y += 1.0;
    let (given, received) = (pair("Given by", "渡す者"), pair("Received by", "受ける者"));
    let from = Field::of_person(event.and_then(|event| event.from.as_ref()));
    let to = Field::of_person(event.and_then(|event| event.to.as_ref()));
    form::columns(flow, [(&given, &from), (&received, &to)]);
}

/// The blade, told apart from others, and the price where it is shown.
fn piece(flow: &mut Flow, record: &Record, event: Option<&CustodyEvent>) {
    let speech = flow.speech;
    words::heading(flow, &pair("The piece", "品"), 24.0);
    let mut table = Table::pairs(46.0);
    let mut say = |name: Pair, value: Vec<Span>| words::row(&mut table, speech, &name, value);
    say(
        pair("blade", "刀身"),
        vec![
            Span::bold(record.blade.title.clone()),
            Span::plain(format!(" · {}", record.blade.id)),
        ],
    );
    say(
        pair("measures", "寸法"),
        parts::chief_in_a_line(speech, record),
    );
    let price = event.and_then(|event| event.price.as_ref());
    if let Some(price) = price {
        say(pair("price", "価格"), vec![Span::bold(words::money(price))]);
    }
    words::table(flow, table);
    if price.is_none() {
        flow.gap(0.6);
        let name = pair(
            "price, where both want it on this paper",
            "価格（双方が望む場合のみ）",
        );
        form::fields(flow, &[Field::empty(name)]);
    }
}

/// What goes along, each with a box to tick.
fn handed_over(flow: &mut Flow, record: &Record) {
    let speech = flow.speech;
    words::heading(flow, &pair("Handed over", "引き渡した物"), 14.0);
    let mut items = vec![words::bold(speech.label(&pair("the blade", "刀身")))];
    items.extend(record.fittings.iter().map(|fitting| {
        let mut spans = words::term(speech, fitting.part);
        spans.push(Span::quiet(format!(" {}", fitting.description)));
        spans
    }));
    items.extend(
        papers(flow, record)
            .into_iter()
            .map(|paper| vec![Span::plain(paper)]),
    );
    items.push(speech.label(&pair(
        "the sealed record as a file, alone or in a hand-over package",
        "封印した記録のファイル（単独または引渡し一式として）",
    )));
    form::ticks(flow, &items);
    form::blank_ticks(flow, 2);
}

/// Registrations and papers of the record, each once.
fn papers(flow: &Flow, record: &Record) -> Vec<String> {
    let speech = flow.speech;
    let registrations = record
        .blade
        .registrations
        .iter()
        .map(|entry| parts::registration_in_a_line(speech, entry));
    let documents = record
        .custody
        .iter()
        .flat_map(|event| &event.documents)
        .map(|paper| words::document(speech, paper));
    let mut seen = BTreeSet::new();
    registrations
        .chain(documents)
        .filter(|paper| seen.insert(paper.clone()))
        .collect()
}

/// The condition by reference to the record, and room for what differs.
fn condition(flow: &mut Flow, content: &Content<'_>) {
    let record = content.record;
    // What is written on the lines is told from the words above them: heading, words and lines stay on one page.
    let words = 6.0 * style::BODY.leading + 1.0;
    let keep = words + form::height_of_lines(2);
    words::heading(flow, &pair("Condition", "状態"), keep);
    let (number, flaws) = (record.sequence, record.flaws.len());
    let day = record
        .issued_at
        .as_str()
        .split('T')
        .next()
        .unwrap_or_default();
    let counted = match flaws {
        0 => pair(
            "no flaw is recorded in it, which does not say that there is none",
            "疵の記載はないが、疵がないことを意味しない",
        ),
        1 => pair("1 flaw is recorded in it", "疵 1 箇所の記載がある"),
        _ => pair(
            format!("{flaws} flaws are recorded in it"),
            format!("疵 {flaws} 箇所の記載がある"),
        ),
    };
    flow.say(
        &pair(
            format!(
                "The condition is that of record {number} of {day}, named above by its digest: {}. Both hold that record or have read it. Compare the blade with it and its photographs before you sign, and write below what differs.",
                counted.en
            ),
            format!(
                "状態は、上にダイジェストで示した {day} の記録 {number} による。{}。双方がその記録を所持するか読んでいる。署名の前に刀身を記録と写真に照合し、異なる点を下に記す。",
                counted.ja
            ),
        ),
        style::BODY,
    );
    flow.gap(1.0);
    form::blank_lines(flow, 2);
}

fn signed(flow: &mut Flow) {
    words::heading(flow, &pair("Signed by hand by both", "双方の署名"), 58.0);
    flow.say(
        &pair(
            "One copy for each. This receipt says what was handed over and in which condition. It says nothing of age, maker or worth, and clears nothing that the law asks for.",
            "各自一部を保管する。本証は、渡した物とその状態を示す。年代、作者、価値については何も述べず、法令の求めるものを免じない。",
        ),
        style::CELL,
    );
    form::signatures(flow);
    flow.gap(2.4);
    flow.say_list(&[cautions::edge(), cautions::carriage()], style::NOTE);
}
