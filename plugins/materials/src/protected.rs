//! The dated table of protected species: the built-in one, and the user's own.

use serde_json::{Map, Value, json};
use tangmark_author::tables::{self, Row};
use tangmark_core::record::{Material, PartialDate, Term as _};
use tangmark_plugin::Refusal;

use crate::months;

/// What the table says of a group of species.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Appendix {
    /// Not listed as far as the table knows.
    None,
    /// Depends on the species.
    Ask,
    /// Appendix III.
    Three,
    /// Appendix II.
    Two,
    /// Appendix I.
    One,
}

impl Appendix {
    /// Listed in an appendix.
    pub(crate) fn is_listed(self) -> bool {
        self >= Self::Three
    }

    /// For people.
    pub(crate) fn words(self) -> &'static str {
        match self {
            Self::None => "not in the table's lists",
            Self::Ask => "depends on the species",
            Self::Three => "appendix III",
            Self::Two => "appendix II",
            Self::One => "appendix I",
        }
    }
}

/// A row of the table.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Entry {
    /// Material of a fitting.
    pub(crate) material: Material,
    /// Group of species.
    pub(crate) group: String,
    /// Appendix.
    pub(crate) appendix: Appendix,
    /// Date of the list it was taken from.
    pub(crate) as_of: PartialDate,
    /// Where it is from.
    pub(crate) source: String,
    /// Remarks.
    pub(crate) note: Option<String>,
}

impl Entry {
    /// Month of the list.
    pub(crate) fn month(&self) -> i32 {
        months::of(self.as_of.as_str()).unwrap_or(0)
    }
}

const BUILT_IN: &str = include_str!("../data/protected.csv");
const COLUMNS: &[&str] = &["material", "group", "appendix", "as_of", "source", "note"];

/// Reads a table that is compiled in.
///
/// # Errors
/// A refusal when it is no CSV.
pub(crate) fn compiled(name: &str, text: &str) -> Result<Value, Refusal> {
    let broken = |error: csv::Error| {
        Refusal::new(format!(
            "the built-in table `{name}` cannot be read: {error}"
        ))
    };
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let heads = reader.headers().map_err(broken)?.clone();
    let mut rows = Vec::new();
    for record in reader.records() {
        let record = record.map_err(broken)?;
        let cells = heads
            .iter()
            .zip(record.iter())
            .filter(|(_, cell)| !cell.is_empty());
        let cells: Map<String, Value> = cells
            .map(|(head, cell)| (head.to_owned(), json!(cell)))
            .collect();
        rows.push(Value::Object(cells));
    }
    Ok(json!({ name: rows }))
}

/// Returns what is known of each material: of the built-in rows and the user's, those of the newest date; the user's
/// where the dates are equal.
///
/// # Errors
/// A refusal that names table, row and column.
pub(crate) fn list(tables: &Value) -> Result<Vec<Entry>, Refusal> {
    let mut all = entries(&compiled("protected", BUILT_IN)?)?;
    let own = entries(tables)?;
    let newest = |entries: &[Entry], material: Material| {
        let months = entries
            .iter()
            .filter(|one| one.material == material)
            .map(Entry::month);
        months.max()
    };
    let mut wins: Vec<Material> = Vec::new();
    for material in Material::ALL {
        if let Some(month) = newest(&own, *material)
            && newest(&all, *material).is_none_or(|built_in| month >= built_in)
        {
            wins.push(*material);
        }
    }
    all.retain(|entry| !wins.contains(&entry.material));
    all.extend(
        own.into_iter()
            .filter(|entry| wins.contains(&entry.material)),
    );
    Ok(all)
}

fn entries(tables: &Value) -> Result<Vec<Entry>, Refusal> {
    let Some(rows) = tables::find(tables, "protected")? else {
        return Ok(Vec::new());
    };
    rows.only(COLUMNS)?;
    rows.iter().map(|row| one(&row)).collect()
}

fn one(row: &Row<'_>) -> Result<Entry, Refusal> {
    let key = row.needed("material")?;
    let material = Material::ALL
        .iter()
        .copied()
        .find(|one| one.key() == key)
        .ok_or_else(|| {
            let known: Vec<&str> = Material::ALL.iter().map(|one| one.key()).collect();
            row.fault(
                "material",
                &format!("is `{key}`; known are {}", known.join(", ")),
            )
        })?;
    let appendix = match row.needed("appendix")? {
        "I" => Appendix::One,
        "II" => Appendix::Two,
        "III" => Appendix::Three,
        "ask" => Appendix::Ask,
        "none" => Appendix::None,
        other => {
            return Err(row.fault(
                "appendix",
                &format!("is `{other}`; I, II, III, ask or none is allowed"),
            ));
        }
    };
    let as_of = row
        .needed("as_of")?
        .parse()
        .map_err(|error| row.fault("as_of", &format!("cannot be read: {error}")))?;
    Ok(Entry {
        material,
        group: row.needed("group")?.to_owned(),
        appendix,
        as_of,
        source: row.needed("source")?.to_owned(),
        note: row.text("note").map(str::to_owned),
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn of(list: &[Entry], material: Material) -> Vec<&Entry> {
        list.iter().filter(|one| one.material == material).collect()
    }

    #[test]
    fn the_built_in_table_is_sound() {
        let list = list(&json!({})).unwrap();
        assert!(list.len() >= 14);
        assert_eq!(of(&list, Material::Rosewood).len(), 2);
        assert!(list.iter().all(|one| one.source.starts_with("from memory")));
        assert!(of(&list, Material::Ivory)[0].appendix.is_listed());
        assert!(!of(&list, Material::RaySkin)[0].appendix.is_listed());
    }

    #[test]
    fn a_newer_table_of_the_users_own_wins_for_its_materials() {
        let own = |as_of: &str| json!({"protected": [{"material": "rosewood", "group": "rosewood", "appendix": "none", "as_of": as_of, "source": "the official list"}]});
        let newer = list(&own("2026-01")).unwrap();
        assert_eq!(of(&newer, Material::Rosewood).len(), 1);
        assert_eq!(of(&newer, Material::Rosewood)[0].appendix, Appendix::None);
        assert_eq!(of(&newer, Material::Ivory).len(), 1);
        let same = list(&own("2023-02")).unwrap();
        assert_eq!(of(&same, Material::Rosewood)[0].source, "the official list");
        let older = list(&own("2019")).unwrap();
        assert_eq!(of(&older, Material::Rosewood).len(), 2);
    }

    #[test]
    fn bad_cells_are_named() {
        let row = |column: &str, cell: &str| {
            let mut row = json!({"material": "ivory", "group": "ivory", "appendix": "I", "as_of": "2026", "source": "a list"});
            row[column] = json!(cell);
            list(&json!({"protected": [row]})).unwrap_err().to_string()
        };
        assert!(
            row("material", "teeth")
                .contains("row 1, column `material` is `teeth`; known are iron")
        );
        assert!(
            row("appendix", "IV")
                .contains("column `appendix` is `IV`; I, II, III, ask or none is allowed")
        );
        assert!(
            row("as_of", "lately")
                .contains("column `as_of` cannot be read: `lately` is not a date")
        );
        assert!(row("colour", "white").contains("has the column `colour`"));
    }
}
