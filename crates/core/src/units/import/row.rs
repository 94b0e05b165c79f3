//! Decides on each value of one row.

use std::collections::BTreeMap;

use num_bigint::BigInt;
use num_traits::{Signed, Zero};

use super::{
    super::{
        Decimal, QuantityKind, Reading,
        map::{Column, Field},
        published::{Agreement, Entry, Problem, compare, read_published},
        reading::read,
        scan::{Token, scan},
        shorten,
    },
    ImportReport, Origin, Quantity, Reason, Remark,
};

pub(super) struct Row<'a> {
    pub(super) line: u64,
    pub(super) identity: String,
    pub(super) report: &'a mut ImportReport,
}

impl Row<'_> {
    fn remark(
        &self,
        field: Field,
        first: Option<&str>,
        second: Option<&str>,
        reason: Reason,
    ) -> Remark {
        let own = |text: &str| shorten(text);
        Remark {
            line: self.line,
            identity: self.identity.clone(),
            field: Some(field),
            first: first.map(own),
            second: second.map(own),
            reason,
        }
    }

    fn fault(&mut self, field: Field, first: Option<&str>, second: Option<&str>, reason: Reason) {
        let remark = self.remark(field, first, second, reason);
        self.report.faults.push(remark);
    }

    fn note(&mut self, field: Field, first: Option<&str>, second: Option<&str>, reason: Reason) {
        let remark = self.remark(field, first, second, reason);
        self.report.remarks.push(remark);
    }

    /// Lists a problem of the published line; the two systems are its two values.
    fn problem(&mut self, field: Field, problem: &Problem) {
        let (first, second) = match problem {
            Problem::Disagreement {
                customary, metric, ..
            } => (Some(customary.as_str()), Some(metric.as_str())),
            Problem::OddFraction { found, .. }
            | Problem::Misprint { found, .. }
            | Problem::MissingUnit { found, .. }
            | Problem::SeveralValues { found, .. }
            | Problem::Unreadable { found, .. } => (Some(found.as_str()), None),
            Problem::Unread { text } => (Some(text.as_str()), None),
        };
        let reason = Reason::Published {
            problem: problem.clone(),
        };
        if problem.is_fault() {
            self.fault(field, first, second, reason);
        } else {
            self.note(field, first, second, reason);
        }
    }

    /// Takes what is sound of a row's cells and lists the rest.
    pub(super) fn quantities(
        &mut self,
        columns: &BTreeMap<Field, (usize, &Column)>,
        cells: &BTreeMap<Field, String>,
    ) -> BTreeMap<Field, Quantity> {
        let line = cells
            .get(&Field::Published)
            .map(|text| read_published(text));
        let entries = line.as_ref().map_or(&[][..], |line| &line.entries);
        for problem in line.iter().flat_map(|line| &line.problems) {
            self.problem(Field::Published, problem);
        }
        let mut quantities = BTreeMap::new();
        for field in Field::ALL {
            let (Some(dimension), Some(kind)) = (field.dimension(), field.published_kind()) else {
                continue;
            };
            let named: Vec<&Entry> = entries.iter().filter(|entry| entry.kind == kind).collect();
            for problem in named.iter().flat_map(|entry| &entry.problems) {
                self.problem(field, problem);
            }
            let column = columns.get(&field).map(|(_, column)| *column);
            let cell = cells
                .get(&field)
                .map(|cell| with_unit(cell, column.and_then(|column| column.unit.as_deref())));
            let reading = match cell.as_deref().map(|cell| read(cell, dimension)) {
                None => None,
                Some(Ok(reading)) => Some(reading),
                Some(Err(error)) => {
                    self.fault(field, cell.as_deref(), None, Reason::Unreadable { error });
                    continue;
                }
            };
            if named
                .iter()
                .any(|entry| !entry.is_sound() && entry.problems.iter().any(Problem::is_fault))
            {
                continue;
            }
            if let [first, .., last] = named[..]
                && first.reading().map(|r| &r.exact) != last.reading().map(|r| &r.exact)
            {
                self.fault(
                    field,
                    Some(&first.text),
                    Some(&last.text),
                    Reason::TwoPublished,
                );
                continue;
            }
            let published = named.first().copied();
            let quantity = match (reading, published) {
                (None, None) => None,
                (Some(reading), None) => self.settle_alone(field, reading, entries, line.is_some()),
                (Some(reading), Some(entry)) => self.settle_both(field, reading, entry),
                (None, Some(entry)) => self.settle_published(field, entry, column.is_some()),
            };
            quantities.extend(quantity.map(|quantity| (field, quantity)));
        }
        for entry in entries.iter().filter(|entry| {
            !Field::ALL
                .into_iter()
                .any(|field| field.published_kind() == Some(entry.kind))
        }) {
            for problem in &entry.problems {
                self.problem(Field::Published, problem);
            }
        }
        quantities
    }

    /// Decides on a value that the published line does not name. The line may give it under another
    /// label, or under none; what contradicts it there counts all the same.
    fn settle_alone(
        &mut self,
        field: Field,
        reading: Reading,
        entries: &[Entry],
        line: bool,
    ) -> Option<Quantity> {
        let is_it = |entry: &&Entry| {
            let gives = |published: &Reading| {
                published.dimension == reading.dimension && agree(&reading, published)
            };
            entry.kind == QuantityKind::Other
                && entry.metric.iter().chain(&entry.customary).any(gives)
        };
        let candidates: Vec<&Entry> = entries.iter().filter(is_it).collect();
        if candidates
            .iter()
            .any(|entry| entry.problems.iter().any(Problem::is_fault))
        {
            // The fault itself is listed with the published line.
            self.fault(
                field,
                Some(&reading.text),
                candidates.first().map(|entry| entry.text.as_str()),
                Reason::DoubtfulSource,
            );
            return None;
        }
        if let Some(entry) = candidates.first() {
            self.note(
                field,
                Some(&reading.text),
                Some(&entry.text),
                Reason::OtherLabel {
                    label: entry.label.clone(),
                },
            );
            return Some(Quantity {
                reading,
                origin: Origin::ColumnAndPublished,
            });
        }
        if line {
            self.note(field, Some(&reading.text), None, Reason::ColumnAlone);
        }
        Some(Quantity {
            reading,
            origin: Origin::Column,
        })
    }

    fn settle_both(&mut self, field: Field, reading: Reading, entry: &Entry) -> Option<Quantity> {
        for published in entry.metric.iter().chain(&entry.customary) {
            if !agree(&reading, published) {
                let difference =
                    Decimal::from_ratio_half_even(&(&reading.exact - &published.exact).abs(), 4);
                let reason = Reason::ColumnDiffers {
                    column: reading.rounded(),
                    published: published.rounded(),
                    difference: difference.unwrap_or(Decimal::ZERO),
                    unit: reading.dimension.canonical_unit(),
                };
                self.fault(field, Some(&reading.text), Some(&published.text), reason);
                return None;
            }
        }
        if let Some(metric) = entry
            .metric
            .as_ref()
            .filter(|metric| reading.is_metric() && metric.exact != reading.exact)
        {
            self.note(
                field,
                Some(&reading.text),
                Some(&metric.text),
                Reason::Rounded,
            );
        }
        Some(Quantity {
            reading,
            origin: Origin::ColumnAndPublished,
        })
    }

    fn settle_published(&mut self, field: Field, entry: &Entry, mapped: bool) -> Option<Quantity> {
        // An empty cell of a mapped column was left empty by somebody; a width is seldom that at the base.
        if mapped || field == Field::Width {
            self.note(field, Some(&entry.text), None, Reason::PublishedAlone);
            return None;
        }
        entry.reading().cloned().map(|reading| Quantity {
            reading,
            origin: Origin::Published,
        })
    }
}

/// A bare number in a cell takes the unit of its column.
pub fn with_unit(cell: &str, unit: Option<&str>) -> String {
    let last = scan(cell).pop();
    match unit {
        Some(unit) if last.is_some_and(|last| !matches!(last.token, Token::Word(_))) => {
            format!("{cell} {unit}")
        }
        _ => cell.to_owned(),
    }
}

/// In one system: equal up to rounding to the coarser step. Across systems: as published pairs are.
fn agree(column: &Reading, published: &Reading) -> bool {
    if column.is_metric() != published.is_metric() {
        return compare(column, published) == Agreement::Agree;
    }
    let difference = (&column.exact - &published.exact).abs();
    let coarser = (&column.resolution).max(&published.resolution);
    difference.is_zero() || &(difference * BigInt::from(2)) <= coarser
}
