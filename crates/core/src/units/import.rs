//! Reads a CSV of published blades: what is sound becomes rows to build sheets from, what is not is
//! listed row by row with both values and the reason.

use std::collections::BTreeMap;

use num_bigint::BigInt;
use num_traits::{Signed, Zero};
use serde::Serialize;
use unicode_normalization::UnicodeNormalization;

use super::{
    Reading,
    map::{Column, ColumnMap, Field},
    published::{Agreement, Entry, Problem, compare, read_published},
    reading::read,
    shorten,
};

mod error;
mod lines;
#[cfg(test)]
mod tests;

pub use error::{ImportError, Reason};

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
/// [`read_published`]. A value is imported only where nothing contradicts it.
///
/// # Errors
/// See [`ImportError`]; only what makes every row doubtful is an error, the rest stands in the report.
pub fn read_csv(bytes: &[u8], map: &ColumnMap) -> Result<ImportReport, ImportError> {
    if bytes.len() > LARGEST_FILE {
        return Err(ImportError::TooLarge { bytes: bytes.len(), largest: LARGEST_FILE });
    }
    if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
        return Err(ImportError::Utf16);
    }
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let starts = lines::record_starts(bytes)?;
    let mut reader = csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(bytes);
    let mut records = reader.byte_records();
    let header = match records.next() {
        None => return Err(ImportError::Empty),
        Some(header) => header.map_err(|error| ImportError::Csv { reason: error.to_string() })?,
    };
    let header: Vec<String> = header.iter().map(|cell| String::from_utf8_lossy(cell).trim().nfc().collect()).collect();
    let mut import = Import { columns: find_columns(map, &header)?, header: &header, report: ImportReport::default() };
    for (at, record) in records.enumerate() {
        let record = record.map_err(|error| ImportError::Csv { reason: error.to_string() })?;
        let fallback = record.position().map_or(0, csv::Position::line);
        import.record(starts.get(at + 1).copied().unwrap_or(fallback), &record);
    }
    import.compare_same_numbers();
    import.report.faults.sort_by_key(|remark| remark.line);
    import.report.remarks.sort_by_key(|remark| remark.line);
    Ok(import.report)
}

/// Finds the mapped columns in the header.
fn find_columns<'m>(map: &'m ColumnMap, header: &[String]) -> Result<BTreeMap<Field, (usize, &'m Column)>, ImportError> {
    let mut found = BTreeMap::new();
    for (field, column) in map.columns() {
        let mut places = header.iter().enumerate().filter(|(_, name)| **name == column.name).map(|(at, _)| at);
        match (places.next(), places.next()) {
            (Some(at), None) => {
                found.insert(field, (at, column));
            }
            (Some(first), Some(second)) => {
                let (first, second) = (first + 1, second + 1);
                return Err(ImportError::RepeatedColumn { column: shorten(&column.name), first, second });
            }
            (None, _) if column.required => {
                return Err(ImportError::MissingColumn { field, column: shorten(&column.name), header: shorten(&header.join(", ")), semicolons: header.len() == 1 && header[0].contains(';') });
            }
            (None, _) => {}
        }
    }
    Ok(found)
}

struct Import<'a> {
    columns: BTreeMap<Field, (usize, &'a Column)>,
    header: &'a [String],
    report: ImportReport,
}

impl Import<'_> {
    fn record(&mut self, line: u64, record: &csv::ByteRecord) {
        if record.iter().all(|cell| cell.trim_ascii().is_empty()) {
            return;
        }
        self.report.rows_read += 1;
        match self.cells(line, record) {
            Ok(cells) => {
                let mut row = Row { line, identity: cells.get(&Field::Identity).cloned().unwrap_or_default(), report: &mut self.report };
                let quantities = row.quantities(&self.columns, &cells);
                let identity = row.identity;
                let texts = cells.into_iter().filter(|(field, _)| field.dimension().is_none() && *field != Field::Identity).collect();
                self.report.rows.push(ImportedRow { line, identity, texts, quantities });
            }
            Err(fault) => self.report.faults.push(*fault),
        }
    }

    /// Takes the mapped cells of a row; empty cells are left out.
    fn cells(&self, line: u64, record: &csv::ByteRecord) -> Result<BTreeMap<Field, String>, Box<Remark>> {
        let mut cells = BTreeMap::new();
        let mut fault = None;
        for (field, (at, _)) in &self.columns {
            let Some(cell) = record.get(*at) else { continue };
            if cell.len() > LONGEST_CELL {
                fault.get_or_insert((Some(*field), Reason::LongCell { bytes: cell.len(), longest: LONGEST_CELL }));
            } else if let Ok(cell) = str::from_utf8(cell) {
                let cell: String = cell.trim().nfc().collect();
                if !cell.is_empty() {
                    cells.insert(*field, cell);
                }
            } else {
                fault.get_or_insert((Some(*field), Reason::NotUtf8));
            }
        }
        let identity = cells.get(&Field::Identity).map_or("", String::as_str);
        let same = |row: &&ImportedRow| row.identity == identity && row.texts.get(&Field::Holder) == cells.get(&Field::Holder);
        if record.len() != self.header.len() {
            // Told first: with a cell too few or too many, no cell is sure to stand in its column.
            fault = Some((None, Reason::Ragged { cells: record.len(), columns: self.header.len() }));
        } else if fault.is_some() {
        } else if identity.is_empty() {
            fault = Some((Some(Field::Identity), Reason::NoIdentity));
        } else if let Some(before) = self.report.rows.iter().find(same) {
            fault = Some((Some(Field::Identity), Reason::Again { before: before.line }));
        }
        match fault {
            None => Ok(cells),
            Some((field, reason)) => {
                Err(Box::new(Remark { line, identity: identity.to_owned(), field, first: None, second: None, reason }))
            }
        }
    }

    /// Names rows that bear one number, up to a remark in brackets, and disagree.
    fn compare_same_numbers(&mut self) {
        let number = |row: &ImportedRow| {
            let number = row.identity.split(" (").next().unwrap_or_default().trim().to_owned();
            (row.texts.get(&Field::Holder).cloned(), number)
        };
        let mut first: BTreeMap<_, &ImportedRow> = BTreeMap::new();
        for row in &self.report.rows {
            let Some(before) = first.get(&number(row)) else {
                first.insert(number(row), row);
                continue;
            };
            for (field, quantity) in &row.quantities {
                let Some(other) = before.quantities.get(field).filter(|other| other.reading.exact != quantity.reading.exact) else { continue };
                self.report.remarks.push(Remark {
                    line: row.line,
                    identity: row.identity.clone(),
                    field: Some(*field),
                    first: Some(other.reading.text.clone()),
                    second: Some(quantity.reading.text.clone()),
                    reason: Reason::SameNumber { before: before.line },
                });
            }
        }
    }
}

struct Row<'a> {
    line: u64,
    identity: String,
    report: &'a mut ImportReport,
}

impl Row<'_> {
    fn remark(&self, field: Field, first: Option<&str>, second: Option<&str>, reason: Reason) -> Remark {
        let own = |text: &str| shorten(text);
        Remark { line: self.line, identity: self.identity.clone(), field: Some(field), first: first.map(own), second: second.map(own), reason }
    }

    fn fault(&mut self, field: Field, first: Option<&str>, second: Option<&str>, reason: Reason) {
        let remark = self.remark(field, first, second, reason);
        self.report.faults.push(remark);
    }

    fn note(&mut self, field: Field, first: Option<&str>, second: Option<&str>, reason: Reason) {
        let remark = self.remark(field, first, second, reason);
        self.report.remarks.push(remark);
    }

    /// Lists a problem of the published line; the two systems are its two values.
    fn problem(&mut self, field: Field, problem: &Problem) {
        let (first, second) = match problem {
            Problem::Disagreement { customary, metric, .. } => (Some(customary.as_str()), Some(metric.as_str())),
            Problem::OddFraction { found, .. }
            | Problem::Misprint { found, .. }
            | Problem::MissingUnit { found, .. }
            | Problem::SeveralValues { found, .. }
            | Problem::Unreadable { found, .. } => (Some(found.as_str()), None),
            Problem::Unread { text } => (Some(text.as_str()), None),
        };
        let reason = Reason::Published { problem: problem.clone() };
        if problem.is_fault() { self.fault(field, first, second, reason) } else { self.note(field, first, second, reason) }
    }

    fn quantities(&mut self, columns: &BTreeMap<Field, (usize, &Column)>, cells: &BTreeMap<Field, String>) -> BTreeMap<Field, Quantity> {
        let line = cells.get(&Field::Published).map(|text| read_published(text));
        let entries = line.as_ref().map_or(&[][..], |line| &line.entries);
        for problem in line.iter().flat_map(|line| &line.problems) {
            self.problem(Field::Published, problem);
        }
        let mut quantities = BTreeMap::new();
        for field in Field::ALL {
            let (Some(dimension), Some(kind)) = (field.dimension(), field.published_kind()) else { continue };
            let named: Vec<&Entry> = entries.iter().filter(|entry| entry.kind == kind).collect();
            for problem in named.iter().flat_map(|entry| &entry.problems) {
                self.problem(field, problem);
            }
            let column = columns.get(&field).map(|(_, column)| *column);
            let cell = cells.get(&field).map(|cell| with_unit(cell, column));
            let reading = match cell.as_deref().map(|cell| read(cell, dimension)) {
                None => None,
                Some(Ok(reading)) => Some(reading),
                Some(Err(error)) => {
                    self.fault(field, cell.as_deref(), None, Reason::Unreadable { error });
                    continue;
                }
            };
            if named.iter().any(|entry| !entry.is_sound() && entry.problems.iter().any(Problem::is_fault)) {
                continue;
            }
            if let [first, .., last] = named[..]
                && first.reading().map(|r| &r.exact) != last.reading().map(|r| &r.exact)
            {
                self.fault(field, Some(&first.text), Some(&last.text), Reason::TwoPublished);
                continue;
            }
            let published = named.first().copied();
            let quantity = self.settle(field, column.is_some(), reading, published, line.is_some());
            quantities.extend(quantity.map(|quantity| (field, quantity)));
        }
        for entry in entries.iter().filter(|entry| !Field::ALL.into_iter().any(|field| field.published_kind() == Some(entry.kind))) {
            for problem in &entry.problems {
                self.problem(Field::Published, problem);
            }
        }
        quantities
    }

    /// Decides on one value, given its column and the published line.
    fn settle(&mut self, field: Field, mapped: bool, reading: Option<Reading>, entry: Option<&Entry>, line: bool) -> Option<Quantity> {
        match (reading, entry) {
            (None, None) => None,
            (Some(reading), None) => {
                if line {
                    self.note(field, Some(&reading.text), None, Reason::ColumnAlone);
                }
                Some(Quantity { reading, origin: Origin::Column })
            }
            (Some(reading), Some(entry)) => {
                for published in entry.metric.iter().chain(&entry.customary) {
                    if !agree(&reading, published) {
                        let difference = super::Decimal::from_ratio_half_even(&(&reading.exact - &published.exact).abs(), 4);
                        let reason = Reason::ColumnDiffers {
                            column: reading.rounded(),
                            published: published.rounded(),
                            difference: difference.unwrap_or(super::Decimal::ZERO),
                            unit: reading.dimension.canonical_unit(),
                        };
                        self.fault(field, Some(&reading.text), Some(&published.text), reason);
                        return None;
                    }
                }
                if let Some(metric) = entry.metric.as_ref().filter(|metric| reading.is_metric() && metric.exact != reading.exact) {
                    self.note(field, Some(&reading.text), Some(&metric.text), Reason::Rounded);
                }
                Some(Quantity { reading, origin: Origin::ColumnAndPublished })
            }
            // An empty cell of a mapped column was left empty by somebody; a width is seldom that at the base.
            (None, Some(entry)) if mapped || field == Field::Width => {
                self.note(field, Some(&entry.text), None, Reason::PublishedAlone);
                None
            }
            (None, Some(entry)) => entry.reading().cloned().map(|reading| Quantity { reading, origin: Origin::Published }),
        }
    }
}

/// A bare number in a cell takes the unit of its column.
fn with_unit(cell: &str, column: Option<&Column>) -> String {
    let last = super::scan::scan(cell).pop();
    match column.and_then(|column| column.unit.as_deref()) {
        Some(unit) if last.is_some_and(|last| !matches!(last.token, super::scan::Token::Word(_))) => format!("{cell} {unit}"),
        _ => cell.to_owned(),
    }
}

/// In one system: equal up to rounding to the coarser step. Across systems: as published pairs are.
fn agree(column: &Reading, published: &Reading) -> bool {
    if column.is_metric() != published.is_metric() {
        return compare(column, published) == Agreement::Agree;
    }
    let difference = (&column.exact - &published.exact).abs();
    let coarser = (&column.resolution).max(&published.resolution);
    difference.is_zero() || &(difference * BigInt::from(2)) <= coarser
}
