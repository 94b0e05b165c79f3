//! The hold before a pass: derived anew each time, and told wherever passes come onto a sheet in another way.

use std::collections::BTreeSet;

use tangmark_core::hold::{self, Stop};
use tangmark_core::record::{Pass, Sheet};
use tangmark_store::{Store as _, StoreError};

use crate::checks::Judged;
use crate::{Surroundings, Workshop, WorkshopError};

/// The stops that keep anyone from working on the blade, each with who may answer it.
///
/// Nothing but the tests can switch it off: so each way round the hold is seen to succeed where the guard is not there.
pub(super) fn stops(judged: &Judged) -> Vec<(Stop, &'static str)> {
    #[cfg(test)]
    if switch::is_off() {
        return Vec::new();
    }
    judged.report.stops.clone()
}

/// The keys of the passes of a sheet.
pub(crate) fn keys<'a>(passes: impl IntoIterator<Item = &'a Pass>) -> BTreeSet<String> {
    passes.into_iter().map(|pass| pass.id.to_string()).collect()
}

impl Workshop {
    /// The keys of the passes on the newest sheet of a blade; none where it has no sheet, or one that cannot be read.
    pub(crate) fn known_passes(&self, blade: &str) -> Result<BTreeSet<String>, WorkshopError> {
        let draft = match self.store().draft(blade) {
            Ok(draft) => draft,
            Err(StoreError::UnknownBlade(_)) => None,
            Err(error) => return Err(error.into()),
        };
        let Some(draft) = draft else {
            return Ok(BTreeSet::new());
        };
        let passes = draft.body["passes"].as_array().into_iter().flatten();
        Ok(passes
            .filter_map(|pass| pass["id"].as_str().map(str::to_owned))
            .collect())
    }

    /// Returns a sentence for each pass of the newest sheet that is not among `known` and stands under a stop that
    /// nothing answered. Such passes are kept, since they may have been made; the next record lists them.
    ///
    /// What was kept is kept: where the hold cannot be derived, that is the sentence.
    pub(crate) fn told_under_hold(
        &self,
        blade: &str,
        known: &BTreeSet<String>,
        around: &Surroundings<'_>,
    ) -> Vec<String> {
        let told = || -> Result<Vec<String>, WorkshopError> {
            let (sheet, revision) = self.sheet(blade)?;
            let is_new = |id: &str| !known.contains(id);
            if !sheet.passes.iter().any(|pass| is_new(pass.id.as_str())) {
                return Ok(Vec::new());
            }
            let judged = self.judge_sheet(&sheet, revision, around)?;
            Ok(lines(&sheet, &judged, &is_new))
        };
        told().unwrap_or_else(|error| {
            vec![format!(
                "the sheet is kept, but whether its passes stand under a hold could not be told: {error}"
            )]
        })
    }
}

/// The sentences on new passes that the next record would list as worked under hold.
fn lines(sheet: &Sheet, judged: &Judged, is_new: &dyn Fn(&str) -> bool) -> Vec<String> {
    let standing: Vec<Stop> = stops(judged).into_iter().map(|(stop, _)| stop).collect();
    hold::worked_under_hold(sheet, &standing, &judged.overrides, &judged.records)
        .into_iter()
        .filter(|line| is_new(line.pass.as_str()))
        .map(|line| {
            format!(
                "pass `{}` came onto the sheet while {} stands unanswered; it is kept, and the next record lists it as worked \
                 under hold",
                line.pass, line.rule
            )
        })
        .collect()
}

/// Switches the guard off, in tests alone: outside of them this module does not exist.
#[cfg(test)]
pub(super) mod switch {
    use std::cell::Cell;

    thread_local! {
        static OFF: Cell<bool> = const { Cell::new(false) };
    }

    pub(super) fn is_off() -> bool {
        OFF.with(Cell::get)
    }

    /// Runs `work` without the guard; it is there again afterwards, also after a panic.
    pub(crate) fn without<T>(work: impl FnOnce() -> T) -> T {
        struct Back;
        impl Drop for Back {
            fn drop(&mut self) {
                OFF.with(|off| off.set(false));
            }
        }
        OFF.with(|off| off.set(true));
        let _back = Back;
        work()
    }
}
