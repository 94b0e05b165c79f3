//! A receipt for the custody, to be filled in and signed by hand: a page to be taken out.

use super::super::{
    super::{Content, words},
    form,
};
use crate::{
    layout::{Flow, Span, style},
    speech::pair,
};

pub(super) fn set(flow: &mut Flow, content: &Content<'_>) {
    let record = content.record;
    let speech = flow.speech;
    flow.next_page();
    words::heading(flow, &pair("Receipt for the custody", "預り証"), 60.0);
    flow.say(
        &pair(
            "To be filled in and signed by hand by both, one copy for each. It says who holds the blade and in what condition it was handed over. It changes nothing about who owns it.",
            "双方が手書きで記入し署名する。各自一部を保管する。本証は、刀身を誰が預かり、どの状態で引き渡したかを示す。所有権には関わらない。",
        ),
        style::BODY,
    );
    flow.gap(2.0);
    let name = Span::figures(words::digest(&content.name));
    for (label, value) in [
        (
            pair("blade", "刀身"),
            vec![
                Span::bold(record.blade.title.clone()),
                Span::plain(format!(" · {}", record.blade.id)),
            ],
        ),
        (pair("record", "記録"), vec![name]),
    ] {
        let mut spans = vec![Span::quiet(format!(
            "{}{}",
            speech.text(&label),
            words::colon(speech)
        ))];
        spans.extend(value);
        flow.paragraph(&spans, style::CELL);
    }
    handed_over(flow, content);
    flow.gap(3.0);
    words::subheading(
        flow,
        &pair(
            "Condition on handing over, where it differs from the record",
            "引渡し時の状態（記録と異なる点）",
        ),
        form::height_of_lines(3),
    );
    form::blank_lines(flow, 3);
    form::signatures(flow);
    ways(flow, content);
}

/// What goes along, each with a box to tick.
fn handed_over(flow: &mut Flow, content: &Content<'_>) {
    let record = content.record;
    let speech = flow.speech;
    flow.gap(2.0);
    words::subheading(flow, &pair("Handed over", "引き渡した物"), 12.0);
    let packed: &[String] = record
        .referral
        .as_ref()
        .map_or(&[], |referral| &referral.packed);
    let mut items: Vec<Vec<Span>> = Vec::new();
    if packed.is_empty() {
        items.push(speech.label(&pair("the blade", "刀身")));
        items.extend(record.fittings.iter().map(|fitting| {
            let mut spans = words::term(speech, fitting.part);
            spans.push(Span::quiet(format!(" {}", fitting.description)));
            spans
        }));
    } else {
        items.extend(packed.iter().map(|item| vec![Span::plain(item.clone())]));
    }
    form::ticks(flow, &items);
}

/// The ways to sign: by hand here, or with a key of one's own.
fn ways(flow: &mut Flow, content: &Content<'_>) {
    flow.gap(3.0);
    let name = words::digest(&content.name);
    let items = [
        (
            Some(pair("On paper", "紙で")),
            pair(
                "Sign above and send one copy, or a picture of it, back to the workshop.",
                "上に署名し、一部またはその画像を工房に返す。",
            ),
        ),
        (
            Some(pair("With a key of your own", "自身の鍵で")),
            pair(
                format!(
                    "Seal a record with the purpose receipt that refers to the record {name}. Or sign the file files.txt of the packet, which names every file in it by its SHA-256 digest; packing-and-receipt.txt beside it has that digest and the command."
                ),
                format!(
                    "目的を「受領」とし、記録 {name} を指す記録を封印する。または、一式の全ファイルを SHA-256 ダイジェストで挙げた files.txt に署名する。そのダイジェストとコマンドは packing-and-receipt.txt に記す。"
                ),
            ),
        ),
    ];
    flow.say_list(&items, style::NOTE);
}
