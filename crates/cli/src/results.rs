//! What plugins derived, as text: numbers, tables, and curves as tables.

use tangmark_workshop::CheckReport;
use tangmark_workshop::record::{Artefact, Number};

use crate::show::{self, add};

/// Longest cell of a table, in characters: as long as a plugin may write one.
const CELL: usize = 200;
/// Most rows that are printed of one table; `--json` has them all.
const ROWS: usize = 40;

/// Writes a number with its unit and uncertainty.
pub(crate) fn number(number: &Number) -> String {
    let unit = match number.unit.to_string() {
        unit if unit == "1" => String::new(),
        unit => format!(" {unit}"),
    };
    let uncertainty = number
        .standard_uncertainty
        .map(|uncertainty| format!(" ± {uncertainty}{unit} (k = 1)"))
        .unwrap_or_default();
    format!(
        "{}: {}{unit}{uncertainty}",
        show::plain(&number.name),
        number.value
    )
}

/// Writes every derived number, table and curve of a report.
pub(crate) fn all(report: &CheckReport) -> String {
    let mut text = String::new();
    let public = report
        .runs
        .iter()
        .map(|run| (run.plugin.as_str(), &run.quantities, ""));
    let private = report.private_results.iter().map(|one| {
        (
            one.plugin.as_str(),
            &one.quantities,
            " (shown here, sealed nowhere)",
        )
    });
    for (plugin, quantities, note) in public.chain(private) {
        if !quantities.is_empty() {
            add!(text, "\nnumbers of {plugin}{note}\n");
            for one in quantities {
                add!(text, "  {}\n", number(one));
            }
        }
    }
    for (plugin, artefact) in report.artefacts() {
        add!(text, "\n{}, by {plugin}\n", show::plain(&artefact.title));
        text.push_str(&table(artefact));
    }
    text
}

/// Writes a table, or a curve as one, indented.
pub(crate) fn table(artefact: &Artefact) -> String {
    let heads = artefact.columns.iter().map(|column| {
        let unit = column
            .unit
            .map(|unit| unit.to_string())
            .filter(|unit| unit != "1")
            .map(|unit| format!(", {unit}"))
            .unwrap_or_default();
        format!("{}{unit}", show::plain(&column.name))
    });
    let mut rows = vec![heads.collect::<Vec<String>>()];
    let length = artefact
        .columns
        .iter()
        .map(|column| column.cells.len())
        .max()
        .unwrap_or(0);
    for row in 0..length.min(ROWS) {
        let cells = artefact.columns.iter().map(|column| {
            column
                .cells
                .get(row)
                .map(|cell| show::cut(cell, CELL))
                .unwrap_or_default()
        });
        rows.push(cells.collect());
    }
    let mut text = String::new();
    for line in show::table(&rows).lines() {
        add!(text, "  {line}\n");
    }
    if length > ROWS {
        add!(
            text,
            "  … {} more; `--json` has the whole\n",
            show::counted(length - ROWS, "row")
        );
    }
    text
}
