//! Collects findings and quantities.

use serde_json::Value;
use tangmark_core::units::Unit;
use tangmark_measure::{Estimate, print};
use tangmark_plugin::{
    CheckReply, FindingDraft, Level, NumberDraft, QuantityDraft, evidence, message::limits,
};

use crate::rules;

/// The findings and quantities of one run.
pub(crate) struct Notes<'a> {
    sheet: &'a Value,
    reply: CheckReply,
}

impl<'a> Notes<'a> {
    /// Starts empty.
    pub(crate) fn new(sheet: &'a Value) -> Self {
        Self {
            sheet,
            reply: CheckReply::default(),
        }
    }

    /// Adds a finding; its source comes from the rule.
    pub(crate) fn add(
        &mut self,
        rule: &str,
        level: Level,
        message: String,
        pointers: &[&str],
        numbers: Vec<NumberDraft>,
    ) {
        let mut places: Vec<String> = Vec::new();
        for pointer in pointers {
            let present = evidence::nearest_present(self.sheet, pointer);
            if !places.contains(&present) {
                places.push(present);
            }
        }
        if self.reply.findings.len() < limits::FINDINGS {
            let source = rules::source(rule).to_owned();
            self.reply.findings.push(FindingDraft {
                rule: rule.to_owned(),
                level,
                message,
                evidence: places,
                numbers,
                source,
            });
        }
    }

    /// Adds a derived number; one that cannot be written as a decimal is left out.
    pub(crate) fn quantity(&mut self, name: &str, estimate: Estimate, unit: Unit, source: &str) {
        if let Some(number) = number(name, estimate, unit) {
            let source = source.to_owned();
            let NumberDraft {
                name,
                value,
                unit,
                standard_uncertainty,
            } = number;
            self.reply.quantities.push(QuantityDraft {
                name,
                value,
                unit,
                standard_uncertainty,
                source,
            });
        }
    }

    /// Ends the run, findings with the heaviest first.
    pub(crate) fn into_reply(mut self) -> CheckReply {
        self.reply
            .findings
            .sort_by_key(|finding| std::cmp::Reverse(finding.level));
        self.reply
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

/// Makes the numbers of a finding.
pub(crate) fn numbers(all: &[(&str, Estimate, Unit)]) -> Vec<NumberDraft> {
    all.iter()
        .filter_map(|(name, estimate, unit)| number(name, *estimate, *unit))
        .collect()
}

/// Writes a ratio for people: `0.702 ± 0.005`.
pub(crate) fn ratio_text(ratio: Estimate) -> String {
    print::with_expanded(ratio, "")
}
