//! What can go wrong with an event of custody.

use tangmark_core::counted;
use tangmark_core::record::{MoneyError, Term};

/// Why no event was entered, changed, removed or drawn.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum CustodyError {
    /// A word that is no term of its list.
    #[error("{what} `{found}` is none of the list; allowed: {allowed}")]
    Term {
        /// What was to be named.
        what: &'static str,
        /// The word.
        found: String,
        /// The list.
        allowed: String,
    },
    /// An event without a kind.
    #[error("no kind of event was named")]
    NoKind,
    /// An end of the span that nothing tells.
    #[error("the event is not after {latest}, and nothing says how early it can be")]
    OpenStart {
        /// The end that is known.
        latest: String,
    },
    /// A paper in another form.
    #[error("paper `{text}`: {why}")]
    Document {
        /// The text.
        text: String,
        /// What is wrong with it.
        why: String,
    },
    /// No amount of money.
    #[error("price {0}")]
    Price(MoneyError),
    /// A place of an event that cannot be emptied.
    #[error("`{found}` is no part of an event that can be taken away; allowed: {allowed}")]
    Part {
        /// The word.
        found: String,
        /// The parts.
        allowed: String,
    },
    /// A number beyond the list.
    #[error(
        "blade `{blade}` has {} on its sheet, number {asked} was asked for",
        counted(*count, "event of custody")
    )]
    NoEvent {
        /// Blade.
        blade: String,
        /// The number.
        asked: usize,
        /// How many there are.
        count: usize,
    },
    /// A change that changes nothing.
    #[error("nothing of the event was named that is to be otherwise")]
    Nothing,
    /// The same event is there.
    #[error("the sheet of blade `{blade}` has this event already, as number {number}")]
    There {
        /// Blade.
        blade: String,
        /// Its number.
        number: usize,
    },
    /// The event stands in a sealed record.
    #[error(
        "event {number} of blade `{blade}` stands in sealed record {record}; only events that no record holds are changed here"
    )]
    Sealed {
        /// Blade.
        blade: String,
        /// Number of the event.
        number: usize,
        /// The first record that has it.
        record: u32,
    },
    /// Nothing to draw.
    #[error("the sheet of blade `{0}` has no event of custody; a line of time needs one")]
    NothingToDraw(String),
}

impl CustodyError {
    /// The next step.
    pub fn hint(&self) -> String {
        match self {
            Self::Term { .. } | Self::NoKind => {
                "see the words with their meaning: `tangmark schema terms`".to_owned()
            }
            Self::OpenStart { .. } => {
                "give `--not-before` too; a year is enough, and an early one does no harm".to_owned()
            }
            Self::Document { .. } => {
                "write it like \"receipt; issuer=Workshop at the Weir; on=2026-03-01; number=26-031; note=kept in the box\""
                    .to_owned()
            }
            Self::Price(error) => error.hint().to_owned(),
            Self::Part { .. } => "name one of these with `--clear`".to_owned(),
            Self::NoEvent { blade, .. } => {
                format!("see the events with their numbers: `tangmark custody list {blade}`")
            }
            Self::Nothing => {
                "name what is to be otherwise, such as `--to NAME` or `--not-after DAY`".to_owned()
            }
            Self::There { blade, number } => {
                format!("change that one with `tangmark custody amend {blade} {number}`, or leave it")
            }
            Self::Sealed {
                blade,
                record,
                ..
            } => format!(
                "what was sealed stays. Say what was wrong in a record of its own: `tangmark correct {blade} --record {record} --statement TEXT`; \
                 what is missing is added with `tangmark custody add {blade}`"
            ),
            Self::NothingToDraw(blade) => {
                format!("enter one: `tangmark custody add {blade} bought --from NAME --on DAY`")
            }
        }
    }
}

/// Reads a term of a list by its key.
pub(super) fn term<T: Term>(what: &'static str, found: &str) -> Result<T, CustodyError> {
    let wanted = found.trim().replace('-', "_");
    T::ALL
        .iter()
        .copied()
        .find(|term| term.key() == wanted)
        .ok_or_else(|| CustodyError::Term {
            what,
            found: found.to_owned(),
            allowed: T::ALL
                .iter()
                .map(|term| term.key())
                .collect::<Vec<_>>()
                .join(", "),
        })
}
