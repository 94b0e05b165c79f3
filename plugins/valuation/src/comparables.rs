//! The table `comparables`: sales the workshop knows of.

use std::collections::BTreeSet;

use tangmark_author::tables::{self, Row};
use tangmark_core::record::{BladeKind, PartialDate, SurfaceGrade, Term, ValueBasis};
use tangmark_measure::Estimate;
use tangmark_plugin::Refusal;

use crate::dates::years;
use crate::features::{Feature, of_condition, of_length, of_truth, of_year};
use crate::settings::is_currency;

/// Columns that may be there.
pub(crate) const COLUMNS: &[&str] = &[
    "id",
    "sold_on",
    "price",
    "currency",
    "basis",
    "kind",
    "length_mm",
    "made_year",
    "signed",
    "papers",
    "condition",
    "document",
    "note",
];

/// A sale.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Comparable {
    /// The workshop's name for it.
    pub(crate) id: String,
    /// When.
    pub(crate) sold_on: PartialDate,
    /// Price.
    pub(crate) price: f64,
    /// Currency code.
    pub(crate) currency: String,
    /// What the price is.
    pub(crate) basis: ValueBasis,
    /// Kind of blade.
    pub(crate) kind: BladeKind,
    length_mm: Option<f64>,
    made_year: Option<f64>,
    signed: Option<bool>,
    papers: Option<bool>,
    condition: Option<SurfaceGrade>,
    /// Where the workshop knows it from.
    pub(crate) document: Option<String>,
}

/// Reads the table; `None` when there is none.
pub(crate) fn read(tables: &serde_json::Value) -> Result<Option<Vec<Comparable>>, Refusal> {
    let Some(rows) = tables::find(tables, "comparables")? else {
        return Ok(None);
    };
    rows.only(COLUMNS)?;
    let all: Vec<Comparable> = rows.iter().map(|row| one(&row)).collect::<Result<_, _>>()?;
    let mut seen = BTreeSet::new();
    for (row, comparable) in rows.iter().zip(&all) {
        if !seen.insert(&comparable.id) {
            return Err(row.fault(
                "id",
                &format!(
                    "repeats `{}`; give every sale a name of its own",
                    comparable.id
                ),
            ));
        }
    }
    Ok(Some(all))
}

fn one(row: &Row<'_>) -> Result<Comparable, Refusal> {
    let needed_number = |column: &str, least: f64, most: f64| {
        row.needed(column)?;
        Ok(row.number_in(column, least, most)?.unwrap_or(least))
    };
    let currency = row.needed("currency")?;
    if !is_currency(currency) {
        return Err(row.fault(
            "currency",
            &format!("is `{currency}`; three capital letters (ISO 4217) are needed, such as EUR"),
        ));
    }
    let sold_on = row
        .needed("sold_on")?
        .parse()
        .map_err(|error| row.fault("sold_on", &format!("cannot be read: {error}")))?;
    row.needed("basis")?;
    row.needed("kind")?;
    Ok(Comparable {
        id: row.needed("id")?.to_owned(),
        sold_on,
        price: needed_number("price", 0.01, 1e10)?,
        currency: currency.to_owned(),
        basis: term(row, "basis")?.unwrap_or(ValueBasis::Paid),
        kind: term(row, "kind")?.unwrap_or(BladeKind::Other),
        length_mm: row.number_in("length_mm", 20.0, 3000.0)?,
        made_year: row.number_in("made_year", -2000.0, 2100.0)?,
        signed: truth(row, "signed")?,
        papers: truth(row, "papers")?,
        condition: term(row, "condition")?,
        document: row.text("document").map(str::to_owned),
    })
}

fn term<T: Term>(row: &Row<'_>, column: &str) -> Result<Option<T>, Refusal> {
    let Some(text) = row.text(column) else {
        return Ok(None);
    };
    let found = T::ALL.iter().copied().find(|term| term.key() == text);
    found.map(Some).ok_or_else(|| {
        let known: Vec<&str> = T::ALL.iter().map(|term| term.key()).collect();
        row.fault(
            column,
            &format!("is `{text}`; known are {}", known.join(", ")),
        )
    })
}

fn truth(row: &Row<'_>, column: &str) -> Result<Option<bool>, Refusal> {
    match row.text(column) {
        None => Ok(None),
        Some("yes") => Ok(Some(true)),
        Some("no") => Ok(Some(false)),
        Some(other) => Err(row.fault(column, &format!("is `{other}`; `yes` or `no` is needed"))),
    }
}

impl Comparable {
    /// The number of a feature; `None` where the row does not say.
    pub(crate) fn number(&self, feature: Feature, as_of: &PartialDate) -> Option<f64> {
        match feature {
            Feature::Length => self
                .length_mm
                .map(|length| of_length(Estimate::exact(length)).value),
            Feature::Age => self
                .made_year
                .map(|year| of_year(Estimate::exact(year)).value),
            Feature::Condition => self.condition.map(of_condition),
            Feature::Signed => self.signed.map(of_truth),
            Feature::Papers => self.papers.map(of_truth),
            Feature::Date => Some(years(&self.sold_on) - years(as_of)),
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use serde_json::{Value, json};

    fn row() -> Value {
        json!({"id": "s1", "sold_on": "2020-05", "price": "1200", "currency": "EUR", "basis": "paid", "kind": "katana",
            "length_mm": "600", "signed": "yes", "condition": "full_polish"})
    }

    #[test]
    fn a_row_becomes_numbers() {
        let table = read(&json!({"comparables": [row()]})).unwrap().unwrap();
        let as_of = "2026-05".parse().unwrap();
        let number = |feature| table[0].number(feature, &as_of);
        assert_eq!(number(Feature::Length), Some(0.0));
        assert_eq!(number(Feature::Signed), Some(1.0));
        assert_eq!(number(Feature::Papers), None);
        assert_eq!(number(Feature::Condition), Some(4.0));
        assert!((number(Feature::Date).unwrap() + 6.0).abs() < 1e-9);
    }

    #[test]
    fn bad_cells_are_named() {
        for (column, cell, said) in [
            (
                "price",
                "0",
                "table `comparables`, row 1, column `price` is 0; 0.01 to 10000000000 is allowed",
            ),
            (
                "price",
                "1,200",
                "column `price` is `1,200`; a plain number",
            ),
            (
                "sold_on",
                "May",
                "column `sold_on` cannot be read: `May` is not a date",
            ),
            (
                "currency",
                "Euro",
                "column `currency` is `Euro`; three capital letters",
            ),
            (
                "signed",
                "maybe",
                "column `signed` is `maybe`; `yes` or `no` is needed",
            ),
            (
                "kind",
                "spoon",
                "column `kind` is `spoon`; known are katana, tachi",
            ),
            (
                "condition",
                "nice",
                "column `condition` is `nice`; known are full_polish",
            ),
            ("colour", "blue", "has the column `colour`; known are id"),
        ] {
            let mut bad = row();
            bad[column] = json!(cell);
            let error = read(&json!({"comparables": [bad]}))
                .unwrap_err()
                .to_string();
            assert!(error.contains(said), "{error}");
        }
        for column in ["id", "sold_on", "price", "currency", "basis", "kind"] {
            let mut bad = row();
            bad.as_object_mut().unwrap().remove(column);
            let error = read(&json!({"comparables": [bad]}))
                .unwrap_err()
                .to_string();
            assert!(
                error.contains(&format!("column `{column}` is empty")),
                "{error}"
            );
        }
        let twice = read(&json!({"comparables": [row(), row()]}))
            .unwrap_err()
            .to_string();
        assert!(twice.contains("row 2, column `id` repeats `s1`"), "{twice}");
        assert!(read(&json!({})).unwrap().is_none());
    }
}
