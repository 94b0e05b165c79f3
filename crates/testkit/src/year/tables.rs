//! The tables that the workshop exports, as lines that can be held against the ledger.

use std::collections::BTreeMap;
use std::path::Path;

use super::YearError;
use super::truth::{Lines, Table};

/// `12.50 EUR` as `12.5 EUR`: the same amount in the same text.
pub(super) fn plain(amount: &str) -> String {
    let (number, unit) = amount.split_once(' ').unwrap_or((amount, ""));
    let number = if number.contains('.') {
        number.trim_end_matches('0').trim_end_matches('.')
    } else {
        number
    };
    format!("{number} {unit}").trim_end().to_owned()
}

/// One exported table: rows by the names of their columns.
fn table(folder: &Path, name: &str) -> Result<Vec<BTreeMap<String, String>>, YearError> {
    let file = folder.join(format!("{name}.csv"));
    let fault = |error: csv::Error| YearError::Understood(format!("{}: {error}", file.display()));
    let mut reader = csv::Reader::from_path(&file).map_err(fault)?;
    reader
        .deserialize()
        .collect::<Result<_, _>>()
        .map_err(fault)
}

/// Makes the line of a row, given what reads its cell of a column.
type LineOf<'a> = dyn Fn(&dyn Fn(&str) -> String) -> Option<(Table, String)> + 'a;

/// The lines that the exported tables hold.
pub(super) fn exported_lines(folder: &Path) -> Result<Lines, YearError> {
    let mut lines = Lines::new();
    let mut take = |name: &str, line: &LineOf| -> Result<(), YearError> {
        for row in table(folder, name)? {
            let cell = |column: &str| row.get(column).cloned().unwrap_or_default();
            if let Some((table, text)) = line(&cell) {
                lines.entry((cell("blade"), table)).or_default().push(text);
            }
        }
        Ok(())
    };
    take("passes", &|cell| {
        let (before, after) = (cell("mass_before_g"), cell("mass_after_g"));
        let on = cell("on");
        let (operation, minutes) = (cell("operation"), cell("time_min"));
        let masses = format!("{} to {}", tenths(&before), tenths(&after));
        Some((
            Table::Pass,
            format!("{on} {operation} {} min {masses}", plain(&minutes)),
        ))
    })?;
    take("costs", &|cell| {
        let money = plain(&format!("{} {}", cell("amount"), cell("currency")));
        let on = cell("on");
        match cell("kind").as_str() {
            "bought" => Some((Table::Bought, format!("{on} {money}"))),
            "cost" => Some((Table::Cost, format!("{on} {money}"))),
            "use" => {
                let amount = plain(&format!("{} {}", cell("quantity"), cell("quantity_unit")));
                Some((Table::Used, format!("{on} {} {amount}", cell("what"))))
            }
            _ => None,
        }
    })?;
    take("sales", &|cell| {
        let money = plain(&format!("{} {}", cell("amount"), cell("currency")));
        let on = cell("on");
        match cell("kind").as_str() {
            "sold" => Some((Table::Sold, format!("{on} {money} {}", cell("party")))),
            _ => Some((Table::Income, format!("{on} {money}"))),
        }
    })?;
    take("hours", &|cell| {
        let line = format!("{} {} min", cell("on"), plain(&cell("time_min")));
        (cell("kind") == "hours").then_some((Table::Hours, line))
    })?;
    take("fittings", &|cell| Some((Table::Fitting, cell("fitting"))))?;
    take("records", &|cell| Some((Table::Record, cell("purpose"))))?;
    take("stages", &|cell| {
        Some((Table::Stage, format!("{} {}", cell("on"), cell("stage"))))
    })?;
    take("custody", &|cell| Some((Table::Custody, cell("kind"))))?;
    take("journal", &|cell| {
        (cell("kind") == "refused_pass").then(|| (Table::Refused, cell("on")))
    })?;
    for texts in lines.values_mut() {
        texts.sort();
    }
    Ok(lines)
}

/// Grams as they are exported, with one decimal and the unit.
fn tenths(grams: &str) -> String {
    match grams.split_once('.') {
        // Values are kept a digit finer than the scale shows: `748.30` was read as 748.3 g.
        Some((whole, part)) => format!("{whole}.{} g", part.get(..1).unwrap_or("0")),
        None => format!("{grams}.0 g"),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use std::fs;

    use super::*;
    use crate::year::ledger::Fact;
    use crate::year::truth::lines_of;

    #[test]
    fn amounts_are_written_in_one_way() {
        assert_eq!(plain("12.50 EUR"), "12.5 EUR");
        assert_eq!(plain("120 JPY"), "120 JPY");
        assert_eq!(plain("12.00 EUR"), "12 EUR");
        assert_eq!(plain("95"), "95");
        assert_eq!(tenths("748.30"), "748.3 g");
        assert_eq!(tenths("748"), "748.0 g");
    }

    #[test]
    fn tables_are_read_by_their_columns() {
        let folder = tempfile::tempdir().unwrap();
        let write = |name: &str, text: &str| fs::write(folder.path().join(name), text).unwrap();
        write(
            "passes.csv",
            "blade,on,operation,time_min,mass_before_g,mass_after_g\nreed,2025-01-02,grind,95,748.30,746.10\n",
        );
        write(
            "costs.csv",
            "blade,kind,on,what,amount,currency,quantity,quantity_unit\nreed,bought,2025-01-01,the blade,300,EUR,,\nreed,use,2025-01-03,stone,4.10,EUR,30,g\n,stock,2025-01-01,oil,3,EUR,1,1\n",
        );
        write(
            "sales.csv",
            "blade,kind,on,party,amount,currency\nreed,sold,2025-03-01,Odo,900,EUR\n",
        );
        write(
            "hours.csv",
            "blade,kind,on,time_min\nreed,pass,2025-01-02,95\nreed,hours,2025-01-05,30\n",
        );
        write("fittings.csv", "blade,fitting\n");
        write("records.csv", "blade,purpose\nreed,transfer\n");
        write("stages.csv", "blade,on,stage\nreed,2025-01-02,foundation\n");
        write("custody.csv", "blade,kind\nreed,sold\n");
        write(
            "journal.csv",
            "blade,kind,on\nreed,refused_pass,2025-01-02\nreed,cost,2025-01-02\n",
        );
        let found = exported_lines(folder.path()).unwrap();
        let on = || "2025-01-02".to_owned();
        let pass = Fact::Pass {
            on: on(),
            operation: "grind",
            minutes: 95,
            before: 7483,
            after: 7461,
        };
        let sold = Fact::Sold {
            on: "2025-03-01".to_owned(),
            price: "900 EUR".to_owned(),
            to: "Odo".to_owned(),
        };
        for fact in [pass, sold, Fact::Refused { on: on() }] {
            for (table, line) in lines_of(&fact) {
                assert_eq!(found[&("reed".to_owned(), table)], [line]);
            }
        }
        assert_eq!(
            found[&("reed".to_owned(), Table::Used)],
            ["2025-01-03 stone 30 g"]
        );
    }
}
