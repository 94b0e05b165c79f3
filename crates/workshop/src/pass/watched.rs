//! What became of holds while no record was sealed. A sheet may be put in place of another as often as one likes; what
//! stood on it is kept in the journal, so that the next record can say it although the sheet no longer does.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};
use tangmark_core::Digest;
use tangmark_core::hold;
use tangmark_core::json::canonical_bytes;
use tangmark_core::record::{Finding, Level, Pass, Record, Sheet, Standing, WorkedUnderHold};
use tangmark_store::{EntryFilter, Store as _};

use super::guard;
use crate::checks::Judged;
use crate::journal::{Entry, Matter, Noted, Who};
use crate::{Surroundings, Workshop, WorkshopError};

/// A pass came onto the sheet while a stop stood that nothing had answered.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct UnderHold {
    /// Key of the pass as it came.
    pub pass: String,
    /// Plugin and rule.
    pub rule: String,
    /// What the stop said.
    pub message: String,
    /// Digest of what the pass says, without key, photos and remarks: a key can be given to another pass, and the same pass
    /// can get another one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub digest: Option<Digest>,
    /// Revision of the sheet with which it came.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub came: Option<u64>,
    /// The first note about the pass, where it was changed on the sheet since.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub first: Option<u64>,
}

impl Matter for UnderHold {
    const KIND: &'static str = "under_hold";
}

impl UnderHold {
    /// Whether it speaks of a pass.
    fn speaks_of(&self, pass: &Pass) -> bool {
        match &self.digest {
            Some(digest) => digest_of(pass).is_some_and(|own| own == *digest),
            None => pass.id.as_str() == self.pass,
        }
    }

    /// The pass of a sheet that it speaks of: of several that say the same, the one with its key.
    fn find<'a>(&self, sheet: &'a Sheet) -> Option<&'a Pass> {
        let mut all = sheet.passes.iter().filter(|pass| self.speaks_of(pass));
        let first = all.next()?;
        let own = |pass: &&Pass| pass.id.as_str() == self.pass;
        Some(if own(&first) {
            first
        } else {
            all.find(own).unwrap_or(first)
        })
    }
}

/// The digest of what a pass says, without key, photos and remarks.
fn digest_of(pass: &Pass) -> Option<Digest> {
    let mut body = serde_json::to_value(pass).ok()?;
    let members = body.as_object_mut()?;
    for member in ["id", "photos", "note"] {
        members.remove(member);
    }
    Some(Digest::of(&canonical_bytes(&body).ok()?))
}

/// A stop that stood on a sheet nobody sealed, and is gone from the next one though nothing answered it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StopGone {
    /// Plugin and rule.
    pub rule: String,
    /// What it said.
    pub message: String,
    /// Revision of the sheet on which it stood.
    pub stood: u64,
    /// Revision of the sheet from which it is gone.
    pub gone: u64,
}

impl Matter for StopGone {
    const KIND: &'static str = "stop_gone";
}

/// What a change of a sheet does to the hold: sentences for people, and entries of the journal that go with it.
#[derive(Default)]
pub(crate) struct Watched {
    pub(crate) remarks: Vec<String>,
    pub(crate) entries: Vec<Entry>,
}

impl Workshop {
    /// Looks at what putting `after` in place of `before` (with its revision) does to the hold. A sheet is kept
    /// whatever stands on it: where the hold cannot be derived, that is the sentence.
    pub(crate) fn watch(
        &self,
        before: Option<&(Sheet, u64)>,
        after: &Sheet,
        around: &Surroundings<'_>,
    ) -> Watched {
        self.watched(before, after, around)
            .unwrap_or_else(|error| Watched {
                remarks: vec![format!(
                    "the sheet is kept, but whether it stands under a hold could not be told: {error}"
                )],
                entries: Vec::new(),
            })
    }

    fn watched(
        &self,
        before: Option<&(Sheet, u64)>,
        after: &Sheet,
        around: &Surroundings<'_>,
    ) -> Result<Watched, WorkshopError> {
        let mut watched = Watched::default();
        if before.is_some_and(|(sheet, _)| sheet == after) {
            return Ok(watched);
        }
        let blade = after.blade.id.as_str();
        let stood = before
            .map(|(sheet, revision)| self.judge_sheet(sheet, *revision, around))
            .transpose()?;
        let revision = before.map_or(1, |(_, revision)| revision + 1);
        if let Some((sheet, _)) = before {
            self.follow_changed(sheet, after, revision, &mut watched, around)?;
        }
        let known = guard::keys(before.iter().flat_map(|(sheet, _)| &sheet.passes));
        let is_new = |pass: &Pass| !known.contains(pass.id.as_str());
        let held = stood
            .as_ref()
            .is_some_and(|judged| !guard::stops(judged).is_empty());
        if !held && !after.passes.iter().any(is_new) {
            return Ok(watched);
        }
        let now = self.judge_sheet(after, revision, around)?;
        let who = Who::default();
        for line in guard::under_hold(after, &now) {
            if known.contains(line.pass.as_str()) {
                continue;
            }
            watched.remarks.push(format!(
                "pass `{}` came onto the sheet while {} stands unanswered; it is kept, and the next record lists it as worked \
                 under hold",
                line.pass, line.rule
            ));
            let note = UnderHold {
                pass: line.pass.to_string(),
                rule: line.rule,
                message: line.message,
                digest: after
                    .passes
                    .iter()
                    .find(|pass| pass.id == line.pass)
                    .and_then(digest_of),
                came: Some(revision),
                first: None,
            };
            let entry = self.entry(Some(blade), &note.pass, &note, &who, around)?;
            watched.entries.push(entry);
        }
        if let (Some((sheet, stood_on)), Some(judged)) = (before, &stood) {
            for finding in gone(sheet, judged, after, &now) {
                let note = StopGone {
                    rule: hold::name(finding),
                    message: finding.message.clone(),
                    stood: *stood_on,
                    gone: revision,
                };
                watched.remarks.push(format!(
                    "the stop {} that stood on revision {} is gone from the sheet: {}; nothing answered it. Where a slip was \
                     put right that is as it should be: the journal keeps it, and the next seal tells it",
                    note.rule, note.stood, note.message
                ));
                let entry = self.entry(Some(blade), &note.rule, &note, &who, around)?;
                watched.entries.push(entry);
            }
        }
        Ok(watched)
    }

    /// Notes again what was noted of passes that are changed on the sheet and keep their key.
    fn follow_changed(
        &self,
        before: &Sheet,
        after: &Sheet,
        revision: u64,
        watched: &mut Watched,
        around: &Surroundings<'_>,
    ) -> Result<(), WorkshopError> {
        let blade = after.blade.id.as_str();
        let mut told = BTreeSet::new();
        for noted in self.derived::<UnderHold>(blade)? {
            let note = noted.matter;
            let Some(old) = note.find(before).filter(|_| note.find(after).is_none()) else {
                continue;
            };
            let Some(changed) = after.passes.iter().find(|pass| pass.id == old.id) else {
                continue;
            };
            if !told.insert((changed.id.to_string(), note.rule.clone())) {
                continue;
            }
            let again = UnderHold {
                pass: changed.id.to_string(),
                digest: digest_of(changed),
                came: Some(revision),
                first: note.first.or(Some(noted.number)),
                ..note
            };
            let entry = self.entry(Some(blade), &again.pass, &again, &Who::default(), around)?;
            watched.entries.push(entry);
        }
        Ok(())
    }

    /// What came onto the sheet under a hold since the last record, and is not on it any more.
    pub(crate) fn passes_gone(
        &self,
        sheet: &Sheet,
        sealed: Option<u64>,
    ) -> Result<Vec<Noted<UnderHold>>, WorkshopError> {
        let all = self.derived::<UnderHold>(sheet.blade.id.as_str())?;
        let first = |noted: &Noted<UnderHold>| noted.matter.first.unwrap_or(noted.number);
        let there: BTreeSet<u64> = all
            .iter()
            .filter(|noted| noted.matter.find(sheet).is_some())
            .map(first)
            .collect();
        let mut newest: BTreeMap<u64, Noted<UnderHold>> = BTreeMap::new();
        for noted in all {
            newest.insert(first(&noted), noted);
        }
        newest.retain(|first, noted| {
            let since = |came| sealed.is_none_or(|sealed| came > sealed);
            !there.contains(first) && noted.matter.came.is_some_and(since)
        });
        Ok(newest.into_values().collect())
    }

    /// Adds the passes that came onto the sheet under a hold which the sheet no longer shows to what a record lists. Passes of
    /// the last record are told there already.
    pub(crate) fn add_under_hold(
        &self,
        sheet: &Sheet,
        last: Option<&Record>,
        lines: &mut Vec<WorkedUnderHold>,
    ) -> Result<(), WorkshopError> {
        let sealed = guard::keys(last.iter().flat_map(|record| &record.passes));
        for noted in self.derived::<UnderHold>(sheet.blade.id.as_str())? {
            let note = noted.matter;
            let Some(pass) = note.find(sheet) else {
                continue;
            };
            let listed = |line: &WorkedUnderHold| line.pass == pass.id && line.rule == note.rule;
            if sealed.contains(pass.id.as_str()) || lines.iter().any(listed) {
                continue;
            }
            lines.push(WorkedUnderHold {
                pass: pass.id.clone(),
                rule: note.rule,
                message: note.message,
            });
        }
        Ok(())
    }

    /// The stops that went from the sheet unanswered since the last record, and are not back on it.
    pub(crate) fn stops_gone(
        &self,
        blade: &str,
        sealed: Option<u64>,
        findings: &[Finding],
    ) -> Result<Vec<Noted<StopGone>>, WorkshopError> {
        let mut all = self.derived::<StopGone>(blade)?;
        all.retain(|noted| {
            let back = findings.iter().any(|finding| {
                finding.level == Level::Stop && hold::name(finding) == noted.matter.rule
            });
            !back && sealed.is_none_or(|sealed| noted.matter.gone > sealed)
        });
        Ok(all)
    }

    /// Entries that the program derived by itself. A strike does not take one back: nobody entered it, so nobody was
    /// wrong when it was entered.
    fn derived<T: Matter>(&self, blade: &str) -> Result<Vec<Noted<T>>, WorkshopError> {
        let rows = self.store().entries(&EntryFilter {
            kind: Some(T::KIND),
            blade: Some(blade),
            subject: None,
            whole: true,
        })?;
        rows.into_iter()
            .filter(|row| row.body.is_some())
            .map(|row| self.noted_at(row.number))
            .collect()
    }
}

/// The stops of the sheet before that stood unanswered, and are neither on the sheet now nor answered by it. Of a rule
/// that found several things as many are gone as it finds fewer now: its words may change with the measures.
fn gone<'a>(before: &Sheet, stood: &'a Judged, after: &Sheet, now: &Judged) -> Vec<&'a Finding> {
    let standing = guard::stops(stood);
    let stops = |judged: &'a Judged| {
        judged
            .report
            .findings
            .iter()
            .filter(|finding| finding.level == Level::Stop)
    };
    let still: Vec<&Finding> = now
        .report
        .findings
        .iter()
        .filter(|finding| finding.level == Level::Stop)
        .collect();
    let mut gone: Vec<&Finding> = Vec::new();
    for finding in stops(stood) {
        let name = hold::name(finding);
        let stands = standing
            .iter()
            .any(|(stop, _)| stop.rule == name && stop.message == finding.message);
        if !stands
            || still.iter().any(|one| same(one, finding))
            || ruled_out(finding, before, after)
        {
            continue;
        }
        let count = |of: &mut dyn Iterator<Item = &Finding>| {
            of.filter(|one| hold::name(one) == name).count()
        };
        let fewer = count(&mut stops(stood)).saturating_sub(count(&mut still.iter().copied()));
        if count(&mut gone.iter().copied()) < fewer {
            gone.push(finding);
        }
    }
    gone
}

fn same(one: &Finding, other: &Finding) -> bool {
    hold::name(one) == hold::name(other) && one.message == other.message
}

/// Tells whether the sheet itself answers the stop: every flaw behind it is there still, and ruled out. That two looks
/// stand behind it is asked by the check that found it, which would find it still.
fn ruled_out(finding: &Finding, before: &Sheet, after: &Sheet) -> bool {
    let mut flaws = finding
        .evidence
        .iter()
        .filter_map(|pointer| {
            let index = pointer.strip_prefix("/flaws/")?.split('/').next()?;
            before.flaws.get(index.parse::<usize>().ok()?)
        })
        .peekable();
    flaws.peek().is_some()
        && flaws.all(|old| {
            after
                .flaws
                .iter()
                .any(|flaw| flaw.id == old.id && flaw.standing == Standing::RuledOut)
        })
}
