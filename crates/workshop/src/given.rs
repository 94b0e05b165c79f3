//! What the user gave each plugin: `plugins/<name>/settings.toml` and `plugins/<name>/<table>.csv` in the workshop folder.
//!
//! A table lies in the folder of the plugin that may read it: prices are given to `valuation` and to no other.

use std::collections::BTreeMap;
use std::fs;
use std::io::Read as _;
use std::path::{Path, PathBuf};

use serde::Serialize;
use serde_json::{Map, Value};
use tangmark_host::Given;
use unicode_normalization::UnicodeNormalization as _;

use crate::{Workshop, WorkshopError, counted};

/// Folder in the workshop, with one folder for each plugin.
const FOLDER: &str = "plugins";
/// File name of a plugin's settings.
const SETTINGS: &str = "settings.toml";
/// Largest file, in bytes.
const LARGEST: u64 = 4 << 20;
/// Most rows of a table.
const MOST_ROWS: usize = 10_000;
/// Most columns of a table.
const MOST_COLUMNS: usize = 100;

/// A file for a plugin is not what it should be.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum GivenError {
    /// Cannot be read.
    #[error("{}: cannot read it: {source}", path.display())]
    Read {
        /// The file.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
    /// Too large.
    #[error("{}: {found} bytes or more, at most {LARGEST} are allowed", path.display())]
    Large {
        /// The file.
        path: PathBuf,
        /// Bytes found.
        found: u64,
    },
    /// Not what its name says it is.
    #[error("{}: {what}", path.display())]
    Form {
        /// The file.
        path: PathBuf,
        /// What is wrong and where.
        what: String,
    },
}

impl GivenError {
    /// Returns the next step.
    pub fn hint(&self) -> String {
        match self {
            Self::Read { path, .. } => format!(
                "make `{}` readable, or move it out of the folder",
                path.display()
            ),
            Self::Large { .. } => "keep in it what the plugin needs, or split it".to_owned(),
            Self::Form { path, .. } => format!(
                "mend `{}`, or move it out of the folder; the plugin's README says what belongs into it",
                path.display()
            ),
        }
    }

    fn form(path: &Path, what: impl Into<String>) -> Self {
        Self::Form {
            path: path.to_owned(),
            what: what.into(),
        }
    }
}

/// What a plugin is given, for a listing.
#[derive(Clone, Debug, Serialize)]
pub struct GivenLine {
    /// The settings file, where there is one.
    pub settings: Option<PathBuf>,
    /// Tables by name, with their number of rows.
    pub tables: BTreeMap<String, usize>,
}

impl Workshop {
    /// Folder in which a plugin's settings and tables lie.
    pub fn plugin_folder(&self, plugin: &str) -> PathBuf {
        self.folder().join(FOLDER).join(plugin)
    }

    /// Reads what the user gave each of the named plugins.
    pub(crate) fn given<'n>(
        &self,
        plugins: impl Iterator<Item = &'n str>,
    ) -> Result<BTreeMap<String, Given>, WorkshopError> {
        plugins
            .map(|name| Ok((name.to_owned(), read_folder(&self.plugin_folder(name))?)))
            .collect()
    }

    /// Tells what the user gave a plugin.
    ///
    /// # Errors
    /// When a file is not what it should be.
    pub fn given_line(&self, plugin: &str) -> Result<GivenLine, WorkshopError> {
        let folder = self.plugin_folder(plugin);
        let given = read_folder(&folder)?;
        let settings = folder.join(SETTINGS);
        let tables = given.tables.as_object().into_iter().flatten();
        Ok(GivenLine {
            settings: settings.is_file().then_some(settings),
            tables: tables
                .map(|(name, rows)| (name.clone(), rows.as_array().map_or(0, Vec::len)))
                .collect(),
        })
    }
}

fn read_folder(folder: &Path) -> Result<Given, GivenError> {
    let mut given = Given::default();
    let fault = |source| GivenError::Read {
        path: folder.to_owned(),
        source,
    };
    let entries = match fs::read_dir(folder) {
        Ok(entries) => entries,
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(given),
        Err(error) => return Err(fault(error)),
    };
    let mut paths = entries
        .map(|entry| entry.map(|entry| entry.path()))
        .collect::<Result<Vec<_>, _>>()
        .map_err(fault)?;
    paths.sort();
    for path in paths {
        let name = path
            .file_name()
            .map(|name| name.to_string_lossy().into_owned())
            .unwrap_or_default();
        if name == SETTINGS {
            given.settings = read_settings(&path)?;
        } else if let Some(table) = name.strip_suffix(".csv")
            && let Some(tables) = given.tables.as_object_mut()
        {
            tables.insert(table.to_owned(), read_table(&path)?);
        }
    }
    Ok(given)
}

fn read_text(path: &Path) -> Result<String, GivenError> {
    let fault = |source| GivenError::Read {
        path: path.to_owned(),
        source,
    };
    // A device states no length, so what counts is what is read.
    let mut bytes = Vec::new();
    fs::File::open(path)
        .and_then(|file| file.take(LARGEST + 1).read_to_end(&mut bytes))
        .map_err(fault)?;
    let found = bytes.len() as u64;
    if found > LARGEST {
        return Err(GivenError::Large {
            path: path.to_owned(),
            found,
        });
    }
    let text = String::from_utf8(bytes).map_err(|error| {
        GivenError::form(
            path,
            format!(
                "byte {} is not UTF-8; save the file as UTF-8",
                error.utf8_error().valid_up_to()
            ),
        )
    })?;
    let text = text.strip_prefix('\u{feff}').unwrap_or(&text);
    Ok(text.nfc().collect())
}

/// Reads settings written in TOML into JSON: dates become texts.
///
/// # Errors
/// When the file cannot be read or is no TOML.
pub(crate) fn read_settings(path: &Path) -> Result<Value, GivenError> {
    let text = read_text(path)?;
    let table: toml::Table = toml::from_str(&text).map_err(|error| {
        let line = error.span().map_or(1, |span| {
            text[..span.start.min(text.len())].matches('\n').count() + 1
        });
        GivenError::form(path, format!("line {line}: {}", error.message()))
    })?;
    json(toml::Value::Table(table), path, "")
}

fn json(value: toml::Value, path: &Path, place: &str) -> Result<Value, GivenError> {
    Ok(match value {
        toml::Value::String(text) => Value::String(text),
        toml::Value::Integer(number) if number.unsigned_abs() < 1 << 53 => Value::from(number),
        toml::Value::Integer(number) => {
            return Err(GivenError::form(
                path,
                format!("`{place}` is {number}; whole numbers below 2^53 are allowed"),
            ));
        }
        toml::Value::Float(number) => serde_json::Number::from_f64(number)
            .map(Value::Number)
            .ok_or_else(|| {
                GivenError::form(
                    path,
                    format!("`{place}` is {number}; a finite number is needed"),
                )
            })?,
        toml::Value::Boolean(yes) => Value::Bool(yes),
        toml::Value::Datetime(date) => Value::String(date.to_string()),
        toml::Value::Array(all) => all
            .into_iter()
            .enumerate()
            .map(|(index, one)| json(one, path, &format!("{place}[{index}]")))
            .collect::<Result<_, _>>()?,
        toml::Value::Table(table) => table
            .into_iter()
            .map(|(name, one)| {
                let inner = if place.is_empty() {
                    name.clone()
                } else {
                    format!("{place}.{name}")
                };
                Ok((name, json(one, path, &inner)?))
            })
            .collect::<Result<Map<_, _>, GivenError>>()?
            .into(),
    })
}

/// Reads a table written in CSV with a heading: cells are trimmed, empty ones left out.
///
/// # Errors
/// When the file cannot be read, or a row does not fit the heading.
pub(crate) fn read_table(path: &Path) -> Result<Value, GivenError> {
    let text = read_text(path)?;
    let mut reader = csv::ReaderBuilder::new()
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let bad = |error: &csv::Error| {
        let line = error.position().map_or(0, csv::Position::line);
        let what = match error.kind() {
            csv::ErrorKind::UnequalLengths {
                expected_len, len, ..
            } => format!("{}, the heading has {expected_len}", counted(len, "cell")),
            _ => "it cannot be read as CSV".to_owned(),
        };
        GivenError::form(path, format!("line {line}: {what}"))
    };
    let heads: Vec<String> = reader
        .headers()
        .map_err(|error| bad(&error))?
        .iter()
        .map(str::to_owned)
        .collect();
    if heads.is_empty() || heads.len() > MOST_COLUMNS {
        return Err(GivenError::form(
            path,
            format!("{} columns, 1 to {MOST_COLUMNS} are allowed", heads.len()),
        ));
    }
    for (index, head) in heads.iter().enumerate() {
        if head.is_empty() || heads[..index].contains(head) {
            let what = if head.is_empty() {
                "has no name"
            } else {
                "comes twice"
            };
            return Err(GivenError::form(
                path,
                format!("line 1: column {} `{head}` {what}", index + 1),
            ));
        }
    }
    let mut rows = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|error| bad(&error))?;
        let row: Map<String, Value> = heads
            .iter()
            .zip(&record)
            .filter(|(_, cell)| !cell.is_empty())
            .map(|(head, cell)| (head.clone(), Value::from(cell)))
            .collect();
        if !row.is_empty() {
            rows.push(Value::Object(row));
        }
        if rows.len() > MOST_ROWS {
            return Err(GivenError::form(
                path,
                format!("more than {MOST_ROWS} rows; at most so many are allowed"),
            ));
        }
    }
    Ok(Value::Array(rows))
}

/// Lines of a record that say what was set, readable without this program: `name = value`, and `table name: rows`.
///
/// Values of settings whose name begins with `price_`, and all values where `private` says so, are left out.
pub(crate) fn lines(given: &Given, private: bool) -> Vec<String> {
    let settings = given.settings.as_object().into_iter().flatten();
    let settings = settings.map(|(name, value)| {
        if private || name.starts_with("price_") {
            format!("{name} (value not shown)")
        } else {
            format!("{name} = {value}")
        }
    });
    let tables = given.tables.as_object().into_iter().flatten();
    let tables = tables.map(|(name, rows)| {
        let count = rows.as_array().map_or(0, Vec::len);
        format!("table {name}: {}", counted(count, "row"))
    });
    settings.chain(tables).collect()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use serde_json::json;

    fn file(name: &str, text: &str) -> (tempfile::TempDir, PathBuf) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join(name);
        fs::write(&path, text).unwrap();
        (folder, path)
    }

    fn said(error: &GivenError, path: &Path) -> String {
        error
            .to_string()
            .replace(&path.display().to_string(), "FILE")
    }

    #[test]
    fn settings_and_tables_of_a_folder_are_read() {
        let (folder, _) = file(
            "settings.toml",
            "share = 0.5\nsince = 2026-01-02\n[[rule]]\nid = \"user.a\"\n",
        );
        let table = "\u{feff}name, d50_um\n coarse ,57.0\n,\n\"fine, soft\",\n";
        fs::write(folder.path().join("stones.csv"), table).unwrap();
        fs::write(folder.path().join("notes.txt"), "mine").unwrap();
        let given = read_folder(folder.path()).unwrap();
        assert_eq!(
            given.settings,
            json!({"share": 0.5, "since": "2026-01-02", "rule": [{"id": "user.a"}]})
        );
        assert_eq!(
            given.tables,
            json!({"stones": [{"name": "coarse", "d50_um": "57.0"}, {"name": "fine, soft"}]})
        );
        assert_eq!(
            lines(&given, false),
            [
                "rule = [{\"id\":\"user.a\"}]",
                "share = 0.5",
                "since = \"2026-01-02\"",
                "table stones: 2 rows"
            ]
        );
        assert_eq!(
            lines(
                &Given {
                    settings: json!({"price_hour": 40}),
                    ..Given::default()
                },
                false
            ),
            ["price_hour (value not shown)"]
        );
        assert_eq!(
            read_folder(&folder.path().join("none")).unwrap(),
            Given::default()
        );
    }

    #[test]
    fn what_is_wrong_is_named_with_its_line() {
        let (_folder, path) = file("settings.toml", "share = 0.5\nshare = 0.6\n");
        assert_eq!(
            said(&read_settings(&path).unwrap_err(), &path),
            "FILE: line 2: duplicate key"
        );
        let (_folder, path) = file("settings.toml", "a = [1, inf]\n");
        assert_eq!(
            said(&read_settings(&path).unwrap_err(), &path),
            "FILE: `a[1]` is inf; a finite number is needed"
        );
        for (text, fault) in [
            ("a,b\n1,2,3\n", "FILE: line 2: 3 cells, the heading has 2"),
            ("a,a\n", "FILE: line 1: column 2 `a` comes twice"),
            ("a,\n", "FILE: line 1: column 2 `` has no name"),
        ] {
            let (_folder, path) = file("stones.csv", text);
            assert_eq!(said(&read_table(&path).unwrap_err(), &path), fault);
        }
        let (_folder, path) = file("stones.csv", "");
        fs::write(&path, b"a\n\xff\n").unwrap();
        assert_eq!(
            said(&read_table(&path).unwrap_err(), &path),
            "FILE: byte 2 is not UTF-8; save the file as UTF-8"
        );
    }
}
