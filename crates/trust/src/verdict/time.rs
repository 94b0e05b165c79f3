//! Who says when, and the fixed wording.

use std::fmt;

use serde::Serialize;

use crate::key::quoted;
use crate::timestamp::{Authority, Evidence};

/// Who says when?
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(tag = "state", rename_all = "snake_case")]
pub enum TimeLine {
    /// The issuer's own word.
    OwnWord {
        /// The time it states.
        stated: String,
    },
    /// The issuer states a time that has not come yet.
    Future {
        /// The time it states.
        stated: String,
    },
    /// Somebody else saw it at a time not before the one it states.
    NotLaterThan {
        /// The time the issuer states.
        stated: String,
        /// When it was seen: it existed not later than that.
        time: String,
        /// Name in the authority's certificate.
        authority: String,
        /// Whether the reader trusts it.
        standing: Authority,
    },
    /// The issuer states a time after the one at which somebody else saw it.
    StatedLater {
        /// The time the issuer states.
        stated: String,
        /// When it was seen: it existed not later than that.
        time: String,
        /// Name in the authority's certificate.
        authority: String,
        /// Whether the reader trusts it.
        standing: Authority,
    },
    /// No time to speak of.
    CannotJudge,
}

impl TimeLine {
    /// The time that the issuer states.
    pub fn stated(&self) -> Option<&str> {
        match self {
            Self::OwnWord { stated }
            | Self::Future { stated }
            | Self::NotLaterThan { stated, .. }
            | Self::StatedLater { stated, .. } => Some(stated),
            Self::CannotJudge => None,
        }
    }

    /// Judges a stated time by the clock and by what others saw of the record. The best witness is one the reader
    /// trusts, then one that is not the workshop itself; among equals the earliest.
    pub(super) fn judge(stated: Option<&str>, now: &str, evidence: &[&Evidence]) -> Self {
        let Some(stated) = stated.map(str::to_owned) else {
            return Self::CannotJudge;
        };
        let rank = |seen: &Evidence| match seen.standing {
            Authority::Trusted => 0,
            Authority::Unknown => 1,
            Authority::Workshop => 2,
        };
        let best = evidence
            .iter()
            .min_by(|a, b| (rank(a), &a.time).cmp(&(rank(b), &b.time)));
        match best {
            Some(seen) if stated > seen.time => Self::StatedLater {
                stated,
                time: seen.time.clone(),
                authority: seen.authority.clone(),
                standing: seen.standing,
            },
            _ if stated.as_str() > now => Self::Future { stated },
            Some(seen) => Self::NotLaterThan {
                stated,
                time: seen.time.clone(),
                authority: seen.authority.clone(),
                standing: seen.standing,
            },
            None => Self::OwnWord { stated },
        }
    }
}

/// What the reader may think of an authority.
const fn words(standing: Authority) -> &'static str {
    match standing {
        Authority::Trusted => "which you trust",
        Authority::Workshop => "which has a key of the workshop: its own word",
        Authority::Unknown => "which may be the workshop itself",
    }
}

impl fmt::Display for TimeLine {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::OwnWord { stated } => {
                write!(
                    f,
                    "{stated}, in the issuer's own word; nothing outside the workshop proves it"
                )
            }
            Self::Future { stated } => write!(
                f,
                "{stated}, in the issuer's own word; by this computer's clock that is in the future"
            ),
            Self::NotLaterThan {
                stated,
                time,
                authority,
                standing,
            } => write!(
                f,
                "{stated}, in the issuer's own word; not later than {time}, says {}, {}",
                quoted(authority),
                words(*standing)
            ),
            Self::StatedLater {
                stated,
                time,
                authority,
                standing,
            } => write!(
                f,
                "{stated}, in the issuer's own word; but it was there at {time}, says {}, {}: one of the two is wrong",
                quoted(authority),
                words(*standing)
            ),
            Self::CannotJudge => f.write_str("cannot be judged"),
        }
    }
}
