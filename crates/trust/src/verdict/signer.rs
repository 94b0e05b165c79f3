//! Whose key, in the words of `schemas/key-history-format.md`, and their fixed wording.

use std::fmt;

use serde::Serialize;

use super::{Reader, Weight};
use crate::history::{self, About, KeyHistory, Standing, Term};
use crate::key::{PublicKey, quoted};
use crate::memory::{Assessment, SeenKey};
use crate::timestamp::{Authority, Evidence};

/// Is this a key the reader knows?
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(tag = "state", rename_all = "snake_case")]
pub enum SignerLine {
    /// The reader's own workshop.
    Own,
    /// Seen before under this name.
    Known {
        /// Since when.
        since: String,
    },
    /// Another key of the history is known under this name, and keys named each other all the way.
    Succeeded {
        /// Fingerprint of this key.
        fingerprint: String,
        /// Fingerprint of the key that is known.
        known: String,
        /// Since when that one is known.
        since: String,
        /// From when on this key signs.
        from: String,
        /// This key is the earlier one.
        backwards: bool,
    },
    /// The same, with a recovery on the way.
    Recovered {
        /// Fingerprint of this key.
        fingerprint: String,
        /// Fingerprint of the key that is known.
        known: String,
        /// From when on this key signs.
        from: String,
    },
    /// Not seen before.
    New {
        /// Fingerprint to compare with the one on the workshop's card.
        fingerprint: String,
    },
    /// The name is remembered with another key.
    OtherKeyForName {
        /// Fingerprint of this key.
        fingerprint: String,
        /// Fingerprints remembered under the name.
        remembered: Vec<String>,
    },
    /// The key, or another of its history, is remembered under another name.
    OtherNameForKey {
        /// Name given now.
        name: String,
        /// Names remembered.
        remembered: Vec<String>,
    },
    /// By its key history the key did not sign at that time.
    NotInForce {
        /// Fingerprint of this key.
        fingerprint: String,
        /// [`Standing::TooEarly`] or [`Standing::TooLate`].
        when: Standing,
        /// From when on the key signs.
        from: String,
        /// Until when, that moment excluded.
        until: Option<String>,
    },
    /// The key was revoked for the time that the record states.
    Revoked {
        /// Fingerprint of this key.
        fingerprint: String,
        /// Revoked since.
        since: String,
    },
    /// The key was revoked, and only the record's own word makes it older.
    RevokedUnproved {
        /// Fingerprint of this key.
        fingerprint: String,
        /// Revoked since.
        since: String,
    },
    /// Two key histories of this key disagree.
    TwoHistories {
        /// Fingerprint of this key.
        fingerprint: String,
        /// First entry that differs, counted from 1.
        entry: usize,
        /// Fingerprints of the key in force of the one and of the other.
        in_force: [String; 2],
    },
    /// No signature to ask about.
    CannotJudge {
        /// Why not.
        reason: String,
    },
}

impl SignerLine {
    /// How much the state weighs.
    pub fn weight(&self) -> Weight {
        match self {
            Self::Own | Self::Known { .. } | Self::Succeeded { .. } => Weight::Accepted,
            Self::Recovered { .. }
            | Self::New { .. }
            | Self::OtherKeyForName { .. }
            | Self::OtherNameForKey { .. }
            | Self::RevokedUnproved { .. } => Weight::ToBeConfirmed,
            Self::NotInForce { .. } | Self::Revoked { .. } | Self::TwoHistories { .. } => {
                Weight::Rejected
            }
            Self::CannotJudge { .. } => Weight::CannotBeChecked,
        }
    }
}

impl fmt::Display for SignerLine {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Own => f.write_str("own key: sealed in this workshop"),
            Self::Known { since } => {
                write!(f, "known: the same key under the same name as on {since}")
            }
            Self::Succeeded {
                fingerprint,
                known,
                since,
                from,
                backwards: false,
            } => write!(
                f,
                "known by succession: {known}, which you know since {since}, named {fingerprint} to sign from {from} on"
            ),
            Self::Succeeded {
                fingerprint,
                known,
                since,
                from,
                backwards: true,
            } => write!(
                f,
                "known by succession: {known}, which you know since {since}, came after {fingerprint}, which signed from {from} on"
            ),
            Self::Recovered {
                fingerprint,
                known,
                from,
            } => write!(
                f,
                "to be confirmed: {fingerprint} signs from {from} on, and between it and {known}, which you know, the recovery key spoke or a revoked key; compare {fingerprint} with the workshop's new card"
            ),
            Self::New { fingerprint } => write!(
                f,
                "new to you: compare the fingerprint {fingerprint} with the one on the workshop's card"
            ),
            Self::OtherKeyForName {
                fingerprint,
                remembered,
            } => write!(
                f,
                "not the key you know: {fingerprint} signed, under this name you remember {}; ask the workshop",
                remembered.join(", ")
            ),
            Self::OtherNameForKey { name, remembered } => write!(
                f,
                "the key is known, but as {}; it now calls itself {}; ask the workshop",
                // Whoever signed wrote all of them.
                remembered
                    .iter()
                    .map(|name| quoted(name))
                    .collect::<Vec<_>>()
                    .join(", "),
                quoted(name)
            ),
            Self::NotInForce {
                fingerprint,
                when: Standing::TooLate,
                until: Some(until),
                ..
            } => write!(
                f,
                "not in force: by its key history {fingerprint} signed until {until}, the record states that time or a later one"
            ),
            Self::NotInForce {
                fingerprint, from, ..
            } => write!(
                f,
                "not in force: by its key history {fingerprint} signs from {from} on, the record states an earlier time"
            ),
            Self::Revoked { fingerprint, since } => write!(
                f,
                "revoked: {fingerprint} may be in other hands since {since}, and the record states a time since then"
            ),
            Self::RevokedUnproved { fingerprint, since } => write!(
                f,
                "revoked: {fingerprint} may be in other hands since {since}; the record states an earlier time, but whoever holds the key can write any time"
            ),
            Self::TwoHistories {
                fingerprint,
                entry,
                in_force: [one, other],
            } => write!(
                f,
                "two key histories of {fingerprint} disagree from entry {entry} on: one ends with the key {one}, the other with {other}; nobody can tell from the files which is the workshop's"
            ),
            Self::CannotJudge { reason } => write!(f, "cannot be judged: {reason}"),
        }
    }
}

/// A signer, and what must be told first of it.
pub(super) struct Signer {
    pub(super) line: SignerLine,
    pub(super) notice: Option<String>,
}

/// Asks the histories at hand, then the reader's own and remembered keys. `evidence` is that of the record.
pub(super) fn signer(
    reader: &Reader<'_>,
    name: &str,
    key: &PublicKey,
    issued_at: &str,
    evidence: &[&Evidence],
) -> Signer {
    let history = match history::about(reader.histories, key) {
        About::Two { one, other, entry } => {
            return Signer {
                line: SignerLine::TwoHistories {
                    fingerprint: fingerprint(key),
                    entry,
                    in_force: [one, other].map(|history| fingerprint(&history.in_force().key)),
                },
                notice: None,
            };
        }
        About::One(history) => history.term(key).map(|term| (history, term)),
        About::Nothing => None,
    };
    let mut notice = None;
    if let Some((history, term)) = history {
        let trusted = earliest_trusted(evidence);
        let standing = history.standing(key, issued_at, trusted.map(|seen| seen.time.as_str()));
        if let Some(line) = out_of_force(standing, term) {
            return Signer { line, notice: None };
        }
        notice = revoked_proved(standing, term, trusted);
    }
    let line = known(reader, name, key, history);
    Signer { line, notice }
}

/// Says what the reader knows of a key, by itself or by another key of its history, whether or not it was in force.
pub fn known_key(reader: &Reader<'_>, name: &str, key: &PublicKey) -> SignerLine {
    let history = match history::about(reader.histories, key) {
        About::One(history) => history.term(key).map(|term| (history, term)),
        About::Two { .. } | About::Nothing => None,
    };
    known(reader, name, key, history)
}

/// Whether a record of another key of the chain needs no verdict of its own: rotations lead from key to key, and it was
/// in force.
pub(super) fn linked(
    histories: &[KeyHistory],
    key: &PublicKey,
    other: &PublicKey,
    issued_at: &str,
) -> bool {
    let About::One(history) = history::about(histories, key) else {
        return false;
    };
    let in_force = history.standing(other, issued_at, None) == Standing::InForce;
    let path = history.path(key, other);
    in_force && path.is_some_and(|path| !path.recovery)
}

fn fingerprint(key: &PublicKey) -> String {
    key.fingerprint().to_string()
}

fn earliest_trusted<'a>(evidence: &[&'a Evidence]) -> Option<&'a Evidence> {
    let trusted = evidence
        .iter()
        .filter(|seen| seen.standing == Authority::Trusted);
    trusted.copied().min_by(|a, b| a.time.cmp(&b.time))
}

/// The states in which it no longer matters whether the key is known.
fn out_of_force(standing: Standing, term: &Term) -> Option<SignerLine> {
    let fingerprint = fingerprint(&term.key);
    let since = || {
        let revoked = term.revoked.as_ref();
        revoked.map_or_else(String::new, |revoked| revoked.since.clone())
    };
    match standing {
        Standing::TooEarly | Standing::TooLate => Some(SignerLine::NotInForce {
            fingerprint,
            when: standing,
            from: term.from.clone(),
            until: term.until.clone(),
        }),
        Standing::Revoked => Some(SignerLine::Revoked {
            fingerprint,
            since: since(),
        }),
        Standing::RevokedUnproved => Some(SignerLine::RevokedUnproved {
            fingerprint,
            since: since(),
        }),
        Standing::NotInHistory | Standing::RevokedProved | Standing::InForce => None,
    }
}

fn revoked_proved(standing: Standing, term: &Term, trusted: Option<&Evidence>) -> Option<String> {
    let (Standing::RevokedProved, Some(revoked), Some(seen)) = (standing, &term.revoked, trusted)
    else {
        return None;
    };
    Some(format!(
        "the key {} is revoked since {}; {}, which you trust, saw this record before that, at {}",
        fingerprint(&term.key),
        revoked.since,
        quoted(&seen.authority),
        seen.time
    ))
}

/// What the reader knows of the key, by itself or by another key of its history.
fn known(
    reader: &Reader<'_>,
    name: &str,
    key: &PublicKey,
    history: Option<(&KeyHistory, &Term)>,
) -> SignerLine {
    if reader.own_keys.contains(key) {
        return SignerLine::Own;
    }
    let assessment = reader.memory.assess(name, key);
    if let Assessment::Known { since } = assessment {
        return SignerLine::Known { since };
    }
    let relatives: Vec<(&KeyHistory, &Term, PublicKey, &SeenKey)> = history
        .into_iter()
        .flat_map(|(history, term)| {
            let seen = reader.memory.keys().iter();
            seen.filter_map(move |seen| {
                let key = PublicKey::from_did(&seen.did).ok()?;
                history.term(&key)?;
                (key != term.key).then_some((history, term, key, seen))
            })
        })
        .collect();
    let mut recovered = None;
    for (history, term, relative, seen) in relatives.iter().filter(|(.., seen)| seen.has_name(name))
    {
        let (Some(path), known) = (history.path(relative, key), fingerprint(relative)) else {
            continue;
        };
        if !path.recovery {
            return SignerLine::Succeeded {
                fingerprint: fingerprint(key),
                known,
                since: seen.first_seen.clone(),
                from: term.from.clone(),
                backwards: path.backwards,
            };
        }
        recovered.get_or_insert(SignerLine::Recovered {
            fingerprint: fingerprint(key),
            known,
            from: term.from.clone(),
        });
    }
    if let Some(recovered) = recovered {
        return recovered;
    }
    match assessment {
        Assessment::DifferentKeyForName { known } => SignerLine::OtherKeyForName {
            fingerprint: fingerprint(key),
            remembered: known.iter().map(|seen| seen.fingerprint.clone()).collect(),
        },
        Assessment::OtherNameForKey { known } => SignerLine::OtherNameForKey {
            name: name.to_owned(),
            remembered: known.iter().map(|seen| seen.name.clone()).collect(),
        },
        _ if relatives.is_empty() => SignerLine::New {
            fingerprint: fingerprint(key),
        },
        _ => SignerLine::OtherNameForKey {
            name: name.to_owned(),
            remembered: relatives
                .iter()
                .map(|(.., seen)| seen.name.clone())
                .collect(),
        },
    }
}
