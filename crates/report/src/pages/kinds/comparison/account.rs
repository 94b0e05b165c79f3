//! The steel account: where the mass went, from the first state to the second.

use tangmark_core::units::Unit;
use tangmark_measure::{Against, Estimate, against};

use super::super::super::words;
use crate::{
    compare::{
        Comparison,
        account::{Account, Went},
        quantities::stated,
        state,
    },
    drawing::{self, Drawing},
    layout::{Cell, Flow, Span, Table, Width, style},
    speech::{Pair, pair},
};

pub(super) fn set(flow: &mut Flow, comparison: &Comparison<'_>) {
    words::heading(flow, &pair("Steel account", "鋼の収支"), 30.0);
    let Some(account) = &comparison.account else {
        flow.say(
            &pair(
                "The blade was not weighed twice, so nothing tells how much went.",
                "質量を二度計測していないため、減少した量は分からない。",
            ),
            style::BODY,
        );
        return;
    };
    flow.say(
        &pair(
            "What went from one weighing to the next is booked to the passes between them; where none lies there, no pass says why. Weighings of one scale share its error, and every sum counts with that. Rust that came off stands apart, though some of what went with it may be steel. What clings to the blade at a weighing (oil, water) is not in the uncertainty.",
            "質量の計測と次の計測の間の減少を、その間の工程に計上する。工程がないときは「該当する工程なし」とする。同じ秤の計測は誤差を共有し、合計はそれを考慮する。除いた錆は別に計上するが、共に減った鋼を含むことがある。計測時の付着物（油・水）は不確かさに含まない。",
        ),
        style::NOTE,
    );
    flow.y += 1.0;
    let width = flow.frame.text_width();
    if let Some(bars) = drawing::steel_account(account, width, flow.speech) {
        set_drawing(flow, &bars);
    }
    totals(flow, account);
    if let Some(curves) = drawing::steel_gone(account, width, flow.speech) {
        flow.gap(3.0);
        set_drawing(flow, &curves);
    }
    remarks(flow, account);
}

fn set_drawing(flow: &mut Flow, drawing: &Drawing) {
    words::subheading(flow, &drawing.title, drawing.height + 6.0);
    drawing.set(flow);
    flow.gap(1.6);
}

/// Sums by kind, and of all.
fn totals(flow: &mut Flow, account: &Account<'_>) {
    let speech = flow.speech;
    let column = |title: &Pair, width| words::column(speech, title, width);
    let mut table = Table::new(vec![
        column(&pair("what went", "減少したもの"), Width::Share(1.6)),
        words::numbers(speech, &pair("gone, g", "減少 g"), Width::Fixed(30.0)),
        column(&pair("told apart from nothing", "判別"), Width::Share(1.0)),
    ]);
    let mut row = |name: &Pair, gone: Estimate| {
        let number = stated(gone, account.digits(), Unit::One);
        table.rows.push(vec![
            Cell::plain(words::two_lines(speech, name)),
            Cell::figures(number.trim_start_matches('+')),
            Cell(speech.label(&match against(gone, 0.0) {
                Against::Above => pair("yes", "できる"),
                Against::Undecided => pair("no", "できない"),
                Against::Below => pair("heavier than before", "増加"),
            })),
        ]);
    };
    for went in Went::ALL {
        if let Some(gone) = account.of_kind(went) {
            row(&went.said(), gone);
        }
    }
    row(&pair("all that went", "減少の合計"), account.all());
    words::headed_table(flow, &pair("Sums", "合計"), &table);
}

/// Etches, and what the account does not hold.
fn remarks(flow: &mut Flow, account: &Account<'_>) {
    let speech = flow.speech;
    let mut items: Vec<Vec<Span>> = Vec::new();
    for etch in &account.etches {
        let mut spans = words::bold(speech.label(&pair("etch", "腐食")));
        let on = etch.pass.map(|pass| format!(" {}", pass.on));
        spans.push(Span::plain(format!(
            "{}{}",
            on.unwrap_or_default(),
            words::colon(speech)
        )));
        spans.extend(speech.label(&etch.said()));
        if let Some(gone) = etch.gone {
            spans.push(Span::plain(words::semicolon(speech)));
            let number = stated(gone, account.digits(), Unit::Gram);
            spans.push(Span::figures(number.trim_start_matches('+')));
        }
        items.push(spans);
    }
    if !account.outside.is_empty() {
        let keys: Vec<String> = account
            .outside
            .iter()
            .map(|pass| pass.id.to_string())
            .collect();
        let mut spans = speech.label(&pair(
            "passes before the first weighing or after the last, whose loss is not in the account",
            "最初の計測の前または最後の計測の後の工程（収支に含まず）",
        ));
        spans.push(Span::plain(format!(
            "{}{}",
            words::colon(speech),
            keys.join(words::comma(speech))
        )));
        items.push(spans);
    }
    for left_out in &account.left_out {
        let name = state::in_text(left_out);
        items.push(speech.label(&pair(
            format!(
                "{} weighed something else than the rest: not compared",
                name.en
            ),
            format!("{}は計測の対象が異なるため比較しない", name.ja),
        )));
    }
    if !items.is_empty() {
        flow.gap(1.6);
        flow.list(&items, style::CELL);
    }
}
