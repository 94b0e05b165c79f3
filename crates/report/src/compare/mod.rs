//! Two states of a blade against each other: one reckoning for pages, drawings and terminal.
//!
//! [`quantities`]: what was measured both times; [`flaws`]: what became of each flaw, by which rule; [`photos`]: pictures of
//! the same thing; [`account`]: where the mass went. [`Told`] is all of it in words and numbers.

pub(crate) mod account;
pub(crate) mod change;
mod drawings;
pub(crate) mod flaws;
mod kinds;
pub(crate) mod photos;
pub(crate) mod quantities;
pub(crate) mod state;
mod summary;
mod told;

use tangmark_core::record::{Pass, Photo, Record};

use crate::{drawing::passes_of, speech::Pair};

pub use drawings::comparison_drawings;
pub use state::unsealed;
pub use told::{
    AccountTold, EtchTold, FlawTold, Number, PhotoTold, QuantityTold, SizeTold, StateTold,
    StationTold, StepTold, Told, TotalTold,
};

/// States with the work since an earlier one.
pub(crate) struct Worked {
    pub(crate) last: Record,
    /// Those before the last, oldest first.
    pub(crate) earlier: Vec<Record>,
}

/// Everything that two states say against each other.
pub(crate) struct Comparison<'a> {
    pub(crate) before: &'a Record,
    pub(crate) after: &'a Record,
    between: &'a [Record],
    pub(crate) rows: Vec<quantities::Row<'a>>,
    pub(crate) stations: Vec<quantities::StationPair<'a>>,
    pub(crate) flaws: Vec<flaws::FlawChange<'a>>,
    pub(crate) photos: Vec<(&'a Photo, &'a Photo)>,
    pub(crate) account: Option<account::Account<'a>>,
}

impl<'a> Comparison<'a> {
    /// Compares two states; `between` are the blade's records after the first and before the second, oldest first.
    pub(crate) fn of(before: &'a Record, after: &'a Record, between: &'a [Record]) -> Self {
        let passes = passes_since(before, after, between);
        Self {
            before,
            after,
            between,
            rows: quantities::named(before, after),
            stations: quantities::stations(before, after),
            flaws: flaws::changes(before, after, &passes),
            photos: photos::pairs(before, after),
            account: account::Account::of(before, after, between),
        }
    }

    /// Returns the later states with the passes alone that the first does not tell.
    pub(crate) fn worked(&self) -> Worked {
        let known = |pass: &Pass| self.before.passes.iter().any(|one| one.id == pass.id);
        let since = |record: &Record| {
            let mut record = record.clone();
            record.passes.retain(|pass| !known(pass));
            record
        };
        Worked {
            last: since(self.after),
            earlier: self.between.iter().map(since).collect(),
        }
    }

    /// Returns the comparison in three sentences: mass, measures, flaws.
    pub(crate) fn sentences(&self) -> [Pair; 3] {
        summary::sentences(self)
    }

    /// Every row of quantities: named ones, then those of stations.
    pub(crate) fn all_rows(&self) -> impl Iterator<Item = &quantities::Row<'a>> + Clone {
        self.rows
            .iter()
            .chain(self.stations.iter().flat_map(|station| &station.rows))
    }
}

/// The passes that the later states tell and the first does not, in order, each once.
pub(crate) fn passes_since<'a>(
    before: &Record,
    after: &'a Record,
    between: &'a [Record],
) -> Vec<&'a Pass> {
    passes_of(after, between)
        .into_iter()
        .filter(|pass| !before.passes.iter().any(|known| known.id == pass.id))
        .collect()
}
