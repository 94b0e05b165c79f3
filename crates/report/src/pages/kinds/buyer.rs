//! The record for whoever takes the blade over: what it is said to be, how it is, what was done to it, who held it.

use tangmark_core::record::{Attribution, Record};

use super::super::{
    Content, cautions, closing, examination, identity, photos, title, withheld, words,
};
use super::{care, eyebrow, parts};
use crate::{
    drawing::passes_of,
    layout::{Flow, Table, style},
    speech::{Pair, pair},
};

pub(super) fn set(flow: &mut Flow, content: &Content<'_>) {
    let record = content.record;
    title::head(flow, content, &eyebrow(content));
    title::decision(flow, content);
    title::chief_measures(flow, record);
    parts::map(flow, record);
    said_to_be(flow, record);
    condition(flow, record);
    done(flow, content);
    parts::held(flow, record);
    photos::set(flow, content);
    withheld::set(flow, record);
    flow.may_turn();
    in_brief(flow, record);
    closing::verify(flow, content);
}

/// Opinions with their authors: none of them is a fact.
fn said_to_be(flow: &mut Flow, record: &Record) {
    let speech = flow.speech;
    let blade = &record.blade;
    words::heading(
        flow,
        &pair("What it is said to be, and by whom", "見解とその見解者"),
        16.0,
    );
    flow.say(
        &pair(
            "These are opinions. Each names its author, what it rests on and how sure its author is; this report adds none of its own.",
            "以下は見解である。それぞれに見解者、根拠、確度を示す。本報告書自体の見解は加えない。",
        ),
        style::NOTE,
    );
    flow.y += 0.8;
    let mut table = Table::pairs(46.0);
    let lists: [(Pair, &[Attribution]); 3] = [
        (pair("date or period", "年代"), &blade.period),
        (pair("maker", "作者"), &blade.maker),
        (pair("place of origin", "制作地"), &blade.origin),
    ];
    for (name, list) in lists {
        words::row(
            &mut table,
            speech,
            &name,
            identity::opinions(speech, list, None),
        );
    }
    flow.table(&table);
    if let Some(tang) = &record.tang {
        super::super::features::inscriptions(flow, &tang.inscriptions);
    }
    identity::registrations(flow, &blade.registrations);
}

fn condition(flow: &mut Flow, record: &Record) {
    words::heading(flow, &pair("Condition", "状態"), 18.0);
    let speech = flow.speech;
    if let Some(examination) = &record.examination {
        let mut table = Table::pairs(46.0);
        words::row(
            &mut table,
            speech,
            &pair("examined on", "調査日"),
            vec![crate::layout::Span::figures(examination.on.to_string())],
        );
        words::row(
            &mut table,
            speech,
            &pair("surface", "表面"),
            speech.label(&words::gloss(examination.surface)),
        );
        words::row(
            &mut table,
            speech,
            &pair("completeness", "完存の度合い"),
            speech.label(&words::gloss(examination.completeness)),
        );
        flow.table(&table);
        flow.gap(2.4);
    }
    parts::flaws_in_short(flow, &record.flaws);
    if let Some(examination) = &record.examination {
        examination::not_examined(flow, examination);
    }
}

/// What was done, and how much steel went.
fn done(flow: &mut Flow, content: &Content<'_>) {
    let passes = passes_of(content.record, content.earlier);
    words::heading(flow, &pair("What was done to it", "行った作業"), 16.0);
    if passes.is_empty() {
        flow.say(
            &pair(
                "No pass is in this record: nothing is said of work on the blade.",
                "この記録に工程はない。刀身への作業については何も述べない。",
            ),
            style::BODY,
        );
        return;
    }
    parts::passes_in_short(flow, content, &passes);
    flow.gap(1.4);
    let gone = parts::steel_gone(content.record, content.earlier, &passes).map_or_else(
        || {
            pair(
                "How much steel went was not weighed.",
                "減った鋼の量は計量していない。",
            )
        },
        |(gone, weighed)| {
            let of = passes.len();
            pair(
                format!("{weighed} of {of} passes were weighed before and after; together they took {gone}. Rust and dirt that came off are in that number."),
                format!("{of} 工程のうち {weighed} 工程で前後の質量を計った。減少の合計は {gone}。除かれた錆や汚れを含む。"),
            )
        },
    );
    flow.say(&gone, style::BODY);
}

fn in_brief(flow: &mut Flow, record: &Record) {
    words::heading(flow, &pair("Care in brief", "手入れの要点"), 16.0);
    let mut items = care::brief(record);
    items.extend([
        cautions::edge(),
        cautions::protected(),
        cautions::carriage(),
    ]);
    flow.say_list(&items, style::CELL);
    flow.gap(0.6);
    flow.say(&care::sources(), style::NOTE);
    flow.gap(0.6);
    flow.say(&care::who_decides(), style::CELL);
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use serde_json::Value;

    use crate::{Kind, RenderInput, pages, render::scene_of, sample};

    #[test]
    fn the_later_telling_of_a_pass_is_shown() {
        let mut value: Value = serde_json::from_slice(&sample::sword().bytes).unwrap();
        value["sequence"] = 1.into();
        value["passes"][0]["on"] = "2026-02-28".into();
        let earlier = [serde_json::from_value(value).unwrap()];
        let sample = sample::sword();
        let input = RenderInput {
            kind: Kind::Buyer,
            earlier: &earlier,
            ..sample.input()
        };
        let said = pages::tests::words(&scene_of(&sample.record, &input).unwrap().0);
        assert!(said.contains("2026-03-03"), "{said}");
        assert!(!said.contains("2026-02-28"), "{said}");
    }
}
