//! Blades that are not here: no work is done on what has left, so a pass on one is asked about and a timer is not begun.

use tangmark_core::record::{Pass, Term as _};
use tangmark_store::Store as _;

use super::error::PassError;
use super::question::Questioned;
use crate::stage::{Stage, stage_of};
use crate::{Workshop, WorkshopError};

/// Where a blade is that is not here.
pub(super) struct Away {
    stage: Stage,
    /// The day it left.
    since: String,
    /// The command that says it is here again.
    back: String,
}

impl Workshop {
    /// Tells where a blade is by its stage: sold, given back, or with a specialist; nothing where it is here.
    pub(super) fn away(&self, blade: &str, today: &str) -> Result<Option<Away>, WorkshopError> {
        let row = self.store().standing(blade)?;
        let Some(stage) = stage_of(&row).filter(|stage| stage.is_away()) else {
            return Ok(None);
        };
        let back = if stage.ends() {
            format!("tangmark stage set {blade} as_received --again")
        } else {
            let mut referrals = self.referrals_of(blade, today)?.into_iter();
            if referrals.any(|case| case.is_away()) {
                format!("tangmark refer back {blade}")
            } else {
                format!("tangmark stage set {blade} as_received")
            }
        };
        Ok(Some(Away {
            stage,
            since: row.stage_since.unwrap_or_default(),
            back,
        }))
    }

    /// Refuses work on a blade that is not here.
    pub(super) fn needed_here(
        &self,
        blade: &str,
        what: &'static str,
        today: &str,
    ) -> Result<(), WorkshopError> {
        self.away(blade, today)?.map_or(Ok(()), |away| {
            Err(PassError::Away {
                blade: blade.to_owned(),
                what,
                found: away.found(),
                back: away.back,
            }
            .into())
        })
    }
}

impl Away {
    fn found(&self) -> String {
        format!("`{}` since {}", self.stage.key(), self.since)
    }

    /// What has to be asked about a pass: nothing where its day lies before the one on which the blade left, nor on that
    /// day where the work is known to have `ended` before.
    pub(super) fn question(&self, pass: &Pass, ended: bool) -> Option<Questioned> {
        let last = pass.on.last_day();
        let before = last < self.since || (ended && last == self.since);
        (!before).then(|| Questioned {
            pass: pass.id.to_string(),
            field: "on".to_owned(),
            found: format!("{} with the blade at {}", pass.on, self.found()),
            allowed: "a day on which it is in the workshop".to_owned(),
            why: format!(
                "it has left by its stage; if it came back, `{}` says so",
                self.back
            ),
        })
    }
}
