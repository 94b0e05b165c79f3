//! What the checks ask for, with rule, numbers and source, and how stops were answered.

use tangmark_core::record::{Finding, Level, Number, Record};

use super::words;
use crate::{
    Speech,
    layout::{Cell, Flow, Span, Table, Width, style},
    speech::{Pair, pair},
};

/// Sets the findings that ask for something: stops, then cautions, and how they were answered.
pub(super) fn asking(flow: &mut Flow, record: &Record) {
    let title = pair("What the checks ask for", "検査が求めること");
    let mut asking: Vec<&Finding> = all(record)
        .filter(|finding| finding.level != Level::Info)
        .collect();
    // Stops first; within a level as recorded.
    asking.sort_by_key(|finding| std::cmp::Reverse(finding.level));
    words::heading(flow, &title, 16.0);
    if asking.is_empty() {
        let none = if record.runs.is_empty() && record.findings.is_empty() {
            pair(
                "No check ran on this record.",
                "この記録に検査は行われていない。",
            )
        } else {
            pair(
                "No check asks for a stop or for caution. What was not recorded cannot be checked.",
                "停止または注意を求める検査はない。記録されていないことは検査できない。",
            )
        };
        flow.say(&none, style::BODY);
    } else {
        let table = table(flow.speech, &asking);
        flow.table(&table);
    }
    answers(flow, record);
}

/// Sets the findings that only inform.
pub(super) fn informing(flow: &mut Flow, record: &Record) {
    let informing: Vec<&Finding> = all(record)
        .filter(|finding| finding.level == Level::Info)
        .collect();
    if informing.is_empty() {
        return;
    }
    words::heading(flow, &pair("Findings that inform", "参考の所見"), 16.0);
    let table = by_rule(flow.speech, &informing);
    flow.table(&table);
}

fn all(record: &Record) -> impl Iterator<Item = &Finding> {
    record.findings.iter().chain(&record.private_findings)
}

/// Findings by level, each with the rule it comes from.
fn table(speech: Speech, findings: &[&Finding]) -> Table {
    let mut table = Table::new(vec![
        words::column(speech, &pair("level", "区分"), Width::Fixed(21.0)),
        words::column(
            speech,
            &pair(
                "finding, numbers with ± U (k = 2), rule and its source",
                "所見、数値（± U、k = 2）、規則とその典拠",
            ),
            Width::Share(1.0),
        ),
    ]);
    for finding in findings {
        let level = words::two_lines(speech, &words::gloss(finding.level));
        let rule = format!(
            "\n{}/{}{}",
            finding.plugin,
            finding.rule,
            words::colon(speech)
        );
        let mut text = said(finding);
        text.push(Span::quiet(rule));
        text.extend(grounds(speech, finding));
        table
            .rows
            .push(vec![Cell(vec![Span::bold(level)]), Cell(text)]);
    }
    table
}

/// Findings of one level, each beside its rule.
fn by_rule(speech: Speech, findings: &[&Finding]) -> Table {
    let mut table = Table::new(vec![
        words::column(speech, &pair("rule", "規則"), Width::Fixed(38.0)),
        words::column(
            speech,
            &pair(
                "finding, numbers with ± U (k = 2), source",
                "所見、数値（± U、k = 2）、典拠",
            ),
            Width::Share(1.0),
        ),
    ]);
    for finding in findings {
        let mut text = said(finding);
        text.push(Span::plain("\n"));
        text.extend(grounds(speech, finding));
        table
            .rows
            .push(vec![Cell::plain(finding.rule.clone()), Cell(text)]);
    }
    table
}

/// What a finding says, with its numbers.
fn said(finding: &Finding) -> Vec<Span> {
    let mut text = vec![Span::plain(finding.message.clone())];
    let numbers: Vec<String> = finding.numbers.iter().map(number).collect();
    if !numbers.is_empty() {
        text.push(Span::figures(format!("\n{}", numbers.join(" · "))));
    }
    text
}

/// Where its rule comes from, and which places of the record it rests on.
fn grounds(speech: Speech, finding: &Finding) -> Vec<Span> {
    let mut spans = vec![Span::quiet(finding.source.clone())];
    if !finding.evidence.is_empty() {
        spans.push(Span::quiet(format!(
            "{}{} {}",
            words::semicolon(speech),
            speech.text(&pair("rests on", "根拠")),
            evidence(speech, finding)
        )));
    }
    spans
}

/// Places of the record; the empty one is the record as a whole.
fn evidence(speech: Speech, finding: &Finding) -> String {
    let whole = speech.text(&pair("the whole record", "記録全体"));
    let places = finding.evidence.iter().map(ToString::to_string);
    let places = places.map(|place| {
        if place.is_empty() {
            whole.clone()
        } else {
            place
        }
    });
    places.collect::<Vec<_>>().join(" ")
}

/// A number of a check with its name: `place: 255.0 ± 0.6 mm`.
pub(super) fn number(number: &Number) -> String {
    let value = number.standard_uncertainty.map_or_else(
        || words::with_unit(number.value, number.unit),
        |standard| words::stated(number.value, standard, number.unit),
    );
    format!("{}: {value}", number.name)
}

fn answers(flow: &mut Flow, record: &Record) {
    let Some(decision) = &record.decision else {
        return;
    };
    if decision.answers.is_empty() {
        return;
    }
    let speech = flow.speech;
    let column = |title: &Pair, share| words::column(speech, title, Width::Share(share));
    let mut table = Table::new(vec![
        column(&pair("rule", "規則"), 0.8),
        column(&pair("answer", "回答"), 1.0),
        column(&pair("in words", "内容"), 1.6),
    ]);
    for answer in &decision.answers {
        let mut how = vec![Span::plain(answer.how.clone())];
        if let Some(reply) = &answer.record {
            how.push(Span::quiet(format!(
                "\n{} {}",
                speech.text(&pair("record", "記録")),
                words::digest(reply)
            )));
        }
        table.rows.push(vec![
            Cell::plain(answer.rule.clone()),
            Cell::plain(words::two_lines(speech, &words::gloss(answer.kind))),
            Cell(how),
        ]);
    }
    words::headed_table(
        flow,
        &pair("How findings were answered", "所見への対応"),
        &table,
    );
}
