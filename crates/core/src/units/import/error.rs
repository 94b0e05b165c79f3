//! Why a CSV, or a value of it, was not imported.

use std::fmt;

use serde::{Serialize, Serializer};

use crate::counted;

use super::super::{Decimal, ReadingError, Unit, map::Field, published::Problem};

/// A whole CSV cannot be imported.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
#[allow(missing_docs, reason = "each field is named in the text above it")]
pub enum ImportError {
    /// No header.
    #[error("the CSV is empty: a header line and rows are allowed")]
    Empty,
    /// Too many bytes.
    #[error("the CSV has {bytes} bytes: up to {largest} are allowed")]
    TooLarge { bytes: usize, largest: usize },
    /// UTF-16.
    #[error("the CSV is in UTF-16: UTF-8 is allowed")]
    Utf16,
    /// A quote that is never closed.
    #[error(
        "line {line}: a cell opens with a quote that is never closed, so that all lines after it would be one cell"
    )]
    OpenQuote { line: u64 },
    /// The CSV reader failed.
    #[error("the CSV cannot be read: {reason}")]
    Csv { reason: String },
    /// A mapped column is not in the header.
    #[error("line 1: there is no column `{column}` for {field}: the header has {header}")]
    MissingColumn {
        field: Field,
        column: String,
        header: String,
        semicolons: bool,
    },
    /// A mapped column is there twice.
    #[error("line 1: column `{column}` stands in places {first} and {second}: one is allowed")]
    RepeatedColumn {
        column: String,
        first: usize,
        second: usize,
    },
}

impl ImportError {
    /// Says what to do next.
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Empty => "check that the right file was given",
            Self::TooLarge { .. } => "split it into smaller files, each with the header line",
            Self::Utf16 => "save it again as \"CSV UTF-8\"",
            Self::OpenQuote { .. } => {
                "close the quote, or write a quote inside a cell twice (\"\") in a quoted cell"
            }
            Self::Csv { .. } => "save it again as \"CSV UTF-8\" with commas between the cells",
            Self::MissingColumn {
                semicolons: true, ..
            } => {
                "the cells seem to be divided by semicolons: save it again with commas between the cells"
            }
            Self::MissingColumn { .. } => {
                "map the field to a column of the header, as in `blade_length=nagasa_cm:cm`"
            }
            Self::RepeatedColumn { .. } => "rename one of the two columns",
        }
    }
}

/// What is wrong with a row or a value.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case", tag = "reason")]
#[non_exhaustive]
#[allow(missing_docs, reason = "each field is named in the text of `Display`")]
pub enum Reason {
    /// The row has more or fewer cells than the header.
    Ragged { cells: usize, columns: usize },
    /// Bytes that are no UTF-8.
    NotUtf8,
    /// A cell is too long.
    LongCell { bytes: usize, longest: usize },
    /// A cell holds a character that steers a terminal or a printer.
    Control { character: char },
    /// The identity is empty.
    NoIdentity,
    /// Holder and identity stand in an earlier row too.
    Again { before: u64 },
    /// The cell is no value.
    Unreadable {
        #[serde(serialize_with = "as_text")]
        error: ReadingError,
    },
    /// The published line has a problem there.
    Published {
        #[serde(flatten)]
        problem: Problem,
    },
    /// The published line gives two values for it.
    TwoPublished,
    /// The column and the published line give different values.
    ColumnDiffers {
        column: Decimal,
        published: Decimal,
        difference: Decimal,
        unit: Unit,
    },
    /// The column and the published line differ by rounding.
    Rounded,
    /// Only the column has the value, although the row has a published line.
    ColumnAlone,
    /// The published line gives the value under another label, or under none.
    OtherLabel { label: String },
    /// The published line gives the value under another label, with a fault.
    DoubtfulSource,
    /// Only the published line has the value, although a column is mapped.
    PublishedAlone,
    /// An earlier row bears the same number and another value.
    SameNumber { before: u64 },
}

fn as_text<S: Serializer>(error: &ReadingError, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_str(error)
}

impl Reason {
    /// Says what to do next.
    pub fn hint(&self) -> String {
        match self {
            Self::Ragged { .. } => "quote a cell that holds a comma, or add the missing cells".into(),
            Self::NotUtf8 => "save the file again as \"CSV UTF-8\"".into(),
            Self::LongCell { .. } => "look for a quote that closes too late".into(),
            Self::Control { .. } => "take the character out of the cell, which may not show it: write the text anew and save the table again".into(),
            Self::NoIdentity => "give the row a number or name".into(),
            Self::Again { .. } => "leave one of the two rows out, or give each its own number".into(),
            Self::Unreadable { error } => error.hint(),
            Self::Published { problem } => problem.hint().into(),
            Self::TwoPublished | Self::ColumnDiffers { .. } | Self::DoubtfulSource => {
                "look the value up where it was published, or measure, and enter the right one by hand".into()
            }
            Self::Rounded | Self::ColumnAlone | Self::OtherLabel { .. } => "the column's value is imported: check it where that matters".into(),
            Self::PublishedAlone => "fill in the column if the published value belongs there".into(),
            Self::SameNumber { .. } => "find out which row is right; both are imported as they are".into(),
        }
    }
}

impl fmt::Display for Reason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Ragged { cells, columns } => write!(f, "the row has {}: {columns} are allowed, as in the header", counted(cells, "cell")),
            Self::NotUtf8 => f.write_str("the cell is not UTF-8"),
            Self::LongCell { bytes, longest } => write!(f, "the cell has {bytes} bytes: up to {longest} are allowed"),
            Self::Control { character } => write!(
                f,
                "the control character U+{:04X} found in the cell, of those only tabs and line ends are allowed",
                u32::from(*character)
            ),
            Self::NoIdentity => f.write_str("the row has no identity: a number or name is needed"),
            Self::Again { before } => write!(f, "line {before} has the same holder and identity: one row for each is allowed"),
            Self::Unreadable { error } => error.fmt(f),
            Self::Published { problem } => problem.fmt(f),
            Self::TwoPublished => f.write_str("the published line gives two different values for it: one is allowed"),
            Self::ColumnDiffers { column, published, difference, unit } => write!(
                f,
                "the column gives {column} {unit}, the published line {published} {unit}, {difference} {unit} apart: only rounding may lie between them"
            ),
            Self::Rounded => f.write_str("the column and the published line differ by rounding"),
            Self::ColumnAlone => f.write_str("the published line has no value under this name"),
            Self::OtherLabel { label } if label.is_empty() => f.write_str("the published line gives the value without a label"),
            Self::OtherLabel { label } => write!(f, "the published line gives the value under `{label}`"),
            Self::DoubtfulSource => f.write_str("the published value that it comes from has a fault, listed with the published line"),
            Self::PublishedAlone => f.write_str("the published line gives a value but the column has none, and nothing is imported"),
            Self::SameNumber { before } => write!(f, "line {before} bears the same number and another value"),
        }
    }
}

impl fmt::Display for super::Remark {
    /// `line 3, 2001.574, curvature: …`
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "line {}", self.line)?;
        if !self.identity.is_empty() {
            write!(f, ", {}", super::shorten(&self.identity))?;
        }
        if let Some(field) = self.field {
            write!(f, ", {field}")?;
        }
        write!(f, ": {}", self.reason)?;
        // Reasons from elsewhere quote their values themselves.
        match (&self.reason, &self.first, &self.second) {
            (Reason::Published { .. } | Reason::Unreadable { .. }, _, _) | (_, None, _) => Ok(()),
            (_, Some(first), None) => write!(f, " (`{first}`)"),
            (_, Some(first), Some(second)) => write!(f, " (`{first}` and `{second}`)"),
        }
    }
}
