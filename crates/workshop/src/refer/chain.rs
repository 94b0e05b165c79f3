//! A receipt of the specialist's workshop and the chain of the blade here: no two histories.

use tangmark_core::json;
use tangmark_core::record::Record;
use tangmark_store::Store as _;

use super::case::ReferralCase;
use super::error::ReferError;
use super::note::ReceiptWay;
use crate::{Workshop, WorkshopError};

/// What stands before the bytes of a receipt record that is kept beside the chain: the store keeps records in chains only.
pub(super) const BESIDE: &[u8] = b"receipt record, kept beside the chain\n";

/// Where a receipt record stands to the chain here.
pub(super) enum Place {
    /// In it already.
    There,
    /// Next after the newest record.
    Next,
    /// Beside it.
    Beside,
}

impl Workshop {
    /// Where a receipt record stands to the chain here; where it goes beside it a remark says why.
    pub(super) fn place_in_chain(
        &self,
        blade: &str,
        receipt: &Record,
        compared: bool,
        remarks: &mut Vec<String>,
    ) -> Result<Place, WorkshopError> {
        let rows = self.store().records(blade)?;
        let Some(tip) = rows.last() else {
            return Ok(Place::Beside);
        };
        let id = receipt.record_id.to_string();
        if rows.iter().any(|row| row.record_id == id) {
            return Ok(Place::There);
        }
        let number = u64::from(receipt.sequence);
        let newest = tip.sequence;
        let remark = if number <= newest {
            format!(
                "the receipt is record {number} of a chain that went on elsewhere, and record {number} here is another: two histories of the blade; the receipt is kept beside ours"
            )
        } else if number != newest + 1 || receipt.previous != Some(tip.name) {
            format!(
                "the receipt is record {number} and does not follow record {newest} here: take in the specialist's package with `tangmark handover receive`"
            )
        } else if compared {
            return Ok(Place::Next);
        } else {
            format!(
                "the receipt follows record {newest} and is not taken into the chain, since its key was not compared with a card; seal nothing of the blade before it is"
            )
        };
        remarks.push(remark);
        Ok(Place::Beside)
    }

    /// Refuses to seal where a receipt of the specialist would follow the same record.
    pub(super) fn no_fork(&self, case: &ReferralCase) -> Result<(), WorkshopError> {
        let Some(tip) = self.store().tip(&case.blade)? else {
            return Ok(());
        };
        let rows = self.store().records(&case.blade)?;
        for receipt in case
            .receipts
            .iter()
            .filter(|one| one.way == ReceiptWay::Record)
        {
            for paper in &receipt.kept {
                let kept = self.store().object(paper)?;
                let bytes = kept.strip_prefix(BESIDE).unwrap_or(&kept);
                let Ok(value) = json::read_value(bytes, &json::Limits::default()) else {
                    continue;
                };
                let Ok(record) = Record::from_json(&value) else {
                    continue;
                };
                let id = record.record_id.to_string();
                let here = rows.iter().any(|row| row.record_id == id);
                if !here && record.previous == Some(tip.name) {
                    let after = u32::try_from(tip.sequence).unwrap_or(u32::MAX);
                    return Err(ReferError::WouldFork { after }.into());
                }
            }
        }
        Ok(())
    }
}
