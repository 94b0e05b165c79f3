//! Purchases and sales in the chain of custody of a blade, and which of them the books count.

use std::collections::BTreeMap;

use tangmark_core::Digest;
use tangmark_core::record::{CustodyEvent, CustodyKind, Purpose, Term as _};
use tangmark_store::Store as _;

use crate::custody::without_withheld;
use crate::custody_of::{is_own, passes_on};
use crate::{Workshop, WorkshopError};

/// A purchase or a sale in the chain of custody.
pub(super) struct Trade<'a> {
    pub(super) event: &'a CustodyEvent,
    pub(super) standing: Standing,
    /// Nobody else held the blade since.
    is_last: bool,
}

/// Whether a trade counts in the books.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Standing {
    Counts,
    /// Earlier changes of hands stand on the sheet too: there the one who bought, or sold, is somebody else.
    Others,
    /// The record of this transfer was withdrawn, and none that stands was sealed of it.
    Withdrawn {
        record: u32,
        by: u32,
    },
}

impl Trade<'_> {
    pub(super) fn counts(&self) -> bool {
        self.standing == Standing::Counts
    }

    /// The other party.
    pub(super) fn party(&self) -> Option<&str> {
        let other = match self.event.kind {
            CustodyKind::Bought => &self.event.from,
            _ => &self.event.to,
        };
        other.as_ref()?.name.as_deref()
    }

    /// Why a price that stands on the sheet is not in the books, or what they lack.
    pub(super) fn remark(&self, blade: &str) -> Option<String> {
        let (kind, on) = (self.event.kind.key(), &self.event.when.latest);
        match (self.standing, &self.event.price) {
            (Standing::Counts, None) => Some(format!(
                "the sheet has no price for what was {kind} on {on}"
            )),
            (Standing::Counts, Some(_)) | (Standing::Others, None) => None,
            (Standing::Others, Some(price)) => Some(format!(
                "{price} for what was {kind} on {on} is not counted: the sheet does not name this workshop as the one who {} it",
                if self.event.kind == CustodyKind::Bought {
                    "bought"
                } else {
                    "sold"
                }
            )),
            (Standing::Withdrawn { record, by }, price) => {
                let price = price.as_ref().map(|price| format!("{price} for "));
                // A transfer that is sealed is one of the last change of hands.
                let anew = if self.is_last {
                    format!(
                        "; where it holds all the same, `tangmark seal {blade} --for transfer` seals it anew"
                    )
                } else {
                    String::new()
                };
                Some(format!(
                    "{}what was {kind} on {on} is not counted: its record {record} was withdrawn by record {by}{anew}",
                    price.unwrap_or_default()
                ))
            }
        }
    }
}

fn is_trade(event: &CustodyEvent) -> bool {
    matches!(event.kind, CustodyKind::Bought | CustodyKind::Sold)
}

/// Whether a purchase or a sale is one by this workshop.
fn is_own_trade(event: &CustodyEvent, workshop: &str) -> bool {
    let own = match event.kind {
        CustodyKind::Bought => &event.to,
        _ => &event.from,
    };
    own.as_ref().is_none_or(|person| is_own(person, workshop))
}

impl Workshop {
    /// The purchases and sales in the chain of custody of a blade. `own` is the name of the workshop.
    pub(super) fn trades<'a>(
        &self,
        blade: &str,
        custody: &'a [CustodyEvent],
        own: &str,
    ) -> Result<Vec<Trade<'a>>, WorkshopError> {
        if !custody.iter().any(is_trade) {
            return Ok(Vec::new());
        }
        let withdrawn = self.withdrawn_transfers(blade, custody)?;
        let last = custody.iter().rposition(|one| passes_on(one.kind));
        let trades = custody.iter().enumerate().filter(|(_, one)| is_trade(one));
        Ok(trades
            .map(|(index, event)| Trade {
                event,
                is_last: Some(index) == last,
                standing: if is_own_trade(event, own) {
                    withdrawn.get(&index).copied().unwrap_or(Standing::Counts)
                } else {
                    Standing::Others
                },
            })
            .collect())
    }

    /// The events whose transfer was sealed and withdrawn, by their place in the chain. No record is opened where none of
    /// the blade withdraws another.
    fn withdrawn_transfers(
        &self,
        blade: &str,
        custody: &[CustodyEvent],
    ) -> Result<BTreeMap<usize, Standing>, WorkshopError> {
        let rows = self.store().records(blade)?;
        let mut withdrawn: BTreeMap<Digest, u32> = BTreeMap::new();
        for row in &rows {
            if row.purpose == Purpose::Withdrawal.key() {
                let record = self.kept(row)?.record;
                if let Some(said) = record.refers_to {
                    withdrawn.insert(said.record, record.sequence);
                }
            }
        }
        let mut standings = BTreeMap::new();
        if withdrawn.is_empty() {
            return Ok(standings);
        }
        let open: Vec<CustodyEvent> = custody.iter().map(without_withheld).collect();
        for row in &rows {
            if row.purpose != Purpose::Transfer.key() {
                continue;
            }
            let record = self.kept(row)?.record;
            // What a transfer is one of is the last change of hands in it.
            let last = record.custody.iter().rposition(|one| passes_on(one.kind));
            let Some((last, event)) = last.and_then(|last| Some((last, record.custody.get(last)?)))
            else {
                continue;
            };
            let sealed = without_withheld(event);
            // Two sales of one day differ by nothing but their names, which are withheld: the place in the chain counts first.
            let place = if open.get(last) == Some(&sealed) {
                Some(last)
            } else {
                open.iter().rposition(|one| *one == sealed)
            };
            let Some(place) = place else { continue };
            let standing = withdrawn.get(&row.name).map_or(Standing::Counts, |by| {
                let record = record.sequence;
                Standing::Withdrawn { record, by: *by }
            });
            let known = standings.entry(place).or_insert(standing);
            if standing == Standing::Counts {
                *known = standing;
            }
        }
        Ok(standings)
    }
}
