//! Annex: what informs, the checks that ran, and their tables and series.

use tangmark_core::record::{Artefact, Number, Record, Run};

use super::{findings, words};
use crate::{
    drawing,
    layout::{Cell, Column, Flow, GUTTER, Span, Table, Width, count, style},
    speech::{Pair, pair},
};

/// Sets the annex on a page of its own; nothing when there is nothing for it.
pub(super) fn set(flow: &mut Flow, record: &Record) {
    findings::informing(flow, record);
    if !record.runs.is_empty() {
        runs(flow, &record.runs);
    }
}

fn runs(flow: &mut Flow, runs: &[Run]) {
    let speech = flow.speech;
    let column = |title: &Pair, width| words::column(speech, title, width);
    let mut table = Table::new(vec![
        column(&pair("plugin", "プラグイン"), Width::Share(0.8)),
        column(&pair("version", "版"), Width::Fixed(20.0)),
        column(
            &pair("file digest, input digest", "ファイルと入力のダイジェスト"),
            Width::Share(1.2),
        ),
        column(&pair("outcome", "結果"), Width::Share(1.2)),
    ]);
    for run in runs {
        let outcome = run.fault.as_ref().map_or_else(
            || speech.label(&pair("ran to its end", "最後まで実行")),
            |fault| {
                let failed = format!(
                    "{}{}",
                    speech.text(&pair("failed", "失敗")),
                    words::colon(speech)
                );
                vec![Span::bold(failed), Span::plain(fault.clone())]
            },
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
    words::heading(flow, &pair("Checks that ran", "行った検査"), 16.0);
    flow.table(&table);
    of_plugins(
        flow,
        &pair("What the workshop set for them", "工房が定めた設定"),
        runs.iter()
            .filter(|run| !run.settings.is_empty())
            .map(|run| {
                let settings = run.settings.join(words::semicolon(speech));
                (run, settings)
            }),
    );
    let numbers = runs.iter().flat_map(|run| {
        let line = |number: &Number| findings::number(number);
        run.quantities
            .iter()
            .map(move |quantity| (run, line(quantity)))
    });
    of_plugins(
        flow,
        &pair("Numbers that checks derived", "検査が導いた数値"),
        numbers,
    );
    for artefact in runs.iter().flat_map(|run| &run.artefacts) {
        self::artefact(flow, artefact);
    }
}

/// Sets a list of statements, each with the plugin that made it.
fn of_plugins<'a>(
    flow: &mut Flow,
    title: &Pair,
    statements: impl Iterator<Item = (&'a Run, String)>,
) {
    let colon = words::colon(flow.speech);
    let items: Vec<Vec<Span>> = statements
        .map(|(run, text)| {
            vec![
                Span::quiet(format!("{}{colon}", run.plugin)),
                Span::plain(text),
            ]
        })
        .collect();
    if items.is_empty() {
        return;
    }
    words::subheading(flow, title, 10.0);
    flow.list(&items, style::CELL);
}

/// A series of a plugin as a chart, anything else as a table.
fn artefact(flow: &mut Flow, artefact: &Artefact) {
    let width = flow.frame.text_width();
    if let Some(chart) = drawing::chart(artefact, width, flow.speech) {
        flow.subheading(&artefact.title, 12.0);
        chart.set(flow);
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
            .map(|word| drawing::words_width(word, style) * MARGIN)
            .fold(0.0, f64::max)
    };
    let columns = artefact.columns.iter().zip(titles).map(|(column, title)| {
        let words = column.cells.iter().map(|cell| word(cell, style::CELL));
        let least = words.fold(word(title, style::LABEL), f64::max);
        let whole = column
            .cells
            .iter()
            .map(|cell| drawing::words_width(cell, style::CELL));
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
