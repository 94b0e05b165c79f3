//! The old index as a source, sound or not.

use std::{collections::BTreeMap, fs, path::Path};

use rusqlite::{Connection, ErrorCode, types::Value};
use tangmark_core::Digest;

use crate::{
    Attachment, ObjectRow, RecordRow, StoreError,
    folder::{
        check, records,
        schema::{self, Opening},
    },
};

/// The old index, as far as it can be read.
pub(super) struct Old {
    pub(super) there: bool,
    pub(super) connection: Option<Connection>,
    pub(super) reasons: Vec<String>,
}

impl Old {
    pub(super) fn open(path: &Path) -> Result<Self, StoreError> {
        if fs::symlink_metadata(path).is_err() {
            return Ok(Self {
                there: false,
                connection: None,
                reasons: Vec::new(),
            });
        }
        let mut old = Self {
            there: true,
            connection: None,
            reasons: Vec::new(),
        };
        match schema::open(path, Opening::Existing) {
            Ok(connection) => {
                match check::index_problems(&connection) {
                    Ok(problems) => old.reasons.extend(problems.iter().map(ToString::to_string)),
                    Err(error) => old.reasons.push(describe(&error)),
                }
                old.connection = Some(connection);
            }
            // Not damaged, only not for this program.
            Err(error @ (StoreError::NewerIndex { .. } | StoreError::ForeignDatabase { .. })) => {
                return Err(error);
            }
            Err(error) => old.reasons.push(describe(&error)),
        }
        Ok(old)
    }

    /// Copies a table row by row; what cannot be read or does not fit is named.
    pub(super) fn copy(&mut self, table: &str, columns: &str, fresh: &Connection) {
        let Some(connection) = &self.connection else {
            return;
        };
        let marks = vec!["?"; columns.split(',').count()].join(", ");
        let mut refused = 0_u64;
        let copied = (|| -> rusqlite::Result<()> {
            let mut select =
                connection.prepare(&format!("SELECT {columns} FROM {table} ORDER BY 1, 2"))?;
            let mut insert =
                fresh.prepare(&format!("INSERT INTO {table} ({columns}) VALUES ({marks})"))?;
            let width = select.column_count();
            let mut rows = select.query([])?;
            while let Some(row) = rows.next()? {
                let values = (0..width)
                    .map(|column| row.get::<_, Value>(column))
                    .collect::<rusqlite::Result<Vec<_>>>()?;
                match insert.execute(rusqlite::params_from_iter(values)) {
                    Ok(_) => {}
                    Err(error)
                        if error.sqlite_error_code() == Some(ErrorCode::ConstraintViolation) =>
                    {
                        refused += 1;
                    }
                    Err(error) => return Err(error),
                }
            }
            Ok(())
        })();
        if let Err(error) = copied {
            self.reasons.push(format!("table `{table}`: {error}"));
        }
        if refused > 0 {
            self.reasons
                .push(format!("table `{table}`: {refused} rows do not fit"));
        }
    }

    pub(super) fn records(&mut self) -> Vec<RecordRow> {
        self.read(|connection| records::all(connection, None))
    }

    pub(super) fn objects(&mut self) -> Vec<ObjectRow> {
        self.read(check::all_objects)
    }

    pub(super) fn links(&mut self) -> BTreeMap<Digest, Attachment> {
        self.read(records::all_attachments)
    }

    fn read<T: Default>(&mut self, read: impl FnOnce(&Connection) -> Result<T, StoreError>) -> T {
        let Some(connection) = &self.connection else {
            return T::default();
        };
        read(connection).unwrap_or_else(|error| {
            self.reasons.push(describe(&error));
            T::default()
        })
    }
}

fn describe(error: &StoreError) -> String {
    match std::error::Error::source(error) {
        Some(source) => format!("{error}: {source}"),
        None => error.to_string(),
    }
}
