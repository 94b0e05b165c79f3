//! Holds what a plugin said against what it may say. Types are already right here; this is about
//! the meaning: known rules, present evidence, sizes, shapes of texts.

use std::collections::BTreeSet;

use serde_json::Value;
use tangmark_core::units::Unit;

use super::{
    Artefact, CheckReply, Description, FindingDraft, Series, Table, limits,
    text::{is_cell, is_decimal, is_identifier, is_line, is_plugin_name, is_unit},
};
use crate::ABI;

/// A plugin said something it may not say. `place` is a JSON Pointer into its answer.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum Lie {
    /// The ABI number in the description is not the one of its functions.
    #[error("its description says ABI {found}, its functions say ABI {expected}")]
    Abi {
        /// Number in the description.
        found: u32,
        /// Number in the function names.
        expected: u32,
    },
    /// The description names another plugin than the file does.
    #[error("it calls itself `{found}`, its file is named for `{expected}`")]
    Name {
        /// Name in the description.
        found: String,
        /// Name in the file name.
        expected: String,
    },
    /// A list is longer than allowed.
    #[error("`{place}` has {found} entries; at most {most} are allowed")]
    TooMany {
        /// Where.
        place: String,
        /// Entries found.
        found: usize,
        /// Entries allowed.
        most: usize,
    },
    /// A text does not have the shape its place asks for.
    #[error("`{place}` is not {expected}")]
    Shape {
        /// Where.
        place: String,
        /// What belongs there.
        expected: String,
    },
    /// Two entries share an identifier.
    #[error("`{place}` repeats the identifier `{id}`")]
    Repeated {
        /// Where.
        place: String,
        /// The identifier.
        id: String,
    },
    /// A finding names a rule the plugin did not describe.
    #[error("`{place}` names the rule `{rule}`, which its description does not have")]
    UnknownRule {
        /// Where.
        place: String,
        /// The rule named.
        rule: String,
    },
    /// A finding gives no evidence.
    #[error("`{place}` is empty; at least one path into the sheet is needed")]
    NoEvidence {
        /// Where.
        place: String,
    },
    /// Evidence points at nothing.
    #[error("`{place}` points at `{pointer}`, which the sheet does not have")]
    NoSuchPlace {
        /// Where.
        place: String,
        /// The path given.
        pointer: String,
    },
    /// A row of a table is longer or shorter than its header.
    #[error("`{place}` has {found} cells; the table has {expected} columns")]
    Ragged {
        /// Where.
        place: String,
        /// Cells found.
        found: usize,
        /// Columns.
        expected: usize,
    },
}

impl Description {
    /// Checks a description against the name its file gives it.
    pub fn audit(&self, expected_name: &str) -> Result<(), Lie> {
        if self.abi != ABI {
            return Err(Lie::Abi {
                found: self.abi,
                expected: ABI,
            });
        }
        ensure("/name", is_plugin_name(&self.name), || {
            format!(
                "a plugin's name: a-z, 0-9 and `_`, at most {} characters",
                limits::PLUGIN
            )
        })?;
        if self.name != expected_name {
            let found = self.name.clone();
            return Err(Lie::Name {
                found,
                expected: expected_name.to_owned(),
            });
        }
        line("/version", &self.version, limits::PLUGIN)?;
        line("/title", &self.title, limits::TITLE)?;
        count("/rules", self.rules.len(), limits::RULES)?;
        let mut seen = BTreeSet::new();
        for (index, rule) in self.rules.iter().enumerate() {
            let place = format!("/rules/{index}");
            identifier(&format!("{place}/id"), &rule.id, &mut seen)?;
            line(&format!("{place}/title"), &rule.title, limits::TITLE)?;
            line(&format!("{place}/source"), &rule.source, limits::SOURCE)?;
        }
        count("/features", self.features.len(), limits::FEATURES)?;
        let mut seen = BTreeSet::new();
        for (index, feature) in self.features.iter().enumerate() {
            identifier(&format!("/features/{index}"), feature, &mut seen)?;
        }
        Ok(())
    }
}

impl CheckReply {
    /// Checks a reply against what the plugin described and the sheet it was asked about.
    pub fn audit(&self, description: &Description, sheet: &Value) -> Result<(), Lie> {
        count("/findings", self.findings.len(), limits::FINDINGS)?;
        for (index, finding) in self.findings.iter().enumerate() {
            finding.audit(&format!("/findings/{index}"), description, sheet)?;
        }
        count("/quantities", self.quantities.len(), limits::QUANTITIES)?;
        let mut seen = BTreeSet::new();
        for (index, quantity) in self.quantities.iter().enumerate() {
            let place = format!("/quantities/{index}");
            identifier(&format!("{place}/name"), &quantity.name, &mut seen)?;
            let uncertainty = quantity.standard_uncertainty.as_deref();
            number(&place, &quantity.value, &quantity.unit, uncertainty)?;
            line(&format!("{place}/source"), &quantity.source, limits::SOURCE)?;
        }
        count("/artefacts", self.artefacts.len(), limits::ARTEFACTS)?;
        let mut seen = BTreeSet::new();
        for (index, artefact) in self.artefacts.iter().enumerate() {
            let place = format!("/artefacts/{index}");
            identifier(&format!("{place}/id"), artefact.id(), &mut seen)?;
            match artefact {
                Artefact::Series(series) => series.audit(&place)?,
                Artefact::Table(table) => table.audit(&place)?,
            }
        }
        Ok(())
    }
}

impl FindingDraft {
    fn audit(&self, place: &str, description: &Description, sheet: &Value) -> Result<(), Lie> {
        if description.rule(&self.rule).is_none() {
            // The name may be anything; it is shortened so that the fault stays one line.
            let rule = self
                .rule
                .chars()
                .filter(|c| !c.is_control())
                .take(limits::NAME)
                .collect();
            return Err(Lie::UnknownRule {
                place: format!("{place}/rule"),
                rule,
            });
        }
        line(&format!("{place}/message"), &self.message, limits::MESSAGE)?;
        line(&format!("{place}/source"), &self.source, limits::SOURCE)?;
        let evidence = format!("{place}/evidence");
        count(&evidence, self.evidence.len(), limits::EVIDENCE)?;
        if self.evidence.is_empty() {
            return Err(Lie::NoEvidence { place: evidence });
        }
        for (index, pointer) in self.evidence.iter().enumerate() {
            let place = format!("{evidence}/{index}");
            ensure(&place, is_cell(pointer, limits::POINTER), || {
                format!("a JSON Pointer of at most {} characters", limits::POINTER)
            })?;
            if sheet.pointer(pointer).is_none() {
                return Err(Lie::NoSuchPlace {
                    place,
                    pointer: pointer.clone(),
                });
            }
        }
        count(
            &format!("{place}/numbers"),
            self.numbers.len(),
            limits::NUMBERS,
        )?;
        for (index, given) in self.numbers.iter().enumerate() {
            let place = format!("{place}/numbers/{index}");
            line(&format!("{place}/name"), &given.name, limits::LABEL)?;
            number(
                &place,
                &given.value,
                &given.unit,
                given.standard_uncertainty.as_deref(),
            )?;
        }
        Ok(())
    }
}

impl Series {
    fn audit(&self, place: &str) -> Result<(), Lie> {
        line(&format!("{place}/title"), &self.title, limits::TITLE)?;
        line(&format!("{place}/source"), &self.source, limits::SOURCE)?;
        for (name, axis) in [("x", &self.x), ("y", &self.y)] {
            line(&format!("{place}/{name}/name"), &axis.name, limits::AXIS)?;
            unit(&format!("{place}/{name}/unit"), &axis.unit)?;
        }
        count(
            &format!("{place}/points"),
            self.points.len(),
            limits::POINTS,
        )?;
        for (index, point) in self.points.iter().enumerate() {
            let place = format!("{place}/points/{index}");
            decimal(&format!("{place}/x"), &point.x)?;
            decimal(&format!("{place}/y"), &point.y)?;
            if let Some(uncertainty) = &point.standard_uncertainty {
                positive(&format!("{place}/standard_uncertainty"), uncertainty)?;
            }
        }
        Ok(())
    }
}

impl Table {
    fn audit(&self, place: &str) -> Result<(), Lie> {
        line(&format!("{place}/title"), &self.title, limits::TITLE)?;
        line(&format!("{place}/source"), &self.source, limits::SOURCE)?;
        count(
            &format!("{place}/columns"),
            self.columns.len(),
            limits::COLUMNS,
        )?;
        ensure(
            &format!("{place}/columns"),
            !self.columns.is_empty(),
            || "a list of at least one column".to_owned(),
        )?;
        for (index, column) in self.columns.iter().enumerate() {
            let place = format!("{place}/columns/{index}");
            line(&format!("{place}/name"), &column.name, limits::LABEL)?;
            if let Some(code) = &column.unit {
                unit(&format!("{place}/unit"), code)?;
            }
        }
        count(&format!("{place}/rows"), self.rows.len(), limits::ROWS)?;
        for (index, row) in self.rows.iter().enumerate() {
            let place = format!("{place}/rows/{index}");
            if row.len() != self.columns.len() {
                let (found, expected) = (row.len(), self.columns.len());
                return Err(Lie::Ragged {
                    place,
                    found,
                    expected,
                });
            }
            for (cell_index, (cell, column)) in row.iter().zip(&self.columns).enumerate() {
                let place = format!("{place}/{cell_index}");
                if column.unit.is_some() && !cell.is_empty() {
                    decimal(&place, cell)?;
                } else {
                    ensure(&place, is_cell(cell, limits::CELL), || {
                        format!("one line of at most {} characters", limits::CELL)
                    })?;
                }
            }
        }
        Ok(())
    }
}

fn ensure(place: &str, good: bool, expected: impl FnOnce() -> String) -> Result<(), Lie> {
    if good {
        return Ok(());
    }
    Err(Lie::Shape {
        place: place.to_owned(),
        expected: expected(),
    })
}

fn count(place: &str, found: usize, most: usize) -> Result<(), Lie> {
    if found <= most {
        return Ok(());
    }
    Err(Lie::TooMany {
        place: place.to_owned(),
        found,
        most,
    })
}

fn line(place: &str, text: &str, most: usize) -> Result<(), Lie> {
    ensure(place, is_line(text, most), || {
        format!("one line of 1 to {most} characters")
    })
}

fn unit(place: &str, code: &str) -> Result<(), Lie> {
    ensure(place, is_unit(code), || {
        format!(
            "a unit that a record holds: {}",
            Unit::ALL.map(Unit::code).join(", ")
        )
    })
}

fn decimal(place: &str, text: &str) -> Result<(), Lie> {
    ensure(place, is_decimal(text), || {
        format!(
            "a decimal number such as `-12.50`, at most {} digits before and {} after the full stop",
            limits::WHOLE_DIGITS,
            limits::FRACTION_DIGITS
        )
    })
}

fn positive(place: &str, text: &str) -> Result<(), Lie> {
    decimal(place, text)?;
    ensure(place, !text.starts_with('-'), || "zero or more".to_owned())
}

fn number(place: &str, value: &str, code: &str, uncertainty: Option<&str>) -> Result<(), Lie> {
    decimal(&format!("{place}/value"), value)?;
    unit(&format!("{place}/unit"), code)?;
    match uncertainty {
        Some(text) => positive(&format!("{place}/standard_uncertainty"), text),
        None => Ok(()),
    }
}

fn identifier<'a>(place: &str, id: &'a str, seen: &mut BTreeSet<&'a str>) -> Result<(), Lie> {
    ensure(place, is_identifier(id), || {
        format!(
            "an identifier: a-z first, then a-z, 0-9, `_`, `-`, `.`, at most {} characters",
            limits::NAME
        )
    })?;
    if seen.insert(id) {
        return Ok(());
    }
    Err(Lie::Repeated {
        place: place.to_owned(),
        id: id.to_owned(),
    })
}

#[cfg(test)]
#[path = "audit_tests.rs"]
mod tests;
