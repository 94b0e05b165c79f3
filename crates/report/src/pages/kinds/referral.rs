//! The packet for a senior specialist: what was seen, what was not done, why it is referred, and a receipt for the custody.

mod receipt;

use tangmark_core::record::{Decision, Level, Record, Verdict};

use super::super::{
    Content, cautions, closing, dimensions, examination, features, findings, flaws, identity,
    photos, title, words,
};
use super::{eyebrow, parts};
use crate::{
    layout::{Flow, Span, style},
    speech::{Pair, pair},
};

pub(super) fn set(flow: &mut Flow, content: &Content<'_>) {
    let record = content.record;
    title::head(flow, content, &eyebrow(content));
    title::decision(flow, content);
    asked(flow, record);
    title::chief_measures(flow, record);
    parts::map(flow, record);
    important(flow, record);
    flaws::titled(
        flow,
        record,
        &pair("What was seen, and how", "認めたことと調査方法"),
    );
    findings::asking(flow, record);
    not_done(flow, record);
    examination::set(flow, record);
    dimensions::set(flow, record);
    features::set(flow, record);
    parts::held(flow, record);
    photos::set(flow, content);
    flow.may_turn();
    packing(flow, record);
    closing::verify(flow, content);
    receipt::set(flow, content);
}

/// To whom, and what is asked.
fn asked(flow: &mut Flow, record: &Record) {
    let speech = flow.speech;
    words::heading(
        flow,
        &pair("Questions to the specialist", "専門家への質問"),
        14.0,
    );
    let Some(referral) = &record.referral else {
        let refers = |decision: &Decision| decision.verdict == Verdict::Refer;
        if !record.decision.as_ref().is_some_and(refers) {
            flow.say(
                &pair(
                    "This record refers the blade to nobody, and no question is written in it.",
                    "この記録は照会をしておらず、質問の記載もない。",
                ),
                style::BODY,
            );
            return;
        }
        flow.say(
            &pair(
                "No question is written in this record. What the checks ask for, and the decision above, say why the blade is referred.",
                "この記録に質問の記載はない。照会の理由は、検査が求めることと上記の判断による。",
            ),
            style::BODY,
        );
        return;
    };
    let mut to = vec![Span::quiet(format!(
        "{}{}",
        speech.text(&pair("to", "照会先")),
        words::colon(speech)
    ))];
    to.extend(words::person(speech, &referral.to));
    flow.paragraph(&to, style::BODY);
    flow.y += 0.8;
    if referral.questions.is_empty() {
        flow.say(
            &pair("No question is written.", "質問の記載はない。"),
            style::BODY,
        );
        return;
    }
    for (index, question) in referral.questions.iter().enumerate() {
        let number = Span::bold(format!("{}. ", index + 1));
        flow.paragraph(&[number, Span::plain(question.clone())], style::BODY);
        flow.y += 0.8;
    }
}

/// Beginning of the rules that ask whether a blade is important.
const IMPORTANCE: &str = "importance.";

/// Why it may be important: what the checks say, and the signs that were seen.
fn important(flow: &mut Flow, record: &Record) {
    let speech = flow.speech;
    words::heading(
        flow,
        &pair("Why it may be important", "重要と考えられる理由"),
        14.0,
    );
    let found: Vec<Vec<Span>> = record
        .findings
        .iter()
        .filter(|finding| finding.rule.starts_with(IMPORTANCE) && finding.level != Level::Info)
        .map(|finding| {
            let level = speech.text(&words::gloss(finding.level));
            let level = format!("{level}{}", words::colon(speech));
            vec![Span::bold(level), Span::plain(finding.message.clone())]
        })
        .collect();
    if found.is_empty() && record.blade.signs.is_empty() {
        flow.say(
            &pair(
                "No check asked for it, and no sign of importance is recorded. The decision above says why the blade is referred.",
                "検査はこれを求めておらず、重要性の徴候の記載もない。照会の理由は上記の判断による。",
            ),
            style::BODY,
        );
        return;
    }
    flow.list(&found, style::CELL);
    identity::signs(flow, &record.blade);
}

/// What was not done and not looked at.
fn not_done(flow: &mut Flow, record: &Record) {
    words::heading(flow, &pair("What was not done", "行わなかったこと"), 12.0);
    let list: &[String] = record
        .referral
        .as_ref()
        .map_or(&[], |referral| &referral.not_done);
    let items: Vec<Vec<Span>> = list
        .iter()
        .map(|text| vec![Span::plain(text.clone())])
        .collect();
    if items.is_empty() {
        flow.say(
            &pair(
                "The record names nothing that was left undone. What it does not name was not done.",
                "行わなかったことの記載はない。記載のないことは行っていない。",
            ),
            style::BODY,
        );
        return;
    }
    flow.list(&items, style::CELL);
}

/// How it is packed, and what to mind on the way.
fn packing(flow: &mut Flow, record: &Record) {
    words::heading(flow, &pair("Packing and the way", "梱包と運搬"), 20.0);
    let caution = |head: Pair, text: Pair| (Some(head), text);
    let items = [
        cautions::edge(),
        caution(
            pair("Packing", "梱包"),
            pair(
                "Dry, with a film of oil, in a scabbard that fits, tied so that it cannot slip out; in a stiff case longer than the blade, padded, with a note on the outside that a sharp blade is inside. Nothing wet or acid beside it.",
                "乾かし、薄く油を引き、合う鞘に納め、抜け出さないよう縛る。刀身より長い硬い容器に緩衝材と共に入れ、鋭い刃物が入っている旨を外側に記す。濡れた物、酸性の物を一緒に入れない。",
            ),
        ),
        caution(
            pair("Opening", "開梱"),
            pair(
                "Whoever opens it holds the hilt or tang, draws slowly with the edge up, and compares the blade with the photographs before signing.",
                "開ける者は柄または茎を持ち、刃を上にしてゆっくり抜き、署名の前に写真と照合する。",
            ),
        ),
        cautions::carriage(),
    ];
    flow.say_list(&items, style::CELL);
    flow.gap(0.6);
    flow.say(
        &pair(
            "Common practice, no source. Local code, the authority and the carrier's own rules decide.",
            "慣行による（典拠なし）。各地の法令、所管の官庁、運送業者の定めに従うこと。",
        ),
        style::NOTE,
    );
    if let Some(referral) = &record.referral {
        parts::written(flow, &pair("Packing list", "梱包した物"), &referral.packed);
        let title = pair("Conditions of return", "返却の条件");
        let conditions: Vec<String> = referral.return_conditions.iter().cloned().collect();
        parts::written(flow, &title, &conditions);
    }
}
