//! Stops of sealed records that the newest sheet no longer shows.
//!
//! A plugin judges the sheet it is given: a flaw that was left out of it, or an older draft brought back, has no finding
//! any more. What a sealed record holds stays all the same until it is answered.

use tangmark_core::hold::{self, HoldInput, Limits, StopKind};
use tangmark_core::record::{
    Examination, Finding, Flaw, Level, Mass, Override, Plan, Record, Sheet, Standing,
};

use crate::checks::own_finding;

/// Longest message of a finding, in characters.
const LONGEST: usize = 2000;

/// What the sheet or a later record says now, as far as it answers a stop.
struct Later<'a> {
    flaws: &'a [Flaw],
    examination: Option<&'a Examination>,
    plan: Option<&'a Plan>,
    /// Findings of that record, or those on the sheet.
    findings: &'a [Finding],
}

/// Returns a finding of this program for each stop of a sealed record that nothing answered and that `found` lacks.
///
/// Fatal flaws are answered by two looks (`ruled_out`), or by a further look after which the plugin makes no stop of
/// them; a fatal finding on no flaw in particular by a later examination after which the plugin makes none; importance by override or reply; a spent budget by override or a new examination with a new budget.
/// Stops of other kinds stand as long as their plugin says so.
pub(crate) fn carried(
    history: &[Record],
    sheet: &Sheet,
    overrides: &[Override],
    found: &[Finding],
) -> Vec<Finding> {
    let mut carried: Vec<Finding> = Vec::new();
    for record in history {
        let mut later: Vec<Later<'_>> = hold::in_force(history, None)
            .filter(|later| later.sequence > record.sequence)
            .map(|record| Later {
                flaws: &record.flaws,
                examination: record.examination.as_ref(),
                plan: record.plan.as_ref(),
                findings: &record.findings,
            })
            .collect();
        later.push(Later {
            flaws: &sheet.flaws,
            examination: sheet.examination.as_ref(),
            plan: sheet.plan.as_ref(),
            findings: found,
        });
        let stops = record.findings.iter().filter(|finding| {
            finding.level == Level::Stop && finding.plugin.as_str() != "tangmark"
        });
        for stop in stops {
            let stands = found
                .iter()
                .chain(&carried)
                .any(|other| other.level == Level::Stop && other.rule == stop.rule);
            if stands || !open(stop, record, &later, overrides, history, sheet) {
                continue;
            }
            carried.push(again(stop, record, sheet));
        }
    }
    carried
}

fn open(
    stop: &Finding,
    record: &Record,
    later: &[Later<'_>],
    overrides: &[Override],
    history: &[Record],
    sheet: &Sheet,
) -> bool {
    let answered = hold::standing(HoldInput {
        findings: std::slice::from_ref(stop),
        overrides,
        history,
        limits: Limits::of(sheet.plan.as_ref(), sheet.agreement.as_ref()),
    })
    .is_empty();
    match StopKind::of(stop) {
        StopKind::FatalFlaw => {
            let flaws: Vec<&Flaw> = hold::flaws_behind(stop, &record.flaws).collect();
            if flaws.is_empty() {
                return !later
                    .iter()
                    .any(|later| seen_otherwise(later, record, &stop.rule));
            }
            flaws
                .iter()
                .any(|flaw| !later.iter().any(|later| settles(later, flaw, &stop.rule)))
        }
        StopKind::Importance => !answered,
        StopKind::Budget => !answered && !later.iter().any(|later| new_budget(later, record)),
        StopKind::TriageNotRun | StopKind::Other => false,
    }
}

/// Tells whether a flaw was looked at again since, and is no stop any more.
fn settles(later: &Later<'_>, old: &Flaw, rule: &str) -> bool {
    let Some(flaw) = later.flaws.iter().find(|flaw| flaw.id == old.id) else {
        return false;
    };
    // A draft that lacks a look that was sealed is an older one, whatever it says.
    if flaw.kind != old.kind
        || !old
            .sightings
            .iter()
            .all(|look| flaw.sightings.contains(look))
    {
        return false;
    }
    // A sheet that says `ruled_out` is taken only when two independent looks bear it out. Short of that a further look
    // has to be there before the plugin's new word counts.
    let stop = |finding: &Finding| finding.level == Level::Stop && finding.rule == rule;
    flaw.standing == Standing::RuledOut
        || (flaw.sightings.len() > old.sightings.len() && !later.findings.iter().any(stop))
}

/// Tells whether the blade was examined anew and a fatal finding that rests on no flaw, such as a temper line that was
/// not there, is a stop no more. An older draft or a changed word in the sheet does not do.
fn seen_otherwise(later: &Later<'_>, record: &Record, rule: &str) -> bool {
    let stop = |finding: &Finding| finding.level == Level::Stop && finding.rule == rule;
    examined_anew(later, record) && !later.findings.iter().any(stop)
}

fn examined_anew(later: &Later<'_>, record: &Record) -> bool {
    later.examination.is_some_and(|new| {
        record
            .examination
            .as_ref()
            .is_none_or(|old| new.on.first_day() > old.on.last_day())
    })
}

/// Tells whether the blade was examined anew with another budget, as a spent budget asks for.
fn new_budget(later: &Later<'_>, record: &Record) -> bool {
    let budget = |plan: Option<&Plan>| -> Option<Mass> { plan?.steel_budget.clone() };
    let new = budget(later.plan);
    examined_anew(later, record) && new.is_some() && new != budget(record.plan.as_ref())
}

fn again(stop: &Finding, record: &Record, sheet: &Sheet) -> Finding {
    let message = format!(
        "Stands unanswered since record {}, whatever the sheet says now: {}",
        record.sequence, stop.message
    );
    let old: Vec<&Flaw> = hold::flaws_behind(stop, &record.flaws).collect();
    let evidence = sheet
        .flaws
        .iter()
        .enumerate()
        .filter(|(_, flaw)| old.iter().any(|old| old.id == flaw.id))
        .map(|(index, _)| format!("/flaws/{index}"));
    Finding {
        evidence: evidence.collect(),
        ..own_finding(
            &stop.rule,
            Level::Stop,
            message.chars().take(LONGEST).collect(),
        )
    }
}
