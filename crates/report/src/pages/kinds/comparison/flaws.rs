//! Flaw by flaw: what became of each, and by which rule.

use tangmark_core::record::Flaw;

use super::super::super::{flaws, words};
use crate::{
    Speech,
    compare::{
        Comparison,
        flaws::{Fate, FlawChange},
    },
    layout::{Cell, Flow, Span, Table, Width, style},
    speech::{Pair, pair},
};

pub(super) fn set(flow: &mut Flow, comparison: &Comparison<'_>) {
    let speech = flow.speech;
    words::heading(flow, &pair("Flaw by flaw", "疵ごとの比較"), 20.0);
    if comparison.flaws.is_empty() {
        flow.say(
            &pair(
                "No flaw is in either record. That none was seen does not say that there is none.",
                "どちらの記録にも疵はない。認められなかったことは、疵がないことを意味しない。",
            ),
            style::BODY,
        );
        return;
    }
    flow.say(
        &pair(
            "A flaw keeps its key from record to record. What became of it is this program's reading, by the rule beside it: of what was measured both times, of what was looked at and how, of what covered the place, and of what work is known to make. It is no finding of the examiner. One that is gone was no longer found by that look.",
            "疵の管理番号は記録を通じて変わらない。経過は、二度の計測値、調査した箇所と方法、覆っていたもの、作業で生じる種類に基づき、右に記す規則により本プログラムが読み取ったものであり、調査者の所見ではない。「消失」は、その調査でもはや認められなかったことを示す。",
        ),
        style::NOTE,
    );
    flow.y += 1.6;
    let column = |title: &Pair, width| words::column(speech, title, width);
    let mut table = Table::new(vec![
        column(&pair("flaw", "疵"), Width::Share(1.0)),
        column(&pair("before", "前"), Width::Share(0.95)),
        column(&pair("after", "後"), Width::Share(0.95)),
        column(
            &pair("what became of it, and why", "経過と根拠"),
            Width::Share(1.5),
        ),
    ]);
    for change in &comparison.flaws {
        let Some(flaw) = change.flaw() else {
            continue;
        };
        let mut name = words::term(speech, flaw.kind);
        name.push(Span::quiet(format!(
            "\n{} · {} · {}",
            flaw.id,
            words::short(speech, flaw.zone),
            words::quantity(&flaw.at)
        )));
        table.rows.push(vec![
            Cell(name),
            state(speech, change.before),
            state(speech, change.after),
            Cell(fate(speech, change)),
        ]);
    }
    words::table(flow, table);
}

fn state(speech: Speech, flaw: Option<&Flaw>) -> Cell {
    flaw.map_or_else(
        || Cell::plain(words::NOTHING),
        |flaw| {
            let mut spans = vec![Span::figures(flaws::size(speech, flaw))];
            spans.push(Span::quiet(format!(
                "\n{}",
                words::two_lines(speech, &words::gloss(flaw.standing))
            )));
            Cell(spans)
        },
    )
}

fn fate(speech: Speech, change: &FlawChange<'_>) -> Vec<Span> {
    let mut spans = words::bold(speech.label(&change.fate.said()));
    for size in &change.sizes {
        spans.push(Span::figures(format!(
            "\n{} {}",
            speech.text(&size.name),
            size.stated
        )));
    }
    let why = words::two_lines(speech, &change.why);
    spans.push(match change.fate {
        // What work may have made is not for small print.
        Fate::NewlyMade | Fate::Larger => Span::plain(format!("\n{why}")),
        _ => Span::quiet(format!("\n{why}")),
    });
    spans
}
