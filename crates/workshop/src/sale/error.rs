//! What can go wrong when a blade is priced or leaves.

use std::path::PathBuf;

use tangmark_core::record::MoneyError;

use crate::steps::Ended;

/// A sale as it was begun, and what is asked for in place of a part of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Begun {
    /// To whom.
    pub to: String,
    /// Since when.
    pub on: String,
    /// What differs.
    pub what: &'static str,
    /// As it was begun.
    pub kept: String,
    /// As it was asked for now.
    pub found: String,
}

/// Why a blade was not priced, sold or given back.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum SaleError {
    /// A price that cannot be read.
    #[error(transparent)]
    Money(#[from] MoneyError),
    /// A price without what it rests on.
    #[error(
        "an asking price without {lacks}: the plugin `valuation` gives no estimate{}",
        reason(why)
    )]
    NoBasis {
        /// What is missing.
        lacks: &'static str,
        /// Why there is no estimate.
        why: Vec<String>,
    },
    /// An interval that is none, or in another currency.
    #[error("the interval {found} does not go with the asking price {asking}: {what}")]
    BadInterval {
        /// As given.
        found: String,
        /// The price.
        asking: String,
        /// What is wrong.
        what: &'static str,
    },
    /// Neither buyer nor price was named.
    #[error("a {way} needs {lacks}")]
    Lacks {
        /// The way.
        way: &'static str,
        /// What is missing.
        lacks: &'static str,
    },
    /// Another sale is under way.
    #[error(
        "the {way} of blade `{blade}` to `{}` is under way since {}, with {} {}; {} was asked for",
        begun.to, begun.on, begun.what, begun.kept, begun.found
    )]
    UnderWay {
        /// Blade.
        blade: String,
        /// The way.
        way: &'static str,
        /// How it was begun.
        begun: Box<Begun>,
        /// Number of the entry.
        entry: u64,
    },
    /// The blade left already.
    #[error("blade `{blade}` left by {way} to `{}` on {}, record {record}", to.0, to.1)]
    Left {
        /// Blade.
        blade: String,
        /// The way.
        way: &'static str,
        /// To whom, and the day.
        to: Box<(String, String)>,
        /// Number of the transfer record.
        record: u32,
        /// Number of the record that withdraws it.
        withdrawn_by: Option<u32>,
        /// The command that says that the blade is here again.
        back: String,
    },
    /// The blade left by its custody.
    #[error("blade `{blade}` is not in the workshop: by its chain of custody it was {how}")]
    Gone {
        /// Blade.
        blade: String,
        /// The event by which it left, in words.
        how: String,
        /// The command that says that the blade is here again.
        back: String,
    },
    /// The day lies before the newest event of custody.
    #[error(
        "the day {on} found, {last} or a later day is allowed: that is the day of the newest event of custody, `{kind}`"
    )]
    Early {
        /// The day.
        on: String,
        /// What the event is.
        kind: &'static str,
        /// Its day.
        last: String,
    },
    /// The blade is a customer's.
    #[error(
        "blade `{0}` is a customer's by the agreement on its sheet: what is another's is not sold"
    )]
    Customers(String),
    /// The blade is with a specialist.
    #[error(
        "blade `{blade}` is with `{to}` by its referral: what is not at hand does not change hands"
    )]
    AtSpecialist {
        /// Blade.
        blade: String,
        /// The specialist.
        to: String,
    },
    /// The event of the sale was taken off the sheet.
    #[error(
        "the {way} of blade `{blade}` is under way, and the sheet does not have its event any more"
    )]
    EventGone {
        /// Blade.
        blade: String,
        /// The way.
        way: &'static str,
        /// Number of the entry.
        entry: u64,
    },
    /// Something else is where a paper is to be.
    #[error("{}: {what}; it is not overwritten", file.display())]
    OtherPaper {
        /// The file.
        file: PathBuf,
        /// What is there.
        what: &'static str,
    },
    /// No sale.
    #[error("no sale or return of blade `{0}` is noted")]
    NoSale(String),
    /// A test ended the run.
    #[error(transparent)]
    Ended(#[from] Ended),
}

fn reason(why: &[String]) -> String {
    why.first()
        .map_or_else(String::new, |first| format!(": {first}"))
}

impl SaleError {
    /// The next step.
    pub fn hint(&self) -> String {
        match self {
            Self::Money(error) => error.hint().to_owned(),
            Self::NoBasis { .. } => {
                "say what the price rests on with `--basis \"…\"`, and between which prices such a sale is expected with `--between \"LOW HIGH\"`; or give the plugin comparables: `plugins/valuation/comparables.csv` in the workshop folder".to_owned()
            }
            Self::BadInterval { .. } => {
                "write it like `--between \"400000 600000\"`, in the currency of the price, the lower one first".to_owned()
            }
            Self::Lacks { way: "return", .. } => {
                "name whom the blade goes back to with `--to NAME`".to_owned()
            }
            Self::Lacks { .. } => "name buyer and price: `--to NAME --price \"480000 JPY\"`; a customer's blade goes back with `--return`".to_owned(),
            Self::UnderWay { blade, entry, .. } => format!(
                "finish it: `tangmark sale close {blade}` without those words; or, before anything is sealed, strike it with `tangmark journal strike {entry} --reason \"…\"` and take the event out with `tangmark examine undo {blade}`"
            ),
            Self::Left { withdrawn_by: Some(by), blade, back, .. } => format!(
                "record {by} withdraws that record; where the blade came back, enter that with `{back}`, then close the new sale; see all of it with `tangmark sale show {blade}`"
            ),
            Self::Left { blade, record, back, .. } => format!(
                "see it with `tangmark sale show {blade}`; what was wrong is put right with `tangmark correct {blade} --record {record} --statement \"…\"`; where the blade came back, enter that first: `{back}`"
            ),
            Self::Gone { blade, back, .. } => format!(
                "where it is here again, enter that first: `{back}`; where it was brought in anew, `tangmark custody add {blade} bought …`; see its chain with `tangmark custody list {blade}`"
            ),
            Self::Early { .. } => {
                "name the day on which it leaves with `--on DAY`, none before that event".to_owned()
            }
            Self::Customers(blade) => format!(
                "give it back: `tangmark sale close {blade} --return`; where you bought it since, enter that first: `tangmark custody add {blade} bought …`"
            ),
            Self::AtSpecialist { blade, .. } => {
                format!("when it is back, enter that with `tangmark refer back {blade}`")
            }
            Self::EventGone { blade, entry, .. } => format!(
                "bring the sheet back with `tangmark examine undo {blade}`; or strike the entry with `tangmark journal strike {entry} --reason \"…\"` and begin anew"
            ),
            Self::OtherPaper { .. } => {
                "move it away, or name another folder with `--out DIR`".to_owned()
            }
            Self::NoSale(blade) => {
                format!("begin one with `tangmark sale close {blade} --to NAME --price \"480000 JPY\"`")
            }
            Self::Ended(_) => "run it again".to_owned(),
        }
    }
}
