//! What a history says of a record, of two keys and of another history.

use serde::Serialize;

use super::{KeyHistory, NamedBy, Term};
use crate::key::PublicKey;

/// How a key stood when it sealed a record.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Standing {
    /// No statement names the key.
    NotInHistory,
    /// The record states a time before the key signed.
    TooEarly,
    /// The record states a time when its successor signed.
    TooLate,
    /// The key is revoked, and the record states a time since then.
    Revoked,
    /// The key is revoked, but a trusted authority says that the record is older.
    RevokedProved,
    /// The key is revoked, and only the record's own word says that it is older.
    RevokedUnproved,
    /// The key was in force.
    InForce,
}

/// A way from one key of a history to another.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Path {
    /// Each step but for rotations is a recovery, or may be somebody else's: to be confirmed with the card.
    pub recovery: bool,
    /// The key asked about is the earlier one.
    pub backwards: bool,
}

/// How two histories stand to each other.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Agreement {
    /// The same entries.
    Same,
    /// The other one is the beginning of this one.
    Longer,
    /// This one is the beginning of the other one.
    Shorter,
    /// They disagree.
    Fork {
        /// The first entry that differs, counted from 1.
        entry: usize,
    },
    /// They have other first keys.
    Other,
}

/// What the histories at hand have on one key.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum About<'a> {
    /// None names it.
    Nothing,
    /// They agree; this is the longest.
    One(&'a KeyHistory),
    /// Two of them disagree.
    Two {
        /// One of them; it names the key.
        one: &'a KeyHistory,
        /// The other one.
        other: &'a KeyHistory,
        /// The first entry that differs, counted from 1 (1, too, where their first keys differ).
        entry: usize,
    },
}

impl KeyHistory {
    /// Says how `key` stood at `issued_at`. `evidence` is the earliest time at which an authority that the reader trusts
    /// saw the record. All times are UTC in the spelling of records.
    pub fn standing(&self, key: &PublicKey, issued_at: &str, evidence: Option<&str>) -> Standing {
        let Some(term) = self.term(key) else {
            return Standing::NotInHistory;
        };
        if issued_at < term.from.as_str() {
            return Standing::TooEarly;
        }
        if term
            .until
            .as_deref()
            .is_some_and(|until| issued_at >= until)
        {
            return Standing::TooLate;
        }
        match &term.revoked {
            None => Standing::InForce,
            Some(revoked) if issued_at >= revoked.since.as_str() => Standing::Revoked,
            Some(revoked) if evidence.is_some_and(|time| time < revoked.since.as_str()) => {
                Standing::RevokedProved
            }
            Some(_) => Standing::RevokedUnproved,
        }
    }

    /// Follows the history from a key that the reader knows to another; none when it does not name both.
    pub fn path(&self, known: &PublicKey, asked: &PublicKey) -> Option<Path> {
        let place = |key: &PublicKey| self.terms().position(|term| term.key == *key);
        let (from, to) = (place(known)?, place(asked)?);
        let (low, high) = (from.min(to), from.max(to));
        let terms: Vec<&Term> = self.terms().skip(low).take(high - low + 1).collect();
        let recovery = terms.windows(2).any(|pair| match pair {
            [before, after] => needs_confirming(before, after),
            _ => false,
        });
        Some(Path {
            recovery,
            backwards: to < from,
        })
    }

    /// Compares with another history, entry by entry.
    pub fn compare(&self, other: &Self) -> Agreement {
        if self.first.key != other.first.key {
            return Agreement::Other;
        }
        let (ours, theirs) = (self.digests(), other.digests());
        let differs = ours
            .iter()
            .zip(theirs)
            .position(|(our, their)| our != their);
        match differs {
            Some(index) => Agreement::Fork { entry: index + 1 },
            None => match ours.len().cmp(&theirs.len()) {
                std::cmp::Ordering::Equal => Agreement::Same,
                std::cmp::Ordering::Greater => Agreement::Longer,
                std::cmp::Ordering::Less => Agreement::Shorter,
            },
        }
    }
}

/// Whether a step from key to key may not be the workshop's own: by the paper key, or by a key that was revoked for a
/// time before it named its successor.
fn needs_confirming(before: &Term, after: &Term) -> bool {
    let revoked = before.revoked.as_ref();
    after.named_by == NamedBy::Recovery
        || revoked.is_some_and(|revoked| revoked.since <= after.from)
}

/// Whether a statement of each names the same key.
fn share_a_key(one: &KeyHistory, other: &KeyHistory) -> bool {
    one.terms().any(|term| other.term(&term.key).is_some())
}

/// Looks for what the histories say of a key: the longest of those that agree, or two that do not. Two with other first
/// keys disagree as soon as any key stands in both.
pub fn about<'a>(histories: &'a [KeyHistory], key: &PublicKey) -> About<'a> {
    let mut found: Option<&KeyHistory> = None;
    for naming in histories.iter().filter(|one| one.term(key).is_some()) {
        let mut longest = naming;
        for other in histories {
            match longest.compare(other) {
                Agreement::Shorter => longest = other,
                Agreement::Fork { entry } => {
                    return About::Two {
                        one: naming,
                        other,
                        entry,
                    };
                }
                Agreement::Other if share_a_key(longest, other) => {
                    return About::Two {
                        one: naming,
                        other,
                        entry: 1,
                    };
                }
                Agreement::Same | Agreement::Longer | Agreement::Other => {}
            }
        }
        found = Some(longest);
    }
    found.map_or(About::Nothing, About::One)
}
