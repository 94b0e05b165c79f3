//! The workshop's own list of stones, `plugins/abrasives/stones.csv`: read, and passes filled from it.

use std::path::{Path, PathBuf};

use serde::Serialize;
use serde_json::{Map, Value, json};
use tangmark_core::check::nearest;
use tangmark_core::record::{AbrasiveOrigin, GritSystem, StoneStage, Term};

use super::error::PassError;
use crate::{Workshop, WorkshopError, given};

/// The plugin that the list belongs to.
pub(super) const PLUGIN: &str = "abrasives";
/// The list, in the plugin's folder.
pub(super) const FILE: &str = "stones.csv";

/// A stone, paper or other abrasive of the workshop.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Stone {
    /// Name, which passes use.
    pub name: String,
    /// Natural or synthetic.
    pub origin: AbrasiveOrigin,
    /// Stage of the work.
    pub stage: Option<StoneStage>,
    /// Grit number with its system.
    pub grit: Option<(GritSystem, u32)>,
    /// Median grain size as the list has it, µm.
    pub d50_um: Option<String>,
    /// Range of the grain size as the list has it, µm.
    pub d50_range_um: Option<(String, String)>,
    /// Grams of stone worn per gram of steel, as the list has it.
    pub wear_g_per_g: Option<String>,
}

impl Stone {
    /// The abrasive of a pass, as a sheet writes it.
    pub(super) fn abrasive(&self) -> Value {
        let mut all = Map::new();
        all.insert("name".to_owned(), json!(self.name));
        all.insert("origin".to_owned(), json!(self.origin));
        if let Some(stage) = self.stage {
            all.insert("stage".to_owned(), json!(stage));
        }
        if let Some((system, number)) = self.grit {
            all.insert(
                "grit".to_owned(),
                json!({ "number": number, "system": system }),
            );
        }
        if let Some(d50) = &self.d50_um {
            all.insert("d50".to_owned(), json!(format!("{d50} um")));
        }
        Value::Object(all)
    }
}

/// The list of stones and the file it comes from.
#[derive(Clone, Debug, Serialize)]
pub struct StoneTable {
    /// The file, there or not.
    pub file: PathBuf,
    /// The stones, in the order of the file.
    pub stones: Vec<Stone>,
}

impl StoneTable {
    /// Finds a stone by its name, small and capital letters alike.
    pub(super) fn find(&self, name: &str) -> Result<&Stone, PassError> {
        let wanted = name.trim().to_lowercase();
        if let Some(found) = self
            .stones
            .iter()
            .find(|stone| stone.name.to_lowercase() == wanted)
        {
            return Ok(found);
        }
        Err(PassError::UnknownStone {
            near: near(name, &self.stones),
            name: name.trim().to_owned(),
            file: self.file.clone(),
            count: self.stones.len(),
        })
    }
}

/// Names that may be meant: the one that differs by a slip, and those that share a word.
fn near(name: &str, stones: &[Stone]) -> Vec<String> {
    let names: Vec<String> = stones.iter().map(|stone| stone.name.clone()).collect();
    let lower = name.to_lowercase();
    let words: Vec<&str> = lower
        .split_whitespace()
        .filter(|word| word.chars().count() > 2 && !"stone".contains(word))
        .collect();
    let mut near: Vec<String> = nearest(name, &names)
        .map(str::to_owned)
        .into_iter()
        .collect();
    for one in &names {
        let own = one.to_lowercase();
        if words.iter().any(|word| own.contains(word)) && !near.contains(one) {
            near.push(one.clone());
        }
    }
    if near.is_empty() { names } else { near }
}

/// A term of a closed list, named as the list of stones names it.
fn term<T: Term>(row: &Map<String, Value>, column: &str) -> Result<Option<T>, String> {
    let Some(text) = row.get(column).and_then(Value::as_str) else {
        return Ok(None);
    };
    let all = T::ALL.iter();
    all.copied()
        .find(|one| one.key() == text)
        .map(Some)
        .ok_or_else(|| {
            let keys: Vec<&str> = T::ALL.iter().map(|one| one.key()).collect();
            format!(
                "column `{column}`: `{}` found, {} are allowed",
                text.chars().take(40).collect::<String>(),
                keys.join(", ")
            )
        })
}

fn stone(row: &Map<String, Value>) -> Result<Stone, String> {
    let text = |column: &str| row.get(column).and_then(Value::as_str).map(str::to_owned);
    let name = text("name").ok_or("column `name` is empty, a name is needed")?;
    let origin = term(row, "origin")?
        .ok_or("column `origin` is empty, `natural` or `synthetic` is needed")?;
    let number = text("grit")
        .map(|grit| {
            grit.parse::<u32>()
                .map_err(|_| format!("column `grit`: `{grit}` found, a whole number is allowed"))
        })
        .transpose()?;
    Ok(Stone {
        name,
        origin,
        stage: term(row, "stage")?,
        grit: term::<GritSystem>(row, "grit_system")?.zip(number),
        d50_um: text("d50_um"),
        d50_range_um: text("d50_low_um").zip(text("d50_high_um")),
        wear_g_per_g: text("wear_g_per_g"),
    })
}

/// Reads a list of stones.
///
/// # Errors
/// When the file is no table, or a row says what no stone is.
pub(super) fn read(file: &Path) -> Result<Vec<Stone>, WorkshopError> {
    let table = given::read_table(file)?;
    let rows = table.as_array().map_or(&[][..], Vec::as_slice);
    let mut stones: Vec<Stone> = Vec::with_capacity(rows.len());
    for (index, row) in rows.iter().enumerate() {
        let fault = |what: String| PassError::StoneRow {
            file: file.to_owned(),
            row: index + 1,
            what,
        };
        let one = row
            .as_object()
            .map_or_else(|| Err("it is no row".to_owned()), stone)
            .map_err(fault)?;
        if stones
            .iter()
            .any(|other| other.name.to_lowercase() == one.name.to_lowercase())
        {
            let what = format!("column `name`: `{}` found twice, once is allowed", one.name);
            return Err(fault(what).into());
        }
        stones.push(one);
    }
    Ok(stones)
}

impl Workshop {
    /// The workshop's list of stones; empty where there is no file.
    ///
    /// # Errors
    /// When the file is no table, or a row says what no stone is.
    pub fn stones(&self) -> Result<StoneTable, WorkshopError> {
        let file = self.plugin_folder(PLUGIN).join(FILE);
        let stones = if file.exists() {
            read(&file)?
        } else {
            Vec::new()
        };
        Ok(StoneTable { file, stones })
    }
}

#[cfg(test)]
pub(super) mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    pub(crate) const LIST: &str = "name,grit_system,grit,d50_um,d50_low_um,d50_high_um,origin,stage\n\
        coarse shaping stone,jis,240,,,,synthetic,arato\n\
        Second Foundation Stone,jis,1000,11.5,,,synthetic,kaisei\n\
        fine slate stone,,,,2.5,5,natural,koma_nagura\n";

    fn table(text: &str) -> Result<StoneTable, WorkshopError> {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join(FILE);
        std::fs::write(&file, text).unwrap();
        let stones = read(&file)?;
        Ok(StoneTable { file, stones })
    }

    #[test]
    fn a_stone_is_found_by_its_name_and_fills_the_pass() {
        let table = table(LIST).unwrap();
        assert_eq!(
            table.find(" second foundation STONE ").unwrap().abrasive(),
            json!({ "name": "Second Foundation Stone", "origin": "synthetic", "stage": "kaisei",
                "grit": { "number": 1000, "system": "jis" }, "d50": "11.5 um" })
        );
        assert_eq!(
            table.find("fine slate stone").unwrap().abrasive(),
            json!({ "name": "fine slate stone", "origin": "natural", "stage": "koma_nagura" })
        );
    }

    #[test]
    fn an_unknown_stone_lists_those_that_may_be_meant() {
        let table = table(LIST).unwrap();
        let near = |name: &str| match table.find(name).unwrap_err() {
            PassError::UnknownStone { near, .. } => near,
            other => panic!("{other}"),
        };
        assert_eq!(near("fine slate ston"), ["fine slate stone"]);
        assert_eq!(near("foundation"), ["Second Foundation Stone"]);
        assert_eq!(near("xyz").len(), 3, "else all");
    }

    #[test]
    fn what_no_stone_is_is_named_with_its_row() {
        for (rows, expected) in [
            (
                "name,origin\na,stone\n",
                "row 1: column `origin`: `stone` found, natural, synthetic are allowed",
            ),
            (
                "name,origin\na,natural\nA,natural\n",
                "row 2: column `name`: `A` found twice, once is allowed",
            ),
            (
                "name,origin,grit\na,natural,1k\n",
                "row 1: column `grit`: `1k` found, a whole number is allowed",
            ),
        ] {
            let said = table(rows).unwrap_err().to_string();
            assert!(said.ends_with(expected), "{said}");
        }
    }
}
