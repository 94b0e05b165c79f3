//! The workshop's fittings: an inventory of its own, with and without a blade.
//!
//! A fitting is a card in the journal and every place it was in. While it is with a blade it stands in the sheet of that
//! blade too, written in the same change, so that a record of the blade holds it; what is sealed never changes. A fitting
//! that stands in a sheet only is not of the inventory until it is taken over.

mod card;
mod change;
mod enter;
mod error;
mod fits;
mod label;
mod limits;
mod list;
mod moves;
mod screen;
mod sheet;

use std::collections::BTreeMap;

pub use card::{Belonging, Card, Limits, Move, Place, Readings};
pub use change::Changes;
pub use enter::NewFitting;
pub use error::FittingError;
pub use fits::{Answer, FitCheck, FitDrawing, FitLine, Fitted};
pub use label::FittingLabels;
pub use limits::{LIMITS, LimitLine, LimitName};
pub use list::{FittingLine, FittingMove, ShownFitting, Which, as_csv};
pub use screen::{ScreenNote, Screened};

use serde::Serialize;

use crate::journal::Noted;
use crate::{Workshop, WorkshopError};

/// Most characters of a fitting's key; the keys of its photos are longer, and have 40 at most.
const LONGEST_KEY: usize = 31;

/// Most characters of a title, and of the name of a person or place.
const LONGEST_NAME: usize = 200;
/// Most characters of a remark.
const LONGEST_NOTE: usize = 1000;

/// Refuses a text that is empty or too long.
fn expect_text(what: &'static str, text: &str, most: usize) -> Result<(), FittingError> {
    let found = text.trim().chars().count();
    if (1..=most).contains(&found) {
        Ok(())
    } else {
        Err(FittingError::Text { what, found, most })
    }
}

/// What a change of a fitting wrote.
#[derive(Clone, Debug, Serialize)]
pub struct DoneFitting {
    /// Its key.
    pub fitting: String,
    /// Where it is now.
    pub place: Place,
    /// Whether a hole or an opening decides on this part.
    pub judged: bool,
    /// Whether a hole or an opening was measured.
    pub measured: bool,
    /// The blade whose sheet was changed, with the new revision.
    pub sheets: Vec<ChangedSheet>,
    /// Numbers of the entries in the journal.
    pub entries: Vec<u64>,
    /// Remarks a person should read.
    pub remarks: Vec<String>,
}

/// A sheet that was changed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ChangedSheet {
    /// Blade.
    pub blade: String,
    /// Revision of its sheet now.
    pub revision: u64,
}

/// A fitting with its places, oldest first.
#[derive(Clone, Debug)]
struct Known {
    card: Noted<Card>,
    moves: Vec<Noted<Move>>,
}

impl Known {
    /// Where it is. With every move struck out nothing is known but that it was entered.
    fn place(&self) -> Place {
        self.moves
            .last()
            .map_or(Place::Storage, |one| one.matter.to.clone())
    }

    /// The day it came there.
    fn since(&self) -> &str {
        self.moves.last().map_or(&self.card.on, |one| &one.on)
    }

    fn id(&self) -> &str {
        self.card.matter.id()
    }
}

impl Workshop {
    /// Finds a fitting of the inventory.
    fn known(&self, id: &str) -> Result<Known, WorkshopError> {
        let card = self
            .noted::<Card>(None, Some(id))?
            .pop()
            .ok_or_else(|| FittingError::Unknown(id.chars().take(60).collect()))?;
        Ok(Known {
            card,
            moves: self.noted(None, Some(id))?,
        })
    }

    /// All fittings of the inventory by key.
    fn all_known(&self) -> Result<Vec<Known>, WorkshopError> {
        let mut moves: BTreeMap<String, Vec<Noted<Move>>> = BTreeMap::new();
        for one in self.noted::<Move>(None, None)? {
            moves.entry(one.subject.clone()).or_default().push(one);
        }
        let cards = self.noted::<Card>(None, None)?;
        let mut all: Vec<Known> = cards
            .into_iter()
            .map(|card| Known {
                moves: moves.remove(&card.subject).unwrap_or_default(),
                card,
            })
            .collect();
        all.sort_by(|a, b| a.id().cmp(b.id()));
        Ok(all)
    }
}
