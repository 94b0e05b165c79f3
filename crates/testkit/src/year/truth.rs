//! What the ledger acknowledged against what the workshop holds: line by line, from the exported tables.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs;
use std::sync::atomic::{AtomicUsize, Ordering};

use serde::Serialize;
use tangmark_core::Digest;

use super::YearError;
use super::actor::Actor;
use super::ledger::{Fact, Line};
use super::shape::grams;
use super::tables::{exported_lines, plain};

/// What is counted: one kind of line. All are compared line by line; those that other commands make too only have to
/// hold what was acknowledged.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Table {
    /// Passes.
    Pass,
    /// Passes that were refused.
    Refused,
    /// What blades were bought for.
    Bought,
    /// What blades were sold for.
    Sold,
    /// Other money that went out.
    Cost,
    /// Other money that came in.
    Income,
    /// Work outside passes.
    Hours,
    /// Things used up.
    Used,
    /// Fittings.
    Fitting,
    /// Sealed records.
    Record,
    /// Moves to a stage.
    Stage,
    /// Events of custody.
    Custody,
}

impl Table {
    /// Other commands write such lines too, as a part of what they do.
    const fn is_open(self) -> bool {
        matches!(self, Self::Stage | Self::Custody)
    }
}

/// Lines of each kind, by blade, in alphabetical order.
pub(super) type Lines = BTreeMap<(String, Table), Vec<String>>;

/// The year in numbers.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Totals {
    /// Blades that came.
    pub blades: usize,
    /// Lines of each kind.
    pub lines: BTreeMap<Table, usize>,
    /// Time of passes, minutes.
    pub pass_minutes: u64,
    /// Steel and rust gone, in tenths of a gram.
    pub gone_tenths: i64,
    /// Blades that were sent to the specialist.
    pub referrals: usize,
    /// Answers of the specialist.
    pub replies: usize,
    /// Blades that went back to their owners.
    pub returns: usize,
    /// Records that were put right.
    pub corrections: usize,
    /// Records that were withdrawn.
    pub withdrawals: usize,
    /// Readings that were questioned.
    pub questioned: usize,
    /// Changes of the key.
    pub rotations: usize,
    /// SHA-256 over all lines: two years of the same seed have the same, killed or not.
    pub digest: String,
}

/// The lines a fact stands for.
pub(super) fn lines_of(fact: &Fact) -> Vec<(Table, String)> {
    let one = |table, line: String| vec![(table, line)];
    match fact {
        Fact::Entered { on, price, .. } => price
            .iter()
            .map(|price| (Table::Bought, format!("{on} {}", plain(price))))
            .collect(),
        Fact::Pass {
            on,
            operation,
            minutes,
            before,
            after,
        } => {
            let masses = format!("{} to {}", grams(*before), grams(*after));
            one(
                Table::Pass,
                format!("{on} {operation} {minutes} min {masses}"),
            )
        }
        Fact::Refused { on } => one(Table::Refused, on.clone()),
        Fact::Questioned { .. } | Fact::Rotated => Vec::new(),
        Fact::Cost { on, amount } => one(Table::Cost, format!("{on} {}", plain(amount))),
        Fact::Income { on, amount } => one(Table::Income, format!("{on} {}", plain(amount))),
        Fact::Hours { on, minutes } => one(Table::Hours, format!("{on} {minutes} min")),
        Fact::Used { on, name, amount } => {
            one(Table::Used, format!("{on} {name} {}", plain(amount)))
        }
        Fact::Stage { on, stage } => one(Table::Stage, format!("{on} {stage}")),
        Fact::Fitting { id, .. } => one(Table::Fitting, id.clone()),
        Fact::Custody { kind, .. } => one(Table::Custody, (*kind).to_owned()),
        Fact::Sealed { purpose } => one(Table::Record, (*purpose).to_owned()),
        Fact::Sold { on, price, to } => vec![
            (Table::Sold, format!("{on} {} {to}", plain(price))),
            (Table::Record, "transfer".to_owned()),
            (Table::Custody, "sold".to_owned()),
        ],
        Fact::Returned { .. } => vec![
            (Table::Record, "transfer".to_owned()),
            (Table::Custody, "returned".to_owned()),
        ],
        Fact::Referred { .. } => one(Table::Record, "referral".to_owned()),
        Fact::Replied { .. } => one(Table::Record, "reply".to_owned()),
        Fact::Corrected { withdrawn, .. } => {
            let purpose = if *withdrawn {
                "withdrawal"
            } else {
                "correction"
            };
            one(Table::Record, purpose.to_owned())
        }
    }
}

fn acknowledged_lines(ledger: &[Line]) -> Lines {
    let mut lines = Lines::new();
    for line in ledger {
        let Some(fact) = &line.fact else { continue };
        for (table, text) in lines_of(fact) {
            let blade = line.blade.clone().unwrap_or_default();
            lines.entry((blade, table)).or_default().push(text);
        }
    }
    for texts in lines.values_mut() {
        texts.sort();
    }
    lines
}

/// Exports all tables into a fresh folder and reads them.
fn exported(actor: &Actor<'_>) -> Result<Lines, YearError> {
    static NUMBER: AtomicUsize = AtomicUsize::new(0);
    let number = NUMBER.fetch_add(1, Ordering::Relaxed);
    let folder = actor.hand.own.join(format!("export-{number}"));
    actor.look(&["book", "export", &folder.display().to_string()])?;
    let lines = exported_lines(&folder);
    let _ = fs::remove_dir_all(&folder);
    lines
}

/// Takes out the sales of blades of which a record was withdrawn: the newest was, which is that of the sale. The books do
/// not count what was withdrawn, from the moment the withdrawal is sealed and not only once it is acknowledged.
fn without_withdrawn(mut lines: Lines, found: &Lines) -> Lines {
    lines.retain(|(blade, table), _| {
        let records = found.get(&(blade.clone(), Table::Record));
        let withdrawn = records.is_some_and(|all| all.iter().any(|one| one == "withdrawal"));
        *table != Table::Sold || !withdrawn
    });
    lines
}

/// Sees that everything acknowledged so far is there.
pub(super) fn acknowledged(actor: &Actor<'_>) -> Result<(), YearError> {
    let found = exported(actor)?;
    let lines = without_withdrawn(acknowledged_lines(&actor.shared.ledger.lines()), &found);
    compare(&lines, &found, true)
}

/// Sees that everything acknowledged is there and nothing else; returns the year in numbers.
pub(super) fn whole(actor: &Actor<'_>) -> Result<Totals, YearError> {
    let ledger = actor.shared.ledger.lines();
    let found = exported(actor)?;
    let lines = without_withdrawn(acknowledged_lines(&ledger), &found);
    compare(&lines, &found, false)?;
    let totals = totals(&ledger, &lines);
    let keys = actor.json(&["key", "show", "--json"])?;
    let keys = keys["terms"].as_array().map_or(0, Vec::len);
    if keys != totals.rotations + 1 {
        return Err(YearError::Untrue(format!(
            "{keys} keys found, {} expected: one, and one for each change",
            totals.rotations + 1
        )));
    }
    Ok(totals)
}

/// Holds lines against each other. What commands make beside their own purpose is only asked to be there; so is, with
/// `partly`, everything.
fn compare(acknowledged: &Lines, found: &Lines, partly: bool) -> Result<(), YearError> {
    let none = Vec::new();
    for ((blade, table), wanted) in acknowledged {
        let there = found.get(&(blade.clone(), *table)).unwrap_or(&none);
        if let Some(missing) = missing(wanted, there) {
            return Err(YearError::Untrue(format!(
                "{blade}, {table:?}: `{missing}` was acknowledged and is not there; there are {there:?}"
            )));
        }
    }
    for ((blade, table), there) in found {
        let wanted = acknowledged.get(&(blade.clone(), *table)).unwrap_or(&none);
        if !partly && !table.is_open() && wanted.len() != there.len() {
            let more = missing(there, wanted).unwrap_or_default();
            return Err(YearError::Untrue(format!(
                "{blade}, {table:?}: `{more}` is there and was never acknowledged"
            )));
        }
    }
    Ok(())
}

/// The first line of a sorted list that another sorted list lacks, each counted as often as it stands there.
fn missing(wanted: &[String], there: &[String]) -> Option<String> {
    let mut there = there.iter().peekable();
    for line in wanted {
        while there.next_if(|other| *other < line).is_some() {}
        if there.next_if(|other| *other == line).is_none() {
            return Some(line.clone());
        }
    }
    None
}

fn totals(ledger: &[Line], lines: &Lines) -> Totals {
    let mut totals = Totals::default();
    for fact in ledger.iter().filter_map(|line| line.fact.as_ref()) {
        match fact {
            Fact::Entered { .. } => totals.blades += 1,
            Fact::Pass {
                minutes,
                before,
                after,
                ..
            } => {
                totals.pass_minutes += minutes;
                totals.gone_tenths += before - after;
            }
            Fact::Referred { .. } => totals.referrals += 1,
            Fact::Replied { .. } => totals.replies += 1,
            Fact::Returned { .. } => totals.returns += 1,
            Fact::Corrected {
                withdrawn: true, ..
            } => totals.withdrawals += 1,
            Fact::Corrected { .. } => totals.corrections += 1,
            Fact::Questioned { .. } => totals.questioned += 1,
            Fact::Rotated => totals.rotations += 1,
            _ => {}
        }
    }
    let mut text = String::new();
    for ((blade, table), texts) in lines {
        *totals.lines.entry(*table).or_default() += texts.len();
        for line in texts {
            let _ = writeln!(text, "{blade} {table:?} {line}");
        }
    }
    totals.digest = Digest::of(text.as_bytes()).to_string();
    totals
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn lines(of: &[(&str, Table, &[&str])]) -> Lines {
        of.iter()
            .map(|(blade, table, texts)| {
                let texts = texts.iter().map(|text| (*text).to_owned()).collect();
                (((*blade).to_owned(), *table), texts)
            })
            .collect()
    }

    #[test]
    fn what_is_missing_is_found_however_often_it_stands_there() {
        let list = |texts: &[&str]| {
            texts
                .iter()
                .map(|text| (*text).to_owned())
                .collect::<Vec<_>>()
        };
        assert_eq!(missing(&list(&["a", "b"]), &list(&["a", "b", "c"])), None);
        assert_eq!(
            missing(&list(&["a", "a"]), &list(&["a", "b"])),
            Some("a".to_owned())
        );
        assert_eq!(
            missing(&list(&["c"]), &list(&["a", "b"])),
            Some("c".to_owned())
        );
    }

    #[test]
    fn a_sale_that_was_withdrawn_is_not_looked_for() {
        let ours = lines(&[
            ("reed", Table::Sold, &["a"]),
            ("reed", Table::Record, &["transfer", "withdrawal"]),
            ("heron", Table::Sold, &["b"]),
        ]);
        let left = without_withdrawn(ours.clone(), &ours);
        let sold: Vec<&str> = left
            .keys()
            .filter(|(_, table)| *table == Table::Sold)
            .map(|(blade, _)| blade.as_str())
            .collect();
        assert_eq!(sold, ["heron"]);
    }

    #[test]
    fn lines_are_held_against_each_other() {
        let ours = lines(&[
            ("reed", Table::Pass, &["a"]),
            ("reed", Table::Stage, &["x"]),
        ]);
        let more = lines(&[
            ("reed", Table::Pass, &["a", "b"]),
            ("reed", Table::Stage, &["x", "y"]),
        ]);
        let open = lines(&[
            ("reed", Table::Pass, &["a"]),
            ("reed", Table::Stage, &["x", "y"]),
        ]);
        compare(&ours, &open, false).unwrap();
        compare(&ours, &more, true).unwrap();
        let error = compare(&ours, &more, false).unwrap_err().to_string();
        assert_eq!(error, "reed, Pass: `b` is there and was never acknowledged");
        let error = compare(&more, &ours, true).unwrap_err().to_string();
        assert!(
            error.starts_with("reed, Pass: `b` was acknowledged and is not there"),
            "{error}"
        );
    }
}
