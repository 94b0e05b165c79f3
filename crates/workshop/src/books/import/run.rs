//! Going through the rows of a table: checked first, all of them, then entered one by one.

use std::collections::{BTreeMap, BTreeSet, VecDeque};
use std::path::Path;

use serde_json::json;
use tangmark_core::Digest;
use tangmark_core::units::import::{Table, TableRow, read_table};
use tangmark_store::Store as _;

use super::super::BooksError;
use super::row::{Booked, Columns, Ready, convert};
use super::{
    Encoding, ImportOutcome, ImportPlan, ImportProblem, ImportedNote, ImportedRowLine, RowFate,
    TableMap, text,
};
use crate::edit::Edit;
use crate::import::key_of;
use crate::journal::Who;
use crate::{Surroundings, Workshop, WorkshopError, input};

/// A table with its letters.
pub(super) struct ReadTable {
    pub(super) table: Table,
    pub(super) encoding: Encoding,
    pub(super) separator: char,
    digest: Digest,
}

pub(super) fn read(
    file: &Path,
    encoding: Option<Encoding>,
    separator: Option<char>,
) -> Result<ReadTable, WorkshopError> {
    let bytes = input::whole(file, input::LONGEST)?;
    let (text, encoding) = text::decode(file, &bytes, encoding)?;
    let separator = separator.unwrap_or_else(|| text::separator(&text));
    let by = u8::try_from(separator).unwrap_or(b',');
    let table = read_table(text.as_bytes(), by).map_err(|error| BooksError::Table {
        file: file.to_owned(),
        error,
    })?;
    Ok(ReadTable {
        table,
        encoding,
        separator,
        digest: Digest::of(&bytes),
    })
}

/// Finds the columns of a map in the header of a table.
fn columns<'m>(file: &Path, map: &'m TableMap, table: &Table) -> Result<Columns<'m>, BooksError> {
    let find = |name: &str| {
        let mut places = table
            .header
            .iter()
            .enumerate()
            .filter(|(_, head)| *head == name);
        match (places.next(), places.next()) {
            (Some((at, _)), None) => Ok(at),
            (None, _) => {
                let near = tangmark_core::check::nearest(name, &table.header);
                Err(BooksError::Map {
                    file: file.to_owned(),
                    what: format!(
                        "there is no column `{name}` in the header: {}",
                        table.header.join(", ")
                    ),
                    hint: near.map_or_else(
                        || {
                            "write the name as it stands in the header, or check `separator`"
                                .to_owned()
                        },
                        |near| format!("did you mean `{near}`?"),
                    ),
                })
            }
            (Some((first, _)), Some((second, _))) => Err(BooksError::Map {
                file: file.to_owned(),
                what: format!(
                    "column `{name}` stands in places {} and {} of the header, one is allowed",
                    first + 1,
                    second + 1
                ),
                hint: "rename one of the two in the table".to_owned(),
            }),
        }
    };
    Ok(Columns {
        key: find(&map.key)?,
        mapped: map
            .columns
            .iter()
            .map(|(name, target)| Ok((find(name)?, name.as_str(), target)))
            .collect::<Result<_, BooksError>>()?,
        count: table.header.len(),
    })
}

/// A row with its blade, ready to be written.
struct Checked {
    line: u64,
    at: usize,
    edit: Edit,
}

/// The rows of one import as they are gone through.
struct Rows<'a> {
    map: &'a TableMap,
    /// Rows that earlier imports entered, each with the blades that came of it: two equal rows are two blades.
    known: BTreeMap<Digest, VecDeque<Option<String>>>,
    /// Keys of the workshop, and of rows before.
    taken: BTreeSet<String>,
    /// Line of each key of this table.
    of_line: BTreeMap<String, u64>,
}

/// A row that an earlier import entered.
struct EnteredBefore {
    blade: Option<String>,
}

/// What a row says, as one digest.
fn row_digest(row: &TableRow) -> Digest {
    Digest::of(json!(row.said()).to_string().as_bytes())
}

impl Rows<'_> {
    /// Takes a row that an earlier import entered, with its blade where it has one; nothing where none is left.
    fn entered_before(&mut self, line: u64, row: Digest) -> Option<EnteredBefore> {
        let blade = self.known.get_mut(&row)?.pop_front()?;
        if let Some(blade) = &blade {
            self.of_line.insert(blade.clone(), line);
        }
        Some(EnteredBefore { blade })
    }

    /// Gives a row its key.
    fn key(&mut self, line: u64, named: &str) -> Result<String, ImportProblem> {
        let key = if self.map.number_repeated {
            key_of(named, &self.taken)
        } else {
            key_of(named, &BTreeSet::new())
        };
        if !self.taken.insert(key.clone()) {
            let earlier = self.of_line.get(&key).map_or_else(
                || "is in the workshop already".to_owned(),
                |earlier| format!("is that of line {earlier} too"),
            );
            return Err(ImportProblem {
                line,
                column: Some(self.map.key.clone()),
                place: Some("blade.id".to_owned()),
                what: format!("`{named}` gives the key `{key}`, which {earlier}"),
                hint: "give the row another name, take it out, or let keys be numbered with repeated = \"number\" under [key]"
                    .to_owned(),
            });
        }
        self.of_line.insert(key.clone(), line);
        Ok(key)
    }
}

/// The column that fills a place, or that would fill the field that a problem says is missing there.
fn column_of(map: &TableMap, field: &str, what: &str) -> Option<String> {
    let fills = map
        .columns
        .iter()
        .find(|(_, target)| field.starts_with(&target.to));
    let lacks = || {
        map.columns.iter().find(|(_, target)| {
            let rest = target.to.strip_prefix(field);
            let name = rest.and_then(|rest| rest.strip_prefix('.'));
            name.is_some_and(|name| what.contains(&format!("`{name}`")))
        })
    };
    let (name, _) = fills.or_else(lacks)?;
    Some(name.clone())
}

/// Turns the problems of a sheet into problems of a row, each with the column it comes from.
fn of_row(line: u64, map: &TableMap, error: WorkshopError) -> Vec<ImportProblem> {
    let WorkshopError::Sheet { error, .. } = error else {
        return vec![ImportProblem {
            line,
            column: None,
            place: None,
            what: error.to_string(),
            hint: error.hint(),
        }];
    };
    error
        .problems
        .into_iter()
        .map(|problem| {
            let column = column_of(map, &problem.field, &problem.what);
            ImportProblem {
                line,
                column,
                place: Some(problem.field),
                what: problem.what,
                hint: format!(
                    "{}; a value that is the same in every row is given under [[value]] of the map",
                    problem.hint
                ),
            }
        })
        .collect()
}

impl Workshop {
    /// Imports a table by its map: each sound row becomes a blade with its first sheet and its entries. Nothing is written
    /// unless every row is sound or `skip_bad` is asked for. A row that an earlier import entered is skipped unless it is
    /// asked for `again`, so that an import that was ended goes on, and so does one whose bad rows were mended.
    ///
    /// # Errors
    /// When the table or the map cannot be read at all.
    pub fn import_table(
        &self,
        plan: &ImportPlan<'_>,
        around: &Surroundings<'_>,
        progress: &mut dyn FnMut(u64, u64),
    ) -> Result<ImportOutcome, WorkshopError> {
        let text = input::text(plan.map, input::LONGEST)?;
        let map = TableMap::read(plan.map, &text)?;
        let found = read(plan.file, map.encoding, map.separator)?;
        let columns = columns(plan.map, &map, &found.table)?;
        let mut known: BTreeMap<_, VecDeque<_>> = BTreeMap::new();
        if !plan.again {
            for entry in self.noted::<ImportedNote>(None, None)? {
                let blades = known.entry(entry.matter.row).or_default();
                blades.push_back(entry.blade);
            }
        }
        let mut rows = Rows {
            map: &map,
            taken: self
                .store()
                .blades()?
                .into_iter()
                .map(|row| row.id)
                .collect(),
            of_line: BTreeMap::new(),
            known,
        };
        let note = |line: u64, row: Digest| ImportedNote {
            file: plan
                .file
                .file_name()
                .map(|name| name.to_string_lossy().into_owned())
                .unwrap_or_default(),
            digest: found.digest,
            line,
            row,
        };
        let mut outcome = ImportOutcome {
            file: plan.file.to_owned(),
            encoding: found.encoding,
            separator: found.separator,
            rows: Vec::new(),
            problems: Vec::new(),
            entered: 0,
            there: 0,
            bad: 0,
            dry_run: plan.dry_run,
            refused: false,
        };
        let mut ready = Vec::new();
        for row in &found.table.rows {
            let digest = row_digest(row);
            if let Some(EnteredBefore { blade }) = rows.entered_before(row.line, digest) {
                outcome.there += 1;
                outcome.rows.push(ImportedRowLine {
                    line: row.line,
                    blade,
                    fate: RowFate::ThereAlready,
                    values: Vec::new(),
                });
                continue;
            }
            let made = convert(row, &columns, &map).and_then(|made| {
                let key = rows
                    .key(row.line, &made.named)
                    .map_err(|problem| vec![problem])?;
                let values = made.set.clone();
                let edit = self
                    .as_edit(&key, made, &note(row.line, digest), &plan.who, around)
                    .and_then(|edit| edit.sheet().map(|_| edit))
                    .map_err(|error| of_row(row.line, &map, error))?;
                Ok((key, edit, values))
            });
            match made {
                Ok((key, edit, values)) => {
                    ready.push(Checked {
                        line: row.line,
                        at: outcome.rows.len(),
                        edit,
                    });
                    outcome.rows.push(ImportedRowLine {
                        line: row.line,
                        blade: Some(key),
                        fate: RowFate::Sound,
                        values,
                    });
                }
                Err(problems) => {
                    outcome.bad += 1;
                    outcome.problems.extend(problems);
                    outcome.rows.push(ImportedRowLine {
                        line: row.line,
                        blade: None,
                        fate: RowFate::Bad,
                        values: Vec::new(),
                    });
                }
            }
        }
        outcome.refused = outcome.bad > 0 && !plan.skip_bad && !plan.dry_run;
        if plan.dry_run || outcome.refused {
            return Ok(outcome);
        }
        let total = u64::try_from(ready.len()).unwrap_or(u64::MAX);
        for (done, one) in (1..).zip(ready) {
            let remark = format!("imported, line {}", one.line);
            one.edit.save(self, &remark, around)?;
            outcome.entered += 1;
            if let Some(row) = outcome.rows.get_mut(one.at) {
                row.fate = RowFate::Entered;
            }
            progress(done, total);
        }
        Ok(outcome)
    }

    /// Puts what a row becomes into one change of the store.
    fn as_edit(
        &self,
        key: &str,
        made: Ready,
        note: &ImportedNote,
        who: &Who<'_>,
        around: &Surroundings<'_>,
    ) -> Result<Edit, WorkshopError> {
        let mut body = made.body;
        body["blade"]["id"] = json!(key);
        let mut edit = Self::begin(key, body);
        edit.note(self, &note.digest.to_string(), note, who, around)?;
        for one in made.booked {
            match one {
                Booked::Cost(entry, on) => {
                    edit.note(self, "", &entry, &on_day(Some(&on), who), around)?;
                }
                Booked::Income(entry, on) => {
                    edit.note(self, "", &entry, &on_day(Some(&on), who), around)?;
                }
                Booked::Hours(entry, on) => {
                    edit.note(self, "", &entry, &on_day(Some(&on), who), around)?;
                }
                Booked::Stage(entry, on) => {
                    edit.note(self, "", &entry, &on_day(on.as_deref(), who), around)?;
                }
                Booked::Intake(entry, on) => {
                    edit.note(self, "", &entry, &on_day(on.as_deref(), who), around)?;
                }
            }
        }
        Ok(edit)
    }
}

/// Who enters it, on the day a row names or, where it names none, on that of the import.
fn on_day<'a>(on: Option<&'a str>, who: &Who<'a>) -> Who<'a> {
    Who {
        on: on.or(who.on),
        ..*who
    }
}
