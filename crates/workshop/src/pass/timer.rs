//! The timer of a pass: in the journal from its first second, so that no crash and no restart loses it.

use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};
use tangmark_core::record::{Sheet, UtcTime};
use tangmark_store::{Change, EntryFilter, EntryRow, Seen, Store as _, StoreError};

use super::error::PassError;
use super::guard;
use super::log::{PassDone, PassOrder};
use super::refused::RefusedPass;
use crate::journal::{Entry, Matter, Noted, Who};
use crate::stage::Stage;
use crate::{Surroundings, Workshop, WorkshopError};

/// Longest time that is taken without asking, s: nobody works on one pass for longer at a stretch.
const LONGEST_S: i64 = 12 * 3600;

/// A stretch of work.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Stretch {
    /// When it began (UTC).
    pub from: UtcTime,
    /// When it ended; none while it runs.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to: Option<UtcTime>,
}

/// A timer as the journal keeps it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Timer {
    /// Stretches of work, in order.
    stretches: Vec<Stretch>,
    /// What was said of the pass when it began.
    #[serde(default, skip_serializing_if = "Map::is_empty")]
    pass: Map<String, Value>,
    /// The pass that it became.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    logged: Option<String>,
}

impl Matter for Timer {
    const KIND: &'static str = "timer";
}

impl Timer {
    /// The timer, with the pass that it became.
    pub(super) fn ended(&self, pass: &str, now: &UtcTime) -> Self {
        let mut ended = self.halted(now);
        ended.logged = Some(pass.to_owned());
        ended
    }

    /// The timer, no longer running.
    fn halted(&self, now: &UtcTime) -> Self {
        let mut halted = self.clone();
        if let Some(last) = halted.stretches.last_mut() {
            last.to.get_or_insert_with(|| now.clone());
        }
        halted
    }

    pub(super) fn is_logged(&self) -> bool {
        self.logged.is_some()
    }

    /// Keys of the passes that it became.
    pub(super) fn became(&self) -> Vec<String> {
        let keys = self.logged.iter().flat_map(|keys| keys.split(", "));
        keys.map(str::to_owned).collect()
    }

    pub(super) fn runs(&self) -> bool {
        self.stretches.last().is_some_and(|last| last.to.is_none())
    }

    /// Seconds measured up to `now`.
    ///
    /// # Errors
    /// What was found where the clock went back in between.
    fn seconds(&self, now: &UtcTime) -> Result<i64, String> {
        let mut sum = 0;
        let mut last: Option<&UtcTime> = None;
        for stretch in &self.stretches {
            let to = stretch.to.as_ref().unwrap_or(now);
            for (earlier, later) in [
                (last.unwrap_or(&stretch.from), &stretch.from),
                (&stretch.from, to),
            ] {
                if later.seconds_since(earlier) < 0 {
                    return Err(format!("a clock that went back, from {earlier} to {later}"));
                }
            }
            sum += to.seconds_since(&stretch.from);
            last = Some(to);
        }
        Ok(sum)
    }
}

/// Whole minutes as a person writes them; at least one.
fn written(seconds: i64) -> String {
    let minutes = ((seconds + 30) / 60).max(1);
    match (minutes / 60, minutes % 60) {
        (0, minutes) => format!("{minutes} min"),
        (hours, 0) => format!("{hours} h"),
        (hours, minutes) => format!("{hours} h {minutes} min"),
    }
}

/// The day by the clock.
fn today<'a>(around: &'a Surroundings<'_>) -> &'a str {
    let now = around.now.as_str();
    now.get(..10).unwrap_or(now)
}

/// A timer, for people.
#[derive(Clone, Debug, Serialize)]
pub struct TimerLine {
    /// Blade.
    pub blade: String,
    /// Number of its entry in the journal.
    pub entry: u64,
    /// It runs; else it is paused.
    pub running: bool,
    /// When the work began (UTC).
    pub since: UtcTime,
    /// Time measured so far; none where the clock went back.
    pub so_far: Option<String>,
    /// The same in seconds.
    pub seconds: Option<i64>,
    /// What is wrong with the measured time.
    pub fault: Option<String>,
    /// Stretches of work.
    pub stretches: Vec<Stretch>,
    /// What was said of the pass when it began.
    pub pass: Map<String, Value>,
}

fn line(noted: &Noted<Timer>, now: &UtcTime) -> Option<TimerLine> {
    let timer = &noted.matter;
    let measured = timer.seconds(now);
    Some(TimerLine {
        blade: noted.blade.clone().unwrap_or_default(),
        entry: noted.number,
        running: timer.runs(),
        since: timer.stretches.first()?.from.clone(),
        so_far: measured.as_ref().ok().map(|seconds| written(*seconds)),
        seconds: measured.as_ref().ok().copied(),
        fault: measured.err(),
        stretches: timer.stretches.clone(),
        pass: timer.pass.clone(),
    })
}

/// Why no second timer of a blade is started.
fn begun(blade: &str, open: &Noted<Timer>) -> PassError {
    if open.matter.runs() {
        let since = open.matter.stretches.first();
        return PassError::TimerRuns {
            blade: blade.to_owned(),
            since: since.map(|one| one.from.to_string()).unwrap_or_default(),
        };
    }
    PassError::TimerState {
        blade: blade.to_owned(),
        found: "a timer that is paused",
        allowed: "none",
        hint: format!(
            "go on with `tangmark pass resume {blade}`, or end it with `tangmark pass stop {blade}`"
        ),
    }
}

fn owned((name, value): (&String, &Value)) -> (String, Value) {
    (name.clone(), value.clone())
}

impl Workshop {
    /// Starts the timer of a pass. Refused while a stop stands.
    ///
    /// # Errors
    /// When a stop stands, the blade is not in the workshop, a timer of the blade runs or is paused, or the blade has no sheet.
    pub fn start_timer(
        &self,
        blade: &str,
        pass: &Map<String, Value>,
        who: &Who<'_>,
        around: &Surroundings<'_>,
    ) -> Result<TimerLine, WorkshopError> {
        let (sheet, revision) = self.sheet(blade)?;
        let seen = self.newest_timer(blade)?;
        if let Some(open) = self.open_timer(blade)? {
            return Err(begun(blade, &open).into());
        }
        if let Some(name) = pass.get("stone").and_then(Value::as_str) {
            self.stones()?.find(name)?;
        }
        self.needed_here(blade, "pass is begun", today(around))?;
        self.needed_free((&sheet, revision), "pass is begun", around)?;
        let timer = Timer {
            stretches: vec![Stretch {
                from: around.now.clone(),
                to: None,
            }],
            pass: pass.clone(),
            logged: None,
        };
        let entry = self.entry(Some(blade), "", &timer, who, around)?;
        // Somebody else may have started one since it was looked for.
        let written = self.store().apply(&Change {
            entries: &[entry.as_new()],
            seen: Some(Seen {
                kind: Timer::KIND,
                blade,
                newest: seen,
            }),
            ..Change::default()
        });
        match (written, self.open_timer(blade)?) {
            (Err(StoreError::EntryMeanwhile { .. }), Some(open)) => {
                return Err(begun(blade, &open).into());
            }
            (written, _) => written?,
        };
        self.timer_line(blade, around)
    }

    /// Pauses the timer of a blade, or lets it go on.
    ///
    /// # Errors
    /// When there is none, or it is paused or runs already; when it is to go on and a stop stands or the blade is not in the
    /// workshop.
    pub fn pause_timer(
        &self,
        blade: &str,
        pause: bool,
        who: &Who<'_>,
        around: &Surroundings<'_>,
    ) -> Result<TimerLine, WorkshopError> {
        let open = self.needed_timer(blade)?;
        if open.matter.runs() != pause {
            let (found, allowed, hint) = if pause {
                (
                    "a timer that is paused already",
                    "one that runs",
                    format!("go on with `tangmark pass resume {blade}`"),
                )
            } else {
                (
                    "a timer that runs already",
                    "one that is paused",
                    format!("pause it with `tangmark pass pause {blade}`"),
                )
            };
            return Err(PassError::TimerState {
                blade: blade.to_owned(),
                found,
                allowed,
                hint,
            }
            .into());
        }
        if !pause {
            self.needed_here(blade, "pass goes on", today(around))?;
            let (sheet, revision) = self.sheet(blade)?;
            self.needed_free((&sheet, revision), "pass goes on", around)?;
        }
        let timer = if pause {
            open.matter.halted(&around.now)
        } else {
            let mut timer = open.matter.clone();
            timer.stretches.push(Stretch {
                from: around.now.clone(),
                to: None,
            });
            timer
        };
        self.renote(open.number, &timer, who, around)?;
        self.timer_line(blade, around)
    }

    /// The entry that pauses the timer of a blade as it leaves the bench for `to`, and what is to be said of that: no work
    /// is done on what is not here. Nothing where no timer runs, or the blade stays.
    pub(crate) fn timer_left_behind(
        &self,
        blade: &str,
        to: Stage,
        who: &Who<'_>,
        around: &Surroundings<'_>,
    ) -> Result<Option<(Entry, String)>, WorkshopError> {
        if !to.is_away() {
            return Ok(None);
        }
        let Some(open) = self.open_timer(blade)?.filter(|open| open.matter.runs()) else {
            return Ok(None);
        };
        let halted = open.matter.halted(&around.now);
        let who = Who {
            on: Some(&open.on),
            by: who.by,
        };
        let entry = self
            .entry(Some(blade), &open.subject, &halted, &who, around)?
            .replacing(open.number);
        let told = format!(
            "its timer was running and is paused now; log the pass with `tangmark pass stop {blade}`, or strike the timer with `tangmark journal list {blade} --kind timer` and `tangmark journal strike N --reason \"…\"`"
        );
        Ok(Some((entry, told)))
    }

    /// Ends the timer of a blade and logs the pass with the measured time, all in one.
    ///
    /// What `order` says of the pass stands before what was said when the timer began; a time in it stands for the
    /// measured one. While a stop stands the pass is refused and kept, and the timer is paused.
    ///
    /// # Errors
    /// As [`Workshop::add_passes`]; when there is no timer; when it ran for over 12 h or the clock went back and no
    /// time is given. The timer is then as it was.
    pub fn stop_timer(
        &self,
        order: &PassOrder<'_>,
        around: &Surroundings<'_>,
    ) -> Result<PassDone, WorkshopError> {
        let open = self.needed_timer(order.blade)?;
        let kept = self.kept_of_timer(order.blade, open.number)?;
        let mut pass = open.matter.pass.clone();
        // What was said when this very stretch was refused stands still.
        if let Some(kept) = &kept
            && !self.went_on(kept)?
        {
            pass.extend(kept.matter.passes.iter().flatten().map(owned));
        }
        pass.extend(order.passes.iter().flatten().map(owned));
        if !pass.contains_key("time") {
            let measured = |found: String, allowed: &str| PassError::Measured {
                blade: order.blade.to_owned(),
                found,
                allowed: allowed.to_owned(),
            };
            let seconds = open
                .matter
                .seconds(&around.now)
                .map_err(|found| measured(found, "a time that goes forward"))?;
            if seconds > LONGEST_S {
                return Err(measured(written(seconds), "at most 12 h").into());
            }
            pass.insert("time".to_owned(), Value::String(written(seconds)));
        }
        let order = PassOrder {
            passes: vec![pass],
            timer: Some(open.number),
            ..order.clone()
        };
        self.log(&order, kept.as_ref(), around)
    }

    /// The number under which a timer, or another entry, began.
    pub(super) fn root(&self, number: u64) -> Result<u64, WorkshopError> {
        let mut row = self.store().entry(number)?;
        while let Some(older) = row.replaces {
            row = self.store().entry(older)?;
        }
        Ok(row.number)
    }

    /// What took the place of an entry in the end; none where it was struck out.
    pub(super) fn newest(&self, mut row: EntryRow) -> Result<Option<EntryRow>, WorkshopError> {
        while let Some(newer) = row.replaced_by {
            row = self.store().entry(newer)?;
        }
        Ok(row.body.is_some().then_some(row))
    }

    /// A timer as it is now, by the number of any of its entries; none where it was struck out.
    pub(super) fn timer_now(&self, number: u64) -> Result<Option<Noted<Timer>>, WorkshopError> {
        let row = self.store().entry(number)?;
        let newest = self.newest(row)?;
        newest.map(|row| self.noted_at(row.number)).transpose()
    }

    /// The entry that pauses a timer, where it runs.
    pub(super) fn halted_now(
        &self,
        number: u64,
        by: Option<&str>,
        around: &Surroundings<'_>,
    ) -> Result<Option<Entry>, WorkshopError> {
        let Some(open) = self.timer_now(number)?.filter(|open| open.matter.runs()) else {
            return Ok(None);
        };
        let halted = open.matter.halted(&around.now);
        let (blade, named) = (open.blade.as_deref(), (open.on.as_str(), by));
        let entry = self.entry_on(blade, &open.subject, &halted, named, around)?;
        Ok(Some(entry.replacing(open.number)))
    }

    /// Whether the timer of a refused pass measured more since the pass was kept.
    fn went_on(&self, kept: &Noted<RefusedPass>) -> Result<bool, WorkshopError> {
        let Some(number) = kept.matter.timer else {
            return Ok(false);
        };
        let Some(now) = self.timer_now(number)? else {
            return Ok(false);
        };
        let then: Timer = self.store().entry(number)?.body.map_or_else(
            || Ok(now.matter.clone()),
            |body| {
                serde_json::from_value(body).map_err(|error| WorkshopError::Entry {
                    number,
                    what: error.to_string(),
                })
            },
        )?;
        Ok(now.matter.runs() || now.matter.stretches.len() > then.stretches.len())
    }

    /// Refuses a kept pass whose timer went on since: its time would be counted again with the rest.
    pub(super) fn timer_as_kept(
        &self,
        blade: &str,
        kept: &Noted<RefusedPass>,
    ) -> Result<(), WorkshopError> {
        if !self.went_on(kept)? {
            return Ok(());
        }
        Err(PassError::TimerState {
            blade: blade.to_owned(),
            found: "a timer that went on since the pass was refused",
            allowed: "one that did not",
            hint: format!(
                "`tangmark pass stop {blade}` logs the pass with the whole time; give the readings again"
            ),
        }
        .into())
    }

    /// Number of the newest entry of a timer of a blade.
    fn newest_timer(&self, blade: &str) -> Result<Option<u64>, WorkshopError> {
        let rows = self.store().entries(&EntryFilter {
            kind: Some(Timer::KIND),
            blade: Some(blade),
            subject: None,
            whole: true,
        })?;
        Ok(rows.last().map(|row| row.number))
    }

    /// Lists the timers that run or are paused, by blade.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn timers(&self, around: &Surroundings<'_>) -> Result<Vec<TimerLine>, WorkshopError> {
        let mut lines: Vec<TimerLine> = self
            .noted::<Timer>(None, None)?
            .iter()
            .filter(|noted| noted.matter.logged.is_none())
            .filter_map(|noted| line(noted, &around.now))
            .collect();
        lines.sort_by(|a, b| a.blade.cmp(&b.blade));
        Ok(lines)
    }

    /// The timer of a blade that runs or is paused.
    pub(super) fn open_timer(&self, blade: &str) -> Result<Option<Noted<Timer>>, WorkshopError> {
        let all = self.noted::<Timer>(Some(blade), None)?;
        Ok(all
            .into_iter()
            .rev()
            .find(|noted| noted.matter.logged.is_none()))
    }

    /// Refuses work while a stop stands on the newest sheet.
    fn needed_free(
        &self,
        (sheet, revision): (&Sheet, u64),
        what: &'static str,
        around: &Surroundings<'_>,
    ) -> Result<(), WorkshopError> {
        let stops = guard::stops(&self.judge_kept(sheet, revision, around)?);
        if stops.is_empty() {
            return Ok(());
        }
        Err(PassError::Held {
            blade: sheet.blade.id.to_string(),
            what,
            stops,
            kept: None,
        }
        .into())
    }

    fn needed_timer(&self, blade: &str) -> Result<Noted<Timer>, WorkshopError> {
        self.store().blade(blade)?;
        self.open_timer(blade)?.ok_or_else(|| {
            PassError::TimerState {
                blade: blade.to_owned(),
                found: "no timer",
                allowed: "one",
                hint: format!(
                    "start one with `tangmark pass start {blade}`, or log the pass with `tangmark pass add {blade} … --time \"2 h\"`"
                ),
            }
            .into()
        })
    }

    fn timer_line(
        &self,
        blade: &str,
        around: &Surroundings<'_>,
    ) -> Result<TimerLine, WorkshopError> {
        let open = self.needed_timer(blade)?;
        line(&open, &around.now).ok_or_else(|| {
            PassError::TimerState {
                blade: blade.to_owned(),
                found: "a timer that never began",
                allowed: "one that did",
                hint: format!(
                    "strike it out: `tangmark journal strike {} --reason \"…\"`",
                    open.number
                ),
            }
            .into()
        })
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn time(text: &str) -> UtcTime {
        format!("2026-03-09T{text}Z").parse().unwrap()
    }

    fn timer(stretches: &[(&str, Option<&str>)]) -> Timer {
        let stretch = |(from, to): &(&str, Option<&str>)| Stretch {
            from: time(from),
            to: to.map(time),
        };
        Timer {
            stretches: stretches.iter().map(stretch).collect(),
            pass: Map::new(),
            logged: None,
        }
    }

    #[test]
    fn stretches_add_up() {
        let two = timer(&[("08:00:00", Some("09:30:00")), ("10:00:00", None)]);
        assert_eq!(two.seconds(&time("10:20:00")), Ok(110 * 60));
        assert!(two.runs() && !two.halted(&time("10:20:00")).runs());
        assert_eq!(
            two.halted(&time("10:20:00")).seconds(&time("23:00:00")),
            Ok(110 * 60),
            "what ended stays as it is"
        );
    }

    #[test]
    fn a_clock_that_goes_back_is_told() {
        let one = timer(&[("08:00:00", None)]);
        assert_eq!(
            one.seconds(&time("07:59:59")),
            Err(
                "a clock that went back, from 2026-03-09T08:00:00Z to 2026-03-09T07:59:59Z"
                    .to_owned()
            )
        );
        let between = timer(&[
            ("08:00:00", Some("09:00:00")),
            ("08:30:00", Some("10:00:00")),
        ]);
        assert!(between.seconds(&time("12:00:00")).is_err());
    }

    #[test]
    fn minutes_are_written_as_a_person_does() {
        for (seconds, text) in [
            (0, "1 min"),
            (89, "1 min"),
            (90, "2 min"),
            (3600, "1 h"),
            (5400, "1 h 30 min"),
        ] {
            assert_eq!(written(seconds), text);
        }
    }
}
