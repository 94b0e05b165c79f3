//! Importing a table of published blades: one blade with a first sheet for every sound row.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use serde::Serialize;
use serde_json::{Map, Value, json};
use tangmark_core::record::{BladeKind, Key, Sheet, Term as _};
use tangmark_core::sheet;
use tangmark_core::units::import::{ImportReport, ImportedRow, read_csv};
use tangmark_core::units::map::{ColumnMap, Field};
use tangmark_store::{DraftSource, Store as _};

use crate::{Surroundings, Workshop, WorkshopError, input};

/// What an import did, or would do.
#[derive(Clone, Debug, Serialize)]
pub struct Imported {
    /// What was read: rows, faults with both values, remarks.
    pub report: ImportReport,
    /// Blades entered.
    pub entered: Vec<EnteredBlade>,
    /// Rows no sheet could be made of.
    pub not_entered: Vec<RowLeftOut>,
    /// Nothing was written.
    pub dry_run: bool,
}

/// A blade that an import entered.
#[derive(Clone, Debug, Serialize)]
pub struct EnteredBlade {
    /// Key it was given.
    pub blade: String,
    /// What the table calls it.
    pub identity: String,
}

/// A row that an import left out.
#[derive(Clone, Debug, Serialize)]
pub struct RowLeftOut {
    /// Line of the table, from 1.
    pub line: u64,
    /// Why.
    pub reason: String,
}

/// Reads a column map from `field=column[:unit]` pairs; without pairs the usual headings are tried.
///
/// # Errors
/// When a pair is not understood.
pub fn column_map(pairs: &[String]) -> Result<ColumnMap, WorkshopError> {
    if pairs.is_empty() {
        return Ok(ColumnMap::default());
    }
    ColumnMap::from_pairs(pairs).map_err(|error| WorkshopError::Table {
        file: "--map".to_owned(),
        what: error.to_string(),
        hint: error.hint().to_owned(),
    })
}

impl Workshop {
    /// Imports a CSV of published blades. What is sound becomes a first sheet, what is not is listed.
    ///
    /// # Errors
    /// When the table cannot be read at all.
    pub fn import(
        &self,
        path: &Path,
        map: &ColumnMap,
        dry_run: bool,
        around: &Surroundings<'_>,
        progress: &mut dyn FnMut(usize, usize),
    ) -> Result<Imported, WorkshopError> {
        let bytes = input::whole(path, input::LONGEST)?;
        let report = read_csv(&bytes, map).map_err(|error| WorkshopError::Table {
            file: path.display().to_string(),
            what: error.to_string(),
            hint: error.hint().to_owned(),
        })?;
        let mut taken: BTreeSet<String> = self
            .store()
            .blades()?
            .into_iter()
            .map(|row| row.id)
            .collect();
        let mut entered = Vec::new();
        let mut not_entered = Vec::new();
        for (index, row) in report.rows.iter().enumerate() {
            progress(index + 1, report.rows.len());
            let key = key_of(&row.identity, &taken);
            match sheet_of(row, &key) {
                Err(reason) => not_entered.push(RowLeftOut {
                    line: row.line,
                    reason,
                }),
                Ok(sheet) => {
                    if !dry_run {
                        self.keep_sheet(
                            &sheet,
                            &BTreeMap::new(),
                            None,
                            DraftSource::Import,
                            around,
                        )?;
                    }
                    taken.insert(key.clone());
                    entered.push(EnteredBlade {
                        blade: key,
                        identity: row.identity.clone(),
                    });
                }
            }
        }
        Ok(Imported {
            report,
            entered,
            not_entered,
            dry_run,
        })
    }
}

/// Makes a key that is not taken from what the table calls the object.
pub(crate) fn key_of(identity: &str, taken: &BTreeSet<String>) -> String {
    let mut key = Key::from_name(identity).to_string();
    while key.contains("--") {
        key = key.replace("--", "-");
    }
    let key: String = key.trim_matches('-').chars().take(34).collect();
    if !taken.contains(&key) {
        return key;
    }
    let mut number = 2_u64;
    while taken.contains(&format!("{key}-{number}")) {
        number += 1;
    }
    format!("{key}-{number}")
}

fn sheet_of(row: &ImportedRow, key: &str) -> Result<Sheet, String> {
    let text = |field: Field| row.texts.get(&field).cloned();
    let kind_text = text(Field::Kind).unwrap_or_else(|| "edged blade".to_owned());
    let kind = kind_of(&kind_text);
    let straight = matches!(
        kind,
        BladeKind::Yari | BladeKind::Naginata | BladeKind::Other
    );
    let mut dimensions = Map::new();
    dimensions.insert(
        "datum".to_owned(),
        json!(if straight { "shoulder" } else { "back_notch" }),
    );
    let fields = [
        (Field::BladeLength, "blade_length"),
        (Field::Curvature, "curvature"),
        (Field::BladeWithTang, "overall_length"),
        (Field::Width, "width_at_base"),
        (Field::Mass, "mass"),
    ];
    for (field, name) in fields {
        if let Some(quantity) = row.quantities.get(&field) {
            dimensions.insert(
                name.to_owned(),
                json!({ "text": quantity.reading.text, "method": "as published" }),
            );
        }
    }
    if dimensions.contains_key("mass") {
        dimensions.insert("mass_state".to_owned(), json!("bare"));
    }
    let mut blade = json!({
        "id": key,
        "title": format!("{kind_text}, {}", row.identity).chars().take(200).collect::<String>(),
        "object_type": kind_text.chars().take(200).collect::<String>(),
        "kind_by_make": kind.key(),
        "construction": "other",
    });
    let related: Vec<String> = [
        Field::Published,
        Field::Source,
        Field::Holder,
        Field::Licence,
        Field::Note,
    ]
    .into_iter()
    .filter_map(|field| Some(format!("{field}: {}", text(field)?)))
    .collect();
    blade["related"] = json!(related);
    if let Some(period) = text(Field::Period) {
        let author = json!({ "role": "museum" });
        let period: String = period.chars().take(400).collect();
        blade["period"] = json!([{ "statement": period, "author": author, "basis": "as published", "confidence": "moderate" }]);
    }
    let sheet: Value = json!({ "blade": blade, "dimensions": dimensions });
    sheet::from_value(sheet).map_err(|error| error.to_string())
}

/// Tells the kind from the words of the table; words that name none are kept in `object_type`.
fn kind_of(text: &str) -> BladeKind {
    let text = text.to_lowercase();
    let kinds = [
        BladeKind::Wakizashi,
        BladeKind::Kodachi,
        BladeKind::Odachi,
        BladeKind::Katana,
        BladeKind::Tachi,
        BladeKind::Tanto,
        BladeKind::Yari,
        BladeKind::Naginata,
        BladeKind::Nagamaki,
        BladeKind::Ken,
        BladeKind::Sabre,
        BladeKind::Dagger,
        BladeKind::Knife,
    ];
    kinds
        .into_iter()
        .find(|kind| text.contains(kind.key()))
        .unwrap_or(BladeKind::Other)
}
