//! What the journal keeps of a blade that leaves for good.

use serde::{Deserialize, Serialize};
use tangmark_core::Digest;
use tangmark_core::record::{Money, Verdict};

use crate::journal::Matter;

/// How a blade leaves.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Way {
    /// Sold.
    Sale,
    /// Given back to its owner after the work.
    Return,
}

impl Way {
    /// In a word.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Sale => "sale",
            Self::Return => "return",
        }
    }
}

/// A sale or return, from its beginning; what came of it is added when it is complete.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SaleNote {
    /// How it leaves.
    pub way: Way,
    /// Buyer or owner.
    pub to: String,
    /// Price; a return has none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub price: Option<Money>,
    /// Terms, in words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub terms: Option<String>,
    /// What is to happen with the blade, where the record says so.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub verdict: Option<Verdict>,
    /// Records of the blade when it began: the record of the transfer is a later one.
    pub records_before: u64,
    /// Folder of the papers.
    pub out: String,
    /// What came of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub closed: Option<SaleClosed>,
}

impl Matter for SaleNote {
    const KIND: &'static str = "sale";
}

/// What came of a sale or return.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SaleClosed {
    /// Name of the transfer record.
    pub record: Digest,
    /// Its number.
    pub sequence: u32,
    /// Papers that were handed over, by file name.
    pub papers: Vec<SalePaper>,
}

/// A paper that was handed over.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SalePaper {
    /// Its name in the folder.
    pub file: String,
    /// SHA-256 over its bytes.
    pub digest: Digest,
}
