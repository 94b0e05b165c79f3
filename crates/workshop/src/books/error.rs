//! What can go wrong with the books, each with its next step.

use std::path::PathBuf;

use tangmark_core::record::MoneyError;
use tangmark_core::units::import::ImportError;

/// Why the books could not be written or read.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum BooksError {
    /// A sum beyond what a decimal holds.
    #[error("a sum of 1000000000000 or more, sums below it are kept exactly")]
    TooLarge,
    /// Not an amount of money.
    #[error("{what}: {error}")]
    Money {
        /// What the amount is.
        what: &'static str,
        /// What is wrong.
        error: MoneyError,
    },
    /// Nothing, or less than nothing.
    #[error("{what}: `{found}` found, an amount above zero is allowed")]
    NotAbove {
        /// What the amount is.
        what: &'static str,
        /// As written.
        found: String,
    },
    /// Not an amount of a consumable.
    #[error(
        "amount: `{0}` found, a number of pieces or a mass, volume, length or area above zero is allowed"
    )]
    Amount(String),
    /// Not a time.
    #[error("time: {what}")]
    Time {
        /// What is wrong.
        what: String,
        /// The next step.
        hint: String,
    },
    /// Words that are empty or too long.
    #[error("{what}: {found} characters found, 1 to {most} are allowed")]
    Words {
        /// What the words are.
        what: &'static str,
        /// How many there are.
        found: usize,
        /// How many may be.
        most: usize,
    },
    /// Not a day or a span of days.
    #[error("{what}: `{found}` found, a date written like 2026, 2026-11 or 2026-11-25 is allowed")]
    Day {
        /// Which one.
        what: &'static str,
        /// As written.
        found: String,
    },
    /// The first day lies after the last.
    #[error("from {from} to {to}: the first day lies after the last")]
    Span {
        /// First day.
        from: String,
        /// Last day.
        to: String,
    },
    /// Nobody knows what it is, and nobody said what it cost.
    #[error("`{item}` is neither in the stock nor among the stones, and no cost is given{}", near.as_ref().map_or_else(String::new, |near| format!("; the nearest name is `{near}`")))]
    UnknownItem {
        /// As written.
        item: String,
        /// The nearest name there is.
        near: Option<String>,
    },
    /// Measured otherwise than the stock.
    #[error("`{item}`: {found} found, the stock of it is kept in {allowed}")]
    UnitDiffers {
        /// What.
        item: String,
        /// As written.
        found: String,
        /// Unit of the stock.
        allowed: &'static str,
    },
    /// An entry of another kind.
    #[error(
        "entry {number} is of the kind `{kind}`; cost, income, use, stock and hours are entries of the books"
    )]
    NotBooks {
        /// Its number.
        number: u64,
        /// Its kind.
        kind: String,
    },
    /// An entry that is no longer in force.
    #[error("entry {number} is no longer in force: {how}")]
    NotInForce {
        /// Its number.
        number: u64,
        /// What happened to it.
        how: String,
    },
    /// A change that the kind has no field for.
    #[error("an entry of the kind `{kind}` has no {field}")]
    NoField {
        /// Its kind.
        kind: String,
        /// What was to be changed.
        field: &'static str,
    },
    /// No change was named.
    #[error("nothing to amend in entry {0}: no change is named")]
    NothingToAmend(u64),
    /// The entry has another form than this version knows.
    #[error("entry {number} cannot be read: {what}")]
    Unreadable {
        /// Its number.
        number: u64,
        /// What is wrong.
        what: String,
    },
    /// The rate of an hour in the settings of `valuation`.
    #[error("{}: `hour_rate`: {what}", path.display())]
    Rate {
        /// The settings.
        path: PathBuf,
        /// What is wrong.
        what: String,
    },
    /// The chart of a year in which nothing happened.
    #[error("nothing is in the books of {0}, so there is nothing to draw")]
    EmptyYear(String),
    /// The folder of an export holds something.
    #[error("{} exists already; an export is not written over it", path.display())]
    ExportThere {
        /// The folder.
        path: PathBuf,
        /// It is an export that was written before, which `--replace` may take the place of.
        own: bool,
    },
    /// A table to import.
    #[error("{}: {error}", file.display())]
    Table {
        /// The file.
        file: PathBuf,
        /// What is wrong.
        error: ImportError,
    },
    /// The bytes of a table are in no encoding that is read.
    #[error("{}: byte {at} is not {encoding}", file.display())]
    Encoding {
        /// The file.
        file: PathBuf,
        /// The first byte that does not fit, from 0.
        at: usize,
        /// What was tried.
        encoding: &'static str,
    },
    /// A map of columns.
    #[error("{}: {what}", file.display())]
    Map {
        /// The file.
        file: PathBuf,
        /// What is wrong and where.
        what: String,
        /// The next step.
        hint: String,
    },
}

impl BooksError {
    /// Returns the next step.
    pub fn hint(&self) -> String {
        let text = match self {
            Self::TooLarge => "look for an amount with too many digits with `tangmark book list`",
            Self::Money { error, .. } => error.hint(),
            Self::NotAbove { .. } => {
                "write what was paid like \"12.50 EUR\"; what came back is an entry of `tangmark book income`, a slip is taken \
                 back with `tangmark journal strike N`"
            }
            Self::Amount(_) => "write it like \"0.2 kg\", \"50 ml\" or \"3\"",
            Self::Time { hint, .. } => return hint.clone(),
            Self::Words { .. } => "say it in a few words",
            Self::Day { .. } => "write the year, year-month or year-month-day, with hyphens",
            Self::Span { .. } => "exchange the two, or leave one out",
            Self::UnknownItem { item, .. } => {
                return format!(
                    "see the names with `tangmark book stock list`; enter it with `tangmark book stock add \"{item}\" --amount …`, or say what was used up with `--cost`"
                );
            }
            Self::UnitDiffers { allowed, .. } => {
                return format!("write the amount in {allowed}");
            }
            Self::NotBooks { number, .. } => {
                return format!("look at it with `tangmark journal show {number}`");
            }
            Self::NotInForce { .. } => "see what is in force with `tangmark book list`",
            Self::NoField { .. } => "see what the entry holds with `tangmark book list --json`",
            Self::NothingToAmend(number) => {
                return format!(
                    "name what changes, such as `tangmark book amend {number} --amount \"12 EUR\"`, or take it out of force with `tangmark journal strike {number} --reason \"…\"`"
                );
            }
            Self::Unreadable { .. } => "update this program: a later version wrote the entry",
            Self::Rate { .. } => "mend the settings, or name the rate with `--rate \"45 EUR\"`",
            Self::EmptyYear(_) => "name another year, such as `tangmark book year 2026`",
            Self::ExportThere { own: true, .. } => {
                "name another folder, or take its place with `--replace`"
            }
            Self::ExportThere { own: false, .. } => {
                "name another folder: it holds no export of the books, so `--replace` does not touch it"
            }
            Self::Table { error, .. } => error.hint(),
            Self::Encoding { .. } => {
                "UTF-8, UTF-16 with its mark and Shift_JIS are read; save it again as \"CSV UTF-8\", or name the encoding in the map"
            }
            Self::Map { hint, .. } => hint,
        };
        text.to_owned()
    }
}
