//! What the journal keeps of a blade that leaves for good.

use serde::{Deserialize, Serialize};
use tangmark_core::Digest;
use tangmark_core::record::{Decision, Money};
use tangmark_report::Speech;

use crate::Paper;
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

/// What the papers are like: a run that goes on makes them as they were begun.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PapersWish {
    /// `en`, `ja` or `both`.
    pub language: String,
    /// US Letter in place of A4.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub letter: bool,
    /// Withheld values that they show, named by their place.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub reveal: Vec<String>,
}

impl PapersWish {
    pub(super) fn of(speech: Speech, paper: Paper, reveal: &[String]) -> Self {
        let language = match speech {
            Speech::English => "en",
            Speech::Japanese => "ja",
            Speech::Both => "both",
        };
        Self {
            language: language.to_owned(),
            letter: paper == Paper::Letter,
            reveal: reveal.to_vec(),
        }
    }

    pub(super) fn speech(&self) -> Speech {
        match self.language.as_str() {
            "ja" => Speech::Japanese,
            "both" => Speech::Both,
            _ => Speech::English,
        }
    }

    pub(super) fn paper(&self) -> Paper {
        if self.letter {
            Paper::Letter
        } else {
            Paper::A4
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
    /// Terms, in words. They may name sums and people, so they stand here and in no record.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub terms: Option<String>,
    /// What is to happen with the blade, where the record says so.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub decision: Option<Decision>,
    /// Records of the blade when it began: the record of the transfer is a later one.
    pub records_before: u64,
    /// Folder of the papers.
    pub out: String,
    /// Language and paper of them.
    pub papers: PapersWish,
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
