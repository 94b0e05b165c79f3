//! What a blade has cost, from the books: for the price, and for its owner.

use tangmark_core::record::Money;
use tangmark_report::Speech;

use crate::{Workshop, WorkshopError};

impl Workshop {
    pub(super) fn cost_so_far(
        &self,
        blade: &str,
    ) -> Result<(Vec<Money>, Vec<String>), WorkshopError> {
        let _ = (self, blade);
        Ok((Vec::new(), Vec::new()))
    }

    pub(super) fn account_text(
        &self,
        blade: &str,
        speech: Speech,
    ) -> Result<String, WorkshopError> {
        let _ = speech;
        Ok(format!("{}: {blade}\n", self.name()?))
    }
}
