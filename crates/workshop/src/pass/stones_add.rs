//! A new stone in the list: every byte that is there stays, and the planner tries the longer list first.

use std::fs::{self, File, OpenOptions};
use std::io::Write as _;
use std::path::{Path, PathBuf};

use serde::Serialize;
use tangmark_core::record::AbrasiveOrigin;
use tangmark_core::sheet::{self, SheetFormat};
use tangmark_host::{FaultKind, PluginOutcome, discover};
use tangmark_plugin as plugin;

use super::error::PassError;
use super::stones::{FILE, PLUGIN, Stone, read};
use crate::try_plugin::about;
use crate::{Surroundings, TEMPLATE, Workshop, WorkshopError, given, plugins};

/// A stone that was added.
#[derive(Clone, Debug, Serialize)]
pub struct StoneAdded {
    /// The stone.
    pub stone: Stone,
    /// The list.
    pub file: PathBuf,
    /// Copy of the list as it was before; none where there was no list.
    pub before: Option<PathBuf>,
    /// The usual cautions for a stone of its kind.
    pub cautions: Vec<&'static str>,
    /// What was not tried, and why.
    pub remarks: Vec<String>,
}

impl Workshop {
    /// Adds a stone to the list, the rest of which stays as it is; the list as it was is kept beside it as `.1`.
    ///
    /// `cells` are columns of the list with what stands in them. The planner tries the list with the new stone first.
    ///
    /// # Errors
    /// When a stone of that name is there, a cell says what no stone is, or the planner refuses the list.
    pub fn add_stone(
        &self,
        cells: &[(&str, String)],
        around: &Surroundings<'_>,
    ) -> Result<StoneAdded, WorkshopError> {
        let folder = self.plugin_folder(PLUGIN);
        let file = folder.join(FILE);
        fs::create_dir_all(&folder)
            .map_err(|error| WorkshopError::file("make the folder", &folder, error))?;
        let _lock = lock(&folder.join(".stones.lock"))?;
        let old = match fs::read(&file) {
            Ok(bytes) => Some(bytes),
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => None,
            Err(error) => return Err(WorkshopError::file("read", &file, error)),
        };
        if old.is_some() {
            let name = cells.iter().find(|(column, _)| *column == "name");
            let there = read(&file)?;
            if let Some((_, name)) = name
                && there
                    .iter()
                    .any(|stone| stone.name.to_lowercase() == name.trim().to_lowercase())
            {
                return Err(PassError::StoneThere {
                    name: name.clone(),
                    file,
                }
                .into());
            }
        }
        let text = match &old {
            Some(bytes) => {
                // What reads it refuses what is not UTF-8.
                given::read_table(&file)?;
                longer(&String::from_utf8_lossy(bytes), cells)
            }
            None => first(cells),
        };
        let staged = stage(&folder, text.as_bytes())?;
        let stone = read(staged.path())
            .map_err(not_added)?
            .pop()
            .ok_or_else(|| PassError::StoneRefused("the row is empty".to_owned()))?;
        let mut remarks = Vec::new();
        if let Some(remark) = self.planner_takes(staged.path(), around)? {
            remarks.push(remark);
        }
        let before = match &old {
            Some(bytes) => {
                let copy = folder.join(format!("{FILE}.1"));
                stage(&folder, bytes)?
                    .persist(&copy)
                    .map_err(|error| WorkshopError::file("write", &copy, error.error))?;
                Some(copy)
            }
            None => None,
        };
        staged
            .persist(&file)
            .map_err(|error| WorkshopError::file("write", &file, error.error))?;
        File::open(&folder)
            .and_then(|folder| folder.sync_all())
            .map_err(|error| WorkshopError::file("flush", &folder, error))?;
        let mut cautions = Vec::new();
        if stone.origin == AbrasiveOrigin::Natural {
            cautions.push(super::SILICA);
        }
        Ok(StoneAdded {
            stone,
            file,
            before,
            cautions,
            remarks,
        })
    }

    /// Asks the planner about the list on an empty sheet; a refusal is an error, a planner that is not there a remark.
    fn planner_takes(
        &self,
        list: &Path,
        around: &Surroundings<'_>,
    ) -> Result<Option<String>, WorkshopError> {
        let libraries: Vec<_> = discover(&around.plugin_folders)
            .into_iter()
            .filter(|library| library.name == PLUGIN)
            .collect();
        let not_asked = |why: &str| {
            Some(format!(
                "the planner was not asked whether it takes the list: {why}; `tangmark plan BLADE` will say"
            ))
        };
        if libraries.is_empty() {
            return Ok(not_asked("the plugin `abrasives` was not found"));
        }
        let blank = sheet::read(TEMPLATE.as_bytes(), SheetFormat::Toml, &mut |name| {
            Err(name.to_owned())
        })
        .map_err(|error| WorkshopError::Canonical(error.to_string()))?
        .to_json()
        .map_err(|error| WorkshopError::Canonical(error.to_string()))?;
        let request: plugin::CheckRequest = about(blank, around)?;
        let mut own = self.given(std::iter::once(PLUGIN))?;
        if let Some(tables) = own
            .get_mut(PLUGIN)
            .and_then(|given| given.tables.as_object_mut())
        {
            tables.insert("stones".to_owned(), given::read_table(list)?);
        }
        let outcomes = plugins::host(around).check(&libraries, &self.approvals()?, &request, &own);
        match outcomes.first() {
            Some(PluginOutcome::Failed(failed)) if failed.kind == FaultKind::Refused => {
                Err(PassError::StoneRefused(failed.fault.clone()).into())
            }
            Some(PluginOutcome::Failed(failed)) => Ok(not_asked(&failed.fault)),
            _ => Ok(None),
        }
    }
}

/// A fault of the row in the making is no fault of the list that is there.
fn not_added(error: WorkshopError) -> WorkshopError {
    match error {
        WorkshopError::Pass(PassError::StoneRow { what, .. }) => {
            PassError::StoneRefused(what).into()
        }
        other => other,
    }
}

/// Waits until nobody else changes the list; let go when the file is closed, also by a crash.
fn lock(path: &Path) -> Result<File, WorkshopError> {
    let lock = || -> std::io::Result<File> {
        let file = OpenOptions::new()
            .create(true)
            .truncate(false)
            .write(true)
            .open(path)?;
        file.lock()?;
        Ok(file)
    };
    lock().map_err(|error| WorkshopError::file("lock", path, error))
}

fn stage(folder: &Path, bytes: &[u8]) -> Result<tempfile::NamedTempFile, WorkshopError> {
    use std::os::unix::fs::PermissionsExt as _;
    let fail = |error| WorkshopError::file("write in", folder, error);
    let mut file = tempfile::Builder::new()
        .prefix(".tangmark-")
        .permissions(fs::Permissions::from_mode(0o666))
        .tempfile_in(folder)
        .map_err(fail)?;
    file.write_all(bytes)
        .and_then(|()| file.as_file().sync_all())
        .map_err(fail)?;
    Ok(file)
}

/// A cell as RFC 4180 writes it.
fn cell(text: &str) -> String {
    let text = text.trim();
    if text.contains([',', '"', '\n', '\r']) {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text.to_owned()
    }
}

/// A list with one stone.
fn first(cells: &[(&str, String)]) -> String {
    let heads: Vec<&str> = cells.iter().map(|(column, _)| *column).collect();
    let row: Vec<String> = cells.iter().map(|(_, text)| cell(text)).collect();
    format!("{}\n{}\n", heads.join(","), row.join(","))
}

/// A list with one row more. Every byte that is there stays; columns that it lacks come at the end of each row.
fn longer(text: &str, cells: &[(&str, String)]) -> String {
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .from_reader(text.as_bytes());
    let mut starts = Vec::new();
    let mut heads: Vec<String> = Vec::new();
    // What cannot be read was refused before.
    for record in reader.records().flatten() {
        let start = record
            .position()
            .and_then(|position| usize::try_from(position.byte()).ok())
            .unwrap_or(0);
        if starts.is_empty() {
            let plain = |head: &str| head.trim().trim_start_matches('\u{feff}').to_owned();
            heads = record.iter().map(plain).collect();
        }
        starts.push(start.min(text.len()));
    }
    let lacking: Vec<&str> = cells
        .iter()
        .map(|(column, _)| *column)
        .filter(|column| !heads.iter().any(|head| head == column))
        .collect();
    let newline = if text.contains("\r\n") { "\r\n" } else { "\n" };
    let mut longer = String::with_capacity(text.len() + 200);
    for (index, start) in starts.iter().enumerate() {
        let end = starts.get(index + 1).copied().unwrap_or(text.len());
        let row = &text[*start..end];
        let body = row.trim_end_matches(['\r', '\n']);
        longer.push_str(body);
        for column in &lacking {
            longer.push(',');
            if index == 0 {
                longer.push_str(column);
            }
        }
        longer.push_str(&row[body.len()..]);
    }
    if !longer.ends_with('\n') {
        longer.push_str(newline);
    }
    let of = |head: &str| {
        let found = cells.iter().find(|(column, _)| *column == head);
        found.map(|(_, text)| cell(text)).unwrap_or_default()
    };
    let row: Vec<String> = heads
        .iter()
        .map(String::as_str)
        .chain(lacking)
        .map(of)
        .collect();
    longer.push_str(&row.join(","));
    longer.push_str(newline);
    longer
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cells() -> Vec<(&'static str, String)> {
        vec![
            ("name", "hard, grey slate".to_owned()),
            ("origin", "natural".to_owned()),
            ("stage", "koma_nagura".to_owned()),
        ]
    }

    #[test]
    fn a_row_more_leaves_every_byte_that_is_there() {
        let list = "\u{feff}name , origin,stage,d50_um\r\n\"a \"\"soft\"\"\r\none\",natural,,3\r\n\r\nb,synthetic,arato, 57 ";
        assert_eq!(
            longer(list, &cells()),
            format!("{list}\r\n\"hard, grey slate\",natural,koma_nagura,\r\n")
        );
    }

    #[test]
    fn columns_that_lack_come_at_the_end() {
        assert_eq!(
            longer("name,origin\na,natural\n\"b\nc\",synthetic\n", &cells()),
            "name,origin,stage\na,natural,\n\"b\nc\",synthetic,\n\"hard, grey slate\",natural,koma_nagura\n"
        );
    }

    #[test]
    fn a_first_stone_makes_the_list() {
        assert_eq!(
            first(&cells()),
            "name,origin,stage\n\"hard, grey slate\",natural,koma_nagura\n"
        );
    }
}
