//! The rows of a table of texts, as a spreadsheet saves it.

use unicode_normalization::UnicodeNormalization;

use super::{ImportError, LARGEST_FILE, LONGEST_CELL, Reason, lines};

/// A table as it was read: nothing in it is understood yet.
#[derive(Debug, Clone)]
pub struct Table {
    /// Names of the columns, trimmed.
    pub header: Vec<String>,
    /// The rows below the header that hold anything.
    pub rows: Vec<TableRow>,
}

/// One row of a [`Table`].
#[derive(Debug, Clone)]
pub struct TableRow {
    /// Line of the file in which the row starts, from 1.
    pub line: u64,
    cells: csv::ByteRecord,
}

impl TableRow {
    /// Checks that the row has as many cells as the header.
    ///
    /// # Errors
    /// [`Reason::Ragged`]: with a cell too few or too many, no cell is sure to stand in its column.
    pub fn fits(&self, columns: usize) -> Result<(), Box<Reason>> {
        let cells = self.cells.len();
        if cells == columns {
            Ok(())
        } else {
            Err(Box::new(Reason::Ragged { cells, columns }))
        }
    }

    /// Returns what the row says, whichever column it stands in: all cells, trimmed and in NFC, without the empty ones
    /// after the last that holds anything.
    pub fn said(&self) -> Vec<String> {
        let mut cells: Vec<String> = self.cells.iter().map(plain).collect();
        while cells.last().is_some_and(String::is_empty) {
            cells.pop();
        }
        cells
    }

    /// Returns a cell, trimmed and in NFC; `None` where it is empty or not there.
    ///
    /// # Errors
    /// [`Reason::LongCell`], [`Reason::NotUtf8`], [`Reason::Control`].
    pub fn cell(&self, at: usize) -> Result<Option<String>, Box<Reason>> {
        let Some(cell) = self.cells.get(at) else {
            return Ok(None);
        };
        if cell.len() > LONGEST_CELL {
            return Err(Box::new(Reason::LongCell {
                bytes: cell.len(),
                longest: LONGEST_CELL,
            }));
        }
        let cell = str::from_utf8(cell).map_err(|_| Box::new(Reason::NotUtf8))?;
        let control =
            |character: &char| character.is_control() && !matches!(character, '\t' | '\n' | '\r');
        if let Some(character) = cell.chars().find(control) {
            return Err(Box::new(Reason::Control { character }));
        }
        let cell: String = cell.trim().nfc().collect();
        Ok((!cell.is_empty()).then_some(cell))
    }
}

/// A cell, trimmed and in NFC; bytes that are no UTF-8 are replaced.
fn plain(cell: &[u8]) -> String {
    String::from_utf8_lossy(cell).trim().nfc().collect()
}

/// Reads a table (RFC 4180, UTF-8 with or without a byte order mark, any line ends) with a header, its cells divided by
/// `separator`.
///
/// # Errors
/// See [`ImportError`]: no header, too large, UTF-16, a quote that is never closed.
pub fn read_table(bytes: &[u8], separator: u8) -> Result<Table, ImportError> {
    if bytes.len() > LARGEST_FILE {
        return Err(ImportError::TooLarge {
            bytes: bytes.len(),
            largest: LARGEST_FILE,
        });
    }
    if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
        return Err(ImportError::Utf16);
    }
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let starts = lines::record_starts(bytes, separator)?;
    let fault = |error: csv::Error| ImportError::Csv {
        reason: error.to_string(),
    };
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(separator)
        .from_reader(bytes);
    let mut records = reader.byte_records();
    let header = records.next().ok_or(ImportError::Empty)?.map_err(fault)?;
    let header: Vec<String> = header.iter().map(plain).collect();
    let mut rows = Vec::new();
    for (at, record) in records.enumerate() {
        let cells = record.map_err(fault)?;
        if cells.iter().all(|cell| cell.trim_ascii().is_empty()) {
            continue;
        }
        let fallback = cells.position().map_or(0, csv::Position::line);
        let line = starts.get(at + 1).copied().unwrap_or(fallback);
        rows.push(TableRow { line, cells });
    }
    Ok(Table { header, rows })
}
