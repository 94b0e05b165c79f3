//! The hold before a pass: derived anew each time. Where passes come onto a sheet in another way, `watched` tells it.

use std::collections::BTreeSet;

use tangmark_core::hold::{self, Stop};
use tangmark_core::record::{Pass, Sheet, WorkedUnderHold};

use crate::checks::Judged;

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

/// The passes of a sheet that the next record would list as worked under hold.
pub(super) fn under_hold(sheet: &Sheet, judged: &Judged) -> Vec<WorkedUnderHold> {
    let standing: Vec<Stop> = stops(judged).into_iter().map(|(stop, _)| stop).collect();
    let standing_on = |day: &str| hold::stood_on(&standing, &judged.report.findings, sheet, day);
    hold::worked_under_hold(sheet, standing_on, &judged.overrides, &judged.records)
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
