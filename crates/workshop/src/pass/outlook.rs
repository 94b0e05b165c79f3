//! Where a blade stands after a pass: mass, steel gone, what may still go, the forecast of the plan, stops.

use serde::{Serialize, Serializer};
use tangmark_core::hold::Stop;
use tangmark_core::record::{Artefact, ArtefactKind, Finding, Level, Number, Quantity, Sheet};
use tangmark_core::units::Unit;
use tangmark_measure::{Estimate, decision, print};

use crate::CheckReport;

/// A limit of the steel that may go.
#[derive(Clone, Debug, Serialize)]
pub struct SteelLimit {
    /// Who set it: `plan` or `agreement`.
    pub by: &'static str,
    /// The limit.
    pub limit: Number,
    /// What is left of it, below zero where more went.
    pub left: Number,
    /// It counts as reached: with a guard of 1.645 u it cannot be said that it is not.
    pub reached: bool,
}

/// Where a blade stands.
#[derive(Clone, Debug, Serialize)]
pub struct Outlook {
    /// Revision of the sheet it is about.
    pub revision: u64,
    /// Last mass that was read.
    pub mass: Option<Number>,
    /// Steel gone so far, rust apart.
    pub steel_gone: Option<Number>,
    /// What went with rust.
    pub rust_gone: Option<Number>,
    /// What may still go.
    pub limits: Vec<SteelLimit>,
    /// What the planner says: the stages to come, the mass to expect, where to stop.
    pub plan: Vec<Finding>,
    /// Mass to expect over the stages to come.
    pub curve: Option<Artefact>,
    /// Stops that stand now, and who may answer them: no further pass before that.
    #[serde(serialize_with = "held")]
    pub stops: Vec<(Stop, &'static str)>,
    /// Cautions and stops that were not there before the pass, and each time those on what was agreed with the owner.
    pub arisen: Vec<Finding>,
}

fn held<S: Serializer>(stops: &[(Stop, &'static str)], serializer: S) -> Result<S::Ok, S::Error> {
    crate::checks::named_answers(stops, serializer)
}

/// Rules of the planner that speak of what is to come.
const PLAN: [&str; 5] = [
    "abrasives.plan",
    "abrasives.forecast",
    "abrasives.gauge",
    "abrasives.over-budget",
    "abrasives.budget-guard",
];

/// Reads what the plugins said of a sheet; `before` is what they said before the pass.
pub(super) fn outlook(sheet: &Sheet, report: &CheckReport, before: &CheckReport) -> Outlook {
    let gone =
        number(report, "removal", "steel-gone").or_else(|| number(report, "triage", "steel-gone"));
    let limits = limits(sheet, gone.as_ref());
    let known = |finding: &Finding| {
        all(before).any(|old| {
            old.rule == finding.rule && old.plugin == finding.plugin && old.level == finding.level
        })
    };
    Outlook {
        revision: report.revision,
        mass: last_mass(sheet).and_then(|mass| named("mass", Estimate::from(mass))),
        steel_gone: gone,
        rust_gone: number(report, "removal", "rust-gone"),
        limits,
        plan: all(report)
            .filter(|finding| PLAN.contains(&finding.rule.as_str()))
            .cloned()
            .collect(),
        curve: curve(report),
        stops: report.stops.clone(),
        arisen: all(report)
            .filter(|finding| {
                finding.level >= Level::Caution && (!known(finding) || of_agreement(finding))
            })
            .cloned()
            .collect(),
    }
}

/// Whether a finding says that work lies outside of what was agreed with the owner: it is told at every pass until it is
/// settled.
fn of_agreement(finding: &Finding) -> bool {
    finding.rule.starts_with("agreement.")
        || ["care.etch-not-agreed", "price.over-ceiling"].contains(&finding.rule.as_str())
}

fn all(report: &CheckReport) -> impl Iterator<Item = &Finding> {
    report.findings.iter().chain(&report.private_findings)
}

/// A number that a plugin derived.
fn number(report: &CheckReport, plugin: &str, name: &str) -> Option<Number> {
    let run = report
        .runs
        .iter()
        .find(|run| run.plugin.as_str() == plugin)?;
    let found = run.quantities.iter().find(|one| one.name == name)?;
    Some(found.clone())
}

/// The mass to expect over the stages to come, as the planner draws it.
fn curve(report: &CheckReport) -> Option<Artefact> {
    let run = report
        .runs
        .iter()
        .find(|run| run.plugin.as_str() == "abrasives")?;
    let is_mass = |one: &&Artefact| {
        one.kind == ArtefactKind::Series
            && one
                .columns
                .get(1)
                .is_some_and(|column| column.name == "mass")
    };
    run.artefacts.iter().find(is_mass).cloned()
}

fn last_mass(sheet: &Sheet) -> Option<&Quantity> {
    let passes = sheet.passes.iter().rev().find_map(|pass| {
        [&pass.after, &pass.before]
            .into_iter()
            .flatten()
            .find_map(|readings| readings.mass.as_ref())
    });
    passes
        .or_else(|| sheet.dimensions.as_ref()?.mass.as_ref())
        .map(|mass| &mass.0)
}

fn named(name: &str, estimate: Estimate) -> Option<Number> {
    let printed = print::printed(estimate, 3).ok()?;
    Some(Number {
        name: name.to_owned(),
        value: printed.value,
        unit: Unit::Gram,
        standard_uncertainty: printed.standard_uncertainty,
    })
}

/// What is left of the limits of plan and agreement.
fn limits(sheet: &Sheet, gone: Option<&Number>) -> Vec<SteelLimit> {
    let plan = sheet
        .plan
        .as_ref()
        .and_then(|plan| plan.steel_budget.as_ref());
    let agreed = sheet
        .agreement
        .as_ref()
        .and_then(|agreement| agreement.steel_limit.as_ref());
    let Some(gone) = gone else {
        return Vec::new();
    };
    let doubt = gone
        .standard_uncertainty
        .map_or(0.0, tangmark_core::units::Decimal::to_f64);
    let gone = Estimate::new(gone.value.to_f64(), doubt);
    [("plan", plan), ("agreement", agreed)]
        .into_iter()
        .filter_map(|(by, limit)| {
            let limit = Estimate::from(&limit?.0);
            let against = gone.with_added(limit.standard_uncertainty);
            Some(SteelLimit {
                by,
                limit: named("may go", limit)?,
                left: named("left", limit - gone)?,
                reached: decision::reached(against, limit.value),
            })
        })
        .collect()
}
