//! Striking entries of the journal out, and the entries that are the only trace of something, which stay.

use tangmark_store::{Change, NewEntry, Store as _};

use crate::correct::CorrectionNote;
use crate::intake::IntakeNote;
use crate::journal::{Matter as _, today};
use crate::sale::SaleNote;
use crate::{Surroundings, Workshop, WorkshopError};

/// Kinds of entries of a referral begin with this.
const REFERRAL: &str = "referral";

/// Why an entry was not struck out. Nothing was written.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum StrikeError {
    /// No reason.
    #[error(
        "entry {number}: the reason is empty, words are needed: the strike is read by them later"
    )]
    NoReason {
        /// The entry.
        number: u64,
    },
    /// It is the only trace of something.
    #[error(
        "entry {number} is of kind `{kind}`, entries that are the only trace of something are not struck out"
    )]
    OnlyTrace {
        /// The entry.
        number: u64,
        /// Its kind.
        kind: String,
        /// The blade it is about.
        blade: Option<String>,
    },
}

impl StrikeError {
    /// The next step.
    pub fn hint(&self) -> String {
        let Self::OnlyTrace { kind, blade, .. } = self else {
            return "say why, for example `--reason \"entered twice\"`".to_owned();
        };
        let blade = blade.as_deref().unwrap_or("BLADE");
        match kind.as_str() {
            kind if kind == IntakeNote::KIND => {
                format!("put it right with `tangmark intake amend {blade}`")
            }
            kind if kind.starts_with(REFERRAL) => format!(
                "go on with `tangmark refer show {blade}`; what a sealed record says wrongly is put right with `tangmark correct {blade} --record N --statement TEXT`"
            ),
            _ => format!(
                "put right what the record says with `tangmark correct {blade} --record N --statement TEXT`"
            ),
        }
    }
}

/// Whether an entry of a kind may be struck out.
fn may_go(kind: &str) -> bool {
    let only = [IntakeNote::KIND, SaleNote::KIND, CorrectionNote::KIND];
    !only.contains(&kind) && !kind.starts_with(REFERRAL)
}

impl Workshop {
    /// Strikes an entry out; it stays to be read, with the reason. Returns the number of the strike.
    ///
    /// # Errors
    /// When there is no such entry in force, no reason is given, or the entry is the only trace of something.
    pub fn strike(
        &self,
        number: u64,
        reason: &str,
        by: Option<&str>,
        around: &Surroundings<'_>,
    ) -> Result<u64, WorkshopError> {
        let reason = reason.trim();
        if reason.is_empty() {
            return Err(StrikeError::NoReason { number }.into());
        }
        let row = self.store().entry(number)?;
        if !may_go(&row.kind) {
            return Err(StrikeError::OnlyTrace {
                number,
                kind: row.kind,
                blade: row.blade,
            }
            .into());
        }
        let by = match by {
            Some(by) => by.to_owned(),
            None => self.name()?,
        };
        // The subject of a strike is why it was made: it has no content of its own.
        let entry = NewEntry {
            kind: &row.kind,
            blade: row.blade.as_deref(),
            subject: reason,
            on: today(around),
            body: None,
            at: around.now.as_str(),
            by: &by,
            replaces: Some(number),
        };
        let change = Change {
            entries: &[entry],
            ..Change::default()
        };
        let written = self.store().apply(&change)?;
        written
            .entries
            .first()
            .copied()
            .ok_or_else(|| WorkshopError::Canonical("an entry has a number".to_owned()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_traces_stay_and_each_says_what_corrects_it() {
        for kind in [
            "cost",
            "hours",
            "use",
            "stage",
            "stock",
            "stop_gone",
            "timer",
            "refused_pass",
        ] {
            assert!(may_go(kind), "{kind}");
        }
        for (kind, verb) in [
            ("intake", "`tangmark intake amend reed`"),
            ("sale", "`tangmark correct reed "),
            ("correction", "`tangmark correct reed "),
            ("referral", "`tangmark refer show reed`"),
            ("referral_back", "`tangmark refer show reed`"),
        ] {
            assert!(!may_go(kind), "{kind}");
            let error = StrikeError::OnlyTrace {
                number: 7,
                kind: kind.to_owned(),
                blade: Some("reed".to_owned()),
            };
            assert!(error.hint().contains(verb), "{kind}: {}", error.hint());
        }
    }
}
