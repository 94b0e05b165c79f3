//! Holds: derived from sealed records and the draft every time, never a stored flag.

use std::collections::BTreeSet;

use serde::Serialize;

use crate::Digest;
use crate::record::{
    Agreement, AnswerKind, Decision, Finding, Flaw, Length, Level, Mass, Outcome, Override,
    PartialDate, Plan, Purpose, Record, Sheet, Sighting, Standing, UtcTime, Verdict,
    WorkedUnderHold,
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
    /// Overrides of this and earlier records that are in force (see [`overrides_in_force`]).
    pub overrides: &'a [Override],
    /// Sealed records of the blade, oldest first.
    pub history: &'a [Record],
    /// How much may go by the sheet.
    pub limits: Limits<'a>,
}

/// How much may go, by plan and agreement: an override of a spent budget speaks of these and of no other.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Limits<'a> {
    steel_budget: Option<&'a Mass>,
    thinnest: Option<&'a Length>,
    agreed: Option<&'a Mass>,
}

impl<'a> Limits<'a> {
    /// Of a plan and an agreement.
    pub fn of(plan: Option<&'a Plan>, agreement: Option<&'a Agreement>) -> Self {
        Self {
            steel_budget: plan.and_then(|plan| plan.steel_budget.as_ref()),
            thinnest: plan.and_then(|plan| plan.thinnest.as_ref()),
            agreed: agreement.and_then(|agreement| agreement.steel_limit.as_ref()),
        }
    }
}

/// The records of a blade, oldest first, that no later one withdraws. Nothing in a withdrawn record answers a stop, whoever
/// withdrew it: where that is wrong, the stop is answered once more.
///
/// `also` is the number of a record that is being withdrawn right now.
pub fn in_force(history: &[Record], also: Option<u32>) -> impl Iterator<Item = &Record> {
    let withdrawn: BTreeSet<Digest> = history
        .iter()
        .filter(|record| record.purpose == Purpose::Withdrawal)
        .filter_map(|record| Some(record.refers_to.as_ref()?.record))
        .collect();
    // The name of a record is told by the one after it; the newest can only be withdrawn right now.
    history.iter().enumerate().filter_map(move |(at, record)| {
        let name = history.get(at + 1).and_then(|next| next.previous);
        let gone =
            also == Some(record.sequence) || name.is_some_and(|name| withdrawn.contains(&name));
        (!gone).then_some(record)
    })
}

/// The overrides that go along into the next record: those of the last one, but for what a withdrawn record brought in.
pub fn overrides_in_force(history: &[Record], also: Option<u32>) -> Vec<Override> {
    let stands = |entry: &&Override| {
        let first = history
            .iter()
            .find(|record| record.overrides.contains(entry));
        first.is_none_or(|first| {
            in_force(history, also).any(|record| record.sequence == first.sequence)
        })
    };
    let last = history.last().map(|record| record.overrides.as_slice());
    last.unwrap_or_default()
        .iter()
        .filter(stands)
        .cloned()
        .collect()
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
        && let Some(entry) = input
            .overrides
            .iter()
            .find(|entry| entry.rule == name && speaks_of(entry, kind, input))
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

/// An override of a spent budget lifts no other budget: it counts while what may go is what it was when it was first sealed.
/// One that no record holds yet is of the sheet itself.
fn speaks_of(entry: &Override, kind: StopKind, input: HoldInput<'_>) -> bool {
    let first = input
        .history
        .iter()
        .find(|record| record.overrides.contains(entry));
    kind != StopKind::Budget
        || first.is_none_or(|first| {
            Limits::of(first.plan.as_ref(), first.agreement.as_ref()) == input.limits
        })
}

fn answered(finding: &Finding, input: HoldInput<'_>) -> bool {
    answer_of(finding, input).is_some()
}

/// A specialist's reply answers an importance stop when it names the rule among its answers and says `work`;
/// with `by`, only a reply sealed on that day or before.
fn replied<'a>(name: &str, history: &'a [Record], by: Option<&str>) -> Option<&'a Record> {
    in_force(history, None)
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

/// Those of the stops that stand now that stood on `day` already: a flaw holds the blade from the day on which it was first
/// seen. Where nobody has seen it yet, and of every other kind, the stop counts as there from the beginning.
pub fn stood_on(stops: &[Stop], findings: &[Finding], sheet: &Sheet, day: &str) -> Vec<Stop> {
    let came_later = |stop: &&Stop| {
        let mut seen = findings
            .iter()
            .filter(|finding| name(finding) == stop.rule && finding.message == stop.message)
            .flat_map(|finding| flaws_behind(finding, &sheet.flaws))
            .map(|flaw| {
                let looks = flaw.sightings.iter();
                looks
                    .filter(|look| look.outcome == Outcome::Seen)
                    .map(|look| look.on.first_day())
                    .min()
            })
            .peekable();
        seen.peek().is_some() && seen.all(|first| first.is_some_and(|first| day < first.as_str()))
    };
    let stood = |stop: &&Stop| stop.kind != StopKind::FatalFlaw || !came_later(stop);
    stops.iter().filter(stood).cloned().collect()
}

/// Lists the passes that were logged while a stop stood unanswered: earlier lines stay, new ones are added.
///
/// A pass is new when the last sealed record lacks it. It was worked under a stop that the last sealed record left
/// standing unless its answer came no later than the day of the pass (of a pass dated to a month, its first day);
/// and under any stop that stands now, as far as `standing_on` tells that it stood on the day of the pass (see [`stood_on`]).
pub fn worked_under_hold(
    sheet: &Sheet,
    standing_on: impl Fn(&str) -> Vec<Stop>,
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
        for stop in earlier.iter().chain(&standing_on(&day)) {
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
        limits: Limits::of(last.plan.as_ref(), last.agreement.as_ref()),
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

/// The flaws that a finding rests on, by its evidence.
pub fn flaws_behind<'a>(finding: &'a Finding, flaws: &'a [Flaw]) -> impl Iterator<Item = &'a Flaw> {
    finding.evidence.iter().filter_map(|pointer| {
        let index = pointer.strip_prefix("/flaws/")?.split('/').next()?;
        flaws.get(index.parse::<usize>().ok()?)
    })
}

/// Tells whether the flaws behind a fatal-flaw finding were ruled out by two looks no later than `day`.
fn ruled_out_by(finding: &Finding, record: &Record, sheet: &Sheet, day: &str) -> bool {
    let mut flaws = flaws_behind(finding, &record.flaws).peekable();
    flaws.peek().is_some()
        && flaws.all(|old| {
            sheet.flaws.iter().any(|flaw| {
                flaw.id == old.id
                    && flaw.standing == Standing::RuledOut
                    && independent_negatives(flaw, Some(day)) >= 2
            })
        })
}

/// Counts the looks since the day on which the flaw was last seen that did not see it and differ in method, light or day;
/// with `by`, only looks of that day or before. Of looks on the day itself those count that are listed after it was seen.
/// Days differ when they cannot be the same one, lights when more than spaces and capitals tell them apart.
pub(crate) fn independent_negatives(flaw: &Flaw, by: Option<&str>) -> usize {
    let seen = |look: &&Sighting| look.outcome == Outcome::Seen;
    let last_seen = flaw.sightings.iter().rposition(|look| seen(&look));
    let last_day = flaw
        .sightings
        .iter()
        .filter(seen)
        .map(|look| look.on.last_day())
        .max();
    let since = |at: usize, look: &Sighting| match (&last_day, last_seen) {
        (Some(day), Some(place)) => {
            let first = look.on.first_day();
            first > *day || (first == *day && at > place)
        }
        _ => true,
    };
    let mut looks: Vec<&Sighting> = Vec::new();
    for (at, look) in flaw.sightings.iter().enumerate() {
        let counts = look.outcome == Outcome::NotSeen
            && since(at, look)
            && by.is_none_or(|day| *look.on.last_day() <= *day);
        if counts && looks.iter().all(|other| differ(look, other)) {
            looks.push(look);
        }
    }
    looks.len()
}

/// Tells whether two looks differ in method, light or day.
fn differ(one: &Sighting, other: &Sighting) -> bool {
    let light = |look: &Sighting| {
        let words: Vec<String> = look
            .light
            .split_whitespace()
            .map(str::to_lowercase)
            .collect();
        words.join(" ")
    };
    let apart = |first: &PartialDate, second: &PartialDate| first.last_day() < second.first_day();
    one.method != other.method
        || light(one) != light(other)
        || apart(&one.on, &other.on)
        || apart(&other.on, &one.on)
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
