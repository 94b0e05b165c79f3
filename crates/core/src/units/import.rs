//! Reads a CSV of published blades: what is sound becomes rows to build sheets from, what is not is
//! listed row by row with both values and the reason.

use std::collections::BTreeMap;

use serde::Serialize;

use super::{
    Reading,
    map::{Column, ColumnMap, Field},
    shorten,
};

mod error;
mod lines;
mod row;
mod rows;
#[cfg(test)]
mod tests;

pub use error::{ImportError, Reason};
use row::Row;
pub use row::with_unit;
pub use rows::{Table, TableRow, read_table};

/// Largest CSV, in bytes.
pub const LARGEST_FILE: usize = 16 * 1024 * 1024;
/// Longest cell, in bytes.
const LONGEST_CELL: usize = 10_000;

/// What came out of a CSV.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct ImportReport {
    /// Rows below the header that hold anything.
    pub rows_read: usize,
    /// The rows that were imported, each without its unsound values.
    pub rows: Vec<ImportedRow>,
    /// What was not imported, and why.
    pub faults: Vec<Remark>,
    /// What was imported or passed over, and should be looked at.
    pub remarks: Vec<Remark>,
}

/// One row with what is sound in it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ImportedRow {
    /// Line of the CSV, from 1.
    pub line: u64,
    /// Number or name of the object.
    pub identity: String,
    /// The other texts, as written; empty cells are left out.
    pub texts: BTreeMap<Field, String>,
    /// The sound values.
    pub quantities: BTreeMap<Field, Quantity>,
}

/// One sound value.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Quantity {
    /// The value.
    pub reading: Reading,
    /// Where it came from.
    pub origin: Origin,
}

/// Where an imported value came from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Origin {
    /// Its own column; the published line gives the same.
    ColumnAndPublished,
    /// Its own column; the published line gives no such value.
    Column,
    /// The published line; no column is mapped.
    Published,
}

/// One thing to know about a row.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Remark {
    /// Line of the CSV, from 1.
    pub line: u64,
    /// Number or name of the object; empty where the row has none.
    pub identity: String,
    /// The field; `None` where the whole row is meant.
    pub field: Option<Field>,
    /// The first of two values as written, or the only one.
    pub first: Option<String>,
    /// The second value as written.
    pub second: Option<String>,
    /// What is wrong.
    #[serde(flatten)]
    pub reason: Reason,
}

/// Reads a CSV (RFC 4180, UTF-8 with or without a byte order mark, any line ends) with a header.
///
/// A column's value is compared with the published line of the same row: in the same system they
/// must be equal up to rounding to the coarser of the two, across systems by the rule of
/// [`read_published`](super::published::read_published). A value is imported only where nothing contradicts it.
///
/// # Errors
/// See [`ImportError`]; only what makes every row doubtful is an error, the rest stands in the report.
pub fn read_csv(bytes: &[u8], map: &ColumnMap) -> Result<ImportReport, ImportError> {
    let Table { header, rows } = read_table(bytes, b',')?;
    let columns = find_columns(map, &header)?;
    let mut import = Import {
        columns,
        header: &header,
        seen: BTreeMap::new(),
        report: ImportReport::default(),
    };
    for row in &rows {
        import.record(row);
    }
    import.compare_same_numbers();
    import.report.faults.sort_by_key(|remark| remark.line);
    import.report.remarks.sort_by_key(|remark| remark.line);
    Ok(import.report)
}

/// Finds the mapped columns in the header.
fn find_columns<'m>(
    map: &'m ColumnMap,
    header: &[String],
) -> Result<BTreeMap<Field, (usize, &'m Column)>, ImportError> {
    let mut found = BTreeMap::new();
    for (field, column) in map.columns() {
        let mut places = header
            .iter()
            .enumerate()
            .filter(|(_, name)| **name == column.name)
            .map(|(at, _)| at);
        match (places.next(), places.next()) {
            (Some(at), None) => {
                found.insert(field, (at, column));
            }
            (Some(first), Some(second)) => {
                let (first, second) = (first + 1, second + 1);
                return Err(ImportError::RepeatedColumn {
                    column: shorten(&column.name),
                    first,
                    second,
                });
            }
            (None, _) if column.required => {
                return Err(ImportError::MissingColumn {
                    field,
                    column: shorten(&column.name),
                    header: shorten(&header.join(", ")),
                    semicolons: header.len() == 1 && header[0].contains(';'),
                });
            }
            (None, _) => {}
        }
    }
    Ok(found)
}

struct Import<'a> {
    columns: BTreeMap<Field, (usize, &'a Column)>,
    header: &'a [String],
    /// Line of each holder and identity.
    seen: BTreeMap<(Option<String>, String), u64>,
    report: ImportReport,
}

impl Import<'_> {
    fn record(&mut self, row: &TableRow) {
        self.report.rows_read += 1;
        let line = row.line;
        match self.cells(row) {
            Ok(cells) => {
                let number = cells.get(&Field::Identity).cloned().unwrap_or_default();
                self.seen
                    .insert((cells.get(&Field::Holder).cloned(), number), line);
                let mut row = Row {
                    line,
                    identity: cells.get(&Field::Identity).cloned().unwrap_or_default(),
                    report: &mut self.report,
                };
                let quantities = row.quantities(&self.columns, &cells);
                let identity = row.identity;
                let texts = cells
                    .into_iter()
                    .filter(|(field, _)| field.dimension().is_none() && *field != Field::Identity)
                    .collect();
                self.report.rows.push(ImportedRow {
                    line,
                    identity,
                    texts,
                    quantities,
                });
            }
            Err(fault) => self.report.faults.push(*fault),
        }
    }

    /// Takes the mapped cells of a row; empty cells are left out.
    fn cells(&self, row: &TableRow) -> Result<BTreeMap<Field, String>, Box<Remark>> {
        let mut cells = BTreeMap::new();
        let mut fault = None;
        for (field, (at, _)) in &self.columns {
            match row.cell(*at) {
                Ok(None) => {}
                Ok(Some(cell)) => {
                    cells.insert(*field, cell);
                }
                Err(reason) => {
                    fault.get_or_insert((Some(*field), *reason));
                }
            }
        }
        let identity = cells.get(&Field::Identity).map_or("", String::as_str);
        let before = self
            .seen
            .get(&(cells.get(&Field::Holder).cloned(), identity.to_owned()));
        if let Err(ragged) = row.fits(self.header.len()) {
            // Told first: with a cell too few or too many, no cell is sure to stand in its column.
            fault = Some((None, *ragged));
        } else if fault.is_some() {
        } else if identity.is_empty() {
            fault = Some((Some(Field::Identity), Reason::NoIdentity));
        } else if let Some(before) = before {
            fault = Some((Some(Field::Identity), Reason::Again { before: *before }));
        }
        match fault {
            None => Ok(cells),
            Some((field, reason)) => Err(Box::new(Remark {
                line: row.line,
                identity: identity.to_owned(),
                field,
                first: None,
                second: None,
                reason,
            })),
        }
    }

    /// Names rows that bear one number, up to a remark in brackets, and disagree.
    fn compare_same_numbers(&mut self) {
        let number = |row: &ImportedRow| {
            let number = row
                .identity
                .split(" (")
                .next()
                .unwrap_or_default()
                .trim()
                .to_owned();
            (row.texts.get(&Field::Holder).cloned(), number)
        };
        let mut first: BTreeMap<_, &ImportedRow> = BTreeMap::new();
        for row in &self.report.rows {
            let Some(before) = first.get(&number(row)) else {
                first.insert(number(row), row);
                continue;
            };
            for (field, quantity) in &row.quantities {
                let Some(other) = before
                    .quantities
                    .get(field)
                    .filter(|other| other.reading.exact != quantity.reading.exact)
                else {
                    continue;
                };
                self.report.remarks.push(Remark {
                    line: row.line,
                    identity: row.identity.clone(),
                    field: Some(*field),
                    first: Some(other.reading.text.clone()),
                    second: Some(quantity.reading.text.clone()),
                    reason: Reason::SameNumber {
                        before: before.line,
                    },
                });
            }
        }
    }
}
