#![allow(clippy::unwrap_used)]

mod crash;
mod damage;
mod lifecycle;
mod rebuild;

use std::{io, path::Path, sync::Arc};

use rusqlite::{Connection, types::Value};

use super::{
    FolderStore,
    faults::{FaultPoint, Faults},
};
use crate::{Limits, conformance};

/// A workshop folder that does not exist yet.
fn new_folder() -> (tempfile::TempDir, std::path::PathBuf) {
    let temp = tempfile::tempdir().unwrap();
    let dir = temp.path().join("workshop");
    (temp, dir)
}

/// A workshop with something in every table.
fn filled() -> (tempfile::TempDir, std::path::PathBuf) {
    let (temp, dir) = new_folder();
    conformance::fill(&FolderStore::create(&dir).unwrap());
    (temp, dir)
}

/// The system refuses at one step.
fn refusing(point: FaultPoint, kind: io::ErrorKind) -> Faults {
    let hook = move |at| {
        if at == point {
            Err(io::Error::from(kind))
        } else {
            Ok(())
        }
    };
    Faults {
        hook: Some(Arc::new(hook)),
    }
}

fn open_refusing(dir: &Path, point: FaultPoint, kind: io::ErrorKind) -> FolderStore {
    FolderStore::open_with(dir, Limits::default(), refusing(point, kind)).unwrap()
}

/// Every row of every table.
fn dump(dir: &Path) -> Vec<String> {
    let connection = Connection::open(dir.join("workshop.db")).unwrap();
    let mut lines = Vec::new();
    let tables = [
        "blade",
        "draft",
        "object",
        "record",
        "attachment",
        "photo",
        "plugin_approval",
        "setting",
        "key",
    ];
    for table in tables {
        let mut statement = connection
            .prepare(&format!("SELECT * FROM {table} ORDER BY 1, 2"))
            .unwrap();
        let width = statement.column_count();
        let mut rows = statement.query([]).unwrap();
        let mut count = 0;
        while let Some(row) = rows.next().unwrap() {
            let values: Vec<Value> = (0..width).map(|column| row.get(column).unwrap()).collect();
            lines.push(format!("{table} {values:?}"));
            count += 1;
        }
        assert!(
            count > 0,
            "table `{table}` is empty: the dump would prove nothing of it"
        );
    }
    lines
}
