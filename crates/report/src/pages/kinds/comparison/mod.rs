//! Before and after: what changed between two records of a blade, and whether it is more than its uncertainty.

mod account;
mod flaws;
mod pictures;
mod quantities;

use tangmark_core::record::{Part, Purpose, Record};

use super::super::{Content, closing, panel, title, words, work};
use super::{eyebrow, parts};
use crate::{
    compare::{Comparison, quantities::not_measured_again},
    layout::{Flow, Span, Style, style},
    speech::pair,
};

/// A record with nothing before it cannot be compared.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct NothingEarlier {
    /// Number of the record in its chain.
    pub(crate) sequence: u32,
}

/// The record that one is compared with: the one with the number that is asked for; else the newest before it that says the
/// state before work; else the newest that was examined or measured.
pub(crate) fn base(earlier: &[Record], against: Option<u32>) -> Option<&Record> {
    if let Some(number) = against {
        return earlier.iter().find(|record| record.sequence == number);
    }
    let before_work = |record: &&Record| {
        matches!(record.purpose, Purpose::BeforeWork | Purpose::Intake)
            && (record.dimensions.is_some() || record.examination.is_some())
    };
    let described = |record: &&Record| {
        record.dimensions.is_some() || record.examination.is_some() || !record.flaws.is_empty()
    };
    earlier
        .iter()
        .rev()
        .find(before_work)
        .or_else(|| earlier.iter().rev().find(described))
}

pub(super) fn set(flow: &mut Flow, content: &Content<'_>) -> Result<(), NothingEarlier> {
    let record = content.record;
    let before = base(content.earlier, content.against).ok_or(NothingEarlier {
        sequence: record.sequence,
    })?;
    let between = since(content.earlier, before);
    let comparison = Comparison::of(before, record, between);
    title::head(flow, content, &eyebrow(content));
    what_is_compared(flow, &comparison);
    pictures::set(flow, content, &comparison.photos);
    quantities::set(flow, &comparison);
    parts::loss_drawings(flow, before, record);
    flaws::set(flow, &comparison);
    account::set(flow, &comparison);
    not_repeated(flow, &comparison);
    flow.may_turn();
    passes(flow, content, &comparison);
    closing::verify(flow, content);
    Ok(())
}

/// The panel that says which two states stand against each other.
fn what_is_compared(flow: &mut Flow, comparison: &Comparison<'_>) {
    let (before, after) = (comparison.before, comparison.after);
    flow.gap(5.0);
    let speech = flow.speech;
    let mut blocks: Vec<(Vec<Span>, Style)> = Vec::new();
    for (name, record) in [(pair("Before", "前"), before), (pair("After", "後"), after)] {
        let purpose = words::gloss(record.purpose);
        let on = record
            .examination
            .as_ref()
            .map_or_else(words::not_recorded, |examination| {
                let on = examination.on.to_string();
                pair(on.clone(), on)
            });
        let text = pair(
            format!(
                "record {}, {}; examined on: {}",
                record.sequence, purpose.en, on.en
            ),
            format!(
                "記録 {}、{}。調査日：{}",
                record.sequence, purpose.ja, on.ja
            ),
        );
        let head = format!("{}{}", speech.text(&name), words::colon(speech));
        let mut spans = vec![Span::bold(head)];
        spans.extend(speech.label(&text));
        blocks.push((spans, style::BODY));
    }
    for said in comparison.sentences() {
        blocks.extend(
            words::sentences(speech, &said)
                .into_iter()
                .map(|spans| (spans, style::BODY)),
        );
    }
    panel::set(flow, &blocks);
}

/// Says which parts were looked at the first time and not the second.
fn not_repeated(flow: &mut Flow, comparison: &Comparison<'_>) {
    let (before, after) = (comparison.before, comparison.after);
    let speech = flow.speech;
    let examined = |record: &Record| -> Vec<Part> {
        record
            .examination
            .iter()
            .flat_map(|examination| examination.examined.iter().copied())
            .collect()
    };
    let second = examined(after);
    let parts: Vec<Part> = examined(before)
        .into_iter()
        .filter(|part| !second.contains(part))
        .collect();
    let measures = not_measured_again(comparison);
    words::heading(
        flow,
        &pair("Not done the second time", "二度目に行わなかったこと"),
        12.0,
    );
    if parts.is_empty() && measures.is_empty() {
        flow.say(
            &pair(
                "Every part that was examined and every quantity that was measured the first time was so again.",
                "一度目に調査した箇所と計測した項目は、すべて二度目にも調査し計測した。",
            ),
            style::BODY,
        );
        return;
    }
    let mut items = Vec::new();
    if !parts.is_empty() {
        let mut item = speech.label(&pair("not examined again", "再調査せず"));
        item.push(Span::plain(words::colon(speech)));
        item.extend(words::terms(speech, &parts));
        items.push(item);
    }
    if !measures.is_empty() {
        let mut item = speech.label(&pair("not measured again", "再計測せず"));
        let names: Vec<String> = measures.iter().map(|name| speech.text(name)).collect();
        item.push(Span::plain(format!(
            "{}{}",
            words::colon(speech),
            names.join(words::semicolon(speech))
        )));
        items.push(item);
    }
    flow.list(&items, style::CELL);
}

/// Records after the one that is compared with.
fn since<'a>(earlier: &'a [Record], before: &Record) -> &'a [Record] {
    let at = earlier.iter().position(|one| std::ptr::eq(one, before));
    at.and_then(|at| earlier.get(at + 1..)).unwrap_or_default()
}

/// The passes that the first state does not tell.
fn passes(flow: &mut Flow, content: &Content<'_>, comparison: &Comparison<'_>) {
    let worked = comparison.worked();
    let between = Content {
        record: &worked.last,
        earlier: &worked.earlier,
        ..*content
    };
    words::heading(
        flow,
        &pair("What was done in between", "その間に行った作業"),
        14.0,
    );
    work::passes(flow, between.record, between.earlier);
    parts::pass_history(flow, &between);
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use serde_json::{Value, json};

    use crate::{Kind, RenderInput, pages, render::scene_of, sample, sample::Sample};

    #[test]
    fn passes_of_every_record_in_between_are_listed() {
        let told = |sequence: u32, purpose: &str, passes: &[[&str; 2]]| {
            let mut value: Value = serde_json::from_slice(&sample::sword().bytes).unwrap();
            value["sequence"] = sequence.into();
            value["purpose"] = purpose.into();
            value["worked_under_hold"] = json!([]);
            value["passes"] = passes
                .iter()
                .map(|[id, note]| {
                    json!({ "id": id, "on": "2026-03-04", "operation": "polish", "zones": ["ground"], "note": note })
                })
                .collect();
            Sample::of(&value)
        };
        let earlier = [
            told(1, "before_work", &[["p-1", "beforehand"]]).record,
            told(2, "in_work", &[["p-2", "halfway"], ["p-3", "unfinished"]]).record,
        ];
        let last = told(3, "after_work", &[["p-3", "finished"]]);
        let input = RenderInput {
            kind: Kind::Comparison,
            earlier: &earlier,
            ..last.input()
        };
        let said = pages::tests::words(&scene_of(&last.record, &input).unwrap().0);
        for (note, is_listed) in [
            ("beforehand", false),
            ("halfway", true),
            // The later telling stands for the earlier one.
            ("unfinished", false),
            ("finished", true),
        ] {
            let listed = said.split(' ').any(|word| word == note);
            assert_eq!(listed, is_listed, "{note}: {said}");
        }
    }
}
