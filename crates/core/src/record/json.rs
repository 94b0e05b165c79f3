//! Sheets and records from JSON and back.
//!
//! Not generic on purpose: a reader of these types is large, and every crate that reads them in its own way is built
//! with a whole one.

use serde::Deserialize as _;
use serde_json::{Error, Value};

use super::{Record, Sheet};

impl Sheet {
    /// Reads a sheet; its rules are checked by [`crate::check::sheet`].
    ///
    /// # Errors
    /// When the JSON does not have the form of a sheet.
    pub fn from_json(value: &Value) -> Result<Self, Error> {
        Self::deserialize(value)
    }

    /// Writes the sheet.
    ///
    /// # Errors
    /// None that is known; the form of a sheet is JSON.
    pub fn to_json(&self) -> Result<Value, Error> {
        serde_json::to_value(self)
    }
}

impl Record {
    /// Reads a record; its rules are checked by [`crate::check::record`].
    ///
    /// # Errors
    /// When the JSON does not have the form of a record.
    pub fn from_json(value: &Value) -> Result<Self, Error> {
        Self::deserialize(value)
    }

    /// Writes the record.
    ///
    /// # Errors
    /// None that is known; the form of a record is JSON.
    pub fn to_json(&self) -> Result<Value, Error> {
        serde_json::to_value(self)
    }
}
