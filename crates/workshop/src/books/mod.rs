//! The books of the workshop: what was spent, earned, used up and worked, blade by blade.
//!
//! Entries stand in the journal, which only grows: a correction replaces an entry, a strike-out takes it out of force.
//! What a blade's sheet states itself is not entered again: what it was bought and sold for (`custody`) and the time of
//! its passes. Amounts are exact decimals, and amounts in two currencies are never added.

mod account;
mod amend;
mod amount;
mod entries;
mod error;
mod export;
pub(crate) mod guard;
mod import;
mod ledger;
mod stock;
mod sums;
mod trades;
mod year;

pub use account::{Account, AccountLine, CurrencyAccount, Rate};
pub use amend::BookAmendment;
pub use amount::{Amount, hours_and_minutes};
pub use entries::{Cost, CostFrom, Hours, Income, Stock, Use};
pub use error::BooksError;
pub use export::{ExportWish, ExportedBooks, ExportedTable};
pub use import::{
    Encoding, ImportOutcome, ImportPlan, ImportProblem, ImportedRowLine, RowFate, SetValue,
    TableMap, suggest_map,
};
pub use ledger::{BookLine, BookList, BookNoted, BookWish, NewBook};
pub use stock::{StockLine, StockState};
pub use sums::Sums;
pub use year::{BladeYear, MonthLine, YearBook};
