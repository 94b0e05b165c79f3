//! Holds: derived from sealed records and the draft every time, never a stored flag.

use std::collections::BTreeSet;

use serde::Serialize;

use crate::record::{
    AnswerKind, Decision, Finding, Flaw, Level, Outcome, Override, PartialDate, Plan, Purpose,
    Record, Sheet, SightingMethod, Standing, UtcTime, Verdict, WorkedUnderHold,
};

/// Why a blade is held, which decides who may answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum StopKind {
    /// A fatal flaw is suspected or confirmed.
    FatalFlaw,
    /// The blade is too important to work on.
    Importance,
    /// The steel that may go is gone.
    Budget,
    /// The triage plugin did not run.
    TriageNotRun,
    /// Another plugin's stop.
    Other,
}

impl StopKind {
    /// Tells the kind of a finding by its rule: the part before the first full stop.
    pub fn of(finding: &Finding) -> Self {
        match finding.rule.split('.').next() {
            Some("fatal") => Self::FatalFlaw,
            Some("importance") => Self::Importance,
            Some("budget") => Self::Budget,
            Some("triage-not-run") => Self::TriageNotRun,
            _ => Self::Other,
        }
    }

    /// Says who may lift a stop of this kind, and how.
    pub const fn answered_by(self) -> &'static str {
        match self {
            Self::FatalFlaw => {
                "two independent looks that do not find the flaw lift it (list them under `sightings`, then \
                 standing = \"ruled_out\"); a look that finds it sets the blade aside"
            }
            Self::Importance => {
                "a specialist's reply or a signed override with name and reason lifts it"
            }
            Self::Budget => "a new examination with a new budget, or a signed override, lifts it",
            Self::TriageNotRun => {
                "run it: `tangmark plugin approve --shipped` where it is not approved; where it refuses, mend what it names in `plugins/triage/` of the workshop; then `tangmark check`"
            }
            Self::Other => "a signed override with name and reason lifts it",
        }
    }

    /// Tells whether an override may lift a stop of this kind.
    pub const fn may_be_overridden(self) -> bool {
        matches!(self, Self::Importance | Self::Budget | Self::Other)
    }
}

/// A stop that stands.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Stop {
    /// Kind.
    pub kind: StopKind,
    /// Plugin and rule, as `plugin/rule`.
    pub rule: String,
    /// Message of the finding.
    pub message: String,
}

/// Everything the hold depends on.
#[derive(Clone, Copy, Debug)]
pub struct HoldInput<'a> {
    /// Findings on the draft.
    pub findings: &'a [Finding],
    /// Overrides of this and earlier records.
    pub overrides: &'a [Override],
    /// Sealed records of the blade, oldest first.
    pub history: &'a [Record],
}

/// Returns the stops that stand unanswered.
///
/// A suspected fatal flaw is lifted by the sheet itself (`ruled_out` with two independent looks), since the finding
/// is then no longer made; so is a spent budget by a new budget.
pub fn standing(input: HoldInput<'_>) -> Vec<Stop> {
    input
        .findings
        .iter()
        .filter(|finding| finding.level == Level::Stop)
        .filter(|finding| !answered(finding, input))
        .map(stop_of)
        .collect()
}

/// Returns the name of a finding's rule as answers spell it.
pub fn name(finding: &Finding) -> String {
    format!("{}/{}", finding.plugin, finding.rule)
}

/// What answered a stop.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(tag = "by", rename_all = "snake_case")]
pub enum Answered {
    /// A signed override.
    Override {
        /// Who lifted it.
        name: String,
        /// Day, as `YYYY-MM-DD`.
        on: String,
        /// Why.
        reason: String,
    },
    /// A specialist's reply.
    Reply {
        /// Number of the record that holds it.
        record: u32,
    },
}

/// Tells what answered the stop of a finding; `None` where it stands.
pub fn answer_of(finding: &Finding, input: HoldInput<'_>) -> Option<Answered> {
    let kind = StopKind::of(finding);
    let name = name(finding);
    if kind.may_be_overridden()
        && let Some(entry) = input.overrides.iter().find(|entry| entry.rule == name)
    {
        return Some(Answered::Override {
            name: entry.name.clone(),
            on: day_of(&entry.at).to_owned(),
            reason: entry.reason.clone(),
        });
    }
    if kind != StopKind::Importance {
        return None;
    }
    replied(&name, input.history, None).map(|record| Answered::Reply {
        record: record.sequence,
    })
}

fn answered(finding: &Finding, input: HoldInput<'_>) -> bool {
    answer_of(finding, input).is_some()
}

/// A specialist's reply answers an importance stop when it names the rule among its answers and says `work`;
/// with `by`, only a reply sealed on that day or before.
fn replied<'a>(name: &str, history: &'a [Record], by: Option<&str>) -> Option<&'a Record> {
    history
        .iter()
        .filter(|record| {
            record.purpose == Purpose::Reply
                && by.is_none_or(|day| day_of(&record.issued_at) <= day)
        })
        .find(|record| {
            record
                .decision
                .as_ref()
                .is_some_and(|decision| reply_answers(decision, name))
        })
}

fn reply_answers(decision: &Decision, name: &str) -> bool {
    decision.verdict == Verdict::Work
        && decision
            .answers
            .iter()
            .any(|answer| answer.kind == AnswerKind::SpecialistReply && answer.rule == name)
}

/// The day of a time, as `YYYY-MM-DD`.
fn day_of(time: &UtcTime) -> &str {
    let text = time.as_str();
    text.get(..10).unwrap_or(text)
}

/// Why a record may not be sealed, or a pass not be logged.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum HoldError {
    /// The purpose is barred while a stop stands.
    #[error("a record for `{purpose}` may not be sealed while a stop stands: {}: {}", stop.rule, stop.message)]
    Purpose {
        /// Purpose asked for.
        purpose: String,
        /// The first stop that stands.
        stop: Stop,
    },
    /// The decision ignores the stop.
    #[error("the decision is `work` while a stop stands: {}: {}", stop.rule, stop.message)]
    Verdict {
        /// The first stop that stands.
        stop: Stop,
    },
    /// An override names a stop that no override may lift.
    #[error("an override may not lift {rule}")]
    NotOverridable {
        /// The rule.
        rule: String,
        /// What may lift it.
        kind: StopKind,
    },
    /// An override names a rule that found nothing.
    #[error("an override names {rule}, but no stop of that name stands")]
    NothingToOverride {
        /// The rule.
        rule: String,
    },
}

impl HoldError {
    /// Returns the next step.
    pub fn hint(&self) -> String {
        match self {
            Self::Purpose { stop, .. } => format!(
                "{}; until then these may be sealed: the state with `--for before_work --verdict set_aside`, a referral with \
                 `--for referral --verdict refer`, a return or another change of hands with `--for transfer`",
                stop.kind.answered_by()
            ),
            Self::Verdict { stop } => stop.kind.answered_by().to_owned(),
            Self::NotOverridable { kind, .. } => kind.answered_by().to_owned(),
            Self::NothingToOverride { .. } => {
                "run `tangmark check` and copy the name of the rule from there".to_owned()
            }
        }
    }
}

/// Refuses what may not be sealed while a stop stands.
///
/// Work records are barred; intake, before-work, transfer, referral and the rest may be sealed with the stop on page 1,
/// as long as the decision does not pass over it. A specialist's reply may say `work`: it is what lifts the stop.
///
/// # Errors
/// The first reason.
pub fn may_seal(
    purpose: Purpose,
    decision: Option<&Decision>,
    stops: &[Stop],
) -> Result<(), HoldError> {
    let Some(stop) = stops.first() else {
        return Ok(());
    };
    if matches!(purpose, Purpose::InWork | Purpose::AfterWork) {
        return Err(HoldError::Purpose {
            purpose: crate::record::Term::key(purpose).to_owned(),
            stop: stop.clone(),
        });
    }
    let Some(decision) = decision.filter(|decision| decision.verdict == Verdict::Work) else {
        return Ok(());
    };
    let lifted = |stop: &Stop| {
        purpose == Purpose::Reply
            && stop.kind == StopKind::Importance
            && reply_answers(decision, &stop.rule)
    };
    match stops.iter().find(|stop| !lifted(stop)) {
        Some(stop) => Err(HoldError::Verdict { stop: stop.clone() }),
        None => Ok(()),
    }
}

/// Checks that new overrides name stops that stand and may be lifted that way.
///
/// # Errors
/// The first override that may not be.
pub fn check_overrides(new: &[Override], findings: &[Finding]) -> Result<(), HoldError> {
    for entry in new {
        let stop = findings
            .iter()
            .find(|finding| finding.level == Level::Stop && name(finding) == entry.rule);
        match stop.map(StopKind::of) {
            None => {
                return Err(HoldError::NothingToOverride {
                    rule: entry.rule.clone(),
                });
            }
            Some(kind) if !kind.may_be_overridden() => {
                return Err(HoldError::NotOverridable {
                    rule: entry.rule.clone(),
                    kind,
                });
            }
            Some(_) => {}
        }
    }
    Ok(())
}

/// Lists the passes that were logged while a stop stood unanswered: earlier lines stay, new ones are added.
///
/// A pass is new when the last sealed record lacks it. It was worked under a stop that the last sealed record left
/// standing unless its answer came no later than the day of the pass (of a pass dated to a month, its first day);
/// and under any stop that stands now.
pub fn worked_under_hold(
    sheet: &Sheet,
    standing_now: &[Stop],
    overrides: &[Override],
    history: &[Record],
) -> Vec<WorkedUnderHold> {
    let last = history.last();
    let mut lines: Vec<WorkedUnderHold> = last
        .map(|record| record.worked_under_hold.clone())
        .unwrap_or_default();
    for pass in &sheet.passes {
        if last.is_some_and(|record| record.passes.iter().any(|old| old.id == pass.id)) {
            continue;
        }
        let day = pass.on.first_day();
        let earlier = last
            .map(|record| left_standing(record, sheet, overrides, history, &day))
            .unwrap_or_default();
        for stop in earlier.iter().chain(standing_now) {
            let line = WorkedUnderHold {
                pass: pass.id.clone(),
                rule: stop.rule.clone(),
                message: stop.message.clone(),
            };
            if !lines
                .iter()
                .any(|old| old.pass == line.pass && old.rule == line.rule)
            {
                lines.push(line);
            }
        }
    }
    lines
}

/// The stops of the last sealed record that nothing had answered by `day`.
///
/// A triage that had not run is not among them: whether it ran in between is known only from the next record.
fn left_standing(
    last: &Record,
    sheet: &Sheet,
    overrides: &[Override],
    history: &[Record],
    day: &str,
) -> Vec<Stop> {
    let before = &history[..history.len().saturating_sub(1)];
    let input = HoldInput {
        findings: &last.findings,
        overrides: &last.overrides,
        history: before,
    };
    let answered_by_day = |finding: &&Finding| {
        let name = name(finding);
        match StopKind::of(finding) {
            StopKind::TriageNotRun => true,
            StopKind::FatalFlaw => ruled_out_by(finding, last, sheet, day),
            kind => {
                overrides
                    .iter()
                    .any(|entry| entry.rule == name && day_of(&entry.at) <= day)
                    || (kind == StopKind::Importance
                        && replied(&name, history, Some(day)).is_some())
                    || (kind == StopKind::Budget && new_budget_by(last, sheet, day))
            }
        }
    };
    last.findings
        .iter()
        .filter(|finding| finding.level == Level::Stop && !answered(finding, input))
        .filter(|finding| !answered_by_day(finding))
        .map(stop_of)
        .collect()
}

fn stop_of(finding: &Finding) -> Stop {
    Stop {
        kind: StopKind::of(finding),
        rule: name(finding),
        message: finding.message.clone(),
    }
}

/// Tells whether the flaws behind a fatal-flaw finding were ruled out by two looks no later than `day`.
fn ruled_out_by(finding: &Finding, record: &Record, sheet: &Sheet, day: &str) -> bool {
    let mut flaws = finding
        .evidence
        .iter()
        .filter_map(|pointer| {
            pointer
                .strip_prefix("/flaws/")?
                .split('/')
                .next()?
                .parse::<usize>()
                .ok()
        })
        .filter_map(|index| record.flaws.get(index))
        .peekable();
    flaws.peek().is_some()
        && flaws.all(|old| {
            sheet.flaws.iter().any(|flaw| {
                flaw.id == old.id
                    && flaw.standing == Standing::RuledOut
                    && independent_negatives(flaw, Some(day)) >= 2
            })
        })
}

/// Counts the looks since the flaw was last seen that differ in method, light or day and did not see it;
/// with `by`, only looks of that day or before.
pub(crate) fn independent_negatives(flaw: &Flaw, by: Option<&str>) -> usize {
    let last_seen = flaw
        .sightings
        .iter()
        .rposition(|sighting| sighting.outcome == Outcome::Seen);
    let since = last_seen.map_or(0, |at| at + 1);
    let negative = flaw.sightings[since..].iter().filter(|sighting| {
        sighting.outcome == Outcome::NotSeen && by.is_none_or(|day| *sighting.on.last_day() <= *day)
    });
    let looks: BTreeSet<(SightingMethod, &str, &PartialDate)> = negative
        .map(|sighting| (sighting.method, sighting.light.as_str(), &sighting.on))
        .collect();
    looks.len()
}

/// Tells whether a later examination set another budget no later than `day`.
fn new_budget_by(last: &Record, sheet: &Sheet, day: &str) -> bool {
    let budget = |plan: &Option<Plan>| plan.as_ref().and_then(|plan| plan.steel_budget.clone());
    let examined_anew = sheet.examination.as_ref().is_some_and(|new| {
        let later = last
            .examination
            .as_ref()
            .is_none_or(|old| new.on.first_day() > old.on.last_day());
        later && *new.on.last_day() <= *day
    });
    examined_anew && budget(&sheet.plan).is_some() && budget(&sheet.plan) != budget(&last.plan)
}

#[cfg(test)]
mod tests;
