//! What asks to stop, what answered it, and what was done all the same.

use tangmark_core::{
    hold::{self, Answered, HoldInput, Limits},
    record::{Finding, Level, Override, Record},
};

use super::{Content, words};
use crate::{
    Speech,
    layout::{Span, Style, style},
    speech::{Pair, pair},
};

/// Every stop: whoever takes the blade over reads it before anything else. One that was answered says by whom, and in which
/// record that stands.
pub(super) fn stops(content: &Content<'_>) -> Vec<(Vec<Span>, Style)> {
    let (speech, record) = (content.speech, content.record);
    let stops: Vec<&Finding> = record
        .findings
        .iter()
        .filter(|finding| finding.level == Level::Stop)
        .collect();
    if stops.is_empty() {
        return Vec::new();
    }
    // The record itself is the last: a reply answers the stop that it holds.
    let all = [content.earlier, std::slice::from_ref(record)].concat();
    stops
        .into_iter()
        .map(|finding| {
            let head = answer(&all, record, finding).unwrap_or_else(|| pair("Stop", "停止"));
            let head = format!("{}{}", speech.text(&head), words::colon(speech));
            let spans = vec![Span::bold(head), Span::plain(finding.message.clone())];
            (spans, style::CELL)
        })
        .collect()
}

/// What answered a stop of `record`, in words, as far as the records up to it tell.
fn answer(all: &[Record], record: &Record, finding: &Finding) -> Option<Pair> {
    let input = HoldInput {
        findings: &record.findings,
        overrides: &record.overrides,
        history: all,
        limits: Limits::of(record.plan.as_ref(), record.agreement.as_ref()),
    };
    Some(match hold::answer_of(finding, input)? {
        Answered::Override { name, reason, .. } => {
            let rule = hold::name(finding);
            let is_it = |entry: &Override| {
                entry.rule == rule && entry.name == name && entry.reason == reason
            };
            // Overrides go along from record to record.
            let first = all.iter().find(|one| one.overrides.iter().any(is_it))?;
            let number = first.sequence;
            pair(
                format!("Stop, overridden by {name} in record {number}, see below"),
                format!("停止（記録 {number} で {name} が例外措置、下記）"),
            )
        }
        Answered::Reply { record: number } => {
            let reply = all.iter().find(|one| one.sequence == number)?;
            let by = &reply.decision.as_ref()?.by;
            pair(
                format!("Stop, answered by the reply of {by} in record {number}"),
                format!("停止（記録 {number} の {by} の回答により解除）"),
            )
        }
    })
}

/// What was done although a check asked to stop.
pub(super) fn overrides(speech: Speech, record: &Record) -> Vec<(Vec<Span>, Style)> {
    let mut blocks = Vec::new();
    for entry in &record.overrides {
        let on = entry
            .at
            .as_str()
            .split('T')
            .next()
            .unwrap_or_default()
            .to_owned();
        let head = pair(
            format!("Override of {}", entry.rule),
            format!("{} の例外措置", entry.rule),
        );
        let by = pair(
            format!("by {} on {on}", entry.name),
            format!("{}、{on}", entry.name),
        );
        let spans = vec![
            Span::bold(speech.text(&head)),
            Span::plain(format!(
                " {}{}{}",
                speech.text(&by),
                words::colon(speech),
                entry.reason
            )),
        ];
        blocks.push((spans, style::CELL));
    }
    for entry in &record.worked_under_hold {
        let head = pair("Worked under hold", "停止中の作業");
        let text = pair(
            format!(
                "pass {} while {} stood unanswered ({})",
                entry.pass, entry.rule, entry.message
            ),
            format!(
                "{} が未回答のまま工程 {} を行った（{}）",
                entry.rule, entry.pass, entry.message
            ),
        );
        let spans = vec![
            Span::bold(format!("{}{}", speech.text(&head), words::colon(speech))),
            Span::plain(speech.text(&text)),
        ];
        blocks.push((spans, style::CELL));
    }
    blocks
}
