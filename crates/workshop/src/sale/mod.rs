//! A blade is priced, sold or given back: sealing, papers and package come of it.

mod close;
mod cost;
mod error;
mod leave;
#[cfg(test)]
mod left_tests;
mod list;
mod note;
mod papers;
mod price;
#[cfg(test)]
mod tests;

pub use close::{CloseOrder, Closed};
pub use error::{Begun, SaleError};
pub use list::{SaleLine, SaleState, SaleStep};
pub use note::{PapersWish, SaleClosed, SaleNote, SalePaper, Way};
pub use price::{Price, PriceOrder, PriceRange};
