//! Collects what the rules say: findings, near misses, and what could not be judged.

use serde_json::Value;
use tangmark_author::{Notes, text_column};
use tangmark_core::units::Unit;
use tangmark_measure::decision::GUARD_95;
use tangmark_measure::{Estimate, print};
use tangmark_plugin::{CheckReply, FindingDraft, Level, NumberDraft, Table};

use crate::rules;

/// What became of a rule.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Outcome {
    /// It made a finding.
    Fired,
    /// It came near, or the measurement cannot tell.
    Nearly,
    /// Something needed is missing.
    NotJudged,
    /// It has a number, and that is well away from the limit.
    Clear,
}

impl Outcome {
    const fn word(self) -> &'static str {
        match self {
            Self::Fired => "fired",
            Self::Nearly => "nearly",
            Self::NotJudged => "not judged",
            Self::Clear => "not near",
        }
    }
}

/// A line of the decision table.
#[derive(Clone, Debug)]
struct Line {
    rule: String,
    outcome: Outcome,
    level: Option<Level>,
    why: String,
    margin: String,
}

/// Which side of a limit a rule fires on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Side {
    /// It fires above the limit.
    Above,
    /// It fires below the limit.
    Below,
}

/// The findings and the decision table of one run.
pub(crate) struct Ledger<'a> {
    notes: Notes<'a>,
    lines: Vec<Line>,
    near_share: f64,
}

impl<'a> Ledger<'a> {
    /// Starts empty. A number is near from `near_share` of its limit on.
    pub(crate) fn new(sheet: &'a Value, near_share: f64) -> Self {
        Self {
            notes: Notes::new(sheet, rules::for_notes()),
            lines: Vec::new(),
            near_share,
        }
    }

    /// Adds a finding of a rule in [`rules::all`]; its source comes from there.
    ///
    /// `pointers` may name places that are not there: the nearest that is there stands for them.
    pub(crate) fn find(
        &mut self,
        rule: &str,
        level: Level,
        message: &str,
        pointers: &[String],
        numbers: Vec<NumberDraft>,
    ) {
        self.notes.add(rule, level, message, pointers, numbers);
        self.lines.push(Line {
            rule: rule.to_owned(),
            outcome: Outcome::Fired,
            level: Some(level),
            why: message.to_owned(),
            margin: String::new(),
        });
    }

    /// Says of the newest line how far its number is from its limit.
    pub(crate) fn by(&mut self, margin: impl Into<String>) {
        if let Some(line) = self.lines.last_mut() {
            line.margin = margin.into();
        }
    }

    /// Notes that a rule came near.
    pub(crate) fn nearly(&mut self, rule: &str, why: impl Into<String>, margin: impl Into<String>) {
        self.line(rule, Outcome::Nearly, why.into(), margin.into());
    }

    /// Notes a number of a rule that did not fire: whether it came near its limit, and how far it is from it.
    ///
    /// Near is a number that, with the guard of 1.645 u, reaches the share of the limit from which the settings call it
    /// near; for a rule that fires below its limit, the limit over that share.
    pub(crate) fn quiet(
        &mut self,
        rule: &str,
        why: impl Into<String>,
        (number, limit, side): (Estimate, Estimate, Side),
        unit: &str,
    ) {
        let left = match side {
            Side::Above => limit - number,
            Side::Below => number - limit,
        };
        let guard = GUARD_95 * left.standard_uncertainty;
        // A share of nothing or of a negative limit says nothing: what the doubt reaches is near then.
        let near = match side {
            _ if limit.value <= 0.0 => left.value <= guard,
            Side::Above => number.value + guard >= self.near_share * limit.value,
            Side::Below => (number.value - guard) * self.near_share <= limit.value,
        };
        let outcome = if near {
            Outcome::Nearly
        } else {
            Outcome::Clear
        };
        self.line(rule, outcome, why.into(), left_text(left, unit));
    }

    /// Notes a number that is well away from its limit.
    pub(crate) fn clear(&mut self, rule: &str, why: impl Into<String>, margin: impl Into<String>) {
        self.line(rule, Outcome::Clear, why.into(), margin.into());
    }

    /// Notes that a rule could not be judged, and what is missing.
    pub(crate) fn not_judged(&mut self, rule: &str, missing: impl Into<String>) {
        self.line(rule, Outcome::NotJudged, missing.into(), String::new());
    }

    fn line(&mut self, rule: &str, outcome: Outcome, why: String, margin: String) {
        self.lines.push(Line {
            rule: rule.to_owned(),
            outcome,
            level: None,
            why,
            margin,
        });
    }

    /// Renames the newest line: a rule of the user's own keeps its own id in the table.
    pub(crate) fn called(&mut self, id: &str) {
        if let Some(line) = self.lines.last_mut() {
            id.clone_into(&mut line.rule);
        }
    }

    /// Adds a derived number; one that cannot be written as a decimal is left out.
    pub(crate) fn quantity(&mut self, name: &str, estimate: Estimate, unit: Unit, source: &str) {
        self.notes.quantity(name, estimate, unit, source);
    }

    /// The findings so far.
    pub(crate) fn findings(&self) -> &[FindingDraft] {
        self.notes.findings()
    }

    /// The rules that could not be judged, each with what is missing.
    pub(crate) fn unjudged(&self) -> impl Iterator<Item = (&str, &str)> {
        self.lines
            .iter()
            .filter(|line| line.outcome == Outcome::NotJudged)
            .map(|line| (line.rule.as_str(), line.why.as_str()))
    }

    /// Ends the run: findings with the heaviest first, and the decision table.
    pub(crate) fn into_reply(mut self) -> CheckReply {
        let weight = |line: &Line| (line.outcome, std::cmp::Reverse(line.level));
        self.lines
            .sort_by(|a, b| weight(a).cmp(&weight(b)).then_with(|| a.rule.cmp(&b.rule)));
        self.lines
            .dedup_by(|a, b| (&a.rule, a.outcome, &a.why) == (&b.rule, b.outcome, &b.why));
        let level_word = |level: Option<Level>| match level {
            Some(Level::Stop) => "stop",
            Some(Level::Caution) => "caution",
            Some(Level::Info) => "info",
            None => "",
        };
        let rows = self.lines.into_iter().map(|line| {
            vec![
                line.rule,
                line.outcome.word().to_owned(),
                level_word(line.level).to_owned(),
                line.why,
                line.margin,
            ]
        });
        self.notes.table(Table {
            id: "triage.rules".to_owned(),
            title: "What each rule said of this blade".to_owned(),
            columns: vec![
                text_column("rule"),
                text_column("outcome"),
                text_column("level"),
                text_column("why, or what is missing"),
                text_column("from the limit"),
            ],
            rows: rows.collect(),
            source: "the rules of this plugin; rules that are not listed had nothing to say"
                .to_owned(),
        });
        self.notes.into_reply()
    }
}

/// Writes how far a number is from its limit: `0.14 ± 0.11 mm left`, or `1.2 ± 0.3 g over`.
pub(crate) fn left_text(left: Estimate, unit: &str) -> String {
    if left.value < 0.0 {
        format!("{} over", print::with_expanded(left.scaled(-1.0), unit))
    } else {
        format!("{} left", print::with_expanded(left, unit))
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use serde_json::json;
    use tangmark_plugin::Artefact;

    /// Outcome and margin of a number that did not fire.
    fn quiet(number: Estimate, limit: Estimate, side: Side) -> (String, String) {
        let sheet = json!({});
        let mut ledger = Ledger::new(&sheet, 0.8);
        ledger.quiet("care.thinnest", "why", (number, limit, side), "mm");
        let reply = ledger.into_reply();
        let Artefact::Table(table) = &reply.artefacts[0] else {
            unreachable!("the decision table")
        };
        (table.rows[0][1].clone(), table.rows[0][4].clone())
    }

    /// Near from 0.8 of the limit on, with the guard of 1.645 u; below a limit, up to the limit over 0.8.
    #[test]
    fn near_is_a_share_of_the_limit_with_the_guard() {
        let exact = Estimate::exact;
        for (number, limit, side, outcome, margin) in [
            (
                exact(8.0),
                exact(10.0),
                Side::Above,
                "nearly",
                "2.000 mm left",
            ),
            (
                exact(7.99),
                exact(10.0),
                Side::Above,
                "not near",
                "2.010 mm left",
            ),
            // 7.9 + 1.645 · 0.1 is 8.06.
            (
                Estimate::new(7.9, 0.1),
                exact(10.0),
                Side::Above,
                "nearly",
                "2.10 ± 0.20 mm left",
            ),
            (
                exact(12.5),
                exact(10.0),
                Side::Below,
                "nearly",
                "2.500 mm left",
            ),
            (
                exact(12.51),
                exact(10.0),
                Side::Below,
                "not near",
                "2.510 mm left",
            ),
            (
                Estimate::new(12.6, 0.1),
                exact(10.0),
                Side::Below,
                "nearly",
                "2.60 ± 0.20 mm left",
            ),
            // No share of nothing: near is what the doubt reaches.
            (
                exact(-1.0),
                exact(0.0),
                Side::Above,
                "not near",
                "1.000 mm left",
            ),
            (
                Estimate::new(-1.0, 1.0),
                exact(0.0),
                Side::Above,
                "nearly",
                "1.0 ± 2.0 mm left",
            ),
        ] {
            assert_eq!(
                quiet(number, limit, side),
                (outcome.to_owned(), margin.to_owned()),
                "{number:?} {limit:?}"
            );
        }
        assert_eq!(
            left_text(Estimate::new(-0.5, 0.05), "g"),
            "0.50 ± 0.10 g over"
        );
    }
}
