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
    let table = table(flow.speech, &informing);
    flow.table(&table);
}

fn all(record: &Record) -> impl Iterator<Item = &Finding> {
    record.findings.iter().chain(&record.private_findings)
}

/// Sets findings as a table, each with what it rests on.
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
        let level = if finding.level == Level::Info {
            Span::plain(level)
        } else {
            Span::bold(level)
        };
        let mut text = vec![Span::plain(finding.message.clone())];
        let numbers: Vec<String> = finding.numbers.iter().map(number).collect();
        if !numbers.is_empty() {
            text.push(Span::figures(format!("\n{}", numbers.join(" · "))));
        }
        text.push(Span::quiet(format!(
            "\n{}/{}{}{}",
            finding.plugin,
            finding.rule,
            words::colon(speech),
            finding.source
        )));
        if !finding.evidence.is_empty() {
            text.push(Span::quiet(format!(
                "{}{} {}",
                words::semicolon(speech),
                speech.text(&pair("rests on", "根拠")),
                finding.evidence.join(" ")
            )));
        }
        table.rows.push(vec![Cell(vec![level]), Cell(text)]);
    }
    table
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
