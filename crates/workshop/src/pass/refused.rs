//! Passes that were refused, with all that was entered, so that nothing typed is lost.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};
use tangmark_core::hold::Stop;
use tangmark_store::{EntryFilter, Store as _, StoreError};

use super::error::PassError;
use super::log::PassOrder;
use super::timer::Timer;
use super::watched::UnderHold;
use crate::journal::{Matter, Noted};
use crate::{Surroundings, Workshop, WorkshopError};

/// Why a pass was refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(crate) enum Refusal {
    /// A stop stood.
    Held,
    /// Somebody else saved the sheet meanwhile.
    Meanwhile,
}

/// A stop that stood when a pass was refused.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct StoodThen {
    rule: String,
    message: String,
}

/// A refused pass, with all that was entered.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct RefusedPass {
    pub(super) why: Refusal,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub(super) stops: Vec<StoodThen>,
    pub(super) passes: Vec<Map<String, Value>>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) sure: Option<String>,
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub(super) stay: bool,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) timer: Option<u64>,
    /// The passes that it became later.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub(super) logged: Vec<String>,
}

impl Matter for RefusedPass {
    const KIND: &'static str = "refused_pass";
}

/// Keys of the passes that are there: on the newest sheet, or in a sealed record.
struct There(BTreeSet<String>);

impl There {
    /// Whether one of the passes that something became is there still; taken back, it is to be logged anew.
    fn any(&self, logged: &[String]) -> bool {
        logged.iter().any(|key| self.0.contains(key))
    }
}

/// A refused pass that was not logged since, for people.
#[derive(Clone, Debug, Serialize)]
pub struct RefusedLine {
    /// Number of the entry that keeps it.
    pub entry: u64,
    /// Day.
    pub on: String,
    /// The rules that stood; none where somebody else saved the sheet meanwhile.
    pub rules: Vec<String>,
    /// The passes as they were entered.
    pub passes: Vec<Map<String, Value>>,
}

impl Workshop {
    /// Lists the refused passes of a blade that were not logged since.
    pub(super) fn refused(&self, blade: &str) -> Result<Vec<RefusedLine>, WorkshopError> {
        let there = self.there(blade)?;
        let mut open = Vec::new();
        for noted in self.noted::<RefusedPass>(Some(blade), None)? {
            if self.became(&noted, &there)?.is_none() {
                open.push(noted);
            }
        }
        Ok(open
            .into_iter()
            .map(|noted| RefusedLine {
                entry: noted.number,
                on: noted.on,
                rules: noted
                    .matter
                    .stops
                    .into_iter()
                    .map(|stop| stop.rule)
                    .collect(),
                passes: noted.matter.passes,
            })
            .collect())
    }

    /// The refused pass of an entry, with its blade.
    pub(super) fn refused_entry(
        &self,
        number: u64,
    ) -> Result<(String, Noted<RefusedPass>), WorkshopError> {
        // One that was refused or logged since stands under a newer number.
        let newest = match self.store().entry(number) {
            Ok(row) if row.kind == RefusedPass::KIND => self.newest(row)?,
            Ok(_) | Err(StoreError::UnknownEntry(_)) => None,
            Err(error) => return Err(error.into()),
        };
        let Some((blade, row)) = newest.and_then(|row| Some((row.blade.clone()?, row))) else {
            return Err(PassError::NotRefused { number }.into());
        };
        let noted = self.noted_at::<RefusedPass>(row.number)?;
        match self.became(&noted, &self.there(&blade)?)? {
            Some(passes) => Err(PassError::Taken { number, passes }.into()),
            None => Ok((blade, noted)),
        }
    }

    /// The refused pass that was kept of a timer and not logged since.
    pub(super) fn kept_of_timer(
        &self,
        blade: &str,
        timer: u64,
    ) -> Result<Option<Noted<RefusedPass>>, WorkshopError> {
        let root = self.root(timer)?;
        let there = self.there(blade)?;
        for noted in self.noted::<RefusedPass>(Some(blade), None)? {
            if let Some(own) = noted.matter.timer
                && self.root(own)? == root
                && self.became(&noted, &there)?.is_none()
            {
                return Ok(Some(noted));
            }
        }
        Ok(None)
    }

    /// The passes that a refused one became, itself or its timer; none where it became none that is there.
    fn became(
        &self,
        noted: &Noted<RefusedPass>,
        there: &There,
    ) -> Result<Option<Vec<String>>, WorkshopError> {
        let own = &noted.matter.logged;
        if there.any(own) {
            return Ok(Some(own.clone()));
        }
        let timer = match noted.matter.timer {
            Some(timer) => self.timer_now(timer)?,
            None => None,
        };
        let by_timer = timer.map(|timer| timer.matter.became()).unwrap_or_default();
        Ok(there.any(&by_timer).then_some(by_timer))
    }

    fn there(&self, blade: &str) -> Result<There, WorkshopError> {
        let draft = self.store().draft(blade)?;
        let on_sheet = draft
            .as_ref()
            .and_then(|draft| draft.body["passes"].as_array());
        let sealed = self.store().sealed_passes(blade)?;
        let keys = on_sheet.into_iter().flatten().chain(&sealed);
        Ok(There(
            keys.filter_map(|pass| Some(pass["id"].as_str()?.to_owned()))
                .collect(),
        ))
    }

    /// Keys that the journal names of passes of a blade, also of those that are gone: what it says of one is never read as
    /// said of another.
    pub(super) fn named_passes(&self, blade: &str) -> Result<BTreeSet<String>, WorkshopError> {
        let mut named = BTreeSet::new();
        for kind in [RefusedPass::KIND, Timer::KIND, UnderHold::KIND] {
            let rows = self.store().entries(&EntryFilter {
                kind: Some(kind),
                blade: Some(blade),
                subject: None,
                whole: true,
            })?;
            for body in rows.into_iter().filter_map(|row| row.body) {
                let texts = [&body["pass"], &body["logged"]];
                let texts = texts.into_iter().filter_map(Value::as_str);
                named.extend(texts.flat_map(|text| text.split(", ")).map(str::to_owned));
                let list = body["logged"].as_array().into_iter().flatten();
                named.extend(list.filter_map(Value::as_str).map(str::to_owned));
            }
        }
        Ok(named)
    }

    /// Keeps what was entered for a pass that is not logged, and pauses its timer with it. A second refusal of the same entry
    /// keeps no second one: what was entered now takes the place of what was.
    pub(super) fn keep_refused(
        &self,
        (order, day, entered): (&PassOrder<'_>, &str, &[Map<String, Value>]),
        again: Option<&Noted<RefusedPass>>,
        (why, stops): (Refusal, &[(Stop, &'static str)]),
        around: &Surroundings<'_>,
    ) -> Result<u64, WorkshopError> {
        let mut entries = Vec::new();
        if let Some(timer) = order.timer
            && let Some(halted) = self.halted_now(timer, order.who.by, around)?
        {
            entries.push(halted);
        }
        let same = again.filter(|again| again.matter.passes == entered);
        if let Some(same) = same {
            self.write_entries(&entries)?;
            return Ok(same.number);
        }
        let refused = RefusedPass {
            why,
            stops: stops
                .iter()
                .map(|(stop, _)| StoodThen {
                    rule: stop.rule.clone(),
                    message: stop.message.clone(),
                })
                .collect(),
            passes: entered.to_vec(),
            sure: order.sure.clone(),
            stay: order.stay,
            timer: order.timer,
            logged: Vec::new(),
        };
        // The day is one that was taken already: what is kept is not asked about again.
        let named = (day, order.who.by);
        let mut entry = self.entry_on(Some(order.blade), "", &refused, named, around)?;
        if let Some(again) = again {
            entry = entry.replacing(again.number);
        }
        entries.push(entry);
        let written = self.write_entries(&entries)?;
        written
            .last()
            .copied()
            .ok_or_else(|| WorkshopError::Canonical("an entry has a number".to_owned()))
    }
}
