//! Everything a workshop holds as tables of texts, for a spreadsheet or a program of one's own.

mod from_records;
mod from_sheets;
mod layouts;
mod table;

use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};

use serde::Serialize;
use tangmark_core::json::canonical_bytes;
use tangmark_store::{EntryFilter, StandingFilter, StandingRow, Store as _};

use self::layouts::ALL;
use self::table::{Holds, Layout, Table};
use super::{BookLine, BooksError};
use crate::fitting::Which;
use crate::{Workshop, WorkshopError};

/// The file that explains the others, and by whose first line an export is known again.
const README: &str = "README.txt";
/// Its first line.
const MARK: &str = "The books of a Tangmark workshop as tables";
/// Blades that are looked at in one go.
const PAGE: usize = 500;

/// Where an export goes.
#[derive(Clone, Copy, Debug)]
pub struct ExportWish<'a> {
    /// The folder, which is made.
    pub folder: &'a Path,
    /// It may take the place of an earlier export.
    pub replace: bool,
}

/// A table that was written.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ExportedTable {
    /// File name.
    pub file: String,
    /// Rows below the header.
    pub rows: usize,
}

/// What an export wrote.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ExportedBooks {
    /// The folder.
    pub folder: PathBuf,
    /// Its tables.
    pub tables: Vec<ExportedTable>,
}

/// The tables that are being written.
struct Tables {
    folder: PathBuf,
    open: Vec<Table>,
}

impl Tables {
    fn begin(folder: &Path) -> Result<Self, WorkshopError> {
        Ok(Self {
            folder: folder.to_owned(),
            open: ALL
                .iter()
                .map(|layout| Table::begin(folder, layout))
                .collect::<Result<_, _>>()?,
        })
    }

    fn row(&mut self, layout: &'static Layout, cells: &[String]) -> Result<(), WorkshopError> {
        let table = ALL
            .iter()
            .zip(&mut self.open)
            .find_map(|(one, table)| std::ptr::eq(*one, layout).then_some(table));
        table.map_or(Ok(()), |table| table.row(cells))
    }

    fn end(self) -> Result<Vec<ExportedTable>, WorkshopError> {
        let readme = self.folder.join(README);
        let mut file = fs::File::create_new(&readme)
            .map_err(|error| WorkshopError::file("write", &readme, error))?;
        file.write_all(explanation().as_bytes())
            .and_then(|()| file.sync_all())
            .map_err(|error| WorkshopError::file("write", &readme, error))?;
        self.open
            .into_iter()
            .map(|table| {
                let (file, rows) = table.end()?;
                Ok(ExportedTable {
                    file: file.to_owned(),
                    rows,
                })
            })
            .collect()
    }
}

/// The file that explains the tables.
fn explanation() -> String {
    use std::fmt::Write as _;
    let mut text = format!(
        "{MARK}\n\n\
         Each file is a table: one header line, cells divided by commas and quoted where needed (RFC 4180), UTF-8, lines\n\
         ended by a line feed, a full stop before decimals, dates as year-month-day. Units stand in the names of columns.\n\
         An empty cell says nothing was entered. Rows stand by blade, then as on its sheet; entries of the journal by number.\n\n\
         Texts that a spreadsheet would run as a formula (those that begin with = + - @, their full-width forms, a tab or a\n\
         carriage return) have an apostrophe put before them, and so has a text that begins with an apostrophe: take the first\n\
         apostrophe off, and the text is as it was. Columns of numbers are marked `number`; nothing is put before those.\n\n\
         The tables hold names, addresses and prices that sealed records withhold: give them to nobody who must not\n\
         have them.\n"
    );
    for layout in ALL {
        let _ = writeln!(text, "\n{}: {}", layout.file, layout.about);
        for (name, holds, about) in layout.columns {
            let kind = match holds {
                Holds::Text => "text",
                Holds::Number => "number",
            };
            let _ = writeln!(text, "  {name} ({kind}): {about}");
        }
    }
    text
}

/// A value that may be missing, as a cell.
fn opt(value: Option<impl ToString>) -> String {
    value.map_or_else(String::new, |value| value.to_string())
}

fn yes(value: bool) -> String {
    if value { "yes" } else { "no" }.to_owned()
}

impl Workshop {
    /// Writes everything into tables in a new folder: whole or not at all.
    ///
    /// # Errors
    /// When the folder is there already, unless it is an earlier export that may be replaced; when it cannot be written.
    pub fn export_books(
        &self,
        wish: &ExportWish<'_>,
        progress: &mut dyn FnMut(u64, u64),
    ) -> Result<ExportedBooks, WorkshopError> {
        let there = look_at(wish.folder)?;
        match there {
            There::Nothing => {}
            There::Export if wish.replace => {}
            There::Export | There::Other => {
                return Err(BooksError::ExportThere {
                    path: wish.folder.to_owned(),
                    own: there == There::Export,
                }
                .into());
            }
        }
        let above = wish
            .folder
            .parent()
            .filter(|above| !above.as_os_str().is_empty())
            .unwrap_or(Path::new("."));
        fs::create_dir_all(above)
            .map_err(|error| WorkshopError::file("make the folder", above, error))?;
        let part = tempfile::Builder::new()
            .prefix(".books-")
            .suffix(".part")
            .permissions(folder_rights())
            .tempdir_in(above)
            .map_err(|error| WorkshopError::file("make a folder in", above, error))?;
        let mut tables = Tables::begin(part.path())?;
        self.write_tables(&mut tables, progress)?;
        let tables = tables.end()?;
        put_in_place(part, wish.folder, there)?;
        Ok(ExportedBooks {
            folder: wish.folder.to_owned(),
            tables,
        })
    }

    fn write_tables(
        &self,
        tables: &mut Tables,
        progress: &mut dyn FnMut(u64, u64),
    ) -> Result<(), WorkshopError> {
        let total = u64::try_from(self.store().blades()?.len()).unwrap_or(u64::MAX);
        let own = self.name()?;
        let mut done = 0;
        let mut after: Option<String> = None;
        loop {
            let page = self.store().standings(&StandingFilter {
                after: after.as_deref(),
                limit: PAGE,
                ..StandingFilter::default()
            })?;
            let Some(last) = page.last() else { break };
            after = Some(last.blade.clone());
            for row in &page {
                standing(tables, row)?;
                let sheet = self.kept_sheet(&row.blade)?;
                let on_sheet = sheet.as_ref().map(|sheet| sheet.passes.clone());
                let passes = self.all_passes(&row.blade, on_sheet.unwrap_or_default())?;
                from_sheets::passes(tables, &row.blade, &passes)?;
                if let Some(sheet) = sheet {
                    let trades = self.trades(&row.blade, &sheet.custody, &own)?;
                    from_sheets::sheet(tables, &sheet, &trades)?;
                }
                if row.records > 0 {
                    self.export_records(tables, &row.blade)?;
                }
                done += 1;
                progress(done, total);
            }
        }
        for line in self.fittings(Which::All)? {
            if line.place.blade().is_none() {
                let shown = self.fitting(&line.id)?;
                from_sheets::fitting(tables, "", &line.place.words(), &shown.fitting)?;
            }
        }
        for line in self.book_lines(None)? {
            book_line(tables, &line)?;
        }
        for line in self.stock()? {
            tables.row(
                &layouts::STOCK,
                &[
                    line.item,
                    line.unit.code().to_owned(),
                    line.came.to_string(),
                    line.used.to_string(),
                    line.left.to_string(),
                ],
            )?;
        }
        self.export_journal(tables)
    }

    fn export_journal(&self, tables: &mut Tables) -> Result<(), WorkshopError> {
        let all = EntryFilter {
            whole: true,
            ..EntryFilter::default()
        };
        for row in self.store().entries(&all)? {
            let body = row.body.as_ref();
            let content = body
                .map(canonical_bytes)
                .transpose()
                .map_err(|error| WorkshopError::Canonical(error.to_string()))?
                .unwrap_or_default();
            if let (Some(body), None, "stage") = (body, row.replaced_by, row.kind.as_str()) {
                let text = |name: &str| body.get(name).and_then(|value| value.as_str());
                let ended = body.get("ended").and_then(serde_json::Value::as_bool);
                tables.row(
                    &layouts::STAGES,
                    &[
                        opt(row.blade.as_deref()),
                        row.number.to_string(),
                        row.on.clone(),
                        opt(text("stage")),
                        yes(ended.unwrap_or(false)),
                        opt(text("note")),
                        row.at.clone(),
                        row.by.clone(),
                    ],
                )?;
            }
            tables.row(
                &layouts::JOURNAL,
                &[
                    row.number.to_string(),
                    row.kind,
                    opt(row.blade),
                    row.subject,
                    row.on,
                    row.at,
                    row.by,
                    opt(row.replaces),
                    opt(row.replaced_by),
                    String::from_utf8_lossy(&content).into_owned(),
                ],
            )?;
        }
        Ok(())
    }
}

fn standing(tables: &mut Tables, row: &StandingRow) -> Result<(), WorkshopError> {
    tables.row(
        &layouts::BLADES,
        &[
            row.blade.clone(),
            row.title.clone(),
            opt(row.kind.as_ref()),
            opt(row.stage.as_ref()),
            opt(row.stage_since.as_ref()),
            yes(row.ended),
            opt(row.revision),
            opt(row.saved_at.as_ref()),
            row.records.to_string(),
            opt(row.tip.as_ref()),
            opt(row.purpose.as_ref()),
            opt(row.decision.as_ref()),
            row.stops.to_string(),
            row.passes.to_string(),
            opt(row.minutes),
            opt(row.mass_first),
            opt(row.mass_last),
            opt(row.return_by.as_ref()),
        ],
    )
}

fn book_line(tables: &mut Tables, line: &BookLine) -> Result<(), WorkshopError> {
    let blade = opt(line.blade.as_ref());
    let number = line.number.to_string();
    let amount = opt(line.money.as_ref().map(|money| money.amount));
    let currency = opt(line.money.as_ref().map(|money| &money.currency));
    let quantity = line.amount.as_ref();
    match line.kind.as_str() {
        "hours" => tables.row(
            &layouts::HOURS,
            &[
                blade,
                line.kind.clone(),
                number,
                String::new(),
                line.on.clone(),
                opt(quantity.map(|time| time.value)),
                line.what.clone(),
                line.by.clone(),
            ],
        ),
        "income" => tables.row(
            &layouts::SALES,
            &[
                blade,
                line.kind.clone(),
                number,
                line.on.clone(),
                line.what.clone(),
                opt(line.party.as_ref()),
                amount,
                currency,
                line.by.clone(),
            ],
        ),
        _ => tables.row(
            &layouts::COSTS,
            &[
                blade,
                line.kind.clone(),
                number,
                line.on.clone(),
                line.what.clone(),
                opt(line.party.as_ref()),
                amount,
                currency,
                opt(quantity.map(|amount| amount.value)),
                opt(quantity.map(|amount| amount.unit.code())),
                opt(line.note.as_ref()),
                line.by.clone(),
            ],
        ),
    }
}

/// What stands where an export shall go.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum There {
    /// Nothing, or an empty folder.
    Nothing,
    /// An earlier export and nothing else.
    Export,
    /// Something else.
    Other,
}

fn look_at(folder: &Path) -> Result<There, WorkshopError> {
    let fail = |error| WorkshopError::file("look into", folder, error);
    match fs::symlink_metadata(folder) {
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(There::Nothing),
        Err(error) => return Err(fail(error)),
        Ok(found) if !found.is_dir() => return Ok(There::Other),
        Ok(_) => {}
    }
    let mut names = Vec::new();
    for entry in fs::read_dir(folder).map_err(fail)? {
        names.push(entry.map_err(fail)?.file_name());
    }
    if names.is_empty() {
        return Ok(There::Nothing);
    }
    // A file that somebody put beside the tables would go with them.
    let ours =
        |name: &std::ffi::OsString| name == README || ALL.iter().any(|layout| name == layout.file);
    let marked =
        fs::read_to_string(folder.join(README)).is_ok_and(|text| text.lines().next() == Some(MARK));
    Ok(if marked && names.iter().all(ours) {
        There::Export
    } else {
        There::Other
    })
}

/// Moves the finished folder to its place; an earlier export is set aside first and removed last, so that at every moment
/// one of the two is whole.
fn put_in_place(part: tempfile::TempDir, folder: &Path, there: There) -> Result<(), WorkshopError> {
    let fail = |error| WorkshopError::file("move the tables to", folder, error);
    let part = part.keep();
    let moved = if there == There::Export {
        let old = part.with_extension("old");
        fs::rename(folder, &old).and_then(|()| match fs::rename(&part, folder) {
            Ok(()) => fs::remove_dir_all(&old),
            Err(error) => fs::rename(&old, folder).and(Err(error)),
        })
    } else {
        fs::rename(&part, folder)
    };
    moved.map_err(|error| {
        let _ = fs::remove_dir_all(&part);
        fail(error)
    })
}

/// The rights of a folder made in the plain way; what the user's own mask takes away is taken away here too.
fn folder_rights() -> fs::Permissions {
    use std::os::unix::fs::PermissionsExt as _;
    fs::Permissions::from_mode(0o777)
}
