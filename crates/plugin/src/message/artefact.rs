//! Curves and tables a plugin hands to reports and pages.

use serde::{Deserialize, Serialize};

use super::reply::present;

/// Something a report or page can draw.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Artefact {
    /// One number over another.
    Series(Series),
    /// Rows and columns.
    Table(Table),
}

impl Artefact {
    /// Returns the identifier.
    pub fn id(&self) -> &str {
        match self {
            Self::Series(series) => &series.id,
            Self::Table(table) => &table.id,
        }
    }
}

/// One number over another, in the order of the points.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Series {
    /// Identifier, unique in the reply.
    pub id: String,
    /// One line for people.
    pub title: String,
    /// What runs along.
    pub x: Axis,
    /// What is read off.
    pub y: Axis,
    /// The points.
    pub points: Vec<Point>,
    /// Formula and where it comes from.
    pub source: String,
}

/// What an axis shows.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Axis {
    /// What it is.
    pub name: String,
    /// UCUM code.
    pub unit: String,
}

/// One point; decimal numbers in the units of the axes.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Point {
    /// Place along.
    pub x: String,
    /// Value there.
    pub y: String,
    /// Standard uncertainty (k = 1) of `y`, where it is known.
    #[serde(
        default,
        deserialize_with = "present",
        skip_serializing_if = "Option::is_none"
    )]
    pub standard_uncertainty: Option<String>,
}

/// Rows and columns.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Table {
    /// Identifier, unique in the reply.
    pub id: String,
    /// One line for people.
    pub title: String,
    /// The columns, at least one.
    pub columns: Vec<Column>,
    /// The rows, each as long as `columns`. A cell of a column with a unit is a decimal number, or
    /// empty where there is none; other cells are text.
    pub rows: Vec<Vec<String>>,
    /// Where the table comes from.
    pub source: String,
}

/// A column of a table.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Column {
    /// What it is.
    pub name: String,
    /// UCUM code when the cells are numbers.
    #[serde(
        default,
        deserialize_with = "present",
        skip_serializing_if = "Option::is_none"
    )]
    pub unit: Option<String>,
}
