//! Collects what a plugin has to say, in the form the program takes.

use serde_json::Value;
use tangmark_core::units::Unit;
use tangmark_measure::{Estimate, print};
use tangmark_plugin::{
    Artefact, CheckReply, Column, FindingDraft, Level, NumberDraft, Point, QuantityDraft, Series,
    Table, evidence, message::limits,
};

use crate::Rule;
use crate::words::{cut, one_line};

/// Most points of a series that a record holds.
pub(crate) const RECORD_POINTS: usize = 2_000;

/// The findings, quantities and artefacts of one run.
#[derive(Debug)]
pub struct Notes<'a> {
    sheet: &'a Value,
    rules: &'a [Rule],
    reply: CheckReply,
}

impl<'a> Notes<'a> {
    /// Starts empty, for the sheet of the request.
    pub fn new(sheet: &'a Value, rules: &'a [Rule]) -> Self {
        Self {
            sheet,
            rules,
            reply: CheckReply::default(),
        }
    }

    /// Adds a finding of one of the rules; its source comes from there.
    ///
    /// `pointers` may name places that are not there: the nearest that is there stands for them, at last the whole sheet.
    /// The message becomes one line of the longest length allowed.
    pub fn add<P: AsRef<str>>(
        &mut self,
        rule: &str,
        level: Level,
        message: impl AsRef<str>,
        pointers: &[P],
        numbers: Vec<NumberDraft>,
    ) {
        let source = self
            .rules
            .iter()
            .find(|one| one.id == rule)
            .map_or("this tool's own rule", |one| one.source);
        let mut places: Vec<String> = Vec::new();
        for pointer in pointers {
            let present = evidence::nearest_present(self.sheet, pointer.as_ref());
            if !places.contains(&present) && places.len() < limits::EVIDENCE {
                places.push(present);
            }
        }
        if places.is_empty() {
            places.push(String::new());
        }
        let mut numbers = numbers;
        numbers.truncate(limits::NUMBERS);
        self.reply.findings.push(FindingDraft {
            rule: rule.to_owned(),
            level,
            message: cut(&one_line(message.as_ref()), limits::MESSAGE),
            evidence: places,
            numbers,
            source: source.to_owned(),
        });
    }

    /// Adds a derived number; one that cannot be written as a decimal is left out.
    ///
    /// `name` is an identifier, unique in the run; `source` the formula.
    pub fn quantity(&mut self, name: &str, estimate: Estimate, unit: Unit, source: &str) {
        if let Some(number) = number(name, estimate, unit) {
            self.reply.quantities.push(QuantityDraft {
                name: number.name,
                value: number.value,
                unit: number.unit,
                standard_uncertainty: number.standard_uncertainty,
                source: source.to_owned(),
            });
        }
    }

    /// Adds a curve; points beyond what a record holds are left out evenly, the ends stay.
    pub fn series(&mut self, mut series: Series) {
        let found = series.points.len();
        if found > RECORD_POINTS {
            series.points = (0..RECORD_POINTS)
                .map(|index| series.points[index * (found - 1) / (RECORD_POINTS - 1)].clone())
                .collect();
        }
        self.reply.artefacts.push(Artefact::Series(series));
    }

    /// Adds a table; its cells become one line of the longest length allowed, rows beyond the limit are left out.
    pub fn table(&mut self, mut table: Table) {
        table.rows.truncate(limits::ROWS);
        for cell in table.rows.iter_mut().flatten() {
            *cell = cut(&one_line(cell), limits::CELL);
        }
        self.reply.artefacts.push(Artefact::Table(table));
    }

    /// The findings so far.
    pub fn findings(&self) -> &[FindingDraft] {
        &self.reply.findings
    }

    /// Ends the run, findings with the heaviest first; findings beyond the limit are left out from the lightest.
    pub fn into_reply(mut self) -> CheckReply {
        self.reply
            .findings
            .sort_by_key(|finding| std::cmp::Reverse(finding.level));
        self.reply.findings.truncate(limits::FINDINGS);
        self.reply.quantities.truncate(limits::QUANTITIES);
        self.reply.artefacts.truncate(limits::ARTEFACTS);
        self.reply
    }
}

/// Makes a number of a finding; `None` for what cannot be written as a decimal.
pub fn number(name: &str, estimate: Estimate, unit: Unit) -> Option<NumberDraft> {
    let printed = print::printed(estimate, 3).ok()?;
    Some(NumberDraft {
        name: name.to_owned(),
        value: printed.value.to_string(),
        unit: unit.code().to_owned(),
        standard_uncertainty: printed.standard_uncertainty.map(|one| one.to_string()),
    })
}

/// Makes the numbers of a finding; what cannot be written is left out.
pub fn numbers(all: &[(&str, Estimate, Unit)]) -> Vec<NumberDraft> {
    all.iter()
        .filter_map(|(name, estimate, unit)| number(name, *estimate, *unit))
        .collect()
}

/// Makes a point of a series; `None` for what cannot be written as a decimal. `x` gets up to `digits` after the full stop.
pub fn point(x: f64, digits: usize, y: Estimate) -> Option<Point> {
    let printed = print::printed(y, 3).ok()?;
    Some(Point {
        x: print::fixed(x, digits).ok()?.to_string(),
        y: printed.value.to_string(),
        standard_uncertainty: printed.standard_uncertainty.map(|one| one.to_string()),
    })
}

/// Makes a column of numbers.
pub fn column(name: &str, unit: Unit) -> Column {
    Column {
        name: name.to_owned(),
        unit: Some(unit.code().to_owned()),
    }
}

/// Makes a column of words.
pub fn text_column(name: &str) -> Column {
    Column {
        name: name.to_owned(),
        unit: None,
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use serde_json::json;
    use tangmark_plugin::Axis;

    const RULES: &[Rule] = &[Rule {
        id: "example.length",
        title: "Length",
        source: "a worked example",
    }];

    fn axis(name: &str) -> Axis {
        Axis {
            name: name.to_owned(),
            unit: "mm".to_owned(),
        }
    }

    #[test]
    fn a_reply_fits_whatever_is_thrown_at_it() {
        let sheet = json!({"dimensions": {"mass": 1}});
        let mut notes = Notes::new(&sheet, RULES);
        notes.add(
            "example.length",
            Level::Info,
            "light",
            &["/dimensions/width/value"],
            Vec::new(),
        );
        let long = "long\n".repeat(3_000);
        notes.add::<&str>("example.length", Level::Stop, long, &[], Vec::new());
        notes.quantity(
            "fits",
            Estimate::new(1.0, 0.1),
            Unit::Millimetre,
            "a number",
        );
        notes.quantity(
            "does-not",
            Estimate::new(f64::NAN, 0.1),
            Unit::Millimetre,
            "no number",
        );
        notes.series(Series {
            id: "curve".to_owned(),
            title: "Curve".to_owned(),
            x: axis("along"),
            y: axis("height"),
            points: (0..5_000_u16)
                .filter_map(|x| point(f64::from(x), 1, Estimate::exact(f64::from(x))))
                .collect(),
            source: "a straight line".to_owned(),
        });
        notes.table(Table {
            id: "table".to_owned(),
            title: "Table".to_owned(),
            columns: vec![text_column("words"), column("mm", Unit::Millimetre)],
            rows: vec![vec!["two\nlines".to_owned(), "1.5".to_owned()]; 1_200],
            source: "typed".to_owned(),
        });
        let reply = notes.into_reply();
        let description = crate::describe("example", "1", "Example", RULES);
        assert_eq!(reply.audit(&description, &sheet), Ok(()));
        assert_eq!(reply.findings[0].level, Level::Stop);
        assert_eq!(reply.findings[0].evidence, [""]);
        assert_eq!(reply.findings[1].evidence, ["/dimensions"]);
        assert_eq!(reply.findings[1].source, "a worked example");
        assert_eq!(reply.quantities.len(), 1);
        let Artefact::Series(series) = &reply.artefacts[0] else {
            unreachable!("the series came first")
        };
        assert_eq!(series.points.len(), RECORD_POINTS);
        assert_eq!(series.points[0].x, "0.0");
        assert_eq!(series.points.last().unwrap().x, "4999.0");
    }
}
