//! A spreadsheet of blades, saved as CSV, becomes sheets and entries of the books: each column by a map.

mod cells;
mod guess;
mod map;
mod places;
mod row;
mod run;
mod suggest;
mod targets;
mod text;

use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};
use tangmark_core::Digest;

use crate::journal::{Matter, Who};

pub use map::TableMap;
pub use suggest::suggest_map;
pub use text::Encoding;

/// An entry of the journal that says which row of which file a blade came from, so that the same row never comes twice.
/// What makes it the same is what it says: neither the name of the file nor what stands in the other rows.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct ImportedNote {
    /// Name of the file.
    file: String,
    /// SHA-256 over its bytes.
    digest: Digest,
    /// Line of the row, from 1.
    line: u64,
    /// SHA-256 over what stands in the row.
    row: Digest,
}

impl Matter for ImportedNote {
    const KIND: &'static str = "imported";
}

/// What is asked of an import.
#[derive(Clone, Copy, Debug)]
pub struct ImportPlan<'a> {
    /// The table.
    pub file: &'a Path,
    /// The map.
    pub map: &'a Path,
    /// Show what would become; write nothing.
    pub dry_run: bool,
    /// Enter the sound rows though others are not.
    pub skip_bad: bool,
    /// Take also rows that an earlier import entered.
    pub again: bool,
    /// Who imports.
    pub who: Who<'a>,
}

/// A value that a row sets.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct SetValue {
    /// Place of the sheet, or field of an entry.
    pub place: String,
    /// The value, as a sheet would have it.
    pub value: String,
}

/// Why a row is not taken.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ImportProblem {
    /// Line of the table, from 1.
    pub line: u64,
    /// Column by its name in the header.
    pub column: Option<String>,
    /// The place it goes to.
    pub place: Option<String>,
    /// What was found against what is allowed.
    pub what: String,
    /// The next step.
    pub hint: String,
}

/// What became, or would become, of a row.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum RowFate {
    /// It is sound and would be entered.
    Sound,
    /// It was entered.
    Entered,
    /// An earlier import entered it; skipped.
    ThereAlready,
    /// It is not sound.
    Bad,
}

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ImportedRowLine {
    /// Line of the table, from 1.
    pub line: u64,
    /// Key of its blade, where it has one.
    pub blade: Option<String>,
    /// What became of it.
    pub fate: RowFate,
    /// The values it sets.
    pub values: Vec<SetValue>,
}

/// What came of an import.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ImportOutcome {
    /// The table.
    pub file: PathBuf,
    /// How its letters are written.
    pub encoding: Encoding,
    /// What divides its cells.
    pub separator: char,
    /// The rows.
    pub rows: Vec<ImportedRowLine>,
    /// What is wrong, by line.
    pub problems: Vec<ImportProblem>,
    /// Blades entered.
    pub entered: usize,
    /// Rows that an earlier import entered, skipped.
    pub there: usize,
    /// Rows that are not sound.
    pub bad: usize,
    /// Nothing was to be written.
    pub dry_run: bool,
    /// Nothing was written, since not all rows are sound.
    pub refused: bool,
}
