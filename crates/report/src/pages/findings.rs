//! What the checks found, with rule, numbers and source, and how stops were answered.

use tangmark_core::record::{Artefact, Finding, Level, Number, Record, Run, Term as _};

use super::words;
use crate::drawing::{chart::Chart, words_width};
use crate::layout::{Cell, Column, FigureSpec, Flow, GUTTER, Span, Table, Width, count, style};

pub(super) fn set(flow: &mut Flow, record: &Record) {
    if record.findings.is_empty() && record.private_findings.is_empty() {
        flow.heading("Findings", 24.0);
        flow.paragraph(&[Span::plain("No finding is in this record.")], style::BODY);
    } else {
        let mut ordered: Vec<&Finding> = record
            .findings
            .iter()
            .chain(&record.private_findings)
            .collect();
        // Stops first; within a level as recorded.
        ordered.sort_by_key(|finding| std::cmp::Reverse(finding.level));
        let table = table(&ordered);
        let keep = flow.table_start(&table);
        flow.heading("Findings", keep);
        flow.table(&table);
    }
    answers(flow, record);
    if !record.runs.is_empty() {
        runs(flow, &record.runs);
    }
}

fn table(findings: &[&Finding]) -> Table {
    let mut table = Table::new(vec![
        Column::words("level", Width::Fixed(19.0)),
        Column::words(
            "finding, numbers with ± k = 2, rule and its source",
            Width::Share(1.0),
        ),
    ]);
    for finding in findings {
        let level = if finding.level == Level::Info {
            Span::plain(finding.level.gloss())
        } else {
            Span::bold(finding.level.gloss())
        };
        let mut text = vec![Span::plain(finding.message.clone())];
        let numbers: Vec<String> = finding.numbers.iter().map(number).collect();
        if !numbers.is_empty() {
            text.push(Span::figures(format!("\n{}", numbers.join(" · "))));
        }
        text.push(Span::quiet(format!(
            "\n{}/{}: {}",
            finding.plugin, finding.rule, finding.source
        )));
        if !finding.evidence.is_empty() {
            text.push(Span::quiet(format!(
                "; evidence {}",
                finding.evidence.join(" ")
            )));
        }
        table.rows.push(vec![Cell(vec![level]), Cell(text)]);
    }
    table
}

fn number(number: &Number) -> String {
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
    let mut table = Table::new(vec![
        Column::words("rule", Width::Share(0.8)),
        Column::words("answer", Width::Share(1.0)),
        Column::words("in words", Width::Share(1.6)),
    ]);
    for answer in &decision.answers {
        let mut how = vec![Span::plain(answer.how.clone())];
        if let Some(reply) = &answer.record {
            how.push(Span::quiet(format!("\nrecord {}", words::digest(reply))));
        }
        table.rows.push(vec![
            Cell::plain(answer.rule.clone()),
            Cell::plain(answer.kind.gloss()),
            Cell(how),
        ]);
    }
    flow.headed_table("How findings were answered", &table);
}

fn runs(flow: &mut Flow, runs: &[Run]) {
    let mut table = Table::new(vec![
        Column::words("plugin", Width::Share(0.8)),
        Column::words("version", Width::Fixed(20.0)),
        Column::words("file digest, input digest", Width::Share(1.2)),
        Column::words("outcome", Width::Share(1.2)),
    ]);
    for run in runs {
        let outcome = run.fault.as_ref().map_or_else(
            || vec![Span::plain("ran to its end")],
            |fault| vec![Span::bold("failed: "), Span::plain(fault.clone())],
        );
        let digests = format!(
            "{}\n{}",
            words::digest_prefix(&run.digest),
            words::digest_prefix(&run.input)
        );
        table.rows.push(vec![
            Cell::plain(run.plugin.to_string()),
            Cell::plain(run.version.clone()),
            Cell::figures(digests),
            Cell(outcome),
        ]);
    }
    flow.headed_table("Checks that ran", &table);
    let settings: Vec<Vec<Span>> = runs
        .iter()
        .filter(|run| !run.settings.is_empty())
        .map(|run| {
            vec![
                Span::quiet(format!("{}: ", run.plugin)),
                Span::plain(run.settings.join("; ")),
            ]
        })
        .collect();
    if !settings.is_empty() {
        flow.subheading("What the workshop set for them", 10.0);
        flow.list(&settings, style::CELL);
    }
    let quantities: Vec<(&Run, &Number)> = runs
        .iter()
        .flat_map(|run| run.quantities.iter().map(move |quantity| (run, quantity)))
        .collect();
    if !quantities.is_empty() {
        flow.subheading("Numbers that checks derived", 10.0);
        let items: Vec<Vec<Span>> = quantities
            .into_iter()
            .map(|(run, quantity)| {
                vec![
                    Span::quiet(format!("{}: ", run.plugin)),
                    Span::plain(number(quantity)),
                ]
            })
            .collect();
        flow.list(&items, style::CELL);
    }
    for artefact in runs.iter().flat_map(|run| &run.artefacts) {
        self::artefact(flow, artefact);
    }
}

/// A series of a plugin as a chart, anything else as a table.
fn artefact(flow: &mut Flow, artefact: &Artefact) {
    let width = flow.frame.text_width();
    if let Some(chart) = Chart::new(artefact, width) {
        let height = chart.height();
        flow.subheading(&artefact.title, height + 2.0);
        flow.figure(&FigureSpec {
            alternative: chart.alternative(),
            x: 0.0,
            width,
            height,
            draw: &|x, y| chart.draw(x, y),
        });
        flow.gap(2.0);
        return;
    }
    let titles: Vec<String> = artefact
        .columns
        .iter()
        .map(|column| {
            let unit = column.unit.map(words::unit).filter(|unit| !unit.is_empty());
            unit.map_or_else(
                || column.name.clone(),
                |unit| format!("{}, {unit}", column.name),
            )
        })
        .collect();
    let columns = artefact
        .columns
        .iter()
        .zip(&titles)
        .zip(widths(artefact, &titles, width))
        .map(|((column, title), width)| {
            if column.unit.is_some() {
                Column::numbers(title, width)
            } else {
                Column::words(title, width)
            }
        })
        .collect();
    let mut table = Table::new(columns);
    let rows = artefact
        .columns
        .iter()
        .map(|column| column.cells.len())
        .max()
        .unwrap_or(0);
    for row in 0..rows {
        table.rows.push(
            artefact
                .columns
                .iter()
                .map(|column| Cell::figures(column.cells.get(row).cloned().unwrap_or_default()))
                .collect(),
        );
    }
    flow.headed_table(&artefact.title, &table);
}

/// Widths of the columns of a plugin's table, mm: no column narrower than its longest word, as far as there is room; what
/// is left goes to columns with longer cells.
fn widths(artefact: &Artefact, titles: &[String], total: f64) -> Vec<Width> {
    // Figures of one width are a little wider than others.
    const MARGIN: f64 = 1.05;
    const LONGEST_WORD: f64 = 45.0;
    let word = |text: &str, style| {
        text.split(' ')
            .map(|word| words_width(word, style) * MARGIN)
            .fold(0.0, f64::max)
    };
    let columns = artefact.columns.iter().zip(titles).map(|(column, title)| {
        let words = column.cells.iter().map(|cell| word(cell, style::CELL));
        let least = words.fold(word(title, style::LABEL), f64::max);
        let whole = column
            .cells
            .iter()
            .map(|cell| words_width(cell, style::CELL));
        (least.min(LONGEST_WORD) + 0.5, whole.fold(0.0, f64::max))
    });
    let columns: Vec<(f64, f64)> = columns.collect();
    let gutters = GUTTER * count(columns.len().saturating_sub(1));
    let rest = total - gutters - columns.iter().map(|(least, _)| least).sum::<f64>();
    if rest <= 0.0 {
        return columns
            .iter()
            .map(|(least, _)| Width::Share(*least))
            .collect();
    }
    let wants = |(least, whole): &(f64, f64)| (whole - least).max(1.0);
    let all: f64 = columns.iter().map(wants).sum();
    columns
        .iter()
        .map(|column| Width::Fixed(column.0 + rest * wants(column) / all))
        .collect()
}
