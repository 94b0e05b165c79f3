//! Tables of an export: RFC 4180, UTF-8, line feeds, a full stop before decimals.

use std::fs::File;
use std::io::{BufWriter, Write as _};
use std::path::{Path, PathBuf};

use crate::WorkshopError;
use crate::books::guard::harmless;

/// What a column holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Holds {
    /// Words, keys and dates.
    Text,
    /// A number: written as it is, never protected.
    Number,
}

/// A column with its description.
pub(super) type Column = (&'static str, Holds, &'static str);

/// What a table is.
pub(super) struct Layout {
    /// File name.
    pub(super) file: &'static str,
    /// What one row is.
    pub(super) about: &'static str,
    /// Columns in their order.
    pub(super) columns: &'static [Column],
}

/// A table that is being written.
pub(super) struct Table {
    layout: &'static Layout,
    path: PathBuf,
    writer: csv::Writer<BufWriter<File>>,
    rows: usize,
}

impl Table {
    /// Begins a table in a folder, with its header.
    pub(super) fn begin(folder: &Path, layout: &'static Layout) -> Result<Self, WorkshopError> {
        let path = folder.join(layout.file);
        let file =
            File::create_new(&path).map_err(|error| WorkshopError::file("write", &path, error))?;
        let mut table = Self {
            layout,
            writer: csv::WriterBuilder::new()
                .terminator(csv::Terminator::Any(b'\n'))
                .from_writer(BufWriter::new(file)),
            path,
            rows: 0,
        };
        let header = layout.columns.iter().map(|(name, ..)| *name);
        table
            .writer
            .write_record(header)
            .map_err(|error| table.fault(error))?;
        Ok(table)
    }

    fn fault(&self, error: csv::Error) -> WorkshopError {
        let source = match error.into_kind() {
            csv::ErrorKind::Io(source) => source,
            other => std::io::Error::other(format!("{other:?}")),
        };
        WorkshopError::file("write", &self.path, source)
    }

    /// Adds a row; texts are made harmless.
    pub(super) fn row(&mut self, cells: &[String]) -> Result<(), WorkshopError> {
        let written =
            cells
                .iter()
                .zip(self.layout.columns)
                .map(|(cell, (_, holds, _))| match holds {
                    Holds::Text => harmless(cell),
                    Holds::Number => cell.clone(),
                });
        let written: Vec<String> = written.collect();
        // A row with fewer or more cells than the header is an error of the writer.
        debug_assert_eq!(
            cells.len(),
            self.layout.columns.len(),
            "{}",
            self.layout.file
        );
        self.writer
            .write_record(&written)
            .map_err(|error| self.fault(error))?;
        self.rows += 1;
        Ok(())
    }

    /// Ends the table, flushed to the disk; returns its file name and rows.
    pub(super) fn end(self) -> Result<(&'static str, usize), WorkshopError> {
        let path = self.path;
        let fail = |error| WorkshopError::file("write", &path, error);
        let buffer = self
            .writer
            .into_inner()
            .map_err(|error| fail(error.into_error()))?;
        let mut file = buffer
            .into_inner()
            .map_err(|error| fail(error.into_error()))?;
        file.flush().and_then(|()| file.sync_all()).map_err(fail)?;
        Ok((self.layout.file, self.rows))
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    static LAYOUT: Layout = Layout {
        file: "t.csv",
        about: "",
        columns: &[("text", Holds::Text, ""), ("left_g", Holds::Number, "")],
    };

    #[test]
    fn formulas_are_texts_and_numbers_stay_numbers() {
        let folder = tempfile::tempdir().unwrap();
        let mut table = Table::begin(folder.path(), &LAYOUT).unwrap();
        for (text, number) in [
            ("=HYPERLINK(\"x\")", "-1.5"),
            ("'quoted", "2"),
            ("+49, two\nlines", ""),
            ("－備前", "0.10"),
            ("a=b", "3"),
        ] {
            table.row(&[text.to_owned(), number.to_owned()]).unwrap();
        }
        assert_eq!(table.end().unwrap(), ("t.csv", 5));
        assert_eq!(
            std::fs::read_to_string(folder.path().join("t.csv")).unwrap(),
            "text,left_g\n\"'=HYPERLINK(\"\"x\"\")\",-1.5\n''quoted,2\n\"'+49, two\nlines\",\n'－備前,0.10\na=b,3\n"
        );
    }
}
