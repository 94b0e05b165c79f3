//! Collects what the rules say: findings, near misses, and what could not be judged.

use serde_json::Value;
use tangmark_core::units::Unit;
use tangmark_measure::{Estimate, print};
use tangmark_plugin::{
    Artefact, CheckReply, Column, FindingDraft, Level, NumberDraft, QuantityDraft, Table, evidence,
    message::limits,
};

use crate::rules;
use crate::words::cut;

/// What became of a rule.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Outcome {
    /// It made a finding.
    Fired,
    /// It came near.
    Nearly,
    /// Something needed is missing.
    NotJudged,
}

impl Outcome {
    const fn word(self) -> &'static str {
        match self {
            Self::Fired => "fired",
            Self::Nearly => "nearly",
            Self::NotJudged => "not judged",
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
}

/// The findings and the decision table of one run.
pub(crate) struct Ledger<'a> {
    sheet: &'a Value,
    findings: Vec<FindingDraft>,
    quantities: Vec<QuantityDraft>,
    lines: Vec<Line>,
}

impl<'a> Ledger<'a> {
    /// Starts empty.
    pub(crate) fn new(sheet: &'a Value) -> Self {
        Self {
            sheet,
            findings: Vec::new(),
            quantities: Vec::new(),
            lines: Vec::new(),
        }
    }

    /// Adds a finding of a rule in [`rules::all`]; its source and, where none is given, its level come from there.
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
        let mut evidence: Vec<String> = Vec::new();
        for pointer in pointers {
            let present = evidence::nearest_present(self.sheet, pointer);
            if !evidence.contains(&present) && evidence.len() < limits::EVIDENCE {
                evidence.push(present);
            }
        }
        if evidence.is_empty() {
            evidence.push(String::new());
        }
        let source = rules::find(rule)
            .map_or("this tool's own rule", |rule| rule.source)
            .to_owned();
        self.lines.push(Line {
            rule: rule.to_owned(),
            outcome: Outcome::Fired,
            level: Some(level),
            why: message.to_owned(),
        });
        let message = cut(message, limits::MESSAGE);
        self.findings.push(FindingDraft {
            rule: rule.to_owned(),
            level,
            message,
            evidence,
            numbers,
            source,
        });
    }

    /// Notes that a rule came near.
    pub(crate) fn nearly(&mut self, rule: &str, why: impl Into<String>) {
        self.lines.push(Line {
            rule: rule.to_owned(),
            outcome: Outcome::Nearly,
            level: None,
            why: why.into(),
        });
    }

    /// Notes that a rule could not be judged, and what is missing.
    pub(crate) fn not_judged(&mut self, rule: &str, missing: impl Into<String>) {
        self.lines.push(Line {
            rule: rule.to_owned(),
            outcome: Outcome::NotJudged,
            level: None,
            why: missing.into(),
        });
    }

    /// Adds a derived number; one that cannot be written as a decimal is left out.
    pub(crate) fn quantity(&mut self, name: &str, estimate: Estimate, unit: Unit, source: &str) {
        if let Some(number) = number(name, estimate, unit) {
            self.quantities.push(QuantityDraft {
                name: number.name,
                value: number.value,
                unit: number.unit,
                standard_uncertainty: number.standard_uncertainty,
                source: source.to_owned(),
            });
        }
    }

    /// The findings so far.
    pub(crate) fn findings(&self) -> &[FindingDraft] {
        &self.findings
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
        self.findings
            .sort_by_key(|finding| std::cmp::Reverse(finding.level));
        let weight = |line: &Line| (line.outcome, std::cmp::Reverse(line.level));
        self.lines
            .sort_by(|a, b| weight(a).cmp(&weight(b)).then_with(|| a.rule.cmp(&b.rule)));
        let level_word = |level: Option<Level>| match level {
            Some(Level::Stop) => "stop",
            Some(Level::Caution) => "caution",
            Some(Level::Info) => "info",
            None => "",
        };
        let rows = self
            .lines
            .iter()
            .take(limits::ROWS)
            .map(|line| {
                let why = cut(&line.why, limits::CELL);
                vec![
                    line.rule.clone(),
                    line.outcome.word().to_owned(),
                    level_word(line.level).to_owned(),
                    why,
                ]
            })
            .collect();
        let column = |name: &str| Column {
            name: name.to_owned(),
            unit: None,
        };
        let table = Table {
            id: "triage.rules".to_owned(),
            title: "What each rule said of this blade".to_owned(),
            columns: vec![
                column("rule"),
                column("outcome"),
                column("level"),
                column("why, or what is missing"),
            ],
            rows,
            source: "the rules of this plugin; rules that are not listed had nothing to say"
                .to_owned(),
        };
        self.findings.truncate(limits::FINDINGS);
        CheckReply {
            findings: self.findings,
            quantities: self.quantities,
            artefacts: vec![Artefact::Table(table)],
        }
    }
}

/// Makes a number of a finding; `None` for what cannot be written as a decimal.
pub(crate) fn number(name: &str, estimate: Estimate, unit: Unit) -> Option<NumberDraft> {
    let printed = print::printed(estimate, 3).ok()?;
    Some(NumberDraft {
        name: name.to_owned(),
        value: printed.value.to_string(),
        unit: unit.code().to_owned(),
        standard_uncertainty: printed.standard_uncertainty.map(|one| one.to_string()),
    })
}
