//! The user's tables, read cell by cell with errors that say table, row and column.

use std::collections::BTreeMap;

use serde_json::Value;
use tangmark_plugin::Refusal;

/// One table of the request.
#[derive(Clone, Copy, Debug)]
pub struct Rows<'a> {
    name: &'a str,
    rows: &'a [Value],
}

/// One row.
#[derive(Clone, Copy, Debug)]
pub struct Row<'a> {
    table: &'a str,
    number: usize,
    cells: &'a Value,
}

/// Finds a table by name; `Ok(None)` when the user has none.
///
/// # Errors
/// A refusal when it is not an array of objects of texts.
pub fn find<'a>(tables: &'a Value, name: &'a str) -> Result<Option<Rows<'a>>, Refusal> {
    let Some(table) = tables.get(name) else {
        return Ok(None);
    };
    let sound = table.as_array().filter(|rows| {
        rows.iter().all(|row| {
            row.as_object()
                .is_some_and(|cells| cells.values().all(Value::is_string))
        })
    });
    match sound {
        Some(rows) => Ok(Some(Rows { name, rows })),
        None => Err(Refusal::new(format!(
            "table `{name}` is not an array of rows, each an object of texts"
        ))),
    }
}

impl<'a> Rows<'a> {
    /// Number of rows.
    pub fn len(&self) -> usize {
        self.rows.len()
    }

    /// No rows.
    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// The rows, in the order of the file.
    pub fn iter(&self) -> impl Iterator<Item = Row<'a>> + use<'a> {
        let table = self.name;
        self.rows.iter().enumerate().map(move |(index, cells)| Row {
            table,
            number: index + 1,
            cells,
        })
    }

    /// Tells whether every column that is used is one of `known`; helps to find a misspelt heading.
    ///
    /// # Errors
    /// A refusal that names the first other column and the known ones.
    pub fn only(&self, known: &[&str]) -> Result<(), Refusal> {
        for row in self.iter() {
            if let Some(other) = row.columns().find(|name| !known.contains(name)) {
                return Err(Refusal::new(format!(
                    "table `{}` has the column `{other}`; known are {}",
                    self.name,
                    known.join(", ")
                )));
            }
        }
        Ok(())
    }
}

impl<'a> Row<'a> {
    /// Number of the row, 1 for the first below the heading.
    pub fn number(&self) -> usize {
        self.number
    }

    /// Names of the columns that hold something in this row.
    pub fn columns(&self) -> impl Iterator<Item = &'a str> + use<'a> {
        self.cells
            .as_object()
            .into_iter()
            .flat_map(|cells| cells.keys().map(String::as_str))
    }

    /// The row as a map.
    pub fn cells(&self) -> BTreeMap<&'a str, &'a str> {
        self.columns()
            .filter_map(|name| Some((name, self.text(name)?)))
            .collect()
    }

    /// Text of a cell; `None` when it is empty.
    pub fn text(&self, column: &str) -> Option<&'a str> {
        self.cells.get(column).and_then(Value::as_str)
    }

    /// Text of a cell that must be there.
    ///
    /// # Errors
    /// A refusal that names table, row and column.
    pub fn needed(&self, column: &str) -> Result<&'a str, Refusal> {
        self.text(column)
            .ok_or_else(|| self.fault(column, "is empty; it is needed"))
    }

    /// Number in a cell; `None` when it is empty. A full stop is the decimal sign.
    ///
    /// # Errors
    /// A refusal when it is no finite number within the limits.
    pub fn number_in(&self, column: &str, least: f64, most: f64) -> Result<Option<f64>, Refusal> {
        let Some(text) = self.text(column) else {
            return Ok(None);
        };
        let plain = text
            .bytes()
            .all(|byte| byte.is_ascii_digit() || matches!(byte, b'.' | b'-'));
        match text.parse::<f64>() {
            Ok(value) if plain && (least..=most).contains(&value) => Ok(Some(value)),
            Ok(value) if plain => {
                Err(self.fault(column, &format!("is {value}; {least} to {most} is allowed")))
            }
            _ => Err(self.fault(
                column,
                &format!("is `{text}`; a plain number such as 12.5 is needed"),
            )),
        }
    }

    /// Makes a refusal about a cell: `table `stones`, row 3, column `d50_um` is empty; …`.
    pub fn fault(&self, column: &str, what: &str) -> Refusal {
        Refusal::new(format!(
            "table `{}`, row {}, column `{column}` {what}",
            self.table, self.number
        ))
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use serde_json::json;

    #[test]
    fn cells_are_read_and_faults_say_where() {
        let tables = json!({"stones": [
            {"name": "coarse", "d50_um": "57.0"},
            {"name": "fine", "d50_um": "fine"},
            {"d50_um": "-3"},
        ], "odd": [{"a": 1}]});
        assert!(find(&tables, "prices").unwrap().is_none());
        assert!(find(&tables, "odd").is_err());
        let stones = find(&tables, "stones").unwrap().unwrap();
        let rows: Vec<Row<'_>> = stones.iter().collect();
        assert_eq!(rows[0].number_in("d50_um", 0.1, 500.0).unwrap(), Some(57.0));
        assert_eq!(rows[0].number_in("rate", 0.0, 1.0).unwrap(), None);
        let said = |result: Result<Option<f64>, Refusal>| result.unwrap_err().to_string();
        assert_eq!(
            said(rows[1].number_in("d50_um", 0.1, 500.0)),
            "table `stones`, row 2, column `d50_um` is `fine`; a plain number such as 12.5 is needed"
        );
        assert_eq!(
            said(rows[2].number_in("d50_um", 0.1, 500.0)),
            "table `stones`, row 3, column `d50_um` is -3; 0.1 to 500 is allowed"
        );
        assert_eq!(
            rows[2].needed("name").unwrap_err().to_string(),
            "table `stones`, row 3, column `name` is empty; it is needed"
        );
        assert_eq!(
            stones.only(&["name"]).unwrap_err().to_string(),
            "table `stones` has the column `d50_um`; known are name"
        );
    }
}
